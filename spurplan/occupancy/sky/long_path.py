"""Paths over some thousand kilometres: an operational MUF, a lowest frequency, and a curve between.

References
----------
[1] Rec. ITU-R P.533-14, section 5.3.

Notes
-----
Departure from [1]: the sun's share in the lowest frequency is the mean over 24 points of the path in
place of the penetration points of each hop.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.absorption import HEIGHT_KM as D_LAYER_KM
from spurplan.occupancy.sky.f2_layer import F2Maps
from spurplan.occupancy.sky.geometry import (
    EARTH_RADIUS_KM,
    LOWEST_ELEVATION,
    bearing_and_distance,
    elevation,
    incidence,
    slant_km,
)
from spurplan.occupancy.sky.legs import Legs
from spurplan.occupancy.sky.magnetic_field import dip_and_gyrofrequency
from spurplan.occupancy.sky.sun import HOUR, sun_over

Floats = npt.NDArray[np.float64]

SHORTEST_KM = 3000.0
_MIRROR_KM = 300.0
_SUN_POINTS = (np.arange(24) + 0.5) / 24
# hours back for which the D layer remembers the sun, and what an hour leaves, [1] section 5.3
_MEMORY_HOURS, _HOURLY_DECAY = 4, 0.7945
# winter anomaly of the lowest frequency in per cent by month, north [1]
_WINTER_ANOMALY = np.array([30, 15, 3, 0, 0, 0, 0, 0, 0, 3, 15, 30]) / 100
# W, X, Y of the factor K of the operational MUF [1], for paths east-west and north-south
_K_EAST_WEST, _K_NORTH_SOUTH = np.array([0.1, 1.2, 0.6]), np.array([0.2, 0.2, 0.4])
# f_D of the basic MUF by length of hop, [1]
_HOP_CURVE = (
    -2.40074637494790e-24, 25.8520201885984e-21, -92.4986988833091e-18, 102.342990689362e-15,
    22.0776941764705e-12, 87.4376851991085e-9, 29.1996868566837e-6, 0,
)  # fmt: skip
_MOST_FOCUSING_DB = 15.0


class LongPaths:
    """What of a long path does not depend on frequency, up to 40,000 km.

    Parameters
    ----------
    legs : Legs.

    Attributes
    ----------
    muf_mhz : array, shape (n,). Basic MUF: the lower of those of the two control points. [MHz]
    """

    def __init__(self, legs: Legs) -> None:
        self._legs = legs
        self._distance_km = distance_km = legs.distance_km
        hops = np.ceil(distance_km / 4000)
        hops += elevation(distance_km / hops, _MIRROR_KM) < LOWEST_ELEVATION
        self._hop_km = distance_km / hops
        self._middle = self._legs.at(distance_km / 2)
        self._length_km = slant_km(self._hop_km, elevation(self._hop_km, _MIRROR_KM)) * hops
        self._operational_muf()
        self._lowest_frequency()
        round_earth = np.maximum(np.abs(np.sin(distance_km / EARTH_RADIUS_KM)), 1e-3)
        focusing_db = 10 * np.log10(distance_km / (EARTH_RADIUS_KM * round_earth))
        self._focusing_db = np.minimum(focusing_db, _MOST_FOCUSING_DB)

    def _operational_muf(self) -> None:
        """fM of [1]: at either control point the basic MUF times K, which remembers noon and the night."""
        towards = self._legs.at(self._distance_km / 2 - 50)
        bearing = bearing_and_distance(self._middle, towards)[0] % np.pi
        north_south = np.abs(bearing - np.pi / 2) / (np.pi / 2)
        w, x, y = _K_EAST_WEST[:, None] + (_K_NORTH_SOUTH - _K_EAST_WEST)[:, None] * north_south
        hop_curve: Floats = np.polyval(np.array(_HOP_CURVE), self._hop_km)
        operational, basic, gyros = [], [], []
        for centre in (self._legs.at(self._hop_km / 2), self._legs.at(self._distance_km - self._hop_km / 2)):
            dip, gyro = dip_and_gyrofrequency(centre, _MIRROR_KM)
            maps = F2Maps(centre, dip, self._legs.month, self._legs.r12)
            now = self._basic_muf(*maps.at_hour(self._legs.utc_hour), gyro, hop_curve)
            day = self._basic_muf(*maps.over_the_day(), gyro, hop_curve)
            local = (np.arange(24)[:, None] + centre.lon / HOUR) % 24
            nearest_noon = np.argmin(np.abs(local - 12), 0)
            noon = np.take_along_axis(day, nearest_noon[None], 0)[0]
            k = 1.2 + w * now / noon + x * ((noon / now) ** (1 / 3) - 1) + y * (day.min(0) / noon) ** 2
            operational.append(k * now)
            basic.append(now)
            gyros.append(gyro)
        self._fm_mhz = np.minimum(*operational)
        self.muf_mhz = np.minimum(*basic)
        self._gyro_mhz = (gyros[0] + gyros[1]) / 2

    @staticmethod
    def _basic_muf(f2_mhz: Floats, m3000: Floats, gyro_mhz: Floats, hop_curve: Floats) -> Floats:
        overhead = f2_mhz + gyro_mhz / 2
        return np.asarray(overhead + (1.1 * f2_mhz * m3000 - overhead) * hop_curve)

    def _lowest_frequency(self) -> None:
        """fL of [1]: from the sun on the path now and, fading, in the hours before."""
        hops = np.ceil(self._distance_km / 3000)
        cos_incidence = np.cos(incidence(elevation(self._distance_km / hops, _MIRROR_KM), D_LAYER_KM))
        legs = self._legs.as_column()
        along = legs.at(legs.distance_km * _SUN_POINTS)
        back = np.arange(_MEMORY_HOURS + 1).reshape(-1, 1, 1)
        sun = sun_over(along, legs.month, legs.utc_hour - back)
        sunlight = np.sqrt(np.maximum(sun.cos_zenith, 0)).mean(2) * 2 * hops
        activity = 1 + 0.009 * self._legs.r12
        loss = activity * sunlight / (cos_incidence * np.log(9.5e6 / self._length_km))
        by_night = np.sqrt(self._distance_km / 3000)
        lowest = np.maximum((5.3 * np.sqrt(loss) - self._gyro_mhz) * (1 + self._winter_anomaly()), by_night)
        remembered = lowest * _HOURLY_DECAY ** back[:, :, 0] * (lowest >= 2 * by_night)
        self._fl_mhz = np.maximum(lowest[0], remembered[1:].max(0))

    def _winter_anomaly(self) -> Floats:
        north = self._middle.lat >= 0
        peak = _WINTER_ANOMALY[(self._legs.month - 1 + np.where(north, 0, 6)) % 12]
        latitude = np.abs(np.degrees(self._middle.lat))
        return np.asarray(peak * np.clip(np.minimum(latitude - 30, 90 - latitude) / 30, 0, 1))

    def field_dbuv(self, frequency_mhz: Floats) -> Floats:
        """Return the median field for 1 kW e.i.r.p. at frequencies, shape (n, f) [1]. [dB(uV/m)]"""
        gyro = self._gyro_mhz[:, None]
        f, fm, fl = frequency_mhz + gyro, self._fm_mhz[:, None] + gyro, self._fl_mhz[:, None] + gyro
        shape = (fl**2 / f**2 + f**2 / fm**2) * fm**2 / (fm**2 + fl**2)
        free_space = 139.6 - 20 * np.log10(self._length_km[:, None])
        return np.asarray(free_space * (1 - shape) - 30 + self._focusing_db[:, None] + 0.17)
