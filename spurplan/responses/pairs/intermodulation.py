"""Two stations at once: where f1 + f2, f1 - f2 and 2 f1 - f2 land, and how loud.

With one station held, a product of two is a response line again: f1 + f2 lands on
T where f2 = T - f1. So pairs are found by the join that finds intrusions, once for
each station held, and no table of all pairs is ever made. What a station could be
at most at the mixer says which pairs are worth it.

The level is that of the tones P1, P2 at the mixer and of its intercepts,

    f1 +- f2:    IM2 = P1 + P2 - IIP2
    2 f1 - f2:   IM3 = 2 P1 + P2 - 2 IIP3

in dBm at its input, a product on the dial frequency counting like a signal there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb, log10

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.join import join
from spurplan.responses.levels import NARROW_HZ
from spurplan.responses.lines import Lines, clip_positive
from spurplan.responses.pairs.tones import Tones

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Dial settings this far apart share one bound of the front end: 10 %.
BLOCK_RATIO = 1.1
# Stations held times occupants joined at once.
CHUNK = 2_000_000
# Sums in the bound and in the level are taken in different orders. [dB]
SPARE_DB = 1e-3


@dataclass(frozen=True)
class Product:
    """A product of two stations, k1 f1 + k2 f2.

    Attributes
    ----------
    text : str. As it is written.
    k1, k2 : int. k1 above 0.
    """

    text: str
    k1: int
    k2: int

    @property
    def order(self) -> int:
        """Sum of |k1| and |k2|."""
        return self.k1 + abs(self.k2)

    @property
    def more_db(self) -> float:
        """How far two tones make more of this than one makes of its harmonic of that order. [dB]

        Notes
        -----
        n!/(|k1|! |k2|!) as a voltage: 6.0 dB for f1 + f2, 9.5 dB for 2 f1 - f2.
        """
        return 20.0 * log10(comb(self.order, self.k1))


PRODUCTS = (Product("f1 + f2", 1, 1), Product("f1 - f2", 1, -1), Product("2 f1 - f2", 2, -1))


@dataclass(frozen=True)
class Meeting:
    """One product on one target: what the pairs of a lot have in common.

    Attributes
    ----------
    product : int. Index into `PRODUCTS`.
    target : int. What it lands on: 0 the dial frequency, i the i-th IF.
    """

    product: int
    target: int

    def made_in(self, conversions: int) -> range:
        """Return the mixers whose curvature can make it.

        Notes
        -----
        Two stations near the dial frequency stay as far apart all the way, so any mixer
        they reach makes 2 f1 - f2 on what is wanted there. Everything else is made where
        the stations come as they are, in the first.
        """
        everywhere = self.target == 0 and PRODUCTS[self.product].order % 2 == 1
        return range(conversions if everywhere else 1)


def meetings(conversions: int) -> list[Meeting]:
    """Return every product on the dial frequency and on every IF."""
    return [Meeting(p, t) for t in range(conversions + 1) for p in range(len(PRODUCTS))]


def pairs_of(
    chains: Chains, occupants: Occupants, meeting: Meeting, audible_at_db: float, drop: bool
) -> tuple[Ints, Ints]:
    """Return the pairs of occupants whose product may be heard somewhere on the dial.

    Parameters
    ----------
    chains : Chains, one candidate.
    occupants : Occupants.
    meeting : Meeting.
    audible_at_db : float. Margin over the floor from which something is heard. [dB]
    drop : bool. Whether pairs that cannot be heard are dropped.

    Returns
    -------
    first, second : int64, shape (H,). Occupants with f1 and f2; each pair once. An occupant
        meets itself where it is wide enough to hold two stations.
    """
    product = PRODUCTS[meeting.product]
    keys: list[Ints] = []
    for low, high in _blocks(int(chains.low_hz[0]), int(chains.high_hz[0])):
        block = chains.tuned_to(np.array([low]), np.array([high]))
        for mixer in meeting.made_in(chains.conversions):
            tones = Tones(block, mixer, occupants)
            most = tones.most_dbm()
            least = _least_sum_dbm(block, tones, meeting, audible_at_db) if drop else -np.inf
            keys += _joined(block, occupants, meeting, most, least)
    if not keys:
        none = np.zeros(0, dtype=np.int64)
        return none, none
    key = distinct(np.concatenate(keys))
    first, second = np.divmod(key, len(occupants))
    alone = (first == second) & (occupants.low_hz[first] == occupants.high_hz[first])
    keep = ~alone & ((first <= second) if product.k1 == product.k2 else (first >= 0))
    return first[keep], second[keep]


def _blocks(low_hz: int, high_hz: int) -> list[tuple[int, int]]:
    """Return a stretch of dial cut into parts of 10 %."""
    parts = []
    while low_hz <= high_hz:
        stop = min(high_hz, max(low_hz, int(low_hz * BLOCK_RATIO)))
        parts.append((low_hz, stop))
        low_hz = stop + 1
    return parts


def _least_sum_dbm(block: Chains, tones: Tones, meeting: Meeting, audible_at_db: float) -> float:
    """Return the least k1 P1 + |k2| P2 at a mixer whose product could be heard in a block. [dBm]"""
    product = PRODUCTS[meeting.product]
    width = min(int(block.bandwidth_hz[0]), NARROW_HZ)
    floor = block.floor[int(block.floor_code[0])]
    least = floor.least_dbm(int(block.low_hz[0]), int(block.high_hz[0]), width)
    out = float(least) + audible_at_db + tones.gain_db - tones.most_gained_db(meeting.target)
    mixer = tones.compiled
    need = mixer.need_dbm(tones.oscillator_order(meeting.target), product.order, out - product.more_db)
    return float(need) * product.order - SPARE_DB


def _joined(
    block: Chains, occupants: Occupants, meeting: Meeting, most_dbm: Floats, least_sum_dbm: float
) -> list[Ints]:
    """Return keys first * O + second of the pairs that land in a block and may be loud enough."""
    product = PRODUCTS[meeting.product]
    count = len(occupants)
    k1, k2 = product.k1, abs(product.k2)
    loudest = float(most_dbm.max(initial=-np.inf))
    held = np.flatnonzero(k1 * most_dbm + k2 * loudest >= least_sum_dbm)
    with_it = np.flatnonzero(k1 * loudest + k2 * most_dbm >= least_sum_dbm)
    if not len(held) or not len(with_it):
        return []
    partners = occupants.take(with_it)
    partners.level_dbm[:] = most_dbm[with_it]
    keys = []
    size = max(1, CHUNK // len(with_it))
    for start in range(0, len(held), size):
        part = held[start : start + size]
        need = (least_sum_dbm - k1 * most_dbm[part]) / k2
        lines = _lines(block, occupants, meeting, part, need)
        hits = join(lines, partners, strong_enough=bool(np.isfinite(least_sum_dbm)))
        keys.append(part[hits.line] * count + with_it[hits.occupant])
    return keys


def _lines(block: Chains, occupants: Occupants, meeting: Meeting, held: Ints, need_dbm: Floats) -> Lines:
    """Return the second station against the dial, one line for each first station held.

    Notes
    -----
    k2 f2 = T - k1 f1, doubled so that the middle of the first one's row is whole:
    2 r = s (2 T - k1 (low + high)), as wide as the passband and k1 times that row.
    """
    product = PRODUCTS[meeting.product]
    assert abs(product.k2) == 1
    low, high = occupants.low_hz[held], occupants.high_hz[held]
    ones = np.ones(len(held), dtype=np.int64)
    a, b = int(block.want_a[0, meeting.target]), int(block.want_b[0, meeting.target])
    sign = product.k2
    return Lines(
        candidate=ones * 0, steps=np.zeros((len(held), block.conversions, 2), dtype=np.int64),
        p=(ones * 2 * sign * a)[None], q=(sign * (2 * b - product.k1 * (low + high)))[None],
        r=(ones * 2)[None], d=(ones * 2)[None],
        dial_low_hz=ones * block.low_hz[0], dial_high_hz=ones * block.high_hz[0],
        reach_hz=block.bandwidth_hz[0] + product.k1 * (high - low),
        tight=np.zeros(len(held), dtype=bool), need_dbm=need_dbm,
    )  # fmt: skip


def received_on(
    chains: Chains, occupants: Occupants, meeting: Meeting, first: Ints, second: Ints
) -> tuple[Ints, Ints]:
    """Return the first and last dial setting on which each pair is received, shape (H,) each. [Hz]"""
    product = PRODUCTS[meeting.product]
    ends = (product.k2 * occupants.low_hz[second], product.k2 * occupants.high_hz[second])
    least = product.k1 * occupants.low_hz[first] + np.minimum(*ends)
    most = product.k1 * occupants.high_hz[first] + np.maximum(*ends)
    a, b = int(chains.want_a[0, meeting.target]), int(chains.want_b[0, meeting.target])
    width = int(chains.bandwidth_hz[0])
    low = np.full(len(first), chains.low_hz[0], dtype=np.int64)
    high = np.full(len(first), chains.high_hz[0], dtype=np.int64)
    slope = np.full(len(first), 2 * a, dtype=np.int64)
    low, high = clip_positive(slope, 2 * b - 2 * least + width, low, high, strict=False)
    return clip_positive(-slope, 2 * most + width - 2 * b, low, high, strict=False)
