"""A scan as a curve: what each IF leaves usable, and which of them nobody can have or would build."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spurplan.planning.if_change.costs import range_around
from spurplan.planning.if_change.scan import Scan
from spurplan.planning.if_change.scan_list import Scanned, Why
from spurplan.receiver.description import Range, Receiver
from spurplan.rows import Rows, bools, floats, ints, shared

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


class ScanCurve(Rows):
    """K IFs, all ranges together; shares are 0 to 1.

    Attributes
    ----------
    if_hz : int64, shape (K,), ascending. [Hz]
    usable, low, high : float64, shape (K,). Part usable on a busy evening, and between what it lies in
        eight worlds of ten.
    unknown : float64, shape (K,). Part of which the tables cannot tell.
    unlisted : float64, shape (K,). Part of which nobody can tell besides, though it counts as usable: on its
        images the tables list hardly anybody.
    whole : bool, shape (K,). Whether it can be had on every range.
    inside : bool, shape (K,). Whether it lies inside a range of the set, where nobody would build it.
    present_hz : tuple of int. The last IFs that the set has. [Hz]
    before : float. Part usable as the set is.
    """

    sorted_by = ("if_hz",)

    if_hz: Ints = ints()
    usable: Floats = floats()
    low: Floats = floats()
    high: Floats = floats()
    unknown: Floats = floats()
    unlisted: Floats = floats()
    whole: Bools = bools()
    inside: Bools = bools()
    present_hz: tuple[int, ...] = shared()
    before: float = shared()

    def at(self, if_hz: int) -> int | None:
        """Return the row of an IF, None where it was not tried. [Hz]"""
        rows = np.flatnonzero(self.if_hz == if_hz)
        return int(rows[0]) if len(rows) else None


def curve_of(
    scan: Scan, listed: Sequence[Scanned], receiver: Receiver, ranges: Sequence[Range]
) -> ScanCurve | None:
    """Return a scan as a curve; None where none of its IFs can be had.

    Parameters
    ----------
    scan : Scan of those ranges of that set.
    listed : its IFs that were judged on more settings: theirs are the better figures.
    """
    if not listed:
        return None
    shares = [scan.usable_share, scan.low_share, scan.high_share, scan.unknown_share, scan.unlisted_share]
    usable, low, high, unknown, unlisted = (share.copy() for share in shares)
    for scanned_if in listed:
        at = int(np.searchsorted(scan.if_hz, scanned_if.if_hz))
        # the IF a set has may lie outside the span
        if at < len(scan.if_hz) and scan.if_hz[at] == scanned_if.if_hz:
            usable[at], unknown[at] = scanned_if.usable, scanned_if.unknown
            unlisted[at] = scanned_if.together.unlisted
            ends = scanned_if.together.interval
            low[at], high[at] = min(ends[0], scanned_if.usable), max(ends[1], scanned_if.usable)
    present = {
        scanned_if.if_hz
        for scanned_if in listed
        if any(why.about is Why.present for why in scanned_if.reasons)
    }
    # behind a first IF the last one is out of reach of the front end
    ahead = any(len(receiver.conversions_of(range_)) == 1 for range_ in ranges)
    inside = [
        ahead and hz not in present and range_around(receiver, hz) is not None for hz in scan.if_hz.tolist()
    ]
    return ScanCurve(
        scan.if_hz,
        usable,
        low,
        high,
        unknown,
        unlisted,
        np.array([bool(row.all()) for row in scan.built], dtype=np.bool_),
        np.array(inside, dtype=np.bool_),
        tuple(sorted(present)),
        listed[0].before,
    )
