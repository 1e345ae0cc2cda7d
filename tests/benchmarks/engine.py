"""The engine against the alternatives: join, candidates, pruning, grading."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.engine import respond
from spurplan.responses.grades import grade_hits
from spurplan.responses.join import Hits, join
from spurplan.responses.levels import AirBudget
from spurplan.responses.lines import Lines, enumerate_lines, product_steps
from tests.benchmarks.figures import Alone, Times, figure, megabytes, time_text
from tests.benchmarks.measuring import median_s, medians_s, peak_mb_of

Ints = npt.NDArray[np.int64]


def rows(count: int, seed: int = 1) -> Occupants:
    """Return a table at random, half spots, half bands of 1 kHz to 1 MHz, 0.1-108 MHz."""
    rng = np.random.default_rng(seed)
    low = np.sort(rng.integers(100_000, 108_000_000, count))
    width = np.where(rng.random(count) < 0.5, 0, 10 ** rng.uniform(3, 6, count)).astype(np.int64)
    # of two that begin on the same hertz the narrower first
    width = width[np.lexsort((width, low))]
    none = np.zeros(count)
    return Occupants(
        low_hz=low, high_hz=low + width, level_dbm=rng.uniform(-100, -20, count),
        level_from=none.astype(np.uint8), service=none.astype(np.int16), label=none.astype(np.int32),
        mode=(none - 1).astype(np.int8), region=none.astype(np.int16), table=none.astype(np.int16),
        row=np.arange(count).astype(np.int32), sound=none.astype(np.int8),
        width_hz=(none + 6_000).astype(np.int32),
        spot=none.astype(bool), hours_share=none - 1.0, raster_hz=none.astype(np.int64),
        services=("broadcast",), labels=("somebody",), modes=(), regions=("W",), tables=("random",),
    )  # fmt: skip


def set_of(conversions: int, low_hz: int, high_hz: int) -> Receiver:
    """Return a set with one, two or three conversions."""
    ifs = {1: [455_000], 2: [1_600_000, 455_000], 3: [45_000_000, 9_000_000, 455_000]}[conversions]
    steps = [
        {"injection": "high", "if_hz": hz, "filter": {"bandwidth_hz": 6_000 if hz == 455_000 else 20_000}}
        for hz in ifs
    ]
    tuning = {"name": "1", "low_hz": low_hz, "high_hz": high_hz, "front_end": [{"circuits": 2, "q": 60.0}]}
    return Receiver.from_dict({"name": "bench", "conversions": steps, "ranges": [tuning]})


def chains_of(receiver: Receiver) -> Chains:
    return compile_chains([(receiver, r) for r in receiver.ranges])[0]


def grid_join(lines: Lines, occupants: Occupants, step_hz: int = 1_000) -> int:
    """Return how many (line, dial, occupant) meet on a grid, by width class: the best method on a grid."""
    low, high = occupants.low_hz, occupants.high_hz
    classes = np.frexp((high - low).astype(np.float64))[1]
    members = [np.flatnonzero(classes == c) for c in np.unique(classes)]
    dial = np.arange(int(lines.dial_low_hz[0]), int(lines.dial_high_hz[0]) + 1, step_hz)
    met = 0
    for line in range(len(lines)):
        p, q, r, d = (int(getattr(lines, n)[0][line]) for n in ("p", "q", "r", "d"))
        half = abs(r) * int(lines.reach_hz[line]) / 2
        from_hz, to_hz = (p * dial + q - half) / d, (p * dial + q + half) / d
        for member in members:
            wide = int((high - low)[member].max())
            first = np.searchsorted(low[member], from_hz - wide, side="left")
            last = np.searchsorted(low[member], to_hz, side="right")
            count = np.maximum(last - first, 0)
            at = np.repeat(np.arange(len(dial)), count)
            place = np.arange(len(at)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
            met += int((high[member][place] >= from_hz[at]).sum())
    return met


def plain_join(lines: Lines, occupants: Occupants, step_hz: int = 1_000, part: int = 2_000) -> float:
    """Return how long a plain loop over dial, lines and rows would take. [s]

    Notes
    -----
    One dial setting in `part` is timed, and that multiplied.
    """
    names = ("p", "q", "r", "d")
    columns = [*(getattr(lines, name)[0].tolist() for name in names), lines.reach_hz.tolist()]
    routes = list(zip(*columns, strict=True))
    spans = list(zip(occupants.low_hz.tolist(), occupants.high_hz.tolist(), strict=True))
    first, last = int(lines.dial_low_hz[0]), int(lines.dial_high_hz[0])

    def walk() -> int:
        met = 0
        for dial in range(first, last + 1, step_hz * part):
            for p, q, r, d, reach in routes:
                centre, half = p * dial + q, abs(r) * reach / 2
                low, high = (centre - half) / d, (centre + half) / d
                for a, b in spans:
                    if a <= high and low <= b:
                        met += 1
        return met

    walked = len(range(first, last + 1, step_hz * part))
    settings = len(range(first, last + 1, step_hz))
    return median_s(walk, 1) * settings / walked


@cache
def joined() -> tuple[Lines, Occupants, Hits]:
    """105 lines of a single conversion, 2,000 rows, dial 0.5-30 MHz."""
    occupants = rows(2_000)
    lines = enumerate_lines(chains_of(set_of(1, 500_000, 30_000_000)), 10, 5)
    return lines, occupants, join(lines, occupants)


JOIN = "join of 105 lines and 2,000 rows, dial 0.5-30 MHz"


@figure(JOIN, "writing ten columns of the result", "at most 3 times")
def join_to_output() -> Times:
    lines, occupants, hits = joined()
    columns = [np.arange(len(hits), dtype=np.int64) for _ in range(10)]
    times = medians_s(
        {"join": lambda: join(lines, occupants), "write": lambda: [column + 1 for column in columns]}, 31
    )
    return Times(times["join"], times["write"])


@figure(JOIN, "1 kHz grid, by width classes in numpy", "at least 100 times")
def join_to_grid() -> Times:
    lines, occupants, _ = joined()
    return Times(
        median_s(lambda: join(lines, occupants), 9), median_s(lambda: grid_join(lines, occupants), 1)
    )


@figure(JOIN, "plain loop over a 1 kHz grid, one setting in 2,000 timed")
def join_to_loop() -> Times:
    lines, occupants, _ = joined()
    return Times(median_s(lambda: join(lines, occupants), 9), plain_join(lines, occupants))


@figure("memory of that join above its result and input")
def join_memory() -> Alone:
    lines, occupants, hits = joined()
    own = sum(getattr(hits, name).nbytes for name in ("line", "occupant", "dial_low_hz", "dial_high_hz"))
    return megabytes(peak_mb_of(lambda: join(lines, occupants)) - own / 2**20)


@figure("1,000 candidates of a double conversion in one call", "one call each", "at least 10 times")
def candidates_together() -> Times:
    occupants, settings = rows(2_000), Settings()
    many = chains_of(set_of(2, 7_000_000, 7_450_000)).take(np.zeros(1_000, dtype=np.int64))
    many = many.replace(osc_b=many.osc_b + np.arange(1_000)[:, None] * 1_000)
    times = medians_s(
        {
            "one call": lambda: respond(many, occupants, settings),
            "calls": lambda: [respond(many.take(np.array([k])), occupants, settings) for k in range(100)],
        },
        3,
    )
    return Times(times["one call"], times["calls"] * 10)


def lines_of_three(orders: tuple[int, int], drop: bool) -> Callable[[], Lines]:
    """Return what enumerates the lines of three conversions, weak ones dropped or not."""
    occupants = rows(2_000)
    chains = chains_of(set_of(3, 3_000_000, 30_000_000))
    steps = product_steps(*orders)
    return lambda: enumerate_lines(
        chains, *orders, budget=AirBudget(chains, occupants, 0.0, drop=drop, steps=steps)
    )


@figure("lines of three conversions, orders 8 and 3, pruned by level", "all 140,685 of them")
def pruning() -> Times:
    pruned, whole = (lines_of_three((8, 3), drop) for drop in (True, False))
    times = medians_s({"pruned": pruned, "whole": whole}, 5)
    return Times(times["pruned"], times["whole"])


@figure("lines of three conversions, orders 15 and 7, pruned by level", wanted="20 ms")
def pruning_high_orders() -> Alone:
    return Alone(time_text(median_s(lines_of_three((15, 7), True), 9)))


@cache
def graded() -> tuple[Chains, Lines, Occupants, Hits]:
    occupants = rows(2_000)
    chains = chains_of(set_of(1, 500_000, 30_000_000))
    budget = AirBudget(chains, occupants, 0.0, drop=False, steps=product_steps(10, 5))
    lines = enumerate_lines(chains, 10, 5, budget=budget)
    hits = join(lines, occupants)
    return chains, lines, occupants, hits.take(np.random.default_rng(3).permutation(len(hits))[:20_000])


@figure("grading 20,000 stretches of it, those that are heard", "the join", "at most 5 times")
def grading() -> Times:
    chains, lines, occupants, some = graded()
    times = medians_s(
        {
            "join": lambda: join(lines, occupants),
            "heard": lambda: grade_hits(chains, lines, occupants, some, keep_buried=False),
        },
        5,
    )
    return Times(times["heard"], times["join"])
