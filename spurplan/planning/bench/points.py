"""What to inject and why: the responses of a range whose readings teach the most about it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.dial_settings import settings_hz, step_hz
from spurplan.planning.bench.generator import HARMLESS_DB, HARMONICS, HARMONICS_DB
from spurplan.planning.bench.injection import Injections, above_wanted_db, injections, parts_of
from spurplan.planning.bench.laws import Course, told_at, tuned
from spurplan.planning.bench.model import BenchModel
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.changes.edits import front_end_of
from spurplan.receiver.description import Range, Receiver
from spurplan.receiver.noise import KT0_DBM_PER_HZ, noise_figure_of
from spurplan.responses.image_rejection import flipped
from spurplan.responses.routes import Steps, response_name, wanted_of

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# What is injected at every setting, whatever it teaches: a technician looks for these first.
ALWAYS = ("image", "second image", "third image", "IF breakthrough", "second-IF breakthrough", "half-IF")
# These stand on the sheet even where no generator reaches them: that nothing is heard is a reading.
EVEN_BEYOND = ("image", "IF breakthrough")
HIGHEST_HARMONIC = 3
HARMONICS_A_SETTING = 2
# What the design takes a reading to be good for. [dB]
DESIGN_SPREAD_DB = 1.0
# A reading that moves by less when a figure moves by a step that matters does not teach it. [dB]
TEACHES_DB = 0.5
# The least that a further reading must add to what is known, as a logarithm of information.
WORTH_READING = 0.15


@dataclass(frozen=True)
class Inject:
    """One signal that could be injected.

    Attributes
    ----------
    range : str. Name of the range.
    dial_hz, generator_hz : int. [Hz]
    steps : the route.
    response : str. What the trade calls it; "wanted" for the reference.
    reference_dbm : float. The wanted signal that sets the output. [dBm]
    predicted_db : float. Generator level above that, for the same output. [dB]
    teaches : tuple of str. Figures that the reading tells something about.
    at_ceiling : bool. Whether it gets in by stray coupling: such a reading carries no Q.
    reachable : bool. Whether the generator has that much.
    fooled_by : str. By which of its own harmonics the generator would be heard; "" for none.
    """

    range: str
    dial_hz: int
    generator_hz: int
    steps: Steps
    response: str
    reference_dbm: float
    predicted_db: float
    teaches: tuple[str, ...] = ()
    at_ceiling: bool = False
    reachable: bool = True
    fooled_by: str = ""


def routes(chains: Chains) -> tuple[Steps, ...]:
    """Return the routes of one candidate that are worth a thought, the wanted one first.

    Notes
    -----
    Wanted, the image of every conversion, the way straight through the first mixers, half-IF,
    and both sides of the oscillator harmonics of the first mixer. Higher orders of the signal are
    left to half-IF: the generator's own harmonics come in there by the wanted route.
    """
    wanted = wanted_of(chains, 0)
    out: list[Steps] = [wanted]
    for conversion in range(chains.conversions):
        steps = flipped(chains, conversion)[0]
        out.append(tuple((int(lo), int(rf)) for lo, rf in steps))
    out += [((0, 1),) * past + wanted[past:] for past in range(1, chains.conversions + 1)]
    (lo, rf), behind = wanted[0], wanted[1:]
    out.append(((2 * lo, 2 * rf), *behind))
    for m in range(1, HIGHEST_HARMONIC + 1):
        if m != abs(lo):
            out += [((m, -1), *behind), ((-m, 1), *behind)]
    return tuple(dict.fromkeys(out))


def reference_dbm(receiver: Receiver, chains: Chains) -> float:
    """Return a wanted signal 20 dB above the set's own noise, in whole steps of 5 dB. [dBm]

    Notes
    -----
    On the bench there is no aerial: -174 dBm/Hz, the noise figure, the final bandwidth. Any louder and
    the generator runs out sooner; any weaker and noise is read with the signal.
    """
    middle = 0.5 * float(chains.low_hz[0] + chains.high_hz[0])
    noise = (
        KT0_DBM_PER_HZ
        + float(noise_figure_of(receiver).at(middle))
        + 10.0 * np.log10(float(chains.bandwidth_hz[0]))
    )
    return float(5.0 * np.ceil((noise + 20.0) / 5.0))


def placed(chains: Chains, dials: Sequence[int], reference: float) -> Injections:
    """Return every route at every dial setting that a generator can send into."""
    known = routes(chains)
    pairs = [(dial, steps) for dial in dials for steps in known]
    signals = injections(
        chains,
        np.array([steps for _, steps in pairs], dtype=np.int64),
        np.array([dial for dial, _ in pairs], dtype=np.int64),
        np.full(len(pairs), reference),
    )
    return signals.take(signals.works)


@dataclass(frozen=True)
class Design:
    """Every signal that could be injected, and how its reading would move with the figures.

    Attributes
    ----------
    injects : tuple of Inject, all ranges, the wanted signals among them.
    jacobian : float64, shape (n, p). Per step that matters. [dB]
    """

    injects: tuple[Inject, ...]
    jacobian: Floats


@dataclass(frozen=True)
class Bench:
    """What stands on the bench.

    Attributes
    ----------
    receiver : Receiver.
    most_dbm : float. What the generator gives at most. [dBm]
    reference : float or None. Level of the wanted signals; None for 20 dB above the noise. [dBm]
    """

    receiver: Receiver
    most_dbm: float
    reference: float | None = None

    def signals(self, range_: Range, dials: Sequence[int], level: float | None = None) -> Injections:
        """Return every route of a range worth a thought at some settings.

        Parameters
        ----------
        level : float or None. Of the wanted signals there; that of the bench where None. [dBm]
        """
        chains = compile_chains([(self.receiver, range_)])[0]
        if level is None:
            level = reference_dbm(self.receiver, chains) if self.reference is None else self.reference
        return placed(chains, dials, level)

    def injects(self, range_: Range, signals: Injections, predicted: Floats) -> list[Inject]:
        """Return the signals of a range with what is predicted of them."""
        wanted = wanted_of(signals.chains, 0)
        out = []
        for i in range(len(signals)):
            steps = steps_of_row(signals.steps[i])
            level = float(signals.reference_dbm[i] + predicted[i])
            out.append(
                Inject(
                    range=range_.name,
                    dial_hz=int(signals.dial_hz[i]),
                    generator_hz=int(signals.generator_hz[i]),
                    steps=steps,
                    response=response_name(steps, wanted),
                    reference_dbm=float(signals.reference_dbm[i]),
                    predicted_db=float(predicted[i]),
                    reachable=level <= self.most_dbm,
                )
            )
        return with_harmonics(out, int(signals.chains.bandwidth_hz[0]))

    def settings(self, range_: Range, points: int) -> tuple[int, ...]:
        """Return the settings of a range, moved a little where the generator's harmonics spoil a reading."""
        step, out = step_hz(range_), set()
        last = self.receiver.conversions_of(range_)[-1].filter
        # far enough to be out of the passband, and still on the pointer's round figures
        move = step * (1 if last is None else last.bandwidth_hz // step + 1)
        for hz in settings_hz(self.receiver, range_, points):
            near = [hz + k * move for j in range(1, 5) for k in (j, -j)]
            tried = [hz, *(dial for dial in near if range_.low_hz <= dial <= range_.high_hz)]
            # the first that is clean, else the cleanest
            spoilt = [self._spoilt(range_, tried[0])]
            if spoilt[0]:
                spoilt += [self._spoilt(range_, dial) for dial in tried[1:]]
            out.add(tried[int(np.argmin(spoilt))])
        return tuple(sorted(out))

    def _spoilt(self, range_: Range, dial: int) -> int:
        """Return how many of the usual readings at a setting the generator's own harmonics spoil."""
        signals = self.signals(range_, (dial,))
        predicted = above_wanted_db(parts_of(signals.chains), signals)
        injects = self.injects(range_, signals, predicted)
        return sum(bool(i.fooled_by) for i in injects if i.response in ALWAYS and i.reachable)


def steps_of_row(row: Ints) -> Steps:
    """Return the route of one row as plain tuples."""
    return tuple((int(lo), int(rf)) for lo, rf in row)


def design(bench: Bench, ranges: Sequence[Range], points: int) -> Design:
    """Return what could be injected at the settings of some ranges.

    Parameters
    ----------
    bench : Bench.
    ranges : those to measure.
    points : int. Dial settings a range.
    """
    dials = {range_.name: bench.settings(range_, points) for range_ in ranges}
    signals = {range_.name: bench.signals(range_, dials[range_.name]) for range_ in ranges}
    # the ends alone: what a bend is like no sheet is made for
    ends = {range_.name: told_at([min(dials[range_.name]), max(dials[range_.name])]) for range_ in ranges}
    courses = {
        range_.name: Course(front_end_of(range_), ends[range_.name])
        for range_ in ranges
        if tuned(front_end_of(range_))
    }
    model = BenchModel(bench.receiver, tuple(ranges), signals, courses)
    return designed(bench, model, model.described)


def designed(bench: Bench, model: BenchModel, at: Floats) -> Design:
    """Return what could be injected into a set whose figures are known.

    Parameters
    ----------
    model : BenchModel. With the signals in question.
    at : float64, shape (p,). Coordinates of its figures.
    """
    predicted, ceiling = model.predict(at), model.at_ceiling(at)
    jacobian = model.jacobian(at) * model.scale
    injects: list[Inject] = []
    for range_ in model.ranges:
        start, own = len(injects), model.signals[range_.name]
        for i, inject in enumerate(bench.injects(range_, own, predicted[start : start + len(own)]), start):
            teaches = teaching(model, jacobian[i])
            injects.append(replace(inject, teaches=teaches, at_ceiling=bool(ceiling[i])))
    return Design(tuple(injects), jacobian)


def teaching(model: BenchModel, row: Floats) -> tuple[str, ...]:
    """Return the figures that a reading tells something about, the most telling first."""
    named = [
        (abs(float(moves)), figure.short)
        for moves, figure in zip(row, model.figures, strict=True)
        if abs(moves) >= TEACHES_DB
    ]
    return tuple(dict.fromkeys(name for _, name in sorted(named, key=lambda entry: -entry[0])))


def with_harmonics(injects: Sequence[Inject], bandwidth_hz: int) -> list[Inject]:
    """Return signals with those marked whose generator would be heard by a harmonic of its own.

    Parameters
    ----------
    injects : of one range; each is held against the others of its setting.
    bandwidth_hz : int. Of the last filter. [Hz]
    """
    by_setting: dict[int, list[Inject]] = {}
    for inject in injects:
        by_setting.setdefault(inject.dial_hz, []).append(inject)
    return [
        replace(inject, fooled_by=_fooled_by(inject, by_setting[inject.dial_hz], bandwidth_hz))
        for inject in injects
    ]


def _fooled_by(inject: Inject, others: Sequence[Inject], bandwidth_hz: int) -> str:
    """Return the harmonic by which the generator itself would come in, and where; "" for none."""
    for k in HARMONICS:
        for other in others:
            near = abs(k * inject.generator_hz - other.generator_hz) <= bandwidth_hz
            # what the harmonic is short of being as loud as the response itself
            short = other.predicted_db - (inject.predicted_db - HARMONICS_DB)
            if near and other.steps != inject.steps and short < HARMLESS_DB:
                return f"harmonic {k} comes in as {other.response}"
    return ""


def chosen(possible: Design) -> Iterator[Inject]:
    """Yield what goes on the sheet, by range and setting, the wanted signal first.

    Notes
    -----
    The usual responses, then of the oscillator harmonics those that add most to what the others
    teach: each time the one with the greatest log(1 + j C j'), C the covariance of the figures
    after the readings taken so far, two a setting at most.
    """
    picked = _always(possible) | {
        i for i, inject in enumerate(possible.injects) if inject.response == "wanted"
    }
    picked |= _most_telling(possible, picked)
    order = {name: at for at, name in enumerate(("wanted", *ALWAYS))}
    ranges = list(dict.fromkeys(inject.range for inject in possible.injects))
    for i in sorted(
        picked,
        key=lambda i: (
            ranges.index(possible.injects[i].range), possible.injects[i].dial_hz,
            order.get(possible.injects[i].response, 99), possible.injects[i].generator_hz,
        ),
    ):  # fmt: skip
        yield possible.injects[i]


def _always(possible: Design) -> set[int]:
    return {
        i
        for i, inject in enumerate(possible.injects)
        if inject.response in ALWAYS and (inject.reachable or inject.response in EVEN_BEYOND)
    }


def _most_telling(possible: Design, already: set[int]) -> set[int]:
    rows = possible.jacobian / DESIGN_SPREAD_DB
    figures = rows.shape[1]
    first = [i for i in already if possible.injects[i].reachable]
    covariance = np.linalg.inv(np.eye(figures) + rows[first].T @ rows[first])
    left = {
        i
        for i, inject in enumerate(possible.injects)
        if inject.response == "LO-harmonic" and inject.reachable and not inject.fooled_by
    }
    taken: set[int] = set()
    count: dict[Any, int] = {}
    while left:
        order = sorted(left)
        moved = rows[order] @ covariance
        gain = np.log1p(np.einsum("ni,ni->n", moved, rows[order]))
        # equal ones: the strongest response, which the generator reaches most easily
        best = min(
            range(len(order)),
            key=lambda k: (-round(float(gain[k]), 3), possible.injects[order[k]].predicted_db),
        )
        if gain[best] < WORTH_READING:
            break
        i = order[best]
        setting = (possible.injects[i].range, possible.injects[i].dial_hz)
        left.discard(i)
        if count.get(setting, 0) >= HARMONICS_A_SETTING:
            continue
        count[setting] = count.get(setting, 0) + 1
        taken.add(i)
        row = rows[i]
        spread = covariance @ row
        covariance = covariance - np.outer(spread, spread) / (1.0 + row @ spread)
    return taken
