"""Answers about the band tables themselves: what is in use, and what is on a frequency."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from spurplan import units
from spurplan.cautions import cautions_of
from spurplan.columns import NULL_INT, Answer, Coded, Column, Table, distinct
from spurplan.errors import BadValue, Fault, Refused, text_of
from spurplan.occupancy.bands import Bands, in_tables, read_bands
from spurplan.occupancy.expand import idle_moment, occupants_of, regions_taken, unread
from spurplan.occupancy.frequency_index import OccupantIndex
from spurplan.occupancy.hours import MINUTE_SECONDS, parse_moment
from spurplan.occupancy.occupants import FROM_ASSUMED, LEVEL_FROM, Occupants
from spurplan.occupancy.typical_levels import Levels
from spurplan.place import parse_month, parse_place, parse_sunspots
from spurplan.units import FrequencyLike, as_whole, hz_text

if TYPE_CHECKING:
    from spurplan.occupancy.sky import HereAndNow

BandsOrPaths = Bands | str | os.PathLike[str] | Sequence[str | os.PathLike[str]] | None

TABLES = (
    Column("table", "text", "", False, "table", "file name"),
    Column("rows", "int", "", False, "rows", "rows in it"),
    Column("occupants", "int", "", False, "stations", "stations, carriers and bands they make"),
    Column("low_hz", "int", "Hz", False, "from", "lowest frequency covered"),
    Column("high_hz", "int", "Hz", False, "to", "highest frequency covered"),
    Column("services", "list", "", False, "services", "services in it"),
    Column("document", "text", "", True, "source", "what was transcribed"),
    Column("edition", "text", "", True, "edition", "its edition"),
    Column("section", "text", "", True, "", "where in it"),
    Column("date", "text", "", True, "", "date of the newest text used"),
    Column("changed", "text", "", True, "", "what differs from it, and why"),
    Column("left_out", "text", "", True, "", "what is in it and not in the table, and why"),
    Column("from_memory", "int", "", True, "from memory", "rows nobody could look up"),
    Column("state", "text", "", False, "state", "whether it is as recorded"),
    Column("other_columns", "list", "", False, "other columns", "columns that are left alone"),
    Column("blank_lines", "int", "", False, "", "blank lines skipped"),
)

GAPS = (
    Column("low_hz", "int", "Hz", False, "from", "first frequency nothing is known of"),
    Column("high_hz", "int", "Hz", False, "to", "last such frequency"),
)

ROWS = (
    Column("label", "text", "", False, "label", "station or band"),
    Column("service", "text", "", False, "service", "service"),
    Column("mode", "text", "", True, "mode", "mode, where the table says"),
    Column("region", "text", "", True, "region", "ITU regions, W for all"),
    Column("low_hz", "int", "Hz", False, "from", "lowest frequency, width applied"),
    Column("high_hz", "int", "Hz", False, "to", "highest frequency, width applied"),
    Column("level_dbm", "float", "dBm", False, "level", "level at the antenna terminals"),
    Column("level_from", "text", "", False, "level from", "table, option, sky or assumed"),
    Column("hours", "text", "", True, "hours", "hours in UTC"),
    Column("days", "text", "", True, "days", "days"),
    Column("slot", "text", "", True, "slot", "seconds/cycle+start"),
    Column("table", "text", "", False, "table", "file it stands in"),
    Column("row", "int", "", False, "row", "line there, the header being 1"),
    Column("note", "text", "", True, "note", "remark of the table"),
    Column("source", "text", "", True, "source", "source of the row"),
)


def as_bands(bands: BandsOrPaths) -> Bands:
    """Return tables given as an object, a path, paths, or None for the shipped ones."""
    return bands if isinstance(bands, Bands) else read_bands(bands)


def tables_in_use(bands: BandsOrPaths = None, *, region: int | None = None) -> Answer:
    """Return what the tables cover and where they come from; reading them checks them.

    Parameters
    ----------
    bands : Bands, path, paths, or None for the shipped tables.
    region : 1, 2, 3 or None. Whose gaps to list.

    Raises
    ------
    Refused  with the faults of the files.
    """
    held = as_bands(bands)
    low, high = held.reach(region)
    assumptions = [
        f"the tables reach from {hz_text(low)} to {hz_text(high)}" if high else "no row applies here"
    ]
    assumptions += [*unread(held), *regions_taken(held, region)]
    assumptions += [f'service "{name}" is not among the known ones' for name in held.unknown_services]
    gaps = held.gaps(region)
    tables = {
        "tables": _tables(held),
        "gaps": Table(
            "gaps",
            GAPS,
            {
                "low_hz": np.array([a for a, _ in gaps], np.int64),
                "high_hz": np.array([b for _, b in gaps], np.int64),
            },
        ),
    }
    return Answer(
        "",
        {"bands": _names(held), "region": as_whole(region)},
        tuple(assumptions),
        cautions_of("bands"),
        tables,
    )


def _tables(held: Bands) -> Table:
    low, high = held.extent()
    carriers = held.carriers()
    memory = np.array([*("from memory" in source for source in held.sources), False])[held.source]
    values: dict[str, list[Any]] = {column.name: [] for column in TABLES}
    for number, info in enumerate(held.tables):
        mine = held.table == number
        record = info.record
        services = [held.services[code] for code in distinct(held.service[mine]).tolist()]
        cells = {
            "table": info.name,
            "rows": info.rows,
            "occupants": int(carriers[mine].sum()),
            "low_hz": int(low[mine].min()),
            "high_hz": int(high[mine].max()),
            "services": services,
            "from_memory": len(record.from_memory) if record else int(memory[mine].sum()) or NULL_INT,
            "state": info.state,
            "other_columns": list(info.other_columns),
            "blank_lines": info.blank_lines,
        }
        for key in ("document", "edition", "section", "date", "changed", "left_out"):
            cells[key] = (getattr(record, key) or None) if record else None
        for key, cell in cells.items():
            values[key].append(cell)
    return Table("tables", TABLES, {c.name: _array(c, values[c.name]) for c in TABLES})


def _array(column: Column, cells: list[Any]) -> npt.NDArray[Any]:
    if column.kind == "int":
        return np.array(cells, np.int64)
    array = np.empty(len(cells), object)
    for at, cell in enumerate(cells):  # one by one: numpy would make a matrix of lists
        array[at] = cell
    return array


def on_frequency(
    frequency: FrequencyLike,
    *,
    bands: BandsOrPaths = None,
    region: int | None = None,
    utc: str | None = None,
    day: str | None = None,
    levels: Levels = None,
    place: str | None = None,
    month: int | str | None = None,
    sunspots: float | str | None = None,
) -> Answer:
    """Return what may be on the air on a frequency.

    Parameters
    ----------
    frequency : int [Hz] or text such as "7.1 MHz".
    bands : as in `tables_in_use`; region, utc, day, levels : as in `expand.occupants_of`.
    place, month, sunspots : where, in which month and with how many sunspots; with `utc` the levels are those
        of that hour.

    Raises
    ------
    Refused  for a value or a file that can not be understood.
    """
    held = as_bands(bands)
    hz = units.hz(frequency, "frequency", in_tables(held))
    now = _here_and_now(place, month, utc, sunspots)
    occupants = occupants_of(held, region=region, utc=utc, day=day, levels=levels, now=now)
    present = occupants.take(OccupantIndex(occupants).at(hz))
    timed = utc is not None or day is not None
    assumptions = _said_of(held, present, utc) if len(present) else [_nothing_there(held, region, hz, timed)]
    assumptions += [*unread(held), *regions_taken(held, region)]
    assumptions += idle_moment(held, region, parse_moment(utc, day))
    if now is not None:
        assumptions += now.assumptions
    settings = {
        "at_hz": hz,
        "bands": _names(held),
        "region": as_whole(region),
        "utc": utc,
        "day": day,
        "place": None if now is None else str(now.place),
        "month": None if now is None else now.month,
        "sunspots": None if now is None else now.r12,
    }
    return Answer("", settings, tuple(assumptions), cautions_of("bands"), {"rows": _rows(held, present)})


def _here_and_now(
    place: str | None, month: int | str | None, utc: str | None, sunspots: float | str | None
) -> HereAndNow | None:
    """Return the place and hour asked about; None where no part of it was given.

    Raises
    ------
    Refused  for a part that is none, and for parts that are missing.
    """
    if place is None and month is None and sunspots is None:
        return None
    given = {"place": place, "month": month, "utc": utc}
    faults = [
        Fault(name, "is missing", remedy="give place, month and utc together")
        for name, value in given.items()
        if value is None
    ]
    read: dict[str, Any] = {}
    parsers: dict[str, tuple[Callable[[str], Any], Any]] = {
        "place": (parse_place, place),
        "month": (parse_month, month),
        "sunspots": (parse_sunspots, sunspots),
    }
    for name, (parse, value) in parsers.items():
        if value is not None:
            try:
                read[name] = parse(text_of(value))
            except BadValue as bad:
                faults.append(bad.at(name))
    try:
        second = parse_moment(utc, None).second
    except BadValue as bad:
        faults.append(bad.at("utc"))
    if faults:
        raise Refused(faults)
    from spurplan.occupancy.sky import HereAndNow  # dear to import

    assert second is not None
    hour = second // MINUTE_SECONDS / 60
    return HereAndNow(read["place"], month=read["month"], utc_hour=hour, sunspots=read.get("sunspots"))


def _said_of(held: Bands, occupants: Occupants, utc: str | None) -> list[str]:
    assumptions = []
    if (occupants.level_from == FROM_ASSUMED).any():
        assumptions.append("levels called assumed are typical ones, estimates for a fair aerial")
    if utc is None and (held.schedule[_rows_of(held, occupants)] >= 0).any():
        assumptions.append("no time given: rows with hours or turns of their own are all shown")
    return assumptions


def _rows_of(held: Bands, occupants: Occupants) -> npt.NDArray[np.intp]:
    """Return which rows of the tables the occupants come from."""
    # rows of the tables stand in the order of (table, row)
    key = held.table.astype(np.int64) << 32 | held.row
    return np.searchsorted(key, occupants.table.astype(np.int64) << 32 | occupants.row)


def _nothing_there(held: Bands, region: int | None, hz: int, timed: bool) -> str:
    low, high = held.reach(region)
    unknown = not low <= hz <= high or any(a <= hz <= b for a, b in held.gaps(region))
    if unknown:
        return f"no row of the tables covers {hz_text(hz)}: nothing is known of it"
    when = " at that time" if timed else ""
    return f"no row of the tables has anybody on {hz_text(hz)}{when}"


def _rows(held: Bands, occupants: Occupants) -> Table:
    at = _rows_of(held, occupants)
    schedule = held.schedule[at]
    times = {}
    for number, name in enumerate(("hours", "days", "slot")):
        words = tuple(text[number] for text in held.schedule_texts)
        times[name] = Coded(_known(schedule, words), words)
    return Table(
        "rows",
        ROWS,
        {
            "label": Coded(occupants.label, occupants.labels),
            "service": Coded(occupants.service, occupants.services),
            "mode": Coded(occupants.mode, occupants.modes),
            "region": Coded(occupants.region, occupants.regions),
            "low_hz": occupants.low_hz,
            "high_hz": occupants.high_hz,
            "level_dbm": occupants.level_dbm,
            "level_from": Coded(occupants.level_from.astype(np.int8), LEVEL_FROM),
            **times,
            "table": Coded(occupants.table, occupants.tables),
            "row": occupants.row.astype(np.int64),
            "note": Coded(held.note[at], held.notes),
            "source": Coded(held.source[at], held.sources),
        },
    )


def _known(codes: npt.NDArray[np.int32], words: Sequence[str]) -> npt.NDArray[np.int32]:
    """Return the codes with -1 where the word is empty."""
    empty = np.array([*(not word for word in words), True])
    return np.where(empty[codes], -1, codes).astype(np.int32)


def _names(held: Bands) -> list[str]:
    return [info.name for info in held.tables]
