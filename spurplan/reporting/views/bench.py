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
from spurplan.planning.bench.image_readings import RESPONSES, RangeRejection, Rejection
from spurplan.planning.bench.settle import span_text
from spurplan.planning.bench.sheet import Line, Sheet
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted
from spurplan.units import hz_text, listed_text

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
REJECTION = (
    Show("Range", ("range",)),
    Show("Dial", ("dial_hz",)),
    Show("Image (dB)", ("image",)),
    Show("Fair", ("image fair_db",)),
    Show("Described", ("image described_db",)),
    Show("IF (dB)", ("IF breakthrough",)),
    Show("Described", ("IF breakthrough described_db",)),
)
DECIDED = (
    Show("Range", ("range",)),
    Show("Figure", ("told",)),
    Show("Value", ("value_text",)),
    Show("95 % interval", ("interval",)),
    Show("Described", ("described_text",)),
    Show("Rests on", ("reason",), 1),
)
LEAST = tuple(show for show in DECIDED if show.fields != ("interval",))
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
    Show("Beyond the offset", ("residual_hz",), places=1),
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
    decides = [stretch.sentence for stretch in sheet.settled]
    if any(stretch.steps for stretch in sheet.settled):
        tables = {"What each reading settles": _settling(answer.tables["settle"]), **tables}
        layouts["What each reading settles"] = SETTLE
    method = ((AGC_ON if agc_on else AGC_OFF) + WRITE) if sheet.lines else ()
    peaks = [f"{line[:1].upper()}{line[1:]}." for line in warnings(answer.tables["alignment"].records())]
    heading = (
        f"{answer.receiver}: measuring sheet, {_extent_said(sheet)}",
        *decides,
        *method,
        *peaks,
    )
    ends = [f"{line[:1].upper()}{line[1:]}." for line in remedies(answer.tables["alignment"].records())]
    described, remarks = tuple(receiver.splitlines()), (*ends, *_notes(sheet.lines))
    return View(heading, tables, layouts, described, remarks, whole=frozenset(tables), cautions_first=True)


def _extent_said(sheet: Sheet) -> str:
    """Return what a sheet is about, how many readings it asks for, and how long they take."""
    if not sheet.lines:
        return "no reading."
    names = sheet.ranges
    ranges = f"range{'' if len(names) == 1 else 's'} {listed_text(names)}"
    kind = "" if sheet.only is None else f"{sheet.only} alone, "
    return (
        f"{kind}{ranges}: {counted(sheet.readings, 'reading')} at {counted(sheet.settings, 'dial setting')}, "
        f"about {_time_text(sheet.minutes)} [est]."
    )


def _time_text(minutes: float) -> str:
    """Return a time to five minutes, from an hour and a half on to half an hour."""
    if minutes < 90:
        return f"{max(5, 5 * round(minutes / 5))} minutes"
    return f"{0.5 * round(minutes / 30):g} hours"


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
    harmonics = [_told(row) for row in rows]
    cells = {"reading": readings, "output": [BLANK] * len(rows), "told": harmonics, "teaches": teaches}
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
    known, least = fitted["decided"].astype(bool), fitted["at_least"].astype(bool)
    remarks = [row.remark for row in findings.residuals]
    tables = {
        "Image and IF": _rejection(answer.tables["rejection"]),
        "Decided by the readings": fitted.take(np.flatnonzero(known)),
        "At least so much, for nothing was heard": fitted.take(np.flatnonzero(least)),
        "Left to the description": fitted.take(np.flatnonzero(~(known | least))),
        "Next readings": _next(answer.tables["next"]),
        "Readings against the fitted set": _with(residuals, {"remark": remarks}, len(residuals)),
        "Dial": dial,
    }
    tables = {name: table for name, table in tables.items() if len(table)}
    layouts = {
        "Image and IF": REJECTION,
        "Decided by the readings": DECIDED,
        "At least so much, for nothing was heard": LEAST,
        "Left to the description": OPEN,
        "Next readings": NEXT,
        "Readings against the fitted set": RESIDUALS,
        "Dial": DIAL,
    }
    heading = [f"{answer.receiver}: readings of {answer.settings['log']}"]
    summary, *rest = _summary(answer.tables["fitted"], residuals, dial)
    heading += [_rejection_said(rejection) for rejection in findings.rejections]
    heading += [text for text in (findings.next_said, summary, *rest) if text]
    described = tuple(receiver.splitlines())
    return View(tuple(heading), tables, layouts, described, (), whole=frozenset(tables))


def _rejection_said(own: RangeRejection) -> str:
    """Return how far the image and the IF are down on a range, and what the image means, as a sentence."""
    image, straight = own.least_image, own.least_straight
    parts = [] if image is None else [_image_said(own, image)]
    parts += [_doubtful_said(rejection) for rejection in own.doubtful]
    if straight is not None:
        parts.append(f"IF breakthrough {_db_said(straight)}")
    return f"Range {own.range}: {'. '.join(parts)}."


