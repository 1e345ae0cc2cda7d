"""The measuring sheet: its lines, what each teaches, and what it takes for granted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from spurplan.cautions import cautions_of
from spurplan.columns import Answer, table_of
from spurplan.errors import Fault, Refused, text_of
from spurplan.planning.bench.alignment import ALIGNMENT_COLUMNS, alignment_rows
from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.generator import HARMONICS_DB, level_text
from spurplan.planning.bench.log import POINTER, WANTED
from spurplan.planning.bench.log_cells import POINT_COLUMNS
from spurplan.planning.bench.points import ALWAYS, Bench, Inject, chosen, design
from spurplan.planning.bench.settle import SETTLE_COLUMNS, Settled, settle_rows
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.defaults import defaults_in_use
from spurplan.receiver.description import Range
from spurplan.receiver.doubts import columns_left_alone
from spurplan.responses.routes import equation
from spurplan.units import as_whole, hz_text

MOST_POINTS = 25
# How far above the wanted signal an S meter is looked at, to know its scale. [dB]
SCALE_DB = (20.0, 40.0)
Agc = Literal["on", "off"]
# What a sheet may be about alone, by the names that its lines have.
KINDS = (*ALWAYS, "LO-harmonic", POINTER)


@dataclass(frozen=True)
class Line:
    """One line of the sheet: its fields, and what to mind with its reading."""

    number: int
    record: dict[str, Any]
    notes: tuple[str, ...] = ()
    inject: Inject | None = None


@dataclass(frozen=True)
class Sheet:
    """What a sheet is made of: its lines, and what they settle where something was asked."""

    lines: tuple[Line, ...]
    settled: tuple[Settled, ...] = ()
    agc: Agc = "off"
    only: str | None = None

    @property
    def ranges(self) -> tuple[str, ...]:
        """Names of the ranges with lines, in the order of the set."""
        return tuple(dict.fromkeys(line.record["range"] for line in self.lines))

    @property
    def settings(self) -> int:
        """How many dial settings it has."""
        return len({(line.record["range"], line.record["dial_hz"]) for line in self.lines})

    @property
    def readings(self) -> int:
        """How many readings it asks for, wanted signals not counted."""
        return sum(line.record["response"] != WANTED for line in self.lines)

    @property
    def minutes(self) -> float:
        """How long that takes at the bench. [min]"""
        known = expected()
        return self.readings * known.minutes_a_reading + self.settings * known.minutes_a_setting


def sheet(
    bench: Bench,
    ranges: Sequence[Range],
    points: int,
    agc: Agc = "off",
    settled: Sequence[Settled] | None = None,
    only: str | None = None,
) -> Answer:
    """Return the measuring sheet of some ranges.

    Parameters
    ----------
    bench : Bench.
    ranges : those to measure.
    points : int, 1 to 25. Dial settings a range.
    agc : "on" or "off". As it is while the readings are made.
    settled : the readings that settle what was asked, in place of all that teach; None for those.
    only : one of `KINDS`, whose lines alone stand there beside the wanted signals; None for all that teach.

    Raises
    ------
    Refused  for another number of points, or where there is none of what alone was asked for.
    """
    given_points, points = points, as_whole(points) or 0
    if not 1 <= points <= MOST_POINTS:
        remedy = f"give 1 to {MOST_POINTS}; 3 are the tracking points"
        raise Refused(Fault("--points", "is no number of settings a range", text_of(given_points), remedy))
    injects = tuple(chosen(design(bench, ranges, points))) if settled is None else _asked(bench, settled)
    if only is not None:
        injects = tuple(inject for inject in injects if inject.response in (WANTED, only))
    lines = tuple(_lines(bench, ranges, injects, agc, only in (None, POINTER)))
    if only is not None and not any(line.record["response"] == only for line in lines):
        remedy = "leave --only out to see what there is"
        raise Refused(Fault("--only", "is nothing that this set can be measured on there", only, remedy))
    # the settings of a stretch are no points to align at
    alignment = [
        row
        for range_ in ranges
        for row in alignment_rows(bench.receiver, range_, _dials(injects, range_.name))
        if settled is None
    ]
    references = {inject.reference_dbm for inject in injects}
    return Answer(
        receiver=bench.receiver.name,
        settings={
            "range": ranges[0].name if len(ranges) == 1 else None,
            "points": points,
            "generator_max_dbm": bench.most_dbm,
            "agc": agc,
            "only": only,
            "wanted_dbm": references.pop() if len(references) == 1 else None,
        },
        assumptions=tuple(_assumptions(bench, ranges, points, settled)),
        cautions=cautions_of("bench-sheet"),
        tables={
            "points": table_of("points", POINT_COLUMNS, [line.record for line in lines]),
            "alignment": table_of("alignment", ALIGNMENT_COLUMNS, alignment),
            "settle": table_of("settle", SETTLE_COLUMNS, settle_rows(settled or (), _numbers(lines))),
        },
        findings=Sheet(lines, tuple(settled or ()), agc, only),
    )


def _asked(bench: Bench, settled: Sequence[Settled]) -> tuple[Inject, ...]:
    """Return the readings that settle something, each setting's wanted signal first."""
    out = []
    for stretch in settled:
        range_ = next(r for r in bench.receiver.ranges if r.name == stretch.range)
        steps = [step.inject for step in stretch.steps]
        for dial in sorted({inject.dial_hz for inject in steps}):
            signals = bench.signals(range_, [dial])
            own = bench.injects(range_, signals, np.zeros(len(signals)))
            out.append(next(inject for inject in own if inject.response == WANTED))
            out += [inject for inject in steps if inject.dial_hz == dial]
    return tuple(replace(i, fooled_by="", reachable=True) if i.response == WANTED else i for i in out)


