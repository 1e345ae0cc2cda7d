"""Where routes meet intervals of the air, in whole hertz of dial."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.responses.axis.air import Intervals
from spurplan.responses.axis.lines import AxisLines

Ints = npt.NDArray[np.int64]
Met = tuple[Ints, Ints, Ints, Ints]


def meet(lines: AxisLines, low_hz: Ints, high_hz: Ints, intervals: Intervals, reach_hz: int) -> Met:
    """Return where parts of lines meet intervals.

    Parameters
    ----------
    lines : AxisLines, L of them.
    low_hz, high_hz : int64, shape (L,). Which part of its dial each one has. [Hz]
    intervals : Intervals.
    reach_hz : int. The passband around the middle of the IF that counts; 0 asks that
        the middle itself is in the interval. [Hz]

    Returns
    -------
    (line, interval, first dial, last dial), all int64 of one shape. [Hz]

    Notes
    -----
    As `join`: 2 d low - r reach - 2 q <= 2 p dial <= 2 d high + r reach - 2 q.
    """
    width = lines.r * reach_hz
    least, most = _swept(lines, low_hz, high_hz)
    first = np.searchsorted(intervals.high_hz, -((width - least) // (2 * lines.d)))
    last = np.searchsorted(intervals.low_hz, (most + width) // (2 * lines.d), side="right")
    line, at = _pairs(first, last)
    twice_d, middle, half = 2 * lines.d[line], 2 * lines.q[line], width[line]
    return _divided(
        lines, line, at, twice_d * intervals.low_hz[at] - half - middle,
        twice_d * intervals.high_hz[at] + half - middle, low_hz, high_hz,
    )  # fmt: skip


def fringes(lines: AxisLines, low_hz: Ints, high_hz: Ints, edges_hz: Ints, reach_hz: int, side: int) -> Met:
    """Return where parts of lines pass edges of intervals outside, within the passband.

    Parameters
    ----------
    lines, low_hz, high_hz, reach_hz : as in `meet`.
    edges_hz : int64, ascending. Lower edges (side -1) or upper edges (side 1). [Hz]

    Returns
    -------
    (line, edge, first dial, last dial).
    """
    width = lines.r * reach_hz
    least, most = _swept(lines, low_hz, high_hz)
    twice_d = 2 * lines.d
    if side < 0:
        first = np.searchsorted(edges_hz, -(-(least + 1) // twice_d))
        last = np.searchsorted(edges_hz, (most + width) // twice_d, side="right")
    else:
        first = np.searchsorted(edges_hz, -(-(least - width) // twice_d))
        last = np.searchsorted(edges_hz, (most - 1) // twice_d, side="right")
    line, at = _pairs(first, last)
    edge = twice_d[line] * edges_hz[at] - 2 * lines.q[line]
    near, far = edge + side, edge + side * width[line]
    return _divided(lines, line, at, np.minimum(near, far), np.maximum(near, far), low_hz, high_hz)


def _swept(lines: AxisLines, low_hz: Ints, high_hz: Ints) -> tuple[Ints, Ints]:
    """Return twice the least and the most of p dial + q."""
    ends = 2 * (lines.p * low_hz + lines.q), 2 * (lines.p * high_hz + lines.q)
    return np.minimum(*ends), np.maximum(*ends)


def _pairs(first: Ints, last: Ints) -> tuple[Ints, Ints]:
    """Return (line, interval) for every interval from first up to last of each line."""
    count = np.maximum(last - first, 0)
    line = np.repeat(np.arange(len(count), dtype=np.int64), count)
    at = np.arange(len(line), dtype=np.int64) + np.repeat(first - (np.cumsum(count) - count), count)
    return line, at


def _divided(
    lines: AxisLines, line: Ints, at: Ints, least: Ints, most: Ints, low_hz: Ints, high_hz: Ints
) -> Met:
    """Return the dial on which least <= 2 p dial <= most, those without any left out."""
    slope = 2 * lines.p[line]
    down = slope < 0
    least, most = np.where(down, -most, least), np.where(down, -least, most)
    size = np.abs(slope)
    low, high = low_hz[line], high_hz[line]
    flat = size == 0
    if flat.any():
        size = np.where(flat, 1, size)
        first = np.where(flat, low, -(-least // size))
        last = np.where(flat, np.where((least > 0) | (most < 0), -1, high), most // size)
    else:
        first, last = -(-least // size), most // size
    low, high = np.maximum(low, first), np.minimum(high, last)
    met = np.flatnonzero(low <= high)
    return line[met], at[met], low[met], high[met]
