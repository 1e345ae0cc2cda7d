"""Mixer products against a two-dimensional Fourier transform of a device's own characteristic.

The output is sampled over one period of the oscillator's phase and one of the signal's; the transform
holds every product at once, and no two fall together. Devices are smooth functions of two phases;
nothing of the compact model goes into them.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from spurplan.receiver.description import Mixer
from spurplan.receiver.families import voltage_intercept_dbm
from spurplan.receiver.mixers import compile_mixer

POINTS = 256
Device = Callable[[np.ndarray, np.ndarray], np.ndarray]


def products_db(device: Device, m: np.ndarray, n: np.ndarray) -> np.ndarray:
    """Suppression of product (m, n) below (1, 1), from the device's output over both phases."""
    phase = 2 * math.pi * np.arange(POINTS) / POINTS
    output = device(np.cos(phase)[:, None], np.cos(phase)[None, :])
    spectrum = np.abs(np.fft.fft2(output))
    # sum and difference alike: take the mean of both signs of the signal's harmonic
    level = (spectrum[m, n] + spectrum[m, -n]) / 2
    wanted = (spectrum[1, 1] + spectrum[1, -1]) / 2
    return -20 * np.log10(level / wanted)


def dbm(volts_peak: float) -> float:
    return 20 * math.log10(volts_peak) + 10


class TestExponential:
    """i = exp(v/V0): bipolar transistors, and the curvature that stands for a valve's."""

    @pytest.mark.parametrize("drive", [1.0, 3.0, 6.0])
    @pytest.mark.parametrize("n", [2, 3, 4, 5])
    def test_one_voltage_gives_every_intercept(self, n: int, drive: float) -> None:
        """Additive drive, weak signal: (1, n) stands (n - 1)*(H_n - P) below (1, 1) at any drive."""
        v0, signal = 0.026, 0.026 * 0.05
        m = np.array([1])
        measured = products_db(lambda lo, rf: np.exp(drive * lo + signal / v0 * rf), m, np.array([n]))
        mixer = compile_mixer(Mixer(family="bipolar"))
        # 0.05 V0 of signal: the next term of the series is 0.05^2/8 of the first, 0.003 dB
        assert mixer.suppression_db(m, n, dbm(signal)) == pytest.approx(measured, abs=0.01)

    def test_products_are_modified_bessel_functions(self) -> None:
        """(m, n) ~ I_m(x)*I_n(y), the closed form of the textbooks."""
        special = pytest.importorskip("scipy.special")
        x, y = 4.0, 0.7
        m, n = (grid.ravel() for grid in np.mgrid[0:6, 1:5])
        measured = products_db(lambda lo, rf: np.exp(x * lo + y * rf), m, n)
        closed = 20 * np.log10(special.iv(1, x) * special.iv(1, y) / (special.iv(m, x) * special.iv(n, y)))
        # product (0, n) holds both signs in one bin each, as every other one does
        assert measured == pytest.approx(closed, abs=1e-6)

    def test_harmonics_of_the_usual_drive(self) -> None:
        """A transistor driven by 150 mV peak of oscillator, x = 5.8: the family's two figures (a slope of
        14 dB per decade) meet the second and third harmonic; the fourth they call stronger than it is."""
        m = np.array([2, 3, 4])
        measured = products_db(lambda lo, rf: np.exp(5.8 * lo + 0.01 * rf), m, np.ones(3, dtype=int))
        model = compile_mixer(Mixer(family="bipolar")).suppression_db(m, 1, -60.0)
        assert model[:2] == pytest.approx(measured[:2], abs=2.0)
        assert model[2] < measured[2]


class TestMultiplicative:
    """i = f(v_s)*h(v_o): pentagrids, hexodes, and the dual-gate transistor."""

    @staticmethod
    def valve(signal_volts: float, v0: float, opening: float) -> Device:
        """Exponential signal grid, oscillator grid conducting over part of the cycle."""

        def output(lo: np.ndarray, rf: np.ndarray) -> np.ndarray:
            return np.exp(signal_volts / v0 * rf) * np.maximum(0.0, lo - math.cos(opening))

        return output

    @pytest.mark.parametrize("n", [2, 3, 4])
    @pytest.mark.parametrize("opening", [1.0, 1.57, 2.2])
    def test_orders_of_the_signal_do_not_depend_on_the_oscillator(self, n: int, opening: float) -> None:
        v0, signal = 3.0, 0.1
        m = np.array([0, 1, 2, 3])
        orders, firsts = (products_db(self.valve(signal, v0, opening), m, np.full(4, k)) for k in (n, 1))
        mixer = compile_mixer(Mixer(family="valve_multiplicative"))
        model = mixer.suppression_db(m, n, dbm(signal)) - mixer.suppression_db(m, 1, dbm(signal))
        assert orders - firsts == pytest.approx(model, abs=0.01)

    @pytest.mark.parametrize("opening", [1.2, 1.57, 2.0])
    def test_an_unbalanced_mixer_answers_its_own_if_better_than_the_signal(self, opening: float) -> None:
        """Cosine-tip transconductance: S(0, 1) = 20*log10((g_1/2)/g_0), -1 to -4 dB for usual openings."""
        measured = float(products_db(self.valve(0.01, 3.0, opening), np.array([0]), np.array([1]))[0])
        p = opening
        g0 = (math.sin(p) - p * math.cos(p)) / (math.pi * (1 - math.cos(p)))
        g1 = (p - math.sin(p) * math.cos(p)) / (math.pi * (1 - math.cos(p)))
        # 256 points resolve the edge of conduction to 0.01 dB
        assert measured == pytest.approx(20 * math.log10(g1 / 2 / g0), abs=0.01)
        assert compile_mixer(Mixer()).suppression_db(0, 1, -50.0) == pytest.approx(measured, abs=2.5)

    def test_the_second_harmonic_of_a_valve_is_6_db_weaker(self) -> None:
        """The opening a valve converter works at, 100 to 120 degrees in all, where the harmonics go 1:2:3."""
        m, ones = np.array([2, 3]), np.ones(2, dtype=int)
        measured = products_db(self.valve(0.01, 3.0, math.radians(60)), m, ones)
        assert compile_mixer(Mixer()).suppression_db(m, 1, -50.0) == pytest.approx(measured, abs=3.5)


