"""Selectivity: the bounds an enumeration leans on, the corners a search leans on, and limit cases."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.receiver.curve import LogCurve
from spurplan.receiver.description import (
    Box,
    Circuits,
    CoupledPair,
    Curve,
    Element,
    Filter,
    Passband,
    Trap,
)
from spurplan.receiver.selectivity import (
    NO_SELECTIVITY,
    Selectivity,
    Varied,
    compile_elements,
    compile_filter,
    compile_lead,
)

MHZ = 1_000_000
# A bound may exceed the loss by the rounding of doubles alone.
ROUNDING_DB = 1e-9

frequencies = st.integers(10_000, 60 * MHZ)
qs = st.one_of(
    st.none(),
    st.floats(0.5, 600),
    st.lists(st.tuples(frequencies, st.floats(5, 400)), min_size=1, max_size=5, unique_by=lambda p: p[0]).map(
        lambda points: tuple(sorted(points))
    ),
)
circuits = st.builds(lambda n, q: Circuits(circuits=n, q=q), st.integers(1, 6), qs)
couplings = st.sampled_from((None, "capacitive", "inductive"))
pairs = st.builds(
    lambda k, q, by: CoupledPair(coupled_pair=k, q=q, coupling=by), st.floats(0.05, 8), qs, couplings
)
passbands = st.builds(
    lambda edges, n: Passband(low_hz=min(edges), high_hz=max(edges), order=n),
    st.tuples(frequencies, frequencies).filter(lambda e: e[0] != e[1]),
    st.integers(1, 9),
)
traps = st.builds(
    lambda f, d, q: Trap(trap_hz=f, depth_db=d, q=q), frequencies, st.floats(1, 80), st.floats(1, 300)
)
curves = st.lists(
    st.tuples(frequencies, st.floats(-10, 90)), min_size=1, max_size=12, unique_by=lambda p: p[0]
).map(lambda points: Curve(points=tuple(sorted(points))))
elements = st.one_of(circuits, pairs, passbands, traps, curves)
filters = st.builds(
    lambda b, s, u: Filter(bandwidth_hz=b, shape_factor=s, ultimate_db=u),
    st.integers(50, 300_000),
    st.floats(1.01, 20),
    st.floats(20, 120),
)
lists = st.tuples(st.lists(elements, max_size=4), st.floats(20, 150)).map(
    lambda pair: compile_elements(pair[0], pair[1])
)
off_tune_lists = st.tuples(
    st.lists(st.one_of(circuits, pairs), min_size=1, max_size=2), st.floats(-9e3, 9e5)
).map(lambda pair: compile_elements(pair[0], 150.0, off_tune_hz=pair[1]))
boxes = st.builds(
    lambda list_, gain, ceiling, pickup: Box(
        elements=tuple(list_), gain_db=gain, ceiling_db=ceiling, pickup_db=pickup
    ),
    st.lists(elements, max_size=2),
    st.floats(-40, 30),
    st.floats(20, 120),
    st.floats(20, 120),
)
leads = st.builds(
    compile_lead,
    st.lists(boxes, max_size=3),
    st.lists(elements, max_size=3),
    st.floats(20, 120),
    st.floats(40, 150),
)
figures = st.builds(
    Varied, st.floats(0.5, 2), st.floats(-9, 9), st.floats(-1, 1), st.floats(0.5, 2), st.floats(-9, 9)
)
varied = st.builds(lambda selectivity, by: selectivity.varied(by), st.one_of(lists, leads), figures)
selectivities = st.one_of(
    lists, off_tune_lists, filters.map(compile_filter), st.just(NO_SELECTIVITY), leads, varied
)


def circuit(q: float, circuits: int = 1, ceiling_db: float = 300.0) -> Selectivity:
    return compile_elements((Circuits(circuits=circuits, q=q),), ceiling_db)


class TestLowerBound:
    @settings(max_examples=250, deadline=None)
    @given(selectivities, *[st.floats(1e4, 6e7)] * 4, st.one_of(st.just(0.0), st.floats(0, 1e5)))
    def test_never_above_the_loss_anywhere_on_the_segment(
        self, selectivity: Selectivity, x0: float, x1: float, w0: float, w1: float, slack: float
    ) -> None:
        """Whatever an enumeration drops because of the bound could not have been heard."""
        bound = selectivity.least_db(x0, x1, w0, w1, slack)
        share = np.linspace(0.0, 1.0, 201)
        x, wanted = x0 + share * (x1 - x0), w0 + share * (w1 - w0)
        for off in (-slack, 0.0, 0.37 * slack, slack):
            inside = x + off > 0
            loss = selectivity.loss_db((x + off)[inside], wanted[inside])
            assert np.all(loss >= bound - ROUNDING_DB)

    @settings(max_examples=120, deadline=None)
    @given(selectivities, st.floats(1e4, 6e7), st.floats(1e4, 6e7))
    def test_is_the_loss_itself_where_the_segment_is_a_point(
        self, selectivity: Selectivity, x: float, wanted: float
    ) -> None:
        """At one dial setting nothing is given away."""
        assert selectivity.least_db(x, x, wanted, wanted) == pytest.approx(
            float(selectivity.loss_db(x, wanted)), abs=ROUNDING_DB
        )

    @settings(max_examples=60, deadline=None)
    @given(selectivities, *[st.floats(1e4, 6e7)] * 4, st.floats(0, 1e5))
    def test_does_not_depend_on_the_direction_walked(
        self, selectivity: Selectivity, x0: float, x1: float, w0: float, w1: float, slack: float
    ) -> None:
        """A sum mixer's oscillator runs backwards: the same segment from its other end."""
        forth, back = selectivity.least_db(x0, x1, w0, w1, slack), selectivity.least_db(x1, x0, w1, w0, slack)
        assert forth == pytest.approx(float(back), abs=ROUNDING_DB)

    @settings(max_examples=60, deadline=None)
    @given(selectivities, *[st.floats(1e4, 6e7)] * 4, st.floats(0, 1e4), st.floats(1, 10))
    def test_falls_as_the_slack_grows(
        self, selectivity: Selectivity, x0: float, x1: float, w0: float, w1: float, slack: float, more: float
    ) -> None:
        narrow = selectivity.least_db(x0, x1, w0, w1, slack)
        assert selectivity.least_db(x0, x1, w0, w1, slack * more) <= narrow + ROUNDING_DB

    def test_follows_a_tuned_circuit_exactly_where_its_q_does_not_change(self) -> None:
        """x/wanted is monotone along a segment, so a following circuit loses nothing in the bound."""
        selectivity = circuit(80.0, 2)
        share = np.linspace(0, 1, 2001)
        wanted = 3.5 * MHZ + share * 26.5 * MHZ
        image = wanted + 910_000.0
        bound = selectivity.least_db(image[0], image[-1], wanted[0], wanted[-1])
        assert bound == pytest.approx(selectivity.loss_db(image, wanted).min(), abs=1e-9)

    @pytest.mark.parametrize(
        "element",
        [
            Passband(low_hz=6_800_000, high_hz=7_200_000, order=2),
            Trap(trap_hz=7_000_000, depth_db=30.0, q=40.0),
            Curve(points=((6_000_000, 0.0), (7_000_000, 50.0), (8_000_000, 10.0))),
            Circuits(circuits=2, q=60.0),
        ],
        ids=lambda element: element.told_by,
    )
    @pytest.mark.parametrize("x", [6.5e6, 7.5e6])
    def test_looks_as_far_as_the_slack_on_both_sides(self, element: Element, x: float) -> None:
        """The loss is monotone on each side of 7 MHz: its least over x -+ slack stands at one end."""
        selectivity = compile_elements((element,), 300.0)
        ends = selectivity.loss_db([x - 3e5, x + 3e5], 7e6)
        bound = float(selectivity.least_db(x, x, 7e6, 7e6, 3e5))
        assert bound == pytest.approx(ends.min(), abs=1e-9)

    def test_stands_a_slack_that_reaches_below_zero(self) -> None:
        """A line near 0 Hz with a wide passband behind it gives a bound, not a nan."""
        for selectivity in (
            circuit(50.0),
            compile_elements((Trap(trap_hz=5000, depth_db=30.0, q=10.0),), 70.0),
            compile_elements((Curve(points=((1000, 5.0), (9000, 1.0))),), 70.0),
        ):
            bound = selectivity.least_db(100.0, 4000.0, 1e6, 1e6, 3000.0)
            assert np.isfinite(bound)
            assert bound <= selectivity.loss_db(3500.0, 1e6) + ROUNDING_DB


