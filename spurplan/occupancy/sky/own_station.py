"""The level of a station whose place and power somebody knows."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.band_rows import LEAST_KW, MOST_KW
from spurplan.occupancy.sky.field import field_dbuv
from spurplan.occupancy.sky.geometry import Points, bearing_and_distance
from spurplan.occupancy.sky.ground_wave import MONOPOLE_GAIN_DBI, ground_wave_dbuv
from spurplan.occupancy.sky.limits import refuse_outside
from spurplan.occupancy.sky.medium_wave import HIGHEST_MHZ as MEDIUM_WAVE_MHZ
from spurplan.occupancy.sky.services import matched_dbm

Floats = npt.NDArray[np.float64]

# nearer than this the ground wave is no wave yet
NEAREST_KM = 0.5


def station_dbm(
    lat: npt.ArrayLike,
    *,
    lon: npt.ArrayLike,
    to_lat: npt.ArrayLike,
    to_lon: npt.ArrayLike,
    frequency_hz: npt.ArrayLike,
    power_kw: npt.ArrayLike,
    month: npt.ArrayLike,
    utc_hour: npt.ArrayLike,
    r12: npt.ArrayLike,
) -> Floats:
    """Return the median level of a station at a matched lossless short aerial; arguments broadcast. [dBm]

    Parameters
    ----------
    lat, lon, to_lat, to_lon, frequency_hz, month, utc_hour, r12 : as in `field_dbuv`.
    power_kw : float. E.i.r.p.; below 1.7 MHz power into a mast, a short monopole. 1 mW to 10 MW. [kW]

    Raises
    ------
    Refused  for every argument with a value outside its limits.

    Notes
    -----
    Sky wave and ground wave are added as powers, since nobody knows the phase. No directional aerials, no
    line of sight: in the upper short waves a station within 50 km may be stronger than this.
    """
    power = np.asarray(power_kw, float)
    refuse_outside({"power_kw": power}, {"power_kw": (LEAST_KW, MOST_KW)})
    sky = field_dbuv(
        lat,
        lon=lon,
        to_lat=to_lat,
        to_lon=to_lon,
        frequency_hz=frequency_hz,
        month=month,
        utc_hour=utc_hour,
        r12=r12,
    )
    mhz = np.asarray(frequency_hz, float) / 1e6
    here, there = (
        Points(np.radians(np.asarray(north, float)), np.radians(np.asarray(east, float)))
        for north, east in ((lat, lon), (to_lat, to_lon))
    )
    distance_km = np.maximum(bearing_and_distance(here, there)[1], NEAREST_KM)
    ground = ground_wave_dbuv(distance_km, mhz) - MONOPOLE_GAIN_DBI
    field = 10 * np.log10(10 ** (sky / 10) + 10 ** (ground / 10))
    into_a_mast = np.where(mhz < MEDIUM_WAVE_MHZ, MONOPOLE_GAIN_DBI, 0.0)
    return np.asarray(matched_dbm(field + into_a_mast + 10 * np.log10(power), mhz))
