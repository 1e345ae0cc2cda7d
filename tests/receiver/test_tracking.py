"""Three-point tracking: the circuit that is found does what is said of it."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.errors import BadValue
from spurplan.receiver.tracking import Tracking, chebyshev_points, series_padder_pf, track

ranges = st.tuples(st.floats(1.4e5, 2e7), st.floats(1.3, 3.4), st.floats(0.05, 1.5)).map(
    lambda t: (t[0], t[0] * t[1], t[0] * t[2])
)


def oscillator_hz(
    tracking: Tracking, signal_hz: np.ndarray, low_hz: float, total_at_low_pf: float, stray_pf: float
) -> np.ndarray:
    """Resonance of the oscillator circuit, from its parts alone."""
    section = total_at_low_pf * (low_hz / signal_hz) ** 2 - stray_pf
    in_series = tracking.padder_pf * section / (tracking.padder_pf + section)
    farads = (tracking.trimmer_pf + in_series) * 1e-12
    return 1.0 / (2.0 * math.pi * np.sqrt(tracking.coil_uh * 1e-6 * farads))


@settings(max_examples=60, deadline=None)
@given(ranges, st.sampled_from(["chebyshev", "minimax"]), st.integers(1, 3))
def test_the_parts_found_resonate_where_the_error_says(
    span: tuple[float, float, float], points: str, harmonic: int
) -> None:
    """Padder, trimmer and coil put back into the formula of a tuned circuit, not into the fit."""
    low, high, if_hz = span
    tracking = track(low, high, if_hz, points=points, oscillator_harmonic=harmonic)
    signal = np.linspace(low, high, 101)
    received = harmonic * oscillator_hz(tracking, signal, low, 350.0, 0.0) - if_hz
    assert received - signal == pytest.approx(tracking.error_hz(signal), abs=1e-6 * (high + if_hz))
    at_points = np.array(tracking.points_hz)
    assert tracking.error_hz(at_points) == pytest.approx(np.zeros(3), abs=1e-7 * (high + if_hz))


@settings(max_examples=60, deadline=None)
@given(ranges)
def test_minimax_points_leave_four_equal_peaks_and_no_more_error_than_chebyshev_points(
    span: tuple[float, float, float],
) -> None:
    """Equal peaks of alternating sign are the mark of the least peak there is."""
    low, high, if_hz = span
    best, usual = track(low, high, if_hz), track(low, high, if_hz, points="chebyshev")
    assert best.peak_error_hz <= usual.peak_error_hz * (1 + 1e-9)
    edges = [low, *best.points_hz, high]
    peaks = []
    for a, b in pairwise(edges):
        error = best.error_hz(np.linspace(a, b, 2001)[1:-1])
        peaks.append(error[np.argmax(np.abs(error))])
    assert np.abs(peaks) == pytest.approx(np.full(4, best.peak_error_hz), rel=0.01)
    assert [np.sign(p) for p in peaks] in ([1, -1, 1, -1], [-1, 1, -1, 1])


@settings(max_examples=40, deadline=None)
@given(ranges, st.floats(0.02, 0.9))
def test_strays_change_the_parts_and_not_the_error(span: tuple[float, float, float], share: float) -> None:
    """A constant across the section shifts a quotient of straight lines into another one."""
    low, high, if_hz = span
    plain = track(low, high, if_hz, c_max_pf=400.0)
    # strays that leave `share` of the capacitance at the high end to the section
    ratio = (low / high) ** 2
    stray = 400.0 * ratio * (1 - share) / (1 - ratio * (1 - share))
    c_min = (400.0 + stray) * ratio
    try:
        with_strays = track(low, high, if_hz, c_max_pf=400.0, c_min_pf=c_min)
    except BadValue:
        return  # no trimmer is small enough for these strays
    signal = np.linspace(low, high, 50)
    assert with_strays.error_hz(signal) == pytest.approx(
        plain.error_hz(signal), abs=2e-3 * plain.peak_error_hz
    )
    received = oscillator_hz(with_strays, signal, low, 400.0 + stray, stray) - if_hz
    assert received - signal == pytest.approx(with_strays.error_hz(signal), abs=1e-6 * (high + if_hz))


def test_a_coil_says_the_same_as_the_capacitance_at_the_high_end() -> None:
    c_min_pf = 45.0
    coil_uh = 1e18 / ((2 * math.pi * 1.6e6) ** 2 * c_min_pf)
    by_c = track(550e3, 1600e3, 465e3, c_max_pf=350.0, c_min_pf=c_min_pf)
    by_l = track(550e3, 1600e3, 465e3, c_max_pf=350.0, coil_uh=coil_uh)
    assert by_c.padder_pf == pytest.approx(by_l.padder_pf)
    assert by_c.coil_uh == pytest.approx(by_l.coil_uh)


def test_points_of_ones_own_are_kept_in_any_order() -> None:
    tracking = track(550e3, 1600e3, 465e3, points=(1500e3, 600e3, 950e3))
    assert tracking.points_hz == pytest.approx((600e3, 950e3, 1500e3))
    assert tracking.error_hz([600e3, 950e3, 1500e3]) == pytest.approx([0, 0, 0], abs=1e-3)


def test_a_scalar_gets_what_a_vector_gets() -> None:
    tracking = track(3e6, 9e6, 465e3)
    both = tracking.error_hz([4e6, 8e6])
    scalars = [float(tracking.error_hz(4e6)), float(tracking.error_hz(8e6))]
    assert scalars == pytest.approx(both.tolist(), rel=1e-9)


def test_a_narrow_range_is_tracked_almost_without_error() -> None:
    """The error of a smooth curve through three points falls with the cube of the width."""
    wide, narrow = (track(7e6 / math.sqrt(r), 7e6 * math.sqrt(r), 465e3) for r in (1.2, 1.02))
    assert wide.peak_error_hz / narrow.peak_error_hz == pytest.approx(
        (math.log(1.2) / math.log(1.02)) ** 3, rel=0.1
    )


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((3e6, 9e6, 465e3, "low"), '"low" can not be tracked'),
        ((3e6, 9e6, 465e3, "sum"), '"sum" can not be tracked by a gang'),
        ((3e6, 9e6, 4e6, "low"), '"4 MHz" leaves no oscillator'),
        ((9e6, 3e6, 465e3), "is no range"),
        ((3e6, 9e6, 0.0), "is no IF"),
    ],
)
def test_what_can_not_be_tracked_is_refused_with_the_value(arguments: tuple, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        track(*arguments)


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        ({"c_max_pf": 0.0}, "is no gang capacitance"),
        ({"c_min_pf": 10.0}, "less than the section's"),
        ({"coil_uh": 0.0}, '"0 uH" is no coil'),
        ({"c_min_pf": 60.0}, "leaves no capacitance"),
        ({"oscillator_harmonic": 0}, "is no harmonic"),
        ({"points": (600e3, 600e3, 1500e3)}, "not three different"),
        ({"points": (500e3, 900e3, 1500e3)}, "not all inside"),
    ],
)
def test_contradictions_are_refused(figures: dict, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        track(550e3, 1600e3, 465e3, **{"c_max_pf": 350.0, **figures})


@settings(max_examples=60, deadline=None)
@given(st.floats(50, 1000), st.floats(1.5, 20), st.floats(0.02, 0.98))
def test_a_series_padder_gives_the_ratio_it_was_worked_out_for(
    c_max: float, ratio: float, share: float
) -> None:
    c_min = c_max / ratio
    wanted = 1 + share * (math.sqrt(ratio) - 1)
    padder = series_padder_pf(c_max, c_min, wanted)
    high, low = (padder * c / (padder + c) for c in (c_min, c_max))
    assert math.sqrt(low / high) == pytest.approx(wanted)


@settings(max_examples=200, deadline=None)
@given(
    st.floats(1.0, 1e10),
    st.floats(1.0, 1e3),
    st.floats(1e-4, 1e10),
    st.sampled_from(["minimax", "chebyshev"]),
    st.integers(1, 9),
)
def test_a_range_of_a_few_hertz_is_tracked_or_refused(
    low: float, width: float, if_ratio: float, points: str, harmonic: int
) -> None:
    """Where double precision can not tell the parts there are none, and no error of the arithmetic."""
    try:
        tracking = track(low, low + width, low * if_ratio, points=points, oscillator_harmonic=harmonic)
    except BadValue:
        return
    figures = (tracking.padder_pf, tracking.trimmer_pf, tracking.coil_uh, tracking.peak_error_hz)
    assert all(math.isfinite(figure) for figure in figures)
    assert low * (1 - 1e-12) <= tracking.peak_at_hz <= (low + width) * (1 + 1e-12)


def test_a_range_too_narrow_for_padder_and_trimmer_is_refused_with_both_edges() -> None:
    with pytest.raises(BadValue, match='"14000000 to 14000001 Hz" is so narrow'):
        track(14e6, 14e6 + 1, 465e3)


def test_a_series_padder_needs_a_capacitance_at_both_ends() -> None:
    with pytest.raises(BadValue, match='"0 pF" is no tuned capacitance'):
        series_padder_pf(350.0, 0.0, 1.5)


def test_a_series_padder_can_not_widen_a_range() -> None:
    with pytest.raises(BadValue, match='"2" is not a ratio'):
        series_padder_pf(350.0, 100.0, 2.0)


def test_chebyshev_points_are_those_of_a_cubic() -> None:
    """The cubic with these zeros has the least peak on the range: its four peaks are equal."""
    points = chebyshev_points(2e6, 5e6)
    cubic = np.poly1d(np.array(points) / 1e6, r=True)
    turns = cubic.deriv().roots
    assert np.abs(cubic([2, *turns, 5])) == pytest.approx(np.full(4, abs(cubic(2))))