class TestCorners:
    @settings(max_examples=120, deadline=None)
    @given(elements, st.floats(2e4, 6e7))
    def test_between_two_of_them_the_loss_only_rises_or_only_falls(
        self, element: Element, wanted: float
    ) -> None:
        """A search that samples the corners and bisects in between misses no edge of a grade."""
        selectivity = compile_elements((element,), 1e9)
        if isinstance(element, CoupledPair):
            # the peaks move with Q: a constant Q makes the offered ones exact
            element = element.unchecked(q=77.0)
            selectivity = compile_elements((element,), 1e9)
        corners = np.concatenate([selectivity.corners_x(), selectivity.corners_ratio() * wanted])
        edges = np.unique(np.concatenate([[1e3], corners[(corners > 1e3) & (corners < 1e9)], [1e9]]))
        for low, high in pairwise(edges):
            steps = np.diff(selectivity.loss_db(np.geomspace(low, high, 60), wanted))
            assert np.all(steps >= -1e-8) or np.all(steps <= 1e-8)

    @settings(max_examples=60, deadline=None)
    @given(st.one_of(passbands, traps, curves), st.floats(2e4, 6e7))
    def test_hold_for_the_wanted_side_of_a_fixed_element_too(self, element: Element, x: float) -> None:
        selectivity = compile_elements((element,), 1e9)
        corners = selectivity.corners_wanted()
        edges = np.unique(np.concatenate([[1e3], corners[(corners > 1e3) & (corners < 1e9)], [1e9]]))
        for low, high in pairwise(edges):
            steps = np.diff(selectivity.loss_db(x, np.geomspace(low, high, 60)))
            assert np.all(steps >= -1e-8) or np.all(steps <= 1e-8)

    @pytest.mark.parametrize("coupling", ["capacitive", "inductive"])
    def test_name_both_peaks_of_an_over_coupled_pair(self, coupling: str) -> None:
        """Both peaks of either kind reach 4 kappa^2 below the line, 16/25, with a dip between them."""
        selectivity = compile_elements((CoupledPair(coupled_pair=2.0, q=60.0, coupling=coupling),), 300.0)
        ratios = selectivity.corners_ratio()
        loss = selectivity.loss_db(ratios * 7e6, 7e6)
        peaks = ratios[loss < -1.0]
        assert len(peaks) == 2
        assert peaks[0] < 1.0 < peaks[1]
        assert sorted(loss.tolist())[:2] == pytest.approx([10 * math.log10(16 / 25)] * 2, abs=1e-9)
        assert np.all(selectivity.loss_db(np.linspace(*peaks, 999) * 7e6, 7e6) >= loss.min() - 1e-9)

    def test_of_a_q_list_are_its_frequencies_and_of_the_default_the_knee(self) -> None:
        listed = compile_elements((Circuits(circuits=1, q=((3_500_000, 80.0), (28_000_000, 40.0))),), 70.0)
        assert listed.corners_wanted().tolist() == pytest.approx([3.5e6, 28e6])
        knee = compile_elements(None, 70.0).corners_wanted()[0]
        assert 80 * (3.5e6 / knee) ** 0.33 == pytest.approx(120.0)

    def test_of_an_if_filter_are_its_edges_and_where_the_ultimate_rejection_begins(self) -> None:
        selectivity = compile_filter(Filter(bandwidth_hz=6000, shape_factor=2.5, ultimate_db=70.0))
        offsets = selectivity.corners_offset()
        loss = selectivity.loss_db(455_000 + offsets, 455_000)
        assert loss == pytest.approx([70, 6, 0, 6, 70], abs=1e-3)


