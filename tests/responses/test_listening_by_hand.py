"""Chances, spreads and thresholds of the judgement: made-up arrivals and a plain set, worked by hand."""

from __future__ import annotations

from statistics import NormalDist
from types import SimpleNamespace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from spurplan.emissions import CARRIER, PROGRAMME, VOICE
from spurplan.occupancy.activity import shipped_activity
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.listener import Listener
from spurplan.responses.asking import Settings, occupants_of
from spurplan.responses.levels import external_dbm_per_hz
from spurplan.responses.listening import judged
from spurplan.responses.listening.arrivals import Arrivals, Counted
from spurplan.responses.listening.presence import everybody, likely, present
from spurplan.responses.listening.thresholds import thresholds
from spurplan.responses.listening.worlds import SET_FACTORS, Spreads, Worlds
from spurplan.responses.strong_signals.overload import blocking_db, cross_modulation_db

Floats = npt.NDArray[np.float64]

# --- worlds ----------------------------------------------------------------------------------


def test_worlds_take_evenly_spaced_quantiles_each_in_an_order_of_its_own() -> None:
    """Of four worlds the middles of the four quarters, once each; the same for one seed and name."""
    four = Worlds(seed=3, count=4)
    quarters = [NormalDist().inv_cdf(part) for part in (0.125, 0.375, 0.625, 0.875)]
    for name in SET_FACTORS:
        assert sorted(four.scores(name)) == pytest.approx(quarters)
    assert sorted(four.uniforms("Mast")) == pytest.approx([0.125, 0.375, 0.625, 0.875])
    many = Worlds(seed=3, count=64)
    assert (many.scores("q") == Worlds(seed=3, count=64).scores("q")).all()
    assert (many.scores("q") != Worlds(seed=4, count=64).scores("q")).any()
    assert (many.scores("q") != many.scores("noise")).any()
    # whether a station is on has nothing to do with how loud it is
    assert (np.argsort(many.uniforms("Mast")) != np.argsort(many.scores("Mast"))).any()


def test_all_spreads_shrink_together_but_for_the_ear() -> None:
    """Half of each; at 0 all is as expected, and what is heard is as unsure as before."""
    whole = Spreads(8.0, 0.7, 4.0, 0.2, 6.0, 5.0, 1.5, {"ism": 3.0})
    half = whole.times(0.5)
    assert (half.level_db, half.activity, half.noise_db, half.q, half.ceiling_db, half.mixer_db) == (
        4.0, 0.35, 2.0, 0.1, 3.0, 2.5
    )  # fmt: skip
    assert half.detection_db == 1.5
    assert (half.service_db("ism"), half.service_db("amateur")) == (1.5, 4.0)


# --- arrivals --------------------------------------------------------------------------------


def arriving(*rows: dict[str, Any]) -> Arrivals:
    """Return arrivals of one broadcaster each at setting 0, on for certain, but for what is said."""
    said: dict[str, Any] = {
        "place": 0, "line": 0, "occupant": 0, "over_db": 0.0, "stations": 1.0, "single": True, "own_db": 6.0,
        "most_score": 30.0, "service": 0, "service_db": 0.0, "emission": 0, "partner": -1, "with_service": 0,
        "with_service_db": 0.0, "with_many": False,
        "third": -1, "third_service": 0, "third_service_db": 0.0, "third_many": False,
    }  # fmt: skip
    every = [
        said | {name: value for name, value in row.items() if name not in ("up", "down")} for row in rows
    ]
    factors = {
        name: np.array([row.get(name[:-3], [0.0] * len(SET_FACTORS)) for row in rows], dtype=np.float64).T
        for name in ("up_db", "down_db")
    }
    return Arrivals(**{name: np.array([row[name] for row in every]) for name in said}, **factors)


def chances(some: Arrivals, *args: Any, **more: Any) -> Floats:
    """Return the chance that each spoils."""
    chance: Floats = 1.0 - np.exp(-some.expected(*args, **more))
    return chance


def test_a_station_at_the_bar_spoils_every_other_time_that_it_is_on() -> None:
    """One spread over it 84 times in 100, one under it 16; louder by as much is over by as much."""
    some = arriving({}, {"over_db": 6.0}, {"over_db": -6.0}, {"stations": 0.4}, {"over_db": 90.0})
    assert chances(some) == pytest.approx([0.5, 0.8413, 0.1587, 0.2, 1.0], abs=2e-3)
    assert chances(some, 6.0)[0] == pytest.approx(0.8413, abs=2e-3)
    assert chances(some, spread_db=np.full(5, 12.0))[1] == pytest.approx(0.6915, abs=2e-3)
    # a single station is no more often on where the band is busier
    assert chances(some, 0.0, 3.0) == pytest.approx(chances(some))


