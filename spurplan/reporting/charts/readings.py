"""Readings round what the fitted set gives, and the figures from what was described to what was fitted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from spurplan.columns import Answer
from spurplan.planning.bench.findings import Findings
from spurplan.planning.bench.fitted import SPREAD, Fitted, number_text, unit_text
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, headed, open_sheet
from spurplan.reporting.charts.legend import Draw, a_band, a_fill, a_line, an_upright, legend
from spurplan.reporting.charts.ruler import Ruler, draw_ruler
from spurplan.reporting.charts.sheet import (
    FINE,
    Box,
    Ground,
    Hatch,
    Pen,
    Sheet,
    Stroke,
    Words,
    cut,
    paragraph,
    shown,
    text_width,
)
from spurplan.reporting.charts.strip import CLOSE, CLOSE_PEN, frame, lay_fill
from spurplan.reporting.views.bench import verdict
from spurplan.units import hz_text

ROW_PT, BAR_PT = 9.6, 5.2
NAME_ROOM, OFF_ROOM = 150.0, 84.0
NAME_ROOM_NARROW, OFF_ROOM_NARROW = 92.0, 58.0
NARROW_BELOW_PT = 400.0
HEAD_PT, NAME_PT, SAID_PT = 9.0, 6.8, 6.2
ZERO, INTERVAL, ENDS, MOVED, BEYOND = Pen(1.1), Pen(1.6), Pen(0.9), Pen(0.6), Pen(1.2, line="broken")
EDGE = Pen(0.9, line="dotted")
SPREAD_TINT = 0.12
MARK_PT, HALF_PT = 12.0, 2.6
# the least that a rule reaches to either side, whatever is on it
LEAST_REACH = 3.0


@dataclass(frozen=True)
class Point:
    """One reading.

    Attributes
    ----------
    number : int. Of its line on the sheet.
    range, name, at : str. The name says what was injected, the last at which setting.
    off : float or None. Reading less what the fitted set gives, in the unit of its rule; None where
        nothing was heard.
    at_least : float or None. Where nothing was heard: what it is off by at least.
    outlier : bool. Whether it was set aside.
    """

    number: int
    range: str
    name: str
    at: str
    off: float | None
    at_least: float | None
    outlier: bool

    @property
    def text(self) -> str:
        """How far off it is, in figures; or that nothing was heard, or that it was set aside."""
        if self.off is None:
            return "not heard"
        sign = "+" if round(self.off, 1) > 0.0 else ""
        off_text = f"{self.off:{sign}z.1f}".replace("-", "\N{MINUS SIGN}")
        return f"{off_text}, set aside" if self.outlier else off_text


def points(answer: Answer) -> list[Point]:
    """Return the level readings in the order of the table `residuals`. [dB]"""
    return [
        Point(
            number=record["number"],
            range=shown(record["range"]),
            name=f"{record['number']}. {shown(record['response'])}",
            at=hz_text(record["dial_hz"]),
            off=record["residual_db"],
            at_least=record["reading_db"] - record["predicted_db"] if record["residual_db"] is None else None,
            outlier=record["outlier"],
        )
        for record in answer.tables["residuals"].records()
    ]


def pointers(answer: Answer) -> list[Point]:
    """Return the pointer readings in the order of the table `dial`, less the offset of its range. [kHz]"""
    return [
        Point(
            number=record["number"],
            range=shown(record["range"]),
            name=f"{record['number']}. range {shown(record['range'])}",
            at=hz_text(record["dial_hz"]),
            off=record["residual_hz"] / 1e3,
            at_least=None,
            outlier=record["outlier"],
        )
        for record in answer.tables["dial"].records()
    ]


@dataclass(frozen=True)
class Moved:
    """A figure from what was described to what was fitted.

    Attributes
    ----------
    name, text : str. Which; both values with their interval, in words.
    change, low, high : float or None. By how much, and between what, in the unit of its rule; None where
        the readings leave it open, or nothing checks it.
    """

    name: str
    text: str
    change: float | None
    low: float | None
    high: float | None


# the rules that figures stand on: unit of the figure, what the rule says, its unit
RULES = {
    "dB": ("Levels", "dB"),
    "dBm": ("Levels", "dB"),
    "Hz": ("Dial offsets", "kHz"),
    "": ("Circuits and slopes", "%"),
}
OTHER_RULE = ("Others", "%")


def moved(answer: Answer) -> dict[tuple[str, str], list[Moved]]:
    """Return the figures that the description has, by the rule that they stand on."""
    findings: Findings = answer.findings
    made: dict[tuple[str, str], list[Moved]] = {}
    for row in findings.fitted:
        if row.name != SPREAD and row.described is not None:
            made.setdefault(RULES.get(row.unit, OTHER_RULE), []).append(_moved(row, row.described))
    return made


def _moved(row: Fitted, described: float) -> Moved:
    before = number_text(described, row.unit)
    decided = row.decided and row.value is not None
    change_text = f"{before}{unit_text(row.unit)}, left open"
    if decided:
        span = f" ({number_text(row.low, row.unit)} to {number_text(row.high, row.unit)})"
        known = row.low is not None and row.high is not None
        after = f"{number_text(row.value, row.unit)}{unit_text(row.unit)}{span if known else ''}"
        change_text = f"{before} \N{RIGHTWARDS ARROW} {after}"
    change, low, high = (
        _change(value, described, row.unit) if decided else None for value in (row.value, row.low, row.high)
    )
    # a hyphen before a figure is its sign
    said = shown(change_text).replace("-", "\N{MINUS SIGN}")
    return Moved(shown(row.figure), said, change, low, high)


def _change(value: float | None, described: float, unit: str) -> float | None:
    if value is None:
        return None
    if unit == "Hz":
        return (value - described) / 1e3
    if unit in ("dB", "dBm"):
        return value - described
    return 100 * (value / described - 1.0) if described else None


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `readings`."""
    drawn, dial = points(answer), pointers(answer)
    findings: Findings = answer.findings
    headline = verdict(answer)
    made = open_sheet(width, [f"{answer.receiver}: readings against the model"] if title else [], headline)
    made.says = f"{shown(receiver.name)}: {shown(headline)}"
    spread = next((row.value for row in findings.fitted if row.name == SPREAD), None)
    top = made.height
    if not drawn:
        top = paragraph(made, ["No level was read."], LEFT_PT, top, NAME_PT) + 6
    ruler = _ruler(made, drawn)
    for name, some in groupby(drawn, key=lambda point: point.range):
        top = _lay_points(made, list(some), ruler, (f"Range {name}", "dB"), spread, top)
    top = _lay_points(made, dial, _ruler(made, dial), ("Pointer beyond its offset", "kHz"), None, top)
    figures = moved(answer)
    for (head, unit), group in figures.items():
        top = _lay_moved(made, group, (f"{head}: from as described to as fitted", unit), top)
    entries = _entries([*drawn, *dial], [figure for group in figures.values() for figure in group], spread)
    made.height = legend(made, LEFT_PT, width - MARGIN_PT, top, entries)
    foot(made, answer.cautions if title else ())
    return made


