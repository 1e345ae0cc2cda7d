"""A scan as a curve over the IF: what is usable and how sure that is, with the usual IFs as flags."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from spurplan.columns import Answer
from spurplan.errors import Fault, Refused
from spurplan.planning.if_change.findings import Findings
from spurplan.planning.if_change.scan_curve import ScanCurve
from spurplan.planning.if_change.scan_list import Scanned, Why
from spurplan.receiver.description import Range, Receiver
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, headed, open_sheet
from spurplan.reporting.charts.if_axis import IfAxis, draw_if_axis
from spurplan.reporting.charts.labels import Place, Wish, box_of, place
from spurplan.reporting.charts.legend import Draw, a_band, a_bracket, a_fill, a_line, an_upright, legend
from spurplan.reporting.charts.sheet import (
    FINE,
    HANG,
    LINE,
    RISE,
    Area,
    Box,
    Dots,
    Pen,
    Sheet,
    Stroke,
    Words,
    cut,
    paragraph,
    shown,
    text_width,
    wrapped,
)
from spurplan.reporting.charts.strip import DOTS_RADIUS, DOTS_SQUARE, LEAST_UNKNOWN, lay_fill
from spurplan.reporting.views.if_change import verdict
from spurplan.units import hz_text, share_span_text, share_text

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

PLOT_PT = 170.0
# between the plot and the names: a pennant at the very top
FLAG_ROOM = 7.0
NARROW_BELOW_PT = 400.0
TIERS_WIDE, TIERS_NARROW = 4, 6
NAME_PT, NUMERAL_PT, ROW_PT, SAID_PT = 7.0, 6.6, 7.2, 6.4
TIER_PT = 1.45 * NAME_PT
CURVE, LISTED, INSIDE, POST, STAFF, EDGE = (
    Pen(1.6),
    Pen(1.8, line="dotted"),
    Pen(1.0, line="broken"),
    Pen(2.4),
    FINE,
    Pen(0.9, line="dotted"),
)
BRACKET = Pen(1.0)
BAND_TINT = 0.14
# how far the ticks of shares stand apart [per cent]
STEPS = (1, 2, 5, 10, 20, 50)
BRACKET_PT, LEAST_NAME_PT = 4.0, 26.0
FLOWN = (("usual", "a usual IF"), ("asked", "one asked about"))
POSTS = (("present", "the present IF"), ("recommended", "what is recommended"))
# what there is to say of the best
MOST_LISTED, REASONS_SHOWN = 6, 2


@dataclass(frozen=True)
class Flag:
    """An IF with a name over the curve.

    Attributes
    ----------
    if_hz : int. [Hz]
    text : str. What stands over it.
    usable : float or None. Where it stands on the curve, 0 to 1; None off the curve.
    kind : "present", "recommended", "asked" or "usual".
    """

    if_hz: int
    text: str
    usable: float | None
    kind: str


def curve_of(answer: Answer) -> ScanCurve:
    """Return the curve that is drawn.

    Raises
    ------
    Refused  when nothing was scanned, or nothing that was can be had.
    """
    findings: Findings = answer.findings
    if findings.scan is None:
        rule = "draws the candidates of a scan"
        raise Refused(Fault("--chart", rule, remedy="add --scan LOW:HIGH, as 400kHz:12MHz"))
    if findings.curve is None:
        rule = "has nothing to draw: none of these IFs can be had"
        raise Refused(Fault("--chart", rule, remedy="scan other IFs, as 400kHz:12MHz"))
    return findings.curve


def flags(answer: Answer) -> list[Flag]:
    """Return the IFs that are named: the present, what is recommended, what was asked about, the usual."""
    findings: Findings = answer.findings
    curve = curve_of(answer)
    inside = {hz for hz, no in zip(curve.if_hz.tolist(), curve.inside.tolist(), strict=True) if no}
    made: dict[int, Flag] = {}

    def add(if_hz: int, kind: str, before: str = "") -> None:
        at = curve.at(if_hz)
        if at is None or if_hz in made:
            return
        had = bool(curve.whole[at])
        share = share_text(float(curve.usable[at])) if had else "cannot be had"
        made[if_hz] = Flag(
            if_hz, f"{before}{hz_text(if_hz)}, {share}", float(curve.usable[at]) if had else None, kind
        )

    for if_hz in curve.present_hz:
        add(if_hz, "present", "present ")
    for change in findings.changes:
        if change.if_hz is not None:
            add(change.if_hz, "recommended", "recommended ")
    # what is considered besides the best of the scan was asked for by name
    best = {scanned_if.if_hz for scanned_if in findings.scanned}
    for asked in findings.considered:
        if asked.if_hz is not None and asked.if_hz not in best:
            add(asked.if_hz, "asked", "asked ")
            between = _between(curve, asked.if_hz)
            if between is not None and asked.if_hz not in made:
                # its own share stands in the table of what was asked
                made[asked.if_hz] = Flag(asked.if_hz, f"asked {hz_text(asked.if_hz)}", between, "asked")
    usual = [scanned_if for scanned_if in findings.scanned if scanned_if.usual is not None]
    for scanned_if in sorted(usual, key=lambda each: each.if_hz in inside):
        add(scanned_if.if_hz, "usual")
    return list(made.values())


def _between(curve: ScanCurve, if_hz: int) -> float | None:
    """Return where the curve stands between two IFs tried; None where one of them cannot be had."""
    at = int(np.searchsorted(curve.if_hz, if_hz))
    if not 0 < at < len(curve.if_hz) or not curve.whole[at - 1 : at + 1].all():
        return None
    return float(np.interp(if_hz, curve.if_hz[at - 1 : at + 1], curve.usable[at - 1 : at + 1]))


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `if_change` with a scan."""
    curve = curve_of(answer)
    findings: Findings = answer.findings
    low, high = answer.settings["scan_low_hz"], answer.settings["scan_high_hz"]
    about = f"IFs from {hz_text(low)} to {hz_text(high)}"
    headline = verdict(findings)
    made = open_sheet(width, [f"{answer.receiver}: {about}"] if title else [], headline)
    made.says = f"{shown(receiver.name)}, {about}: {shown(headline)}"
    axis = IfAxis(int(curve.if_hz[0]), int(curve.if_hz[-1]), LEFT_PT, width - MARGIN_PT)
    named = flags(answer)
    places = _places(named, axis, TIERS_NARROW if width < NARROW_BELOW_PT else TIERS_WIDE)
    tiers = 1 + max((at.tier for at in places), default=-1)
    top = paragraph(made, ["Usable part of the dial on a busy evening, by IF"], LEFT_PT, made.height, SAID_PT)
    bottom = top + 3 + tiers * TIER_PT + FLAG_ROOM
    plot = Box(axis.left, bottom, axis.right, bottom + PLOT_PT)
    shares = _Shares(_least(curve), plot)
    _lay_shares(made, shares)
    _lay_curve(made, curve, axis, shares)
    _lay_flags(made, named, places, axis, shares)
    top = draw_if_axis(made, axis, plot.bottom)
    top = _lay_ranges(made, receiver, axis, top + 5) + 8
    top = _lay_list(made, findings, (axis.left, axis.right), top)
    bracketed = any(_within(range_, axis) for range_ in receiver.ranges)
    made.height = legend(made, axis.left, axis.right, top + 4, _entries(curve, named, bracketed))
    foot(made, answer.cautions if title else ())
    return made


