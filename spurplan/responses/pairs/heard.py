"""Pairs of stations that can be heard where neither of them is, with level and grade."""

from __future__ import annotations

from functools import partial

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.grades import grade_of
from spurplan.responses.levels import (
    at_detector_dbm,
    bar_dbm,
    into_mixer_dbm,
    suppression_db,
    through_conversion,
)
from spurplan.responses.pairs.intermodulation import PRODUCTS, Heads, Routes, received_on
from spurplan.responses.pairs.search import Found, check_count, no_routes, pairs_of
from spurplan.rows import Rows, alike, floats, ints, of_the_best, shared

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

EVEN_POINTS = 9
# Stretches of dial looked at to tell how many pairs there will be, how wide, and what is taken off the mean.
SAMPLES, SAMPLE_BANDWIDTHS, DOUBTS = 8, 2, 3.0
# Pairs of single frequencies, and pairs with a band in them, looked at together.
SPOTS_AT_ONCE, BANDS_AT_ONCE = 200_000, 10_000


class Pairs(Rows):
    """G stretches of dial on which a product of two stations is heard.

    Attributes
    ----------
    candidate, first, second : int64, shape (G,). The chain; the occupants with f1 and f2.
    route : int64, shape (G,). Index into `routes`.
    dial_low_hz, dial_high_hz : int64, shape (G,). First and last whole hertz. [Hz]
    loudest_dial_hz : int64, shape (G,). Where the figures are quoted. [Hz]
    f1_hz, f2_hz : int64, shape (G,). The two frequencies there; of a band, those that
        make it loudest. [Hz]
    heard_dbm, bar_dbm : float64, shape (G,). Level there, and the bar of hearing. [dBm]
    routes : Routes. Of all candidates.
    """

    candidate: Ints = ints()
    first: Ints = ints()
    second: Ints = ints()
    route: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    loudest_dial_hz: Ints = ints()
    f1_hz: Ints = ints()
    f2_hz: Ints = ints()
    heard_dbm: Floats = floats()
    bar_dbm: Floats = floats()
    routes: Routes = shared()

    @property
    def margin_db(self) -> Floats:
        """Heard level above the bar of hearing, shape (G,). [dB]"""
        margin: Floats = self.heard_dbm - self.bar_dbm
        return margin

    @property
    def product(self) -> Ints:
        """Index into `intermodulation.PRODUCTS`, shape (G,)."""
        return self.routes.product[self.route]

    @property
    def order(self) -> Ints:
        """Order of each product in the signals, shape (G,)."""
        orders = np.array([product.order for product in PRODUCTS], dtype=np.int64)
        return orders[self.product]

    def grade(self, strong_at_db: float, audible_at_db: float) -> Ints:
        """Return the grade where each is loudest, shape (G,); index into `grades.GRADES`."""
        return grade_of(self.margin_db, strong_at_db, audible_at_db)


def intermodulation(chains: Chains, occupants: Occupants, settings: Settings) -> Pairs:
    """Return what pairs of stations make heard on some chains.

    Parameters
    ----------
    chains : Chains, V candidates, one worked through after the other.
    occupants : Occupants.
    settings : Settings. Orders, thresholds, and whether buried ones are kept.

    Returns
    -------
    Pairs in no order. A stretch is where the product is heard at the audible threshold or
    above it (``everything``: where it is received at all); its figures stand where it is loudest.
    Of routes on which two stations make the same product on the same settings the loudest one.

    Raises
    ------
    Refused  when there are more than a million.

    Notes
    -----
    Two carriers no more than half the final bandwidth apart are not taken for a pair; where
    a band is in it, two stations less than that bandwidth apart.
    """
    pieces: list[Pairs] = []
    routes = 0
    count = 0
    narrow = occupants.low_hz == occupants.high_hz
    for v in range(len(chains)):
        chain = chains.take(np.array([v]))
        pairs = pairs_of(
            chain, occupants, settings.audible_at, lo_order=settings.lo_order, drop=not settings.everything,
            when_many=partial(_refuse_too_many, chain, occupants, settings),
        )  # fmt: skip
        pair_levels = PairLevels(chain, occupants, pairs.routes)
        spot = narrow[pairs.first] & narrow[pairs.second]
        # what single frequencies make is a passband wide on the dial, but where it stands still against it
        still = pairs.routes.p[pairs.route] == 0
        lots = []
        for which, size in (
            (spot & ~still, SPOTS_AT_ONCE), (spot & still, BANDS_AT_ONCE), (~spot, BANDS_AT_ONCE),
        ):  # fmt: skip
            rows = np.flatnonzero(which)
            for start in range(0, len(rows), size):
                lots.append(_heard(pair_levels, _some(pairs, rows[start : start + size]), settings))
                count += len(lots[-1])
                check_count(count)
        if lots:
            kept = _loudest_of_each(Pairs.concat(lots))
            pieces.append(kept.replace(candidate=kept.candidate + v, route=kept.route + routes))
            routes += len(pairs.routes)
    if not pieces:
        return Pairs.empty(routes=no_routes(chains.conversions))
    whole = Routes.concat([piece.routes for piece in pieces])
    return Pairs.concat([piece.replace(routes=whole) for piece in pieces])


