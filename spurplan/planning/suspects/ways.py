"""Every way into a set at one dial setting, whether or not anybody is known to come by it.

The set comes first: its routes, its skirts, its own oscillators and what a strong signal does to it
are there whoever is on the air. Who may come by a way, a table may know; somebody it does not
know always may. Levels say how likely it is that he is heard; nobody is struck off for being weak.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import Table
from spurplan.emissions import CARRIER
from spurplan.normal_law import density_at, share_below
from spurplan.occupancy.occupants import FROM_TABLE, Occupants
from spurplan.planning.suspects.evidence import Traits
from spurplan.planning.suspects.weights import figure, kinds_sent, mixed
from spurplan.receiver.chain import Chains
from spurplan.responses.join import Hits, join
from spurplan.responses.levels import bar_dbm, heard_dbm, nearest_hz
from spurplan.responses.lines import Lines, lines_of_routes, product_steps
from spurplan.responses.listening.presence import Presence
from spurplan.responses.routes import (
    PRODUCT,
    equation,
    inverted,
    moves,
    order_of,
    pad_db_per_db,
    response_name,
    steps_of,
    wanted_of,
)
from spurplan.responses.strong_signals.first_mixer import level_into_first_mixer

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

THE_STATION, INTRUSION, NEIGHBOUR = "the station itself", "intrusion", "neighbour"
BIRDIE, SELF_WHISTLE = "birdie", "self-whistle"
TRANSMITTER, PAIR = "transmitter harmonic", "intermodulation"
CROSS, OVERLOAD, NONE_OF_THESE = "cross-modulation", "overload", "none of these"

# Below it no route ends: nobody listens there. [Hz]
LOWEST_HZ = 9_000
# A neighbour is looked for so many bandwidths off, and thought of at this part of one.
SKIRT_BANDWIDTHS = 3
NEIGHBOUR_BANDWIDTHS = 0.9
# Harmonics a transmitter is assumed to let out.
TRANSMITTER_HARMONICS = range(2, 6)
# Who stands as loud as this at the aerial by his own row is near. [dBm]
LOCAL_DBM = -40.0
# Stations near by that are named as what may overload the set: the loudest.
MOST_NEAR = 3
# Pairs of stations worth naming: beyond these the loudest say it.
MOST_PAIRS = 20
# Each order more makes a birdie, a harmonic or a product so much rarer [est].
BIRDIE_RARER = 0.5
HARMONIC_RARER = 0.5
# a carrier between two sidebands, or one that is keyed, sounds the same turned round
NO_ONE_SIDEBAND = ("am", "fm", "cw", "beacon")
_LONG_HZ, _VHF_HZ = 1_700_000, 30_000_000


@dataclass(frozen=True)
class Who:
    """Somebody who may come by a way.

    Attributes
    ----------
    chance : float. That he is there, and loud enough to be heard. (0, 1]
    traits : Traits. What he would show, coming by that way.
    service : str. "" for somebody in no table.
    fields : those of the table `suspects` that are known of him.
    """

    chance: float
    traits: Traits
    service: str = ""
    fields: Mapping[str, Any] = field(default_factory=dict)

    @property
    def label(self) -> str | None:
        """What his table calls him; None for somebody in no table."""
        label: str | None = self.fields.get("label")
        return label


@dataclass(frozen=True)
class Way:
    """One way in.

    Attributes
    ----------
    range : str.
    cause : str. What the trade calls it, in the large.
    response : str or None. By which route.
    equation : str or None. The route as it is worked out.
    prior : float. How common it is before anything is known, the station itself being 1.
    moves, pad_db_per_db, inverted : as in `Traits`, of the way by itself.
    entry_hz : int or None. Where a signal that comes by it is sent; None for what has no such place. [Hz]
    dial_hz : int. [Hz]
    who : who may come by it, at least one.
    """

    range: str
    cause: str
    response: str | None
    equation: str | None
    prior: float
    moves: float
    pad_db_per_db: float
    inverted: bool | None
    entry_hz: int | None
    dial_hz: int
    who: tuple[Who, ...]

    @property
    def family(self) -> str:
        """What it is looked for as: images of any mixer are of one family, so are harmonics of all sorts."""
        if self.cause in (BIRDIE, SELF_WHISTLE):
            return "made in the set"
        if self.cause != INTRUSION:
            return self.cause
        response = str(self.response)
        return next((name for name in _FAMILIES if response.endswith(name)), "harmonics")


# of intrusions by their response; all others are harmonics and their products
_FAMILIES = ("image", "half-IF", "IF breakthrough")


@dataclass(frozen=True)
class Setting:
    """One dial setting of one range, and the air above it.

    Attributes
    ----------
    range : str.
    chains : Chains. That range alone, tuned to what the pointer may mean.
    dial_hz : int. Where the pointer stands. [Hz]
    occupants, presence : who may be on the air, and with what chance.
    antenna_gain_db : float. [dB]
    lo_order, rf_order : int. Highest harmonics of oscillator and signal.
    dial_spans_hz : lowest and highest frequency of each range of the set. [Hz]
    """

    range: str
    chains: Chains
    dial_hz: int
    occupants: Occupants
    presence: Presence
    antenna_gain_db: float
    lo_order: int
    rf_order: int
    dial_spans_hz: tuple[tuple[int, int], ...]

    @property
    def bandwidth_hz(self) -> int:
        """Width of the last IF. [Hz]"""
        return int(self.chains.bandwidth_hz[0])

    def bar_dbm(self, sound: int, width_hz: int) -> float:
        """Return from where on something is heard here. [dBm]"""
        every = np.zeros(1, dtype=np.int64)
        kind = np.full(1, sound, dtype=np.int8), np.full(1, width_hz, dtype=np.int32)
        return float(bar_dbm(self.chains, every, every + self.dial_hz, *kind)[0])


def ways_in(setting: Setting, birdies: Table, pairs: Table | None) -> list[Way]:
    """Return every way in at a setting, those that nobody is known to come by among them.

    Parameters
    ----------
    setting : Setting.
    birdies : the table of `spurplan.birdies` on that range.
    pairs : the table of products of two stations there, or None.
    """
    lines = _routes(setting)
    by_routes = list(_by_routes(setting, lines))
    ways = [
        *by_routes,
        _neighbour(setting, lines),
        *_transmitters(setting),
        *_own(setting, birdies),
        *_products(setting, pairs),
        *_overloaded(setting, _carrier(by_routes)),
        _none_of_these(setting),
    ]
    return [_with(way, [_on_dial(setting, who) for who in way.who]) for way in ways]


def _on_dial(setting: Setting, who: Who) -> Who:
    """Return somebody with the places of the set's own dial where he is heard as well as here.

    Notes
    -----
    There he comes by the front door. What is as near as the skirts reach is seen by tuning for the loudest.
    """
    beside = SKIRT_BANDWIDTHS * setting.bandwidth_hz
    places = tuple(
        hz
        for hz in who.traits.elsewhere_hz
        if abs(hz - setting.dial_hz) > beside
        and any(low <= hz <= high for low, high in setting.dial_spans_hz)
    )
    return Who(who.chance, _changed(who.traits, on_dial_hz=places), who.service, who.fields)


def _routes(setting: Setting) -> Lines:
    """Return the wanted route first, then those that differ from it at one mixer or pass some unmixed."""
    chains = setting.chains
    wanted = chains.wanted_steps[0]
    steps = product_steps(setting.lo_order, setting.rf_order)
    # as few harmonics as may be asked for, the set's own route is one
    routes = [wanted]
    for i in range(chains.conversions):
        varied = np.repeat(wanted[None], len(steps), axis=0)
        varied[:, i] = steps
        routes += list(varied)
        past = wanted.copy()
        past[: i + 1] = (0, 1)
        routes.append(past)
    unique = list({tuple(map(tuple, route.tolist())): route for route in routes}.values())
    one_each = chains.take(np.zeros(len(unique), dtype=np.int64))
    lines = lines_of_routes(one_each, np.stack(unique))
    lines = lines.replace(candidate=np.zeros(len(lines), dtype=np.int64))
    dial = np.full(len(lines), setting.dial_hz, dtype=np.int64)
    there = lines.at_hz(dial) >= LOWEST_HZ
    for point in range(1, chains.conversions):
        there &= lines.at_hz(dial, point) > 0
    # what comes in where the set is tuned is the station itself, and its whistles are listed as such
    own = np.abs(lines.at_hz(dial) - setting.dial_hz) <= 0.5 * setting.bandwidth_hz
    return lines.take(np.flatnonzero(there & (~own | lines.is_wanted(chains))))


def _by_routes(setting: Setting, lines: Lines) -> Iterator[Way]:
    """Yield what comes by each route; by products that have no name of their own only who is listed there."""
    chains, dial = setting.chains, np.full(len(lines), setting.dial_hz, dtype=np.int64)
    every = np.arange(len(lines))
    entry = lines.at_hz(dial)
    unlisted_dbm = figure("there", "unlisted_dbm") + setting.antenna_gain_db
    level = heard_dbm(chains, lines, every, entry, np.full(len(lines), unlisted_dbm), dial)
    motion, order, pad = moves(chains, lines, every), order_of(lines, every), pad_db_per_db(lines, every)
    turned = inverted(chains, lines, every)
    hits = join(lines, setting.occupants)
    met = _met(setting, lines, hits)
    wanted = wanted_of(chains, 0)
    bar = setting.bar_dbm(CARRIER, 100)
    for i in range(len(lines)):
        name = response_name(steps_of(lines, i), wanted)
        if name == PRODUCT and i not in met:
            continue
        way = Way(
            range=setting.range,
            cause=THE_STATION if name == "wanted" else INTRUSION,
            response=name,
            equation=equation(steps_of(lines, i)),
            prior=_prior(name, int(order[i]), wanted),
            moves=float(motion[i]),
            pad_db_per_db=float(pad[i]),
            inverted=bool(turned[i]),
            entry_hz=round(entry[i]),
            dial_hz=setting.dial_hz,
            who=(),
        )
        unlisted = _unlisted(setting, way, float(level[i]), bar)
        yield _with(way, (*(_listed(setting, way, station) for station in met.get(i, [])), unlisted))


def _with(way: Way, who: Sequence[Who]) -> Way:
    return Way(**{**vars(way), "who": tuple(who)})


def _prior(name: str, order: int, wanted: Sequence[tuple[int, int]]) -> float:
    family = name
    if name not in ("image", "IF breakthrough", "wanted", "half-IF", "LO-harmonic", "RF-harmonic", PRODUCT):
        family = "further image" if name.rpartition(" ")[2] == "image" else "further-IF breakthrough"
    prior = figure("way", family)
    if family in ("LO-harmonic", "RF-harmonic", PRODUCT):
        more = order - sum(abs(lo) + abs(rf) for lo, rf in wanted) - 1
        prior *= HARMONIC_RARER ** max(more, 0)
    return prior


@dataclass(frozen=True)
class _Met:
    """An occupant on a route: where he is, where the dial stands then, and how loud the median one is."""

    occupant: int
    rf_hz: int
    dial_hz: int
    heard_dbm: float


def _met(setting: Setting, lines: Lines, hits: Hits) -> dict[int, list[_Met]]:
    """Return who is met on each route, at the setting nearest to where the pointer stands."""
    dial = np.clip(setting.dial_hz, hits.dial_low_hz, hits.dial_high_hz)
    rf = nearest_hz(lines, setting.occupants, hits.line, hits.occupant, dial)
    heard = heard_dbm(setting.chains, lines, hits.line, rf, setting.presence.median_dbm[hits.occupant], dial)
    out: dict[int, list[_Met]] = {}
    for at, line in enumerate(hits.line.tolist()):
        station = _Met(int(hits.occupant[at]), round(rf[at]), int(dial[at]), float(heard[at]))
        out.setdefault(line, []).append(station)
    return out


def _there(setting: Setting, occupant: int) -> float:
    """Return the chance that somebody of a row is on the air in a passband."""
    presence, occupants = setting.presence, setting.occupants
    if bool(presence.single[occupant]):
        chance = float(presence.chance[occupant])
        return max(chance, figure("there", "written_down")) if bool(occupants.spot[occupant]) else chance
    width = float(occupants.raster_hz[occupant]) or float(setting.bandwidth_hz)
    many = float(presence.per_hz[occupant]) * width
    return max(1.0 - math.exp(-many), figure("there", "least_on_air"))


@dataclass(frozen=True)
class _Loud:
    """How likely something is heard at all, and how loud it is where it is.

    Notes
    -----
    Of a normal law of levels, the part above the bar of hearing, its mean and its spread.
    """

    chance: float
    level_dbm: float
    spread_db: float


def _loud(median_dbm: float, spread_db: float, bar: float) -> _Loud:
    score = (bar - median_dbm) / spread_db
    above = share_below(-score)
    least = figure("there", "least_heard")
    if above < 1e-6:
        return _Loud(least, bar, spread_db / max(score, 1.0))
    ratio = density_at(score) / above
    variance = max(1.0 + score * ratio - ratio * ratio, 0.05)
    return _Loud(max(above, least), median_dbm + spread_db * ratio, spread_db * math.sqrt(variance))


def _listed(setting: Setting, way: Way, met: _Met) -> Who:
    """Return one of a table who comes by a route."""
    occupants, presence, o = setting.occupants, setting.presence, met.occupant
    order = max(way.pad_db_per_db, 1.0)
    spread = math.hypot(order * float(presence.spread_db[o]), figure("there", "set_spread_db"))
    bar = setting.bar_dbm(int(occupants.sound[o]), int(occupants.width_hz[o]))
    loud = _loud(met.heard_dbm, spread, bar)
    service = occupants.services[int(occupants.service[o])]
    mode = "" if occupants.mode[o] < 0 else occupants.modes[int(occupants.mode[o])]
    traits = _coming(
        setting, way, kinds_sent(service, mode, met.rf_hz), met.rf_hz, met.dial_hz, loud,
        local=_is_local(setting, o),
    )  # fmt: skip
    if mode in NO_ONE_SIDEBAND:
        traits = _changed(traits, inverted=None)
    fields = {
        **occupants.record(o), "rf_hz": met.rf_hz, "dial_hz": met.dial_hz,
        "heard_dbm": met.heard_dbm, "margin_db": met.heard_dbm - bar, "inverted": traits.inverted,
        "spot": bool(occupants.spot[o]), "spread_db": spread, "own_level": bool(presence.own_level[o]),
    }  # fmt: skip
    return Who(_there(setting, o) * loud.chance, traits, service, fields)


def _is_local(setting: Setting, occupant: int) -> bool:
    own = bool(setting.occupants.level_from[occupant] == FROM_TABLE)
    return own and float(setting.occupants.level_dbm[occupant]) >= LOCAL_DBM


def _is_near(setting: Setting, occupant: int) -> bool:
    """Return whether an occupant is one station near by, and not where the set is tuned."""
    occupants = setting.occupants
    away = abs(int(occupants.low_hz[occupant]) - setting.dial_hz) > setting.bandwidth_hz
    return bool(occupants.spot[occupant]) and away and _is_local(setting, occupant)


def _unlisted(setting: Setting, way: Way, heard: float, bar: float) -> Who:
    """Return somebody in no table who comes by a route; `heard` is the level of a middling one. [dBm]"""
    assert way.entry_hz is not None
    order = max(way.pad_db_per_db, 1.0)
    spread = math.hypot(order * figure("there", "unlisted_spread_db"), figure("there", "set_spread_db"))
    loud = _loud(heard, spread, bar)
    kinds = kinds_sent("unlisted", "", way.entry_hz)
    traits = _coming(setting, way, kinds, way.entry_hz, setting.dial_hz, loud)
    return Who(figure("there", "unlisted") * loud.chance, traits)


def _coming(
    setting: Setting, way: Way, kinds: Mapping[str, float], rf_hz: int, dial_hz: int, loud: _Loud,
    *, local: bool = False,
) -> Traits:  # fmt: skip
    """Return what somebody shows who comes by a way from the air."""
    parts = _by_way(way, kinds)
    beside = way.cause == NEIGHBOUR
    half = 0.5 * setting.bandwidth_hz
    return Traits(
        moves=way.moves,
        pad_db_per_db=way.pad_db_per_db,
        inverted=way.inverted,
        off=(rf_hz - dial_hz) / dial_hz,
        heard=mixed(parts),
        level_dbm=loud.level_dbm,
        level_spread_db=loud.spread_db,
        pitch_from_hz=0.8 * half if beside else 0.0,
        pitch_to_hz=2.0 * half * SKIRT_BANDWIDTHS if beside else 1.3 * half,
        fading=_fading(rf_hz, local=local),
        stays=1.0 - figure("evidence", "aerial_air_goes"),
        # a neighbour is somewhere beside: where, only a row of his own says
        elsewhere_hz=() if beside else (rf_hz,),
    )


def _by_way(way: Way, kinds: Mapping[str, float]) -> dict[str, float]:
    """Return what becomes of kinds of emission on their way."""
    out: dict[str, float] = {}
    for kind, share in kinds.items():
        # two harmonics of one sideband are no speech any more
        spoilt = way.pad_db_per_db > 1.0 and kind in ("ssb", "digital")
        out["garbled" if spoilt else kind] = out.get("garbled" if spoilt else kind, 0.0) + share
    if way.cause == NEIGHBOUR:
        splatter = figure("evidence", "neighbour_splatter")
        out = {kind: (1.0 - splatter) * share for kind, share in out.items()} | {"splatter": splatter}
    return out


def _fading(hz: int, *, local: bool) -> float:
    if local:
        return figure("evidence", "fading_local")
    name = "fading_long" if hz < _LONG_HZ else "fading_short" if hz <= _VHF_HZ else "fading_vhf"
    return figure("evidence", name)


def _changed(traits: Traits, **changes: Any) -> Traits:
    return Traits(**{**vars(traits), **changes})


def _neighbour(setting: Setting, lines: Lines) -> Way:
    """Return what comes by the skirts: it is received, but not tuned in."""
    wanted = lines.take(np.zeros(1, dtype=np.int64))
    half, width = setting.bandwidth_hz // 2, setting.bandwidth_hz
    beside = round(NEIGHBOUR_BANDWIDTHS * width)
    way = Way(
        setting.range, NEIGHBOUR, "wanted", equation(steps_of(wanted, 0)), figure("way", "neighbour"),
        float(moves(setting.chains, wanted, np.zeros(1, dtype=np.int64))[0]), 1.0, None,
        setting.dial_hz + beside, setting.dial_hz, (),
    )  # fmt: skip
    occupants = setting.occupants
    places = []
    for side in (-1, 1):
        # no nearer than the edge of the passband, no farther than the skirts are looked at
        near, far = setting.dial_hz + side * (half + 1), setting.dial_hz + side * SKIRT_BANDWIDTHS * width
        low, high = sorted((near, far))
        best = setting.dial_hz + side * beside
        for o in np.flatnonzero((occupants.low_hz <= high) & (occupants.high_hz >= low)).tolist():
            at = min(max(best, int(occupants.low_hz[o]), low), int(occupants.high_hz[o]), high)
            places.append((o, at))
    rf = np.array([at for _, at in places] + [setting.dial_hz + beside], dtype=np.float64)
    who = np.array([o for o, _ in places], dtype=np.int64)
    unlisted_dbm = figure("there", "unlisted_dbm") + setting.antenna_gain_db
    level = np.append(setting.presence.median_dbm[who], unlisted_dbm)
    line = np.zeros(len(rf), dtype=np.int64)
    heard = heard_dbm(setting.chains, wanted, line, rf, level, line + setting.dial_hz)
    met = [_Met(o, at, setting.dial_hz, float(heard[i])) for i, (o, at) in enumerate(places)]
    # a row on both sides has somebody on either
    sides: dict[int, list[str]] = {}
    for o, at in places:
        sides.setdefault(o, []).append("up" if at > setting.dial_hz else "down")
    neighbours = [
        _beside(_whistling(setting, _listed(setting, way, station)), sides[station.occupant])
        for station in met
    ]
    unlisted = _unlisted(setting, way, float(heard[-1]), setting.bar_dbm(CARRIER, 100))
    return _with(way, (*neighbours, _beside(unlisted, ("up", "down"))))


def _beside(who: Who, sides: Sequence[str]) -> Who:
    """Return a neighbour with the sides of the dial setting on which he is tuned in."""
    return Who(who.chance, _changed(who.traits, beside=tuple(sides)), who.service, who.fields)


def _whistling(setting: Setting, who: Who) -> Who:
    """Return a neighbour with the pitch of his carrier, where his row is one carrier."""
    if not who.fields["spot"]:
        return who
    hz = int(who.fields["rf_hz"])
    traits = _changed(who.traits, pitch_hz=float(abs(hz - setting.dial_hz)), elsewhere_hz=(hz,))
    return Who(who.chance, traits, who.service, who.fields)


def _transmitters(setting: Setting) -> Iterator[Way]:
    """Yield harmonics that transmitters near by let out: received like any other signal there."""
    occupants, presence, dial = setting.occupants, setting.presence, setting.dial_hz
    half = setting.bandwidth_hz // 2
    low, high = int(setting.chains.low_hz[0]) - half, int(setting.chains.high_hz[0]) + half
    down = figure("there", "harmonic_down_db")
    spread = math.hypot(figure("there", "local_spread_db"), figure("there", "set_spread_db"))
    near = _loud(figure("there", "local_dbm") - down, spread, setting.bar_dbm(CARRIER, 100))
    for k in TRANSMITTER_HARMONICS:
        way = Way(
            setting.range, TRANSMITTER, "transmitter harmonic", f"RF = {k} f",
            figure("way", TRANSMITTER) / (k - 1), 1.0, 1.0, None, round(dial / k), dial, (),
        )  # fmt: skip
        who = []
        for o in np.flatnonzero((k * occupants.low_hz <= high) & (k * occupants.high_hz >= low)).tolist():
            hz = min(max(round(dial / k), int(occupants.low_hz[o])), int(occupants.high_hz[o]))
            bar = setting.bar_dbm(int(occupants.sound[o]), int(occupants.width_hz[o]))
            loud, share, heard = near, figure("there", "listed_local"), near.level_dbm
            if occupants.level_from[o] == FROM_TABLE:
                # how loud he is here his row says
                own = math.hypot(float(presence.spread_db[o]), figure("there", "set_spread_db"))
                heard = float(presence.median_dbm[o]) - down
                loud, share = _loud(heard, own, bar), 1.0
            service = occupants.services[int(occupants.service[o])]
            mode = "" if occupants.mode[o] < 0 else occupants.modes[int(occupants.mode[o])]
            fields = {
                **occupants.record(o), "rf_hz": hz, "dial_hz": min(max(k * hz, low + half), high - half),
                "heard_dbm": heard, "margin_db": heard - bar, "inverted": None,
            }  # fmt: skip
            traits = _harmonic(setting, way, kinds_sent(service, mode, hz), hz, loud)
            who.append(Who(share * _there(setting, o) * loud.chance, traits, service, fields))
        assert way.entry_hz is not None
        kinds = kinds_sent("unlisted", "", way.entry_hz)
        unlisted = _harmonic(setting, way, kinds, way.entry_hz, near)
        yield _with(way, (*who, Who(figure("there", "local_unlisted") * near.chance, unlisted)))


def _harmonic(setting: Setting, way: Way, kinds: Mapping[str, float], hz: int, loud: _Loud) -> Traits:
    # the harmonic is on the dial frequency itself; one sideband of it is hardly speech any more
    speech = figure("evidence", "harmonic_speech")
    spoilt = dict(kinds) | {"ssb": speech * kinds.get("ssb", 0.0)}
    spoilt["garbled"] = (1.0 - speech) * kinds.get("ssb", 0.0)
    traits = _coming(setting, way, spoilt, hz, setting.dial_hz, loud, local=True)
    return _changed(traits, off=0.0, elsewhere_hz=(hz, setting.dial_hz))


def _own(setting: Setting, birdies: Table) -> Iterator[Way]:
    """Yield what the set's own oscillators put there, and stations that beat with themselves."""
    low, high = int(setting.chains.low_hz[0]), int(setting.chains.high_hz[0])
    here = (birdies["dial_low_hz"] <= high) & (birdies["dial_high_hz"] >= low)
    records = birdies.take(np.flatnonzero(here)).records()
    own = [record for record in records if record["kind"] not in _OF_A_STATION]
    total = max(sum(map(_commonness, own)), 1.0)
    for record in records:
        whistle = record["kind"] in _OF_A_STATION
        cause = SELF_WHISTLE if whistle else BIRDIE
        share = 1.0 if whistle else _commonness(record) / total
        way = Way(
            setting.range, cause, record["kind"], record["equation"], figure("way", cause) * share,
            math.nan if record["moves"] is None else record["moves"], 1.0 if whistle else 0.0, None, None,
            min(max(record["dial_low_hz"], low), high), (),
        )  # fmt: skip
        yield _with(way, [_whistle(way, record) if whistle else _birdie(way, record)])


