"""The shapes a front end is made of, as power ratios: tuned circuits, coupled pair, passband, trap, curve.

Every shape answers how much more it weakens a signal at x than the wanted one,
as a power ratio, so that a list of them costs one multiplication each and one
logarithm for all. `selectivity` puts lists together.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, reduce
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from spurplan.receiver.curve import SMALLEST_HZ, Array, LogCurve
from spurplan.units import HIGHEST_HZ

# An estimate, from what the coils of such sets show under load: 80 at 3.5 MHz, 40 at 28 MHz.
DEFAULT_Q = 80.0
DEFAULT_Q_HZ = 3_500_000.0
DEFAULT_Q_SLOPE = -0.33
GREATEST_DEFAULT_Q = 120.0
# 360 dB: above any ceiling a description can state, and eight such shapes multiply to a double
MOST = 1e36
_NO_CORNERS: Array = np.empty(0)


@dataclass(frozen=True)
class Segment:
    """Straight walks of a signal and of the wanted frequency, taken together.

    Attributes
    ----------
    x_start, x_stop, wanted_start, wanted_stop : arrays that broadcast. The signal goes from
        x_start to x_stop while the wanted frequency goes from wanted_start to wanted_stop. [Hz]
    slack : array or float, 0 or more. How far the signal may stand off its walk. [Hz]
    """

    x_start: Array
    x_stop: Array
    wanted_start: Array
    wanted_stop: Array
    slack: Array | float = 0.0

    @property
    def shape(self) -> tuple[int, ...]:
        """The broadcast shape."""
        ends = (self.x_start, self.x_stop, self.wanted_start, self.wanted_stop, self.slack)
        return np.broadcast_shapes(*(np.shape(end) for end in ends))

    @cached_property
    def x(self) -> tuple[Array, Array]:
        """Lowest and highest signal frequency."""
        low = np.minimum(self.x_start, self.x_stop) - self.slack
        return np.maximum(low, SMALLEST_HZ), np.maximum(self.x_start, self.x_stop) + self.slack

    @cached_property
    def wanted(self) -> tuple[Array, Array]:
        """Lowest and highest wanted frequency."""
        return np.minimum(self.wanted_start, self.wanted_stop), np.maximum(
            self.wanted_start, self.wanted_stop
        )

    @cached_property
    def ratio(self) -> tuple[Array, Array]:
        """Lowest and highest signal frequency over the wanted one.

        Notes
        -----
        A quotient of two straight walks is monotone, the walks moved by the slack included, so the
        four ends bound it exactly.
        """
        low = np.minimum(
            (self.x_start - self.slack) / self.wanted_start, (self.x_stop - self.slack) / self.wanted_stop
        )
        high = np.maximum(
            (self.x_start + self.slack) / self.wanted_start, (self.x_stop + self.slack) / self.wanted_stop
        )
        return low, high

    def retuned(self, hz: float) -> Segment:
        """Return the same walk with the wanted frequency moved by `hz`."""
        return Segment(self.x_start, self.x_stop, self.wanted_start + hz, self.wanted_stop + hz, self.slack)


class Shape(Protocol):
    """One element: what it does to a signal, relative to the wanted one."""

    def ratio(self, x: Array, wanted: Array) -> Array:
        """Return the power ratio by which a signal at x is weaker than the wanted one."""
        ...

    def least(self, segment: Segment) -> Array:
        """Return a lower bound of `ratio` along a segment, exact where it is a point."""
        ...

    def corners_x(self) -> Array:
        """Return signal frequencies at which the curve bends. [Hz]"""
        ...

    def corners_wanted(self) -> Array:
        """Return wanted frequencies at which the curve bends. [Hz]"""
        ...

    def corners_ratio(self) -> Array:
        """Return quotients x/wanted at which the curve bends."""
        ...

    def at_wanted(self, wanted: Array) -> Array:
        """Return the power ratio by which the wanted signal itself is weakened."""
        ...

    def span_at_wanted(self, wanted: tuple[Array, Array]) -> tuple[Array, Array]:
        """Return bounds of `at_wanted` over an interval of wanted frequencies, exact where it is a point."""
        ...

    def scaled(self, q_factor: float, coupling_score: float) -> Shape:
        """Return the shape with its circuits' Q times a factor and an unknown coupling moved to a side."""
        ...


