"""From readings to figures: the law of each range's Q chosen, everything fitted together."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.figures import Figure, Key
from spurplan.planning.bench.injection import injections
from spurplan.planning.bench.laws import CONSTANT, LAWS, Law, tuned, weight_of
from spurplan.planning.bench.least_squares import Fit, evidence, fit, rank
from spurplan.planning.bench.log import LevelReading
from spurplan.planning.bench.model import BenchModel
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes.edits import front_end_of
from spurplan.receiver.description import Range, Receiver

Floats = npt.NDArray[np.float64]

# A law with one more figure has to be better by this much of Akaike's criterion, so that a slope that
# is not there is seen in one log out of twenty at most.
BETTER_BY = 2.0
# Where nothing holds a reading down: above any reading of the range. [dB]
ABOVE_DB = 6.0
# A reading that moves by less for a third of the Q tells nothing of how Q goes. [dB]
TELLS_Q_DB = 0.5


@dataclass(frozen=True)
class BenchFit:
    """The figures of a set that fit its readings.

    Attributes
    ----------
    model : BenchModel. With the laws chosen.
    readings : tuple of LevelReading, in the order of the model's predictions.
    fit : Fit.
    gains : mapping of name of range to how much better the best sloped law does than a constant Q;
        nan where there was nothing to judge by.
    law_variance : float64, shape (p,). How far the laws of Q disagree about each figure, as a
        variance of its coordinate; 0 for all that is no Q.
    """

    model: BenchModel
    readings: tuple[LevelReading, ...]
    fit: Fit
    gains: Mapping[str, float]
    law_variance: Floats


@dataclass(frozen=True)
class _Rival:
    """One law of a range's Q as it fits: its score, and its logarithm of Q where it is told."""

    score: float
    law: Law
    at_hz: tuple[int, ...]
    log_q: tuple[float, ...]

    def log_at(self, hz: float) -> float:
        return float(np.log(self.law.q(hz, self.at_hz, self.log_q)))


def model_of(
    receiver: Receiver, readings: Sequence[LevelReading], laws: Mapping[str, Law] | None = None
) -> tuple[BenchModel, tuple[LevelReading, ...]]:
    """Return the set as a function of its figures, for some readings, and those in its order.

    Parameters
    ----------
    laws : by name of range; constant Q where None.
    """
    ranges = tuple(one for one in receiver.ranges if any(r.range == one.name for r in readings))
    ordered: list[LevelReading] = []
    signals, at_hz = {}, {}
    for one in ranges:
        own = [reading for reading in readings if reading.range == one.name]
        ordered += own
        signals[one.name] = injections(
            compile_chains([(receiver, one)])[0],
            np.array([reading.steps for reading in own], dtype=np.int64),
            np.array([reading.dial_hz for reading in own], dtype=np.int64),
            np.array([reading.reference_dbm for reading in own]),
        )
        dials = [reading.dial_hz for reading in own]
        at_hz[one.name] = (min(dials), max(dials))
    chosen = dict.fromkeys((one.name for one in ranges), CONSTANT) if laws is None else laws
    return BenchModel(receiver, ranges, signals, chosen, at_hz), tuple(ordered)


def fitted(receiver: Receiver, readings: Sequence[LevelReading], spread: float | None = None) -> BenchFit:
    """Return the figures that fit constant-output readings.

    Parameters
    ----------
    receiver : Receiver. As described: what it says is where the fit starts, and stays where no
        reading speaks.
    readings : those that were made; none that lie beyond the generator.
    spread : float or None. Standard deviation of one reading, where it is known. [dB]

    Notes
    -----
    Every range first gets a constant Q, all together as they share mixers. Then range by range each
    sloped law is tried, and taken where Akaike's criterion with its small-sample correction is
    better by 2.
    """
    model, ordered = model_of(receiver, readings)
    values = np.array([reading.db for reading in ordered])
    current = fit(model, values, _starts(model, ordered), spread)
    score = _score(current)
    gains: dict[str, float] = {}
    rivals: dict[str, list[_Rival]] = {}
    for one in model.ranges:
        gains[one.name] = math.nan
        if not _may_slope(model, current, one, ordered):
            continue
        trials = [(score, model, current)]
        for law in LAWS[1:]:
            tried, _ = model_of(receiver, readings, {**model.laws, one.name: law})
            found = fit(tried, values, [_carried(model, current, tried)], spread)
            trials.append((_score(found), tried, found))
        rivals[one.name] = [_rival(one.name, *trial) for trial in trials]
        best = min(trials[1:], key=lambda trial: trial[0])
        if math.isfinite(score) and math.isfinite(best[0]):
            gains[one.name] = score - best[0]
        if best[0] < score - BETTER_BY:
            score, model, current = best
    variance = np.array(
        [
            _law_variance(model, figure, rivals, at)
            for figure, at in zip(model.figures, current.at.tolist(), strict=True)
        ]
    )
    return BenchFit(model, ordered, _less_freedom(current, len(rivals)), gains, variance)


