"""What becomes of a dial when every station is drawn: the judgement's rule, and no short cut.

In a world all services have their levels and numbers, the noise, every Q and every
ceiling are what they are that evening; the set is built anew with them. Then station by
station is put on the air, on a place of its own in its band and as loud as luck has it, and
setting by setting it is asked what is heard. Nothing is a mean of anything before the end.

Taken from the package: its data files, the levels of stations at the aerial of a circuit
given, and the noise; each of them is held against something else in tests of its own.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER, VOICE, emission_of
from spurplan.occupancy.activity import Hour, shipped_activity
from spurplan.occupancy.occupants import FROM_TABLE, Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.levels import external_dbm_per_hz, heard_dbm, total_dbm_per_hz
from spurplan.responses.lines import Lines, enumerate_lines
from spurplan.tomlfile import shipped_toml

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Worlds in which it is seen who of one service comes in most often by one way; they are not counted.
TRIAL_WORLDS = 100
# By so much more than expected, its own luck left aside, no world makes a station louder. [dB]
SPARE_DB = 40.0
# Default Q of a circuit: 120 up to 1.026 MHz, from there 80 (3.5 MHz / f)^0.33. [Hz, -]
DEFAULT_Q = [(1_025_000, 120.0), (300_000_000, 80.0 * (3.5 / 300.0) ** 0.33)]
DEFAULT_CEILING_DB = 70.0
# as loud as it ever is: over its level where somebody knows it, in spreads, and over a typical level [dB]
LOUD_SPREADS, MOST_OVER_TYPICAL_DB = 2.0, 10.0


class Truth(NamedTuple):
    """Shares of a dial; `usable` one a world, shape (Z,), the rest means."""

    usable: Floats
    unknown: float
    dead: float
    noise: float
    intruders: float

    @property
    def mean(self) -> float:
        return float(self.usable.mean())

    @property
    def error(self) -> float:
        """One sigma of the mean, by the number of worlds."""
        return float(self.usable.std() / np.sqrt(len(self.usable)))

    def interval(self) -> tuple[float, float]:
        low, high = np.quantile(self.usable, [0.1, 0.9])
        return float(low), float(high)


class _World(NamedTuple):
    """Normal scores of what is common to many."""

    level: Floats
    activity: Floats
    noise: float
    q: float
    ceiling: float
    mixer: float


@dataclass(frozen=True)
class _Sources:
    """Who may be on the air, one entry an occupant."""

    low_hz: Floats
    high_hz: Floats
    single: Bools
    raster_hz: Ints
    per_hz: Floats
    chance: Floats
    median_dbm: Floats
    spread_db: Floats
    most_score: Floats
    own_level: Bools
    service: Ints
    sound: Ints
    width_hz: Floats
    kind: Ints


def _sources(occupants: Occupants, region: int, hour: Hour, antenna_gain_db: float) -> _Sources:
    table = shipped_activity()
    own = occupants.level_from == FROM_TABLE
    single = occupants.spot | own
    middle = np.sqrt(occupants.low_hz * occupants.high_hz.astype(np.float64))
    given = occupants.service, occupants.services, middle, region, hour
    n, m, s, _ = table.on_the_air(*given)
    spot = table.spots(*given, np.where(own, occupants.level_dbm, np.nan))
    median = np.where(own, occupants.level_dbm, np.where(single, spot.level_dbm, m) + antenna_gain_db)
    spread = np.where(single, spot.spread_db, s)
    most = np.maximum(occupants.level_dbm, median) + np.where(
        own, LOUD_SPREADS * spread, MOST_OVER_TYPICAL_DB
    )
    own_rows = np.arange(len(occupants))
    of_raster = -1 - (occupants.table.astype(np.int64) * 10**6 + occupants.row)
    return _Sources(
        low_hz=occupants.low_hz.astype(np.float64),
        high_hz=occupants.high_hz.astype(np.float64),
        single=single,
        raster_hz=occupants.raster_hz,
        per_hz=n * 1e-6,
        chance=spot.chance,
        median_dbm=median,
        spread_db=spread,
        most_score=(most - median) / spread,
        own_level=own,
        service=occupants.service.astype(np.int64),
        sound=occupants.sound.astype(np.int64),
        width_hz=occupants.width_hz.astype(np.float64),
        kind=np.where((occupants.raster_hz > 0) & ~single, of_raster, own_rows),
    )


class Ear:
    """The listener of the data file: from where on an intruder spoils."""

    def __init__(self, mode: str, wanted: str, bandwidth_hz: float) -> None:
        tables = shipped_toml("listener.toml")
        self.table: Mapping[str, Any] = tables[mode]
        self.ear: Mapping[str, Any] = tables["ear"]
        assert not self.table.get("in_if_band"), "frequency modulation is not followed here"
        self.mode, self.wanted = mode, wanted
        self.passband_hz = min(bandwidth_hz, self.ear["band"]) if mode == "cw" else bandwidth_hz

    def wanted_dbm(self, density: Floats) -> Floats:
        """Return the wanted signal over noise in 1 Hz; a level stands still."""
        if self.wanted in self.table:
            return density + float(self.table[self.wanted])
        return np.full_like(density, float(self.wanted.removesuffix(" dBm")))

    def spoils_dbm(
        self, density: Floats, sound: Ints, width_hz: Floats, beat_hz: Floats, *, many: Bools
    ) -> Floats:
        """Return from which heard level on an intruder spoils, shape (n,); `many`: of a band."""
        ratio = self.table["protection"]
        carrier = sound == CARRIER
        outside = np.where(carrier, 0.0, 10 * np.log10(np.maximum(width_hz / self.passband_hz, 1.0)))
        filled = 10 * np.log10(np.minimum(width_hz, self.passband_hz))
        beat, beat_to = np.abs(beat_hz), self.ear["beat_to"]
        falling = ratio["beat"] - self.ear["beat_fall_per_octave"] * np.log2(np.maximum(beat / beat_to, 1.0))
        whistle = np.where(
            beat < self.ear["beat_from"], ratio["zero_beat"], np.maximum(falling, ratio["zero_beat"])
        )
        protection = np.where(carrier, whistle, np.where(sound == VOICE, ratio["voice"], ratio["programme"]))
        tone = self.ear["tone"] + self.table["tone_penalty"]
        hearing = np.where(carrier, tone, filled + outside)
        # of a band's carriers the far ones count by their programme
        far = carrier & many & (beat > beat_to) & (self.mode == "am")
        protection = np.where(far, ratio["programme"], protection)
        hearing = np.where(far, filled, hearing)
        spoils: Floats = np.maximum(density + hearing, self.wanted_dbm(density) - protection + outside)
        return spoils


def varied(receiver: Mapping[str, Any], number: int, q_factor: float, ceiling_db: float) -> Receiver:
    """Return one range of a receiver file's contents, every Q times a factor and every ceiling moved."""
    made = copy.deepcopy(dict(receiver))
    made["range"] = [made["range"][number]]
    position = made["range"][0]
    position.setdefault("front_end", [{"circuits": 1}])
    lists = [position["front_end"]]
    _lift(position, "front_end_ceiling", ceiling_db)
    for conversion in position.get("conversion") or made["conversion"]:
        if conversion.get("selectivity"):
            lists.append(conversion["selectivity"])
            _lift(conversion, "selectivity_ceiling", ceiling_db)
        if "pickup" in conversion:
            _lift(conversion, "pickup", ceiling_db)
    for element in (element for elements in lists for element in elements):
        if "circuits" in element or "coupled_pair" in element:
            q = element.get("q", [[f"{hz} Hz", value] for hz, value in DEFAULT_Q])
            many = isinstance(q, list)
            element["q"] = [[at, value * q_factor] for at, value in q] if many else q * q_factor
    return Receiver.from_dict(made)


