"""The figures of ``data/suspicion.toml``: each within what its reason says, and in the order of the trade."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from spurplan.planning.suspects.weights import figure, suspicion
from spurplan.responses.listening.worlds import shipped_spreads
from spurplan.units import DB_PER_S, S9_DBM

# What the reason beside each figure says of it in words, as the least and the most that may be meant by
# them: "half" is 0.4 to 0.6, "mostly" more than three in four, "plain" more than nine in ten [est].
MEANT: dict[str, dict[str, tuple[float, float]]] = {
    "there": {
        "unlisted": (0.11, 0.14),  # one passband in eight
        "unlisted_dbm": (S9_DBM - 4 * DB_PER_S, S9_DBM),  # middling: S5 to S9
        "unlisted_spread_db": (12.0, 30.0),  # two S units at least: a neighbour's or another continent's
        "written_down": (0.3, 0.8),  # likelier than a nameless one
        "least_on_air": (0.005, 0.05),  # a band that is dead
        "local_unlisted": (0.01, 0.1),
        "listed_local": (0.18, 0.22),  # one in five
        "local_dbm": (S9_DBM + 40.0, S9_DBM + 60.0),  # S9+50
        "local_spread_db": (6.0, 20.0),
        "harmonic_down_db": (40.0, 60.0),  # 40 to 60 is met
        "set_spread_db": (4.0, 15.0),
        "least_heard": (0.2, 0.3),  # one time in four
        "own_heard": (0.4, 0.6),  # nobody has measured: as likely as not
        "strong_reach_db": (20.0, 40.0),
        "strong_near": (1.5, 5.0),
        "strong_named": (1.5, 5.0),
    },
    "evidence": {
        "harmonic_speech": (0.4, 0.6),  # half of those who hear it
        "moves_right": (1 - 1 / 25, 1 - 1 / 40),  # one in thirty is misread
        "moves_near": (0.2, 0.3),  # a quarter
        "overload_stays": (0.5, 0.75),  # more often than not
        "pad_spread_db": (2.0, 6.0),
        "pad_misread": (0.01, 0.08),
        "pad_overload_reach_db": (20.0, 20.0),  # 10 dB: from twice to four times of it
        "pad_misread_reach_db": (40.0, 40.0),  # to four times the pad
        "loudest_right": (0.88, 0.92),  # one time in ten another
        "behind_heard": (0.78, 0.82),  # one time in five too soft
        "behind_taken": (0.03, 0.2),
        "inverted_right": (0.75, 0.95),
        "trimmer_right": (0.75, 0.95),
        "trimmer_turned": (0.01, 0.08),
        "trimmer_shift": (0.01, 0.01),  # 1 % of the dial frequency
        "strength_spread_db": (DB_PER_S, DB_PER_S),  # one unit
        "strength_least": (0.2, 0.6),
        "pitch_spread": (2 ** (2 / 12) - 1, 2 ** (3 / 12) - 1),  # two semitones and more
        "pitch_least": (0.05, 0.3),
        "pitch_moves_right": (0.9, 0.99),  # plain to the ear
        "fading_long": (0.1, 0.3),
        "fading_short": (0.55, 0.9),  # mostly
        "fading_vhf": (0.05, 0.25),
        "fading_local": (0.02, 0.15),
        "fading_own": (0.01, 0.1),
        "aerial_own_stays": (0.9, 0.99),
        "aerial_air_goes": (0.9, 0.99),
        "aerial_house_goes": (0.45, 0.75),
        "elsewhere_heard": (0.75, 0.95),
        "on_dial_heard": (0.85, 0.99),
        "elsewhere_missed": (0.02, 0.2),
        "elsewhere_erred": (0.02, 0.2),
        "elsewhere_within_hz": (2_000.0, 10_000.0),  # dials are not read closer
        "neighbour_splatter": (0.4, 0.6),  # half of those who hear it
    },
    "log": {
        "common": (0.28, 0.38),  # one time in three
        "missed": (0.55, 0.65),  # three times in five
        "same_station_hz": (1_000.0, 8_000.0),
        "least_bits": (2.0, 2.0),  # four times likelier
        "service_spread_db": (5.0, 12.0),
        "sure_from": (0.5, 0.5),  # likelier than not
    },
}  # fmt: skip


@pytest.mark.parametrize("table", MEANT)
def test_a_figure_is_what_its_reason_says(table: str) -> None:
    """None is left out, and none is a slip of the pen away from the words beside it."""
    assert set(suspicion()[table]) == set(MEANT[table])
    off = {
        name: figure(table, name)
        for name, (least, most) in MEANT[table].items()
        if not least <= figure(table, name) <= most
    }
    assert off == {}
    # what a span lets pass must not hide a figure ten times another
    wide = {
        name for name, (least, most) in MEANT[table].items() if least > 0.0 and most / least >= 10.0 + 1e-9
    }
    assert wide == set()


def test_who_is_in_no_table_is_known_less_well_than_who_is() -> None:
    """How loud a stranger is spreads more than the level of any service, and than one known to be near by."""
    known = shipped_spreads()
    services = [known.level_db, *known.of_level_db.values()]
    assert figure("there", "unlisted_spread_db") > max(*services, figure("there", "local_spread_db"))
    assert figure("there", "local_spread_db") > figure("evidence", "strength_spread_db")
    # and one near by is louder than a distant one, by more than both are uncertain
    apart = figure("there", "local_dbm") - figure("there", "unlisted_dbm")
    assert apart > math.hypot(figure("there", "unlisted_spread_db"), figure("there", "local_spread_db"))


def test_who_is_written_down_is_likelier_there_than_who_is_not() -> None:
    """A dead band, a stranger near by, one far off, one of the tables: each likelier than the one before."""
    rising = [
        figure("there", name) for name in ("least_on_air", "local_unlisted", "unlisted", "written_down")
    ]
    assert rising == sorted(rising)
    assert all(more >= 1.5 * less for less, more in pairwise(rising))


def test_what_fades_does_so_as_it_comes() -> None:
    """By the sky most, by straight paths and by ground less, from next door hardly, from the set least."""
    falling = [figure("evidence", f"fading_{name}") for name in ("short", "long", "vhf", "local", "own")]
    assert falling == sorted(falling, reverse=True)
    assert len(set(falling)) == len(falling)
    assert falling[0] > 0.5 > falling[1]


def test_another_set_tells_less_than_this_one() -> None:
    """It has an aerial of its own: heard more seldom, and what it misses is a small part."""
    assert figure("evidence", "elsewhere_heard") < figure("evidence", "on_dial_heard")
    assert figure("evidence", "elsewhere_missed") <= 1.0 - figure("evidence", "elsewhere_heard")
    # what is worked out from two readings of a dial agrees at least as well as one is read
    assert figure("log", "same_station_hz") <= figure("evidence", "elsewhere_within_hz")


def test_the_usual_ways_in_come_before_the_rare_ones() -> None:
    """The order of the trade: common practice has image, IF, half-IF, harmonics, and other products last."""
    usual = ["image", "further image", "IF breakthrough", "half-IF", "LO-harmonic", "RF-harmonic",
             "mixer product"]  # fmt: skip
    worth = [figure("way", name) for name in usual]
    assert worth == sorted(worth, reverse=True)
    assert len(set(worth)) == len(worth)
    # the yardstick, and the image beside it
    assert figure("way", "wanted") == figure("way", "image") == 1.0
    assert figure("way", "further-IF breakthrough") < figure("way", "IF breakthrough")
    # none of these is what is left when all else is told
    others = [figure("way", name) for name in suspicion()["way"] if name != "none of these"]
    assert 0.0 < figure("way", "none of these") < min(others)
    assert max(others) == figure("way", "neighbour") < 2.0
    assert min(others) >= 0.05


def test_a_test_costs_by_its_trouble() -> None:
    """A hand's turn nothing, minutes or a pad a little, an open cabinet more, another set most."""
    by_reason: dict[str, set[float]] = {}
    for row in suspicion()["test"].values():
        by_reason.setdefault(row["reason"], set()).add(row["value"])
    assert by_reason["a hand's turn"] == by_reason["a plug"] == by_reason["it is heard already"] == {0.0}
    cost = {name: figure("test", name) for name in suspicion()["test"]}
    little = cost["put a 10 dB pad at the aerial"]
    assert 0.0 < little < cost["rock the front-end trimmers"] < cost["listen on another set"] < 1.0
    minutes = ("tune in other stations near by", "tune this set elsewhere", "listen to its sideband",
               "listen whether it fades", "on one frequency more")  # fmt: skip
    assert {cost[name] for name in minutes} == {little}
    # several on a round of another set stay below a second one
    assert cost["listen on another set"] > 3 * cost["on one frequency more"]


