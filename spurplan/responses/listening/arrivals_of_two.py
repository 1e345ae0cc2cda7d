"""What two stations make together, as it arrives at settings: how far over what is borne, and how likely."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.normal_law import fast_share_below
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.selectivity import Lead
from spurplan.responses.asking import Settings
from spurplan.responses.listening.arrivals import (
    LEAST_SPREAD_DB,
    NEGLIGIBLE,
    SMALLEST_SHARE,
    WORLD_SPARE_DB,
    Arrivals,
    Dials,
    Ways,
    arrivals,
    rows_of_tables,
    scores_of,
    with_sidebands,
)
from spurplan.responses.listening.presence import Presence
from spurplan.responses.listening.thresholds import Thresholds, thresholds
from spurplan.responses.listening.worlds import SET_FACTORS, Spreads
from spurplan.responses.pairs.heard import Couples, PairLevels
from spurplan.responses.pairs.intermodulation import Routes, received_on
from spurplan.responses.pairs.search import pairs_of
from spurplan.rows import Rows, floats, ints, of_the_best

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Two stations are not both this loud at once: each so many of its own spreads over the median.
LOUD_SPREADS_EACH = 1.8
# Settings times pairs worked out together.
AT_ONCE = 100_000
# Places in two rows looked at for one number of pairs.
POINTS = 5


def all_arrivals(
    chains: Chains,
    occupants: Occupants,
    presence: Presence,
    settings: Settings,
    dials: Dials,
    spreads: Spreads,
) -> tuple[Ways, Arrivals]:
    """Return what may spoil each setting, products of two stations too where they were asked for.

    Parameters
    ----------
    chains, occupants, presence, settings, dials, spreads : as of `arrivals`.

    Notes
    -----
    The chance of a product of two is that of both. Levels stand on the medians of both; their spreads
    add in quadrature, each as often as its station takes part.
    """
    ways, arriving = arrivals(chains, occupants, presence, settings, dials, spreads)
    if not settings.intermodulation or not len(occupants):
        return ways, arriving
    _, in_order = with_sidebands(occupants, presence)
    of_two, routes = _of_two(ways, in_order, settings, dials, spreads)
    place = np.concatenate([arriving.place, of_two.place])
    order = np.argsort(place, kind="stable")
    together = {}
    for name in Arrivals.column_names:
        both = np.concatenate([getattr(arriving, name), getattr(of_two, name)], axis=-1)
        together[name] = both[..., order]
    return replace(ways, routes=routes), Arrivals(**together)


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


def _of_two(
    ways: Ways, presence: Presence, settings: Settings, dials: Dials, spreads: Spreads
) -> tuple[Arrivals, Routes]:
    chains, occupants = ways.chains, ways.occupants
    spare_db = WORLD_SPARE_DB if presence.spread_db.any() else 0.0
    loud = np.minimum(presence.median_dbm + LOUD_SPREADS_EACH * presence.spread_db, presence.most_dbm)
    who = occupants.replace(level_dbm=loud)
    # carriers of a raster inside a band of their service are the people of that band
    kept = np.flatnonzero(~_inside_a_band(occupants))
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
        row = np.repeat(np.arange(len(low)), counts)
        setting = from_[row] + np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts)
        lots: list[_Met] = []
        for start in range(0, len(row), AT_ONCE):
            part = slice(start, start + AT_ONCE)
            couples = Couples(pairs.route[row[part]], first[row[part]], second[row[part]])
            dial = dials.hz[v][setting[part]]
            level, _, f1, f2 = pair_levels.look(couples, dial)
            met = _Met(
                v * dials.count + setting[part], dial, couples.route, couples.first, couples.second,
                f1, f2, level,
            )  # fmt: skip
            over = level - _thresholds(pair_levels, met).spoils_dbm
            near = met.take(np.flatnonzero(np.isfinite(level) & (over >= -spare_db)))
            lots.append(near)
        if lots:
            met = _Met.concat(lots)
            met = met.take(np.argsort(met.place, kind="stable"))
            pieces.append(_worked_out(ways, v, pair_levels, met, presence, spreads, count))
        routes.append(pairs.routes)
        count += len(pairs.routes)
    all_ = (
        Arrivals.concat(pieces)
        if pieces
        else Arrivals.empty(up_db=np.zeros((len(SET_FACTORS), 0)), down_db=np.zeros((len(SET_FACTORS), 0)))
    )
    return all_.take(_one_of_each(all_, occupants)), Routes.concat(routes)


def _inside_a_band(occupants: Occupants) -> Bools:
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


def _thresholds(pair_levels: PairLevels, met: _Met, noise_db: float = 0.0) -> Thresholds:
    """Return what spoils; the beat is known where both stand on one frequency."""
    routes, who, route = pair_levels.routes, pair_levels.occupants, met.route
    sound, width = pair_levels.emission(Couples(route, met.first, met.second))
    off = routes.c_1[route] * met.f1 + routes.c_2[route] * met.f2 - routes.lands_hz(route, met.dial_hz)
    beat = off * routes.d[route] / routes.r[route]
    known = (who.low_hz == who.high_hz)[met.first] & (who.low_hz == who.high_hz)[met.second]
    none = np.zeros(len(met), dtype=np.int64)
    return thresholds(
        pair_levels.chains, none, met.dial_hz, sound, width, np.where(known, beat, np.nan), noise_db
    )


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
    nothing = np.zeros(len(met))
    if not len(met):
        none = np.zeros((len(SET_FACTORS), 0))
        return none, none
    level = pair_levels.occupants.level_dbm
    boxes = any(lead.boxes for lead in pair_levels.chains.selectivity[0] if isinstance(lead, Lead))

    def by(**figures: float) -> Floats:
        varied = PairLevels(pair_levels.chains.varied(**figures), pair_levels.occupants, pair_levels.routes)
        heard = varied.level_dbm(met.route, met.f1, met.f2, level[met.first], level[met.second], met.dial_hz)
        return np.nan_to_num(heard - met.heard_dbm, nan=0.0, neginf=-1e3)

    def moved(sign: float) -> Floats:
        of_box = {"box_q_factor": 1.0 + sign * spreads.q, "box_ceiling_db": sign * spreads.ceiling_db}
        factors = {
            "noise": bar.spoils_dbm - _thresholds(pair_levels, met, sign * spreads.noise_db).spoils_dbm,
            "q": by(q_factor=1.0 + sign * spreads.q) if spreads.q else nothing,
            "ceiling": by(ceiling_db=sign * spreads.ceiling_db) if spreads.ceiling_db else nothing,
            "box": by(**of_box) if boxes else nothing,
            "coupling": by(coupling_score=sign) if spreads.q else nothing,
            "mixer": nothing + sign * spreads.mixer_db,
        }
        return np.stack([factors[name] for name in SET_FACTORS])

    return moved(1.0), moved(-1.0)


def _one_of_each(arriving: Arrivals, occupants: Occupants) -> Ints:
    """Return for each setting, two services and route what has the greatest expected number.

    Notes
    -----
    Band, raster and stations of a service are the same people; so is what two of them make.
    """
    if not len(arriving):
        return np.zeros(0, dtype=np.int64)
    expected = arriving.expected(spread_db=arriving.total_spread_db())
    kind = rows_of_tables(occupants)
    key = np.stack([arriving.place, arriving.line, arriving.service, arriving.with_service])
    of_rows = np.concatenate([key, kind[arriving.occupant][None], kind[arriving.partner][None]])
    _, group = np.unique(of_rows, axis=1, return_inverse=True)
    _, lot = np.unique(key, axis=1, return_inverse=True)
    together = np.bincount(group, weights=expected)[group]
    return np.flatnonzero(of_the_best(lot, group, together) & (expected >= NEGLIGIBLE))