class TestMonotony:
    @settings(max_examples=120, deadline=None)
    @given(
        st.one_of(circuits, st.builds(lambda k, q: CoupledPair(coupled_pair=k, q=q), st.floats(0.05, 1), qs)),
        st.floats(1e5, 6e7),
    )
    def test_attenuation_never_rises_toward_the_passband(self, element: Element, wanted: float) -> None:
        """Circuits, and a pair up to critical coupling, fall all the way to the wanted frequency."""
        selectivity = compile_elements((element,), 1e9)
        ratios = np.geomspace(1.0, 300.0, 300)
        for side in (ratios, 1.0 / ratios):
            assert np.all(np.diff(selectivity.loss_db(wanted * side, wanted)) >= -1e-9)

    @settings(max_examples=120, deadline=None)
    @given(filters)
    def test_neither_does_it_in_an_if_filter(self, filter_: Filter) -> None:
        offsets = np.concatenate([[0.0], np.geomspace(1, 1e7, 300)])
        selectivity = compile_filter(filter_)
        for side in (offsets, -offsets):
            loss = selectivity.loss_db(1e8 + side, 1e8)
            assert np.all(np.diff(loss) >= -1e-9)
            assert loss[-1] <= filter_.ultimate_db

    @settings(max_examples=60, deadline=None)
    @given(st.floats(10, 300), st.floats(1.05, 3), st.floats(1e5, 6e7), st.floats(1.01, 10))
    def test_a_higher_q_attenuates_more(self, q: float, more: float, wanted: float, ratio: float) -> None:
        assert circuit(q * more).loss_db(wanted * ratio, wanted) > circuit(q).loss_db(wanted * ratio, wanted)

    @settings(max_examples=60, deadline=None)
    @given(circuits, st.floats(1e5, 6e7), st.floats(0.02, 50))
    def test_a_tuned_circuit_is_even_in_the_logarithm_of_the_ratio(
        self, element: Circuits, wanted: float, ratio: float
    ) -> None:
        selectivity = compile_elements((element,), 1e9)
        above, below = selectivity.loss_db([wanted * ratio, wanted / ratio], wanted)
        assert above == pytest.approx(below, abs=1e-6)


