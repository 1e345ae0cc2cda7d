"""How long all pairs of a table take, and how that grows.

Tables of single carriers and bands at random, a set that tunes 1 MHz. Time is the engine's
alone, the median of three.
"""

from __future__ import annotations

import contextlib
from functools import cache, partial

import numpy as np

from spurplan.errors import Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.pairs.heard import intermodulation
from spurplan.responses.pairs.triples import three_at_once
from tests.benchmarks.figures import Alone, Growth, Times, figure, megabytes
from tests.benchmarks.measuring import growth, median_s, peak_mb_of
from tests.oracle import connect

ROWS = (500, 1_000, 2_000, 4_000)
# where the rows lie, how strong, which part of them are bands, the mixer, what is kept
CASES = {
    "0.1-30 MHz, a third bands, valve mixer": (
        (100_000, 30_000_000),
        (-80.0, -20.0),
        0.3,
        "valve_multiplicative",
    ),
    "0.1-30 MHz, a third bands, bipolar mixer": ((100_000, 30_000_000), (-80.0, -20.0), 0.3, "bipolar"),
    "all inside the 1 MHz tuned, strong": (
        (7_000_000, 8_000_000),
        (-60.0, -13.0),
        0.0,
        "valve_multiplicative",
    ),
}


def chains_of(family: str) -> Chains:
    """A set that tunes 7 to 8 MHz with two circuits of Q 60."""
    receiver = Receiver.from_dict(
        {
            "name": "bench",
            "conversion": [
                {
                    "injection": "high",
                    "if": "465 kHz",
                    "mixer": {"family": family},
                    "filter": {"bandwidth": "6 kHz"},
                }
            ],
            "range": [{"name": "1", "coverage": ["7 MHz", "8 MHz"], "front_end": [{"circuits": 2, "q": 60}]}],
        }
    )
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    return chains


def table_of(rows: int, span_hz: tuple[int, int], level_dbm: tuple[float, float], bands: float) -> Occupants:
    """Rows at random: carriers, and bands of 1 to 300 kHz."""
    rng = np.random.default_rng(rows)
    low = np.sort(rng.integers(*span_hz, rows))
    width = np.where(rng.random(rows) < bands, rng.integers(1_000, 300_000, rows), 0)
    made = connect.occupants_of(sorted(zip(low.tolist(), (low + width).tolist(), strict=True)))
    return made.replace(level_dbm=rng.uniform(*level_dbm, rows))


def plain_pairs(chains: Chains, occupants: Occupants) -> int:
    """Count the products 2 f1 - f2 on the dial by two loops: no levels, nothing on an IF."""
    low, high = int(chains.low_hz[0]), int(chains.high_hz[0])
    spans = list(zip(occupants.low_hz.tolist(), occupants.high_hz.tolist(), strict=True))
    return sum(2 * a <= high + d and low + c <= 2 * b for a, b in spans for c, d in spans if (a, b) != (c, d))


def case_of(case: str, count: int) -> tuple[Chains, Occupants]:
    span_hz, level_dbm, bands, family = CASES[case]
    return chains_of(family), table_of(count, span_hz, level_dbm, bands)


@cache
def times(case: str) -> list[float]:
    return [median_s(partial(intermodulation, *case_of(case, n), Settings()), runs=3) for n in ROWS]


def grows(case: str) -> Growth:
    return Growth(growth(list(ROWS), times(case)), times(case)[-1])


VALVE, BIPOLAR, STRONG = CASES


@figure("intermodulation: all products of 2,000 rows, graded", "two loops that only count 2 f1 - f2")
def all_pairs() -> Times:
    chains, occupants = case_of(VALVE, 2_000)
    own = median_s(partial(intermodulation, chains, occupants, Settings()), runs=3)
    return Times(own, median_s(partial(plain_pairs, chains, occupants), runs=1))


@figure("intermodulation: 500 to 4,000 rows, valve mixer, the longest and how it grows")
def valve_growth() -> Growth:
    return grows(VALVE)


@figure("the same, bipolar mixer")
def bipolar_growth() -> Growth:
    return grows(BIPOLAR)


@figure("the same, all rows strong and inside the range tuned")
def strong_growth() -> Growth:
    return grows(STRONG)


@figure("memory of 4,000 rows, all strong and inside the range tuned")
def strong_memory() -> Alone:
    return megabytes(peak_mb_of(partial(intermodulation, *case_of(STRONG, 4_000), Settings())))


def three_conversions() -> Chains:
    """The same range behind three conversions, each narrower than the one before."""
    mixer = {"family": "valve_multiplicative"}
    stages = (("1.6 MHz", "30 kHz"), ("455 kHz", "12 kHz"), ("85 kHz", "3 kHz"))
    receiver = Receiver.from_dict(
        {
            "name": "bench",
            "conversion": [
                {
                    "injection": "high",
                    "if": hz,
                    "gain": "10 dB",
                    "mixer": mixer,
                    "filter": {"bandwidth": bw},
                }
                for hz, bw in stages
            ],
            "range": [{"name": "1", "coverage": ["7 MHz", "8 MHz"], "front_end": [{"circuits": 2, "q": 60}]}],
        }
    )
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    return chains


@figure("all products of 2,000 rows on every route of three conversions, valve mixers")
def three_conversions_take() -> Alone:
    occupants = case_of(VALVE, 2_000)[1]
    own = median_s(partial(intermodulation, three_conversions(), occupants, Settings()), runs=1)
    return Alone(f"{own:.2f} s")


# All rows strong and inside the range tuned, a mixer that overloads: the worst there is.
OVERLOADED = "the same, bipolar mixer, all strong"
CASES[OVERLOADED] = ((7_000_000, 8_000_000), (-60.0, -13.0), 0.0, "bipolar")


@figure("memory of all products of 1,000 rows there, bipolar mixer")
def overloaded_memory() -> Alone:
    return megabytes(peak_mb_of(partial(intermodulation, *case_of(OVERLOADED, 1_000), Settings())))


@figure("memory of products of three there")
def threes_memory() -> Alone:
    return megabytes(peak_mb_of(partial(three_at_once, *case_of(OVERLOADED, 1_000), Settings())))


def refused() -> None:
    """Ask for more pairs than an answer may have."""
    with contextlib.suppress(Refused):
        intermodulation(*case_of(OVERLOADED, 4_000), Settings())


@figure("4,000 rows there, too many: until that is said")
def too_many_are_refused() -> Alone:
    return Alone(f"{median_s(refused, runs=3):.2f} s")


@figure("memory of that")
def refused_memory() -> Alone:
    return megabytes(peak_mb_of(refused))


@figure("products of three of 200 stations, all strong and inside the range tuned")
def triples_take() -> Alone:
    own = median_s(partial(three_at_once, *case_of(STRONG, 200), Settings()), runs=3)
    return Alone(f"{own:.2f} s")
