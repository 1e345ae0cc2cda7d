"""Levels nobody measured: typical ones by service and frequency, and the user's own.

The typical levels are a table in the package's data folder, plain CSV for
everybody to read and to copy; a table of the same form can be given instead.
They are estimates and are called assumed wherever they show.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from importlib.resources import files
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.csvfile import Cells, FaultList, read_csv
from spurplan.errors import BadValue, Fault, Refused, did_you_mean, text_of
from spurplan.files import read_shipped
from spurplan.occupancy.band_rows import SERVICES
from spurplan.occupancy.occupants import FROM_ASSUMED, FROM_OPTION, FROM_TABLE
from spurplan.rows import Rows, bools, column, floats
from spurplan.units import (
    HIGHEST_HZ,
    LOWEST_HZ,
    S_CHANGE_HZ,
    Level,
    headed_hz,
    parse_level,
)

COLUMNS = ("service", "low_khz", "high_khz", "level")

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class LevelTable:
    """Levels by service and frequency.

    Attributes
    ----------
    name : str. The file it came from.
    services : dict of service to (low_hz, high_hz, dbm_low, dbm_high), arrays of
        shape (rows of that service,), ascending. A frequency on an edge that two
        rows share belongs to the lower one.
    others : tuple of str. Columns of the file that nothing reads.
    """

    name: str
    services: Mapping[str, tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], Floats, Floats]]
    others: tuple[str, ...] = ()

    @property
    def loudest_dbm(self) -> float:
        """The loudest level of all, whatever the service. [dBm, 50 ohm]"""
        return max(float(max(low.max(), high.max())) for _, _, low, high in self.services.values())

    def with_levels(self, single: Mapping[str, Level]) -> LevelTable:
        """Return the table with one level for all frequencies of some services."""
        whole = {
            service: (
                np.array([LOWEST_HZ]), np.array([HIGHEST_HZ]),
                np.array([level.dbm_low]), np.array([level.dbm_high]),
            )
            for service, level in single.items()
        }  # fmt: skip
        return LevelTable(self.name, {**self.services, **whole}, self.others)

    def find(self, service: str, frequency_hz: npt.NDArray[np.int64]) -> npt.NDArray[np.intp]:
        """Return the row of the service that holds each frequency, -1 where none does."""
        if service not in self.services:
            return np.full(len(frequency_hz), -1, np.intp)
        low, high, _, _ = self.services[service]
        row = np.searchsorted(high, frequency_hz, side="left")
        inside = row < len(high)
        inside &= low[np.minimum(row, len(high) - 1)] <= frequency_hz
        return np.where(inside, row, -1)

    def dbm(self, service: str, frequency_hz: npt.NDArray[np.int64]) -> Floats:
        """Return the level at each frequency, NaN where the table says nothing. [dBm, 50 ohm]"""
        row = self.find(service, frequency_hz)
        if service not in self.services:
            return np.full(len(frequency_hz), np.nan)
        _, _, low, high = self.services[service]
        level = np.where(frequency_hz <= S_CHANGE_HZ, low[row], high[row])
        return np.where(row >= 0, level, np.nan)


def read_levels(path: str | os.PathLike[str]) -> LevelTable:
    """Read a table of levels: service, low_khz, high_khz, level; other columns are left alone.

    Raises
    ------
    Refused  with every fault; ranges of one service may share an edge and not more.
    """
    return _level_table(read_csv(path, COLUMNS))


@cache
def typical_levels() -> LevelTable:
    """Return the typical levels that come with the package."""
    name = "typical_levels.csv"
    data = read_shipped(files("spurplan") / "data" / name)
    return _level_table(read_csv(name, COLUMNS, data=data))


def _level_table(cells: Cells) -> LevelTable:
    faults = FaultList()
    khz = partial(headed_hz, exponent=3)
    services = cells.parsed("service", _service, faults)
    lows = cells.parsed("low_khz", khz, faults)
    highs = cells.parsed("high_khz", khz, faults)
    levels = cells.parsed("level", parse_level, faults)
    faults.check()
    for index, (low, high) in enumerate(zip(lows, highs, strict=True)):
        if low >= high:
            rule = f"is not below high_khz {cells.columns['high_khz'][index]}"
            value = cells.columns["low_khz"][index]
            place = cells.place(index, "low_khz")
            faults.add(Fault(place, rule, value, "give the lower edge first"))
    table = {}
    for service in dict.fromkeys(services):
        rows = sorted((i for i, s in enumerate(services) if s == service), key=lambda i: (lows[i], highs[i]))
        for before, after in pairwise(rows):
            if lows[after] < highs[before]:
                rule = f"overlaps row {cells.lines[before]} of the same service"
                faults.add(Fault(cells.place(after), rule, remedy="let them share an edge at most"))
        table[service] = (
            np.array([lows[i] for i in rows], np.int64),
            np.array([highs[i] for i in rows], np.int64),
            np.array([levels[i].dbm_low for i in rows]),
            np.array([levels[i].dbm_high for i in rows]),
        )
    faults.check()
    return LevelTable(cells.name, table, cells.others)


def _service(text: str) -> str:
    if not text:
        raise BadValue(text, "is empty", "give a service, such as amateur or broadcast")
    return text.lower()


Levels = Mapping[str, Level | str] | str | os.PathLike[str] | LevelTable | None


def option_levels(levels: Levels, services: Sequence[str]) -> dict[str, Level] | LevelTable:
    """Return the levels somebody asked for, checked.

    Parameters
    ----------
    levels : mapping of service to Level or level text, a path of a table of levels,
        such a table, or None for none.
    services : services there are, besides the known ones.

    Raises
    ------
    Refused  for a service of the mapping that nobody has, what is not a level as text, and
        the faults of a file. Services of a file may belong to tables that are not in use.
    """
    if levels is None:
        return {}
    if isinstance(levels, LevelTable):
        return levels
    if not isinstance(levels, Mapping):
        return read_levels(levels)
    known = tuple(dict.fromkeys((*SERVICES, *services)))
    faults = []
    out = {}
    for name, level in levels.items():
        service = name.strip().lower() if isinstance(name, str) else text_of(name)
        if service not in known:
            faults.append(Fault("levels", "is not a service", text_of(name), did_you_mean(service, known)))
            continue
        try:
            out[service] = level if isinstance(level, Level) else _said_level(level)
        except BadValue as bad:
            faults.append(bad.at(f"levels, {service}"))
    if faults:
        raise Refused(faults)
    return out


def _said_level(level: object) -> Level:
    if not isinstance(level, str):
        raise BadValue(level, "is not a level as text", 'write it with its unit, as "S9+20" or "-53 dBm"')
    return parse_level(level)


def short_aerial_db(hz: npt.ArrayLike) -> Floats:
    """Return what an aerial short for its wavelength loses against a matched lossless one. [dB]

    Notes
    -----
    20 log(15 MHz / f) below 15 MHz: an effective height of 5 m into 50 ohm against a matched
    lossless dipole of the same field, equal at 15 MHz.
    """
    return np.asarray(20.0 * np.log10(15e6 / np.minimum(hz, 15e6)), dtype=np.float64)


class Resolved(Rows):
    """Levels of occupants, and what had to be assumed for them.

    Attributes
    ----------
    dbm : float64 array, shape (n,). [dBm, 50 ohm]
    origin : uint8 array, shape (n,). Index into `occupants.LEVEL_FROM`.
    class_changes : bool array, shape (n,). The typical level changes inside the occupant.
    """

    dbm: Floats = floats()
    origin: npt.NDArray[np.uint8] = column(np.uint8)
    class_changes: npt.NDArray[np.bool_] = bools()


def resolve(
    given_dbm: Floats,
    service: npt.NDArray[Any],
    services: Sequence[str],
    at_hz: npt.NDArray[np.int64],
    to_hz: npt.NDArray[np.int64],
    options: dict[str, Level] | LevelTable,
    typical: LevelTable,
    antenna_gain_db: float,
) -> Resolved:
    """Return the level of each occupant: its own, the one asked for, or the typical one.

    Parameters
    ----------
    given_dbm : float64 array, shape (n,). Level in the band table, NaN for none. [dBm, 50 ohm]
    service : integer array, shape (n,). Index into `services`.
    at_hz, to_hz : int64 arrays, shape (n,). Where the level is looked up (carrier,
        or low edge of a band), and the high edge. [Hz]
    options, typical : levels asked for, and typical ones.
    antenna_gain_db : float. Added to assumed levels alone: the others were said
        to stand at the terminals. [dB]

    Notes
    -----
    A service the typical table does not know takes its loudest level.
    """
    dbm = given_dbm.copy()
    origin = np.where(np.isnan(dbm), FROM_ASSUMED, FROM_TABLE).astype(np.uint8)
    changes = np.zeros(len(dbm), bool)
    for code, name in enumerate(services):
        rows = np.flatnonzero((service == code) & (origin == FROM_ASSUMED))
        if not len(rows):
            continue
        at = at_hz[rows]
        option_dbm = _asked(options, name, at)
        assumed = typical.dbm(name, at) + antenna_gain_db
        assumed = np.where(np.isnan(assumed), typical.loudest_dbm + antenna_gain_db, assumed)
        known = ~np.isnan(option_dbm)
        dbm[rows] = np.where(known, option_dbm, assumed)
        origin[rows[known]] = FROM_OPTION
        changes[rows] = ~known & (typical.find(name, at) != typical.find(name, to_hz[rows]))
    return Resolved(dbm, origin, changes)


def _asked(options: dict[str, Level] | LevelTable, name: str, at_hz: npt.NDArray[np.int64]) -> Floats:
    if isinstance(options, LevelTable):
        return options.dbm(name, at_hz)
    if name not in options:
        return np.full(len(at_hz), np.nan)
    level = options[name]
    return np.where(at_hz <= S_CHANGE_HZ, level.dbm_low, level.dbm_high)
