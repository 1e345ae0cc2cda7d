"""The measuring sheet as it goes to the bench, and what came of its readings."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from spurplan.columns import Answer, Coded, Column, Table
from spurplan.planning.bench.alignment import warnings
from spurplan.planning.bench.rows import SPREAD, number_text, unit_text
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted
from spurplan.units import hz_text

# room for a pen
BLANK = "__________"

METHOD = (
    "How: feed the generator, modulated, through a dummy aerial. Switch the AGC off, or stay below its "
    "delay; watch an output meter, not the S-meter. At each setting put the generator on the wanted "
    "signal, tune the set to it and note the output. Then leave the set alone: put the generator on each "
    "line in turn, move it for most output, raise it until the output is the same again, and write how "
    "many dB its attenuator stands above where it was. The attenuator is the instrument.",
    "Write 44.5 for decibels above the wanted signal; or levels, as -56 dBm, 100 uV or S9+20, and the "
    "wanted signal's own beside it; >80 where nothing is heard up to 80 dB; leave blank what was not "
    "read. For the pointer write what the dial shows, as 14.18 MHz.",
)
POINTS = (
    Show("No.", ("number",)),
    Show("Inject", ("response", "told")),
    Show("Generator", ("generator_hz",)),
    Show("Expect", ("predicted_db",)),
    Show("Reading", ("reading",)),
    Show("Teaches", ("teaches",)),
)
ALIGNMENT = (
    Show("Range", ("range",)),
    Show("Generator, dial", ("dial_hz",)),
    Show("Adjust", ("adjust",), 1),
    Show("Oscillator on", ("right_hz",)),
    Show("not on", ("wrong_hz",)),
    Show("Right is", ("right_is",)),
    Show("Wrong in reach", ("within_reach",)),
    Show("Image rejection", ("image_rejection_db",), 2),
    Show("Heard again at", ("check_dial_hz",), 3),
)
DECIDED = (
    Show("Range", ("range",)),
    Show("Figure", ("told",)),
    Show("Value", ("value_text",)),
    Show("95 % interval", ("interval",)),
    Show("Described", ("described_text",)),
    Show("Rests on", ("reason",), 1),
)
OPEN = (
    Show("Range", ("range",)),
    Show("Figure", ("told",)),
    Show("Readings say", ("interval",)),
    Show("Why, and what would decide it", ("reason",)),
)
RESIDUALS = (
    Show("No.", ("number",)),
    Show("Range", ("range",), 1),
    Show("Dial", ("dial_hz",)),
    Show("Response", ("response",)),
    Show("Reading", ("reading_db",)),
    Show("Fitted", ("predicted_db",)),
    Show("Off by", ("residual_db",)),
    Show("Note", ("remark",), 1),
)
DIAL = (
    Show("No.", ("number",)),
    Show("Range", ("range",)),
    Show("Tuned to", ("dial_hz",)),
    Show("Pointer off by", ("offset_hz",)),
    Show("Beyond the offset", ("residual_hz",)),
    Show("Outlier", ("outlier",)),
)


def sheet_view(answer: Answer, receiver: str = "") -> View:
    """Return a sheet as a technician fills it in: cautions first, a table a dial setting.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    tables = dict(_settings(answer.tables["points"]))
    if len(answer.tables["alignment"]):
        tables = {
            "Before measuring: two oscillator settings give a peak": answer.tables["alignment"],
            **tables,
        }
    layouts = {name: ALIGNMENT if "right_hz" in table.values else POINTS for name, table in tables.items()}
    peaks = [f"{line[:1].upper()}{line[1:]}." for line in warnings(answer.tables["alignment"].records())]
    heading = (f"{answer.receiver}: measuring sheet", *receiver.splitlines(), *METHOD, *peaks)
    remarks = tuple(_notes(answer.tables["points"]))
    return View(heading, tables, layouts, remarks, whole=frozenset(tables), cautions_first=True)


def _settings(points: Table) -> Iterator[tuple[str, Table]]:
    """Give the lines of each dial setting under a title that says what to set."""
    ranges, dials = points["range"], points["dial_hz"]
    for name, dial in dict.fromkeys(zip(ranges.tolist(), dials.tolist(), strict=True)):
        own = points.take(np.flatnonzero((ranges == name) & (dials == dial)))
        level = f"{float(own['wanted_dbm'][0]):g} dBm"
        yield f"Range {name}, tuned to {hz_text(dial)}; wanted signal {level}", _to_fill(own)


def _to_fill(points: Table) -> Table:
    """Return lines with room for the reading."""
    rows = points.records()
    readings = [BLANK if row["reading"] is None else row["reading"] for row in rows]
    teaches = [
        f"{row['teaches']}; due on {hz_text(row['pointer_hz'])}"
        if row["response"] == "pointer"
        else row["teaches"]
        for row in rows
    ]
    told = [_told(row) for row in rows]
    return _with(points, {"reading": readings, "told": told, "teaches": teaches}, len(points))


def _told(row: dict[str, Any]) -> str | None:
    """Return which harmonic of the oscillator a line is about, which its name does not say."""
    return f"{abs(row['steps'][0][0])} LO" if row["response"] == "LO-harmonic" else None


