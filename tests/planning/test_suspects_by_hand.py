"""How a suspect moves, who belongs where, and what each sounds like: small cases worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import spurplan
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.suspects.belonging import NobodyBelongs, nobody_belongs
from spurplan.planning.suspects.evening import Evening, Noted
from spurplan.planning.suspects.evidence import (
    ANOTHER_SET,
    THIS_SET,
    Evidence,
    Listening,
    Traits,
    Weights,
    contradicted,
    fits_of,
    made_tests,
    proposed_tests,
)
from spurplan.planning.suspects.foremost import foremost
from spurplan.planning.suspects.motion import Motion, expected_words, motion_of
from spurplan.planning.suspects.ways import THE_STATION, Way, _by_way, _commonness, _fading, _loud, _there
from spurplan.planning.suspects.weights import HEARD_WORDS, kinds_sent, mixed, sounds
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings, occupants_of

# --- motion ----------------------------------------------------------------------------------


def test_a_motion_is_of_a_rate_within_less_than_what_one_can_tell() -> None:
    """Which way counts, but where it was left open; the limit itself is too far."""
    assert motion_of("with").is_of(1.24, 0.25)
    assert not motion_of("with").is_of(1.25, 0.25)
    assert not motion_of("with").is_of(-1.0, 0.25)
    assert motion_of("twice").is_of(-2.0, 0.25)
    assert motion_of("twice").is_of(2.0, 0.25)
    assert not motion_of("twice").is_of(1.0, 0.25)
    assert not motion_of("2").is_of(-2.0, 0.25)
    assert motion_of(-2).is_of(-2.0, 0.25)


def test_a_motion_is_said_as_seen_and_as_expected() -> None:
    """A word where there is one; else how many times as fast, and which way."""
    said = [motion_of(told).phrase for told in ("with", "against", "not", "twice", "-2", "3", "-0.5")]
    assert said == [
        "moves with the dial",
        "moves against the dial",
        "stays where it is while the dial turns",
        "moves twice as fast as the dial",
        "moves twice as fast as the dial, backwards",
        "moves 3 times as fast as the dial",
        "moves 0.5 times as fast as the dial, backwards",
    ]
    assert [expected_words(rate) for rate in (1.0, -1.0, 0.0, 2.0, -3.0)] == [
        "moves with the dial like a wanted signal",
        "moves against the dial",
        "stays put",
        "moves twice as fast",
        "moves 3 times as fast, backwards",
    ]
    assert [Motion(rate).as_typed for rate in (1.0, -1.0, 0.0, 2.0, 2.5)] == [
        "with",
        "against",
        "not",
        "2",
        "2.5",
    ]
    assert motion_of("twice").as_typed == "twice"
    assert motion_of(motion_of("twice")) == Motion(2.0, either_way=True)


# --- what is sent ----------------------------------------------------------------------------


def test_what_a_kind_sounds_like_and_what_a_service_sends_add_to_one() -> None:
    """A mixture is its parts, each by its share; what nobody says of a kind has no chance."""
    half = mixed({"am": 0.5, "cw": 0.5})
    assert tuple(half) == HEARD_WORDS
    assert sum(half.values()) == pytest.approx(1.0)
    for word in HEARD_WORDS:
        by_hand = 0.5 * sounds("am").get(word, 0.0) + 0.5 * sounds("cw").get(word, 0.0)
        assert half[word] == pytest.approx(by_hand), word
    assert half["ssb"] == 0.0
    # programme is heard as such, telegraphy as Morse
    assert max(sounds("am"), key=lambda word: sounds("am")[word]) == "am"
    assert max(sounds("cw"), key=lambda word: sounds("cw")[word]) == "cw"


def test_a_mode_says_more_than_a_service_and_a_beacon_is_keyed() -> None:
    """Broadcasting is AM up to 30 MHz and FM above; a service nobody knows sends anything."""
    assert kinds_sent("amateur", "ssb", 14_200_000) == {"ssb": 1.0}
    assert kinds_sent("broadcast", "", 30_000_000)["am"] > 0.9
    assert kinds_sent("broadcast", "", 30_000_001) == {"fm": 1.0}
    assert kinds_sent("broadcast", "am", 95_000_000) == {"am": 1.0}
    assert kinds_sent("amateur", "beacon", 14_100_000)["cw"] > 0.5
    assert kinds_sent("no such service", "", 1_000_000) == kinds_sent("unlisted", "", 1_000_000)
    assert sum(kinds_sent("maritime", "", 8_000_000).values()) == pytest.approx(1.0)
    assert sum(kinds_sent("amateur", "narrow", 7_040_000).values()) == pytest.approx(1.0)


# --- who belongs -----------------------------------------------------------------------------

SET = Receiver.from_dict(
    {
        "name": "Any",
        "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}],
        "range": [{"name": "1", "coverage": ["3 MHz", "30 MHz"]}],
    }
)
TABLE = """low_khz,high_khz,freq_khz,service,label,mode
9400,9900,,broadcast,31 m,
9400,9450,,broadcast,Part of it,
11600,12100,,broadcast,25 m,
,,10500,broadcast,Lone mast,
10100,10150,,amateur,30 m,cw
"""


@pytest.fixture(scope="module")
def air(tmp_path_factory: pytest.TempPathFactory) -> Occupants:
    path: Path = tmp_path_factory.mktemp("belonging") / "table.csv"
    path.write_text(TABLE, encoding="utf-8")
    return occupants_of(SET, read_bands(path), Settings())


def heard(air: Occupants, what: str | None, dial_hz: int, off_hz: int = 0) -> NobodyBelongs | None:
    return nobody_belongs(what, dial_hz, off_hz, air, 1)


def test_somebody_belongs_where_the_pointer_may_reach_one_who_sends_it(air: Occupants) -> None:
    """Both edges of a band are his, and what the pointer may be off on either side."""
    assert [heard(air, "am", hz) is None for hz in (9_399_999, 9_400_000, 9_900_000, 9_900_001)] == [
        False, True, True, False
    ]  # fmt: skip
    assert [heard(air, "am", hz, 1_000) is None for hz in (9_398_999, 9_399_000, 9_901_000, 9_901_001)] == [
        False, True, True, False
    ]  # fmt: skip
    assert heard(air, "cw", 10_120_000) is None
    assert heard(air, "am", 10_120_000) is not None
    # a carrier, noise and a whistle may be anybody's
    assert [heard(air, what, 10_120_000) for what in ("carrier", "noise", "whistle", None)] == [None] * 4


def test_the_nearest_band_of_those_who_send_it_is_named(air: Occupants) -> None:
    """The wider one of two that begin together, no single station, and nothing beyond a twentieth."""
    below = heard(air, "am", 9_350_000)
    assert below is not None
    assert (below.label, below.edge_hz, below.away_hz) == ("31 m", 9_400_000, 50_000)
    assert (below.broadcast, below.region, below.dial_error_hz) == (True, 1, 65_000)
    assert below.sentence == (
        "No broadcaster belongs on 9.35 MHz in Region 1; 31 m begins at 9.4 MHz. Is the pointer 50 kHz off? "
        "Try --dial-error 65kHz."
    )
    above = heard(air, "am", 9_950_400)
    assert above is not None
    assert above.sentence == (
        "No broadcaster belongs on 9.9504 MHz in Region 1; 31 m ends at 9.9 MHz. Is the pointer 51 kHz off? "
        "Try --dial-error 65kHz."
    )
    far = heard(air, "am", 10_800_000)
    assert far is not None
    assert far.label is None
    assert far.sentence == "No broadcaster belongs on 10.8 MHz in Region 1, nor near by."


def test_who_is_missing_is_said_by_what_is_heard(air: Occupants) -> None:
    """Morse where no Morse is sent; without a region none is named."""
    (found,) = [nobody_belongs("cw", 10_200_000, 0, air, None)]
    assert found is not None
    assert not found.broadcast
    assert found.sentence == (
        "Nobody who sends Morse belongs on 10.2 MHz; 30 m ends at 10.15 MHz. Is the pointer 50 kHz off? "
        "Try --dial-error 65kHz."
    )


def test_the_dial_error_proposed_reaches_with_a_quarter_to_spare() -> None:
    """Rounded up to 5 kHz: 4 kHz and a quarter are 5, a hertz more are 10."""
    said = [NobodyBelongs("am", 9_000_000, 1, "x", 9_000_000 + away, True) for away in (4_000, 4_001, -4_001)]
    assert [one.dial_error_hz for one in said] == [5_000, 10_000, 10_000]


# --- what an observation says ----------------------------------------------------------------

TRAITS = st.builds(
    Traits,
    moves=st.sampled_from([1.0, -1.0, 2.0, -2.0, 0.0]),
    inverted=st.booleans(),
    off=st.sampled_from([0.0, 0.005, -0.02, 0.03, 0.3, -0.3]),
    heard=st.sampled_from([mixed({"am": 0.5, "digital": 0.25, "carrier": 0.25})]),
    fading=st.sampled_from([0.0, 0.2, 0.9]),
    stays=st.sampled_from([0.05, 0.6, 1.0]),
    elsewhere_hz=st.sampled_from([(), (5_000_000,), (5_000_000, 7_000_000)]),
    on_dial_hz=st.sampled_from([(), (5_003_000,)]),
    beside=st.sampled_from([(), ("up",), ("up", "down")]),
)
OUTCOMES: dict[str, list[dict[str, Any]]] = {
    "moves": [{"moves": told} for told in ("with", "against", "twice", "not")],
    "inverted": [{"inverted": told} for told in (True, False)],
    "trimmer": [{"trimmer": told} for told in ("up", "down", "same")],
    "loudest": [{"loudest": told} for told in ("here", "up", "down", "everywhere")],
    "fading": [{"fading": told} for told in ("yes", "no")],
    "aerial off": [{"aerial_off": told} for told in ("stays", "goes")],
    "a pitch that moves": [{"pitch_moves": told, "heard": "whistle"} for told in (True, False)],
    "another set": [
        {"also_on": on, "not_on": off}
        for on, off in (
            ((5_000_000, 6_000_000), ()), ((5_000_000,), (6_000_000,)),
            ((6_000_000,), (5_000_000,)), ((), (5_000_000, 6_000_000)),
        )
    ],
    "this set": [{"found_at": (5_000_000,)}, {"not_at": (5_000_000,)}],
}  # fmt: skip


def chance_of(traits: Traits, **seen: Any) -> float:
    """Return the chance of an observation; of several, that of the last test made."""
    test, shown = made_tests(Evidence(**seen), 14_000_000)[-1]
    return test.chance(traits, shown)


@pytest.mark.parametrize("name", OUTCOMES)
@settings(max_examples=25)
@given(traits=TRAITS)
def test_the_chances_of_all_that_may_be_seen_add_to_one(name: str, traits: Traits) -> None:
    """Whatever a suspect predicts: one of the outcomes is seen, and none has a chance of nothing or less."""
    chances = [chance_of(traits, **seen) for seen in OUTCOMES[name]]
    assert sum(chances) == pytest.approx(1.0)
    assert all(0.0 <= chance <= 1.0 for chance in chances)


def test_what_is_predicted_is_the_likeliest_to_be_seen() -> None:
    """Of each test, and by what the shipped figures say of it."""
    image = Traits(moves=-1.0, inverted=True, off=0.3, fading=0.8, stays=0.07, pad_db_per_db=1.0)
    assert chance_of(image, moves="against") == pytest.approx(0.97)
    assert chance_of(image, moves="with") == pytest.approx(0.01)
    assert chance_of(image, trimmer="up") > 0.5 > chance_of(image, trimmer="same")
    assert chance_of(replace(image, off=-0.3), trimmer="down") == chance_of(image, trimmer="up")
    assert chance_of(replace(image, off=0.0), trimmer="same") > 0.5
    assert (chance_of(image, fading="yes"), chance_of(image, aerial_off="goes")) == pytest.approx((0.8, 0.93))
    assert chance_of(image, inverted=True) > 0.5
    assert chance_of(image, loudest="here") > 0.5
    assert chance_of(replace(image, moves=0.0), loudest="everywhere") > 0.5
    assert chance_of(replace(image, beside=("up",)), loudest="up") > 0.5
    # what nobody predicts is as likely either way
    unknown = Traits()
    assert {
        chance_of(unknown, **seen) for seen in ({"fading": "yes"}, {"aerial_off": "goes"}, {"inverted": True})
    } == {0.5}
    assert chance_of(unknown, trimmer="same") == pytest.approx(1 / 3)
    assert chance_of(unknown, moves="with") == chance_of(unknown, moves="not") == 0.25
    assert chance_of(unknown, heard="cw") == pytest.approx(1 / len(HEARD_WORDS))


def test_a_pad_takes_its_decibels_times_the_order() -> None:
    """10 dB of what falls as the signal, 20 of a second order; a decibel off is less likely than none."""
    for order in (0.0, 1.0, 2.0):
        fall = [
            chance_of(Traits(pad_db_per_db=order), pad_drop_db=10.0 * order + off) for off in (0, 2, -2, 8)
        ]
        assert fall[1] == pytest.approx(fall[2])
        assert fall[0] > fall[1] > fall[3] > 0.0
    drowned = Traits(moves=0.0, saturates=True, pad_db_per_db=1.0)
    assert chance_of(drowned, pad_drop_db=30.0) > chance_of(drowned, pad_drop_db=10.0)
    said = [
        made_tests(Evidence(pad_drop_db=10.0), 0)[0][0].expects(one)
        for one in (Traits(pad_db_per_db=2.0), drowned, Traits())
    ]
    assert said == ["falls 20 dB", "falls 20 dB or more", "fall unknown"]


def test_a_strength_and_a_pitch_are_likelier_the_nearer_they_are() -> None:
    """Either way alike; a whistle of no known pitch is anywhere between its ends, both with them."""
    at = Traits(level_dbm=-80.0, level_spread_db=6.0, pitch_hz=1_000.0)
    levels = [chance_of(at, strength=f"{dbm} dBm") for dbm in (-80, -90, -70, -110)]
    assert levels[0] == pytest.approx(1.0)
    assert levels[1] == pytest.approx(levels[2])
    assert levels[0] > levels[1] > levels[3] > 0.0
    # S9 on short waves is -73 dBm
    assert chance_of(at, strength="S9") == pytest.approx(chance_of(at, strength="-73 dBm"))
    pitches = [chance_of(at, pitch_hz=hz) for hz in (1_000, 900, 1_100, 2_000)]
    assert pitches[0] == pytest.approx(1.0)
    assert pitches[1] == pytest.approx(pitches[2])
    assert pitches[0] > pitches[1] > pitches[3] > 0.0
    somewhere = Traits(pitch_from_hz=300.0, pitch_to_hz=900.0)
    inside = [chance_of(somewhere, pitch_hz=hz) == 0.5 for hz in (299, 300, 900, 901)]
    assert inside == [False, True, True, False]


def test_a_dial_is_read_to_four_kilohertz() -> None:
    """What was heard so near to where a suspect is was heard there; farther it was something else."""
    one = Traits(elsewhere_hz=(5_000_000,), on_dial_hz=(7_000_000,))
    near, far = (chance_of(one, also_on=(hz,)) for hz in (5_004_000, 5_004_001))
    assert near > 0.5 > far
    assert chance_of(one, found_at=(7_000_000,)) > 0.5 > chance_of(one, found_at=(5_000_000,))
    assert chance_of(one, not_on=(5_000_000,)) == pytest.approx(1.0 - chance_of(one, also_on=(5_000_000,)))


def test_a_round_is_told_by_the_one_place_where_a_suspect_is() -> None:
    """Of two places listened on it is heard on its own alone; heard nowhere it may have closed down."""
    one = Traits(elsewhere_hz=(5_000_000,))
    chances = [chance_of(one, **seen) for seen in OUTCOMES["another set"]]
    both, own, other, none = chances
    assert own > 0.5 > none > both
    assert other < none


def test_words_of_what_is_expected_turn_at_a_half() -> None:
    """From a half on it is said; a whistle whose pitch is not known is between its ends."""

    def words(seen: Evidence, *some: Traits) -> list[str]:
        ((test, _),) = made_tests(seen, 0)
        return [test.expects(one) for one in some]

    assert words(Evidence(aerial_off="goes"), Traits(stays=0.5), Traits(stays=0.49)) == [
        "stays without the aerial", "goes with the aerial"
    ]  # fmt: skip
    assert words(Evidence(fading="yes"), Traits(fading=0.5), Traits(fading=0.49)) == [
        "may fade", "stands steady, mostly"
    ]  # fmt: skip
    half, less = ({"cw": share, "am": 1.0 - share - 0.2, "noise": 0.2} for share in (0.5, 0.45))
    assert words(Evidence(heard="cw"), Traits(heard=half), Traits(heard=less)) == [
        "sounds like Morse", "may sound like anything"
    ]  # fmt: skip
    between = Traits(pitch_from_hz=300.4, pitch_to_hz=900.6)
    assert words(Evidence(pitch_hz=500), between) == ["whistles at 300 to 901 Hz"]
    # a low pitch is told no better than one of 300 Hz
    low, at_300 = Traits(pitch_hz=100.0), Traits(pitch_hz=300.0)
    assert chance_of(low, pitch_hz=130) == pytest.approx(chance_of(at_300, pitch_hz=330))


def test_an_observation_is_said_as_it_sits_with_a_suspect() -> None:
    """In the order of the tests, the rounds last."""
    image = Traits(moves=-1.0, inverted=True, off=0.3, heard=mixed({"am": 1.0}), fading=0.8,
                   stays=0.07, level_dbm=-80.4, level_spread_db=6.0, pitch_hz=800.0,
                   elsewhere_hz=(5_000_000,))  # fmt: skip
    seen = Evidence(
        moves="against", loudest="here", inverted=False, trimmer="up", heard="am", pitch_hz=800, fading="no",
        aerial_off="goes", strength="-80 dBm", also_on=(5_000_000,), not_on=(6_000_000,), not_at=(3_000_000,),
    )  # fmt: skip
    assert fits_of(image, seen) == [
        "fits: moves against the dial",
        "fits: loudest here",
        "against it: sideband inverted",
        "fits: peaks with the circuits tuned up",
        "fits: sounds like a programme or speech with its carrier",
        "against it: may fade",
        "fits: goes with the aerial",
        "fits: whistles at 800 Hz",
        "fits: expected at -80 dBm, give or take 6 dB",
        "fits: not on 3 MHz too",
        "fits: on 5 MHz on another set",
    ]
    assert contradicted(image, seen)
    assert not contradicted(image, replace(seen, inverted=True, fading="yes"))
    unknown = [text.partition(": ")[2] for text in fits_of(Traits(), seen)]
    assert unknown == [
        "motion unknown", "where it is loudest unknown", "has no sideband of its own to tell by",
        "peak unknown", "sound unknown", "fading unknown", "unknown without the aerial",
        "pitch unknown", "strength unknown", "not on 3 MHz too", "nowhere on another set",
    ]  # fmt: skip


def test_the_page_has_room_for_the_best_of_each_family() -> None:
    """A quarter for the likeliest, then one of every other family; what is left is for the likeliest."""
    families = ["harmonics"] * 8 + ["birdie", "birdie", "image", "overload"]
    weights = [0.3, 0.2, 0.1, 0.09, 0.08, 0.07, 0.06, 0.05, 0.02, 0.015, 0.01, 0.005]
    assert foremost(families, weights, 4) == [0, 8, 10, 11]
    assert foremost(families, weights, 8) == [0, 1, 2, 3, 4, 8, 10, 11]
    assert foremost(families, weights, 12) == list(range(12))
    # the second likeliest of one family stands before the first of another
    assert foremost(families, weights, 5) == [0, 1, 8, 10, 11]
    assert foremost(families[::-1], weights[::-1], 1) == [11]
    assert foremost(["image"] * 3, [0.2, 0.5, 0.3], 2) == [1, 2]


@pytest.mark.parametrize(
    ("cause", "response", "family"),
    [
        ("intrusion", "image", "image"), ("intrusion", "second image", "image"),
        ("intrusion", "IF breakthrough", "IF breakthrough"),
        ("intrusion", "second-IF breakthrough", "IF breakthrough"), ("intrusion", "half-IF", "half-IF"),
        ("intrusion", "LO-harmonic", "harmonics"), ("intrusion", "RF-harmonic", "harmonics"),
        ("intrusion", "mixer product", "harmonics"), ("birdie", "internal", "made in the set"),
        ("self-whistle", "IF harmonic", "made in the set"), ("overload", "overload", "overload"),
        ("neighbour", "wanted", "neighbour"),
    ],
)  # fmt: skip
def test_a_way_in_belongs_to_what_it_is_looked_for_as(cause: str, response: str, family: str) -> None:
    way = Way("1", cause, response, None, 1.0, 1.0, 1.0, None, None, 7_000_000, ())
    assert way.family == family


# --- who is there ----------------------------------------------------------------------------


def row(**said: Any) -> Any:
    """Return a setting with one row of a table, and a passband of 6 kHz."""
    of = {"single": False, "chance": 0.0, "per_hz": 0.0, "spot": False, "raster_hz": 0, "bandwidth_hz": 6_000}
    at = {name: np.array([value]) for name, value in (of | said).items()}
    return SimpleNamespace(
        presence=SimpleNamespace(single=at["single"], chance=at["chance"], per_hz=at["per_hz"]),
        occupants=SimpleNamespace(spot=at["spot"], raster_hz=at["raster_hz"]),
        bandwidth_hz=int(at["bandwidth_hz"][0]),
    )


def test_of_a_band_as_many_are_there_as_a_passband_holds() -> None:
    """Poisson's law: with one in 10 kHz there are 0.6 in 6 kHz, and one at least by 1 - e^-0.6."""
    for passband_hz in (3_000, 6_000, 12_000):
        got = _there(row(per_hz=1e-4, bandwidth_hz=passband_hz), 0)
        assert got == pytest.approx(1.0 - math.exp(-passband_hz / 10_000))


