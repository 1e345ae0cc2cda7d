"""Which reading to make next: what each one not yet made would take off the figures that are still open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, RANGE, Column
from spurplan.planning.bench.dial_settings import TRACKING_POINTS
from spurplan.planning.bench.fit import BenchFit, courses_of
from spurplan.planning.bench.generator import DEFAULT_MAXIMUM
from spurplan.planning.bench.identifiability import WORTH, taken_off, with_reading
from spurplan.planning.bench.laws import Course
from spurplan.planning.bench.model import BenchModel
from spurplan.planning.bench.points import Bench, Inject, designed, reference_dbm
from spurplan.planning.bench.prior import prior_of
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.units import generator_dbm_of, hz_text

Floats = npt.NDArray[np.float64]

MOST_NEXT = 3

NEXT_COLUMNS = (
    Column("number", "int", "", False, "No.", "1 for the reading to make first"),
    RANGE,
    Column("dial_hz", "int", "Hz", False, "Dial", "frequency to tune the set to"),
    Column("response", "text", "", False, "Inject", "what the trade calls the route"),
    Column("generator_hz", "int", "Hz", False, "Generator", "frequency to set the generator to"),
    Column("generator_dbm", "float", "dBm", False, "Level", "generator level at which it is expected"),
    Column("figure", "text", "", False, "Tells", "the open figure that it narrows most"),
    Column(
        "narrows", "float", "", False, "Narrows",
        "95 % interval of that figure now over the one expected with this reading and those ahead of it",
    ),
    Column("predicted_db", "float", "dB", False, "", "level expected above the wanted signal's"),
    Column("wanted_dbm", "float", "dBm", False, "", "level of the wanted signal of that setting"),
    Column("again", "int", "", True, "", "line of the sheet that was set aside and is read again"),
    Column("steps", "list", "", False, "", "[lo, rf] of each conversion, signed as in IF = lo LO + rf RF"),
)  # fmt: skip


@dataclass(frozen=True)
class Further:
    """The readings that could still be made, c of them, and the p figures of a fit they would move with.

    Attributes
    ----------
    injects : tuple of Inject.
    rows : float64, shape (c, q). How each moves with coordinates that tell all settings in question.
    covariance : float64, shape (q, q). Of those, after the readings made.
    figures : float64, shape (p, q). The figures of the fit as sums of them.
    spread_db : float. Of one reading. [dB]

    Notes
    -----
    Everything per step that matters. A range that was read at two settings tells its Q at two; a third
    setting asks what it does between, so the courses in here are those of all settings together.
    """

    injects: tuple[Inject, ...]
    rows: Floats
    covariance: Floats
    figures: Floats
    spread_db: float

    def variances(self) -> Floats:
        """Return the variance of each figure as it is now, shape (p,)."""
        return _variances(self.figures, self.covariance)

    def taken(self) -> Floats:
        """Return what each reading would take off the variance of each figure, shape (c, p)."""
        return taken_off(self.covariance, self.rows, self.spread_db, self.figures)


@dataclass(frozen=True)
class Next:
    """A reading that is worth making next.

    Attributes
    ----------
    number : int. 1 for the first.
    inject : Inject. What to inject where.
    figure : str. The open figure it narrows most, with its range.
    narrows : float. Its interval now over the one expected with this reading and those ahead of it.
    again : int or None. The line of the sheet that was set aside, where it is to be read again.
    """

    number: int
    inject: Inject
    figure: str
    narrows: float
    again: int | None = None

    @property
    def sentence(self) -> str:
        """What to do and what for, as a sentence."""
        inject = self.inject
        again = "" if self.again is None else f"No. {self.again} again, "
        return (
            f"Next: {again}{inject.response} at {hz_text(inject.dial_hz)} on range {inject.range}, "
            f"generator on {hz_text(inject.generator_hz)} at about "
            f"{inject.reference_dbm + inject.predicted_db:.0f} dBm: "
            f"{self.figure} would be known {self.narrows:.1f} times as closely."
        )

    def record(self) -> dict[str, Any]:
        """Return the fields of `next`."""
        inject = self.inject
        return {
            "number": self.number,
            "range": inject.range,
            "dial_hz": inject.dial_hz,
            "response": inject.response,
            "generator_hz": inject.generator_hz,
            "generator_dbm": inject.reference_dbm + inject.predicted_db,
            "figure": self.figure,
            "narrows": self.narrows,
            "predicted_db": inject.predicted_db,
            "wanted_dbm": inject.reference_dbm,
            "again": NULL_INT if self.again is None else self.again,
            "steps": [list(step) for step in inject.steps],
        }


def further_readings(receiver: Receiver, bench_fit: BenchFit) -> Further:
    """Return the readings within reach of the generator that have not been made, or were set aside.

    Notes
    -----
    At the settings of the log and the tracking points: between those the front end need not be in tune,
    and a reading would tell of that.
    """
    model, fit = bench_fit.model, bench_fit.fit
    bench = Bench(receiver, _most_dbm(bench_fit))
    dials = {range_.name: _dials(bench, range_, bench_fit) for range_ in model.ranges}
    courses = courses_of(model.ranges, dials)
    wide = BenchModel(receiver, model.ranges, model.signals, courses, model.meter_db)
    prior = prior_of(wide.figures, model.ranges, courses)
    at = _coordinates(model, wide, fit.at)
    signals = {
        range_.name: bench.signals(range_, dials[range_.name], _reference(bench, range_, bench_fit))
        for range_ in model.ranges
    }
    possible = designed(bench, wide.with_signals(signals), at)
    made = {
        (r.range, r.dial_hz, r.steps)
        for r, kept in zip(bench_fit.readings, fit.kept, strict=True)
        # what an S meter has said is worth reading properly
        if kept and r.meter_db is None
    }
    free = [
        i
        for i, inject in enumerate(possible.injects)
        if inject.response != "wanted"
        and inject.reachable
        and not inject.fooled_by
        and (inject.range, inject.dial_hz, inject.steps) not in made
    ]
    return Further(
        tuple(possible.injects[i] for i in free),
        possible.jacobian[free],
        fit.elsewhere(wide, prior, at),
        _figures_in(model, wide),
        fit.spread,
    )


def next_readings(bench_fit: BenchFit, further: Further, is_open: Sequence[bool]) -> list[Next]:
    """Return up to three readings that would narrow the open figures most, the first first.

    Parameters
    ----------
    bench_fit : BenchFit.
    further : Further. Of that fit.
    is_open : one a figure. Whether it still rests on the description.

    Notes
    -----
    Each time the reading that takes most off the variances of the open figures together, each in steps
    that matter; each of them given those ahead of it. None that leaves over 70 % of the variance of every
    one of them.
    """
    number = np.flatnonzero(np.array(is_open, dtype=bool))
    if not len(number) or not math.isfinite(further.spread_db):
        return []
    aside = {
        (r.range, r.dial_hz, r.steps): r.number
        for r, kept in zip(bench_fit.readings, bench_fit.fit.kept, strict=True)
        if not kept
    }
    figures, covariance = further.figures[number], further.covariance
    now = _variances(figures, covariance)
    left = list(range(len(further.injects)))
    out: list[Next] = []
    while left and len(out) < MOST_NEXT:
        before = _variances(figures, covariance)
        off = taken_off(covariance, further.rows[left], further.spread_db, figures)
        off = np.where(off >= WORTH * before, off, 0.0)
        best = int(np.argmax(np.round(off.sum(axis=1), 6)))
        if not off[best].any():
            break
        i = left.pop(best)
        covariance = with_reading(covariance, further.rows[i], further.spread_db)
        which = int(np.argmax(off[best]))
        after = _variances(figures, covariance)
        inject = further.injects[i]
        out.append(
            Next(
                len(out) + 1,
                inject,
                bench_fit.model.figures[int(number[which])].full_name,
                math.sqrt(float(now[which] / after[which])),
                aside.get((inject.range, inject.dial_hz, inject.steps)),
            )
        )
    return out


def _variances(figures: Floats, covariance: Floats) -> Floats:
    return np.asarray(np.einsum("pq,qr,pr->p", figures, covariance, figures))


def _most_dbm(bench_fit: BenchFit) -> float:
    """Return what the generator is known to give: the most that was read, or the usual maximum. [dBm]"""
    return max(generator_dbm_of(DEFAULT_MAXIMUM), *(r.reference_dbm + r.db for r in bench_fit.readings))


def _dials(bench: Bench, range_: Range, bench_fit: BenchFit) -> list[int]:
    """Return the settings of the log, and the tracking points. [Hz]"""
    read = {reading.dial_hz for reading in bench_fit.readings if reading.range == range_.name}
    return sorted(read | set(bench.settings(range_, TRACKING_POINTS)))


def _reference(bench: Bench, range_: Range, bench_fit: BenchFit) -> float:
    """Return the level of the wanted signals of a range in the log. [dBm]"""
    own = [
        reading.reference_dbm
        for reading in bench_fit.readings
        if reading.range == range_.name and reading.meter_db is None
    ]
    usual = reference_dbm(bench.receiver, compile_chains([(bench.receiver, range_)])[0])
    return float(np.median(own)) if own else usual


def _coordinates(model: BenchModel, wide: BenchModel, at: Floats) -> Floats:
    """Return the same set in the coordinates of another model, shape (q,)."""
    known = {figure.key: float(x) for figure, x in zip(model.figures, at, strict=True)}
    out = []
    for figure in wide.figures:
        if figure.key[0] == "q":
            name, k = str(figure.key[1]), int(figure.key[2])
            course = model.courses[name]
            log_q = [known["q", name, j] for j in range(len(course.at_hz))]
            out.append(float(course.log_q(wide.courses[name].at_hz[k], log_q)))
        else:
            out.append(known[figure.key])
    return np.array(out)


def _figures_in(model: BenchModel, wide: BenchModel) -> Floats:
    """Return the figures of a model as sums of those of a wider one, in steps that matter, shape (p, q)."""
    place = {figure.key: j for j, figure in enumerate(wide.figures)}
    out = np.zeros((len(model.figures), len(wide.figures)))
    for i, figure in enumerate(model.figures):
        if figure.key[0] == "q":
            name, k = str(figure.key[1]), int(figure.key[2])
            course: Course = wide.courses[name]
            columns = [place["q", name, j] for j in range(len(course.at_hz))]
            out[i, columns] = course.weights(model.courses[name].at_hz[k])
        else:
            out[i, place[figure.key]] = 1.0
    return np.asarray(out * wide.scale / model.scale[:, None])
