"""The least squares themselves: against scipy, printed tables, and readings that lie."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import numpy.typing as npt
import pytest
from scipy import optimize, stats

from spurplan.planning.bench.chi_square import chi_square_quantile
from spurplan.planning.bench.fitted import spread_row
from spurplan.planning.bench.identifiability import telling, verdicts
from spurplan.planning.bench.least_squares import Linear, evidence, fit, rank
from spurplan.planning.bench.student import t_quantile
from tests.outside import Differences, against

Floats = npt.NDArray[np.float64]


# W. S. Gosset's table as printed in any textbook of statistics, 97.5 % point (from memory)
QUANTILES = {1: 12.706, 2: 4.303, 3: 3.182, 5: 2.571, 10: 2.228, 20: 2.086, 30: 2.042, 120: 1.980}


@against(
    "Gosset's table of t, 97.5 % (from memory)", "quantiles of a fit's intervals", unit="", tolerance=6e-4
)
def test_quantiles_of_t_in_print() -> Differences:
    """The two-sided 95 % points."""
    for freedom, t in QUANTILES.items():
        yield f"{freedom} degrees of freedom", t_quantile(0.975, freedom) - t


@against("scipy.stats", "quantiles of t, 45 of them", unit="%", tolerance=0.01, needs="scipy")
def test_quantiles_of_t_are_those_of_scipy() -> Differences:
    """Any probability, odd and even degrees of freedom, and the normal law at the end."""
    for p in (0.3, 0.5001, 0.9, 0.975, 0.99999):
        for freedom in (1, 2, 3, 4, 7, 30, 101, 1999, 5000):
            exact = stats.t.ppf(p, freedom)
            yield f"{p}, {freedom}", 100 * (t_quantile(p, freedom) - exact) / max(abs(exact), 0.01)
        assert t_quantile(p, math.inf) == pytest.approx(stats.norm.ppf(p), rel=1e-9)


def test_a_certain_quantile_is_refused() -> None:
    with pytest.raises(ValueError, match="no quantile"):
        t_quantile(1.0, 3)


@against("scipy.stats", "quantiles of chi-square, 55 of them", unit="%", tolerance=0.01, needs="scipy")
def test_quantiles_of_chi_square_are_those_of_scipy() -> Differences:
    """Any probability, odd and even degrees of freedom, and the many at the end."""
    for p in (0.001, 0.025, 0.5, 0.975, 0.9999):
        for freedom in (1, 2, 3, 4, 5, 8, 30, 101, 1999, 2000, 5000):
            exact = stats.chi2.ppf(p, freedom)
            yield f"{p}, {freedom}", 100 * (chi_square_quantile(p, freedom) / exact - 1)


@pytest.mark.parametrize("freedom", [1, 2, 3, 12])
def test_the_interval_of_the_spread_is_that_of_chi_square(freedom: int) -> None:
    """Of a straight line through so many readings more than two: s sqrt(f / chi-square), 95 %."""
    rng = np.random.default_rng(freedom)
    x = np.arange(freedom + 2, dtype=np.float64)
    line = Linear(np.stack([np.ones_like(x), x], axis=1))
    found = fit(line, 3.0 + 0.5 * x + rng.standard_normal(len(x)), [np.zeros(2)])
    assert found.freedom == freedom
    row = spread_row(SimpleNamespace(fit=found))  # type: ignore[arg-type]
    low, high = (found.spread * math.sqrt(freedom / stats.chi2.ppf(p, freedom)) for p in (0.975, 0.025))
    assert (row.low, row.high) == pytest.approx((low, high), rel=1e-6)


def test_a_certain_quantile_of_chi_square_is_refused() -> None:
    with pytest.raises(ValueError, match=r"no quantile of 1\.0"):
        chi_square_quantile(1.0, 3)


class Decay:
    """A curve bent in its figures: a exp(-b x) + c in decibels, for comparison with scipy."""

    def __init__(self, x: Floats) -> None:
        self.x = x
        self.low, self.high = np.array([0.0, 0.0, -100.0]), np.array([1e3, 50.0, 100.0])
        self.scale = np.array([5.0, 0.5, 5.0])

    def predict(self, at: Floats) -> Floats:
        return np.asarray(at[0] * np.exp(-at[1] * self.x) + at[2])

    def jacobian(self, at: Floats) -> Floats:
        e = np.exp(-at[1] * self.x)
        return np.stack([e, -at[0] * self.x * e, np.ones_like(e)], axis=1)


@pytest.mark.parametrize("seed", range(6))
def test_figures_and_intervals_are_those_of_scipy(seed: int) -> None:
    """The minimum and the covariance that curve_fit finds for the readings kept, from a poor start."""
    rng = np.random.default_rng(seed)
    problem = Decay(np.linspace(0.0, 4.0, 25))
    y = problem.predict(np.array([40.0, 1.3, 12.0])) + rng.normal(size=25)
    found = fit(problem, y, [np.array([10.0, 0.4, 0.0])])
    assert found.kept.sum() >= 23
    x, good = problem.x[found.kept], y[found.kept]
    best, covariance = optimize.curve_fit(
        lambda x, a, b, c: a * np.exp(-b * x) + c, x, good, [35.0, 1.0, 10.0]
    )
    np.testing.assert_allclose(found.at, best, rtol=1e-5)
    assert found.freedom == len(good) - 3
    half = [found.half_width(unit) for unit in np.eye(3)]
    student = stats.t.ppf(0.975, found.freedom)
    np.testing.assert_allclose(half, student * np.sqrt(np.diag(covariance)), rtol=1e-4)


def test_a_known_spread_takes_the_place_of_student() -> None:
    """With the spread given, intervals are 1.96 of it, whatever the readings do."""
    problem = Linear(np.ones((4, 1)))
    found = fit(problem, np.array([1.0, 1.2, 0.9, 1.1]), [np.zeros(1)], spread=2.0)
    assert found.half_width(np.ones(1)) == pytest.approx(1.95996 * 2.0 / math.sqrt(4), rel=1e-5)


def test_wrong_readings_are_found_and_leave_no_mark() -> None:
    """Three of twenty off by 10 dB the same way: set aside, and the figures are those of the others."""
    rng = np.random.default_rng(4)
    x = np.linspace(-1.0, 1.0, 20)
    rows = np.column_stack([np.ones(20), x])
    y = rows @ np.array([30.0, 5.0]) + 0.5 * rng.normal(size=20)
    bad = [2, 3, 17]
    y[bad] += 10.0
    found = fit(Linear(rows), y, [np.zeros(2)])
    assert np.flatnonzero(~found.kept).tolist() == bad
    good = np.setdiff1d(np.arange(20), bad)
    np.testing.assert_allclose(found.at, np.linalg.lstsq(rows[good], y[good], rcond=None)[0], atol=1e-6)


def test_good_readings_are_hardly_ever_set_aside() -> None:
    """One false alarm in a hundred logs is allowed for; 400 clean logs give 16 at the very most (5 sigma)."""
    rng = np.random.default_rng(6)
    rows = np.column_stack([np.ones(12), np.linspace(-1.0, 1.0, 12)])
    alarms = 0
    for _ in range(400):
        found = fit(Linear(rows), rng.normal(size=12), [np.zeros(2)])
        alarms += not found.kept.all()
    assert alarms <= 4 + 5 * math.sqrt(4)


def test_what_no_reading_tells_stays_where_it_was() -> None:
    """A column of nothing does not move; of two columns alike the sum is right, and neither is decided."""
    rows = np.column_stack([np.zeros(6), np.ones(6), np.ones(6)])
    found = fit(Linear(rows), np.full(6, 7.0), [np.array([3.0, 0.0, 0.0])])
    assert found.at[0] == 3.0
    assert found.at[1] + found.at[2] == pytest.approx(7.0, abs=1e-6)
    assert rank(found.jacobian) == 1
    said = verdicts(found)
    assert [v.decided for v in said] == [False, False, False]
    assert said[0].silent
    assert said[1].tied_to == (2,)
    assert said[2].tied_to == (1,)


def test_the_reading_that_would_tell_them_apart_is_found() -> None:
    """Of three further readings, the one that moves with one of the two alone."""
    rows = np.column_stack([np.ones(6), np.ones(6)])
    found = fit(Linear(rows), np.full(6, 7.0), [np.zeros(2)])
    further = np.array([[1.0, 1.0], [3.0, 0.0], [0.1, 0.0]])
    assert telling(found, further) == [1, 1]
    assert telling(found, further[:1]) == [None, None]
    assert telling(found, np.zeros((0, 2))) == [None, None]


def test_evidence_asks_for_more_than_a_better_fit() -> None:
    """A second figure that explains nothing makes it worse; too few readings give no verdict at all."""
    rng = np.random.default_rng(1)
    y = rng.normal(size=10)
    x = np.linspace(-1.0, 1.0, 10)
    one = fit(Linear(np.ones((10, 1))), y, [np.zeros(1)])
    two = fit(Linear(np.column_stack([np.ones(10), x])), y, [np.zeros(2)])
    assert two.cost < one.cost
    assert evidence(two, 2) > evidence(one, 1)
    few = fit(Linear(np.ones((2, 1))), y[:2], [np.zeros(1)])
    assert evidence(few, 1) == math.inf


def test_as_many_readings_as_figures_give_no_interval() -> None:
    """Nothing checks them: there are values, and no ends are claimed for them."""
    found = fit(Linear(np.eye(2)), np.array([1.0, 2.0]), [np.zeros(2)])
    np.testing.assert_allclose(found.at, [1.0, 2.0], atol=1e-6)
    assert found.freedom == 0
    assert math.isnan(found.spread)
    assert all(math.isnan(v.half_width) for v in verdicts(found))