def test_of_a_raster_one_channel_is_there_whatever_the_passband() -> None:
    """One in 10 kHz is half a one in a channel of 5 kHz: in use by 1 - e^-0.5, wide set or narrow."""
    for passband_hz in (500, 6_000, 50_000):
        got = _there(row(per_hz=1e-4, raster_hz=5_000, bandwidth_hz=passband_hz), 0)
        assert got == pytest.approx(1.0 - math.exp(-0.5))
    wider = _there(row(per_hz=1e-4, raster_hz=10_000), 0)
    assert wider == pytest.approx(1.0 - math.exp(-1.0))


def test_one_station_is_there_by_its_own_chance() -> None:
    """Neither passband nor raster counts; a line of its own makes it likelier; a dead band opens at times."""
    for chance in (0.1, 0.9):
        assert _there(row(single=True, chance=chance, per_hz=1.0, raster_hz=5_000), 0) == chance
    assert _there(row(single=True, spot=True, chance=0.1), 0) == 0.5
    assert _there(row(single=True, spot=True, chance=0.9), 0) == 0.9
    assert 0.0 < _there(row(per_hz=0.0), 0) < 0.05


# --- where else to listen --------------------------------------------------------------------

PLACES = (5_000_000, 7_000_000, 9_000_000)
TOLD = {
    ANOTHER_SET: ("also_on", "not_on"),
    THIS_SET: ("found_at", "not_at"),
}


