"""Figures from readings in decibels, some of which may be wrong, and from what is known beforehand.

The most probable figures are looked for, which is least squares with a row more
for each thing known. A fit that no single reading can pull far comes first, so
that one slip of the pen does not hide another; what then stands too far off for
chance is set aside, one by one. Intervals follow the sum of squares itself, all
other figures let loose, since a Q near the ceiling has a short side and a long one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Protocol

import numpy as np
import numpy.typing as npt

from spurplan.normal_law import log_share_below
from spurplan.planning.bench.student import t_quantile

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Readings agree no better than an attenuator's own steps: less is not evidence of anything. [dB]
RESOLUTION_DB = 0.05
# Chance of calling any good reading of a log an outlier.
FALSE_ALARM = 0.01
# Where more readings than this part disagree it is the model that is wrong, not they.
MOST_OUTLIERS = 0.3
# Degrees of freedom of the law that readings follow while wrong ones may be among them.
_WARY = 4.0
_STEPS, _WARY_STEPS = 40, 12
# The last step, in natural ones, and what it still takes off the sum.
_STILL, _SETTLED = 1e-5, 1e-6
_LEVERAGE = 0.99
# An end of an interval is found to this part of it.
_NEAR = 0.02
_PROBABILITY = 0.975


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


def whole(freedom: float) -> int:
    """Return the whole degrees of freedom in a sum of parts, which rounding may leave just short of them."""
    return int(freedom + 1e-6)


@dataclass(frozen=True)
class Prior:
    """What is known of the coordinates before anything is read.

    Attributes
    ----------
    rows : float64, shape (k, p). The combinations that something is known of.
    at : float64, shape (k,). What each is expected to be.
    spread : float64, shape (k,). By how much it may be off, one standard deviation.
    tails : float. Degrees of freedom of Student's law; its middle is that of the normal one.
    """

    rows: Floats
    at: Floats
    spread: Floats
    tails: float = math.inf

    @classmethod
    def nothing(cls, p: int) -> Prior:
        """Return the prior of somebody who knows nothing of p coordinates."""
        return cls(np.zeros((0, p)), np.zeros(0), np.ones(0))

    def off(self, at: Floats) -> tuple[Floats, Floats]:
        """Return roots of the squares, shape (k,), and how each moves with the coordinates, shape (k, p)."""
        # as wide in the middle as the normal law of that spread
        wide = 1.0 if math.isinf(self.tails) else math.sqrt((self.tails + 1.0) / self.tails)
        z = (self.rows @ at - self.at) / (self.spread * wide)
        root, slope = _heavy(z, self.tails)
        return root, self.rows * (slope / (self.spread * wide))[:, None]

    @cached_property
    def covariance(self) -> Floats:
        """Covariance of the coordinates, shape (p, p), where nothing has been read."""
        rows = self.rows / self.spread[:, None]
        return np.asarray(np.linalg.inv(rows.T @ rows))


@dataclass(frozen=True)
class Spread:
    """What is known of how far one reading is off by chance.

    Attributes
    ----------
    db : float. One standard deviation. [dB]
    worth : float. As how many readings that estimate counts; inf where it is known.
    """

    db: float
    worth: float


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
    spread : float. Standard deviation of one reading; nan where nothing tells it.
    freedom : float. Readings that tell it: those to spare, and those an estimate counts for.
    known : bool. Whether the spread was given.
    leverage : float64, shape (n,). How far each reading decides its own prediction, 0 to 1.
    covariance : float64, shape (p, p). Of the coordinates, in natural steps, near the best ones.
    """

    at: Floats
    jacobian: Floats
    residuals: Floats
    kept: Bools
    scale: Floats
    spread: float
    freedom: float
    known: bool
    leverage: Floats
    covariance: Floats
    _sum: _Squares = field(repr=False)
    _rows: Floats = field(repr=False)

    @property
    def quantile(self) -> float:
        """How many standard deviations a 95 % interval reaches to each side; nan where unknown."""
        if self.known:
            return t_quantile(_PROBABILITY, math.inf)
        return t_quantile(_PROBABILITY, whole(self.freedom)) if self.freedom >= 1.0 else math.nan

    def deviation(self, number: int) -> float:
        """Return the standard deviation of one coordinate near the best ones."""
        return math.sqrt(max(float(self.covariance[number, number]), 0.0)) * float(self.scale[number])

    def interval(self, number: int) -> tuple[float, float]:
        """Return the 95 % interval of one coordinate, nan where the spread is unknown.

        Notes
        -----
        Its ends are where the least sum of squares that the others can still reach is greater than the
        least of all by the square of the quantile.
        """
        if math.isnan(self.quantile):
            return math.nan, math.nan
        return self._end(number, -1.0), self._end(number, 1.0)

    def elsewhere(self, problem: Problem, prior: Prior, at: Floats) -> Floats:
        """Return the covariance that the same readings leave to other coordinates, in their natural steps.

        Parameters
        ----------
        problem : Problem. Of the same readings, in q other coordinates.
        prior : Prior. Of those.
        at : float64, shape (q,). Where the fit stands in them.
        """
        squares = replace(self._sum, problem=problem, prior=prior)
        rows, _ = squares._linear(at, problem.predict(at))
        return np.asarray(np.linalg.pinv(rows.T @ rows, rcond=1e-12, hermitian=True))

    def _end(self, number: int, sign: float) -> float:
        squares, wish = self._sum, self.quantile
        bound = float((squares.problem.low if sign < 0 else squares.problem.high)[number])
        most = abs(bound - float(self.at[number]))
        free = np.ones(len(self.at), dtype=bool)
        free[number] = False
        least = squares.value(self.at)
        along = self.covariance[:, number] / max(float(self.covariance[number, number]), 1e-30)
        along = along * self.scale / self.scale[number]
        from_, root = self.at, 0.0
        inside, outside = (0.0, 0.0), (math.inf, math.inf)
        length, before = wish * self.deviation(number), 0.0
        for _ in range(8):
            length = min(length, most)
            start = from_ + along * sign * (length - before)
            start[number] = self.at[number] + sign * length
            from_ = squares.near_least(start, free, self._rows if from_ is self.at else None)
            root, before = math.sqrt(max(squares.value(from_) - least, 0.0)), length
            if abs(root - wish) <= _NEAR * wish or (length >= most and root < wish):
                break
            if root < wish:
                inside = (length, root)
            else:
                outside = (length, root)
            if math.isinf(outside[0]):
                length *= min(max(wish / max(root, 1e-9), 1.05), 3.0)
            else:
                share = (wish - inside[1]) / max(outside[1] - inside[1], 1e-9)
                length = inside[0] + min(max(share, 0.1), 0.9) * (outside[0] - inside[0])
        return float(self.at[number] + sign * length)


