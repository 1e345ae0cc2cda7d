"""Who is on the air among the occupants: how many, how loud, with what chance.

A row of a band table is no wall of signals. A band is so many stations a megahertz,
each of its own level; a station with a row of its own is on or it is not.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.occupancy.activity import ActivityTable, Hour, shipped_activity
from spurplan.occupancy.local import LOCAL_TABLE
from spurplan.occupancy.occupants import FROM_OPTION, FROM_SKY, FROM_TABLE, Occupants
from spurplan.occupancy.typical_levels import short_aerial_db, typical_levels
from spurplan.rows import Rows, bools, floats

Floats = npt.NDArray[np.float64]

# as loud as such a station ever is, in spreads
LOUD_SPREADS = 2.0
# The loudest station of a service: its typical level of a good hour and this. [dB]
MOST_OVER_TYPICAL_DB = 10.0
# The same over the loudest of an hour: what levels of the sky may be off by. [dB]
MOST_OVER_SKY_DB = 15.0


class Presence(Rows):
    """What may be received of each occupant; n of them.

    Attributes
    ----------
    per_hz : float64, shape (n,). Stations on the air in one hertz; of a station with a row of its
        own 0. [1/Hz]
    chance : float64, shape (n,). That such a station is on; of a band 0.
    single : bool, shape (n,). Whether it is one station.
    median_dbm : float64, shape (n,). Level of the median station at the terminals. [dBm]
    spread_db : float64, shape (n,). Of a station's own level, one standard deviation. [dB]
    most_dbm : float64, shape (n,). No station is louder. [dBm]
    own_level : bool, shape (n,). Whether the level stands in its row: what is common to a service
        moves it no more.
    """

    per_hz: Floats = floats()
    chance: Floats = floats()
    single: npt.NDArray[np.bool_] = bools()
    median_dbm: Floats = floats()
    spread_db: Floats = floats()
    most_dbm: Floats = floats()
    own_level: npt.NDArray[np.bool_] = bools()


def present(
    occupants: Occupants,
    region: int,
    hour: Hour,
    antenna_gain_db: float = 0.0,
    *,
    terminals: bool = False,
    table: ActivityTable | None = None,
) -> Presence:
    """Return who is on the air at a typical or a busy hour.

    Parameters
    ----------
    occupants : Occupants.
    region : int. ITU region whose numbers apply.
    hour : "typical" or "busy".
    antenna_gain_db : float. Of the aerial in use over a matched lossless one. [dB]
    terminals : bool. Whether the noise was measured at the terminals of the real aerial; levels below
        15 MHz are then lower by what a short aerial loses there.
    table : ActivityTable. Of the place and hour asked about; the one that ships, without.

    Notes
    -----
    Levels and noise stand in one convention: both as a matched lossless aerial would bring them.
    A level of the table's own, or one given for the service, is one of the terminals.
    """
    table = shipped_activity() if table is None else table
    path = occupants.of_own_path
    own = (occupants.level_from == FROM_TABLE) | path
    # a mast or a full band with a level of its own is everywhere in it
    single = occupants.spot | own
    middle = np.sqrt(occupants.low_hz.astype(np.float64) * occupants.high_hz)
    of_band = table.on_the_air(occupants.service, occupants.services, middle, region, hour)
    known = np.where(own, occupants.level_dbm, np.nan)
    spots = table.spots(
        occupants.service, occupants.services, middle, region, hour, known, occupants.hours_share
    )
    shift = antenna_gain_db - (short_aerial_db(middle) if terminals else 0.0)
    shift = shift + _louder_db(occupants, middle, antenna_gain_db)
    median = np.where(own, occupants.level_dbm, np.where(single, spots.level_dbm, of_band.m_dbm) + shift)
    spread = np.where(single, spots.spread_db, of_band.s_db)
    spread = np.where(path, table.own_path_spread_db, spread)
    of_hour = occupants.level_from == FROM_SKY
    over_loudest = np.where(of_hour, MOST_OVER_SKY_DB, MOST_OVER_TYPICAL_DB)
    loudest = np.where(own, LOUD_SPREADS * spread, over_loudest)
    return Presence(
        per_hz=np.where(single, 0.0, of_band.n_per_mhz * 1e-6),
        chance=np.where(_nearby(occupants), 1.0, np.where(single, spots.chance, 0.0)),
        single=single,
        median_dbm=median,
        spread_db=spread,
        # a service that is louder at the median than it was taken to be at its best is as loud as that
        most_dbm=np.maximum(occupants.level_dbm, median) + loudest,
        own_level=own,
    )


def _nearby(occupants: Occupants) -> npt.NDArray[np.bool_]:
    """Return which stations somebody named as local: they are on the air."""
    return np.array([name == LOCAL_TABLE for name in occupants.tables] or [False])[occupants.table]


def _louder_db(occupants: Occupants, hz: Floats, antenna_gain_db: float) -> Floats:
    """Return how much louder than its typical level a service was said to be; 0 where nobody did. [dB]"""
    louder = np.zeros(len(occupants))
    from_option = np.flatnonzero(occupants.level_from == FROM_OPTION)
    typical = typical_levels()
    for code in distinct(occupants.service[from_option]).tolist():
        rows = from_option[occupants.service[from_option] == code]
        level = typical.dbm(occupants.services[code], hz[rows].astype(np.int64))
        level = np.where(np.isnan(level), typical.loudest_dbm, level) + antenna_gain_db
        louder[rows] = occupants.level_dbm[rows] - level
    return louder


def everybody(presence: Presence) -> Presence:
    """Return everybody on the air at once, each as loud as its service ever is."""
    none = np.zeros(len(presence))
    return Presence(
        per_hz=none,
        chance=none + 1.0,
        single=np.ones(len(presence), dtype=np.bool_),
        median_dbm=presence.most_dbm,
        spread_db=none,
        most_dbm=presence.most_dbm,
        own_level=np.ones(len(presence), dtype=np.bool_),
    )


def likely(occupants: Occupants, presence: Presence) -> tuple[Occupants, Floats]:
    """Return who is more likely on the air than not, as loud as the median station, and each one's chance.

    Notes
    -----
    Of a band, where one station or more is expected in it; what is a carrier of a raster, where its channel
    is in use more often than not.
    """
    chance = _chance(occupants, presence)
    there = np.flatnonzero(is_likely(occupants, presence))
    return occupants.take(there, level_dbm=presence.median_dbm[there]), np.minimum(chance[there], 1.0)


def is_likely(occupants: Occupants, presence: Presence) -> npt.NDArray[np.bool_]:
    """Whether somebody is more likely on the air than not, as `likely`, shape (n,)."""
    alone = presence.single | (occupants.raster_hz > 0)
    there: npt.NDArray[np.bool_] = _chance(occupants, presence) >= np.where(alone, 0.5, 1.0)
    return there


def _chance(occupants: Occupants, presence: Presence) -> Floats:
    """Return the chance that a station is on, and the number expected on a band or channel, shape (n,)."""
    width = np.where(occupants.raster_hz > 0, occupants.raster_hz, occupants.high_hz - occupants.low_hz)
    return np.where(presence.single, presence.chance, presence.per_hz * width)
