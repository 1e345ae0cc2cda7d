"""The arithmetic of the bench, by hand: courses of Q, verdicts on an image, pointers, levels, quantiles."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from spurplan.planning.bench.chi_square import chi_square_quantile
from spurplan.planning.bench.dial_settings import settings_hz, step_hz
from spurplan.planning.bench.generator import dbm_volts, level_text, volts_text
from spurplan.planning.bench.image_readings import RangeRejection, Rejection
from spurplan.planning.bench.laws import (
    LEAST_Q,
    MOST_Q,
    Course,
    held,
    mean_log_q,
    told_at,
    tuned,
    weight_of,
    with_mean_q,
)
from spurplan.planning.bench.log import PointerReading
from spurplan.planning.bench.pointer import dial_fits
from spurplan.planning.bench.student import t_quantile
from spurplan.receiver.description import Circuits, CoupledPair, Range, Receiver, Trap

# --- quantiles -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("probability", "freedom", "value"),
    [
        # Abramowitz and Stegun, table 26.10, from memory
        (0.975, 1, 12.706), (0.975, 2, 4.303), (0.975, 3, 3.182), (0.975, 5, 2.571), (0.975, 10, 2.228),
        (0.975, 30, 2.042), (0.95, 4, 2.132), (0.995, 6, 3.707), (0.975, math.inf, 1.960),
    ],
)  # fmt: skip
def test_students_t_is_that_of_the_tables(probability: float, freedom: float, value: float) -> None:
    """To the three digits that are printed, and alike on either side of the middle."""
    assert t_quantile(probability, freedom) == pytest.approx(value, abs=6e-4)
    assert t_quantile(1.0 - probability, freedom) == pytest.approx(-value, abs=6e-4)


@pytest.mark.parametrize(
    ("probability", "freedom", "value"),
    [
        # Abramowitz and Stegun, table 26.8, from memory
        (0.95, 1, 3.841), (0.95, 2, 5.991), (0.95, 3, 7.815), (0.95, 10, 18.307), (0.05, 10, 3.940),
        (0.975, 5, 12.833), (0.025, 5, 0.831), (0.5, 2, 1.386),
    ],
)  # fmt: skip
def test_chi_square_is_that_of_the_tables(probability: float, freedom: int, value: float) -> None:
    """To the three digits that are printed."""
    assert chi_square_quantile(probability, freedom) == pytest.approx(value, abs=6e-4)


def test_quantiles_go_on_where_the_law_of_many_begins() -> None:
    """No step of more than a ten-thousandth at 2,000 degrees of freedom; nonsense is refused."""
    assert t_quantile(0.975, 2_000) == pytest.approx(t_quantile(0.975, 2_001), rel=1e-5)
    ratio = chi_square_quantile(0.9, 2_001) / chi_square_quantile(0.9, 2_000)
    assert ratio == pytest.approx(2_001 / 2_000, rel=1e-4)
    for probability, freedom in ((0.0, 3), (1.0, 3), (0.5, 0)):
        for quantile in (t_quantile, chi_square_quantile):
            with pytest.raises(ValueError, match="no quantile"):
                quantile(probability, freedom)


# --- levels ----------------------------------------------------------------------------------


def test_a_level_is_a_voltage_across_50_ohm() -> None:
    """0 dBm is a milliwatt, 223.6 mV; 20 dB less a tenth of it; the EMF is twice what is across the load."""
    assert dbm_volts(0.0) == pytest.approx(math.sqrt(0.05))
    assert dbm_volts(-20.0) == pytest.approx(math.sqrt(0.05) / 10)
    assert level_text(-20.0) == "-20.0 dBm, 22.4 mV PD into 50 ohm, 44.7 mV EMF"
    said = [volts_text(volts) for volts in (0.5, 0.1, 0.0999, 0.05, 0.001, 0.00099, 5e-7)]
    assert said == ["0.5 V", "0.1 V", "99.9 mV", "50 mV", "1 mV", "990 uV", "0.5 uV"]


# --- courses of Q ----------------------------------------------------------------------------

PLAIN = (Circuits(circuits=2, q=80.0),)
MIXED = (
    Circuits(circuits=2, q=40.0),
    Trap(trap_hz=465_000, depth_db=40.0, q=80.0),
    CoupledPair(coupled_pair=1.0, q=160.0),
)


def test_a_mean_q_is_the_geometric_one_of_all_circuits() -> None:
    """Two of 40 and a pair of 160 have 80; a trap has none of it."""
    assert [weight_of(element) for element in tuned(MIXED)] == [2, 2]
    assert np.exp(mean_log_q(MIXED, 10e6)) == pytest.approx(80.0)
    three = (Circuits(circuits=1, q=40.0), CoupledPair(coupled_pair=1.0, q=160.0))
    assert np.exp(mean_log_q(three, 10e6)) == pytest.approx((40.0 * 160.0**2) ** (1 / 3))


def test_another_mean_keeps_the_proportions() -> None:
    """Twice the mean is twice each Q; what is no circuit stays as it is."""
    made: tuple[Any, ...] = with_mean_q(MIXED, 160.0, replace_q)
    assert [element.q for element in made] == pytest.approx([80.0, 80.0, 320.0])
    assert made[1] is MIXED[1]
    bent: tuple[Any, ...] = with_mean_q(MIXED, ((1_000_000, 80.0), (4_000_000, 40.0)), replace_q)
    first, _, pair = bent
    assert [q for _, q in first.q] == pytest.approx([40.0, 20.0])
    assert [q for _, q in pair.q] == pytest.approx([160.0, 80.0])
    assert [hz for hz, _ in pair.q] == [1_000_000, 4_000_000]


def replace_q(element: Any, q: Any) -> Any:
    return element.unchecked(q=q)


def test_a_course_goes_through_what_was_told_and_by_a_power_between() -> None:
    """Q 80 described; 80 at 4 MHz and 40 at 16 MHz fall as the root of frequency: 56.6 at 8 MHz."""
    course = Course(PLAIN, (4_000_000, 16_000_000))
    told = np.log([80.0, 40.0])
    assert np.exp(course.log_q([4e6, 16e6, 8e6], told)) == pytest.approx([80.0, 40.0, math.sqrt(80.0 * 40.0)])
    assert np.exp(course.described) == pytest.approx([80.0, 80.0])
    one = Course(PLAIN, (4_000_000,))
    assert np.exp(one.log_q([1e6, 30e6], [math.log(100.0)])) == pytest.approx([100.0, 100.0])
    bent = Course(PLAIN, (4_000_000, 8_000_000, 16_000_000))
    assert np.exp(bent.log_q([8e6], np.log([80.0, 100.0, 80.0]))) == pytest.approx([100.0])
    assert bent.weights([4e6, 8e6, 16e6]) == pytest.approx(np.eye(3))
    assert bent.weights([5e6, 30e6]).sum(axis=-1) == pytest.approx([1.0, 1.0])


def test_a_course_is_written_as_a_number_where_it_is_level() -> None:
    """Two points where it slopes, seven where it bends, over the whole range."""
    assert Course(PLAIN, (4_000_000,)).curve(3_000_000, 9_000_000, [math.log(100.0)]) == pytest.approx(100.0)
    slope = Course(PLAIN, (4_000_000, 16_000_000)).curve(4_000_000, 16_000_000, np.log([80.0, 40.0]).tolist())
    assert not isinstance(slope, float)
    assert [hz for hz, _ in slope] == [4_000_000, 16_000_000]
    assert [q for _, q in slope] == pytest.approx([80.0, 40.0])
    bend = Course(PLAIN, (4_000_000, 8_000_000, 16_000_000)).curve(
        4_000_000, 16_000_000, np.log([80.0, 100.0, 80.0]).tolist()
    )
    assert not isinstance(bend, float)
    assert len(bend) == 7
    assert bend[3] == (8_000_000, pytest.approx(100.0))


def test_a_q_is_held_to_what_a_circuit_can_have() -> None:
    """From a tenth to two thousand."""
    assert np.exp(held(np.log([0.01, 50.0, 1e5]))) == pytest.approx([LEAST_Q, 50.0, MOST_Q])
    assert (LEAST_Q, MOST_Q) == (0.1, 2_000.0)


def test_settings_near_each_other_tell_one_q() -> None:
    """Within a tenth one, in their middle; two farther apart two ends; three a bend."""
    assert told_at([10_000_000, 10_900_000]) == (round(math.sqrt(10_000_000 * 10_900_000)),)
    assert told_at([11_000_000, 10_000_000]) == (10_000_000, 11_000_000)
    assert told_at([4_000_000, 16_000_000, 5_000_000]) == (4_000_000, 8_000_000, 16_000_000)
    assert told_at([4_000_000, 16_000_000, 4_000_000]) == (4_000_000, 16_000_000)


# --- verdicts on an image --------------------------------------------------------------------


def image(rejection_db: float, fair_db: float | None = 40.0, **more: Any) -> Rejection:
    said: dict[str, Any] = {
        "number": 1, "range": "4", "dial_hz": 28_000_000, "response": "image", "at_least": False,
        "described_db": 50.0, "chance_db": 4.0, "tells_q": True, "set_aside": False,
    }  # fmt: skip
    return Rejection(rejection_db=rejection_db, fair_db=fair_db, **(said | more))


def test_an_image_is_short_fair_or_better_by_more_than_chance() -> None:
    """40 dB are fair, give or take 4: the limits are fair themselves."""
    said = [image(db).verdict for db in (35.9, 36.0, 44.0, 44.1)]
    assert said == ["short", "fair", "fair", "better"]
    assert image(30.0, None).verdict is None
    assert (image(30.0).over_fair_db, image(30.0, None).over_fair_db) == (-10.0, None)
    assert [image(db).is_short for db in (35.9, 36.0)] == [True, False]


def test_what_was_not_heard_is_no_less_than_that() -> None:
    """Silence is short of nothing; better where it is by more than chance over what is fair."""
    silent = [image(db, at_least=True).verdict for db in (20.0, 44.0, 44.1)]
    assert silent == [None, None, "better"]
    assert not image(20.0, at_least=True).is_short


def test_the_least_of_a_range_is_that_of_what_was_not_set_aside() -> None:
    """Heard ahead of not heard where both are the same; short ones, doubtful ones and sound ones apart."""
    some = (
        image(30.0, set_aside=True), image(35.0, number=2), image(35.0, number=3, at_least=True),
        image(41.0, number=4), image(50.0, number=5, tells_q=False), image(60.0, number=6, set_aside=True),
    )  # fmt: skip
    got = RangeRejection("4", some, (), 2)
    assert got.least_image is some[1]
    assert got.least_straight is None
    assert got.short == (some[1],)
    assert got.doubtful == (some[0],)
    assert got.sound == (some[3],)
    turned = RangeRejection("4", (), tuple(reversed(some)), 2)
    assert turned.least_straight is some[1]
    assert turned.least_image is None


# --- pointers --------------------------------------------------------------------------------


def pointer(dial_khz: int, offset_hz: int, number: int = 1, name: str = "4") -> PointerReading:
    return PointerReading(number, name, dial_khz * 1_000, offset_hz)


def test_a_pointer_is_off_by_the_mean_of_its_readings() -> None:
    """11 kHz of 10, 11 and 12; a single reading has no interval and is taken all the same."""
    (three,) = dial_fits(
        [pointer(10_000, 10_000), pointer(12_000, 12_000), pointer(11_000, 11_000)], {"4": 5_000}
    )
    assert three.offset_hz == pytest.approx(11_000.0)
    # a kilohertz of spread, three readings, Student's t of two degrees of freedom
    half = 4.3027 * 1_000 / math.sqrt(3)
    assert (three.low_hz, three.high_hz) == pytest.approx((11_000 - half, 11_000 + half), rel=1e-3)
    assert three.decided
    (one,) = dial_fits([pointer(10_000, -7_000)], {"4": 5_000})
    assert (one.offset_hz, one.decided, one.trend) == (pytest.approx(-7_000.0), True, False)
    assert math.isnan(one.low_hz)


def test_a_pointer_misread_is_set_aside_and_named() -> None:
    """Of six that agree and one far off: the mean is theirs, the odd one is the furthest."""
    some = [pointer(10_000 + 500 * k, 5_000 + (-200, 0, 200)[k % 3], k) for k in range(6)]
    (got,) = dial_fits([*some, pointer(13_500, 105_000, 9)], {"4": 5_000})
    assert got.offset_hz == pytest.approx(5_000, abs=150)
    assert got.outlier.tolist() == [False] * 6 + [True]
    assert got.furthest.number == 9
    assert got.residuals_hz == pytest.approx([*(-200, 0, 200) * 2, 100_000], abs=150)
    # readings are taken for no better than a tenth of a round step
    (alike,) = dial_fits([pointer(10_000 + 500 * k, 5_000, k) for k in range(4)], {"4": 5_000})
    assert alike.high_hz - alike.offset_hz == pytest.approx(3.1824 * 500 / 2, rel=1e-3)


def test_an_offset_is_decided_to_two_round_steps() -> None:
    """Two readings 2 kHz apart are known to 12.7 kHz either way: two steps of 6.4 kHz will do, of 6.3 not."""
    two = [pointer(10_000, 4_000), pointer(11_000, 6_000)]
    half = 12.7062 * math.sqrt(2.0) * 1_000 / math.sqrt(2)
    for step_hz_, decided in ((6_400, True), (6_300, False)):
        (got,) = dial_fits(two, {"4": step_hz_})
        assert got.high_hz - got.offset_hz == pytest.approx(half, rel=1e-3)
        assert got.decided is decided


def test_ranges_have_each_a_pointer_of_their_own() -> None:
    """In the order of the log."""
    two = dial_fits(
        [pointer(10_000, 5_000, name="4"), pointer(1_000, 2_000, name="1"), pointer(11_000, 5_000, name="4")],
        {"1": 1_000, "4": 5_000},
    )
    assert [(one.range, round(one.offset_hz), len(one.readings)) for one in two] == [
        ("4", 5_000, 2),
        ("1", 2_000, 1),
    ]


def test_a_stretched_scale_is_a_trend_from_more_than_a_step_on() -> None:
    """An offset that grows along the range by more than a round step; four readings that agree are none."""

    def grows(by_hz: int) -> bool:
        some = [pointer(10_000 + 1_000 * k, round(by_hz * k / 4), k) for k in range(5)]
        (got,) = dial_fits(some, {"4": 5_000})
        return got.trend

    assert [grows(by_hz) for by_hz in (4_900, 5_200, -5_200, 0)] == [False, True, True, False]


# --- where to set the dial -------------------------------------------------------------------


def of_range(low_hz: int, high_hz: int) -> tuple[Receiver, Range]:
    made = Receiver.from_dict(
        {
            "name": "Any",
            "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": [f"{low_hz} Hz", f"{high_hz} Hz"]}],
        }
    )
    return made, made.ranges[0]


def test_a_dial_is_set_in_round_steps_of_a_two_hundredth() -> None:
    """1, 2 or 5 of a decade, the largest that is no more."""
    steps = [
        step_hz(of_range(6_000_000, 6_000_000 + width)[1])
        for width in (12_000_000, 1_000_000, 399_999, 400_000)
    ]
    assert steps == [50_000, 5_000, 1_000, 2_000]


def test_more_settings_stand_closer_towards_the_ends() -> None:
    """Five on 6 to 18 MHz: at the zeros of Chebyshev's fifth polynomial, in steps of 50 kHz."""
    set_, range_ = of_range(6_000_000, 18_000_000)
    wished = [12e6 - 6e6 * math.cos(math.pi * angle / 10) for angle in (1, 3, 5, 7, 9)]
    got = settings_hz(set_, range_, 5)
    assert got == tuple(round(hz / 50_000) * 50_000 for hz in wished)
    low, middle, high = settings_hz(set_, range_, 3)
    assert settings_hz(set_, range_, 2) == (low, high)
    assert settings_hz(set_, range_, 1) == (middle,)
