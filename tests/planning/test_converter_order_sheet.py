"""What a crystal is ordered by, and what its tolerance and its load come to on the dial."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import spurplan
from spurplan.planning.converter.crystal_order import Order
from spurplan.planning.converter.crystals import Crystal

SET = "demos/boathouse/set.toml"


def resonance_hz(load_pf: float, marked_hz: float, c1_pf: float, c0_pf: float) -> float:
    """Return the frequency at which motional arm, shunt and load are one circuit.

    Motional L and C1 are resonant in series with C0 + CL: f = fs sqrt(1 + C1/(C0 + CL)).
    """
    series_hz = marked_hz / math.sqrt(1 + c1_pf / (c0_pf + 30.0))
    return series_hz * math.sqrt(1 + c1_pf / (c0_pf + load_pf))


def test_a_load_that_is_not_the_one_ordered_pulls_it() -> None:
    """20 pF in place of 30 on a common blank: the equivalent circuit says as much as the formula."""
    order = Order(Crystal(10_000_000, "fundamental"), 10_000_000)
    assert order.load_pf == 30.0
    exact = resonance_hz(20.0, 10e6, 0.02, 5.0) - 10e6
    assert order.pulled_hz == pytest.approx(exact, rel=0.01)


@given(st.sampled_from(["3rd", "5th"]), st.integers(30_000_000, 120_000_000))
def test_overtones_are_ordered_in_series(mode: str, hz: int) -> None:
    """No load, and nothing to be pulled by one."""
    order = Order(Crystal(hz, mode), hz)
    assert (order.load_pf, order.pulled_hz) == (None, None)
    assert "series resonance" in order.text


@given(st.integers(1_000_000, 30_000_000), st.integers(1, 4), st.floats(1.0, 100.0))
def test_a_multiplier_multiplies_the_error(hz: int, times: int, ppm: float) -> None:
    """Parts in a million stay, hertz grow; the tolerance that keeps 1 kHz is the one that gives it."""
    order = Order(Crystal(hz, "fundamental", ppm), hz * times)
    assert order.dial_error_hz == pytest.approx(times * hz * ppm / 1e6)
    exact = Order(Crystal(hz, "fundamental", order.ppm_for_a_kilohertz), hz * times)
    assert exact.dial_error_hz == pytest.approx(1_000.0)


def test_what_lies_in_the_drawer_is_not_to_be_ordered(tmp_path: Path) -> None:
    """Named, or on a list of one's own: its error on the dial stands, the order does not."""
    stock = tmp_path / "drawer.csv"
    stock.write_text("freq_mhz\n24\n", "utf-8")
    for drawer in ({"crystal": "24 MHz"}, {"stock": stock}):
        said = " ".join(str(spurplan.converter(SET, cover="28MHz:29MHz", **drawer)).split())
        assert "To order" not in said
        # doubled, as it is used there: 50 ppm of 48 MHz
        assert "24 MHz is at hand: with 50 ppm (usual) it may put the dial off by 2.4 kHz" in said


def test_the_page_says_it_of_the_best_and_json_of_every_crystal() -> None:
    """The set alone has none to order; of those to a step the best is ordered."""
    answer = spurplan.converter(SET, cover="28MHz:29MHz", step="1 MHz")
    for side, order in zip(answer.candidates["side"], answer.candidates["order"], strict=True):
        assert (order is None) == (side == "alone")
    assert "To order: 2" in str(answer)
    error = answer.candidates["reading_error_hz"]
    ((_, first),) = answer.findings.per_cover()
    best = answer.findings.order_of(first.number)
    assert best.dial_error_hz == pytest.approx(error[0], abs=1.0)
