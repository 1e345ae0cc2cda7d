"""One dial setting: the wanted frequency and the intruders where they really are.

The frequencies stand on one straight scale, cut where nothing is. Under it each
intruder is tied to the wanted frequency by the equation that brings it in.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise, zip_longest

from spurplan.columns import Answer
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.dial_row import (
    AERIAL,
    BAR,
    FRONT,
    HEAD_PT,
    NAME_HEIGHT,
    NAME_PT,
    NOISE,
    OWN_PEN,
    ROUTE_PT,
    S_PT,
    SIDE_PT,
    TICK_PT,
    TIER_PT,
    WAY_PT,
    draw_scale,
    key,
    side,
)
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, open_sheet
from spurplan.reporting.charts.labels import Place, Wish, box_of, place
from spurplan.reporting.charts.ranges import NARROW_BELOW_PT
from spurplan.reporting.charts.setting import Setting, Tie, settings
from spurplan.reporting.charts.sheet import (
    FINE,
    GRADE_PENS,
    HANG,
    LINE,
    RISE,
    TICK,
    Box,
    Sheet,
    Stroke,
    Words,
    cut,
    paragraph,
    shown,
    text_width,
    wrapped,
)
from spurplan.reporting.views.intrusions import besides, counted_said
from spurplan.reporting.views.intrusions import title as title_of
from spurplan.responses.listening.findings import SettingFinding
from spurplan.units import hz_text

TIERS_WIDE, TIERS_NARROW = 4, 7
TIE_PT = 13.0
# an equation rather crosses a line than stands so far from its tie
FAR_PT = 40.0
LEAST_MARK_PT = 2.0
# a passband is an upright; what a dial error widens beyond this is drawn as wide as it is
LEAST_FLAT_PT = 8.0
# the part of the sheet that shows what is on the air: its height, and what it spans
AIR_PT, BETWEEN_PT = 76.0, 13.0
AIR_DBM, AIR_TICKS_DBM = (-130.0, 0.0), (-120, -90, -60, -30, 0)
CAP_PT = 3.0


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `dial`."""
    drawn = settings(answer, receiver, width)
    findings: tuple[SettingFinding, ...] = answer.findings
    headline = " ".join(dict.fromkeys(finding.sentence for finding in findings))
    lines = [title_of(answer), counted_said(answer), *besides(answer)]
    made = open_sheet(width, lines if title else [], headline)
    made.says = f"{shown(answer.receiver)} at {hz_text(answer.settings['frequency_hz'])}: " + "; ".join(
        f"range {setting.head}, {setting.summary}" for setting in drawn
    )
    top = made.height
    for setting in drawn:
        top = _lay(made, setting, top) + 13
    limits = (answer.settings.get("strong_at", 10.0), answer.settings.get("audible_at", 0.0))
    made.height = key(made, LEFT_PT, width - MARGIN_PT, top, limits, _kinds(drawn))
    foot(made, answer.cautions if title else ())
    return made


def _kinds(drawn: Sequence[Setting]) -> list[str]:
    """Return what there is to explain: what is drawn, and nothing else."""
    ties = [tie for setting in drawn for tie in setting.ties]
    grades = {tie.grade for tie in ties}
    levels = [tie.aerial_dbm for tie in (*ties, *(setting.wanted for setting in drawn))]
    aerial = any(level is not None for level in levels)
    return [
        "own", *["aerial"] * aerial, "front end", *(grade for grade in GRADE_PENS if grade in grades),
        "noise", "bar",
    ]  # fmt: skip


def _lay(made: Sheet, setting: Setting, top: float) -> float:
    left, right = setting.scales[0].left, setting.scales[-1].right
    top = paragraph(made, [setting.head], left, top, HEAD_PT, bold=True)
    for line in (setting.summary, setting.way.replace("->", "\u2192")):
        top = paragraph(made, wrapped(line, WAY_PT, right - left), left, top, WAY_PT)
    named, places = _names(setting, made.width)
    tiers = 1 + max((p.tier for p in places), default=-1)
    heights = [t.s_units * S_PT for t in (setting.wanted, *setting.ties)]
    tallest = max(
        [LEAST_MARK_PT, *heights, *(height * S_PT for height in (setting.noise_s, *setting.bars_s))]
    )
    bottom = top + 3 + tiers * TIER_PT
    air = Box(left, bottom + 2, right, bottom + 2 + AIR_PT)
    base = air.bottom + BETWEEN_PT + tallest + 4
    side(made, left, base, tallest)
    _lay_air(made, setting, air)
    for at in places:
        _lay_name(made, setting, named[at.wish], at, bottom, air)
    for height, pen in ((setting.noise_s, NOISE), *((height, BAR) for height in setting.bars_s)):
        for scale in setting.scales:
            y = base - height * S_PT
            made.add(Stroke(((scale.left, y), (scale.right, y)), pen))
    for tie in setting.ties:
        _lay_mark(made, setting, tie, base)
    x = setting.at(setting.wanted.hz)
    made.add(Stroke(((x, base + TICK_PT), (x, base - max(setting.wanted.s_units * S_PT, 9.0))), OWN_PEN))
    ties_top = _scale(made, setting, base)
    unnamed = set(setting.ties) - {
        (setting.wanted, *setting.ties)[p.wish] for p in places if p.wish <= len(setting.ties)
    }
    return _tie(made, setting, base, ties_top, unnamed)


