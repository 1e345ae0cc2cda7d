"""Mixer products: the compact model, its inverse, overrides, measured cells."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.errors import Refused
from spurplan.receiver import description
from spurplan.receiver.description import Mixer
from spurplan.receiver.families import (
    family,
    family_names,
    single_tone_intercept_dbm,
    voltage_intercept_dbm,
)
from spurplan.receiver.mixers import CompiledMixer, compile_mixer

FAMILIES = family_names()
BALANCED = ("single_balanced_lo", "single_balanced_rf", "diode_ring", "commutating")


@st.composite
def tables(draw: st.DrawFn) -> tuple[tuple[int, int, float, float], ...]:
    """Measured products without holes, the wanted one at 0 dB."""
    first, last, highest = draw(st.integers(0, 1)), draw(st.integers(1, 4)), draw(st.integers(1, 3))
    level = draw(st.floats(-60, 10))
    return tuple(
        (m, n, 0.0 if (m, n) == (1, 1) else draw(st.floats(-5, 100)), level)
        for m in range(first, last + 1)
        for n in range(1, highest + 1)
    )


@st.composite
def mixers(draw: st.DrawFn) -> CompiledMixer:
    figures = {
        "e1": st.floats(0, 3),
        "c": st.floats(0, 4),
        "balance_lo": st.floats(0, 50),
        "balance_rf": st.floats(0, 50),
        "cross_lo": st.floats(0, 30),
        "isolation": st.floats(-10, 40),
        "h2": st.floats(-20, 60),
        "h3": st.floats(-20, 60),
        "h5": st.floats(-20, 60),
        "lo_dbm": st.floats(-10, 27),
        "floor": st.floats(40, 120),
    }
    stated = {name: draw(figures[name]) for name in draw(st.sets(st.sampled_from(sorted(figures))))}
    rows = draw(st.one_of(st.just(()), tables()))
    harmonic = draw(st.integers(1, 3))
    mixer = Mixer(family=draw(st.sampled_from(FAMILIES)), table_rows=rows, **stated)
    return compile_mixer(mixer, (harmonic, -1))


cells = st.tuples(st.integers(0, 12), st.integers(1, 7))


class TestInverse:
    @settings(max_examples=300, deadline=None)
    @given(mixers(), cells, st.floats(-180, 20))
    def test_what_is_needed_gives_the_output_and_nothing_less_does(
        self, mixer: CompiledMixer, cell: tuple[int, int], out: float
    ) -> None:
        """Dropping a route because it needs more than the strongest occupant loses nothing."""
        need = float(mixer.need_dbm(*cell, out))
        assert need - mixer.suppression_db(*cell, need) == pytest.approx(out, abs=1e-6)
        below = need - np.array([1e-3, 0.1, 1.0, 10.0, 60.0])
        assert np.all(below - mixer.suppression_db(*cell, below) < out)

    @settings(max_examples=200, deadline=None)
    @given(mixers(), cells, st.lists(st.floats(-160, 40), min_size=2, max_size=8))
    def test_the_output_never_falls_as_the_signal_rises(
        self, mixer: CompiledMixer, cell: tuple[int, int], levels: list[float]
    ) -> None:
        rising = np.sort(np.array(levels))
        assert np.all(np.diff(rising - mixer.suppression_db(*cell, rising)) >= -1e-9)

    @settings(max_examples=200, deadline=None)
    @given(mixers(), cells, st.floats(-160, 60))
    def test_the_least_suppression_is_a_lower_bound_that_strong_signals_reach(
        self, mixer: CompiledMixer, cell: tuple[int, int], level: float
    ) -> None:
        least = float(mixer.least_db(*cell))
        assert mixer.suppression_db(*cell, level) >= least - 1e-9
        assert mixer.suppression_db(*cell, 500.0) == pytest.approx(least)

    @settings(max_examples=100, deadline=None)
    @given(mixers(), st.lists(cells, min_size=1, max_size=9), st.floats(-120, 0))
    def test_a_scalar_gets_what_a_vector_gets(
        self, mixer: CompiledMixer, some: list[tuple[int, int]], level: float
    ) -> None:
        m, n = np.array(some).T
        for method in (mixer.suppression_db, mixer.need_dbm):
            vector = method(m, n, level)
            assert vector.shape == m.shape
            assert vector.tolist() == [float(method(*cell, level)) for cell in some]
        assert mixer.least_db(m, n).tolist() == [float(mixer.least_db(*cell)) for cell in some]
        assert mixer.balance_dependent(m, n).tolist() == [bool(mixer.balance_dependent(*c)) for c in some]


class TestLaw:
    @pytest.mark.parametrize("name", FAMILIES)
    @pytest.mark.parametrize("n", [1, 2, 3, 4, 5, 7])
    def test_a_product_of_order_n_falls_n_db_per_db(self, name: str, n: int) -> None:
        """The rule any memoryless device follows for weak signals."""
        mixer = compile_mixer(Mixer(family=name))
        m = np.arange(0, 11)
        weak = mixer.limit_dbm - 40.0
        deeper = mixer.suppression_db(m, n, weak - 1.0) - mixer.suppression_db(m, n, weak)
        assert deeper == pytest.approx(np.full(11, n - 1.0))

    @pytest.mark.parametrize("name", FAMILIES)
    def test_the_wanted_product_is_the_reference(self, name: str) -> None:
        assert compile_mixer(Mixer(family=name)).suppression_db(1, 1, -50.0) == 0.0
        assert compile_mixer(Mixer(family=name), (-2, 1)).suppression_db(2, 1, -50.0) == 0.0

    def test_an_oscillator_used_on_its_second_harmonic_hears_the_first_better(self) -> None:
        """28 against 14 per cent of peak transconductance: 6 dB the other way round."""
        mixer = compile_mixer(Mixer(), (2, -1))
        assert mixer.suppression_db(1, 1, -50.0) == pytest.approx(-20 * math.log10(2))
        assert mixer.least_db(1, 1) == pytest.approx(-20 * math.log10(2))
        # strong enough to be clipped, an even product is still so much stronger than the wanted one
        assert mixer.least_db(2, 2) == pytest.approx(-20 * math.log10(2))

    def test_a_clipped_product_is_as_strong_as_its_signal_and_no_stronger(self) -> None:
        mixer = compile_mixer(Mixer(family="bipolar"))
        assert mixer.suppression_db(1, 2, 30.0) == 0.0
        assert mixer.need_dbm(1, 2, 30.0) == 30.0

    def test_the_floor_holds_linear_products_only(self) -> None:
        """A floor under n >= 2 would break the n dB per dB law."""
        mixer = compile_mixer(Mixer(floor=20.0))
        assert mixer.suppression_db(10, 1, -50.0) == 20.0
        assert mixer.suppression_db(1, 2, -50.0) > 80.0

    def test_high_orders_are_worked_out_when_they_are_asked_for(self) -> None:
        mixer = compile_mixer(Mixer(family="diode_ring"), (3, 1))
        far = mixer.suppression_db(41, 1, -50.0)
        assert far == pytest.approx(20 * 1.5 * math.log10(41 / 3))
        assert mixer.suppression_db(1, 30, -50.0) > 0
        assert mixer.suppression_db(3, 1, -50.0) == 0.0


class TestFamilies:
    def test_are_the_ones_a_description_may_name(self) -> None:
        assert set(FAMILIES) == set(description.Family.__args__)

    @pytest.mark.parametrize(
        ("name", "h2", "h3"),
        [
            # V0 3 V, 1 V, 26 mV, 0.8 V through H_n = 2*V0*(n!)^(1/(n-1)) [calc]; the others stated
            ("valve_multiplicative", 31.6, 33.3),
            ("valve_additive", 22.0, 23.8),
            ("bipolar", -9.7, -7.9),
            ("jfet", 31.0, 33.0),
            ("dual_gate_mosfet", 20.1, 21.9),
            ("diode_ring", 25.0, 21.5),
            ("commutating", 33.0, 31.0),
        ],
    )
    def test_intercepts(self, name: str, h2: float, h3: float) -> None:
        figures = family(name)
        assert figures.intercept_dbm(2) == pytest.approx(h2, abs=0.06)
        assert figures.intercept_dbm(3) == pytest.approx(h3, abs=0.06)

    @pytest.mark.parametrize(
        ("n", "times_v0"), [(2, 4.00), (3, 4.90), (4, 5.77), (5, 6.62), (6, 7.46), (7, 8.28)]
    )
    def test_one_voltage_gives_every_intercept(self, n: int, times_v0: float) -> None:
        """H_n = 2*V0*(n!)^(1/(n-1)) [calc]; dBm in 50 ohm = 20*log10(V peak) + 10."""
        assert voltage_intercept_dbm(1.0, n) == pytest.approx(20 * math.log10(times_v0) + 10, abs=0.01)
        mixer = compile_mixer(Mixer(family="jfet", v0=1.0))
        at_intercept = voltage_intercept_dbm(1.0, n)
        assert mixer.suppression_db(1, n, at_intercept) == pytest.approx(0.0, abs=1e-9)

    def test_missing_intercepts_go_down_2_db_an_order(self) -> None:
        figures = family("diode_ring")
        assert figures.intercept_dbm(4) == figures.intercept_dbm(3) - 2.0
        assert figures.intercept_dbm(5) == 7.0 + 3.5
        assert figures.intercept_dbm(7) == figures.intercept_dbm(5) - 4.0

    def test_valves_fall_faster_beyond_three_harmonics(self) -> None:
        """The first three were measured and stand in test_against_published_mixer_tables.py."""
        mixer = compile_mixer(Mixer())
        assert mixer.suppression_db(6, 1, -50.0) == pytest.approx(9.54 + 40 * math.log10(2), abs=0.01)

    @pytest.mark.parametrize("name", FAMILIES)
    def test_suppression_grows_with_the_oscillator_harmonic_of_one_parity(self, name: str) -> None:
        mixer = compile_mixer(Mixer(family=name))
        for start in (1, 2):
            assert np.all(np.diff(mixer.suppression_db(np.arange(start, 12, 2), 1, -50.0)) >= 0)

    def test_a_separable_device_has_the_same_oscillator_law_in_every_order(self) -> None:
        """i = f(v_s)*h(v_o): S(m, n) = L(m) + S_n."""
        mixer = compile_mixer(Mixer())
        m = np.arange(1, 10)
        linear = mixer.suppression_db(m, 1, -50.0)
        for n in (2, 3, 5):
            raised = mixer.suppression_db(m, n, -50.0) - mixer.suppression_db(1, n, -50.0)
            assert raised == pytest.approx(linear, abs=1e-9)

    def test_the_edge_law_of_a_switch_rises_with_the_harmonic(self) -> None:
        """(m, 3)/(1, 1) = m*rho^2/8 for odd m: 20*log10(m) stronger, not weaker."""
        mixer = compile_mixer(Mixer(family="commutating"))
        rise = mixer.suppression_db(1, 3, -50.0) - mixer.suppression_db(np.array([3, 5, 7]), 3, -50.0)
        assert rise == pytest.approx(20 * np.log10([3, 5, 7]))

    def test_the_law_of_high_orders_rises_by_20_db_per_decade_and_no_faster(self) -> None:
        """20*max(-1, c - (n - 1))*log10(m): a switch (c 1) and a square law with cut-off (c 2)."""
        m = np.array([3, 5, 7])
        for name, slopes in (("commutating", (0, -1, -1, -1)), ("jfet", (1, 0, -1, -1))):
            mixer = compile_mixer(Mixer(family=name))
            for n, slope in zip((2, 3, 4, 5), slopes, strict=True):
                fall = mixer.suppression_db(m, n, -60.0) - mixer.suppression_db(1, n, -60.0)
                assert fall == pytest.approx(20 * slope * np.log10(m))

    @pytest.mark.parametrize("name", [name for name in FAMILIES if name not in BALANCED])
    def test_an_unbalanced_mixer_answers_its_own_if_better_than_the_signal(self, name: str) -> None:
        """Common practice, no source: only the front end keeps a station on the IF out."""
        assert -4.0 <= compile_mixer(Mixer(family=name)).suppression_db(0, 1, -50.0) < 0.0

    @pytest.mark.parametrize("name", FAMILIES)
    def test_what_it_gains_on_its_if_it_gains_in_every_order(self, name: str) -> None:
        """(0, n) of a separable device stands to (1, n) as (0, 1) to (1, 1); a switch gains nothing."""
        mixer = compile_mixer(Mixer(family=name))
        gain = -min(0.0, float(mixer.suppression_db(0, 1, -50.0)))
        higher = mixer.suppression_db(1, 4, -60.0) - mixer.suppression_db(0, 4, -60.0)
        assert higher == pytest.approx(gain)
        assert (gain > 0) == (name not in BALANCED)

    @pytest.mark.parametrize("name", FAMILIES)
    def test_even_orders_depend_on_balance_where_a_balance_figure_is_used(self, name: str) -> None:
        mixer = compile_mixer(Mixer(family=name))
        assert not mixer.balance_dependent(1, 1)
        assert not mixer.balance_dependent(1, 3)
        assert bool(mixer.balance_dependent(2, 1)) == (name in BALANCED and name != "single_balanced_rf")
        assert bool(mixer.balance_dependent(1, 2)) == (name in BALANCED and name != "single_balanced_lo")
        assert bool(mixer.balance_dependent(2, 2)) == (name in BALANCED)
        assert any("balance" in text for text in mixer.assumed) == (name in BALANCED)

    def test_diodes_follow_their_oscillator_drive_and_valves_do_not(self) -> None:
        usual, strong = (compile_mixer(Mixer(family="diode_ring", lo_dbm=lo)) for lo in (7.0, 17.0))
        assert strong.suppression_db(1, 3, -20.0) - usual.suppression_db(1, 3, -20.0) == pytest.approx(20.0)
        assert strong.limit_dbm - usual.limit_dbm == 10.0
        valve, driven = (compile_mixer(Mixer(lo_dbm=lo)) for lo in (None, 17.0))
        assert valve.suppression_db(1, 3, -20.0) == driven.suppression_db(1, 3, -20.0)

    def test_the_level_law_ends_15_db_below_the_intercept_or_22_below_the_drive(self) -> None:
        assert compile_mixer(Mixer()).limit_dbm == pytest.approx(31.58 - 15, abs=0.01)
        assert compile_mixer(Mixer(family="diode_ring")).limit_dbm == pytest.approx(7 - 22)

    def test_the_strong_signal_intercept_is_the_two_tone_one(self) -> None:
        assert compile_mixer(Mixer(h3=20.0)).intercept_dbm == pytest.approx(20 - 4.77, abs=0.01)


class TestOverrides:
    def test_each_figure_reaches_its_products(self) -> None:
        base = compile_mixer(Mixer(family="diode_ring"))
        for figure, cell, change in (
            ("balance_lo", (2, 1), 26.0),
            ("balance_rf", (1, 2), 30.0),
            ("balance_rf", (3, 4), 30.0),
            ("cross_lo", (2, 3), 10.0),
            ("isolation", (0, 1), 25.0),
            ("isolation", (0, 3), 15.0),
            ("isolation", (0, 2), 0.0),
        ):
            without = compile_mixer(Mixer(family="diode_ring", **{figure: 0.0}))
            lower = base.suppression_db(*cell, -40.0) - without.suppression_db(*cell, -40.0)
            assert lower == pytest.approx(change)
        assert compile_mixer(Mixer(family="diode_ring", e1=0.0)).suppression_db(3, 1, -40.0) == 0.0

    def test_a_slope_stated_for_a_valve_holds_up_to_its_third_harmonic(self) -> None:
        valve, transistor = compile_mixer(Mixer(e1=1.5)), compile_mixer(Mixer(family="bipolar", e1=1.5))
        assert valve.suppression_db(3, 1, -50.0) == pytest.approx(30 * math.log10(3))
        assert valve.suppression_db(6, 1, -50.0) == pytest.approx(30 * math.log10(3) + 40 * math.log10(2))
        assert transistor.suppression_db(6, 1, -50.0) == pytest.approx(30 * math.log10(6))

    def test_an_intercept_stated_for_one_order_leaves_the_others_of_v0(self) -> None:
        mixer = compile_mixer(Mixer(h2=40.0))
        assert mixer.figures.intercept_dbm(2) == 40.0
        assert mixer.figures.intercept_dbm(3) == pytest.approx(voltage_intercept_dbm(3.0, 3))

    def test_a_stated_third_order_moves_the_missing_fourth(self) -> None:
        assert compile_mixer(Mixer(family="jfet", h3=20.0)).figures.intercept_dbm(4) == 18.0

    def test_two_tone_figures_become_single_tone_ones(self) -> None:
        """[calc] 20*log10 of 2, 3 and 10 over n - 1: the ratio of the two products of one power law."""
        for order, above in ((2, 6.0), (3, 4.8), (5, 5.0)):
            assert single_tone_intercept_dbm(order, 10.0) == pytest.approx(10 + above, abs=0.03)


class TestMeasured:
    ROWS = (
        (1, 1, 0.0, -10.0),
        (2, 1, 35.0, -10.0),
        (3, 1, 11.0, -10.0),
        (1, 2, 62.0, -10.0),
        (2, 2, 70.0, -10.0),
        (3, 2, 66.0, -20.0),
    )

    def test_a_cell_stands_at_its_level_and_moves_with_the_signal_from_there(self) -> None:
        mixer = compile_mixer(Mixer(family="diode_ring", table_rows=self.ROWS))
        assert mixer.suppression_db(2, 2, [-10.0, -20.0, -50.0]) == pytest.approx([70, 80, 110])
        assert mixer.suppression_db(3, 2, [-10.0, -20.0, -50.0]) == pytest.approx([56, 66, 96])
        assert mixer.suppression_db(3, 1, [-10.0, -50.0]) == pytest.approx([11, 11])

    def test_a_cell_measured_above_the_wanted_product_stays_there(self) -> None:
        """The family's clip at 0 dB gives way to what was measured."""
        rows = ((1, 1, 0.0, -10.0), (1, 2, -3.0, -10.0))
        mixer = compile_mixer(Mixer(family="bipolar", table_rows=rows))
        assert mixer.suppression_db(1, 2, [-20.0, -10.0, 0.0]) == pytest.approx([7, -3, -3])
        assert mixer.least_db(1, 2) == -3.0

    def test_a_measured_cell_is_not_called_a_matter_of_balance(self) -> None:
        mixer = compile_mixer(Mixer(family="diode_ring", table_rows=self.ROWS))
        assert not mixer.balance_dependent(2, 2)
        assert mixer.balance_dependent(4, 2)

    def test_what_was_not_measured_takes_the_family_and_the_answer_says_so(self) -> None:
        mixer = compile_mixer(Mixer(family="diode_ring", table_rows=self.ROWS))
        bare = compile_mixer(Mixer(family="diode_ring"))
        for cell in ((3, 3), (0, 1), (5, 1)):
            assert mixer.suppression_db(*cell, -30.0) == bare.suppression_db(*cell, -30.0)
        assert "mixer diode_ring: 6 products as measured, the others from the family" in mixer.assumed
        assert not any("as measured" in text for text in bare.assumed)

    def test_the_wanted_product_of_an_oscillator_harmonic_comes_from_the_table_too(self) -> None:
        mixer = compile_mixer(Mixer(family="diode_ring", table_rows=self.ROWS), (2, -1))
        assert mixer.suppression_db(1, 1, -30.0) == pytest.approx(-35.0)
        assert mixer.suppression_db(2, 1, -30.0) == 0.0

    def test_one_product_twice_is_refused(self) -> None:
        with pytest.raises(Refused, match="given twice"):
            Mixer(table_rows=(*self.ROWS, (2, 2, 71.0, -10.0)))

    def test_a_wanted_product_of_second_order_is_a_slip_of_the_caller(self) -> None:
        with pytest.raises(ValueError, match=r"\(2, 2\)"):
            compile_mixer(Mixer(), (2, 2))


