"""Dip and gyrofrequency of the Earth's magnetic field, and latitudes that follow from it.

References
----------
[1] Rec. ITU-R P.1239, section on the magnetic field: spherical harmonics of order six.
[2] Rec. ITU-R P.533, table 2; 47 CFR 73.190: geomagnetic pole at 78.5 N, 68.2 W.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.coefficients import published
from spurplan.occupancy.sky.geometry import EARTH_RADIUS_KM, Points

Floats = npt.NDArray[np.float64]

ORDER = 6
POLE_LAT, POLE_LON = np.radians(78.5), np.radians(-68.2)
# electron gyrofrequency of a field of one gauss, as in [1]
GYRO_MHZ_PER_GAUSS = 2.8


def dip_and_gyrofrequency(at: Points, height_km: float) -> tuple[Floats, Floats]:
    """Return the magnetic dip [rad], positive in the north, and the gyrofrequency [MHz] at a height."""
    tables = published("p1239")
    shrink = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + height_km)
    sine, cosine = np.sin(at.lat), np.maximum(np.cos(at.lat), 1e-6)
    cos_m = [np.cos(m * at.lon) for m in range(ORDER + 1)]
    sin_m = [np.sin(m * at.lon) for m in range(ORDER + 1)]
    # legendre functions P[m, n] of the sine of latitude, in the scale of [1], and their derivatives
    zero = np.zeros_like(sine)
    value = {(0, 0): zero + 1}
    slope = {(0, 0): zero}
    north, east, down = zero, zero, zero
    for n in range(1, ORDER + 1):
        falling = shrink ** (n + 2)
        for m in range(n + 1):
            if m == n:
                before, before_slope = value[m - 1, n - 1], slope[m - 1, n - 1]
                value[m, n] = cosine * before
                slope[m, n] = cosine * before_slope + sine * before
            else:
                k = ((n - 1) ** 2 - m * m) / ((2 * n - 1) * (2 * n - 3)) if n > 1 else 0.0
                before, before_slope = value[m, n - 1], slope[m, n - 1]
                value[m, n] = sine * before - k * value.get((m, n - 2), zero)
                slope[m, n] = sine * before_slope - cosine * before - k * slope.get((m, n - 2), zero)
            g, h = tables["field_g"][m, n], tables["field_h"][m, n]
            along = g * cos_m[m] + h * sin_m[m]
            down = down + falling * (n + 1) * value[m, n] * along
            north = north - falling * slope[m, n] * along
            east = east + falling * m * value[m, n] * (g * sin_m[m] - h * cos_m[m])
    horizontal = north**2 + (east / cosine) ** 2
    return np.arctan(down / np.sqrt(horizontal)), GYRO_MHZ_PER_GAUSS * np.sqrt(horizontal + down**2)


def modified_dip(lat: Floats, dip: Floats) -> Floats:
    """Return the modified dip of the numerical maps [1]. [rad]"""
    return np.arctan2(dip, np.sqrt(np.maximum(np.cos(lat), 0)))


def geomagnetic_latitude(at: Points) -> Floats:
    """Return the absolute geomagnetic latitude [2]. [rad]"""
    sine = np.sin(at.lat) * np.sin(POLE_LAT)
    sine = sine + np.cos(at.lat) * np.cos(POLE_LAT) * np.cos(at.lon - POLE_LON)
    return np.asarray(np.abs(np.arcsin(np.clip(sine, -1, 1))))