class TestSquareLawWithCutOff:
    """i = (v - Vp)^2 above pinch-off: a junction field-effect transistor of 3 V."""

    # 2 V of oscillator, its peaks 2.8 V above pinch-off: open for 226 degrees
    DRIVE, ABOVE, SIGNAL = 2.0, 2.8, 0.05

    def device(self, lo: np.ndarray, rf: np.ndarray) -> np.ndarray:
        return np.maximum(0.0, self.ABOVE - self.DRIVE * (1 - lo) + self.SIGNAL * rf) ** 2

    @pytest.mark.parametrize("n", [1, 2])
    def test_the_family_stands_within_6_db_or_on_the_safe_side(self, n: int) -> None:
        """Where the device has a null the family reports none: real ones do not keep theirs."""
        m = np.arange(0, 6)
        measured = products_db(self.device, m, np.full(6, n))
        model = compile_mixer(Mixer(family="jfet")).suppression_db(m, n, dbm(self.SIGNAL))
        assert np.all(model - measured < 6.0)
        near_null = measured - model > 6.0
        assert near_null.sum() <= 1

    def test_closed_forms_of_its_products(self) -> None:
        """(m, 2)/(1, 1) = (V_R/4)*[2 sin(mp)/(m pi)]/(V1*g_1), cos p = 1 - V1/V_L, g_1 of a cosine tip."""
        p = math.acos(1 - self.ABOVE / self.DRIVE)
        g1 = (p - math.sin(p) * math.cos(p)) / (math.pi * (1 - math.cos(p)))
        m = np.arange(1, 4)
        closed = -20 * np.log10(
            self.SIGNAL / 4 * np.abs(2 * np.sin(m * p) / (m * math.pi)) / (self.ABOVE * g1)
        )
        # the edge of conduction falls between two of the 256 points
        assert products_db(self.device, m, np.full(3, 2)) == pytest.approx(closed, abs=0.3)


class TestSwitch:
    """Diodes: the signal's polarity is reversed by the oscillator's."""

    @pytest.mark.parametrize("m", [3, 5, 7, 9])
    def test_odd_harmonics_of_a_square_wave(self, m: int) -> None:
        """(m, 1)/(1, 1) = 1/m, exactly, from the exact Fourier series of the switching function."""
        edge_hits = np.arange(4096) / 4096 * 2 * math.pi
        wave = np.fft.fft(np.sign(np.cos(edge_hits + math.pi / 4096)))
        measured = -20 * math.log10(abs(wave[m]) / abs(wave[1]))
        assert compile_mixer(Mixer(family="commutating")).suppression_db(m, 1, -50.0) == pytest.approx(
            measured, abs=0.01
        )

    def test_edges_moved_by_the_signal_make_the_third_order_law(self) -> None:
        """(m, 3)/(1, 1) = m*rho^2/8 for odd m: rising with m, 40 dB per decade of rho."""
        rho = 0.05

        def ring(lo: np.ndarray, rf: np.ndarray) -> np.ndarray:
            # the switch turns where oscillator and a small share of the signal cancel; softly, as tanh
            return rf * np.tanh((lo + rho * rf) / 0.03)

        points = 1024
        phase = 2 * math.pi * np.arange(points) / points
        spectrum = np.abs(np.fft.fft2(ring(np.cos(phase)[:, None], np.cos(phase)[None, :])))
        first, third = spectrum[1, 1], spectrum[[1, 3, 5], 3]
        # the width of the soft edge, 0.03, costs less than 0.6 dB against a sharp one up to m = 5
        expected = 20 * np.log10(np.array([1, 3, 5]) * rho**2 / 8)
        assert 20 * np.log10(third / first) == pytest.approx(expected, abs=0.6)
        mixer = compile_mixer(Mixer(family="commutating"))
        slope = mixer.suppression_db(1, 3, -50.0) - mixer.suppression_db(np.array([1, 3, 5]), 3, -50.0)
        assert slope == pytest.approx(expected - expected[0], abs=1e-9)


def test_a_voltage_intercept_is_where_the_series_terms_meet() -> None:
    """(V/(2*V0))^(n-1)/n! = 1 at H_n: the first term of the series I_n(y)/I_1(y), y = V/V0."""
    special = pytest.importorskip("scipy.special")
    for n in (2, 3, 4, 5):
        weak = 0.01
        closed = -20 * math.log10(special.iv(n, weak) / special.iv(1, weak))
        model = (n - 1) * (voltage_intercept_dbm(1.0, n) - dbm(weak))
        assert model == pytest.approx(closed, abs=1e-3)
