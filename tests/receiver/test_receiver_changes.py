"""A changed set is a checked set: what was asked, nothing else, or a refusal."""

from __future__ import annotations

import copy
import math
from pathlib import Path

import pytest

from spurplan.errors import Refused
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes import (
    converter_conversion,
    covered_by,
    with_added_elements,
    with_conversion,
    with_converter,
    with_fitted,
    with_front_end,
    with_injection,
    with_intermediate_frequency,
    with_mixer,
    with_only,
    with_pad,
    with_range,
)
from spurplan.receiver.description import Circuits, CoupledPair, Front, Passband, Range, Receiver, Trap
from spurplan.receiver.file.reading import read_receiver
from spurplan.receiver.noise import compile_floor
from spurplan.receiver.plan import StagePlan

SETS = Path(__file__).parents[1] / "receivers"


@pytest.fixture
def boathouse() -> Receiver:
    return read_receiver(SETS / "boathouse.toml")


@pytest.fixture
def lockkeeper() -> Receiver:
    return read_receiver(SETS / "lockkeeper.toml")


def test_the_set_that_was_given_is_left_alone(boathouse: Receiver) -> None:
    """A change makes another set."""
    before = copy.deepcopy(boathouse)
    with_pad(with_front_end(with_injection(boathouse, injection="high"), elements=[]), pad_db=10.0)
    assert boathouse == before


def test_another_front_end_on_one_range_leaves_the_others(boathouse: Receiver) -> None:
    new = with_front_end(boathouse, elements=[Circuits(circuits=3, q=70.0)], range_name="4", ceiling_db=60.0)
    assert new.ranges[:3] == boathouse.ranges[:3]
    assert new.ranges[3].front_end == (Circuits(circuits=3, q=70.0),)
    assert new.ranges[3].front_end_ceiling_db == 60.0


def test_elements_are_added_ahead_of_the_default_circuit_too() -> None:
    """A set whose front end nobody described has one circuit, not none."""
    receiver = Receiver.from_dict(
        {
            "name": "a",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": ["3 MHz", "9 MHz"]}],
        }
    )
    trap = Trap(trap_hz=455_000, depth_db=30.0, q=60.0)
    assert with_added_elements(receiver, elements=[trap]).ranges[0].front_end == (trap, Circuits(circuits=1))


def test_a_trap_that_makes_no_sense_is_refused_where_it_is_put_in(boathouse: Receiver) -> None:
    far = Trap(trap_hz=29_000_000_000, depth_db=30.0, q=60.0)
    with pytest.raises(
        Refused, match=r"Boathouse valve set, range\[2\]\.front_end\[1\]\.trap: \"29000 MHz\""
    ):
        with_added_elements(boathouse, elements=[far], range_name="2")


def test_a_pad_takes_as_much_gain_as_it_adds_noise_figure(boathouse: Receiver) -> None:
    """A matched attenuator at room temperature adds its loss to the noise figure (Friis; common practice)."""
    before, after = (
        compile_chains([(one, one.ranges[3])])[0] for one in (boathouse, with_pad(boathouse, pad_db=10.0))
    )
    assert after.gain_db[0, 0] == before.gain_db[0, 0] - 10.0
    deaf = boathouse.unchecked(antenna_gain_db=-150.0)
    own = [
        float(compile_floor(one).total_dbm_per_hz(28_000_000)) for one in (deaf, with_pad(deaf, pad_db=10.0))
    ]
    # F - 1 of the set is what it adds: 10^1.4 - 1 and 10^2.4 - 1
    assert own[1] - own[0] == pytest.approx(10 * math.log10((10**2.4 - 1) / (10**1.4 - 1)), abs=1e-6)


def test_another_if_moves_the_oscillator_and_keeps_its_side(boathouse: Receiver) -> None:
    new = with_intermediate_frequency(boathouse, if_hz=1_600_000)
    (plan,) = new.plans_of(new.ranges[3])
    assert (plan.osc_b, plan.lo, plan.rf) == (1_600_000, 1, -1)


def test_another_if_on_one_range_gives_it_conversions_of_its_own(boathouse: Receiver) -> None:
    new = with_intermediate_frequency(boathouse, if_hz=1_600_000, range_name="4", bandwidth_hz=8_000)
    assert new.conversions == boathouse.conversions
    assert new.ranges[0] == boathouse.ranges[0]
    (conversion,) = new.conversions_of(new.ranges[3])
    assert conversion.filter is not None
    assert (conversion.if_hz, conversion.filter.bandwidth_hz, conversion.filter.shape_factor) == (
        1_600_000,
        8_000,
        3.2,
    )


