"""What readings are taken to be good for, and how far off a description may be: the figures of a file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from spurplan.tomlfile import shipped_toml


@dataclass(frozen=True)
class Expected:
    """What readings are taken to be good for and how far a Q departs from its course, one sigma each.

    Attributes
    ----------
    reading_db : float. One reading. [dB]
    reading_worth : float. As how many readings that estimate counts.
    q_slope : float. Exponent of frequency.
    q_bend : float. Second power of log frequency.
    tails : float. Degrees of freedom of the law that descriptions follow.
    s_unit_db, s_unit_spread : float. What an S meter takes for an S unit, and the logarithm of a factor.
    s9_spread_db : float. How far off its S9 may be. [dB]
    meter_db : float. One reading of an S meter. [dB]
    linear_db : float. How far outputs may be apart that are compared by their volts. [dB]
    minutes_a_reading, minutes_a_setting : float. What one takes at the bench. [min]
    """

    reading_db: float
    reading_worth: float
    q_slope: float
    q_bend: float
    tails: float
    s_unit_db: float
    s_unit_spread: float
    s9_spread_db: float
    meter_db: float
    linear_db: float
    minutes_a_reading: float
    minutes_a_setting: float


@cache
def expected() -> Expected:
    """Return the figures of ``data/bench.toml``."""
    read: Mapping[str, Mapping[str, Any]] = MappingProxyType(shipped_toml("bench.toml"))
    reading, description, output = read["reading"], read["description"], read["output"]
    return Expected(
        reading_db=reading["reading"],
        reading_worth=reading["reading_worth"],
        q_slope=description["q_slope"],
        q_bend=description["q_bend"],
        tails=description["tails"],
        s_unit_db=output["s_unit"],
        s_unit_spread=output["s_unit_spread"],
        s9_spread_db=output["s9"],
        meter_db=output["meter_reading"],
        linear_db=output["linear"],
        minutes_a_reading=read["time"]["minutes_a_reading"],
        minutes_a_setting=read["time"]["minutes_a_setting"],
    )
