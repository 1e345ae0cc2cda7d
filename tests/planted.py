"""Sets with planted figures, and readings made from them: what a fit has to find again.

The truth is one description, the starting point of the fit another; the readings are worked out with the
truth and get an error of known size. The Cramer-Rao bound is worked out at the truth, by differences of
the predictions of changed descriptions: nothing of the fit's own arithmetic is in it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.fit import fitted
from spurplan.planning.bench.identifiability import verdicts
from spurplan.planning.bench.injection import above_wanted_db, injections, parts_of
from spurplan.planning.bench.log import LevelReading
from spurplan.planning.bench.points import Bench, chosen, design
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver

Floats = npt.NDArray[np.float64]
SPREAD_DB = 0.8


def valve_set(**figures: Any) -> Receiver:
    """Return a set with one range, 11-30 MHz; figures q, ceiling, e1, isolation, h2."""
    given = {"q": 60.0, "ceiling": 66.0, "e1": 1.0, "isolation": -3.0, "h2": 31.0} | figures
    mixer = {name: given[name] for name in ("e1", "isolation", "h2")}
    return Receiver.from_dict(
        {
            "name": "planted",
            "conversions": [
                {"injection": "high", "if_hz": 465_000, "mixer": mixer, "filter": {"bandwidth_hz": 6_000}}
            ],
            "ranges": [
                {
                    "name": "4", "low_hz": 11_000_000, "high_hz": 30_000_000, "rf_gain_db": 18.0,
                    "front_end": [{"circuits": 2, "q": given["q"]}], "front_end_ceiling_db": given["ceiling"],
                }
            ],
        }
    )  # fmt: skip


def sheet_of(described: Receiver, points: int = 3) -> list[LevelReading]:
    """Return the level lines of the sheet made for a description, their readings 0."""
    injects = chosen(design(Bench(described, -13.0), described.ranges, points))
    return [
        LevelReading(n, i.range, i.dial_hz, i.steps, i.response, i.reference_dbm, 0.0, False)
        for n, i in enumerate((i for i in injects if i.response != "wanted" and i.reachable), start=1)
    ]


def predicted_db(receiver: Receiver, lines: Sequence[LevelReading]) -> Floats:
    """Return what a set gives on the lines of a sheet. [dB]"""
    out = np.zeros(len(lines))
    for one in receiver.ranges:
        own = [n for n, line in enumerate(lines) if line.range == one.name]
        if own:
            chains = compile_chains([(receiver, one)])[0]
            signals = injections(
                chains,
                np.array([lines[n].steps for n in own]),
                np.array([lines[n].dial_hz for n in own]),
                np.array([lines[n].reference_dbm for n in own]),
            )
            out[own] = above_wanted_db(parts_of(chains), signals)
    return out


def read(lines: Sequence[LevelReading], values: Floats) -> list[LevelReading]:
    """Return lines with their readings."""
    return [
        LevelReading(
            line.number,
            line.range,
            line.dial_hz,
            line.steps,
            line.response,
            line.reference_dbm,
            float(db),
            False,
        )
        for line, db in zip(lines, values, strict=True)
    ]


def bound(
    make: Callable[..., Receiver],
    lines: Sequence[LevelReading],
    truth: Mapping[str, float],
    steps: Mapping[str, float],
) -> dict[str, float]:
    """Return the Cramer-Rao bound of each figure for a spread of 1 dB, as a standard deviation.

    Parameters
    ----------
    make : makes a receiver of figures.
    truth : the figures by name.
    steps : how far each is moved for its differences.
    """
    columns = []
    for name, step in steps.items():
        up, down = (
            predicted_db(make(**{**truth, name: truth[name] + sign * step}), lines) for sign in (1.0, -1.0)
        )
        columns.append((up - down) / (2.0 * step))
    jacobian = np.stack(columns, axis=1)
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    return dict(zip(steps, np.sqrt(np.diag(covariance)).tolist(), strict=True))


@dataclass(frozen=True)
class Interval:
    """One figure as a fit gave it, with its 95 % interval."""

    value: float
    low: float
    high: float


def intervals(
    described: Receiver, readings: Sequence[LevelReading], spread: float | None = None
) -> dict[str, Interval]:
    """Return the decided figures of a fit: q at both ends by "q low" and "q high", the others by name."""
    found = fitted(described, readings, spread)
    out: dict[str, Interval] = {}
    for figure, at, verdict in zip(found.model.figures, found.fit.at.tolist(), verdicts(found), strict=True):
        if verdict.decided:
            entry = Interval(*(figure.value(x) for x in (at, verdict.low, verdict.high)))
            kind = figure.key[0]
            name = ("q low", "q middle", "q high")[int(figure.key[2])] if kind == "q" else str(kind)
            out[str(figure.key[-1]) if kind == "mixer" else name] = entry
    return out
