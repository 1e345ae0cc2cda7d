"""Before and after: the dial as it is over the dial after a change, with what is won and what is lost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from spurplan.columns import Answer
from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import Bands
from spurplan.planning.if_change.findings import Findings
from spurplan.receiver.description import Receiver
from spurplan.receiver.sentence import span_text
from spurplan.reporting.charts.dial_row import TICK_PT
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, open_sheet, range_head
from spurplan.reporting.charts.scale import NUMBERED, SHORT, Scale
from spurplan.reporting.charts.sheet import (
    HANG,
    RISE,
    Box,
    Pen,
    Sheet,
    Stroke,
    Words,
    cut,
    dashed,
    paragraph,
    shown,
    text_width,
    wrapped,
)
from spurplan.reporting.charts.strip import MM, Cells, cells, frame, lay_fill, lay_strip
from spurplan.reporting.charts.verdicts import KEY_ORDER, KEY_WORDS
from spurplan.responses.asking import Settings
from spurplan.responses.listening.dial_words import UNKNOWN, WORDS, DialWords
from spurplan.responses.turning import TurnedRange, turned_ranges
from spurplan.units import share_text

# the names stand beside the strips, on a narrow page above them
NAMES_PT, NARROW_BELOW_PT = 34 * MM, 400.0
STRIP, PITCH = 7 * MM, 10.6 * MM
HEAD, NAME, SHARE, NUMERAL, KEY, FOOT = 9.0, 7.4, 6.6, 7.0, 6.6, 6.2
BRACKET, TICK, BROKEN = Pen(0.5 * MM), Pen(0.6), Pen(0.6, line="broken")
BRACKET_PT = 4.0
# a bracket narrower than this would be a blot
LEAST_BRACKET_CELLS = 3
WON, LOST = "newly clear", "newly spoilt"
# IFs drawn besides the present one
MOST_CHANGES = 3


@dataclass(frozen=True)
class State:
    """One range in one state: as it is, or after a change.

    Attributes
    ----------
    name : str. "as it is", "with a preselector of two circuits".
    usable : float. Part of what it tunes that is usable on a busy evening.
    words : DialWords or None. Its dial; None where this change does not tune the range.
    """

    name: str
    usable: float
    words: DialWords | None


@dataclass(frozen=True)
class Stack:
    """A range in its states, the first of them as it is. [Hz]"""

    name: str
    low_hz: int
    high_hz: int
    states: tuple[State, ...]


@dataclass(frozen=True)
class Comparison:
    """A set before and after.

    Attributes
    ----------
    name : str. The set.
    stacks : tuple of Stack. A range each.
    usable : (state, part of the whole dial) of each state, as the question that compared them found it.
    """

    name: str
    stacks: tuple[Stack, ...]
    usable: tuple[tuple[str, float], ...]

    @property
    def verdict(self) -> str:
        """How much of the whole dial is usable in each state."""
        parts = (f"{name} {share_text(share)}" for name, share in self.usable)
        return f"Usable of the whole dial on a busy evening: {'; '.join(parts)}."


def comparison(
    name: str, states: Sequence[tuple[str, Sequence[TurnedRange]]], usable: Sequence[tuple[str, float]]
) -> Comparison:
    """Return a set before and after.

    Parameters
    ----------
    name : str. The set.
    states : (name, ranges) of each, as it is first; a range that a state does not tune is not among its own.
    usable : as of `Comparison`: of states that tune the whole dial, by the question that compared them.
    """
    stacks = []
    for turned_range in states[0][1]:
        rows = []
        for state, some in states:
            here = next((each for each in some if each.name == turned_range.name), None)
            rows.append(
                State(state, 0.0, None) if here is None else State(state, here.busy.usable, here.words)
            )
        stacks.append(Stack(turned_range.name, turned_range.low_hz, turned_range.high_hz, tuple(rows)))
    return Comparison(name, tuple(stacks), tuple(usable))


def of_ifs(findings: Findings, bands: Bands, settings: Settings) -> Comparison:
    """Return the set as it is and with each IF that was asked about, the oscillator on its better side.

    Raises
    ------
    Refused  when only the present IF is considered, or a part of the ranges.
    """
    plans = findings.plans[: MOST_CHANGES + 1]
    if len(plans) == 1:
        rule = "has nothing to draw beside the present IF"
        raise Refused(Fault("--chart", rule, remedy="add --if FREQ, or --scan LOW:HIGH for a curve"))
    if findings.cover is not None:
        rule = "draws whole ranges before and after"
        raise Refused(Fault("--chart", rule, remedy="leave --cover out, or add --scan LOW:HIGH for a curve"))
    states, usable = [], []
    for plan in plans:
        name = "as it is" if plan.present else f"with {plan.change.noun}"
        turned: list[TurnedRange] = []
        for part in plan.parts:
            if part is not None and part.outlook is not None:
                changed, range_ = part.proposal.pair
                turned += turned_ranges(changed, bands, replace(settings, range=range_.name))
        states.append((name, turned))
        usable.append((name, plan.together.usable))
    return comparison(findings.receiver.name, states, usable)


def sheet(
    answer: Answer, receiver: Receiver, width: float, title: bool = True, *, compared: Comparison
) -> Sheet:
    """Return the chart of `if_change` without a scan.

    Parameters
    ----------
    compared : the set before and after.
    """
    made = open_sheet(width, [f"{answer.receiver}: before and after"] if title else [], compared.verdict)
    made.says = f"{shown(receiver.name)}, before and after: {compared.verdict}"
    made.height = _key(made, compared, made.height)
    for stack in compared.stacks:
        made.height = _lay(made, stack, made.height + 8)
    note = (
        "Each as on a busy evening. A bracket below a strip is what becomes clear, a wedge what becomes "
        "spoilt; what is unknown before or after is neither."
    )
    room = width - LEFT_PT - MARGIN_PT
    made.height = paragraph(made, wrapped(note, FOOT, room), LEFT_PT, made.height + 6, FOOT)
    foot(made, answer.cautions if title else ())
    return made


def turns(before: Cells, after: Cells) -> Iterator[tuple[int, int, str]]:
    """Give first cell, cell behind the last, and `WON` or `LOST` of each part of a strip that changes sides.

    Notes
    -----
    What is unknown on either side is neither.
    """
    known = (before != UNKNOWN) & (after != UNKNOWN)
    turn = np.where(known & (before > UNKNOWN) & (after < UNKNOWN), 1, 0)
    turn = np.where(known & (before < UNKNOWN) & (after > UNKNOWN), -1, turn)
    edges = [0, *(np.flatnonzero(np.diff(turn)) + 1).tolist(), len(turn)]
    for a, b in pairwise(edges):
        if turn[a]:
            yield a, b, WON if turn[a] > 0 else LOST


def _drawn(compared: Comparison) -> set[str]:
    """Return the kinds that are drawn: there is nothing else to explain."""
    used = set()
    for stack in compared.stacks:
        scale = Scale(stack.low_hz, stack.high_hz, 0.0, NARROW_BELOW_PT)
        of = [None if state.words is None else cells(state.words, scale) for state in stack.states]
        used |= {WORDS[code] for some in of if some is not None for code in some.tolist()}
        if of[0] is not None:
            used |= {kind for some in of[1:] if some is not None for _, _, kind in turns(of[0], some)}
    return used


def _key(made: Sheet, compared: Comparison, top: float) -> float:
    left, right = LEFT_PT, made.width - MARGIN_PT
    used = _drawn(compared)
    x, line = left, top + RISE * KEY
    for kind in (kind for kind in (*KEY_ORDER, WON, LOST) if kind in used):
        text = KEY_WORDS.get(kind, kind)
        width = 30 + text_width(text, KEY)
        if x > left and x + width > right:
            x, line = left, line + 1.7 * KEY
        if kind in (WON, LOST):
            _mark(made, kind, x, x + 24, line - 4)
        else:
            box = Box(x, line - 7, x + 24, line + 1)
            lay_fill(made, kind, box)
            frame(made, box)
        made.add(Words(x + 28, line, text, KEY))
        x += width + 10
    return line + HANG * KEY


def _lay(made: Sheet, stack: Stack, top: float) -> float:
    narrow = made.width < NARROW_BELOW_PT
    right = made.width - MARGIN_PT
    scale = Scale(stack.low_hz, stack.high_hz, LEFT_PT + (0.0 if narrow else NAMES_PT), right)
    head = range_head(stack.name, stack.low_hz, stack.high_hz, HEAD, right - LEFT_PT)
    top = paragraph(made, [head], LEFT_PT, top, HEAD, True)
    first = stack.states[0].words
    before = None if first is None else cells(first, scale)
    for number, state in enumerate(stack.states):
        top += (NAME + SHARE) * 1.32 if narrow else 0.0
        _state(made, state, scale, top, bold=number == 0)
        if number and before is not None and state.words is not None:
            tuned = _part(scale, state.words)
            after = cells(state.words, scale)
            for a, b, kind in turns(before, after):
                a, b = max(a, tuned[0]), min(b, tuned[1])
                if a < b:
                    _mark(made, kind, *_ends(scale, a, b), top + STRIP + 1)
        top += PITCH
    return _ticks(made, scale, top)


def _state(made: Sheet, state: State, scale: Scale, top: float, bold: bool) -> None:
    narrow = made.width < NARROW_BELOW_PT
    room = scale.right - LEFT_PT if narrow else NAMES_PT - 6
    lines = [cut(line, NAME, room, bold) for line in wrapped(shown(state.name), NAME, room, bold)[:2]]
    above = (NAME * len(lines) + SHARE) * 1.32 if narrow else 0.0
    below = paragraph(made, lines, LEFT_PT, top - above, NAME, bold)
    share = f"{share_text(state.usable)} usable" if state.words is not None else "does not tune this"
    if state.words is not None and (
        int(state.words.low_hz[0]) > scale.low_hz or int(state.words.high_hz[-1]) < scale.high_hz
    ):
        span = dashed(span_text(int(state.words.low_hz[0]), int(state.words.high_hz[-1])))
        share = f"{share_text(state.usable)} of {span}"
    made.add(Words(LEFT_PT, below + RISE * SHARE, cut(share, SHARE, room), SHARE))
    middle = top + STRIP / 2
    if state.words is None:
        made.add(Stroke(((scale.left, middle), (scale.right, middle)), BROKEN))
        return
    low, high = int(state.words.low_hz[0]), int(state.words.high_hz[-1])
    left, right = scale.at(low), scale.at(high)
    for a, b in ((scale.left, left), (right, scale.right)):
        if b - a > 1.0:
            made.add(Stroke(((a, middle), (b, middle)), BROKEN))
    lay_strip(made, Scale(low, max(high, low + 1), left, max(right, left + 1.0)), state.words, top, STRIP)


def _part(scale: Scale, words: DialWords) -> tuple[int, int]:
    """Return the first cell that a state tunes, and the one behind its last."""
    count = max(1, round((scale.right - scale.left) / (0.25 * MM)))
    per_hz = count / (scale.high_hz - scale.low_hz)
    low, high = int(words.low_hz[0]), int(words.high_hz[-1])
    return max(int((low - scale.low_hz) * per_hz), 0), min(int((high - scale.low_hz) * per_hz) + 1, count)


def _ends(scale: Scale, a: int, b: int) -> tuple[float, float]:
    """Return where a bracket over some cells begins and ends, wide enough to be seen. [pt]"""
    left, right = scale.left + a * 0.25 * MM, scale.left + b * 0.25 * MM
    short = LEAST_BRACKET_CELLS * 0.25 * MM - (right - left)
    if short > 0:
        left, right = left - short / 2, right + short / 2
    return max(left, scale.left), min(right, scale.right)


def _mark(made: Sheet, kind: str, left: float, right: float, top: float) -> None:
    """Lay a bracket, its ends up, for what is won; an open wedge for what is lost."""
    foot = top + BRACKET_PT
    if kind == WON:
        made.add(Stroke(((left, top), (left, foot), (right, foot), (right, top)), BRACKET))
    else:
        middle = (left + right) / 2
        made.add(Stroke(((middle - 4, top), (middle, foot), (middle + 4, top)), TICK))


def _ticks(made: Sheet, scale: Scale, top: float) -> float:
    lengths = {NUMBERED: TICK_PT, SHORT: TICK_PT - 4.5}
    foot = top + TICK_PT + 1 + RISE * NUMERAL
    unit_left = scale.right - text_width(scale.unit, NUMERAL)
    for tick in scale.ticks(42.0):
        made.add(Stroke(((tick.x, top), (tick.x, top + lengths.get(tick.kind, TICK_PT - 2.0))), TICK))
        half = text_width(tick.text, NUMERAL) / 2
        x = max(tick.x, scale.left + half)
        if tick.text and x + half < unit_left - 4:
            made.add(Words(x, foot, tick.text, NUMERAL, anchor="middle"))
    made.add(Words(scale.right, foot, scale.unit, NUMERAL, anchor="end"))
    return foot + HANG * NUMERAL