def _with(table: Table, texts: dict[str, list[Any]], count: int) -> Table:
    """Return a table with columns of text replaced, or added."""
    values, columns = dict(table.values), list(table.columns)
    for name, cells in texts.items():
        known = [cell for cell in cells if cell is not None]
        missing = np.array([cell is None for cell in cells], dtype=bool)
        codes = np.where(missing, -1, np.cumsum(~missing) - 1).astype(np.int64)
        values[name] = Coded(codes if count else np.zeros(0, dtype=np.int64), known)
        if name not in table.values:
            columns.append(Column(name, "text", "", True, "", ""))
        else:
            columns = [replace(c, kind="text", unit="", null=True) if c.name == name else c for c in columns]
    return Table(table.name, tuple(columns), values)


def _notes(points: Table) -> Iterator[str]:
    """Give what to mind, each remark once with the numbers of its lines."""
    said: dict[str, list[int]] = {}
    for number, response, note in zip(points["number"], points["response"], points["note"], strict=True):
        if note is not None and response != "pointer":
            for part in note.split("; "):
                said.setdefault(part, []).append(int(number))
    for part, numbers in said.items():
        yield f"No. {_listed(numbers)}: {part}."


def _listed(numbers: list[int]) -> str:
    """Return numbers in rising order as text, runs of three and more as "3-6"."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [[f"{run[0]}-{run[-1]}"] if len(run) > 2 else list(map(str, run)) for run in runs]
    return ", ".join(part for texts in parts for part in texts)


def readings_view(answer: Answer, receiver: str = "") -> View:
    """Return what came of the readings: figures with intervals, what stays open, what disagrees.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    fitted, residuals, dial = (answer.tables[name] for name in ("fitted", "residuals", "dial"))
    known = fitted["decided"].astype(bool)
    tables = {
        "Decided by the readings": _fitted(fitted.take(np.flatnonzero(known))),
        "Left open": _fitted(fitted.take(np.flatnonzero(~known))),
        "Readings against the fitted set": _residuals(residuals),
        "Dial": dial,
    }
    tables = {name: table for name, table in tables.items() if len(table)}
    layouts = dict(
        zip(
            ("Decided by the readings", "Left open", "Readings against the fitted set", "Dial"),
            (DECIDED, OPEN, RESIDUALS, DIAL),
            strict=True,
        )
    )
    heading = [f"{answer.receiver}: readings of {answer.settings['log']}", *receiver.splitlines()]
    heading += _summary(fitted, residuals, dial)
    return View(tuple(heading), tables, layouts, tuple(_laws(fitted)), whole=frozenset(tables))


def _laws(fitted: Table) -> Iterator[str]:
    """Give how Q goes with frequency on each range, once a range."""
    said = [
        f"Range {name}, loaded Q: {reason.partition('; ')[2]}."
        for name, figure, decided, reason in zip(
            *(fitted[column] for column in ("range", "figure", "decided", "reason")), strict=True
        )
        if decided and ", loaded Q" in figure and "; " in reason
    ]
    yield from dict.fromkeys(said)


def _summary(fitted: Table, residuals: Table, dial: Table) -> Iterator[str]:
    figures = fitted.take(np.flatnonzero(fitted["figure"] != SPREAD))
    decided = int(figures["decided"].sum())
    yield (
        f"{counted(len(residuals), 'level reading')}, {counted(len(dial), 'pointer reading')}: "
        f"{decided} of {counted(len(figures), 'figure')} decided."
    )
    odd = [int(n) for table in (residuals, dial) for n in table["number"][table["outlier"].astype(bool)]]
    if odd:
        one = len(odd) == 1
        verdict = "disagrees with the others and was" if one else "disagree with the others and were"
        yield f"No. {_listed(odd)} {verdict} set aside: read {'it' if one else 'them'} again."
    ceiling = [int(n) for n in residuals["number"][residuals["at_ceiling"].astype(bool)]]
    if ceiling:
        yield f"At the ceiling, so without a word about Q: No. {_listed(ceiling)}."


def _residuals(table: Table) -> Table:
    """Return the level readings with their notes, less the one that stands above the tables."""
    said = [
        None if note is None else "; ".join(p for p in note.split("; ") if "ceiling" not in p) or None
        for note in table["note"]
    ]
    return _with(table, {"remark": said}, len(table))


def _fitted(table: Table) -> Table:
    """Return the figures with their numbers as text, each with the digits it deserves."""
    rows = table.records()
    return _with(
        table,
        {
            "told": [str(row["figure"]).removeprefix(f"range {row['range']}, ") for row in rows],
            "range": [row["range"] or "all" for row in rows],
            "value_text": [_value(row, row["value"]) for row in rows],
            "interval": [_interval(row) for row in rows],
            "described_text": [_value(row, row["described"]) for row in rows],
        },
        len(rows),
    )


def _value(row: dict[str, Any], value: float | None) -> str | None:
    if value is None:
        return None
    return number_text(value, row["unit"]) + unit_text(row["unit"])


def _interval(row: dict[str, Any]) -> str | None:
    low, high = row["low"], row["high"]
    if low is None and high is None:
        return None
    if high is None or math.isinf(high):
        return f"above {number_text(low, row['unit'])}"
    return f"{number_text(low, row['unit'])} to {number_text(high, row['unit'])}"