def _numbers(lines: Sequence[Line]) -> dict[Inject, int]:
    return {line.inject: line.number for line in lines if line.inject is not None}


def _dials(injects: Sequence[Inject], name: str) -> list[int]:
    return list(dict.fromkeys(inject.dial_hz for inject in injects if inject.range == name))


def _lines(
    bench: Bench, ranges: Sequence[Range], injects: Sequence[Inject], agc: Agc, with_pointer: bool
) -> Iterator[Line]:
    """Yield the lines in order; behind each wanted signal the line for the pointer, where that is asked for.

    Notes
    -----
    With the AGC on the first setting of each range has the wanted signal on more levels: they give the S
    meter its scale.
    """
    scaled: set[str] = set()
    chains = {range_.name: compile_chains([(bench.receiver, range_)])[0] for range_ in ranges}
    number = 0
    for inject in injects:
        at = np.array([inject.dial_hz], dtype=np.int64)
        pointer = int(chains[inject.range].set_dial_hz(np.zeros(1, dtype=np.int64), at)[0])
        notes = tuple(_notes(inject, bench.most_dbm))
        row = {**_row(inject, pointer), "agc": agc, "note": "; ".join(notes) or None}
        number += 1
        yield Line(number, {"number": number, **row}, notes, inject)
        if inject.response == WANTED:
            if with_pointer:
                number += 1
                yield Line(
                    number,
                    {
                        "number": number, **row, "response": POINTER, "predicted_db": None,
                        "generator_dbm": None, "teaches": "dial offset",
                        "note": f"write what the dial shows; {hz_text(pointer)} as described",
                    },
                )  # fmt: skip
            if agc == "on" and inject.range not in scaled:
                scaled.add(inject.range)
                for level in (inject.reference_dbm + more for more in SCALE_DB):
                    if level <= bench.most_dbm:
                        number += 1
                        yield Line(number, {"number": number, **row, **_for_scale(level)})


def _for_scale(level: float) -> dict[str, Any]:
    """Return what is other on a line that gives the S meter its scale."""
    return {
        "wanted_dbm": level,
        "generator_dbm": level,
        "teaches": f"the S meter: generator on {level:g} dBm",
        "note": "write what the S meter shows into output",
    }


def _row(inject: Inject, pointer_hz: int) -> dict[str, Any]:
    return {
        "range": inject.range,
        "dial_hz": inject.dial_hz,
        "response": inject.response,
        "generator_hz": inject.generator_hz,
        "predicted_db": inject.predicted_db,
        "teaches": _teaches(inject),
        "reading": None,
        "output": None,
        "wanted_dbm": inject.reference_dbm,
        "generator_dbm": inject.reference_dbm + inject.predicted_db,
        "pointer_hz": pointer_hz,
        "reachable": inject.reachable,
        "equation": equation(inject.steps),
        "steps": [list(step) for step in inject.steps],
    }


def _teaches(inject: Inject) -> str:
    if inject.response == WANTED:
        return "the reference"
    return ", ".join(inject.teaches) or "whether the description holds"


def _notes(inject: Inject, most_dbm: float) -> list[str]:
    """Return what to mind with a reading."""
    notes = []
    if not inject.reachable:
        beyond = most_dbm - inject.reference_dbm
        notes.append(f"beyond the generator: where nothing is heard write >{beyond:.0f} dB")
    if inject.at_ceiling and inject.response == "image":
        notes.append("at the ceiling as described: carries no Q")
    if any(abs(rf) > 1 for _, rf in inject.steps):
        notes.append(f"hangs on the wanted signal's level: keep that at {inject.reference_dbm:g} dBm")
    if inject.fooled_by:
        notes.append(f"the generator's own {inject.fooled_by}: put a low-pass filter behind it")
    return notes


def _assumptions(
    bench: Bench, ranges: Sequence[Range], points: int, settled: Sequence[Settled] | None
) -> list[str]:
    """Return the conventions of the sheet, and what its predictions rest on."""
    left = defaults_in_use(bench.receiver, ranges)
    assumptions = [
        *columns_left_alone(bench.receiver),
        f"the generator gives at most {level_text(bench.most_dbm)}",
        "dBm is the power into a matched 50 ohm (PD); an attenuator marked in EMF shows twice that voltage, "
        "6 dB more; decibels above the wanted signal need no convention",
        "the aerial is a dummy: a 50 ohm set is fed straight, one for a wire through 400 ohm on short wave, "
        "200 pF, 20 uH and 25 ohm in series below (common practice); the Q found is that with it connected",
        f"the generator's own harmonics are taken {HARMONICS_DB:g} dB down, typical of service generators",
        "the front end is in tune at every setting: tracking points come nearest to that"
        if points <= 3
        else "the front end is in tune at every setting, which beside the tracking points is not sure",
    ]
    if bench.reference is None:
        assumptions.append(
            "the wanted signal is taken 20 dB above the set's own noise, rounded up to a step of 5 dB"
        )
    if settled is not None:
        assumptions.append(
            "strangers are those of the band tables on a busy evening; readings come as described, "
            f"each good to {expected().reading_db:g} dB [est]"
        )
    assumptions += [f"not given in the file: {', '.join(left)}"] if left else []
    for range_ in ranges:
        for mixers in compile_chains([(bench.receiver, range_)])[0].mixer:
            assumptions += [text for mixer in mixers for text in mixer.assumed]
    return list(dict.fromkeys(assumptions))
