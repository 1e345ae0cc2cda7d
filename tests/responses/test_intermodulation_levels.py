"""Products of two stations: how loud, against two tones put through a curve sample by sample."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from spurplan.receiver.families import single_tone_intercept_dbm
from spurplan.responses.asking import Settings
from spurplan.responses.pairs.heard import intermodulation
from spurplan.responses.pairs.intermodulation import PRODUCTS
from tests.outside import SAME_FORMULA, Differences, against
from tests.two_tones import Stations, at_levels, chains_of, landing, plain_set


def tones_through(
    iip2_dbm: float, iip3_dbm: float, levels: tuple[float, float]
) -> dict[tuple[int, int], float]:
    """Levels of the products of two tones behind y = x + a2 x^2 + a3 x^3, measured in time. [dBm]

    The curvature is found by experiment too: it is what makes two weak equal tones give the
    product that defines the intercept.
    """
    samples, bins = 1 << 12, (211, 257)
    t = 2 * np.pi * np.arange(samples) / samples

    def volts(dbm: float) -> float:
        return float(10 ** ((dbm - 10.0) / 20.0))  # peak, in 50 ohm

    def read(a2: float, a3: float, first_dbm: float, second_dbm: float) -> npt.NDArray[np.float64]:
        x = volts(first_dbm) * np.cos(bins[0] * t) + volts(second_dbm) * np.cos(bins[1] * t)
        return 2 * np.abs(np.fft.rfft(x + a2 * x**2 + a3 * x**3)) / samples

    where = {(1, 1): bins[0] + bins[1], (1, -1): bins[1] - bins[0], (2, -1): 2 * bins[0] - bins[1]}
    probe = -60.0
    one = read(1.0, 1.0, probe, probe)
    a2 = volts(2 * probe - iip2_dbm) / one[where[1, 1]]
    a3 = volts(3 * probe - 2 * iip3_dbm) / one[where[2, -1]]
    out = read(a2, a3, *levels)
    return {key: float(20 * np.log10(out[b]) + 10.0) for key, b in where.items()}


def products_off_db(levels: tuple[float, float]) -> list[float]:
    """How far f1 + f2, f1 - f2 and 2 f1 - f2 are from two tones through a curved characteristic. [dB]"""
    iip2, iip3 = 42.0, 12.0
    simulated = tones_through(iip2, iip3, levels)
    stations: Stations = [(5_000_000, 5_000_000), (7_000_000, 7_000_000)]
    occupants = at_levels(stations, *levels)
    made = {
        (1, 1): ("11.9 MHz", "12.1 MHz", 0, 1, 12_000_000),
        (1, -1): ("1.9 MHz", "2.1 MHz", 1, 0, 2_000_000),
        (2, -1): ("2.9 MHz", "3.1 MHz", 0, 1, 3_000_000),
    }
    off = []
    for key, (low, high, first, second, dial_hz) in made.items():
        chains = chains_of(plain_set(low, high, iip2=iip2, iip3=iip3))
        found = intermodulation(chains, occupants, Settings(everything=True))
        at = landing(chains, found)
        rows = [
            i
            for i in range(len(found))
            if (found.first[i], found.second[i], at[i]) == (first, second, "dial")
            and (PRODUCTS[found.product[i]].k1, PRODUCTS[found.product[i]].k2) == key
        ]
        assert len(rows) == 1, key
        (row,) = rows
        assert found.loudest_dial_hz[row] == dial_hz
        off.append(float(found.heard_dbm[row]) - simulated[key])
        assert (found.dial_low_hz[row], found.dial_high_hz[row]) == (dial_hz - 3_000, dial_hz + 3_000)
    return off


@against("two tones through a curve, sampled in time", "level of their products", unit="dB", tolerance=0.02)
def test_levels_are_those_of_two_tones_in_time() -> Differences:
    for levels in ((-30.0, -30.0), (-25.0, -38.0), (-41.0, -22.0)):
        yield f"{levels}", products_off_db(levels)


# two-tone level, IIP2, IIP3, product, its level
EXAMPLES = [
    # Maintenance manuals of a handheld spectrum analyser and of a network analyser: two tones of
    # -20 dBm with the larger product at -90 dBm make a third-order intercept of +15 dBm
    (-20.0, 99.0, 15.0, "2 f1 - f2", -90.0),
    # bench spectrum-analyser manual: -23.0 dBm, product 47.30 dB lower, intercept +0.65 dBm
    (-23.0, 99.0, 0.65, "2 f1 - f2", -23.0 - 47.30),
    # two-tone problem of a homework site: tones of -10 dBm give -60 dBm; at -5 dBm (by calculation) -45
    (-10.0, 99.0, 15.0, "2 f1 - f2", -60.0),
    (-5.0, 99.0, 15.0, "2 f1 - f2", -45.0),
    # by calculation, IM2 = 2 P - IIP2 (RF reference page): two tones of -30 dBm, IIP2 +50 dBm
    (-30.0, 50.0, 40.0, "f1 + f2", -110.0),
    (-30.0, 50.0, 40.0, "f1 - f2", -110.0),
]


@against(
    "analyser maintenance manuals; homework problem; RF reference page",
    "products of two stations as a set hears them",
    unit="dB",
    tolerance=1e-6,
    apart=SAME_FORMULA,
)
def test_intercept_examples() -> Differences:
    """Published intercepts and products, as a receiver without selectivity hears them."""
    for tone_dbm, iip2, iip3, text, product_dbm in EXAMPLES:
        lands = {"2 f1 - f2": 13_900_000, "f1 + f2": 28_100_000, "f1 - f2": 100_000}[text]
        chains = chains_of(plain_set(f"{lands - 20_000} Hz", f"{lands + 20_000} Hz", iip2=iip2, iip3=iip3))
        stations: Stations = [(14_000_000, 14_000_000), (14_100_000, 14_100_000)]
        found = intermodulation(chains, at_levels(stations, tone_dbm, tone_dbm), Settings(everything=True))
        rows = [i for i in range(len(found)) if PRODUCTS[found.product[i]].text == text]
        (row,) = (i for i in rows if landing(chains, found)[i] == "dial")
        yield f"{text}, {tone_dbm} dBm", float(found.heard_dbm[row]) - product_dbm


def test_slopes() -> None:
    """A decibel on both stations is n decibels on a product of order n."""
    chains = chains_of(plain_set("2.9 MHz", "12.1 MHz"))
    stations: Stations = [(5_000_000, 5_000_000), (7_000_000, 7_000_000)]
    weak, strong = (
        intermodulation(chains, at_levels(stations, p, p), Settings(everything=True)) for p in (-50.0, -49.0)
    )
    rise = strong.heard_dbm - weak.heard_dbm
    orders = [PRODUCTS[p].order for p in weak.product.tolist()]
    assert rise == pytest.approx(orders, abs=1e-9)
    assert {2, 3} == set(orders)


def test_front_end_holds_both_stations_back() -> None:
    """Each station is attenuated at the dial setting where the product lands, as often as it takes part."""
    made = plain_set("2.9 MHz", "3.1 MHz") | {"case_pickup": "300 dB"}
    bare = chains_of(made)
    made["range"][0] |= {"front_end": [{"circuits": 1, "q": 50}], "front_end_ceiling": "300 dB"}
    tuned = chains_of(made)
    stations: Stations = [(5_000_000, 5_000_000), (7_000_000, 7_000_000)]
    occupants = at_levels(stations, -20.0, -20.0)
    without, with_ = (intermodulation(c, occupants, Settings(everything=True)) for c in (bare, tuned))
    # A = 10 log10(1 + Q^2 (f/f0 - f0/f)^2), one tuned circuit
    lost = [10 * np.log10(1 + (50 * (f / 3.0 - 3.0 / f)) ** 2) for f in (5.0, 7.0)]
    assert (without.heard_dbm - with_.heard_dbm).tolist() == pytest.approx([2 * lost[0] + lost[1]], abs=1e-6)


def test_if_product_is_heard_by_the_mixers_answer_on_the_if() -> None:
    """f1 - f2 on the IF is there at every setting; a mixer that keeps the IF out keeps it down as far."""
    made = plain_set("10 MHz", "12 MHz", if_text="10.7 MHz")
    # the range holds the IF itself, which is another matter: tune below it
    made["range"][0]["coverage"] = ["5 MHz", "6 MHz"]
    stations: Stations = [(83_250_000, 83_250_000), (93_950_000, 93_950_000)]
    occupants = at_levels(stations, -20.0, -20.0)
    heard = []
    for isolation in ("0 dB", "12 dB"):
        made["conversion"][0]["mixer"]["isolation"] = isolation
        chains = chains_of(made)
        found = intermodulation(chains, occupants, Settings(everything=True))
        row = landing(chains, found).index("IF")
        assert (found.dial_low_hz[row], found.dial_high_hz[row]) == (5_000_000, 6_000_000)
        heard.append(found.heard_dbm[row])
    assert heard[0] == pytest.approx(2 * -20.0 - 50.0, abs=1e-6)


def double(mixer_2: dict[str, Any], roofing: str) -> dict[str, Any]:
    """A double conversion without a front end: 20 dB of gain between, the first mixer beyond reproach."""
    quiet = {"family": "valve_multiplicative", "h2": "150 dBm", "h3": "150 dBm", "isolation": "0 dB"}
    filter_ = {"bandwidth": roofing, "shape_factor": 1.5, "ultimate": "80 dB"}
    return {
        "name": "two mixers",
        "environment": "quiet_rural",
        "conversion": [
            {"injection": "high", "if": "1.6 MHz", "gain": "20 dB", "mixer": quiet, "filter": filter_},
            {"injection": "high", "if": "455 kHz", "mixer": mixer_2, "filter": {"bandwidth": "3 kHz"}},
        ],
        "range": [{"name": "1", "coverage": ["7 MHz", "7.2 MHz"], "front_end": [], "rf_gain": "0 dB"}],
    }


def third_order_on_dial(made: dict[str, Any], levels: tuple[float, float]) -> float:
    """Level of 2 f1 - f2 of carriers 20 and 40 kHz above the dial. [dBm]"""
    stations: Stations = [(7_120_000, 7_120_000), (7_140_000, 7_140_000)]
    chains = chains_of(made)
    found = intermodulation(chains, at_levels(stations, *levels), Settings(everything=True))
    at = landing(chains, found)
    (row,) = (i for i in range(len(found)) if at[i] == "dial" and found.loudest_dial_hz[i] == 7_100_000)
    return float(found.heard_dbm[row])


def test_second_mixer_makes_products_of_what_the_first_filter_lets_through() -> None:
    """Behind 20 dB of gain a second mixer of the same intercept is the weak one; a narrow filter saves it."""
    weak = {"family": "valve_multiplicative", "h3": f"{single_tone_intercept_dbm(3, 10.0)} dBm"}
    levels = (-40.0, -43.0)
    wide = third_order_on_dial(double(weak, "400 kHz"), levels)
    # at the second mixer both are 20 dB up: IM3 = 2 P1 + P2 - 2 IIP3 there, 20 dB less at the aerial
    assert wide == pytest.approx(2 * -20.0 + -23.0 - 2 * 10.0 - 20.0, abs=0.1)
    narrow = third_order_on_dial(double(weak, "10 kHz"), levels)
    # 20 and 40 kHz off a 10 kHz filter of shape factor 1.5 both tones are at its ultimate rejection
    assert wide - narrow == pytest.approx(3 * 80.0, abs=0.5)


def test_product_on_the_second_if_goes_straight_through_what_is_between() -> None:
    """A sum on the last IF passes the first filter by what that leaves, and the second mixer as it is."""
    made = double({"family": "valve_multiplicative", "isolation": "7 dB"}, "10 kHz")
    made["conversion"][0]["mixer"] |= {"h2": f"{single_tone_intercept_dbm(2, 30.0)} dBm", "isolation": "0 dB"}
    stations: Stations = [(200_000, 200_000), (255_000, 255_000)]
    chains = chains_of(made)
    found = intermodulation(chains, at_levels(stations, -20.0, -20.0), Settings(everything=True))
    row = landing(chains, found).index("IF2")
    assert PRODUCTS[found.product[row]].text == "f1 + f2"
    # 455 kHz is far off the 1.6 MHz filter: its ultimate 80 dB; the second mixer keeps 7 dB of it back
    assert found.heard_dbm[row] == pytest.approx(2 * -20.0 - 30.0 - 80.0 - 7.0, abs=1e-6)
    assert (found.dial_low_hz[row], found.dial_high_hz[row]) == (7_000_000, 7_200_000)


def test_dropping_knows_that_a_mixer_favours_its_if() -> None:
    """A product that only just is audible because the second mixer answers better to its IF is kept."""
    made = double({"family": "valve_multiplicative", "isolation": "-6 dB"}, "10 kHz")
    del made["conversion"][0]["filter"]
    made["conversion"][0]["mixer"]["h2"] = f"{single_tone_intercept_dbm(2, 30.0)} dBm"
    chains = chains_of(made)
    stations: Stations = [(200_000, 200_000), (255_000, 255_000)]
    whole = intermodulation(chains, at_levels(stations, -20.0, -20.0), Settings(everything=True))
    row = landing(chains, whole).index("IF2")
    # two decibels a decibel: 1 dB of margin is left
    level = -20.0 - (float(whole.margin_db[row]) - 1.0) / 2
    kept = intermodulation(chains, at_levels(stations, level, level), Settings())
    assert landing(chains, kept) == ["IF2"]
    assert kept.margin_db.tolist() == pytest.approx([1.0], abs=1e-6)


@pytest.mark.parametrize(("product", "harmonic"), [((1, 1), 2), ((1, -1), 2), ((2, -1), 3)])
def test_two_tones_make_more_than_one(product: tuple[int, int], harmonic: int) -> None:
    """In a mixer on the phases of oscillator and two signals: n!/(k1! k2!) times one signal's harmonic."""
    points = 32
    phase = np.cos(2 * np.pi * np.arange(points) / points)
    weak = 1e-3
    grid = np.exp(1.5 * (phase[:, None, None] + weak * phase[None, :, None] + weak * phase[None, None, :]))
    spectrum = np.abs(np.fft.fftn(grid)) / points**3
    (made,) = (one for one in PRODUCTS if (one.k1, one.k2) == product)
    ratio = spectrum[1, product[0], product[1]] / spectrum[1, harmonic, 0]
    assert made.order == harmonic
    assert 20 * np.log10(ratio) == pytest.approx(made.more_db, abs=0.01)