def places_proposed(listening: Listening, seen: Evidence) -> set[int]:
    """Return where it is proposed to listen for one of four, each somewhere else, or nowhere."""
    name = "elsewhere_hz" if listening is ANOTHER_SET else "on_dial_hz"
    traits = [Traits(**{name: (hz,)}) for hz in PLACES] + [Traits()]
    some = Weights(np.full(4, 0.25), traits, np.arange(4))
    tests = [proposed.test for proposed in proposed_tests([some], seen)]
    return {hz for test in tests for hz in test.places_hz}


@pytest.mark.parametrize("listening", [ANOTHER_SET, THIS_SET], ids=["another set", "this set"])
def test_nobody_is_sent_to_listen_where_he_did(listening: Listening) -> None:
    """Heard there or in vain, and as near to it as a dial is read; all the other places are left."""
    assert places_proposed(listening, Evidence()) == set(PLACES)
    for option in TOLD[listening]:
        for at in PLACES:
            for off in (0, 4_000, -4_000):
                assert places_proposed(listening, Evidence(**{option: (at + off,)})) == set(PLACES) - {at}
        assert places_proposed(listening, Evidence(**{option: (5_004_001,)})) == set(PLACES)
        assert places_proposed(listening, Evidence(**{option: PLACES})) == set()


