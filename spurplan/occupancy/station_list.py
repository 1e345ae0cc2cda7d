"""Somebody's station list made into a band table.

This is the one place that skips rows: lists from elsewhere have remarks and
half-filled lines in them. Every row that is left out is returned with its line
and its reasons, and what is taken has passed the strict reader.
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from spurplan.csvfile import open_csv
from spurplan.csvtext import csv_text
from spurplan.errors import Fault, Refused, did_you_mean
from spurplan.files import LARGEST_BYTES, read_bytes
from spurplan.occupancy.band_rows import QUANTITIES, TEXT_COLUMNS, UNITS, RowReader, Vocabulary, read_heads
from spurplan.units import as_path

KEYS = (*QUANTITIES, *TEXT_COLUMNS)

_RAGGED = "mend the line, or name the right delimiter"
_COLUMN_IN_PLACE = re.compile(r", column (.+)$")


@dataclass(frozen=True)
class Imported:
    """What became of a station list.

    Attributes
    ----------
    text : str. The band table, as CSV.
    taken : int. Rows in it.
    left_out : tuple of Fault. Why each other row is not in it; a row may have
        several reasons.
    skipped : int. Rows left out.
    """

    text: str
    taken: int
    left_out: tuple[Fault, ...]
    skipped: int


def import_list(
    path: str | os.PathLike[str],
    columns: Mapping[str, str],
    unit: str = "kHz",
    delimiter: str = ",",
    decimal_comma: bool = False,
    encoding: str = "utf-8",
) -> Imported:
    """Make a band table of a list in another form.

    Parameters
    ----------
    path : path of the list; its first line that is not blank names the columns.
    columns : mapping of our names (low, high, freq, raster, bandwidth, service, label,
        region, mode, level, hours, days, slot, note, source) to the list's column
        names. A value that begins with = is a text for every row: {"service": "=broadcast"}.
    unit : "Hz", "kHz" or "MHz", of all frequencies in the list.
    delimiter : one character, or "tab".
    decimal_comma : whether 7,1 means 7.1 in it.
    encoding : of the list, such as "utf-8", "latin-1" or "utf-16".

    Raises
    ------
    Refused  for options that do not fit the list, and when no row can be taken.
    """
    name = as_path(path)
    mark = _checked_options(columns, unit, delimiter)
    text = _decoded(name, read_bytes(path, LARGEST_BYTES), encoding)
    records = _records(name, text, mark)
    _, header = next(records, (0, []))
    if isinstance(header, Fault) or not header:
        raise Refused(header if isinstance(header, Fault) else Fault(name, "is empty"))
    where = _found_columns(name, [cell.strip() for cell in header], columns, mark)
    heads = [f"{key}_{unit.lower()}" if key in QUANTITIES else key for key in columns]
    rows: list[list[str]] = []
    lines: list[int] = []
    damaged: list[tuple[int, Fault]] = []
    for line, cells in records:
        if isinstance(cells, Fault):
            damaged.append((line, cells))
        elif len(cells) != len(header):
            rule = f"has {len(cells)} cells where the header has {len(header)}"
            damaged.append((line, Fault(f"{name}, row {line}", rule, remedy=_RAGGED)))
        else:
            row = [_cell(key, cells, where[key], decimal_comma) for key in columns]
            fault = _unusable(f"{name}, row {line}", row)
            if fault is None:
                rows.append(row)
                lines.append(line)
            else:
                damaged.append((line, fault))
    return _checked_rows(name, columns, heads, rows, lines, damaged)


def _checked_options(columns: Mapping[str, str], unit: str, delimiter: str) -> str:
    faults = []
    if unit.lower() not in UNITS:
        faults.append(Fault("unit", "is not a unit of the list", unit, "give Hz, kHz or MHz"))
    mark = "\t" if delimiter == "tab" else delimiter
    if len(mark) != 1 or mark in '"\r\n':
        faults.append(Fault("delimiter", "is not one character", delimiter, 'give , or ; or "tab"'))
    for key in columns:
        if key not in KEYS:
            faults.append(Fault("columns", "is not a name of ours", key, did_you_mean(key, KEYS)))
    for key in ("service", "label"):
        if key not in columns:
            remedy = f'name its column, or one text for all rows: {key}="=text"'
            faults.append(Fault("columns", f"say nothing of {key}", remedy=remedy))
    if "freq" not in columns and not {"low", "high"} <= set(columns):
        faults.append(Fault("columns", "say nothing of frequency", remedy="name freq, or low and high"))
    if faults:
        raise Refused(faults)
    return mark


def _decoded(name: str, data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding).removeprefix("\ufeff")
    except UnicodeError:
        remedy = "name another encoding, such as latin-1"
        raise Refused(Fault(name, f"is not {encoding}", remedy=remedy)) from None
    except (LookupError, ValueError):
        remedy = "give utf-8, latin-1, cp1252 or utf-16"
        raise Refused(Fault("encoding", "is not known here", encoding, remedy)) from None


def _records(name: str, text: str, delimiter: str) -> Iterator[tuple[int, list[str] | Fault]]:
    """Yield (line, cells) of every line that is not blank, a fault where it can not be read."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    last = 0
    while True:
        line = last + 1
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as bad:
            last = reader.line_num
            yield line, Fault(f"{name}, row {line}", f"can not be read: {bad}", remedy="mend its quotes")
            continue
        last = reader.line_num
        if "".join(row).strip():
            yield line, row


