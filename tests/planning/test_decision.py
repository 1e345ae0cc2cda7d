"""The one decision: what a change gains, what is worth its evenings, and ranges taken together."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.planning.decision import Choice, Comparison, choose, compare, least_gain, verdict
from spurplan.planning.if_change.proposal_table import WORDS
from spurplan.planning.outlook import Outlook, Together, width_hz
from spurplan.receiver.description import Range
from spurplan.responses.listening.findings import Loss, RangeFinding

Floats = npt.NDArray[np.float64]


def worlds(*shares: float) -> Floats:
    return np.array(shares, dtype=np.float64)


def finding(low_hz: int = 1, high_hz: int = 1_000_000, **figures: Any) -> RangeFinding:
    """Return a range of which nothing is lost, but for what is said."""
    said = {
        "range": "1", "cover": False, "hour": "busy", "usable": 1.0, "usable_low": 1.0, "usable_high": 1.0,
        "clear": 1.0, "unknown": 0.0, "dead": 0.0, "noise": 0.0, "place": 0.0, "intruders": 0.0,
        "wanted_dbm": -80.0,
    }  # fmt: skip
    return RangeFinding(low_hz=low_hz, high_hz=high_hz, **(said | figures))


# --- what a change gains ---------------------------------------------------------------------


def test_a_gain_is_the_difference_world_by_world() -> None:
    """Of differences 0 to 1 in steps of a tenth, in any order, a tenth lies under 0.1 and over 0.9."""
    tenths = worlds(0.5, 0.0, 0.9, 0.2, 1.0, 0.7, 0.1, 0.6, 0.3, 0.8, 0.4)
    gain = compare(tenths, np.zeros(11))
    assert (gain.gain, gain.low, gain.high) == pytest.approx((0.5, 0.1, 0.9))
    assert (gain.better_in, gain.worse_in) == pytest.approx((10 / 11, 0.0))
    loss = compare(np.zeros(11), tenths)
    assert (loss.gain, loss.low, loss.high) == pytest.approx((-0.5, -0.9, -0.1))
    assert (loss.better_in, loss.worse_in) == pytest.approx((0.0, 10 / 11))


def test_the_same_luck_for_both_tells_nothing() -> None:
    """What is added to both in each world changes no figure of a comparison."""
    luck = np.array([0.1, 0.2, 0.3, 0.4, 0.5])
    without = worlds(0.0, 0.1, 0.2, 0.3, 0.4)
    same, plain = compare(without + luck, luck), compare(without, np.zeros(5))
    assert (same.gain, same.low, same.high) == pytest.approx((plain.gain, plain.low, plain.high))
    assert same.better_in == plain.better_in == 0.8
    assert compare(without + 0.25 + luck, without + luck).gain == pytest.approx(0.25)


def test_a_hundredth_less_is_not_clearly_worse() -> None:
    """Worse by more than a hundredth of the dial counts; a hundredth, and less, is no loss to speak of."""
    got = compare(worlds(0.0, 0.0, 0.0, 0.0), worlds(0.01, 0.009, 0.0101, 0.3))
    assert got.worse_in == 0.5
    assert got.better_in == 0.0


@pytest.mark.parametrize(
    ("gain", "worse_in", "beats"),
    [(0.02, 0.1, True), (0.0199, 0.0, False), (0.9, 0.101, False), (0.9, 0.0, True), (-0.5, 0.0, False)],
)
def test_beating_is_two_points_and_no_loss_in_nine_worlds_of_ten(
    gain: float, worse_in: float, beats: bool
) -> None:
    """Both count, each to its limit and with it."""
    assert Comparison(gain, gain, gain, 1.0, worse_in).beats is beats


@pytest.mark.parametrize(
    ("gain", "better_in", "worse_in", "word"),
    [
        (0.05, 0.75, 0.10, "better"),
        (0.0499, 0.75, 0.10, "a little better"),
        (0.02, 0.75, 0.10, "a little better"),
        (0.0199, 1.0, 0.0, "no difference"),
        (-0.0199, 0.0, 1.0, "no difference"),
        (0.0, 1.0, 0.0, "no difference"),
        (-0.02, 0.4, 0.6, "worse"),
        # what gains nothing on the mean is worse, however often it is better
        (-0.1, 0.9, 0.05, "worse"),
        (0.2, 0.74, 0.0, "a gamble"),
        (0.2, 0.89, 0.11, "a gamble"),
    ],
)
def test_verdicts_at_their_thresholds(gain: float, better_in: float, worse_in: float, word: str) -> None:
    """Five words, each from its threshold on."""
    assert verdict(Comparison(gain, gain, gain, better_in, worse_in)) == word
    assert word in WORDS


# --- which of several ------------------------------------------------------------------------

NOW = worlds(0.5, 0.5, 0.5, 0.5)


def test_the_least_work_that_brings_seven_tenths_is_chosen() -> None:
    """0.28 is seven tenths of 0.4; 0.27 is not, however little work it is."""
    some = [NOW + 0.4, NOW + 0.28125, NOW + 0.27]
    assert choose(some, [8.0, 4.0, 1.0], NOW).recommended == 1
    assert choose(some, [3.0, 4.0, 1.0], NOW).recommended == 0


def test_of_as_much_work_the_one_that_brings_most_is_chosen() -> None:
    """The gain decides between efforts alike, whatever the order they are listed in."""
    assert choose([NOW + 0.3, NOW + 0.4], [2.0, 2.0], NOW).recommended == 1
    assert choose([NOW + 0.4, NOW + 0.3], [2.0, 2.0], NOW).recommended == 0


def test_nothing_is_chosen_where_the_best_brings_less_than_is_worth_an_evening() -> None:
    """It has to bring four points; just that is enough."""
    assert least_gain() == 0.04
    assert choose([np.full(4, 0.0399)], [1.0], np.zeros(4)) == Choice(None)
    assert choose([np.full(4, 0.04)], [1.0], np.zeros(4)) == Choice(0)
    assert choose([], [], NOW) == Choice(None)


def test_what_brings_much_on_the_mean_and_less_in_some_worlds_is_not_chosen() -> None:
    """A change that is worse in a quarter of the worlds beats nothing, and sets no mark for the others."""
    gamble = worlds(1.0, 1.0, 1.0, 0.4)
    assert choose([gamble], [1.0], NOW) == Choice(None)
    # seven tenths of its gain would be more than the sure one brings
    assert choose([gamble, NOW + 0.1], [1.0, 2.0], NOW) == Choice(1)


def test_what_can_not_be_told_apart_is_named_least_work_first() -> None:
    """Those that neither beat it nor are beaten; what is beaten, or beats nothing, is not named."""
    some = [NOW + 0.31, NOW + 0.3, NOW + 0.29, NOW + 0.25, NOW, NOW + 0.4]
    assert choose(some, [5.0, 2.0, 4.0, 6.0, 0.5, 9.0], NOW) == Choice(1, (2, 0))


@settings(max_examples=60)
@given(st.data())
def test_a_choice_keeps_its_promises(data: st.DataObject) -> None:
    """For any shares: what is chosen is worth it and the least work that is; what is alike is truly alike."""
    count = data.draw(st.integers(1, 5))
    share = st.sampled_from([0.0, 0.01, 0.05, 0.3, 0.5, 0.52, 0.54, 0.6, 0.9])
    some = [worlds(*data.draw(st.lists(share, min_size=6, max_size=6))) for _ in range(count)]
    efforts = data.draw(st.lists(st.sampled_from([1.0, 2.0, 3.0]), min_size=count, max_size=count))
    present = worlds(*data.draw(st.lists(share, min_size=6, max_size=6)))
    choice = choose(some, efforts, present)
    able = {n: compare(one, present).gain for n, one in enumerate(some) if compare(one, present).beats}
    if choice.recommended is None:
        assert choice.not_told_from == ()
        assert all(gain < 0.04 for gain in able.values())
        return
    best = choice.recommended
    assert able[best] >= 0.7 * max(able.values()) >= 0.7 * 0.04
    for number, gain in able.items():
        if gain >= 0.7 * max(able.values()):
            assert (efforts[best], -able[best]) <= (efforts[number], -gain)
    alike = [
        number
        for number in able
        if number != best
        and not compare(some[number], some[best]).beats
        and not compare(some[best], some[number]).beats
    ]
    assert sorted(choice.not_told_from) == alike
    assert [efforts[number] for number in choice.not_told_from] == sorted(efforts[n] for n in alike)


# --- ranges taken together -------------------------------------------------------------------


def two_ranges(**second: Any) -> Together:
    """Return one range of 1 MHz of which half is usable, and one of 3 MHz."""
    first = finding(
        1, 1_000_000, usable=0.5, unknown=0.1, noise=0.2, place=0.15, intruders=0.3,
        decided_by=("Mast", "Light"), regulars=("Mast at 5 MHz",),
        losses=(Loss("image", "Mast", 0.2), Loss("half-IF", "Buoy", 0.003)),
    )  # fmt: skip
    other = finding(5_000_001, 8_000_000, **second)
    return Together(4_000_000, (Outlook(first, worlds(0.4, 0.6)), Outlook(other, worlds(0.8, 1.0))))


def test_shares_of_ranges_are_weighed_by_their_dial() -> None:
    """A quarter of the one and three quarters of the other, of each share and in each world."""
    both = two_ranges(usable=0.9, unknown=0.02, noise=0.04, place=0.01, intruders=0.08)
    assert both.usable == pytest.approx(0.25 * 0.5 + 0.75 * 0.9)
    assert both.unknown == pytest.approx(0.25 * 0.1 + 0.75 * 0.02)
    assert both.noise == pytest.approx(0.25 * 0.2 + 0.75 * 0.04)
    assert both.place == pytest.approx(0.25 * 0.15 + 0.75 * 0.01)
    assert both.intruders == pytest.approx(0.25 * 0.3 + 0.75 * 0.08)
    assert both.worlds == pytest.approx([0.25 * 0.4 + 0.75 * 0.8, 0.25 * 0.6 + 0.75 * 1.0])
    # of two worlds, 0.7 and 0.9: a tenth and nine tenths of the way from one to the other
    assert both.interval == pytest.approx((0.72, 0.88))


def test_what_can_not_be_had_on_a_range_is_lost_there() -> None:
    """Dial of a range without the set-up counts as wanted, and nothing of it is usable."""
    one = Outlook(finding(1, 1_000_000), worlds(1.0, 1.0))
    half = Together(4_000_000, (None, one))
    assert half.parts == (one,)
    assert half.usable == 0.25
    assert half.worlds.tolist() == [0.25, 0.25]
    nothing = Together(4_000_000, (None,))
    assert (nothing.usable, nothing.worlds.tolist(), nothing.at) == (0.0, [0.0], "on a busy evening")
    # what two ranges both tune may count for more than the dial that is wanted
    assert Together(1_000_000, (one, one)).usable == 1.0


def test_the_hour_is_that_of_the_ranges() -> None:
    """One hour of a month is called that; without a range it is a busy evening."""
    assert two_ranges().at == "on a busy evening"
    one = Outlook(finding(this_hour=True), worlds(1.0))
    assert Together(1_000_000, (None, one)).at == "at that hour of a busy day"


def test_who_takes_most_is_summed_over_ranges() -> None:
    """One station by one way counts once, as part of all the dial; under a thousandth nobody is named."""
    losses = two_ranges(losses=(Loss("image", "Mast", 0.04), Loss("image", "Light", 0.2))).losses
    assert [(loss.label, loss.response) for loss in losses] == [("Light", "image"), ("Mast", "image")]
    assert [loss.share for loss in losses] == pytest.approx([0.15, 0.25 * 0.2 + 0.75 * 0.04])
    # 0.004 of a quarter of the dial is just a thousandth of it
    just = Outlook(finding(1, 1_000_000, losses=(Loss("image", "Buoy", 0.004),)), worlds(1.0))
    assert [loss.label for loss in Together(4_000_000, (just,)).losses] == ["Buoy"]


def test_names_of_several_ranges_stand_once_in_their_order() -> None:
    """Those of the first range first, none of them twice."""
    both = two_ranges(decided_by=("Light", "Relay"), regulars=("Mast at 5 MHz", "Relay at 6 MHz"))
    assert both.decided_by == ("Mast", "Light", "Relay")
    assert both.regulars == ("Mast at 5 MHz", "Relay at 6 MHz")


def test_a_dial_is_counted_in_whole_hertz_with_both_ends() -> None:
    """From 100 to 200 there are 101 settings; of a stretch those inside the dial."""
    one = Range(name="1", low_hz=3_000_000, high_hz=6_000_000)
    assert width_hz(one) == 3_000_001
    assert width_hz(one, (2_000_000, 4_000_000)) == 1_000_001
    assert width_hz(one, (4_000_000, 5_000_000)) == 1_000_001
    assert width_hz(one, (5_000_000, 9_000_000)) == 1_000_001