@pytest.mark.parametrize("listening", [ANOTHER_SET, THIS_SET], ids=["another set", "this set"])
def test_what_was_heard_on_one_set_spares_nothing_on_the_other(listening: Listening) -> None:
    """Each has its own places."""
    other = THIS_SET if listening is ANOTHER_SET else ANOTHER_SET
    for option in TOLD[other]:
        assert places_proposed(listening, Evidence(**{option: PLACES})) == set(PLACES)


# --- how far off a service is ----------------------------------------------------------------


def line(order: float = 1.0, *, strength: str = "-60 dBm", weight: float = 0.9, **fields: Any) -> Any:
    """Return a line of a log with a broadcaster, expected at -80 dBm give or take 10 dB, and its cause."""
    expected = {"spread_db": 10.0, "own_level": False, "heard_dbm": -80.0} | fields
    ranked = SimpleNamespace(
        way=SimpleNamespace(pad_db_per_db=order, cause="intrusion"),
        who=SimpleNamespace(fields=expected, service="broadcast"),
        weight=weight,
    )
    seen = Evidence(strength=strength) if strength else Evidence()
    return Noted(2, None, 10_000_000, "am", seen), SimpleNamespace(ranked=[ranked])


def evening_of(*lines: Any) -> Evening:
    return Evening(tuple(noted for noted, _ in lines), tuple(alone for _, alone in lines), (), 0.0)