def _less_freedom(found: Fit, choices: int) -> Fit:
    """Return a fit with a degree of freedom less for each law that its readings have chosen.

    Notes
    -----
    A choice uses up information as a figure does: of several laws the one with the least squares is
    taken, so they come out a little too small.
    """
    freedom = max(found.freedom - choices, 1)
    if found.known or found.freedom < 1:
        return replace(found, freedom=min(freedom, found.freedom))
    return replace(found, freedom=freedom, spread=math.sqrt(found.cost / freedom))


def _rival(name: str, score: float, model: BenchModel, found: Fit) -> _Rival:
    log_q = [x for f, x in zip(model.figures, found.at.tolist(), strict=True) if f.key[:2] == ("q", name)]
    return _Rival(score, model.laws[name], model.at_hz[name], tuple(log_q))


def _law_variance(
    model: BenchModel, figure: Figure, rivals: Mapping[str, Sequence[_Rival]], at: float
) -> float:
    """Return how far the laws disagree about a Q, weighted by how well each does.

    Notes
    -----
    Weights exp(-score/2) of Akaike's criterion. Without this an interval would take the law for
    certain that the same readings have only made likely, and cover its 95 % in far fewer logs.

    References
    ----------
    [1] S. Buckland, K. Burnham, N. Augustin, Model selection: an integral part of inference, Biometrics
        53, 1997 (from memory).
    """
    own = [r for r in rivals.get(str(figure.key[1]), ()) if math.isfinite(r.score)]
    if figure.key[0] != "q" or not own:
        return 0.0
    at_hz = model.at_hz[str(figure.key[1])]
    constant = model.laws[str(figure.key[1])] is CONSTANT
    hz = math.sqrt(at_hz[0] * at_hz[-1]) if constant else at_hz[int(figure.key[2])]
    best = min(rival.score for rival in own)
    weights = np.array([math.exp(-0.5 * (rival.score - best)) for rival in own])
    apart = np.array([rival.log_at(hz) - at for rival in own])
    return float((weights * apart**2).sum() / weights.sum())


def _score(found: Fit) -> float:
    return evidence(found, rank(found.jacobian[found.kept]))


def _may_slope(model: BenchModel, found: Fit, one: Range, readings: Sequence[LevelReading]) -> bool:
    """Whether readings at two settings or more tell something about the Q of a range."""
    column = next((j for j, f in enumerate(model.figures) if f.key == ("q", one.name, 0)), None)
    if column is None:
        return False
    # those set aside too: a slope may be all that sets them apart
    tells = np.abs(found.jacobian[:, column]) > TELLS_Q_DB
    dials = {r.dial_hz for r, yes in zip(readings, tells, strict=True) if yes and r.range == one.name}
    return len(dials) > 1


def _carried(before: BenchModel, found: Fit, after: BenchModel) -> Floats:
    """Return where a fit with another law begins: a slope of nothing, all else as found."""
    known: dict[Key, float] = {f.key: x for f, x in zip(before.figures, found.at.tolist(), strict=True)}
    return np.array(
        [
            known.get(figure.key, known.get((figure.key[0], figure.key[1], 0), figure.start))
            for figure in after.figures
        ]
    )


def _starts(model: BenchModel, readings: Sequence[LevelReading]) -> list[Floats]:
    """Return where to begin: the description, and what single readings say by themselves.

    Notes
    -----
    A ceiling described too low, or a Q too high, hides the other: readings that should tell the Q are
    then taken for readings of the ceiling. The second start has the ceiling above every reading and
    the Q that the images ask for.
    """
    first = model.described
    lifted, told = first.copy(), first.copy()
    for j, figure in enumerate(model.figures):
        own = [reading for reading in readings if figure.range in (None, reading.range)]
        if figure.key[0] in ("ceiling", "selectivity_ceiling"):
            top = max([reading.db for reading in own], default=0.0) + ABOVE_DB
            lifted[j] = told[j] = min(max(top, figure.start), figure.high)
        if figure.key[0] == "q":
            one = next(r for r in model.ranges if r.name == figure.range)
            q = _q_of_images(one, own, model)
            if q is not None:
                told[j] = min(max(math.log(q), figure.low), figure.high)
    return [first, lifted, told]


def _q_of_images(one: Range, readings: Sequence[LevelReading], model: BenchModel) -> float | None:
    """Return the median of the Q that each image reading asks for by itself; None without any."""
    circuits = sum(weight_of(element) for element in tuned(front_end_of(one)))
    signals = model.signals[one.name]
    x, wanted = signals.x_hz[0], signals.wanted_hz[0]
    found = []
    for i, reading in enumerate(r for r in readings if r.range == one.name):
        v = abs(x[i] / wanted[i] - wanted[i] / x[i])
        if reading.response == "image" and v > 0 and reading.db > 1.0:
            found.append(math.sqrt(10.0 ** (reading.db / (10.0 * circuits)) - 1.0) / v)
    return float(np.median(found)) if found else None
