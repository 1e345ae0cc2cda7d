"""What a question is given from Python: sound, or refused in the words of the option."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.columns import Answer
from spurplan.errors import Refused
from spurplan.responses.asking import ranges_in

SETS = Path(__file__).parents[1] / "receivers"
BOATHOUSE = SETS / "boathouse.toml"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"strong_at": "10"}, '--strong-at: "10" is not a margin over the floor'),
        ({"audible_at": True}, '--audible-at: "True" is not a margin over the floor'),
        ({"region": True}, '--region: "True" is not an ITU region'),
        ({"region": 1.0}, '--region: "1.0" is not an ITU region'),
        ({"range": 4}, '--range: "4" is not a name'),
        ({"dial_error": -5}, '--dial-error: "-5" is below 1 Hz'),
        ({"dial_error": 10**12}, "--dial-error: .* is above 30 GHz"),
        ({"dial_error": 1.5}, '--dial-error: "1.5" is a float'),
    ],
)
def test_values_that_mean_nothing_are_refused_by_their_option(options: dict[str, Any], said: str) -> None:
    with pytest.raises(Refused, match=said):
        spurplan.dial(BOATHOUSE, frequency=14_200_000, **options)


def test_frequencies_out_of_all_reach_are_refused() -> None:
    with pytest.raises(Refused, match='FREQ: "-5" is below 1 Hz'):
        spurplan.station(BOATHOUSE, frequency=-5)
    with pytest.raises(Refused, match='--step: "0" is below 1 Hz'):
        spurplan.converter(BOATHOUSE, cover=(50_000_000, 52_000_000), step=0)


def test_no_dial_error_is_none() -> None:
    plain, zero = (spurplan.dial(BOATHOUSE, frequency="14.2 MHz", dial_error=off) for off in (None, 0))
    assert plain.to_dict() == zero.to_dict()


def test_a_crystal_without_a_place_has_no_count_of_whistles(tmp_path: Path) -> None:
    """Unknown, and not none."""
    table = spurplan.converter(
        BOATHOUSE, cover=(50_000_000, 52_000_000), crystal=["48 MHz", "200 MHz"]
    ).candidates
    nowhere = [row for row in table.records() if row["range"] is None]
    assert nowhere
    assert {(row["whistles"], row["birdies"]) for row in nowhere} == {(None, None)}


BROADCAST = """\
name = "Broadcast set"
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "1"
coverage = ["400 kHz", "1600 kHz"]
"""


def test_a_saved_converter_is_as_clear_as_it_was_said_to_be(tmp_path: Path) -> None:
    """The tunable IF crosses the set's own: deaf there, in `converter` and in `ranges` of the saved set."""
    (tmp_path / "set.toml").write_text(BROADCAST, "utf-8")
    set_ = spurplan.read_receiver(tmp_path / "set.toml")
    answer = spurplan.converter(set_, cover="50.4:51.4 MHz", crystal="50 MHz")
    best = answer.candidates.records(1)[0]
    row = spurplan.ranges(answer.findings.proposed).ranges.records()[0]
    assert row["clear_share"] == pytest.approx(best["unheard_share"], abs=1e-6)
    assert (row["dead_low_hz"], row["dead_high_hz"]) == (50_459_000, 50_471_000)


ASKED_BY_COVER: dict[str, Callable[..., Answer]] = {
    "ranges": spurplan.ranges,
    "ranges by hour": partial(spurplan.by_hour, place="52N,5E", month=6),
    "if-change": partial(spurplan.if_change, if_="455 kHz"),
    "cures": spurplan.cures,
}


@pytest.mark.parametrize("cover", ["1600kHz:1700kHz", "300kHz:400kHz", "2MHz:3MHz"])
def test_a_cover_that_only_touches_a_range_is_on_none(tmp_path: Path, cover: str) -> None:
    """400 to 1600 kHz tunes nothing of 1600 to 1700 kHz: every question that takes a cover says so alike."""
    (tmp_path / "set.toml").write_text(BROADCAST, "utf-8")
    said = set()
    for question in ASKED_BY_COVER.values():
        with pytest.raises(Refused) as refusal:
            question(tmp_path / "set.toml", cover=cover)
        said.add(str(refusal.value))
    assert len(said) == 1, said
    assert "--cover" in said.pop()


def test_a_range_at_the_edge_of_a_cover_is_left_out_and_one_within_is_not() -> None:
    """Of 4.6 to 4.9 MHz the range that ends at 4.6 MHz tunes none; of 4.599 MHz on it does."""
    ranges = spurplan.read_receiver(BOATHOUSE).ranges
    assert [one.name for one in ranges_in(ranges, (4_600_000, 4_900_000))] == ["3"]
    assert [one.name for one in ranges_in(ranges, (4_599_999, 4_900_000))] == ["2", "3"]


def test_skirts_reach_as_far_as_the_quietest_part_of_the_dial_lets_them(tmp_path: Path) -> None:
    """Noise measured 40 dB lower at the bottom of a range: a neighbour there is heard as if asked alone."""
    text = BOATHOUSE.read_text("utf-8")
    quiet = tmp_path / "set.toml"
    quiet.write_text(
        text.replace('environment = "rural"', 'noise = [["11 MHz", "-140 dBm"], ["30 MHz", "-60 dBm"]]'),
        "utf-8",
    )
    table = tmp_path / "bands.csv"
    table.write_text("freq_khz,service,label,level\n11500,broadcast,Neighbour,-70 dBm\n", "utf-8")
    across = spurplan.ranges(quiet, bands=table, skirts=True, range="4").intrusions.records()
    wanted = [row for row in across if row["response"] == "wanted"]
    assert wanted
    furthest = min(row["dial_low_hz"] for row in wanted)
    here = spurplan.dial(quiet, bands=table, frequency=furthest, skirts=True, range="4").intrusions.records()
    beyond = spurplan.dial(
        quiet, bands=table, frequency=furthest - 1, skirts=True, range="4"
    ).intrusions.records()
    assert any(row["response"] == "wanted" for row in here)
    assert not any(row["response"] == "wanted" for row in beyond)