def off_tune(ratio: Array) -> Array:
    """Return (u - 1/u)^2, how far off resonance u = f/f0 is; u is held above 0."""
    u = np.maximum(ratio, 1e-12)
    v = u - 1.0 / u
    v *= v
    return v


def _nearest(low: Array, high: Array, point: float) -> Array:
    return np.minimum(np.maximum(point, low), high)


def _power(base: Array, exponent: int) -> Array:
    """Return base**exponent by squaring: numpy's own power costs a logarithm."""
    out, square = None, base
    while True:
        if exponent & 1:
            out = square if out is None else out * square
        exponent >>= 1
        if not exponent:
            assert out is not None
            return out
        square = square * square


class QLaw:
    """Loaded Q against the wanted frequency: a number, points on log-log paper, or the default law.

    Parameters
    ----------
    q : float, sequence of (frequency [Hz], Q), or None for the default
        80*(3.5 MHz/f)^0.33, not above 120.

    Notes
    -----
    The default is a power law, so two points on log-log paper are the whole of it.
    """

    def __init__(self, q: float | Sequence[tuple[float, float]] | None) -> None:
        if q is None:
            knee = DEFAULT_Q_HZ * (GREATEST_DEFAULT_Q / DEFAULT_Q) ** (1.0 / DEFAULT_Q_SLOPE)
            far = DEFAULT_Q * (HIGHEST_HZ / DEFAULT_Q_HZ) ** DEFAULT_Q_SLOPE
            q = ((knee, GREATEST_DEFAULT_Q), (HIGHEST_HZ, far))
        points = ((1.0, float(q)),) if isinstance(q, int | float) else tuple(q)
        # the square is what every shape needs
        self._log = LogCurve([(hz, 2.0 * math.log(value)) for hz, value in points])
        self._constant = math.exp(self._log.values[0]) if len(points) == 1 else None

    @property
    def knots_hz(self) -> Array:
        """Frequencies at which the law bends; none for a constant."""
        return _NO_CORNERS if self._constant is not None else self._log.knots_hz

    def squared(self, wanted: Array) -> Array | float:
        """Return Q^2 at the wanted frequency."""
        return self._constant if self._constant is not None else np.exp(self._log.at(wanted))

    def least_squared(self, wanted: tuple[Array, Array]) -> Array | float:
        """Return the least Q^2 over an interval of wanted frequencies."""
        return self._constant if self._constant is not None else np.exp(self._log.least(*wanted))

    def greatest_squared(self, wanted: tuple[Array, Array]) -> Array | float:
        """Return the greatest Q^2 over an interval of wanted frequencies."""
        return self._constant if self._constant is not None else np.exp(self._log.greatest(*wanted))

    def scaled(self, factor: float) -> QLaw:
        """Return the law with every Q times a factor."""
        points = zip(self._log.knots_hz.tolist(), self._log.values.tolist(), strict=True)
        return QLaw([(hz, factor * math.exp(0.5 * value)) for hz, value in points])

    def squares(self) -> Array:
        """Return Q^2 at each point of the law."""
        return np.exp(self._log.values)


class _Following:
    """What follows the dial takes nothing off the signal it is tuned to, and bends nowhere else."""

    def corners_x(self) -> Array:
        return _NO_CORNERS

    def at_wanted(self, wanted: Array) -> Array:
        return np.ones(np.shape(wanted))

    def span_at_wanted(self, wanted: tuple[Array, Array]) -> tuple[Array, Array]:
        ones = np.ones(np.shape(wanted[0]))
        return ones, ones


@dataclass(frozen=True)
class Tuned(_Following):
    """Isolated circuits that follow the dial.

    Attributes
    ----------
    q : QLaw. Loaded Q at the wanted frequency.
    circuits : int.
    off_tune_hz : float. How far they are tuned above the wanted frequency. [Hz]

    Notes
    -----
    (1 + y)^N, y = Q^2 v^2, v = x/w - w/x.
    """

    q: QLaw
    circuits: int = 1
    off_tune_hz: float = 0.0

    def _off_resonance(self, y: Array) -> Array:
        return _power(np.minimum(y + 1.0, MOST ** (1.0 / self.circuits)), self.circuits)

    def ratio(self, x: Array, wanted: Array) -> Array:
        tuned = wanted + self.off_tune_hz if self.off_tune_hz else wanted
        q2 = self.q.squared(wanted)
        y = off_tune(x / tuned)
        y *= q2
        out = self._off_resonance(y)
        if self.off_tune_hz:
            out = out / self._off_resonance(off_tune(wanted / tuned) * q2)
        return out

    def least(self, segment: Segment) -> Array:
        tuned = segment.retuned(self.off_tune_hz) if self.off_tune_hz else segment
        out = self._off_resonance(
            off_tune(_nearest(*tuned.ratio, 1.0)) * self.q.least_squared(segment.wanted)
        )
        if self.off_tune_hz:
            ends = [off_tune(w / (w + self.off_tune_hz)) for w in segment.wanted]
            out = out / self._off_resonance(np.maximum(*ends) * self.q.greatest_squared(segment.wanted))
        return out

    def corners_wanted(self) -> Array:
        return self.q.knots_hz

    def corners_ratio(self) -> Array:
        return np.ones(1)

    def scaled(self, q_factor: float, coupling_score: float) -> Tuned:
        return replace(self, q=self.q.scaled(q_factor))


