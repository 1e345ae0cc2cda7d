"""How good the intervals of a fit are: coverage over 500 trials, and width over the Cramer-Rao bound.

python -m tests.benchmarks.readings [TRIALS]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from spurplan.receiver.description import Receiver
from tests.planted import SPREAD_DB, bound, intervals, predicted_db, read, sheet_of, valve_set

# the outer settings of a sheet with three of them, and with five
OUTER_HZ = {3: (11_950_000, 28_450_000), 5: (11_450_000, 29_550_000)}
MIXER = {"ceiling": 66.0, "e1": 1.1, "isolation": -2.0, "h2": 29.0}
STEPS = {"q low": 0.01, "q high": 0.01, "ceiling": 0.01, "e1": 1e-3, "isolation": 0.01, "h2": 0.01}


def power(outer_hz: tuple[int, int], **figures: float) -> Receiver:
    """Return a set whose Q is a power of frequency, told by log Q at the outer settings."""
    at = (figures.pop("q low"), figures.pop("q high"))
    slope = (at[1] - at[0]) / np.log(outer_hz[1] / outer_hz[0])
    hz = (11_000_000, 30_000_000)
    points = [(f, float(np.exp(at[0] + slope * np.log(f / outer_hz[0])))) for f in hz]
    return valve_set(q=points, **figures)


def losses(outer_hz: tuple[int, int], **figures: float) -> Receiver:
    """Return a set with 1/Q = a + b f^2, told by log Q at the outer settings."""
    low, high = (np.exp(-figures.pop(name)) for name in ("q low", "q high"))
    hz = np.unique(np.concatenate([np.linspace(11e6, 30e6, 381), outer_hz]))
    share = (hz**2 - outer_hz[0] ** 2) / (outer_hz[1] ** 2 - outer_hz[0] ** 2)
    q = 1.0 / (low + share * (high - low))
    return valve_set(q=[(int(f), float(v)) for f, v in zip(hz, q, strict=True)], **figures)


def constant(outer_hz: tuple[int, int], **figures: float) -> Receiver:
    """Return a set whose Q is the same everywhere."""
    return valve_set(q=float(np.exp(figures.pop("q low"))), **{k: figures[k] for k in MIXER})


def run(
    make: Callable[..., Receiver], q: tuple[float, float], trials: int, points: int, outliers: int = 0
) -> dict[str, tuple[float, float, float]]:
    """Return of each figure: share decided, share covered, mean width over that of the bound."""
    truth = {"q low": float(np.log(q[0])), "q high": float(np.log(q[1])), **MIXER}
    described = valve_set(q=80.0, ceiling=70.0)
    lines = sheet_of(described, points)
    outer = (min(line.dial_hz for line in lines), max(line.dial_hz for line in lines))
    assert outer == OUTER_HZ[points]
    made = partial(make, outer)
    steps = {name: step for name, step in STEPS.items() if make is not constant or name != "q high"}
    least = bound(made, lines, truth, steps)
    if make is constant:
        least["q high"] = least["q low"]
    values = predicted_db(made(**truth), lines)
    rng = np.random.default_rng(20)
    seen: dict[str, list[Any]] = {name: [] for name in truth}
    for _ in range(trials):
        noisy = values + SPREAD_DB * rng.normal(size=len(values))
        noisy[rng.choice(len(values), outliers, replace=False)] += rng.choice([-12.0, 12.0], outliers)
        for name, entry in intervals(described, read(lines, noisy)).items():
            ends = np.log([entry.low, entry.high]) if name.startswith("q") else (entry.low, entry.high)
            covered = ends[0] <= truth[name] <= ends[1]
            seen[name].append((covered, (ends[1] - ends[0]) / (2.0 * 1.96 * SPREAD_DB * least[name])))
    return {
        name: (len(found) / trials, *np.mean(found, axis=0).tolist()) for name, found in seen.items() if found
    }


def report(title: str, found: dict[str, tuple[float, float, float]], started: float) -> None:
    """Print one table."""
    print(f"{title} ({time.perf_counter() - started:.0f} s)")
    for name, (decided, covered, width) in found.items():
        print(f"  {name:10s} decided {decided:6.1%}  covered {covered:6.1%}  width/bound {width:.3f}")
    mean = np.mean([entry[1] for entry in found.values()])
    print(f"  all figures covered {mean:.1%}")


def main() -> None:
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    for title, make, q, points, outliers in (
        ("constant Q 60, 3 settings", constant, (60.0, 60.0), 3, 0),
        ("Q 75 falling to 40 as a power, 3 settings", power, (75.0, 40.0), 3, 0),
        ("Q 40 rising to 65 as a power, 5 settings", power, (40.0, 65.0), 5, 0),
        ("1/Q = a + b f^2, 75 to 40, 5 settings", losses, (75.0, 40.0), 5, 0),
        ("constant Q 60, 5 settings, two readings off by 12 dB", constant, (60.0, 60.0), 5, 2),
    ):
        started = time.perf_counter()
        report(f"{trials} trials, {title}", run(make, q, trials, points, outliers), started)


if __name__ == "__main__":
    main()