class TestSaid:
    """What a mixer says of itself, one figure at a time."""

    @pytest.mark.parametrize("figure", ["balance_lo", "balance_rf", "cross_lo"])
    def test_each_figure_of_balance_is_owned_up_to_alone_however_small(self, figure: str) -> None:
        bare = compile_mixer(Mixer(family="valve_multiplicative", balance_lo=0.0, balance_rf=0.0))
        assert not any("balance" in text for text in bare.assumed)
        balanced = compile_mixer(Mixer(family="valve_multiplicative", **{figure: 0.5}))
        assert any("even-order products depend on balance" in text for text in balanced.assumed)

    def test_what_the_signal_port_keeps_from_the_if_port_is_balance(self) -> None:
        assert compile_mixer(Mixer(family="diode_ring")).balance_dependent(0, 1)
        assert not compile_mixer(Mixer(family="single_balanced_lo")).balance_dependent(0, 1)
        assert not compile_mixer(Mixer(family="valve_multiplicative")).balance_dependent(0, 1)

    def test_one_measured_product_is_one(self) -> None:
        one = compile_mixer(Mixer(family="bipolar", table_rows=((1, 1, 0.0, -10.0),)))
        assert "mixer bipolar: 1 product as measured, the others from the family" in one.assumed

    def test_a_measured_product_of_strong_signals_comes_up_to_the_wanted_and_no_further(self) -> None:
        rows = tuple((m, n, db, -10.0) for m, n, db in ((1, 1, 0.0), (1, 2, 50.0), (2, 1, 9.0), (2, 2, 40.0)))
        mixer = compile_mixer(Mixer(family="bipolar", table_rows=rows))
        assert mixer.suppression_db(2, 2, [-20.0, -10.0, 0.0, 29.5, 30.0, 100.0]) == pytest.approx(
            [50.0, 40.0, 30.0, 0.5, 0.0, 0.0]
        )

    @pytest.mark.parametrize("name", FAMILIES)
    def test_the_level_law_holds_to_15_db_below_the_lowest_intercept_or_22_below_the_oscillator(
        self, name: str
    ) -> None:
        mixer = compile_mixer(Mixer(family=name))
        oscillator = mixer.figures.lo_dbm
        intercepts = [mixer.figures.intercept_dbm(n) for n in range(2, 6)]
        limit = min(intercepts) - 15.0 if oscillator is None else oscillator - 22.0
        assert mixer.limit_dbm == pytest.approx(limit)