def test_another_first_if_takes_the_second_crystal_with_it(lockkeeper: Receiver) -> None:
    """1.145 MHz fits 1.6 MHz only; the new one is below 5.5 MHz as the old one was below 1.6."""
    new = with_intermediate_frequency(lockkeeper, if_hz=5_500_000, stage=0)
    second = new.plans_of(new.ranges[0])[1]
    assert (second.osc_b, second.lo, second.rf, second.if_hz) == (5_045_000, -1, 1, 455_000)
    assert new.conversions[1].crystal_hz is None


def test_an_if_change_that_can_not_work_is_refused(boathouse: Receiver) -> None:
    with pytest.raises(Refused, match=r"conversion\[1\]\.filter\.bandwidth: \"6 kHz\" reaches down to 0 Hz"):
        with_intermediate_frequency(boathouse, if_hz=2_500)
    converter = read_receiver(SETS / "ferry_converter.toml")
    with pytest.raises(Refused, match=r"conversion\[1\]\.if: \"3\.5 MHz\" is tunable there"):
        with_intermediate_frequency(converter, if_hz=3_500_000, stage=0)
    with pytest.raises(Refused, match="there is no number 4"):
        with_intermediate_frequency(boathouse, if_hz=470_000, stage=4)


def test_low_side_where_the_oscillator_would_stop_is_refused(boathouse: Receiver) -> None:
    """Range 1 starts at 530 kHz: low side works with 465 kHz and not with 600 kHz."""
    low = with_injection(boathouse, injection="low")
    assert low.plans_of(low.ranges[0])[0].osc_b == -465_000
    with pytest.raises(Refused, match=r'injection: "low" needs a signal above the IF of 600 kHz'):
        with_intermediate_frequency(low, if_hz=600_000)


def test_another_side_behind_a_crystal_lets_the_crystal_go(lockkeeper: Receiver) -> None:
    new = with_injection(lockkeeper, injection="high", stage=1)
    assert new.plans_of(new.ranges[0])[1].osc_b == 2_055_000


def test_an_intercept_takes_the_place_of_v0_and_the_other_way_round(boathouse: Receiver) -> None:
    """Both say the same thing, so the later one counts."""
    by_voltage = with_mixer(boathouse, v0=2.0)
    by_intercept = with_mixer(by_voltage, h3=31.0)
    assert (by_intercept.conversions[0].mixer.v0, by_intercept.conversions[0].mixer.h3) == (None, 31.0)
    assert with_mixer(by_intercept, v0=2.0) == by_voltage


def test_unknown_ranges_and_figures_are_told(boathouse: Receiver) -> None:
    with pytest.raises(Refused, match='"7" is not a range of this set; known here: 1, 2, 3, 4'):
        with_front_end(boathouse, elements=[], range_name="7")
    with pytest.raises(Refused, match=r"Boathouse valve set, conversion\[1\]\.mixer\.h9: unknown key"):
        with_mixer(boathouse, h9=3.0)
    with pytest.raises(Refused, match=r"gain: \"-500(\.0)?\" is outside any sense"):
        with_pad(boathouse, pad_db=500.0)
    with pytest.raises(Refused, match='"-5 dB pad" is no attenuation'):
        with_pad(boathouse, pad_db=-5.0)
    with pytest.raises(Refused, match=r"conversion\[1\]\.gain: \"nan\" is not a number"):
        with_conversion(boathouse, stage=-1, gain_db=math.nan)


def test_fitted_figures_reach_every_tuned_circuit_of_their_range(boathouse: Receiver) -> None:
    """Traps keep their own Q."""
    new = with_fitted(boathouse, range_name="1", q=77.0, dial_offset_hz=-1_500)
    assert new.ranges[0].front_end == (
        CoupledPair(coupled_pair=1.0, q=77.0),
        Trap(trap_hz=465_000, depth_db=25.0, q=60.0),
    )
    assert new.ranges[0].dial_offset_hz == -1_500
    assert new.ranges[1:] == boathouse.ranges[1:]


def test_some_ranges_alone(boathouse: Receiver) -> None:
    assert [one.name for one in with_only(boathouse, range_names=["4", "2"]).ranges] == ["4", "2"]


# --- a converter in front ------------------------------------------------------------------


def test_a_converter_takes_the_ranges_that_can_hold_its_tunable_if(boathouse: Receiver) -> None:
    """24.5 MHz brings 28-30 MHz to 3.5-5.5 MHz: range 2 holds it up to 4.6, range 3 from 4.5."""
    new = with_converter(
        boathouse, conversion=converter_conversion(24_500_000, front=Front()), cover=(28_000_000, 30_000_000)
    )
    assert [(one.name, one.low_hz, one.high_hz) for one in new.ranges] == [
        ("2", 28_000_000, 29_100_000),
        ("3", 29_000_000, 30_000_000),
    ]


