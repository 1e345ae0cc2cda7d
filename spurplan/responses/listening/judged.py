"""The judgement of ranges, stretches and settings: from chains and occupants to findings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.activity import ActivityTable, shipped_activity
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings, here_and_now, loudest_typical_dbm
from spurplan.responses.levels import external_dbm_per_hz
from spurplan.responses.listening.arrivals import Counted, Dials, Expecting
from spurplan.responses.listening.findings import (
    BUSY,
    BY_SEVERAL,
    EVERYBODY,
    TYPICAL,
    UNNAMED,
    CoverFinding,
    Loss,
    RangeFinding,
    SettingFinding,
    WeakImage,
)
from spurplan.responses.listening.limits import limits
from spurplan.responses.listening.presence import everybody, present
from spurplan.responses.listening.share import Air, Shares, shares
from spurplan.responses.listening.unlisted import unlisted
from spurplan.responses.listening.weak_image import weak_images
from spurplan.responses.listening.worlds import Worlds, shipped_spreads
from spurplan.responses.routes import response_name, steps_of, wanted_of
from spurplan.units import hz_text

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Settings looked at on a range, whoever asks, so that one set has one figure: with 500 the share is
# within 0.25 points of what 6,000 give on eight sets.
SETTINGS = 500
MOST_LOSSES = 5
MOST_REJECTION_DB = 120


@dataclass(frozen=True)
class AirAtHour:
    """Who is on the air where a set stands, and when: what all judgements of one question share.

    Attributes
    ----------
    occupants : Occupants.
    region : int. ITU region whose numbers apply.
    antenna_gain_db : float. [dB]
    terminals : bool. Whether the noise was measured at the terminals.
    stranger_dbm : float. Level of a strong station beyond the tables. [dBm]
    activity : ActivityTable or None. Of the place and hour asked about; None for that of the year.
    """

    occupants: Occupants
    region: int
    antenna_gain_db: float
    terminals: bool
    stranger_dbm: float
    activity: ActivityTable | None = None

    def air(self, hour: str) -> Air:
        """Return who is on the air at some hour."""
        presence = present(
            self.occupants,
            self.region,
            "typical" if hour == TYPICAL else "busy",
            self.antenna_gain_db,
            terminals=self.terminals,
            table=self.activity,
        )
        return Air(
            self.occupants,
            everybody(presence) if hour == EVERYBODY else presence,
            self.stranger_dbm,
            this_hour=self.activity is not None,
        )


def place_of(receiver: Receiver, occupants: Occupants, settings: Settings) -> AirAtHour:
    """Return where a set stands and who may be on the air for it."""
    region = settings.region if settings.region is not None else receiver.region
    now = here_and_now(receiver, settings)
    return AirAtHour(
        occupants=occupants,
        region=region if region is not None else 1,
        antenna_gain_db=receiver.antenna_gain_db,
        terminals=receiver.noise is not None,
        stranger_dbm=loudest_typical_dbm(receiver),
        activity=None if now is None else now.activity,
    )


def judge_ranges(
    chains: Chains,
    place: AirAtHour,
    settings: Settings,
    hour: str,
    cover: tuple[int, int] | None = None,
) -> list[RangeFinding]:
    """Return what becomes of each range, or of the part of it inside a stretch.

    Parameters
    ----------
    chains : Chains, V candidates, one a range.
    place : AirAtHour.
    settings : Settings.
    hour : str. `TYPICAL`, `BUSY` or `EVERYBODY`.
    cover : (low, high) or None. The stretch asked about; every candidate holds some of it. [Hz]

    Returns
    -------
    list of RangeFinding, V.
    """
    findings = findings_of(judged(chains, place, settings, hour, cover), hour, cover is not None)
    within = chains if cover is None else chains.within(cover)
    shares_unlisted = unlisted_share(chains, place, settings, cover).tolist()
    return [
        _with_open(finding, weak, share)
        for finding, weak, share in zip(findings, weak_images(within, settings), shares_unlisted, strict=True)
    ]


def _with_open(finding: RangeFinding, weak: WeakImage | None, unlisted_share: float) -> RangeFinding:
    """Return a finding with what holds whoever is listed; what nobody can tell of is not clear."""
    clear = max(finding.clear - unlisted_share, 0.0)
    return replace(finding, weak_image=weak, unlisted=unlisted_share, clear=clear)


def judge_evening_too(
    chains: Chains,
    place: AirAtHour,
    settings: Settings,
    hour: str,
    covers: Sequence[CoverFinding] = (),
    cover: tuple[int, int] | None = None,
) -> list[tuple[RangeFinding, RangeFinding]]:
    """Return what becomes of each range at an hour, and on a busy evening, on which its word rests.

    Parameters
    ----------
    covers, cover : what `judge_cover` has found of a stretch, and that stretch; nothing for all of each.
    """
    busy = [of_cover.busy for of_cover in covers] or judge_ranges(chains, place, settings, BUSY)
    if hour == BUSY:
        return list(zip(busy, busy, strict=True))
    now = findings_of(judged(chains, place, settings, hour, cover), hour, cover is not None)
    # what holds whoever is on the air holds at every hour
    return [
        (replace(_with_open(finding, then.weak_image, then.unlisted), busy_usable=then.usable), then)
        for finding, then in zip(now, busy, strict=True)
    ]


def judged(
    chains: Chains,
    place: AirAtHour,
    settings: Settings,
    hour: str,
    cover: tuple[int, int] | None = None,
    count: int = SETTINGS,
    *,
    with_clear: bool = True,
) -> Shares:
    """Return the shares of each candidate on some settings of its dial; see `judge_ranges`, `shares`."""
    dials, worlds = _dials(chains, cover, count), worlds_of(settings)
    return shares(chains, place.air(hour), settings, dials, worlds, shipped_spreads(), with_clear=with_clear)


def unlisted_share(
    chains: Chains, place: AirAtHour, settings: Settings, cover: tuple[int, int] | None = None
) -> Floats:
    """Return of what part of each dial nobody can tell, for the tables list hardly anybody there."""
    within = chains if cover is None else chains.within(cover)
    return unlisted(within, place.occupants, settings, place.stranger_dbm).share


def findings_of(dial_shares: Shares, hour: str, cover: bool) -> list[RangeFinding]:
    """Return what was found of each candidate, in words' reach."""
    return [_range_finding(dial_shares, v, hour, cover) for v in range(len(dial_shares.usable))]


