"""What is hardly meant is said, and nothing is said of ordinary sets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given

import spurplan
from spurplan.errors import Refused
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.doubts import doubts, own_ifs
from spurplan.receiver.file.reading import parse_receiver, read_receiver
from spurplan.receiver.file.starter import starter_text
from spurplan.receiver.overview import overview
from spurplan.responses.dead_dial import dead_stretches
from tests.receiver_strategies import receivers

SETS = sorted((Path(__file__).parents[1] / "receivers").glob("*.toml"))
DEMOS = sorted((Path(__file__).parents[2] / "demos").glob("*/set.toml"))


def single(if_text: str, bandwidth: str, low: str, high: str) -> Receiver:
    """Return a set of one conversion and one range."""
    made: dict[str, Any] = {
        "name": "set",
        "conversion": [{"injection": "high", "if": if_text, "filter": {"bandwidth": bandwidth}}],
        "range": [{"name": "1", "coverage": [low, high]}],
    }
    return Receiver.from_dict(made)


@pytest.mark.parametrize(
    ("if_text", "bandwidth", "low", "high", "said"),
    [
        # kilohertz were meant
        ("455 MHz", "6 kHz", "2 MHz", "6 MHz", "on range 1: a filter of 6 kHz on an IF of 455 MHz"),
        ("465 kHz", "9 kHz", "530 MHz", "1620 MHz", "on range 1: 530 MHz and up on an IF of 465 kHz"),
    ],
)
def test_a_slip_in_a_unit_is_asked_about(
    if_text: str, bandwidth: str, low: str, high: str, said: str
) -> None:
    """It runs as it is written, and every answer says so first."""
    receiver = single(if_text, bandwidth, low, high)
    (found,) = doubts(receiver)
    assert found.startswith(said)
    assert found.endswith("are the units right?")
    assert overview(receiver).assumptions[0] == found


def test_every_answer_says_it() -> None:
    """A set whose IF is a thousand times too high hears nothing; that is not left to look clear."""
    receiver = single("455 MHz", "6 kHz", "2 MHz", "6 MHz")
    for answer in (spurplan.ranges(receiver), spurplan.dial(receiver, frequency="4 MHz")):
        assert doubts(receiver)[0] in answer.assumptions


@pytest.mark.parametrize(
    ("if_text", "bandwidth", "low", "high"),
    [
        ("9 MHz", "250 Hz", "14 MHz", "14.35 MHz"),
        ("73 MHz", "3 kHz", "100 kHz", "30 MHz"),
        ("455 kHz", "9 kHz", "144 MHz", "146 MHz"),
        ("110 kHz", "9 kHz", "150 kHz", "1600 kHz"),
        ("10.7 MHz", "280 kHz", "87.5 MHz", "108 MHz"),
    ],
)
def test_what_is_built_is_not_asked_about(if_text: str, bandwidth: str, low: str, high: str) -> None:
    """The sharpest filters and the lowest IFs that sets have. Common practice."""
    assert doubts(single(if_text, bandwidth, low, high)) == ()


@pytest.mark.parametrize("path", [*SETS, *DEMOS], ids=lambda path: path.parent.name + "/" + path.name)
def test_the_sets_at_hand_are_not_asked_about(path: Path) -> None:
    """Nor those with a converter or two IFs."""
    assert doubts(read_receiver(path)) == ()


def test_a_range_across_an_if_is_named_where_a_file_is_checked() -> None:
    """455 kHz in a range from 150 kHz; behind a 38 MHz crystal a tunable IF across the fixed one."""
    plain = single("455 kHz", "9 kHz", "150 kHz", "500 kHz")
    (said,) = own_ifs(plain)
    assert said == "on range 1: the set's own IF of 455 kHz is tuned across, where no set works"
    assert said in overview(plain).assumptions
    made: dict[str, Any] = {
        "name": "set",
        "conversion": [
            {"crystal": "38 MHz"},
            {"injection": "high", "if": "1600 kHz", "filter": {"bandwidth": "6 kHz"}},
        ],
        "range": [
            {"name": "across", "coverage": ["39 MHz", "40 MHz"]},
            {"name": "beside", "coverage": ["40 MHz", "41 MHz"]},
        ],
    }
    behind = Receiver.from_dict(made)
    assert own_ifs(behind) == (
        "on range across: the set's own IF of 1600 kHz is tuned across, where no set works",
    )
    assert own_ifs(single("455 kHz", "9 kHz", "465 kHz", "1600 kHz")) == ()
    (beside,) = own_ifs(single("455 kHz", "9 kHz", "456 kHz", "1600 kHz"))
    assert "455 kHz is within a bandwidth of the end of the range" in beside


@given(receivers())
def test_a_file_check_and_the_ranges_name_the_same_ranges(receiver: Receiver) -> None:
    """What is asked of a description is what is taken off the dial, also behind a crystal."""
    for one in receiver.ranges:
        [chains] = compile_chains([(receiver, one)])
        alone = receiver.unchecked(ranges=(one,))
        assert bool(own_ifs(alone)) == bool(len(dead_stretches(chains)[0]))


@pytest.mark.parametrize(("low", "named"), [("464 kHz", True), ("464001 Hz", False)])
def test_a_range_a_bandwidth_from_the_if_is_named_by_both(low: str, named: bool) -> None:
    """To the hertz: 9 kHz above 455 kHz is the last place spoilt."""
    receiver = single("455 kHz", "9 kHz", low, "1600 kHz")
    [chains] = compile_chains([(receiver, receiver.ranges[0])])
    assert bool(own_ifs(receiver)) == bool(len(dead_stretches(chains)[0])) == named


@pytest.mark.parametrize(("top", "remarks"), [("12 MHz", 0), ("12.9 MHz", 0), ("14 MHz", 1), ("30 MHz", 0)])
def test_ranges_that_share_much_of_the_dial_are_remarked(top: str, remarks: int) -> None:
    """More than the tenth that neighbours may have in common; a dial that holds another whole is meant so."""
    made = parse_receiver(starter_text(coverage=[("4.5 MHz", top), ("12 MHz", "30 MHz")]), "x")
    said = [one for one in doubts(made) if "both tune" in one]
    assert said == ["ranges 1 and 2 both tune 12 MHz to 14 MHz: is that so on the set's own dial?"] * remarks


def test_a_setting_on_two_ranges_is_answered_for_each_by_name() -> None:
    """Else it is one sentence without a name."""
    made = parse_receiver(starter_text(coverage=[("4.5 MHz", "14 MHz"), ("12 MHz", "30 MHz")]), "x")
    both = [one.sentence for one in spurplan.dial(made, frequency="13 MHz").findings or ()]
    assert [one.partition(":")[0] for one in both] == ["13 MHz on range 1", "13 MHz on range 2"]
    (alone,) = spurplan.dial(made, frequency="16 MHz").findings or ()
    assert alone.sentence.startswith("16 MHz: ")


def test_a_misspelt_key_is_one_fault() -> None:
    """What it was meant for is not missing besides; a table without either still is."""
    text = starter_text(coverage=[("12 MHz", "30 MHz")])
    with pytest.raises(Refused) as refused:
        parse_receiver(text.replace("\ncoverage =", "\ncovrage ="), "x")
    assert [(fault.place, fault.rule) for fault in refused.value.faults] == [
        ("x, range[1].covrage", "unknown key")
    ]
    with pytest.raises(Refused, match=r"range\[1\].coverage: is missing"):
        parse_receiver(text.replace("\ncoverage =", "\n# "), "x")
