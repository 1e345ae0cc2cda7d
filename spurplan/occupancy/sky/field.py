"""The median sky-wave field of a station, by short, medium and long wave."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.geometry import EARTH_RADIUS_KM, Points, bearing_and_distance
from spurplan.occupancy.sky.ground_wave import MONOPOLE_GAIN_DBI
from spurplan.occupancy.sky.limits import refuse_outside
from spurplan.occupancy.sky.medium_wave import HIGHEST_MHZ as MEDIUM_WAVE_MHZ
from spurplan.occupancy.sky.medium_wave import night_wave_dbuv
from spurplan.occupancy.sky.path import LEAST_DBUV, Paths

Floats = npt.NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 150_000, 30_000_000
EARTH_ROUND_KM = 2 * np.pi * EARTH_RADIUS_KM
_AT_ONCE = 2000  # paths; more of them want memory for nothing


def field_dbuv(
    lat: npt.ArrayLike,
    *,
    lon: npt.ArrayLike,
    to_lat: npt.ArrayLike,
    to_lon: npt.ArrayLike,
    frequency_hz: npt.ArrayLike,
    month: npt.ArrayLike,
    utc_hour: npt.ArrayLike,
    r12: npt.ArrayLike,
    long_way: npt.ArrayLike = False,
) -> Floats:
    """Return the monthly median sky-wave field for 1 kW e.i.r.p.; all arguments broadcast. [dB(uV/m)]

    Parameters
    ----------
    lat, lon, to_lat, to_lon : float. The two ends, north and east positive. [deg]
    frequency_hz : float. 150 kHz to 30 MHz; below 1.7 MHz the night wave of Rec. ITU-R P.1147 stands. [Hz]
    month : int. 1 to 12.
    utc_hour : float. 0 to 24. [h]
    r12 : float. Sunspot number, smoothed over twelve months; the maps stop at 160.
    long_way : bool. Round the other side of the Earth.

    Returns
    -------
    float array of the broadcast shape. [dB(uV/m)]

    Raises
    ------
    Refused  for every argument with a value outside these limits.

    Notes
    -----
    Against 10,072 measured monthly medians 8.6 dB rms: worth having for hour, season and sunspots,
    and not to be believed in absolute level to better than 15 dB. Sporadic E is left out.
    """
    given = np.broadcast_arrays(
        *(np.asarray(v, float) for v in (lat, lon, to_lat, to_lon, frequency_hz, month, utc_hour, r12)),
        np.asarray(long_way, bool).astype(float),
    )
    limits = {
        "lat": (-90, 90), "lon": (-360, 360), "to_lat": (-90, 90), "to_lon": (-360, 360),
        "frequency_hz": (LOWEST_HZ, HIGHEST_HZ), "month": (1, 12), "utc_hour": (0, 24), "r12": (0, 400),
    }  # fmt: skip
    refuse_outside(dict(zip(limits, given, strict=False)), limits)
    table = np.stack([v.ravel() for v in given])
    # what differs in frequency alone is one path
    of_path = np.delete(table, 4, axis=0)
    paths, which = np.unique(of_path, axis=1, return_inverse=True)
    out = np.empty(table.shape[1])
    for begin in range(0, paths.shape[1], _AT_ONCE):
        some = paths[:, begin : begin + _AT_ONCE]
        here = np.flatnonzero((which >= begin) & (which < begin + _AT_ONCE))
        out[here] = _fields(some, which[here] - begin, table[4, here] / 1e6)
    return out.reshape(given[0].shape)


def _fields(paths: Floats, which: npt.NDArray[np.intp], frequency_mhz: Floats) -> Floats:
    """Return the field of path `which[i]` at `frequency_mhz[i]`."""
    lat, lon, to_lat, to_lon, month, utc_hour, r12, long_way = paths
    start = Points(np.radians(lat), np.radians(lon))
    azimuth, distance_km = bearing_and_distance(start, Points(np.radians(to_lat), np.radians(to_lon)))
    around = long_way > 0
    azimuth = np.where(around, azimuth + np.pi, azimuth)
    distance_km = np.where(around, EARTH_ROUND_KM - distance_km, distance_km)
    worked = Paths(start, azimuth, distance_km, month.astype(int), utc_hour, r12)
    # each path has its own frequencies: as many columns as the path with most of them
    order = np.argsort(which, kind="stable")
    counts = np.bincount(which, minlength=paths.shape[1])
    column = np.empty(len(which), int)
    column[order] = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    f = np.full((paths.shape[1], counts.max()), LOWEST_HZ / 1e6)
    f[which, column] = frequency_mhz
    field = worked.field_dbuv(np.maximum(f, MEDIUM_WAVE_MHZ))[which, column]
    medium = frequency_mhz < MEDIUM_WAVE_MHZ
    if medium.any():
        field[medium] = night_wave_dbuv(worked, f)[which, column][medium] - MONOPOLE_GAIN_DBI
    return np.maximum(field, LEAST_DBUV)
