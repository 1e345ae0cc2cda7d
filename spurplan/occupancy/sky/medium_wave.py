"""The sky wave of medium and long waves.

References
----------
[1] Rec. ITU-R P.1147: equation (1) and the form of its hourly loss; its constants from memory.
[2] 47 CFR 73.190: the same geomagnetic pole and limit of 60 deg; upper decile 6 to 10 dB by night.

Notes
-----
No gain from the sea and no polarization coupling loss. The loss by day, 30 to 45 dB on medium and
15 to 25 dB on long wave, is an estimate.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.geometry import Points
from spurplan.occupancy.sky.magnetic_field import geomagnetic_latitude
from spurplan.occupancy.sky.path import Paths
from spurplan.occupancy.sky.sun import HOUR, sun_over

Floats = npt.NDArray[np.float64]

HIGHEST_MHZ = 1.7
LONG_WAVE_MHZ = 0.4
# decile deviation of the night field from day to day, [2]
DAY_TO_DAY_DB = 8.0
_LAYER_KM = 200.0
_END_KM = 750.0  # where the sun counts: that far from either end, or the middle
_NEVER_H = 99.0


def night_wave_dbuv(paths: Paths, frequency_mhz: Floats) -> Floats:
    """Return the sky-wave field for 1 kW from a short monopole, shape (n, f), by day and night. [dB(uV/m)]

    Parameters
    ----------
    paths : Paths, n of them.
    frequency_mhz : array, shape (f,) or (n, f). Below `HIGHEST_MHZ`.
    """
    slant_km = np.hypot(paths.distance_km, _LAYER_KM)
    latitude = np.minimum(geomagnetic_latitude(paths.middle), np.radians(60))
    basic_loss = 2 * np.pi + 4.95 * np.tan(latitude) ** 2
    spots = np.where(latitude > np.radians(45), 0.04 * paths.legs.r12 * slant_km / 1000, 0)
    night = 106.6 - 2 * np.sin(latitude) - 20 * np.log10(slant_km)
    night = night - basic_loss * np.sqrt(slant_km / 1000) - spots
    hourly, highest_sun = _hourly_loss_db(paths)
    long_wave = frequency_mhz < LONG_WAVE_MHZ
    most = np.where(long_wave, 15, 30) + np.where(long_wave, 10, 15) * highest_sun[:, None]
    return np.asarray(night[:, None] - np.minimum(hourly[:, None], most))


def _hourly_loss_db(paths: Paths) -> tuple[Floats, Floats]:
    """Return the loss of the hour, by the worse of two points, and the greater cosine of the noon sun."""
    inside_km = np.minimum(_END_KM, paths.distance_km / 2)
    losses, noons = [], []
    for distance_km in (inside_km, paths.distance_km - inside_km):
        at = paths.legs.at(distance_km)
        loss, noon = _loss_at(at, paths)
        losses.append(loss)
        noons.append(noon)
    return np.maximum(np.maximum(*losses), 0), np.maximum(np.maximum(*noons), 0)


def _loss_at(at: Points, paths: Paths) -> tuple[Floats, Floats]:
    sun = sun_over(at, paths.legs.month, paths.legs.utc_hour)
    night_h = (2 * np.pi - 2 * sun.sunset) / HOUR
    after_sunset_h = ((sun.hour_angle - sun.sunset + HOUR) % (2 * np.pi)) / HOUR - 1
    # hours after sunrise, negative before it; the middle of the day is after both
    after_sunrise_h = np.where(after_sunset_h > night_h + 1, _NEVER_H, after_sunset_h - night_h)
    dusk = np.polyval([-0.3343, 2.892, -9.248, 12.40], np.minimum(after_sunset_h, 4))
    dawn = np.polyval([0.86, 5.62, 12.2, 9.6], np.clip(after_sunrise_h, -3, 1))
    dawn = np.where(after_sunrise_h > -3, dawn, 0)
    by_day = after_sunrise_h == _NEVER_H
    loss = np.maximum(np.where(after_sunset_h < 4, dusk, 0), np.where(by_day, np.inf, dawn))
    return loss, sun.cos_zenith_noon
