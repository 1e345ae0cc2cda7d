"""Twenty invented sets and 500 logs of them: what a fit has to hold true on.

The truth is a description of its own, with a Q that goes along the range as neither straight line nor
description does; readings are worked out with it by the engine's own levels, get an error and are cut off
where the generator ends. The description that the fit is given is another: two figures in three are off by
chance as `spreads.toml` and `bench.toml` say, one in three by 2 to 3 times that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.fit import BenchFit, fitted, model_of
from spurplan.planning.bench.identifiability import verdicts
from spurplan.planning.bench.laws import mean_log_q
from spurplan.planning.bench.log import LevelReading
from spurplan.planning.bench.points import Bench, chosen, design
from spurplan.receiver.changes.edits import front_end_of
from spurplan.receiver.description import Receiver
from spurplan.receiver.families import figures_of
from tests.planted import predicted_db

Floats = npt.NDArray[np.float64]
NOISE_DB = 1.0
# one sigma each, in the coordinate of the figure: what the page on judgement asks for
OFF = {"q": 0.20, "slope": 0.3, "bend": 0.2, "ceiling": 6.0, "isolation": 6.0, "balance": 6.0, "h2": 6.0}
FAMILIES = ("valve_multiplicative", "valve_additive", "jfet", "dual_gate_mosfet", "single_balanced_rf")
SETS = 20


@dataclass(frozen=True)
class Plan:
    """One invented set: what its description says."""

    family: str
    if_hz: int
    ranges: tuple[tuple[int, int], ...]
    circuits: int
    q: tuple[float, float]
    near: bool
    most_dbm: float


def plans() -> list[Plan]:
    """Return the sets, the same every time."""
    rng = np.random.default_rng(41)
    out = []
    for number in range(SETS):
        low = int(rng.choice([540_000, 1_600_000, 3_200_000, 6_000_000, 11_000_000]))
        span = float(rng.uniform(2.0, 3.0))
        edges = (low, int(low * span))
        ranges = (edges,) if number % 2 else (edges, (edges[1], int(edges[1] * span)))
        q = float(rng.uniform(40.0, 110.0))
        out.append(
            Plan(
                FAMILIES[number % len(FAMILIES)],
                int(rng.choice([455_000, 465_000, 1_602_000])),
                ranges,
                int(rng.integers(1, 4)),
                (q, q * float(rng.choice([1.0, 0.7, 0.55, 1.3]))),
                number % 4 < 2,
                float(rng.choice([-13.0, -13.0, -35.0])),
            )
        )
    return out


def image_db(plan: Plan, edges: tuple[int, int]) -> float:
    """Return what the circuits alone take off the image in the middle of a range. [dB]"""
    w = math.sqrt(edges[0] * edges[1])
    x = w + 2 * plan.if_hz
    q = math.sqrt(plan.q[0] * plan.q[1])
    return 10.0 * plan.circuits * math.log10(1.0 + (q * (x / w - w / x)) ** 2)


def _set_of(plan: Plan, mixer: dict[str, Any], ranges: list[dict[str, Any]]) -> Receiver:
    conversion = {
        "injection": "high", "if_hz": plan.if_hz, "mixer": mixer, "filter": {"bandwidth_hz": 6_000},
    }  # fmt: skip
    return Receiver.from_dict({"name": "plan", "conversions": [conversion], "ranges": ranges})


def receiver_of(plan: Plan, off: Mapping[str, float]) -> Receiver:
    """Return a set, its figures off from the plan by what stands in `off`, in their own units."""
    ranges = []
    for number, (low, high) in enumerate(plan.ranges):
        middle, half = math.sqrt(low * high), 0.5 * math.log(high / low)
        hz = np.unique(np.rint(np.geomspace(low, high, 41)).astype(np.int64))
        u = np.log(hz / middle)
        said = np.log(plan.q[0]) + (u + half) / (2 * half) * math.log(plan.q[1] / plan.q[0])
        departs = (
            off.get(f"q {number}", 0.0)
            + off.get(f"slope {number}", 0.0) * u
            - off.get(f"bend {number}", 0.0) * u**2
        )
        ceiling = image_db(plan, (low, high)) + 2.0 if plan.near else 68.0
        ranges.append(
            {
                "name": str(number + 1), "low_hz": low, "high_hz": high, "rf_gain_db": 18.0,
                "front_end": [
                    {"circuits": plan.circuits, "q": [
                        (int(f), float(q)) for f, q in zip(hz, np.exp(said + departs), strict=True)
                    ]}
                ],
                "front_end_ceiling_db": min(max(ceiling, 15.0), 80.0) + off.get(f"ceiling {number}", 0.0),
            }
        )  # fmt: skip
    mixer: dict[str, Any] = {"family": plan.family}
    plain = _set_of(plan, mixer, ranges)
    figures = figures_of(plain.conversions[0].mixer)
    mixer |= {
        "e1": figures.e1 + off.get("e1", 0.0),
        "isolation": figures.isolation + off.get("isolation", 0.0),
    }
    if figures.balance_rf > 0:
        mixer["balance_rf"] = max(figures.balance_rf + off.get("balance", 0.0), 0.5)
    else:
        mixer["h2"] = figures.intercept_dbm(2) + off.get("h2", 0.0)
    return _set_of(plan, mixer, ranges)


def departures(plan: Plan, rng: np.random.Generator) -> dict[str, float]:
    """Return by how much a true set is off: two in three by chance, one in three outside the prior."""
    names = [f"{kind} {n}" for n in range(len(plan.ranges)) for kind in ("q", "slope", "bend", "ceiling")]
    names += ["e1", "isolation", "balance", "h2"]
    off = {**OFF, "e1": 6.0 / (20.0 * math.log10(3.0))}
    out = {}
    for name in names:
        far = rng.random() < 1.0 / 3.0
        z = rng.choice([-1.0, 1.0]) * rng.uniform(2.0, 3.0) if far else rng.normal()
        out[name] = float(z) * off[name.split()[0]]
    # a slope of oscillator harmonics under 0 there is none, nor a ceiling of nothing
    out["e1"] = max(out["e1"], -0.6)
    return out


@dataclass(frozen=True)
class Log:
    """One simulated log: the set as described, as it is, and what was read."""

    described: Receiver
    truth: Receiver
    readings: tuple[LevelReading, ...]
    wrong: frozenset[int]
    most_dbm: float


def log_of(number: int) -> Log:
    """Return log `number`: of set `number` modulo 20; one in five has a blunder or two in it."""
    rng = np.random.default_rng([7, number])
    plan = plans()[number % SETS]
    described, truth = receiver_of(plan, {}), receiver_of(plan, departures(plan, rng))
    bench = Bench(described, plan.most_dbm)
    injects = [
        i
        for i in chosen(design(bench, described.ranges, 3))
        if i.response != "wanted" and (i.reachable or i.response in ("image", "IF breakthrough"))
    ]
    lines = [
        LevelReading(n, i.range, i.dial_hz, i.steps, i.response, i.reference_dbm, 0.0, False)
        for n, i in enumerate(injects, start=1)
    ]
    true = predicted_db(truth, lines)
    values = true + NOISE_DB * rng.normal(size=len(lines))
    wrong: set[int] = set()
    if number % 5 == 4:
        for n in rng.choice(len(lines), int(rng.integers(1, 3)), replace=False).tolist():
            values[n] += rng.choice([-1.0, 1.0]) * rng.uniform(8.0, 20.0)
            wrong.add(int(n) + 1)
    out = []
    for line, db in zip(lines, values.tolist(), strict=True):
        most = plan.most_dbm - line.reference_dbm
        beyond = db > most
        out.append(
            LevelReading(
                line.number, line.range, line.dial_hz, line.steps, line.response, line.reference_dbm,
                most if beyond else db, beyond,
            )
        )  # fmt: skip
    return Log(described, truth, tuple(out), frozenset(wrong), plan.most_dbm)


def truths(found: BenchFit, truth: Receiver) -> Floats:
    """Return the true coordinates of the figures of a fit, from the true description alone, shape (p,)."""
    ranges = {one.name: one for one in truth.ranges}
    mixer = figures_of(truth.conversions[0].mixer)
    out = []
    for figure in found.model.figures:
        kind = figure.key[0]
        if kind == "q":
            one = ranges[str(figure.key[1])]
            hz = found.model.courses[one.name].at_hz[int(figure.key[2])]
            out.append(float(mean_log_q(front_end_of(one), hz)))
        elif kind == "ceiling":
            out.append(ranges[str(figure.key[1])].front_end_ceiling_db)
        else:
            name = str(figure.key[3])
            out.append(mixer.intercept_dbm(2) if name == "h2" else float(getattr(mixer, name)))
    return np.array(out)


@dataclass(frozen=True)
class Case:
    """One figure of one log: what became of it."""

    kind: str
    rests_on: str
    covered: bool
    width: float
    log: int


def bounds(log: Log, found: BenchFit, at: Floats) -> Floats:
    """Return the Cramer-Rao bound of each figure with the prior, one standard deviation, shape (p,).

    Notes
    -----
    At the truth: of the readings heard and not wrong, 1 dB each, and of what the description says.
    """
    model, ordered = model_of(log.described, found.readings)
    jacobian = model.jacobian(at)
    heard = np.array([not r.beyond and r.number not in log.wrong for r in ordered])
    told = jacobian[heard] / NOISE_DB
    information = told.T @ told + np.linalg.inv(found.prior.covariance)
    return np.sqrt(np.diag(np.linalg.inv(information)))


def cases(number: int) -> list[Case]:
    """Return what became of each figure of a log."""
    log = log_of(number)
    found = fitted(log.described, log.readings)
    true = truths(found, log.truth)
    least = bounds(log, found, true)
    out = []
    for j, (figure, said) in enumerate(zip(found.model.figures, verdicts(found), strict=True)):
        low, high = said.low, said.high
        kind = str(figure.key[0] if figure.key[0] != "mixer" else figure.key[3])
        out.append(
            Case(
                kind,
                said.rests,
                low <= true[j] <= high,
                (high - low) / (2.0 * 1.96 * float(least[j])),
                number,
            )
        )
    return out