@dataclass(frozen=True)
class _Squares:
    """The sum that is made least: readings kept, and what is known beforehand.

    Attributes
    ----------
    problem, prior : as of `fit`.
    readings, beyond : float64 and bool, shape (n,). [dB]
    coarse : float64, shape (n,). By which factor each is off further by chance than a usual one.
    kept : bool, shape (n,).
    spread : float. [dB]
    wary : bool. Whether wrong readings may be among them.
    """

    problem: Problem
    prior: Prior
    readings: Floats
    beyond: Bools
    coarse: Floats
    kept: Bools
    spread: float
    wary: bool = False

    def roots(self, predicted: Floats) -> tuple[Floats, Floats]:
        """Return roots of the squares of readings, and how they move with what is predicted, shape (n,).

        Notes
        -----
        Where nothing was heard up to a level the chance of that stands, which is next to certain where
        the response needs much more and next to nothing where it needs much less.
        """
        spread = self.spread * self.coarse
        z = (self.readings - predicted) / spread
        root, slope = _heavy(z, _WARY) if self.wary else (z, np.ones_like(z))
        silent, moves = _silent(-z[self.beyond])
        if self.wary:
            silent, wary = _heavy(silent, _WARY)
            moves = moves * wary
        root, slope = root.copy(), slope.copy()
        root[self.beyond], slope[self.beyond] = silent, moves
        return root * self.kept, -slope * self.kept / spread

    def value(self, at: Floats) -> float:
        """Return the sum of squares at some coordinates."""
        return self._sum(at, self.problem.predict(at))

    def _sum(self, at: Floats, predicted: Floats) -> float:
        root, known = self.roots(predicted)[0], self.prior.off(at)[0]
        return float(root @ root + known @ known)

    def near_least(self, at: Floats, free: Bools, rows: Floats | None) -> Floats:
        """Return coordinates near a minimum of the sum, started close to it, shape (p,).

        Parameters
        ----------
        at : float64, shape (p,). Where to start.
        free : bool, shape (p,). Which coordinates may move.
        rows : float64, shape (n + k, p). Slopes of everything in the sum; those of the start where None.

        Notes
        -----
        The same slopes serve for a few steps: asking for them costs many times what a step does.
        """
        scale = self.problem.scale
        at = np.clip(at, self.problem.low, self.problem.high)
        predicted = self.problem.predict(at)
        cost = self._sum(at, predicted)
        if rows is None:
            rows = self._linear(at, predicted)[0]
        roots = np.concatenate([self.roots(predicted)[0], self.prior.off(at)[0]])
        turned = np.linalg.pinv(rows[:, free], rcond=1e-9)
        for _ in range(4):
            moved = at.copy()
            moved[free] -= (turned @ roots) * scale[free]
            moved = np.clip(moved, self.problem.low, self.problem.high)
            predicted = self.problem.predict(moved)
            new = self._sum(moved, predicted)
            if new > cost:
                break
            little = cost - new < 0.01
            at, cost = moved, new
            if little:
                break
            roots = np.concatenate([self.roots(predicted)[0], self.prior.off(at)[0]])
        return at

    def least(self, at: Floats, steps: int = _STEPS) -> Floats:
        """Return coordinates at a minimum of the sum.

        Parameters
        ----------
        at : float64, shape (p,). Where to start.
        steps : int. After so many it is near enough.

        Notes
        -----
        Damped Gauss-Newton (Levenberg, Marquardt) in units of the natural steps. A step that does not
        lower the sum is shortened.
        """
        scale = self.problem.scale
        at = np.clip(at, self.problem.low, self.problem.high)
        predicted = self.problem.predict(at)
        cost, damping = self._sum(at, predicted), 1e-3
        rows, roots = self._linear(at, predicted)
        for _ in range(steps):
            ridge = math.sqrt(damping + 1e-10) * np.eye(len(at))
            step, *_rest = np.linalg.lstsq(
                np.concatenate([rows, ridge]), np.concatenate([-roots, np.zeros(len(at))]), rcond=None
            )
            moved = np.clip(at + step * scale, self.problem.low, self.problem.high)
            predicted = self.problem.predict(moved)
            new = self._sum(moved, predicted)
            if new <= cost:
                still = bool(np.max(np.abs(moved - at) / scale, initial=0.0) < _STILL)
                settled = damping < 1e-2 and cost - new <= _SETTLED * (1.0 + cost)
                at, cost, damping = moved, new, damping * 0.1
                if still or settled:
                    break
                rows, roots = self._linear(at, predicted)
            else:
                damping *= 10.0
                if damping > 1e8:
                    break
        return at

    def _linear(self, at: Floats, predicted: Floats) -> tuple[Floats, Floats]:
        """Return rows, per natural step, and roots of everything in the sum."""
        jacobian = self.problem.jacobian(at) * self.problem.scale
        roots, slopes = self.roots(predicted)
        known, moves = self.prior.off(at)
        return (
            np.concatenate([slopes[:, None] * jacobian, moves * self.problem.scale]),
            np.concatenate([roots, known]),
        )