class TestLists:
    @settings(max_examples=120, deadline=None)
    @given(st.lists(elements, min_size=1, max_size=4), st.floats(1e5, 6e7), st.floats(1e5, 6e7))
    def test_decibels_of_isolated_elements_add(self, list_: list[Element], x: float, wanted: float) -> None:
        together = compile_elements(list_, 1e9).loss_db(x, wanted)
        apart = sum(compile_elements((element,), 1e9).loss_db(x, wanted) for element in list_)
        # each alone is held at 360 dB, so that many of them stay a number
        if apart < 350:
            assert together == pytest.approx(float(apart), abs=1e-7)

    @settings(max_examples=60, deadline=None)
    @given(
        st.lists(elements, min_size=1, max_size=4), st.floats(5, 90), st.floats(1e5, 6e7), st.floats(1e5, 6e7)
    )
    def test_what_gets_round_them_adds_as_a_power(
        self, list_: list[Element], ceiling: float, x: float, wanted: float
    ) -> None:
        """Against the wanted signal, which comes by both ways as well."""
        through = 10 ** (-compile_elements(list_, 1e9).loss_db(x, wanted) / 10)
        stray = 10 ** (-ceiling / 10)
        expected = -10 * math.log10((through + stray) / (1 + stray))
        assert compile_elements(list_, ceiling).loss_db(x, wanted) == pytest.approx(expected, abs=1e-9)

    @settings(max_examples=60, deadline=None)
    @given(selectivities, st.floats(1e5, 6e7))
    def test_the_wanted_frequency_itself_loses_nothing(self, selectivity: Selectivity, wanted: float) -> None:
        assert selectivity.loss_db(wanted, wanted) == pytest.approx(0.0, abs=1e-9)

    @settings(max_examples=60, deadline=None)
    @given(selectivities, st.lists(st.floats(1e4, 6e7), min_size=2, max_size=6))
    def test_a_scalar_gets_what_a_vector_gets(self, selectivity: Selectivity, many: list[float]) -> None:
        x, wanted = np.array(many[:-1]), many[-1]
        vector = selectivity.loss_db(x, wanted)
        assert vector.shape == x.shape
        for one, answer in zip(x, vector, strict=True):
            # logarithms of vectors are computed by other code than those of scalars
            assert selectivity.loss_db(float(one), wanted) == pytest.approx(float(answer), abs=1e-9)
        bound = selectivity.least_db(x, x * 1.5, wanted, wanted * 1.1, 100.0)
        for one, answer in zip(x, bound, strict=True):
            scalar = selectivity.least_db(float(one), float(one) * 1.5, wanted, wanted * 1.1, 100.0)
            assert scalar == pytest.approx(float(answer), abs=1e-9)

    @pytest.mark.parametrize("wanted", [7e6, np.linspace(1e6, 3e7, 40_000)], ids=["one", "each"])
    def test_long_rows_are_worked_out_like_short_ones(self, wanted: float | np.ndarray) -> None:
        x = np.linspace(1e5, 6e7, 40_000)
        for selectivity in (circuit(80.0, 2), compile_filter(Filter(bandwidth_hz=6_000_000))):
            whole = selectivity.loss_db(x, wanted)
            some = np.array([0, 16_383, 16_384, 32_768, 39_999])
            short = selectivity.loss_db(x[some], wanted if isinstance(wanted, float) else wanted[some])
            assert whole[some] == pytest.approx(short, abs=1e-9)

    @pytest.mark.parametrize("count", [3, 40_000])
    @pytest.mark.parametrize("shape", [(1,), (5, 1)])
    def test_long_rows_broadcast_like_short_ones(self, count: int, shape: tuple[int, ...]) -> None:
        wanted = np.linspace(7e6, 8e6, math.prod(shape)).reshape(shape)
        x = np.linspace(1e6, 30e6, count)
        for selectivity in (circuit(60.0), compile_filter(Filter(bandwidth_hz=6_000))):
            got = selectivity.loss_db(x, wanted)
            assert got.shape == np.broadcast_shapes((count,), shape)
            one_by_one = [selectivity.loss_db(float(x[-1]), w) for w in wanted.ravel().tolist()]
            assert got.reshape(-1, count)[:, -1] == pytest.approx(one_by_one)

    def test_what_cuts_nothing_bends_nowhere(self) -> None:
        for corners in ("corners_x", "corners_wanted", "corners_ratio", "corners_offset"):
            assert getattr(NO_SELECTIVITY, corners)().size == 0

    def test_an_element_nobody_has_heard_of_is_a_mistake_of_the_caller(self) -> None:
        with pytest.raises(TypeError, match="no selectivity is known for object"):
            compile_elements([object()], 70.0)  # type: ignore[list-item]

    def test_takes_whole_hertz_and_broadcasts(self) -> None:
        selectivity = circuit(80.0)
        x = np.arange(1, 4, dtype=np.int64)[:, None] * MHZ
        wanted = np.arange(2, 4, dtype=np.int64)[None, :] * MHZ
        assert selectivity.loss_db(x, wanted).shape == (3, 2)
        assert NO_SELECTIVITY.loss_db(x, wanted).tolist() == np.zeros((3, 2)).tolist()
        assert NO_SELECTIVITY.least_db(x, x, wanted, wanted, 5).shape == (3, 2)

    def test_an_empty_list_is_no_selectivity_and_a_missing_one_the_default_circuit(self) -> None:
        assert compile_elements((), 70.0).loss_db(1e6, 9e6) == 0.0
        default = compile_elements((Circuits(circuits=1, q=None),), 70.0)
        assert compile_elements(None, 70.0).loss_db(8e6, 7e6) == default.loss_db(8e6, 7e6)

    def test_twenty_steep_elements_stay_a_number(self) -> None:
        """The most a description can hold, as far out as frequencies go: stray coupling, no overflow."""
        list_ = (Passband(low_hz=7_000_000, high_hz=7_000_100, order=20),) * 10 + (
            Circuits(circuits=20, q=1e6),
        ) * 10
        assert compile_elements(list_, 300.0).loss_db(30e9, 7_000_050.0) == pytest.approx(300.0, abs=1e-9)
        assert np.isfinite(compile_elements(list_, 300.0).loss_db(7_000_050.0, 30e9))