@pytest.mark.parametrize(
    ("kind", "word"),
    [
        ("am", "am"), ("cw", "cw"), ("ssb", "ssb"), ("digital", "digital"), ("carrier", "carrier"),
        ("noise", "noise"), ("birdie", "carrier"), ("whistle", "whistle"), ("splatter", "noise"),
        ("cross-modulation", "am"), ("overload", "am"), ("intermodulation", "am"), ("house", "noise"),
        ("fm", "noise"), ("garbled", "noise"),
    ],
)  # fmt: skip
def test_a_kind_sounds_most_like_what_it_is(kind: str, word: str) -> None:
    """Its own word leads; what the reason beside it names first, where the kind is no word."""
    shares = {
        key: value for key, value in suspicion()["sounds"][kind].items() if key not in ("mark", "reason")
    }
    assert max(shares, key=lambda key: shares[key]) == word
    assert all(0.0 < value <= 1.0 for value in shares.values())
    if kind == word:
        assert shares[word] >= 0.8


# What a service sends by its definition in the Radio Regulations or its licence (from memory).
@pytest.mark.parametrize(
    ("service", "sends"),
    [
        ("broadcast", {"am", "digital", "carrier"}), ("vhf broadcast", {"fm"}),
        ("amateur", {"cw", "ssb", "digital", "am", "carrier"}), ("citizens", {"ssb", "am", "fm"}),
        ("aeronautical", {"ssb", "am", "digital"}), ("maritime", {"digital", "ssb", "cw", "carrier"}),
        ("standard_frequency", {"am", "carrier", "cw"}), ("radionavigation", {"cw", "carrier", "digital"}),
        ("beacon", {"cw", "carrier"}), ("ism", {"noise", "carrier"}),
    ],
)  # fmt: skip
def test_a_service_sends_what_it_is_for(service: str, sends: set[str]) -> None:
    """And nothing else."""
    assert set(suspicion()["emission"][service]) - {"mark", "reason"} == sends