def _heavy(z: Floats, tails: float) -> tuple[Floats, Floats]:
    """Return the root of -2 log of Student's density at z, with the sign of z, and its slope."""
    if math.isinf(tails):
        return z, np.ones_like(z)
    root = np.sign(z) * np.sqrt((tails + 1.0) * np.log1p(z * z / tails))
    middle = math.sqrt((tails + 1.0) / tails)
    small = np.abs(z) < 1e-6
    slope = np.where(small, middle, (tails + 1.0) * z / (tails + z * z) / np.where(small, 1.0, root))
    return root, slope


def _silent(u: Floats) -> tuple[Floats, Floats]:
    """Return the root of -2 log of the chance that a normal score is below u, and minus its slope."""
    log = np.array([log_share_below(x) for x in u.tolist()])
    root = np.sqrt(np.maximum(-2.0 * log, 1e-300))
    density = np.exp(-0.5 * u * u - log) / math.sqrt(2.0 * math.pi)
    return root, np.where(root > 1e-12, density / np.maximum(root, 1e-12), 0.0)


def fit(
    problem: Problem,
    readings: Floats,
    starts: list[Floats],
    spread: Spread | None = None,
    *,
    beyond: Bools | None = None,
    coarse: Floats | None = None,
    prior: Prior | None = None,
) -> Fit:
    """Return the figures that fit, outliers set aside.

    Parameters
    ----------
    problem : Problem.
    readings : float64, shape (n,). [dB]
    starts : coordinates to start from, each of shape (p,); the best end is taken.
    spread : Spread or None. What is known of the spread of one reading; None for nothing. [dB]
    beyond : bool, shape (n,). Where nothing was heard up to the reading; none where None.
    coarse : float64, shape (n,), or None. By which factor the spread of each is that of a usual reading.
    prior : Prior or None. What is known of the coordinates; None for nothing.
    """
    known = Spread(math.nan, 0.0) if spread is None else spread
    squares = _Squares(
        problem,
        Prior.nothing(len(problem.scale)) if prior is None else prior,
        readings,
        np.zeros(len(readings), dtype=bool) if beyond is None else beyond,
        np.ones(len(readings)) if coarse is None else coarse,
        np.ones(len(readings), dtype=bool),
        known.db if known.worth > 0.0 else 1.0,
        wary=True,
    )
    # twice: what the readings say of their own spread counts, too
    for _ in range(2):
        ends = [squares.least(start, _WARY_STEPS) for start in starts]
        best = min(ends, key=squares.value)
        wary = _found(squares, best, known)
        if math.isinf(known.worth):
            break
        squares = replace(squares, spread=_middling(wary, known))
        starts = [best]
    return _without_outliers(replace(squares, wary=False), wary, known)


