"""The choice of a crystal: engine time against the number of crystals, and of the whole question.

The band table is the one that ships, with invented stations inside its bands added to make
2,000 rows; the set is the invented valve set of the tests. Engine time is everything from chains to usable
and clear shares, worst intruders, images, what comes straight in, whistles and birdies.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

import spurplan
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.converter.candidates import BELOW, Candidates, prototypes
from spurplan.planning.converter.crystals import Crystal, single
from spurplan.planning.converter.figures import figures_of
from spurplan.planning.converter.question import as_front
from spurplan.planning.outlook import place_of
from spurplan.receiver.file.reading import read_receiver
from spurplan.responses.asking import Settings, occupants_of
from tests.benchmarks.figures import Alone, Growth, Times, figure, time_text
from tests.benchmarks.measuring import growth, median_s

RECEIVER = Path(__file__).parents[1] / "receivers" / "boathouse.toml"
COVER = (28_000_000, 29_000_000)
ROWS = 2_000
SIZES = [100, 316, 1_000, 3_162, 10_000]


def occupants() -> Occupants:
    """Return the shipped tables for the set, and stations inside their bands up to 2,000 rows."""
    found = occupants_of(read_receiver(RECEIVER), read_bands(None), Settings())
    rng = np.random.default_rng(1)
    bands = np.flatnonzero(found.high_hz - found.low_hz > 50_000)
    like = rng.choice(bands, ROWS - len(found))
    at = rng.integers(found.low_hz[like], found.high_hz[like] + 1)
    which = np.concatenate([np.arange(len(found)), like])
    low, high = np.concatenate([found.low_hz, at]), np.concatenate([found.high_hz, at])
    order = np.lexsort((found.row[which], found.table[which], high, low))
    return found.take(which[order], low_hz=low[order], high_hz=high[order])


def converters(count: int) -> tuple[Candidates, list[Crystal]]:
    """Return crystals below 1 MHz of cover, evenly over all that bring it into 4.5-12 MHz."""
    # range 3 of the set: 29 - 12 = 17 to 28 - 4.5 = 23.5 MHz
    hz = np.linspace(17_000_000, 23_500_000, count).astype(np.int64)
    none, one = np.zeros(count, dtype=np.int64), np.ones(count, dtype=np.int64)
    chosen = Candidates(
        cover=none, crystal=np.arange(count), range=none + 2, multiplier=one, injected_hz=hz,
        side=none + BELOW, low_hz=none + COVER[0], high_hz=none + COVER[1], lost_hz=none,
    )  # fmt: skip
    return chosen, [single(int(f)) for f in hz]


def seconds(count: int, runs: int = 3) -> float:
    """Return the engine time of so many crystals."""
    receiver = read_receiver(RECEIVER)
    before = prototypes(receiver, receiver.ranges, as_front(None))
    chosen, crystals = converters(count)
    place = place_of(receiver, occupants(), Settings())
    return median_s(lambda: figures_of(chosen, crystals, before, place, Settings()), runs=runs)


@cache
def times() -> list[float]:
    return [seconds(size) for size in SIZES]


@figure("converter: merits of 10,000 crystals, 1 MHz of cover, 2,000 rows", "one call each")
def ten_thousand_crystals() -> Times:
    return Times(times()[-1], seconds(1, 9) * SIZES[-1])


@figure("converter: merits of 1,000 crystals, 1 MHz of cover, 2,000 rows")
def thousand_crystals() -> Alone:
    return Alone(time_text(times()[SIZES.index(1_000)]))


@figure("converter: 1,000 to 10,000 crystals, the longest and how it grows")
def growth_with_crystals() -> Growth:
    return Growth(growth(SIZES[-3:], times()[-3:]), times()[-1])


@figure("converter: the whole question with common crystals")
def common_crystals() -> Alone:
    return Alone(
        time_text(median_s(lambda: spurplan.converter(read_receiver(RECEIVER), cover=COVER), runs=3))
    )


@figure("converter: the whole question, a crystal every 10 kHz")
def every_ten_kilohertz() -> Alone:
    receiver = read_receiver(RECEIVER)
    took = median_s(lambda: spurplan.converter(receiver, cover=COVER, step="10kHz"), runs=1)
    return Alone(time_text(took))