def _ruler(made: Sheet, drawn: Sequence[Point]) -> Ruler:
    """Return a rule with zero in its middle that holds all of some readings."""
    values = [value for point in drawn for value in (point.off, point.at_least) if value is not None]
    narrow = made.width < NARROW_BELOW_PT
    left = LEFT_PT + (NAME_ROOM_NARROW if narrow else NAME_ROOM)
    right = made.width - MARGIN_PT - (OFF_ROOM_NARROW if narrow else OFF_ROOM)
    reach = math.ceil(max([LEAST_REACH, *(abs(value) for value in values)]) * 1.02)
    return Ruler(-reach, reach, left, right)


def _lay_points(
    made: Sheet,
    drawn: Sequence[Point],
    ruler: Ruler,
    head: tuple[str, str],
    spread: float | None,
    top: float,
) -> float:
    """Lay readings below a head and over a rule of some unit; return where the next may begin. [pt]"""
    if not drawn:
        return top
    heading = cut(head[0], HEAD_PT, made.width - MARGIN_PT - LEFT_PT, True)
    first = paragraph(made, [heading], LEFT_PT, top, HEAD_PT, bold=True) + 1
    bottom = first + ROW_PT * len(drawn)
    if spread is not None:
        made.add(Ground(Box(ruler.at(-spread), first, ruler.at(spread), bottom), SPREAD_TINT))
        edges = ruler.at(-spread), ruler.at(spread)
        made.add(*(Stroke(((x, first), (x, bottom)), EDGE) for x in edges))
    for number, point in enumerate(drawn):
        _lay_point(made, point, ruler, first + ROW_PT * number)
    made.add(Stroke(((ruler.at(0), first), (ruler.at(0), bottom)), ZERO))
    return draw_ruler(made, ruler, bottom, head[1]) + 8


