"""A chart as plain data: lines, grounds and words with their places, before anything is drawn.

Places are in points, 72 to the inch, from the upper left corner, y downward.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import Any, Literal, NamedTuple

from spurplan.reporting.plain import harmless

# the one that comes with matplotlib, so that every machine draws the same
FONT = "DejaVu Sans"
# Parts of the size of a letter: how far capitals and accents rise above the line
# they stand on, and how far tails hang below it.
RISE, HANG = 0.95, 0.25

Anchor = Literal["start", "middle", "end"]
# in dots, and in dashes with a dot between them, as on a drawing board
Line = Literal["solid", "broken", "dotted", "chained"]
Point = tuple[float, float]


class Box(NamedTuple):
    """A rectangle, top < bottom. [pt]"""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box, gap: float = 0.0) -> bool:
        """Whether two rectangles share ground, or come nearer than `gap`."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )


@dataclass(frozen=True)
class Pen:
    """How a line is drawn.

    Attributes
    ----------
    width : float. [pt]
    line : Line. Told apart by its kind: a grey line is gone from a copy in one bit.
    tint : float. Part of the ink's full strength, 0 to 1.
    """

    width: float
    line: Line = "solid"
    tint: float = 1.0


# One hue in three weights, told apart without colour.
STRONG, AUDIBLE, BURIED = Pen(2.0), Pen(0.75), Pen(0.75, line="broken")
GRADE_PENS = {"strong": STRONG, "audible": AUDIBLE, "buried": BURIED}
LINE, TICK, FINE, HATCHING = Pen(0.9), Pen(0.55), Pen(0.5), Pen(0.45, tint=0.85)


@dataclass(frozen=True)
class Stroke:
    """A line through some points."""

    points: tuple[Point, ...]
    pen: Pen


@dataclass(frozen=True)
class Ground:
    """A rectangle in a tint of the ink, 0 to 1."""

    box: Box
    tint: float


@dataclass(frozen=True)
class Area:
    """A closed outline filled with a tint of the ink, 0 to 1."""

    points: tuple[Point, ...]
    tint: float


