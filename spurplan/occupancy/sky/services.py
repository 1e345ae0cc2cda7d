"""Who can be heard at a place, month and hour: stations of each service and band, and how loud.

Levels stand at a matched lossless short aerial, as the noise of Rec. ITU-R P.372 does: level over noise
is what is right.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.normal_law import tail_of_many
from spurplan.occupancy.sky.geometry import Points, bearing_and_distance, destination
from spurplan.occupancy.sky.ground_wave import MONOPOLE_GAIN_DBI, ground_wave_dbuv
from spurplan.occupancy.sky.level_law import Law, fit_law
from spurplan.occupancy.sky.medium_wave import DAY_TO_DAY_DB, HIGHEST_MHZ, night_wave_dbuv
from spurplan.occupancy.sky.path import Paths
from spurplan.occupancy.sky.stations import Regions, Stations, shipped_regions, shipped_stations
from spurplan.occupancy.sky.sun import HOUR
from spurplan.occupancy.sky.variability import DECILE_IN_SIGMA

Floats = npt.NDArray[np.float64]

# no set hears what is weaker
FLOOR_DBM = -120.0
LEVELS_DBM = np.arange(FLOOR_DBM, 41, 4.0)
SHORT_DIPOLE_GAIN_DBI = 1.76
# each region stands for three places round its middle
_ROUND_KM, _ROUND = 500.0, np.radians([0.0, 120.0, 240.0])
_NEAREST_KM, _FARTHEST_KM = 100.0, 19_900.0
# local stations: an inner, a middle and an outer ring of 20 km, and the share of them in each
_RINGS_KM, _RING_SHARE = np.array([3.0, 8.0, 16.0]), np.array([0.05, 0.25, 0.7])
_LOCAL_TERRAIN_DB = 6.0


class Heard(NamedTuple):
    """What can be heard at one hour; arrays of shape (rows of `stations`,).

    Attributes
    ----------
    stations : Stations. The rows.
    law : Law. Number above `FLOOR_DBM` in the whole band on an ordinary day, median level, spread.
    busy_number : array. The same number on a busy day.
    loudest_dbm : array. Level that the loudest station exceeds in half of all cases; NaN where there
        is none above the floor as often as that. [dBm]
    """

    stations: Stations
    law: Law
    busy_number: Floats
    loudest_dbm: Floats


class Listening:
    """A place, and what can be heard there; paths are laid once for all hours.

    Parameters
    ----------
    lat, lon : float. North and east positive. [deg]
    r12 : float. Sunspot number, smoothed over twelve months.
    stations, regions : who is on the air and where; those that ship, without.
    """

    def __init__(
        self,
        lat: float,
        lon: float,
        r12: float,
        stations: Stations | None = None,
        regions: Regions | None = None,
    ) -> None:
        self.stations = shipped_stations() if stations is None else stations
        regions = shipped_regions() if regions is None else regions
        count = len(regions.names)
        middles = Points(*(np.repeat(v, len(_ROUND)) for v in regions.at))
        self._from = destination(middles, np.tile(_ROUND, count), _ROUND_KM)
        here = Points(*(np.full(len(self._from.lat), np.radians(v)) for v in (lat, lon)))
        azimuth, distance_km = bearing_and_distance(here, self._from)
        self._here, self._azimuth = here, azimuth
        self._distance_km = np.clip(distance_km, _NEAREST_KM, _FARTHEST_KM)
        self._r12 = np.full(len(azimuth), float(r12))
        share = np.repeat(regions.share[:, self.stations.kind], len(_ROUND), 0) / len(_ROUND)
        self._at_fullest_hour = share * self.stations.number
        self._local = self._local_above(LEVELS_DBM)

    def heard(self, month: int, utc_hour: float) -> Heard:
        """Return what can be heard at an hour (UTC) of a month (1 to 12)."""
        ordinary, busy = self.number_above(month, utc_hour)
        law = fit_law(LEVELS_DBM, ordinary)
        return Heard(self.stations, law, busy[0], _half_exceed(ordinary))

    def number_above(self, month: int, utc_hour: float) -> tuple[Floats, Floats]:
        """Return the expected number above each of `LEVELS_DBM`, shape (levels, rows), ordinary and busy."""
        median_dbm, upper_db, lower_db = self._levels(month, utc_hour)
        on_the_air = self._at_fullest_hour * self.stations.on_the_air((utc_hour + self._from.lon / HOUR) % 24)
        above = LEVELS_DBM[:, None, None] - median_dbm
        # days differ by more on one side than on the other
        above /= np.where(above > 0, upper_db, lower_db)
        distant = np.einsum("pr,lpr->lr", on_the_air, tail_of_many(above))
        return distant + self._local, distant * self.stations.busy_factor + self._local

    def _levels(self, month: int, utc_hour: float) -> tuple[Floats, Floats, Floats]:
        """Return the median level of each row from each place, and sigma upwards and downwards."""
        stations = self.stations
        f = stations.frequency_mhz
        ones = np.ones(len(self._azimuth))
        months = np.full(len(ones), month)
        paths = Paths(self._here, self._azimuth, self._distance_km, months, utc_hour * ones, self._r12)
        low = f < HIGHEST_MHZ
        field = np.empty((len(ones), len(f)))
        upper, lower = np.full_like(field, DAY_TO_DAY_DB), np.full_like(field, DAY_TO_DAY_DB)
        field[:, ~low] = paths.field_dbuv(f[~low])
        upper[:, ~low], lower[:, ~low] = paths.day_to_day_db(f[~low])
        if low.any():
            sky = night_wave_dbuv(paths, f[low])
            ground = ground_wave_dbuv(self._distance_km[:, None], f[low])
            field[:, low] = 10 * np.log10(10 ** (sky / 10) + 10 ** (ground / 10))
        median_dbm = matched_dbm(field + stations.eirp_dbkw, f)
        spreads = (np.hypot(stations.spread_db, decile / DECILE_IN_SIGMA) for decile in (upper, lower))
        return median_dbm, *spreads

    def _local_above(self, level_dbm: Floats) -> Floats:
        """Return the expected number of local stations above levels, by ground wave, shape (levels, rows)."""
        stations = self.stations
        field = ground_wave_dbuv(_RINGS_KM[:, None], stations.frequency_mhz) - MONOPOLE_GAIN_DBI
        median_dbm = matched_dbm(field + stations.eirp_dbkw, stations.frequency_mhz)
        z = (level_dbm[:, None, None] - median_dbm) / np.hypot(stations.spread_db, _LOCAL_TERRAIN_DB)
        return np.asarray(np.einsum("k,lkr->lr", _RING_SHARE, tail_of_many(z)) * stations.local)


def matched_dbm(field_dbuv: Any, frequency_mhz: Any) -> Any:
    """Return what a matched lossless short dipole takes from a field (Rec. ITU-R P.533). [dBm]"""
    return field_dbuv - 20 * np.log10(frequency_mhz) - 77.2 + SHORT_DIPOLE_GAIN_DBI


def _half_exceed(number_above: Floats) -> Floats:
    """Return the level above which the expected number is ln 2, NaN where it never is. [dBm]"""
    wanted = np.log(2)
    out = np.full(number_above.shape[1], np.nan)
    for row, numbers in enumerate(number_above.T):
        if numbers[0] >= wanted:
            out[row] = np.interp(-wanted, -numbers, LEVELS_DBM)
    return out
