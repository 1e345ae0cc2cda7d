"""How a suspect moves, who belongs where, and what each sounds like: small cases worked by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.suspects.belonging import NobodyBelongs, nobody_belongs
from spurplan.planning.suspects.motion import Motion, expected_words, motion_of
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
