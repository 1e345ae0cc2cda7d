"""Which two stations may be heard together where neither is: by the join that finds intrusions.

With one station held, the other rides on a response line. So pairs are found once for each station held, and
no table of all pairs is ever made. What a station could be at most at a mixer says which are worth it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.errors import Fault, Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.engine import MOST_RECORDS
from spurplan.responses.join import join, may_meet
from spurplan.responses.levels import least_bar_dbm
from spurplan.responses.lines import (
    LARGEST,
    Lines,
    ahead_of_mixer,
    clip_positive,
    lines_behind,
    product_steps,
)
from spurplan.responses.pairs.intermodulation import (
    PRODUCTS,
    Arrivers,
    Heads,
    MadeBudget,
    Routes,
    arriving,
    products_with,
    strongest_dbm,
)
from spurplan.rows import lots, numbered

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Dial settings this far apart share one bound of the front end: 3 %.
BLOCK_RATIO = 1.03
# Routes worked out at once, and lines joined.
ROUTES_AT_ONCE, LINES_AT_ONCE = 50_000, 100_000
# What may meet on lines looked at together: what does takes memory, however many they are.
MEETINGS_AT_ONCE = 500_000
# More pairs than that on one stretch, and it is cut in parts, down to so many bandwidths.
MOST_IN_BLOCK, PARTS, LEAST_BANDWIDTHS = 20_000, 6, 4
# Pairs looked at for one candidate: beyond it memory goes, and time.
MOST_LOOKED_AT = 4 * MOST_RECORDS
# So many, and it is worth a look at samples of the dial whether there will be too many.
MANY = MOST_RECORDS // 4
# 2 f1 - f2, on whose routes f1 + f2 - f3 comes too.
THIRD = 2
# Sums in the bound and in the level are taken in different orders. [dB]
SPARE_DB = 1e-3


@dataclass(frozen=True)
class Found:
    """Pairs that may be heard, K of them, and the routes they come by.

    Attributes
    ----------
    routes : Routes, W of them.
    route, first, second : int64, shape (K,). Each once.
    """

    routes: Routes
    route: Ints
    first: Ints
    second: Ints


def pairs_of(
    chains: Chains,
    occupants: Occupants,
    audible_at_db: float,
    *,
    lo_order: int,
    drop: bool,
    when_many: Callable[[], None] | None = None,
) -> Found:
    """Return the pairs of occupants whose product may be heard somewhere on the dial.

    Parameters
    ----------
    chains : Chains, one candidate.
    occupants : Occupants.
    audible_at_db : float. Margin over the bar of hearing from which something is heard. [dB]
    lo_order : int. Highest harmonic of the oscillators.
    drop : bool. Whether pairs that cannot be heard are dropped.
    when_many : called once when there are `MANY`; may refuse.

    Returns
    -------
    Found. An occupant meets itself where it is wide enough to hold two stations.

    Raises
    ------
    Refused  when there are more than a million.
    """
    kept: list[tuple[Routes, Ints]] = []
    count = 0
    for mixer in range(chains.conversions):
        search = _Search(chains, occupants, audible_at_db, mixer, lo_order, drop)
        for routes, keys in search.routes_and_keys():
            kept.append((routes, keys))
            count += len(keys)
            if count > MOST_LOOKED_AT or not drop:
                check_count(count)
            if count > MANY and when_many is not None:
                when_many()
                when_many = None
    return _once(chains, occupants, kept)


def check_count(count: int, counted: str = "so far") -> None:
    """Refuse more pairs than an answer may have."""
    if count > MOST_RECORDS:
        raise Refused(
            Fault(
                "--intermodulation",
                f"would give more than {MOST_RECORDS:,} pairs ({count:,} {counted})",
                remedy="narrow it with --range, --region, --utc or --audible-at, or leave --everything out",
            )
        )


def _once(chains: Chains, occupants: Occupants, pieces: list[tuple[Routes, Ints]]) -> Found:
    """Return what was found on all stretches, each route and each pair once."""
    none = np.zeros(0, dtype=np.int64)
    if not pieces:
        return Found(no_routes(chains.conversions), none, none, none)
    kept, same = routes_once(Routes.concat([routes for routes, _ in pieces]))
    starts = np.cumsum([0, *(len(routes) for routes, _ in pieces)])[:-1]
    size = len(occupants) ** 2
    keys = [
        same[start + keys // size] * size + keys % size
        for start, (_, keys) in zip(starts.tolist(), pieces, strict=True)
    ]
    key = distinct(np.concatenate(keys))
    route, pair = np.divmod(key, size)
    station = np.divmod(pair, len(occupants))
    return Found(kept, route, *station)


def routes_once(routes: Routes) -> tuple[Routes, Ints]:
    """Return routes found on several stretches of dial once each, and which of them each was."""
    what = np.concatenate(
        [
            routes.mixer[:, None],
            routes.product[:, None],
            *(getattr(routes, name).reshape(len(routes), -1) for name in ("head_1", "head_2", "behind")),
        ],
        axis=1,
    )
    _, first, same = np.unique(what, axis=0, return_index=True, return_inverse=True)
    low, high = (np.full(len(first), end) for end in (np.iinfo(np.int64).max, -1))
    np.minimum.at(low, same, routes.low_hz)
    np.maximum.at(high, same, routes.high_hz)
    return routes.take(first, low_hz=low, high_hz=high), same.reshape(-1).astype(np.int64)


def no_routes(conversions: int) -> Routes:
    """Return no routes at all."""
    steps = np.zeros((0, conversions, 2), dtype=np.int64)
    return Routes.empty(head_1=steps, head_2=steps, behind=steps)


def blocks(low_hz: int, high_hz: int) -> list[tuple[int, int]]:
    """Return a stretch of dial cut into parts of 3 %."""
    parts = []
    while low_hz <= high_hz:
        stop = min(high_hz, max(low_hz, int(low_hz * BLOCK_RATIO)))
        parts.append((low_hz, stop))
        low_hz = stop + 1
    return parts


def parted(low_hz: int, high_hz: int) -> list[tuple[int, int]]:
    """Return a stretch of dial in parts of equal length."""
    edges = [low_hz + (high_hz + 1 - low_hz) * k // PARTS for k in range(PARTS + 1)]
    return [(low, beyond - 1) for low, beyond in pairwise(edges) if low < beyond]


class _Search:
    """All products of two that arise in one mixer of one candidate."""

    def __init__(
        self,
        chains: Chains,
        occupants: Occupants,
        audible_at_db: float,
        mixer: int,
        lo_order: int,
        drop: bool,
    ) -> None:
        self.chains, self.occupants, self.mixer, self.lo_order = chains, occupants, mixer, lo_order
        self.drop = drop
        steps = product_steps(lo_order, 1)
        self.budget = MadeBudget(chains, occupants, audible_at_db, drop, steps, mixer)
        self.behind = lines_behind(chains, mixer, steps, self.budget) if len(occupants) else None
        self.bar_dbm = float(least_bar_dbm(chains, occupants)[0])
        self.by_product = [self._needs(number, lo_order) for number in range(len(PRODUCTS))]

    def _needs(self, number: int, lo_order: int) -> tuple[Ints, Floats]:
        """Return [m, sign] of a product, and the least k1 P1 + |k2| P2 for it on each line, shape (T, S)."""
        product, steps = PRODUCTS[number], products_with(PRODUCTS[number], lo_order)
        if self.behind is None or not self.drop:
            count = 0 if self.behind is None else len(self.behind)
            return steps, np.full((count, len(steps)), -np.inf)
        compiled = self.chains.mixer[self.mixer][int(self.chains.mixer_code[0, self.mixer])]
        out = self.behind.need_dbm[:, None] - product.more_db
        need = compiled.need_dbm(np.abs(steps[:, 0])[None], product.order, out)
        return steps, need * product.order - SPARE_DB

    def routes_and_keys(self) -> Iterator[tuple[Routes, Ints]]:
        """Yield routes and the keys (route * O + first) * O + second of what comes by them."""
        if self.behind is None or not len(self.behind):
            return
        waiting = blocks(int(self.chains.low_hz[0]), int(self.chains.high_hz[0]))[::-1]
        least_hz = LEAST_BANDWIDTHS * int(self.chains.bandwidth_hz[0])
        while waiting:
            low, high = waiting.pop()
            short = high - low <= least_hz
            found: list[tuple[Routes, Ints]] = []
            count = 0
            for routes, keys in self._in_block(*self.block(low, high)):
                found.append((routes, keys))
                count += len(keys)
                if count > MOST_IN_BLOCK and not short and self.drop:
                    break
            else:
                yield from found
                continue
            # bounds of shorter stretches are tighter
            waiting += parted(low, high)[::-1]

    def block(self, low_hz: int, high_hz: int) -> tuple[Chains, float]:
        """Return the candidate on a part of its dial, and how much higher its least bar is there. [dB]"""
        block = self.chains.tuned_to(np.array([low_hz]), np.array([high_hz]))
        return block, float(least_bar_dbm(block, self.occupants)[0]) - self.bar_dbm

    def _in_block(self, block: Chains, higher_db: float) -> Iterator[tuple[Routes, Ints]]:
        # a decibel at the detector is one or more of the sum
        least = [need + higher_db for _, need in self.by_product]
        strongest = strongest_dbm(block, self.occupants, self.mixer, self.lo_order)
        weakest = min(
            (
                float(sums.min(initial=np.inf)) - (PRODUCTS[number].order - 1) * strongest
                for number, sums in enumerate(least)
            )
        )
        heads, who = arriving(block, self.occupants, self.mixer, self.lo_order, weakest)
        if not len(who):
            return
        most = np.full(len(heads), -np.inf)
        np.maximum.at(most, who.way, who.most_dbm)
        for number, sums in enumerate(least):
            yield from self._of_product(block, number, sums, heads, who, most)

    def _of_product(
        self, block: Chains, number: int, least: Floats, heads: Heads, who: Arrivers, most: Floats
    ) -> Iterator[tuple[Routes, Ints]]:
        product = PRODUCTS[number]
        alive = np.flatnonzero(np.isfinite(most))
        pair_1, pair_2 = (side.ravel() for side in np.meshgrid(alive, alive, indexing="ij"))
        if product.k1 == product.k2:
            once = pair_1 <= pair_2
            pair_1, pair_2 = pair_1[once], pair_2[once]
        sums = product.k1 * most[pair_1] + abs(product.k2) * most[pair_2]
        # of lines and steps, those that ask least first: each pair of ways is loud enough for so many of them
        easiest = np.argsort(least, axis=None, kind="stable")
        enough = np.searchsorted(least.ravel()[easiest], sums, side="right")
        for some in lots(enough, ROUTES_AT_ONCE):
            pair, place = numbered(enough[some])
            line, step = np.divmod(easiest[place], least.shape[1])
            ways = pair_1[some][pair], pair_2[some][pair]
            routes, need, kept = self._routes(block, number, heads, *ways, line, step, least)
            if len(routes):
                yield from self._joined(block, routes, need, who, ways[0][kept], ways[1][kept])

    def _routes(
        self,
        block: Chains,
        number: int,
        heads: Heads,
        way_1: Ints,
        way_2: Ints,
        line: Ints,
        step: Ints,
        least: Floats,
    ) -> tuple[Routes, Floats, Ints]:
        """Return the routes of pairs of ways to the mixer, what each asks of k1 P1 + |k2| P2, and which.

        Parameters
        ----------
        way_1, way_2, line, step : int64, shape (n,). Into heads, lines behind, steps of the product.
        """
        product, behind, i = PRODUCTS[number], self.behind, self.mixer
        assert behind is not None
        steps = self.by_product[number][0][step]
        a, b, h = (int(getattr(block, name)[0, i]) for name in ("osc_a", "osc_b", "osc_h"))
        m, sign = steps.T
        p, q, r, d = (getattr(behind, name)[0][line] for name in ("p", "q", "r", "d"))
        ones = np.ones(len(line), dtype=np.int64)
        p, q, r, d = ahead_of_mixer(p, q, r, d, a * ones, b * ones, h * ones, m, sign)
        low = np.maximum(behind.dial_low_hz[line], block.low_hz[0])
        high = np.minimum(behind.dial_high_hz[line], block.high_hz[0])
        if not product.either_sign:
            width = np.abs(r) * int(block.bandwidth_hz[0])
            low, high = clip_positive(2 * p, 2 * q + width, low, high, strict=True)
        # less what the oscillators before put into both
        for way, k in ((way_1, product.k1), (way_2, product.k2)):
            head_a, head_b, head_h = (getattr(heads, name)[way] for name in ("a", "b", "h"))
            p, q, r, d = (
                p * head_h - k * head_a * d, q * head_h - k * head_b * d, r * head_h, d * head_h,
            )  # fmt: skip
        common = np.gcd(np.gcd(p, q), np.gcd(r, d))
        count = len(line)
        whole = behind.steps[line]
        whole[:, i] = steps
        routes = Routes(
            mixer=np.full(count, i, dtype=np.int64), product=np.full(count, number, dtype=np.int64),
            head_1=heads.steps[way_1], head_2=heads.steps[way_2], behind=whole,
            c_1=product.k1 * heads.sign[way_1], c_2=product.k2 * heads.sign[way_2],
            p=p // common, q=q // common, r=r // common, d=d // common, low_hz=low, high_hz=high,
        )  # fmt: skip
        there = np.flatnonzero((low <= high) & self._may_land(routes))
        return routes.take(there), least[line[there], step[there]], there

    def _may_land(self, routes: Routes) -> npt.NDArray[np.bool_]:
        """Whether any two occupants could land on the dial, shape (W,)."""
        least, most = float(self.occupants.low_hz[0]), float(self.occupants.high_hz.max())
        every = np.arange(len(routes))
        ends = (routes.lands_hz(every, routes.low_hz), routes.lands_hz(every, routes.high_hz))
        slack = np.abs(routes.r / routes.d) * float(self.chains.bandwidth_hz[0])
        bottom = sum(np.minimum(c * least, c * most) for c in (routes.c_1, routes.c_2))
        top = sum(np.maximum(c * least, c * most) for c in (routes.c_1, routes.c_2))
        lands: npt.NDArray[np.bool_] = (np.minimum(*ends) - slack <= top) & (
            np.maximum(*ends) + slack >= bottom
        )
        return lands

    def _joined(
        self, block: Chains, routes: Routes, need: Floats, who: Arrivers, way_1: Ints, way_2: Ints
    ) -> Iterator[tuple[Routes, Ints]]:
        """Yield routes and keys of the pairs that meet on them, a lot of lines at a time.

        Parameters
        ----------
        need : float64, shape (W,). What each route asks of k1 P1 + |k2| P2. [dBm]
        way_1, way_2 : int64, shape (W,). By which way the first and the second station get to the mixer.
        """
        product, count = PRODUCTS[int(routes.product[0])], len(self.occupants)
        k1, k2 = product.k1, abs(product.k2)
        loudest = np.full(int(who.way.max()) + 1, -np.inf)
        np.maximum.at(loudest, who.way, who.most_dbm)
        # by each way the strongest first: those that are strong enough with the loudest partner
        strongest = np.lexsort((-who.most_dbm, who.way))
        starts = np.searchsorted(who.way, np.arange(len(loudest) + 1))
        held_least = (need - k2 * loudest[way_2]) / k1
        enough = np.zeros(len(routes), dtype=np.int64)
        for way in distinct(way_1).tolist():
            on = np.flatnonzero(way_1 == way)
            levels = who.most_dbm[strongest[starts[way] : starts[way + 1]]]
            enough[on] = np.searchsorted(-levels, -held_least[on], side="right")
        for some in lots(enough, LINES_AT_ONCE):
            row, place = numbered(enough[some])
            of = np.arange(len(routes))[some][row]
            held = strongest[starts[way_1[of]] + place]
            asks = (need[of] - k1 * who.most_dbm[held]) / k2
            lines = _lines(block, self.occupants, routes, of, who.occupant[held], asks)
            for line, partner in self._met(lines, who, way_2[of]):
                a, b, by = who.occupant[held[line]], who.occupant[partner], of[line]
                keep = (a != b) | (self.occupants.low_hz[a] != self.occupants.high_hz[a])
                if product.k1 == product.k2:
                    keep &= (way_1[by] != way_2[by]) | (a <= b)
                if keep.any():
                    number, back = np.unique(by[keep], return_inverse=True)
                    yield routes.take(number), (back.astype(np.int64) * count + a[keep]) * count + b[keep]

    def _met(self, lines: Lines, who: Arrivers, way: Ints) -> Iterator[tuple[Ints, Ints]]:
        """Yield lines, and the rows of `who` that ride on them and are strong enough by the way of each.

        Notes
        -----
        One join for all ways: whoever comes by one is moved as far up as no line of another reaches, and
        so are the lines of that way.
        """
        if not len(lines):
            return
        ends = lines.at_hz(lines.dial_low_hz), lines.at_hz(lines.dial_high_hz)
        slack = lines.slack_hz() + 2.0
        low = min(float((np.minimum(*ends) - slack).min()), float(self.occupants.low_hz[0]))
        high = max(float((np.maximum(*ends) + slack).max()), float(self.occupants.high_hz.max()))
        apart = int(high - low) + 2
        # so many ways at once keep all products of the join inside 62 bits
        at_once = max(1, LARGEST // (8 * int(lines.d.max()) * apart) - 1)
        ways, number = np.unique(way, return_inverse=True)
        for first in range(0, len(ways), at_once):
            rows = np.flatnonzero((number >= first) & (number < first + at_once))
            up = (number[rows] - first) * apart
            moved = lines.take(rows, q=lines.q[:, rows] + lines.d[:, rows] * up)
            there = np.flatnonzero(np.isin(who.way, ways[first : first + at_once]))
            by = np.searchsorted(ways, who.way[there]) - first
            occupant = who.occupant[there]
            partners = self.occupants.take(
                occupant,
                low_hz=self.occupants.low_hz[occupant] + by * apart,
                high_hz=self.occupants.high_hz[occupant] + by * apart,
                level_dbm=who.most_dbm[there],
            )
            for some in lots(may_meet(moved, partners), MEETINGS_AT_ONCE):
                part = moved.take(np.arange(len(moved))[some])
                hits = join(part, partners, strong_enough=self.drop)
                yield rows[some][hits.line], there[hits.occupant]


def _lines(
    block: Chains, occupants: Occupants, routes: Routes, route: Ints, held: Ints, need_dbm: Floats
) -> Lines:
    """Return the second station against the dial, one line for each route and first station held.

    Notes
    -----
    c_2 f2 = T - c_1 f1, doubled so that the middle of the first one's row is whole. |c_2| is 1.
    """
    low, high = occupants.low_hz[held], occupants.high_hz[held]
    c_1, sign, d = routes.c_1[route], routes.c_2[route], routes.d[route]
    twos = np.full(len(route), 2, dtype=np.int64)
    width = int(block.bandwidth_hz[0])
    return Lines(
        candidate=twos * 0, steps=np.zeros((len(route), block.conversions, 2), dtype=np.int64),
        p=(2 * sign * routes.p[route])[None],
        q=(sign * (2 * routes.q[route] - d * c_1 * (low + high)))[None],
        # twice as wide, the centre being doubled
        r=(twos // 2)[None], d=(2 * d)[None],
        dial_low_hz=routes.low_hz[route], dial_high_hz=routes.high_hz[route],
        reach_hz=2 * (np.abs(routes.r[route]) * width + d * np.abs(c_1) * (high - low)),
        tight=np.zeros(len(route), dtype=bool), need_dbm=need_dbm,
    )  # fmt: skip


class ThirdOrder(_Search):
    """Products of the third order of stations that get to a mixer by one way.

    Parameters
    ----------
    chains, occupants, audible_at_db, mixer, lo_order : as of `pairs_of`.
    more_db : float. How far the tones make more than one makes of its third harmonic. [dB]
    """

    def __init__(
        self, chains: Chains, occupants: Occupants, audible_at_db: float, mixer: int, lo_order: int,
        more_db: float,
    ) -> None:  # fmt: skip
        super().__init__(chains, occupants, audible_at_db, mixer, lo_order, drop=True)
        # a sum of three levels asks for so much less, or more
        steps, need = self.by_product[THIRD]
        self.by_product = [*self.by_product[:THIRD], (steps, need - (more_db - PRODUCTS[THIRD].more_db))]

    def short_blocks(self) -> list[tuple[int, int]]:
        """Return the dial in parts on which the filter ahead of the mixer is much the same."""
        low, high = int(self.chains.low_hz[0]), int(self.chains.high_hz[0])
        return blocks(low, high)

    def by_way(self, most: int) -> Iterator[tuple[Chains, Routes, Floats, tuple[Ints, Floats]]]:
        """Yield stretch of dial, routes, what they ask of P1 + P2 + P3, and who is how strong at the mixer.

        Parameters
        ----------
        most : int. How many stations are taken, the strongest there.
        """
        if self.behind is None or not len(self.behind):
            return
        for low, high in self.short_blocks():
            block, higher_db = self.block(low, high)
            least = self.by_product[THIRD][1] + higher_db
            most_dbm = strongest_dbm(block, self.occupants, self.mixer, self.lo_order)
            weakest = float(least.min()) - 2 * most_dbm
            heads, there = arriving(block, self.occupants, self.mixer, self.lo_order, weakest)
            for way in distinct(there.way).tolist():
                rows = np.flatnonzero(there.way == way)
                rows = np.sort(rows[np.argsort(-there.most_dbm[rows], kind="stable")[:most]])
                level = there.most_dbm[rows]
                strongest = float(np.sort(level)[-3:].sum()) if len(level) > 2 else -np.inf
                line, step = np.nonzero(least <= strongest)
                ways = np.full(len(line), way)
                routes, need, _ = self._routes(block, THIRD, heads, ways, ways, line, step, least)
                if len(routes):
                    yield block, routes, need, (there.occupant[rows], level)
