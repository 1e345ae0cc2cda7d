"""Attenuation of a signal ahead of a mixer, relative to the wanted one there.

A list of elements becomes one `Selectivity`, an IF filter another. Each gives
the loss at a frequency, a lower bound of it along a straight segment of the
dial (what an enumeration needs to drop routes safely), and the places where
the curve bends (what a search for the edge of a grade needs to miss nothing).
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.receiver import description
from spurplan.receiver.logcurve import Array
from spurplan.receiver.resonance import Fixed, Measured, QLaw, Segment, Shape, Tuned

# shapes of up to 360 dB whose product is still a double
_AT_ONCE = 8
# a piece and its intermediate arrays stay in a processor's cache: half the time of one go on millions
_PIECE = 16_384
_LN10 = math.log(10.0)
# 10*log10(1 + a) = 6 dB and 60 dB: the two points at which an IF filter is exact
_AT_6_DB = 2.981
_EXPONENT = 2.763


class Selectivity(ABC):
    """How much weaker a signal gets than the wanted one, ahead of one mixer or in one IF filter."""

    @abstractmethod
    def loss_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        """Return the attenuation at x relative to the wanted frequency.

        Parameters
        ----------
        x_hz : float or array. Frequency of the signal, above 0. [Hz]
        wanted_hz : float or array that broadcasts with it. Frequency the circuits are tuned
            to, or the centre of the IF filter. [Hz]

        Returns
        -------
        array of the broadcast shape; negative where a fixed element, or an over-coupled pair,
        favours x. [dB]
        """

    @abstractmethod
    def least_db(
        self,
        x_start_hz: npt.ArrayLike,
        x_stop_hz: npt.ArrayLike,
        wanted_start_hz: npt.ArrayLike,
        wanted_stop_hz: npt.ArrayLike,
        slack_hz: npt.ArrayLike = 0.0,
    ) -> Array:
        """Return a lower bound of the loss along a straight segment.

        Parameters
        ----------
        x_start_hz, x_stop_hz : arrays that broadcast. Where the signal begins and ends, either
            direction. [Hz]
        wanted_start_hz, wanted_stop_hz : likewise the wanted frequency at the same moments. [Hz]
        slack_hz : 0 or more. How far the signal may stand off the segment. [Hz]

        Returns
        -------
        array of the broadcast shape. [dB]

        Notes
        -----
        Never above the loss anywhere on the segment, to within the rounding of a double
        (1e-9 dB); equal to it where the segment is a point without slack.
        """

    @property
    def most_db(self) -> float:
        """What the loss never exceeds; inf where nothing limits it. [dB]"""
        return math.inf

    def corners_x(self) -> Array:
        """Return signal frequencies where the curve bends, ascending. [Hz]"""
        return np.empty(0)

    def corners_wanted(self) -> Array:
        """Return wanted frequencies where the curve bends, ascending. [Hz]"""
        return np.empty(0)

    def corners_ratio(self) -> Array:
        """Return quotients x/wanted where the curve bends, ascending.

        Notes
        -----
        1 for anything that follows the dial, and both peaks of an over-coupled pair. Where its Q
        changes along the range the peaks move: those at every point of the Q list are given.
        """
        return np.empty(0)

    def corners_offset(self) -> Array:
        """Return differences x - wanted where the curve bends, ascending. [Hz]"""
        return np.empty(0)


def _by_pieces(loss: Callable[[Array, Array], Array], x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
    """Return loss(x, wanted), long rows in pieces."""
    x, wanted = np.asarray(x_hz, dtype=np.float64), np.asarray(wanted_hz, dtype=np.float64)
    if x.ndim != 1 or len(x) <= _PIECE or wanted.shape not in ((), x.shape):
        return loss(x, wanted)
    out = np.empty_like(x)
    for start in range(0, len(x), _PIECE):
        piece = slice(start, start + _PIECE)
        out[piece] = loss(x[piece], wanted if wanted.ndim == 0 else wanted[piece])
    return out


class _NoSelectivity(Selectivity):
    def loss_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        return np.zeros(np.broadcast_shapes(np.shape(x_hz), np.shape(wanted_hz)))

    def least_db(
        self,
        x_start_hz: npt.ArrayLike,
        x_stop_hz: npt.ArrayLike,
        wanted_start_hz: npt.ArrayLike,
        wanted_stop_hz: npt.ArrayLike,
        slack_hz: npt.ArrayLike = 0.0,
    ) -> Array:
        ends = (x_start_hz, x_stop_hz, wanted_start_hz, wanted_stop_hz, slack_hz)
        return np.zeros(np.broadcast_shapes(*(np.shape(end) for end in ends)))


NO_SELECTIVITY: Selectivity = _NoSelectivity()


@dataclass(frozen=True)
class _Elements(Selectivity):
    shapes: tuple[Shape, ...]
    ceiling_db: float

    def loss_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        return _by_pieces(
            lambda x, wanted: self._to_db([shape.ratio(x, wanted) for shape in self.shapes]), x_hz, wanted_hz
        )

    def least_db(
        self,
        x_start_hz: npt.ArrayLike,
        x_stop_hz: npt.ArrayLike,
        wanted_start_hz: npt.ArrayLike,
        wanted_stop_hz: npt.ArrayLike,
        slack_hz: npt.ArrayLike = 0.0,
    ) -> Array:
        ends = (x_start_hz, x_stop_hz, wanted_start_hz, wanted_stop_hz, slack_hz)
        segment = Segment(*(np.asarray(end, dtype=np.float64) for end in ends))
        # the sum of the least is not above the least sum
        return self._to_db([shape.least(segment) for shape in self.shapes])

    def _to_db(self, ratios: list[Array]) -> Array:
        groups = [ratios[i : i + _AT_ONCE] for i in range(0, len(ratios), _AT_ONCE)]
        logs = [np.log10(reduce(np.multiply, group)) for group in groups]
        db = reduce(np.add, logs)
        db *= 10.0
        return np.minimum(db, self.ceiling_db)

    @property
    def most_db(self) -> float:
        return self.ceiling_db

    def corners_x(self) -> Array:
        return distinct(np.concatenate([shape.corners_x() for shape in self.shapes]))

    def corners_wanted(self) -> Array:
        return distinct(np.concatenate([shape.corners_wanted() for shape in self.shapes]))

    def corners_ratio(self) -> Array:
        return distinct(np.concatenate([shape.corners_ratio() for shape in self.shapes]))


@dataclass(frozen=True)
class _IfFilter(Selectivity):
    """A(df) = min(U, 10*log10(1 + 2.981*(2*|df|/BW6)^(2N))), N = 2.763/log10(shape factor)."""

    bandwidth_hz: float
    exponent: float
    ultimate_db: float

    def loss_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        return _by_pieces(lambda x, wanted: self._at(np.abs(x - wanted)), x_hz, wanted_hz)

    def least_db(
        self,
        x_start_hz: npt.ArrayLike,
        x_stop_hz: npt.ArrayLike,
        wanted_start_hz: npt.ArrayLike,
        wanted_stop_hz: npt.ArrayLike,
        slack_hz: npt.ArrayLike = 0.0,
    ) -> Array:
        start = np.asarray(x_start_hz, dtype=np.float64) - np.asarray(wanted_start_hz, dtype=np.float64)
        stop = np.asarray(x_stop_hz, dtype=np.float64) - np.asarray(wanted_stop_hz, dtype=np.float64)
        nearest = np.where(start * stop <= 0.0, 0.0, np.minimum(np.abs(start), np.abs(stop)))
        return self._at(np.maximum(nearest - np.asarray(slack_hz, dtype=np.float64), 0.0))

    def _at(self, offset: Array) -> Array:
        # by way of the logarithm: the power itself overflows on a steep filter's far skirt
        log = np.log(np.maximum(offset * (2.0 / self.bandwidth_hz), 1e-300))
        log *= 2.0 * self.exponent
        log += math.log(_AT_6_DB)
        log = np.minimum(log, 700.0)
        return np.minimum(np.log1p(np.exp(log)) * (10.0 / _LN10), self.ultimate_db)

    @property
    def most_db(self) -> float:
        return self.ultimate_db

    def corners_offset(self) -> Array:
        half = self.bandwidth_hz / 2.0
        ultimate = half * (math.expm1(self.ultimate_db * _LN10 / 10.0) / _AT_6_DB) ** (0.5 / self.exponent)
        return np.array([-ultimate, -half, 0.0, half, ultimate])


def compile_elements(
    elements: Sequence[description.Element] | None, ceiling_db: float, off_tune_hz: float = 0.0
) -> Selectivity:
    """Return the selectivity of one list of elements.

    Parameters
    ----------
    elements : sequence of description elements; empty for none at all, None for what a set is
        taken to have when nobody said: one tuned circuit of the default Q.
    ceiling_db : float. What stray coupling leaves: the sum of the list never exceeds it. [dB]
    off_tune_hz : float. How far everything that follows the dial is tuned above it. [Hz]

    Notes
    -----
    With v = x/w - w/x, w the wanted frequency, or x/c - c/x from the element's own centre c:

    - tuned circuits: N*10*log10(1 + Q^2 v^2), Q at w;
    - coupled pair: 10*log10(((1 + k^2 - y)^2 + 4y)/(1 + k^2)^2), y = Q^2 v^2, k = kappa;
    - passband: 10*log10(1 + (Q v)^(2N)) minus its value at w, Q = sqrt(low*high)/(high - low);
    - trap: 10*log10((1 + (Q v)^2)/(10^(-depth/10) + (Q v)^2)) minus its value at w;
    - curve: linear in dB over log frequency, held at its ends, minus its value at w.

    References
    ----------
    [1] F. Langford-Smith (ed.), Radiotron Designer's Handbook, 4th ed. 1953, ch. 9 (from memory).
    [2] G. Kennedy, B. Davis, Electronic Communication Systems, 4th ed., s. 6-2.
    """
    if elements is None:
        return _Elements((Tuned(QLaw(None), off_tune_hz=off_tune_hz),), ceiling_db)
    if not elements:
        return NO_SELECTIVITY
    return _Elements(tuple(_shape(element, off_tune_hz) for element in elements), ceiling_db)


def _shape(element: description.Element, off_tune_hz: float) -> Shape:
    match element:
        case description.Circuits():
            return Tuned(QLaw(element.q), element.circuits, off_tune_hz=off_tune_hz)
        case description.CoupledPair():
            return Tuned(QLaw(element.q), kappa=element.coupled_pair, off_tune_hz=off_tune_hz)
        case description.Passband():
            centre = math.sqrt(element.low_hz * element.high_hz)
            return Fixed(centre, centre / (element.high_hz - element.low_hz), order=element.order)
        case description.Trap():
            return Fixed(float(element.trap_hz), element.q, depth_db=element.depth_db)
        case description.Curve():
            return Measured(element.points)
    raise TypeError(f"no selectivity is known for {type(element).__name__}")


def compile_filter(filter_: description.Filter) -> Selectivity:
    """Return the selectivity of an IF filter; its "wanted" frequency is its centre.

    Notes
    -----
    A(df) = min(U, 10*log10(1 + 2.981*(2*|df|/B)^(2N))), N = 2.763/log10(SF), B the -6 dB width, SF
    the -60 dB width over it: exact at both. In between, a strip of circuits tuned alike attenuates
    less, by 2 dB (two circuits) to 8 dB (six).
    """
    return _IfFilter(
        float(filter_.bandwidth_hz), _EXPONENT / math.log10(filter_.shape_factor), filter_.ultimate_db
    )
