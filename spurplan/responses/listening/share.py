"""How much of a range is usable: at a typical hour, and with everybody on the air; how sure that is.

At one setting the first of these that holds is what becomes of it: unknown (an
image beyond the tables), dead (on an IF of the set), deaf (the wanted signal goes
under in the noise), spoilt (an intruder), clear.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.normal_law import fast_share_below
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.beyond import beyond_tables
from spurplan.responses.dead_dial import dead_stretches
from spurplan.responses.levels import external_dbm_per_hz, total_dbm_per_hz
from spurplan.responses.listening.all_arrivals import all_arrivals
from spurplan.responses.listening.arrivals import Arrivals, Counted, Dials, Expecting, Ways, with_sidebands
from spurplan.responses.listening.presence import Presence, everybody, is_likely, likely
from spurplan.responses.listening.worlds import SET_FACTORS, Spreads, Worlds
from spurplan.responses.strong_signals.overload import may_mix_in, mixed_in_mw_hz

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# One emission on more of the settings than this is on or off for all of them at once.
DECIDING_SHARE = 0.05
# what an emission takes on the mean before anything is said to hang on it
DECIDING_LOSS = 0.02
# Of so many settings every one is judged in each world: an interval needs no more.
WORLD_SETTINGS = 250
# as good as certain, as an expected number
CERTAIN = 50.0
# keeps a logarithm defined where there is no noise at all [mW/Hz]
SMALLEST_POWER = 1e-300


@dataclass(frozen=True)
class Shares:
    """What becomes of the dial of V candidates; parts of one, shape (V,) but for `worlds`.

    Attributes
    ----------
    usable : float64. Mean chance that a setting can be listened to.
    worlds : float64, shape (V, Z). The same in each world.
    clear : float64. Part that can be listened to whatever is on the air.
    unknown, dead, noise, intruders : float64. What is lost to images beyond the tables, to the set's own
        IFs, to noise, to intruders; with `usable` they add to 1.
    place : float64. What of the noise would be lost with a set without noise of its own.
    spoilt : float64, shape (V, K). Chance that an intruder spoils a setting.
    decided_by : tuple of tuple of int, V. Rows of `arrivals`, one for each emission that is received on
        more than `DECIDING_SHARE` of the settings and on whose being on much hangs.
    ways, arrivals, dials : what was followed, what arrives where, and the settings looked at.
    this_hour : bool. Whether all that is so at one hour of a month.
    """

    usable: Floats
    worlds: Floats
    clear: Floats
    unknown: Floats
    dead: Floats
    noise: Floats
    intruders: Floats
    place: Floats
    spoilt: Floats
    decided_by: tuple[tuple[int, ...], ...]
    ways: Ways
    arrivals: Arrivals
    dials: Dials
    this_hour: bool = False

    def interval(self, low: float = 0.1, high: float = 0.9) -> tuple[Floats, Floats]:
        """Return the ends of the interval of `usable` over the worlds, shape (V,) each."""
        ends = np.quantile(self.worlds, [low, high], axis=1)
        # the worlds look at fewer settings than the share
        return np.minimum(ends[0], self.usable), np.maximum(ends[1], self.usable)


@dataclass(frozen=True)
class Air:
    """Who is on the air: what every candidate is judged against.

    Attributes
    ----------
    occupants, presence : Occupants, and who of them is on the air at the hour in question.
    stranger_dbm : float. Level of a strong station beyond the tables. [dBm, 50 ohm]
    this_hour : bool. Whether that is who can be heard at one hour of a month.
    """

    occupants: Occupants
    presence: Presence
    stranger_dbm: float
    this_hour: bool = False


def shares(
    chains: Chains,
    air: Air,
    settings: Settings,
    dials: Dials,
    worlds: Worlds,
    spreads: Spreads,
    *,
    with_clear: bool = True,
) -> Shares:
    """Return what becomes of the dial of each candidate.

    Parameters
    ----------
    chains : Chains, V candidates.
    air : Air.
    settings : Settings. Orders and thresholds.
    dials : Dials. The settings looked at.
    worlds, spreads : what is drawn together for all.
    with_clear : bool. Whether `clear` is worked out, too; NaN otherwise.

    Notes
    -----
    Noise that strong stations add by the set's oscillators makes deaf, and hides no intruder.
    The share by closed form, all spreads in one; its ends by the worlds. The closed form is within
    0.03 of thousands of worlds drawn one by one.
    """
    ways, arrivals = all_arrivals(chains, air.occupants, air.presence, settings, dials, spreads)
    noise = _Noise(ways.chains, dials, *likely(air.occupants, air.presence))
    lost = _unknown(ways.chains, air, settings, dials), _dead(ways.chains, dials)
    unknown, dead = lost[0], lost[1] & ~lost[0]
    open_ = ~(unknown | dead)
    chances = noise.heard(np.arange(dials.count), spreads.detection_db, np.zeros(1))
    heard = chances.mean[:, :, 0]
    expected = arrivals.expected(spread_db=arrivals.total_spread_db())
    spoilt = 1.0 - np.exp(-_sums(arrivals, expected, dials, len(chains)))
    others = ~_mixing(ways.chains, air, dials)[arrivals.place // dials.count, arrivals.occupant]
    clear_of_others = np.exp(-_sums(arrivals, expected * others, dials, len(chains)))
    settings_usable = chances.usable(1.0 - spoilt[:, :, None], clear_of_others[:, :, None])[:, :, 0]
    usable = (open_ * settings_usable).mean(axis=1)
    deciding = _deciding(arrivals, dials, len(chains))
    in_worlds = _in_worlds(ways, arrivals, others, deciding, open_, noise, worlds, spreads)
    clear = _clear(chains, air, settings, dials, spreads, open_, noise) if with_clear else usable * np.nan
    return Shares(
        usable=usable,
        worlds=in_worlds,
        clear=clear,
        unknown=unknown.mean(axis=1),
        dead=dead.mean(axis=1),
        noise=(open_ * (1.0 - heard)).mean(axis=1),
        intruders=(open_ * (heard - settings_usable)).mean(axis=1),
        place=(open_ * noise.lost_to_the_place(spreads.detection_db)).mean(axis=1),
        spoilt=spoilt,
        decided_by=_deciders(arrivals, deciding, expected, open_ * heard, dials, len(chains)),
        ways=ways,
        arrivals=arrivals,
        dials=dials,
        this_hour=air.this_hour,
    )


@dataclass(frozen=True)
class _Heard:
    """The chance that the wanted signal is heard while those are off that are mixed in as noise, and on.

    Attributes
    ----------
    quiet, noisy : float64, shape (V, K, Z).
    there : float64, shape (V, K, 1). The chance that they are on.
    """

    quiet: Floats
    noisy: Floats
    there: Floats

    @property
    def mean(self) -> Floats:
        """That it is heard, shape (V, K, Z)."""
        return self.quiet - self.there * (self.quiet - self.noisy)

    def usable(self, clear: Floats, clear_of_others: Floats) -> Floats:
        """Return the chance that it is heard and nobody spoils it, shape (V, K, Z).

        Parameters
        ----------
        clear, clear_of_others : float64, shape (V, K, Z). The chance that nobody spoils it, and that nobody
            does but those who may be mixed in: while they are off they do neither, and one that spoils is
            not lost a second time to its noise.
        """
        # that nobody spoils it and they are on
        with_them = np.maximum(clear - (1.0 - self.there) * clear_of_others, 0.0)
        return self.quiet * clear - (self.quiet - self.noisy) * with_them


class _Noise:
    """The wanted signal against the noise at every setting of V candidates, shape (V K,)."""

    def __init__(self, chains: Chains, dials: Dials, on_the_air: Occupants, chance: Floats) -> None:
        hz = dials.hz
        candidate = np.repeat(np.arange(len(chains), dtype=np.int64), dials.count)
        self.shape = hz.shape
        self.chains, self.hz = chains, hz.ravel()
        self.listener_code = chains.listener_code[candidate]
        self.external_dbm = external_dbm_per_hz(chains, candidate, self.hz)
        total = total_dbm_per_hz(chains, candidate, self.hz)
        # what the set adds, as a power, and what its oscillators mix in with strong stations
        self.own = np.maximum(_power(total) - _power(self.external_dbm), 0.0)
        mixed_in, there = mixed_in_mw_hz(chains, on_the_air, chance, hz)
        self.mixed_in, self.there = mixed_in.ravel(), there.ravel()

    def spare_db(self, settings: Ints, noise_db: Floats, mixed_in: Floats) -> Floats:
        """Return how far the wanted signal is over what it needs, shape (n, Z). [dB]

        Parameters
        ----------
        settings : int64, shape (n,). Their numbers.
        noise_db : float64, shape (Z,). How much higher the noise outside is. [dB]
        mixed_in : float64, shape (n,). What the oscillators mix in with strong stations. [mW/Hz]
        """
        external = self.external_dbm[settings, None] + noise_db
        more = (self.own[settings] + mixed_in)[:, None]
        total = 10.0 * np.log10(np.maximum(_power(external) + more, SMALLEST_POWER))
        return self._over(settings, external, total)

    def lost_to_the_place(self, detection_db: float) -> Floats:
        """Return the chance that the wanted signal goes under in the noise outside alone, shape (V, K)."""
        external = self.external_dbm[:, None]
        spare = self._over(np.arange(len(self.hz), dtype=np.int64), external, external)
        return 1.0 - fast_share_below(spare / detection_db).reshape(self.shape)

    def _over(self, settings: Ints, external_dbm: Floats, total_dbm: Floats) -> Floats:
        out = np.empty(total_dbm.shape)
        codes = self.listener_code[settings]
        for code, listener in enumerate(self.chains.listener):
            rows = np.flatnonzero(codes == code)
            wanted = listener.wanted_dbm(self.hz[settings[rows], None], external_dbm[rows])
            out[rows] = wanted - total_dbm[rows] - listener.deaf_below_dbhz
        return out

    def heard(self, looked: Ints, detection_db: float, noise_db: Floats) -> _Heard:
        """Return the chance that the wanted signal is heard on some settings of each candidate.

        Parameters
        ----------
        looked : int64, shape (K,). Which settings of each.
        noise_db : float64, shape (Z,). How much higher the noise outside is. [dB]
        """
        candidates, every = self.shape
        settings = (np.arange(candidates, dtype=np.int64)[:, None] * every + looked).ravel()

        def chance(numbers: Ints, mixed_in: Floats) -> Floats:
            return fast_share_below(self.spare_db(numbers, noise_db, mixed_in) / detection_db)

        quiet = chance(settings, np.zeros(len(settings)))
        noisy = quiet.copy()
        # mostly nothing is mixed in, and then one is the other
        rows = np.flatnonzero(self.mixed_in[settings] > 0.0)
        noisy[rows] = chance(settings[rows], self.mixed_in[settings[rows]])
        shape = candidates, len(looked), len(noise_db)
        there = self.there[settings].reshape(*shape[:2], 1)
        return _Heard(quiet.reshape(shape), noisy.reshape(shape), there)


def _power(dbm: Floats) -> Floats:
    power: Floats = 10.0 ** (dbm / 10.0)
    return power


def _sums(arrivals: Arrivals, expected: Floats, dials: Dials, candidates: int) -> Floats:
    """Return the expected number of spoiling stations of each setting, shape (V, K)."""
    counted = Counted(arrivals, arrivals.place, candidates * dials.count)
    return counted.total(expected).reshape(candidates, dials.count)


def _stretches(candidate: Ints, low_hz: Ints, high_hz: Ints, dials: Dials, candidates: int) -> Bools:
    """Whether a setting lies in any of some stretches of dial, shape (V, K)."""
    first, beyond = dials.within(candidate, low_hz, high_hz)
    turns = np.zeros((candidates, dials.count + 1), dtype=np.int64)
    np.add.at(turns, (candidate, first), 1)
    np.add.at(turns, (candidate, np.maximum(beyond, first)), -1)
    inside: Bools = np.cumsum(turns, axis=1)[:, :-1] > 0
    return inside


def _unknown(chains: Chains, air: Air, settings: Settings, dials: Dials) -> Bools:
    beyond = beyond_tables(chains, air.occupants, settings, air.stranger_dbm)
    return _stretches(beyond.candidate, beyond.dial_low_hz, beyond.dial_high_hz, dials, len(chains))


def _dead(chains: Chains, dials: Dials) -> Bools:
    candidate, low, high = dead_stretches(chains)
    return _stretches(candidate, low, high, dials, len(chains))


def _mixing(chains: Chains, air: Air, dials: Dials) -> Bools:
    """Whether each who may arrive is likely there and might be mixed in as noise, shape (V, n)."""
    occupants, presence = with_sidebands(air.occupants, air.presence)
    as_loud = occupants.replace(level_dbm=presence.median_dbm)
    return is_likely(occupants, presence)[None] & may_mix_in(chains, as_loud, dials.hz)


def _clear(
    chains: Chains,
    air: Air,
    settings: Settings,
    dials: Dials,
    spreads: Spreads,
    open_: Bools,
    noise: _Noise,
) -> Floats:
    """Return the part that is neither lost nor spoilt with everybody on the air, shape (V,)."""
    everyone = everybody(air.presence)
    _, arrivals = all_arrivals(chains, air.occupants, everyone, settings, dials, spreads.times(0.0))
    spoilt = np.zeros(open_.size, dtype=np.bool_)
    spoilt[arrivals.place[arrivals.over_db >= 0.0]] = True
    clear = open_ & ~spoilt.reshape(open_.shape)
    every, no_more = np.arange(open_.size, dtype=np.int64), np.zeros(1)
    clear &= (noise.spare_db(every, no_more, np.zeros(open_.size)) >= 0.0).reshape(open_.shape)
    # noise that everybody makes together is looked at where nothing else is in the way
    together = likely(air.occupants, everyone)
    for v in np.flatnonzero(clear.any(axis=1)).tolist():
        at = np.flatnonzero(clear[v])
        chain = noise.chains.take(np.array([v]))
        mixed_in, _ = mixed_in_mw_hz(chain, *together, dials.hz[v : v + 1, at])
        spare = noise.spare_db(v * dials.count + at, no_more, mixed_in[0])
        clear[v, at] = spare[:, 0] >= 0.0
    share: Floats = clear.mean(axis=1)
    return share


def _deciding(arrivals: Arrivals, dials: Dials, candidates: int) -> Ints:
    """Return which emission that is received all over a range each row is of, shape (n,); -1 for others."""
    _, number = np.unique(arrivals.emission, return_inverse=True)
    count = int(number.max(initial=-1)) + 1
    candidate = arrivals.place // dials.count
    # each setting of an emission once
    far = candidates * dials.count
    seen = np.divmod(distinct(number.astype(np.int64) * far + arrivals.place), far)
    settings = np.bincount(seen[0] * candidates + seen[1] // dials.count, minlength=count * candidates)
    deciding = settings > DECIDING_SHARE * dials.count
    return np.where(deciding[number * candidates + candidate], number, -1)


def _deciders(
    arrivals: Arrivals, deciding: Ints, expected: Floats, heard: Floats, dials: Dials, candidates: int
) -> tuple[tuple[int, ...], ...]:
    """Return a row for each emission that decides much of each candidate, most first."""
    out: list[tuple[int, ...]] = []
    open_ = heard.ravel()
    for v in range(candidates):
        rows = np.flatnonzero((deciding >= 0) & (arrivals.place // dials.count == v))
        # what it takes where it is on, and how unsure that is
        takes = (1.0 - np.exp(-expected[rows])) * open_[arrivals.place[rows]]
        kinds, first, number = np.unique(deciding[rows], return_index=True, return_inverse=True)
        share = np.bincount(number, weights=takes, minlength=len(kinds)) / dials.count
        order = [at for at in np.argsort(-share, kind="stable").tolist() if share[at] >= DECIDING_LOSS]
        out.append(tuple(int(rows[first[at]]) for at in order))
    return tuple(out)


def _in_worlds(
    ways: Ways,
    arrivals: Arrivals,
    others: Bools,
    deciding: Ints,
    open_: Bools,
    noise: _Noise,
    worlds: Worlds,
    spreads: Spreads,
) -> Floats:
    """Return the usable share of each candidate in each world, shape (V, Z)."""
    candidates, every = open_.shape
    step = max(1, every // WORLD_SETTINGS)
    looked = np.arange(step // 2, every, step)
    rows = np.flatnonzero(np.isin(arrivals.place % every, looked))
    some, deciding, others = arrivals.take(rows), deciding[rows], others[rows]
    place = (some.place // every) * len(looked) + np.searchsorted(looked, some.place % every)
    heard = noise.heard(looked, spreads.detection_db, spreads.noise_db * worlds.scores("noise"))
    clear, clear_of_others = (np.empty((candidates, len(looked), worlds.count)) for _ in range(2))
    services = ways.occupants.services
    louder = [worlds.scores(f"level of {name}") for name in services]
    busier = [np.exp(spreads.activity * worlds.scores(f"activity of {name}")) for name in services]
    of_set = np.stack([worlds.scores(name) for name in SET_FACTORS])
    own = _of_emissions(ways, some, deciding, worlds)
    counted = Counted(some, place, candidates * len(looked))
    expecting = Expecting(some)
    # most arrive by themselves, and most are mixed in nowhere as noise
    of_several = bool((some.partner >= 0).any())
    alike = bool(others.all())
    for z in range(worlds.count):
        level = np.array([score[z] for score in louder])
        busy = np.array([factor[z] for factor in busier])
        up, down = np.maximum(of_set[:, z], 0.0), np.maximum(-of_set[:, z], 0.0)
        shift = some.service_db * level[some.service] + up @ some.up_db + down @ some.down_db
        activity = busy[some.service]
        if of_several:
            shift = shift + some.with_service_db * level[some.with_service]
            shift = shift + some.third_service_db * level[some.third_service]
            activity = activity * np.where(some.with_many, busy[some.with_service], 1.0)
            activity = activity * np.where(some.third_many, busy[some.third_service], 1.0)
        expected = expecting.number(shift, activity)
        if own is not None:
            expected = own.decided(some, expected, shift, z)
        clear[:, :, z] = np.exp(-counted.total(expected).reshape(candidates, len(looked)))
        if not alike:
            left = counted.total(expected * others)
            clear_of_others[:, :, z] = np.exp(-left.reshape(candidates, len(looked)))
    if alike:
        clear_of_others = clear
    out: Floats = (open_[:, looked, None] * heard.usable(clear, clear_of_others)).mean(axis=1)
    return out


@dataclass(frozen=True)
class _Emissions:
    """Those that are on or off for a whole range: their rows, and each one's own level and luck."""

    rows: Ints
    score: Floats
    luck: Floats

    def decided(self, some: Arrivals, expected: Floats, shift: Floats, z: int) -> Floats:
        """Return the expected numbers with each of these on for certain, or off."""
        rows = self.rows
        over = some.over_db[rows] + shift[rows]
        loud = (over + some.own_db[rows] * self.score[:, z] >= 0.0) & (self.luck[:, z] < some.stations[rows])
        there = self.luck[:, z] < 1.0 - np.exp(-expected[rows])
        out = expected.copy()
        out[rows] = np.where(np.where(some.single[rows], loud, there), CERTAIN, 0.0)
        return out


