"""What another IF costs and what is said of it, by hand: evenings, coils, who breaks through, gangs."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from spurplan.planning.decision import Comparison
from spurplan.planning.if_change.costs import (
    Costs,
    breaking_through,
    coils_too_wide_hz,
    effort_of,
    range_around,
    same_coils_hz,
)
from spurplan.planning.if_change.findings import costs_of
from spurplan.planning.if_change.proposal_table import Assessment
from spurplan.planning.if_change.proposals import Asked, Proposal
from spurplan.planning.if_change.usual import filter_made, filters_near, usual_at, usual_between
from spurplan.planning.if_change.verdict import Fate, Verdict, usable_text
from spurplan.planning.outlook import Outlook
from spurplan.receiver.description import Receiver
from spurplan.responses.listening.findings import Loss
from tests.planning.test_decision import finding

SET = Receiver.from_dict(
    {
        "name": "Two ranges",
        "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}],
        "range": [
            {"name": "1", "coverage": ["530 kHz", "1620 kHz"]},
            {"name": "2", "coverage": ["3 MHz", "6 MHz"]},
        ],
    }
)

# --- work ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "too_wide", "evenings"),
    [
        # one more where nobody makes transformers for it, four more where coils pass too much
        (Asked(if_hz=455_000), False, 8.0),
        (Asked(if_hz=455_001), False, 9.0),
        (Asked(if_hz=455_000), True, 12.0),
        (Asked(if_hz=1_234_567), True, 13.0),
        # another first IF is a mixer, an oscillator and a filter more, whatever comes behind it
        (Asked(first_if_hz=9_000_000), False, 12.0),
        (Asked(first_if_hz=9_000_000, if_hz=455_000), True, 12.0),
        (Asked(other_side=True), False, 3.0),
        (Asked(), False, 0.0),
    ],
)
def test_evenings_of_a_change(change: Asked, too_wide: bool, evenings: float) -> None:
    """The figures of the shipped file, which a change of it has to come past."""
    assert effort_of(change, too_wide=too_wide) == evenings


def test_coils_of_one_q_pass_as_much_more_as_the_if_is_higher() -> None:
    """Q is IF over bandwidth: 6 kHz at 465 kHz are 12.9 kHz at 1 MHz, and 24 kHz at four times the IF."""
    assert same_coils_hz(1_000_000, (465_000, 6_000)) == 12_903
    assert same_coils_hz(1_860_000, (465_000, 6_000)) == 24_000
    assert same_coils_hz(232_500, (465_000, 6_000)) == 3_000


def test_coils_are_too_wide_from_twice_the_present_width_on() -> None:
    """Twice will do, a little more will not; unless a filter of about the width is made for that IF."""
    assert coils_too_wide_hz(930_000, (465_000, 6_000)) is None
    assert coils_too_wide_hz(930_100, (465_000, 6_000)) == 12_001
    # crystal filters of 0.5 to 12 kHz are made for 9 MHz; half as wide again will do, more will not
    assert coils_too_wide_hz(9_000_000, (465_000, 6_000)) is None
    assert coils_too_wide_hz(9_000_000, (465_000, 18_000)) is None
    assert coils_too_wide_hz(9_000_000, (465_000, 18_001)) == round(18_001 * 9_000 / 465)


def test_a_filter_serves_beside_its_frequency_by_a_five_hundredth() -> None:
    """9 MHz ones at 9.018 MHz, no farther; as wide as made or within a factor of it."""
    assert filter_made(9_000_000, 6_000, 1.0)
    assert not filter_made(9_040_000, 6_000, 1.0)
    assert filter_made(8_990_000, 6_000, 1.0)
    assert not filter_made(8_970_000, 6_000, 1.0)
    # of 8.215 MHz there is one width, 2.6 kHz
    widths = [(hz, filter_made(8_215_000, hz, 1.3)) for hz in (1_999, 2_000, 2_600, 3_380, 3_381)]
    assert widths == [(1_999, False), (2_000, True), (2_600, True), (3_380, True), (3_381, False)]
    assert [row.if_hz for row in filters_near(9_008_000)] == [9_011_500, 9_000_000]


def test_usual_ifs_are_found_by_their_hertz() -> None:
    """455 kHz is the usual one of today's sets, 456 kHz is none; a span takes its ends."""
    found = usual_at(455_000)
    assert found is not None
    assert "today's standard" in found.used_in
    assert usual_at(456_000) is None
    assert usual_between(455_000, 470_000) == (455_000, 460_000, 465_000, 468_000, 470_000)
    assert usual_between(455_001, 469_999, also=(1_000_000, 460_000)) == (
        460_000,
        465_000,
        468_000,
        1_000_000,
    )