@pytest.mark.parametrize(("order", "times"), [(0.0, 1.0), (1.0, 1.0), (2.0, 2.0), (3.0, 3.0)])
def test_a_station_is_off_by_what_was_heard_over_the_order_of_its_way(order: float, times: float) -> None:
    """20 dB too loud by a way of second order are 10 dB of the station, known twice as well.

    The mean of a normal law of 0 and 8 dB after one reading of d and s: d / (1 + s^2 / 64).
    """
    off, spread = 20.0 / times, 10.0 / times
    shift, count = evening_of(line(order)).shifts()["broadcast"]
    assert count == 1
    assert shift == pytest.approx(off / (1.0 + spread**2 / 64.0))


def test_lines_of_a_service_are_weighed_by_what_is_known_of_each() -> None:
    """One of first order, 20 dB off to 10, one of second, 4 dB off to 5: by the squares of their spreads."""
    both = evening_of(line(1.0), line(2.0, strength="-72 dBm"))
    weights, offs = (1 / 100.0, 1 / 25.0), (20.0, 4.0)
    by_hand = sum(w * d for w, d in zip(weights, offs, strict=True)) / (1 / 64.0 + sum(weights))
    assert both.shifts() == {"broadcast": (pytest.approx(by_hand), 2)}


def test_a_line_tells_of_a_level_only_where_it_is_one() -> None:
    """No strength noted, a level of its own row, a cause less likely than not: nothing of the service."""
    for silent in (line(strength=""), line(own_level=True), line(weight=0.49)):
        assert evening_of(silent).shifts() == {}
    assert evening_of(line(weight=0.5)).shifts() != {}


