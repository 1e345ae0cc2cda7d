"""Every dial setting, every route, every occupant: the plain scan, in whole numbers.

The same rule as `exact.received`, held against it in the tests, but for many
dial settings at once. Each route has its own grid of r, fine enough that every
edge falls on it, so an edge that does not belong is one tick further in.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from tests.oracle.exact import PlainChain, Route

Ints = npt.NDArray[np.int64]
FAR = 1 << 60


def spans(
    chain: PlainChain, dials: Ints, all_routes: Sequence[Route], rule: str = "positive"
) -> tuple[Ints, Ints, Ints]:
    """Return (first, last, fine): received r is first/fine to last/fine, per dial and route.

    Parameters
    ----------
    rule : "positive", or what is wrong: "not negative" lets a product of zero through,
        "unchecked" lets every one. For the tests that prove the difference is seen.

    Returns
    -------
    Shapes (dials, routes), (dials, routes) and (routes,).
    """
    within = 0 if rule == "not negative" else 1
    h_all = 1
    for oscillator in chain.oscillators:
        h_all *= oscillator.h
    steps = np.array(all_routes, dtype=np.int64).reshape(len(all_routes), len(chain.oscillators), 2)
    slope = np.ones(len(all_routes), dtype=np.int64)
    whole_slope = np.prod(steps[:, :, 1], axis=1)
    size = np.abs(whole_slope)
    fine = 4 * h_all * size
    offset = np.zeros((len(dials), len(all_routes)), dtype=np.int64)  # times h_all
    first = np.full_like(offset, -FAR)
    last = np.full_like(offset, FAR)
    for number, oscillator in enumerate(chain.oscillators):
        lo, rf = steps[:, number, 0], steps[:, number, 1]
        tuned = (oscillator.a * dials + oscillator.b) * (h_all // oscillator.h)
        slope = slope * rf
        offset = lo * tuned[:, None] + rf * offset
        if rule != "unchecked":
            # slope*r + offset/h_all > 0; every slope divides the last one
            edge = -offset * 4 * size // slope
            rising = slope > 0
            first = np.where(rising, np.maximum(first, edge + within), first)
            last = np.where(rising, last, np.minimum(last, edge - within))
    sign = np.sign(whole_slope)
    one = (2 * (2 * chain.if_hz - chain.bandwidth_hz) * h_all - 4 * offset) * sign
    two = (2 * (2 * chain.if_hz + chain.bandwidth_hz) * h_all - 4 * offset) * sign
    return np.maximum(first, np.minimum(one, two)), np.minimum(last, np.maximum(one, two)), fine


def stretches(
    chain: PlainChain,
    all_routes: Sequence[Route],
    occupants: Sequence[tuple[int, int]],
    dials: Ints | None = None,
    rule: str = "positive",
) -> dict[tuple[Route, int], tuple[int, int]]:
    """Return first and last received dial of every pair, by trying each dial setting.

    Raises
    ------
    AssertionError  when a pair is received in two pieces, which the rule does not allow.
    """
    if dials is None:
        dials = np.arange(chain.low_hz, chain.high_hz + 1, dtype=np.int64)
    first, last, fine = spans(chain, dials, all_routes, rule)
    found = {}
    for number, (low_hz, high_hz) in enumerate(occupants):
        heard = np.maximum(first, low_hz * fine) <= np.minimum(last, high_hz * fine)
        for index in np.flatnonzero(heard.any(axis=0)):
            at = np.flatnonzero(heard[:, index])
            assert len(at) == at[-1] - at[0] + 1, (all_routes[index], low_hz, high_hz)
            found[all_routes[index], number] = (int(dials[at[0]]), int(dials[at[-1]]))
    return found


def received_pairs(
    chain: PlainChain, dial_hz: int, all_routes: Sequence[Route], occupants: Sequence[tuple[int, int]]
) -> set[tuple[Route, int]]:
    """Return every pair (route, number of the occupant) received at one dial setting."""
    return set(stretches(chain, all_routes, occupants, np.array([dial_hz], dtype=np.int64)))
