"""Three-point tracking: padder, trimmer and coil that keep an oscillator in step with the signal circuit.

One gang tunes both circuits, but the oscillator must stay a constant IF away. A capacitor
in series with its section (the padder), one across its coil (the trimmer) and the coil
itself can make it right at three frequencies; in between it is off, and the front end with it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import numpy.typing as npt

from spurplan.errors import BadValue
from spurplan.receiver.curve import Array
from spurplan.receiver.gang import capacitance_at_ends_pf
from spurplan.units import hz_text

Points = Literal["minimax", "chebyshev"] | tuple[float, float, float]

# of a narrower range, high over low less one, double precision tells no padder from another
_NARROWEST = 1e-5
_GRID = 257
_ROUNDS = 40
_EVEN_ENOUGH = 1e-3


@dataclass(frozen=True)
class Tracking:
    """An oscillator circuit that is right at three frequencies.

    Attributes
    ----------
    padder_pf, trimmer_pf, coil_uh : float. In series with the gang section; across the coil. [pF, pF, uH]
    points_hz : the three signal frequencies without error, ascending. [Hz]
    peak_error_hz : float. Largest distance between front end and dial in the range. [Hz]
    peak_at_hz : float. Where it stands. [Hz]
    """

    padder_pf: float
    trimmer_pf: float
    coil_uh: float
    points_hz: tuple[float, float, float]
    peak_error_hz: float
    peak_at_hz: float
    _error: Callable[[Array], Array]
    _padder_off: Callable[[float], float]

    def peak_error_with_padder_hz(self, factor: float) -> float:
        """Return the largest error between the outer two points with a padder that can not be set. [Hz]

        Parameters
        ----------
        factor : float, above 0. The padder there is, over the right one.

        Notes
        -----
        Trimmer and coil set again, until the outer two points are right: what is done where a
        padder is at its end. inf where the oscillator then does not tune the range.
        """
        return self._padder_off(factor)

    def error_hz(self, signal_hz: npt.ArrayLike) -> Array:
        """Return how far the frequency received lies above the one the front end is tuned to. [Hz]

        Notes
        -----
        For an oscillator on the low side likewise: both move with the gang, and the oscillator
        (times its harmonic) plus or minus the IF is what is received.
        """
        return self._error(np.asarray(signal_hz, dtype=np.float64))


@dataclass(frozen=True)
class _Problem:
    """The range in units of its geometric mean, so that pF and uH do not spoil the arithmetic."""

    low: float
    high: float
    shift: float
    harmonic: int
    c_max: float
    stray: float

    def section(self, f: Array) -> Array:
        """Capacitance of the gang section, in units of the greatest."""
        return (1.0 + self.stray) * (self.low / f) ** 2 - self.stray

    def oscillator(self, f: Array) -> Array:
        """Frequency the oscillator ought to have while the signal circuit is tuned to f."""
        return (f + self.shift) / self.harmonic

    def fit(self, points: Array) -> tuple[float, float, float]:
        """Return a, b, g of 1/f_osc^2 = (a*C + b)/(C + g), exact at three signal frequencies."""
        c, d = self.section(points), self.oscillator(points) ** -2.0
        rows = np.column_stack([c, np.ones(3), -d])
        a, b, g = np.linalg.solve(rows, d * c)
        return float(a), float(b), float(g)

    def error(self, f: Array, fit: tuple[float, float, float]) -> Array:
        """How far what is received lies above f; inf where the circuit can not oscillate."""
        a, b, g = fit
        c = self.section(f)
        square = (c + g) / (a * c + b)
        if np.any(square <= 0.0):
            return np.full_like(f, np.inf)
        return np.asarray(self.harmonic * (np.sqrt(square) - self.oscillator(f)), dtype=np.float64)

    def with_padder(self, points: Array, g: float) -> tuple[float, float, float]:
        """Return a, b, g with a padder that is given, exact at the outer two of three signal frequencies."""
        c, d = self.section(points[[0, 2]]), self.oscillator(points[[0, 2]]) ** -2.0
        a, b = np.linalg.solve(np.column_stack([c, np.ones(2)]), d * (c + g))
        return float(a), float(b), g

    def peaks(self, points: Array) -> tuple[Array, Array]:
        """Return the largest error before, between and behind the three points, and where it is."""
        fit = self.fit(points)
        edges = np.array([self.low, *points, self.high])
        spans = [np.geomspace(a, b, _GRID) for a, b in pairwise(edges)]
        errors = [np.abs(self.error(span, fit)) for span in spans]
        best = [int(np.argmax(e)) for e in errors]
        sizes = np.array([e[i] for e, i in zip(errors, best, strict=True)])
        return sizes, np.array([s[i] for s, i in zip(spans, best, strict=True)])


def chebyshev_points(low_hz: float, high_hz: float) -> tuple[float, float, float]:
    """Return the centre of a range and the centre -+ 0.866 of its half width. [Hz]

    Notes
    -----
    They leave the least peak error of a cubic error curve; the real one is close to a cubic
    only where the range is narrow.

    References
    ----------
    [1] A. L. Green, superheterodyne tracking charts, AWA Technical Review, 1941 (from memory).
    """
    centre, half = (low_hz + high_hz) / 2.0, (high_hz - low_hz) / 2.0
    offset = half * math.cos(math.pi / 6.0)
    return centre - offset, centre, centre + offset


def track(
    low_hz: float,
    high_hz: float,
    if_hz: float,
    injection: str = "high",
    *,
    c_max_pf: float = 350.0,
    c_min_pf: float | None = None,
    coil_uh: float | None = None,
    points: Points = "minimax",
    oscillator_harmonic: int = 1,
) -> Tracking:
    """Return padder, trimmer and coil of an oscillator that shares its gang with the signal circuit.

    Parameters
    ----------
    low_hz, high_hz : float. The range the signal circuit covers, low < high. [Hz]
    if_hz : float, above 0. [Hz]
    injection : "high" or "low". Where the oscillator stands to the signal.
    c_max_pf : float. One gang section, fully meshed, at the low end. [pF]
    c_min_pf : float or None. All capacitance across the signal coil at the high end. [pF]
    coil_uh : float or None. The signal coil, instead of `c_min_pf`. With neither, the section is
        taken to be all there is across the coil. [uH]
    points : "minimax", "chebyshev", or the three signal frequencies to be right at. [Hz]
    oscillator_harmonic : int, 1 or more. The harmonic that is mixed with.

    Raises
    ------
    BadValue  when range, IF or points make no sense, when the capacitances contradict each other,
        when no padder and trimmer can do it (the oscillator would have to tune further than the
        signal), or when the range is too narrow, or the IF too far above it, for them to matter.

    Notes
    -----
    The section follows C(f) = total(f) - strays, total(f) = total(low)*(low/f)^2. The oscillator has
    1/((2 pi f_o)^2 L) = Ct + Cp*C/(Cp + C), which is a quotient of two straight lines in C: three
    frequencies give its three figures from three linear equations. "minimax" moves the
    three until the four peaks of the error are equal, the least peak there is.
    """
    problem = _checked(low_hz, high_hz, if_hz, injection, c_max_pf, c_min_pf, coil_uh, oscillator_harmonic)
    mean = math.sqrt(low_hz * high_hz)
    try:
        chosen = _points(problem, points, mean)
        fit = problem.fit(chosen)
        padder, trimmer, coil = _parts(fit, problem.c_max, mean)
    except (np.linalg.LinAlgError, ZeroDivisionError):
        raise _untold(low_hz, high_hz) from None
    if not (padder > 0.0 and trimmer >= 0.0 and coil > 0.0):
        raise BadValue(
            injection,
            "can not be tracked with padder and trimmer on this range",
            "put the oscillator on the high side, or give the two circuits sections of their own",
        )
    sizes, places = problem.peaks(chosen)
    worst = int(np.argmax(sizes))
    low_point, mid_point, high_point = (float(f) for f in chosen * mean)
    return Tracking(
        padder_pf=padder,
        trimmer_pf=trimmer,
        coil_uh=coil,
        points_hz=(low_point, mid_point, high_point),
        peak_error_hz=float(sizes[worst] * mean),
        peak_at_hz=float(places[worst] * mean),
        _error=lambda f: problem.error(f / mean, fit) * mean,
        _padder_off=lambda factor: mean * _between(problem, chosen, fit[2] * factor),
    )


def _between(problem: _Problem, points: Array, g: float) -> float:
    """Return the largest error between the outer points with a padder that is given."""
    span = np.geomspace(points[0], points[2], _GRID)
    return float(np.abs(problem.error(span, problem.with_padder(points, g))).max())


def _checked(
    low_hz: float,
    high_hz: float,
    if_hz: float,
    injection: str,
    c_max_pf: float,
    c_min_pf: float | None,
    coil_uh: float | None,
    harmonic: int,
) -> _Problem:
    if not 0 < low_hz < high_hz:
        raise BadValue(f"{low_hz:g} to {high_hz:g} Hz", "is no range", "give the low edge first")
    if if_hz <= 0:
        raise BadValue(f"{if_hz:g} Hz", "is no IF", "give a frequency above 0")
    if high_hz / low_hz - 1.0 < _NARROWEST:
        raise _untold(low_hz, high_hz)
    if injection not in ("high", "low"):
        raise BadValue(injection, "can not be tracked by a gang", "use high or low")
    if injection == "low" and if_hz >= low_hz:
        raise BadValue(hz_text(round(if_hz)), "leaves no oscillator below the signal", "use high")
    if harmonic < 1:
        raise BadValue(harmonic, "is no harmonic", "give 1 or more")
    stray = _total_at_low_pf(low_hz, high_hz, c_max_pf, c_min_pf, coil_uh) / c_max_pf - 1.0
    mean = math.sqrt(low_hz * high_hz)
    shift = if_hz if injection == "high" else -if_hz
    return _Problem(low_hz / mean, high_hz / mean, shift / mean, harmonic, c_max_pf, stray)


def _untold(low_hz: float, high_hz: float) -> BadValue:
    span = f"{low_hz:.12g} to {high_hz:.12g} Hz"
    return BadValue(
        span,
        "is so narrow beside the IF that padder and trimmer can not be told",
        "set the oscillator right at the middle of the range",
    )


def _total_at_low_pf(
    low_hz: float, high_hz: float, c_max_pf: float, c_min_pf: float | None, coil_uh: float | None
) -> float:
    """Return all capacitance across the signal coil at the low end. [pF]"""
    if c_max_pf <= 0:
        raise BadValue(f"{c_max_pf:g} pF", "is no gang capacitance", "give one section, fully meshed")
    if c_min_pf is None and coil_uh is None:
        return c_max_pf
    if coil_uh is not None and coil_uh <= 0:
        raise BadValue(f"{coil_uh:g} uH", "is no coil", "give an inductance above 0")
    total, _ = capacitance_at_ends_pf(low_hz, high_hz, c_min_pf, coil_uh)
    what = f"{c_min_pf:g} pF" if coil_uh is None else f"{coil_uh:g} uH"
    if total < c_max_pf * (1.0 - 1e-9):
        raise BadValue(
            what,
            f"asks for {total:.1f} pF at the low end, less than the section's {c_max_pf:g} pF",
            "give a larger one, or the gang capacitance that is in use",
        )
    if total - c_max_pf > total * (low_hz / high_hz) ** 2:
        raise BadValue(
            what,
            f"leaves no capacitance for a section of {c_max_pf:g} pF to tune with",
            "give a smaller one, or a larger gang",
        )
    return total


def _points(problem: _Problem, points: Points, mean: float) -> Array:
    start = np.array(chebyshev_points(problem.low, problem.high))
    if points == "chebyshev":
        return start
    if points == "minimax":
        return _even_peaks(problem, start)
    given = np.sort(np.array(points, dtype=np.float64) / mean)
    if given.shape != (3,) or np.any(np.diff(given) <= 0):
        raise BadValue(points, "are not three different frequencies", "give three signal frequencies")
    if given[0] < problem.low * (1 - 1e-12) or given[-1] > problem.high * (1 + 1e-12):
        raise BadValue(points, "are not all inside the range", "give three signal frequencies inside it")
    return given


def _even_peaks(problem: _Problem, points: Array) -> Array:
    """Return the three points for which the four error peaks are equal (Newton's method, damped)."""
    sizes, _ = problem.peaks(points)
    for _ in range(_ROUNDS):
        if np.ptp(sizes) <= _EVEN_ENOUGH * sizes.max():
            break
        jacobian = np.empty((3, 3))
        for k in range(3):
            moved = points.copy()
            moved[k] *= 1.0 + 1e-5
            jacobian[:, k] = np.diff(problem.peaks(moved)[0] - sizes) / (moved[k] - points[k])
        try:
            step = np.asarray(np.linalg.solve(jacobian, -np.diff(sizes)), dtype=np.float64)
        except np.linalg.LinAlgError:
            break
        better = _shortened(problem, points, step, sizes)
        if better is None:
            break
        points, sizes = better
    return points


def _shortened(problem: _Problem, points: Array, step: Array, sizes: Array) -> tuple[Array, Array] | None:
    """Return the first shortened step that lowers the spread of the peaks; None where none does."""
    for share in (1.0, 0.5, 0.25, 0.1, 0.02):
        moved = points + share * step
        ordered = np.array([problem.low, *moved, problem.high])
        if np.all(np.diff(ordered) > 0):
            new, _ = problem.peaks(moved)
            if np.ptp(new) < np.ptp(sizes):
                return moved, new
    return None


def _parts(fit: tuple[float, float, float], c_max_pf: float, mean_hz: float) -> tuple[float, float, float]:
    """Return padder [pF], trimmer [pF] and coil [uH] of a fit made in units of c_max and the mean."""
    a, b, g = fit
    inverse_coil = g / (a - b / g)
    padder, trimmer = g * c_max_pf, (a * inverse_coil - g) * c_max_pf
    henries = 1.0 / (inverse_coil * c_max_pf * 1e-12 * (2.0 * math.pi * mean_hz) ** 2)
    return padder, trimmer, henries * 1e6


def series_padder_pf(c_max_pf: float, c_min_pf: float, oscillator_ratio: float) -> float:
    """Return the series capacitor that alone brings an oscillator to a frequency ratio.

    Parameters
    ----------
    c_max_pf, c_min_pf : float above 0. The tuned capacitance at the low and at the high end. [pF]
    oscillator_ratio : float above 1. Highest over lowest oscillator frequency.

    Raises
    ------
    BadValue  when the oscillator would have to tune further than the gang alone does, or the
        capacitances are not above 0.

    Notes
    -----
    Two-point tracking, the ends of the range: with R the ratio squared,
    Cp = c_max*c_min*(R - 1)/(c_max - R*c_min).
    """
    if not (c_min_pf > 0.0 and c_max_pf > 0.0):
        raise BadValue(f"{min(c_min_pf, c_max_pf):g} pF", "is no tuned capacitance", "give more than 0 pF")
    ratio = oscillator_ratio**2
    if not 1.0 < ratio < c_max_pf / c_min_pf:
        raise BadValue(
            f"{oscillator_ratio:g}",
            "is not a ratio a series padder can give",
            f"give more than 1 and less than {math.sqrt(c_max_pf / c_min_pf):.3g}",
        )
    return c_max_pf * c_min_pf * (ratio - 1.0) / (c_max_pf - ratio * c_min_pf)
