"""The shapes a front end is made of, as power ratios: tuned circuits, coupled pair, passband, trap, curve.

Every shape answers how much more it weakens a signal at x than the wanted one,
as a power ratio, so that a list of them costs one multiplication each and one
logarithm for all. `selectivity` puts lists together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Protocol

import numpy as np
import numpy.typing as npt

from spurplan.receiver.logcurve import SMALLEST_HZ, Array, LogCurve
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

    def squares(self) -> Array:
        """Return Q^2 at each point of the law."""
        return np.exp(self._log.values)


@dataclass(frozen=True)
class Tuned:
    """Circuits or a coupled pair that follow the dial.

    Attributes
    ----------
    q : QLaw. Loaded Q at the wanted frequency.
    circuits : int. Isolated circuits; 1 with a coupled pair.
    kappa : float or None. k*Q of a coupled pair; None for isolated circuits.
    off_tune_hz : float. How far the circuits are tuned above the wanted frequency. [Hz]

    Notes
    -----
    With y = Q^2 v^2, v = x/w - w/x: (1 + y)^N, or ((1 + k^2 - y)^2 + 4y)/(1 + k^2)^2, k = kappa.
    The second falls to its least at y = k^2 - 1 where that is positive and rises from there.
    """

    q: QLaw
    circuits: int = 1
    kappa: float | None = None
    off_tune_hz: float = 0.0

    def _off_resonance(self, y: Array) -> Array:
        if self.kappa is None:
            return _power(np.minimum(y + 1.0, MOST ** (1.0 / self.circuits)), self.circuits)
        line = 1.0 + self.kappa**2
        return np.minimum(((line - y) ** 2 + 4.0 * y) / line**2, MOST)

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
        q2_low = self.q.least_squared(segment.wanted)
        # what the greatest is needed for is rare, and it costs as much as all the rest
        peaked = self.kappa is not None and self.kappa > 1.0
        q2_high = self.q.greatest_squared(segment.wanted) if peaked or self.off_tune_hz else q2_low
        out = self._least_off_resonance(tuned.ratio, q2_low, q2_high)
        if self.off_tune_hz:
            out = out / self._most_at_wanted(segment, q2_low, q2_high)
        return out

    def _least_off_resonance(
        self, u: tuple[Array, Array], q2_low: Array | float, q2_high: Array | float
    ) -> Array:
        y = off_tune(_nearest(*u, 1.0)) * q2_low
        if self.kappa is not None and self.kappa > 1.0:
            far = np.maximum(off_tune(u[0]), off_tune(u[1])) * q2_high
            y = _nearest(y, far, self.kappa**2 - 1.0)
        return self._off_resonance(y)

    def _most_at_wanted(self, segment: Segment, q2_low: Array | float, q2_high: Array | float) -> Array:
        ends = [off_tune(w / (w + self.off_tune_hz)) for w in segment.wanted]
        near, far = np.minimum(*ends) * q2_low, np.maximum(*ends) * q2_high
        # convex in y: the greatest value stands at an end
        return np.maximum(self._off_resonance(near), self._off_resonance(far))

    def corners_x(self) -> Array:
        return _NO_CORNERS

    def corners_wanted(self) -> Array:
        return self.q.knots_hz

    def corners_ratio(self) -> Array:
        if self.kappa is None or self.kappa <= 1.0:
            return np.ones(1)
        half = 0.5 * np.sqrt((self.kappa**2 - 1.0) / self.q.squares())
        root = np.sqrt(half**2 + 1.0)
        return np.concatenate([root - half, np.ones(1), root + half])


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

    def corners_x(self) -> Array:
        return self.curve.knots_hz

    def corners_wanted(self) -> Array:
        return self.curve.knots_hz

    def corners_ratio(self) -> Array:
        return _NO_CORNERS


def _from_db(db: npt.NDArray[np.float64]) -> Array:
    limit = 10.0 * math.log10(MOST)
    return np.asarray(10.0 ** (np.clip(db, -limit, limit) / 10.0), dtype=np.float64)