@dataclass(frozen=True)
class _Named:
    """A name over the scale: two lines, and the mark they belong to."""

    text: str
    below: str
    hz: int
    aerial_dbm: float | None

    def wish(self, x: float) -> Wish:
        return Wish(x, max(text_width(self.text, NAME_PT), text_width(self.below, ROUTE_PT)))


def _names(setting: Setting, width: float) -> tuple[list[_Named], list[Place]]:
    """Return the names, the most wanted first, and their places."""
    named = [_Named(t.label, t.route, t.hz, t.aerial_dbm) for t in (setting.wanted, *setting.ties)]
    for m, hz in setting.oscillator:
        text = "oscillator" if m == 1 else f"its {_ordinal(m)} harmonic"
        named.append(_Named(text, hz_text(hz), hz, None))
    wishes = [name.wish(setting.at(name.hz)) for name in named]
    tiers = TIERS_NARROW if width < NARROW_BELOW_PT else TIERS_WIDE
    edges = setting.scales[0].left, setting.scales[-1].right
    best = place(wishes, *edges, tiers)
    fewer = [place(wishes, *edges, n) for n in range(1, tiers)]
    return named, next((places for places in fewer if len(places) == len(best)), best)


def _ordinal(number: int) -> str:
    teen = number // 10 % 10 == 1
    return f"{number}{'th' if teen else {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th')}"


def _lay_name(made: Sheet, setting: Setting, name: _Named, at: Place, bottom: float, air: Box) -> None:
    x = setting.at(name.hz)
    box = box_of(at, name.wish(x), bottom - 3.0, TIER_PT, NAME_HEIGHT)
    y = air.bottom if name.aerial_dbm is None else air_y(air, name.aerial_dbm) - 1.5
    made.add(Stroke(((x, box.bottom + 0.5), (x, y)), FINE))
    made.add(Words(box.left, box.top + RISE * NAME_PT, name.text, NAME_PT))
    made.add(Words(box.left, box.bottom - HANG * ROUTE_PT, name.below, ROUTE_PT))


def air_y(air: Box, dbm: float) -> float:
    """Return where a level at the aerial stands in its part of the sheet. [pt]"""
    part = (min(max(dbm, AIR_DBM[0]), AIR_DBM[1]) - AIR_DBM[0]) / (AIR_DBM[1] - AIR_DBM[0])
    return air.bottom - part * (air.bottom - air.top)


def _lay_air(made: Sheet, setting: Setting, air: Box) -> None:
    """Lay what is on the air: the level of each at the aerial, and what the circuits ask of it."""
    for dbm in AIR_TICKS_DBM:
        y = air_y(air, dbm)
        text = f"{dbm}".replace("-", "\N{MINUS SIGN}")
        made.add(Stroke(((air.left - 2.5, y), (air.left, y)), FINE))
        made.add(Words(air.left - 4, y + 0.36 * SIDE_PT, text, SIDE_PT, anchor="end"))
    for scale, curve in zip(setting.scales, setting.front, strict=True):
        made.add(Stroke(((scale.left, air.bottom), (scale.right, air.bottom)), TICK))
        made.add(Stroke(tuple((scale.at(hz), air_y(air, dbm)) for hz, dbm in curve), FRONT))
    for tie in (setting.wanted, *setting.ties):
        if tie.aerial_dbm is not None:
            x, y = setting.at(tie.hz), air_y(air, tie.aerial_dbm)
            pen = OWN_PEN if tie is setting.wanted else AERIAL
            made.add(Stroke(((x, air.bottom), (x, y)), pen), Stroke(((x - CAP_PT, y), (x + CAP_PT, y)), pen))
    caption = "above: the level at the aerial, dBm; below: the level heard, S units"
    line = air.bottom + RISE * SIDE_PT + 2.5
    made.add(Words(air.left, line, cut(caption, SIDE_PT, air.right - air.left), SIDE_PT))


