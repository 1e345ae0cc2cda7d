"""Three stations at once: f1 + f2 - f3 of the strongest, on every route and from every mixer.

With one of three held, the sum of the other two rides on a response line: the sums of all pairs of 200
stations are twenty thousand rows for the join that finds intrusions. Rows of bands are left out: with three
of them there is hardly a setting on which none could meet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import factorial, log10

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.grades import grade_of
from spurplan.responses.join import join, may_meet
from spurplan.responses.levels import bar_dbm
from spurplan.responses.lines import Lines
from spurplan.responses.pairs.heard import at_mixer, heard_of_made
from spurplan.responses.pairs.intermodulation import Routes
from spurplan.responses.pairs.search import (
    MEETINGS_AT_ONCE,
    ThirdOrder,
    no_routes,
    routes_once,
)
from spurplan.rows import Rows, alike, floats, ints, lots, of_the_best, shared

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# The strongest at a mixer that are taken for threes, and how many products they may make in one set; where
# they make more, half as many stations are taken, and half of these.
STRONGEST, MOST = 200, 500_000
# The same for shares, which look at every one of them at each setting it is received on, in every world.
STRONGEST_IN_SHARES = 50
# How far three tones make more than one makes of its third harmonic: 3! as a voltage. [dB]
MORE_DB = 20.0 * log10(factorial(3))
ORDER = 3


class Triples(Rows):
    """G stretches of dial on which f1 + f2 - f3 is heard.

    Attributes
    ----------
    candidate, first, second, third : int64, shape (G,). The chain; the occupants, f3 the one taken off.
    route : int64, shape (G,). Index into `routes`.
    dial_low_hz, dial_high_hz, loudest_dial_hz : int64, shape (G,). [Hz]
    heard_dbm, bar_dbm : float64, shape (G,). Level there, and the bar of hearing. [dBm]
    strongest : int. So many were taken for threes at each mixer.
    routes : Routes. Those of 2 f1 - f2: f1 + f2 - f3 comes by the same.
    """

    candidate: Ints = ints()
    first: Ints = ints()
    second: Ints = ints()
    third: Ints = ints()
    route: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    loudest_dial_hz: Ints = ints()
    heard_dbm: Floats = floats()
    bar_dbm: Floats = floats()
    routes: Routes = shared()
    strongest: int = shared(default=STRONGEST)

    @property
    def margin_db(self) -> Floats:
        """Heard level above the bar of hearing, shape (G,). [dB]"""
        margin: Floats = self.heard_dbm - self.bar_dbm
        return margin

    def grade(self, strong_at_db: float, audible_at_db: float) -> Ints:
        """Return the grade where each is loudest, shape (G,); index into `grades.GRADES`."""
        return grade_of(self.margin_db, strong_at_db, audible_at_db)


def three_at_once(chains: Chains, occupants: Occupants, settings: Settings) -> Triples:
    """Return what three stations make heard on some chains.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants.
    settings : Settings. Orders and thresholds; what is buried is not kept.

    Returns
    -------
    Triples in no order: where each is received, the figures in the middle of that.

    Notes
    -----
    P1 + P2 + P3 - 2 IIP3 + 6.0 dB, in dBm at the mixer. All three are converted alike before it.
    """
    alone = np.flatnonzero(occupants.low_hz == occupants.high_hz)
    carriers = occupants.take(alone)
    strongest = STRONGEST
    while (found := _of_strongest(chains, carriers, settings, strongest)) is None:
        strongest //= 2
    names = {name: alone[getattr(found, name)] for name in ("first", "second", "third")}
    return found.replace(strongest=strongest, **names)


def _of_strongest(chains: Chains, carriers: Occupants, settings: Settings, strongest: int) -> Triples | None:
    """Return what three of so many of the strongest at each mixer make heard; None for more than `MOST`."""
    pieces: list[Triples] = []
    count = routes = 0
    for v in range(len(chains)):
        chain = chains.take(np.array([v]))
        parts = []
        for met in threes_met(chain, carriers, settings.audible_at, settings.lo_order, strongest):
            parts.append(_heard(chain, carriers, met, settings))
            count += len(parts[-1])
            if count > MOST:
                return None
        if not parts:
            continue
        kept, back = routes_once(Routes.concat([part.routes for part in parts]))
        starts = np.cumsum([0, *(len(part.routes) for part in parts)])[:-1].tolist()
        triples = _loudest_of_each(
            Triples.concat(
                [
                    part.replace(route=back[part.route + at], routes=kept)
                    for part, at in zip(parts, starts, strict=True)
                ]
            )
        )
        pieces.append(triples.replace(candidate=triples.candidate + v, route=triples.route + routes))
        routes += len(kept)
    if not pieces:
        return Triples.empty(routes=no_routes(chains.conversions))
    whole_routes = Routes.concat([piece.routes for piece in pieces])
    return Triples.concat([piece.replace(routes=whole_routes) for piece in pieces])


class Met(Rows):
    """n products of three on stretches of dial, all made in one mixer, their levels not looked at.

    Attributes
    ----------
    route : int64, shape (n,). Index into `routes`.
    first, second, third : int64, shape (n,). Occupants, f3 the one taken off.
    dial_low_hz, dial_high_hz : int64, shape (n,). Where each is received. [Hz]
    """

    route: Ints = ints()
    first: Ints = ints()
    second: Ints = ints()
    third: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    routes: Routes = shared()

    @property
    def who(self) -> tuple[Ints, Ints, Ints]:
        """The three stations of each."""
        return self.first, self.second, self.third

    def sign(self) -> Ints:
        """Return 1 where f1 + f2 - f3 is what rides on the route, -1 where its negative does, shape (n,)."""
        out: Ints = np.sign(self.routes.c_1[self.route])
        return out


def threes_met(
    chain: Chains, carriers: Occupants, audible_at_db: float, lo_order: int, strongest: int
) -> Iterator[Met]:
    """Yield, a lot at a time, the products of three that may be heard on the dial of one candidate.

    Parameters
    ----------
    carriers : Occupants, of one frequency each.
    audible_at_db : float. Margin over the bar of hearing from which something is heard. [dB]
    lo_order : int. Highest harmonic of the oscillators.
    strongest : int. Of so many at each mixer.
    """
    for mixer in range(chain.conversions):
        search = ThirdOrder(chain, carriers, audible_at_db, mixer, lo_order, MORE_DB)
        for block, routes, need, who in search.by_way(strongest):
            yield from _met(block, carriers, routes, need, who)


def _met(
    block: Chains, carriers: Occupants, routes: Routes, need: Floats, who: tuple[Ints, Floats]
) -> Iterator[Met]:
    """Yield what three of some stations may make heard by some routes on a stretch of dial."""
    occupant, most = who
    a, b = np.triu_indices(len(occupant), 1)
    hz = carriers.low_hz[occupant]
    total, level = hz[a] + hz[b], most[a] + most[b]
    order = np.argsort(total, kind="stable")
    a, b = a[order], b[order]
    same = np.zeros(len(a), dtype=np.int64)
    sums = carriers.take(
        same, low_hz=total[order], high_hz=total[order], level_dbm=level[order],
        table=same.astype(np.int16), row=np.arange(len(a), dtype=np.int32),
    )  # fmt: skip
    # what the sum of two needs with the third held
    route, held = (grid.ravel() for grid in np.indices((len(routes), len(occupant))))
    asks = need[route] - most[held]
    worth = np.flatnonzero(asks <= level.max(initial=-np.inf))
    route, held, asks = route[worth], held[worth], asks[worth]
    lines = _lines(block, routes, route, hz[held], asks)
    for some in lots(may_meet(lines, sums), MEETINGS_AT_ONCE):
        number = np.arange(len(lines))[some]
        hits = join(lines.take(number), sums, strong_enough=True)
        line = number[hits.line]
        one, two, three = a[hits.occupant], b[hits.occupant], held[line]
        met = Met(
            route=route[line], first=occupant[one], second=occupant[two], third=occupant[three],
            dial_low_hz=hits.dial_low_hz, dial_high_hz=hits.dial_high_hz, routes=routes,
        )  # fmt: skip
        yield met.take(np.flatnonzero((three != one) & (three != two)))


def emission(carriers: Occupants, who: Sequence[Ints]) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int32]]:
    """Return sound and width of products of some stations: as wide as all together."""
    sound = np.max([carriers.sound[one] for one in who], axis=0)
    width = np.sum([carriers.width_hz[one] for one in who], axis=0).astype(np.int32)
    return sound, width


def _heard(chains: Chains, carriers: Occupants, met: Met, settings: Settings) -> Triples:
    """Return which products of three are heard in the middle of where they are received."""
    middle = (met.dial_low_hz + met.dial_high_hz) // 2
    heard = level_dbm(
        chains, met.routes, met.route, [carriers.low_hz[one].astype(np.float64) for one in met.who],
        [carriers.level_dbm[one] for one in met.who], middle,
    )  # fmt: skip
    bar = bar_dbm(chains, np.zeros(len(middle), dtype=np.int64), middle, *emission(carriers, met.who))
    rows = np.flatnonzero(heard - bar >= settings.audible_at)
    kept = met.take(rows)
    return Triples(
        candidate=np.zeros(len(rows), dtype=np.int64), first=kept.first, second=kept.second,
        third=kept.third, route=kept.route, dial_low_hz=kept.dial_low_hz, dial_high_hz=kept.dial_high_hz,
        loudest_dial_hz=middle[rows], heard_dbm=heard[rows], bar_dbm=bar[rows], routes=met.routes,
    )  # fmt: skip


def _lines(block: Chains, routes: Routes, route: Ints, held_hz: Ints, need_dbm: Floats) -> Lines:
    """Return f1 + f2 against the dial, one line for each route and f3 held: sign (f1 + f2) = T + sign f3."""
    sign, d = np.sign(routes.c_1[route]), routes.d[route]
    return Lines(
        candidate=np.zeros(len(route), dtype=np.int64),
        steps=np.zeros((len(route), block.conversions, 2), dtype=np.int64),
        p=(sign * routes.p[route])[None], q=(sign * routes.q[route] + d * held_hz)[None],
        r=routes.r[route][None], d=d[None],
        dial_low_hz=routes.low_hz[route], dial_high_hz=routes.high_hz[route],
        reach_hz=np.full(len(route), int(block.bandwidth_hz[0])),
        tight=np.zeros(len(route), dtype=bool), need_dbm=need_dbm,
    )  # fmt: skip


def level_dbm(
    chains: Chains, routes: Routes, route: Ints, f_hz: list[Floats], antenna_dbm: list[Floats], dial_hz: Ints
) -> Floats:
    """Return the heard level of products of three stations, all made in one mixer, shape (n,). [dBm]

    Parameters
    ----------
    f_hz, antenna_dbm : of the three stations, shape (n,) each; the third is taken off. [Hz, dBm]
    """
    if not len(route):
        return np.zeros(0)
    mixer, head = int(routes.mixer[0]), routes.head_1[route]
    there = [
        at_mixer(chains, head, mixer, hz, dbm, dial_hz) for hz, dbm in zip(f_hz, antenna_dbm, strict=True)
    ]
    level = there[0][0] + there[1][0] + there[2][0]
    made = there[0][1] + there[1][1] - there[2][1]
    return heard_of_made(chains, routes.behind[route], mixer, ORDER, MORE_DB, level, made, dial_hz)


def _loudest_of_each(triples: Triples) -> Triples:
    """Return the stretches of the loudest route of those that are one product on the same settings."""
    routes, route = triples.routes, triples.route
    sign = np.sign(routes.c_1[route])
    law = [sign * routes.p[route], sign * routes.q[route], routes.d[route]]
    group = alike(triples.first, triples.second, triples.third, *law)
    return triples.take(np.flatnonzero(of_the_best(group, route, triples.heard_dbm)))
