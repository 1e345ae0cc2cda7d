"""What two stations make of each other: the products, and the routes on which they come to the detector.

A product arises in some mixer, of two stations that have been converted as far as that, each by a route of
its own, with some harmonic of that mixer's oscillator; what comes out goes on like any signal. With y the
frequencies at the mixer:

    y1 = +-f1 + L1(d),  y2 = +-f2 + L2(d)          heads: what converts the stations
    x  = m LO +- (k1 y1 + k2 y2)                   the product
    detector <- x                                  behind: what converts the product

All of it is affine in the dial frequency d and in integers, so that a route is one equation

    c1 f1 + c2 f2 = (P d + Q + R delta) / D,       delta the place in the final passband,

and with one station held the other rides on a response line like any single signal.

The level is that of the tones P1, P2 at the mixer and of its intercepts,

    f1 +- f2:    IM2 = P1 + P2 - IIP2
    2 f1 - f2:   IM3 = 2 P1 + P2 - 2 IIP3

in dBm at its input, with the mixer's suppression for the oscillator harmonic that takes part.
Stations and products are converted in first order: more signals in a product make it one of a higher order.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb, log10

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.levels import AirBudget, sum_db
from spurplan.responses.lines import clip_positive, product_steps
from spurplan.rows import Rows, floats, ints
from spurplan.units import HIGHEST_HZ

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


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

    @property
    def either_sign(self) -> bool:
        """Whether k1 f1 + k2 f2 may be below zero: f1 - f2 is f2 - f1 with the stations in turn."""
        return self.k1 != 1


PRODUCTS = (Product("f1 + f2", 1, 1), Product("f1 - f2", 1, -1), Product("2 f1 - f2", 2, -1))


def products_with(product: Product, lo_order: int) -> Ints:
    """Return every [m, sign] that a mixer can make of it with its oscillator, shape (S, 2)."""
    steps = product_steps(lo_order, 1)
    if not product.either_sign:
        return steps
    turned = -steps[(steps[:, 0] >= 0) & (steps[:, 1] > 0)]
    both: Ints = np.concatenate([steps, turned])
    return both


class Heads(Rows):
    """How stations get to a mixer of one candidate with N conversions; H ways.

    Attributes
    ----------
    steps : int64, shape (H, N, 2). [lo, rf] of the mixers before, [0, 0] from there on.
    sign : int64, shape (H,). The station's frequency there is sign f + (a d + b) / h.
    a, b, h : int64, shape (H,). [b: Hz]
    """

    steps: Ints = ints(ndim=3)
    sign: Ints = ints()
    a: Ints = ints()
    b: Ints = ints()
    h: Ints = ints()

    @classmethod
    def straight(cls, conversions: int) -> Heads:
        """Return the one way to the first mixer."""
        ones = np.ones(1, dtype=np.int64)
        return cls(np.zeros((1, conversions, 2), dtype=np.int64), ones, ones * 0, ones * 0, ones)

    def through(self, chains: Chains, conversion: int, way: Ints, steps: Ints) -> Heads:
        """Return some of them, each converted once more, shape (n,).

        Parameters
        ----------
        way : int64, shape (n,).
        steps : int64, shape (n, 2). [lo, rf] in that mixer, rf 1 or -1.
        """
        a, b, h = (int(getattr(chains, name)[0, conversion]) for name in ("osc_a", "osc_b", "osc_h"))
        lo, rf = steps.T
        whole = self.steps[way].copy()
        whole[:, conversion] = steps
        own = self.h[way]
        top_a, top_b, below = (
            lo * a * own + rf * h * self.a[way],
            lo * b * own + rf * h * self.b[way],
            h * own,
        )
        common = np.gcd(np.gcd(top_a, top_b), below)
        return Heads(whole, rf * self.sign[way], top_a // common, top_b // common, below // common)


class Arrivers(Rows):
    """Stations at a mixer: n pairs of occupant and way, ascending by way, then occupant.

    Attributes
    ----------
    way, occupant : int64, shape (n,).
    most_dbm : float64, shape (n,). The strongest it can be there on a stretch of dial. [dBm]
    """

    sorted_by = ("way", "occupant")
    way: Ints = ints()
    occupant: Ints = ints()
    most_dbm: Floats = floats()


def arriving(
    block: Chains, occupants: Occupants, mixer: int, lo_order: int | None, least_dbm: float
) -> tuple[Heads, Arrivers]:
    """Return how stations get to a mixer of one candidate, and who can be how strong there.

    Parameters
    ----------
    block : Chains, one candidate on a short stretch of dial.
    occupants : Occupants.
    mixer : int. 0 the first.
    lo_order : int or None. Highest harmonic of the oscillators before it; None for the wanted way alone.
    least_dbm : float. What is weaker at the mixer is left out. [dBm]
    """
    heads = Heads.straight(block.conversions)
    who = np.arange(len(occupants), dtype=np.int64)
    way = np.zeros(len(who), dtype=np.int64)
    rest = _most_behind_db(block, mixer, lo_order)
    level = occupants.level_dbm - _least_loss_db(block, 0, _ends(block, occupants, heads, way, who))
    level = level + block.gain_db[0, 0]
    for i in range(mixer):
        steps = block.wanted_steps[:, i] if lo_order is None else product_steps(lo_order, 1)
        mixer_i = block.mixer[i][int(block.mixer_code[0, i])]
        lost = mixer_i.suppression_db(np.abs(steps[:, 0]), 1, 0.0)
        straight = steps[:, 0] == 0
        pickup = float(block.pickup_db[0, i])
        if not np.isfinite(pickup):
            # most are too weak for the best of the steps already
            loud = np.flatnonzero(level - lost.min() + rest[i] >= least_dbm)
            who, way, level = who[loud], way[loud], level[loud]
        out = level[:, None] - lost[None]
        if np.isfinite(pickup):
            # what gets past a mixer has not been weakened by the circuits ahead of it
            around = occupants.level_dbm[who] + block.gain_db[0, : i + 1].sum() - pickup
            out[:, straight] = sum_db(out[:, straight], around[:, None])
        row, step = np.nonzero(out + rest[i] >= least_dbm)
        key = way[row] * len(steps) + step
        used = np.zeros(len(heads) * len(steps), dtype=np.bool_)
        used[key] = True
        number = np.flatnonzero(used)
        heads = heads.through(block, i, number // len(steps), steps[number % len(steps)])
        who, way, level = who[row], (np.cumsum(used) - 1)[key], out[row, step]
        ends = _ends(block, occupants, heads, way, who)
        # with some frequency above zero somewhere on the dial
        reached = np.flatnonzero(np.maximum(ends[0], ends[1]) + ends[2] > 0.0)
        who, way, level = who[reached], way[reached], level[reached]
        lost_db = _least_loss_db(block, i + 1, tuple(end[reached] for end in ends))
        level = level + block.gain_db[0, i + 1] - lost_db
    kept = np.flatnonzero(level >= least_dbm)
    kept = kept[np.lexsort((who[kept], way[kept]))]
    return heads, Arrivers(way[kept], who[kept], level[kept].astype(np.float64))


def strongest_dbm(block: Chains, occupants: Occupants, mixer: int, lo_order: int) -> float:
    """Return the strongest that anybody can be at a mixer of one candidate on a stretch of dial. [dBm]"""
    _, wanted = arriving(block, occupants, mixer, None, -np.inf)
    least = float(wanted.most_dbm.max(initial=-np.inf))
    if mixer == 0:
        return least
    _, stronger = arriving(block, occupants, mixer, lo_order, least)
    return max(least, float(stronger.most_dbm.max(initial=-np.inf)))


def _most_behind_db(block: Chains, mixer: int, lo_order: int | None) -> list[float]:
    """Return the most that the way from behind each mixer to another adds, for those before it. [dB]"""
    steps = np.arange((lo_order or 0) + 1)
    rest = []
    for i in range(mixer):
        more = 0.0
        for point in range(i + 1, mixer + 1):
            more += float(block.gain_db[0, point]) + _most_passed_db(block, point)
            if point < mixer:
                through = block.mixer[point][int(block.mixer_code[0, point])]
                more -= min(float(through.suppression_db(steps, 1, 0.0).min()), 0.0)
        rest.append(more)
    return rest


def _most_passed_db(block: Chains, point: int) -> float:
    selectivity = block.selectivity[point][int(block.selectivity_code[0, point])]
    ends = _wanted(block, point)
    return -min(float(selectivity.least_db(1.0, float(HIGHEST_HZ), min(ends), max(ends), 0.0)), 0.0)


def _wanted(block: Chains, point: int) -> tuple[float, float]:
    """Return the wanted frequency at a point at both ends of the dial. [Hz]"""
    a, b = int(block.want_a[0, point]), int(block.want_b[0, point])
    return float(a * block.low_hz[0] + b), float(a * block.high_hz[0] + b)


def _ends(
    block: Chains, occupants: Occupants, heads: Heads, way: Ints, who: Ints
) -> tuple[Floats, Floats, Floats]:
    """Return where the middle of an occupant's row is at both ends of the dial, and half its width. [Hz]"""
    middle = (occupants.low_hz[who] + occupants.high_hz[who]) / 2.0
    half = (occupants.high_hz[who] - occupants.low_hz[who]) / 2.0
    middle *= heads.sign[way]
    # what is put in is the same for all that come one way
    low, high = ((heads.a * end + heads.b) / heads.h for end in (block.low_hz[0], block.high_hz[0]))
    return middle + low[way], middle + high[way], half


