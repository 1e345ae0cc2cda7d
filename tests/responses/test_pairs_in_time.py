"""Products of stations on every route, against a set that exists only as samples in time.

The mixers are y = (1 + 2 cos LO t) (x + a2 x^2 + a3 x^3) sampled over whole
periods of all that goes in;
the filter between the mixers takes out what lies far from it. Nothing here knows of routes.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.receiver.families import single_tone_intercept_dbm
from spurplan.responses.asking import Settings
from spurplan.responses.pairs.heard import intermodulation
from spurplan.responses.pairs.triples import three_at_once
from spurplan.responses.pairs.words import lands_on
from tests.outside import Differences, against
from tests.two_tones import at_levels, chains_of

IIP2, IIP3 = 34.0, 24.0
BIN_HZ = 1_000
SAMPLES = 1 << 18
BANDWIDTH_HZ = 6_000
FIRST_IF, LAST_IF = 9_100_000, 455_000
# what passes the filter between the mixers; beyond it nothing does
ROOFING_HZ = 2_400_000
LEAST_DBM = -118.0
Floats = npt.NDArray[np.float64]


def volts(dbm: float) -> float:
    """Peak voltage of a level in 50 ohm."""
    return float(10 ** ((dbm - 10.0) / 20.0))


def curved(x: Floats) -> Floats:
    """Two weak tones V make f1 + f2 of a2 V^2, 2 f1 - f2 of 3/4 a3 V^3."""
    a2 = 10 ** ((10.0 - IIP2) / 20.0)
    a3 = 4.0 / 3.0 * 10 ** ((20.0 - 2 * IIP3) / 20.0)
    return x + a2 * x**2 + a3 * x**3


def tone(hz: int) -> Floats:
    return np.cos(2 * np.pi * (hz // BIN_HZ) * np.arange(SAMPLES) / SAMPLES)


def mixed(x: Floats, oscillator_hz: int) -> Floats:
    return curved(x) * (1.0 + 2.0 * tone(oscillator_hz))


def received(stations: dict[int, float], dial_hz: int, *, double: bool) -> dict[int, float]:
    """What stands in the passband: hertz from its middle, and level. [dBm]"""
    x = np.sum([volts(dbm) * tone(hz) for hz, dbm in stations.items()], axis=0)
    if double:
        spectrum = np.fft.rfft(mixed(x, dial_hz + FIRST_IF))
        far = np.abs(np.arange(len(spectrum)) * BIN_HZ - FIRST_IF) > ROOFING_HZ / 2
        spectrum[far] = 0.0
        x = mixed(np.fft.irfft(spectrum), FIRST_IF + LAST_IF)
    else:
        x = mixed(x, dial_hz + LAST_IF)
    spectrum = 2.0 * np.abs(np.fft.rfft(x)) / SAMPLES
    around = range(-BANDWIDTH_HZ // 3, BANDWIDTH_HZ // 3 + 1, BIN_HZ)
    level = {off: 20 * np.log10(spectrum[(LAST_IF + off) // BIN_HZ] + 1e-30) + 10.0 for off in around}
    return {off: float(dbm) for off, dbm in level.items() if dbm > LEAST_DBM}


def made_set(low_hz: int, high_hz: int, double: bool) -> dict[str, Any]:
    """One or two conversions without a circuit ahead, mixers of stated intercepts, the oscillators above."""
    mixer = {
        "family": "valve_multiplicative", "isolation": "0 dB", "e1": 40.0,
        "h2": f"{single_tone_intercept_dbm(2, IIP2)} dBm", "h3": f"{single_tone_intercept_dbm(3, IIP3)} dBm",
        "floor": "200 dB",
    }  # fmt: skip
    narrow = {"bandwidth": f"{BANDWIDTH_HZ} Hz", "shape_factor": 1.2, "ultimate": "200 dB"}
    wide = {"bandwidth": f"{ROOFING_HZ} Hz", "shape_factor": 1.01, "ultimate": "200 dB"}
    first, last = (
        {"injection": "high", "if": f"{hz} Hz", "mixer": mixer, "filter": behind}
        for hz, behind in ((FIRST_IF, wide), (LAST_IF, narrow))
    )
    return {
        "name": "samples", "environment": "quiet_rural", "case_pickup": "300 dB",
        "conversion": [first, last] if double else [last],
        "range": [{"name": "1", "coverage": [f"{low_hz} Hz", f"{high_hz} Hz"], "front_end": [],
                   "rf_gain": "0 dB"}],
    }  # fmt: skip


# stations [Hz: dBm], the dial [Hz], whether there are two conversions, what the loudest lands on
CASES: dict[str, tuple[dict[int, float], int, bool, str]] = {
    "f1 + f2 on the image": ({3_347_000: -20.0, 4_664_000: -23.0}, 7_100_000, False, "image"),
    "a difference made in the second mixer": ({6_953_000: -20.0, 7_408_000: -24.0}, 7_100_000, True, "IF2"),
    "f1 + f2 on the second image": ({2_509_000: -18.0, 3_681_000: -21.0}, 7_100_000, True, "second image"),
    "f1 - f2 on the dial": ({12_019_000: -18.0, 4_918_000: -21.0}, 7_100_000, True, "dial"),
    "2 f1 - f2 on the dial": ({7_137_000: -14.0, 7_173_000: -15.0}, 7_100_000, False, "dial"),
}


def listed(stations: dict[int, float], dial_hz: int, *, double: bool) -> tuple[dict[int, float], str]:
    """The same as it is listed: hertz from the middle and level, and what the loudest lands on."""
    chains = chains_of(made_set(dial_hz, dial_hz + 1, double))
    carriers = sorted(stations)
    occupants = at_levels([(hz, hz) for hz in carriers], *(stations[hz] for hz in carriers))
    found = intermodulation(
        chains.tuned_to(chains.low_hz, chains.low_hz), occupants, Settings(everything=True)
    )
    routes = found.routes.take(found.route)
    sums = routes.c_1 * found.f1_hz + routes.c_2 * found.f2_hz
    off = (routes.d * sums - routes.p * dial_hz - routes.q) // routes.r
    level: dict[int, float] = {}
    for at, dbm in zip(off.tolist(), found.heard_dbm.tolist(), strict=True):
        level[at] = max(level.get(at, -np.inf), dbm)
    name = "nothing"
    if len(found):
        loudest = int(np.argmax(found.heard_dbm))
        name = lands_on(chains, 0, found.routes, int(found.route[loudest]))
    return {at: dbm for at, dbm in level.items() if dbm > LEAST_DBM and abs(at) <= BANDWIDTH_HZ // 3}, name


@against("stations through sampled mixers", "products of two on every route", unit="dB", tolerance=2.0)
def test_what_stations_make_together_is_listed_and_nothing_else() -> Differences:
    """All that stands in the passband is listed, at its level, and nothing that does not."""
    for name, (stations, dial_hz, double, lands) in CASES.items():
        there = received(stations, dial_hz, double=double)
        said, at = listed(stations, dial_hz, double=double)
        assert there, name
        assert at == lands, name
        assert set(said) == set(there), name
        yield name, [said[off] - there[off] for off in there]


@against("stations through sampled mixers", "f1 + f2 - f3 of three stations", unit="dB", tolerance=2.0)
def test_what_three_stations_make_together_is_listed_and_nothing_else() -> Differences:
    """What three make in the passband is listed, on the dial and on the image, and nothing besides."""
    image = 7_100_000 + 2 * LAST_IF
    for name, stations in {
        "on the dial": {7_137_000: -20.0, 7_209_000: -22.0, 7_246_000 - 1_000: -24.0},
        "on the image": {image + 61_000: -20.0, image - 303_000: -21.0, image - 243_000: -23.0},
    }.items():
        there = received(stations, 7_100_000, double=False)
        said, _ = listed(stations, 7_100_000, double=False)
        chains = chains_of(made_set(7_100_000, 7_100_001, False))
        carriers = sorted(stations)
        occupants = at_levels([(hz, hz) for hz in carriers], *(stations[hz] for hz in carriers))
        here = chains.tuned_to(chains.low_hz, chains.low_hz)
        found = three_at_once(here, occupants, Settings(audible_at=-20.0))
        route = found.routes.take(found.route)
        f1, f2, f3 = (occupants.low_hz[who] for who in (found.first, found.second, found.third))
        sums = np.sign(route.c_1) * (f1 + f2 - f3)
        off = (route.d * sums - route.p * 7_100_000 - route.q) // route.r
        for at, dbm in zip(off.tolist(), found.heard_dbm.tolist(), strict=True):
            if abs(at) <= BANDWIDTH_HZ // 3 and dbm > LEAST_DBM:
                said[at] = max(said.get(at, -np.inf), dbm)
        assert len(found), name
        assert set(said) == set(there), name
        yield name, [said[off] - there[off] for off in there]
