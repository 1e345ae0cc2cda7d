"""From readings to figures: the description as what is known before, everything fitted together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.injection import injections
from spurplan.planning.bench.laws import Course, told_at, tuned, weight_of
from spurplan.planning.bench.least_squares import Fit, Prior, Spread, fit
from spurplan.planning.bench.log import LevelReading
from spurplan.planning.bench.model import BenchModel
from spurplan.planning.bench.prior import prior_of
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes.edits import front_end_of
from spurplan.receiver.description import Range, Receiver

Floats = npt.NDArray[np.float64]

# Where nothing holds a reading down: above any reading of the range. [dB]
ABOVE_DB = 6.0


@dataclass(frozen=True)
class BenchFit:
    """The figures of a set that fit its readings.

    Attributes
    ----------
    model : BenchModel.
    readings : tuple of LevelReading, in the order of the model's predictions.
    fit : Fit.
    prior : Prior. What the description says of the figures.
    """

    model: BenchModel
    readings: tuple[LevelReading, ...]
    fit: Fit
    prior: Prior


def model_of(
    receiver: Receiver, readings: Sequence[LevelReading]
) -> tuple[BenchModel, tuple[LevelReading, ...]]:
    """Return the set as a function of its figures, for some readings, and those in its order."""
    ranges = tuple(range_ for range_ in receiver.ranges if any(r.range == range_.name for r in readings))
    ordered: list[LevelReading] = []
    signals, dials, meter_db = {}, {}, {}
    for range_ in ranges:
        own = [reading for reading in readings if reading.range == range_.name]
        ordered += own
        signals[range_.name] = injections(
            compile_chains([(receiver, range_)])[0],
            np.array([reading.steps for reading in own], dtype=np.int64),
            np.array([reading.dial_hz for reading in own], dtype=np.int64),
            np.array([reading.reference_dbm for reading in own]),
        )
        dials[range_.name] = [reading.dial_hz for reading in own]
        meter_db[range_.name] = np.array([math.nan if r.meter_db is None else r.meter_db for r in own])
    meter_db = {name: shown for name, shown in meter_db.items() if not np.isnan(shown).all()}
    return BenchModel(receiver, ranges, signals, courses_of(ranges, dials), meter_db), tuple(ordered)


def courses_of(ranges: Sequence[Range], dials_hz: dict[str, list[int]]) -> dict[str, Course]:
    """Return how the Q of ranges with tuned circuits goes, told at the settings read, by name. [Hz]"""
    return {
        range_.name: Course(front_end_of(range_), told_at(dials_hz[range_.name]))
        for range_ in ranges
        if tuned(front_end_of(range_))
    }


def fitted(receiver: Receiver, readings: Sequence[LevelReading], spread: float | None = None) -> BenchFit:
    """Return the figures that fit constant-output readings.

    Parameters
    ----------
    receiver : Receiver. As described: what it says is where the fit starts, and holds as far as readings
        do not say otherwise.
    readings : those that were made, those at which nothing was heard among them.
    spread : float or None. Standard deviation of one reading, where it is known. [dB]

    Notes
    -----
    The most probable figures, given the readings and how far off descriptions are; all ranges
    together, as they share mixers.
    """
    model, ordered = model_of(receiver, readings)
    prior = prior_of(model.figures, model.ranges, model.courses)
    known = expected()
    best_fit = fit(
        model,
        np.array([reading.db for reading in ordered]),
        _starts(model, ordered),
        Spread(known.reading_db, known.reading_worth) if spread is None else Spread(spread, math.inf),
        beyond=np.array([reading.beyond for reading in ordered], dtype=bool),
        coarse=np.array([1.0 if r.meter_db is None else known.meter_db / known.reading_db for r in ordered]),
        prior=prior,
    )
    return BenchFit(model, ordered, best_fit, prior)


def _starts(model: BenchModel, readings: Sequence[LevelReading]) -> list[Floats]:
    """Return where to begin: the description, and what single readings say by themselves.

    Notes
    -----
    A ceiling described too low, or a Q too high, hides the other: readings that should tell the Q are
    then taken for readings of the ceiling. The other starts have the ceiling above every reading, one of
    them the Q that the images ask for, too.
    """
    first = model.described
    lifted, from_readings = first.copy(), first.copy()
    for j, figure in enumerate(model.figures):
        own = [reading for reading in readings if figure.range in (None, reading.range)]
        if figure.key[0] in ("ceiling", "selectivity_ceiling"):
            top = max([reading.db for reading in own], default=0.0) + ABOVE_DB
            lifted[j] = from_readings[j] = min(max(top, figure.start), figure.high)
        if figure.key[0] == "q":
            range_ = next(r for r in model.ranges if r.name == figure.range)
            q = _q_of_images(range_, own, model)
            if q is not None:
                from_readings[j] = min(max(math.log(q), figure.low), figure.high)
    return [first, lifted, from_readings]


def _q_of_images(range_: Range, readings: Sequence[LevelReading], model: BenchModel) -> float | None:
    """Return the median of the Q that each image reading asks for by itself; None without any."""
    circuits = sum(weight_of(element) for element in tuned(front_end_of(range_)))
    signals = model.signals[range_.name]
    x, wanted = signals.x_hz[0], signals.wanted_hz[0]
    q_values = []
    for i, reading in enumerate(r for r in readings if r.range == range_.name):
        v = abs(x[i] / wanted[i] - wanted[i] / x[i])
        if reading.response == "image" and v > 0 and reading.db > 1.0:
            q_values.append(math.sqrt(10.0 ** (reading.db / (10.0 * circuits)) - 1.0) / v)
    return float(np.median(q_values)) if q_values else None
