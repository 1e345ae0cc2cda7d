"""Rows of band tables turned into arrays, every fault with its line and column.

Cells repeat: a table of 200,000 rows has a few hundred services, regions, hours
and levels. Each distinct text is parsed once, by a dictionary that asks the parser
for what it does not hold. Figures do not repeat: those that are plain digits are
read as arrays, and the parser sees the others alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from sys import maxsize
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.csvblocks import Column, numbered
from spurplan.csvfile import Batch, Sheet
from spurplan.errors import LONGEST_NAME, BadValue, Fault, checked_name, did_you_mean
from spurplan.occupancy.hours import ALL_DAYS, Schedule, parse_days, parse_hours, parse_slot
from spurplan.units import (
    Level,
    decimal_text,
    headed_hz,
    headed_hz_of_digits,
    numbers_of_digits,
    parse_level,
    parse_signed_decimal,
)

SERVICES = (
    "amateur",
    "broadcast",
    "citizens",
    "aeronautical",
    "maritime",
    "standard_frequency",
    "beacon",
    "radionavigation",
    "ism",
    "fixed_mobile",
)
MODES = ("all", "am", "ssb", "cw", "digital", "beacon", "narrow", "fm")
MOST_CARRIERS = 100_000
# from a milliwatt to the strongest there ever was, several times over
LEAST_KW, MOST_KW = 1e-6, 1e4
# a column of stations taken for their services has more; the codes end at 32,767
MOST_SERVICES = 1_000

UNITS = {"khz": 3, "mhz": 6, "hz": 0}
QUANTITIES = ("low", "high", "freq", "raster", "bandwidth")
SITE_COLUMNS = ("lat", "lon", "power_kw")
TEXT_COLUMNS = (
    "service", "label", "region", "mode", "level", "hours", "days", "slot", *SITE_COLUMNS, "note", "source",
)  # fmt: skip
COLUMNS = (*(f"{name}_{unit}" for name in QUANTITIES for unit in UNITS), *TEXT_COLUMNS)

# As narrow as the values allow: a table may have two million rows.
TYPES: dict[str, npt.DTypeLike] = {
    "row": np.int32,
    "low": np.int64,
    "high": np.int64,
    "raster": np.int64,
    "bandwidth": np.int64,
    "service": np.int16,
    "label": np.int32,
    "region": np.int16,
    "mode": np.int8,
    "level": np.int32,
    "note": np.int32,
    "source": np.int32,
    "schedule": np.int32,
    "site": np.int32,
}

Ints = npt.NDArray[np.int64]

_BAD = -2  # below every code and every frequency; -1 and 0 mean "not given"
_MOST_KEPT = 200_000
_REGION = re.compile(r"[123W]")
_WORLD_BITS = 0b111


class Words:
    """A list of distinct words that grows; each has a code."""

    def __init__(self, words: Iterable[Hashable] = ()) -> None:
        self.codes: dict[Any, int] = {word: code for code, word in enumerate(words)}

    def code(self, word: Hashable) -> int:
        """Return the code of `word`, a new one where it is new."""
        return self.codes.setdefault(word, len(self.codes))

    def words(self) -> tuple[Any, ...]:
        """Return the words in the order of their codes."""
        return tuple(self.codes)


class Parsed(dict[str, int]):
    """Text to integer; what the parser refuses is kept in `bad` and becomes `_BAD`."""

    def __init__(self, parse: Callable[[str], int]) -> None:
        self.parse = parse
        self.bad: dict[str, BadValue] = {}

    def __missing__(self, text: str) -> int:
        if len(self) >= _MOST_KEPT:
            self.clear()  # frequencies that never repeat: keep memory within bounds
        value = self[text] = self._parsed(text)
        return value

    def _parsed(self, text: str) -> int:
        try:
            return self.parse(text.strip())
        except BadValue as bad:
            self.bad[text] = bad
            return _BAD

    def array(self, cells: Sequence[str]) -> Ints:
        """Return one integer a cell."""
        if isinstance(cells, Column):
            codes, texts = cells.distinct()
            return self.array(texts)[codes]
        return np.fromiter(map(self.__getitem__, cells), np.int64, len(cells))


class Named(Parsed):
    """Text to the code of a word; see `Parsed`.

    Parameters
    ----------
    words : Words. What holds the words; one that stands in it as it is written is sound.
    parse : as in `Parsed`. Takes what is not among them yet.
    longest : int. A new word of at most so many characters and no blank at its ends is sound as it is.
    """

    def __init__(self, words: Words, parse: Callable[[str], int], longest: int = 0) -> None:
        super().__init__(parse)
        self.words = words
        self.longest = longest

    def array(self, cells: Sequence[str]) -> Ints:
        """Return one integer a cell."""
        if not isinstance(cells, Column):
            return super().array(cells)
        codes, texts = cells.distinct()
        known = self.words.codes
        # a register has as many labels as rows: one dictionary of them is enough
        text_codes = [known.get(text, _BAD) for text in texts]
        longest = self.longest
        for at, code in enumerate(text_codes):
            if code == _BAD:
                text = texts[at]
                if 0 < len(text) <= longest and text == text.strip():
                    text_codes[at] = known[text] = len(known)
                else:
                    text_codes[at] = self._parsed(text)
        return np.array(text_codes, np.int64)[codes]


class Frequencies(Parsed):
    """Text to hertz, 0 for an empty cell; see `Parsed`.

    Parameters
    ----------
    exponent : int. Power of ten of the unit that the head names.
    """

    def __init__(self, exponent: int) -> None:
        super().__init__(lambda text: headed_hz(text, exponent) if text else 0)
        self.exponent = exponent

    def array(self, cells: Sequence[str]) -> Ints:
        """Return one integer a cell."""
        if not isinstance(cells, Column):
            return super().array(cells)
        digits = cells.digits()
        hz = headed_hz_of_digits(digits.value, digits.decimals, self.exponent)
        hz[~digits.plain | (digits.sign != 0)] = 0
        rest = np.flatnonzero((hz == 0) & (cells.lengths > 0))
        if len(rest):
            hz[rest] = super().array(cells.take(rest))
        return hz


class SiteFigures(Parsed):
    """Text to 0 where a figure of a site is sound, -1 where there is none; see `Parsed`.

    Parameters
    ----------
    name : "lat", "lon" or "power_kw".
    """

    def __init__(self, name: str) -> None:
        super().__init__(_site_figure(name))
        self.limits = _SITE_LIMITS[name]

    def array(self, cells: Sequence[str]) -> Ints:
        """Return one integer a cell."""
        if not isinstance(cells, Column):
            return super().array(cells)
        number, plain = _numbers(cells)
        low, high = self.limits
        sound = np.where(plain & (number >= low) & (number <= high), 0, -1)
        rest = np.flatnonzero((sound != 0) & (cells.lengths > 0))
        if len(rest):
            sound[rest] = super().array(cells.take(rest))
        return sound


def _numbers(cells: Column) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """Return the numbers of cells that are plain digits, and which are."""
    digits = cells.digits()
    exact = digits.plain & (digits.value < 1 << 53)
    return numbers_of_digits(digits.value, digits.decimals, digits.sign), exact


class Sites:
    """Where stations stand; each place with its power has a code.

    Notes
    -----
    Held as arrays: a register may have as many as it has rows.
    """

    def __init__(self) -> None:
        self._lots: list[npt.NDArray[np.float64]] = []
        self._count = 0

    def codes(self, sites: npt.NDArray[np.float64]) -> Ints:
        """Return the codes of sites of shape (n, 3), new ones but for what repeats among them."""
        codes, first = numbered(sites @ np.array([1.0, np.e, np.pi]))
        distinct = sites[first]
        if not np.array_equal(distinct[codes], sites):  # two of them have one sum
            codes, distinct = np.arange(len(sites)), sites
        self._lots.append(distinct)
        self._count += len(distinct)
        return codes + (self._count - len(distinct))

    def array(self) -> npt.NDArray[np.float64]:
        """Return all sites in the order of their codes, shape (sites, 3)."""
        return np.concatenate(self._lots) if self._lots else np.zeros((0, len(SITE_COLUMNS)))


@dataclass
class Vocabulary:
    """The words of several tables, shared so that their codes agree.

    Each `code_` method takes the text of a cell, trimmed, and raises `BadValue` for one
    that is nothing of its kind.
    """

    services: Words = field(default_factory=lambda: Words(SERVICES))
    labels: Words = field(default_factory=Words)
    modes: Words = field(default_factory=lambda: Words(MODES))
    regions: Words = field(default_factory=Words)
    levels: Words = field(default_factory=Words)
    schedules: Words = field(default_factory=Words)
    sites: Sites = field(default_factory=lambda: Sites())
    notes: Words = field(default_factory=Words)
    sources: Words = field(default_factory=Words)

    def code_service(self, text: str) -> int:
        """Return the code of a service; an unknown one is kept, up to `MOST_SERVICES` in all.

        Raises
        ------
        BadValue  for an empty one, or one too many.
        """
        if not text:
            raise BadValue(text, "is empty", "give a service, such as amateur or broadcast")
        service = checked_name(text.lower())
        if service not in self.services.codes and len(self.services.codes) >= MOST_SERVICES:
            rule = f"is one service more than the {MOST_SERVICES:,} that tables may have"
            raise BadValue(text, rule, "give kinds of service here, and the station as its label")
        return self.services.code(service)

    def code_label(self, text: str) -> int:
        """Return the code of a label.

        Raises
        ------
        BadValue  for an empty one.
        """
        if not text:
            raise BadValue(text, "is empty", "name the station or the band")
        return self.labels.code(checked_name(text))

    def code_mode(self, text: str) -> int:
        """Return the code of a mode, -1 for none.

        Raises
        ------
        BadValue  for one that is not among `MODES`.
        """
        if not text:
            return -1
        if text.lower() not in MODES:
            raise BadValue(text, "is not a mode", did_you_mean(text.lower(), MODES))
        return self.modes.code(text.lower())

    def code_region(self, text: str) -> int:
        """Return the code of a list of regions ("1;3"), -1 for none.

        Raises
        ------
        BadValue  for a region that is not 1, 2, 3 or W.
        """
        if not text:
            return -1
        parts = sorted({part.strip().upper() for part in text.split(";")})
        if not all(_REGION.fullmatch(part) for part in parts):
            raise BadValue(text, "is not a region", "give 1, 2, 3 or W, several as 1;3")
        return self.regions.code("W" if "W" in parts else ";".join(parts))

    def code_level(self, text: str) -> int:
        """Return the code of a level, -1 for none.

        Raises
        ------
        BadValue  for what is no level.
        """
        return self.levels.code(parse_level(text)) if text else -1

    def code_schedule(self, hours: str, days: str, slot: str) -> int:
        """Return the code of hours, days and slot, all of them sound; -1 for none."""
        if not (hours or days or slot):
            return -1
        schedule = Schedule(
            parse_hours(hours) if hours else (),
            parse_days(days) if days else ALL_DAYS,
            parse_slot(slot) if slot else None,
        )
        return self.schedules.code((schedule, hours, days, slot))


# what stations have, as far as a level can be worked out for them
_SITE_LIMITS = {"lat": (-90.0, 90.0), "lon": (-180.0, 180.0), "power_kw": (LEAST_KW, MOST_KW)}


def _site_figure(name: str) -> Callable[[str], int]:
    """Return the check of one figure of a site: 0 where it is sound, -1 where it is not given."""
    low, high = _SITE_LIMITS[name]

    def check(text: str) -> int:
        if not text:
            return -1
        if not low <= parse_signed_decimal(text) <= high:
            unit = "kilowatts" if name == "power_kw" else "degrees, north and east positive"
            raise BadValue(text, f"is not from {low:g} to {high:g}", f"give {unit}")
        return 0

    return check


class Schedules(dict[tuple[str, ...], int]):
    """Cells (hours, days, slot) to the code of their schedule; `_BAD` for a damaged one."""

    def __init__(self, words: Vocabulary) -> None:
        self.words = words

    def __missing__(self, cells: tuple[str, ...]) -> int:
        try:
            value = self.words.code_schedule(*(cell.strip() for cell in cells))
        except BadValue:  # its fault is reported with the column it stands in
            value = _BAD
        self[cells] = value
        return value


def region_bits(region: str) -> int:
    """Return the regions of "1;3" as bits, region 1 being bit 0; all three for "W"."""
    return _WORLD_BITS if region == "W" else sum(1 << int(part) - 1 for part in region.split(";"))


@dataclass(frozen=True)
class Heads:
    """Which column of a table holds what.

    Attributes
    ----------
    quantities : dict of "low", "high", "freq", "raster", "bandwidth" to (index, exponent of the unit).
    texts : dict of the other known names to their index.
    unread : tuple of str. Columns of a site that is never whole, which are left alone.
    """

    quantities: dict[str, tuple[int, int]]
    texts: dict[str, int]
    unread: tuple[str, ...] = ()


def read_heads(sheet: Sheet) -> Heads:
    """Sort the columns of a table; what is missing or twice is added to its faults."""
    quantities: dict[str, tuple[int, int]] = {}
    texts: dict[str, int] = {}
    for index, name in enumerate(sheet.header):
        stem, _, unit = name.rpartition("_")
        if stem in QUANTITIES and unit in UNITS:
            if stem in quantities:
                rule = f"gives {stem} in a second unit"
                sheet.faults.add(Fault(sheet.name, rule, name, "keep one unit for each quantity"))
            quantities.setdefault(stem, (index, UNITS[unit]))
        elif name in TEXT_COLUMNS:
            texts[name] = index
    if "freq" not in quantities and not {"low", "high"} <= set(quantities):
        remedy = "name them freq_khz, or low_khz and high_khz; _mhz and _hz will do as well"
        sheet.faults.add(Fault(sheet.name, "has no column of frequencies", remedy=remedy))
    for name in ("service", "label"):
        if name not in texts:
            remedy = did_you_mean(name, sheet.others) if sheet.others else "add one"
            sheet.faults.add(Fault(sheet.name, f"has no column {name}", remedy=remedy))
    # where a station stands is told by all of them, and a list may have one for a reason of its own
    unread = tuple(name for name in SITE_COLUMNS if name in texts)
    if len(unread) == len(SITE_COLUMNS):
        return Heads(quantities, texts)
    return Heads(quantities, {name: at for name, at in texts.items() if name not in unread}, unread)


class RowReader:
    """Turns batches of one table into arrays.

    Parameters
    ----------
    sheet : Sheet with its header read.
    heads : Heads of it.
    words : Vocabulary that all tables share.
    """

    def __init__(self, sheet: Sheet, heads: Heads, words: Vocabulary) -> None:
        self.sheet = sheet
        self.heads = heads
        self.words = words
        self.quantities = {name: Frequencies(e) for name, (_, e) in heads.quantities.items()}
        self.texts = {
            "service": Named(words.services, words.code_service),
            "label": Named(words.labels, words.code_label, LONGEST_NAME),
            "region": Parsed(words.code_region),
            "mode": Parsed(words.code_mode),
            "level": Parsed(words.code_level),
            "note": Named(words.notes, lambda text: words.notes.code(text) if text else -1, maxsize),
            "source": Named(words.sources, lambda text: words.sources.code(text) if text else -1, maxsize),
        }
        self.schedules = Schedules(words)
        # parsed here for their faults alone; the three together make one schedule
        self.when = {
            "hours": Parsed(lambda text: len(parse_hours(text)) if text else -1),
            "days": Parsed(lambda text: parse_days(text) if text else -1),
            "slot": Parsed(lambda text: parse_slot(text)[0] if text else -1),
        }
        self.where = {name: SiteFigures(name) for name in SITE_COLUMNS}

    def read(self, batch: Batch) -> dict[str, Ints]:
        """Return the arrays of a batch; damaged rows are faults, and are not in them."""
        count = len(batch.lines)
        faults: list[tuple[int, int, Fault]] = []
        out: dict[str, Ints] = {"row": np.array(batch.lines, np.int64)}
        bad = np.zeros(count, bool)
        for name in QUANTITIES:
            if name in self.quantities:
                index = self.heads.quantities[name][0]
                out[name] = self._column(batch, index, self.quantities[name], bad, faults)
            else:
                out[name] = np.zeros(count, np.int64)
        unread = bad.copy()
        for name, parsed in (*self.texts.items(), *self.when.items(), *self.where.items()):
            if name in self.heads.texts:
                out[name] = self._column(batch, self.heads.texts[name], parsed, bad, faults)
            else:
                out[name] = np.full(count, -1, np.int64)
        self._check_forms(batch, out, bad, unread, faults)
        self._check_sites(batch, out, bad, faults)
        out["schedule"] = self._schedules(batch)
        out["site"] = self._sites(batch, out)
        for name in (*self.when, *self.where):
            del out[name]
        freq = out.pop("freq")
        for edge in ("low", "high"):
            out[edge] = np.where(freq > 0, freq, out[edge])
        for line, _, fault in sorted(faults, key=lambda item: item[:2]):
            self.sheet.faults.add(fault, line)
        return {name: array[~bad] for name, array in out.items()} if faults else out

    def _column(
        self,
        batch: Batch,
        index: int,
        parsed: Parsed,
        bad: npt.NDArray[np.bool_],
        faults: list[tuple[int, int, Fault]],
    ) -> Ints:
        cells = batch.columns[index]
        array = parsed.array(cells)
        for at in np.flatnonzero(array == _BAD).tolist():
            line = int(batch.lines[at])
            faults.append((line, index, parsed.bad[cells[at]].at(self._place(line, index))))
            bad[at] = True
        return array

    def _place(self, line: int, index: int) -> str:
        return self.sheet.place(line, self.sheet.header[index])

    def _check_forms(
        self,
        batch: Batch,
        out: dict[str, Ints],
        bad: npt.NDArray[np.bool_],
        unread: npt.NDArray[np.bool_],
        faults: list[tuple[int, int, Fault]],
    ) -> None:
        """Check that each row is one of the three forms, unless its frequencies are `unread`."""
        low, high, freq, raster = out["low"], out["high"], out["freq"], out["raster"]
        spot, edges = freq > 0, (low > 0) | (high > 0) | (raster > 0)
        both = spot & edges
        one_edge = ~spot & ((low > 0) != (high > 0))
        whole = ~spot & (low > 0) & (high > 0)
        upside = whole & (low > high)
        carriers = np.where(raster > 0, (high - low) // np.maximum(raster, 1) + 1, 1)
        checks = (
            (both, "freq", "stands beside the edges of a band", "give a frequency, or low and high"),
            (~spot & ~edges, "", "has no frequency", "give a frequency, or low and high"),
            (one_edge, "", "has one edge of a band", "give low and high, or a frequency"),
            (~spot & ~whole & ~one_edge & edges, "raster", "has no band to stand in", "give low and high"),
            (upside, "low", "is above the high edge {high}", "give the lower edge first"),
            (whole & ~upside & (carriers > MOST_CARRIERS), "raster", "makes {carriers:,} carriers", ""),
            (whole & (raster == 0) & (out["bandwidth"] > 0), "bandwidth", "widens a band", ""),
        )
        remedies = {
            "raster": f"give at most {MOST_CARRIERS:,}: a wider raster, or several rows",
            "bandwidth": "leave it empty: only a frequency or a raster is widened",
        }
        sound = ~unread
        for mask, name, rule, remedy in checks:
            for at in np.flatnonzero(mask & sound).tolist():
                index = self.heads.quantities[name][0] if name else -1
                line = int(batch.lines[at])
                value = batch.columns[index][at].strip() if name else None
                full_rule = rule.format(
                    high=decimal_text(int(high[at]), 3) + " kHz", carriers=int(carriers[at])
                )
                place = self._place(line, index) if name else self.sheet.place(line)
                faults.append((line, index, Fault(place, full_rule, value, remedy or remedies[name])))
                bad[at] = True

    def _check_sites(
        self,
        batch: Batch,
        out: dict[str, Ints],
        bad: npt.NDArray[np.bool_],
        faults: list[tuple[int, int, Fault]],
    ) -> None:
        """Check that a site is whole, and that of one station."""
        given: npt.NDArray[np.bool_] = np.array([out[name] != -1 for name in SITE_COLUMNS])
        count = given.sum(axis=0)
        part = (count > 0) & (count < len(SITE_COLUMNS))
        many = (count > 0) & (out["freq"] == 0)
        for at in np.flatnonzero((part | many) & ~bad).tolist():
            line = int(batch.lines[at])
            if part[at]:
                missing = " and ".join(
                    n for n, there in zip(SITE_COLUMNS, given[:, at], strict=True) if not there
                )
                fault = Fault(
                    self.sheet.place(line), f"has no {missing}", remedy="give lat, lon and power_kw"
                )
            else:
                rule = "gives the site of one station to a band"
                fault = Fault(
                    self.sheet.place(line), rule, remedy="give freq, or leave lat, lon and power_kw out"
                )
            faults.append((line, -1, fault))
            bad[at] = True

    def _sites(self, batch: Batch, out: dict[str, Ints]) -> Ints:
        code = np.full(len(batch.lines), -1, np.int64)
        whole = np.flatnonzero(np.logical_and.reduce([out[name] == 0 for name in SITE_COLUMNS]))
        if len(whole):
            figures = [self._figures(batch.columns[self.heads.texts[name]], whole) for name in SITE_COLUMNS]
            code[whole] = self.words.sites.codes(np.array(figures).T)
        return code

    def _figures(self, cells: Sequence[str], which: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
        """Return the numbers of some cells, all of them sound."""
        if not isinstance(cells, Column):
            return np.array([parse_signed_decimal(cells[at].strip()) for at in which.tolist()])
        some = cells.take(which)
        numbers, plain = _numbers(some)
        rest = np.flatnonzero(~plain)
        numbers[rest] = [parse_signed_decimal(cell.strip()) for cell in some.take(rest)]
        return numbers

    def _schedules(self, batch: Batch) -> Ints:
        columns = [batch.columns[self.heads.texts[name]] for name in self.when if name in self.heads.texts]
        if not columns:
            return np.full(len(batch.lines), -1, np.int64)
        given = [name in self.heads.texts for name in self.when]
        if not all(isinstance(column, Column) for column in columns):
            return self._schedule_codes(zip(*columns, strict=True), given, len(batch.lines))
        # the texts of each column by number, the numbers of a row as one
        key = np.zeros(len(batch.lines), np.int64)
        texts = []
        for column in columns:
            assert isinstance(column, Column)
            codes, words = column.distinct()
            key = key * len(words) + codes
            texts.append((codes, words))
        which, first = numbered(key)
        cells = [[words[code] for code in codes[first].tolist()] for codes, words in texts]
        return self._schedule_codes(zip(*cells, strict=True), given, len(first))[which]

    def _schedule_codes(self, rows: Iterable[tuple[str, ...]], given: list[bool], count: int) -> Ints:
        """Return the code of each schedule; what its rows do not give is blank."""
        whole = (tuple(next(cells) if there else "" for there in given) for cells in map(iter, rows))
        return np.fromiter(map(self.schedules.__getitem__, whole), np.int64, count)


def level_of(levels: Sequence[Level]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return the levels up to 30 MHz and above it, as arrays with a spare NaN for code -1."""
    low = np.array([level.dbm_low for level in levels] + [np.nan])
    high = np.array([level.dbm_high for level in levels] + [np.nan])
    return low, high


def collect(reader: RowReader, batches: Iterable[Batch]) -> dict[str, npt.NDArray[Any]]:
    """Return all sound rows of a table as arrays; its faults stand in the sheet."""
    parts = [
        {name: array.astype(TYPES[name]) for name, array in reader.read(batch).items()} for batch in batches
    ]
    return joined(parts, {name: np.zeros(0, kind) for name, kind in TYPES.items()})


def joined(
    parts: list[dict[str, npt.NDArray[Any]]], none: dict[str, npt.NDArray[Any]]
) -> dict[str, npt.NDArray[Any]]:
    """Return the arrays of several lots of rows as one, and leave the lots empty; `none` for no lot."""
    if len(parts) <= 1:
        return parts.pop() if parts else none
    # one after the other: all of them twice would be the most that a large table holds in memory
    return {name: np.concatenate([part.pop(name) for part in parts]) for name in none}
