"""Selectivity against transfer functions worked out by scipy.signal.

Each circuit is written as a quotient of polynomials in s, from its parts, and evaluated
on the imaginary axis; nothing of the decibel formulas is used.
"""

from __future__ import annotations

import math
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest

from spurplan.receiver.curve import LogCurve
from spurplan.receiver.description import Circuits, CoupledPair, Curve, Element, Filter, Passband, Trap
from spurplan.receiver.selectivity import compile_elements, compile_filter
from tests.outside import Differences, against

EXACT_DB = 1e-6
HZ = np.concatenate([np.geomspace(1e5, 6e7, 400), [7e6, 7.1e6, 6.9e6]])


def gain_db(numerator: np.ndarray, denominator: np.ndarray, hz: np.ndarray) -> np.ndarray:
    # in units of 7 MHz: coefficients in rad/s overflow a double at the orders used here
    from scipy import signal

    _, response = signal.freqs(numerator, denominator, worN=np.asarray(hz) / 7e6)
    return 20 * np.log10(np.abs(response))


def loss(*elements: Element, wanted: float = 7e6) -> np.ndarray:
    return compile_elements(elements, 1e9).loss_db(HZ, wanted)


def computed(compares: str, tolerance: float) -> Any:
    return against(
        "scipy.signal, transfer functions", compares, unit="dB", tolerance=tolerance, needs="scipy"
    )


@computed("tuned circuits", EXACT_DB)
def test_tuned_circuits() -> Differences:
    """A parallel circuit driven by a current: Z = (s/Q)/(s^2 + s/Q + 1), once for each isolated circuit."""
    for q, number in ((10.0, 1), (80.0, 1), (80.0, 2), (55.0, 4)):
        numerator, denominator = np.poly1d([1 / q, 0]) ** number, np.poly1d([1, 1 / q, 1]) ** number
        expected = -gain_db(numerator.coeffs, denominator.coeffs, HZ)
        yield f"Q {q}, {number}", loss(Circuits(circuits=number, q=q)) - expected


@computed("coupled pair, kappa 0.3 to 4, by capacitor, by inductance, unknown", 1e-5)
def test_coupled_pair() -> Differences:
    """Two circuits 1 + Q(s + 1/s), joined by kappa s or kappa/s: (1 + k^2) s^3 or s over
    (Q s^2 + s + Q)^2 less k^2 s^4 or k^2; where nobody said which, the mean in decibels."""
    q = 60.0
    for kappa in (0.3, 1.0, 1.8, 4.0):
        circuits = np.polymul([q, 1.0, q], [q, 1.0, q])
        by_capacitor = gain_db([1 + kappa**2, 0, 0, 0], np.polysub(circuits, [kappa**2, 0, 0, 0, 0]), HZ)
        by_inductance = gain_db([1 + kappa**2, 0], np.polysub(circuits, [kappa**2]), HZ)
        both = {"capacitive": by_capacitor, "inductive": by_inductance}
        for coupling, gain in {**both, None: (by_capacitor + by_inductance) / 2}.items():
            pair = CoupledPair(coupled_pair=kappa, q=q, coupling=coupling)
            yield f"kappa {kappa}, {coupling or 'unknown'}", loss(pair) + gain


@computed("passband: Butterworth, order 1 to 5", 1e-4)
def test_passband_is_a_butterworth_filter() -> Differences:
    from scipy import signal

    edges = ((6_500_000, 7_500_000), (2_000_000, 20_000_000))
    for order, (low, high), wanted in product((1, 2, 3, 5), edges, (7e6, 6.5e6, 9e6)):
        numerator, denominator = signal.butter(order, [low / 7e6, high / 7e6], btype="bandpass", analog=True)
        absolute, at_wanted = (gain_db(numerator, denominator, hz) for hz in (HZ, np.array([wanted])))
        element = Passband(low_hz=low, high_hz=high, order=order)
        # far out scipy's own polynomials of the tenth degree lose digits: compare down to 150 dB
        near = absolute > -150
        assert near.sum() > 100
        name = f"order {order}, {low} to {high} Hz, wanted {wanted:g}"
        yield name, loss(element, wanted=wanted)[near] - (at_wanted - absolute)[near]


