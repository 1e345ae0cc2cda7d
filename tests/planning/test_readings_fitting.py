"""The least squares themselves: against scipy, printed tables, and readings that lie."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import numpy.typing as npt
import pytest
from scipy import optimize, stats

from spurplan.planning.bench import expected as expected_of
from spurplan.planning.bench.chi_square import chi_square_quantile
from spurplan.planning.bench.fit import fitted
from spurplan.planning.bench.fitted import spread_row
from spurplan.planning.bench.identifiability import taken_off, telling, with_reading
from spurplan.planning.bench.least_squares import Linear, Prior, Spread, fit
from spurplan.planning.bench.student import t_quantile
from tests.bench_sets import log_of
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
    assert found.freedom == pytest.approx(freedom)
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
    assert found.freedom == pytest.approx(len(good) - 3)
    np.testing.assert_allclose(
        [found.deviation(j) for j in range(3)], np.sqrt(np.diag(covariance)), rtol=1e-3
    )


def test_ends_are_where_the_squares_have_risen() -> None:
    """By scipy, one figure held fast and the others let loose: t^2 spreads^2 above the least."""
    rng = np.random.default_rng(9)
    problem = Decay(np.linspace(0.0, 1.2, 12))
    y = problem.predict(np.array([40.0, 1.3, 12.0])) + rng.normal(size=12)
    found = fit(problem, y, [np.array([10.0, 0.4, 0.0])])
    assert found.kept.all()
    wish = found.spread**2 * stats.t.ppf(0.975, int(found.freedom)) ** 2
    least = float((found.residuals**2).sum())
    for j in range(3):
        loose = [k for k in range(3) if k != j]
        for end in found.interval(j):

            def off(others: Floats, end: float = end, j: int = j, loose: list[int] = loose) -> Floats:
                at = np.zeros(3)
                at[j], at[loose] = end, others
                return problem.predict(at) - y

            held = optimize.least_squares(off, found.at[loose])
            # the end is found to a fiftieth of the way, so the square to a twenty-fifth
            assert 2.0 * held.cost - least == pytest.approx(wish, rel=0.05)
    low, high = found.interval(0)
    # a decay seen over a short stretch has a long side
    assert high - found.at[0] > 1.5 * (found.at[0] - low)


def test_a_known_spread_takes_the_place_of_student() -> None:
    """With the spread given, intervals are 1.96 of it, whatever the readings do."""
    problem = Linear(np.ones((4, 1)))
    found = fit(problem, np.array([1.0, 1.2, 0.9, 1.1]), [np.zeros(1)], Spread(2.0, math.inf))
    low, high = found.interval(0)
    assert (low, high) == pytest.approx((1.05 - 1.95996, 1.05 + 1.95996), rel=1e-3)


def test_readings_and_what_is_known_before_are_weighed() -> None:
    """Textbook: three readings of mean 7, 2 dB each, and 10 +- 1 beforehand: (3*7/4 + 10)/(3/4 + 1)."""
    prior = Prior(np.ones((1, 1)), np.array([10.0]), np.array([1.0]))
    values = np.array([6.0, 7.0, 8.0])
    found = fit(Linear(np.ones((3, 1))), values, [np.zeros(1)], Spread(2.0, math.inf), prior=prior)
    assert found.at[0] == pytest.approx((3 * 7 / 4 + 10) / (3 / 4 + 1), rel=1e-6)
    assert found.deviation(0) == pytest.approx((3 / 4 + 1) ** -0.5, rel=1e-6)


def test_a_description_that_is_wrong_by_far_gives_way() -> None:
    """Eight spreads off, a normal law would still pull a third of the way; Student's of two hardly at all."""
    one, values = np.ones((1, 1)), np.array([50.0, 50.0])
    pulled = []
    for tails in (math.inf, 2.0):
        prior = Prior(one, np.array([10.0]), np.array([5.0]), tails)
        found = fit(
            Linear(np.ones((2, 1))), values, [np.zeros(1), values[:1]], Spread(5.0, math.inf), prior=prior
        )
        pulled.append(50.0 - found.at[0])
    assert pulled[0] == pytest.approx(40.0 / 3.0, rel=1e-6)
    assert pulled[1] < 0.1 * pulled[0]


def test_where_nothing_was_heard_the_chance_of_that_counts() -> None:
    """By scipy: readings of 60 and silence up to 62: the most likely figure of a normal law cut off."""
    values, beyond = np.array([60.0, 60.5, 62.0]), np.array([False, False, True])
    found = fit(Linear(np.ones((3, 1))), values, [np.array([50.0])], Spread(1.0, math.inf), beyond=beyond)

    def unlikely(x: float) -> float:
        heard = stats.norm.logpdf(values[:2], x).sum()
        return -float(heard + stats.norm.logsf(62.0, x))

    best = optimize.minimize_scalar(unlikely, bounds=(50.0, 70.0), method="bounded", options={"xatol": 1e-9})
    assert found.at[0] == pytest.approx(best.x, abs=1e-3)
    assert found.at[0] > 60.6
    # silence far below a response that is loud says nothing at all
    quiet = fit(
        Linear(np.ones((3, 1))), np.array([60.0, 60.5, 20.0]), [np.zeros(1)], Spread(1.0, math.inf),
        beyond=beyond,
    )  # fmt: skip
    assert quiet.at[0] == pytest.approx(60.25, abs=1e-6)


