"""The measuring sheet as it goes to the bench, and what came of its readings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from spurplan.columns import Answer, Coded, Column, Table
from spurplan.planning.bench.alignment import remedies, warnings
from spurplan.planning.bench.findings import Findings
from spurplan.planning.bench.fitted import SPREAD, Fitted, number_text, unit_text
from spurplan.planning.bench.settle import span_text
from spurplan.planning.bench.sheet import Line, Sheet
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted
from spurplan.units import hz_text

# room for a pen
BLANK = "__________"

AGC_OFF = (
    "How: feed the generator, modulated, through a dummy aerial. Switch the AGC off, or stay below its "
    "delay; watch an output meter, not the S meter. At each setting put the generator on the wanted "
    "signal, tune the set to it and note the output. Then leave the set alone: put the generator on each "
    "line in turn, move it for most output, raise it until the output is the same again, and write how "
    "many dB its attenuator stands above where it was. The attenuator is the instrument. Where the output "
    "cannot be made the same, write what the audio voltmeter shows into output (250 mV), the wanted "
    "signal's too.",
)
AGC_ON = (
    "How: feed the generator through a dummy aerial and leave the AGC on. At each setting put the generator "
    "on the wanted signal, tune the set to it and note what the S meter shows. Then leave the set alone: put "
    "the generator on each line in turn, move it for most deflection, raise it until the S meter shows the "
    "same again, and write how many dB its attenuator stands above where it was: so the meter's own scale "
    "does not matter. Where it cannot be brought there, write what it shows into output (S7, S9+10), and "
    "where the generator stood into reading; the lines at the start of each range give its scale. Audio "
    "volts tell nothing with the AGC on.",
)
WRITE = (
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
POINTS_AGC_ON = (*POINTS[:-1], Show("Output", ("output",)), POINTS[-1])
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
SETTLE = (
    Show("Order", ("order",)),
    Show("No.", ("number",)),
    Show("Dial", ("dial_hz",)),
    Show("Inject", ("response",)),
    Show("A stranger then at", ("span",)),
    Show("Settled", ("settled",)),
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
    Show("Value", ("value_text",)),
    Show("95 % interval", ("interval",)),
    Show("Rests on, and what would tell more", ("reason",)),
)
NEXT = (
    Show("No.", ("number",)),
    Show("Range", ("range",)),
    Show("Dial", ("dial_hz",)),
    Show("Inject", ("response",)),
    Show("Generator", ("generator_hz",)),
    Show("Level", ("generator_dbm",), places=0),
    Show("Tells", ("figure",)),
    Show("Interval narrows", ("narrows_text",)),
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
    sheet: Sheet = answer.findings
    agc_on = sheet.agc == "on"
    points = POINTS_AGC_ON if agc_on else POINTS
    layouts = {name: ALIGNMENT if "right_hz" in table.values else points for name, table in tables.items()}
    decides = [one.said for one in sheet.settled]
    if any(one.steps for one in sheet.settled):
        tables = {"What each reading settles": _settling(answer.tables["settle"]), **tables}
        layouts["What each reading settles"] = SETTLE
    method = ((AGC_ON if agc_on else AGC_OFF) + WRITE) if sheet.lines else ()
    peaks = [f"{line[:1].upper()}{line[1:]}." for line in warnings(answer.tables["alignment"].records())]
    heading = (
        f"{answer.receiver}: measuring sheet",
        *decides,
        *method,
        *peaks,
    )
    ends = [f"{line[:1].upper()}{line[1:]}." for line in remedies(answer.tables["alignment"].records())]
    described, remarks = tuple(receiver.splitlines()), (*ends, *_notes(sheet.lines))
    return View(heading, tables, layouts, described, remarks, whole=frozenset(tables), cautions_first=True)


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
    cells = {"reading": readings, "output": [BLANK] * len(rows), "told": told, "teaches": teaches}
    return _with(points, cells, len(points))


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


def _notes(lines: Sequence[Line]) -> Iterator[str]:
    """Give what to mind, each remark once with the numbers of its lines."""
    numbers: dict[str, list[int]] = {}
    for line in lines:
        for note in line.notes:
            numbers.setdefault(note, []).append(line.number)
    for note, of in numbers.items():
        yield f"No. {_listed(of)}: {note}."


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
    findings: Findings = answer.findings
    residuals, dial = (answer.tables[name] for name in ("residuals", "dial"))
    fitted = _fitted(answer.tables["fitted"], findings.fitted)
    known = fitted["decided"].astype(bool)
    remarks = [row.remark for row in findings.residuals]
    tables = {
        "Decided by the readings": fitted.take(np.flatnonzero(known)),
        "Left to the description": fitted.take(np.flatnonzero(~known)),
        "Next readings": _next(answer.tables["next"]),
        "Readings against the fitted set": _with(residuals, {"remark": remarks}, len(residuals)),
        "Dial": dial,
    }
    tables = {name: table for name, table in tables.items() if len(table)}
    layouts = dict(
        zip(
            (
                "Decided by the readings",
                "Left to the description",
                "Next readings",
                "Readings against the fitted set",
                "Dial",
            ),
            (DECIDED, OPEN, NEXT, RESIDUALS, DIAL),
            strict=True,
        )
    )
    heading = [f"{answer.receiver}: readings of {answer.settings['log']}"]
    summary, *rest = _summary(answer.tables["fitted"], residuals, dial)
    heading += [text for text in (summary, findings.next_said, *rest) if text]
    described = tuple(receiver.splitlines())
    return View(tuple(heading), tables, layouts, described, (), whole=frozenset(tables))


def verdict(answer: Answer) -> str:
    """Return what readings came to: how many figures they decide, and which to make again."""
    tables = answer.tables
    said = [_decided(tables["fitted"], tables["residuals"], tables["dial"])]
    return " ".join([*said, *_odd(tables["residuals"], tables["dial"])])


def _summary(fitted: Table, residuals: Table, dial: Table) -> Iterator[str]:
    yield _decided(fitted, residuals, dial)
    yield from _odd(residuals, dial)
    ceiling = [int(n) for n in residuals["number"][residuals["at_ceiling"].astype(bool)]]
    if ceiling:
        yield f"At the ceiling, so without a word about Q: No. {_listed(ceiling)}."


def _decided(fitted: Table, residuals: Table, dial: Table) -> str:
    figures = fitted.take(np.flatnonzero(fitted["figure"] != SPREAD))
    decided = int(figures["decided"].sum())
    return (
        f"{counted(len(residuals), 'level reading')}, {counted(len(dial), 'pointer reading')}: "
        f"{decided} of {counted(len(figures), 'figure')} decided."
    )


def _odd(residuals: Table, dial: Table) -> Iterator[str]:
    odd = [int(n) for table in (residuals, dial) for n in table["number"][table["outlier"].astype(bool)]]
    if odd:
        one = len(odd) == 1
        disagree = "disagrees with the others and was" if one else "disagree with the others and were"
        yield f"No. {_listed(odd)} {disagree} set aside: read {'it' if one else 'them'} again."


def _settling(table: Table) -> Table:
    """Return what each reading settles, the chance of a stranger as people say it."""
    spans = zip(table["low"].tolist(), table["high"].tolist(), strict=True)
    told = ["as described" if row["order"] == 0 else row["response"] for row in table.records()]
    return _with(table, {"span": [span_text(*ends) for ends in spans], "response": told}, len(table))


def _next(table: Table) -> Table:
    """Return the readings to make next, the narrowing as people say it."""
    return _with(table, {"narrows_text": [f"{x:.1f} times" for x in table["narrows"].tolist()]}, len(table))


def _fitted(table: Table, fitted: Sequence[Fitted]) -> Table:
    """Return the figures with their numbers as text, each with the digits it deserves."""
    return _with(
        table,
        {
            "told": [row.name for row in fitted],
            "range": [row.range or "all" for row in fitted],
            "value_text": [_value(row.value, row.unit) for row in fitted],
            "interval": [_interval(row) for row in fitted],
            "described_text": [_value(row.described, row.unit) for row in fitted],
        },
        len(fitted),
    )


def _value(value: float | None, unit: str) -> str | None:
    return None if value is None else number_text(value, unit) + unit_text(unit)


def _interval(row: Fitted) -> str | None:
    if row.low is None and row.high is None:
        return None
    if row.high is None or math.isinf(row.high):
        return f"above {number_text(row.low, row.unit)}"
    return f"{number_text(row.low, row.unit)} to {number_text(row.high, row.unit)}"
