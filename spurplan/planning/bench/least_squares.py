"""Least squares for a few figures from readings in decibels, some of which may be wrong.

A robust fit (Huber) comes first, so that one slip of the pen does not hide
another; what then stands too far off for chance is set aside, one by one, and
the rest is fitted by plain least squares. Directions that no reading tells
anything about stay where they started.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.student import t_quantile

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Readings agree no better than an attenuator's own steps: less is not evidence of anything. [dB]
RESOLUTION_DB = 0.05
# Of a full step of every figure together, what moves the readings by less than this moves nothing. [dB]
TELLS_DB = 0.05
# Chance of calling any good reading of a log an outlier.
FALSE_ALARM = 0.01
# Where more readings than this part disagree it is the model that is wrong, not they.
MOST_OUTLIERS = 0.3
_HUBER = 1.345
_FAR = 3.0
_ROUNDS = 12
_STEPS = 40
_LEVERAGE = 0.99


class Problem(Protocol):
    """What is to be fitted: readings against figures in coordinates of comparable steps."""

    @property
    def low(self) -> Floats:
        """Lowest sensible coordinates, shape (p,)."""

    @property
    def high(self) -> Floats:
        """Highest sensible coordinates, shape (p,)."""

    @property
    def scale(self) -> Floats:
        """A step of each coordinate that matters to whoever uses the set, shape (p,)."""

    def predict(self, at: Floats) -> Floats:
        """Return what each reading should be, shape (n,)."""

    def jacobian(self, at: Floats) -> Floats:
        """Return how each reading moves with each coordinate, shape (n, p)."""


@dataclass(frozen=True)
class Fit:
    """Figures that fit some readings.

    Attributes
    ----------
    at : float64, shape (p,). The coordinates.
    jacobian : float64, shape (n, p). There, per natural step of each coordinate.
    residuals : float64, shape (n,). Reading minus prediction, of all readings.
    kept : bool, shape (n,). False for those set aside as outliers.
    scale : float64, shape (p,). The natural steps.
    spread : float. Standard deviation of one reading, estimated or known; nan where there
        are no more readings than figures.
    freedom : int. Readings kept less figures they decide.
    known : bool. Whether the spread was given.
    cost : float. Sum of the squared residuals kept.
    """

    at: Floats
    jacobian: Floats
    residuals: Floats
    kept: Bools
    scale: Floats
    spread: float
    freedom: int
    known: bool
    cost: float

    @property
    def quantile(self) -> float:
        """How many standard deviations a 95 % interval reaches to each side; nan where unknown."""
        if self.known:
            return t_quantile(0.975, math.inf)
        return t_quantile(0.975, self.freedom) if self.freedom > 0 else math.nan

    def step_variance(self, direction: Floats) -> float:
        """Return the variance of a combination of coordinates for readings of unit spread.

        Parameters
        ----------
        direction : float64, shape (p,). Weights, per natural step.
        """
        return float(direction @ inverse_information(self.jacobian[self.kept]) @ direction)

    def half_width(self, direction: Floats) -> float:
        """Return half the 95 % interval of a combination of coordinates, shape (p,) as weights."""
        weights = direction * self.scale
        return self.quantile * self.spread * math.sqrt(max(self.step_variance(weights), 0.0))


def told(jacobian: Floats) -> tuple[Floats, Floats]:
    """Return singular values and right vectors of a Jacobian per natural step, padded to p rows."""
    p = jacobian.shape[1]
    if not len(jacobian) or not p:
        return np.zeros(p), np.eye(p)
    _, values, vectors = np.linalg.svd(jacobian, full_matrices=True)
    return np.concatenate([values, np.zeros(p - len(values))]), vectors


def inverse_information(jacobian: Floats) -> Floats:
    """Return the inverse of J'J over the directions that readings tell something about, shape (p, p)."""
    values, vectors = told(jacobian)
    seen = values > TELLS_DB
    return np.asarray((vectors[seen].T / values[seen] ** 2) @ vectors[seen], dtype=np.float64)


def rank(jacobian: Floats) -> int:
    """Return how many combinations of figures the readings decide."""
    return int((told(jacobian)[0] > TELLS_DB).sum())


def fit(problem: Problem, readings: Floats, starts: list[Floats], spread: float | None = None) -> Fit:
    """Return the figures that fit, outliers set aside.

    Parameters
    ----------
    problem : Problem.
    readings : float64, shape (n,). [dB]
    starts : coordinates to start from, each of shape (p,); the best end is taken.
    spread : float or None. Standard deviation of one reading, where it is known. [dB]
    """
    even = np.ones(len(readings))
    ends = [
        _least_squares(problem, readings, np.clip(start, problem.low, problem.high), even) for start in starts
    ]
    # the same yardstick for every start: the sum of sizes, which a few outliers do not rule
    best = min(ends, key=lambda end: float(np.abs(end[2]).sum()))
    return _without_outliers(problem, readings, _robust(problem, readings, best, spread), spread)


