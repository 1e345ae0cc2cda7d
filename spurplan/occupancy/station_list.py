"""Somebody's station list made into a band table.

This is the one place that skips rows: lists from elsewhere have remarks and
half-filled lines in them. Every row that is left out is returned with its line
and its reasons, and what is taken has passed the strict reader. How the list is
written is found out from it, by `list_form`, where it is not told.
"""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from typing import NamedTuple

import numpy as np

from spurplan.csvfile import REMARKS, open_csv
from spurplan.csvtext import csv_text
from spurplan.errors import BadValue, Fault, Refused, did_you_mean, text_of
from spurplan.files import LARGEST_BYTES, read_bytes
from spurplan.occupancy import list_form
from spurplan.occupancy.band_rows import (
    QUANTITIES,
    SERVICES,
    SITE_COLUMNS,
    TEXT_COLUMNS,
    RowReader,
    Vocabulary,
    read_heads,
)
from spurplan.occupancy.list_form import Form, Line, Unclear
from spurplan.occupancy.list_reach import Hz, beyond_reach, in_bands, reach_hz, services_by_bands
from spurplan.units import as_path, flag_faults, headed_hz, hz_text, pythons_own

KEYS = (*QUANTITIES, *TEXT_COLUMNS, *list_form.TIMES)

_RAGGED = "mend the line, or name the right delimiter"
_ROW_IN_PLACE = re.compile(r"(.+), row ([0-9]+)(, column .+)?", re.DOTALL)
_MOST_RUNS = 8
_COLUMN_IN_PLACE = re.compile(r", column (.+)$")
_UNIT_NAMES = {"hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz"}
_TRIED = 2_000
# Of the frequencies: as many are nearly all of them; and where another service or unit puts more than so
# many into bands as the best one does, it stays open which of the two it is. [est]
NEARLY_ALL = 0.8
MOST_OF_ANOTHER = 0.6


