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
    # all orders m at once, along the first axis; degree n after degree
    m = np.arange(ORDER + 1.0).reshape(-1, *(1,) * sine.ndim)
    cos_m, sin_m = np.cos(m * at.lon), np.sin(m * at.lon)
    # legendre functions of the sine of latitude, in the scale of [1], and their derivatives
    value, slope = np.zeros_like(cos_m), np.zeros_like(cos_m)
    value[0] = 1
    before, before_slope = np.zeros_like(value), np.zeros_like(value)
    north, east, down = (np.zeros_like(sine) for _ in range(3))
    for n in range(1, ORDER + 1):
        k = ((n - 1) ** 2 - m**2) / ((2 * n - 1) * (2 * n - 3))
        next_value = sine * value - k * before
        next_slope = sine * slope - cosine * value - k * before_slope
        next_value[n] = cosine * value[n - 1]
        next_slope[n] = cosine * slope[n - 1] + sine * value[n - 1]
        before, before_slope, value, slope = value, slope, next_value, next_slope
        g, h = (tables[name][:, n].reshape(m.shape) for name in ("field_g", "field_h"))
        along = g * cos_m + h * sin_m
        falling = shrink ** (n + 2)
        down += falling * (n + 1) * (value * along).sum(0)
        north -= falling * (slope * along).sum(0)
        east += falling * (m * value * (g * sin_m - h * cos_m)).sum(0)
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