def not_heard(margin_db: float, spread_db: float = 10.0, **fields: Any) -> Any:
    """Return a line without a sound of a broadcaster who is due so far above the bar of hearing."""
    due = {"spread_db": spread_db, "own_level": False, "margin_db": margin_db} | fields
    ranked = SimpleNamespace(
        way=SimpleNamespace(cause=THE_STATION),
        who=SimpleNamespace(fields=due, service="broadcast"),
        weight=0.9,
    )
    return Noted(2, None, 10_000_000, "nothing", Evidence()), SimpleNamespace(ranked=[ranked])


@pytest.mark.parametrize(("margin_db", "spread_db"), [(1.0, 10.0), (10.0, 10.0), (12.0, 6.0)])
def test_who_was_not_heard_is_off_by_the_mean_of_what_is_not(margin_db: float, spread_db: float) -> None:
    """Of all levels that lie under the bar: summed up here in steps of a hundredth of a decibel."""
    off = np.arange(-12.0 * spread_db, -margin_db, 0.01)
    density = np.exp(-0.5 * (off / spread_db) ** 2)
    mean = float((off * density).sum() / density.sum())
    shift, count = evening_of(not_heard(margin_db, spread_db)).shifts()["broadcast"]
    assert count == 1
    assert shift == pytest.approx(mean / (1.0 + spread_db**2 / 64.0), abs=0.02)
    assert shift < -0.3 * margin_db


