"""What three stations make together, f1 + f2 - f3, as it arrives at settings: how far over, how likely."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.normal_law import fast_share_below
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.listening.arrivals import (
    LEAST_SPREAD_DB,
    NEGLIGIBLE,
    SMALLEST_SHARE,
    WORLD_SPARE_DB,
    Arrivals,
    Dials,
    Ways,
    scores_of,
)
from spurplan.responses.listening.arrivals_of_two import (
    in_lots_of_routes,
    in_order,
)
from spurplan.responses.listening.presence import Presence
from spurplan.responses.listening.set_factors import moved_by_set
from spurplan.responses.listening.thresholds import Thresholds, thresholds
from spurplan.responses.listening.worlds import Spreads
from spurplan.responses.pairs.triples import STRONGEST_IN_SHARES, Met, emission, level_dbm, threes_met
from spurplan.rows import Rows, alike, floats, ints, of_the_best

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Three stations are not all this loud at once: each so many of its own spreads over the median.
LOUD_SPREADS_EACH = 1.5
# below the numbers of all emissions of one and two
_EMISSIONS = -(10**12)


class _At(Rows):
    """n products of three at settings, ascending by place; occupants and routes as of `Met`."""

    sorted_by = ("place",)
    place: Ints = ints()
    dial_hz: Ints = ints()
    route: Ints = ints()
    first: Ints = ints()
    second: Ints = ints()
    third: Ints = ints()
    heard_dbm: Floats = floats()

    @property
    def who(self) -> tuple[Ints, Ints, Ints]:
        """The three stations of each."""
        return self.first, self.second, self.third


def arrivals_of_three(
    ways: Ways, presence: Presence, settings: Settings, dials: Dials, spreads: Spreads
) -> Arrivals:
    """Return what three stations make that may spoil each setting.

    Parameters
    ----------
    ways : Ways. Candidates and occupants; the numbers of its lines and routes come first.
    presence : Presence. Of these occupants.
    settings, dials, spreads : as of `arrivals`.

    Notes
    -----
    The chance of a product is that of all three. Levels stand on the medians; their spreads add in
    quadrature. Stations of one frequency take part, and carriers of a raster, the strongest at a mixer; no
    rows of bands, so that the people of a band who have a raster, too, count once.
    """
    carriers, kept = _carriers(ways.occupants, presence)
    spare_db = WORLD_SPARE_DB if presence.spread_db.any() else 0.0
    routes = len(ways.lines) + (0 if ways.routes is None else len(ways.routes))
    pieces: list[Arrivals] = []
    for v in range(len(ways.chains)):
        chain = ways.chains.take(np.array([v]))
        for met in threes_met(chain, carriers, -spare_db, settings.lo_order, STRONGEST_IN_SHARES):
            trio = _Trio(chain, carriers, presence.take(kept), met, spreads)
            for at in _settings(met, v, dials):
                spoil = trio.near_the_bar(at, spare_db)
                of_lot = trio.worked_out(spoil, kept, len(ways.occupants), routes)
                pieces.append(of_lot)
            routes += len(met.routes)
    arriving = in_order(pieces)
    return arriving.take(
        np.flatnonzero(arriving.expected(spread_db=arriving.total_spread_db()) >= NEGLIGIBLE)
    )


def _carriers(occupants: Occupants, presence: Presence) -> tuple[Occupants, Ints]:
    """Return those of one frequency, each on its carrier and as loud as it may be, and which they are."""
    loud = np.minimum(presence.median_dbm + LOUD_SPREADS_EACH * presence.spread_db, presence.most_dbm)
    one = (occupants.low_hz == occupants.high_hz) | (occupants.raster_hz > 0)
    middle = (occupants.low_hz + occupants.high_hz) // 2
    kept = np.flatnonzero(one)
    kept = kept[np.lexsort((occupants.row[kept], occupants.table[kept], middle[kept]))]
    at = middle[kept]
    return occupants.take(kept, low_hz=at, high_hz=at, level_dbm=loud[kept]), kept


def _settings(met: Met, v: int, dials: Dials) -> list[_At]:
    """Return products at every setting on which they are received, in lots."""
    from_, beyond = dials.within(np.full(len(met), v), met.dial_low_hz, met.dial_high_hz)
    order = np.argsort(met.route, kind="stable")
    by_route = met.take(order)
    counts = np.maximum(beyond - from_, 0)[order]
    out = []
    for row, setting in in_lots_of_routes(by_route.route, from_[order], counts):
        first = np.argsort(setting, kind="stable")
        row, setting = row[first], setting[first]
        some = by_route.take(row)
        out.append(
            _At(
                place=v * dials.count + setting,
                dial_hz=dials.hz[v][setting],
                route=some.route,
                first=some.first,
                second=some.second,
                third=some.third,
                heard_dbm=np.zeros(len(row)),
            )
        )
    return out


class _Trio:
    """Products of three on the routes of one lot."""

    def __init__(
        self, chain: Chains, carriers: Occupants, presence: Presence, met: Met, spreads: Spreads
    ) -> None:
        self.chain, self.carriers, self.presence = chain, carriers, presence
        self.routes, self.spreads = met.routes, spreads
        self.hz = carriers.low_hz.astype(np.float64)

    def heard(self, chain: Chains, at: _At) -> Floats:
        """Return the heard levels in a set with these figures, shape (n,). [dBm]"""
        level = self.carriers.level_dbm
        return level_dbm(
            chain, self.routes, at.route, [self.hz[who] for who in at.who],
            [level[who] for who in at.who], at.dial_hz,
        )  # fmt: skip

    def thresholds(self, at: _At) -> Thresholds:
        """Return what spoils; the beat of three carriers is known."""
        routes, route = self.routes, at.route
        one, two, three = (self.carriers.low_hz[who] for who in at.who)
        off = np.sign(routes.c_1[route]) * (one + two - three) - routes.lands_hz(route, at.dial_hz)
        beat = off * routes.d[route] / routes.r[route]
        none = np.zeros(len(at), dtype=np.int64)
        return thresholds(self.chain, none, at.dial_hz, *emission(self.carriers, at.who), beat)

    def near_the_bar(self, at: _At, spare_db: float) -> _At:
        """Return of each setting, route and services what most likely spoils, if it may at all."""
        at = at.replace(heard_dbm=self.heard(self.chain, at))
        over = at.heard_dbm - self.thresholds(at).spoils_dbm
        at = at.take(np.flatnonzero(np.isfinite(at.heard_dbm) & (over >= -spare_db)))
        if not len(at):
            return at
        spread = np.hypot(self._own_db(at), np.hypot(self.spreads.noise_db, self.spreads.mixer_db))
        part = self._loud_enough(at, spread) * self._number(at)
        services = [self.carriers.service[who].astype(np.int64) for who in at.who]
        lot = alike(at.place, at.route, *services)
        # of each group the loudest stands for all
        return at.take(np.flatnonzero(of_the_best(lot, np.arange(len(at)), part)))

    def _own_db(self, at: _At) -> Floats:
        own: Floats = np.sqrt(np.sum([self.presence.spread_db[who] ** 2 for who in at.who], axis=0))
        return own

    def _over_db(self, at: _At) -> Floats:
        """Return how far over what is borne with all three at their medians, shape (n,). [dB]"""
        loud = self.carriers.level_dbm - self.presence.median_dbm
        over: Floats = at.heard_dbm - self.thresholds(at).spoils_dbm
        return over - loud[at.first] - loud[at.second] - loud[at.third]

    def _loud_enough(self, at: _At, spread_db: Floats) -> Floats:
        over = self._over_db(at) / np.maximum(spread_db, LEAST_SPREAD_DB)
        return np.maximum(fast_share_below(over), SMALLEST_SHARE)

    def _number(self, at: _At) -> Floats:
        """Return how many threes are expected on the air; of single stations the chance, shape (n,)."""
        presence, raster = self.presence, np.maximum(self.carriers.raster_hz, 1)
        each = np.where(presence.single, presence.chance, presence.per_hz * raster)
        number: Floats = np.prod([each[who] for who in at.who], axis=0)
        return number

    def worked_out(self, at: _At, kept: Ints, occupants: int, before: int) -> Arrivals:
        """Return these as arrivals; `kept` the numbers of the carriers, `before` that of the first route."""
        presence, spreads, carriers = self.presence, self.spreads, self.carriers
        bar = self.thresholds(at)
        up, down = moved_by_set(
            self.chain, lambda chain: self.heard(chain, at), at.heard_dbm, bar, spreads.mixer_db, spreads
        )
        own = self._own_db(at)
        most = presence.most_dbm - presence.median_dbm
        common = np.array([spreads.service_db(name) for name in carriers.services])
        service = carriers.service.astype(np.int64)
        common_db = np.where(presence.own_level, 0.0, common[service])
        one, two, three = at.who
        number = [kept[who] for who in at.who]
        return Arrivals(
            place=at.place,
            line=before + at.route,
            occupant=number[0],
            over_db=self._over_db(at),
            stations=self._number(at),
            single=np.all([presence.single[who] for who in at.who], axis=0),
            own_db=own,
            most_score=scores_of(np.sum([most[who] for who in at.who], axis=0), own),
            service=service[one],
            service_db=common_db[one],
            up_db=up,
            down_db=down,
            emission=-1
            - occupants
            - occupants**2
            - (number[0] * occupants + number[1]) * occupants
            - number[2],
            partner=number[1],
            with_service=service[two],
            with_service_db=common_db[two],
            with_many=~presence.single[two],
            third=number[2],
            third_service=service[three],
            third_service_db=common_db[three],
            third_many=~presence.single[three],
        )
