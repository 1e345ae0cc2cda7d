"""Stretches of dial as marks on a scale: the skyline of the loudest, and what is spoilt.

A page can show some thousand places beside each other, an answer may hold a
million stretches. So the scale is cut into cells finer than the eye, and each
cell shows the loudest thing that reaches into it; nothing narrow is lost.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.columns import Coded, Table
from spurplan.reporting.charts.scale import Scale
from spurplan.units import DB_PER_S, S9_DBM, S9_HIGH_DBM, S_CHANGE_HZ

CELL_PT = 0.25
# heights nearer to each other than this are one mark [S units]
SAME_HEIGHT = 0.05
GRADES = ("buried", "audible", "strong")

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Mark:
    """The loudest thing over a part of a scale.

    Attributes
    ----------
    row : int. Its row in the table; of several as loud, the first.
    low_hz, high_hz : int. The part of the dial where nothing is louder. [Hz]
    s_units : float. Height: heard level above S0. [6 dB each]
    grade : str.
    """

    row: int
    low_hz: int
    high_hz: int
    s_units: float
    grade: str


@dataclass(frozen=True)
class Spoilt:
    """A part of a scale where something is heard, by the grade of the most audible. [Hz]"""

    low_hz: int
    high_hz: int
    grade: str


def s_units(heard_dbm: Floats, dial_hz: Ints) -> Floats:
    """Return heard levels as heights above S0, 6 dB an S unit throughout; 0 below S0."""
    s9 = np.where(dial_hz <= S_CHANGE_HZ, S9_DBM, S9_HIGH_DBM)
    heights: Floats = np.maximum((heard_dbm - s9) / DB_PER_S + 9.0, 0.0)
    return heights


def grade_codes(table: Table) -> Ints:
    """Return the grade of each row: 0 buried, 1 audible, 2 strong."""
    value = table.values["grade"]
    if not isinstance(value, Coded):
        return np.array([GRADES.index(word) for word in value], dtype=np.int64)
    of_word = np.array([GRADES.index(word) for word in value.words] or [0], dtype=np.int64)
    codes: Ints = of_word[value.codes]
    return codes


def skyline(table: Table, rows: Ints, scale: Scale) -> list[Mark]:
    """Return the loudest of some rows along a scale, from low to high.

    Parameters
    ----------
    table : Table of intrusions.
    rows : int64, shape (n,). Which of its rows, all of the range the scale shows.
    """
    heights = s_units(table["heard_dbm"][rows], table["loudest_dial_hz"][rows])
    grades = grade_codes(table)[rows]
    # the loudest are laid on last; of equals the first row
    order = np.lexsort((-rows, heights))
    first, last = _cells(table, rows, scale)
    cells = _laid(first[order], last[order], order, _count(scale))
    marks = []
    key = np.where(cells < 0, -1, cells)
    for start, stop in _runs(_alike(key, heights, grades)):
        if key[start] < 0:
            continue
        n = int(key[start:stop][np.argmax(heights[key[start:stop]])])
        inside = rows[np.unique(key[start:stop])]
        edges = _cell_edges(scale, start, stop)
        low = max(int(table["dial_low_hz"][inside].min()), edges[0])
        high = min(int(table["dial_high_hz"][inside].max()), edges[1])
        marks.append(Mark(int(rows[n]), low, max(low, high), float(heights[n]), GRADES[int(grades[n])]))
    return marks


def spoilt(table: Table, rows: Ints, scale: Scale) -> list[Spoilt]:
    """Return the parts of a scale where one of some rows is audible or strong, from low to high."""
    grades = grade_codes(table)[rows]
    first, last = _cells(table, rows, scale)
    order = np.argsort(grades, kind="stable")
    cells = _laid(first[order], last[order], grades[order], _count(scale))
    parts = []
    for start, stop in _runs(cells):
        if cells[start] >= 1:
            low, high = _cell_edges(scale, start, stop)
            parts.append(Spoilt(low, high, GRADES[int(cells[start])]))
    return parts


def unknown(table: Table, rows: Ints, scale: Scale, heard: Sequence[Spoilt]) -> list[tuple[int, int]]:
    """Return the parts of a scale that are unknown by some rows, and not spoilt, from low to high. [Hz]"""
    first, last = _cells(table, rows, scale)
    cells = _laid(first, last, np.zeros(len(rows), dtype=np.int64), _count(scale))
    per_hz = _count(scale) / (scale.high_hz - scale.low_hz)
    for part in heard:
        start, stop = (round((hz - scale.low_hz) * per_hz) for hz in (part.low_hz, part.high_hz))
        cells[start:stop] = -1
    return [_cell_edges(scale, start, stop) for start, stop in _runs(cells) if cells[start] >= 0]


def _count(scale: Scale) -> int:
    return max(1, round((scale.right - scale.left) / CELL_PT))


def _cells(table: Table, rows: Ints, scale: Scale) -> tuple[Ints, Ints]:
    """Return the first and last cell each row reaches into."""
    count = _count(scale)
    per_hz = count / (scale.high_hz - scale.low_hz)
    ends = (table["dial_low_hz"][rows], table["dial_high_hz"][rows])
    first, last = (np.floor((end - scale.low_hz) * per_hz).astype(np.int64) for end in ends)
    return np.clip(first, 0, count - 1), np.clip(last, 0, count - 1)


def _cell_edges(scale: Scale, start: int, stop: int) -> tuple[int, int]:
    """Return the hertz from one cell to before another."""
    per_cell = (scale.high_hz - scale.low_hz) / _count(scale)
    return scale.low_hz + round(start * per_cell), scale.low_hz + round(stop * per_cell)


def _laid(first: Ints, last: Ints, value: Ints, count: int) -> Ints:
    """Return what lies on top in each cell when stretches are laid on in order; -1 for nothing."""
    cells = np.full(count, -1, dtype=np.int64)
    for a, b, v in zip(first.tolist(), last.tolist(), value.tolist(), strict=True):
        cells[a : b + 1] = v
    return cells


def _alike(cells: Ints, heights: Floats, grades: Ints) -> Ints:
    """Return cells with one value for neighbours that look the same."""
    if not len(heights):
        return cells
    looks = np.round(heights / SAME_HEIGHT).astype(np.int64) * 4 + grades
    return np.where(cells < 0, -1, looks[np.maximum(cells, 0)])


def _runs(cells: Ints) -> Sequence[tuple[int, int]]:
    """Return where each run of equal cells starts, and where the next does."""
    edges = np.flatnonzero(np.diff(cells)) + 1
    return list(zip([0, *edges.tolist()], [*edges.tolist(), len(cells)], strict=True))