@dataclass(frozen=True)
class Coupled(_Following):
    """Two circuits coupled to each other that follow the dial.

    Attributes
    ----------
    q : QLaw. Loaded Q of each at the wanted frequency.
    kappa : float. k*Q.
    side : float, -1 to 1. -1 for a coupling capacitor, 1 for mutual inductance; between them the
        same part of the way in decibels, 0 where nobody knows.
    off_tune_hz : float. How far they are tuned above the wanted frequency. [Hz]

    Notes
    -----
    Two parallel circuits of conductance G (1 + jQv), joined by a susceptance that is kappa*G at
    resonance. A current into the first makes a voltage across the second of
    G kappa' / ((1 + jQv)^2 + kappa'^2), kappa' = kappa u through a capacitor and kappa/u through an
    inductance, u = x/w. Against u = 1, with y = Q^2 v^2:

        capacitor   ((1 + kappa^2 u^2 - y)^2 + 4y) / (u^2 (1 + kappa^2)^2)

    and an inductance at u is a capacitor at 1/u. They differ by 40 log10(u) decibels far out: 17 dB
    at the image of a 455 kHz IF on 550 kHz, under 1 dB on 20 MHz. Neither is ever less than
    4 kappa^2/(1 + kappa^2)^2, which is what the peaks of an over-coupled pair reach.
    """

    q: QLaw
    kappa: float
    side: float = 0.0
    off_tune_hz: float = 0.0

    def ratio(self, x: Array, wanted: Array) -> Array:
        tuned = wanted + self.off_tune_hz if self.off_tune_hz else wanted
        q2 = self.q.squared(wanted)
        out = self._mixed(lambda turn: self._by_capacitor(turn(x / tuned), q2))
        if self.off_tune_hz:
            out = out / self._mixed(lambda turn: self._by_capacitor(turn(wanted / tuned), q2))
        return out

    def _mixed(self, by_capacitor: Callable[[Callable[[Array], Array]], Array]) -> Array:
        """Return what a function gives of u and of 1/u, between the two as far as the pair stands."""
        share = 0.5 * (1.0 + self.side)
        if share == 0.0:
            return by_capacitor(_held)
        if share == 1.0:
            return by_capacitor(_inverse)
        return np.asarray(by_capacitor(_held) ** (1.0 - share) * by_capacitor(_inverse) ** share)

    def _by_capacitor(self, u: Array, q2: Array | float) -> Array:
        y, k2 = off_tune(u) * q2, (self.kappa * u) ** 2
        out = ((1.0 + k2 - y) ** 2 + 4.0 * y) / (u * (1.0 + self.kappa**2)) ** 2
        return np.minimum(out, MOST)

    def least(self, segment: Segment) -> Array:
        tuned = segment.retuned(self.off_tune_hz) if self.off_tune_hz else segment
        q2 = self.q.least_squared(segment.wanted), self.q.greatest_squared(segment.wanted)
        out = self._mixed(lambda turn: self._least_by_capacitor(*_turned(turn, tuned.ratio), *q2))
        if self.off_tune_hz:
            ends = [w / (w + self.off_tune_hz) for w in segment.wanted]
            u = np.minimum(*ends), np.maximum(*ends)
            out = out / self._mixed(lambda turn: self._most_by_capacitor(*_turned(turn, u), *q2))
        return out

    def _least_by_capacitor(
        self, low: Array, high: Array, q2_low: Array | float, q2_high: Array | float
    ) -> Array:
        """Return a lower bound over an interval of u and of Q^2.

        Notes
        -----
        With K = kappa u and x = Qv the numerator is (1 + (x + K)^2)(1 + (x - K)^2). Its logarithm
        grows with that of u by at least 2 where x > K and x^2 - K^2 >= 1, and, downwards, wherever
        -x > K: there the curve only rises, and it rises with Q as well. Elsewhere the bound is the
        height of the peaks.
        """
        near = _nearest(low, high, 1.0)
        y, k2 = off_tune(near) * q2_low, (self.kappa * near) ** 2
        rises = ((near > 1.0) & (y >= k2 + 1.0)) | ((near < 1.0) & (y >= k2))
        point = (low == high) & np.equal(q2_low, q2_high)
        peak = 4.0 * self.kappa**2 / (1.0 + self.kappa**2) ** 2
        return np.where(rises | point, self._by_capacitor(near, q2_low), peak)

    def _most_by_capacitor(
        self, low: Array, high: Array, q2_low: Array | float, q2_high: Array | float
    ) -> Array:
        sides = off_tune(low), off_tune(high)
        near = off_tune(_nearest(low, high, 1.0)) * q2_low
        far = np.maximum(*sides) * q2_high
        # convex in y and in K^2: the greatest stands at a corner
        tops = [(1.0 + (self.kappa * u) ** 2 - y) ** 2 + 4.0 * y for u in (low, high) for y in (near, far)]
        return np.asarray(reduce(np.maximum, tops) / (low * (1.0 + self.kappa**2)) ** 2)

    def corners_wanted(self) -> Array:
        return self.q.knots_hz

    def corners_ratio(self) -> Array:
        corners: set[float] = {1.0}
        for q2 in self.q.squares().tolist():
            if self.side < 1.0:
                corners |= set(_turns_by_capacitor(self.kappa**2, q2))
            if self.side > -1.0:
                corners |= {1.0 / u for u in _turns_by_capacitor(self.kappa**2, q2)}
            if abs(self.side) < 1.0:
                corners |= set(_turns_between(self.kappa**2, q2))
        return np.array(sorted(corners))

    def scaled(self, q_factor: float, coupling_score: float) -> Coupled:
        # a described coupling is known; an unknown one is no further off than either
        side = float(np.clip(self.side + coupling_score, -1.0, 1.0)) if abs(self.side) < 1.0 else self.side
        return replace(self, q=self.q.scaled(q_factor), side=side)


