"""Intercept and sensitivity arithmetic in print, against the mixer model and the noise floor.

All levels are referred to the input, in dBm.
"""

from __future__ import annotations

import math

import pytest

from spurplan.receiver.description import Conversion, Filter, Mixer, Receiver
from spurplan.receiver.families import single_tone_intercept_dbm
from spurplan.receiver.mixers import compile_mixer
from spurplan.receiver.noise import compile_floor


def two_tone_product_dbm(order: int, two_tone_intercept_dbm: float, tone_dbm: float) -> float:
    """Product of two equal tones through the model, which knows products of a single tone.

    Of one power law, two tones give 2 (order 2) or 3 (order 3) times the harmonic of one.
    """
    intercept = single_tone_intercept_dbm(order, two_tone_intercept_dbm)
    mixer = compile_mixer(Mixer(**{f"h{order}": intercept}))
    single = tone_dbm - mixer.suppression_db(1, order, tone_dbm)
    return float(single) + 20 * math.log10({2: 2, 3: 3}[order])


@pytest.mark.parametrize(
    ("tone", "delta", "intercept"),
    [
        # Maintenance manuals of a handheld spectrum analyser and of a network analyser: two -20 dBm
        # tones, the larger product at -90 dBm: intercept +15 dBm.
        (-20.0, 70.0, 15.0),
        # A bench spectrum analyser's manual: -23.0 dBm, product 47.30 dB lower: 0.65 dBm.
        (-23.0, 47.30, 0.65),
        # A two-tone problem (homework site): -10 dBm tones give -60 dBm; +15 dBm [calc].
        (-10.0, 50.0, 15.0),
    ],
)
def test_third_order_intercept(tone: float, delta: float, intercept: float) -> None:
    assert two_tone_product_dbm(3, intercept, tone) == pytest.approx(tone - delta, abs=0.01)


def test_tones_5_db_stronger_raise_a_third_order_product_by_15() -> None:
    """The same homework problem: at -5 dBm the product stands at 3*(-5) - 30 = -45 dBm [calc]."""
    assert two_tone_product_dbm(3, 15.0, -5.0) == pytest.approx(-45.0, abs=0.01)


def test_second_order_product() -> None:
    """IM2 = 2P - IIP2 (RF reference page): -30 dBm and +50 dBm give -110 dBm [calc]."""
    assert two_tone_product_dbm(2, 50.0, -30.0) == pytest.approx(-110.0, abs=0.01)


def test_half_if_convention_of_data_sheets() -> None:
    """2RF - 2LO 70 dB down at -5 dBm is written as IIP2 = +65 dBm (from memory): product 2P - IIP2."""
    rows = ((1, 1, 0.0, -5.0), (2, 1, 30.0, -5.0), (1, 2, 65.0, -5.0), (2, 2, 70.0, -5.0))
    mixer = compile_mixer(Mixer(family="diode_ring", table_rows=rows))
    for level in (-5.0, -20.0, -47.0):
        assert level - mixer.suppression_db(2, 2, level) == pytest.approx(2 * level - 65.0)
    # and backwards: what a half-IF station must reach to be heard at -110 dBm
    assert mixer.need_dbm(2, 2, -110.0) == pytest.approx((-110.0 + 65.0) / 2)


@pytest.mark.parametrize("order", [2, 3, 4, 5])
def test_the_intercept_is_the_signal_plus_the_ratio_over_order_minus_one(order: int) -> None:
    """IP_N = S + delta/(N - 1): guide to spectrum and signal analysis, app. E."""
    mixer = compile_mixer(Mixer(family="jfet"))
    signal = -45.0
    ratio = float(mixer.suppression_db(1, order, signal))
    assert signal + ratio / (order - 1) == pytest.approx(mixer.figures.intercept_dbm(order))


@pytest.mark.parametrize(
    ("noise_figure", "bandwidth", "published", "rounding"),
    [
        # Thermal-noise note: NF 4 dB in 200 kHz, floor -117 dBm.
        (4.0, 200_000, -117.0, 0.05),
        # The same: NF 9 dB in 5 MHz, -98 dBm.
        (9.0, 5_000_000, -98.0, 0.05),
        # NCVEC Extra pool (2016 to 2024), E4C06: -174 dBm/Hz in 400 Hz, -148 dBm.
        (0.0, 400, -148.0, 0.05),
    ],
)
def test_least_discernible_signal(
    noise_figure: float, bandwidth: int, published: float, rounding: float
) -> None:
    """-174 + NF + 10*log10(B): outside noise at room temperature, as on a generator."""
    conversion = Conversion(injection="high", if_hz=455_000, filter=Filter(bandwidth_hz=1000))
    receiver = Receiver.model_validate(
        {
            "name": "on the generator",
            "conversions": (conversion,),
            "ranges": ({"name": "1", "coverage": ["1 MHz", "30 MHz"]},),
            "noise": [["1 MHz", "-144 dBm"]],  # kT0 in 1 kHz
            "noise_figure_db": noise_figure,
        }
    )
    assert compile_floor(receiver).floor_dbm(7_000_000, bandwidth) == pytest.approx(published, abs=rounding)


def test_twenty_times_the_bandwidth_is_13_db_of_noise() -> None:
    """NCVEC Extra pool (2024 to 2028), E4C06: from 50 to 1000 Hz, 13 dB."""
    conversion = Conversion(injection="high", if_hz=455_000, filter=Filter(bandwidth_hz=1000))
    receiver = Receiver.model_validate(
        {
            "name": "two filters",
            "conversions": (conversion,),
            "ranges": ({"name": "1", "coverage": ["1 MHz", "30 MHz"]},),
        }
    )
    floor = compile_floor(receiver)
    assert floor.floor_dbm(7e6, 1000) - floor.floor_dbm(7e6, 50) == pytest.approx(13, abs=0.05)
