"""readings: what the readings of a filled sheet say of a set, and its description with them."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence

from spurplan.cautions import cautions_of
from spurplan.columns import Answer, table_of
from spurplan.errors import Fault, Refused
from spurplan.planning.bench.dial_settings import step_hz
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
from spurplan.planning.bench.image_readings import REJECTION_COLUMNS, rejections
from spurplan.planning.bench.log import Log, read_log
from spurplan.planning.bench.next_readings import (
    NEXT_COLUMNS,
    Next,
    further_readings,
    next_readings,
)
from spurplan.planning.bench.pointer import DialFit, dial_fits
from spurplan.planning.bench.save import proposed
from spurplan.receiver.defaults import defaults_in_use
from spurplan.receiver.description import Receiver
from spurplan.receiver.doubts import columns_left_alone
from spurplan.responses.asking import (
    ReceiverLike,
    as_receiver,
    public_question,
)
from spurplan.responses.listening.worlds import shipped_spreads
from spurplan.units import as_path, is_number, pythons_own


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