def _middling(current: Fit, known: Spread) -> float:
    """Return the spread by the median, of the readings that others can check. [dB]"""
    checked = current.kept & (current.leverage < _LEVERAGE) & ~current._sum.beyond
    if not checked.any():
        return max(known.db, RESOLUTION_DB) if known.worth > 0.0 else RESOLUTION_DB
    size = np.abs(current.residuals / current._sum.coarse)[checked] / np.sqrt(1.0 - current.leverage[checked])
    own, count = 1.4826 * float(np.median(size)), float((1.0 - current.leverage[checked]).sum())
    prior = known.worth * known.db**2 if known.worth > 0.0 else 0.0
    return max(math.sqrt((prior + count * own**2) / (known.worth + count)), RESOLUTION_DB)


def _found(squares: _Squares, at: Floats, known: Spread) -> Fit:
    """Return the fit at some coordinates."""
    predicted = squares.problem.predict(at)
    jacobian = squares.problem.jacobian(at) * squares.problem.scale
    residuals = squares.readings - predicted
    _, slopes = squares.roots(predicted)
    _, moves = squares.prior.off(at)
    rows = np.concatenate([slopes[:, None] * jacobian, moves * squares.problem.scale])
    covariance = np.linalg.pinv(rows.T @ rows, rcond=1e-12, hermitian=True)
    # one set aside is held against the others as if it were among them
    weight = np.where(squares.kept, slopes**2, 1.0 / (squares.spread * squares.coarse) ** 2)
    leverage = np.einsum("ni,ij,nj->n", jacobian, covariance, jacobian) * weight
    heard = squares.kept & ~squares.beyond
    spare = float(heard.sum() - np.minimum(leverage[heard], 1.0).sum())
    spread, freedom = squares.spread, known.worth + spare
    if not math.isinf(known.worth):
        before = known.worth * known.db**2 if known.worth > 0.0 else 0.0
        cost = before + float(((residuals / squares.coarse)[heard] ** 2).sum())
        spread = math.sqrt(cost / freedom) if freedom > 1e-6 else math.nan
    return Fit(
        at, jacobian, residuals, squares.kept, squares.problem.scale, spread, freedom,
        math.isinf(known.worth), np.asarray(leverage), np.asarray(covariance), squares, rows,
    )  # fmt: skip