# --- what it leaves behind -------------------------------------------------------------------


def losing(*losses: tuple[str, str, float]) -> Any:
    return finding(losses=tuple(Loss(*one) for one in losses))


def test_what_breaks_through_counts_by_how_much_more_it_takes_than_before() -> None:
    """Two hundredths more than what broke through on the old IF; images are no matter of it."""
    was = losing(("image", "Mast", 0.5), ("IF breakthrough", "Coast", 0.10))
    now = losing(
        ("image", "Mast", 0.9), ("IF breakthrough", "Buoy", 0.05), ("first IF breakthrough", "Light", 0.13)
    )
    assert breaking_through(now, was) == Loss("first IF breakthrough", "Light", 0.13)
    assert breaking_through(losing(("IF breakthrough", "Light", 0.119)), was) is None
    assert breaking_through(losing(("IF breakthrough", "Light", 0.02)), losing()) is not None
    assert breaking_through(losing(("IF breakthrough", "Light", 0.019)), losing()) is None
    assert breaking_through(losing(("image", "Mast", 0.9)), losing()) is None


def test_what_it_costs_is_said_item_by_item() -> None:
    """Who breaks through, what goes dead, coils to a tenth of a kilohertz, what no gang tunes."""
    through = Loss("IF breakthrough", "Light", 0.13)
    costs = Costs((3_490_000, 3_510_000), through, 12_949, (2.345, 1.996), tracks=False)
    assert costs.texts == (
        "Light breaks through on it, 13 % lost",
        "dead from 3.49 MHz to 3.51 MHz, round the IF",
        "coils of the present Q pass 12.9 kHz: it wants a filter of its own",
        "no gang tunes an oscillator 1 to 2.35 with the signal 1 to 2.00",
        "no padder and trimmer track it",
    )
    assert Costs().texts == ()
    assert Costs().buildable
    assert not Costs(tracks=False).buildable
    assert not Costs(swing=(2.3, 2.0)).buildable
    assert Costs(coils_hz=12_949, through=through).buildable


def test_an_if_lies_inside_a_range_with_both_its_ends() -> None:
    """The ranges that would have it count, no others."""
    found = [range_around(SET, hz) for hz in (2_999_999, 3_000_000, 6_000_000, 6_000_001)]
    assert [None if one is None else one.name for one in found] == [None, "2", "2", None]
    assert range_around(SET, 4_000_000, ["1"]) is None
    assert range_around(SET, 1_000_000, ["1"]) is not None
    assert range_around(SET, 1_000_000, []) is None


# --- in words --------------------------------------------------------------------------------


def outlook(usable: float = 0.9, **figures: Any) -> Outlook:
    span = {"usable_low": usable - 0.05, "usable_high": usable + 0.05}
    return Outlook(finding(usable=usable, **(span | figures)), np.array([usable]))


GAIN = Comparison(0.2, 0.1, 0.3, 1.0, 0.0)


def test_a_verdict_says_what_is_usable_how_sure_and_what_was() -> None:
    """The share, its span where the share lies in it, and the present one where something is compared."""
    said = Verdict(Fate.changed, outlook(0.9), outlook(0.7), GAIN)
    assert said.usable_said == "on a busy evening 90 % of it is usable (85 to 95 %) instead of 70 %"
    assert (said.word, said.face) == ("better", "better")
    as_it_is = Verdict(Fate.present, outlook(0.9), outlook(0.9))
    assert as_it_is.usable_said == "on a busy evening 90 % of it is usable (85 to 95 %)"
    assert (as_it_is.word, as_it_is.face) == (None, "present")
    never = Verdict(Fate.impossible, refusal="no oscillator goes there", costs=Costs(tracks=False))
    assert (never.usable_said, never.figures, never.face) == ("", (), "not possible")
    assert never.reasons == ("no oscillator goes there",)