def test_of_many_stations_the_expected_number_counts() -> None:
    """Half of four are over the bar; twice as many with twice the activity."""
    some = arriving({"single": False, "stations": 4.0}, {"single": False, "stations": 4.0, "over_db": 6.0})
    assert some.expected() == pytest.approx([2.0, 4 * 0.8413], abs=1e-2)
    assert some.expected(0.0, 2.0) == pytest.approx([4.0, 8 * 0.8413], abs=2e-2)


def test_nobody_is_louder_than_the_loudest() -> None:
    """A bar over the loudest is reached by none; a single station is somewhere below it all the same."""
    limit = {"most_score": 1.0}
    some = arriving({"over_db": -6.1, **limit}, {"over_db": -6.1, "single": False, **limit}, limit)
    assert some.expected()[:2] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert chances(some)[2] == pytest.approx((0.5 - 0.1587) / 0.8413, abs=2e-3)


def test_spreads_add_as_powers_but_for_two_of_one_service() -> None:
    """3 and 4 make 5; two of one service rise and fall together; a factor of the set is half its reach."""
    factor = [0.0] * len(SET_FACTORS)
    up, down = [3.0, *factor[1:]], [-5.0, *factor[1:]]
    some = arriving(
        {"own_db": 3.0, "service_db": 4.0},
        {"own_db": 0.0, "service_db": 3.0, "with_service_db": 4.0, "with_service": 0},
        {"own_db": 0.0, "service_db": 3.0, "with_service_db": 4.0, "with_service": 1},
        {"own_db": 3.0, "up": up, "down": down},
    )
    assert some.total_spread_db() == pytest.approx([5.0, 7.0, 5.0, 5.0])


def test_one_station_counts_once_at_a_setting_by_its_best_way() -> None:
    """Different stations and whole bands add up; each setting by itself."""
    some = arriving(
        {"occupant": 1}, {"occupant": 1, "line": 1}, {"occupant": 2}, {"occupant": 3, "single": False},
        {"place": 2, "occupant": 1}, {"place": 2, "occupant": 3, "single": False},
    )  # fmt: skip
    total = Counted(some, some.place, 4).total(np.array([0.1, 0.3, 0.5, 1.0, 0.2, 2.0]))
    assert total == pytest.approx([0.3 + 0.5 + 1.0, 0.0, 2.2, 0.0])
    nobody = some.take(np.zeros(0, dtype=np.int64))
    assert Counted(nobody, nobody.place, 2).total(np.zeros(0)).tolist() == [0.0, 0.0]


# --- who is there ----------------------------------------------------------------------------

TABLE = """low_khz,high_khz,freq_khz,raster_khz,service,label,level
14000,14350,,,amateur,A band,
11600,12100,,5,broadcast,Channels,
,,9500,,broadcast,A station,
,,7300,,broadcast,A loud one,-30 dBm
"""


def a_set(**figures: Any) -> Receiver:
    return Receiver.from_dict(
        {
            "name": "Plain",
            "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [
                {"name": "1", "coverage": ["7 MHz", "14.5 MHz"]},
                {"name": "2", "coverage": ["7 MHz", "14.5 MHz"], "mode": "ssb"},
            ],
            **figures,
        }
    )


@pytest.fixture(scope="module")
def occupants(tmp_path_factory: pytest.TempPathFactory) -> Occupants:
    path = tmp_path_factory.mktemp("air") / "table.csv"
    path.write_text(TABLE, encoding="utf-8")
    return occupants_of(a_set(), read_bands(path), Settings())


