"""How long all pairs of a table take, and how that grows: ``python -m tests.benchmarks.intermodulation``.

Tables of single carriers and bands at random, a set that tunes 1 MHz. Time is the engine's
alone, the median of three; memory is the peak of the process so far, in megabytes.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.pairs import intermodulation
from spurplan.responses.settings import Settings
from tests.benchmarks.measuring import median_s, peak_mb
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
    receiver = Receiver.model_validate(
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
    return replace(made, level_dbm=rng.uniform(*level_dbm, rows))


def main() -> None:
    """Print one line a case and size."""
    print("   rows        pairs    heard  seconds  growth   peak")
    for name, (span_hz, level_dbm, bands, family) in CASES.items():
        print(name)
        before = 0.0
        for rows in ROWS:
            chains, occupants = chains_of(family), table_of(rows, span_hz, level_dbm, bands)
            found = intermodulation(chains, occupants, Settings())
            seconds = median_s(partial(intermodulation, chains, occupants, Settings()), runs=3)
            growth = f"x{seconds / before:.1f}" if before else ""
            pairs = rows * (rows - 1) // 2
            print(
                f"{rows:>7,} {pairs:>12,} {len(found):>8,} {seconds:>8.2f} {growth:>7} {peak_mb():>6.0f}",
                flush=True,
            )
            before = seconds


if __name__ == "__main__":
    main()