def test_a_span_is_said_only_where_the_share_lies_in_it() -> None:
    """Its ends count as in it; where both ends read alike there is nothing to say."""
    at = "on a busy evening"
    assert usable_text(0.9, (0.9, 0.95), at) == f"{at} 90 % of it is usable (90 to 95 %)"
    assert usable_text(0.95, (0.9, 0.95), at) == f"{at} 95 % of it is usable (90 to 95 %)"
    assert usable_text(0.96, (0.9, 0.95), at) == f"{at} 96 % of it is usable"
    assert usable_text(0.89, (0.9, 0.95), at) == f"{at} 89 % of it is usable"
    assert usable_text(0.9, (0.9, 0.9), at, 0.5, of="") == f"{at} 90 % is usable instead of 50 %"


def test_reasons_are_the_image_what_is_lost_and_what_is_unknown() -> None:
    """From two points on each, costs after them; the image that was is said where it reads otherwise."""
    losses = (Loss("image", "Mast", 0.05), Loss("half-IF", "Buoy", 0.01))
    now = outlook(intruders=0.02, unknown=0.02, losses=losses)
    said = Verdict(Fate.changed, now, outlook(), GAIN, (41.6, 22.4), costs=Costs(tracks=False))
    assert said.reasons == (
        "image 42 dB down instead of 22",
        "most lost by way of the image, Mast first",
        "unknown 2 %: an image lies beyond the tables",
        "no padder and trimmer track it",
    )
    few = outlook(intruders=0.019, unknown=0.019, losses=losses)
    assert Verdict(Fate.changed, few, outlook(), GAIN, (22.4, 21.6)).reasons == ("image 22 dB down",)
    assert Verdict(Fate.changed, few, outlook(), GAIN, (22.4, None)).reasons == ("image 22 dB down",)
    assert Verdict(Fate.changed, few, outlook(), GAIN, (None, 22.4)).reasons == ()


def test_a_change_is_called_by_what_changes() -> None:
    """First IF, IF, side and the one range, in this order."""
    all_of_it = Asked(1_600_000, 9_000_000, True, "4")
    assert all_of_it.text == "first IF 9 MHz, IF 1600 kHz, the oscillator on the other side on range 4"
    assert all_of_it.noun == (
        "a first IF of 9 MHz, an IF of 1600 kHz, the oscillator on the other side on range 4"
    )
    assert (Asked().text, Asked(other_side=True).text) == (
        "the present IF",
        "the oscillator on the other side",
    )
    assert [one.present for one in (Asked(), Asked(1), Asked(first_if_hz=1), Asked(other_side=True))] == [
        True, False, False, False
    ]  # fmt: skip
    assert [one.same_if for one in (Asked(), Asked(1), Asked(first_if_hz=1), Asked(other_side=True))] == [
        True, False, False, True
    ]  # fmt: skip
    assert [Asked(range_name=name).on("4") for name in (None, "4", "3")] == [True, True, False]


def test_costs_of_several_ranges_name_the_range_but_for_what_is_the_whole_sets() -> None:
    """A width of coils is said once; what is alike on a range is said once."""

    def part(number: int, costs: Costs) -> Assessment:
        one = Proposal(Asked(1_600_000), SET.ranges[number], SET, "", "high", (465_000, 6_000))
        return Assessment(one, 1_600_000, None, "high", Verdict(Fate.changed, costs=costs))

    first = part(0, Costs(coils_hz=20_645, tracks=False))
    second = part(1, Costs(coils_hz=20_645, dead_hz=(3_000_000, 3_010_000)))
    coils = "coils of the present Q pass 20.6 kHz: it wants a filter of its own"
    assert costs_of([first]) == ("no padder and trimmer track it", coils)
    assert costs_of([first, second]) == (
        "range 1: no padder and trimmer track it",
        coils,
        "range 2: dead from 3 MHz to 3.01 MHz, round the IF",
    )
