"""A straight rule for decibels and percent."""

from __future__ import annotations

import math
from dataclasses import dataclass

from spurplan.reporting.charts.sheet import HANG, LINE, RISE, TICK, Anchor, Sheet, Stroke, Words

NUMERAL_PT, TICK_PT = 7.0, 5.5
_STEPS = (1, 2, 5, 10, 20, 25, 50, 100)


@dataclass(frozen=True)
class Ruler:
    """A stretch of numbers laid along a straight line, low end left.

    Attributes
    ----------
    low, high : float; low < high.
    left, right : float. Where the ends stand. [pt]
    """

    low: float
    high: float
    left: float
    right: float

    def at(self, value: float) -> float:
        """Return where a number stands. [pt]"""
        return self.left + (value - self.low) / (self.high - self.low) * (self.right - self.left)

    def ticks(self, room: float) -> list[int]:
        """Return the whole numbers that have room for a numeral of so many points each."""
        per_unit = (self.right - self.left) / (self.high - self.low)
        step = next((s for s in _STEPS if s * per_unit >= room), _STEPS[-1])
        return list(range(math.ceil(self.low / step) * step, math.floor(self.high) + 1, step))


def draw_ruler(sheet: Sheet, ruler: Ruler, top: float, unit: str) -> float:
    """Lay a rule from `top` down, its unit behind the last numeral; return where it ends. [pt]"""
    foot = top + TICK_PT + 1 + RISE * NUMERAL_PT
    sheet.add(Stroke(((ruler.left, top), (ruler.right, top)), LINE))
    ticks = ruler.ticks(34.0)
    for value in ticks:
        x = ruler.at(value)
        sheet.add(Stroke(((x, top), (x, top + TICK_PT)), TICK))
        last = value == ticks[-1]
        # the last one may stand at the very edge of the sheet
        anchor: Anchor = "end" if last and x > ruler.right - 12 else "middle"
        text = str(value).replace("-", "\N{MINUS SIGN}")
        sheet.add(Words(x, foot, f"{text} {unit}" if last else text, NUMERAL_PT, anchor=anchor))
    return foot + HANG * NUMERAL_PT
