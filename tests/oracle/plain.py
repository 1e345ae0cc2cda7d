"""A receiver file's contents turned into plain chains, by the words of the file format.

Takes the dictionary that stands in the TOML file (frequencies as text in
hertz, kHz or MHz) and works out each range's oscillators on its own, so that
the package's reading of a file is under test as well as its search.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from tests.oracle.exact import Oscillator, PlainChain, Step

# What a premixer makes: signs of the crystal and of the variable oscillator.
MADE = {"crystal + variable": (1, 1), "crystal - variable": (1, -1), "variable - crystal": (-1, 1)}
_UNITS = {"Hz": 1, "kHz": 1_000, "MHz": 1_000_000}


def hertz(text: str) -> int:
    """Return "465 kHz" in hertz."""
    digits, unit = text.split()
    exact = Fraction(digits) * _UNITS[unit]
    assert exact.denominator == 1, text
    return int(exact)


def _crystal_hz(owner: dict[str, Any]) -> int:
    return hertz(owner["crystal"]) * owner.get("multiplier", 1)


def premixer_line(
    receiver: dict[str, Any], position: dict[str, Any], number: int, p: int, q: int
) -> PlainChain:
    """Return a range with the line p crystal + q variable of a premixer in place of that oscillator.

    The variable oscillator is what is missing of the injection beside the crystal, or the oscillator that
    a loop shares.
    """
    chain = _chain(receiver, position)
    premix = conversions(receiver, position)[number]["premix"]
    crystal, variable = MADE[premix["makes"]]
    injected = chain.oscillators[number]
    if "oscillator_of" in premix:
        own = chain.oscillators[premix["oscillator_of"] - 1]
    else:
        own = Oscillator(
            variable * injected.a,
            variable * (injected.b - crystal * _crystal_hz(premix) * injected.h),
            injected.h,
        )
    line = Oscillator(q * own.a, q * own.b + p * hertz(premix["crystal"]) * own.h, own.h)
    mixed = (*chain.oscillators[:number], line, *chain.oscillators[number + 1 :])
    return replace(chain, oscillators=mixed)


def chains(receiver: dict[str, Any]) -> list[PlainChain]:
    """Return one chain a range, in the order of the file."""
    return [_chain(receiver, position) for position in receiver["range"]]


def conversions(receiver: dict[str, Any], position: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the conversions of a range: its own, or the set's."""
    found: list[dict[str, Any]] = position.get("conversion") or receiver["conversion"]
    return found


def _chain(receiver: dict[str, Any], position: dict[str, Any]) -> PlainChain:
    low_hz, high_hz = (hertz(text) for text in position["coverage"])
    oscillators: list[Oscillator] = []
    wanted: list[Step] = []
    a, b = 1, 0  # the wanted signal at the mixer: a*d + b
    final_if = bandwidth = 0
    for conversion in conversions(receiver, position):
        if "oscillator_of" in conversion.get("premix", {}):
            shared = oscillators[conversion["premix"]["oscillator_of"] - 1]
            crystal, variable = MADE[conversion["premix"]["makes"]]
            oscillator = Oscillator(
                variable * shared.a, variable * shared.b + crystal * _crystal_hz(conversion["premix"])
            )
            step, a, b = _looped(oscillator, a, b, low_hz, high_hz)
        elif "crystal" in conversion or "oscillator" in conversion:
            oscillator, step, a, b = _fixed(conversion, a, b, low_hz, high_hz)
        else:
            oscillator, step, a, b = _tracking(conversion, a, b)
        oscillators.append(oscillator)
        wanted.append(step)
        if "filter" in conversion:
            final_if, bandwidth = b, hertz(conversion["filter"]["bandwidth"])
    assert a == 0, "the last IF is fixed"
    return PlainChain(
        position["name"], tuple(oscillators), final_if, bandwidth, low_hz, high_hz, tuple(wanted)
    )


def _tracking(conversion: dict[str, Any], a: int, b: int) -> tuple[Oscillator, Step, int, int]:
    """An oscillator that follows the signal (or stays put where the signal does)."""
    if_hz, h = hertz(conversion["if"]), conversion.get("oscillator_harmonic", 1)
    injection = conversion["injection"]
    if injection == "high":
        return Oscillator(a, b + if_hz, h), (h, -1), 0, if_hz
    if injection == "low":
        return Oscillator(a, b - if_hz, h), (-h, 1), 0, if_hz
    assert injection == "sum"
    return Oscillator(-a, if_hz - b, h), (h, 1), 0, if_hz


def _looped(oscillator: Oscillator, a: int, b: int, low_hz: int, high_hz: int) -> tuple[Step, int, int]:
    """The difference of the signal and an oscillator that may move with the dial."""
    assert oscillator.h == 1
    over = [(oscillator.a - a) * dial + oscillator.b - b for dial in (low_hz, high_hz)]
    assert min(over) * max(over) > 0, "the signal crosses the oscillator"
    if min(over) > 0:
        return (1, -1), oscillator.a - a, oscillator.b - b
    return (-1, 1), a - oscillator.a, b - oscillator.b


def _fixed(
    conversion: dict[str, Any], a: int, b: int, low_hz: int, high_hz: int
) -> tuple[Oscillator, Step, int, int]:
    crystal_hz = hertz(conversion["oscillator"]) if "oscillator" in conversion else _crystal_hz(conversion)
    h = conversion.get("oscillator_harmonic", 1)
    oscillator = Oscillator(0, crystal_hz)
    used_hz = h * crystal_hz
    ends = (a * low_hz + b, a * high_hz + b)
    if conversion.get("injection") == "sum":
        step = (h, 1)
    elif "if" in conversion:
        step = (-h, 1) if ends[0] > used_hz else (h, -1)
        if abs(ends[0] - used_hz) != hertz(conversion["if"]):
            step = (h, 1)
    elif used_hz <= min(ends):
        step = (-h, 1)
    else:
        assert used_hz >= max(ends)
        step = (h, -1)
    return oscillator, step, step[1] * a, step[0] * crystal_hz + step[1] * b