_OF_A_STATION = ("self-whistle", "IF harmonic")


def _birdie(way: Way, record: Mapping[str, Any]) -> Who:
    traits = Traits(
        moves=way.moves, pad_db_per_db=0.0, off=0.0, heard=mixed({"birdie": 1.0}), pitch_hz=_pitch(record),
        fading=figure("evidence", "fading_own"), stays=figure("evidence", "aerial_own_stays"),
    )  # fmt: skip
    return Who(figure("there", "own_heard"), traits)


def _whistle(way: Way, record: Mapping[str, Any]) -> Who:
    margin = record["margin_db"]
    spread = figure("there", "set_spread_db")
    heard = figure("there", "own_heard") if margin is None else _loud(margin, spread, 0.0).chance
    traits = Traits(
        moves=way.moves, pad_db_per_db=1.0, off=0.0, heard=mixed({"whistle": 1.0}), pitch_hz=_pitch(record),
        level_dbm=math.nan if margin is None else record["heard_dbm"], level_spread_db=spread,
        stays=1.0 - figure("evidence", "aerial_air_goes"),
    )  # fmt: skip
    known = ("label", "service", "table", "row", "heard_dbm", "margin_db")
    fields = {name: record[name] for name in known if record[name] is not None}
    return Who(heard, traits, fields.get("service", ""), fields)