@dataclass(frozen=True)
class _Shares:
    """Shares from `least` to 1 up a plot."""

    least: float
    plot: Box

    def at(self, share: float) -> float:
        part = (min(max(share, self.least), 1.0) - self.least) / (1.0 - self.least)
        return self.plot.bottom - part * (self.plot.bottom - self.plot.top)


def _least(curve: ScanCurve) -> float:
    """Return where the rule of shares begins: a whole ten per cent below all that is drawn."""
    lowest = min([float(curve.low[curve.whole].min()) if curve.whole.any() else 0.0, curve.before])
    return max(0.0, min(math.floor(10.0 * lowest - 0.01) / 10.0, 0.9))


def _lay_shares(made: Sheet, shares: _Shares) -> None:
    left, right = shares.plot.left, shares.plot.right
    least = round(100 * shares.least)
    height = (shares.plot.bottom - shares.plot.top) / (100 - least)
    step = next(size for size in STEPS if size * height >= 14.0)
    for percent in range(100 - (100 - least) // step * step, 101, step):
        y = shares.at(percent / 100)
        made.add(Stroke(((left, y), (right, y)), Pen(0.35, tint=0.35)))
        text = f"{percent} %" if percent == 100 else str(percent)
        made.add(Words(left - 3, y + 0.36 * NUMERAL_PT, text, NUMERAL_PT, anchor="end"))
    made.add(Stroke(((left, shares.plot.top), (left, shares.plot.bottom)), LINE))


def _lay_curve(made: Sheet, curve: ScanCurve, axis: IfAxis, shares: _Shares) -> None:
    x = np.array([axis.at(hz) for hz in curve.if_hz.tolist()])
    for a, b in _runs(~curve.whole):
        ends = [(x[n] + x[n + 1]) / 2 if 0 <= n < len(x) - 1 else None for n in (a - 1, b - 1)]
        left = axis.left if ends[0] is None else ends[0]
        right = axis.right if ends[1] is None else ends[1]
        lay_fill(made, "dead", Box(left, shares.plot.top, right, shares.plot.bottom))
    for a, b in _runs(curve.whole):
        ups, downs = (
            [(float(x[n]), shares.at(float(part[n]))) for n in range(a, b)]
            for part in (curve.high, curve.low)
        )
        if b - a > 1:
            made.add(Area((*ups, *reversed(downs)), BAND_TINT))
            made.add(Stroke(tuple(ups), EDGE), Stroke(tuple(downs), EDGE))
        _lay_unknown(made, curve, axis, shares, (a, b))
        for pen, points in _lines(curve, x, shares, (a, b)):
            made.add(Stroke(points, pen))


def _pens(curve: ScanCurve) -> Iterator[Pen]:
    """Give the pens a curve is drawn with."""
    x, plot = np.arange(len(curve.if_hz), dtype=float), Box(0.0, 0.0, 1.0, 1.0)
    for run in _runs(curve.whole):
        for pen, _ in _lines(curve, x, _Shares(0.0, plot), run):
            yield pen


def _lines(
    curve: ScanCurve, x: Floats, shares: _Shares, run: tuple[int, int]
) -> Iterator[tuple[Pen, tuple[tuple[float, float], ...]]]:
    """Give the curve of a run in parts, in dashes wherever an IF would lie inside a range.

    Dotted where the tables list hardly anybody.
    """
    a, b = run
    at = [(float(x[n]), shares.at(float(curve.usable[n]))) for n in range(a, b)]
    if b - a == 1:
        # alone between two that cannot be had: a stroke as long as it is sure
        pen = CURVE if curve.unlisted[a] < LEAST_UNKNOWN else LISTED
        yield pen, ((at[0][0] - 1.5, at[0][1]), (at[0][0] + 1.5, at[0][1]))
        return
    inside = curve.inside[a : b - 1] | curve.inside[a + 1 : b]
    # what is usable for all that is listed is not known to be where hardly anybody is
    hardly = np.maximum(curve.unlisted[a : b - 1], curve.unlisted[a + 1 : b]) >= LEAST_UNKNOWN
    for kind, pen in ((~inside & ~hardly, CURVE), (~inside & hardly, LISTED), (inside, INSIDE)):
        for first, beyond in _runs(kind):
            yield pen, tuple(at[first : beyond + 1])


def _lay_unknown(made: Sheet, curve: ScanCurve, axis: IfAxis, shares: _Shares, run: tuple[int, int]) -> None:
    """Dot what nobody can know in columns of the grid: on top of what is usable, and its unlisted part."""
    part = slice(*run)
    if (curve.unknown + curve.unlisted)[part].max() < LEAST_UNKNOWN:
        return
    places = np.array([axis.at(hz) for hz in curve.if_hz[part].tolist()])
    left = float(places[0])
    while left < places[-1]:
        right = min(left + DOTS_SQUARE, float(places[-1]))
        middle = (left + right) / 2
        usable, unknown, unlisted = (
            float(np.interp(middle, places, share[part]))
            for share in (curve.usable, curve.unknown, curve.unlisted)
        )
        if unknown + unlisted >= LEAST_UNKNOWN:
            told = max(usable - unlisted, 0.0)
            box = Box(left, shares.at(usable + unknown), right, shares.at(told))
            made.add(Dots(box, DOTS_SQUARE, DOTS_RADIUS))
        left += DOTS_SQUARE


def _runs(of: Bools) -> list[tuple[int, int]]:
    """Return first and behind the last of each run of what is so."""
    edges = [0, *(np.flatnonzero(np.diff(of)) + 1).tolist(), len(of)]
    return [(a, b) for a, b in pairwise(edges) if b > a and of[a]]


def _wish(flag: Flag, axis: IfAxis) -> Wish:
    return Wish(axis.at(flag.if_hz), text_width(flag.text, NAME_PT, flag.kind != "usual"))


def _places(named: Sequence[Flag], axis: IfAxis, tiers: int) -> list[Place]:
    """Return the places of names in as few tiers as hold as many as the most tiers would."""
    wishes = [_wish(flag, axis) for flag in named]
    full = place(wishes, axis.left, axis.right, tiers)
    fewer = (place(wishes, axis.left, axis.right, count) for count in range(1, tiers))
    return next((some for some in fewer if len(some) == len(full)), full)


def _lay_flags(
    made: Sheet, named: Sequence[Flag], places: Sequence[Place], axis: IfAxis, shares: _Shares
) -> None:
    plot = shares.plot
    tops = {}
    for at in places:
        flag = named[at.wish]
        box = box_of(at, _wish(flag, axis), plot.top - FLAG_ROOM, TIER_PT, 1.2 * NAME_PT)
        tops[at.wish] = box.bottom
        made.add(Words(box.left, box.bottom - HANG * NAME_PT, flag.text, NAME_PT, flag.kind != "usual"))
    for number, flag in enumerate(named):
        x = axis.at(flag.if_hz)
        y = plot.bottom if flag.usable is None else shares.at(flag.usable)
        if flag.kind in dict(POSTS):
            made.add(Stroke(((x, plot.bottom), (x, y)), POST))
        if number in tops:
            made.add(Stroke(((x, tops[number] + 0.5), (x, y)), STAFF))
        if flag.usable is not None:
            # a pennant, so that a flag without room for its name is seen still
            made.add(_pennant(x, y))


def _pennant(x: float, y: float) -> Area:
    return Area(((x, y), (x + 5.0, y - 2.5), (x, y - 5.0)), 1.0)


def _a_flag(made: Sheet, box: Box) -> None:
    x = (box.left + box.right) / 2
    made.add(Stroke(((x, box.bottom + 1), (x, box.top - 1)), STAFF), _pennant(x, box.bottom))


def _within(range_: Range, axis: IfAxis) -> bool:
    """Whether a range tunes anything that the axis spans."""
    return max(range_.low_hz, axis.low_hz) < min(range_.high_hz, axis.high_hz)


def _lay_ranges(made: Sheet, receiver: Receiver, axis: IfAxis, top: float) -> float:
    """Lay the ranges of the set as brackets along the axis, in rows that keep them apart. [pt]"""
    ends: list[float] = []
    bottom = top
    for range_ in sorted(receiver.ranges, key=lambda each: (each.low_hz, each.high_hz)):
        if not _within(range_, axis):
            continue
        low, high = max(range_.low_hz, axis.low_hz), min(range_.high_hz, axis.high_hz)
        left, right = axis.at(low), axis.at(high)
        text = cut(f"range {shown(range_.name)}", NUMERAL_PT, max(right - left, LEAST_NAME_PT))
        start = min(left, axis.right - text_width(text, NUMERAL_PT))
        row = next((n for n, end in enumerate(ends) if end + 4 < start), len(ends))
        ends[row : row + 1] = [max(right, start + text_width(text, NUMERAL_PT))]
        y = top + row * (BRACKET_PT + 1.5 * NUMERAL_PT)
        # open where it goes on beyond the span
        corners = [(left, y)] * (low == range_.low_hz) + [(left, y + BRACKET_PT), (right, y + BRACKET_PT)]
        corners += [(right, y)] * (high == range_.high_hz)
        made.add(Stroke(tuple(corners), BRACKET))
        line = y + BRACKET_PT + 1 + RISE * NUMERAL_PT
        made.add(Words(start, line, text, NUMERAL_PT))
        bottom = max(bottom, line + HANG * NUMERAL_PT)
    return bottom


def listed(findings: Findings) -> list[Scanned]:
    """Return what is said in words: the present IF, what is recommended, the best of the others.

    Of the others those first that somebody would build.
    """
    changes = {change.if_hz for change in findings.changes}
    first = [scanned_if for scanned_if in findings.scanned if scanned_if.present]
    first += [
        scanned_if
        for scanned_if in findings.scanned
        if scanned_if.if_hz in changes and not scanned_if.present
    ]
    others = [scanned_if for scanned_if in findings.scanned if scanned_if not in first]
    others.sort(key=lambda scanned_if: scanned_if.objected)
    return [*first, *others[: max(MOST_LISTED - len(first), 0)]]


def _lay_list(made: Sheet, findings: Findings, edges: tuple[float, float], top: float) -> float:
    changes = {change.if_hz for change in findings.changes}
    for scanned_if in listed(findings):
        low, high = scanned_if.together.interval
        span = share_span_text(low, high)
        together = scanned_if.together
        listed_alone = " for all that is listed" if together.unlisted >= LEAST_UNKNOWN else ""
        phrases = [f"{share_text(scanned_if.usable)} usable{listed_alone}" + (f" ({span})" if span else "")]
        phrases += [f"{share_text(together.untold)} unknown"] if together.untold >= LEAST_UNKNOWN else []
        phrases += [] if scanned_if.word is None else [scanned_if.word]
        phrases += (
            []
            if scanned_if.image_rejection_db is None
            else [f"image {scanned_if.image_rejection_db:.0f} dB down"]
        )
        name = hz_text(scanned_if.if_hz)
        name += ", the present IF" if scanned_if.present else ""
        name += ", recommended" if scanned_if.if_hz in changes and not scanned_if.present else ""
        top = headed(made, name, "; ".join(phrases), edges, top, (ROW_PT, SAID_PT)) + 0.5
        why = [shown(reason.text) for reason in scanned_if.reasons if reason.about is not Why.present]
        lines = wrapped("; ".join(why[:REASONS_SHOWN]), SAID_PT, edges[1] - edges[0])
        top = paragraph(made, lines, edges[0], top, SAID_PT) + 3
    return top


def _entries(curve: ScanCurve, named: Sequence[Flag], bracketed: bool) -> list[tuple[Draw, str]]:
    """Return what there is to explain: what is drawn, and nothing else."""
    kinds = {flag.kind for flag in named if flag.usable is not None}
    pens = set(_pens(curve))
    inside = "the same of an IF inside a range" if CURVE in pens else "usable, of an IF inside a range"
    made: list[tuple[Draw, str]] = []
    if CURVE in pens:
        made.append((a_line(CURVE), "usable"))
    if any(b - a > 1 for a, b in _runs(curve.whole)):
        made.append((a_band(BAND_TINT, EDGE), "between this it lies in eight worlds of ten"))
    if LISTED in pens:
        made.append((a_line(LISTED), "usable for all that is listed, which is hardly anybody"))
    if INSIDE in pens:
        made.append((a_line(INSIDE), f"{inside}, which nobody would build"))
    if (curve.unknown + curve.unlisted >= LEAST_UNKNOWN).any():
        made.append((a_fill("unknown"), "unknown: the tables tell nothing of an image"))
    if not curve.whole.all():
        made.append((a_fill("dead"), "cannot be had on every range"))
    posts = [text for kind, text in POSTS if kind in kinds]
    if posts:
        made.append((an_upright(POST), ", and ".join(posts)))
    flown = [text for kind, text in FLOWN if kind in kinds]
    if flown:
        made.append((_a_flag, ", and ".join(flown)))
    if bracketed:
        made.append((a_bracket(BRACKET), "a range of the set"))
    return made
