"""Cures by the evenings they take and what they gain, with its interval; the recommended one by name."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from spurplan.columns import Answer
from spurplan.planning.cures.cures import MOST_NAMED, loss_text
from spurplan.planning.cures.findings import Findings
from spurplan.planning.decision import least_gain
from spurplan.planning.outlook import Together
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, headed, open_sheet
from spurplan.reporting.charts.legend import Draw, a_fill, a_line, an_upright, legend
from spurplan.reporting.charts.ruler import Ruler, draw_ruler
from spurplan.reporting.charts.sheet import (
    FINE,
    RISE,
    Box,
    Ground,
    Pen,
    Sheet,
    Stroke,
    Words,
    paragraph,
    shown,
    wrapped,
)
from spurplan.reporting.charts.strip import LEAST_UNKNOWN, frame, lay_fill
from spurplan.units import share_text

MOST_CURES = 14
STRIP_PT = 13.0
HEAD_PT, NAME_PT, SAID_PT, EVENINGS_PT = 9.0, 7.4, 6.6, 15.0
EVENINGS_ROOM, MARK_PT = 54.0, 11.0
INTERVAL, ENDS, ZERO, WORTH = Pen(1.6), Pen(0.8), Pen(1.0), Pen(0.7, line="broken")
GROUP = FINE
# of the head of an arrow, for what goes on below the scale
BARB_PT = 4.0
# half the side of the square of the mean: recommended, not told from it, any other
HALF = {"recommended": 3.4, "alike": 2.4, "": 2.4}


KEY = {
    "believe": "usable",
    "unknown": "unknown: the tables tell nothing of an image",
    "don't": "lost to intruders or noise",
}
# a narrower part of a strip nobody sees [pt]
LEAST_PT = 0.05


@dataclass(frozen=True)
class Effect:
    """One cure.

    Attributes
    ----------
    name : str.
    effort : float. Evenings.
    gain, low, high : float. What it gains, and between what that lies in eight worlds of ten, in points of
        a hundred of the dial.
    usable, unknown : float. Parts of the dial with it, 0 to 1.
    leaves : tuple of str. The worst that is left.
    standing : "recommended", "alike" for what cannot be told from that, or "".
    """

    name: str
    effort: float
    gain: float
    low: float
    high: float
    usable: float
    unknown: float
    leaves: tuple[str, ...]
    standing: str


def effects(answer: Answer) -> list[Effect]:
    """Return the first cures of the answer, least effort first; none where the place is to blame."""
    findings: Findings = answer.findings
    made = []
    for number, (result, gain) in enumerate(zip(findings.offered, findings.gains, strict=False)):
        if number == MOST_CURES:
            break
        recommended = findings.choice.recommended
        standing = "alike" if number in findings.choice.not_told_from else ""
        made.append(
            Effect(
                name=shown(result.trial.name),
                effort=result.trial.effort,
                gain=100 * gain.gain,
                low=100 * gain.low,
                high=100 * gain.high,
                usable=result.outlook.usable,
                unknown=result.outlook.untold,
                leaves=tuple(shown(loss_text(loss)) for loss in result.outlook.losses[:MOST_NAMED]),
                standing="recommended" if number == recommended else standing,
            )
        )
    return sorted(made, key=lambda effect: (effect.effort, -effect.gain))


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `cures`."""
    findings: Findings = answer.findings
    drawn = effects(answer)
    advice = findings.sentences[0]
    head = [f"{answer.receiver}: cures, {findings.present.at}"]
    made = open_sheet(width, head if title else [], advice)
    made.says = f"{shown(receiver.name)}, cures: {shown(advice)}"
    edges = LEFT_PT, width - MARGIN_PT
    top = paragraph(made, ["Part of the dial"], LEFT_PT, made.height, HEAD_PT, bold=True) + 2
    top = _strip(made, "as it is", findings.present, edges, top)
    if findings.recommended is not None:
        best = findings.recommended
        top = _strip(made, f"with {shown(best.trial.phrase)}", best.outlook, edges, top)
    top = draw_ruler(made, Ruler(0, 100, *edges), top, "%") + 10
    if drawn:
        top = _lay(made, drawn, edges, top) + 6
    made.height = legend(made, *edges, top, _entries(findings, drawn, edges[1] - edges[0]))
    foot(made, answer.cautions if title else ())
    return made


def _parts(of: Together, ruler: Ruler) -> list[tuple[str, float, float]]:
    """Return the fills of a dial with their ends, but for what is too narrow to be seen. [pt]"""
    # what is usable for all that is listed is not clear where hardly anybody is
    told = max(of.usable - of.unlisted, 0.0)
    usable, known = ruler.at(told), ruler.at(min(of.usable + of.unknown, 1.0))
    parts = (
        ("believe", ruler.left, usable),
        ("unknown", usable, known),
        ("don't", known, ruler.right),
    )
    return [part for part in parts if part[2] - part[1] > LEAST_PT]


def _strip(made: Sheet, name: str, of: Together, edges: tuple[float, float], top: float) -> float:
    """Lay what is usable, unknown and lost of the dial side by side; return where it ends. [pt]"""
    listed = " for all that is listed" if of.unlisted >= LEAST_UNKNOWN else ""
    summary = f"{share_text(of.usable)} usable{listed}"
    if of.untold >= LEAST_UNKNOWN:
        summary += f", {share_text(of.untold)} unknown"
    top = headed(made, name, summary, edges, top, (NAME_PT, SAID_PT)) + 1
    ruler = Ruler(0, 1, *edges)
    for word, left, right in _parts(of, ruler):
        lay_fill(made, word, Box(left, top, right, top + STRIP_PT))
    frame(made, Box(edges[0], top, edges[1], top + STRIP_PT))
    return top + STRIP_PT + 4


