"""Who is on the air among the occupants: how many, how loud, with what chance.

A row of a band table is no wall of signals. A band is so many stations a megahertz,
each of its own level; a station with a row of its own is on or it is not.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.activity import Activity, activity_of
from spurplan.occupancy.occupants import FROM_TABLE, Occupants
from spurplan.rows import Rows, bools, floats

Floats = npt.NDArray[np.float64]

# A row with a level of its own was heard by whoever wrote it: nearly always on, nearly that loud.
OWN_CHANCE, OWN_SPREAD_DB = 0.9, 3.0
# as loud as such a station ever is, in spreads
LOUD_SPREADS = 2.0
# The loudest station of a service: its typical level of a good hour and this. [dB]
MOST_OVER_TYPICAL_DB = 10.0


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


def present(occupants: Occupants, activity: Activity) -> Presence:
    """Return who is on the air at some hour.

    Parameters
    ----------
    occupants : Occupants.
    activity : Activity. Numbers and levels of each, in the order of the occupants.
    """
    own = occupants.level_from == FROM_TABLE
    # a mast or a full band with a level of its own is everywhere in it
    single = occupants.spot | own
    return Presence(
        per_hz=np.where(single, 0.0, activity.per_mhz * 1e-6),
        chance=np.where(own, OWN_CHANCE, np.where(single, activity.chance, 0.0)),
        single=single,
        median_dbm=np.where(own, occupants.level_dbm, activity.median_dbm),
        spread_db=np.where(own, OWN_SPREAD_DB, activity.spread_db),
        most_dbm=occupants.level_dbm + np.where(own, LOUD_SPREADS * OWN_SPREAD_DB, MOST_OVER_TYPICAL_DB),
        own_level=own,
    )


def everybody(occupants: Occupants) -> Presence:
    """Return everybody on the air at once, each as loud as the service ever is."""
    none = np.zeros(len(occupants))
    own = occupants.level_from == FROM_TABLE
    more = np.where(own, LOUD_SPREADS * OWN_SPREAD_DB, MOST_OVER_TYPICAL_DB)
    return Presence(
        per_hz=none,
        chance=none + 1.0,
        single=np.ones(len(occupants), dtype=np.bool_),
        median_dbm=occupants.level_dbm + more,
        spread_db=none,
        most_dbm=none + np.inf,
        own_level=np.ones(len(occupants), dtype=np.bool_),
    )


__all__ = ["Presence", "activity_of", "everybody", "present"]