def _refuse_too_many(chain: Chains, occupants: Occupants, settings: Settings) -> None:
    """Refuse a dial on which samples alone leave no doubt that there are too many pairs."""
    check_count(pairs_at_least(chain, occupants, settings), "at least, by samples of the dial")


def pairs_at_least(chain: Chains, occupants: Occupants, settings: Settings) -> int:
    """Return how many pairs one candidate has by samples of its dial, less all doubt; 0 of a short dial.

    Notes
    -----
    A pair is counted where it begins, so that one that is heard all over the dial counts nowhere: the sum is
    no more than there are. Of a dial that is crowded in one place the samples differ much, and little is
    left.
    """
    low, high = int(chain.low_hz[0]), int(chain.high_hz[0])
    wide = SAMPLE_BANDWIDTHS * int(chain.bandwidth_hz[0])
    if high - low < 2 * SAMPLES * wide or settings.everything:
        return 0
    counts = []
    for k in range(SAMPLES):
        from_hz = low + (high - low) * (2 * k + 1) // (2 * SAMPLES) - wide // 2
        sample = chain.tuned_to(np.array([from_hz]), np.array([from_hz + wide]))
        counts.append(int((intermodulation(sample, occupants, settings).dial_low_hz > from_hz).sum()))
    of_dial = np.array(counts) * (high - low) / wide
    doubt = of_dial.std(ddof=1) / np.sqrt(SAMPLES)
    return max(int(of_dial.mean() - DOUBTS * doubt), 0)


def _some(pairs: Found, rows: Ints) -> Found:
    return Found(pairs.routes, pairs.route[rows], pairs.first[rows], pairs.second[rows])


def _loudest_of_each(pairs: Pairs) -> Pairs:
    """Return the stretches of the loudest route of those that are one product on the same settings."""
    routes, route = pairs.routes, pairs.route
    law = np.stack([getattr(routes, name)[route] for name in ("c_1", "c_2", "p", "q", "d")])
    turned = (law[0] < 0) | ((law[0] == -law[1]) & (pairs.first > pairs.second))
    law[:4] = np.where(turned, -law[:4], law[:4])
    # f1 and f2 may change places where they count alike
    swap = (np.abs(law[0]) == np.abs(law[1])) & (pairs.first > pairs.second)
    first, second = np.where(swap, [pairs.second, pairs.first], [pairs.first, pairs.second])
    law[:2] = np.where(swap, law[1::-1], law[:2])
    order = routes.product[route] == 2
    group = alike(first, second, order, *law)
    return pairs.take(np.flatnonzero(of_the_best(group, route, pairs.heard_dbm)))


def _heard(pair_levels: PairLevels, pairs: Found, settings: Settings) -> Pairs:
    """Return the stretches on which some pairs are heard."""
    low, high = received_on(
        pair_levels.chains, pair_levels.occupants, pairs.routes, pairs.route, pairs.first, pairs.second
    )
    there = np.flatnonzero(low <= high)
    low, high = low[there], high[there]
    who = Couples(pairs.route[there], pairs.first[there], pairs.second[there])
    if pair_levels.passband_wide(who):
        # one look in its middle says it
        rows, dial = np.arange(len(who)), pair_levels.in_the_middle(who, low, high)
    else:
        rows, low, high, dial = _Stretches(pair_levels, who, settings).cut(low, high)
    who = who.take(rows)
    level, bar, f1, f2 = pair_levels.look(who, dial)
    made = Pairs(
        candidate=np.zeros(len(who), dtype=np.int64), first=who.first, second=who.second, route=who.route,
        dial_low_hz=low, dial_high_hz=high, loudest_dial_hz=dial,
        f1_hz=np.rint(f1).astype(np.int64), f2_hz=np.rint(f2).astype(np.int64),
        heard_dbm=level, bar_dbm=bar, routes=pairs.routes,
    )  # fmt: skip
    least = -np.inf if settings.everything else settings.audible_at
    return made.take(np.flatnonzero((made.margin_db >= least) & np.isfinite(made.heard_dbm)))


