"""What a crystal is worth: the usable part of the cover in points, less what its handling costs a builder.

A share alone would put a dial that runs backwards into the quietest part of the
air first, and that is where most sets are at their worst.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.planning.converter.candidates import SUM, Candidates
from spurplan.planning.converter.handling import HALF, ODD, Handling, estimates
from spurplan.rows import Rows, floats

Floats = npt.NDArray[np.float64]

TERMS = ("usable", "backwards", "reading", "scale", "drift", "multiplier", "sum")


class Points(Rows):
    """Points of V candidates, each term with its sign: what it adds, or takes off as a negative number.

    Attributes
    ----------
    usable, backwards, reading, scale, drift, multiplier, sum : float64, shape (V,). NaN where it is
        unknown for want of a range.
    """

    usable: Floats = floats()
    backwards: Floats = floats()
    reading: Floats = floats()
    scale: Floats = floats()
    drift: Floats = floats()
    multiplier: Floats = floats()
    sum: Floats = floats()

    @property
    def total(self) -> Floats:
        """All of them together, shape (V,)."""
        total: Floats = np.sum([getattr(self, term) for term in TERMS], axis=0)
        return total

    def deciding(self, upper: int, lower: int) -> str:
        """Return the term by which one candidate is most ahead of another."""
        ahead = [getattr(self, term)[upper] - getattr(self, term)[lower] for term in TERMS]
        return TERMS[int(np.argmax(ahead))]

    def alike(self, upper: int, lower: int) -> bool:
        """Whether two candidates cannot be told apart."""
        return bool(abs(self.total[upper] - self.total[lower]) <= estimates()["points"]["told_apart"])


def points_of(chosen: Candidates, usable_share: Floats, handling: Handling) -> Points:
    """Return the points of candidates.

    Parameters
    ----------
    chosen : Candidates, V of them.
    usable_share : float64, shape (V,). On a busy evening, 0 to 1.
    handling : Handling of them.
    """
    worth = estimates()["points"]
    by_reading = np.zeros(3)
    by_reading[HALF], by_reading[ODD] = worth["half_reading"], worth["odd_reading"]
    return Points(
        usable=100.0 * usable_share,
        backwards=np.where(handling.forward, 0.0, -worth["backwards"]),
        reading=-by_reading[handling.reading],
        scale=-worth["scale_doubling"] * _doublings(handling.spread_khz_mm, estimates()["scale"]["free"]),
        drift=-worth["drift_doubling"] * _doublings(handling.drift_hz, estimates()["drift"]["free"]),
        multiplier=np.where(chosen.multiplier > 1, -worth["multiplier"], 0.0),
        sum=np.where(chosen.side == SUM, -worth["sum"], 0.0),
    )


def _doublings(values: Floats, free: float) -> Floats:
    """Return how often a figure is twice what nobody minds, no less than never."""
    doublings: Floats = np.log2(np.maximum(values / free, 1.0))
    return doublings