def _pitch(record: Mapping[str, Any]) -> float:
    return math.nan if record["beat_hz"] is None else float(record["beat_hz"])


def _commonness(birdie: Mapping[str, Any]) -> float:
    """Return how common a birdie is, the simplest being 1 or a little more [est].

    Notes
    -----
    Each order more makes it rarer, but of one oscillator by itself: a calibrator is a comb that fills
    the dial, so a harmonic of it is no news there, and none of them is much rarer than its neighbour.
    """
    if birdie["kind"] == "internal" and birdie["harmonic"] is not None:
        return 1.0
    return float(BIRDIE_RARER ** max(birdie["order"] - 2, 0))


# Products that two strong stations make whether or not the tables have them, and their order.
UNLISTED_PAIRS = {"f1 + f2": 2.0, "2 f1 - f2": 3.0}


def _products(setting: Setting, pairs: Table | None) -> Iterator[Way]:
    """Yield products of two stations: those of the tables, and of two that nobody wrote down."""
    by_product: dict[tuple[str, str], list[Mapping[str, Any]]] = {
        (product, "dial"): [] for product in UNLISTED_PAIRS
    }
    if pairs is not None:
        here = np.flatnonzero(np.asarray(pairs["range"]) == setting.range)
        for record in pairs.take(here).records():
            by_product.setdefault((record["product"], record["lands_on"]), []).append(record)
    for (product, lands_on), records in by_product.items():
        pad = float(records[0]["pad_db_per_db"]) if records else UNLISTED_PAIRS[product]
        way = Way(
            setting.range, PAIR, PAIR, f"{product} = {lands_on}", figure("way", PAIR),
            float(records[0]["moves"]) if records else 1.0, pad, None, None, setting.dial_hz, (),
        )  # fmt: skip
        traits = Traits(
            moves=way.moves, pad_db_per_db=pad, heard=mixed({PAIR: 1.0}),
            stays=1.0 - figure("evidence", "aerial_air_goes"),
        )  # fmt: skip
        two = figure("there", "local_unlisted")
        yield _with(way, [*_paired(traits, pad, records), Who(two, traits)])