def test_who_is_present_is_as_many_and_as_loud_as_the_table_of_activity_says(occupants: Occupants) -> None:
    """A band by its numbers, a station by its chance, a level of its own as it stands there."""
    for hour in ("typical", "busy"):
        got = present(occupants, 1, hour, -7.0)  # type: ignore[arg-type]
        middle = np.sqrt(occupants.low_hz * 1.0 * occupants.high_hz)
        table = shipped_activity()
        air = table.on_the_air(occupants.service, occupants.services, middle, 1, hour)  # type: ignore[arg-type]
        labels = [occupants.label_of(number) for number in range(len(occupants))]
        band, channel = labels.index("A band"), labels.index("Channels")
        station, loud = labels.index("A station"), labels.index("A loud one")
        assert got.single[[band, channel, station, loud]].tolist() == [False, False, True, True]
        assert got.per_hz[[band, station]] == pytest.approx([air.n_per_mhz[band] / 1e6, 0.0])
        assert got.median_dbm[[band, loud]] == pytest.approx([air.m_dbm[band] - 7.0, -30.0])
        assert got.spread_db[[band, loud]] == pytest.approx([air.s_db[band], table.own_level_spread_db])
        assert got.chance[[band, loud]] == pytest.approx([0.0, table.spot_chance["level of its own"]])
        assert 0.0 < got.chance[station] < 1.0
        assert got.own_level.tolist() == [number == loud for number in range(len(occupants))]
        # nobody is louder than ten decibels over what is typical of his service at its best
        assert got.most_dbm[band] == pytest.approx(
            max(occupants.level_dbm[band], got.median_dbm[band]) + 10.0
        )


def test_with_everybody_on_the_air_each_is_certain_and_at_its_loudest(occupants: Occupants) -> None:
    """No chance and no spread is left; whatever set-ups are compared, it is one world."""
    typical = present(occupants, 1, "typical")
    every = everybody(typical)
    assert every.chance.tolist() == [1.0] * len(occupants)
    assert every.single.all()
    assert every.own_level.all()
    assert not every.per_hz.any()
    assert not every.spread_db.any()
    assert (every.median_dbm == typical.most_dbm).all()
    assert (every.most_dbm == typical.most_dbm).all()


def test_who_is_likelier_there_than_not_is_at_his_median(occupants: Occupants) -> None:
    """A station from a half on, a band from one station in it on, a channel of a raster from a half on."""
    typical = present(occupants, 1, "typical")
    labels = np.array([occupants.label_of(number) for number in range(len(occupants))])
    width = np.where(labels == "A band", 350_000, 5_000)
    for number, there in ((1.0, True), (0.999, False)):
        at = typical.replace(
            per_hz=np.where(typical.single, 0.0, number / width), chance=0.0 * typical.chance
        )
        found, _ = likely(occupants, at)
        assert ("A band" in [found.label_of(n) for n in range(len(found))]) is there
    for chance, there in ((0.5, True), (0.499, False)):
        each = chance / width
        at = typical.replace(
            per_hz=np.where(typical.single, 0.0, each), chance=np.where(typical.single, chance, 0.0)
        )
        found, _ = likely(occupants, at)
        names = {found.label_of(n) for n in range(len(found))}
        assert names == ({"Channels", "A station", "A loud one"} if there else set())
        assert (found.level_dbm == typical.median_dbm[np.isin(labels, list(names))]).all()


# --- what spoils -----------------------------------------------------------------------------


def test_what_spoils_is_heard_and_too_near_to_what_is_wanted() -> None:
    """The higher of the bar of hearing and the wanted signal less its protection, each range for its mode."""
    set_ = a_set()
    (chains,) = compile_chains([(set_, one) for one in set_.ranges])
    hz = np.array([10_000_000, 10_000_000, 10_000_000, 10_000_000])
    candidate = np.array([0, 1, 0, 0])
    sound = np.array([VOICE, VOICE, PROGRAMME, CARRIER], dtype=np.int8)
    width = np.array([2_700, 2_700, 12_000, 6_000], dtype=np.int32)
    beat = np.array([1_000.0, 1_000.0, np.nan, 1_000.0])
    got = thresholds(chains, candidate, hz, sound, width, beat)
    noise = external_dbm_per_hz(chains, candidate, hz)
    am, ssb = Listener("am", "fair", 6_000), Listener("ssb", "fair", 6_000)
    # fair AM is 59 dB over the noise of a hertz, fair speech 56; they bear 20, 15, 26 and 37 dB less
    by_hand = noise + np.maximum(
        [
            am.hearing_dbhz(sound[:1], width[:1])[0],
            ssb.hearing_dbhz(sound[1:2], width[1:2])[0],
            am.hearing_dbhz(sound[2:3], width[2:3])[0],
            am.hearing_dbhz(sound[3:], width[3:])[0],
        ],
        [59 - 20, 56 - 15, 59 - 26 + 10 * np.log10(2), 59 - 37],
    )
    assert got.spoils_dbm == pytest.approx(by_hand)
    assert got.whistle_hz.tolist() == [np.inf] * 4
    assert got.beside_db.tolist() == [0.0] * 4
    # more noise outside hides nothing: wanted signal, bar and all rise with it
    assert got.raised_db(5.0) == pytest.approx(np.full(4, 5.0))


