"""What a product of two stations lands on, and how it is written."""

from __future__ import annotations

import math

import numpy as np

from spurplan.receiver.chain import Chains
from spurplan.responses.lines import lines_of_routes
from spurplan.responses.pairs.intermodulation import PRODUCTS, Routes
from spurplan.responses.routes import (
    numbered,
    response_name,
    stage_equation,
    steps_of_rows,
    wanted_of,
)


def lands_on(chains: Chains, candidate: int, routes: Routes, route: int) -> str:
    """Return what a product is taken for where it arises.

    Returns
    -------
    str. "dial" where it is received like a signal on the dial frequency; the name of an IF; else what the
    trade calls the route a single signal would take from there: "image", "second image", "mixer product".
    """
    if _like_the_dial(chains, candidate, routes, route):
        return "dial"
    mixer, wanted = int(routes.mixer[route]), wanted_of(chains, candidate)
    steps = (*wanted[:mixer], *steps_of_rows(routes.behind[route])[mixer:])
    past = next((i for i, step in enumerate(steps[mixer:], start=mixer) if step != (0, 1)), len(steps))
    if steps[past:] == wanted[past:] and past:
        return numbered("IF", chains.conversions)[past - 1]
    return response_name(steps, wanted)


def _like_the_dial(chains: Chains, candidate: int, routes: Routes, route: int) -> bool:
    """Whether a product of two is received where a single signal of that frequency would be."""
    p, q, d = (int(getattr(routes, name)[route]) for name in ("p", "q", "d"))
    # an oscillator above the signal has turned both stations round
    return abs(p) == d and q == 0


def moved_by_dial(chains: Chains, candidate: int, routes: Routes, route: int) -> float:
    """Return how fast a product moves with the dial against a wanted signal; NaN where that stands still."""
    line = lines_of_routes(chains.take(np.array([candidate])), chains.wanted_steps[[candidate]])
    wanted = int(line.p[0][0]) / int(line.r[0][0])
    own = int(routes.p[route]) / int(routes.r[route])
    return own / wanted if wanted else math.nan


def equation_of(chains: Chains, routes: Routes, route: int, *, three: bool = False) -> str:
    """Return how a product comes to the last IF, as ``IF = LO - (f1 + f2)``."""
    n, mixer = chains.conversions, int(routes.mixer[route])
    product = PRODUCTS[int(routes.product[route])]
    oscillators, results = numbered("", n), numbered("IF", n)
    equations, signals = [], []
    heads = [routes.head_1[route], routes.head_1[route] if three else routes.head_2[route]]
    if three:
        heads.append(routes.head_1[route])
    for number, head in enumerate(heads, start=1):
        signal = f"f{number}"
        for i, (lo, rf) in enumerate(steps_of_rows(head)[:mixer]):
            name = f"{'abc'[number - 1]}{i + 1}"
            equations.append(stage_equation(name, oscillators[i], signal, lo, rf))
            signal = name
        signals.append(signal)
    first = signals[0] if product.k1 == 1 else f"{product.k1} {signals[0]}"
    signal = f"({first} {'+' if product.k2 > 0 else '-'} {signals[1]})"
    if three:
        signal = f"({signals[0]} + {signals[1]} - {signals[2]})"
    for i, (lo, rf) in enumerate(steps_of_rows(routes.behind[route])[mixer:], start=mixer):
        equations.append(stage_equation(results[i], oscillators[i], signal, lo, rf))
        signal = results[i]
    return "; ".join(equations)
