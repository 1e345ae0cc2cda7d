"""Dial calibration: what the pointer shows against the generator, one offset a range."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from spurplan.planning.bench import least_squares
from spurplan.planning.bench.log import PointerReading

# Outliers are looked for in units in which a good pointer reading is a few tenths.
_HZ_A_UNIT = 1_000.0
# A pointer is read no better than to this part of a round step.
READ_TO = 0.1
# An offset known to so many round steps either way is worth writing down.
WORTH_STEPS = 2


@dataclass(frozen=True)
class DialFit:
    """The offset of one range.

    Attributes
    ----------
    range : str.
    offset_hz, low_hz, high_hz : float. Pointer minus frequency, and its 95 % interval; the
        ends are nan with a single reading. [Hz]
    readings : the pointer readings it rests on, in order.
    residuals_hz : float64, shape (n,). What each shows beyond the offset. [Hz]
    outlier : bool, shape (n,).
    trend : bool. Whether the offset changes along the range by more than chance: the scale is
        stretched, which one offset does not say.
    decided : bool. Whether the interval is no wider, either way, than two round steps of the
        pointer; of a single reading nobody can say, and it is taken.
    """

    range: str
    offset_hz: float
    low_hz: float
    high_hz: float
    readings: tuple[PointerReading, ...]
    residuals_hz: np.ndarray[tuple[int], np.dtype[np.float64]]
    outlier: np.ndarray[tuple[int], np.dtype[np.bool_]]
    trend: bool
    decided: bool

    @property
    def furthest(self) -> PointerReading:
        """The reading that stands furthest from the middle one."""
        offsets = np.array([reading.offset_hz for reading in self.readings], dtype=np.float64)
        return self.readings[int(np.argmax(np.abs(offsets - np.median(offsets))))]


def dial_fits(pointers: Sequence[PointerReading], step_hz: Mapping[str, int]) -> list[DialFit]:
    """Return the offset of every range with pointer readings, in the order of the log.

    Parameters
    ----------
    pointers : sequence of PointerReading.
    step_hz : mapping of name of range to what its pointer can be set to in round figures. [Hz]

    Notes
    -----
    The mean of the readings without outliers, its interval after Student. A straight line in
    frequency that rises or falls by more than a round step, and by more than chance, is a trend. Readings
    that agree better than a tenth of a round step are taken for no better than that.
    """
    return [
        _fit_of(name, [p for p in pointers if p.range == name], step_hz[name])
        for name in dict.fromkeys(p.range for p in pointers)
    ]


def _fit_of(name: str, own: Sequence[PointerReading], step_hz: int) -> DialFit:
    offsets = np.array([p.offset_hz for p in own], dtype=np.float64) / _HZ_A_UNIT
    rows = np.ones((len(own), 1))
    mean = least_squares.fit(least_squares.Linear(rows), offsets, [np.array([float(np.median(offsets))])])
    spread = max(mean.spread, READ_TO * step_hz / _HZ_A_UNIT)  # nan stays nan
    kept = int(mean.kept.sum())
    half = mean.quantile * spread / math.sqrt(kept)
    trend = False
    dials = np.array([p.dial_hz for p in own], dtype=np.float64)
    if len(set(dials.tolist())) > 2:
        share = (dials - dials.mean()) / np.ptp(dials)
        line = least_squares.fit(least_squares.Linear(np.column_stack([rows, share])), offsets, [np.zeros(2)])
        low, high = line.interval(1)
        trend = low * high > 0.0 and abs(line.at[1]) * _HZ_A_UNIT > step_hz
    decided = not half * _HZ_A_UNIT > WORTH_STEPS * step_hz  # nan is a single reading
    at = float(mean.at[0])
    low, high = (at - half, at + half) if math.isfinite(half) else (math.nan, math.nan)
    return DialFit(
        name, at * _HZ_A_UNIT, low * _HZ_A_UNIT, high * _HZ_A_UNIT, tuple(own),
        mean.residuals * _HZ_A_UNIT, ~mean.kept, trend, decided,
    )  # fmt: skip