def test_a_carrier_anywhere_in_the_passband_whistles_near_and_programmes_beside() -> None:
    """Within 4 kHz either way the beat counts, beside it the programme it bears; to a BFO any tone does."""
    set_ = a_set()
    (chains,) = compile_chains([(set_, one) for one in set_.ranges])
    hz, candidate = np.full(2, 10_000_000), np.array([0, 1])
    sound, width = np.full(2, CARRIER, dtype=np.int8), np.full(2, 6_000, dtype=np.int32)
    got = thresholds(chains, candidate, hz, sound, width, np.full(2, np.nan))
    noise = external_dbm_per_hz(chains, candidate, hz)
    assert got.whistle_hz.tolist() == [8_000.0, np.inf]
    # 59 - 37 is 22 dB over the noise of a hertz, which is heard; the programme fills 6 kHz, 37.8 dB
    assert got.spoils_dbm[0] - noise[0] == pytest.approx(22.0)
    assert got.beside_db[0] == pytest.approx(10 * np.log10(6_000) - 22.0)


# --- strong signals --------------------------------------------------------------------------


def test_blocking_and_cross_modulation_by_a_cubic_law() -> None:
    """10 dB under the intercept a fifth of the gain is gone, 20 dB under a fiftieth; never all of it.

    y = x - (2/3) x^3 with amplitudes in units of the intercept's: a second signal of amplitude A takes
    2 A^2 of the gain, and puts 4 A^2 of its own depth on another carrier where both are weak.
    """
    gone = blocking_db(np.array([-10.0, -20.0, -200.0, 10 * np.log10(0.4), -3.0, 20.0]))
    left = np.array([0.8, 0.98, 1.0, 0.2, 0.001, 0.001])
    assert gone == pytest.approx(20 * np.log10(left))
    depth = cross_modulation_db(np.array([-20.0, -30.0]))
    assert depth == pytest.approx([20 * np.log10(4 * 0.01), 20 * np.log10(4 * 0.001)])


# --- what becomes of one setting -------------------------------------------------------------


@pytest.mark.parametrize(
    ("unknown", "dead", "noise", "stranger", "state"),
    [
        (False, False, 0.0, False, ""), (False, False, 0.5, False, ""), (False, False, 0.51, False, "deaf"),
        (False, False, 0.49, True, "unlisted"), (False, False, 0.9, True, "deaf"),
        (False, True, 0.9, True, "dead"), (True, True, 0.9, True, "unknown"),
        (True, False, 0.0, False, "unknown"),
    ],
)  # fmt: skip
def test_one_setting_is_what_keeps_it_from_being_used(
    unknown: bool, dead: bool, noise: float, stranger: bool, state: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Deaf where it is so in more than half of all worlds; what nobody can tell goes first, then an IF.

    Who is in no table is told of only where nothing else keeps one from listening.
    """
    chains = compile_chains([(a_set(), a_set().ranges[0])])[0]
    there: Any = SimpleNamespace(
        unknown=np.array([unknown]), dead=np.array([dead]), noise=np.array([noise]), usable=np.array([0.25])
    )
    monkeypatch.setattr(judged, "shares", lambda *given, **more: there)
    monkeypatch.setattr(
        judged, "unlisted", lambda *given: SimpleNamespace(at=lambda hz: np.array([stranger]))
    )
    monkeypatch.setattr(judged, "_wanted_dbm", lambda *given: np.array([-80.0]))
    monkeypatch.setattr(judged, "_losses", lambda *given: ())
    place: Any = SimpleNamespace(air=lambda hour: hour, occupants=None, stranger_dbm=-33.0)
    [found] = judged.judge_settings(chains, place, Settings(), "typical", np.array([9_000_000]))
    assert found.state == state
    assert (found.range, found.dial_hz, found.hour) == ("1", 9_000_000, "typical")
    assert (found.usable_chance, found.wanted_dbm) == (0.25, -80.0)
