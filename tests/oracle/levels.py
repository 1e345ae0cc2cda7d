"""How loud a station is by a route: one number after another, in plain floats.

Written from the equations and the table of mixer families alone, one station
at one dial setting at a time, to hold the package's arrays against. Takes a
receiver file's contents as the dictionary that stands in it.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Any

from tests.oracle import plain
from tests.oracle.exact import PlainChain, Route, walk

# family: e1, c, B_lo, B_rf, x_lo, iso, floor (dB); intercepts by n (dBm) or V0 (volts);
# x_lo_2: what even m costs a product of n = 2 (28 against 44 dB in the published table of that mixer)
_INF = math.inf
_FAMILIES: dict[str, dict[str, Any]] = {
    "valve_multiplicative": {"e1": 1.0, "c": _INF, "iso": -3.0, "v0": 3.0, "floor": 110.0, "valve": True},
    "valve_additive": {"e1": 1.2, "c": _INF, "iso": -3.0, "v0": 1.0, "floor": 110.0, "valve": True},
    "bipolar": {"e1": 0.7, "c": _INF, "iso": -1.0, "v0": 0.026, "floor": 100.0},
    "jfet": {"e1": 2.2, "c": 2.0, "iso": -4.0, "h": {2: 31.0, 3: 33.0}, "floor": 110.0},
    "dual_gate_mosfet": {"e1": 1.3, "c": _INF, "iso": -3.0, "v0": 0.8, "floor": 110.0},
    "single_balanced_lo": {
        "e1": 1.5,
        "c": 1.0,
        "b_lo": 20.0,
        "x_lo": 10.0,
        "x_lo_2": 16.0,
        "iso": 3.0,
        "h": {2: 7 + 18.0, 3: 7 + 14.5, 5: 7 + 3.5},
        "floor": 90.0,
    },
    "single_balanced_rf": {
        "e1": 1.5,
        "c": 1.0,
        "b_rf": 12.0,
        "iso": 20.0,
        "h": {2: 7 + 18.0, 3: 7 + 14.5, 5: 7 + 3.5},
        "floor": 90.0,
    },
    "diode_ring": {
        "e1": 1.5,
        "c": 1.0,
        "b_lo": 26.0,
        "b_rf": 30.0,
        "x_lo": 10.0,
        "iso": 25.0,
        "h": {2: 7 + 18.0, 3: 7 + 14.5, 5: 7 + 3.5},
        "floor": 90.0,
    },
    "commutating": {
        "e1": 1.0,
        "c": 1.0,
        "b_lo": 30.0,
        "b_rf": 30.0,
        "x_lo": 15.0,
        "iso": 30.0,
        "h": {2: 13 + 20.0, 3: 13 + 18.0, 5: 13 + 8.0},
        "floor": 110.0,
    },
}
_MAN_MADE = {  # P.372: c, d, highest frequency in MHz
    "city": (76.8, 27.7, 250.0),
    "residential": (72.5, 27.7, 250.0),
    "rural": (67.2, 27.7, 250.0),
    "quiet_rural": (53.6, 28.6, 30.0),
}


def decibels(text: str) -> float:
    """Return "20 dB" as a number."""
    return float(text.split()[0])


# --- mixers ----------------------------------------------------------------------------------


def _harmonic_db(family: dict[str, Any], m: int) -> float:
    """Conversion loss on harmonic m against the fundamental, L(m)."""
    if family.get("valve") and m > 3:
        return 20 * family["e1"] * math.log10(3) + 40 * math.log10(m / 3)
    return float(20 * family["e1"] * math.log10(m))


def _intercept_dbm(family: dict[str, Any], n: int) -> float:
    if "v0" in family and n <= 5:
        peak = 2 * family["v0"] * math.factorial(n) ** (1 / (n - 1))
        return 20 * math.log10(peak) + 10
    if n > 5:
        return _intercept_dbm(family, 5) - 2 * (n - 5)
    if n == 4:
        return float(family["h"][3]) - 2
    return float(family["h"][n])


def absolute_suppression_db(name: str, m: int, n: int, level_dbm: float) -> float:
    """Return S before the wanted product's own is taken off."""
    family = _FAMILIES[name]
    if n == 1:
        if m == 0:
            return float(family["iso"])
        loss = _harmonic_db(family, m) + (family.get("b_lo", 0.0) if m % 2 == 0 else 0.0)
        return float(min(family["floor"], max(0.0, loss)))
    out = (n - 1) * (_intercept_dbm(family, n) - level_dbm)
    if m == 0:
        # separable: S(m, n) = L(m) + S_n, and L(0) is what an unbalanced mixer gains on its IF
        out += min(family["iso"], 0.0)
    else:
        if math.isinf(family["c"]):
            out += _harmonic_db(family, m)
        else:
            out += 20 * max(-1.0, family["c"] - (n - 1)) * math.log10(m)
    if n % 2 == 0:
        out += family.get("b_rf", 0.0)
    if m % 2 == 0:
        out += family.get("x_lo_2" if n == 2 else "x_lo", 0.0) if n == 2 or n % 2 else 0.0
    if m == 0 and n % 2 and "x_lo" in family:
        # straight through, a ring holds back odd orders at least as well as the signal itself
        out += max(family["iso"] - family["x_lo"], 0.0)
    return float(max(0.0, out))


