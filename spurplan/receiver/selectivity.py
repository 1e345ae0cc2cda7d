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
from dataclasses import dataclass, replace
from functools import reduce
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.receiver import description
from spurplan.receiver.curve import SMALLEST_HZ, Array
from spurplan.receiver.resonance import Coupled, Fixed, Measured, QLaw, Segment, Shape, Tuned
from spurplan.units import HIGHEST_HZ

# shapes of up to 360 dB whose product is still a double
_AT_ONCE = 8
# beyond any stray coupling that a description can state
_MOST = 1e150
# what counts as coming by way of the circuits at all, and as the ultimate rejection of a filter [dB]
_FIFTH_DB = 7.0
_AT_ULTIMATE_DB = 0.1
_SIDES = {"capacitive": -1.0, "inductive": 1.0, None: 0.0}
# a piece and its intermediate arrays stay in a processor's cache: half the time of one go on millions
_PIECE = 16_384
_LN10 = math.log(10.0)
# standard deviations from end to end of a 95 % interval
INTERVAL_SPREADS = 2.0 * 1.96
# 10*log10(1 + a) = 6 dB and 60 dB: the two points at which an IF filter is exact
_AT_6_DB = 2.981
_EXPONENT = 2.763


@dataclass(frozen=True)
class Varied:
    """By how much figures that nobody knows exactly are off.

    Attributes
    ----------
    q_factor : float. Times the Q of every circuit of the set.
    ceiling_db : float. What gets round the circuits of the set, past a mixer and past everything is so much
        further down. [dB]
    coupling_score : float. Where pairs stand whose coupling nobody described: -1 coupled by a capacitor,
        1 by an inductance.
    box_q_factor, box_ceiling_db : float. The same of boxes in the aerial lead, round and past them. [dB]
    q_spread, ceiling_spread_db : float. The spreads that these are so many of. Circuits whose own spread is
        known are off by as many of their own; 0 for none. [-, dB]
    """

    q_factor: float = 1.0
    ceiling_db: float = 0.0
    coupling_score: float = 0.0
    box_q_factor: float = 1.0
    box_ceiling_db: float = 0.0
    q_spread: float = 0.0
    ceiling_spread_db: float = 0.0


