"""bench_sheet and readings: what to inject to know a set, and the readings back into its description."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import replace

from spurplan.cautions import cautions_of
from spurplan.columns import Answer, table_of
from spurplan.errors import Fault, Refused, did_you_mean, text_of
from spurplan.planning.bench.dial_settings import TRACKING_POINTS, step_hz
from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.findings import Findings
from spurplan.planning.bench.fit import BenchFit, fitted
from spurplan.planning.bench.fitted import (
    DIAL_COLUMNS,
    FITTED_COLUMNS,
    RESIDUAL_COLUMNS,
    SPREAD,
    Fitted,
    dial_rows,
    figure_rows,
    number_text,
    pointer_rows,
    residual_rows,
    spread_row,
    unit_text,
)
from spurplan.planning.bench.generator import DEFAULT_MAXIMUM
from spurplan.planning.bench.image_readings import REJECTION_COLUMNS, rejections
from spurplan.planning.bench.log import Log, read_log
from spurplan.planning.bench.next_readings import (
    NEXT_COLUMNS,
    Next,
    further_readings,
    next_readings,
)
from spurplan.planning.bench.pointer import DialFit, dial_fits
from spurplan.planning.bench.points import Bench
from spurplan.planning.bench.save import proposed
from spurplan.planning.bench.settle import settle as settle_range
from spurplan.planning.bench.sheet import KINDS, Agc, sheet
from spurplan.receiver.defaults import defaults_in_use
from spurplan.receiver.description import Receiver
from spurplan.receiver.doubts import columns_left_alone
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    SpanLike,
    as_bands,
    as_receiver,
    in_set,
    occupants_of,
    picked_ranges,
    public_question,
    ranges_in,
)
from spurplan.responses.listening.judged import place_of
from spurplan.responses.listening.worlds import shipped_spreads
from spurplan.units import as_path, generator_dbm, is_number, pythons_own, span_hz


@public_question
def bench_sheet(
    receiver: ReceiverLike,
    *,
    range: str | None = None,
    points: int | None = None,
    generator_max: str | float = DEFAULT_MAXIMUM,
    reference: str | float | None = None,
    agc: str = "off",
    only: str | None = None,
    settle: SpanLike | None = None,
    bands: BandsLike = None,
) -> Answer:
    """Return what to inject into a set to measure it, and what each reading would teach.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file.
    range : str or None. One range of the set by name; all where None.
    points : int, 1 to 25, or None. Dial settings a range; 3, the tracking points, where None.
    generator_max : str or float. The most the generator gives: "0.1 V EMF" (a bare voltage is the
        EMF), "50 mV PD", "-13 dBm", or a number of dBm. [dBm]
    reference : str, float or None. Level of the wanted signals; 20 dB above the set's own noise,
        rounded up to a step of 5 dB, where None. [dBm]
    agc : "on" or "off". With it on, lines that give the S meter its scale are on the sheet, and audio
        volts tell nothing.
    only : str or None. One kind of reading, beside the wanted signals, in place of the whole sheet: "image",
        "IF breakthrough", "half-IF", "LO-harmonic", "second image", "pointer" and so on.
    settle : (low, high), text as "28MHz:29.7MHz", or None. The fewest readings that settle whether that
        stretch is usable, in place of the whole sheet. [Hz]
    bands : as in `dial`. Who may be a stranger there.

    Returns
    -------
    Answer with the tables `points` (a line each, its `reading` left open), `alignment` (the two
    oscillator settings that give a peak at each setting) and `settle` (what each reading leaves open
    of what was asked). Its `findings` are a `Sheet`.

    Raises
    ------
    Refused  for a bad file, an unknown range, or figures outside any sense.

    Notes
    -----
    The constant-output method: the generator is raised until the response comes out as loud as the
    wanted signal did, so its attenuator is the instrument. A level P on a route gives what P - R gives
    on the wanted one, and predicted_db is the P for which P - R is the wanted signal's level.
    """
    set_ = as_receiver(receiver)
    picked = picked_ranges(set_, range)
    most = generator_dbm(generator_max, "--generator-max")
    level = None if reference is None else generator_dbm(reference, "--reference")
    if level is not None and level > most:
        rule = f"is more than the generator gives, {most:g} dBm"
        raise Refused(Fault("--reference", rule, f"{level:g} dBm", "give a lower level"))
    if not (isinstance(agc, str) and agc in ("on", "off")):
        raise Refused(Fault("--agc", "is neither on nor off", text_of(agc), "give on or off"))
    bench = Bench(set_, most, level)
    mode: Agc = "on" if agc == "on" else "off"
    if settle is None:
        if bands is not None:
            rule, remedy = "changes nothing without a stretch to settle", "give --settle, or leave it out"
            raise Refused(Fault("--bands", rule, remedy=remedy))
        return sheet(bench, picked, TRACKING_POINTS if points is None else points, mode, only=_kind_of(only))
    if only is not None:
        rule, remedy = "changes nothing beside --settle, which chooses its own", "leave one of the two out"
        raise Refused(Fault("--only", rule, remedy=remedy))
    if points is not None:
        rule, remedy = "changes nothing beside --settle, which chooses its own", "leave one of the two out"
        raise Refused(Fault("--points", rule, remedy=remedy))
    span, chosen = span_hz(settle, "--settle", in_set(set_)), Settings()
    ranges = ranges_in(picked, span, "--settle")
    place = place_of(set_, occupants_of(set_, as_bands(bands), chosen), chosen)
    settled = [settle_range(bench, range_, span, place, chosen) for range_ in ranges]
    answer = sheet(bench, ranges, TRACKING_POINTS, mode, settled)
    return replace(answer, settings={**answer.settings, "settle": list(span)})


def _kind_of(only: str | None) -> str | None:
    """Return the kind of reading that alone was asked for, as its lines name it."""
    if only is None:
        return None
    by_name = {kind.casefold(): kind for kind in KINDS}
    name = only.casefold() if isinstance(only, str) else ""
    if name not in by_name:
        remedy = did_you_mean(text_of(only), list(KINDS))
        raise Refused(Fault("--only", "is no kind of reading", text_of(only), remedy))
    return by_name[name]


@public_question
def readings(
    receiver: ReceiverLike, *, log: str | os.PathLike[str], reading_error: float | None = None
) -> Answer:
    """Return what the readings of a filled sheet say about a set.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file. The set the sheet was made for.
    log : path of the sheet as CSV, its column `reading` filled as far as readings were made.
    reading_error : float or None. Standard deviation of one reading; estimated from how the
        readings agree where None. [dB]

    Returns
    -------
    Answer with the tables `fitted` (a figure each), `residuals` (a level reading each), `dial` (a
    pointer reading each), `next` (up to three readings worth making next) and `rejection` (a reading
    of the image or the IF each, beside what is fair). Its `findings` are `Findings`.

    Raises
    ------
    Refused  with every fault of the log; nothing is fitted from a part of one.

    Notes
    -----
    The most probable figures, given the readings and how far off a description may be (``spreads.toml``
    and ``bench.toml``), in dB and the logarithm of Q. Readings that chance does not explain (1 % for any
    in a log) are set aside. Intervals are nominal 95 %, by how far the sum of squares rises, after
    Student with the degrees of freedom left. A loaded Q goes along its range as described, but for a
    height, a slope and a bend that readings may give it.
    """
    reading_error = pythons_own(reading_error)
    if reading_error is not None and not (is_number(reading_error) and 0.0 < reading_error <= 20.0):
        rule = "is no spread of a reading"
        raise Refused(Fault("--reading-error", rule, str(reading_error), "give above 0 to 20 dB"))
    set_ = as_receiver(receiver)
    taken = read_log(as_path(log, "log"), set_)
    bench_fit = fitted(set_, taken.levels, reading_error) if taken.levels else None
    dials = dial_fits(taken.pointers, {range_.name: step_hz(range_) for range_ in set_.ranges})
    further = None if bench_fit is None else further_readings(set_, bench_fit)
    own = [] if bench_fit is None or further is None else figure_rows(bench_fit, further)
    rows = _figure_rows(set_, bench_fit, own, dials)
    proposals: list[Next] = []
    if bench_fit is not None and further is not None:
        proposals = next_readings(bench_fit, further, [not row.decided for row in own])
    residuals = [] if bench_fit is None else residual_rows(bench_fit)
    images = () if bench_fit is None else rejections(set_, bench_fit)
    measured = {row.key: row.low if row.at_least else None for row in rows if row.key and row.is_told}
    return Answer(
        receiver=set_.name,
        settings={"log": taken.name, "reading_error": reading_error},
        assumptions=tuple(_assumptions(set_, taken, bench_fit)),
        cautions=cautions_of("readings"),
        tables={
            "fitted": table_of("fitted", FITTED_COLUMNS, [row.record() for row in rows]),
            "residuals": table_of("residuals", RESIDUAL_COLUMNS, [row.record() for row in residuals]),
            "dial": table_of("dial", DIAL_COLUMNS, pointer_rows(dials)),
            "next": table_of("next", NEXT_COLUMNS, [proposal.record() for proposal in proposals]),
            "rejection": table_of(
                "rejection",
                REJECTION_COLUMNS,
                [rejection.record() for own in images for rejection in (*own.images, *own.straight)],
            ),
        },
        findings=Findings(
            tuple(rows),
            tuple(residuals),
            images,
            tuple(proposals),
            proposed(set_, bench_fit, measured, dials),
            tuple(_origin(taken, rows)),
        ),
    )


def _figure_rows(
    receiver: Receiver, bench_fit: BenchFit | None, own: Sequence[Fitted], dials: Sequence[DialFit]
) -> list[Fitted]:
    """Return all rows of `fitted`: range by range, then what ranges share, then the spread."""
    names = {dial.range for dial in dials} | {row.range for row in own}
    ranges = [range_ for range_ in receiver.ranges if range_.name in names]
    rows = [*own, *dial_rows(ranges, dials)]
    order = {range_.name: at for at, range_ in enumerate(ranges)}
    rows.sort(key=lambda row: len(order) if row.range is None else order.get(row.range, len(order)))
    return rows if bench_fit is None else [*rows, spread_row(bench_fit)]


def _assumptions(receiver: Receiver, taken: Log, bench_fit: BenchFit | None) -> list[str]:
    spreads, known = shipped_spreads(), expected()
    assumptions = [*taken.unread, *columns_left_alone(receiver)]
    if taken.missing:
        single = taken.missing == 1
        lines = (
            "1 line has no reading and was" if single else f"{taken.missing} lines have no reading and were"
        )
        assumptions.append(f"{lines} passed over")
    if taken.reference_assumed:
        assumptions.append("where the wanted signal has no reading its level is the sheet's")
    if any(reading.meter_db is not None for reading in taken.levels):
        assumptions.append(
            f"an S meter is taken to be even: an S unit {known.s_unit_db:g} dB within a factor of "
            f"{math.exp(known.s_unit_spread):.1f}, its S9 {known.s9_spread_db:g} dB off on each range, one "
            f"reading {known.meter_db:g} dB (one sigma each) [est]"
        )
    if bench_fit is not None:
        assumptions += [
            "readings err by chance alike, in dB; intervals are 95 %",
            f"before the readings a loaded Q may be {spreads.q:.0%} off (one sigma), its slope "
            f"{known.q_slope:g} of an exponent, a ceiling {spreads.ceiling_db:g} dB, products of a mixer "
            f"{spreads.mixer_db:g} dB, one reading {known.reading_db:g} dB [est]",
            "nothing is carried from one range to another but what they share: the mixer",
            "figures of the mixer above the first order rest on the gain ahead of it, as described",
        ]
        left = defaults_in_use(receiver, bench_fit.model.ranges)
        assumptions += [f"not given in the file: {', '.join(left)}"] if left else []
    return assumptions


def _origin(taken: Log, rows: Sequence[Fitted]) -> list[str]:
    """Return where each figure came from, a line each below a head; nothing where none is decided."""
    spread = next((row.value for row in rows if row.name == SPREAD), None)
    size = "" if spread is None else f", spread of one {spread:.2g} dB"
    count = len(taken.levels) + len(taken.pointers)
    # a name that is not UTF-8 can stand in no receiver file
    name = taken.name.encode("utf-8", "replace").decode("utf-8")
    lines = [f"Fitted from {name} ({count} readings{size}), with 95 % intervals:"]
    for row in rows:
        if row.rests_on != "description" and row.name != SPREAD:
            value, low, high = (number_text(number, row.unit) for number in (row.value, row.low, row.high))
            span = f" ({low} to {high})" if row.low is not None else ""
            if row.at_least:
                value, span = f"at least {low}", " (nothing was heard)"
            lines.append(f"  {row.figure}: {value}{unit_text(row.unit)}{span}")
    return lines if len(lines) > 1 else []