class TestElements:
    def test_loose_coupling_leaves_two_circuits_and_critical_one_is_6_db_worse_far_out(self) -> None:
        """kappa -> 0 isolates the circuits; far out a pair loses 20*log10(1 + kappa^2) against two."""
        ratios = np.geomspace(1.001, 100, 50)
        two = circuit(70.0, 2).loss_db(7e6 * ratios, 7e6)
        loose = compile_elements((CoupledPair(coupled_pair=1e-6, q=70.0),), 300.0).loss_db(7e6 * ratios, 7e6)
        assert loose == pytest.approx(two, abs=1e-6)
        critical = compile_elements((CoupledPair(coupled_pair=1.0, q=70.0),), 300.0).loss_db(7e8, 7e6)
        assert two[-1] - critical == pytest.approx(20 * math.log10(2), abs=1e-3)

    def test_a_passband_is_3_db_down_at_its_edges_against_its_centre(self) -> None:
        selectivity = compile_elements((Passband(low_hz=3_500_000, high_hz=4_000_000, order=3),), 300.0)
        centre = math.sqrt(3.5e6 * 4e6)
        assert selectivity.loss_db([3.5e6, 4e6], centre) == pytest.approx([3.0103, 3.0103], abs=1e-4)
        # wanted on an edge: the centre is now the stronger one
        assert selectivity.loss_db(centre, 4e6) == pytest.approx(-3.0103, abs=1e-4)

    def test_a_trap_takes_its_depth_out_and_leaves_the_rest(self) -> None:
        selectivity = compile_elements((Trap(trap_hz=465_000, depth_db=30.0, q=50.0),), 300.0)
        assert selectivity.loss_db(465_000, 7e6) == pytest.approx(30.0, abs=1e-3)
        assert selectivity.loss_db(14e6, 7e6) == pytest.approx(0.0, abs=1e-3)
        assert selectivity.loss_db(7e6, 465_000) == pytest.approx(-30.0, abs=1e-3)

    def test_a_curve_is_straight_over_log_frequency_and_held(self) -> None:
        selectivity = compile_elements(
            (Curve(points=((1 * MHZ, 40.0), (4 * MHZ, 0.0), (16 * MHZ, 20.0))),), 300.0
        )
        assert selectivity.loss_db([1e5, 2e6, 8e6, 9e7], 4e6) == pytest.approx([40, 20, 10, 20])
        assert selectivity.loss_db(4e6, 8e6) == pytest.approx(-10)

    @settings(max_examples=60, deadline=None)
    @given(st.one_of(passbands, traps, curves), st.floats(1e5, 6e7), st.floats(1e5, 6e7), st.floats(1e5, 6e7))
    def test_a_fixed_element_takes_the_wanted_share_off(
        self, element: Element, x: float, y: float, wanted: float
    ) -> None:
        """Two signals differ by the same amount, whatever frequency is wanted."""
        selectivity = compile_elements((element,), 1e9)
        there = selectivity.loss_db(x, wanted) - selectivity.loss_db(y, wanted)
        assert there == pytest.approx(float(selectivity.loss_db(x, y)), abs=1e-6)

    def test_q_between_two_points_is_straight_on_log_log_paper_and_held_beyond(self) -> None:
        listed = compile_elements((Circuits(circuits=1, q=((2 * MHZ, 90.0), (8 * MHZ, 40.0))),), 300.0)
        for wanted, q in ((2e6, 90), (4e6, 60), (8e6, 40), (1e6, 90), (30e6, 40)):
            assert listed.loss_db(1.2 * wanted, wanted) == pytest.approx(
                float(circuit(q).loss_db(1.2 * wanted, wanted)), abs=1e-9
            )

    def test_the_default_q_falls_from_80_at_3_5_mhz_and_is_capped_at_120(self) -> None:
        default = compile_elements(None, 300.0)
        for wanted, q in ((3.5e6, 80.0), (28e6, 80 * 8**-0.33), (5e5, 120.0), (1e6, 120.0)):
            assert default.loss_db(1.1 * wanted, wanted) == pytest.approx(
                float(circuit(q).loss_db(1.1 * wanted, wanted)), abs=1e-6
            )