def _unusable(place: str, row: list[str]) -> Fault | None:
    """Return what keeps a row from the strict reader, which would skip it or refuse the whole list."""
    if not any(row):
        return Fault(place, "holds nothing in the columns named", remedy="fill it in, or name other columns")
    if any("\0" in cell for cell in row):
        return Fault(place, "holds a NUL byte", remedy="take it out, or name another encoding")
    return None


def _found_columns(
    name: str, header: list[str], columns: Mapping[str, str], delimiter: str
) -> dict[str, int | str]:
    """Return where each of our columns comes from: an index, or the text for every row."""
    faults = []
    where: dict[str, int | str] = {}
    for key, theirs in columns.items():
        if theirs.startswith("="):
            where[key] = theirs[1:]
        elif header.count(theirs) == 1:
            where[key] = header.index(theirs)
        elif theirs in header:
            faults.append(Fault(name, "is the name of two columns", theirs, "rename one of them"))
        else:
            remedy = did_you_mean(theirs, header)
            if len(header) == 1:
                remedy = f'it has one column when split at "{delimiter}": name another delimiter'
            faults.append(Fault(name, "is not a column of it", theirs, remedy))
    if faults:
        raise Refused(faults)
    return where


def _cell(key: str, cells: list[str], where: int | str, decimal_comma: bool) -> str:
    # a row of ours is one line, so that its line leads back to theirs
    text = " ".join((where if isinstance(where, str) else cells[where]).split())
    if decimal_comma and key in QUANTITIES and "." not in text:
        return text.replace(",", ".")
    return text


def _checked_rows(
    name: str,
    columns: Mapping[str, str],
    heads: list[str],
    rows: list[list[str]],
    lines: list[int],
    damaged: list[tuple[int, Fault]],
) -> Imported:
    refused: dict[int, list[Fault]] = {}
    if rows:
        theirs = dict(zip(heads, columns.values(), strict=True))
        data = csv_text(heads, rows).encode("utf-8", "replace")
        sheet = open_csv(name, data=data, kept=len(rows) * len(heads) + 1)
        reader = RowReader(sheet, read_heads(sheet), Vocabulary())
        for batch in sheet.batches():
            reader.read(batch)
        for ours, fault in sheet.faults.by_line():
            line = lines[ours - 2]  # the header is line 1 of ours
            refused.setdefault(ours - 2, []).append(_in_their_words(name, line, fault, theirs))
    taken = [row for number, row in enumerate(rows) if number not in refused]
    reasons = [(lines[number], fault) for number, faults in refused.items() for fault in faults]
    left_out = tuple(fault for _, fault in sorted((*damaged, *reasons), key=lambda found: found[0]))
    if not taken:
        first = Fault(name, "has no row that can be taken", remedy="check the columns, unit and delimiter")
        raise Refused((first, *left_out))
    return Imported(csv_text(heads, taken), len(taken), left_out, len(damaged) + len(refused))


def _in_their_words(name: str, line: int, fault: Fault, theirs: Mapping[str, str]) -> Fault:
    match = _COLUMN_IN_PLACE.search(fault.place)
    column = theirs.get(match[1], "") if match else ""
    place = f"{name}, row {line}" + (f", column {column}" if column else "")
    return Fault(place, fault.rule, fault.value, fault.remedy)
