"""The scan of IFs: how long somebody waits for it, what it holds in memory, and one call each beside it.

The band tables are those that ship, the set is the invented valve set of the tests, all
four ranges, 400 kHz to 12 MHz. One call each is every IF of the scan described and judged
by itself on as many settings as the coarse look takes.
"""

from __future__ import annotations

from functools import cache, partial
from pathlib import Path

import numpy as np

from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.scan import COARSE_SETTINGS, Axis, axis_of, grid, scanned
from spurplan.planning.if_change.scan_list import scan_list
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import read_receiver
from spurplan.responses.asking import Settings, occupants_of
from tests.benchmarks.figures import Growth, Times, figure
from tests.benchmarks.measuring import growth, median_s

RECEIVER = Path(__file__).parents[1] / "receivers" / "boathouse.toml"
SPAN_HZ = (400_000, 12_000_000)
SIZES = [38, 75, 150, 300]
SINGLE = 12


@cache
def scan_inputs() -> tuple[Receiver, Occupants, Axis]:
    receiver = read_receiver(RECEIVER)
    occupants = occupants_of(receiver, read_bands(None), Settings())
    return receiver, occupants, axis_of(receiver, receiver.ranges, occupants, Settings())


def coarse(count: int) -> None:
    _, _, axis = scan_inputs()
    axis.looked_at(np.linspace(*SPAN_HZ, count).astype(np.int64), COARSE_SETTINGS)


@cache
def times() -> list[float]:
    return [median_s(partial(coarse, count), runs=3) for count in SIZES]


def single_s() -> float:
    """Return the time of one IF by a call of its own, the mean of some."""
    _, _, axis = scan_inputs()
    ifs = np.linspace(*SPAN_HZ, SINGLE).astype(np.int64)

    def each() -> None:
        for if_hz in ifs.tolist():
            axis.looked_at(np.array([if_hz], dtype=np.int64), COARSE_SETTINGS)

    return median_s(each, runs=3) / SINGLE


def whole() -> None:
    """Scan and list, as the command does."""
    receiver, occupants, axis = scan_inputs()
    scan_list(scanned(axis, SPAN_HZ), axis, receiver, occupants)


@figure("scan of 400 kHz to 12 MHz on four ranges with its list, shipped tables", "one call each")
def scan_and_list() -> Times:
    return Times(median_s(whole, runs=3), single_s() * len(grid(SPAN_HZ)))


@figure("coarse look at 38 to 300 IFs, the longest and how it grows")
def growth_with_ifs() -> Growth:
    return Growth(growth(SIZES, times()), times()[-1])