@computed("trap", EXACT_DB)
def test_trap() -> Differences:
    """A series circuit across a line: (s^2 + d*s/Q + 1)/(s^2 + s/Q + 1), d = 10^(-depth/20)."""
    for depth, q in ((30.0, 50.0), (45.0, 200.0), (6.0, 5.0)):
        d = 10 ** (-depth / 20)
        absolute = gain_db([1, d / q, 1], [1, 1 / q, 1], HZ)
        at_wanted = gain_db([1, d / q, 1], [1, 1 / q, 1], np.array([9e6]))
        element = Trap(trap_hz=7_000_000, depth_db=depth, q=q)
        yield f"{depth} dB, Q {q}", loss(element, wanted=9e6) - (at_wanted - absolute)


@against("scipy.interpolate", "measured curve", unit="dB", tolerance=EXACT_DB, needs="scipy")
def test_curve() -> Differences:
    """Straight between its points over log frequency, held at the ends."""
    from scipy import interpolate

    points = ((500_000, 80.0), (3_000_000, 20.0), (7_000_000, 0.0), (12_000_000, 35.0), (40_000_000, 60.0))
    hz, db = np.array(points).T
    curve = interpolate.interp1d(np.log10(hz), db, bounds_error=False, fill_value=(db[0], db[-1]))
    expected = curve(np.log10(HZ)) - curve(math.log10(9e6))
    yield "five points", loss(Curve(points=points), wanted=9e6) - expected


@against("scipy.optimize, bounded search", "least of a curve", unit="dB", tolerance=0.05, needs="scipy")
def test_least_over_an_interval_of_a_curve_is_what_a_bounded_search_finds() -> Differences:
    """Against scipy.optimize on each piece: the minimum of a polyline stands at a point or an end."""
    from scipy import optimize

    curve = LogCurve([(1e6, 5.0), (2e6, -3.0), (5e6, 9.0), (9e6, -8.0), (2e7, 4.0)])
    for low, high in ((1.1e6, 1.9e6), (1.5e6, 7e6), (6e6, 3e7), (2.1e7, 5e7)):
        ends = np.geomspace(low, high, 9)
        pieces = [
            optimize.minimize_scalar(lambda f: float(curve.at(f)), bounds=(a, b), method="bounded").fun
            for a, b in pairwise(ends)
        ]
        assert curve.least(low, high) <= min(pieces) + 1e-9
        yield f"{low:g} to {high:g} Hz", curve.least(low, high) - min(pieces)


STRIPS = [(2, 2.1), (4, 6.1), (6, 8.2)]  # circuits, greatest error on the skirt in dB


def strip(circuits: int) -> tuple[np.ndarray, np.ndarray]:
    """A strip of isolated circuits, Q 100 on 455 kHz: (offset in Hz, attenuation in dB)."""
    from scipy import signal

    q, centre = 100.0, 455e3
    denominator = np.poly1d([1, 1 / q, 1]) ** circuits
    numerator = np.poly1d([1 / q, 0]) ** circuits
    above = np.linspace(0, 0.9e6, 900_001)
    _, response = signal.freqs(numerator.coeffs, denominator.coeffs, worN=(centre + above) / centre)
    return above, -20 * np.log10(np.abs(response))


def modelled(above: np.ndarray, attenuation: np.ndarray) -> tuple[Any, np.ndarray]:
    """The IF filter that meets it at -6 and -60 dB, and the offsets of those."""
    half_6, half_60 = np.interp([6.0, 60.0], attenuation, above)
    model = compile_filter(
        Filter(bandwidth_hz=round(2 * half_6), shape_factor=half_60 / half_6, ultimate_db=120.0)
    )
    return model, np.array([half_6, half_60])


@computed("IF filter at -6 and -60 dB of a strip", 0.05)
def test_if_filter_meets_a_strip_of_isolated_circuits() -> Differences:
    for circuits, _ in STRIPS:
        model, halves = modelled(*strip(circuits))
        yield f"{circuits} circuits", model.loss_db(455e3 + halves, 455e3) - [6, 60]


@pytest.mark.parametrize(("circuits", "mid_skirt_db"), STRIPS)
def test_if_filter_on_the_skirt_of_a_strip(circuits: int, mid_skirt_db: float) -> None:
    """In between such a strip attenuates less.

    The error is the shape's, not the arithmetic's: circuits tuned alike have a rounder skirt.
    """
    pytest.importorskip("scipy.signal")
    above, attenuation = strip(circuits)
    model, _ = modelled(above, attenuation)
    between = (attenuation > 6) & (attenuation < 60)
    error = model.loss_db(455e3 + above[between], 455e3) - attenuation[between]
    assert error.min() > -0.01
    assert error.max() == pytest.approx(mid_skirt_db, abs=0.1)