@pytest.mark.parametrize("number", [0, 3, 8])
def test_the_least_sum_is_that_of_scipy(number: int) -> None:
    """Its bounded trust-region method from the same starts gets no lower on a simulated log."""
    log = log_of(number)
    found = fitted(log.described, log.readings).fit
    squares = found._sum
    model = squares.problem
    ours = squares.value(found.at)

    def roots(at: Floats) -> Floats:
        return np.concatenate([squares.roots(model.predict(at))[0], squares.prior.off(at)[0]])

    theirs = optimize.least_squares(
        roots, found.at, bounds=(model.low, model.high), x_scale=model.scale, xtol=1e-10, ftol=1e-12
    )
    assert ours <= 2.0 * theirs.cost + 1e-3


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


def test_what_no_reading_tells_stays_as_known_before() -> None:
    """A column of nothing does not move; of two alike the sum is right, shared out as known before."""
    rows = np.column_stack([np.zeros(6), np.ones(6), np.ones(6)])
    prior = Prior(np.eye(3), np.array([3.0, 0.0, 0.0]), np.array([1.0, 6.0, 3.0]))
    found = fit(Linear(rows), np.full(6, 7.0), [prior.at], Spread(0.1, math.inf), prior=prior)
    assert found.at[0] == pytest.approx(3.0)
    assert found.at[1] + found.at[2] == pytest.approx(7.0, abs=0.01)
    assert found.at[1] / found.at[2] == pytest.approx(36 / 9, rel=1e-3)
    assert [found.deviation(j) for j in range(3)] == pytest.approx(
        # the difference of the two is known before alone
        [1.0, (1 / 36 + 1 / 9) ** -0.5, (1 / 36 + 1 / 9) ** -0.5], rel=1e-2
    )  # fmt: skip


def test_the_reading_that_would_tell_them_apart_is_found() -> None:
    """Of three further readings, the one that moves with one of the two alone; and what it would leave."""
    rows = np.column_stack([np.ones(6), np.ones(6)])
    prior = Prior(np.eye(2), np.zeros(2), np.ones(2))
    found = fit(Linear(rows), np.full(6, 7.0), [np.zeros(2)], Spread(0.2, math.inf), prior=prior)
    further = np.array([[1.0, 1.0], [3.0, 0.0], [0.1, 0.0]])
    variances = np.diag(found.covariance)
    off = taken_off(found.covariance, further, 0.2)
    assert telling(variances, off) == [1, 1]
    assert telling(variances, off[:1]) == [None, None]
    assert telling(variances, np.zeros((0, 2))) == [None, None]
    # of their sum and difference the first reading tells the one, the second both
    both = np.array([[1.0, 1.0], [1.0, -1.0]])
    told = taken_off(found.covariance, further, 0.2, both)
    for row, gone in zip(further, told, strict=True):
        left = with_reading(found.covariance, row, 0.2)
        np.testing.assert_allclose(np.diag(both @ (found.covariance - left) @ both.T), gone, atol=1e-12)
    after = with_reading(found.covariance, further[1], 0.2)
    again = fit(
        Linear(np.vstack([rows, further[1]])), np.append(np.full(6, 7.0), 10.0), [np.zeros(2)],
        Spread(0.2, math.inf), prior=prior,
    )  # fmt: skip
    np.testing.assert_allclose(after, again.covariance, rtol=1e-6)
    gone = np.diag(found.covariance - after)
    np.testing.assert_allclose(taken_off(found.covariance, further[1:2], 0.2)[0], gone, rtol=1e-6)


def test_as_many_readings_as_figures_give_no_interval() -> None:
    """Nothing checks them and nothing is known before: there are values, and no ends are claimed for them."""
    found = fit(Linear(np.eye(2)), np.array([1.0, 2.0]), [np.zeros(2)])
    np.testing.assert_allclose(found.at, [1.0, 2.0], atol=1e-6)
    assert found.freedom == pytest.approx(0.0, abs=1e-9)
    assert all(math.isnan(end) for j in range(2) for end in found.interval(j))


def test_what_a_reading_is_good_for_is_the_figure_of_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """An S meter's own error is none of its S9, nor an estimate the weight it has: whatever the file says."""
    table = {
        "reading": {"reading": 1.0, "reading_worth": 2.0},
        "description": {"q_slope": 3.0, "q_bend": 4.0, "tails": 5.0},
        "output": {
            "s_unit": 6.0, "s_unit_spread": 7.0, "s9": 8.0, "meter_reading": 9.0, "linear": 10.0,
        },
        "time": {"minutes_a_reading": 11.0, "minutes_a_setting": 12.0},
    }  # fmt: skip
    monkeypatch.setattr(expected_of, "shipped_toml", lambda name: {"bench.toml": table}[name])
    assert expected_of.expected.__wrapped__() == expected_of.Expected(
        reading_db=1.0, reading_worth=2.0, q_slope=3.0, q_bend=4.0, tails=5.0, s_unit_db=6.0,
        s_unit_spread=7.0, s9_spread_db=8.0, meter_db=9.0, linear_db=10.0, minutes_a_reading=11.0,
        minutes_a_setting=12.0,
    )  # fmt: skip
