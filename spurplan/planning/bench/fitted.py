"""What the readings gave, row by row: figures with their intervals and reasons, residuals, the dial."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spurplan.columns import RANGE, Column
from spurplan.planning.bench.chi_square import chi_square_quantile
from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.figures import Figure, Key
from spurplan.planning.bench.fit import BenchFit
from spurplan.planning.bench.identifiability import TELLS_DB, Rests, Verdict, telling, verdicts
from spurplan.planning.bench.injection import losses_db
from spurplan.planning.bench.least_squares import whole
from spurplan.planning.bench.next_readings import Further
from spurplan.planning.bench.pointer import DialFit
from spurplan.planning.bench.points import Inject
from spurplan.receiver.description import Range
from spurplan.units import hz_text

FITTED_COLUMNS = (
    Column("figure", "text", "", False, "Figure", "which figure of the set"),
    Column("value", "float", "", True, "Value", "most probable, by readings and description; null for none"),
    Column("low", "float", "", True, "Low", "lower end of its 95 % interval; null where nothing tells it"),
    Column("high", "float", "", True, "High", "upper end"),
    Column("unit", "text", "", False, "Unit", "dB, dBm, V, Hz; nothing for a Q or a slope"),
    Column("decided", "bool", "", False, "Decided", "whether the readings decide it"),
    Column("reason", "text", "", False, "Why", "what it rests on, or which reading would decide it"),
    Column("range", "text", "", True, "Range", "name of the range; null for what ranges share"),
    Column("described", "float", "", True, "Described", "what the description says"),
    Column("rests_on", "text", "", False, "", "readings, description, or both"),
    Column("at_least", "bool", "", False, "", "whether nothing was heard where it bears: it is low or more"),
)
RESIDUAL_COLUMNS = (
    Column("number", "int", "", False, "No.", "number of the line on the sheet"),
    Column("predicted_db", "float", "dB", False, "Fitted", "with the fitted figures, or as described"),
    Column("reading_db", "float", "dB", False, "Reading", "generator level above the wanted signal's"),
    Column("residual_db", "float", "dB", True, "Off by", "reading less fitted; null where nothing was heard"),
    Column("outlier", "bool", "", False, "Outlier", "whether it disagrees with the others and was set aside"),
    RANGE,
    Column("dial_hz", "int", "Hz", False, "Dial", "frequency the set was tuned to"),
    Column("response", "text", "", False, "Response", "what the trade calls the route"),
    Column("at_ceiling", "bool", "", False, "", "whether it got in by stray coupling: it carries no Q"),
    Column("note", "text", "", True, "Note", "what it can not say"),
)
DIAL_COLUMNS = (
    Column("number", "int", "", False, "No.", "number of the line on the sheet"),
    RANGE,
    Column("dial_hz", "int", "Hz", False, "Tuned to", "frequency of the generator"),
    Column("offset_hz", "int", "Hz", False, "Pointer off by", "what the pointer showed above what it should"),
    Column("residual_hz", "int", "Hz", False, "Beyond the offset", "that less the offset of the range"),
    Column("outlier", "bool", "", False, "Outlier", "whether it disagrees with the others and was set aside"),
)
SPREAD = "spread of one reading"
# A reading that decides so much of what is expected of it is checked by no other.
_ALONE = 0.9


@dataclass(frozen=True)
class Fitted:
    """One figure of the set, as the readings have it.

    Attributes
    ----------
    key : Key or None. None for what the model has no figure for: a dial offset, the spread.
    name : str. Without its range.
    range : str or None. None for what ranges share.
    value, low, high, described : float or None. In `unit`.
    unit : str.
    decided : bool. Whether readings decide it.
    reason : str. What it rests on, and which reading would tell more.
    rests_on : str. "readings", "description" or "both".
    at_least : bool. Whether nothing was heard on any reading that bears on it: it is `low` or more, and
        `value` and `high` are None.
    """

    key: Key | None
    name: str
    range: str | None
    value: float | None
    low: float | None
    high: float | None
    unit: str
    decided: bool
    reason: str
    described: float | None
    rests_on: Rests
    at_least: bool = False

    @property
    def is_told(self) -> bool:
        """Whether readings have told something of it that the description has not."""
        return self.rests_on != "description"

    @property
    def figure(self) -> str:
        """Its name, with its range."""
        return self.name if self.range is None else f"range {self.range}, {self.name}"

    def record(self) -> dict[str, Any]:
        """Return the fields of `fitted`."""
        return {column.name: getattr(self, column.name) for column in FITTED_COLUMNS}


@dataclass(frozen=True)
class Residual:
    """One level reading against the set.

    Attributes
    ----------
    number, range, dial_hz, response : of its line on the sheet. [Hz]
    predicted_db, reading_db, residual_db : float; the last None where nothing was heard. [dB]
    outlier : bool. Whether it disagrees with the others.
    at_ceiling : bool. Whether it got in by stray coupling.
    carries_no_q : bool. Whether that is why it says nothing of a Q.
    remark : str or None. What else it can not say.
    """

    number: int
    predicted_db: float
    reading_db: float
    residual_db: float | None
    outlier: bool
    range: str
    dial_hz: int
    response: str
    at_ceiling: bool = False
    carries_no_q: bool = False
    remark: str | None = None

    @property
    def note(self) -> str | None:
        """All that it can not say."""
        ceiling = "at the ceiling: carries no Q" if self.carries_no_q else None
        return "; ".join(text for text in (ceiling, self.remark) if text is not None) or None

    def record(self) -> dict[str, Any]:
        """Return the fields of `residuals`."""
        return {column.name: getattr(self, column.name) for column in RESIDUAL_COLUMNS}


def figure_rows(bench_fit: BenchFit, further: Further) -> list[Fitted]:
    """Return a row a figure, in the order of the set, with what would tell more of the open ones."""
    helps = telling(further.variances(), further.taken())
    return [
        _figure_row(bench_fit, j, figure, verdict, None if help_ is None else further.injects[help_])
        for j, (figure, verdict, help_) in enumerate(
            zip(bench_fit.model.figures, verdicts(bench_fit), helps, strict=True)
        )
    ]


def _figure_row(
    bench_fit: BenchFit, number: int, figure: Figure, verdict: Verdict, help_: Inject | None
) -> Fitted:
    reasons = [*_why(bench_fit, figure, verdict)]
    if not verdict.decided and not verdict.at_least:
        reasons.append(
            "no reading within reach of the generator would settle it" if help_ is None else _told(help_)
        )
    return Fitted(
        key=figure.key,
        name=figure.name,
        range=figure.range,
        value=None if verdict.at_least else figure.value(float(bench_fit.fit.at[number])),
        low=figure.value(verdict.low),
        high=None if verdict.at_least else figure.value(verdict.high),
        unit=figure.unit,
        decided=verdict.decided,
        reason="; ".join(reasons),
        described=figure.described,
        rests_on=verdict.rests,
        at_least=verdict.at_least,
    )


def number_text(value: float | None, unit: str) -> str:
    """Return a figure with the digits it deserves, hertz in kilohertz; "" for none."""
    if value is None:
        return ""
    if unit == "Hz":
        return f"{value / 1e3:.3g}"
    if unit in ("dB", "dBm"):
        return f"{value:z.1f}"
    return f"{value:.3g}" if abs(value) < 100 else f"{value:.0f}"


def unit_text(unit: str) -> str:
    """Return the unit that goes with `number_text`, a space ahead of it; "" for none."""
    return f" {'kHz' if unit == 'Hz' else unit}" if unit else ""


def _told(inject: Inject) -> str:
    return (
        f"{inject.response} at {hz_text(inject.dial_hz)} on range {inject.range} "
        f"(generator on {hz_text(inject.generator_hz)}) would tell"
    )


def _counted(number: int) -> str:
    return "1 reading" if number == 1 else f"{number} readings"


def _why(bench_fit: BenchFit, figure: Figure, verdict: Verdict) -> Iterator[str]:
    """Give what a figure rests on, in words."""
    if verdict.silent:
        if figure.key[0] == "q":
            yield "as described: its readings are at the ceiling, or none was made, and carry no Q"
        elif figure.key[0] == "ceiling":
            deepest = f"{_deepest_db(bench_fit, figure):.0f} dB"
            yield f"as described: no reading got down to it, it is above {deepest}"
        else:
            yield "as described: no reading moves with it"
        return
    count = verdict.readings
    if verdict.at_least:
        yield f"nothing was heard on {_counted(count)} that would have told it"
        yield (
            "the described one is less" if verdict.rests == "readings" else "the described one may be right"
        )
        return
    some = "1 reading moves with it" if count == 1 else f"{_counted(count)} move with it"
    some = "readings hardly move with it" if count == 0 else some
    if verdict.rests == "readings":
        yield some
    elif verdict.rests == "both":
        yield f"{some}; the rest is the description's"
    else:
        yield f"as described: {some}" if count == 0 else f"as described: {some}, too little to matter"
    if verdict.tied_to:
        others = ", ".join(bench_fit.model.figures[k].full_name for k in verdict.tied_to)
        yield f"readings tell it only together with {others}, the description how it is shared out"


def _deepest_db(bench_fit: BenchFit, figure: Figure) -> float:
    """Return the greatest loss ahead of the first mixer that any reading of a range got through. [dB]"""
    model = bench_fit.model
    range_ = next(r for r in model.ranges if r.name == figure.range)
    parts = model.parts(range_, model.values(bench_fit.fit.at))
    return float(losses_db(parts, model.signals[range_.name], 0).max())


def dial_rows(ranges: Sequence[Range], dials: Sequence[DialFit]) -> Iterator[Fitted]:
    """Yield a row a range for its dial offset."""
    by_name = {dial.range: dial for dial in dials}
    for range_ in ranges:
        dial = by_name.get(range_.name)
        known = dial is not None and math.isfinite(dial.low_hz)
        yield Fitted(
            key=None,
            name="dial offset",
            range=range_.name,
            value=None if dial is None else dial.offset_hz,
            low=dial.low_hz if dial is not None and known else None,
            high=dial.high_hz if dial is not None and known else None,
            unit="Hz",
            decided=dial is not None and dial.decided,
            reason=_why_offset(dial),
            described=float(range_.dial_offset_hz),
            rests_on="readings" if dial is not None and dial.decided else "description",
        )


def _why_offset(dial: DialFit | None) -> str:
    """Return what a dial offset rests on, or what would decide it."""
    if dial is None:
        return "no pointer reading: write what the dial shows with the set tuned to the generator"
    kept = int((~dial.outlier).sum())
    why = f"{_counted(kept)} of the pointer" + ("; nothing checks it" if kept == 1 else "")
    if dial.trend:
        why += "; it changes along the range: the scale is stretched, which one offset does not say"
    if not dial.decided:
        off = hz_text(round(dial.furthest.offset_hz))
        why += (
            f" that do not agree to two steps of the scale: line {dial.furthest.number}, {off} off, "
            "stands furthest from the others; read it again"
        )
    return why


def spread_row(bench_fit: BenchFit) -> Fitted:
    """Return the row of how far one reading is off by chance."""
    fit = bench_fit.fit
    low = high = None
    rests: Rests = "description"
    if fit.known:
        why = "as given"
    else:
        freedom = max(whole(fit.freedom), 1)
        low, high = (
            fit.spread * math.sqrt(fit.freedom / chi_square_quantile(p, freedom)) for p in (0.975, 0.025)
        )
        spare = max(round(fit.freedom - expected().reading_worth), 0)
        usual = f"the usual {expected().reading_db:g} dB, which counts as {expected().reading_worth:g}"
        why = f"{_counted(spare)} to spare, and {usual}"
        rests = "both" if spare else "description"
    return Fitted(
        key=None, name=SPREAD, range=None, value=fit.spread, low=low, high=high,
        unit="dB", decided=fit.known or rests == "both", reason=why, described=None, rests_on=rests,
    )  # fmt: skip


def residual_rows(bench_fit: BenchFit) -> list[Residual]:
    """Return a row a level reading, in the order of the sheet."""
    fit, model = bench_fit.fit, bench_fit.model
    ceiling = model.at_ceiling(fit.at)
    q_columns = [j for j, figure in enumerate(model.figures) if figure.key[0] == "q"]
    rows, shift = [], model.shift_db(fit.at)
    for i, reading in enumerate(bench_fit.readings):
        # what was not heard did not get in by any way
        strays = bool(ceiling[i]) and not reading.beyond
        carries = bool(np.any(np.abs(fit.jacobian[i, q_columns]) > TELLS_DB)) if q_columns else False
        rows.append(
            Residual(
                number=reading.number, predicted_db=reading.db - float(shift[i] + fit.residuals[i]),
                reading_db=reading.db - float(shift[i]),
                residual_db=None if reading.beyond else float(fit.residuals[i]),
                outlier=not bool(fit.kept[i]),
                range=reading.range, dial_hz=reading.dial_hz, response=reading.response,
                at_ceiling=strays, carries_no_q=strays and not carries,
                remark=_remark(bench_fit, i),
            )
        )  # fmt: skip
    return sorted(rows, key=lambda row: row.number)


def _remark(bench_fit: BenchFit, number: int) -> str | None:
    kept = bool(bench_fit.fit.kept[number])
    if bench_fit.readings[number].beyond:
        return (
            "nothing was heard up to there" if kept else "nothing was heard, where the others say it would be"
        )
    if not kept:
        return "disagrees with the others; set aside"
    meter = None if bench_fit.readings[number].meter_db is None else "by the S meter"
    alone = "no other reading checks it" if bench_fit.fit.leverage[number] > _ALONE else None
    return "; ".join(text for text in (meter, alone) if text is not None) or None


def pointer_rows(dials: Sequence[DialFit]) -> list[dict[str, Any]]:
    """Return a row a pointer reading, in the order of the sheet."""
    rows = [
        {
            "number": pointer.number, "range": dial.range, "dial_hz": pointer.dial_hz,
            "offset_hz": pointer.offset_hz, "residual_hz": round(float(dial.residuals_hz[i])),
            "outlier": bool(dial.outlier[i]),
        }
        for dial in dials
        for i, pointer in enumerate(dial.readings)
    ]  # fmt: skip
    return sorted(rows, key=lambda row: int(row["number"]))
