"""The files that a receiver file names: measured curves, and tables of a mixer's products."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from spurplan.csvfile import Cells, FaultList, read_csv
from spurplan.errors import BadValue, Fault, Refused, shown
from spurplan.receiver.description import rules
from spurplan.schema import HeadedDb, HeadedHz, Loaded, Reading, TableFile
from spurplan.schema_faults import Path, Wrong
from spurplan.units import headed_hz, headed_number, hz_text

LARGEST_TABLE = 16 << 20
MOST_CELLS = 100_000

_FREQUENCY_COLUMNS = {"freq_hz": 0, "freq_khz": 3, "freq_mhz": 6}
Rows = tuple[tuple[Any, ...], ...]
# What stands for a file that was wrong, so that checking goes on, by the key that names it.
HARMLESS: Mapping[str, Rows] = {
    "curve": ((HeadedHz(1), HeadedDb(0.0)),),
    "table": ((1, 1, 0.0, 0.0),),
}
# a file, and what is wrong with it as a whole: rule, value, remedy
_Outcome = tuple[Loaded, list[tuple[str, str | None, str]]]


class NamedFiles:
    """The files that one receiver file names, each read once.

    Parameters
    ----------
    path : str. The receiver file; files it names stand relative to it.

    Attributes
    ----------
    faults : list of Fault. What is wrong inside them.
    """

    def __init__(self, path: str) -> None:
        self.folder = os.path.dirname(path)  # noqa: PTH120  "" stays "", as the user wrote it
        self.faults: list[Fault] = []
        self._read: dict[tuple[str, str], _Outcome] = {}

    def __call__(self, key: str, value: Any, path: Path, reading: Reading) -> Loaded:
        """Return the file that a key names, with its rows; harmless ones where it was wrong.

        Parameters
        ----------
        key : str. "curve" or "table".
        value : what stands under it, no list.
        path : where it stands.
        reading : takes what is wrong with the file as a whole.
        """
        if not isinstance(value, str) or not value.strip():
            rule = "is neither the name of a CSV file nor a list of points"
            reading.asides.append(Wrong(path, rule, shown(value), "name the file in quotes"))
            return Loaded("", HARMLESS[key])
        if (key, value) not in self._read:
            self._read[key, value] = self._rows(key, value)
        loaded, wrongs = self._read[key, value]
        reading.asides.extend(Wrong(path, *wrong) for wrong in wrongs)
        return loaded

    def _rows(self, key: str, value: str) -> _Outcome:
        name = os.path.normpath(os.path.join(self.folder, value))  # noqa: PTH118  as above
        before = len(self.faults)
        wrongs: list[tuple[str, str | None, str]] = []
        try:
            loaded = _ROWS_OF[key](name, self.faults)
        except Refused as refused:
            for fault in refused.faults:
                if fault.place == name:  # the file as a whole: told where it is named
                    wrongs.append((fault.rule, fault.value or value, fault.remedy))
                else:
                    self.faults.append(fault)
            return Loaded(name, HARMLESS[key]), wrongs
        return (loaded if len(self.faults) == before else Loaded(name, HARMLESS[key])), wrongs


def _frequency_column(cells: Cells) -> tuple[str, int]:
    columns = [name for name in _FREQUENCY_COLUMNS if name in cells.header]
    if len(columns) != 1:
        rule = "has several columns of frequencies" if columns else "has no column of frequencies"
        raise Refused(Fault(f"{cells.name}, row 1", rule, remedy="name one freq_khz (or freq_mhz, freq_hz)"))
    return columns[0], _FREQUENCY_COLUMNS[columns[0]]


def _curve_rows(name: str, faults: list[Fault]) -> Loaded:
    """Read a curve: freq_khz,attenuation_db."""
    known = tuple(_FREQUENCY_COLUMNS)
    cells = _checked_length(read_csv(name, ("attenuation_db",), known=known, limit=LARGEST_TABLE))
    column, exponent = _frequency_column(cells)
    own_faults = FaultList()
    hertz = cells.parsed(column, lambda text: headed_hz(text, exponent), own_faults)
    losses = cells.parsed("attenuation_db", _figure, own_faults)
    for index in range(1, len(hertz)):
        before, here = hertz[index - 1], hertz[index]
        if before is not None and here is not None and here <= before:
            rule = f"does not rise: the row above has {hz_text(before)}"
            remedy = "sort the rows by frequency, each frequency once"
            own_faults.add(Fault(cells.place(index, column), rule, hz_text(here), remedy))
    faults += own_faults.faults
    points = zip(hertz, losses, strict=True)
    rows = () if own_faults.total else tuple((HeadedHz(hz), HeadedDb(db)) for hz, db in points)
    return Loaded(TableFile.of(name, cells.others), rows)


def _mixer_rows(name: str, faults: list[Fault]) -> Loaded:
    """Read measured products: lo,rf,suppression_db,signal_dbm."""
    columns: Mapping[str, Callable[[str], Any]] = {
        "lo": _product_order,
        "rf": _product_order,
        "suppression_db": _figure,
        "signal_dbm": _figure,
    }
    cells = _checked_length(read_csv(name, tuple(columns), limit=LARGEST_TABLE))
    own_faults = FaultList()
    rows = tuple(zip(*(cells.parsed(key, parse, own_faults) for key, parse in columns.items()), strict=True))
    if not own_faults.total:
        for wrong in rules.table(rows):
            number = wrong.path[1] if len(wrong.path) > 1 else None
            place = cells.place(number) if isinstance(number, int) else cells.name
            own_faults.add(Fault(place, wrong.rule, wrong.value, wrong.remedy))
    faults += own_faults.faults
    return Loaded(TableFile.of(name, cells.others), rows)


def _checked_length(cells: Cells) -> Cells:
    if len(cells) > MOST_CELLS:
        rule = f"has {len(cells):,} rows"
        raise Refused(Fault(cells.name, rule, remedy=f"thin it out to at most {MOST_CELLS:,}"))
    return cells


def _product_order(text: str) -> int:
    # three digits at most: int() refuses thousands of them in words of its own
    if not re.fullmatch(r"[0-9]{1,3}", text) or int(text) > 50:
        raise BadValue(text, "is not the order of a product", "give a whole number, 0 to 50")
    return int(text)


_figure = partial(headed_number, low=-200.0, high=200.0)
_ROWS_OF: Mapping[str, Callable[[str, list[Fault]], Loaded]] = {"curve": _curve_rows, "table": _mixer_rows}