class TestIfFilter:
    @pytest.mark.parametrize("shape", [1.2, 1.8, 2.5, 4.0, 10.0])
    def test_is_exact_at_6_and_at_60_db(self, shape: float) -> None:
        selectivity = compile_filter(Filter(bandwidth_hz=2400, shape_factor=shape, ultimate_db=90.0))
        at = np.array([1200, 1200 * shape])
        assert selectivity.loss_db(9e6 + at, 9e6) == pytest.approx([6, 60], abs=0.01)
        assert selectivity.loss_db(9e6 - at, 9e6) == pytest.approx([6, 60], abs=0.01)

    @given(filters)
    def test_bends_at_its_centre_at_6_db_and_where_it_reaches_its_ultimate(self, described: Filter) -> None:
        filter_, centre = compile_filter(described), 1e9
        low_ultimate, low_half, middle, half, ultimate = filter_.corners_offset().tolist()
        assert (low_ultimate, low_half, middle) == (-ultimate, -half, 0.0)
        assert half == described.bandwidth_hz / 2
        top = described.ultimate_db
        inside, beyond = (filter_.loss_db(centre + ultimate * part, centre) for part in (0.999, 1.001))
        assert inside < top
        assert beyond == top
        assert inside > top - 20 * 0.002 * 2.763 / math.log10(described.shape_factor)
        assert filter_.corners_x().size == filter_.corners_wanted().size == filter_.corners_ratio().size == 0

    @given(filters, st.floats(-3.0, 3.0))
    def test_a_bound_at_a_point_is_the_loss_there_to_the_fraction_of_a_hertz(
        self, described: Filter, offset: float
    ) -> None:
        filter_, centre = compile_filter(described), 455_000.0
        x = centre + offset
        assert filter_.least_db(x, x, centre, centre) == filter_.loss_db(x, centre)

    def test_a_bound_without_slack_is_taken_without_slack(self) -> None:
        filter_ = compile_filter(Filter(bandwidth_hz=50, shape_factor=1.2))
        assert filter_.least_db(1_020.0, 1_030.0, 1_000.0, 1_000.0) == filter_.loss_db(1_020.0, 1_000.0)
        assert filter_.least_db(1_020.5, 1_020.5, 1_020.0, 1_020.0) == filter_.loss_db(1_020.5, 1_020.0)

    def test_a_brick_wall_a_gigahertz_away_is_the_ultimate_rejection(self) -> None:
        """The exponent of a shape factor near 1 overflows a double within a few bandwidths."""
        selectivity = compile_filter(Filter(bandwidth_hz=500, shape_factor=1.0001, ultimate_db=75.0))
        assert selectivity.loss_db([1e9, 9e6, 9_000_250.0], 9e6) == pytest.approx([75, 0, 6], abs=0.01)


