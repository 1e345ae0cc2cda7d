"""Where the sun stands in the middle of a month.

Declination and equation of time from the usual series in the day of the year (common practice), good
to half a degree and a minute: the tables it is used with know only months.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.geometry import Points

Floats = npt.NDArray[np.float64]

HOUR = np.radians(15.0)  # one hour of the Earth's turn


class Sun(NamedTuple):
    """The sun as it is seen from some points.

    Attributes
    ----------
    declination : array. [rad]
    hour_angle : array. 0 at noon. [rad]
    cos_zenith, cos_zenith_noon : arrays. Cosine of the zenith angle now, and at noon.
    sunset : array. Hour angle of sunset. [rad]
    """

    declination: Floats
    hour_angle: Floats
    cos_zenith: Floats
    cos_zenith_noon: Floats
    sunset: Floats


def sun_over(at: Points, month: Any, utc_hour: Any) -> Sun:
    """Return the sun over `at` at an hour of the middle of a month (1 to 12); arguments broadcast."""
    season = 2 * np.pi * (30.4 * (np.asarray(month) - 1) + 15 - 81) / 365
    declination = np.arcsin(0.398 * np.sin(season + 0.033 * np.sin(season + 1.35)))
    equation_h = (9.87 * np.sin(2 * season) - 7.53 * np.cos(season) - 1.5 * np.sin(season)) / 60
    hour_angle = ((utc_hour + equation_h + at.lon / HOUR) % 24 - 12) * HOUR
    cos_zenith = np.sin(at.lat) * np.sin(declination)
    cos_zenith = cos_zenith + np.cos(at.lat) * np.cos(declination) * np.cos(hour_angle)
    sunset = np.arccos(np.clip(-np.tan(at.lat) * np.tan(declination), -1, 1))
    return Sun(declination, hour_angle, cos_zenith, np.cos(at.lat - declination), sunset)


def local_hour(at: Points, utc_hour: Any) -> Floats:
    """Return local mean time, 0 to 24. [h]"""
    return np.asarray((utc_hour + at.lon / HOUR) % 24)