@dataclass(frozen=True)
class ServiceFound:
    """The service that the frequencies of a list leave, where no column tells it.

    Attributes
    ----------
    service : str.
    within, of : int. Rows in bands of that service, of all rows with a frequency that were looked at.
    """

    service: str
    within: int
    of: int


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
    form : Form. How the list was read.
    above : int. Lines above its heads.
    questioned : tuple of Fault. What was taken and looks wrong: services that nobody has there,
        services that are not known, sites that are not whole.
    has_levels : bool. Whether any row says how loud it is, or where it stands.
    service_found : ServiceFound or None. Which service all rows were taken for, where no column tells it.
    days_unread : tuple of Fault. Rows whose days could not be read: taken as on the air every day.
    has_hours : bool. Whether a row of one frequency lists its hours.
    not_taken : tuple of str. Columns of the list that nothing is taken from.
    part_of_site : tuple of str. Those of them that tell a part of a site: it is worked with whole.
    """

    text: str
    taken: int
    left_out: tuple[Fault, ...]
    skipped: int
    form: Form
    above: int
    questioned: tuple[Fault, ...]
    has_levels: bool
    has_hours: bool = False
    service_found: ServiceFound | None = None
    days_unread: tuple[Fault, ...] = ()
    not_taken: tuple[str, ...] = ()
    part_of_site: tuple[str, ...] = ()

    @property
    def mostly_left_out(self) -> bool:
        """Whether more rows are left out than taken."""
        return self.skipped > self.taken


def import_list(
    path: str | os.PathLike[str],
    *,
    columns: Mapping[str, str] | None = None,
    unit: str | None = None,
    delimiter: str | None = None,
    decimal_comma: bool | None = None,
    encoding: str | None = None,
) -> Imported:
    """Make a band table of a list in another form.

    Parameters
    ----------
    path : path of the list, a text or a workbook; a line above its rows names the columns.
    columns : mapping of our names (low, high, freq, raster, bandwidth, service, label, region, mode,
        level, hours, days, slot, lat, lon, power_kw, note, source; start and end, which make hours) to the
        list's column names, as far as these have to be told. A value that begins with = is a text for
        every row: {"service": "=broadcast"}.
    unit : "Hz", "kHz", "MHz" or "GHz", of all frequencies in the list; None to find it out.
    delimiter : one character, or "tab"; None to find it out.
    decimal_comma : whether 7,1 means 7.1 in it; None to find it out.
    encoding : of the list, such as "utf-8", "latin-1" or "utf-16"; None to find it out.

    Raises
    ------
    Unclear  when it can be read in no way or in several, with a proposal.
    Refused  for options that do not fit the list, and when no row can be taken.
    """
    name = as_path(path)
    decimal_comma = pythons_own(decimal_comma)
    mark = _checked_options(columns, unit, delimiter, decimal_comma, encoding)
    given = {} if columns is None else dict(columns)
    data = read_bytes(path, LARGEST_BYTES)
    lines, encoding_read, mark = _lines(name, data, encoding, mark)
    at = list_form.head_at(name, lines)
    head_line, heads = lines[at]
    head = [" ".join(cell.split()) for cell in heads] if isinstance(heads, list) else []
    body, damaged = _body(name, lines[at + 1 :], len(head))
    cells = [row for _, row in body]
    where, service_found = _columns(name, head, cells, given, mark, unit, decimal_comma)
    try:
        read_unit, comma = _numbers(name, head, cells, where, unit, decimal_comma)
    except Unclear as unclear:
        unclear.columns = given
        raise
    options = {"encoding": encoding, "delimiter": delimiter, "unit": unit, "decimal_comma": decimal_comma}
    inferred = {key for key, value in options.items() if value is None} | (where.keys() - given.keys())
    in_part = _part_of_site(where)
    where = {key: theirs for key, theirs in where.items() if key not in in_part}
    inferred -= in_part.keys()
    form = Form(encoding_read, mark, head_line, _UNIT_NAMES[read_unit], comma, where, frozenset(inferred))
    made = _Made(name, form, head, None if unit is None else read_unit)
    not_taken = tuple(theirs for theirs in head if theirs and theirs not in where.values())
    table = made.table(body, damaged, at)
    return replace(
        table, service_found=service_found, not_taken=not_taken, part_of_site=tuple(in_part.values())
    )


def _part_of_site(where: Mapping[str, str]) -> dict[str, str]:
    """Return the columns of a site that does not have all of them: no level can be worked out from it."""
    site = {key: where[key] for key in SITE_COLUMNS if key in where}
    return {} if len(site) == len(SITE_COLUMNS) else site


def _checked_options(
    columns: Mapping[str, str] | None,
    unit: str | None,
    delimiter: str | None,
    decimal_comma: bool | None,
    encoding: str | None,
) -> str:
    """Return the delimiter as a character, "" where it is to be found out.

    Raises
    ------
    Refused  with every option that is none.
    """
    faults = [
        Fault(option, "is not text", text_of(value), "give it in quotes")
        for option, value in (("unit", unit), ("delimiter", delimiter), ("encoding", encoding))
        if value is not None and not isinstance(value, str)
    ]
    if columns is not None and not _are_names(columns):
        remedy = 'give a mapping of our names to the list\'s, as {"freq": "Frequency"}'
        faults.append(Fault("columns", "is no mapping of names", text_of(columns), remedy))
    if decimal_comma is not None:
        faults += flag_faults(decimal_comma, "decimal_comma")
    if faults:
        raise Refused(faults)
    if unit is not None and unit.lower() not in list_form.UNITS:
        faults.append(Fault("unit", "is not a unit of the list", unit, "give Hz, kHz, MHz or GHz"))
    mark = "\t" if delimiter == "tab" else delimiter or ""
    if delimiter is not None and (len(mark) != 1 or mark in '"\r\n'):
        faults.append(Fault("delimiter", "is not one character", delimiter, 'give , or ; or "tab"'))
    named = columns or {}
    for key in named:
        if key not in KEYS:
            faults.append(Fault("columns", "is not a name of ours", key, did_you_mean(key, KEYS)))
    ends = [key for key in list_form.TIMES if key in named]
    if "hours" in named and ends:
        faults.append(Fault("columns", "stands beside hours", ends[0], "give hours, or start and end"))
    elif len(ends) == 1:
        faults.append(Fault("columns", "is one end of a span", ends[0], "give start and end"))
    if faults:
        raise Refused(faults)
    return mark


def _are_names(columns: object) -> bool:
    return isinstance(columns, Mapping) and all(
        isinstance(name, str) for name in (*columns, *columns.values())
    )


def _lines(name: str, data: bytes, encoding: str | None, mark: str) -> tuple[list[Line], str, str]:
    """Return the lines of a list that are not blank, its encoding and its delimiter."""
    if list_form.is_workbook(data):
        return list_form.workbook_lines(name, data), "", ""
    encoding = encoding or list_form.encoding_of(data)
    text = _decoded(name, data, encoding)
    if not text.strip():
        raise Refused(Fault(name, "is empty", remedy="give a list with heads and rows"))
    mark = mark or list_form.delimiter_of(name, text)
    return list(list_form.records(name, text, mark)), encoding, mark


def _decoded(name: str, data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding).removeprefix("\ufeff")
    except UnicodeError:
        remedy = "name another encoding, such as latin-1"
        raise Refused(Fault(name, f"is not {encoding}", remedy=remedy)) from None
    except (LookupError, ValueError):
        remedy = "give utf-8, latin-1, cp1252 or utf-16"
        raise Refused(Fault("encoding", "is not known here", encoding, remedy)) from None


def _body(
    name: str, lines: Sequence[Line], width: int
) -> tuple[list[tuple[int, list[str]]], list[tuple[int, Fault]]]:
    """Return the lines that are rows, and those that can not be, each with its line."""
    rows: list[tuple[int, list[str]]] = []
    damaged: list[tuple[int, Fault]] = []
    for line, cells in lines:
        if isinstance(cells, Fault):
            damaged.append((line, cells))
        elif len(cells) != width:
            rule = f"has {len(cells)} cells where the header has {width}"
            damaged.append((line, Fault(f"{name}, row {line}", rule, remedy=_RAGGED)))
        else:
            rows.append((line, cells))
    return rows, damaged


def _columns(
    name: str,
    head: list[str],
    body: list[list[str]],
    given: Mapping[str, str],
    mark: str,
    unit: str | None,
    decimal_comma: bool | None,
) -> tuple[dict[str, str], ServiceFound | None]:
    """Return which column of the list is which of ours, and the service where none tells it.

    Raises
    ------
    Unclear  where one is missing, with what its contents propose.
    """
    faults = []
    for theirs in given.values():
        if theirs.startswith("=") or head.count(theirs) == 1:
            continue
        if theirs in head:
            faults.append(Fault(name, "is the name of two columns", theirs, "rename one of them"))
        else:
            remedy = did_you_mean(theirs, head)
            if len(head) == 1:
                remedy = f'it has one column when split at "{mark}": name another delimiter'
            faults.append(Fault(name, "is not a column of it", theirs, remedy))
    if faults:
        raise Refused(faults)
    where = list_form.by_heads(head, given)
    hours = where.get("hours", "")
    if "hours" not in given and hours in head and not list_form.are_hours(_column(head, body, hours)):
        del where["hours"]  # a head that says time may mean another
    service_found = None
    proposed = list_form.by_contents(head, body, where)
    if "service" not in where and "service" not in proposed:
        likely = _service_by_bands(head, body, where | proposed, unit, decimal_comma)
        proposed["service"] = f"={likely.service}"
        if likely.clear and _has_frequency(where):
            service_found = likely.found
            where["service"] = proposed["service"]
    wanted = [key for key in ("service", "label") if key not in where]
    if not _has_frequency(where):
        wanted.insert(0, "frequency")
    if wanted:
        shown = list_form.columns_shown(head)
        rule = "has no column known by its head for"
        faults = [Fault(name, f"{rule} {key}", remedy=shown) for key in wanted]
        raise Unclear(faults, {**given, **proposed})
    return where, service_found


def _has_frequency(where: Mapping[str, str]) -> bool:
    return "freq" in where or {"low", "high"} <= set(where)


class _Likely(NamedTuple):
    found: ServiceFound
    clear: bool

    @property
    def service(self) -> str:
        return self.found.service


def _service_by_bands(
    head: list[str],
    body: list[list[str]],
    where: Mapping[str, str],
    unit: str | None,
    decimal_comma: bool | None,
) -> _Likely:
    """Return the service in whose bands most of the frequencies lie, in the unit that puts them there.

    Notes
    -----
    It is clear where nearly all lie there, and in the bands of no other service more than half.
    """
    theirs = where.get("freq", where.get("low", ""))
    best = _Likely(ServiceFound("broadcast", 0, 0), False)
    if theirs not in head:
        return best
    best_score = 0.0
    for hz in _readings(head, body, where, unit, decimal_comma).values():
        sound = hz[hz > 0]
        if not len(sound):
            continue
        (service, within), (_, rival) = services_by_bands(sound)[:2]
        if within / len(hz) > best_score:
            best_score = within / len(hz)
            clear = within >= NEARLY_ALL * len(sound) and rival <= MOST_OF_ANOTHER * within
            best = _Likely(ServiceFound(service, within, len(sound)), clear)
    return best


# --- unit and decimal mark ----------------------------------------------------------------------

Reading = tuple[str, str]  # unit, decimal mark


def _readings(
    head: list[str],
    body: list[list[str]],
    where: Mapping[str, str],
    unit: str | None,
    decimal_comma: bool | None,
) -> dict[Reading, Hz]:
    """Return the frequencies of the first rows in each way in which they may be read, 0 for none. [Hz]"""
    theirs = where["freq"] if "freq" in where else where["low"]
    cells = _cells_of(head, body, where)
    named = unit.lower() if unit else list_form.head_unit(theirs)
    units = [named] if named in list_form.UNITS else list(list_form.UNITS)
    if decimal_comma is None:
        marks = list_form.decimal_marks(cells)
    else:
        marks = ("," if decimal_comma else ".",)
    return {
        (unit_name, mark): _hertz_of(cells[:_TRIED], unit_name, mark) for unit_name in units for mark in marks
    }


def _hertz_of(cells: Sequence[str], unit: str, mark: str) -> Hz:
    """Return the frequencies of cells, of a range its middle, 0 for none. [Hz]"""
    out = np.zeros(len(cells), np.int64)
    for at, cell in enumerate(cells):
        try:
            ends = [
                headed_hz(list_form.plain_number(number, mark), list_form.UNITS[own or unit])
                for number, own in list_form.frequencies_in(cell)
            ]
        except BadValue:
            continue
        out[at] = sum(ends) // len(ends)
    return out


def _numbers(
    name: str,
    head: list[str],
    body: list[list[str]],
    where: Mapping[str, str],
    unit: str | None,
    decimal_comma: bool | None,
) -> tuple[str, bool]:
    """Return the unit of a list, and whether it has a decimal comma: what puts its services into their bands.

    Raises
    ------
    Unclear  where none does, or several do.
    """
    readings = _readings(head, body, where, unit, decimal_comma)
    services = _services(head, body[:_TRIED], where)
    if not any(hz.any() for hz in readings.values()):
        return (next(iter(readings))[0] if unit else "khz"), bool(decimal_comma)  # no row will be taken
    if len(readings) > 1:
        scores = {reading: _score(services, hz) for reading, hz in readings.items()}
        best = max(scores, key=lambda reading: scores[reading])
        rivals = [
            reading
            for reading, hz in readings.items()
            if scores[reading] > MOST_OF_ANOTHER * scores[best] and not np.array_equal(hz, readings[best])
        ]
        if scores[best] <= 0.0 or rivals:
            units = {unit_name for unit_name, _ in readings}
            what = "unit of its frequencies" if len(units) > 1 else "meaning of its commas and points"
            rule = f"leaves the {what} open"
            remedy = "give the unit" if len(units) > 1 else "say whether it has a decimal comma"
            raise Unclear([Fault(name, rule, remedy=remedy)], where, _UNIT_NAMES[best[0]], best[1] == ",")
        return best[0], best[1] == ","
    (reading, hz), *_ = readings.items()
    if unit is None and _mostly_beyond(services, hz):
        cells = _cells_of(head, body, where)[:_TRIED]
        every = {
            (unit_name, mark): _hertz_of(cells, unit_name, mark)
            for unit_name in list_form.UNITS
            for mark in list_form.decimal_marks(cells)
        }
        best = max(every, key=lambda other: _score(services, every[other]))
        if _score(services, every[best]) > 0.5:
            low, high = hz_text(int(hz[hz > 0].min())), hz_text(int(hz[hz > 0].max()))
            rule = f"puts its services on {low} to {high} in {_UNIT_NAMES[reading[0]]}, where they are not"
            remedy = f"read in {_UNIT_NAMES[best[0]]} they are in their bands"
            raise Unclear([Fault(name, rule, remedy=remedy)], where, _UNIT_NAMES[best[0]], best[1] == ",")
    return reading[0], reading[1] == ","


def _cells_of(head: list[str], body: list[list[str]], where: Mapping[str, str]) -> list[str]:
    theirs = where["freq"] if "freq" in where else where["low"]
    return _column(head, body, theirs) if theirs in head else []


def _column(head: list[str], body: list[list[str]], theirs: str) -> list[str]:
    return [row[head.index(theirs)].strip() for row in body]


def _services(head: list[str], body: list[list[str]], where: Mapping[str, str]) -> list[str]:
    theirs = where["service"]
    if theirs.startswith("="):
        return [list_form.service_of(theirs[1:]).lower()] * len(body)
    at = head.index(theirs)
    return [list_form.service_of(row[at].strip()).lower() for row in body]


def _score(services: Sequence[str], hz: Hz) -> float:
    """Return how many of the rows with a frequency are in a band of their service, as a share."""
    sound = hz > 0
    return float((in_bands(services, hz) & sound).sum() / max(1, sound.sum()))


def _mostly_beyond(services: Sequence[str], hz: Hz) -> bool:
    sound = hz > 0
    return bool(2 * (beyond_reach(services, hz) & sound).sum() > sound.sum())


# --- rows ---------------------------------------------------------------------------------------


class _Made:
    """Rows of a list as rows of ours.

    Parameters
    ----------
    name : str. What the list is called in faults.
    form : Form of it.
    head : list of str. Its heads.
    unit : str or None. The unit of every frequency, where one was told; else each head may name its own.
    """

    def __init__(self, name: str, form: Form, head: list[str], unit: str | None) -> None:
        self.name = name
        self.form = form
        self.mark = "," if form.decimal_comma else "."
        self.columns = dict(form.columns)
        self.where: dict[str, int | str] = {
            key: theirs[1:] if theirs.startswith("=") else head.index(theirs)
            for key, theirs in self.columns.items()
        }
        listed = form.unit.lower()
        self.units = {
            key: unit or self._unit(theirs, listed)
            for key, theirs in self.columns.items()
            if key in QUANTITIES
        }
        # a span in two columns becomes one of ours
        self.spans = set(list_form.TIMES) <= set(self.columns)
        self.keys = [key for key in self.columns if key not in list_form.TIMES] + ["hours"] * self.spans
        # found out from whole columns, by `_look_over`
        self.ranges = False
        self.days: dict[str, str | None] = {}
        power = self.columns.get("power_kw", "")
        self.watts = list_form.head_unit(power) == "w"
        self.part_sites = 0

    @staticmethod
    def _unit(theirs: str, listed: str) -> str:
        named = list_form.head_unit(theirs)
        return named if named in list_form.UNITS else listed

    def table(
        self, body: list[tuple[int, list[str]]], damaged: list[tuple[int, Fault]], above: int
    ) -> Imported:
        rows: list[list[str]] = []
        lines: list[int] = []
        self._look_over([cells for _, cells in body])
        unread: dict[int, str] = {}
        for line, cells in body:
            row = [self._cell(key, cells) for key in self.keys]
            if "days" in self.keys and self.days.get(days := self._text("days", cells)) is None:
                unread[line] = days
            checked = [cell for key, cell in zip(self.keys, row, strict=True) if key not in REMARKS]
            fault = _unusable(f"{self.name}, row {line}", checked)
            if fault is None:
                rows.append(self._whole_site(row))
                lines.append(line)
            else:
                damaged.append((line, fault))
        refused = self._refused(rows, lines)
        taken = [row for number, row in enumerate(rows) if number not in refused]
        reasons = [(lines[number], fault) for number, faults in refused.items() for fault in faults]
        left_out = tuple(fault for _, fault in sorted((*damaged, *reasons), key=lambda entry: entry[0]))
        if not taken:
            remedy = "check the columns, unit and delimiter"
            raise Refused(
                (Fault(self.name, "has no row that can be taken", remedy=remedy), *folded(left_out))
            )
        kept = [line for number, line in enumerate(lines) if number not in refused]
        days_unread = tuple(self._day_fault(line, unread[line]) for line in kept if line in unread)
        has_hours = "hours" in self.keys and any(row[self.keys.index("hours")] for row in taken)
        skipped = len(damaged) + len(refused)
        loud = [at for at, key in enumerate(self.keys) if key in ("level", "power_kw")]
        has_levels = any(row[at] for row in taken for at in loud)
        return Imported(
            csv_text(self._heads(), taken), len(taken), left_out, skipped, self.form, above,
            tuple(self._questions(taken, kept)), has_levels, has_hours, days_unread=days_unread,
        )  # fmt: skip

    def _look_over(self, body: list[list[str]]) -> None:
        """Find out what whole columns tell: ranges among the frequencies, the language of the days."""
        if "days" in self.keys:
            self.days = list_form.days_of([self._text("days", cells) for cells in body])
        at = self.where.get("freq")
        if isinstance(at, int) and any(list_form.is_range(cells[at]) for cells in body):
            self.ranges = True
            self.keys = ["low", "high", *self.keys]
            self.columns |= {"low": self.columns["freq"], "high": self.columns["freq"]}
            self.units |= {"low": self.units["freq"], "high": self.units["freq"]}

    def _day_fault(self, line: int, text: str) -> Fault:
        place = f"{self.name}, row {line}, column {self.columns['days']}"
        remedy = "taken as every day; write it as mon-fri, several with ;"
        return Fault(place, "is no day that is known here", text, remedy)

    def _heads(self) -> list[str]:
        # gigahertz are no unit of a band table: written as MHz
        return [
            f"{key}_{'mhz' if self.units[key] == 'ghz' else self.units[key]}" if key in QUANTITIES else key
            for key in self.keys
        ]

    def _cell(self, key: str, cells: list[str]) -> str:
        if key == "hours" and self.spans:
            return list_form.hours_between(*(self._text(end, cells) for end in list_form.TIMES))
        if self.ranges and key in ("low", "high", "freq"):
            return self._of_range(key, self._text("freq", cells))
        text = self._text(key, cells)
        if key in QUANTITIES:
            return self._frequency(text, self.units[key])
        if key == "days":
            return self.days[text] or ""
        if key in SITE_COLUMNS:
            number = list_form.plain_number(text, self.mark)
            return _times(number, -3) if key == "power_kw" and self.watts else number
        if key == "hours":
            return list_form.plain_hours(text)
        if key == "service":
            return list_form.service_of(text)
        return list_form.mode_of(text) if key == "mode" else text

    def _text(self, key: str, cells: list[str]) -> str:
        where = self.where[key]
        # a row of ours is one line, so that its line leads back to theirs
        return " ".join((where if isinstance(where, str) else cells[where]).split())

    def _of_range(self, key: str, text: str) -> str:
        """Return the cell of ours that a range, or a frequency among ranges, puts into a column."""
        ends = list_form.frequencies_in(text)
        if len(ends) == 1:
            return self._quantity(*ends[0], self.units[key]) if key == "freq" else ""
        return "" if key == "freq" else self._quantity(*ends[key == "high"], self.units[key])

    def _frequency(self, text: str, unit: str) -> str:
        ends = list_form.frequencies_in(text)
        return self._quantity(*ends[0], unit) if len(ends) == 1 else text

    def _quantity(self, number: str, own: str, unit: str) -> str:
        """Return a number, perhaps with a unit of its own, in the unit of a column of ours."""
        plain = list_form.plain_number(number, self.mark)
        ours = "mhz" if unit == "ghz" else unit  # gigahertz are no unit of a band table
        return _times(plain, list_form.UNITS[own or unit] - list_form.UNITS[ours])

    def _whole_site(self, row: list[str]) -> list[str]:
        """Return a row without the site that it tells in part: no level can be worked out for it."""
        at = [self.keys.index(key) for key in SITE_COLUMNS if key in self.keys]
        given = [row[index] for index in at if row[index]]
        if len(at) == len(SITE_COLUMNS) and 0 < len(given) < len(at):
            self.part_sites += 1
            return ["" if index in at else cell for index, cell in enumerate(row)]
        return row

    def _refused(self, rows: list[list[str]], lines: list[int]) -> dict[int, list[Fault]]:
        """Return what the strict reader has against each row."""
        refused: dict[int, list[Fault]] = {}
        if not rows:
            return refused
        heads = self._heads()
        span = " and ".join(self.columns.get(end, "") for end in list_form.TIMES)
        theirs = dict(zip(heads, (self.columns.get(key, span) for key in self.keys), strict=True))
        data = csv_text(heads, rows).encode("utf-8", "replace")
        sheet = open_csv(self.name, data=data, kept=len(rows) * len(heads) + 1)
        reader = RowReader(sheet, read_heads(sheet), Vocabulary())
        for batch in sheet.blocks():
            reader.read(batch)
        for ours, fault in sheet.faults.by_line():
            line = lines[ours - 2]  # the header is line 1 of ours
            refused.setdefault(ours - 2, []).append(_in_their_words(self.name, line, fault, theirs))
        return refused

    def _questions(self, rows: list[list[str]], lines: list[int]) -> list[Fault]:
        """Return what was taken and looks wrong."""
        keys = self.keys
        services = [row[keys.index("service")].lower() for row in rows]
        edges = [keys.index(key) for key in ("freq", "low") if key in keys]
        unit = self.units[keys[edges[0]]]
        exponent = list_form.UNITS["mhz" if unit == "ghz" else unit]
        cells = [next((row[at] for at in edges if row[at]), "") for row in rows]
        hz = np.array([headed_hz(cell, exponent) if cell else 0 for cell in cells], np.int64)
        beyond = beyond_reach(services, hz) & (hz > 0)
        faults = []
        for service in dict.fromkeys(np.array(services, dtype=object)[beyond].tolist()):
            where = [at for at in np.flatnonzero(beyond).tolist() if services[at] == service]
            low, high = (hz_text(edge_hz) for edge_hz in reach_hz(service))
            rule = f"has {service} on {hz_text(int(hz[where[0]]))}" + (
                f", and {len(where) - 1} more so" if len(where) > 1 else ""
            )
            remedy = f"that service reaches from {low} to {high}: is the unit right?"
            faults.append(Fault(f"{self.name}, row {lines[where[0]]}", rule, remedy=remedy))
        for service, count in Counter(name for name in services if name not in SERVICES).items():
            near = get_close_matches(service, SERVICES, n=1, cutoff=0.0)
            rule = f"is a service that is not known here, in {count:,} row{'' if count == 1 else 's'}"
            faults.append(Fault(self.name, rule, service, f"the nearest is {near[0]}" if near else ""))
        if self.part_sites:
            rule = f"gives {self.part_sites:,} sites in part: taken without lat, lon and power_kw"
            faults.append(Fault(self.name, rule, remedy="a site is all three"))
        return faults


def _times(number: str, exponent: int) -> str:
    """Return a plain number times a power of ten, exactly; what is none as it is."""
    try:
        return f"{Decimal(number).scaleb(exponent):f}" if number and exponent else number
    except InvalidOperation:
        return number


def _unusable(place: str, row: list[str]) -> Fault | None:
    """Return what keeps a row from the strict reader, which would skip it or refuse the whole list."""
    if not any(row):
        return Fault(place, "holds nothing in the columns named", remedy="fill it in, or name other columns")
    if any("\0" in cell for cell in row):
        return Fault(place, "holds a NUL byte", remedy="take it out, or name another encoding")
    return None


def folded(faults: Sequence[Fault]) -> list[Fault]:
    """Return faults of rows, those of one column that break one rule as one, with all their rows."""
    groups: dict[tuple[str, str, str, str], list[tuple[int, Fault]]] = {}
    for number, fault in enumerate(faults):
        match = _ROW_IN_PLACE.fullmatch(fault.place)
        # what stands nowhere, and what only this row has, stays by itself
        key = (match[1], match[3] or "", fault.rule, fault.remedy) if match else (str(number), "", "", "")
        groups.setdefault(key, []).append((int(match[2]) if match else 0, fault))
    out = []
    for (name, column, rule, remedy), group in groups.items():
        (_, first), *more = group
        rows = [row for row, _ in group]
        place = f"{name}, rows {_runs(rows)}{column}"
        out.append(
            first if not more else Fault(place, f"{rule}, and {len(more):,} more so", first.value, remedy)
        )
    return out


def _runs(rows: Sequence[int]) -> str:
    """Return rising numbers as text, runs as "2-21", the first few of many runs."""
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    parts = [str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs[:_MOST_RUNS]]
    more = len(runs) - _MOST_RUNS
    return ", ".join(parts) + (f" and {more} more places" if more > 0 else "")


def _in_their_words(name: str, line: int, fault: Fault, theirs: Mapping[str, str]) -> Fault:
    match = _COLUMN_IN_PLACE.search(fault.place)
    column = theirs.get(match[1], "") if match else ""
    place = f"{name}, row {line}" + (f", column {column}" if column else "")
    return Fault(place, fault.rule, fault.value, fault.remedy)
