"""Readings against the model: a row each, what the fitted set gives and what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from spurplan.columns import Answer
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.dial_row import NAME_PT, ROUTE_PT, WAY_PT
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, open_sheet
from spurplan.reporting.charts.ruler import Ruler, draw_ruler
from spurplan.reporting.charts.sheet import (
    AUDIBLE,
    BURIED,
    FINE,
    HANG,
    RISE,
    STRONG,
    Pen,
    Sheet,
    Stroke,
    Words,
    cut,
    paragraph,
    shown,
    text_width,
)
from spurplan.units import hz_text

ROW_PT = 13.0
NAME_ROOM, OFF_ROOM = 150.0, 74.0
NAME_ROOM_NARROW, OFF_ROOM_NARROW = 84.0, 44.0
NARROW_BELOW_PT = 400.0
HEAD_PT = 9.0
PREDICTED, READ = Pen(0.75), STRONG


@dataclass(frozen=True)
class Point:
    """One reading.

    Attributes
    ----------
    number : int. Of its line on the sheet.
    range, name : str. The name says what was injected, and at which setting.
    predicted_db, reading_db : float. Generator above the wanted signal's. [dB]
    off : str. How far off it is, in words; or that it was set aside.
    outlier : bool.
    """

    number: int
    range: str
    name: str
    predicted_db: float
    reading_db: float
    off: str
    outlier: bool


def points(answer: Answer) -> list[Point]:
    """Return the level readings in the order of the table `residuals`."""
    return [
        Point(
            number=record["number"],
            range=shown(record["range"]),
            name=f"{record['number']}. {shown(record['response'])} at {hz_text(record['dial_hz'])}",
            predicted_db=record["predicted_db"],
            reading_db=record["reading_db"],
            off=_off(record["residual_db"], record["outlier"]),
            outlier=record["outlier"],
        )
        for record in answer.tables["residuals"].records()
    ]


def _off(residual_db: float | None, outlier: bool) -> str:
    if residual_db is None:
        return "not heard"
    said = f"{residual_db:+z.1f} dB".replace("-", "\u2212")
    return f"{said}, set aside" if outlier else said


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `readings`."""
    drawn = points(answer)
    made = open_sheet(width, [f"{answer.receiver}: readings against the model"] if title else [])
    aside = sum(point.outlier for point in drawn)
    made.says = f"{shown(receiver.name)}: {len(drawn)} readings against the model, {aside} set aside"
    narrow = width < NARROW_BELOW_PT
    left = LEFT_PT + (NAME_ROOM_NARROW if narrow else NAME_ROOM)
    right = width - MARGIN_PT - (OFF_ROOM_NARROW if narrow else OFF_ROOM)
    ruler = Ruler(*_span(drawn), left, right)
    top = made.height
    for name, some in groupby(drawn, key=lambda point: point.range):
        top = _lay(made, name, list(some), ruler, top) + 10
    if not drawn:
        top = paragraph(made, ["No level was read."], LEFT_PT, top, NAME_PT)
    made.height = _key(made, top, width - MARGIN_PT)
    foot(made, answer.cautions if title else ())
    return made


def _span(drawn: Sequence[Point]) -> tuple[float, float]:
    """Return the ends of the rule: whole tens, a little beyond what is on it. [dB]"""
    values = [value for point in drawn for value in (point.predicted_db, point.reading_db)]
    low, high = min(values, default=0.0), max(values, default=100.0)
    return 10.0 * ((low - 1.0) // 10.0), 10.0 * ((high + 1.0) // 10.0 + 1.0)


def _lay(made: Sheet, name: str, some: Sequence[Point], ruler: Ruler, top: float) -> float:
    """Lay the readings of one range from `top` down and return where they end. [pt]"""
    top = paragraph(made, [f"Range {name}"], LEFT_PT, top, HEAD_PT, bold=True) + 2
    for point in some:
        middle = top + ROW_PT / 2
        line = middle + 0.36 * NAME_PT
        said = cut(point.name, NAME_PT, ruler.left - LEFT_PT - 8)
        made.add(Words(LEFT_PT, line, said, NAME_PT))
        predicted, read = ruler.at(point.predicted_db), ruler.at(point.reading_db)
        made.add(Stroke(((ruler.left, middle), (ruler.right, middle)), FINE))
        made.add(Stroke(((predicted, middle), (read, middle)), BURIED if point.outlier else AUDIBLE))
        made.add(Stroke(((predicted, top + 1.5), (predicted, top + ROW_PT - 1.5)), PREDICTED))
        made.add(Stroke(((read, top + 3.5), (read, top + ROW_PT - 3.5)), READ))
        room = made.width - MARGIN_PT - ruler.right - 6
        made.add(Words(ruler.right + 6, line, cut(point.off, ROUTE_PT, room), ROUTE_PT))
        top += ROW_PT
    return draw_ruler(made, ruler, top + 2, "dB")


def _key(made: Sheet, top: float, right: float) -> float:
    """Lay the key from `top` down and return where it ends. [pt]"""
    entries = (
        (PREDICTED, 5.0, "as the model has it"),
        (READ, 3.0, "as it was read"),
        (BURIED, 0.0, "set aside: it disagrees with the others"),
    )
    x, line = LEFT_PT, top + RISE * WAY_PT
    for pen, half, text in entries:
        width = 20 + text_width(text, WAY_PT)
        if x > LEFT_PT and x + width > right:
            x, line = LEFT_PT, line + 1.6 * WAY_PT
        middle = line - 2.4
        ends = ((x + 8, middle - half), (x + 8, middle + half)) if half else ((x, middle), (x + 16, middle))
        made.add(Stroke(ends, pen), Words(x + 20, line, text, WAY_PT))
        x += width + 12
    return line + HANG * WAY_PT
