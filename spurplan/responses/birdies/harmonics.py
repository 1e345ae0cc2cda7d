"""Where on the dial a set hears its own oscillators, in exact integers.

A combination of oscillators is on sum(k_s (a_s d + b_s) / h_s), what it lands on
is wanted at a d + b there. Their difference F(d) = (A d + B) / H is all there is
to it: the product is heard where |F| is at most half the final bandwidth, and
from there to the detector it goes the way of the wanted signal. Nothing here
knows how loud it is: that depends on shielding nobody has measured.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT
from spurplan.receiver.chain import Chains
from spurplan.responses.birdies.combinations import Combinations, combinations_of
from spurplan.responses.birdies.oscillators import (
    CRYSTAL,
    INTERNAL,
    MIXING,
    VARIABLE,
    Oscillators,
    oscillators_of,
)
from spurplan.responses.lines import clip_positive
from spurplan.rows import Rows, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

TOTAL_ORDER = 20
# A calibrator is a comb: it has harmonics as high as the dial needs, up to so many.
MOST_HARMONICS = 10_000
# Combinations times candidates worked on together.
CHUNK = 500_000


class SelfHeard(Rows):
    """G stretches of dial on which a combination of oscillators is in the passband.

    Attributes
    ----------
    candidate, combination : int64, shape (G,). Index into the chains and combinations.
    dial_low_hz, dial_high_hz : int64, shape (G,). First and last whole hertz. [Hz]
    a, b, h : int64, shape (G,). Off the wanted frequency where it lands by (a d + b) / h.
    """

    candidate: Ints = ints()
    combination: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    a: Ints = ints()
    b: Ints = ints()
    h: Ints = ints()

    def exact_dial_hz(self) -> Ints:
        """Return the dial frequency nearest to where the product is dead on, shape (G,). [Hz]

        Notes
        -----
        `NULL_INT` where it does not move against the dial. It may lie off the dial's end.
        """
        size = np.where(self.a == 0, 1, np.abs(self.a))
        nearest = (-np.sign(self.a) * self.b * 2 + size) // (2 * size)
        return np.where(self.a == 0, NULL_INT, nearest)

    def off_hz(self, dial_hz: Ints) -> Floats:
        """Return how far off the product is at a dial setting, shape (G,). [Hz]"""
        off: Floats = (self.a * dial_hz + self.b) / self.h
        return off


def self_heard(
    chains: Chains, oscillators: Oscillators | None = None, total_order: int = TOTAL_ORDER
) -> tuple[SelfHeard, Combinations]:
    """Return every place on the dial where a set may hear its own oscillators.

    Parameters
    ----------
    chains : Chains, V candidates, all worked through at once.
    oscillators : Oscillators of the same candidates; the mixing ones alone where None.
    total_order : int. Highest sum of harmonics; an internal oscillator by itself has as many as
        the dial and the IFs need.

    Returns
    -------
    SelfHeard, sorted by candidate, order and dial, and the combinations it refers to.
    Of combinations that cross the same place on the dial with the same oscillator beside
    the mixing ones the one of lowest order is kept, and another only where it is heard on
    a wider stretch: what switches off with the calibrator is not what stays without it.

    Notes
    -----
    A place is heard where 2 |A d + B| <= bandwidth H, edges included.
    """
    if oscillators is None:
        oscillators = oscillators_of(chains)
    harmonics = harmonics_needed(chains, oscillators, total_order)
    combinations = combinations_of(oscillators, chains.conversions, total_order, harmonics)
    size = max(1, CHUNK // max(1, len(combinations)))
    pieces = [
        _of_block(chains, oscillators, combinations, np.arange(start, min(start + size, len(chains))))
        for start in range(0, len(chains), size)
    ]
    heard = SelfHeard.concat(pieces)
    heard = heard.take(np.flatnonzero(_is_news(chains, heard, combinations)))
    beside = _beside_the_mixing(oscillators, combinations)[heard.combination]
    heard = _one_a_place(heard, combinations.order, beside)
    order = np.lexsort((heard.dial_low_hz, combinations.order[heard.combination], heard.candidate))
    return heard.take(order), combinations


def harmonics_needed(chains: Chains, oscillators: Oscillators, total_order: int) -> dict[int, int]:
    """Return how high the harmonics of each internal oscillator go, by its place among the oscillators.

    Notes
    -----
    Up to the highest frequency that is wanted anywhere on the way through a set, and `MOST_HARMONICS`.
    """
    ends = [chains.want_a * dial[:, None] + chains.want_b for dial in (chains.low_hz, chains.high_hz)]
    top = int(np.maximum(*ends).max(initial=0)) + int(chains.bandwidth_hz.max(initial=0))
    return {
        s: min(max(total_order, -(-top // int(oscillators.b[:, s].min()))), MOST_HARMONICS)
        for s in np.flatnonzero(oscillators.role == INTERNAL).tolist()
        if len(chains)
    }


def moves(chains: Chains, heard: SelfHeard, target: Ints) -> Floats:
    """Return how fast each product moves through the IF, the wanted signal being 1, shape (G,).

    Parameters
    ----------
    target : int64, shape (G,). Where each lands.
    """
    turned = _turns(chains, heard.candidate, target, before=True)
    return -turned * heard.a / heard.h + 0.0


def at_detector_hz(chains: Chains, heard: SelfHeard, target: Ints, dial_hz: Ints) -> Floats:
    """Return how far each product is above the middle of the last IF, shape (G,). [Hz]"""
    off: Floats = _turns(chains, heard.candidate, target, before=False) * heard.off_hz(dial_hz)
    return off


def _turns(chains: Chains, candidate: Ints, target: Ints, *, before: bool) -> Ints:
    """Return whether the wanted route inverts ahead of a point, or past it: 1 or -1, shape (G,)."""
    rf = np.sign(chains.wanted_steps[candidate, :, 1])
    conversion = np.arange(chains.conversions)[None]
    counts = conversion < target[:, None] if before else conversion >= target[:, None]
    turned: Ints = np.where(counts, rf, 1).prod(axis=1)
    return turned


def _of_block(
    chains: Chains, oscillators: Oscillators, combinations: Combinations, candidate: Ints
) -> SelfHeard:
    """Return what some candidates hear, combinations that cross the same place not yet thinned."""
    own = oscillators.take(candidate)
    h = np.lcm.reduce(np.where(own.present, own.h, 1), axis=1)
    share = h[:, None] // np.where(own.present, own.h, 1)
    # shape (P, V): the product, then its distance from what it lands on, both times h
    product_a, product_b = (combinations.factors @ (part * share).T for part in (own.a, own.b))
    target = combinations.target
    a = product_a - chains.want_a[candidate].T[target] * h
    b = product_b - chains.want_b[candidate].T[target] * h
    low, high = chains.low_hz[candidate], chains.high_hz[candidate]
    width = chains.bandwidth_hz[candidate] * h
    ends = (2 * (a * low + b), 2 * (a * high + b))
    possible = (np.minimum(*ends) <= width) & (np.maximum(*ends) >= -width)
    if not own.present.all():
        possible &= (combinations.factors != 0) @ (~own.present).T.astype(np.int64) == 0
    p, v = np.nonzero(possible)
    a, b, width = a[p, v], b[p, v], width[v]
    low, high = clip_positive(2 * a, 2 * b + width, low[v], high[v], strict=False)
    low, high = clip_positive(-2 * a, width - 2 * b, low, high, strict=False)
    low, high = clip_positive(product_a[p, v], product_b[p, v], low, high, strict=True)
    heard = SelfHeard(candidate[v], p, low, high, a, b, h[v])
    return heard.take(np.flatnonzero(low <= high))


def _is_news(chains: Chains, heard: SelfHeard, combinations: Combinations) -> npt.NDArray[np.bool_]:
    """Return whether a stretch says more than that the set works, shape (G,).

    Notes
    -----
    With one conversion the harmonic of the oscillator that is mixed with meets the BFO's
    where a harmonic of the BFO is on the dial: that is listed as such.
    """
    if chains.conversions > 1:
        return np.ones(len(heard), dtype=bool)
    used = chains.osc_h[heard.candidate, 0] == combinations.factors[heard.combination, 0]
    news: npt.NDArray[np.bool_] = ~(used & combinations.meets_bfo[heard.combination])
    return news


def _beside_the_mixing(oscillators: Oscillators, combinations: Combinations) -> Ints:
    """Return the oscillator a combination needs beside the mixing ones, shape (P,); -1 for none.

    Notes
    -----
    A crystal and what it is multiplied to are one oscillator: it is not beside them, nor is what a premixed
    one is made of.
    """
    other = ~np.isin(oscillators.role, (MIXING, CRYSTAL, VARIABLE))
    used = (combinations.factors != 0) & other
    return np.where(used.any(axis=1), np.argmax(used, axis=1), -1)


def _one_a_place(heard: SelfHeard, order: Ints, beside: Ints) -> SelfHeard:
    """Drop what crosses the dial where a combination of lower order does, on no wider a stretch."""
    still = heard.a == 0
    g = np.gcd(np.gcd(heard.a, heard.b), np.where(still, heard.h, 0))
    sign = np.where(heard.a < 0, -1, 1)
    line = (sign * heard.a // g, sign * heard.b // g, heard.h // g * still)
    place = np.stack([heard.candidate, beside, *line])
    # a product that stays off on one side is the twin of one that stays off on the other
    place[3] = np.where(still, np.abs(place[3]), place[3])
    wide = heard.dial_high_hz - heard.dial_low_hz
    rows = np.lexsort((heard.combination, -wide, order[heard.combination], *place[::-1]))
    kept: list[Ints] = []
    while len(rows):
        same = (place[:, rows[1:]] == place[:, rows[:-1]]).all(axis=0)
        first = np.append(True, ~same)
        leader = rows[first][np.cumsum(first) - 1]
        inside = (heard.dial_low_hz[rows] >= heard.dial_low_hz[leader]) & (
            heard.dial_high_hz[rows] <= heard.dial_high_hz[leader]
        )
        kept.append(rows[first])
        rows = rows[~inside]
    return heard.take(np.concatenate(kept)) if kept else heard
