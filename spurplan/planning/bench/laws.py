"""Loaded Q against frequency inside one range: the laws a fit chooses between.

Parallel damping makes Q fall with frequency, series loading makes it rise, so
the slope may take either sign; across the wave-change switch the coils are
others and nothing is carried over.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.receiver.description import Circuits, CoupledPair, Element
from spurplan.receiver.resonance import QLaw

Floats = npt.NDArray[np.float64]

# No circuit of a receiver has less or more; a law that runs out of this is held there.
LEAST_Q, MOST_Q = 0.1, 2_000.0
# Points that stand for 1/Q = a + b f^2 in a receiver file, which joins them on log-log paper.
_LAW_POINTS = 7


@dataclass(frozen=True)
class Law:
    """One way for Q to go with frequency, told by Q at one or two frequencies.

    Attributes
    ----------
    name : str.
    points : int. How many values of Q tell it.
    """

    name: str
    points: int

    def q(self, hz: npt.ArrayLike, at_hz: Sequence[float], log_q: Sequence[float]) -> Floats:
        """Return Q at some frequencies.

        Parameters
        ----------
        hz : float or array. [Hz]
        at_hz : the frequencies at which Q is given. [Hz]
        log_q : natural logarithm of Q there.
        """
        f = np.asarray(hz, dtype=np.float64)
        if self.points == 1:
            out = np.full(f.shape, math.exp(log_q[0]))
        elif self is POWER:
            share = np.log(f / at_hz[0]) / math.log(at_hz[1] / at_hz[0])
            out = np.exp(np.clip(log_q[0] + share * (log_q[1] - log_q[0]), -50.0, 50.0))
        else:
            share = (f**2 - at_hz[0] ** 2) / (at_hz[1] ** 2 - at_hz[0] ** 2)
            low, high = math.exp(-log_q[0]), math.exp(-log_q[1])
            out = 1.0 / np.maximum(low + share * (high - low), 1e-12)
        return np.asarray(np.clip(out, LEAST_Q, MOST_Q), dtype=np.float64)

    def curve(
        self, low_hz: int, high_hz: int, at_hz: Sequence[float], log_q: Sequence[float]
    ) -> float | tuple[tuple[int, float], ...]:
        """Return the law as a receiver file takes it: a number, or points over the range."""
        if self.points == 1:
            return float(self.q(low_hz, at_hz, log_q))
        count = 2 if self is POWER else _LAW_POINTS
        hz = distinct(np.rint(np.geomspace(low_hz, high_hz, count)).astype(np.int64))
        return tuple(zip(hz.tolist(), self.q(hz, at_hz, log_q).tolist(), strict=True))

    def said(self, at_hz: Sequence[float], log_q: Sequence[float]) -> str:
        """Return the law in words, with its own figures."""
        if self.points == 1:
            return "constant"
        if self is POWER:
            slope = (log_q[1] - log_q[0]) / math.log(at_hz[1] / at_hz[0])
            return f"a power of frequency, f^{slope:+.2f}"
        b = (math.exp(-log_q[1]) - math.exp(-log_q[0])) / (at_hz[1] ** 2 - at_hz[0] ** 2)
        a = math.exp(-log_q[0]) - b * at_hz[0] ** 2
        return f"1/Q = {a:.4g} {'+' if b >= 0 else '-'} {abs(b) * 1e12:.3g} f^2, f in MHz"


CONSTANT = Law("constant", 1)
POWER = Law("power", 2)
LOSSES = Law("1/Q = a + b f^2", 2)
LAWS = (CONSTANT, POWER, LOSSES)


def tuned(elements: Sequence[Element]) -> tuple[Circuits | CoupledPair, ...]:
    """Return the elements that have a loaded Q."""
    return tuple(element for element in elements if isinstance(element, Circuits | CoupledPair))


def weight_of(element: Circuits | CoupledPair) -> int:
    """Return how many circuits share a Q; a coupled pair is two."""
    return element.circuits if isinstance(element, Circuits) else 2


def log_q_of(element: Circuits | CoupledPair, hz: npt.ArrayLike) -> Floats:
    """Return the logarithm of the loaded Q of one element, held above nothing, at some frequencies. [Hz]"""
    f = np.asarray(hz, dtype=np.float64)
    return np.asarray(0.5 * np.log(np.maximum(QLaw(element.q).squared(f), 1e-12)) + np.zeros(f.shape))


def mean_log_q(elements: Sequence[Element], hz: npt.ArrayLike) -> Floats:
    """Return the logarithm of the geometric mean Q of all tuned circuits at some frequencies.

    Notes
    -----
    Far off resonance a front end loses 20 log(Q v) in every circuit, so this mean is what
    readings decide; how it is shared out among the circuits they do not tell.
    """
    f = np.asarray(hz, dtype=np.float64)
    found = tuned(elements)
    total = sum(weight_of(element) for element in found)
    return np.asarray(sum(weight_of(e) * log_q_of(e, f) for e in found) / total)


def with_mean_q(
    elements: Sequence[Element],
    mean_q: float | tuple[tuple[int, float], ...],
    make: Callable[[Circuits | CoupledPair, float | tuple[tuple[int, float], ...]], Element],
) -> tuple[Element, ...]:
    """Return elements whose Q have another geometric mean, their proportions kept.

    Parameters
    ----------
    elements : sequence of elements.
    mean_q : the new mean: a number, or (frequency, Q) in rising order. [Hz]
    make : called with an element and its own Q; returns the new element.
    """
    points = ((1, mean_q),) if isinstance(mean_q, float) else mean_q
    hz = np.array([f for f, _ in points], dtype=np.float64)
    if isinstance(mean_q, float):
        # one number stands for all frequencies: proportions as they are in the middle of what is described
        knots = [f for e in tuned(elements) for f in QLaw(e.q).knots_hz.tolist()]
        hz = np.array([float(np.exp(np.mean(np.log(knots)))) if knots else 1.0])
    mean = mean_log_q(elements, hz)

    def own(element: Circuits | CoupledPair) -> float | tuple[tuple[int, float], ...]:
        ratio = np.exp(log_q_of(element, hz) - mean)
        scaled = [q * float(r) for (_, q), r in zip(points, ratio, strict=True)]
        if isinstance(mean_q, float):
            return scaled[0]
        return tuple((f, q) for (f, _), q in zip(points, scaled, strict=True))

    return tuple(
        make(element, own(element)) if isinstance(element, Circuits | CoupledPair) else element
        for element in elements
    )