def _lift(given: dict[str, Any], key: str, by_db: float) -> None:
    before = float(given[key].split()[0]) if key in given else DEFAULT_CEILING_DB
    given[key] = f"{max(before + by_db, 0.0):.6f} dB"


def _compiled(receiver: Receiver) -> Chains:
    return compile_chains([(receiver, receiver.ranges[0])])[0]


class Dial:
    """One range of a set and who may be on the air, at even settings of the dial.

    Parameters
    ----------
    receiver : mapping. A receiver file's contents.
    number : int. Which of its ranges.
    occupants : Occupants.
    settings : int. How many settings.
    stranger_dbm : float. Level of a strong station beyond the tables. [dBm]
    hour : "typical" or "busy".
    orders : (lo_order, rf_order).
    """

    def __init__(
        self,
        receiver: Mapping[str, Any],
        number: int,
        occupants: Occupants,
        *,
        settings: int,
        stranger_dbm: float,
        hour: Hour = "typical",
        orders: tuple[int, int] = (10, 3),
        factor: float = 1.0,
    ) -> None:
        self.receiver, self.number, self.services = receiver, number, occupants.services
        self.factor = factor
        description = varied(receiver, number, 1.0, 0.0)
        self.chains = _compiled(description)
        low, high = int(self.chains.low_hz[0]), int(self.chains.high_hz[0])
        # not the settings of the short cut, but as even
        self.hz = np.linspace(low, high, 2 * settings + 1)[1::2].astype(np.int64)
        zero = np.zeros(settings, dtype=np.int64)
        self.external = external_dbm_per_hz(self.chains, zero, self.hz)
        self.total = total_dbm_per_hz(self.chains, zero, self.hz)
        self.ear = Ear(
            str(receiver.get("mode", "am")),
            str(receiver.get("wanted", "fair")),
            float(self.chains.bandwidth_hz[0]),
        )
        gain = float(str(receiver.get("antenna_gain", "0 dB")).split()[0])
        self.sources = _sources(occupants, description.region or 1, hour, gain)
        lines = enumerate_lines(self.chains, *orders, span_hz=occupants.reach)
        self.lines = lines.take(~lines.is_wanted(self.chains))
        changed = np.abs(self.lines.steps) != np.abs(self.chains.wanted_steps[0])
        self.product = changed.any(axis=(1, 2))
        self.scale = np.abs(self.lines.r[0]) / self.lines.d[0]
        self.unknown = self._unknown(lines, occupants.reach, stranger_dbm)
        self.dead = self._dead()
        self._meet()

    def _centre_hz(self, line: Ints, setting: Ints) -> Floats:
        lines = self.lines
        return (lines.p[0][line] * self.hz[setting] + lines.q[0][line]) / lines.d[0][line]

    def _unknown(self, lines: Lines, reach: tuple[int, int], stranger_dbm: float) -> Bools:
        """Where an image of one conversion lies beyond the tables and a strong carrier would be heard."""
        wanted = self.chains.wanted_steps[0]
        same_sizes = (np.abs(self.lines.steps) == np.abs(wanted)).all(axis=(1, 2))
        one_other = (self.lines.steps != wanted).any(axis=2).sum(axis=1) == 1
        images = np.flatnonzero(same_sizes & one_other)
        line, setting = (part.ravel() for part in np.meshgrid(images, np.arange(len(self.hz))))
        half = 0.5 * self.scale[line] * self.chains.bandwidth_hz[0]
        centre = self._centre_hz(line, setting)
        inside = (centre - half >= reach[0]) & (centre + half <= reach[1])
        beyond = ~inside & (centre + half >= 1)
        line, setting, centre = line[beyond], setting[beyond], centre[beyond]
        heard = heard_dbm(
            self.chains, self.lines, line, centre, np.full(len(line), stranger_dbm), self.hz[setting]
        )
        # nothing is heard from less far under the noise than a carrier
        assert emission_of("broadcast", "").sound == CARRIER
        bar = self.external[setting] + self.ear.ear["tone"] + self.ear.table["tone_penalty"]
        out = np.zeros(len(self.hz), dtype=np.bool_)
        out[setting[heard >= bar]] = True
        return out

    def _dead(self) -> Bools:
        """Within a bandwidth of an IF that stands still."""
        out = np.zeros(len(self.hz), dtype=np.bool_)
        for point in range(1, self.chains.conversions + 1):
            if self.chains.want_a[0, point] == 0:
                away = np.abs(self.hz - self.chains.want_b[0, point])
                out |= away <= self.chains.bandwidth_hz[0]
        return out

    def _meet(self) -> None:
        """Find every line, setting and occupant that any world may bring together loud enough."""
        who, every = self.sources, np.arange(len(self.hz))
        most = who.median_dbm + who.spread_db * np.minimum(who.most_score, 4.0) + SPARE_DB
        line, setting = (part.ravel() for part in np.meshgrid(np.arange(len(self.lines)), every))
        dial = self.hz[setting]
        open_ = (dial >= self.lines.dial_low_hz[line]) & (dial <= self.lines.dial_high_hz[line])
        line, setting = line[open_], setting[open_]
        least = self.external[setting] + 10.0
        loud = self._heard(self.chains, line, setting, self._centre_hz(line, setting), most.max()) >= least
        line, setting = line[loud], setting[loud]
        centre = self._centre_hz(line, setting)
        order = np.argsort(centre)
        line, setting, centre = line[order], setting[order], centre[order]
        passband = self.ear.passband_hz * self.scale[line]
        parts = []
        for number in range(len(who.single)):
            wide = 0.0 if who.single[number] else float(who.width_hz[number])
            reach = passband.max(initial=0.0) + wide
            first = np.searchsorted(centre, who.low_hz[number] - 0.5 * reach)
            last = np.searchsorted(centre, who.high_hz[number] + 0.5 * reach)
            here = np.arange(first, last)
            half = 0.5 * (passband[here] + wide)
            meets = (centre[here] + half >= who.low_hz[number]) & (centre[here] - half <= who.high_hz[number])
            here = here[meets]
            level = np.full(len(here), most[number])
            near = np.clip(centre[here], who.low_hz[number], who.high_hz[number])
            heard = self._heard(self.chains, line[here], setting[here], near, level)
            here = here[heard >= self.external[setting[here]] + 10.0]
            parts.append((here, np.full(len(here), number)))
        which = np.concatenate([part[0] for part in parts]).astype(np.int64)
        self.who = np.concatenate([part[1] for part in parts]).astype(np.int64)
        self.line, self.setting, self.centre = line[which], setting[which], centre[which]
        wide = np.where(who.single[self.who], 0.0, who.width_hz[self.who])
        self.half = 0.5 * (self.ear.passband_hz * self.scale[self.line] + wide)
        way = (self.setting * len(self.lines) + self.line) * len(self.services) + who.service[self.who]
        _, self.way = np.unique(way, return_inverse=True)
        kinds = np.unique(who.kind[self.who], return_inverse=True)[1]
        _, self.group = np.unique(self.way * (kinds.max(initial=0) + 1) + kinds, return_inverse=True)
        self.counts = np.ones(len(self.who), dtype=np.bool_)

    def _heard(
        self, chains: Chains, line: Ints, setting: Ints, rf_hz: Floats, level: Floats | float
    ) -> Floats:
        levels = np.broadcast_to(np.asarray(level, dtype=np.float64), line.shape).copy()
        return heard_dbm(chains, self.lines, line, rf_hz, levels, self.hz[setting])

    # --- worlds ----------------------------------------------------------------------------------

    def run(self, worlds: int, seed: int) -> Truth:
        """Return what becomes of the dial in so many worlds."""
        rng = np.random.default_rng(seed)
        self._choose(rng)
        open_ = ~(self.unknown | self.dead)
        usable, noise, intruders = np.empty(worlds), np.empty(worlds), np.empty(worlds)
        for z in range(worlds):
            world = self._world(rng)
            spoilt = np.zeros(len(self.hz), dtype=np.bool_)
            spoilt[self.setting[self._spoils(world, rng)]] = True
            heard = self._wanted_heard(world)
            usable[z] = (open_ * heard * ~spoilt).mean()
            noise[z] = (open_ * (1.0 - heard)).mean()
            intruders[z] = (open_ * heard * spoilt).mean()
        dead = self.dead & ~self.unknown
        return Truth(
            usable,
            float(self.unknown.mean()),
            float(dead.mean()),
            float(noise.mean()),
            float(intruders.mean()),
        )

    def _world(self, rng: np.random.Generator) -> _World:
        level, activity = (rng.standard_normal(len(self.services)) for _ in range(2))
        noise, q, ceiling, mixer = rng.standard_normal(4).tolist()
        return _World(level, activity, noise, q, ceiling, mixer)

    def _choose(self, rng: np.random.Generator) -> None:
        """Of band, raster and stations of one service by one way only those count that spoil most often."""
        self.counts[:] = True
        seen = np.zeros(int(self.group.max(initial=-1)) + 1)
        for _ in range(TRIAL_WORLDS):
            hit = self._spoils(self._world(rng), rng)
            seen[np.unique(self.group[hit])] += 1
        best = np.zeros(int(self.way.max(initial=-1)) + 1)
        np.maximum.at(best, self.way, seen[self.group])
        best_group = np.full(len(best), -1)
        winners = np.flatnonzero(seen[self.group] == best[self.way])
        best_group[self.way[winners][::-1]] = self.group[winners][::-1]
        self.counts = best_group[self.way] == self.group

    def _wanted_heard(self, world: _World) -> Floats:
        """Return the chance that the wanted signal comes through the noise, shape (settings,)."""
        common = shipped_toml("spreads.toml")["common"]
        external = self.external + self.factor * common["noise"] * world.noise
        own = 10 ** (self.total / 10) - 10 ** (self.external / 10)
        total = 10 * np.log10(10 ** (external / 10) + np.maximum(own, 0.0))
        spare = self.ear.wanted_dbm(external) - total - self.ear.table["deaf_below"]
        normal = NormalDist()
        return np.array([normal.cdf(value / common["detection"]) for value in spare.tolist()])

    def _spoils(self, world: _World, rng: np.random.Generator) -> Ints:
        """Draw who is on the air; return which of the meetings spoil."""
        spreads, factor = shipped_toml("spreads.toml"), self.factor
        common = spreads["common"]
        chains = _compiled(
            varied(
                self.receiver,
                self.number,
                max(1.0 + factor * common["q"] * world.q, 0.05),
                factor * common["ceiling"] * world.ceiling,
            )
        )
        of_service = np.array([spreads["level"].get(name, common["level"]) for name in self.services])
        shift = (factor * of_service * world.level)[self.sources.service]
        shift = np.where(self.sources.own_level, 0.0, shift)
        busier = np.exp(factor * common["activity"] * world.activity)[self.sources.service]
        met, rf, level = self._on_the_air(shift, busier, rng)
        line, setting, who = self.line[met], self.setting[met], self.who[met]
        many = ~self.sources.single[who]
        # what counts of a station beside the passband is its sideband inside
        through = np.where(many, self.centre[met], rf)
        heard = self._heard(chains, line, setting, through, level)
        heard += np.where(self.product[line], factor * common["mixer"] * world.mixer, 0.0)
        density = self.external[setting] + factor * common["noise"] * world.noise
        beat = (rf - self.centre[met]) / self.scale[line]
        bar = self.ear.spoils_dbm(
            density, self.sources.sound[who], self.sources.width_hz[who], beat, many=many
        )
        return met[heard >= bar]

    def _on_the_air(
        self, shift: Floats, busier: Floats, rng: np.random.Generator
    ) -> tuple[Ints, Floats, Floats]:
        """Return meetings with a station that is there, the station's frequency and level."""
        who = self.sources
        heard_of = np.unique(self.who[self.counts]) if len(self.who) else np.zeros(0, dtype=np.int64)
        single = heard_of[who.single[heard_of]]
        many = heard_of[~who.single[heard_of]]
        # single ones: on or off, and as loud as they are that evening, never louder than the most
        level = np.full(len(who.single), np.nan)
        on = single[rng.random(len(single)) < who.chance[single]]
        level[on] = who.median_dbm[on] + who.spread_db[on] * _cut_normal(rng, who.most_score[on])
        met = np.flatnonzero(self.counts & ~np.isnan(level[self.who]))
        rf = np.clip(self.centre[met], who.low_hz[self.who[met]], who.high_hz[self.who[met]])
        levels = level[self.who[met]] + shift[self.who[met]]
        # those of bands: each on its own place
        width = np.where(who.raster_hz > 0, who.raster_hz, who.high_hz - who.low_hz)[many]
        of = np.repeat(many, rng.poisson(who.per_hz[many] * width * busier[many]))
        score = rng.standard_normal(len(of))
        of, score = of[score <= who.most_score[of]], score[score <= who.most_score[of]]
        low, high = who.low_hz[of], who.high_hz[of]
        place = np.where(who.raster_hz[of] > 0, 0.5 * (low + high), rng.uniform(low, high))
        loud = who.median_dbm[of] + who.spread_db[of] * score + shift[of]
        key = of * 1e10 + place
        order = np.argsort(key)
        key, place, loud = key[order], place[order], loud[order]
        some = np.flatnonzero(self.counts & ~who.single[self.who])
        first = np.searchsorted(key, self.who[some] * 1e10 + self.centre[some] - self.half[some])
        last = np.searchsorted(key, self.who[some] * 1e10 + self.centre[some] + self.half[some], "right")
        times = np.maximum(last - first, 0)
        number = np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times)
        at = np.repeat(first, times) + number
        return (
            np.concatenate([met, np.repeat(some, times)]),
            np.concatenate([rf, place[at]]),
            np.concatenate([levels, loud[at]]),
        )


def _cut_normal(rng: np.random.Generator, most: Floats) -> Floats:
    """Return normal scores, none above the most, shape of `most`."""
    out = rng.standard_normal(len(most))
    while (beyond := out > most).any():
        out[beyond] = rng.standard_normal(int(beyond.sum()))
    return out