def _least_squares(
    problem: Problem, readings: Floats, at: Floats, weights: Floats, steps: int = _STEPS
) -> tuple[Floats, Floats, Floats]:
    """Return coordinates, Jacobian and residuals at a minimum of the weighted squares.

    Notes
    -----
    Damped Gauss-Newton (Levenberg, Marquardt) in units of the natural steps. A step that does not
    lower the sum is shortened, so the corner where a ceiling begins to hold does no harm.
    """
    scale, root = problem.scale, np.sqrt(weights)
    residuals = readings - problem.predict(at)
    cost = float((weights * residuals**2).sum())
    damping = 1e-3
    jacobian = problem.jacobian(at) * scale
    for _ in range(steps):
        # the floor keeps a direction nobody tells anything about from wandering off
        ridge = np.sqrt(damping + 1e-10) * np.eye(len(at))
        step, *_rest = np.linalg.lstsq(
            np.concatenate([root[:, None] * jacobian, ridge]),
            np.concatenate([root * residuals, np.zeros(len(at))]),
            rcond=None,
        )
        moved = np.clip(at + step * scale, problem.low, problem.high)
        new = readings - problem.predict(moved)
        new_cost = float((weights * new**2).sum())
        if new_cost <= cost:
            still = bool(np.max(np.abs(moved - at) / scale, initial=0.0) < 1e-7)
            settled = damping < 1e-2 and cost - new_cost <= 1e-12 * cost
            at, residuals, cost, damping = moved, new, new_cost, damping * 0.1
            jacobian = problem.jacobian(at) * scale
            if still or settled:
                break
        else:
            damping *= 10.0
            if damping > 1e8:
                break
    return at, jacobian, residuals


def _leverage(jacobian: Floats) -> Floats:
    """Return how far each reading decides its own prediction, 0 to 1, shape (n,)."""
    inverse = inverse_information(jacobian)
    own = np.einsum("ni,ij,nj->n", jacobian, inverse, jacobian)
    return np.asarray(np.clip(own, 0.0, 1.0), dtype=np.float64)


def _robust_spread(jacobian: Floats, residuals: Floats) -> float:
    """Return the spread by the median, of the readings that others can check. [dB]"""
    own = _leverage(jacobian)
    checked = own < _LEVERAGE
    if not checked.any():
        return RESOLUTION_DB
    size = np.abs(residuals[checked]) / np.sqrt(1.0 - own[checked])
    return max(1.4826 * float(np.median(size)), RESOLUTION_DB)


def _robust(
    problem: Problem, readings: Floats, plain: tuple[Floats, Floats, Floats], spread: float | None
) -> Fit:
    """Return Huber's fit: beyond 1.345 spreads a residual counts by its size and no longer by its square.

    Notes
    -----
    Where nothing stands far off the plain fit it is that one: there is nobody to be robust against.
    """
    at, jacobian, residuals = plain
    weights = np.ones(len(readings))
    for round_ in range(_ROUNDS):
        own = spread if spread is not None else _robust_spread(jacobian, residuals)
        size = np.abs(residuals)
        if round_ == 0 and size.max(initial=0.0) < _FAR * own:
            break
        new = np.minimum(1.0, _HUBER * own / np.maximum(size, 1e-9))
        if np.max(np.abs(new - weights), initial=0.0) < 0.02:
            break
        weights = new
        at, jacobian, residuals = _least_squares(problem, readings, at, weights, steps=2)
    return _finished(problem, at, jacobian, residuals, np.ones(len(readings), dtype=bool), spread)


def _finished(
    problem: Problem, at: Floats, jacobian: Floats, residuals: Floats, kept: Bools, spread: float | None
) -> Fit:
    cost = float((residuals[kept] ** 2).sum())
    freedom = int(kept.sum()) - rank(jacobian[kept])
    estimated = math.sqrt(cost / freedom) if freedom > 0 else math.nan
    return Fit(
        at, jacobian, residuals, kept, problem.scale, estimated if spread is None else spread, freedom,
        spread is not None, cost,
    )  # fmt: skip


