"""Who arrives at which dial setting, by which way, how far over what the listener bears.

The dial is looked at on even settings. For each one the engine's exact
stretches tell which occupants are received by which way; what is kept of each
is how far its median level stands over the bar and how that moves with what
nobody knows exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.normal_law import fast_share_below
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.curves import Curve
from spurplan.responses.engine import refuse_too_many, span_hz
from spurplan.responses.join import Hits, join
from spurplan.responses.levels import AirBudget
from spurplan.responses.lines import Lines, enumerate_lines, product_steps
from spurplan.responses.listening.presence import Presence
from spurplan.responses.listening.set_factors import moved_by_set
from spurplan.responses.listening.thresholds import Thresholds, thresholds
from spurplan.responses.listening.worlds import Spreads
from spurplan.responses.pairs.intermodulation import Routes
from spurplan.rows import Rows, alike, bools, floats, ints, lots, numbered, of_the_best

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Ways in are followed for stations this many of their own spreads over the median, and for
# what a world may add to that. [dB]
LOUDEST_SPREADS = 2.5
WORLD_SPARE_DB = 12.0
# Meetings looked at together, which takes memory, and for one candidate, which takes time: a minute.
MEETINGS_AT_ONCE, MOST_MEETINGS = 2_000_000, 40_000_000
# A number of stations that changes no share that anybody reads.
NEGLIGIBLE = 3e-5
ALMOST_CERTAIN = 1.0 - 1e-9
# what keeps a division defined where nothing spreads [dB], or nobody is loud enough
LEAST_SPREAD_DB = 1e-6
SMALLEST_SHARE = 1e-12
# more channels than any band has
CHANNELS = 10**8


@dataclass(frozen=True)
class Dials:
    """The settings at which some candidates are looked at, as many on each.

    Attributes
    ----------
    low_hz, high_hz : int64, shape (V,). The part of the dial in question. [Hz]
    count : int. How many settings on each.
    """

    low_hz: Ints
    high_hz: Ints
    count: int

    @property
    def hz(self) -> Ints:
        """The settings, shape (V, count): each in the middle of its part of the dial. [Hz]"""
        span = (self.high_hz - self.low_hz + 1)[:, None]
        steps = 2 * np.arange(self.count, dtype=np.int64) + 1
        settings: Ints = self.low_hz[:, None] + span * steps // (2 * self.count)
        return settings

    def within(self, candidate: Ints, low_hz: Ints, high_hz: Ints) -> tuple[Ints, Ints]:
        """Return the first setting at or above each low edge, and the first above each high edge."""
        low, span = self.low_hz[candidate], (self.high_hz - self.low_hz + 1)[candidate]
        # setting k stands at low + floor(span (2 k + 1) / (2 count))
        first = -(-((low_hz - low) * 2 * self.count - span) // (2 * span))
        beyond = -(-((high_hz + 1 - low) * 2 * self.count - span) // (2 * span))
        return np.clip(first, 0, self.count), np.clip(beyond, 0, self.count)


class Arrivals(Rows):
    """What arrives where; n of them, ascending by place.

    Attributes
    ----------
    place : int64, shape (n,). Number of the setting: candidate times settings a candidate, plus setting.
    line, occupant : int64, shape (n,).
    over_db : float64, shape (n,). Heard at its median level, over the higher of the bar of hearing
        and what the wanted signal bears. [dB]
    stations : float64, shape (n,). Expected number of stations received there; of a single
        station the chance that it is on.
    single : bool, shape (n,). Whether it is one station, on or off.
    own_db : float64, shape (n,). Spread of a station's own level, times the order. [dB]
    most_score : float64, shape (n,). How many of its own spreads the loudest station is over the median.
    service : int64, shape (n,). Index into the services of the occupants.
    service_db : float64, shape (n,). Spread of its service's level, times the order. [dB]
    up_db, down_db : float64, shape (F, n). What `over_db` gains in a world in which a factor of the set
        is one standard deviation higher, and lower; F as in `SET_FACTORS`. [dB]
    emission : int64, shape (n,). The same number for what is one emission wherever it arrives.
    partner : int64, shape (n,). Of a product of two the other occupant, else -1; its line is then the
        number of its route behind all lines.
    with_service, with_service_db, with_many : shape (n,). Service of the partner, spread of its level, and
        whether there are more or fewer of it in a world; of a single station its own, 0 and False.
    third, third_service, third_service_db, third_many : shape (n,). The same of the third of three.
    """

    sorted_by = ("place",)
    place: Ints = ints()
    line: Ints = ints()
    occupant: Ints = ints()
    over_db: Floats = floats()
    stations: Floats = floats()
    single: Bools = bools()
    own_db: Floats = floats()
    most_score: Floats = floats()
    service: Ints = ints()
    service_db: Floats = floats()
    up_db: Floats = floats(axis=1, ndim=2)
    down_db: Floats = floats(axis=1, ndim=2)
    emission: Ints = ints()
    partner: Ints = ints()
    with_service: Ints = ints()
    with_service_db: Floats = floats()
    with_many: Bools = bools()
    third: Ints = ints()
    third_service: Ints = ints()
    third_service_db: Floats = floats()
    third_many: Bools = bools()

    def expected(
        self,
        shift_db: Floats | float = 0.0,
        activity: Floats | float = 1.0,
        spread_db: Floats | None = None,
    ) -> Floats:
        """Return the expected number of stations that spoil, shape (n,).

        Parameters
        ----------
        shift_db : float or array, shape (n,). By how much all are louder than expected. [dB]
        activity : float or array, shape (n,). How many times as many are on the air.
        spread_db : float64, shape (n,), or None. In place of a station's own spread. [dB]

        Notes
        -----
        A single station that spoils with chance q counts as -log(1 - q), so that independent ones add up.
        """
        return Expecting(self, spread_db).number(shift_db, activity)

    def total_spread_db(self) -> Floats:
        """Return the spread of everything together, shape (n,). [dB]"""
        of_set = 0.5 * (self.up_db - self.down_db)
        of_each = (
            (self.service, self.service_db),
            (self.with_service, self.with_service_db),
            (self.third_service, self.third_service_db),
        )
        common = np.sum([db**2 for _, db in of_each], axis=0)
        # those of one service rise and fall together
        for (one, one_db), (other, other_db) in combinations(of_each, 2):
            common += np.where(one == other, 2.0 * one_db * other_db, 0.0)
        total: Floats = np.sqrt(self.own_db**2 + common + (of_set**2).sum(axis=0))
        return total


class Expecting:
    """Arrivals of which the expected numbers are asked again and again; see `Arrivals.expected`."""

    def __init__(self, arriving: Arrivals, spread_db: Floats | None = None) -> None:
        self.over_db, self.stations = arriving.over_db, arriving.stations
        self.spread_db = np.maximum(arriving.own_db if spread_db is None else spread_db, LEAST_SPREAD_DB)
        # nobody is louder than the loudest
        self.beyond = fast_share_below(-arriving.most_score)
        self.single = np.flatnonzero(arriving.single)

    def number(self, shift_db: Floats | float = 0.0, activity: Floats | float = 1.0) -> Floats:
        """Return the expected number of stations that spoil, shape (n,); as `Arrivals.expected`."""
        part = np.maximum(fast_share_below((self.over_db + shift_db) / self.spread_db) - self.beyond, 0.0)
        expected: Floats = self.stations * activity * part
        # a single station is there all the same
        one = self.single
        spoils = self.stations[one] * part[one] / (1.0 - self.beyond[one])
        expected[one] = -np.log1p(-np.minimum(spoils, ALMOST_CERTAIN))
        return expected


class Counted:
    """The expected numbers of what arrives, added up setting by setting.

    Parameters
    ----------
    arriving : Arrivals.
    place : int64, shape (n,). Number of the setting of each, from 0.
    settings : int. How many settings there are.

    Notes
    -----
    One station that comes in by several ways at once is still one: it spoils where it does by the
    best of them. Different stations are independent.
    """

    def __init__(self, arriving: Arrivals, place: Ints, settings: int) -> None:
        self.place, self.settings = place, settings
        self.many = np.flatnonzero(~arriving.single)
        single = np.flatnonzero(arriving.single)
        self.order = single[np.lexsort((arriving.occupant[single], place[single]))]
        at, who = place[self.order], arriving.occupant[self.order]
        fresh = np.append(True, (at[1:] != at[:-1]) | (who[1:] != who[:-1]))[: len(at)]
        self.first = np.flatnonzero(fresh)

    def total(self, expected: Floats) -> Floats:
        """Return the expected number of stations that spoil each setting, shape (settings,)."""
        total = np.bincount(self.place[self.many], weights=expected[self.many], minlength=self.settings)
        if len(self.first):
            best = np.maximum.reduceat(expected[self.order], self.first)
            at = self.place[self.order[self.first]]
            total = total + np.bincount(at, weights=best, minlength=self.settings)
        return total.astype(np.float64)


@dataclass(frozen=True)
class Ways:
    """The ways in that were followed: what a line and an occupant of `Arrivals` are numbers of.

    Attributes
    ----------
    chains : Chains, V candidates.
    lines : Lines. No wanted route among them.
    occupants : Occupants.
    routes : Routes or None. Those of products of two; None where nobody looked.
    """

    chains: Chains
    lines: Lines
    occupants: Occupants
    routes: Routes | None = None

    def curve(self, chains: Chains) -> Curve:
        """Return the levels of lines and occupants on these chains, or the same with other figures."""
        return Curve(chains, self.lines, self.occupants)


def arrivals(
    chains: Chains,
    occupants: Occupants,
    presence: Presence,
    settings: Settings,
    dials: Dials,
    spreads: Spreads,
) -> tuple[Ways, Arrivals]:
    """Return what may spoil each setting, and how sure that is.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants, presence : who may be received, and who of them is on the air.
    settings : Settings. Orders.
    dials : Dials. The settings looked at.
    spreads : Spreads. How far off what is common to many may be.

    Raises
    ------
    Refused  when a candidate would have too many records.

    Notes
    -----
    Of band, raster and stations of one service by one way at one setting the one with the
    greatest expected number stands for all: they are the same people.
    """
    occupants, presence = with_sidebands(occupants, presence)
    tuned = chains.tuned_to(dials.low_hz, dials.high_hz)
    spare_db = WORLD_SPARE_DB if presence.spread_db.any() else 0.0
    loudest = np.minimum(presence.median_dbm + LOUDEST_SPREADS * presence.spread_db, presence.most_dbm)
    who = occupants.replace(level_dbm=loudest)
    steps = product_steps(settings.lo_order, settings.rf_order)
    budget = AirBudget(tuned, who, -spare_db, drop=True, steps=steps)
    lines = enumerate_lines(tuned, settings.lo_order, settings.rf_order, span_hz=span_hz(who), budget=budget)
    lines = lines.take(~lines.is_wanted(tuned))
    hits = join(lines, who, strong_enough=True)
    refuse_too_many(_most(lines.candidate[hits.line], np.ones(len(hits))))
    ways = Ways(tuned, lines, who)
    met = _meetings(ways, hits, dials, spare_db)
    arriving = worked_out(ways, met, presence, spreads)
    return ways, arriving.take(one_of_each(arriving, who))


def with_sidebands(occupants: Occupants, presence: Presence) -> tuple[Occupants, Presence]:
    """Return the same, each carrier of a raster as wide as its emission: within that it may spoil.

    Notes
    -----
    A carrier that is surely there stays where it is.
    """
    carrier = (occupants.raster_hz > 0) & ~presence.single
    if not carrier.any():
        return occupants, presence
    half = np.where(carrier, occupants.width_hz // 2, 0)
    middle = (occupants.low_hz + occupants.high_hz) // 2
    low = np.where(carrier, np.maximum(np.minimum(occupants.low_hz, middle - half), 1), occupants.low_hz)
    high = np.where(carrier, np.maximum(occupants.high_hz, middle + half), occupants.high_hz)
    order = np.lexsort((occupants.row, occupants.table, high, low))
    return occupants.take(order, low_hz=low[order], high_hz=high[order]), presence.take(order)


class Meetings(Rows):
    """Pairs of line and occupant at settings.

    Attributes
    ----------
    place : int64, shape (n,). As of `Arrivals`.
    dial_hz : int64, shape (n,). [Hz]
    line, occupant : int64, shape (n,).
    heard_dbm : float64, shape (n,). Of the occupant at its level. [dBm]
    """

    place: Ints = ints()
    dial_hz: Ints = ints()
    line: Ints = ints()
    occupant: Ints = ints()
    heard_dbm: Floats = floats()


def _most(candidate: Ints, counts: Ints | Floats) -> int:
    """Return what counts of rows come to for the candidate that has most."""
    return int(np.bincount(candidate, weights=counts, minlength=1).max())


def _meetings(ways: Ways, hits: Hits, dials: Dials, spare_db: float) -> Meetings:
    """Return the settings inside each hit on which it spoils, or nearly so; ascending by place."""
    candidate = ways.lines.candidate[hits.line]
    first, beyond = dials.within(candidate, hits.dial_low_hz, hits.dial_high_hz)
    counts = np.maximum(beyond - first, 0)
    refuse_too_many(_most(candidate, counts), MOST_MEETINGS)
    settings_hz, curve = dials.hz.ravel(), ways.curve(ways.chains)
    pieces = []
    for rows in lots(counts, MEETINGS_AT_ONCE):
        row, number = numbered(counts[rows])
        row += rows.start
        place = candidate[row] * dials.count + first[row] + number
        order = np.argsort(place, kind="stable")
        place, line, occupant = place[order], hits.line[row[order]], hits.occupant[row[order]]
        dial = settings_hz[place]
        met = Meetings(place, dial, line, occupant, curve.heard(line, occupant, dial))
        pieces.append(near_the_bar(ways, met, spare_db))
    met = Meetings.concat(pieces)
    return met.take(np.argsort(met.place, kind="stable"))


class _Seen:
    """Meetings as the listener has them: where the product falls, what it sounds like."""

    def __init__(self, ways: Ways, met: Meetings) -> None:
        lines, line, who = ways.lines, met.line, ways.occupants
        self.chains, self.dial_hz = ways.chains, met.dial_hz
        self.candidate = lines.candidate[line]
        self.centre_hz = (lines.p[0][line] * met.dial_hz + lines.q[0][line]) / lines.d[0][line]
        # hertz at the aerial to one in the last IF
        self.scale = np.abs(lines.r[0][line]) / lines.d[0][line]
        nearest = np.clip(self.centre_hz, who.low_hz[met.occupant], who.high_hz[met.occupant])
        known = who.low_hz[met.occupant] == who.high_hz[met.occupant]
        self.beat_hz = np.where(known, (nearest - self.centre_hz) / self.scale, np.nan)
        self.sound, self.width_hz = who.sound[met.occupant], who.width_hz[met.occupant]

    def thresholds(self) -> Thresholds:
        return thresholds(self.chains, self.candidate, self.dial_hz, self.sound, self.width_hz, self.beat_hz)

    def passband_hz(self) -> Floats:
        passband = np.array([listener.passband_hz for listener in self.chains.listener], dtype=np.float64)
        return passband[self.chains.listener_code[self.candidate]]


def spoils_dbm(ways: Ways, met: Meetings) -> Floats:
    """Return from which heard level on each meeting spoils its setting, shape (n,). [dBm]"""
    return _Seen(ways, met).thresholds().spoils_dbm


def near_the_bar(ways: Ways, met: Meetings, spare_db: float) -> Meetings:
    """Return the meetings that spoil, or would with so many decibels more."""
    return met.take(np.flatnonzero(met.heard_dbm - spoils_dbm(ways, met) >= -spare_db))


def worked_out(ways: Ways, met: Meetings, presence: Presence, spreads: Spreads) -> Arrivals:
    """Return how far meetings are over what the listener bears, and how that moves.

    Parameters
    ----------
    ways : Ways.
    met : Meetings, ascending by place.
    presence, spreads : as of `arrivals`.
    """
    seen = _Seen(ways, met)
    bar = seen.thresholds()
    lines, who = ways.lines, met.occupant
    order = np.abs(lines.steps[:, :, 1]).prod(axis=1)[met.line].astype(np.float64)
    service = ways.occupants.service[who].astype(np.int64)
    common = np.array([spreads.service_db(name) for name in ways.occupants.services])
    loudest_score = scores_of(presence.most_dbm - presence.median_dbm, presence.spread_db)
    over = met.heard_dbm - bar.spoils_dbm - (ways.occupants.level_dbm - presence.median_dbm)[who] * order
    own = presence.spread_db[who] * order
    single = presence.single[who]
    in_reach = presence.per_hz[who] * _received_hz(ways, met, seen, bar, over, own)
    up, down = _of_set(ways, met, seen, bar, spreads)
    return Arrivals(
        place=met.place,
        line=met.line,
        occupant=who,
        over_db=over,
        stations=np.where(single, presence.chance[who], in_reach),
        single=single,
        own_db=own,
        most_score=loudest_score[who],
        service=service,
        service_db=np.where(presence.own_level[who], 0.0, common[service]) * order,
        up_db=up,
        down_db=down,
        emission=_emissions(met, seen, single, service),
        partner=np.full(len(met), -1, dtype=np.int64),
        with_service=service,
        with_service_db=np.zeros(len(met)),
        with_many=np.zeros(len(met), dtype=np.bool_),
        **no_third(service),
    )


def no_third(service: Ints) -> dict[str, Any]:
    """Return the columns of a third station of `Arrivals` where there is none."""
    count = len(service)
    return {
        "third": np.full(count, -1, dtype=np.int64),
        "third_service": service,
        "third_service_db": np.zeros(count),
        "third_many": np.zeros(count, dtype=np.bool_),
    }


def scores_of(over_db: Floats, spread_db: Floats) -> Floats:
    """Return how many spreads something is over the median; inf where nothing spreads."""
    with np.errstate(divide="ignore", invalid="ignore"):
        score: Floats = np.where(spread_db > 0, over_db / spread_db, np.inf)
    return score


def _received_hz(
    ways: Ways, met: Meetings, seen: _Seen, bar: Thresholds, over_db: Floats, own_db: Floats
) -> Floats:
    """Return the width at the aerial in which a station of a band spoils, shape (n,). [Hz]

    Notes
    -----
    The passband seen from the aerial and what the emission itself spreads, cut to the row; a carrier
    of a raster stands for the whole of its spacing or, where it is out of reach, for nothing. Where
    a carrier is too far off to whistle it has to be louder: that part of the width counts by how
    many fewer are.
    """
    occupants = ways.occupants
    reach = seen.passband_hz() * seen.scale + seen.width_hz
    low, high = occupants.low_hz[met.occupant], occupants.high_hz[met.occupant]
    spacing = occupants.raster_hz[met.occupant]
    away = np.abs(seen.centre_hz - 0.5 * (low + high))
    whistle = np.minimum(bar.whistle_hz * seen.scale, reach)

    def covered_hz(width: Floats) -> Floats:
        overlap = np.minimum(high, seen.centre_hz + 0.5 * width) - np.maximum(
            low, seen.centre_hz - 0.5 * width
        )
        covered: Floats = np.where(spacing > 0, spacing * (away <= 0.5 * width), np.maximum(overlap, 0.0))
        return covered

    whole, part = covered_hz(reach), covered_hz(whistle)
    spread = np.maximum(own_db, LEAST_SPREAD_DB)
    fewer = fast_share_below((over_db - bar.beside_db) / spread) / np.maximum(
        fast_share_below(over_db / spread), SMALLEST_SHARE
    )
    received: Floats = part + (whole - part) * np.minimum(fewer, 1.0)
    return received


def _of_set(
    ways: Ways, met: Meetings, seen: _Seen, bar: Thresholds, spreads: Spreads
) -> tuple[Floats, Floats]:
    """Return what a spread of each factor of the set and the place adds, up and down, shape (F, n). [dB]"""
    product = (np.abs(ways.lines.steps) != np.abs(ways.chains.wanted_steps[ways.lines.candidate])).any(
        axis=(1, 2)
    )

    def heard(chains: Chains) -> Floats:
        return ways.curve(chains).heard(met.line, met.occupant, seen.dial_hz)

    mixer = np.where(product[met.line], spreads.mixer_db, 0.0)
    return moved_by_set(ways.chains, heard, met.heard_dbm, bar, mixer, spreads)


def _emissions(met: Meetings, seen: _Seen, single: Bools, service: Ints) -> Ints:
    """Return a number for each emission, shape (n,): a station's own, or a service's on one channel."""
    channel = seen.centre_hz // seen.passband_hz()
    return np.where(single, -1 - met.occupant, service * CHANNELS + channel.astype(np.int64))


def one_of_each(arriving: Arrivals, occupants: Occupants) -> Ints:
    """Return for each setting, way and service (or two of them) what has the greatest expected number.

    Notes
    -----
    Band, raster and stations of a service are the same people, and so is what two of them make: one
    occupant counts, or all carriers of one raster that are in reach together; of equals the first.
    """
    expected = arriving.expected(spread_db=arriving.total_spread_db())
    kind = rows_of_tables(occupants)
    key = arriving.place, arriving.line, arriving.service, arriving.with_service
    group = alike(*key, kind[arriving.occupant], kind[arriving.partner])
    together = np.bincount(group, weights=expected)[group] if len(group) else expected
    return np.flatnonzero(of_the_best(alike(*key), group, together) & (expected >= NEGLIGIBLE))


def rows_of_tables(occupants: Occupants) -> Ints:
    """Return a number for each occupant, the same for the carriers of one raster, shape (n,)."""
    own = np.arange(len(occupants), dtype=np.int64)
    rows = int(occupants.row.max(initial=0)) + 1
    of_row = -1 - (occupants.table.astype(np.int64) * rows + occupants.row)
    return np.where(occupants.raster_hz > 0, of_row, own)