def judge_cover(
    chains: Chains, place: AirAtHour, settings: Settings, cover: tuple[int, int]
) -> list[CoverFinding]:
    """Return whether a stretch is usable on each candidate, and what it would take; see `judge_ranges`."""
    busy = judged(chains, place, settings, BUSY, cover)
    limit = limits()["cover"]["stranger"]
    weak = weak_images(chains.within(cover), settings)
    open_share = unlisted_share(chains, place, settings, cover).tolist()
    out = []
    for v in range(len(chains)):
        stranger = float(busy.spoilt[v].mean())
        out.append(
            CoverFinding(
                busy=_with_open(_range_finding(busy, v, BUSY, True), weak[v], open_share[v]),
                stranger=stranger,
                limit=limit,
                more_db=0.0 if stranger < limit else _rejection_for(busy, v, limit),
                regulars=_regulars(busy, v),
            )
        )
    return out


def judge_settings(
    chains: Chains,
    place: AirAtHour,
    settings: Settings,
    hour: str,
    dial_hz: Ints,
) -> list[SettingFinding]:
    """Return what becomes of one setting of each candidate.

    Parameters
    ----------
    dial_hz : int64, shape (V,). [Hz]
    """
    dials = Dials(dial_hz, dial_hz, 1)
    dial_shares = shares(
        chains, place.air(hour), settings, dials, worlds_of(settings), shipped_spreads(), with_clear=False
    )
    wanted = _wanted_dbm(chains, dial_hz)
    unlisted_there = unlisted(chains, place.occupants, settings, place.stranger_dbm).at(dial_hz)
    out = []
    for v in range(len(chains)):
        states = (
            ("unknown", dial_shares.unknown[v]),
            ("dead", dial_shares.dead[v]),
            ("deaf", dial_shares.noise[v] > 0.5),
            ("unlisted", unlisted_there[v]),
        )
        state = next((name for name, holds in states if holds), "")
        out.append(
            SettingFinding(
                range=chains.names[int(chains.name_code[v])],
                dial_hz=int(dial_hz[v]),
                hour=hour,
                usable_chance=float(dial_shares.usable[v]),
                wanted_dbm=float(wanted[v]),
                state=state,
                losses=_losses(dial_shares, v),
            )
        )
    return out


