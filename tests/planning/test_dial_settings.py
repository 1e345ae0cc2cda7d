"""Where a set is measured, and what its pointer is off by: rules for any range, by hand for some.

The sets are invented.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spurplan.planning.bench.dial_settings import settings_hz, step_hz, tracking_of, tracking_points_hz
from spurplan.planning.bench.log import PointerReading
from spurplan.planning.bench.pointer import dial_fits
from spurplan.receiver.description import Receiver
from spurplan.receiver.tracking import chebyshev_points, track


def a_set(
    low_hz: int, high_hz: int, conversions: list[dict[str, Any]] | None = None, **range_: Any
) -> Receiver:
    filtered = {"filter": {"bandwidth_hz": 6_000}}
    if conversions is None:
        conversions = [{"injection": "high", "if_hz": 465_000}]
    tuned = {"name": "1", "low_hz": low_hz, "high_hz": high_hz, "front_end": [{"circuits": 1, "q": 60.0}]}
    return Receiver.from_dict(
        {
            "name": "any",
            "conversions": [*conversions[:-1], conversions[-1] | filtered],
            "ranges": [tuned | range_],
        }
    )


@given(st.integers(1_500_000, 20_000_000), st.integers(1_100, 3_000), st.integers(1, 12))
def test_settings_rise_inside_the_range_on_figures_of_the_scale(low_hz: int, ratio: int, points: int) -> None:
    """As many as asked for, each a whole number of steps, also next to an end that is none."""
    receiver = a_set(low_hz, low_hz * ratio // 1_000)
    (range_,) = receiver.ranges
    step = step_hz(range_)
    got = settings_hz(receiver, range_, points)
    assert len(got) == points
    assert list(got) == sorted(got)
    assert all(range_.low_hz <= hz <= range_.high_hz for hz in got)
    assert all(hz % step == 0 for hz in got)
    # 1, 2 or 5 of a decade, and between a two-hundredth of the range and two fifths of that
    assert str(step).rstrip("0") in ("1", "2", "5")
    assert 0.4 <= step * 200 / (range_.high_hz - range_.low_hz) <= 1.0


def test_a_setting_just_outside_is_moved_in_by_one_step() -> None:
    """The outer of many settings are nearly at the ends, and what is round there is outside."""
    receiver = a_set(7_004_000, 9_996_000)
    (range_,) = receiver.ranges
    assert step_hz(range_) == 10_000
    got = settings_hz(receiver, range_, 101)
    assert (got[0], got[-1]) == (7_010_000, 9_990_000)


def test_a_crystal_in_front_has_no_gang_to_track() -> None:
    """Tuned behind the first mixer: the points are those of a range by itself; in front they are not."""
    behind = [
        {"injection": "high", "crystal_hz": 24_000_000},
        {"injection": "high", "if_hz": 465_000},
    ]
    double, single = a_set(14_000_000, 18_000_000, behind), a_set(14_000_000, 18_000_000)
    plain = chebyshev_points(14e6, 18e6)
    assert tracking_of(double, double.ranges[0]) is None
    assert tracking_points_hz(double, double.ranges[0]) == plain
    tracking = tracking_of(single, single.ranges[0])
    assert tracking is not None
    assert tracking_points_hz(single, single.ranges[0]) == tracking.points_hz
    assert max(abs(a - b) for a, b in zip(tracking.points_hz, plain, strict=True)) > 10_000


def test_padder_and_trimmer_are_those_of_the_gang_at_hand() -> None:
    """Its largest and smallest capacitance; 350 pF at the most where nobody says."""
    for gang, largest_pf in (({}, 350.0), ({"gang": {"c_max_pf": 500.0, "c_min_pf": 80.0}}, 500.0)):
        receiver = a_set(4_500_000, 12_000_000, **gang)
        got = tracking_of(receiver, receiver.ranges[0])
        assert got is not None
        least_pf = 80.0 if gang else None
        by_hand = track(4.5e6, 12e6, 465e3, "high", c_max_pf=largest_pf, c_min_pf=least_pf)
        assert (got.padder_pf, got.coil_uh) == pytest.approx((by_hand.padder_pf, by_hand.coil_uh))


def pointers(*readings: tuple[int, int]) -> list[PointerReading]:
    """Readings of one range: where it is tuned [kHz], and how far the pointer is off [Hz]."""
    return [PointerReading(n, "1", khz * 1_000, off) for n, (khz, off) in enumerate(readings, start=1)]


def test_the_furthest_reading_is_so_from_the_middle_one() -> None:
    """20 kHz is 80 kHz from the middle of 20, 100 and 102, and 102 is but 2."""
    (got,) = dial_fits(pointers((7_000, 100_000), (7_100, 20_000), (7_200, 102_000)), {"1": 5_000})
    assert got.furthest.offset_hz == 20_000


def test_a_line_wants_three_places_of_the_dial() -> None:
    """Three that rise are a trend; two places read twice each may be one misreading, and are none."""
    (three,) = dial_fits(pointers((7_000, 0), (7_100, 10_000), (7_200, 20_000)), {"1": 5_000})
    assert three.trend
    two = pointers((7_000, 0), (7_000, 50), (7_200, 20_000), (7_200, 20_050))
    (got,) = dial_fits(two, {"1": 5_000})
    assert not got.trend
