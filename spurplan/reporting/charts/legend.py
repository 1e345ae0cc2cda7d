"""What the lines and fills of a chart mean: samples, each with a word or two behind it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from spurplan.reporting.charts.sheet import HANG, RISE, Area, Box, Pen, Sheet, Stroke, Words, cut, text_width
from spurplan.reporting.charts.strip import frame, lay_fill

WORDS_PT = 6.6
SAMPLE_PT, GAP_PT = 16.0, 12.0

Draw = Callable[[Sheet, Box], None]


def legend(sheet: Sheet, left: float, right: float, top: float, entries: Sequence[tuple[Draw, str]]) -> float:
    """Lay samples and their words between two edges from `top` down; return where they end. [pt]"""
    x, line = left, top + RISE * WORDS_PT
    for draw, text in entries:
        text = cut(text, WORDS_PT, right - left - SAMPLE_PT - 4)
        width = SAMPLE_PT + 4 + text_width(text, WORDS_PT)
        if x > left and x + width > right:
            x, line = left, line + 1.6 * WORDS_PT
        draw(sheet, Box(x, line - 5.5, x + SAMPLE_PT, line + 0.5))
        sheet.add(Words(x + SAMPLE_PT + 4, line, text, WORDS_PT))
        x += width + GAP_PT
    return line + HANG * WORDS_PT


def a_line(pen: Pen) -> Draw:
    """Return a sample of a line that runs along."""

    def draw(sheet: Sheet, box: Box) -> None:
        middle = (box.top + box.bottom) / 2
        sheet.add(Stroke(((box.left, middle), (box.right, middle)), pen))

    return draw


def an_upright(pen: Pen) -> Draw:
    """Return a sample of a line that stands."""

    def draw(sheet: Sheet, box: Box) -> None:
        x = (box.left + box.right) / 2
        sheet.add(Stroke(((x, box.top - 1), (x, box.bottom + 1)), pen))

    return draw


def a_band(tint: float, pen: Pen) -> Draw:
    """Return a sample of a tinted band between two lines."""

    def draw(sheet: Sheet, box: Box) -> None:
        left, top, right, bottom = box
        sheet.add(Area(((left, top), (right, top), (right, bottom), (left, bottom)), tint))
        sheet.add(Stroke(((left, top), (right, top)), pen), Stroke(((left, bottom), (right, bottom)), pen))

    return draw


def a_fill(word: str) -> Draw:
    """Return a sample of the fill of a word."""

    def draw(sheet: Sheet, box: Box) -> None:
        lay_fill(sheet, word, box)
        frame(sheet, box)

    return draw


def a_bracket(pen: Pen) -> Draw:
    """Return a sample of a bracket, its ends up."""

    def draw(sheet: Sheet, box: Box) -> None:
        left, top, right, bottom = box
        sheet.add(Stroke(((left, top), (left, bottom), (right, bottom), (right, top)), pen))

    return draw
