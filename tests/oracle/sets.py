"""Receivers and stations at random, of every kind the file format knows.

Everything in hertz text, as a receiver file may say it. The numbers are small
on purpose (coverage of tens to hundreds of hertz, IFs of a few thousand):
edges then meet often, intermediate products come near zero and turn negative,
and every dial setting can be tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from tests.oracle import brute
from tests.oracle.exact import PlainChain, Route, frequencies

Generator = np.random.Generator
Occupants = list[tuple[int, int]]
# the oracle knows one line of an injection; what a multiplier leaves beside it is tried by itself
CLEAN = "300 dB"


def _hz(value: int) -> str:
    return f"{value} Hz"


def _between(rng: Generator, low: int, high: int) -> int:
    """A whole number from low to high, both included."""
    return int(rng.integers(low, max(low, high) + 1))


def _bandwidth(rng: Generator, if_hz: int) -> int:
    """Odd and even, narrow and wide, down to 1 Hz and never down to zero on the IF."""
    if if_hz > 50_000:
        return int(rng.choice([300, 501, 2_400, 6_000, 6_001, 30_000]))
    widest = int(rng.choice([3, 12, 60, 400])) if if_hz > 500 else 9
    return _between(rng, 1, min(widest, 2 * if_hz - 1))


def _filter(rng: Generator, if_hz: int) -> dict[str, Any]:
    return {"bandwidth": _hz(_bandwidth(rng, if_hz))}


def _to_fixed_if(rng: Generator, x_low: int, x_high: int, last: bool) -> tuple[dict[str, Any], int]:
    """A conversion of signals x_low to x_high to a fixed IF; (the conversion, the IF)."""
    injection = str(rng.choice(["high", "low", "sum"], p=[0.5, 0.3, 0.2]))
    if injection == "low" and x_low < 30:
        injection = "high"
    if injection == "high":
        if_hz = _between(rng, 20, int(1.5 * x_high) + 20)
    elif injection == "low":
        if_hz = _between(rng, 10, x_low - 1)
    else:
        if_hz = _between(rng, x_high + 1, 3 * x_high)
    conversion: dict[str, Any] = {"injection": injection, "if": _hz(if_hz)}
    if rng.random() < 0.35:
        conversion["oscillator_harmonic"] = _between(rng, 2, 3)
    if last or rng.random() < 0.5:
        conversion["filter"] = _filter(rng, if_hz)
    return conversion, if_hz


def _crystal_between(rng: Generator, if1_hz: int) -> tuple[dict[str, Any], int]:
    """A crystal that takes one fixed IF to the next, the IF said as well."""
    multiplier = _between(rng, 1, 3)
    crystal_hz = _between(rng, max(5, if1_hz // (3 * multiplier)), 2 * if1_hz // multiplier + 5)
    injected_hz = crystal_hz * multiplier
    if injected_hz == if1_hz:
        injected_hz, multiplier, crystal_hz = if1_hz + 7, 1, if1_hz + 7
    conversion: dict[str, Any] = {"crystal": _hz(crystal_hz)}
    if multiplier > 1:
        conversion |= {"multiplier": multiplier, "multiplier_impurity": CLEAN}
    if rng.random() < 0.25:
        conversion["injection"] = "sum"
        if_hz = if1_hz + injected_hz
    else:
        if_hz = abs(if1_hz - injected_hz)
    conversion["if"] = _hz(if_hz)
    conversion["filter"] = _filter(rng, if_hz)
    return conversion, if_hz


def _crystal_front(rng: Generator, low_hz: int, high_hz: int) -> tuple[dict[str, Any], int, int]:
    """A crystal converter in front; (the conversion, the ends of its tunable IF)."""
    side = str(rng.choice(["below", "above", "sum"]))
    multiplier = _between(rng, 1, 3)
    if side == "below":
        crystal_hz = _between(rng, 3, (low_hz - 10) // multiplier)
    else:
        top = high_hz if side == "above" else 3
        crystal_hz = _between(rng, top // multiplier + 10, 3 * high_hz // multiplier + 10)
    conversion: dict[str, Any] = {"crystal": _hz(crystal_hz)}
    if multiplier > 1:
        conversion |= {"multiplier": multiplier, "multiplier_impurity": CLEAN}
    injected_hz = crystal_hz * multiplier
    if side == "below":
        return conversion, low_hz - injected_hz, high_hz - injected_hz
    if side == "above":
        return conversion, injected_hz - high_hz, injected_hz - low_hz
    conversion["injection"] = "sum"
    return conversion, injected_hz + low_hz, injected_hz + high_hz


def conversion_list(rng: Generator, kind: str, low_hz: int, high_hz: int) -> list[dict[str, Any]]:
    """Return the conversions of a range: "single", "double", "triple", "converter"..."""
    out: list[dict[str, Any]] = []
    x_low, x_high = low_hz, high_hz
    if kind.startswith("converter"):
        front, x_low, x_high = _crystal_front(rng, low_hz, high_hz)
        out.append(front)
    number = {"": 1, "single": 1, "double": 2, "triple": 3}[kind.removeprefix("converter").strip()]
    for index in range(number):
        last = index == number - 1
        if index and rng.random() < 0.4:
            conversion, if_hz = _crystal_between(rng, x_low)
        else:
            conversion, if_hz = _to_fixed_if(rng, x_low, x_high, last)
        out.append(conversion)
        x_low = x_high = if_hz
    return out


KINDS = ("single", "double", "triple", "converter", "converter double", "converter triple")


def receiver(rng: Generator, kind: str | None = None, dials: int = 120, scale: int = 6_000) -> dict[str, Any]:
    """Return a receiver file's contents: one to three ranges, some with conversions of their own.

    Parameters
    ----------
    kind : one of `KINDS`; None draws one.
    dials : int. Widest coverage of a range. [Hz]
    scale : int. Highest frequency of a range's low edge. [Hz]
    """
    kind = str(rng.choice(KINDS)) if kind is None else kind
    ranges: list[dict[str, Any]] = []
    low_hz = _between(rng, 60, scale)
    high_hz = low_hz + _between(rng, 1, dials)
    ranges.append({"name": "1", "coverage": [_hz(low_hz), _hz(high_hz)]})
    made: dict[str, Any] = {
        "name": "a set at random",
        "conversion": conversion_list(rng, kind, low_hz, high_hz),
        "range": ranges,
    }
    for number in range(2, 2 + _between(rng, 0, 1)):
        low_hz = _between(rng, 60, scale)
        high_hz = low_hz + _between(rng, 1, dials)
        own = str(rng.choice(KINDS[:2] if "triple" in kind else [kind, "single"]))
        ranges.append(
            {
                "name": str(number),
                "coverage": [_hz(low_hz), _hz(high_hz)],
                "conversion": conversion_list(rng, own, low_hz, high_hz),
            }
        )
    return made


def planted(rng: Generator, chain: PlainChain, all_routes: Sequence[Route], number: int) -> Occupants:
    """Return stations on the edges that matter: on a passband edge, a hertz inside and beyond.

    Places are worked out exactly: a dial setting (often an end of the range), a
    route that can receive something there, and the span of r it receives.
    """
    out: Occupants = []
    dials = np.array(
        [chain.low_hz, chain.high_hz, _between(rng, chain.low_hz, chain.high_hz)], dtype=np.int64
    )
    first, last, fine = brute.spans(chain, dials, all_routes)
    open_at = np.argwhere((last >= first) & (last >= fine))
    if not len(open_at):
        return out
    for index in rng.integers(0, len(open_at), number):
        row, column = open_at[index]
        span = frequencies(chain, int(dials[row]), all_routes[column], 1, 10**12)
        for edge, outward in ((span.low, -1), (span.high, 1)):
            inside = (
                -((-edge.numerator) // edge.denominator)
                if outward < 0
                else edge.numerator // edge.denominator
            )
            for place in (inside - outward, inside, inside + outward):
                wide = _between(rng, 1, 30)
                out.append((place, place))
                out.append((place, place + wide) if outward > 0 else (place - wide, place))
    return [(low, high) for low, high in out if low >= 1]


def occupants(
    rng: Generator, every_chain: Sequence[PlainChain], routes_of: dict[int, list[Route]], number: int = 14
) -> Occupants:
    """Return spots and rows, most of them planted, some anywhere, a few very wide; no two alike."""
    out: Occupants = []
    top = 4 * max(chain.high_hz for chain in every_chain)
    for chain in every_chain:
        out += planted(rng, chain, routes_of[len(chain.oscillators)], 2)
    rng.shuffle(out)
    out = [(int(low), int(high)) for low, high in out[: number - 4]]
    spot = _between(rng, 1, top)
    out.append((spot, spot))
    for width in (40, 2_000, top):
        low = _between(rng, 1, top)
        out.append((low, low + _between(rng, 1, width)))
    return sorted(set(out))


_FAMILIES = (
    "single_balanced_lo",
    "single_balanced_rf",
    "valve_multiplicative",
    "valve_additive",
    "bipolar",
    "jfet",
    "dual_gate_mosfet",
    "diode_ring",
    "commutating",
)


def _db(rng: Generator, low: float, high: float) -> str:
    return f"{rng.uniform(low, high):.1f} dB"


def _element(rng: Generator, low_hz: int, high_hz: int) -> dict[str, Any]:
    """An element of a front end or of the selectivity of a tunable IF, for signals low to high."""
    kind = str(rng.choice(["circuits", "coupled_pair", "passband", "trap"], p=[0.5, 0.2, 0.15, 0.15]))
    q: Any = int(rng.integers(10, 200))
    if rng.random() < 0.3:
        q = [[_hz(low_hz), int(rng.integers(20, 150))], [_hz(high_hz), int(rng.integers(20, 150))]]
    if kind == "circuits":
        element: dict[str, Any] = {"circuits": _between(rng, 1, 3)}
        return element if rng.random() < 0.2 else {**element, "q": q}
    if kind == "coupled_pair":
        pair = {"coupled_pair": round(float(rng.uniform(0.5, 2.5)), 2), "q": q}
        by = str(rng.choice(["capacitive", "inductive", "unknown"]))
        return pair if by == "unknown" else {**pair, "coupling": by}
    if kind == "passband":
        low = _between(rng, low_hz // 2 + 1, low_hz)
        return {
            "passband": [_hz(low), _hz(_between(rng, high_hz, 2 * high_hz))],
            "order": _between(rng, 1, 5),
        }
    trap = _between(rng, low_hz // 2 + 1, 2 * high_hz)
    return {"trap": _hz(trap), "depth": _db(rng, 10, 50), "q": int(rng.integers(10, 300))}


def _box(rng: Generator, low_hz: int, high_hz: int) -> dict[str, Any]:
    """A box in the aerial lead."""
    box: dict[str, Any] = {"gain": _db(rng, -20, 20), "ceiling": _db(rng, 30, 80), "pickup": _db(rng, 30, 80)}
    if rng.random() < 0.8:
        box["elements"] = [_element(rng, low_hz, high_hz) for _ in range(_between(rng, 1, 2))]
    return box


def dressed(rng: Generator, made: dict[str, Any]) -> dict[str, Any]:
    """Give a receiver everything that makes levels: boxes, front ends, mixers, gains, filters, noise."""
    if rng.random() < 0.5:
        ends = [int(text.split()[0]) for text in made["range"][0]["coverage"]]
        made["ahead"] = [_box(rng, ends[0], ends[1]) for _ in range(_between(rng, 1, 2))]
    made["case_pickup"] = _db(rng, 60, 120)
    made["environment"] = str(rng.choice(["city", "residential", "rural", "quiet_rural"]))
    made["noise_figure"] = _db(rng, 3, 25)
    made["antenna_gain"] = _db(rng, -20, 5)
    owners = [made, *made["range"]]
    for position in made["range"]:
        low_hz, high_hz = (int(text.split()[0]) for text in position["coverage"])
        if rng.random() < 0.85:
            count = _between(rng, 1, 2)
            position["front_end"] = [_element(rng, low_hz, high_hz) for _ in range(count)]
        position["front_end_ceiling"] = _db(rng, 40, 90)
        position["rf_gain"] = _db(rng, -5, 30)
    for owner in owners:
        for conversion in owner.get("conversion", []):
            conversion["mixer"] = {"family": str(rng.choice(_FAMILIES))}
            conversion["gain"] = _db(rng, -10, 20)
            if "filter" in conversion:
                conversion["filter"]["shape_factor"] = round(float(rng.uniform(1.2, 6.0)), 2)
                conversion["filter"]["ultimate"] = _db(rng, 50, 90)
            if "crystal" in conversion and "if" not in conversion:
                conversion["pickup"] = _db(rng, 30, 70)
    for position in made["range"]:
        front = (position.get("conversion") or made["conversion"])[0]
        if "pickup" in front and rng.random() < 0.7:
            ends = [int(text.split()[0]) for text in position["coverage"]]
            crystal_hz = int(front["crystal"].split()[0]) * front.get("multiplier", 1)
            sign = 1 if "injection" in front else -1
            low_hz, high_hz = sorted(abs(end + sign * crystal_hz) for end in ends)
            front["selectivity"] = [_element(rng, low_hz, high_hz)]
            front["selectivity_ceiling"] = _db(rng, 30, 80)
    return made