def _least_loss_db(block: Chains, point: int, ends_hz: tuple[Floats, ...]) -> Floats:
    low, high, half = ends_hz
    wanted_low, wanted_high = _wanted(block, point)
    selectivity = block.selectivity[point][int(block.selectivity_code[0, point])]
    least = selectivity.least_db(np.maximum(low, 1.0), np.maximum(high, 1.0), wanted_low, wanted_high, half)
    return np.asarray(least, dtype=np.float64)


class Routes(Rows):
    """W routes of products of two stations through one candidate with N conversions.

    Attributes
    ----------
    mixer, product : int64, shape (W,). Where it arises; index into `PRODUCTS`.
    head_1, head_2 : int64, shape (W, N, 2). How the stations are converted before.
    behind : int64, shape (W, N, 2). [m, sign] in that mixer, [lo, rf] in those behind it.
    c_1, c_2 : int64, shape (W,). c_1 f1 + c_2 f2 = (p d + q + r delta) / D.
    p, q, r, d : int64, shape (W,).
    low_hz, high_hz : int64, shape (W,). The dial on which all that is above zero. [Hz]
    """

    mixer: Ints = ints()
    product: Ints = ints()
    head_1: Ints = ints(ndim=3)
    head_2: Ints = ints(ndim=3)
    behind: Ints = ints(ndim=3)
    c_1: Ints = ints()
    c_2: Ints = ints()
    p: Ints = ints()
    q: Ints = ints()
    r: Ints = ints()
    d: Ints = ints()
    low_hz: Ints = ints()
    high_hz: Ints = ints()

    def heads(self, chains: Chains, station: int) -> Heads:
        """Return the way of one of the two stations on each route, shape (W,)."""
        steps = self.head_1 if station == 1 else self.head_2
        out = Heads.straight(chains.conversions).take(np.zeros(len(self), dtype=np.int64))
        for i in range(int(self.mixer.max(initial=0))):
            on = np.flatnonzero(self.mixer > i)
            through = out.through(chains, i, on, steps[on, i])
            for name in Heads.column_names:
                getattr(out, name)[on] = getattr(through, name)
        return out

    def lands_hz(self, route: Ints, dial_hz: Ints) -> Floats:
        """Return the value of c_1 f1 + c_2 f2 in the middle of the passband, shape (n,). [Hz]"""
        at: Floats = (self.p[route] * dial_hz + self.q[route]) / self.d[route]
        return at