def _lay_point(made: Sheet, point: Point, ruler: Ruler, top: float) -> None:
    middle = top + ROW_PT / 2
    line = middle + 0.36 * NAME_PT
    # by its setting a reading is told from its neighbours: the name before it gives way
    at = f" at {point.at}"
    room = ruler.left - LEFT_PT - 8 - text_width(at, NAME_PT)
    made.add(Words(LEFT_PT, line, cut(point.name, NAME_PT, room) + at, NAME_PT))
    zero = ruler.at(0)
    if point.off is not None:
        ends = sorted((zero, ruler.at(point.off)))
        box = Box(ends[0], middle - BAR_PT / 2, max(ends[1], ends[0] + 0.6), middle + BAR_PT / 2)
        if point.outlier:
            made.add(Hatch(box, CLOSE, pen=CLOSE_PEN))
            frame(made, box)
        else:
            made.add(Ground(box, 1.0))
    elif point.at_least is not None:
        # nobody knows how much more
        x = ruler.at(point.at_least)
        made.add(Stroke(((x, middle), (ruler.right, middle)), BEYOND))
        made.add(Stroke(((x, middle - BAR_PT / 2), (x, middle + BAR_PT / 2)), INTERVAL))
    room = made.width - MARGIN_PT - ruler.right - 6
    made.add(Words(ruler.right + 6, line, cut(point.text, SAID_PT, room), SAID_PT))


def _lay_moved(made: Sheet, some: Sequence[Moved], rule: tuple[str, str], top: float) -> float:
    """Lay figures on one rule of what they changed by; return where the next may begin. [pt]"""
    head, unit = rule
    edges = LEFT_PT, made.width - MARGIN_PT
    top = paragraph(made, [cut(head, HEAD_PT, edges[1] - edges[0], True)], LEFT_PT, top, HEAD_PT, True) + 1
    values = [
        value for figure in some for value in (figure.change, figure.low, figure.high) if value is not None
    ]
    reach = math.ceil(max([LEAST_REACH, *(abs(value) for value in values)]) * 1.02)
    ruler = Ruler(-reach, reach, *edges)
    for figure in some:
        top = headed(made, figure.name, figure.text, edges, top, (NAME_PT, SAID_PT))
        _lay_change(made, figure, ruler, top)
        top += MARK_PT + 1
    return draw_ruler(made, ruler, top, unit) + 9


def _lay_change(made: Sheet, figure: Moved, ruler: Ruler, top: float) -> None:
    middle = top + MARK_PT / 2
    zero = ruler.at(0)
    if figure.change is None:
        box = Box(ruler.left, middle - BAR_PT / 2, ruler.right, middle + BAR_PT / 2)
        lay_fill(made, "unknown", box)
        frame(made, box)
        return
    at = ruler.at(figure.change)
    made.add(Stroke(((ruler.left, middle), (ruler.right, middle)), FINE))
    made.add(Stroke(((zero, top + 1), (zero, top + MARK_PT - 1)), ZERO))
    made.add(Stroke(((zero, middle), (at, middle)), MOVED))
    if figure.low is not None and figure.high is not None:
        ends = ruler.at(figure.low), ruler.at(figure.high)
        made.add(Stroke(((ends[0], middle), (ends[1], middle)), INTERVAL))
        for x in ends:
            made.add(Stroke(((x, middle - 3), (x, middle + 3)), ENDS))
    made.add(Ground(Box(at - HALF_PT, middle - HALF_PT, at + HALF_PT, middle + HALF_PT), 1.0))


def _entries(
    drawn: Sequence[Point], figures: Sequence[Moved], spread: float | None
) -> list[tuple[Draw, str]]:
    made: list[tuple[Draw, str]] = [(an_upright(ZERO), "as the fitted set has it; of a figure, as described")]
    if any(point.off is not None for point in drawn):
        made.append((a_fill("believe"), "reading less that"))
    if any(point.outlier for point in drawn):
        made.append((a_fill("don't"), "set aside: it disagrees with the others"))
    if any(point.at_least is not None for point in drawn):
        made.append((a_line(BEYOND), "not heard up to there"))
    if spread is not None:
        made.append((a_band(SPREAD_TINT, EDGE), "spread of one reading, to either side"))
    if any(figure.low is not None for figure in figures):
        made.append((a_line(INTERVAL), "95 % interval, a square at the figure"))
    if any(figure.change is None for figure in figures):
        made.append((a_fill("unknown"), "left open by the readings"))
    return made
