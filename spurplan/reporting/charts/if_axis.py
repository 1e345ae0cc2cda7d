"""An axis of intermediate frequencies: logarithmic where it spans a lot, straight where it does not."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from spurplan.reporting.charts.dial_row import LONGER_PT, NUMERAL_PT, SHORT_PT, TICK_PT, draw_scale
from spurplan.reporting.charts.scale import Scale
from spurplan.reporting.charts.sheet import HANG, LINE, RISE, TICK, Sheet, Stroke, Words, text_width
from spurplan.units import decimal_text

# a span of less than this many times its low end is laid along straight
LOG_FROM = 4.0
KILOHERTZ_BELOW_HZ = 3_000_000
NUMERAL_GAP_PT = 5.0
# which of the nine ticks of a decade carry a numeral, the fullest first
NUMBERED = ((1, 2, 3, 4, 5, 6, 7, 8, 9), (1, 2, 3, 5, 7), (1, 2, 5), (1, 3), (1,))


@dataclass(frozen=True)
class IfAxis:
    """IFs along a line, the lowest left.

    Attributes
    ----------
    low_hz, high_hz : int. The first and the last; the same where only one is tried. [Hz]
    left, right : float. Where the ends stand. [pt]
    """

    low_hz: int
    high_hz: int
    left: float
    right: float

    @property
    def logarithmic(self) -> bool:
        """Whether equal lengths are equal ratios."""
        return self.high_hz >= LOG_FROM * self.low_hz

    @property
    def straight(self) -> Scale:
        """The same as a straight scale; a single IF in its middle."""
        if self.low_hz == self.high_hz:
            return Scale(self.low_hz - 1_000, self.high_hz + 1_000, self.left, self.right)
        return Scale(self.low_hz, self.high_hz, self.left, self.right)

    def at(self, hz: float) -> float:
        """Return where an IF stands. [pt]"""
        if not self.logarithmic:
            return self.straight.at(hz)
        part = math.log(hz / self.low_hz) / math.log(self.high_hz / self.low_hz)
        return self.left + part * (self.right - self.left)

    def decades(self) -> Iterator[tuple[int, int]]:
        """Give leading figure and frequency of the ticks of a logarithmic axis, ascending. [Hz]"""
        step = 10 ** int(math.log10(self.low_hz))
        while step <= self.high_hz:
            yield from (
                (lead, lead * step) for lead in range(1, 10) if self.low_hz <= lead * step <= self.high_hz
            )
            step *= 10


def draw_if_axis(sheet: Sheet, axis: IfAxis, top: float) -> float:
    """Lay ticks and numerals along an axis from `top` down and return where they end. [pt]"""
    sheet.add(Stroke(((axis.left, top), (axis.right, top)), LINE))
    if not axis.logarithmic:
        return draw_scale(sheet, axis.straight, top)
    unit, digits = ("kHz", 3) if axis.high_hz < KILOHERTZ_BELOW_HZ else ("MHz", 6)
    foot = top + TICK_PT + 1 + RISE * NUMERAL_PT
    unit_left = axis.right - text_width(unit, NUMERAL_PT)
    shown = next(leads for leads in NUMBERED if _fits(axis, leads, digits) or leads == NUMBERED[-1])
    for lead, hz in axis.decades():
        x, text = axis.at(hz), decimal_text(hz, digits)
        length = TICK_PT if lead == 1 else LONGER_PT if lead in shown else SHORT_PT
        sheet.add(Stroke(((x, top), (x, top + length)), TICK))
        half = text_width(text, NUMERAL_PT) / 2
        if lead in shown and x + half < unit_left - 3:
            sheet.add(Words(max(x, axis.left + half), foot, text, NUMERAL_PT, anchor="middle"))
    sheet.add(Words(axis.right, foot, unit, NUMERAL_PT, anchor="end"))
    return foot + HANG * NUMERAL_PT


def _fits(axis: IfAxis, leads: tuple[int, ...], digits: int) -> bool:
    """Whether the numerals of some ticks have room beside each other."""
    end = axis.left - NUMERAL_GAP_PT
    for lead, hz in axis.decades():
        if lead not in leads:
            continue
        half = text_width(decimal_text(hz, digits), NUMERAL_PT) / 2
        x = max(axis.at(hz), axis.left + half)
        if x - half < end + NUMERAL_GAP_PT:
            return False
        end = x + half
    return True
