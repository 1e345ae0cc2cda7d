"""The scan of IFs: engine time against the number of IFs, and against one call each.

python -m tests.benchmarks.if_scan

The band tables are those that ship, the set is the invented valve set of the tests, all
four ranges. Engine time is everything from the described ranges to the dial that each
IF leaves clear on each of them. One call each is the engine's ordinary way on the
same occupants, those of one level that touch put together, as the scan has them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from spurplan.occupancy.bands import read_bands
from spurplan.planning.if_axis import with_ifs
from spurplan.planning.if_scan import Scan, scanned
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.file import read_receiver
from spurplan.responses.axis_air import merged
from spurplan.responses.engine import respond
from spurplan.responses.questions import intruding, occupants_of
from spurplan.responses.settings import Settings
from spurplan.responses.summary import clear_share
from tests.benchmarks.measuring import growth, median_s, peak_mb

RECEIVER = Path(__file__).parents[1] / "receivers" / "boathouse.toml"
LOW_HZ = 400_000
# 1,250 Hz apart, so that the widest scan has 10,000 IFs up to 12.9 MHz
STEP_HZ = 1_250
SIZES = [625, 1_250, 2_500, 5_000, 10_000]
SINGLE = 24


def main() -> None:
    """Print the figures."""
    receiver = read_receiver(RECEIVER)
    settings = Settings()
    occupants = occupants_of(receiver, read_bands(None), settings)
    print(f"{len(occupants):,} occupants, {len(receiver.ranges)} ranges")

    def scan(count: int) -> Scan:
        span = (LOW_HZ, LOW_HZ + (count - 1) * STEP_HZ)
        return scanned(receiver, receiver.ranges, span, occupants, settings, step_hz=STEP_HZ)

    times = []
    for count in SIZES:
        times.append(median_s(lambda count=count: scan(count), runs=5))  # type: ignore[misc]
        print(f"{len(scan(count).if_hz):6,} IFs: {times[-1]:.3f} s")
    print(f"growth exponent {growth(SIZES, times):.2f}")

    alike = merged(occupants, 6_000)
    ifs = np.linspace(LOW_HZ, LOW_HZ + SIZES[-1] * STEP_HZ, SINGLE).astype(np.int64)

    def each() -> None:
        for one in receiver.ranges:
            (chain,) = compile_chains([(receiver, one)])
            for if_hz in ifs:
                response = intruding(respond(with_ifs(chain, np.array([if_hz])), alike, settings))
                clear_share(response.chains, response.lines, response.graded)

    single = median_s(each, runs=3) / SINGLE
    print(f"one call each: {single * 1e3:.1f} ms an IF, {single * SIZES[-1]:.0f} s for {SIZES[-1]:,}")
    print(f"the scan is {single * SIZES[-1] / times[-1]:.0f} times faster; peak {peak_mb():.0f} MB")


if __name__ == "__main__":
    main()
