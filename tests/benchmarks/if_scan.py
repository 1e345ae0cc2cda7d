"""The scan of IFs: engine time against the number of IFs, and against one call each.

The band tables are those that ship, the set is the invented valve set of the tests, all
four ranges. Engine time is everything from the described ranges to the dial that each
IF leaves clear on each of them. One call each is the engine's ordinary way on the
same occupants, those of one level that touch put together, as the scan has them.
"""

from __future__ import annotations

from functools import cache, partial
from pathlib import Path

import numpy as np

from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.other_ifs import with_ifs
from spurplan.planning.if_change.scan import Scan, scanned
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import read_receiver
from spurplan.responses.asking import Settings, occupants_of
from spurplan.responses.axis.air import merged
from spurplan.responses.clear_share import heard_hz, heard_stretches
from spurplan.responses.engine import respond
from spurplan.responses.records import intruding
from tests.benchmarks.figures import Growth, Times, figure
from tests.benchmarks.measuring import growth, median_s

RECEIVER = Path(__file__).parents[1] / "receivers" / "boathouse.toml"
LOW_HZ = 400_000
# 1,250 Hz apart, so that the widest scan has 10,000 IFs up to 12.9 MHz
STEP_HZ = 1_250
SIZES = [625, 1_250, 2_500, 5_000, 10_000]
SINGLE = 24


@cache
def asked() -> tuple[Receiver, Occupants]:
    receiver = read_receiver(RECEIVER)
    return receiver, occupants_of(receiver, read_bands(None), Settings())


def scan(count: int) -> Scan:
    receiver, occupants = asked()
    span = (LOW_HZ, LOW_HZ + (count - 1) * STEP_HZ)
    return scanned(receiver, receiver.ranges, span, occupants, Settings(), step_hz=STEP_HZ)


@cache
def times() -> list[float]:
    return [median_s(partial(scan, count), runs=3) for count in SIZES]


def single_s() -> float:
    """Return the time of one IF by a call of its own, the mean of some."""
    receiver, occupants = asked()
    alike = merged(occupants, 6_000)
    ifs = np.linspace(LOW_HZ, LOW_HZ + SIZES[-1] * STEP_HZ, SINGLE).astype(np.int64)

    def each() -> None:
        for one in receiver.ranges:
            (chain,) = compile_chains([(receiver, one)])
            for if_hz in ifs:
                response = intruding(respond(with_ifs(chain, np.array([if_hz])), alike, Settings()))
                heard_hz(response.chains, heard_stretches(response.lines, response.graded))

    return median_s(each, runs=3) / SINGLE


@figure("scan of 10,000 IFs on four ranges, shipped tables", "one call each")
def ten_thousand_ifs() -> Times:
    return Times(times()[-1], single_s() * SIZES[-1])


@figure("scan of 625 to 10,000 IFs, the longest and how it grows")
def growth_with_ifs() -> Growth:
    return Growth(growth(SIZES, times()), times()[-1])