def _of_emissions(ways: Ways, some: Arrivals, deciding: Ints, worlds: Worlds) -> _Emissions | None:
    rows = np.flatnonzero(deciding >= 0)
    if not len(rows):
        return None
    _, first, number = np.unique(deciding[rows], return_index=True, return_inverse=True)
    names = [_name_of(ways.occupants, some, int(rows[at])) for at in first.tolist()]
    score = np.stack([worlds.scores(name) for name in names])
    luck = np.stack([worlds.uniforms(name) for name in names])
    return _Emissions(rows, score[number], luck[number])


def _station(occupants: Occupants, who: int) -> str:
    edges = f"{occupants.low_hz[who]}-{occupants.high_hz[who]}"
    return f"{occupants.tables[int(occupants.table[who])]} {occupants.row[who]} {edges}"


def _name_of(occupants: Occupants, some: Arrivals, row: int) -> str:
    """Return what names an emission whichever set hears it."""
    partner, third = int(some.partner[row]), int(some.third[row])
    if some.single[row]:
        names = [_station(occupants, who) for who in (int(some.occupant[row]), partner, third) if who >= 0]
        return " with ".join(names)
    if partner >= 0:
        codes = (some.service, some.with_service, *([some.third_service] if third >= 0 else []))
        services = (int(code[row]) for code in codes)
        return f"{' with '.join(occupants.services[code] for code in services)} {some.emission[row]}"
    return f"{occupants.services[int(some.service[row])]} {some.emission[row]}"