def test_who_was_not_due_tells_nothing_by_his_silence() -> None:
    """At the bar or under it, by his own row, or in no table."""
    for silent in (not_heard(0.0), not_heard(-5.0), not_heard(10.0, own_level=True)):
        assert evening_of(silent).shifts() == {}


# --- how loud, how common, how steady --------------------------------------------------------


@pytest.mark.parametrize("over_db", [-8.0, 0.0, 5.0, 20.0])
def test_who_is_heard_is_as_loud_as_the_part_above_the_bar(over_db: float) -> None:
    """Chance, mean and spread of a normal law above the bar, summed up in hundredths of a decibel."""
    level = np.arange(-90.0, 200.0, 0.01)
    density = np.exp(-0.5 * ((level - over_db) / 10.0) ** 2)
    above = density[level >= 0.0]
    mean = float((above * level[level >= 0.0]).sum() / above.sum())
    spread = math.sqrt(float((above * (level[level >= 0.0] - mean) ** 2).sum() / above.sum()))
    got = _loud(-100.0 + over_db, 10.0, -100.0)
    # one that is weak by the tables is heard one time in four all the same: they are estimates
    assert got.chance == pytest.approx(max(float(above.sum() / density.sum()), 0.25), abs=1e-3)
    assert got.level_dbm + 100.0 == pytest.approx(mean, abs=0.02)
    assert got.spread_db == pytest.approx(spread, abs=0.02)


def test_who_could_hardly_be_heard_at_all_is_at_the_bar() -> None:
    """Ten spreads under it: heard one time in four for the doubt in all levels, and then just so."""
    got = _loud(-200.0, 10.0, -100.0)
    assert (got.chance, got.level_dbm) == (0.25, -100.0)
    assert 0.0 < got.spread_db <= 1.0


