"""Loaded Q against frequency inside one range: the described course, moved to where readings put it.

Parallel damping makes Q fall with frequency, series loading makes it rise, so a
range may depart from its description either way; across the wave-change switch
the coils are others and nothing is carried over.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.receiver.description import Circuits, CoupledPair, Element
from spurplan.receiver.resonance import QLaw

Floats = npt.NDArray[np.float64]

# No circuit of a receiver has less or more; a course that runs out of this is held there.
LEAST_Q, MOST_Q = 0.1, 2_000.0
# Settings this near to each other, high over low, tell one Q. A departure that bends wants three.
APART = 1.1
BENDS = 3
# Points that stand for a bent course in a receiver file, which joins them on log-log paper.
_COURSE_POINTS = 7


@dataclass(frozen=True)
class Course:
    """How the mean Q of a range goes with frequency: as described, times what readings make of it.

    Attributes
    ----------
    elements : of the range as described.
    at_hz : tuple of 1 to 3 rising frequencies, at which Q is told. [Hz]

    Notes
    -----
    The logarithm of the factor is the polynomial in log frequency through its values at `at_hz`: a
    height, a slope where there are two, a bend where there are three.
    """

    elements: tuple[Element, ...]
    at_hz: tuple[int, ...]

    @cached_property
    def described(self) -> Floats:
        """Logarithm of the described Q at `at_hz`."""
        return mean_log_q(self.elements, np.array(self.at_hz, dtype=np.float64))

    def weights(self, hz: npt.ArrayLike) -> Floats:
        """Return how much the factor at some frequencies takes of each told one, shape (..., k)."""
        x, at = np.log(np.asarray(hz, dtype=np.float64)), np.log(np.array(self.at_hz, dtype=np.float64))
        out = np.ones((*x.shape, len(at)))
        for k in range(len(at)):
            for other in range(len(at)):
                if other != k:
                    out[..., k] *= (x - at[other]) / (at[k] - at[other])
        return out

    def log_q(self, hz: npt.ArrayLike, log_q: Sequence[float] | Floats) -> Floats:
        """Return the logarithm of Q at some frequencies, from that at `at_hz`. [Hz]"""
        departs = self.weights(hz) @ (np.asarray(log_q, dtype=np.float64) - self.described)
        return held(mean_log_q(self.elements, hz) + departs)

    def curve(
        self, low_hz: int, high_hz: int, log_q: Sequence[float]
    ) -> float | tuple[tuple[int, float], ...]:
        """Return the course as a receiver file takes it: a number, or points over the range."""
        bends = [f for element in tuned(self.elements) for f in QLaw(element.q).knots_hz.tolist()]
        inside = [f for f in bends if low_hz < f < high_hz]
        count = 2 if len(self.at_hz) < BENDS else _COURSE_POINTS
        hz = distinct(np.rint([*np.geomspace(low_hz, high_hz, count), *inside]).astype(np.int64))
        q = np.exp(self.log_q(hz, log_q))
        if np.ptp(np.log(q)) < 1e-9:
            return float(q[0])
        return tuple(zip(hz.tolist(), q.tolist(), strict=True))


def held(log_q: Floats) -> Floats:
    """Return the logarithm of a Q, held to what a circuit can have."""
    return np.clip(log_q, math.log(LEAST_Q), math.log(MOST_Q))


def told_at(dials_hz: Sequence[int]) -> tuple[int, ...]:
    """Return where readings at some dial settings tell Q: one, or the ends and between. [Hz]"""
    low, high = min(dials_hz), max(dials_hz)
    if high < APART * low:
        return (round(math.sqrt(low * high)),)
    middle = round(math.sqrt(low * high))
    return (low, middle, high) if len(set(dials_hz)) >= BENDS else (low, high)


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
    circuits = tuned(elements)
    total = sum(weight_of(element) for element in circuits)
    return np.asarray(sum(weight_of(e) * log_q_of(e, f) for e in circuits) / total)


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