@dataclass(frozen=True)
class Known:
    """How far off the figures of some circuits may be, one standard deviation; None where nobody measured.

    Attributes
    ----------
    q : float or None. Part of the Q.
    ceiling_db : float or None. [dB]
    """

    q: float | None = None
    ceiling_db: float | None = None


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

    def by_circuits_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        """Return the loss by way of the circuits alone, as if nothing got round them. [Hz -> dB]"""
        return self.loss_db(x_hz, wanted_hz)

    def strays(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> npt.NDArray[np.bool_]:
        """Whether less than a fifth of what passes comes by way of the circuits.

        Notes
        -----
        Its level is then within 1 dB of what would pass without them, which a reading can not tell.
        """
        apart = self.by_circuits_db(x_hz, wanted_hz) - self.loss_db(x_hz, wanted_hz)
        strays: npt.NDArray[np.bool_] = apart > _FIFTH_DB
        return strays

    @property
    def may_turn(self) -> bool:
        """Whether the loss may turn between its corners.

        Notes
        -----
        Circuits that follow the dial do not. A sum of shapes may, and so may what stays
        where it is: its loss at the signal less its loss at the wanted frequency.
        """
        return False

    @property
    def lead_gain_db(self) -> float:
        """What boxes in the aerial lead give the wanted signal at most. [dB]"""
        return 0.0

    @property
    def takes_wanted(self) -> bool:
        """Whether boxes in the aerial lead take more off the wanted signal in one place than in another."""
        return False

    def lead_loss_db(self, wanted_hz: npt.ArrayLike) -> Array:
        """Return how far boxes in the aerial lead stay below `lead_gain_db`, 0 or more. [Hz -> dB]"""
        return np.zeros(np.shape(wanted_hz))

    def varied(self, figures: Varied) -> Selectivity:
        """Return the same with other figures."""
        return self

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


class _PowerSum(Selectivity):
    """What is told by the part of a signal's power that passes, against the wanted one."""

    @abstractmethod
    def passed(self, x: Array, wanted: Array) -> Array:
        """Return the power that passes at x over that at the wanted frequency."""

    @abstractmethod
    def most_passed(self, segment: Segment) -> Array:
        """Return an upper bound of it along a segment, exact where that is a point."""

    def loss_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        return _by_pieces(lambda x, wanted: _loss_db(self.passed(x, wanted)), x_hz, wanted_hz)

    def least_db(
        self,
        x_start_hz: npt.ArrayLike,
        x_stop_hz: npt.ArrayLike,
        wanted_start_hz: npt.ArrayLike,
        wanted_stop_hz: npt.ArrayLike,
        slack_hz: npt.ArrayLike = 0.0,
    ) -> Array:
        ends = (x_start_hz, x_stop_hz, wanted_start_hz, wanted_stop_hz, slack_hz)
        return _loss_db(self.most_passed(Segment(*(np.asarray(end, dtype=np.float64) for end in ends))))


def _loss_db(passed: Array) -> Array:
    db: Array = -10.0 * np.log10(passed)
    return db


def _with_stray(passed: Array, stray: float | Array) -> Array:
    """Return what passes once a stray part of the wanted power gets by at every frequency."""
    return np.asarray((passed + stray) / (1.0 + stray), dtype=np.float64)


def _from_db(db: float | Array) -> Any:
    return np.exp(db * (-_LN10 / 10.0))


@dataclass(frozen=True)
class Elements(_PowerSum):
    """Elements one behind the other, and what gets round them all."""

    shapes: tuple[Shape, ...]
    ceiling_db: float
    known: Known = Known()

    def passed(self, x: Array, wanted: Array) -> Array:
        return _with_stray(self.through(x, wanted), self.stray)

    def most_passed(self, segment: Segment) -> Array:
        return _with_stray(self.most_through(segment), self.stray)

    def through(self, x: Array, wanted: Array) -> Array:
        """Return what passes through the elements alone."""
        return self._through([shape.ratio(x, wanted) for shape in self.shapes], np.broadcast(x, wanted).shape)

    def most_through(self, segment: Segment) -> Array:
        """Return an upper bound of what passes through the elements alone."""
        # the product of the least is not above the least product
        return self._through([shape.least(segment) for shape in self.shapes], segment.shape)

    def _through(self, ratios: list[Array], shape: tuple[int, ...]) -> Array:
        if not ratios:
            return np.ones(shape)
        groups = [ratios[i : i + _AT_ONCE] for i in range(0, len(ratios), _AT_ONCE)]
        product = np.clip(reduce(np.multiply, groups[0]), 1.0 / _MOST, _MOST)
        for group in groups[1:]:
            product = np.clip(
                product * np.clip(reduce(np.multiply, group), 1.0 / _MOST, _MOST), 1 / _MOST, _MOST
            )
        return np.asarray(1.0 / product)

    @property
    def stray(self) -> float:
        """What gets round the elements, against the wanted power."""
        return float(_from_db(self.ceiling_db))

    def by_circuits_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        return _by_pieces(lambda x, wanted: _loss_db(self.through(x, wanted)), x_hz, wanted_hz)

    @property
    def may_turn(self) -> bool:
        return len(self.shapes) > 1 or not all(isinstance(shape, Tuned) for shape in self.shapes)

    def varied(self, figures: Varied) -> Elements:
        q_factor, ceiling_db = figures.q_factor, figures.ceiling_db
        if self.known.q is not None and figures.q_spread:
            q_factor = max(1.0 + (q_factor - 1.0) * self.known.q / figures.q_spread, 0.01)
        if self.known.ceiling_db is not None and figures.ceiling_spread_db:
            ceiling_db *= self.known.ceiling_db / figures.ceiling_spread_db
        return self.moved(q_factor, ceiling_db, figures.coupling_score)

    def moved(self, q_factor: float, ceiling_db: float, coupling_score: float) -> Elements:
        """Return the same with other figures; as `Varied`. [-, dB, -]"""
        shapes = tuple(shape.scaled(q_factor, coupling_score) for shape in self.shapes)
        return replace(self, shapes=shapes, ceiling_db=max(self.ceiling_db + ceiling_db, 0.0))

    def corners_x(self) -> Array:
        return _corners([shape.corners_x() for shape in self.shapes])

    def corners_wanted(self) -> Array:
        return _corners([shape.corners_wanted() for shape in self.shapes])

    def corners_ratio(self) -> Array:
        return _corners([shape.corners_ratio() for shape in self.shapes])


def _corners(parts: Sequence[Array]) -> Array:
    return distinct(np.concatenate([np.empty(0), *parts]))


@dataclass(frozen=True)
class LeadBox:
    """One box in the aerial lead.

    Attributes
    ----------
    elements : what it is made of, and what gets round them inside.
    gain_db : float. Of the box where its elements take nothing. [dB]
    noise_figure_db : float. Likewise. [dB]
    pickup_db : float. How far down signals get past it into the lead behind. [dB]
    """

    elements: Elements
    gain_db: float
    noise_figure_db: float
    pickup_db: float

    def loss_at_wanted_db(self, wanted_hz: Array) -> Array:
        """Return what its elements take off the wanted signal. [dB]"""
        ratios = [shape.at_wanted(wanted_hz) for shape in self.elements.shapes]
        return np.asarray(sum((10.0 * np.log10(ratio) for ratio in ratios), np.zeros(np.shape(wanted_hz))))

    def losses_at_wanted_db(self, wanted_hz: tuple[Array, Array]) -> tuple[Array, Array]:
        """Return bounds of it over an interval. [dB]"""
        spans = [shape.span_at_wanted(wanted_hz) for shape in self.elements.shapes]
        none = np.zeros(np.shape(wanted_hz[0]))
        least, most = (sum((10.0 * np.log10(span[end]) for span in spans), none) for end in (0, 1))
        return least, most

    @property
    def least_loss_db(self) -> float:
        """What its elements take off the wanted signal at least, at any frequency. [dB]"""
        least, _ = self.losses_at_wanted_db((np.array(SMALLEST_HZ), np.array(float(HIGHEST_HZ))))
        return float(least)

    @property
    def moves(self) -> bool:
        """Whether that depends on the frequency."""
        return not all(isinstance(shape, Tuned | Coupled) for shape in self.elements.shapes)

    def passed(self, through: Array, gain_db: Array) -> Array:
        """Return what passes of a signal, its elements and gain on the wanted one being known. [-, dB]"""
        return _with_stray(through, self.elements.stray + _from_db(self.pickup_db + gain_db))

    def varied(self, figures: Varied) -> LeadBox:
        elements = self.elements.moved(figures.box_q_factor, figures.box_ceiling_db, figures.coupling_score)
        return replace(self, elements=elements, pickup_db=self.pickup_db + figures.box_ceiling_db)


@dataclass(frozen=True)
class Lead(_PowerSum):
    """From the aerial to the first mixer: boxes in the lead, the set's own circuits, what gets past them all.

    Notes
    -----
    Phases are not known, so powers add. Against the wanted signal, with G_k what box k gives it:

        box     t_k = (a_k + c_k)/(1 + c_k),  c_k = 10^(-C_k/10) + 10^(-(P_k + G_k)/10)
        all     T = (t_1 ... t_K t_s + e)/(1 + e),  e = 10^(-(E + G_1 + ... + G_K)/10)

    t_s the set's own. Each t lies between 1 and a, so a box makes nothing louder against the wanted
    signal by more than its elements take off that.
    """

    boxes: tuple[LeadBox, ...]
    own: Elements
    case_pickup_db: float

    def passed(self, x: Array, wanted: Array) -> Array:
        passed, gain = self.own.passed(x, wanted), np.zeros(np.shape(wanted))
        for box in self.boxes:
            given = box.gain_db - box.loss_at_wanted_db(wanted)
            passed = passed * box.passed(box.elements.through(x, wanted), given)
            gain = gain + given
        return _with_stray(passed, _from_db(self.case_pickup_db + gain))

    def most_passed(self, segment: Segment) -> Array:
        passed = self.own.most_passed(segment)
        least = most = np.zeros(np.shape(segment.wanted[0]))
        for box in self.boxes:
            through = box.elements.most_through(segment)
            losses = box.losses_at_wanted_db(segment.wanted)
            gains = box.gain_db - losses[1], box.gain_db - losses[0]
            # with more stray coupling what passes comes nearer to 1, from either side
            passed = passed * np.maximum(*(box.passed(through, gain) for gain in gains))
            least, most = least + gains[0], most + gains[1]
        strays = (_from_db(self.case_pickup_db + gain) for gain in (least, most))
        return np.asarray(np.maximum(*(_with_stray(passed, stray) for stray in strays)))

    def by_circuits_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        return sum(
            (box.elements.by_circuits_db(x_hz, wanted_hz) for box in self.boxes),
            self.own.by_circuits_db(x_hz, wanted_hz),
        )

    @property
    def may_turn(self) -> bool:
        return self.own.may_turn or any(box.elements.shapes for box in self.boxes)

    @property
    def lead_gain_db(self) -> float:
        return sum(box.gain_db - box.least_loss_db for box in self.boxes)

    @property
    def takes_wanted(self) -> bool:
        return any(box.moves for box in self.boxes)

    def lead_loss_db(self, wanted_hz: npt.ArrayLike) -> Array:
        wanted = np.asarray(wanted_hz, dtype=np.float64)
        losses = (box.loss_at_wanted_db(wanted) - box.least_loss_db for box in self.boxes)
        return sum(losses, np.zeros(wanted.shape))

    def varied(self, figures: Varied) -> Lead:
        return Lead(
            tuple(box.varied(figures) for box in self.boxes),
            self.own.varied(figures),
            max(self.case_pickup_db + figures.ceiling_db, 0.0),
        )

    def with_own(self, own: Elements) -> Lead:
        """Return the same lead in front of other circuits of the set."""
        return replace(self, own=own)

    def _parts(self) -> tuple[Elements, ...]:
        return (self.own, *(box.elements for box in self.boxes))

    def corners_x(self) -> Array:
        return _corners([part.corners_x() for part in self._parts()])

    def corners_wanted(self) -> Array:
        # a fixed element's own corners are those of what it takes off the wanted signal, too
        return _corners([part.corners_wanted() for part in self._parts()])

    def corners_ratio(self) -> Array:
        return _corners([part.corners_ratio() for part in self._parts()])


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

    def by_circuits_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        lost = self.loss_db(x_hz, wanted_hz)
        return np.where(lost < self.ultimate_db - _AT_ULTIMATE_DB, lost, np.inf)

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
    ceiling_db : float. How far down signals get round all of them by stray coupling. [dB]
    off_tune_hz : float. How far everything that follows the dial is tuned above it. [Hz]

    Notes
    -----
    With v = x/w - w/x, w the wanted frequency, or x/c - c/x from the element's own centre c:

    - tuned circuits: N*10*log10(1 + Q^2 v^2), Q at w;
    - coupled pair: 10*log10(((1 + k^2 u^2 - y)^2 + 4y)/(u^2 (1 + k^2)^2)) by a capacitor, y = Q^2 v^2,
      u = x/w, k = kappa; 1/u in place of u by an inductance; the mean in dB where nobody said;
    - passband: 10*log10(1 + (Q v)^(2N)) minus its value at w, Q = sqrt(low*high)/(high - low);
    - trap: 10*log10((1 + (Q v)^2)/(10^(-depth/10) + (Q v)^2)) minus its value at w;
    - curve: linear in dB over log frequency, held at its ends, minus its value at w;
    - what gets round them adds as a power: (a + c)/(1 + c), a the ratio of all of them at x to that at
      w, c = 10^(-ceiling/10).

    References
    ----------
    [1] F. Langford-Smith (ed.), Radiotron Designer's Handbook, 4th ed. 1953, ch. 9 (from memory).
    [2] G. Kennedy, B. Davis, Electronic Communication Systems, 4th ed., s. 6-2.
    """
    if elements is None:
        elements = (description.Circuits(circuits=1),)
    if not elements:
        return NO_SELECTIVITY
    return Elements(tuple(_shape(element, off_tune_hz) for element in elements), ceiling_db)


def _shape(element: description.Element, off_tune_hz: float) -> Shape:
    match element:
        case description.Circuits():
            return Tuned(QLaw(element.q), element.circuits, off_tune_hz=off_tune_hz)
        case description.CoupledPair():
            return Coupled(QLaw(element.q), element.coupled_pair, _SIDES[element.coupling], off_tune_hz)
        case description.Passband():
            centre = math.sqrt(element.low_hz * element.high_hz)
            return Fixed(centre, centre / (element.high_hz - element.low_hz), order=element.order)
        case description.Trap():
            return Fixed(float(element.trap_hz), element.q, depth_db=element.depth_db)
        case description.Curve():
            return Measured(element.points)
    raise TypeError(f"no selectivity is known for {type(element).__name__}")


def compile_lead(
    boxes: Sequence[description.Box],
    elements: Sequence[description.Element] | None,
    ceiling_db: float,
    case_pickup_db: float,
    known: Known = Known(),
) -> Selectivity:
    """Return the selectivity from the aerial to the first mixer.

    Parameters
    ----------
    boxes : boxes in the aerial lead, outermost first.
    elements, ceiling_db : the set's own, as `compile_elements`.
    case_pickup_db : float. How far down signals get past everything into wiring and chassis. [dB]
    known : Known. How far off the set's own may be.
    """
    own = compile_elements((description.Circuits(circuits=1),) if elements is None else elements, ceiling_db)
    bare = own if isinstance(own, Elements) else Elements((), ceiling_db)
    return Lead(compile_boxes(boxes), replace(bare, known=known), case_pickup_db)


def known_of(range_: description.Range) -> Known:
    """Return how far off the front end of a range may be, from the 95 % intervals that were measured."""
    q, ceiling = range_.q_interval, range_.front_end_ceiling_interval_db
    return Known(
        None if q is None else math.log(q[1] / q[0]) / INTERVAL_SPREADS,
        None if ceiling is None else (ceiling[1] - ceiling[0]) / INTERVAL_SPREADS,
    )


def compile_boxes(boxes: Sequence[description.Box]) -> tuple[LeadBox, ...]:
    """Return boxes in the aerial lead as they are worked with.

    Notes
    -----
    The noise figure of a box that gives none is what it takes off the signal: it is taken as
    matched and at room temperature. A passive one with a gain only matches better, and adds no noise.
    """
    return tuple(
        LeadBox(
            Elements(tuple(_shape(element, 0.0) for element in box.elements), box.ceiling_db),
            box.gain_db,
            max(-box.gain_db, 0.0) if box.noise_figure_db is None else box.noise_figure_db,
            box.pickup_db,
        )
        for box in boxes
    )


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