def received_on(
    chains: Chains, occupants: Occupants, routes: Routes, route: Ints, first: Ints, second: Ints
) -> tuple[Ints, Ints]:
    """Return the first and last dial setting on which each pair is received, shape (H,) each. [Hz]"""
    c_1, c_2, d = routes.c_1[route], routes.c_2[route], routes.d[route]
    ends_1 = (c_1 * occupants.low_hz[first], c_1 * occupants.high_hz[first])
    ends_2 = (c_2 * occupants.low_hz[second], c_2 * occupants.high_hz[second])
    least = np.minimum(*ends_1) + np.minimum(*ends_2)
    most = np.maximum(*ends_1) + np.maximum(*ends_2)
    width = np.abs(routes.r[route]) * int(chains.bandwidth_hz[0])
    slope, q = 2 * routes.p[route], 2 * routes.q[route]
    low, high = clip_positive(
        slope, q - 2 * d * least + width, routes.low_hz[route], routes.high_hz[route], strict=False
    )
    return clip_positive(-slope, 2 * d * most + width - q, low, high, strict=False)


class MadeBudget(AirBudget):
    """What it takes to hear a product made in a mixer.

    Parameters
    ----------
    chains : Chains, one candidate.
    occupants, audible_at_db, drop, steps : as of `AirBudget`.
    mixer : int. Where it is made.
    """

    def __init__(
        self, chains: Chains, occupants: Occupants, audible_at_db: float, drop: bool, steps: Ints, mixer: int
    ) -> None:
        object.__setattr__(self, "mixer", mixer)
        super().__init__(chains, occupants, audible_at_db, drop, steps)

    mixer: int

    def _upper_bounds(self) -> tuple[list[Floats], list[Floats]]:
        at, into = super()._upper_bounds()
        chains, m = self.chains, np.abs(self.steps[:, 0])
        made_in = chains.mixer[self.mixer][int(chains.mixer_code[0, self.mixer])]
        strongest = float(into[self.mixer][0])
        made = max(
            float((strongest - made_in.suppression_db(m, product.order, strongest)).max()) + product.more_db
            for product in PRODUCTS
        )
        at[self.mixer + 1] = np.array([made])
        for i in range(self.mixer + 1, chains.conversions):
            into[i] = at[i] + chains.gain_db[:, i] - self._least_ever_db(i)
            best = float(chains.mixer[i][int(chains.mixer_code[0, i])].least_db(m, 1).min())
            around = at[i] + chains.gain_db[:, i] - chains.pickup_db[:, i]
            at[i + 1] = sum_db(into[i] - best, around)
        return at, into

    @property
    def strongest_dbm(self) -> float:
        """The strongest that anybody can be at the mixer. [dBm]"""
        return float(self._into[self.mixer][0])