# --- selectivity -----------------------------------------------------------------------------


def _q(value: Any, wanted_hz: float) -> float:
    if value is None:
        return float(min(120.0, 80.0 * (3.5e6 / wanted_hz) ** 0.33))
    if isinstance(value, int | float):
        return float(value)
    points = [(plain.hertz(text), q) for text, q in value]
    if wanted_hz <= points[0][0]:
        return float(points[0][1])
    for (f1, q1), (f2, q2) in itertools.pairwise(points):
        if wanted_hz <= f2:
            part = math.log(wanted_hz / f1) / math.log(f2 / f1)
            return float(math.exp(math.log(q1) + part * math.log(q2 / q1)))
    return float(points[-1][1])


def _element_db(element: dict[str, Any], x: float, wanted: float) -> float:
    """Attenuation at x against the wanted frequency."""
    if "circuits" in element:
        v = x / wanted - wanted / x
        return float(element["circuits"] * 10 * math.log10(1 + (_q(element.get("q"), wanted) * v) ** 2))
    if "coupled_pair" in element:
        q, kappa = _q(element.get("q"), wanted), element["coupled_pair"]
        # two parallel circuits of one siemens, a susceptance across from one to the other
        sides = {"capacitive": [1.0], "inductive": [-1.0]}.get(element.get("coupling", ""), [1.0, -1.0])
        losses = []
        for side in sides:
            own, across = complex(1.0, q * (x / wanted - wanted / x)), kappa * (x / wanted) ** side
            losses.append(20 * math.log10(abs((own**2 + across**2) / across) * kappa / (1 + kappa**2)))
        return sum(losses) / len(losses)
    if "passband" in element:
        low, high = (plain.hertz(text) for text in element["passband"])

        def butterworth(f: float) -> float:
            centre = math.sqrt(low * high)
            u = centre / (high - low) * (f / centre - centre / f)
            return 10 * math.log10(1 + u ** (2 * element["order"]))

        return butterworth(x) - butterworth(wanted)
    assert "trap" in element
    trap = plain.hertz(element["trap"])

    def notch(f: float) -> float:
        u2 = (element["q"] * (f / trap - trap / f)) ** 2
        return 10 * math.log10((1 + u2) / (10 ** (-decibels(element["depth"]) / 10) + u2))

    return notch(x) - notch(wanted)


def _passed(loss_db: float) -> float:
    return float(10 ** (-loss_db / 10))


def _list_passed(elements: list[dict[str, Any]], stray: float, x: float, wanted: float) -> float:
    """Power at x against that at the wanted frequency, with a stray part of the wanted power added.

    Where the middle of a passband would be below 0 Hz only what is hardly above it comes that way.
    """
    x = max(x, 1e-6)
    through = _passed(sum(_element_db(element, x, wanted) for element in elements))
    return (through + stray) / (1 + stray)


def _list_db(elements: list[dict[str, Any]], ceiling_db: float, x: float, wanted: float) -> float:
    return -10 * math.log10(_list_passed(elements, _passed(ceiling_db), x, wanted))


def _box_gain_db(box: dict[str, Any], wanted: float) -> float:
    """What a box gives the wanted signal: its gain less what its fixed elements take there."""
    gain = decibels(box.get("gain", "0 dB"))
    for element in box.get("elements", []):
        if "trap" in element or "passband" in element:
            # against a frequency where they take nothing
            far = (
                1e15
                if "trap" in element
                else math.sqrt(plain.hertz(element["passband"][0]) * plain.hertz(element["passband"][1]))
            )
            gain -= _element_db(element, wanted, far)
    return gain


def _ahead_db(receiver: dict[str, Any], position: dict[str, Any], x: float, wanted: float) -> float:
    """Loss from the aerial to the first mixer: boxes in the lead, the set's circuits, what gets past all."""
    front_end = position.get("front_end", [{"circuits": 1}])
    own = _passed(decibels(position.get("front_end_ceiling", "70 dB"))) if front_end else 0.0
    passed, gain = _list_passed(front_end, own, x, wanted), 0.0
    for box in receiver.get("ahead", []):
        given = _box_gain_db(box, wanted)
        stray = _passed(decibels(box.get("ceiling", "70 dB")))
        stray += _passed(decibels(box.get("pickup", "60 dB")) + given)
        passed *= _list_passed(box.get("elements", []), stray, x, wanted)
        gain += given
    past = _passed(decibels(receiver.get("case_pickup", "100 dB")) + gain)
    return -10 * math.log10((passed + past) / (1 + past))