def worlds_of(settings: Settings) -> Worlds:
    """Return the worlds that settings ask for."""
    return Worlds(seed=int(settings.seed), count=int(settings.worlds))


def _dials(chains: Chains, cover: tuple[int, int] | None, count: int = SETTINGS) -> Dials:
    low, high = chains.low_hz, chains.high_hz
    if cover is not None:
        low, high = np.maximum(low, cover[0]), np.minimum(high, cover[1])
    return Dials(low, high, count)


def _range_finding(dial_shares: Shares, v: int, hour: str, cover: bool) -> RangeFinding:
    chains, dials = dial_shares.ways.chains, dial_shares.dials
    low, high = (float(ends[v]) for ends in dial_shares.interval())
    # with everybody on the air nothing hangs on anybody
    deciders = () if hour == EVERYBODY else dial_shares.decided_by[v]
    names = tuple(_decider(dial_shares, number, v) for number in deciders)
    middle = (dials.low_hz + dials.high_hz) // 2
    return RangeFinding(
        range=chains.names[int(chains.name_code[v])],
        low_hz=int(dials.low_hz[v]),
        high_hz=int(dials.high_hz[v]),
        cover=cover,
        hour=hour,
        usable=float(dial_shares.usable[v]),
        usable_low=low,
        usable_high=high,
        clear=float(dial_shares.clear[v]),
        unknown=float(dial_shares.unknown[v]),
        dead=float(dial_shares.dead[v]),
        noise=float(dial_shares.noise[v]),
        place=float(dial_shares.place[v]),
        intruders=float(dial_shares.intruders[v]),
        wanted_dbm=float(_wanted_dbm(chains, middle)[v]),
        decided_by=names,
        losses=_losses(dial_shares, v),
        regulars=_regulars(dial_shares, v),
        this_hour=dial_shares.this_hour,
    )


def _decider(dial_shares: Shares, row: int, v: int) -> str:
    """Return the name of an emission on which much hangs: a station, or one of a band near a frequency."""
    occupants, arrivals = dial_shares.ways.occupants, dial_shares.arrivals
    who = int(arrivals.occupant[row])
    label = occupants.label_of(who) or "an unnamed station"
    others = [other for other in (int(arrivals.partner[row]), int(arrivals.third[row])) if other >= 0]
    if others:
        return " with ".join([label, *(occupants.label_of(who) or "an unnamed station" for who in others)])
    if arrivals.single[row]:
        return label
    lines, line = dial_shares.ways.lines, int(arrivals.line[row])
    dial = int(dial_shares.dials.hz.ravel()[arrivals.place[row]])
    rf_hz = round((lines.p[0][line] * dial + lines.q[0][line]) / lines.d[0][line], -3)
    return f"a station of {label} near {hz_text(int(rf_hz))}"


def _wanted_dbm(chains: Chains, dial_hz: Ints) -> Floats:
    """Return the level of the wanted signal at a setting of each candidate, shape (V,). [dBm]"""
    every = np.arange(len(chains), dtype=np.int64)
    density = external_dbm_per_hz(chains, every, dial_hz)
    listeners = [chains.listener[code] for code in chains.listener_code.tolist()]
    return np.array(
        [
            float(listener.wanted_dbm(hz, noise))
            for listener, hz, noise in zip(listeners, dial_hz, density, strict=True)
        ]
    )