def test_the_set_s_own_front_end_becomes_the_selectivity_behind_the_converter(boathouse: Receiver) -> None:
    """With its ceiling; the gain between the mixers is the converter's and the set's together."""
    raised = with_range(boathouse, range_name="3", front_end_ceiling_db=66.0)
    front = Front(
        elements=(Passband(low_hz=6_900_000, high_hz=7_300_000, order=2),), gain_db=8.0, pickup_db=55.0
    )
    new = with_converter(
        raised,
        conversion=converter_conversion(12_000_000, front=front),
        cover=(7_000_000, 7_200_000),
        front=front,
    )
    (one,) = new.ranges
    ahead, behind = new.conversions_of(one)
    assert one.front_end == front.elements
    assert one.rf_gain_db == 8.0
    assert ahead.selectivity == boathouse.ranges[2].front_end
    assert ahead.selectivity_ceiling_db == 66.0
    assert ahead.gain_db == boathouse.ranges[2].rf_gain_db
    # 55 dB down past a converter that gives the wanted signal 8 dB
    assert ahead.pickup_db == 63.0
    assert behind == boathouse.conversions[0]


def test_noise_figures_go_in_cascade(boathouse: Receiver) -> None:
    """F = F1 + (F2 - 1)/G1."""
    # H. T. Friis, Noise Figures of Radio Receivers, Proc. IRE 32 (1944), the formula for networks in
    # cascade (from memory): 3 dB with 10 dB gain ahead of 12 dB gives 1.995 + 14.85/10 = 3.480, 5.42 dB
    set_of_12 = Receiver.from_dict(
        {**{n: getattr(boathouse, n) for n in boathouse.given}, "noise_figure_db": 12.0}
    )
    front = Front(noise_figure_db=3.0, gain_db=10.0)
    new = with_converter(
        set_of_12,
        conversion=converter_conversion(12_000_000, front=front),
        cover=(7_000_000, 7_200_000),
        front=front,
    )
    assert new.noise_figure_db == pytest.approx(5.42, abs=0.01)


def test_what_the_converter_leaves_to_default_stays_default(boathouse: Receiver) -> None:
    """Nobody gave the converter's RF gain, so nobody will think somebody did."""
    new = with_converter(
        boathouse, conversion=converter_conversion(12_000_000, front=Front()), cover=(7_000_000, 7_200_000)
    )
    assert "rf_gain_db" not in new.ranges[0].given
    assert new.ranges[0].front_end is None


@pytest.mark.parametrize(
    ("crystal_hz", "said"),
    [
        (7_100_000, '"7.1 MHz" lies inside the signal\'s range, 7 MHz to 7.2 MHz'),
        (6_900_000, "gives a tunable IF of 100 kHz to 300 kHz, which no range of the set covers"),
        (0, "crystal"),
    ],
)
def test_a_crystal_that_serves_nothing_is_refused(boathouse: Receiver, crystal_hz: int, said: str) -> None:
    with pytest.raises(Refused, match=said):
        with_converter(
            boathouse,
            conversion=converter_conversion(crystal_hz, front=Front()),
            cover=(7_000_000, 7_200_000),
        )


def test_a_cover_upside_down_is_refused_as_that(boathouse: Receiver) -> None:
    converter = converter_conversion(10_000_000, front=Front())
    with pytest.raises(Refused, match=r"cover: low edge 21\.6 MHz is not below high edge 21\.5 MHz"):
        with_converter(boathouse, conversion=converter, cover=(21_600_000, 21_500_000))


def test_the_part_a_range_can_tune_is_found_on_either_side() -> None:
    """Below the crystal the dial runs backwards, and the part turns round with it."""
    one = Range(name="1", low_hz=3_000_000, high_hz=4_000_000)
    upright = StagePlan(1, -25_000_000, 0, 25_000_000, 1, -1, 1, None)
    backwards = StagePlan(-1, 25_000_000, 0, 25_000_000, 1, 1, -1, None)
    assert covered_by(upright, part=one, cover=(28_500_000, 30_000_000)) == (28_500_000, 29_000_000)
    assert covered_by(backwards, part=one, cover=(20_000_000, 21_300_000)) == (21_000_000, 21_300_000)
    assert covered_by(backwards, part=one, cover=(22_000_000, 23_000_000)) is None
