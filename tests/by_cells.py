"""Band tables read cell by cell, each row a list of texts: what the reader by columns is held against.

It shares the parsers of single cells with the package, and the csv module's road through a file;
how rows come together, which of them are damaged and what is said of them it works out by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.csvfile import Batch, Sheet, open_csv
from spurplan.errors import BadValue, Fault
from spurplan.occupancy.band_rows import (
    COLUMNS,
    LEAST_KW,
    MOST_CARRIERS,
    MOST_KW,
    QUANTITIES,
    SITE_COLUMNS,
    Heads,
    Vocabulary,
    Words,
    read_heads,
)
from spurplan.occupancy.hours import parse_days, parse_hours, parse_slot
from spurplan.units import decimal_text, headed_hz, parse_signed_decimal

Ints = npt.NDArray[np.int64]

_BAD = -2


def read_by_cells(
    name: str, data: bytes
) -> tuple[dict[str, npt.NDArray[Any]], dict[str, tuple[Any, ...]], int]:
    """Return the arrays of a table, its words, and how many lines are blank.

    Raises
    ------
    Refused  as `read_bands`.
    """
    sheet = open_csv(name, known=COLUMNS, data=data)
    words, sites = Vocabulary(), Words()
    heads = read_heads(sheet)
    sheet.faults.check()
    reader = ByCells(sheet, heads, words, sites)
    parts = [reader.read(batch) for batch in sheet.batches(3)]
    sheet.faults.check()
    array = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    spot = array["freq"] > 0
    for edge in ("low", "high"):
        array[edge] = np.where(spot, array["freq"], array[edge])
    kinds = ("services", "labels", "modes", "regions", "levels", "schedules", "notes", "sources")
    return (
        array,
        {kind: getattr(words, kind).words() for kind in kinds} | {"sites": sites.words()},
        sheet.blank_lines,
    )


class Parsed(dict[str, int]):
    """Text to integer; what the parser refuses is kept in `bad` and becomes `_BAD`."""

    def __init__(self, parse: Callable[[str], int]) -> None:
        self.parse = parse
        self.bad: dict[str, BadValue] = {}

    def __missing__(self, text: str) -> int:
        try:
            value = self.parse(text.strip())
        except BadValue as bad:
            self.bad[text] = bad
            value = _BAD
        self[text] = value
        return value

    def array(self, cells: Sequence[str]) -> Ints:
        """Return one integer a cell."""
        return np.fromiter(map(self.__getitem__, cells), np.int64, len(cells))


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


def _quantity(exponent: int) -> Callable[[str], int]:
    return lambda text: headed_hz(text, exponent) if text else 0


class ByCells:
    """Turns batches of one table into arrays.

    Parameters
    ----------
    sheet : Sheet with its header read.
    heads : Heads of it.
    words : Vocabulary that all tables share.
    """

    def __init__(self, sheet: Sheet, heads: Heads, words: Vocabulary, sites: Words) -> None:
        self.sites = sites
        self.sheet = sheet
        self.heads = heads
        self.words = words
        self.quantities = {name: Parsed(_quantity(e)) for name, (_, e) in heads.quantities.items()}
        self.texts = {
            "service": Parsed(words.code_service),
            "label": Parsed(words.code_label),
            "region": Parsed(words.code_region),
            "mode": Parsed(words.code_mode),
            "level": Parsed(words.code_level),
            "note": Parsed(lambda text: words.notes.code(text) if text else -1),
            "source": Parsed(lambda text: words.sources.code(text) if text else -1),
        }
        self.schedules = Schedules(words)
        # parsed here for their faults alone; the three together make one schedule
        self.when = {
            "hours": Parsed(lambda text: len(parse_hours(text)) if text else -1),
            "days": Parsed(lambda text: parse_days(text) if text else -1),
            "slot": Parsed(lambda text: parse_slot(text)[0] if text else -1),
        }
        self.where = {name: Parsed(_site_figure(name)) for name in SITE_COLUMNS}

    def read(self, batch: Batch) -> dict[str, Ints]:
        """Return the arrays of a batch; damaged rows are faults, and are not in them."""
        count = len(batch.lines)
        found: list[tuple[int, int, Fault]] = []
        out: dict[str, Ints] = {"row": np.array(batch.lines, np.int64)}
        bad = np.zeros(count, bool)
        for name in QUANTITIES:
            if name in self.quantities:
                index = self.heads.quantities[name][0]
                out[name] = self._column(batch, index, self.quantities[name], bad, found)
            else:
                out[name] = np.zeros(count, np.int64)
        unread = bad.copy()
        for name, parsed in (*self.texts.items(), *self.when.items(), *self.where.items()):
            if name in self.heads.texts:
                out[name] = self._column(batch, self.heads.texts[name], parsed, bad, found)
            else:
                out[name] = np.full(count, -1, np.int64)
        self._check_forms(batch, out, bad, unread, found)
        self._check_sites(batch, out, bad, found)
        out["schedule"] = self._schedules(batch)
        out["site"] = self._sites(batch, out)
        for name in (*self.when, *self.where):
            del out[name]
        for line, _, fault in sorted(found, key=lambda item: item[:2]):
            self.sheet.faults.add(fault, line)
        return {name: array[~bad] for name, array in out.items()} if found else out

    def _column(
        self,
        batch: Batch,
        index: int,
        parsed: Parsed,
        bad: npt.NDArray[np.bool_],
        found: list[tuple[int, int, Fault]],
    ) -> Ints:
        cells = batch.columns[index]
        array = parsed.array(cells)
        for at in np.flatnonzero(array == _BAD).tolist():
            line = int(batch.lines[at])
            found.append((line, index, parsed.bad[cells[at]].at(self._place(line, index))))
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
        found: list[tuple[int, int, Fault]],
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
                said = rule.format(high=decimal_text(int(high[at]), 3) + " kHz", carriers=int(carriers[at]))
                place = self._place(line, index) if name else self.sheet.place(line)
                found.append((line, index, Fault(place, said, value, remedy or remedies[name])))
                bad[at] = True

    def _check_sites(
        self,
        batch: Batch,
        out: dict[str, Ints],
        bad: npt.NDArray[np.bool_],
        found: list[tuple[int, int, Fault]],
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
            found.append((line, -1, fault))
            bad[at] = True

    def _sites(self, batch: Batch, out: dict[str, Ints]) -> Ints:
        code = np.full(len(batch.lines), -1, np.int64)
        whole = np.logical_and.reduce([out[name] == 0 for name in SITE_COLUMNS])
        for at in np.flatnonzero(whole).tolist():
            cells = (batch.columns[self.heads.texts[name]][at] for name in SITE_COLUMNS)
            code[at] = self.sites.code(tuple(parse_signed_decimal(cell.strip()) for cell in cells))
        return code

    def _schedules(self, batch: Batch) -> Ints:
        if not any(name in self.heads.texts for name in self.when):
            return np.full(len(batch.lines), -1, np.int64)
        blank = [""] * len(batch.lines)
        columns = [
            batch.columns[self.heads.texts[name]] if name in self.heads.texts else blank for name in self.when
        ]
        return np.fromiter(
            map(self.schedules.__getitem__, zip(*columns, strict=True)), np.int64, len(batch.lines)
        )