@pytest.mark.parametrize("family", ["valve_multiplicative", "single_balanced_lo", "commutating"])
@pytest.mark.parametrize("wanted", [(1, 1), (3, 1)])
@pytest.mark.parametrize(
    "asked",
    [
        lambda mixer, m, n: mixer.suppression_db(m, n, -30.0),
        lambda mixer, m, n: mixer.need_dbm(m, n, -90.0),
        lambda mixer, m, n: mixer.law(m, n),
        lambda mixer, m, n: mixer.least_db(m, n),
        lambda mixer, m, n: mixer.balance_dependent(m, n),
    ],
    ids=["suppression_db", "need_dbm", "law", "least_db", "balance_dependent"],
)
def test_what_was_not_worked_out_from_the_start_is_when_asked_for(
    family: str, asked: Any, wanted: tuple[int, int]
) -> None:
    """One beyond what there is in either order, in both, and far beyond: as of a mixer made for all of it."""
    whole = compile_mixer(Mixer(family=family), wanted=wanted, orders=(40, 30))
    for m, n in [(16, 8), (17, 1), (1, 9), (17, 8), (16, 9), (17, 9), (18, 10), (20, 1), (40, 25), (0, 9)]:
        fresh = compile_mixer(Mixer(family=family), wanted=wanted)
        np.testing.assert_array_equal(asked(fresh, m, n), asked(whole, m, n))
        # wider than long, then longer: each is asked for by itself
        for first, second in [((1, 30), (m, n)), ((30, 1), (m, n))]:
            asked(fresh, *first)
            np.testing.assert_array_equal(asked(fresh, *second), asked(whole, *second))
        few = compile_mixer(Mixer(family=family), wanted=wanted, orders=(1, 1))
        orders = np.array([0, 1, m, 2]), np.array([1, 1, n, 3])
        np.testing.assert_array_equal(asked(few, *orders), asked(whole, *orders))


def test_the_least_balance_is_balance() -> None:
    """Half a decibel of it stands in a product as well as 30 dB do."""
    signal = compile_mixer(Mixer(family="single_balanced_rf", balance_rf=0.5))
    assert signal.balance_dependent(0, 1)
    oscillator = compile_mixer(Mixer(family="single_balanced_lo", balance_lo=0.5))
    assert oscillator.balance_dependent(2, 1)
    assert not oscillator.balance_dependent(3, 1)
    assert signal.balance_dependent(1, 2)
    assert not signal.balance_dependent(1, 3)