def _losses(dial_shares: Shares, v: int) -> tuple[Loss, ...]:
    """Return who takes most of a dial by which way, most first."""
    arrivals, ways, count = dial_shares.arrivals, dial_shares.ways, dial_shares.dials.count
    rows = np.flatnonzero(arrivals.place // count == v)
    if not len(rows):
        return ()
    some = arrivals.take(rows)
    chance = 1.0 - np.exp(-some.expected(spread_db=some.total_spread_db()))
    wanted = wanted_of(ways.chains, v)
    used, number = np.unique(some.line, return_inverse=True)
    responses = [
        response_name(steps_of(ways.lines, line), wanted) if line < len(ways.lines) else BY_SEVERAL
        for line in used.tolist()
    ]
    labels = ways.occupants.label[some.occupant].astype(np.int64)
    names, way = np.unique(np.array(responses), return_inverse=True)
    key = way[number] * (int(labels.max()) + 1) + labels
    kinds, first, which = np.unique(key, return_index=True, return_inverse=True)
    # several stations of one label at one setting are not twice as bad
    total = np.bincount(which, weights=chance) / count
    order = np.argsort(-total, kind="stable")[:MOST_LOSSES]
    codes = np.divmod(kinds[order], int(labels.max()) + 1)
    bands = _bands_of(ways.occupants.take(np.sort(some.occupant[first[order]])))
    return tuple(
        Loss(
            str(names[way_code]),
            name := ways.occupants.labels[label] or UNNAMED,
            min(float(total[at]), 1.0),
            bands.get(name, name),
        )
        for at, way_code, label in zip(order.tolist(), *(part.tolist() for part in codes), strict=True)
    )


def _bands_of(occupants: Occupants) -> dict[str, str]:
    """Return service and band of occupants by their label; they are named alike in every region."""
    table = shipped_activity()
    middle = np.sqrt(occupants.low_hz.astype(np.float64) * occupants.high_hz)
    rows = table.rows_for(occupants.service, occupants.services, middle, 1)
    return {
        occupants.label_of(number): f"{occupants.services[service]} {table.band[row]}"
        for number, (service, row) in enumerate(zip(occupants.service.tolist(), rows.tolist(), strict=True))
    }


def _regulars(dial_shares: Shares, v: int) -> tuple[str, ...]:
    """Return the single stations that are nearly always heard, with the settings they are heard on."""
    arrivals, ways, dials = dial_shares.arrivals, dial_shares.ways, dial_shares.dials
    rows = np.flatnonzero((arrivals.place // dials.count == v) & arrivals.single & (arrivals.partner < 0))
    some = arrivals.take(rows)
    chance = 1.0 - np.exp(-some.expected(spread_db=some.total_spread_db()))
    heard = np.flatnonzero(
        (chance >= limits()["named"]["chance"]) & (some.over_db >= limits()["named"]["over_bar"])
    )
    dial = dials.hz.ravel()[some.place]
    out: dict[str, str] = {}
    loudest_first = heard[np.argsort(-some.over_db[heard], kind="stable")]
    # of each station the setting on which it is loudest
    _, first = np.unique(some.occupant[loudest_first], return_index=True)
    for row in loudest_first[np.sort(first)].tolist():
        label = ways.occupants.label_of(int(some.occupant[row])) or "an unnamed station"
        out.setdefault(label, f"{label} is at {hz_text(int(round(dial[row], -3)))} as well")
    return tuple(out.values())


def _rejection_for(dial_shares: Shares, v: int, limit: float) -> float | None:
    """Return the least more rejection with which strangers are rarer than a limit, in whole decibels."""
    arrivals, dials = dial_shares.arrivals, dial_shares.dials
    some = arrivals.take(np.flatnonzero(arrivals.place // dials.count == v))
    expecting = Expecting(some, some.total_spread_db())
    counted = Counted(some, some.place - v * dials.count, dials.count)

    def stranger(more_db: float) -> float:
        return float((1.0 - np.exp(-counted.total(expecting.number(-more_db)))).mean())

    low, high = 0, MOST_REJECTION_DB
    if stranger(high) >= limit:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if stranger(middle) < limit else (middle, high)
    return float(high)
