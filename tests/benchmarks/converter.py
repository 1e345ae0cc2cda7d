"""The choice of a crystal: engine time against the number of crystals, and of the whole question.

python -m tests.benchmarks.converter

The band table is the one that ships, with invented stations inside its bands added to make
2,000 rows; the set is the invented valve set of the tests. Engine time is everything from chains to clear
shares, worst intruders, images, what comes straight in, whistles and birdies.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

import spurplan
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.occupants import ARRAYS, Occupants
from spurplan.planning.candidates import BELOW, Candidates, prototypes
from spurplan.planning.merits import merits
from spurplan.planning.question import as_front
from spurplan.planning.stock import Crystal, single
from spurplan.receiver.file import read_receiver
from spurplan.responses.questions import occupants_of
from spurplan.responses.settings import Settings
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
    like = found.take(rng.choice(bands, ROWS - len(found)))
    at = rng.integers(like.low_hz, like.high_hz + 1)
    like = replace(like, low_hz=at, high_hz=at.copy())
    both = replace(
        found, **{name: np.concatenate([getattr(found, name), getattr(like, name)]) for name in ARRAYS}
    )
    return both.take(np.lexsort((both.row, both.high_hz, both.low_hz)))


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


def main() -> None:
    receiver, settings = read_receiver(RECEIVER), Settings()
    air = occupants()
    before = prototypes(receiver, receiver.ranges, as_front(None))
    print(f"{len(air):,} rows, 1 MHz of cover")
    times = []
    for size in SIZES:
        chosen, crystals = converters(size)
        times.append(
            median_s(lambda c=chosen, x=crystals: merits(c, x, before, air, settings, -36.0), runs=3)
        )
        print(
            f"{size:>7,} crystals  {times[-1]:7.3f} s engine time  {1e6 * times[-1] / size:6.0f} us a crystal"
        )
    print(f"growth exponent {growth(SIZES, times):.2f}, from 1,000 on {growth(SIZES[-3:], times[-3:]):.2f}")
    whole = median_s(lambda: spurplan.converter(receiver, None, COVER), runs=3)
    count = len(spurplan.converter(receiver, None, COVER).candidates)
    print(f"the whole question, common crystals ({count} candidates): {whole:.2f} s")
    for step in ("50kHz", "10kHz"):
        whole = median_s(lambda s=step: spurplan.converter(receiver, None, COVER, step=s), runs=1)
        count = len(spurplan.converter(receiver, None, COVER, step=step).candidates)
        print(f"the whole question, --step {step} ({count:,} candidates): {whole:.2f} s")


if __name__ == "__main__":
    main()
