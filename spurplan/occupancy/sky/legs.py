"""Legs: each from a place, in a direction, so far, in a month and at an hour."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.geometry import Points, destination

Floats = npt.NDArray[np.float64]


class Legs(NamedTuple):
    """Ways over the earth, each at its time.

    Attributes
    ----------
    start : Points, shape (n,). One end.
    azimuth : array, shape (n,). From there. [rad]
    distance_km : array, shape (n,). Up to the whole way round. [km]
    month : int array, shape (n,). 1 to 12.
    utc_hour : array, shape (n,). [h]
    r12 : array, shape (n,). Smoothed sunspot number.
    """

    start: Points
    azimuth: Floats
    distance_km: Floats
    month: npt.NDArray[np.int64]
    utc_hour: Floats
    r12: Floats

    def at(self, distance_km: Any) -> Points:
        """Return the places so far along. [km]"""
        return destination(self.start, self.azimuth, distance_km)

    def take(self, which: npt.NDArray[np.intp]) -> Legs:
        """Return some of them."""
        return self._each(lambda column: column[which])

    def as_column(self) -> Legs:
        """Return them with shape (n, 1), so that each can be followed to places of its own."""
        return self._each(lambda column: column[:, None])

    def _each(self, change: Callable[[Any], Any]) -> Legs:
        start = Points(change(self.start.lat), change(self.start.lon))
        return Legs(start, *map(change, self[1:]))