def test_what_fades_goes_by_its_frequency_and_not_next_door() -> None:
    """Ground wave below 1.7 MHz, the sky up to 30 MHz, straight paths above: the edges are the sky's."""
    named = {"long": 1_699_999, "short": 1_700_000, "vhf": 30_000_001}
    chances = {name: _fading(hz, local=False) for name, hz in named.items()}
    assert chances["short"] == _fading(30_000_000, local=False) > 0.5
    assert max(chances["long"], chances["vhf"]) < 0.5
    assert len({_fading(hz, local=True) for hz in named.values()}) == 1
    assert _fading(10_000_000, local=True) < min(chances.values())


@pytest.mark.parametrize(
    ("kind", "harmonic", "order", "times"),
    [
        ("internal", None, 2, 1.0), ("internal", None, 3, 0.5), ("internal", None, 5, 0.125),
        ("internal", None, 1, 1.0), ("internal", 40, 40, 1.0), ("BFO", 9, 4, 0.25),
    ],
)  # fmt: skip
def test_each_order_more_makes_a_birdie_half_as_common(
    kind: str, harmonic: int | None, order: int, times: float
) -> None:
    """From the simplest on; but of a comb of one oscillator no tooth is rarer than the next."""
    assert _commonness({"kind": kind, "harmonic": harmonic, "order": order}) == times


def test_two_harmonics_of_one_sideband_are_no_speech() -> None:
    """By a second order speech and data are garbled, a carrier and Morse are what they were."""
    kinds = {"ssb": 0.4, "digital": 0.3, "cw": 0.2, "am": 0.1}

    def by(cause: str, order: float) -> dict[str, float]:
        return _by_way(Way("1", cause, "", None, 1.0, 1.0, order, None, None, 7_000_000, ()), kinds)

    assert by("intrusion", 1.0) == kinds
    assert by("intrusion", 2.0) == pytest.approx({"garbled": 0.7, "cw": 0.2, "am": 0.1})
    # beside a neighbour one hears him or his splatter, half and half
    beside = by("neighbour", 1.0)
    assert beside == pytest.approx({kind: 0.5 * share for kind, share in kinds.items()} | {"splatter": 0.5})


# --- harmonics of transmitters ---------------------------------------------------------------


@pytest.fixture(scope="module")
def one_band(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("harmonics") / "table.csv"
    path.write_text("low_khz,high_khz,service,label,mode\n5500,5600,amateur,A band,cw\n", "utf-8")
    return path


def harmonics_on(dial_hz: int, table: Path) -> dict[str, list[tuple[str | None, int]]]:
    """Return by which harmonics of a transmitter something may be heard: whose, and where that is sent."""
    ranked = spurplan.suspects(SET, bands=table, frequency=dial_hz).findings.ranked
    out: dict[str, list[tuple[str | None, int]]] = {}
    for one in ranked:
        if one.way.cause == "transmitter harmonic":
            out.setdefault(str(one.way.equation), []).append((one.who.label, one.listen_hz))
    return out


@pytest.mark.parametrize("k", [2, 3, 4, 5])
def test_the_harmonics_of_a_transmitter_are_the_second_to_the_fifth(k: int, one_band: Path) -> None:
    """Sent on a k-th of where the dial stands: by one of a band that has it, by none beyond its edges."""
    found = harmonics_on(k * 5_550_000, one_band)
    assert sorted(found) == [f"RF = {n} f" for n in (2, 3, 4, 5)]
    assert {way: [hz for label, hz in some if label == "A band"] for way, some in found.items()} == {
        f"RF = {n} f": ([5_550_000] if n == k else []) for n in (2, 3, 4, 5)
    }
    for way, some in found.items():
        n = int(way.split()[2])
        # where the tables have somebody he is who it may be
        assert n == k or {hz for label, hz in some if label is None} == {round(k * 5_550_000 / n)}
    beyond = harmonics_on(k * 5_600_000 + 3_001, one_band)
    assert not any(label == "A band" for label, _ in beyond[f"RF = {k} f"])


def test_the_higher_a_harmonic_the_rarer(one_band: Path) -> None:
    """The second is as common as the station itself where one is near, the third half as much, and so on."""
    ranked = spurplan.suspects(SET, bands=one_band, frequency=11_100_000).findings.ranked
    priors = {one.way.equation: one.way.prior for one in ranked if one.way.cause == "transmitter harmonic"}
    assert priors == pytest.approx({f"RF = {k} f": 1.0 / (k - 1) for k in (2, 3, 4, 5)})