def _image_said(own: RangeRejection, image: Rejection) -> str:
    """Return the least image rejection of a range beside what is fair, and what a shortfall means."""
    text = f"image {_db_said(image)}"
    fair, over = image.fair_db, image.over_fair_db
    if fair is None or over is None or image.verdict is None:
        return text
    circuits = (
        f"{_circuits_said(own.circuits)} should give at a usual loaded Q of {image.usual_q:.0f} (assumed)"
    )
    if image.verdict == "fair":
        text += f", what {circuits}: {fair:.0f}"
    else:
        way = "below" if image.is_short else "above"
        text += f", {abs(over):.0f} dB {way} what {circuits}"
    return f"{text}{_shortfall_said(own, image)}"


def _shortfall_said(own: RangeRejection, image: Rejection) -> str:
    """Return what images below the fair figure mean: all along a range the coils, else the tracking.

    Notes
    -----
    Common practice: what is wrong with a coil is wrong on all of its range; where circuits are out of step
    with the oscillator by trimmer or core the other end is right.
    """
    if not own.short:
        return ""
    here = ""
    if image not in own.short:
        worst = min(own.short, key=lambda rejection: rejection.over_fair_db or 0.0)
        here = f"; {abs(worst.over_fair_db or 0.0):.0f} dB below it at {hz_text(worst.dial_hz)}"
    if not any(rejection.tells_q for rejection in own.short):
        return f"{here}: stray coupling round the circuits first, then a damped coil"
    if own.sound:
        right = listed_text([hz_text(rejection.dial_hz) for rejection in own.sound])
        return f"{here}, not so at {right}: tracking first, then a damped coil"
    if len(own.short) > 1:
        return f"{here}, and short all along: damped coils, or a circuit out of line"
    return f"{here}: a damped coil, or tracking"


def _doubtful_said(image: Rejection) -> str:
    """Return what an image that the others speak against means, if it comes again."""
    short = abs(image.over_fair_db or 0.0)
    return (
        f"No. {image.number} has {_db_said(image)}, {short:.0f} dB below what is due there: read "
        "it again; if it stands, tracking there"
    )


def _circuits_said(circuits: int | None) -> str:
    words = {None: "its circuits", 1: "one circuit", 2: "two circuits", 3: "three circuits"}
    return words.get(circuits, f"{circuits} circuits")


def _db_said(reading: Rejection) -> str:
    at = hz_text(reading.dial_hz)
    if reading.at_least:
        return f"better than {reading.rejection_db:.0f} dB"
    return f"{reading.rejection_db:.4g} dB at {at}"


def _rejection(table: Table) -> Table:
    """Return the readings of image and IF, a row a setting."""
    settings: dict[tuple[str, int], dict[str, dict[str, Any]]] = {}
    first: dict[tuple[str, int], int] = {}
    for at, row in enumerate(table.records()):
        setting = row["range"], row["dial_hz"]
        settings.setdefault(setting, {})[row["response"]] = row
        first.setdefault(setting, at)
    ranges = list(dict.fromkeys(name for name, _ in settings))
    order = sorted(settings, key=lambda setting: (ranges.index(setting[0]), setting[1]))
    texts: dict[str, list[str | None]] = {}
    for response in RESPONSES:
        own = [settings[setting].get(response) for setting in order]
        texts[response] = [None if row is None else _read_text(row) for row in own]
        for name in ("described_db", "fair_db"):
            due = [None if row is None else row[name] for row in own]
            texts[f"{response} {name}"] = [None if db is None else f"{db:.0f}" for db in due]
    return _with(table.take(np.array([first[s] for s in order], dtype=np.int64)), texts, len(order))


def _read_text(row: dict[str, Any]) -> str:
    aside = ", set aside" if row["set_aside"] else ""
    return f"{'>' if row['at_least'] else ''}{row['rejection_db']:.1f}{aside}"


def verdict(answer: Answer) -> str:
    """Return what readings came to: how many figures they decide, and which to make again."""
    tables = answer.tables
    sentences = [_decided(tables["fitted"], tables["residuals"], tables["dial"])]
    return " ".join([*sentences, *_odd(tables["residuals"], tables["dial"])])


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
        single = len(odd) == 1
        disagree = "disagrees with the others and was" if single else "disagree with the others and were"
        yield f"No. {_listed(odd)} {disagree} set aside: read {'it' if single else 'them'} again."


def _settling(table: Table) -> Table:
    """Return what each reading settles, the chance of a stranger as people say it."""
    spans = zip(table["low"].tolist(), table["high"].tolist(), strict=True)
    responses = ["as described" if row["order"] == 0 else row["response"] for row in table.records()]
    return _with(table, {"span": [span_text(*ends) for ends in spans], "response": responses}, len(table))


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
            "value_text": [
                f"at least {_value(row.low, row.unit)}" if row.at_least else _value(row.value, row.unit)
                for row in fitted
            ],
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
