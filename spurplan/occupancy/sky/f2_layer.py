"""Numerical maps of foF2 and M(3000)F2.

A map is a sum of geographic functions, each times a Fourier series in the hour. The functions are
products of a Legendre polynomial of the sine of the modified dip, a power of the cosine of latitude
and a harmonic of longitude.

References
----------
[1] Rec. ITU-R P.1239, the numerical maps; orders of the functions as in its public implementation.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.coefficients import published
from spurplan.occupancy.sky.e_layer import HIGHEST_R12
from spurplan.occupancy.sky.geometry import Points
from spurplan.occupancy.sky.magnetic_field import modified_dip

Floats = npt.NDArray[np.float64]

# how many Legendre polynomials go with each harmonic of longitude, from harmonic 0
FUNCTIONS = {"f2": (12, 12, 9, 5, 2, 1, 1, 1, 1), "m3000": (7, 8, 6, 3, 2, 1, 1)}
# of foF2 in MHz and of M(3000)F2: what a map may not fall below
LEAST = 1.0


class F2Maps:
    """The maps at some points, ready to be asked for any hour.

    Parameters
    ----------
    at : Points, shape (n,).
    dip : array, shape (n,). Magnetic dip at 300 km. [rad]
    month : int array, shape (n,). 1 to 12.
    r12 : array, shape (n,). Smoothed sunspot number; the maps are linear in it up to 160.
    """

    def __init__(self, at: Points, dip: Floats, month: npt.NDArray[np.int64], r12: Floats) -> None:
        sine = np.sin(modified_dip(at.lat, dip))
        self._functions = {name: _geographic(at, sine, FUNCTIONS[name]) for name in FUNCTIONS}
        self._month = month
        self._activity = np.minimum(r12, HIGHEST_R12) / 100

    def at_hour(self, utc_hour: Floats) -> tuple[Floats, Floats]:
        """Return foF2 [MHz] and M(3000)F2, shape (n,), each point at its own hour, shape (n,)."""
        layers = []
        pairs, which = np.unique(np.stack([self._month, utc_hour]), axis=1, return_inverse=True)
        for name in FUNCTIONS:
            out = np.empty(len(self._month))
            for number, (month, hour) in enumerate(pairs.T):
                here = np.flatnonzero(which == number)
                out[here] = self._evaluate(name, int(month), np.array([hour]), here)[0]
            layers.append(out)
        return layers[0], layers[1]

    def over_the_day(self) -> tuple[Floats, Floats]:
        """Return foF2 [MHz] and M(3000)F2 at 00, 01 ... 23 h UTC, shape (24, n)."""
        layers = []
        for name in FUNCTIONS:
            out = np.empty((24, len(self._month)))
            for month in np.unique(self._month):
                here = np.flatnonzero(self._month == month)
                out[:, here] = self._evaluate(name, int(month), np.arange(24.0), here)
            layers.append(out)
        return layers[0], layers[1]

    def _evaluate(self, name: str, month: int, hours: Floats, here: npt.NDArray[np.intp]) -> Floats:
        """Return the map at hours (h,) and the points `here` (k,), shape (h, k)."""
        coefficients = published("p1239")[name][month - 1]
        series = coefficients @ _hour_harmonics(hours, coefficients.shape[2] // 2)
        functions = self._functions[name][:, here]
        quiet, active = (series[spots].T @ functions for spots in (0, 1))
        return np.asarray(np.maximum(quiet + (active - quiet) * self._activity[here], LEAST))


def _hour_harmonics(hours: Floats, harmonics: int) -> Floats:
    """Return constant, sine and cosine of each harmonic of the hour, shape (1 + 2 harmonics, hours)."""
    angle = np.radians(15 * hours - 180)
    waves: list[Any] = [np.ones_like(angle)]
    for harmonic in range(1, harmonics + 1):
        waves += [np.sin(harmonic * angle), np.cos(harmonic * angle)]
    return np.array(waves)


def _geographic(at: Points, sine: Floats, counts: tuple[int, ...]) -> Floats:
    """Return the geographic functions of a map, shape (functions, n)."""
    legendre = [np.ones_like(sine), sine]
    for degree in range(2, max(counts)):
        legendre.append(((2 * degree - 1) * sine * legendre[-1] - (degree - 1) * legendre[-2]) / degree)
    functions = legendre[: counts[0]]
    for harmonic in range(1, len(counts)):
        power = np.cos(at.lat) ** harmonic
        east, north = power * np.cos(harmonic * at.lon), power * np.sin(harmonic * at.lon)
        for degree in range(counts[harmonic]):
            functions += [legendre[degree] * east, legendre[degree] * north]
    return np.array(functions)
