"""Critical frequency of the E layer.

References
----------
[1] Rec. ITU-R P.1239, section 4.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.geometry import Points
from spurplan.occupancy.sky.sun import HOUR, sun_over

Floats = npt.NDArray[np.float64]

HEIGHT_KM = 110.0
# the maps were drawn from years below this number and are not carried beyond it
HIGHEST_R12 = 160.0


def critical_frequency_mhz(at: Points, month: Any, utc_hour: Any, r12: Any) -> Floats:
    """Return foE [1]; arguments broadcast. [MHz]

    Notes
    -----
    The fourth power of foE is the product of four factors: solar activity, season, latitude and the
    sun's height, the last with a law of its own after sunset.
    """
    sun = sun_over(at, month, utc_hour)
    spots = np.minimum(r12, HIGHEST_R12)
    flux = 63.7 + 0.728 * spots + 0.00089 * spots**2
    latitude = np.abs(at.lat)
    low_latitude = latitude < np.radians(32)
    from_sun = np.abs(at.lat - sun.declination)

    activity = 1 + 0.0094 * (flux - 66)
    cosine = np.cos(at.lat)
    exponent = np.where(low_latitude, -1.93 + 1.92 * cosine, 0.11 - 0.49 * cosine)
    season = np.cos(np.minimum(from_sun, np.radians(80))) ** exponent
    main = np.where(low_latitude, 23 + 116 * cosine, 92 + 35 * cosine)

    power = np.where(latitude <= np.radians(12), 1.31, 1.2)
    zenith = np.degrees(np.arccos(np.clip(sun.cos_zenith, -1, 1)))
    flattened = np.minimum(zenith, 90)
    flattened = flattened - 6.27e-13 * np.maximum(flattened - 50, 0) ** 8
    day = np.maximum(np.cos(np.radians(flattened)), 1e-9) ** power

    since_sunset_h = ((sun.hour_angle - sun.sunset) % (2 * np.pi)) / HOUR
    dusk = np.exp(25.2 - 0.28 * zenith)
    polar_night = from_sun > np.radians(89)
    night = 0.072**power * np.where(polar_night, dusk, np.maximum(dusk, np.exp(-1.4 * since_sunset_h)))

    least = 0.004 * (1 + 0.021 * flux) ** 2
    fourth_power = activity * season * main * np.where(zenith < 90, day, night)
    return np.asarray(np.maximum(fourth_power, least) ** 0.25)
