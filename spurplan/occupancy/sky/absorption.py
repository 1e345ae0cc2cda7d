"""Absorption in the D layer, and the losses of the auroral zones.

References
----------
[1] Rec. ITU-R P.533, section 5 with figures 1 (noon factor), 2 (penetration) and 3 (diurnal exponent).
[2] Rec. ITU-R P.533, table 2 (auroral and other signal losses).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.coefficients import published
from spurplan.occupancy.sky.geometry import Points
from spurplan.occupancy.sky.magnetic_field import geomagnetic_latitude, modified_dip
from spurplan.occupancy.sky.sun import local_hour, sun_over

Floats = npt.NDArray[np.float64]

HEIGHT_KM = 90.0
# rows of the noon table by month, July as June and so on: [1] figure 1 draws nine curves
_CURVE_OF_MONTH = np.array([0, 1, 2, 3, 4, 5, 5, 4, 6, 7, 8, 0])
_HIGHEST_LATITUDE = np.radians(70)
_LEAST_DIURNAL = 0.02
# winter, equinox, summer of the northern hemisphere by month
SEASON = np.array([0, 0, 1, 1, 1, 2, 2, 2, 1, 1, 1, 0])


def absorption_factor(at: Points, dip: Floats, month: Any, utc_hour: Any) -> Floats:
    """Return the absorption factor for R12 = 0: the value at noon times the course of the day [1].

    Notes
    -----
    Departure from the public implementation of [1], which takes the same calendar month of the noon curves
    on both sides of the equator: the noon sun of a southern January is that of a northern July. By hundredths
    of a decibel over all measured hours, and 6.3 dB rms in place of 7.2 on the 123 where it shows.
    """
    sun = sun_over(at, month, utc_hour)
    noon = published("p533")["noon_absorption"]
    curve = _CURVE_OF_MONTH[_month_in_the_north(at, month) - 1]
    position = np.degrees(np.minimum(np.abs(at.lat), _HIGHEST_LATITUDE)) / 2.5
    left = np.minimum(position.astype(int), noon.shape[1] - 2)
    at_noon = noon[curve, left] + (noon[curve, left + 1] - noon[curve, left]) * (position - left)
    exponent = _diurnal_exponent(at, dip, month)
    return np.asarray(at_noon * _diurnal(sun.cos_zenith, exponent) / _diurnal(sun.cos_zenith_noon, exponent))


def _month_in_the_north(at: Points, month: Any) -> npt.NDArray[np.int64]:
    """Return the month that has the same season north of the equator."""
    return np.asarray((np.asarray(month) - 1 + 6 * (at.lat < 0)) % 12 + 1)


def _diurnal_exponent(at: Points, dip: Floats, month: Any) -> Floats:
    tables = published("p533")
    season = _month_in_the_north(at, month) - 1
    steepness = np.minimum(np.abs(modified_dip(at.lat, dip)), _HIGHEST_LATITUDE)
    edge = np.radians(tables["exponent_edge_dip"][season])
    above = steepness > edge
    scaled = np.where(above, (steepness - edge) / (_HIGHEST_LATITUDE - edge), steepness / edge) * 2 - 1
    coefficients = tables["diurnal_exponent"][season, above.astype(int)]
    exponent: Floats = np.zeros_like(scaled)
    for power in range(coefficients.shape[-1] - 1, -1, -1):
        exponent = exponent * scaled + coefficients[..., power]
    return exponent


def _diurnal(cos_zenith: Floats, exponent: Floats) -> Floats:
    zenith = np.minimum(np.arccos(np.clip(cos_zenith, -1, 1)), np.radians(102))
    return np.maximum(np.cos(0.881 * zenith) ** exponent, _LEAST_DIURNAL)


def _penetration_curve(ratio: Floats) -> Floats:
    below = np.polyval([-0.093, 0.04, 0.127, -0.027, 0.044, 0.159, 0.225], (ratio - 0.475) / 0.475)
    above = np.polyval([0.043, -0.07, -0.027, 0.034, 0.054, -0.049, 0.375], (ratio - 1.65) / 0.55)
    deep = np.where(ratio < 10, 0.34 + (10 - ratio) * 0.02 / 7.8, 0.34)
    curve = np.where(
        ratio <= 1, np.minimum(below, 0.53), np.where(ratio <= 2.2, np.minimum(above, 0.53), deep)
    )
    return np.asarray(curve / 0.34)


_RATIOS = np.concatenate([np.arange(0, 2.4, 0.02), [3, 10]])
_PENETRATION = _penetration_curve(_RATIOS)


def penetration(vertical_over_foe: Floats) -> Floats:
    """Return how far a ray goes through the layer, by its vertical frequency over foE ([1] fig. 2)."""
    return np.interp(vertical_over_foe, _RATIOS, _PENETRATION)


def auroral_loss_db(at: Points, month: Any, utc_hour: Any, hop_km: Any) -> Floats:
    """Return the auroral and other losses at a point of a path [2]; arguments broadcast. [dB]"""
    latitude = np.degrees(geomagnetic_latitude(at))
    row = np.clip(((77.5 - latitude) // 5 + 1).astype(int), 0, 7)
    column = (((local_hour(at, utc_hour) - 1) % 24) // 3).astype(int)
    season = SEASON[np.asarray(month) - 1]
    season = np.where(at.lat >= 0, season, 2 - season)
    long_hop = (np.asarray(hop_km) > 2500).astype(int)
    loss = published("p533")["auroral_loss"][long_hop, season, row, column]
    return np.where(latitude < 42.5, 0.0, loss)