class TestOffTune:
    def test_circuits_100_khz_high_lose_the_side_they_lean_to(self) -> None:
        """465 kHz, two circuits of Q 45 on 21.2 MHz; figures worked out beside the model, [calc]."""
        both = (Circuits(circuits=2, q=45.0),)
        image = 21.2e6 + 930_000
        assert compile_elements(both, 300.0).loss_db(image, 21.2e6) == pytest.approx(24.05, abs=0.01)
        leaning = compile_elements(both, 300.0, off_tune_hz=100_000.0)
        assert leaning.loss_db(image, 21.2e6) == pytest.approx(20.74, abs=0.01)

    def test_a_set_aligned_on_its_image_hears_the_image_better(self) -> None:
        both = (Circuits(circuits=2, q=45.0),)
        right = compile_elements(both, 300.0).loss_db(21.2e6 + 930_000, 21.2e6)
        wrong = compile_elements(both, 300.0, off_tune_hz=930_000.0).loss_db(21.2e6 + 930_000, 21.2e6)
        # centred on the image instead: the same two frequencies with their roles exchanged
        assert wrong == pytest.approx(-float(right), abs=1e-9)


class TestLogCurve:
    @settings(max_examples=120, deadline=None)
    @given(
        st.lists(
            st.tuples(st.floats(1e3, 1e8), st.floats(-50, 50)),
            min_size=1,
            max_size=40,
            unique_by=lambda p: p[0],
        ),
        st.floats(1e3, 1e8),
        st.floats(1e3, 1e8),
    )
    def test_least_and_greatest_are_those_of_the_points_inside_and_the_ends(
        self, points: list[tuple[float, float]], a: float, b: float
    ) -> None:
        curve = LogCurve(points)
        low, high = min(a, b), max(a, b)
        inside = [value for hz, value in points if low <= hz <= high] + curve.at([low, high]).tolist()
        assert curve.least(low, high) == pytest.approx(min(inside), abs=1e-9)
        assert curve.greatest(low, high) == pytest.approx(max(inside), abs=1e-9)

    def test_refuses_no_points_and_a_frequency_twice(self) -> None:
        with pytest.raises(ValueError, match="at least one point"):
            LogCurve([])
        with pytest.raises(ValueError, match="differ"):
            LogCurve([(1e6, 1.0), (1e6, 2.0)])


