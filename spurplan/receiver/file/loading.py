"""A receiver file on its way to a description: unknown keys taken out, named files read.

Unknown keys are looked for here already, because a file may use the keys of the
file only, never the names of attributes, which a description takes as well.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from typing import Any

from spurplan.csvfile import Cells, FaultList, parse_signed_decimal, read_csv
from spurplan.errors import BadValue, Fault, Refused
from spurplan.receiver.description import (
    Curve,
    Description,
    Mixer,
    checks,
    element_kind,
)
from spurplan.receiver.description.base import child, toml_keys, unknown_key
from spurplan.receiver.description.kinds import TableFile, shown
from spurplan.receiver.description.quantities import HeadedDb, HeadedHz, Loaded
from spurplan.receiver.wrong import Path, Wrong
from spurplan.units import checked_hz, decimal_to_integer, hz_text

LARGEST_TABLE = 16 << 20
MOST_CELLS = 100_000

_FREQUENCY_COLUMNS = {"freq_hz": 0, "freq_khz": 3, "freq_mhz": 6}
_LISTS = ("conversion", "internal", "range")
_ELEMENT_LISTS = ("front_end", "selectivity")


class Loading:
    """One file being made ready, and what was found wrong on the way.

    Parameters
    ----------
    path : str. The receiver file; files it names stand relative to it.

    Attributes
    ----------
    wrongs : list of Wrong. In the receiver file itself.
    faults : list of Fault. In the files it names.
    """

    def __init__(self, path: str) -> None:
        self.folder = os.path.dirname(path)  # noqa: PTH120  "" stays "", as the user wrote it
        self.wrongs: list[Wrong] = []
        self.faults: list[Fault] = []

    def ready(self, table: Any, model: type[Description], path: Path = ()) -> Any:
        """Return a table without unknown keys, the files it names in place of their names."""
        if not isinstance(table, dict):
            return table
        known = toml_keys(model)
        out = {}
        for key, value in table.items():
            if key not in known:
                self.wrongs.append(unknown_key((*path, key), model))
            elif key in _ELEMENT_LISTS:
                out[key] = self._elements(value, (*path, key))
            elif model is Curve and key == "curve":
                out[key] = self._named(value, (*path, key), _curve_rows, ((HeadedHz(1), HeadedDb(0.0)),))
            elif model is Mixer and key == "table":
                out[key] = self._named(value, (*path, key), _mixer_rows, ((1, 1, 0.0, 0.0),))
            else:
                out[key] = self._part(value, model, key, (*path, key))
        return out

    def _part(self, value: Any, model: type[Description], key: str, path: Path) -> Any:
        part = child(model, key)
        if part is None or isinstance(value, list) is not (key in _LISTS):
            return value  # what is wrong with it is told once, where it is read
        if isinstance(value, list):
            return [self.ready(item, part, (*path, number)) for number, item in enumerate(value)]
        return self.ready(value, part, path)

    def _elements(self, value: Any, path: Path) -> Any:
        if not isinstance(value, list):
            return value
        out = []
        for number, item in enumerate(value):
            kind = element_kind(item) if isinstance(item, dict) else None
            out.append(item if kind is None else self.ready(item, kind, (*path, number)))
        return out

    def _named(
        self,
        value: Any,
        path: Path,
        rows_of: Callable[[str, list[Fault]], Loaded],
        harmless: tuple[tuple[Any, ...], ...],
    ) -> Any:
        """Return a file with its rows; harmless ones where it was wrong, so that checking goes on."""
        if isinstance(value, list):
            return value
        if not isinstance(value, str) or not value.strip():
            rule = "is neither the name of a CSV file nor a list of points"
            self.wrongs.append(Wrong(path, rule, shown(value), "name the file in quotes"))
            return Loaded("", harmless)
        name = os.path.normpath(os.path.join(self.folder, value))  # noqa: PTH118  as above
        before = len(self.faults)
        try:
            loaded = rows_of(name, self.faults)
        except Refused as refused:
            for fault in refused.faults:
                if fault.place == name:  # the file as a whole: told where it is named
                    self.wrongs.append(Wrong(path, fault.rule, fault.value or value, fault.remedy))
                else:
                    self.faults.append(fault)
            return Loaded(name, harmless)
        return loaded if len(self.faults) == before else Loaded(name, harmless)


def _frequency_column(cells: Cells) -> tuple[str, int]:
    found = [name for name in _FREQUENCY_COLUMNS if name in cells.header]
    if len(found) != 1:
        rule = "has several columns of frequencies" if found else "has no column of frequencies"
        raise Refused(Fault(f"{cells.name}, row 1", rule, remedy="name one freq_khz (or freq_mhz, freq_hz)"))
    return found[0], _FREQUENCY_COLUMNS[found[0]]


def _curve_rows(name: str, faults: list[Fault]) -> Loaded:
    """Read a curve: freq_khz,attenuation_db."""
    known = tuple(_FREQUENCY_COLUMNS)
    cells = _checked_length(read_csv(name, ("attenuation_db",), known=known, limit=LARGEST_TABLE))
    column, exponent = _frequency_column(cells)
    found = FaultList()
    hertz = cells.parsed(column, lambda text: _hertz(text, exponent), found)
    losses = cells.parsed("attenuation_db", _bounded_db, found)
    for index in range(1, len(hertz)):
        before, here = hertz[index - 1], hertz[index]
        if before is not None and here is not None and here <= before:
            rule = f"does not rise: the row above has {hz_text(before)}"
            remedy = "sort the rows by frequency, each frequency once"
            found.add(Fault(cells.place(index, column), rule, hz_text(here), remedy))
    faults += found.faults
    points = zip(hertz, losses, strict=True)
    rows = () if found.total else tuple((HeadedHz(hz), HeadedDb(db)) for hz, db in points)
    return Loaded(TableFile.of(name, cells.others), rows)


def _mixer_rows(name: str, faults: list[Fault]) -> Loaded:
    """Read measured products: lo,rf,suppression_db,signal_dbm."""
    columns: Mapping[str, Callable[[str], Any]] = {
        "lo": _product_order,
        "rf": _product_order,
        "suppression_db": _bounded_db,
        "signal_dbm": _bounded_db,
    }
    cells = _checked_length(read_csv(name, tuple(columns), limit=LARGEST_TABLE))
    found = FaultList()
    rows = tuple(zip(*(cells.parsed(key, parse, found) for key, parse in columns.items()), strict=True))
    if not found.total:
        for wrong in checks.table(rows):
            number = wrong.path[1] if len(wrong.path) > 1 else None
            place = cells.place(number) if isinstance(number, int) else cells.name
            found.add(Fault(place, wrong.rule, wrong.value, wrong.remedy))
    faults += found.faults
    return Loaded(TableFile.of(name, cells.others), rows)


def _checked_length(cells: Cells) -> Cells:
    if len(cells) > MOST_CELLS:
        rule = f"has {len(cells):,} rows"
        raise Refused(Fault(cells.name, rule, remedy=f"thin it out to at most {MOST_CELLS:,}"))
    return cells


def _hertz(text: str, exponent: int) -> int:
    return checked_hz(decimal_to_integer(text, exponent), text)


def _bounded_db(text: str) -> float:
    number = parse_signed_decimal(text)
    if not -200.0 <= number <= 200.0:
        raise BadValue(text, "is outside any sense", "give -200 to 200")
    return number


def _product_order(text: str) -> int:
    # three digits at most: int() refuses thousands of them in words of its own
    if not re.fullmatch(r"[0-9]{1,3}", text) or int(text) > 50:
        raise BadValue(text, "is not the order of a product", "give a whole number, 0 to 50")
    return int(text)