def _filter_db(given: dict[str, Any], offset_hz: float) -> float:
    order = 2.763 / math.log10(given.get("shape_factor", 2.5))
    ultimate = decibels(given.get("ultimate", "70 dB"))
    ratio = 2 * abs(offset_hz) / plain.hertz(given["bandwidth"])
    if ratio > 1 and 2 * order * math.log10(ratio) > 30:
        return ultimate  # 300 dB and more, and a power beyond what a float holds
    return min(ultimate, 10 * math.log10(1 + 2.981 * ratio ** (2 * order)))


# --- the bar of hearing ----------------------------------------------------------------------

# What an AM listener hears, over the noise outside in 1 Hz: a tone of 1 kHz from 19 dB-Hz and 3 dB
# for the noise of two sidebands; speech, 2.7 kHz wide, from the noise of its own band
CARRIER_DBHZ, VOICE_DBHZ = 22.0, 10 * math.log10(2_700)


def bar_dbm(receiver: dict[str, Any], dial_hz: float, carrier: bool) -> float:
    """Return from where on an intruder is heard, at the terminals. [dBm]"""
    mhz = dial_hz / 1e6
    c, d, top = _MAN_MADE[receiver.get("environment", "rural")]
    external = 10 ** ((c - d * math.log10(min(max(mhz, 0.3), top))) / 10)
    if mhz >= 10:
        external += 10 ** ((52.0 - 23.0 * math.log10(mhz)) / 10)
    external *= 10 ** (decibels(receiver.get("antenna_gain", "0 dB")) / 10)
    return -174 + 10 * math.log10(external) + (CARRIER_DBHZ if carrier else VOICE_DBHZ)


# --- the station -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Heard:
    """What comes of a station on a route: at the terminals it would be as loud as `heard_dbm`."""

    rf_hz: float
    heard_dbm: float
    rejection_db: float
    margin_db: float


def nearest_hz(chain: PlainChain, dial_hz: int, route: Route, low_hz: int, high_hz: int) -> float:
    """Return the station's frequency nearest the middle of the passband."""
    zero, one = (walk(chain, dial_hz, route, r)[-1] for r in (0, 1))
    return float(min(max((chain.if_hz - zero) / (one - zero), low_hz), high_hz))


def heard(
    receiver: dict[str, Any],
    number: int,
    dial_hz: int,
    route: Route,
    station: tuple[int, int],
    antenna_dbm: float,
    carrier: bool = False,
) -> Heard:
    """Return the level of a station [low, high] on a route in range `number` of a set.

    Notes
    -----
    Ahead of each mixer P falls by the selectivity there and rises by the gain, through
    it P falls by S; behind the last mixer the last filter; then all gains come off again.
    """
    chain = plain.chains(receiver)[number]
    position = receiver["range"][number]
    conversions = plain.conversions(receiver, position)
    rf_hz = nearest_hz(chain, dial_hz, route, *station)
    x = rf_hz
    wanted = [float(dial_hz), *(float(w) for w in walk(chain, dial_hz, chain.wanted, dial_hz))]
    loss = _ahead_db(receiver, position, x, wanted[0])
    gain = decibels(position.get("rf_gain", "20 dB"))
    gain += sum(_box_gain_db(box, wanted[0]) for box in receiver.get("ahead", []))
    level, gains = antenna_dbm, 0.0
    for index, (conversion, (lo, rf)) in enumerate(zip(conversions, route, strict=True)):
        mixer = conversion.get("mixer", {}).get("family", "valve_multiplicative")
        level += gain
        gains += gain
        at_mixer = level - loss
        suppression = absolute_suppression_db(mixer, abs(lo), abs(rf), at_mixer)
        suppression -= absolute_suppression_db(mixer, abs(chain.wanted[index][0]), 1, at_mixer)
        if (lo, rf) == (0, 1) and "pickup" in conversion:
            level += 10 * math.log10(_passed(loss + suppression) + _passed(decibels(conversion["pickup"])))
        else:
            level = at_mixer - suppression
        x = lo * float(chain.oscillators[index].hz(dial_hz)) + rf * x
        gain = decibels(conversion.get("gain", "0 dB"))
        if "filter" in conversion:
            loss = _filter_db(conversion["filter"], x - wanted[index + 1])
        elif "selectivity" in conversion:
            ceiling = decibels(conversion.get("selectivity_ceiling", "70 dB"))
            loss = _list_db(conversion["selectivity"], ceiling, x, wanted[index + 1])
        else:
            loss = 0.0
    level += gain - loss
    gains += gain
    heard_dbm = level - gains
    return Heard(rf_hz, heard_dbm, antenna_dbm - heard_dbm, heard_dbm - bar_dbm(receiver, dial_hz, carrier))
