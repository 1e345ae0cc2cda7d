"""Band tables: read, checked, merged.

A row is a band (`low_khz`, `high_khz`), a frequency (`freq_khz`), or a raster
(`low_khz`, `high_khz`, `raster_khz`: a carrier every raster). The optional
column `slot` says that a station takes turns with others: "10/180+20" is on
the air for 10 seconds of every 180, from second 20 on, counted from midnight UTC.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from spurplan.csvfile import Sheet, open_csv
from spurplan.errors import Fault, Refused, text_of
from spurplan.files import read_bytes, read_shipped
from spurplan.occupancy.band_rows import (
    COLUMNS,
    SERVICES,
    SITE_COLUMNS,
    TYPES,
    RowReader,
    Vocabulary,
    collect,
    joined,
    level_of,
    read_heads,
    region_bits,
)
from spurplan.occupancy.hours import Schedule
from spurplan.occupancy.shipped import NO_RECORD, SourceRecord, record_beside, shipped_tables
from spurplan.rows import Rows, column, ints, shared
from spurplan.units import S_CHANGE_HZ, Level, Where, as_path, as_whole, several

if TYPE_CHECKING:
    import pandas as pd

MOST_TABLES = 1_000
# a smaller table is read sooner row by row
SMALL_BYTES = 1 << 16
_CODED = ("service", "label", "mode", "region", "level", "schedule", "site", "note", "source")

# what makes a band table of a list in another form
IMPORTER = "spurplan bands --import FILE --output OURS.csv"


@dataclass(frozen=True)
class TableInfo:
    """What is known of one table.

    Attributes
    ----------
    name : str. How it is called in answers: the file name, or the path where two
        files have one name.
    rows, blank_lines : int.
    columns : tuple of str. Its header.
    other_columns : tuple of str. Columns that were left alone.
    record : SourceRecord or None.
    state : str. Whether the table still is what the record describes.
    """

    name: str
    rows: int
    blank_lines: int
    columns: tuple[str, ...]
    other_columns: tuple[str, ...]
    record: SourceRecord | None
    state: str


class Bands(Rows):
    """Rows of one or more band tables, one entry a row, in the order of the files.

    Attributes
    ----------
    low_hz, high_hz : int64 array, shape (n,). Edges of the row as written; a single
        frequency has both alike. [Hz]
    raster_hz : int64 array. Distance of its carriers, 0 for none. [Hz]
    bandwidth_hz : int64 array. Width of a frequency or carrier, 0 where not given. [Hz]
    service, label, mode, region, level, schedule, site, note, source : integer arrays.
        Index into the list of the same name in the plural; -1 where not given.
    table, row : int16, int32 array. Index into `tables`; physical line, header = 1.
    services, labels, modes, regions, notes, sources : tuple of str.
    levels : tuple of Level.
    sites : float64 array, shape (s, 3). Where stations stand, and with how much power: lat, lon,
        power_kw. [deg, deg, kW]
    schedules : tuple of Schedule; schedule_texts : tuple of (hours, days, slot) as written.
    tables : tuple of TableInfo.
    """

    low_hz: npt.NDArray[np.int64] = ints()
    high_hz: npt.NDArray[np.int64] = ints()
    raster_hz: npt.NDArray[np.int64] = ints()
    bandwidth_hz: npt.NDArray[np.int64] = ints()
    service: npt.NDArray[np.int16] = column(np.int16)
    label: npt.NDArray[np.int32] = column(np.int32)
    mode: npt.NDArray[np.int8] = column(np.int8)
    region: npt.NDArray[np.int16] = column(np.int16)
    level: npt.NDArray[np.int32] = column(np.int32)
    schedule: npt.NDArray[np.int32] = column(np.int32)
    site: npt.NDArray[np.int32] = column(np.int32)
    note: npt.NDArray[np.int32] = column(np.int32)
    source: npt.NDArray[np.int32] = column(np.int32)
    table: npt.NDArray[np.int16] = column(np.int16)
    row: npt.NDArray[np.int32] = column(np.int32)
    services: tuple[str, ...] = shared()
    labels: tuple[str, ...] = shared()
    modes: tuple[str, ...] = shared()
    regions: tuple[str, ...] = shared()
    levels: tuple[Level, ...] = shared()
    sites: npt.NDArray[np.float64] = shared()
    schedules: tuple[Schedule, ...] = shared()
    schedule_texts: tuple[tuple[str, str, str], ...] = shared()
    notes: tuple[str, ...] = shared()
    sources: tuple[str, ...] = shared()
    tables: tuple[TableInfo, ...] = shared()

    @property
    def unknown_services(self) -> tuple[str, ...]:
        """Services in the tables that are not among the known ones."""
        return self.services[len(SERVICES) :]

    def to_frame(self) -> pd.DataFrame:
        """Return a pandas frame, a row a row: words in place of their numbers, empty where not given.

        Notes
        -----
        ``frame.attrs["units"]`` has the unit of each column that has one.
        """
        import pandas as pd

        def worded(codes: npt.NDArray[Any], words: Sequence[Any]) -> Any:
            texts = pd.Index([*words, None], dtype=object)
            return texts[codes]

        names = [info.name for info in self.tables]
        sites = np.vstack([self.sites, np.full((1, 3), np.nan)])[self.site]
        level_low, level_high = (levels[self.level] for levels in level_of(self.levels))
        series: dict[str, Any] = {
            "low_hz": self.low_hz,
            "high_hz": self.high_hz,
            "raster_hz": self.raster_hz,
            "bandwidth_hz": self.bandwidth_hz,
            "service": worded(self.service, self.services),
            "label": worded(self.label, self.labels),
            "mode": worded(self.mode, self.modes),
            "region": worded(self.region, self.regions),
            "level_dbm": np.where(self.high_hz <= S_CHANGE_HZ, level_low, level_high),
            **dict(zip(("hours", "days", "slot"), self._when(worded), strict=True)),
            **{name: sites[:, at] for at, name in enumerate(SITE_COLUMNS)},
            "note": worded(self.note, self.notes),
            "source": worded(self.source, self.sources),
            "table": worded(self.table, names),
            "row": self.row,
        }
        frame = pd.DataFrame(series)
        frame.attrs["units"] = {name: "Hz" for name in series if name.endswith("_hz")} | {
            "lat": "deg",
            "lon": "deg",
            "power_kw": "kW",
            "level_dbm": "dBm",
        }
        return frame

    def _when(self, worded: Callable[[npt.NDArray[Any], Sequence[Any]], Any]) -> list[Any]:
        return [worded(self.schedule, [texts[at] for texts in self.schedule_texts]) for at in range(3)]

    def carriers(self) -> npt.NDArray[np.int64]:
        """Return how many occupants each row makes: 1, or the carriers of a raster."""
        return np.where(
            self.raster_hz > 0, (self.high_hz - self.low_hz) // np.maximum(self.raster_hz, 1) + 1, 1
        )

    def in_region(self, region: int | None) -> npt.NDArray[np.bool_]:
        """Return which rows apply in an ITU region; a row without one applies everywhere.

        Raises
        ------
        Refused  for anything but 1, 2, 3 or None.
        """
        if region is None:
            return np.ones(len(self), bool)
        whole = as_whole(region)
        if whole is None or whole not in (1, 2, 3):
            raise Refused(Fault("region", "is not an ITU region", text_of(region), "give 1, 2 or 3"))
        keep = [bool(region_bits(word) >> (whole - 1) & 1) for word in self.regions]
        return np.array([*keep, True])[self.region]

    def extent(self) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
        """Return the lowest and highest frequency of each row, widths applied. [Hz]"""
        half = -(-self.bandwidth_hz // 2)
        carriers = np.where(
            self.raster_hz > 0, self.low_hz + (self.carriers() - 1) * self.raster_hz, self.high_hz
        )
        return np.maximum(self.low_hz - half, 1), carriers + half

    def reach(self, region: int | None = None) -> tuple[int, int]:
        """Return the lowest and highest frequency covered, (0, 0) for none. [Hz]"""
        keep = self.in_region(region)
        if not keep.any():
            return 0, 0
        low, high = self.extent()
        return int(low[keep].min()), int(high[keep].max())

    def gaps(self, region: int | None = None) -> list[tuple[int, int]]:
        """Return the stretches within reach that no row covers, as (first, last) hertz.

        Notes
        -----
        Nothing is known of them, which is not the same as nothing being there.
        The space between the carriers of a raster counts as covered.
        """
        keep = self.in_region(region)
        low, high = (edge[keep] for edge in self.extent())
        order = np.argsort(low, kind="stable")
        low, high = low[order], np.maximum.accumulate(high[order])
        open_ = np.flatnonzero(low[1:] > high[:-1] + 1)
        return [(int(high[at]) + 1, int(low[at + 1]) - 1) for at in open_]


def read_bands(paths: str | os.PathLike[str] | Sequence[str | os.PathLike[str]] | None = None) -> Bands:
    """Read and check band tables: who may be on the air.

    Parameters
    ----------
    paths : path, sequence of paths, or None for the tables that ship; these can also be named,
        by the word "shipped" in place of a path, to have others beside them.

    Raises
    ------
    Refused  with the faults of all files: the first twenty, then the count.
    """
    if paths is None:
        opened, _ = _opened([SHIPPED])
        return _shipped(tuple(opened))
    if several(paths):
        return _merged(*_opened([as_path(path, "bands") for path in paths]))
    return _merged(*_opened([as_path(paths, "bands")]))


# stands for the tables that ship, among paths of others; a file of that name is ./shipped
SHIPPED = "shipped"
Opened = tuple[str, Traversable, bytes]


def _opened(paths: Sequence[str]) -> tuple[list[Opened], list[Refused]]:
    if not paths:
        raise Refused(Fault("bands", "names no file", remedy="name one, or leave the option out"))
    named = [Path(path) for path in paths if path != SHIPPED]
    if len(named) < len(paths) - 1:
        raise Refused(Fault("bands", "is given twice", SHIPPED, "give every table once"))
    if len(named) > MOST_TABLES:
        raise Refused(Fault("bands", f"names more than {MOST_TABLES} files", remedy="join some of them"))
    shipped = shipped_tables() if len(named) < len(paths) else {}
    opened: list[Opened] = [(name, entry, read_shipped(entry)) for name, entry in shipped.items()]
    refused: list[Refused] = []
    seen: set[str] = set()
    for path in named:
        alone = sum(other.name == path.name for other in named) == 1 and path.name not in shipped
        try:
            data = read_bytes(path)
        except Refused as bad:
            refused.append(bad)
            continue
        real = os.path.realpath(path)
        if real in seen:
            refused.append(Refused(Fault(str(path), "is given twice", remedy="give every file once")))
            continue
        seen.add(real)
        opened.append((path.name if alone else str(path), path, data))
    return opened, refused


@lru_cache(maxsize=1)
def _shipped(opened: tuple[Opened, ...]) -> Bands:
    """Return the tables that ship, the same for all who ask in one process: nobody can write into them."""
    bands = _merged(opened, [])
    for array in (*(getattr(bands, name) for name in bands.column_names), bands.sites):
        array.flags.writeable = False
    return bands


def _merged(opened: Sequence[Opened], refused: list[Refused]) -> Bands:
    words = Vocabulary()
    infos: list[TableInfo] = []
    arrays: list[dict[str, npt.NDArray[Any]]] = []
    for name, entry, data in opened:
        try:
            info, array = read_table(name, data, words, record_beside(entry))
        except Refused as bad:
            refused.append(bad)
            continue
        array["table"] = np.full(len(array["row"]), len(infos), np.int16)
        infos.append(info)
        arrays.append(array)
    if refused:
        raise Refused(
            [fault for refusal in refused for fault in refusal.faults], sum(r.total for r in refused)
        )
    return _bands(joined(arrays, dict.fromkeys((*TYPES, "table"), np.zeros(0))), words, tuple(infos))


def read_table(
    name: str, data: bytes, words: Vocabulary, record: SourceRecord | None
) -> tuple[TableInfo, dict[str, npt.NDArray[Any]]]:
    """Read one table; its words are added to `words`.

    Raises
    ------
    Refused  with the faults of this table.
    """
    sheet = open_csv(name, known=COLUMNS, data=data, maker=IMPORTER)
    array, info = _read_sheet(sheet, words, record, data)
    sheet.faults.check()
    return info, array


def _read_sheet(
    sheet: Sheet, words: Vocabulary, record: SourceRecord | None, data: bytes
) -> tuple[dict[str, npt.NDArray[Any]], TableInfo]:
    heads = read_heads(sheet)
    sheet.faults.check()
    batches = sheet.batches() if len(data) < SMALL_BYTES else sheet.blocks()
    array = collect(RowReader(sheet, heads, words), batches)
    info = TableInfo(
        sheet.name,
        len(array["row"]),
        sheet.blank_lines,
        sheet.header,
        tuple(name for name in sheet.header if name in (*sheet.others, *heads.unread)),
        record,
        record.state(data) if record else NO_RECORD,
    )
    return array, info


def _bands(array: dict[str, npt.NDArray[Any]], words: Vocabulary, infos: tuple[TableInfo, ...]) -> Bands:
    schedules = words.schedules.words()
    return Bands(
        low_hz=array["low"],
        high_hz=array["high"],
        raster_hz=array["raster"],
        bandwidth_hz=array["bandwidth"],
        **{name: array[name] for name in _CODED},
        table=array["table"],
        row=array["row"],
        services=words.services.words(),
        labels=words.labels.words(),
        modes=words.modes.words(),
        regions=words.regions.words(),
        levels=words.levels.words(),
        sites=words.sites.array(),
        schedules=tuple(schedule for schedule, *_ in schedules),
        schedule_texts=tuple((hours, days, slot) for _, hours, days, slot in schedules),
        notes=words.notes.words(),
        sources=words.sources.words(),
        tables=infos,
    )


def in_tables(bands: Bands) -> Where:
    """Return where a frequency without its unit is looked for: where some row lists somebody."""
    return Where(
        "the tables", lambda low, high: bool(np.any((bands.low_hz <= high) & (bands.high_hz >= low)))
    )
