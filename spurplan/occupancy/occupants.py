"""Occupants: what may be on the air, one entry a station, carrier or band.

Struct of arrays. Text is kept as codes into word lists; a code of -1 means that
the table does not say.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.emissions import emission_of
from spurplan.rows import Rows, bools, column, floats, ints, shared
from spurplan.units import HIGHEST_HZ

LEVEL_FROM = ("table", "option", "assumed", "sky")
# what stands for a label where no table says who is there
BEYOND = "beyond the tables"
FROM_TABLE, FROM_OPTION, FROM_ASSUMED, FROM_SKY = range(4)


class Occupants(Rows):
    """Occupants of a set of band tables, sorted by (low_hz, high_hz, table, row).

    Attributes
    ----------
    low_hz, high_hz : int64 array, shape (n,). Both edges belong to the occupant. [Hz]
    level_dbm : float64 array, shape (n,). At the antenna terminals, never NaN. [dBm, 50 ohm]
    level_from : uint8 array, shape (n,). Index into `LEVEL_FROM`.
    service : int16 array, shape (n,). Index into `services`.
    label : int32 array, shape (n,). Index into `labels`.
    mode : int8 array, shape (n,). Index into `modes`, -1 where the table does not say.
    region : int16 array, shape (n,). Index into `regions` ("1", "1;3", "W"), -1 likewise.
    table : int16 array, shape (n,). Index into `tables`.
    row : int32 array, shape (n,). Physical line in its table, the header being line 1.
    sound : int8 array, shape (n,). What it sounds like, index into `emissions.SOUNDS`.
    width_hz : int32 array, shape (n,). What one station's emission occupies. [Hz]
    spot : bool array, shape (n,). Whether its row is one station on one frequency; false for a
        band and for the carriers of a raster.
    hours_share : float64 array, shape (n,). Of one station, on which share of the days its own hours hold
        the time asked about; -1 where they do not tell, and of a band or raster.
    raster_hz : int64 array, shape (n,). Spacing of the raster whose carrier it is; 0 for all else. [Hz]
    services, labels, modes, regions, tables : tuple of str.
    unknown_services : tuple of str. Services that are in the tables and not among
        the known ones; they take the loudest typical level.
    reach : (low, high). Lowest and highest frequency the tables cover in the region
        asked for, whatever the hour; (0, 0) where they cover nothing. [Hz]
    own_paths : set of (table, row). Rows whose level is that of their own path.
    assumptions : tuple of str. What was taken for granted in making this list.
    """

    sorted_by = ("low_hz", "high_hz", "table", "row")

    low_hz: npt.NDArray[np.int64] = ints()
    high_hz: npt.NDArray[np.int64] = ints()
    level_dbm: npt.NDArray[np.float64] = floats()
    level_from: npt.NDArray[np.uint8] = column(np.uint8)
    service: npt.NDArray[np.int16] = column(np.int16)
    label: npt.NDArray[np.int32] = column(np.int32)
    mode: npt.NDArray[np.int8] = column(np.int8)
    region: npt.NDArray[np.int16] = column(np.int16)
    table: npt.NDArray[np.int16] = column(np.int16)
    row: npt.NDArray[np.int32] = column(np.int32)
    sound: npt.NDArray[np.int8] = column(np.int8)
    width_hz: npt.NDArray[np.int32] = column(np.int32)
    spot: npt.NDArray[np.bool_] = bools()
    hours_share: npt.NDArray[np.float64] = floats()
    raster_hz: npt.NDArray[np.int64] = ints()
    services: tuple[str, ...] = shared()
    labels: tuple[str, ...] = shared()
    modes: tuple[str, ...] = shared()
    regions: tuple[str, ...] = shared()
    tables: tuple[str, ...] = shared()
    unknown_services: tuple[str, ...] = shared(default=())
    reach: tuple[int, int] = shared(default=(0, 0))
    own_paths: frozenset[tuple[int, int]] = shared(default=frozenset())
    assumptions: tuple[str, ...] = shared(default=())

    @property
    def of_own_path(self) -> npt.NDArray[np.bool_]:
        """Whose level is that of its own path, shape (n,)."""
        if not self.own_paths:
            return np.zeros(len(self), dtype=np.bool_)
        rows = [table << 32 | row for table, row in self.own_paths]
        return np.isin(self.table.astype(np.int64) << 32 | self.row, rows)

    def label_of(self, number: int) -> str:
        """Return what an occupant is called in its table."""
        return self.labels[int(self.label[number])]

    def record(self, number: int) -> dict[str, Any]:
        """Return what names an occupant in an answer: label, service, table, row."""
        return {
            "label": self.label_of(number),
            "service": self.services[int(self.service[number])],
            "table": self.tables[int(self.table[number])],
            "row": int(self.row[number]),
        }


def unlisted(hz: int, level_dbm: float, among: Occupants) -> Occupants:
    """Return a carrier that no table knows, beside the reach of those that were asked.

    Parameters
    ----------
    hz : int. [Hz]
    level_dbm : float. The level assumed of it. [dBm, 50 ohm]
    among : Occupants. Whose reach and assumptions are kept.
    """
    return _made_up([(hz, hz)], level_dbm, "a station in no table in use", among)


def strangers(among: Occupants, level_dbm: float, *, gaps: bool = False) -> Occupants:
    """Return what may be on the air below and above the reach of the tables, of which they know nothing.

    Parameters
    ----------
    among : Occupants. Whose reach it is.
    level_dbm : float. The level assumed of them. [dBm, 50 ohm]
    gaps : bool. Whether what lies between those listed is meant too, beyond what they take up.
    """
    low, high = among.reach
    beyond = [(1, low - 1), *(_gaps(among) if gaps else []), (high + 1, HIGHEST_HZ)]
    return _made_up([edges for edges in beyond if edges[0] <= edges[1]], level_dbm, BEYOND, among)


def _gaps(among: Occupants) -> list[tuple[int, int]]:
    """Return what lies inside the reach of the tables and is taken up by nobody, from low to high. [Hz]"""
    low = among.low_hz - among.width_hz // 2
    high = np.maximum.accumulate(among.high_hz + among.width_hz // 2)
    starts = np.flatnonzero(low[1:] > high[:-1] + 1)
    # a local station may lie beyond the reach of the tables
    first, last = among.reach
    return [
        (max(int(high[at]) + 1, first), min(int(low[at + 1]) - 1, last))
        for at in starts.tolist()
        if high[at] < last and low[at + 1] > first
    ]


def _made_up(edges_hz: list[tuple[int, int]], level_dbm: float, label: str, among: Occupants) -> Occupants:
    """Return bands of one label that stand in no table."""
    none = np.zeros(len(edges_hz), dtype=np.int64)
    # nothing is easier to hear than a carrier
    emission = emission_of("broadcast", "")
    low, high = np.array(edges_hz, dtype=np.int64).reshape(-1, 2).T
    return Occupants(
        low_hz=low, high_hz=high, level_dbm=np.full(len(none), level_dbm),
        level_from=np.full(len(none), FROM_ASSUMED, dtype=np.uint8), service=none.astype(np.int16),
        label=none.astype(np.int32), mode=(none - 1).astype(np.int8), region=(none - 1).astype(np.int16),
        table=none.astype(np.int16), row=none.astype(np.int32),
        sound=np.full(len(none), emission.sound, dtype=np.int8),
        width_hz=np.full(len(none), emission.width_hz, dtype=np.int32),
        spot=np.zeros(len(none), dtype=bool), hours_share=np.full(len(none), -1.0), raster_hz=none,
        services=("unlisted",), labels=(label,), modes=(), regions=(), tables=("",),
        reach=among.reach, assumptions=among.assumptions,
    )  # fmt: skip
