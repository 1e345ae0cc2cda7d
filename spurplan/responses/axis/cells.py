"""A dial cut into cells in which the front end does nothing unexpected.

Between corners a loss rises or falls all the way, so its values at the two ends of a
cell bound it inside. Most routes share one grid; a route that passes a corner of the
front end somewhere on the dial, resonance or trap, has the place of it in its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.responses.axis.chains import Axis
from spurplan.responses.axis.lines import AxisLines

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

EVEN_POINTS = 6
# Where a loss may turn between two points, the bend of the curve tells by how much.
TURN = 0.5


@dataclass(frozen=True)
class Cells:
    """C cells of each of L lines; the first axis is 1 where all lines share a value.

    Attributes
    ----------
    lines : AxisLines, L of them.
    low_hz, high_hz : int64, shape (1 or L, C). First and last hertz; low above high for none. [Hz]
    dial : float64, shape (1 or L, C + 1). The points between the cells. [Hz]
    least_db, most_db : float64, shape (L, C). Between these lies the loss ahead of the
        mixer, anywhere in the cell and in the passband. [dB]
    """

    lines: AxisLines
    low_hz: Ints
    high_hz: Ints
    dial: Floats
    least_db: Floats
    most_db: Floats


def cells_of(axis: Axis, lines: AxisLines) -> Iterator[Cells]:
    """Yield the lines with their cells: those that pass no corner, by order, then those that do."""
    grid = _shared_grid(axis)
    corners = _corners(axis, lines)
    near = np.zeros(len(lines), dtype=bool)
    for places in corners:
        for place in places:
            near |= (place > axis.low_hz - 1) & (place < axis.high_hz + 1)
    bent = np.flatnonzero(near)
    # the first order in the signal, of which there are most, has the simplest law
    for plain in (np.flatnonzero(~near & (lines.n == 1)), np.flatnonzero(~near & (lines.n > 1))):
        if len(plain):
            yield _bounded(axis, lines.take(plain), grid[None])
    if len(bent):
        own = [tuple(place[bent] for place in places) for places in corners]
        yield _around(axis, lines.take(bent), grid, own)


def _shared_grid(axis: Axis) -> Ints:
    low, high = axis.low_hz, axis.high_hz
    points = {low + (high - low) * k // (EVEN_POINTS - 1) for k in range(EVEN_POINTS)}
    for bend in (*axis.front.corners_wanted(), *axis.floor.corners()):
        points |= {int(bend), int(bend) + 1}
    return np.array(sorted({min(max(point, low), high) for point in points}), dtype=np.int64)


def _corners(axis: Axis, lines: AxisLines) -> list[tuple[Floats, Floats, Floats]]:
    """Return the dial frequencies at which the lower edge, middle and upper edge meet each corner. [Hz]"""
    slope, offset, half = lines.slope, lines.offset, lines.half_hz
    with np.errstate(divide="ignore", invalid="ignore"):
        found = [
            tuple((offset + side * half) / (ratio - slope) for side in (-1, 0, 1))
            for ratio in axis.front.corners_ratio()
        ]
        found += [
            tuple((place - offset - side * half) / slope for side in (-1, 0, 1))
            for place in axis.front.corners_x()
        ]
    return found


def _bounded(axis: Axis, lines: AxisLines, grid: Ints) -> Cells:
    dial = grid.astype(np.float64)
    middle = lines.slope[:, None] * dial + lines.offset[:, None]
    half = lines.half_hz[:, None]
    # nothing is received below 1 Hz, whatever the loss there
    edges = [axis.front.loss_db(np.maximum(middle + side * half, 1.0), dial) for side in (-1, 1)]
    low, high = np.minimum(*edges), np.maximum(*edges)
    least, most = np.minimum(low[:, :-1], low[:, 1:]), np.maximum(high[:, :-1], high[:, 1:])
    if axis.front.may_turn:
        turn = np.abs(np.diff(high, 2, axis=1)) * TURN
        spare = np.zeros_like(most)
        spare[:, 1:], spare[:, :-1] = turn, np.maximum(spare[:, :-1], turn)
        least, most = least - spare, most + spare
    last = grid[:, 1:] - 1
    last[:, -1] += 1
    return Cells(lines, grid[:, :-1], last, dial, least, most)


def _around(axis: Axis, lines: AxisLines, grid: Ints, corners: list[tuple[Floats, ...]]) -> Cells:
    """Return the cells of lines that pass corners, the corners among their points."""
    columns = [np.broadcast_to(grid, (len(lines), len(grid)))]
    for places in corners:
        for place in places:
            whole = np.floor(np.where(np.isfinite(place), place, axis.low_hz))
            first = np.clip(whole, axis.low_hz, axis.high_hz).astype(np.int64)
            columns += [first[:, None], np.minimum(first + 1, axis.high_hz)[:, None]]
    own = np.concatenate(columns, axis=1)
    own.sort(axis=1)
    cells = _bounded(axis, lines, own)
    for below, at, above in corners:
        # while a corner lies in the passband, the loss on it counts too
        start, stop = np.minimum(below, above)[:, None], np.maximum(below, above)[:, None]
        with np.errstate(invalid="ignore"):
            row, cell = np.nonzero((cells.dial[:, 1:] > start) & (cells.dial[:, :-1] < stop))
        place = np.clip(at[row], axis.low_hz, axis.high_hz)
        loss = axis.front.loss_db(np.maximum(lines.slope[row] * place + lines.offset[row], 1.0), place)
        cells.least_db[row, cell] = np.minimum(cells.least_db[row, cell], loss)
        cells.most_db[row, cell] = np.maximum(cells.most_db[row, cell], loss)
    return cells
