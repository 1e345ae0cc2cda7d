"""Candidates for a converter compared: the cover behind each, what is spoilt, what is lost and why."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from spurplan.columns import Answer, Table
from spurplan.planning.converter.findings import Candidate, Findings
from spurplan.planning.converter.reasons import Why
from spurplan.planning.reason import Reason
from spurplan.receiver.description import Receiver
from spurplan.receiver.sentence import span_text
from spurplan.reporting.charts.dial_row import (
    NAME_PT,
    ROUTE_PT,
    draw_scale,
)
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, headed, open_sheet
from spurplan.reporting.charts.legend import Draw, a_fill, a_line, legend
from spurplan.reporting.charts.marks import Ints, Spoilt, spoilt, unknown
from spurplan.reporting.charts.ranges import share_text
from spurplan.reporting.charts.scale import Scale
from spurplan.reporting.charts.sheet import (
    FINE,
    HANG,
    RISE,
    Box,
    Pen,
    Sheet,
    Stroke,
    Words,
    dashed,
    paragraph,
    shown,
    text_width,
    wrapped,
)
from spurplan.reporting.charts.strip import frame, lay_fill
from spurplan.reporting.views.converter import summary
from spurplan.responses.listening.findings import WORTH_A_WORD
from spurplan.units import hz_text
from spurplan.units import share_text as percent

_DEAD = ("dead_low_hz", "dead_high_hz", "range")
LOST = Pen(0.8, line="broken")
KEY = {
    "believe": "clear",
    "don't": "something strong is heard",
    "check": "something audible is heard",
    "unknown": "unknown: the tables tell nothing of an image",
    "dead": "the set\u2019s own IF",
}
FILLS = {"strong": "don't", "audible": "check"}
STRIP_PT = 11.0

Heard = Callable[[Candidate | None], Answer]

MOST_CANDIDATES = 8
REASONS_SHOWN = 3
HEAD_PT = 9.0
DIAL_PT = 6.2


@dataclass(frozen=True)
class Strip:
    """One candidate over the cover, or the set by itself.

    Attributes
    ----------
    name, summary : str. Which crystal; how it does.
    low_hz, high_hz : int. The part of the cover that can be tuned. [Hz]
    set_low_hz, set_high_hz : int or None. What the dial of the set shows at these ends. [Hz]
    spoilt : parts where something is heard, inside that.
    unknown : parts where nothing is, but nobody can know, likewise. [Hz]
    dead : parts on an IF of the set, where nothing can be told from it, likewise. [Hz]
    lost : parts of the cover that cannot be tuned, low and high edge. [Hz]
    reasons : what speaks for it or against it.
    """

    name: str
    summary: str
    low_hz: int
    high_hz: int
    set_low_hz: int | None
    set_high_hz: int | None
    spoilt: tuple[Spoilt, ...]
    unknown: tuple[tuple[int, int], ...]
    dead: tuple[tuple[int, int], ...]
    lost: tuple[tuple[int, int], ...]
    reasons: tuple[Reason, ...]

    @property
    def untuned(self) -> bool:
        """Whether nothing of the cover can be tuned."""
        return self.lost == ((self.low_hz, self.high_hz),)


def strips(answer: Answer, cover: tuple[int, int], heard: Heard, scale: Scale) -> list[Strip]:
    """Return what is drawn for one cover: the first candidates, then the set by itself.

    Parameters
    ----------
    answer : of `converter`.
    cover : low and high edge. [Hz]
    heard : gives the answer `ranges` of the set behind a converter, that of the set by itself for None.
    scale : Scale over the cover.
    """
    made = [_candidate(candidate, cover, heard, scale) for candidate in _candidates(answer.findings, cover)]
    return made + _alone(answer.findings, cover, heard, scale)


def sheet(answer: Answer, receiver: Receiver, width: float, heard: Heard, title: bool = True) -> Sheet:
    """Return the chart of `converter`.

    Parameters
    ----------
    heard : see `strips`.
    title : bool. Whether the name of the set stands above and the cautions below.
    """
    findings: Findings = answer.findings
    covers = findings.question.covers
    spans = ", ".join(dashed(span_text(*cover)) for cover in covers)
    headline = " ".join(summary(findings))
    made = open_sheet(width, [f"{answer.receiver}: a converter for {spans}"] if title else [], headline)
    made.says = f"{shown(receiver.name)}, candidates for a converter for {spans}: {shown(headline)}"
    top = made.height
    drawn: list[Strip] = []
    for cover in covers:
        scale = Scale(*cover, LEFT_PT, width - MARGIN_PT)
        top = paragraph(made, [f"Signals of {dashed(span_text(*cover))}"], LEFT_PT, top, HEAD_PT, bold=True)
        top = draw_scale(made, scale, top + 4) + 8
        for strip in strips(answer, cover, heard, scale):
            top = _lay(made, strip, scale, top) + 9
            drawn.append(strip)
    made.height = legend(made, LEFT_PT, width - MARGIN_PT, top, _entries(drawn))
    foot(made, answer.cautions if title else ())
    return made


def _entries(drawn: Sequence[Strip]) -> list[tuple[Draw, str]]:
    """Return what there is to explain: what is drawn, and nothing else."""
    used = {word for strip in drawn if not strip.untuned for _, _, word in fills(strip)}
    entries: list[tuple[Draw, str]] = [(a_fill(word), text) for word, text in KEY.items() if word in used]
    if any(strip.lost for strip in drawn):
        entries.append((a_line(LOST), "cannot be tuned"))
    return entries


def _name(candidate: Candidate) -> str:
    side = "for the sum" if candidate.side == "sum" else candidate.side
    return f"{candidate.rank}. {candidate.crystal_text}, {side}"


def _candidates(findings: Findings, cover: tuple[int, int]) -> Iterator[Candidate]:
    """Give the first candidates for a cover that go into some range, each injection once."""
    chosen, number = findings.candidates, findings.question.covers.index(cover)
    listed = findings.listed
    here = listed[(chosen.cover[listed] == number) & chosen.placed[listed] & ~chosen.alone[listed]]
    yield from map(findings.candidate, here[:MOST_CANDIDATES].tolist())


def _candidate(candidate: Candidate, cover: tuple[int, int], heard: Heard, scale: Scale) -> Strip:
    ends = (candidate.set_low_hz, candidate.set_high_hz)
    tuned = (candidate.low_hz, candidate.high_hz)
    parts, open_, dead = _divided(heard(candidate), tuned, scale)
    return Strip(
        name=_name(candidate),
        summary=f"range {shown(str(candidate.range))}; {shown(candidate.dial_rule)}; {_figures(candidate)}",
        low_hz=candidate.low_hz,
        high_hz=candidate.high_hz,
        set_low_hz=ends[1] if candidate.side == "above" else ends[0],
        set_high_hz=ends[0] if candidate.side == "above" else ends[1],
        spoilt=parts,
        unknown=open_,
        dead=dead,
        lost=_lost(tuned, cover),
        reasons=candidate.reasons,
    )


def _alone(findings: Findings, cover: tuple[int, int], heard: Heard, scale: Scale) -> list[Strip]:
    alone = findings.alone(cover)
    if not alone:
        name, why = "Without a converter", "the set does not tune it"
        return [Strip(name, why, *cover, None, None, (), (), (), (cover,), ())]
    return [_without(candidate, cover, heard, scale) for candidate in alone]


def _without(candidate: Candidate, cover: tuple[int, int], heard: Heard, scale: Scale) -> Strip:
    tuned = (candidate.low_hz, candidate.high_hz)
    parts, open_, dead = _divided(heard(None), tuned, scale, candidate.range)
    return Strip(
        name="Without a converter",
        summary=f"number {candidate.rank}; range {shown(str(candidate.range))}; {_figures(candidate)}",
        low_hz=tuned[0],
        high_hz=tuned[1],
        set_low_hz=None,
        set_high_hz=None,
        spoilt=parts,
        unknown=open_,
        dead=dead,
        lost=_lost(tuned, cover),
        reasons=(),
    )


def _figures(candidate: Candidate) -> str:
    listed = ", for all that is listed" if (candidate.unlisted_share or 0.0) >= WORTH_A_WORD else ""
    words = (
        []
        if candidate.usable_share is None
        else [f"{percent(candidate.usable_share)} usable on a busy evening{listed}"]
    )
    if candidate.unheard_share is not None:
        # what is not heard where hardly anybody is listed is not clear
        unlisted = candidate.unlisted_share or 0.0
        unknown = min((candidate.unknown_share or 0.0) + unlisted, 1.0)
        words.append(share_text(max(candidate.unheard_share - unlisted, 0.0), unknown))
    images_db = (candidate.image_rejection_db, candidate.second_image_rejection_db)
    for db, word in zip(images_db, ("image", "2nd image"), strict=True):
        if db is not None:
            words.append(f"{word} {db:.0f} dB down")
    return ", ".join(words)


def _divided(
    answer: Answer, tuned: tuple[int, int], scale: Scale, name: str | None = None
) -> tuple[tuple[Spoilt, ...], tuple[tuple[int, int], ...], tuple[tuple[int, int], ...]]:
    """Return the spoilt, the unknown and the dead parts of what can be tuned; on one range, or on any."""
    low, high = tuned
    heard = spoilt(answer.first, _inside(answer.first, name, low, high), scale)
    table = answer.tables["unknown"]
    open_ = unknown(table, _inside(table, name, low, high), scale, heard)
    return (
        tuple(
            Spoilt(max(part.low_hz, low), min(part.high_hz, high), part.grade)
            for part in heard
            if part.low_hz < high and part.high_hz > low
        ),
        tuple((max(a, low), min(b, high)) for a, b in open_ if a < high and b > low),
        tuple(
            (max(int(a), low), min(int(b), high))
            for a, b, of in zip(*(answer.ranges[key] for key in _DEAD), strict=True)
            if name in (None, of) and a <= high and b >= low
        ),
    )


def _inside(table: Table, name: str | None, low: int, high: int) -> Ints:
    """Return the rows of a range, or of any, that lie in a part of the dial."""
    here = (table["dial_high_hz"] >= low) & (table["dial_low_hz"] <= high)
    return np.flatnonzero(here if name is None else here & (table["range"] == name))


def _lost(tuned: tuple[int, int], cover: tuple[int, int]) -> tuple[tuple[int, int], ...]:
    ends = ((cover[0], tuned[0]), (tuned[1], cover[1]))
    return tuple((low, high) for low, high in ends if low < high)


def _lay(made: Sheet, strip: Strip, scale: Scale, top: float) -> float:
    """Lay one candidate from `top` down and return where it ends. [pt]"""
    edges = scale.left, scale.right
    top = headed(made, strip.name, strip.summary, edges, top, (NAME_PT, ROUTE_PT)) + 1
    _lay_strip(made, strip, scale, top)
    top = _dial_of_set(made, strip, scale, top + STRIP_PT)
    lines = [
        line
        for reason in _most_telling(strip)
        for line in wrapped(reason, ROUTE_PT, scale.right - scale.left)
    ]
    return paragraph(made, lines, scale.left, top, ROUTE_PT)


def fills(strip: Strip) -> list[tuple[int, int, str]]:
    """Return low and high edge and fill of each part of what can be tuned, from low to high. [Hz]

    Notes
    -----
    An IF of the set counts before anything heard there; what is neither heard nor unknown nor that is clear.
    """
    marked = [(*part, "dead") for part in strip.dead]
    marked += [(part.low_hz, part.high_hz, FILLS[part.grade]) for part in strip.spoilt]
    marked += [(*part, "unknown") for part in strip.unknown]
    edges = sorted({strip.low_hz, strip.high_hz, *(hz for low, high, _ in marked for hz in (low, high))})
    out: list[tuple[int, int, str]] = []
    for low, high in pairwise(edges):
        word = next((word for a, b, word in marked if a <= low and high <= b), "believe")
        if out and out[-1][2] == word:
            out[-1] = (out[-1][0], high, word)
        else:
            out.append((low, high, word))
    return out


def _lay_strip(made: Sheet, strip: Strip, scale: Scale, top: float) -> None:
    """Lay what can be tuned as a strip, and a broken line along what cannot."""
    for low, high in strip.lost:
        middle = top + STRIP_PT / 2
        made.add(Stroke(((scale.at(low), middle), (scale.at(high), middle)), LOST))
    if strip.untuned:
        return
    for low, high, word in fills(strip):
        lay_fill(made, word, Box(scale.at(low), top, scale.at(high), top + STRIP_PT))
    frame(made, Box(scale.at(strip.low_hz), top, scale.at(strip.high_hz), top + STRIP_PT))


def _most_telling(strip: Strip) -> Sequence[str]:
    """Return the reasons to lay: what is lost, whatever else is left out for it."""
    losses_first = sorted(strip.reasons, key=lambda reason: reason.about is not Why.lost)
    return [shown(reason.text) for reason in losses_first[:REASONS_SHOWN]]


def _dial_of_set(made: Sheet, strip: Strip, scale: Scale, top: float) -> float:
    """Lay what the dial of the set shows at both ends of what can be tuned."""
    if strip.set_low_hz is None or strip.set_high_hz is None:
        return top + 2
    line = top + 2.5 + RISE * DIAL_PT
    left, right = scale.at(strip.low_hz), scale.at(strip.high_hz)
    first, last = (hz_text(hz) for hz in (strip.set_low_hz, strip.set_high_hz))
    for x in (left, right):
        made.add(Stroke(((x, top), (x, top + 2.5)), FINE))
    first = f"dial of the set {first}"
    if right - left > text_width(first, DIAL_PT) + text_width(last, DIAL_PT) + 8:
        made.add(Words(left, line, first, DIAL_PT), Words(right, line, last, DIAL_PT, anchor="end"))
    else:
        both = f"{first} to {last}"
        start = min(left, scale.right - text_width(both, DIAL_PT))
        made.add(Words(max(start, scale.left), line, both, DIAL_PT))
    return line + HANG * DIAL_PT + 1
