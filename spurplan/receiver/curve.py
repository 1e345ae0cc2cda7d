"""A measured curve over frequency: straight between its points on a logarithmic axis, held beyond them.

Loaded Q, an attenuation curve and a measured noise list are all kept this way.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

# No antenna or IF signal lies below 1 Hz; the logarithm of what a slack pushes lower must exist.
SMALLEST_HZ = 1e-6


class LogCurve:
    """Values at a few frequencies, linear over log frequency between them, held at both ends.

    Parameters
    ----------
    points : sequence of (frequency, value), one or more, in any order, no frequency twice. [Hz, any unit]

    Raises
    ------
    ValueError  when there is no point, or a frequency stands twice or is not positive.

    Notes
    -----
    Least and greatest value over an interval are exact: the curve is monotone between two
    points, so only the ends and the points inside count. Those are found with a table of
    minima over runs of 1, 2, 4, ... points, so a query costs the same for any number of points.
    """

    def __init__(self, points: Sequence[tuple[float, float]]) -> None:
        pairs = sorted((float(hz), float(value)) for hz, value in points)
        if not pairs:
            raise ValueError("a curve needs at least one point")
        self.knots_hz: Array = np.array([hz for hz, _ in pairs])
        self.values: Array = np.array([value for _, value in pairs])
        if self.knots_hz[0] <= 0 or np.any(np.diff(self.knots_hz) == 0):
            raise ValueError("the frequencies of a curve must be positive and differ from one another")
        self._log = np.log(self.knots_hz)
        self._minima = _runs(self.values, np.minimum)
        self._maxima = _runs(self.values, np.maximum)
        steps = np.diff(self.values)
        self._rises, self._falls = bool((steps >= 0).all()), bool((steps <= 0).all())

    def at(self, hz: npt.ArrayLike) -> Array:
        """Return the value at a frequency, any shape. [Hz] -> [unit of the points]"""
        log = np.log(np.maximum(np.asarray(hz, dtype=np.float64), SMALLEST_HZ))
        return np.asarray(np.interp(log, self._log, self.values), dtype=np.float64)

    def least(self, low_hz: npt.ArrayLike, high_hz: npt.ArrayLike) -> Array:
        """Return the least value on [low, high]; arrays broadcast, low <= high."""
        if self._rises or self._falls:
            return self.at(low_hz if self._rises else high_hz)
        return self._over(low_hz, high_hz, self._minima, np.minimum)

    def greatest(self, low_hz: npt.ArrayLike, high_hz: npt.ArrayLike) -> Array:
        """Return the greatest value on [low, high]; arrays broadcast, low <= high."""
        if self._rises or self._falls:
            return self.at(high_hz if self._rises else low_hz)
        return self._over(low_hz, high_hz, self._maxima, np.maximum)

    def _over(self, low_hz: npt.ArrayLike, high_hz: npt.ArrayLike, runs: Array, better: np.ufunc) -> Array:
        out = better(self.at(low_hz), self.at(high_hz))
        first = np.searchsorted(self.knots_hz, low_hz, side="right")
        last = np.searchsorted(self.knots_hz, high_hz, side="left") - 1
        count = np.maximum(last - first + 1, 1)
        level = np.log2(count).astype(np.intp)
        end = len(self.values) - 1
        left = runs[level, np.clip(first, 0, end)]
        right = runs[level, np.clip(last - (1 << level) + 1, 0, end)]
        inside = better(left, right)
        return np.asarray(np.where(last >= first, better(out, inside), out), dtype=np.float64)


def thinned(points: Sequence[tuple[float, float]], within: float) -> list[tuple[float, float]]:
    """Return as few of the points as keep the curve through them within so much of every one left out.

    Parameters
    ----------
    points : (frequency, value), one or more, frequencies rising. [Hz, any unit]
    within : float. The greatest error. [unit of the points]

    References
    ----------
    [1] D. H. Douglas, T. K. Peucker, Algorithms for the reduction of the number of points required to
        represent a digitized line or its caricature, Cartographica 10 (1973) (from memory); errors are
        taken in the value, not across the line.
    """
    log, value = np.log([hz for hz, _ in points]), np.array([value for _, value in points])
    kept = {0, len(points) - 1}
    open_ = [(0, len(points) - 1)]
    while open_:
        first, last = open_.pop()
        if last - first < 2:
            continue
        between = np.arange(first + 1, last)
        straight = np.interp(log[between], log[[first, last]], value[[first, last]])
        error = np.abs(value[between] - straight)
        if error.max() > within:
            middle = int(between[error.argmax()])
            kept.add(middle)
            open_ += [(first, middle), (middle, last)]
    return [points[at] for at in sorted(kept)]


def _runs(values: Array, better: Any) -> Array:
    """Return row k: the best of the 2**k values from each one on (shorter at the end)."""
    rows = [values]
    step = 1
    while 2 * step <= len(values):
        row = rows[-1].copy()
        row[:-step] = better(row[:-step], row[step:])
        rows.append(row)
        step *= 2
    return np.array(rows)
