"""Nominal 95 % intervals: how often they cover what was planted, and how wide they are.

`python -m tests.benchmarks.readings` prints the 500 trials of all cases.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.benchmarks.readings import constant, losses, power, run

COVER = 0.95


@pytest.mark.parametrize(
    ("make", "q", "points"),
    [(constant, (60.0, 60.0), 3), (power, (75.0, 40.0), 5)],
    ids=["constant", "falling"],
)
def test_intervals_cover_and_are_no_wider_than_they_must_be(
    make: object, q: tuple[float, float], points: int
) -> None:
    """60 trials: each figure covered to within 4 standard errors of 95 %, no wider than 1.3 of the bound."""
    trials = 60
    found = run(make, q, trials, points)  # type: ignore[arg-type]
    assert set(found) == {"q low", "q high", "ceiling", "e1", "isolation", "h2"}
    slack = 4.0 * math.sqrt(COVER * (1.0 - COVER) / trials)
    for name, (decided, covered, width) in found.items():
        assert decided > 0.85, name
        assert covered > COVER - slack, name
        assert width < 1.3, name


@pytest.mark.long
@pytest.mark.parametrize(
    ("make", "q", "points", "outliers"),
    [
        (constant, (60.0, 60.0), 3, 0),
        (power, (75.0, 40.0), 3, 0),
        (power, (40.0, 65.0), 5, 0),
        (losses, (75.0, 40.0), 5, 0),
        (constant, (60.0, 60.0), 5, 2),
    ],
    ids=["constant", "falling", "rising", "losses", "two wrong"],
)
def test_five_hundred_trials(make: object, q: tuple[float, float], points: int, outliers: int) -> None:
    """93 to 97 % covered, figure by figure, and no wider than 1.3 times the Cramer-Rao bound."""
    found = run(make, q, 500, points, outliers)  # type: ignore[arg-type]
    for name, (_, covered, width) in found.items():
        assert 0.93 <= covered <= 0.97, name
        assert width <= 1.3, name
    assert 0.93 <= np.mean([entry[1] for entry in found.values()]) <= 0.97