def _held(u: Array) -> Array:
    return np.clip(u, 1e-12, 1e12)


def _inverse(u: Array) -> Array:
    return 1.0 / _held(u)


def _turned(turn: Callable[[Array], Array], u: tuple[Array, Array]) -> tuple[Array, Array]:
    """Return an interval of u, or the one of its inverse, from low to high."""
    ends = turn(u[0]), turn(u[1])
    return np.minimum(*ends), np.maximum(*ends)


def _real_roots(polynomial: Any) -> list[float]:
    """Return the real roots; what rounding has made a close pair of complex ones counts."""
    roots = polynomial.roots()
    return [float(root) for root in roots.real[np.abs(roots.imag) <= 1e-6 * (1.0 + np.abs(roots))]]


def _turns_by_capacitor(k2: float, q2: float) -> list[float]:
    """Return the u at which a pair coupled by a capacitor turns.

    Notes
    -----
    With s = u^2 the curve is P(s)/s^3; in the variable Q (s - 1) the roots of its slope are of the
    order of 1, whatever Q is.
    """
    from numpy.polynomial import Polynomial

    q = math.sqrt(q2)
    off = Polynomial([0.0, 1.0])
    s = 1.0 + off / q
    p = ((1.0 + k2 * s) * s - off**2) ** 2 + 4.0 * s * off**2
    roots = [1.0 + root / q for root in _real_roots(s * p.deriv() - 3.0 / q * p)]
    return [math.sqrt(root) for root in roots if root > 0.0]


def _turns_between(k2: float, q2: float) -> list[float]:
    """Return the u at which the mean of both kinds turns: its square is a polynomial of y."""
    from numpy.polynomial import Polynomial

    y = Polynomial([0.0, 1.0])
    t = 2.0 + y / q2
    e, a = (1.0 + y) ** 2, 1.0 - y
    p = e * e + e * (2.0 * k2 * a * t + k2**2 * (t * t - 2.0)) + 4.0 * (a * k2) ** 2
    p = p + 2.0 * k2**3 * a * t + k2**4
    halves = [0.5 * math.sqrt(root / q2) for root in _real_roots(p.deriv()) if root > 0.0]
    return [sign * half + math.sqrt(half**2 + 1.0) for half in halves for sign in (-1.0, 1.0)]