def _paired(traits: Traits, order: float, records: Sequence[Mapping[str, Any]]) -> Iterator[Who]:
    """Yield pairs of the tables, the loudest of each two names, which come first.

    Notes
    -----
    Any two are taken to be there at once, each at its level: a chance of `written_down` for both together.
    """
    seen: set[tuple[str, str]] = set()
    for record in records[:MOST_PAIRS]:
        names = (record["label_1"], record["label_2"])
        if names in seen:
            continue
        seen.add(names)
        spread = math.hypot(order * figure("there", "set_spread_db"), figure("there", "set_spread_db"))
        loud = _loud(record["margin_db"], spread, 0.0)
        fields = {
            "label": " with ".join(names), "dial_hz": record["loudest_dial_hz"],
            "heard_dbm": record["heard_dbm"], "margin_db": record["margin_db"],
        }  # fmt: skip
        level = record["heard_dbm"] - record["margin_db"] + loud.level_dbm
        own_traits = _changed(traits, level_dbm=level, level_spread_db=loud.spread_db)
        yield Who(figure("there", "written_down") * loud.chance, own_traits, "pair", fields)


def _carrier(ways: Sequence[Way]) -> float:
    """Return how likely somebody is tuned in, against one who has a line of his own."""
    there = max(who.chance for way in ways if way.cause == THE_STATION for who in way.who)
    return min(there / figure("there", "written_down"), 1.0)


