"""Intercept and sensitivity arithmetic in print, against the mixer model and the noise floor.

All levels are referred to the input, in dBm.
"""

from __future__ import annotations

import math

from spurplan.receiver.description import Conversion, Filter, Mixer, Receiver
from spurplan.receiver.families import single_tone_intercept_dbm
from spurplan.receiver.mixers import compile_mixer
from spurplan.receiver.noise import Floor, compile_floor
from tests.outside import SAME_FORMULA, Differences, against


def two_tone_product_dbm(order: int, two_tone_intercept_dbm: float, tone_dbm: float) -> float:
    """Product of two equal tones through the model, which knows products of a single tone.

    Of one power law, two tones give 2 (order 2) or 3 (order 3) times the harmonic of one.
    """
    intercept = single_tone_intercept_dbm(order, two_tone_intercept_dbm)
    mixer = compile_mixer(Mixer(**{f"h{order}": intercept}))
    single = tone_dbm - mixer.suppression_db(1, order, tone_dbm)
    return float(single) + 20 * math.log10({2: 2, 3: 3}[order])


@against(
    "analyser maintenance manuals; homework problem",
    "third-order product",
    unit="dB",
    tolerance=0.01,
    apart=SAME_FORMULA,
)
def test_third_order_intercept() -> Differences:
    for tone, delta, intercept in (
        # Maintenance manuals of a handheld spectrum analyser and of a network analyser: two -20 dBm
        # tones, the larger product at -90 dBm: intercept +15 dBm.
        (-20.0, 70.0, 15.0),
        # A bench spectrum analyser's manual: -23.0 dBm, product 47.30 dB lower: 0.65 dBm.
        (-23.0, 47.30, 0.65),
        # A two-tone problem (homework site): -10 dBm tones give -60 dBm; +15 dBm [calc].
        (-10.0, 50.0, 15.0),
        # The same: at -5 dBm the product stands at 3*(-5) - 30 = -45 dBm [calc].
        (-5.0, 40.0, 15.0),
    ):
        yield f"{tone} dBm, {intercept} dBm", two_tone_product_dbm(3, intercept, tone) - (tone - delta)


@against(
    "IM2 = 2P - IIP2, RF reference page",
    "second-order product",
    unit="dB",
    tolerance=0.01,
    apart=SAME_FORMULA,
)
def test_second_order_product() -> Differences:
    """IM2 = 2P - IIP2 (RF reference page): -30 dBm and +50 dBm give -110 dBm [calc]."""
    yield "-30 dBm", two_tone_product_dbm(2, 50.0, -30.0) - -110.0


@against(
    "data-sheet convention for half-IF (from memory)",
    "half-IF product",
    unit="dB",
    tolerance=1e-6,
    apart=SAME_FORMULA,
)
def test_half_if_convention_of_data_sheets() -> Differences:
    """2RF - 2LO 70 dB down at -5 dBm is written as IIP2 = +65 dBm (from memory): product 2P - IIP2."""
    rows = ((1, 1, 0.0, -5.0), (2, 1, 30.0, -5.0), (1, 2, 65.0, -5.0), (2, 2, 70.0, -5.0))
    mixer = compile_mixer(Mixer(family="diode_ring", table_rows=rows))
    for level in (-5.0, -20.0, -47.0):
        yield f"{level} dBm", level - mixer.suppression_db(2, 2, level) - (2 * level - 65.0)
    # and backwards: what a half-IF station must reach to be heard at -110 dBm
    yield "backwards", mixer.need_dbm(2, 2, -110.0) - (-110.0 + 65.0) / 2


@against(
    "IP_N = S + delta/(N - 1), guide, app. E",
    "intercepts, orders 2 to 5",
    unit="dB",
    tolerance=1e-6,
    apart=SAME_FORMULA,
)
def test_the_intercept_is_the_signal_plus_the_ratio_over_order_minus_one() -> Differences:
    """IP_N = S + delta/(N - 1): guide to spectrum and signal analysis, app. E."""
    mixer = compile_mixer(Mixer(family="jfet"))
    signal = -45.0
    for order in (2, 3, 4, 5):
        ratio = float(mixer.suppression_db(1, order, signal))
        yield f"order {order}", signal + ratio / (order - 1) - mixer.figures.intercept_dbm(order)


def floor_of(**noise: object) -> Floor:
    conversion = Conversion(injection="high", if_hz=455_000, filter=Filter(bandwidth_hz=1000))
    receiver = Receiver.from_dict(
        {
            "name": "on the generator",
            "conversions": (conversion,),
            "ranges": ({"name": "1", "coverage": ["1 MHz", "30 MHz"]},),
            **noise,
        }
    )
    return compile_floor(receiver)


@against("thermal-noise note; NCVEC Extra pool E4C06", "least discernible signal", unit="dB", tolerance=0.05)
def test_least_discernible_signal() -> Differences:
    """-174 + NF + 10*log10(B): outside noise at room temperature, as on a generator."""
    for noise_figure, bandwidth, published in (
        # Thermal-noise note: NF 4 dB in 200 kHz, floor -117 dBm.
        (4.0, 200_000, -117.0),
        # The same: NF 9 dB in 5 MHz, -98 dBm.
        (9.0, 5_000_000, -98.0),
        # NCVEC Extra pool (2016 to 2024), E4C06: -174 dBm/Hz in 400 Hz, -148 dBm.
        (0.0, 400, -148.0),
    ):
        # kT0 in 1 kHz
        floor = floor_of(noise=[["1 MHz", "-144 dBm"]], noise_figure_db=noise_figure)
        yield f"{bandwidth} Hz", floor.floor_dbm(7_000_000, bandwidth) - published


@against("NCVEC Extra pool E4C06 (2024-2028)", "noise in 20 times the width", unit="dB", tolerance=0.05)
def test_twenty_times_the_bandwidth_is_13_db_of_noise() -> Differences:
    """NCVEC Extra pool (2024 to 2028), E4C06: from 50 to 1000 Hz, 13 dB."""
    floor = floor_of()
    yield "50 to 1000 Hz", floor.floor_dbm(7e6, 1000) - floor.floor_dbm(7e6, 50) - 13