@dataclass(frozen=True)
class Fixed:
    """A filter that stays where it is while the set is tuned: its share at the wanted frequency is taken off.

    Attributes
    ----------
    centre_hz : float. [Hz]
    q : float. Centre over the -3 dB width of a Butterworth passband; Q of a trap.
    order : int. Of the passband; 0 for a trap.
    depth_db : float. Of the trap. [dB]

    Notes
    -----
    With y = (Q v)^2, v from the centre: 1 + y^N, or (1 + y)/(D + y) with D = 10^(-depth/10).
    """

    centre_hz: float
    q: float
    order: int = 0
    depth_db: float = 0.0

    def absolute(self, hz: Array) -> Array:
        """Return the power ratio against the filter's own best, not against the wanted signal."""
        y = off_tune(hz / self.centre_hz)
        y *= self.q**2
        if self.order:
            return 1.0 + _power(np.minimum(y, MOST ** (1.0 / self.order)), self.order)
        bottom = 10.0 ** (-self.depth_db / 10.0)
        return np.asarray((1.0 + y) / (bottom + y), dtype=np.float64)

    def ratio(self, x: Array, wanted: Array) -> Array:
        return self.absolute(x) / self.absolute(wanted)

    def least(self, segment: Segment) -> Array:
        near, far = self._ends(segment.x)
        near_wanted, far_wanted = self._ends(segment.wanted)
        # a passband weakens most far from its centre, a trap in it
        return near / far_wanted if self.order else far / near_wanted

    def _ends(self, span: tuple[Array, Array]) -> tuple[Array, Array]:
        near = self.absolute(_nearest(*span, self.centre_hz))
        sides = self.absolute(span[0]), self.absolute(span[1])
        return near, np.maximum(*sides) if self.order else np.minimum(*sides)

    def at_wanted(self, wanted: Array) -> Array:
        return self.absolute(wanted)

    def span_at_wanted(self, wanted: tuple[Array, Array]) -> tuple[Array, Array]:
        near, far = self._ends(wanted)
        return (near, far) if self.order else (far, near)

    def scaled(self, q_factor: float, coupling_score: float) -> Fixed:
        return self

    def corners_x(self) -> Array:
        shoulders = [1.0] if self.order else [1.0, 10.0 ** (-self.depth_db / 20.0)]
        out = [self.centre_hz]
        for y_root in shoulders:
            half = 0.5 * y_root / self.q
            root = math.sqrt(half**2 + 1.0)
            out += [self.centre_hz * (root - half), self.centre_hz * (root + half)]
        return np.array(out)

    def corners_wanted(self) -> Array:
        return self.corners_x()

    def corners_ratio(self) -> Array:
        return _NO_CORNERS


@dataclass(frozen=True)
class Measured:
    """A measured attenuation curve that stays where it is while the set is tuned.

    Attributes
    ----------
    points : tuple of (frequency, attenuation). [Hz, dB]
    """

    points: tuple[tuple[float, float], ...]
    curve: LogCurve = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "curve", LogCurve(self.points))

    def ratio(self, x: Array, wanted: Array) -> Array:
        return _from_db(self.curve.at(x) - self.curve.at(wanted))

    def least(self, segment: Segment) -> Array:
        return _from_db(self.curve.least(*segment.x) - self.curve.greatest(*segment.wanted))

    def at_wanted(self, wanted: Array) -> Array:
        return _from_db(self.curve.at(wanted))

    def span_at_wanted(self, wanted: tuple[Array, Array]) -> tuple[Array, Array]:
        return _from_db(self.curve.least(*wanted)), _from_db(self.curve.greatest(*wanted))

    def scaled(self, q_factor: float, coupling_score: float) -> Measured:
        return self

    def corners_x(self) -> Array:
        return self.curve.knots_hz

    def corners_wanted(self) -> Array:
        return self.curve.knots_hz

    def corners_ratio(self) -> Array:
        return _NO_CORNERS


def _from_db(db: npt.NDArray[np.float64]) -> Array:
    limit = 10.0 * math.log10(MOST)
    return np.asarray(10.0 ** (np.clip(db, -limit, limit) / 10.0), dtype=np.float64)