@dataclass(frozen=True)
class Hatch:
    """A rectangle hatched at 45 degrees, one line every `gap` points along it, rising or falling."""

    box: Box
    gap: float
    falling: bool = False
    pen: Pen = HATCHING

    def lines(self) -> Iterator[tuple[Point, Point]]:
        """Give its lines, each cut off at the edges; none where the rectangle is empty."""
        for (x0, y0), (x1, y1) in self._rising():
            if self.falling:
                mirrored = self.box.top + self.box.bottom
                yield (x0, mirrored - y0), (x1, mirrored - y1)
            else:
                yield (x0, y0), (x1, y1)

    def _rising(self) -> Iterator[tuple[Point, Point]]:
        left, top, right, bottom = self.box
        height = bottom - top
        # the lines of neighbours meet: they are counted from the edge of the sheet
        first = int((left - height) // self.gap)
        for number in range(first, int((right + height) // self.gap) + 2):
            foot = number * self.gap
            start = (max(foot, left), bottom - max(left - foot, 0.0))
            stop = (min(foot + height, right), top + max(foot + height - right, 0.0))
            if start[0] < stop[0]:
                yield start, stop


@dataclass(frozen=True)
class Dots:
    """A rectangle of dots, two in every square, all on one grid of the sheet. [pt]"""

    box: Box
    square: float
    radius: float

    def centres(self) -> list[Point]:
        """Return the middles of its dots; a narrow rectangle has a column of them along its middle."""
        left, top, right, bottom = self.box
        rows = range(int((bottom - top) / self.square * 2))
        out = []
        for row in rows:
            y = top + (row + 0.5) * self.square / 2
            first = math.ceil((left + self.radius) / self.square - 0.5 * (row % 2))
            x = (first + 0.5 * (row % 2)) * self.square
            while x <= right - self.radius:
                out.append((x, y))
                x += self.square
        if not out:
            out = [((left + right) / 2, top + (row + 0.5) * self.square / 2) for row in rows]
        return out


@dataclass(frozen=True)
class Words:
    """A line of text.

    Attributes
    ----------
    x, y : float. Its anchor, and the line its letters stand on. [pt]
    text : str. Shown letter by letter: nothing in it is markup.
    size : float. [pt]
    """

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    anchor: Anchor = "start"

    def box(self) -> Box:
        """Return the ground it covers."""
        width = text_width(self.text, self.size, self.bold)
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * width
        return Box(left, self.y - RISE * self.size, left + width, self.y + HANG * self.size)


Item = Stroke | Ground | Area | Hatch | Dots | Words


@dataclass
class Sheet:
    """A chart, ready to be drawn.

    Attributes
    ----------
    width, height : float. [pt]
    says : str. The chart in a sentence, for those who cannot see it.
    items : list. Grounds lie lowest, lines over them, words on top.
    """

    width: float
    height: float = 0.0
    says: str = ""
    items: list[Item] = field(default_factory=list)

    def add(self, *items: Item) -> None:
        """Lay items on it."""
        self.items += items

    def words(self) -> list[Words]:
        """Return its texts."""
        return [item for item in self.items if isinstance(item, Words)]


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return how long a text is at most. [pt]

    Notes
    -----
    The letters one after the other, without the kerning that draws some together.
    Of the fonts that stand in for ours in a svg file Verdana is as wide and most
    others are narrower.
    """
    return size * sum(_advance(letter, bold) for letter in text)


@lru_cache(maxsize=4096)
def _advance(letter: str, bold: bool) -> float:
    """Return how far a letter takes the next one on, in parts of the size."""
    font = _font(bold)
    if font.get_char_index(ord(letter)):
        return float(font.load_char(ord(letter)).linearHoriAdvance) / 65536 / 100
    # another font draws it, or an empty box stands for it
    return 1.05 if unicodedata.east_asian_width(letter) in "WF" else 0.7


@cache
def _font(bold: bool) -> Any:
    from matplotlib.font_manager import FontProperties, findfont
    from matplotlib.ft2font import FT2Font

    font = FT2Font(findfont(FontProperties(family=FONT, weight="bold" if bold else "normal")))
    font.set_size(100, 72)
    return font


def shown(text: str) -> str:
    """Return a text as charts show it: harmless, with a true minus sign in equations."""
    return harmless(text).replace(" - ", " \u2212 ").replace("= - ", "= \u2212 ")


def dashed(span: str) -> str:
    """Return a span of numbers, "11-30 MHz", with a true dash."""
    return re.sub(r"(?<=[0-9z])-(?=[0-9])", "\u2013", span)


def cut(text: str, size: float, room: float, bold: bool = False) -> str:
    """Return a text that fits, the end of a longer one replaced by an ellipsis."""
    if text_width(text, size, bold) <= room:
        return text
    kept = len(text)
    while kept > 1 and text_width(text[:kept].rstrip() + "\u2026", size, bold) > room:
        kept -= 1
    return text[:kept].rstrip() + "\u2026"


UNITS = frozenset({"%", "Hz", "kHz", "MHz", "dB", "dBm"})


def wrapped(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """Return a text in lines that fit; a longer word is cut, a unit stays with its number."""
    lines: list[str] = []
    for word in _together(text.split()):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, bold) <= room:
            lines[-1] = longer
        else:
            lines.append(cut(word, size, room, bold))
    return lines


def _together(words: Iterable[str]) -> list[str]:
    """Return words with each unit behind a number as one with it."""
    out: list[str] = []
    for word in words:
        if out and word.rstrip(".,;:)") in UNITS and out[-1][-1:].isdigit():
            out[-1] = f"{out[-1]} {word}"
        else:
            out.append(word)
    return out


def paragraph(
    sheet: Sheet, lines: Iterable[str], left: float, top: float, size: float, bold: bool = False
) -> float:
    """Lay lines of text below each other from `top` down; return where the next thing may begin. [pt]"""
    for line in lines:
        sheet.add(Words(left, top + RISE * size, line, size, bold))
        top += 1.32 * size
    return top
