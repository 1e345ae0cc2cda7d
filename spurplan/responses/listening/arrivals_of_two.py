"""What two stations make together, as it arrives at settings: how far over what is borne, and how likely."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.normal_law import fast_share_below
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.listening.arrivals import (
    LEAST_SPREAD_DB,
    SMALLEST_SHARE,
    WORLD_SPARE_DB,
    Arrivals,
    Dials,
    Ways,
    no_third,
    one_of_each,
    scores_of,
)
from spurplan.responses.listening.presence import Presence
from spurplan.responses.listening.set_factors import moved_by_set
from spurplan.responses.listening.thresholds import Thresholds, thresholds
from spurplan.responses.listening.worlds import SET_FACTORS, Spreads
from spurplan.responses.pairs.heard import Couples, PairLevels
from spurplan.responses.pairs.intermodulation import Routes, received_on
from spurplan.responses.pairs.search import pairs_of
from spurplan.rows import Rows, floats, ints, lots, numbered

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Two stations are not both this loud at once: each so many of its own spreads over the median.
LOUD_SPREADS_EACH = 1.8
# Settings times pairs worked out together.
AT_ONCE = 100_000
# Places in two rows looked at for one number of pairs.
POINTS = 5


class _Met(Rows):
    """Pairs at settings; n of them, as `Couples`, their frequencies where they are loudest."""

    place: Ints = ints()
    dial_hz: Ints = ints()
    route: Ints = ints()
    first: Ints = ints()
    second: Ints = ints()
    f1: Floats = floats()
    f2: Floats = floats()
    heard_dbm: Floats = floats()


def arrivals_of_two(
    ways: Ways, presence: Presence, settings: Settings, dials: Dials, spreads: Spreads
) -> tuple[Arrivals, Routes]:
    """Return what two stations make that may spoil each setting, and the routes it comes by.

    Parameters
    ----------
    ways : Ways. Candidates and occupants; numbers of its lines come first.
    presence : Presence. Of these occupants.
    settings, dials, spreads : as of `arrivals`.

    Notes
    -----
    The chance of a product is that of both. Levels stand on the medians of both; their spreads
    add in quadrature, each as often as its station takes part.
    """
    chains, occupants = ways.chains, ways.occupants
    spare_db = WORLD_SPARE_DB if presence.spread_db.any() else 0.0
    loud = np.minimum(presence.median_dbm + LOUD_SPREADS_EACH * presence.spread_db, presence.most_dbm)
    who = occupants.replace(level_dbm=loud)
    # carriers of a raster inside a band of their service are the people of that band
    kept = np.flatnonzero(~inside_a_band(occupants))
    some = who.take(kept)
    pieces: list[Arrivals] = []
    routes: list[Routes] = []
    count = 0
    for v in range(len(chains)):
        chain = chains.take(np.array([v]))
        pairs = pairs_of(chain, some, -spare_db, lo_order=settings.lo_order, drop=True)
        pair_levels = PairLevels(chain, who, pairs.routes)
        first, second = kept[pairs.first], kept[pairs.second]
        low, high = received_on(chain, who, pairs.routes, pairs.route, first, second)
        from_, beyond = dials.within(np.full(len(low), v), low, high)
        counts = np.where(low <= high, np.maximum(beyond - from_, 0), 0)
        for row, setting in in_lots_of_routes(pairs.route, from_, counts):
            couples = Couples(pairs.route[row], first[row], second[row])
            dial = dials.hz[v][setting]
            level, _, f1, f2 = pair_levels.look(couples, dial)
            met = _Met(
                v * dials.count + setting, dial, couples.route, couples.first, couples.second, f1, f2, level
            )
            over = level - _thresholds(pair_levels, met).spoils_dbm
            near = met.take(np.flatnonzero(np.isfinite(level) & (over >= -spare_db)))
            if len(near):
                near = near.take(np.argsort(near.place, kind="stable"))
                of_lot = _worked_out(ways, v, pair_levels, near, presence, spreads, count)
                pieces.append(of_lot.take(one_of_each(of_lot, occupants)))
        routes.append(pairs.routes)
        count += len(pairs.routes)
    return in_order(pieces), Routes.concat(routes)


def in_order(pieces: Sequence[Arrivals]) -> Arrivals:
    """Return what arrives in several lots as one, ascending by place."""
    if not pieces:
        none = np.zeros((len(SET_FACTORS), 0))
        return Arrivals.empty(up_db=none, down_db=none)
    order = np.argsort(np.concatenate([piece.place for piece in pieces]), kind="stable")
    columns = {
        name: np.concatenate([getattr(piece, name) for piece in pieces], axis=-1)[..., order]
        for name in Arrivals.column_names
    }
    return Arrivals(**columns)


def in_lots_of_routes(route: Ints, from_: Ints, counts: Ints) -> Iterator[tuple[Ints, Ints]]:
    """Yield rows and settings, as many together as memory is to hold, all of a route at a setting in one lot.

    Parameters
    ----------
    route : int64, shape (n,), ascending.
    from_, counts : int64, shape (n,). The first setting of each row, and how many follow each other.
    """
    starts = np.flatnonzero(np.append(True, route[1:] != route[:-1])[: len(route)])
    of_route = np.add.reduceat(counts, starts) if len(route) else counts
    ends = np.append(starts[1:], len(route))
    for some in lots(of_route, AT_ONCE):
        rows = np.arange(int(starts[some][0]), int(ends[some][-1]))
        # one route with more than that is taken a part of the dial at a time
        parts = -(-int(counts[rows].sum()) // AT_ONCE)
        low, high = int(from_[rows].min()), int((from_ + counts)[rows].max())
        edges = [low + (high - low) * k // parts for k in range(parts + 1)]
        for first, beyond in pairwise(edges):
            begin = np.maximum(from_[rows], first)
            there = np.maximum(np.minimum((from_ + counts)[rows], beyond) - begin, 0)
            row, number = numbered(there)
            if len(row):
                yield rows[row], begin[row] + number


def inside_a_band(occupants: Occupants) -> Bools:
    """Whether an occupant is a carrier of a raster in a band of its service, shape (n,)."""
    inside = np.zeros(len(occupants), dtype=np.bool_)
    raster = occupants.raster_hz > 0
    middle = (occupants.low_hz + occupants.high_hz) // 2
    for service in distinct(occupants.service[raster]).tolist():
        own = occupants.service == service
        bands = np.flatnonzero(own & ~raster & ~occupants.spot)
        carriers = np.flatnonzero(own & raster)
        if len(bands):
            top = np.maximum.accumulate(occupants.high_hz[bands])
            last = np.searchsorted(occupants.low_hz[bands], middle[carriers], side="right") - 1
            inside[carriers] = (last >= 0) & (top[np.maximum(last, 0)] >= middle[carriers])
    return inside


def _thresholds(pair_levels: PairLevels, met: _Met) -> Thresholds:
    """Return what spoils; the beat is known where both stand on one frequency."""
    routes, who, route = pair_levels.routes, pair_levels.occupants, met.route
    sound, width = pair_levels.emission(Couples(route, met.first, met.second))
    off = routes.c_1[route] * met.f1 + routes.c_2[route] * met.f2 - routes.lands_hz(route, met.dial_hz)
    beat = off * routes.d[route] / routes.r[route]
    known = (who.low_hz == who.high_hz)[met.first] & (who.low_hz == who.high_hz)[met.second]
    none = np.zeros(len(met), dtype=np.int64)
    return thresholds(pair_levels.chains, none, met.dial_hz, sound, width, np.where(known, beat, np.nan))


def _worked_out(
    ways: Ways,
    v: int,
    pair_levels: PairLevels,
    met: _Met,
    presence: Presence,
    spreads: Spreads,
    routes_before: int,
) -> Arrivals:
    bar = _thresholds(pair_levels, met)
    k1, k2 = (
        pair_levels.k1[met.route].astype(np.float64),
        np.abs(pair_levels.k2[met.route]).astype(np.float64),
    )
    one, two = met.first, met.second
    level, occupants = pair_levels.occupants.level_dbm, ways.occupants
    over_loud = level - presence.median_dbm
    over = met.heard_dbm - bar.spoils_dbm - k1 * over_loud[one] - k2 * over_loud[two]
    own = np.hypot(k1 * presence.spread_db[one], k2 * presence.spread_db[two])
    most = presence.most_dbm - presence.median_dbm
    single = presence.single[one] & presence.single[two]
    common = np.array([spreads.service_db(name) for name in occupants.services])
    service = occupants.service.astype(np.int64)
    common_db = np.where(presence.own_level, 0.0, common[service])
    up, down = _of_set(pair_levels, met, bar, spreads)
    chance = presence.chance[one] * presence.chance[two]
    many = _number(pair_levels, met, presence, over, own)
    return Arrivals(
        place=met.place,
        line=len(ways.lines) + routes_before + met.route,
        occupant=one,
        over_db=over,
        stations=np.where(single, chance, many),
        single=single,
        own_db=own,
        most_score=scores_of(k1 * most[one] + k2 * most[two], own),
        service=service[one],
        service_db=k1 * common_db[one],
        up_db=up,
        down_db=down,
        emission=-1 - len(occupants) - one * len(occupants) - two,
        partner=two,
        with_service=service[two],
        with_service_db=k2 * common_db[two],
        with_many=~presence.single[two],
        **no_third(service[one]),
    )


def _number(
    pair_levels: PairLevels, met: _Met, presence: Presence, over_db: Floats, own_db: Floats
) -> Floats:
    """Return the expected number of pairs that spoil as much as the loudest one, shape (n,).

    Notes
    -----
    A band is so many stations a hertz. With one station of a pair held, the other may be anywhere within
    the passband and what the emissions spread; the held one anywhere in its row, where it counts by how
    many fewer pairs are loud enough there.
    """
    routes, who, route = pair_levels.routes, pair_levels.occupants, met.route
    width = pair_levels.emission(Couples(route, met.first, met.second))[1]
    passband = np.array([listener.passband_hz for listener in pair_levels.chains.listener], dtype=np.float64)
    heard_hz = (
        passband[pair_levels.chains.listener_code[0]] * np.abs(routes.r[route]) / routes.d[route] + width
    )
    raster = who.raster_hz
    fixed = presence.single | (raster > 0) | (who.low_hz == who.high_hz)
    held = np.where(presence.single, presence.chance, presence.per_hz * np.maximum(raster, 1))
    one, two = met.first, met.second
    span_2 = np.minimum((who.high_hz - who.low_hz)[two], heard_hz)
    span_1 = np.minimum((who.high_hz - who.low_hz)[one], heard_hz / np.abs(routes.c_1[route]))
    out = np.where(
        fixed[one],
        held[one] * np.where(fixed[two], held[two], presence.per_hz[two] * span_2),
        presence.per_hz[one] * span_1 * held[two],
    )
    both = np.flatnonzero(~fixed[one] & ~fixed[two])
    if len(both):
        out[both] = _of_bands(
            pair_levels, met.take(both), presence, over_db[both], own_db[both], heard_hz[both]
        )
    return out


def _of_bands(
    pair_levels: PairLevels, met: _Met, presence: Presence, over_db: Floats, own_db: Floats, heard_hz: Floats
) -> Floats:
    """Return the same where both are bands: along the first, the other as wide as is heard."""
    routes, who, route = pair_levels.routes, pair_levels.occupants, met.route
    one, two = met.first, met.second
    c_1, c_2 = routes.c_1[route], routes.c_2[route]
    lands = routes.lands_hz(route, met.dial_hz)
    ends = [(lands - c_2 * edge[two]) / c_1 for edge in (who.low_hz, who.high_hz)]
    low = np.clip(np.minimum(*ends), who.low_hz[one], who.high_hz[one])
    high = np.clip(np.maximum(*ends), who.low_hz[one], who.high_hz[one])
    spread = np.maximum(own_db, LEAST_SPREAD_DB)
    best = np.maximum(fast_share_below(over_db / spread), SMALLEST_SHARE)
    part = np.zeros(len(met))
    level = who.level_dbm
    for k in range(POINTS):
        f1 = low + (high - low) * (k + 0.5) / POINTS
        f2 = np.clip((lands - c_1 * f1) / c_2, who.low_hz[two], who.high_hz[two])
        heard = pair_levels.level_dbm(route, f1, f2, level[one], level[two], met.dial_hz)
        apart = np.abs(f1 - f2) >= pair_levels.apart_hz
        there = fast_share_below((over_db + np.minimum(heard - met.heard_dbm, 0.0)) / spread)
        part += np.where(apart & np.isfinite(heard), np.minimum(there / best, 1.0), 0.0) / POINTS
    number: Floats = presence.per_hz[one] * (high - low) * part * presence.per_hz[two] * heard_hz
    # two of one band are a pair once
    return np.where((one == two) & (c_1 == c_2), 0.5, 1.0) * number


def _of_set(pair_levels: PairLevels, met: _Met, bar: Thresholds, spreads: Spreads) -> tuple[Floats, Floats]:
    """Return what a spread of each factor of the set and the place adds, up and down, shape (F, n). [dB]"""
    level = pair_levels.occupants.level_dbm

    def heard(chains: Chains) -> Floats:
        varied = PairLevels(chains, pair_levels.occupants, pair_levels.routes)
        return varied.level_dbm(met.route, met.f1, met.f2, level[met.first], level[met.second], met.dial_hz)

    return moved_by_set(pair_levels.chains, heard, met.heard_dbm, bar, spreads.mixer_db, spreads)