class TestCommonPractice:
    """What the trade expects of such front ends. Common practice, no source."""

    def test_two_circuits_and_a_455_khz_if_give_some_15_to_20_db_near_28_mhz(self) -> None:
        """Image rejection of 15 to 20 dB at 28 MHz implies a loaded Q of 34 to 47."""
        image, wanted = 28e6 + 910_000, 28e6
        assert circuit(33.6, 2).loss_db(image, wanted) == pytest.approx(15, abs=0.05)
        assert circuit(46.9, 2).loss_db(image, wanted) == pytest.approx(20, abs=0.05)
        # the default law, Q 40 there, stands inside
        default = compile_elements((Circuits(circuits=2, q=None),), 70.0)
        assert 15 <= default.loss_db(image, wanted) <= 20

    def test_two_more_in_a_preselector_bring_30_to_40_db_there_in_all(self) -> None:
        default = compile_elements((Circuits(circuits=2, q=None), Circuits(circuits=2, q=None)), 70.0)
        assert 30 <= default.loss_db(28e6 + 910_000, 28e6) <= 40

    @pytest.mark.parametrize(("mhz", "db"), [(28.0, 1.5), (7.0, 8.5), (3.5, 13.6)])
    def test_a_resonant_aerial_tuner_of_q_10_does_little_high_up(self, mhz: float, db: float) -> None:
        """One circuit of Q about 10 against an image 910 kHz away; figures [calc]."""
        wanted = mhz * 1e6
        assert circuit(10.0).loss_db(wanted + 910_000, wanted) == pytest.approx(db, abs=0.05)