def _overloaded(setting: Setting, carrier: float) -> Iterator[Way]:
    """Yield what one strong station does to the set, wherever it is: named where the tables have one.

    Parameters
    ----------
    carrier : float. How likely there is somebody tuned in on whom cross-modulation can ride: `_carrier`.
    """
    occupants = setting.occupants
    into = level_into_first_mixer(setting.chains, occupants, 0)
    mixer = setting.chains.mixer[0][int(setting.chains.mixer_code[0, 0])]
    strong = into >= mixer.intercept_dbm - figure("there", "strong_reach_db")
    # who stands where the set is tuned is heard for himself
    half = setting.bandwidth_hz
    strong &= (occupants.high_hz < setting.dial_hz - half) | (occupants.low_hz > setting.dial_hz + half)
    named: dict[int, float] = {}
    if strong.any():
        named[int(np.argmax(np.where(strong, into, -np.inf)))] = figure("there", "strong_named")
    near = [o for o in np.argsort(-occupants.level_dbm, kind="stable").tolist() if _is_near(setting, o)]
    for o in near[:MOST_NEAR]:
        named.setdefault(o, figure("there", "strong_near"))
    # an overloaded stage passes its station all over the dial, or spoils what is tuned in: which of them, the
    # motion and the place where it is loudest show alike
    stays = figure("evidence", "overload_stays")
    for cause, moves_, pad, shown in (
        (CROSS, 1.0, 2.0, {1.0: carrier}),
        (OVERLOAD, math.nan, 3.0, {0.0: stays, 1.0: 1.0 - stays}),
    ):
        who = []
        for motion, share in shown.items():
            traits = Traits(
                moves=motion, pad_db_per_db=pad, off=0.0,
                heard=mixed({cause: 1.0}), fading=figure("evidence", "fading_local"),
                stays=1.0 - figure("evidence", "aerial_air_goes"), saturates=cause == OVERLOAD,
                rides=True,
            )  # fmt: skip
            chance = share * figure("there", "own_heard") * figure("there", "least_heard") * 2.0
            for o, likelier in named.items():
                hz = (int(occupants.low_hz[o]) + int(occupants.high_hz[o])) // 2
                spot = bool(occupants.spot[o])
                fields = {**occupants.record(o), "rf_hz": hz if spot else None}
                own_traits = _changed(traits, elsewhere_hz=(hz,) if spot else ())
                who.append(Who(chance * likelier, own_traits, fields["service"], fields))
            who.append(Who(chance, traits))
        yield Way(
            setting.range, cause, cause, None, figure("way", cause), moves_, pad, None, None,
            setting.dial_hz, tuple(who),
        )  # fmt: skip


def _none_of_these(setting: Setting) -> Way:
    """Return what stands for all that no table and no figure of the set can know of."""
    traits = Traits(heard=mixed({"house": 1.0}), stays=1.0 - figure("evidence", "aerial_house_goes"))
    return Way(
        setting.range, NONE_OF_THESE, None, None, figure("way", NONE_OF_THESE), math.nan, math.nan, None,
        None, setting.dial_hz, (Who(1.0, traits),),
    )  # fmt: skip
