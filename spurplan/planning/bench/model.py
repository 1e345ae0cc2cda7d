"""A set as a function of a few of its figures: what the fit asks thousands of times.

The engine's own parts (selectivity, mixers) are compiled anew for the figures in
question; where signals stand in the chain does not depend on them and is worked out once.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.figures import (
    SHARED,
    Figure,
    Key,
    figures_for,
    mixer_values,
    owner_of,
)
from spurplan.planning.bench.injection import Injections, Parts, above_wanted_db, parts_of
from spurplan.planning.bench.laws import Course, held, log_q_of, mean_log_q, tuned, with_mean_q
from spurplan.receiver.changes.edits import front_end_of
from spurplan.receiver.description import Circuits, CoupledPair, Element, Range, Receiver
from spurplan.receiver.mixers import CompiledMixer, compile_mixer
from spurplan.receiver.resonance import Coupled, QLaw, Shape, Tuned
from spurplan.receiver.selectivity import Elements, Lead, Selectivity, compile_elements, compile_filter
from spurplan.units import DB_PER_S

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Compiled mixers kept by their figures: differences ask for the same ones again and again.
_MIXERS_KEPT = 256
# Products that a sheet asks for; a mixer works out others when it is asked.
_ORDERS = (3, 2)


class KnownQ(QLaw):
    """A loaded Q that is known at the signals in question and asked for nowhere else.

    Parameters
    ----------
    q : float64, shape (n,). One a signal, or one for all.
    """

    def __init__(self, q: Floats) -> None:
        self._squares = q * q

    def squared(self, wanted: Floats) -> Floats:
        """Return Q^2 at the signals, whatever the wanted frequencies are said to be."""
        return self._squares


@dataclass(frozen=True)
class FrontEnd:
    """The front end of a range, compiled once, with its figures put in again and again.

    Attributes
    ----------
    shapes : the parts of the compiled selectivity.
    shares : one a shape: what its Q is of the mean Q at each signal; None for one without.
    described : float64, shape (n,). Logarithm of the described mean Q at each signal.
    weights : float64, shape (n, k). How much each takes of what readings make of the told ones.
    """

    shapes: tuple[Shape, ...]
    shares: tuple[Floats | None, ...]
    described: Floats
    weights: Floats

    @classmethod
    def of(cls, range_: Range, signals: Injections, course: Course | None) -> FrontEnd:
        """Return the front end of a range for some signals."""
        elements = front_end_of(range_)
        dial = signals.wanted_hz[0]
        weights = np.zeros((len(dial), 0)) if course is None else course.weights(dial)
        if not elements:
            return cls((), (), np.zeros(len(dial)), weights)
        described: Any = compile_elements(elements, range_.front_end_ceiling_db)
        mean = mean_log_q(elements, dial) if tuned(elements) else np.zeros(dial.shape)
        shares = [
            np.exp(log_q_of(element, dial) - mean) if isinstance(element, Circuits | CoupledPair) else None
            for element in elements
        ]
        return cls(described.shapes, tuple(shares), mean, weights)

    def with_figures(self, ceiling_db: float, departs: Floats | None = None) -> Elements:
        """Return the circuits with another ceiling, and a mean Q that departs where it is told. [dB]"""
        mean_q = None if departs is None else np.exp(held(self.described + self.weights @ departs))
        shapes = tuple(
            replace(shape, q=KnownQ(mean_q * share))
            if mean_q is not None and share is not None and isinstance(shape, Tuned | Coupled)
            else shape
            for shape, share in zip(self.shapes, self.shares, strict=True)
        )
        return Elements(shapes, ceiling_db)


@dataclass
class BenchModel:
    """Predictions for some signals, and how they move with the figures.

    Attributes
    ----------
    receiver : Receiver. As described: what the figures leave alone.
    ranges : tuple of Range. Those with signals, in the order of the set.
    signals : mapping of name of range to Injections.
    courses : mapping of name of range to Course, of those with tuned circuits.
    meter_db : mapping of name of range to float64, shape (n,), of those on which an S meter was read. What
        it showed above its S9 mark, as it is marked; NaN where the output was held. [dB]
    figures : tuple of Figure, made from these.

    Notes
    -----
    The coordinates of `least_squares.Problem` are those of the figures, in their order; the predictions
    those of the ranges, one after the other.
    """

    receiver: Receiver
    ranges: tuple[Range, ...]
    signals: Mapping[str, Injections]
    courses: Mapping[str, Course]
    meter_db: Mapping[str, Floats] = field(default_factory=dict)
    figures: tuple[Figure, ...] = field(init=False)
    _plain: dict[str, Parts] = field(init=False, repr=False)
    _fronts: dict[str, FrontEnd] = field(init=False, repr=False)
    _mixers: dict[Any, CompiledMixer] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.figures = figures_for(self.receiver, self.ranges, self.courses, self.meter_db)
        self._plain = {range_.name: parts_of(self.signals[range_.name].chains) for range_ in self.ranges}
        self._fronts = {
            range_.name: FrontEnd.of(range_, self.signals[range_.name], self.courses.get(range_.name))
            for range_ in self.ranges
        }

    # --- what `least_squares` asks -----------------------------------------------------------

    @property
    def low(self) -> Floats:
        """Lowest sensible coordinates, shape (p,)."""
        return np.array([figure.low for figure in self.figures])

    @property
    def high(self) -> Floats:
        """Highest sensible coordinates, shape (p,)."""
        return np.array([figure.high for figure in self.figures])

    @property
    def scale(self) -> Floats:
        """Steps that matter, shape (p,)."""
        return np.array([figure.step for figure in self.figures])

    @property
    def described(self) -> Floats:
        """The coordinates of the description, shape (p,)."""
        return np.array([figure.start for figure in self.figures])

    def predict(self, at: Floats) -> Floats:
        """Return what each reading should be, all ranges, shape (n,). [dB]"""
        values = self.values(at)
        return np.concatenate([self._predicted(range_, values) for range_ in self.ranges])

    def jacobian(self, at: Floats) -> Floats:
        """Return how each reading moves with each coordinate, shape (n, p)."""
        values = self.values(at)
        base = {range_.name: self._predicted(range_, values) for range_ in self.ranges}
        start = dict(zip(base, np.cumsum([0, *map(len, base.values())])[:-1].tolist(), strict=True))
        out = np.zeros((sum(map(len, base.values())), len(at)))
        ahead = {range_.name: self._by_losses(range_, values, base[range_.name]) for range_ in self.ranges}
        for j, figure in enumerate(self.figures):
            step = 1e-4 * figure.step
            moved = {**values, figure.key: figure.value(float(at[j]) + step)}
            for range_ in self.ranges:
                if not self._concerns(figure, range_):
                    continue
                rows = slice(start[range_.name], start[range_.name] + len(base[range_.name]))
                if figure.key[0] in ("q", "ceiling"):
                    lost, weight = ahead[range_.name]
                    out[rows, j] = weight * (self._lost(range_, moved) - lost) / step
                else:
                    out[rows, j] = (self._predicted(range_, moved) - base[range_.name]) / step
        return out

    def _by_losses(self, range_: Range, values: Mapping[Key, float], base: Floats) -> tuple[Floats, Floats]:
        """Return losses ahead of the first mixer, and how predictions move with them, shape (n,)."""
        lost, signals = self._lost(range_, values), self.signals[range_.name]
        if not len(signals):
            return lost, np.zeros(0)
        more = self._above_reference(range_, values, lost + 1e-4)
        return lost, (more - base) / 1e-4

    def _lost(self, range_: Range, values: Mapping[Key, float]) -> Floats:
        signals = self.signals[range_.name]
        front = self._plain[range_.name].selectivity[0]
        if ("ceiling", range_.name) in values:
            front = self._front(range_, values)
        return front.loss_db(signals.x_hz[0], signals.wanted_hz[0])

    # --- what else is asked ------------------------------------------------------------------

    def values(self, at: Floats) -> dict[Key, float]:
        """Return the figures at some coordinates, by key."""
        return {f.key: f.value(x) for f, x in zip(self.figures, at.tolist(), strict=True)}

    def with_signals(self, signals: Mapping[str, Injections]) -> BenchModel:
        """Return the same set with other signals, their output held; every range in play must have some."""
        held_ = {name: np.full(len(signals[name]), math.nan) for name in self.meter_db}
        return BenchModel(self.receiver, self.ranges, signals, self.courses, held_)

    def shift_db(self, at: Floats) -> Floats:
        """Return by how much the wanted signal of the same output stands above the reference, shape (n,).

        Notes
        -----
        0 where the output was held to that of the reference. An S meter shows the same for signals that
        are equal at the detector, so what it shows stands for a wanted signal of some level: S9 and the
        size of an S unit, as fitted, say which. [dB]
        """
        values = self.values(at)
        return np.concatenate([self._shift_db(range_, values) for range_ in self.ranges])

    def _shift_db(self, range_: Range, values: Mapping[Key, float]) -> Floats:
        signals = self.signals[range_.name]
        out = np.zeros(len(signals))
        if range_.name in self.meter_db:
            shown = self.meter_db[range_.name]
            # the marks above S9, in decibels, go by the same scale
            means = values["s9", range_.name] + values["s_unit", SHARED] / DB_PER_S * shown
            out = np.where(np.isnan(shown), 0.0, means - signals.reference_dbm)
        return out

    def _above_reference(
        self, range_: Range, values: Mapping[Key, float], ahead_db: Floats | None = None
    ) -> Floats:
        """Return generator levels above the reference, shape (n,). [dB]"""
        signals, parts = self.signals[range_.name], self.parts(range_, values)
        if range_.name not in self.meter_db:
            return above_wanted_db(parts, signals, ahead_db)
        shift = self._shift_db(range_, values)
        moved = signals.replace(reference_dbm=signals.reference_dbm + shift)
        return above_wanted_db(parts, moved, ahead_db) + shift

    def at_ceiling(self, at: Floats) -> Bools:
        """Return which signals get past the front end by stray coupling alone, shape (n,)."""
        values, out = self.values(at), []
        for range_ in self.ranges:
            parts, signals = self.parts(range_, values), self.signals[range_.name]
            out.append(parts.selectivity[0].strays(signals.x_hz[0], signals.wanted_hz[0]))
        return np.concatenate(out)

    def _concerns(self, figure: Figure, range_: Range) -> bool:
        kind, owner = figure.key[:2]
        if kind == "s_unit":
            return range_.name in self.meter_db
        return owner == range_.name if kind in ("q", "ceiling", "s9") else owner == owner_of(range_)

    def _predicted(self, range_: Range, values: Mapping[Key, float]) -> Floats:
        signals = self.signals[range_.name]
        if not len(signals):
            return np.zeros(0)
        return self._above_reference(range_, values)

    def parts(self, range_: Range, values: Mapping[Key, float]) -> Parts:
        """Return what a signal passes on one range, with the figures in place."""
        plain, owner = self._plain[range_.name], owner_of(range_)
        conversions = self.receiver.conversions_of(range_)
        selectivity, mixer, pickup = list(plain.selectivity), list(plain.mixer), list(plain.pickup_db)
        if ("ceiling", range_.name) in values:
            selectivity[0] = self._front(range_, values)
        for stage, conversion in enumerate(conversions):
            changes = mixer_values(values, owner, stage)
            if changes:
                mixer[stage] = self._mixer(owner, stage, plain.mixer[stage].wanted, conversion.mixer, changes)
            if ("pickup", owner, stage) in values:
                pickup[stage] = values["pickup", owner, stage]
            if ("ultimate", owner, stage) in values and conversion.filter is not None:
                changed = {"ultimate_db": values["ultimate", owner, stage]}
                selectivity[stage + 1] = compile_filter(conversion.filter.unchecked(**changed))
            if ("selectivity_ceiling", owner, stage) in values:
                elements = conversion.selectivity
                if ("selectivity_q", owner, stage) in values:
                    elements = with_mean_q(elements, values["selectivity_q", owner, stage], unchecked)
                ceiling = values["selectivity_ceiling", owner, stage]
                selectivity[stage + 1] = compile_elements(elements, ceiling)
        return Parts(tuple(selectivity), tuple(mixer), tuple(pickup), plain.gain_db)

    def _front(self, range_: Range, values: Mapping[Key, float]) -> Selectivity:
        front, ceiling = self._fronts[range_.name], values["ceiling", range_.name]
        lead = cast(Lead, self._plain[range_.name].selectivity[0])
        course = self.courses.get(range_.name)
        if course is None:
            return lead.with_own(front.with_figures(ceiling))
        log_q = np.array([math.log(values["q", range_.name, number]) for number in range(len(course.at_hz))])
        return lead.with_own(front.with_figures(ceiling, log_q - course.described))

    def _mixer(
        self, owner: str, stage: int, wanted: tuple[int, int], described: Any, changes: dict[str, float]
    ) -> CompiledMixer:
        key = (owner, stage, wanted, *sorted(changes.items()))
        if key not in self._mixers:
            if len(self._mixers) >= _MIXERS_KEPT:
                self._mixers.clear()
            self._mixers[key] = compile_mixer(described.unchecked(**changes), wanted, orders=_ORDERS)
        return self._mixers[key]


def unchecked(element: Circuits | CoupledPair, q: float | tuple[tuple[int, float], ...]) -> Element:
    """Return an element with another Q that nothing checks: for trials, never for a description."""
    return element.unchecked(q=q)