def _without_outliers(problem: Problem, readings: Floats, robust: Fit, spread: float | None) -> Fit:
    """Return the plain fit of what is left when readings that chance does not explain are set aside."""
    first = spread if spread is not None else _robust_spread(robust.jacobian, robust.residuals)
    free = np.sqrt(1.0 - np.minimum(_leverage(robust.jacobian), _LEVERAGE))
    most = int(MOST_OUTLIERS * len(readings))
    far = np.abs(robust.residuals) / (first * free)
    order = np.argsort(-far)
    kept = np.ones(len(readings), dtype=bool)
    kept[[int(i) for i in order[:most] if far[i] > 5.0]] = False
    seen: set[bytes] = set()
    current = _refit(problem, readings, robust.at, kept, spread)
    while kept.tobytes() not in seen:
        seen.add(kept.tobytes())
        off = _standing_off(current)
        inside, outside = np.where(kept, off, -np.inf), np.where(kept, np.inf, off)
        kept = kept.copy()
        if len(off) and outside.min() <= 1.0:
            kept[int(np.argmin(outside))] = True
        elif len(off) and inside.max() > 1.0 and (~kept).sum() < most:
            kept[int(np.argmax(inside))] = False
        else:
            break
        current = _refit(problem, readings, current.at, kept, spread)
    return current


def _refit(problem: Problem, readings: Floats, at: Floats, kept: Bools, spread: float | None) -> Fit:
    at, jacobian, residuals = _least_squares(problem, readings, at, kept.astype(np.float64))
    return _finished(problem, at, jacobian, residuals, kept, spread)


def _standing_off(current: Fit) -> Floats:
    """Return how far each reading stands off what the others say, over what chance allows, shape (n,).

    Notes
    -----
    The externally studentised residual against the quantile that keeps the chance of a false
    alarm anywhere in the log at `FALSE_ALARM`. A reading alone in deciding a figure stands off by 0:
    nothing checks it.
    """
    count = len(current.residuals)
    inverse = inverse_information(current.jacobian[current.kept])
    own = np.einsum("ni,ij,nj->n", current.jacobian, inverse, current.jacobian)
    # a reading inside the fit pulls it along; one outside adds the fit's own uncertainty
    share = np.where(current.kept, 1.0 - np.minimum(own, 1.0), 1.0 + own)
    checked = ~current.kept | (share > 1.0 - _LEVERAGE)
    tail = 1.0 - FALSE_ALARM / (2.0 * max(count, 1))
    out = np.zeros(count)
    for i in np.flatnonzero(checked):
        spread, limit = _spread_without(current, int(i), share[i], tail)
        if math.isfinite(spread):
            size = abs(current.residuals[i]) / math.sqrt(share[i])
            out[i] = size / (limit * max(spread, RESOLUTION_DB))
    return out


def _spread_without(current: Fit, reading: int, share: float, tail: float) -> tuple[float, float]:
    """Return the spread of the other readings and the quantile that goes with it; nan for none."""
    if current.known:
        return current.spread, t_quantile(tail, math.inf)
    freedom, cost = current.freedom, current.cost
    if current.kept[reading]:
        freedom, cost = freedom - 1, cost - current.residuals[reading] ** 2 / share
    if freedom < 1:
        return math.nan, math.nan
    return math.sqrt(max(cost, 0.0) / freedom), t_quantile(tail, freedom)


def evidence(fit_: Fit, figures: int) -> float:
    """Return how badly a model does, its figures counted: the lower the better.

    Parameters
    ----------
    fit_ : Fit.
    figures : int. How many the readings decide.

    Notes
    -----
    Akaike's criterion with the correction for small samples; inf where there are too few readings
    to judge. Agreement closer than an attenuator's steps counts as no better than those. Readings set
    aside count as four spreads off each, so that no model wins by setting aside what speaks against it.
    """
    count = len(fit_.residuals)
    spread = fit_.spread if math.isfinite(fit_.spread) else 0.0
    aside = np.minimum(np.abs(fit_.residuals[~fit_.kept]), 4.0 * max(spread, RESOLUTION_DB))
    cost = fit_.cost + float((aside**2).sum())
    k = figures if fit_.known else figures + 1
    if count - k - 1 <= 0:
        return math.inf
    if fit_.known:
        misfit = cost / max(spread, RESOLUTION_DB) ** 2
    else:
        misfit = count * math.log(cost / count + RESOLUTION_DB**2)
    return misfit + 2.0 * k + 2.0 * k * (k + 1) / (count - k - 1)


@dataclass(frozen=True)
class Linear:
    """A problem whose predictions are sums: used for the dial, where one figure is a plain mean.

    Attributes
    ----------
    rows : float64, shape (n, p).
    step : float. The natural step of every coordinate.
    """

    rows: Floats
    step: float = 1.0

    @property
    def low(self) -> Floats:
        """No limit."""
        return np.full(self.rows.shape[1], -np.inf)

    @property
    def high(self) -> Floats:
        """No limit."""
        return np.full(self.rows.shape[1], np.inf)

    @property
    def scale(self) -> Floats:
        """The natural step."""
        return np.full(self.rows.shape[1], self.step)

    def predict(self, at: Floats) -> Floats:
        """Return the sums, shape (n,)."""
        return np.asarray(self.rows @ at, dtype=np.float64)

    def jacobian(self, at: Floats) -> Floats:
        """Return the rows."""
        return self.rows
