"""Before and after: the dial as it is over the dial after a change, with what is won and what is lost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from spurplan.receiver.sentence import span_text
from spurplan.reporting.charts.card import HEIGHT, WIDTH
from spurplan.reporting.charts.dial_row import TICK_PT
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
from spurplan.responses.listening.dial_words import UNKNOWN, DialWords
from spurplan.responses.turning import TurnedRange
from spurplan.units import share_text

LEFT = 34 * MM
STRIP, PITCH = 7 * MM, 10.6 * MM
TITLE, VERDICT, HEAD, NAME, SHARE, NUMERAL, KEY, FOOT = 17.0, 10.0, 10.0, 8.0, 7.0, 9.0, 7.6, 6.4
BRACKET, TICK, BROKEN = Pen(0.5 * MM), Pen(0.6), Pen(0.6, line="broken")
BRACKET_PT = 4.0
# a bracket narrower than this would be a blot
LEAST_BRACKET_CELLS = 3
WON, LOST = "newly clear", "newly spoilt"


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


def sheets(compared: Comparison) -> list[Sheet]:
    """Return the comparison on as many sheets as it needs; a range never breaks over two."""
    out: list[Sheet] = []
    made = _opened(compared)
    for stack in compared.stacks:
        if made.height + height(stack) > HEIGHT - 4 * FOOT and any(isinstance(i, Stroke) for i in made.items):
            out.append(_closed(made))
            made = _opened(compared)
        made.height = _lay(made, stack, made.height + 8)
    return [*out, _closed(made)]


def height(stack: Stack) -> float:
    """Return how much of a sheet a range takes. [pt]"""
    return 8 + 1.4 * HEAD + len(stack.states) * PITCH + TICK_PT + 2 * NUMERAL


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


def _opened(compared: Comparison) -> Sheet:
    made = Sheet(WIDTH, 0.0)
    made.says = f"{shown(compared.name)}, before and after: {compared.verdict}"
    title = wrapped(f"{shown(compared.name)}: before and after", TITLE, WIDTH, True)
    top = paragraph(made, title, 0.0, 0.0, TITLE, True)
    top = paragraph(made, wrapped(compared.verdict, VERDICT, WIDTH, True), 0.0, top, VERDICT, True)
    made.height = _key(made, top + 3)
    return made


def _closed(made: Sheet) -> Sheet:
    foot = (
        "By the tables of who may transmit, as on a busy evening. A bracket below a strip is what becomes "
        "clear, a wedge what becomes spoilt; what is unknown before or after is neither."
        " Band tables are no licence."
    )
    made.height = paragraph(made, wrapped(foot, FOOT, WIDTH), 0.0, made.height + 6, FOOT)
    return made


def _key(made: Sheet, top: float) -> float:
    x, line = 0.0, top + RISE * KEY
    for kind in (*KEY_ORDER, WON, LOST):
        text = KEY_WORDS.get(kind, kind)
        width = 30 + text_width(text, KEY)
        if x and x + width > WIDTH:
            x, line = 0.0, line + 1.7 * KEY
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
    scale = Scale(stack.low_hz, stack.high_hz, LEFT, WIDTH)
    head = f"{shown(stack.name)}: {dashed(span_text(stack.low_hz, stack.high_hz))}"
    top = paragraph(made, [cut(head, HEAD, WIDTH, True)], 0.0, top, HEAD, True)
    first = stack.states[0].words
    before = None if first is None else cells(first, scale)
    for number, state in enumerate(stack.states):
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
    lines = wrapped(shown(state.name), NAME, LEFT - 6, bold)[:2]
    below = paragraph(made, lines, 0.0, top, NAME, bold)
    share = f"{share_text(state.usable)} usable" if state.words is not None else "does not tune this"
    if state.words is not None and (
        int(state.words.low_hz[0]) > scale.low_hz or int(state.words.high_hz[-1]) < scale.high_hz
    ):
        span = dashed(span_text(int(state.words.low_hz[0]), int(state.words.high_hz[-1])))
        share = f"{share_text(state.usable)} of {span}"
    made.add(Words(0.0, below + RISE * SHARE, cut(share, SHARE, LEFT - 4), SHARE))
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
