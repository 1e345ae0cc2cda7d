"""One place and hour: all that a question about a set takes from the sky."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.activity import ActivityTable
from spurplan.occupancy.band_rows import SERVICES
from spurplan.occupancy.sky.field import HIGHEST_HZ as SHORT_WAVE_TO_HZ
from spurplan.occupancy.sky.field import LOWEST_HZ as LONG_WAVE_FROM_HZ
from spurplan.occupancy.sky.noise import HIGHEST_HZ, LOWEST_HZ, atmospheric_fa_db
from spurplan.occupancy.sky.own_station import station_dbm
from spurplan.occupancy.sky.services import FLOOR_DBM, Listening
from spurplan.occupancy.sky.this_hour import MARK, activity_at
from spurplan.place import MONTHS, TYPICAL_SUNSPOTS, Place

Floats = npt.NDArray[np.float64]

# Absolute levels are believed to this and no better. [dB]
ERROR_DB = 15.0
_NOISE_POINTS = 60
# what half of all cases exceed is met where so many are expected
_MEDIAN_NUMBER = float(np.log(2.0))
# a day hour by hour, for a few places and sunspot numbers
_HOURS_KEPT, _PLACES_KEPT = 64, 4


@dataclass(frozen=True)
class HereAndNow:
    """A place at an hour of a month.

    Attributes
    ----------
    place : Place.
    month : int. 1 to 12.
    utc_hour : float. [h]
    sunspots : float or None. Smoothed over twelve months; the usual number where nobody gave one.
    """

    place: Place
    _: KW_ONLY
    month: int
    utc_hour: float
    sunspots: float | None = None

    @property
    def r12(self) -> float:
        """The sunspot number that is taken."""
        return TYPICAL_SUNSPOTS if self.sunspots is None else self.sunspots

    @property
    def activity(self) -> ActivityTable:
        """Numbers on the air, levels and spreads of this hour."""
        return _activity(self)

    @property
    def atmospheric(self) -> tuple[tuple[int, float], ...]:
        """Atmospheric noise over kT0B at some frequencies, rising, from 100 kHz to 30 MHz. [Hz, dB]"""
        return _atmospheric(self)

    def loudest_dbm(
        self, service: npt.NDArray[Any], services: Sequence[str], frequency_hz: Floats, region: int
    ) -> Floats:
        """Return the level that the loudest station of each band exceeds in half of all cases. [dBm]

        Parameters
        ----------
        service, services, frequency_hz, region : as in `ActivityTable.rows_for`.

        Returns
        -------
        array, shape (n,), at a matched lossless aerial; NaN for what the sky says nothing of.
        """
        table = self.activity
        rows = table.rows_for(service, services, frequency_hz, region)
        known = np.array([name in SERVICES for name in services])[service]
        of_sky = np.array([mark == MARK for mark in table.mark])[rows]
        return np.where(known & of_sky, _loudest_dbm(self)[rows], np.nan)

    def own_path_dbm(self, lat: Floats, lon: Floats, power_kw: Floats, frequency_hz: Floats) -> Floats:
        """Return the levels of stations whose place and power are known; NaN outside 150 kHz to 30 MHz. [dBm]

        Parameters
        ----------
        lat, lon, power_kw, frequency_hz : arrays, shape (n,). [deg], [deg], [kW], [Hz]
        """
        level = np.full(len(lat), np.nan)
        inside = np.flatnonzero((frequency_hz >= LONG_WAVE_FROM_HZ) & (frequency_hz <= SHORT_WAVE_TO_HZ))
        if len(inside):
            level[inside] = station_dbm(
                self.place.lat, lon=self.place.lon, to_lat=lat[inside], to_lon=lon[inside],
                frequency_hz=frequency_hz[inside], power_kw=power_kw[inside],
                month=self.month, utc_hour=self.utc_hour, r12=self.r12,
            )  # fmt: skip
        return level

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What is taken for granted with it, one clause each."""
        minutes = round(self.utc_hour * 60)
        return self.assumptions_at(f"{minutes // 60:02d}{minutes % 60:02d} UTC")

    def assumptions_at(self, hours: str) -> tuple[str, ...]:
        """Return what is taken for granted of the place at one hour or several, in these words."""
        usual = " (usual; none given)" if self.sunspots is None else ""
        when = f"{MONTHS[self.month - 1]}, {hours}, sunspot number {self.r12:g}{usual}"
        return (
            f"the sky at {self.place}, {when}: medians of the month, "
            f"levels to +-{ERROR_DB:g} dB and no better",
            "sporadic E is left out: in summer, 24 MHz and above is open more often than this says",
            "how many stations are on the air, and their powers, are estimates",
        )


@lru_cache(_PLACES_KEPT)
def _listening(place: Place, r12: float) -> Listening:
    return Listening(place.lat, place.lon, r12)


@lru_cache(_HOURS_KEPT)
def _activity(now: HereAndNow) -> ActivityTable:
    return activity_at(_listening(now.place, now.r12), month=now.month, utc_hour=now.utc_hour)


@lru_cache(_HOURS_KEPT)
def _loudest_dbm(now: HereAndNow) -> Floats:
    """Return the median level of the loudest of each row of the activity, shape (rows,). [dBm]"""
    table, normal = now.activity, NormalDist()
    expected = table.n_per_mhz[0] * table.width_mhz
    scores = [
        normal.inv_cdf(1.0 - _MEDIAN_NUMBER / number) if number > _MEDIAN_NUMBER else -np.inf
        for number in expected.tolist()
    ]
    return np.asarray(np.maximum(table.m_dbm[0] + table.s_db[0] * np.array(scores), FLOOR_DBM))


@lru_cache(_HOURS_KEPT)
def _atmospheric(now: HereAndNow) -> tuple[tuple[int, float], ...]:
    hz = np.round(np.geomspace(LOWEST_HZ, HIGHEST_HZ, _NOISE_POINTS)).astype(np.int64)
    noise = atmospheric_fa_db(
        now.place.lat, lon=now.place.lon, month=now.month, utc_hour=now.utc_hour, frequency_hz=hz
    )
    return tuple(zip(hz.tolist(), noise.fa_db.tolist(), strict=True))
