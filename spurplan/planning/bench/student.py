"""Quantiles of Student's t: how far off an estimate from a few readings may be."""

from __future__ import annotations

import math
from functools import cache
from statistics import NormalDist

# Beyond so many degrees of freedom t and the normal law agree to four digits, to first order in 1/n.
_MANY = 2_000


@cache
def t_quantile(probability: float, freedom: float) -> float:
    """Return the value that Student's t stays below with some probability.

    Parameters
    ----------
    probability : float, above 0 and below 1.
    freedom : degrees of freedom, a whole number of 1 or more; inf for the normal law.

    Raises
    ------
    ValueError  for a probability or degrees of freedom beyond these.

    Notes
    -----
    Bisection on the distribution, which for whole degrees of freedom is a finite sum of powers of
    cos(atan(t/sqrt(freedom))).

    References
    ----------
    [1] M. Abramowitz, I. Stegun, Handbook of Mathematical Functions, 1964, 26.7.3 and 26.7.4.
    """
    if not 0.0 < probability < 1.0 or freedom < 1:
        raise ValueError(f"no quantile of {probability} with {freedom} degrees of freedom")
    normal = NormalDist().inv_cdf(probability)
    if freedom > _MANY:
        return normal + (normal**3 + normal) / (4.0 * freedom)
    if probability < 0.5:
        return -t_quantile(1.0 - probability, freedom)
    low, high = 0.0, 1.0
    while _within(high, int(freedom)) < 2.0 * probability - 1.0:
        low, high = high, 2.0 * high
    for _ in range(80):
        middle = 0.5 * (low + high)
        if _within(middle, int(freedom)) < 2.0 * probability - 1.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _within(t: float, freedom: int) -> float:
    """Return the probability that t stays between -t and t."""
    angle = math.atan2(t, math.sqrt(freedom))
    cosine, sine = math.cos(angle), math.sin(angle)
    odd = freedom % 2 == 1
    term = cosine if odd else 1.0
    total = 0.0 if freedom == 1 else term
    for k in range(3 if odd else 2, freedom - 1, 2):
        term *= cosine**2 * (k - 1) / k
        total += term
    return 2.0 / math.pi * (angle + sine * total) if odd else sine * total