class Couples(Rows):
    """n pairs of stations on routes.

    Attributes
    ----------
    route, first, second : int64, shape (n,).
    """

    route: Ints = ints()
    first: Ints = ints()
    second: Ints = ints()


class _Stretches:
    """Where on the dial pairs are heard."""

    def __init__(self, pair_levels: PairLevels, who: Couples, settings: Settings) -> None:
        self.pair_levels, self.who, self.settings = pair_levels, who, settings

    def cut(self, low: Ints, high: Ints) -> tuple[Ints, Ints, Ints, Ints]:
        """Return (row, first and last dial, loudest dial) of the stretches that can be heard."""
        dial = self._points(low, high)
        count, points = dial.shape
        row = np.repeat(np.arange(count), points)
        # settings that are the same stand beside each other
        fresh = np.insert(dial[:, 1:] != dial[:, :-1], 0, True, axis=1).ravel()
        looked = self._margin(row[fresh], dial.ravel()[fresh])
        margin = looked[np.cumsum(fresh) - 1].reshape(dial.shape)
        rows = np.arange(count)
        if self.settings.everything:
            return rows, low, high, dial[rows, np.argmax(margin, axis=1)]
        above = margin >= self.settings.audible_at
        begins = above & np.insert(~above[:, :-1], 0, True, axis=1)
        ends = above & np.append(~above[:, 1:], np.ones((count, 1), dtype=bool), axis=1)
        hit, start = np.nonzero(begins)
        _, stop = np.nonzero(ends)
        from_hz = self._edge(hit, dial[hit, np.maximum(start - 1, 0)], dial[hit, start])
        past = dial[hit, np.minimum(stop + 1, points - 1)]
        to_hz = self._edge(hit, past, dial[hit, stop])
        inside = (np.arange(points)[None] >= start[:, None]) & (np.arange(points)[None] <= stop[:, None])
        best = np.argmax(np.where(inside, margin[hit], -np.inf), axis=1)
        return hit, from_hz, to_hz, dial[hit, best]

    def _edge(self, row: Ints, out_hz: Ints, in_hz: Ints) -> Ints:
        """Return the last hertz that is heard on the way from one that is to one that may not be."""
        out_hz, in_hz = out_hz.copy(), in_hz.copy()
        while len(open_ := np.flatnonzero(np.abs(out_hz - in_hz) > 1)):
            middle = (out_hz[open_] + in_hz[open_]) // 2
            heard = self._margin(row[open_], middle) >= self.settings.audible_at
            in_hz[open_] = np.where(heard, middle, in_hz[open_])
            out_hz[open_] = np.where(heard, out_hz[open_], middle)
        return in_hz

    def _points(self, low: Ints, high: Ints) -> Ints:
        """Return dial settings to look at, ascending: even ones, and those nearest to the two stations."""
        span, occupants = high - low, self.pair_levels.occupants
        points = [low + span * k // (EVEN_POINTS - 1) for k in range(EVEN_POINTS)]
        edges = [
            getattr(occupants, name)[station]
            for name in ("low_hz", "high_hz")
            for station in (self.who.first, self.who.second)
        ]
        points += [np.clip(edge, low, high) for edge in edges]
        points.append(np.clip((edges[0] + edges[1]) // 2, low, high))
        dial = np.stack(points, axis=1)
        dial.sort(axis=1)
        return dial

    def _margin(self, row: Ints, dial_hz: Ints) -> Floats:
        level, bar, _, _ = self.pair_levels.look(self.who.take(row), dial_hz)
        return level - bar


class PairLevels:
    """Pairs of one candidate, tried at any dial setting."""

    def __init__(self, chains: Chains, occupants: Occupants, routes: Routes) -> None:
        self.chains, self.occupants, self.routes = chains, occupants, routes
        self.heads = routes.heads(chains, 1), routes.heads(chains, 2)
        self.spot = occupants.low_hz == occupants.high_hz
        # Carriers nearer to each other are one to the set, and nearer to the dial what it is set to;
        # stations of a band are put a channel apart, and what stands in a row is not known better.
        self.apart_hz = int(chains.bandwidth_hz[0])
        self.half_hz = self.apart_hz // 2 + 1
        self.k1 = np.array([product.k1 for product in PRODUCTS])[routes.product]
        self.k2 = np.array([product.k2 for product in PRODUCTS])[routes.product]

    def passband_wide(self, who: Couples) -> bool:
        """Whether all are single frequencies whose products move against the dial."""
        spots = self.spot[who.first].all() and self.spot[who.second].all()
        return bool(spots and (self.routes.p[who.route] != 0).all())

    def in_the_middle(self, who: Couples, low: Ints, high: Ints) -> Ints:
        """Return the setting on which each product of single frequencies is in the middle of the passband."""
        routes, route = self.routes, who.route
        lands = (
            routes.c_1[route] * self.occupants.low_hz[who.first]
            + routes.c_2[route] * self.occupants.low_hz[who.second]
        )
        middle: Ints = np.clip((routes.d[route] * lands - routes.q[route]) // routes.p[route], low, high)
        return middle

    def look(self, who: Couples, dial_hz: Ints) -> tuple[Floats, Floats, Floats, Floats]:
        """Return (heard level, bar of hearing, f1, f2) of pairs at dial settings, shape (n,) each."""
        best = np.full(len(who), -np.inf)
        at_1, at_2 = np.zeros(len(who)), np.zeros(len(who))
        spots = self.spot[who.first] & self.spot[who.second]
        least_apart = np.where(spots, self.half_hz, self.apart_hz)
        levels = self.occupants.level_dbm
        tried: list[Floats] = []
        for f1, f2 in self._frequencies(who, dial_hz):
            # with a single frequency in it, or at the end of a row, several of them are one
            fresh = np.abs(f1 - f2) >= least_apart
            for before in tried:
                fresh &= f1 != before
            tried.append(f1)
            row = np.flatnonzero(fresh)
            if not len(row):
                continue
            level = self.level_dbm(
                who.route[row], f1[row], f2[row], levels[who.first[row]], levels[who.second[row]],
                dial_hz[row],
            )  # fmt: skip
            louder = row[level > best[row]]
            best[louder] = level[level > best[row]]
            at_1[louder], at_2[louder] = f1[louder], f2[louder]
        bar = bar_dbm(self.chains, np.zeros(len(who), dtype=np.int64), dial_hz, *self.emission(who))
        return best, bar, at_1, at_2

    def emission(self, who: Couples) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int32]]:
        """Return sound and width of the products: as wide as both together, a carrier where both are."""
        occupants, k1, k2 = self.occupants, self.k1[who.route], np.abs(self.k2[who.route])
        sound = np.maximum(occupants.sound[who.first], occupants.sound[who.second])
        width = k1 * occupants.width_hz[who.first] + k2 * occupants.width_hz[who.second]
        return sound, width.astype(np.int32)

    def level_dbm(self, route: Ints, f1: Floats, f2: Floats, p1: Floats, p2: Floats, dial_hz: Ints) -> Floats:
        """Return the heard level of products of stations at f1 and f2 of levels p1 and p2, shape (n,)."""
        out = np.empty(len(route))
        kind = self.routes.mixer[route] * len(PRODUCTS) + self.routes.product[route]
        for code in np.flatnonzero(np.bincount(kind)).tolist():
            rows = np.flatnonzero(kind == code)
            mixer, number = divmod(code, len(PRODUCTS))
            out[rows] = self._made_dbm(
                mixer, number, route[rows], f1[rows], f2[rows], p1[rows], p2[rows], dial_hz[rows]
            )
        return out

    def _made_dbm(
        self,
        mixer: int,
        number: int,
        route: Ints,
        f1: Floats,
        f2: Floats,
        p1: Floats,
        p2: Floats,
        dial_hz: Ints,
    ) -> Floats:
        product, routes = PRODUCTS[number], self.routes
        level_1, y1 = at_mixer(self.chains, routes.head_1[route], mixer, f1, p1, dial_hz)
        level_2, y2 = at_mixer(self.chains, routes.head_2[route], mixer, f2, p2, dial_hz)
        total = product.k1 * level_1 + abs(product.k2) * level_2
        made = product.k1 * y1 + product.k2 * y2
        return heard_of_made(
            self.chains, routes.behind[route], mixer, product.order, product.more_db, total, made, dial_hz
        )

    def _frequencies(self, who: Couples, dial_hz: Ints) -> list[tuple[Floats, Floats]]:
        """Return lots of (f1, f2) worth trying.

        Notes
        -----
        Of two single frequencies there is nothing to choose. Where a band is in it, the
        loudest is with one of the two at an end of what goes, or as near to what the circuits are tuned
        to as can be: at 2 f1 - f2 on the dial a passband off it, for there both are equally far apart.
        """
        occupants, routes, route = self.occupants, self.routes, who.route
        low_1, high_1, low_2, high_2 = (
            ends[station].astype(np.float64)
            for station in (who.first, who.second)
            for ends in (occupants.low_hz, occupants.high_hz)
        )
        if (low_1 == high_1).all() and (low_2 == high_2).all():
            return [(low_1, low_2)]
        c_1, c_2 = routes.c_1[route], routes.c_2[route]
        lands = routes.lands_hz(route, dial_hz)
        ends_1 = ((lands - c_2 * low_2) / c_1, (lands - c_2 * high_2) / c_1)
        least = np.clip(np.minimum(*ends_1), low_1, high_1)
        most = np.clip(np.maximum(*ends_1), low_1, high_1)
        tuned_1, tuned_2 = (self._tuned_hz(heads, route, dial_hz) for heads in self.heads)
        third = self.k1[route] + np.abs(self.k2[route]) == 3
        near = (
            np.where(third, tuned_1 - self.apart_hz, tuned_1),
            np.where(third, tuned_1 + self.apart_hz, (lands - c_2 * tuned_2) / c_1),
        )
        lots = []
        for f1 in (least, most, *(np.clip(f, least, most) for f in near)):
            lots.append((f1, np.clip((lands - c_1 * f1) / c_2, low_2, high_2)))
        return lots

    def _tuned_hz(self, heads: Heads, route: Ints, dial_hz: Ints) -> Floats:
        """Return the frequency of stations that are in the middle of what is wanted at the mixer."""
        point = self.routes.mixer[route]
        wanted = self.chains.want_a[0, point] * dial_hz + self.chains.want_b[0, point]
        put = (heads.a[route] * dial_hz + heads.b[route]) / heads.h[route]
        at: Floats = heads.sign[route] * (wanted - put)
        return at


def at_mixer(
    chains: Chains, steps: Ints, mixer: int, f_hz: Floats, antenna_dbm: Floats, dial_hz: Ints
) -> tuple[Floats, Floats]:
    """Return level and frequency of stations at a mixer of one candidate, shape (n,) each. [dBm, Hz]

    Parameters
    ----------
    steps : int64, shape (n, N, 2). [lo, rf] of the mixers before.
    """
    none = np.zeros(len(f_hz), dtype=np.int64)
    level, x = antenna_dbm - chains.lead_loss_db(none, dial_hz), f_hz
    there = x > 0.0
    for i in range(mixer):
        level, x = through_conversion(
            chains, i, none, steps[:, i, 0], steps[:, i, 1], level, np.maximum(x, 1.0), dial_hz
        )
        there &= x > 0.0
    level = into_mixer_dbm(chains, mixer, none, level, np.maximum(x, 1.0), dial_hz)
    return np.where(there, level, -np.inf), x


def heard_of_made(
    chains: Chains, behind: Ints, mixer: int, order: int, more_db: float, sum_dbm: Floats, made_hz: Floats,
    dial_hz: Ints,
) -> Floats:  # fmt: skip
    """Return the heard level of products made in a mixer of one candidate, shape (n,). [dBm]

    Parameters
    ----------
    behind : int64, shape (n, N, 2). [m, sign] in that mixer, [lo, rf] in those behind it.
    mixer, order : int. Where it is made; its order in the signals.
    more_db : float. See `intermodulation.Product.more_db`. [dB]
    sum_dbm : float64, shape (n,). The tones at the mixer, each as often as it takes part. [dBm]
    made_hz : float64, shape (n,). The product without the oscillator. [Hz]

    Notes
    -----
    With P = sum / n the product is P - S(m, n, P) + more, S the mixer's suppression of a
    single tone's product of that order; two tones make n!/(|k1|! |k2|!) as much. What comes out
    goes on like a signal.
    """
    none = np.zeros(len(made_hz), dtype=np.int64)
    m, sign = behind[:, mixer].T
    even = sum_dbm / order
    quiet = np.isneginf(even)
    even = np.where(quiet, -1e3, even)
    lost = suppression_db(chains, mixer, none, np.abs(m), np.full(len(none), order), even)
    level = even - lost + more_db
    x = m * chains.oscillator_hz(mixer, none, dial_hz) + sign * made_hz
    there = x > 0.0
    for i in range(mixer + 1, chains.conversions):
        level, x = through_conversion(
            chains, i, none, behind[:, i, 0], behind[:, i, 1], level, np.maximum(x, 1.0), dial_hz
        )
        there &= x > 0.0
    out = at_detector_dbm(chains, none, level, np.maximum(x, 1.0), dial_hz)
    return np.where(there & ~quiet, out + chains.lead_loss_db(none, dial_hz), -np.inf)