def _lay(made: Sheet, drawn: Sequence[Effect], edges: tuple[float, float], top: float) -> float:
    """Lay the cures, those of equal effort together, from `top` down; return where they end. [pt]"""
    heading = "What each gains, in points of a hundred, by the evenings it takes"
    head = wrapped(heading, HEAD_PT, edges[1] - edges[0], True)
    top = paragraph(made, head, LEFT_PT, top, HEAD_PT, bold=True) + 3
    worth = 100 * least_gain()
    ruler = Ruler(*_span(drawn), edges[0] + EVENINGS_ROOM, edges[1])
    for effort, some in groupby(drawn, key=lambda effect: effect.effort):
        made.add(Stroke(((edges[0], top), (edges[1], top)), GROUP))
        made.add(Words(edges[0], top + RISE * EVENINGS_PT, f"{effort:g}", EVENINGS_PT))
        unit = "evening" if effort == 1 else "evenings"
        made.add(Words(edges[0], top + 1.2 * EVENINGS_PT + RISE * SAID_PT, unit, SAID_PT))
        least = top + 1.2 * EVENINGS_PT + 1.3 * SAID_PT
        for effect in some:
            top = _lay_one(made, effect, ruler, worth, top + 2)
        top = max(top, least) + 2
    return draw_ruler(made, ruler, top, "points")


def _span(drawn: Sequence[Effect]) -> tuple[int, int]:
    """Return between which gains the marks are drawn. [points]"""
    high = max(100 * least_gain(), *(effect.high for effect in drawn))
    # one gamble would press all that helps into a corner
    low = max(min(0.0, *(effect.low for effect in drawn)), -high)
    return math.floor(low), math.ceil(high) or 1


def _lay_barb(made: Sheet, x: float, y: float) -> None:
    """Lay the head of an arrow that points to the left."""
    made.add(Stroke(((x + BARB_PT, y - 2.5), (x, y), (x + BARB_PT, y + 2.5)), ENDS))


def _a_barb(made: Sheet, box: Box) -> None:
    """Lay a sample of what goes on below the scale."""
    middle = (box.top + box.bottom) / 2
    made.add(Stroke(((box.left, middle), (box.right, middle)), INTERVAL))
    _lay_barb(made, box.left, middle)


def _lay_one(made: Sheet, effect: Effect, ruler: Ruler, worth: float, top: float) -> float:
    """Lay a cure in words with its mark below them; return where it ends. [pt]"""
    summary = f"{_points(effect.gain, '+')} ({_points(effect.low)} to {_points(effect.high)}), "
    summary += f"{share_text(effect.usable)} usable"
    if effect.unknown >= LEAST_UNKNOWN:
        summary += f", {share_text(effect.unknown)} unknown"
    if effect.leaves:
        summary += f"; leaves {'; '.join(effect.leaves[:1])}"
    standing = {"recommended": "recommended; ", "alike": "cannot be told from that; "}
    summary = standing.get(effect.standing, "") + summary
    top = headed(made, effect.name, summary, (ruler.left + 4, ruler.right), top, (NAME_PT, SAID_PT))
    middle = top + MARK_PT / 2
    low, at, high = (ruler.at(max(value, ruler.low)) for value in (effect.low, effect.gain, effect.high))
    half = HALF[effect.standing]
    # as tall as the marks: longer they would run through the words
    for points, pen in ((0.0, ZERO), (worth, WORTH)):
        made.add(Stroke(((ruler.at(points), top), (ruler.at(points), top + MARK_PT)), pen))
    made.add(Stroke(((low, middle), (high, middle)), INTERVAL))
    beyond = effect.low < ruler.low
    for x in (high,) if beyond else (low, high):
        made.add(Stroke(((x, middle - 2.5), (x, middle + 2.5)), ENDS))
    if beyond:
        _lay_barb(made, low, middle)
    if effect.gain < ruler.low:
        return top + MARK_PT + 1
    square = Box(at - half, middle - half, at + half, middle + half)
    made.add(Ground(square, 1.0))
    if effect.standing == "recommended":
        frame(made, Box(*(edge + by for edge, by in zip(square, (-2, -2, 2, 2), strict=True))))
    return top + MARK_PT + 1


def _points(gain: float, sign: str = "") -> str:
    """Return a gain in whole points, with a true minus sign."""
    whole = round(gain)
    text = f"{whole:{sign}d}" if whole else "0"
    return text.replace("-", "\N{MINUS SIGN}")


def _entries(findings: Findings, drawn: Sequence[Effect], width: float) -> list[tuple[Draw, str]]:
    """Return what there is to explain: what is drawn, and nothing else."""
    shares = [findings.present, *([] if findings.recommended is None else [findings.recommended.outlook])]
    used = {word for together in shares for word, _, _ in _parts(together, Ruler(0, 1, 0.0, width))}
    made = [(a_fill(word), text) for word, text in KEY.items() if word in used]
    if drawn:
        made += [
            (a_line(INTERVAL), "gain, in eight worlds of ten; a square at its mean"),
            (an_upright(ZERO), "as it is"),
            (an_upright(WORTH), "what the best has to gain before any is worth its evenings"),
        ]
        if min(effect.low for effect in drawn) < _span(drawn)[0]:
            made.append((_a_barb, "loses more than the scale shows"))
    return made
