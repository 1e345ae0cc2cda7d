"""The noise floor: what it is made of, its lowest value over a stretch, what it says of itself."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Conversion, Filter, Range, Receiver
from spurplan.receiver.noise import Floor, compile_floor

ENVIRONMENTS = ("city", "residential", "rural", "quiet_rural")


def receiver(
    low: str = "1.6 MHz",
    high: str = "30 MHz",
    bandwidth_hz: int = 6000,
    **figures: object,
) -> Receiver:
    conversion = Conversion(injection="high", if_hz=455_000, filter=Filter(bandwidth_hz=bandwidth_hz))
    return Receiver.from_dict(
        {
            "name": "Boathouse valve set",
            "conversions": (conversion,),
            "ranges": ({"name": "1", "coverage": [low, high]},),
            **figures,
        }
    )


def floor(**figures: object) -> Floor:
    return compile_floor(receiver(**figures))


measured_lists = st.lists(
    st.tuples(st.integers(100_000, 60_000_000), st.floats(-130, -60)),
    min_size=1,
    max_size=6,
    unique_by=lambda point: point[0],
).map(lambda points: [[f"{hz} Hz", f"{dbm:.2f} dBm"] for hz, dbm in sorted(points)])
floors = st.one_of(
    st.builds(
        lambda e, nf, gain: floor(environment=e, noise_figure_db=nf, antenna_gain_db=gain),
        st.sampled_from(ENVIRONMENTS),
        st.floats(0, 30),
        st.floats(-40, 10),
    ),
    st.builds(lambda noise, nf: floor(noise=noise, noise_figure_db=nf), measured_lists, st.floats(0, 30)),
)


class TestProperties:
    @settings(max_examples=150, deadline=None)
    @given(floors, st.integers(100_000, 400_000_000), st.integers(0, 100_000_000))
    def test_the_least_outside_over_a_stretch_is_below_every_point_of_it(
        self, noise: Floor, low: int, span: int
    ) -> None:
        """A route dropped because it stays below the lowest bar could not have been heard."""
        high = low + span
        least = float(noise.least_external_dbm_per_hz(low, high))
        dial = np.concatenate([np.linspace(low, high, 300), noise.corners(), [9_999_999.0, 10_000_000.0]])
        dial = dial[(dial >= low) & (dial <= high)]
        levels = noise.external_dbm_per_hz(dial)
        assert np.all(levels >= least - 1e-9)
        # and no lower than it must be: some whole hertz of it, or a knot, reaches it
        assert levels.min() <= least + 1e-5

    @settings(max_examples=100, deadline=None)
    @given(floors, st.integers(100_000, 400_000_000))
    def test_at_one_frequency_the_least_outside_is_what_is_there(self, noise: Floor, dial: int) -> None:
        assert noise.least_external_dbm_per_hz(dial, dial) == pytest.approx(
            float(noise.external_dbm_per_hz(dial)), abs=1e-9
        )

    @settings(max_examples=100, deadline=None)
    @given(floors)
    def test_between_two_corners_it_only_rises_or_only_falls(self, noise: Floor) -> None:
        edges = np.unique(np.concatenate([[5e4], noise.corners(), [1e9]]))
        for low, high in pairwise(edges):
            steps = np.diff(noise.floor_dbm(np.geomspace(low, high, 50)[1:-1], 2400))
            assert np.all(steps <= 1e-9) or np.all(steps >= -1e-9)

    @settings(max_examples=60, deadline=None)
    @given(floors, st.lists(st.integers(100_000, 400_000_000), min_size=1, max_size=6))
    def test_a_scalar_gets_what_a_vector_gets(self, noise: Floor, dials: list[int]) -> None:
        vector = noise.floor_dbm(np.array(dials), 2400)
        assert vector.shape == (len(dials),)
        for dial, level in zip(dials, vector, strict=True):
            assert noise.floor_dbm(dial, 2400) == pytest.approx(float(level), abs=1e-9)

    @settings(max_examples=60, deadline=None)
    @given(floors, st.integers(100_000, 400_000_000), st.integers(1, 10_000), st.integers(2, 20))
    def test_noise_power_is_proportional_to_bandwidth(
        self, noise: Floor, dial: int, bandwidth: int, times: int
    ) -> None:
        rise = noise.floor_dbm(dial, bandwidth * times) - noise.floor_dbm(dial, bandwidth)
        assert rise == pytest.approx(10 * math.log10(times), abs=1e-9)

    @pytest.mark.parametrize("dial", [200_000, 3_500_000, 14_200_000, 29_000_000])
    def test_a_livelier_place_is_never_quieter(self, dial: int) -> None:
        levels = [float(floor(environment=name).floor_dbm(dial, 2400)) for name in ENVIRONMENTS]
        assert levels == sorted(levels, reverse=True)

    @pytest.mark.parametrize("environment", ENVIRONMENTS)
    def test_a_shorter_aerial_or_a_quieter_set_never_raises_it(self, environment: str) -> None:
        base = floor(environment=environment).floor_dbm(7_000_000, 2400)
        assert floor(environment=environment, antenna_gain_db=-20.0).floor_dbm(7_000_000, 2400) < base
        assert floor(environment=environment, noise_figure_db=3.0).floor_dbm(7_000_000, 2400) < base

    def test_with_no_aerial_worth_the_name_it_is_the_sets_own_noise(self) -> None:
        """External noise gone, F - 1 of the set remains: 10*log10(10^1.2 - 1) = 11.72 dB above kT0B."""
        deaf = floor(antenna_gain_db=-150.0)
        assert deaf.floor_dbm(7_000_000, 1) == pytest.approx(-174 + 11.72, abs=0.01)


class TestGalactic:
    def test_begins_at_10_mhz(self) -> None:
        """Below, the ionosphere keeps it out: one step, at 10 MHz, on both sides of which the floor bends."""
        quiet = floor(environment="quiet_rural", noise_figure_db=0.0)
        below, at = quiet.floor_dbm([9_999_999, 10_000_000], 1)
        # 25.0 dB alone; with 29.0 dB as powers 30.46 dB
        assert below == pytest.approx(-174 + 25.0, abs=0.01)
        assert at == pytest.approx(-174 + 30.46, abs=0.01)
        assert {9_999_999.0, 10_000_000.0} <= set(quiet.corners().tolist())

    def test_the_least_over_a_stretch_across_10_mhz_stands_just_below(self) -> None:
        quiet = floor(environment="quiet_rural", noise_figure_db=0.0)
        least = quiet.least_external_dbm_per_hz(7_000_000, 10_100_000)
        assert least == pytest.approx(float(quiet.external_dbm_per_hz(9_999_999)), abs=1e-5)
        # from 10 MHz on alone, the high end
        at_end = quiet.external_dbm_per_hz(14_000_000)
        assert quiet.least_external_dbm_per_hz(10_000_000, 14_000_000) == at_end


class TestMeasured:
    LIST = (("3.5 MHz", "S6"), ("14 MHz", "S3"))

    def test_is_straight_over_log_frequency_and_held(self) -> None:
        noise = floor(noise=self.LIST, noise_figure_db=0.0)
        # S6 = -91, S3 = -109 dBm in the final 6 kHz; 7 MHz is half way on a logarithmic axis
        for dial, dbm in ((3_500_000, -91), (7_000_000, -100), (14_000_000, -109), (2e6, -91), (28e6, -109)):
            assert noise.floor_dbm(dial, 6000) == pytest.approx(dbm, abs=0.01)

    def test_a_narrower_ear_hears_less_of_it(self) -> None:
        noise = floor(noise=self.LIST, noise_figure_db=0.0)
        assert noise.floor_dbm(3_500_000, 500) == pytest.approx(-91 - 10 * math.log10(12), abs=0.01)

    def test_takes_the_sets_own_noise_on_top_and_the_antenna_gain_not_again(self) -> None:
        quiet = [["3.5 MHz", "-136.22 dBm"]]  # kT0B in 6 kHz
        assert floor(noise=quiet, noise_figure_db=12.0).floor_dbm(3_500_000, 6000) == pytest.approx(
            -136.22 + 12, abs=0.01
        )
        loud = floor(noise=self.LIST, antenna_gain_db=-20.0).floor_dbm(3_500_000, 6000)
        assert loud == pytest.approx(-91, abs=0.01)

    def test_counts_in_the_widest_final_bandwidth_where_ranges_differ(self) -> None:
        """The lowest density: a floor too high would hide an intruder."""
        both = receiver(noise=self.LIST, noise_figure_db=0.0)
        wide = Conversion(injection="high", if_hz=455_000, filter=Filter(bandwidth_hz=12_000))
        second = Range(name="2", low_hz=30_000_001, high_hz=40_000_000, conversions=(wide,))
        noise = compile_floor(
            Receiver.from_dict(
                {
                    "name": "two widths",
                    "conversions": both.conversions,
                    "ranges": (*both.ranges, second),
                    "noise": self.LIST,
                    "noise_figure_db": 0.0,
                }
            )
        )
        assert noise.floor_dbm(3_500_000, 12_000) == pytest.approx(-91, abs=0.01)
        assert "measured noise is taken as read in a bandwidth of 12 kHz" in noise.assumptions()


class TestAssumptions:
    def test_missing_atmospheric_noise_is_said_below_10_mhz_alone(self) -> None:
        assert any("atmospheric" in text for text in floor().assumptions())
        assert not any("atmospheric" in text for text in floor(low="10 MHz").assumptions())
        assert not any("atmospheric" in text for text in floor(noise=TestMeasured.LIST).assumptions())

    def test_noise_held_beyond_its_validity_is_said(self) -> None:
        texts = floor(low="200 kHz", high="40 MHz", environment="quiet_rural").assumptions()
        assert "man-made noise below 300 kHz is taken as there" in texts
        assert "man-made noise above 30 MHz is taken as there" in texts
        assert len(floor(low="10 MHz", environment="rural").assumptions()) == 1

    def test_noise_held_beyond_what_was_measured_is_said(self) -> None:
        texts = floor(noise=TestMeasured.LIST).assumptions()
        assert "noise below 3.5 MHz was not measured and is taken as there" in texts
        assert "noise above 14 MHz was not measured and is taken as there" in texts


def test_sets_that_differ_in_their_filter_alone_do_not_share_measured_noise() -> None:
    """What was read in 3 kHz is twice the density of the same level read in 6 kHz: 3.01 dB."""
    noise = [["3.5 MHz", "-90 dBm"]]
    sets = [receiver(noise=noise, bandwidth_hz=width, noise_figure_db=0.0) for width in (6000, 3000)]
    (chains,) = compile_chains([(one, one.ranges[0]) for one in sets])
    wide, narrow = (chains.floor[code].floor_dbm(3_500_000, 1) for code in chains.floor_code)
    assert narrow - wide == pytest.approx(10 * math.log10(2), abs=1e-6)
