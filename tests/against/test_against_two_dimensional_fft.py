"""Mixer products against a two-dimensional Fourier transform of a device's own characteristic.

The output is sampled over one period of the oscillator's phase and one of the signal's; the transform
holds every product at once, and no two fall together. Devices are smooth functions of two phases;
nothing of the compact model goes into them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product
from typing import Any

import numpy as np

from spurplan.receiver.description import Mixer
from spurplan.receiver.families import voltage_intercept_dbm
from spurplan.receiver.mixers import compile_mixer
from tests.outside import Differences, against

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


def transformed(compares: str, tolerance: float, needs: str = "") -> Any:
    source = "two-dimensional FFT of a characteristic"
    return against(source, compares, unit="dB", tolerance=tolerance, needs=needs)


def ones(count: int) -> np.ndarray:
    return np.ones(count, dtype=int)


# --- i = exp(v/V0): bipolar transistors, and the curvature that stands for a valve's --------------


@transformed("bipolar family, (1, 2) to (1, 5)", 0.01)
def test_one_voltage_gives_every_intercept() -> Differences:
    """Additive drive, weak signal: (1, n) stands (n - 1)*(H_n - P) below (1, 1) at any drive."""
    v0, signal = 0.026, 0.026 * 0.05
    m = np.array([1])
    mixer = compile_mixer(Mixer(family="bipolar"))
    for drive, n in product((1.0, 3.0, 6.0), (2, 3, 4, 5)):

        def device(lo: np.ndarray, rf: np.ndarray, drive: float = drive) -> np.ndarray:
            return np.exp(drive * lo + signal / v0 * rf)

        # 0.05 V0 of signal: the next term of the series is 0.05^2/8 of the first, 0.003 dB
        found = mixer.suppression_db(m, n, dbm(signal))
        yield f"drive {drive}, order {n}", found - products_db(device, m, np.array([n]))


@transformed("modified Bessel functions, the textbooks' closed form", 1e-6, needs="scipy")
def test_products_are_modified_bessel_functions() -> Differences:
    """(m, n) ~ I_m(x)*I_n(y), the closed form of the textbooks."""
    from scipy import special

    x, y = 4.0, 0.7
    m, n = (grid.ravel() for grid in np.mgrid[0:6, 1:5])
    measured = products_db(lambda lo, rf: np.exp(x * lo + y * rf), m, n)
    closed = 20 * np.log10(special.iv(1, x) * special.iv(1, y) / (special.iv(m, x) * special.iv(n, y)))
    # product (0, n) holds both signs in one bin each, as every other one does
    yield "24 products", measured - closed


@transformed("bipolar family, second and third oscillator harmonic", 2.0)
def test_harmonics_of_the_usual_drive() -> Differences:
    """A transistor driven by 150 mV peak of oscillator, x = 5.8: the family's two figures (a slope of
    14 dB per decade) meet the second and third harmonic; the fourth they call stronger than it is."""
    m = np.array([2, 3, 4])
    measured = products_db(lambda lo, rf: np.exp(5.8 * lo + 0.01 * rf), m, ones(3))
    model = compile_mixer(Mixer(family="bipolar")).suppression_db(m, 1, -60.0)
    yield "drive 5.8", model[:2] - measured[:2]
    assert model[2] < measured[2]


# --- i = f(v_s)*h(v_o): pentagrids, hexodes, and the dual-gate transistor -------------------------


def valve(signal_volts: float, v0: float, opening: float) -> Device:
    """Exponential signal grid, oscillator grid conducting over part of the cycle."""

    def output(lo: np.ndarray, rf: np.ndarray) -> np.ndarray:
        return np.exp(signal_volts / v0 * rf) * np.maximum(0.0, lo - math.cos(opening))

    return output


@transformed("valve_multiplicative family, signal orders 2 to 4", 0.01)
def test_orders_of_the_signal_do_not_depend_on_the_oscillator() -> Differences:
    v0, signal = 3.0, 0.1
    m = np.array([0, 1, 2, 3])
    mixer = compile_mixer(Mixer(family="valve_multiplicative"))
    for n, opening in product((2, 3, 4), (1.0, 1.57, 2.2)):
        orders, firsts = (products_db(valve(signal, v0, opening), m, np.full(4, k)) for k in (n, 1))
        model = mixer.suppression_db(m, n, dbm(signal)) - mixer.suppression_db(m, 1, dbm(signal))
        yield f"order {n}, opening {opening}", orders - firsts - model


def on_the_if(opening: float) -> float:
    """Product (0, 1) below (1, 1) of a valve."""
    return float(products_db(valve(0.01, 3.0, opening), np.array([0]), np.array([1]))[0])


OPENINGS = (1.2, 1.57, 2.0)


@transformed("cosine-tip transconductance, the closed form", 0.01)
def test_closed_form_of_the_answer_on_the_if() -> Differences:
    """Cosine-tip transconductance: S(0, 1) = 20*log10((g_1/2)/g_0), -1 to -4 dB for usual openings."""
    for p in OPENINGS:
        g0 = (math.sin(p) - p * math.cos(p)) / (math.pi * (1 - math.cos(p)))
        g1 = (p - math.sin(p) * math.cos(p)) / (math.pi * (1 - math.cos(p)))
        # 256 points resolve the edge of conduction to 0.01 dB
        yield f"opening {p}", on_the_if(p) - 20 * math.log10(g1 / 2 / g0)


@transformed("valve_multiplicative family, answer on the IF", 2.5)
def test_an_unbalanced_mixer_answers_its_own_if_better_than_the_signal() -> Differences:
    for opening in OPENINGS:
        yield f"opening {opening}", compile_mixer(Mixer()).suppression_db(0, 1, -50.0) - on_the_if(opening)


@transformed("valve_multiplicative family, oscillator harmonics", 3.5)
def test_the_second_harmonic_of_a_valve_is_6_db_weaker() -> Differences:
    """The opening a valve converter works at, 100 to 120 degrees in all, where the harmonics go 1:2:3."""
    m = np.array([2, 3])
    measured = products_db(valve(0.01, 3.0, math.radians(60)), m, ones(2))
    yield "opening 120 degrees", compile_mixer(Mixer()).suppression_db(m, 1, -50.0) - measured


# --- i = (v - Vp)^2 above pinch-off: a junction field-effect transistor of 3 V --------------------

# 2 V of oscillator, its peaks 2.8 V above pinch-off: open for 226 degrees
DRIVE, ABOVE, SIGNAL = 2.0, 2.8, 0.05


def square_law(lo: np.ndarray, rf: np.ndarray) -> np.ndarray:
    return np.maximum(0.0, ABOVE - DRIVE * (1 - lo) + SIGNAL * rf) ** 2


@transformed("jfet family, (0 to 5, 1 and 2), beside one null each", 6.0)
def test_the_family_stands_within_6_db_or_on_the_safe_side() -> Differences:
    """Where the device has a null the family reports none: real ones do not keep theirs."""
    m = np.arange(0, 6)
    for n in (1, 2):
        measured = products_db(square_law, m, np.full(6, n))
        model = compile_mixer(Mixer(family="jfet")).suppression_db(m, n, dbm(SIGNAL))
        near_null = measured - model > 6.0
        assert near_null.sum() <= 1
        yield f"order {n}", (model - measured)[~near_null]


@transformed("square law with cut-off, closed form of (m, 2)", 0.3)
def test_closed_forms_of_its_products() -> Differences:
    """(m, 2)/(1, 1) = (V_R/4)*[2 sin(mp)/(m pi)]/(V1*g_1), cos p = 1 - V1/V_L, g_1 of a cosine tip."""
    p = math.acos(1 - ABOVE / DRIVE)
    g1 = (p - math.sin(p) * math.cos(p)) / (math.pi * (1 - math.cos(p)))
    m = np.arange(1, 4)
    closed = -20 * np.log10(SIGNAL / 4 * np.abs(2 * np.sin(m * p) / (m * math.pi)) / (ABOVE * g1))
    # the edge of conduction falls between two of the 256 points
    yield "(1 to 3, 2)", products_db(square_law, m, np.full(3, 2)) - closed


# --- diodes: the signal's polarity is reversed by the oscillator's --------------------------------


@against("Fourier series of a square wave", "commutating family, odd harmonics", unit="dB", tolerance=0.01)
def test_odd_harmonics_of_a_square_wave() -> Differences:
    """(m, 1)/(1, 1) = 1/m, exactly, from the exact Fourier series of the switching function."""
    edge_hits = np.arange(4096) / 4096 * 2 * math.pi
    wave = np.fft.fft(np.sign(np.cos(edge_hits + math.pi / 4096)))
    mixer = compile_mixer(Mixer(family="commutating"))
    for m in (3, 5, 7, 9):
        measured = -20 * math.log10(abs(wave[m]) / abs(wave[1]))
        yield f"({m}, 1)", mixer.suppression_db(m, 1, -50.0) - measured


@transformed("switch with moved edges: (m, 3) is m rho²/8, in family and device", 0.6)
def test_edges_moved_by_the_signal_make_the_third_order_law() -> Differences:
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
    yield "device", 20 * np.log10(third / first) - expected
    mixer = compile_mixer(Mixer(family="commutating"))
    slope = mixer.suppression_db(1, 3, -50.0) - mixer.suppression_db(np.array([1, 3, 5]), 3, -50.0)
    assert np.abs(slope - (expected - expected[0])).max() < 1e-9
    yield "family", slope - (expected - expected[0])


def ring_of_four(signal: float, rng: np.random.Generator) -> Device:
    """Four diodes with series resistance, each a little unlike the others: i + ln(i) = v.

    Spread of saturation current 10 %, of oscillator drive 3 %, of resistance 5 %: estimates for
    diodes picked by hand and a transformer wound with care.
    """
    from scipy import special

    current, drive, resistance = (rng.normal(0, spread, 4) for spread in (0.10, 0.03, 0.05))
    # the arms of the ring: sign of the output, of the oscillator and of the signal across a diode
    arms = ((1, 1, 1), (-1, 1, -1), (1, -1, -1), (-1, -1, 1))

    def output(lo: np.ndarray, rf: np.ndarray) -> np.ndarray:
        total = np.zeros(np.broadcast_shapes(lo.shape, rf.shape))
        for k, (out, own_lo, own_rf) in enumerate(arms):
            volts = 15.0 * (own_lo * lo * (1 + drive[k]) + own_rf * signal * rf) + current[k] - 2.0
            total += out * (1 + resistance[k]) * special.wrightomega(volts)
        return total

    return output


def unmatched_rings(m: list[int], n: list[int]) -> np.ndarray:
    """Suppression of some products in sixty rings of unmatched diodes, the middle of each."""
    rng = np.random.default_rng(2)
    orders = np.array(m), np.array(n)
    return np.median([products_db(ring_of_four(0.05, rng), *orders) for _ in range(60)], axis=0)


@transformed("diode_ring family, (0, 2) beside (2, 2)", 6.0, needs="scipy")
def test_the_second_order_of_a_ring_carries_no_isolation() -> Differences:
    """Unmatched diodes rectify the signal about as well with the oscillator as without it: what
    isolates the IF from the signal, 25 dB and more, does not hold its second order back."""
    none, second, straight = unmatched_rings([0, 2, 0], [2, 2, 1])
    assert straight > 25.0
    family = compile_mixer(Mixer(family="diode_ring")).suppression_db(np.array([0, 2]), 2, -19.0)
    yield "(0, 2) less (2, 2)", (none - second) - (family[0] - family[1])


@transformed("diode_ring family, (0, 3) beside (1, 3)", 16.0, needs="scipy")
def test_the_third_order_of_a_ring_carries_the_isolation() -> Differences:
    """The signal's third order gets straight to the IF weaker than (1, 3) by the isolation at least,
    measured on the signal itself; the family stays on the safe side of the device."""
    third, beside, straight = unmatched_rings([0, 1, 0], [3, 3, 1])
    family = compile_mixer(Mixer(family="diode_ring")).suppression_db(np.array([0, 1, 0]), [3, 3, 1], -19.0)
    device, model = (third - beside) - straight, (family[0] - family[1]) - family[2]
    assert model <= device
    yield "(0, 3) less (1, 3), beyond (0, 1)", device - model


@against(
    "series I_n(y)/I_1(y), scipy.special", "intercepts of one voltage, orders 2 to 5",
    unit="dB", tolerance=1e-3, needs="scipy",
)  # fmt: skip
def test_a_voltage_intercept_is_where_the_series_terms_meet() -> Differences:
    """(V/(2*V0))^(n-1)/n! = 1 at H_n: the first term of the series I_n(y)/I_1(y), y = V/V0."""
    from scipy import special

    for n in (2, 3, 4, 5):
        weak = 0.01
        closed = -20 * math.log10(special.iv(n, weak) / special.iv(1, weak))
        yield f"order {n}", (n - 1) * (voltage_intercept_dbm(1.0, n) - dbm(weak)) - closed
