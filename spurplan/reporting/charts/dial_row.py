"""One range as a dial: its scale, what is heard above it, what is spoilt, unknown and clear, names."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from spurplan.reporting.charts.frame import headed
from spurplan.reporting.charts.labels import Place, Wish, box_of, place
from spurplan.reporting.charts.marks import Mark, Spoilt
from spurplan.reporting.charts.scale import NUMBERED, SHORT, Scale, Tick
from spurplan.reporting.charts.sheet import (
    AUDIBLE,
    FINE,
    GRADE_PENS,
    HANG,
    LINE,
    RISE,
    TICK,
    Box,
    Ground,
    Hatch,
    Pen,
    Sheet,
    Stroke,
    Words,
    paragraph,
    text_width,
    wrapped,
)
from spurplan.reporting.charts.strip import frame, lay_fill, lay_strip
from spurplan.reporting.charts.verdicts import MEANING
from spurplan.reporting.plain import counted
from spurplan.responses.listening.dial_words import DialWords

NAME_PT, ROUTE_PT, NUMERAL_PT, HEAD_PT, WAY_PT, SIDE_PT = 7.2, 6.4, 7.0, 9.0, 6.6, 6.0
STRIP_PT, TICK_PT, LONGER_PT, SHORT_PT = 7.0, 7.5, 5.5, 3.2
NUMERAL_GAP_PT = 16.0
S_PT = 5.0
# the thickest thing of a dial
WORDS_PT = 16.0
# the noise of the passband, and what a single tone needs over it
NOISE, BAR = Pen(0.9, line="broken"), Pen(0.8, line="chained")
# a mark below S0 is still a mark
LEAST_MARK_PT = 2.0
NARROW_PT = 1.0
TOUCHING_PT = 0.6
# how far a narrow mark must rise over its neighbours to stand as an upright
STAND_OUT_PT = 2.5
TINTS = {"strong": 0.13, "audible": 0.06, "buried": 0.0}
HATCH_GAPS = {"strong": 2.1, "audible": 4.6}
OWN_PEN = Pen(1.3)
# the level of an intruder at the aerial, and what the circuits there ask of it
AERIAL, FRONT = Pen(1.1), Pen(1.2, line="dotted")
# what nobody can know is dotted, in two rows
DOT_PT, DOT_GAP_PT = 1.6, 3.2
DOT_PEN = Pen(DOT_PT)
NAME_HEIGHT = 1.2 * (NAME_PT + ROUTE_PT)
TIER_PT = NAME_HEIGHT + 3.5
SIDE_TICKS = ((3.0, "S3"), (6.0, "S6"), (9.0, "S9"), (9 + 20 / 6, "+20"), (9 + 40 / 6, "+40"), (19.0, "+60"))


@dataclass(frozen=True)
class Name:
    """What is written over a mark.

    Attributes
    ----------
    text, route : str. Who, and by which way.
    at_hz : int. The place on the dial its leader falls on. [Hz]
    s_units : float. Height of the mark there.
    """

    text: str
    route: str
    at_hz: int
    s_units: float


@dataclass(frozen=True)
class Level:
    """A level along the dial, at some dial frequencies in S units; broken where it is the noise."""

    hz: Sequence[int]
    s_units: Sequence[float]
    broken: bool


@dataclass(frozen=True)
class Row:
    """One range, ready to be laid on a sheet.

    Attributes
    ----------
    head, summary, way : str. Its name; what there is to say; the way of the signal.
    scale : Scale.
    marks : what intrudes, from low to high.
    own : where a station belongs: pointers, not intruders.
    spoilt : parts where something is heard.
    unknown : parts where nothing is, but nobody can know, low and high edge. [Hz]
    unusable : low and high edge of what an IF of the set spoils, or None. [Hz]
    names : the most wanted first; not all need find a place.
    more : int. How many more there are, too quiet to be tried.
    words : the dial in words, which the strip shows; None where the strip shows `spoilt`.
    levels : what the marks stand against.
    """

    head: str
    summary: str
    way: str
    scale: Scale
    marks: Sequence[Mark] = ()
    own: Sequence[Mark] = ()
    spoilt: Sequence[Spoilt] = ()
    unknown: Sequence[tuple[int, int]] = ()
    unusable: tuple[int, int] | None = None
    names: Sequence[Name] = ()
    more: int = 0
    tiers: int = 3
    words: DialWords | None = None
    levels: Sequence[Level] = ()
    placed: list[tuple[Name, Box]] = field(default_factory=list)


def lay(sheet: Sheet, row: Row, top: float) -> float:
    """Lay a range on a sheet from `top` down and return where it ends. [pt]"""
    places = _places(row)
    top = _head(sheet, row, top, len(row.names) - len(places) + row.more)
    tiers = 1 + max((p.tier for p in places), default=-1)
    tallest = max((_height(m) for m in (*row.marks, *row.own)), default=0.0)
    if tallest:
        tallest = max(tallest, *(max(level.s_units) * S_PT for level in row.levels), 0.0)
    names_bottom = top + tiers * TIER_PT
    base = names_bottom + (tallest + 4.0 if tallest else 0.0)
    side(sheet, row.scale.left, base, tallest)
    _marks(sheet, row, base)
    _names(sheet, row, places, names_bottom, base)
    for level in row.levels if tallest else ():
        points = tuple(
            (row.scale.at(hz), base - s * S_PT) for hz, s in zip(level.hz, level.s_units, strict=True)
        )
        sheet.add(Stroke(points, NOISE if level.broken else BAR))
    _strip(sheet, row, base)
    bottom = draw_scale(sheet, row.scale, base + (STRIP_PT if row.words is None else WORDS_PT))
    for mark in row.own:
        _pointer(sheet, row.scale, mark, base)
    return bottom


def _head(sheet: Sheet, row: Row, top: float, unnamed: int) -> float:
    left, right = row.scale.left, row.scale.right
    summary = row.summary + (f"; {counted(unnamed, 'quieter one')} without a name" if unnamed else "")
    top = headed(sheet, row.head, summary, (left, right), top, (HEAD_PT, NAME_PT))
    way = wrapped(row.way.replace("->", "\N{RIGHTWARDS ARROW}"), WAY_PT, right - left)
    return paragraph(sheet, way, left, top, WAY_PT) + 3


def _places(row: Row) -> list[Place]:
    """Return the places of the names in as few tiers as hold as many as the most tiers would."""
    wishes = [_wish(name, row.scale) for name in row.names]
    full = place(wishes, row.scale.left, row.scale.right, row.tiers)
    for tiers in range(1, row.tiers):
        fewer = place(wishes, row.scale.left, row.scale.right, tiers)
        if len(fewer) == len(full):
            return fewer
    return full


def _wish(name: Name, scale: Scale) -> Wish:
    width = max(text_width(name.text, NAME_PT), text_width(name.route, ROUTE_PT))
    return Wish(scale.at(name.at_hz), width)


def _height(mark: Mark) -> float:
    return max(mark.s_units * S_PT, LEAST_MARK_PT)


def side(sheet: Sheet, left: float, base: float, tallest: float) -> None:
    """Lay the heights beside a scale: a short rule marked in S units."""
    if not tallest:
        return
    x = left - 5
    sheet.add(Stroke(((x, base), (x, base - tallest)), FINE))
    for units, text in SIDE_TICKS:
        y = base - units * S_PT
        if y < base - tallest - 0.5:
            break
        sheet.add(Stroke(((x - 2.5, y), (x, y)), FINE))
        sheet.add(Words(x - 4, y + 0.36 * SIDE_PT, text, SIDE_PT, anchor="end"))


def _marks(sheet: Sheet, row: Row, base: float) -> None:
    """Lay the marks on the scale: a flat top over a stretch, an upright for a narrow one."""
    shapes = [
        _Shape(row.scale.at(m.low_hz), row.scale.at(m.high_hz), base - _height(m), m.grade) for m in row.marks
    ]
    flat = []
    for number, shape in enumerate(shapes):
        around = [
            other
            for other in shapes[max(number - 1, 0) : number + 2]
            if other is not shape and shape.touches(other)
        ]
        if shape.right - shape.left > NARROW_PT or any(
            other.top < shape.top + STAND_OUT_PT for other in around
        ):
            flat.append(shape)
        else:
            middle = (shape.left + shape.right) / 2
            foot = max((other.top for other in around), default=base)
            sheet.add(Stroke(((middle, foot), (middle, shape.top)), GRADE_PENS[shape.grade]))
    for shape in flat:
        sheet.add(Ground(Box(shape.left, shape.top, shape.right, base), TINTS[shape.grade]))
        sheet.add(Stroke(((shape.left, shape.top), (shape.right, shape.top)), GRADE_PENS[shape.grade]))
    _sides(sheet, flat, base)


@dataclass(frozen=True)
class _Shape:
    """A mark where it stands on the sheet. [pt]"""

    left: float
    right: float
    top: float
    grade: str

    def touches(self, other: _Shape) -> bool:
        return self.left - other.right < TOUCHING_PT and other.left - self.right < TOUCHING_PT


def _sides(sheet: Sheet, flat: Sequence[_Shape], base: float) -> None:
    """Lay the sides of flat marks: from top to base, or to the top of a neighbour."""
    for number, shape in enumerate(flat):
        before = flat[number - 1] if number else None
        foot = before.top if before and shape.touches(before) else base
        sheet.add(Stroke(((shape.left, foot), (shape.left, shape.top)), FINE))
        if number + 1 == len(flat) or not shape.touches(flat[number + 1]):
            sheet.add(Stroke(((shape.right, shape.top), (shape.right, base)), FINE))


def _names(sheet: Sheet, row: Row, places: Sequence[Place], bottom: float, base: float) -> None:
    row.placed.clear()
    for at in places:
        name = row.names[at.wish]
        box = box_of(at, _wish(name, row.scale), bottom - 3.0, TIER_PT, NAME_HEIGHT)
        x = row.scale.at(name.at_hz)
        y = base - max(name.s_units * S_PT, LEAST_MARK_PT) - 1.5
        sheet.add(Stroke(((x, box.bottom + 0.5), (x, y)), FINE))
        sheet.add(Words(box.left, box.top + RISE * NAME_PT, name.text, NAME_PT))
        sheet.add(Words(box.left, box.bottom - HANG * ROUTE_PT, name.route, ROUTE_PT))
        row.placed.append((name, box))


def _strip(sheet: Sheet, row: Row, base: float) -> None:
    """Lay the strip under the marks: the dial in words, or hatched where spoilt and dotted where unknown."""
    if row.words is not None:
        lay_strip(sheet, row.scale, row.words, base, WORDS_PT)
        return
    draw_strip(
        sheet,
        row.scale,
        base,
        [(part.low_hz, part.high_hz, HATCH_GAPS[part.grade]) for part in row.spoilt],
        row.unknown,
    )
    if row.unusable is not None:
        low, high = row.unusable
        left, right = row.scale.at(low), row.scale.at(high)
        lay_fill(sheet, "dead", Box(left, base, max(right, left + NARROW_PT), base + STRIP_PT))


def draw_strip(
    sheet: Sheet,
    scale: Scale,
    top: float,
    parts: Sequence[tuple[int, int, float]],
    unknown: Sequence[tuple[int, int]] = (),
) -> None:
    """Lay a strip along a scale, white, with hatched and dotted parts.

    Parameters
    ----------
    parts : low and high edge of each [Hz], and the distance of its lines [pt].
    unknown : low and high edge of those that are dotted. [Hz]
    """
    bottom = top + STRIP_PT
    for low, high in unknown:
        draw_dots(sheet, Box(max(scale.at(low), scale.left), top, min(scale.at(high), scale.right), bottom))
    for low, high, gap in parts:
        left = max(scale.at(low), scale.left)
        right = min(max(scale.at(high), left + 0.5), scale.right)
        sheet.add(Hatch(Box(left, top, right, bottom), gap))
        sheet.add(Stroke(((left, top), (left, bottom)), FINE), Stroke(((right, top), (right, bottom)), FINE))
    corners = (
        (scale.left, top), (scale.right, top), (scale.right, bottom), (scale.left, bottom), (scale.left, top),
    )  # fmt: skip
    sheet.add(*(Stroke(edge, LINE) for edge in pairwise(corners)))


def draw_dots(sheet: Sheet, box: Box) -> None:
    """Fill a rectangle with dots, and bound it; one that is narrow has a dot at least."""
    # the dots of neighbours meet: they are counted from the edge of the sheet
    first, last = math.ceil((box.left + DOT_PT) / DOT_GAP_PT), math.floor((box.right - DOT_PT) / DOT_GAP_PT)
    places = [number * DOT_GAP_PT for number in range(first, last + 1)] or [(box.left + box.right) / 2]
    third = (box.bottom - box.top) / 3
    for number, x in enumerate(places, start=first):
        y = box.top + (third if number % 2 else 2 * third)
        sheet.add(Stroke(((x - DOT_PT / 2, y), (x + DOT_PT / 2, y)), DOT_PEN))
    for x in (box.left, box.right):
        sheet.add(Stroke(((x, box.top), (x, box.bottom)), FINE))


def draw_scale(
    sheet: Sheet, scale: Scale, top: float, unit: bool = True, keep_clear: Sequence[float] = ()
) -> float:
    """Lay ticks and numerals along a scale from `top` down and return where they end. [pt]

    Parameters
    ----------
    unit : bool. Whether its unit stands at the right end.
    keep_clear : places where no numeral may stand. [pt]
    """
    lengths = {NUMBERED: TICK_PT, SHORT: SHORT_PT}
    foot = top + TICK_PT + 1 + RISE * NUMERAL_PT
    unit_left = scale.right - text_width(scale.unit, NUMERAL_PT) if unit else scale.right + 20
    for tick in _ticks(scale):
        sheet.add(Stroke(((tick.x, top), (tick.x, top + lengths.get(tick.kind, LONGER_PT))), TICK))
        half = text_width(tick.text, NUMERAL_PT) / 2 if tick.text else 0.0
        taken = any(abs(x - tick.x) < half + 2 for x in keep_clear)
        if tick.text and tick.x + half < unit_left - 3 and not taken:
            sheet.add(Words(tick.x, foot, tick.text, NUMERAL_PT, anchor="middle"))
    if unit:
        sheet.add(Words(scale.right, foot, scale.unit, NUMERAL_PT, anchor="end"))
    return foot + HANG * NUMERAL_PT


def _ticks(scale: Scale) -> tuple[Tick, ...]:
    """Return the ticks with numerals as close as they read well."""
    for room in (18.0, 24.0, 32.0, 44.0, 60.0):
        ticks = scale.ticks(room)
        numbered = [tick for tick in ticks if tick.text]
        widest = max((text_width(tick.text, NUMERAL_PT) for tick in numbered), default=0.0)
        if len(numbered) < 2 or numbered[1].x - numbered[0].x >= widest + NUMERAL_GAP_PT:
            return ticks
    return ticks


def _pointer(sheet: Sheet, scale: Scale, mark: Mark, base: float) -> None:
    """Lay a pointer over the scale where a station belongs."""
    x = (scale.at(mark.low_hz) + scale.at(mark.high_hz)) / 2
    sheet.add(Stroke(((x, base - _height(mark)), (x, base + STRIP_PT + TICK_PT)), OWN_PEN))


def key(
    sheet: Sheet,
    left: float,
    right: float,
    top: float,
    thresholds: tuple[float, float],
    kinds: Sequence[str] = ("strong", "audible", "buried", "spoilt", "clear"),
) -> float:
    """Lay the key from `top` down and return where it ends. [pt]

    Parameters
    ----------
    thresholds : margins over the noise from which a mark is strong and audible. [dB]
    kinds : what there is to explain, in order.
    """
    strong, audible = thresholds
    labels = {
        "own": "on frequency",
        "strong": f"strong if it is on, {strong:g} dB or more over what it takes to be heard",
        "audible": "audible if it is on" if audible == 0 else f"audible, {audible:g} dB or more",
        "buried": "buried in the noise",
        "spoilt": "something is heard",
        "unknown": "unknown: the tables end before an image",
        "clear": "clear",
        "not heard": "it is not heard there",
        "own IF": "the set's own IF",
        "aerial": "level at the aerial",
        "front end": "what the circuits ask there to reach the noise",
        "noise": "the noise of the passband",
        "bar": "what a single tone needs to be heard, and to be strong",
        **MEANING,
    }
    entries = [(kind, labels[kind]) for kind in kinds]
    x = left
    line = top + RISE * WAY_PT
    for kind, text in entries:
        width = 20 + text_width(text, WAY_PT)
        if x > left and x + width > right:
            x, line = left, line + 1.6 * WAY_PT
        sample(sheet, kind, x, line)
        sheet.add(Words(x + 20, line, text, WAY_PT))
        x += width + 12
    return line + HANG * WAY_PT


def sample(sheet: Sheet, kind: str, x: float, line: float) -> None:
    """Lay how a kind of thing is drawn, beside the words that stand on a line."""
    box = Box(x, line - 5.5, x + 16, line + 0.5)
    if kind in GRADE_PENS:
        sheet.add(Stroke(((x, line - 2.4), (x + 16, line - 2.4)), GRADE_PENS[kind]))
        return
    if kind in ("noise", "bar", "front end"):
        pen = {"noise": NOISE, "bar": BAR, "front end": FRONT}[kind]
        sheet.add(Stroke(((x, line - 2.4), (x + 16, line - 2.4)), pen))
        return
    if kind == "aerial":
        sheet.add(Stroke(((x + 8, line - 6.0), (x + 8, line + 1)), AERIAL))
        sheet.add(Stroke(((x + 5, line - 6.0), (x + 11, line - 6.0)), AERIAL))
        return
    if kind in MEANING:
        lay_fill(sheet, kind, box)
        frame(sheet, box)
        return
    if kind == "own":
        sheet.add(Stroke(((x + 8, line - 6.5), (x + 8, line + 1)), OWN_PEN))
        return
    if kind == "own IF":
        lay_fill(sheet, "dead", box)
    elif kind not in ("clear", "not heard"):
        sheet.add(Hatch(box, HATCH_GAPS["strong"]))
    corners = ((box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom))
    sheet.add(*(Stroke(edge, AUDIBLE) for edge in pairwise((*corners, corners[0]))))
