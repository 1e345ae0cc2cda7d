"""Quantiles of chi-square: how far off a spread may be that a few readings were used to estimate."""

from __future__ import annotations

import math
from functools import cache
from statistics import NormalDist

# Beyond so many degrees of freedom the cube of a normal law agrees to five digits.
_MANY = 2_000


@cache
def chi_square_quantile(probability: float, freedom: int) -> float:
    """Return the value that chi-square stays below with some probability.

    Parameters
    ----------
    probability : float, above 0 and below 1.
    freedom : int, 1 or more. Degrees of freedom.

    Raises
    ------
    ValueError  for a probability or degrees of freedom beyond these.

    Notes
    -----
    Bisection on the distribution, which for whole degrees of freedom is a finite sum; beyond
    2,000 the cube root of chi-square is taken for normal.

    References
    ----------
    [1] M. Abramowitz, I. Stegun, Handbook of Mathematical Functions, 1964, 26.4.4, 26.4.5 and 26.4.17.
    """
    if not 0.0 < probability < 1.0 or freedom < 1:
        raise ValueError(f"no quantile of {probability} with {freedom} degrees of freedom")
    if freedom > _MANY:
        a = 2.0 / (9.0 * freedom)
        return float(freedom * (1.0 - a + NormalDist().inv_cdf(probability) * math.sqrt(a)) ** 3)
    low, high = 0.0, float(freedom)
    while 1.0 - _above(high, freedom) < probability:
        low, high = high, 2.0 * high
    for _ in range(100):
        middle = 0.5 * (low + high)
        if 1.0 - _above(middle, freedom) < probability:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _above(x: float, freedom: int) -> float:
    """Return the probability that chi-square exceeds x, above 0."""
    half = 0.5 * x
    odd = freedom % 2 == 1
    powers = [0.5 * k for k in range(1 if odd else 0, freedom - 1, 2)]
    # powers in logarithms: a thousand of them overflow as they are
    terms = [math.exp(power * math.log(half) - half - math.lgamma(power + 1.0)) for power in powers]
    return math.fsum([math.erfc(math.sqrt(half)) if odd else 0.0, *terms])