def _lay_mark(made: Sheet, setting: Setting, tie: Tie, base: float) -> None:
    left, right = setting.at(tie.low_hz), setting.at(tie.high_hz)
    y = base - max(tie.s_units * S_PT, LEAST_MARK_PT)
    pen = GRADE_PENS[tie.grade]
    if right - left < LEAST_FLAT_PT:
        x = (left + right) / 2
        made.add(Stroke(((x, base), (x, y)), pen))
        return
    made.add(Stroke(((left, y), (right, y)), pen))
    made.add(Stroke(((left, y), (left, base)), FINE), Stroke(((right, y), (right, base)), FINE))


def _scale(made: Sheet, setting: Setting, base: float) -> float:
    """Lay the scale, cut into its stretches; numerals in the way of a tie are left out."""
    feet = [setting.at(tie.hz) for tie in (setting.wanted, *setting.ties)] if setting.ties else []
    bottom = base
    for scale, after in zip_longest(setting.scales, setting.scales[1:]):
        made.add(Stroke(((scale.left, base), (scale.right, base)), LINE))
        # a part in another unit than the next one says so
        own_unit = after is None or after.unit != scale.unit
        bottom = draw_scale(made, scale, base, unit=own_unit, keep_clear=feet)
    for before, after in pairwise(setting.scales):
        for x in (before.right + 3, after.left - 3):
            made.add(Stroke(((x - 1.6, base + 4), (x + 1.6, base - 4)), LINE))
    return bottom + 3


def _tie(made: Sheet, setting: Setting, base: float, top: float, unnamed: Collection[Tie]) -> float:
    """Tie each intruder to the wanted frequency, the nearest first, with the equation on the tie.

    Those that found no place for a name over the scale have it here.
    """
    if not setting.ties:
        return top
    trunk = setting.at(setting.wanted.hz)
    ties = sorted(setting.ties, key=lambda tie: (abs(setting.at(tie.hz) - trunk), tie.hz))
    levels = [top + (number + 1) * TIE_PT for number in range(len(ties))]
    uprights = [(setting.at(tie.hz), base, level) for tie, level in zip(ties, levels, strict=True)]
    uprights.append((trunk, base, levels[-1]))
    texts = []
    for tie, level in zip(ties, levels, strict=True):
        x = setting.at(tie.hz)
        crossing = [at for at, _, foot in uprights if foot > level + 0.1]
        edges = setting.scales[0].left, setting.scales[-1].right
        tie_text = f"{tie.equation}: {tie.label}, {tie.route}" if tie in unnamed else tie.equation
        tie_text = cut(tie_text, ROUTE_PT, edges[1] - edges[0])
        left = equation_left(text_width(tie_text, ROUTE_PT), trunk, x, crossing, edges)
        texts.append(Words(left, level - 3.0, tie_text, ROUTE_PT))
        made.add(Stroke(((trunk, level), (x, level)), GRADE_PENS[tie.grade]))
    made.add(*texts)
    boxes = [text.box() for text in texts]
    for x, start, stop in uprights:
        for a, b in _between(x, start, stop, boxes):
            made.add(Stroke(((x, a), (x, b)), FINE))
    return levels[-1] + 4


def equation_left(
    width: float, trunk: float, end: float, crossing: Sequence[float], edges: tuple[float, float]
) -> float:
    """Return where the equation of a tie begins: on the tie where it fits, beside it where that is free."""
    low, high = min(trunk, end), max(trunk, end)
    middle = (low + high - width) / 2
    candidates = [high + 4, low - width - 4, edges[0], edges[1] - width]
    inside = [x for x in candidates if edges[0] <= x <= edges[1] - width]

    def disturbed(left: float) -> int:
        return sum(left - 1.5 < x < left + width + 1.5 for x in crossing)

    def cost(left: float) -> float:
        away = max(left - high, low - left - width, 0.0)
        return disturbed(left) + away / FAR_PT

    if width <= high - low - 4 and not disturbed(middle):
        return middle
    return min(inside, key=cost, default=edges[0])


def _between(x: float, start: float, stop: float, boxes: Sequence[Box]) -> list[tuple[float, float]]:
    """Return the parts of an upright that are not behind words."""
    hidden = sorted((box.top, box.bottom) for box in boxes if box.left - 1 < x < box.right + 1)
    parts, y = [], start
    for top, bottom in hidden:
        if top > y:
            parts.append((y, min(top, stop)))
        y = max(y, bottom)
    if y < stop:
        parts.append((y, stop))
    return [(a, b) for a, b in parts if a < b]
