"""A dial as a strip of five fills and white, one for each word, seen apart without colour and in one bit."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from spurplan.reporting.charts.scale import Scale
from spurplan.reporting.charts.sheet import Box, Dots, Ground, Hatch, Pen, Sheet, Stroke
from spurplan.responses.listening.dial_words import DONT, WORDS, DialWords

MM = 72 / 25.4
CELL = 0.25 * MM
# lines at 45 degrees: their distance along the strip is so much more than from one to the next
_ALONG = 2**0.5
WIDE, WIDE_PEN = 2.4 * MM * _ALONG, Pen(0.36 * MM)
CLOSE, CLOSE_PEN = 1.05 * MM * _ALONG, Pen(0.42 * MM)
CROSSED, CROSSED_PEN = 3.0 * MM * _ALONG, Pen(0.74 * MM)
DOTS_SQUARE, DOTS_RADIUS = 2.2 * MM, 0.42 * MM
FRAME = Pen(0.6)
# fewer cells than from one close line to the next show no hatching of their own
LEAST_CELLS = round(CLOSE / CELL)
# a smaller part that is unknown nobody can see
LEAST_UNKNOWN = 0.005

Cells = npt.NDArray[np.int64]


def cells(words: DialWords, scale: Scale) -> Cells:
    """Return the worst word of each cell of a strip, so that a narrow thing never vanishes."""
    count = max(1, round((scale.right - scale.left) / CELL))
    per_hz = count / (scale.high_hz - scale.low_hz)
    ends = (words.low_hz - scale.low_hz) * per_hz, (words.high_hz - scale.low_hz) * per_hz
    first, last = (np.clip(np.floor(end).astype(np.int64), 0, count - 1) for end in ends)
    out = np.zeros(count, dtype=np.int64)
    for a, b, word in zip(first.tolist(), last.tolist(), words.word.tolist(), strict=True):
        np.maximum(out[a : b + 1], word, out=out[a : b + 1])
    return _legible(out)


def _legible(of: Cells) -> Cells:
    """Return cells without hatching too narrow to be read between closer hatching, which takes its place.

    Channels of a crowded band are spoilt by turns more and less than half of the time; in cells that is
    neither of the two textures.
    """
    for a, b, word in runs(of):
        between = a > 0 and b < len(of) and of[a - 1] == DONT and of[b] == DONT
        if word == "check" and between and b - a < LEAST_CELLS:
            of[a:b] = DONT
    return of


def runs(of: Cells) -> list[tuple[int, int, str]]:
    """Return first cell, cell behind the last, and word of each run of cells with one word."""
    edges = [0, *(np.flatnonzero(np.diff(of)) + 1).tolist(), len(of)]
    return [(a, b, WORDS[int(of[a])]) for a, b in pairwise(edges)]


def lay_strip(sheet: Sheet, scale: Scale, words: DialWords, top: float, height: float) -> None:
    """Lay the dial of a range as a strip along its scale. [pt]"""
    for a, b, word in runs(cells(words, scale)):
        box = Box(scale.left + a * CELL, top, min(scale.left + b * CELL, scale.right), top + height)
        lay_fill(sheet, word, box)
    frame(sheet, Box(scale.left, top, scale.right, top + height))


def lay_fill(sheet: Sheet, word: str, box: Box) -> None:
    """Lay the fill of a word over a rectangle; its sides where it is not solid."""
    if word == "believe":
        sheet.add(Ground(box, 1.0))
    elif word == "check":
        sheet.add(Hatch(box, WIDE, pen=WIDE_PEN))
    elif word == "don't":
        sheet.add(Hatch(box, CLOSE, pen=CLOSE_PEN))
    elif word == "dead":
        sheet.add(Hatch(box, CROSSED, pen=CROSSED_PEN), Hatch(box, CROSSED, True, CROSSED_PEN))
    elif word == "unknown":
        sheet.add(Dots(box, DOTS_SQUARE, DOTS_RADIUS))


def frame(sheet: Sheet, box: Box) -> None:
    """Lay the outline of a rectangle."""
    corners = ((box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom))
    sheet.add(*(Stroke(edge, FRAME) for edge in pairwise((*corners, corners[0]))))