def _refit(squares: _Squares, at: Floats, known: Spread) -> Fit:
    """Return the fit of the readings kept, its spread that of its own residuals."""
    for _ in range(4):
        at = squares.least(at)
        best_fit = _found(squares, at, known)
        if known.worth == math.inf:
            break
        spread = max(best_fit.spread if math.isfinite(best_fit.spread) else squares.spread, RESOLUTION_DB)
        if abs(math.log(spread / squares.spread)) < 0.01:
            break
        squares = replace(squares, spread=spread)
    return best_fit


def _without_outliers(squares: _Squares, wary: Fit, known: Spread) -> Fit:
    """Return the plain fit of what is left when readings that chance does not explain are set aside."""
    most = int(MOST_OUTLIERS * len(squares.readings))
    far = _far(wary, squares.spread)
    kept = np.ones(len(far), dtype=bool)
    kept[[int(i) for i in np.argsort(-far)[:most] if far[i] > 5.0]] = False
    seen: set[bytes] = set()
    current = _refit(replace(squares, kept=kept), wary.at, known)
    while kept.tobytes() not in seen:
        seen.add(kept.tobytes())
        off = _standing_off(current, known)
        inside, outside = np.where(kept, off, -np.inf), np.where(kept, np.inf, off)
        kept = kept.copy()
        if len(off) and outside.min() <= 1.0:
            kept[int(np.argmin(outside))] = True
        elif len(off) and inside.max() > 1.0 and (~kept).sum() < most:
            kept[int(np.argmax(inside))] = False
        else:
            break
        current = _refit(replace(current._sum, kept=kept), current.at, known)
    return current


def _far(current: Fit, spread: float) -> Floats:
    """Return how far each reading stands off, in spreads and with its share in the fit, shape (n,).

    Notes
    -----
    A reading inside the fit pulls it along; one outside adds the fit's own uncertainty. Where nothing
    was heard only a response that should have been is off.
    """
    own = current.leverage
    share = np.where(current.kept, 1.0 - np.minimum(own, _LEVERAGE), 1.0 + own)
    size = np.where(current._sum.beyond, np.maximum(current.residuals, 0.0), np.abs(current.residuals))
    return np.asarray(size / (spread * current._sum.coarse * np.sqrt(share)))


def _standing_off(current: Fit, known: Spread) -> Floats:
    """Return how far each reading stands off what the others say, over what chance allows, shape (n,).

    Notes
    -----
    The externally studentised residual against the quantile that keeps the chance of a false
    alarm anywhere in the log at `FALSE_ALARM`. A reading alone in deciding a figure stands off by 0:
    nothing checks it.
    """
    far = _far(current, 1.0)
    checked = ~current.kept | (current.leverage < _LEVERAGE)
    tail = 1.0 - FALSE_ALARM / (2.0 * max(len(far), 1))
    out = np.zeros(len(far))
    for i in np.flatnonzero(checked):
        spread, limit = _spread_without(current, known, int(i), float(far[i]), tail)
        if math.isfinite(spread):
            out[i] = far[i] / (limit * max(spread, RESOLUTION_DB))
    return out


def _spread_without(
    current: Fit, known: Spread, reading: int, far_db: float, tail: float
) -> tuple[float, float]:
    """Return the spread of the other readings and the quantile that goes with it; nan for none."""
    if current.known:
        return current.spread, t_quantile(tail, math.inf)
    freedom, cost = current.freedom, current.spread**2 * current.freedom
    if current.kept[reading] and not current._sum.beyond[reading]:
        freedom, cost = freedom - 1.0, cost - far_db**2
    if not freedom >= 1.0:
        return math.nan, math.nan
    return math.sqrt(max(cost, 0.0) / freedom), t_quantile(tail, whole(freedom))


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
