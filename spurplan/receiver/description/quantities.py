"""Quantities of a receiver file: text with its unit in, a number inside, text again out.

From a receiver file a quantity has to be text with its unit: a bare 465 may be
kilohertz or hertz. From Python a number is taken too, in the unit of the
attribute's name.
"""

from __future__ import annotations

import itertools
import math
import operator
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from numbers import Real
from typing import Any

from spurplan.errors import BadValue
from spurplan.receiver.description.kinds import ListOf, NotAPair, Quantity, Row, shown
from spurplan.units import Level, checked_hz, hz_text, parse_db, parse_hz, parse_level, parse_signed_hz

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_FREQUENCY_PATTERN = r"^\s*([0-9]*\.?[0-9]+\s*([kKmMgG]?[hH][zZ]|[kKmMgG])|[0-9]+[kKmMgG][0-9]+)\s*$"


class HeadedHz(int):
    """Hertz from a table whose head names the unit: not a bare number."""


class HeadedDb(float):
    """Decibels from a table whose head names the unit."""


@dataclass(frozen=True)
class Loaded:
    """A file named in a receiver file, with its rows; stands where the name stood."""

    path: str
    rows: tuple[tuple[Any, ...], ...]


def _bare(value: Any) -> bool:
    return not isinstance(value, HeadedHz | HeadedDb)


def _integer(value: Any) -> int | None:
    if isinstance(value, bool):
        return None
    try:
        return operator.index(value)
    except TypeError:
        return None


def _real(value: Any) -> float | None:
    """Return a finite number; None for anything that is none (text, true, nan)."""
    if isinstance(value, bool) or not isinstance(value, Real | Decimal):
        return None
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def _hertz(parse: Callable[[str], int], check: Callable[[int, Any], int]) -> Callable[[Any, bool], int]:
    def read(value: Any, from_file: bool) -> int:
        if isinstance(value, NotAPair):
            raise BadValue(shown(value.value), "is not a pair of frequencies", 'write ["11 MHz", "30 MHz"]')
        if isinstance(value, str):
            return parse(value)
        whole = _integer(value)
        if whole is not None and not (from_file and _bare(value)):
            return check(int(whole), value)
        if _real(value) is not None:
            if from_file:
                raise BadValue(shown(value), "has no unit", f'write "{value} kHz" or "{value} MHz" in quotes')
            raise BadValue(value, "is a float", "give whole hertz as int, or text with its unit")
        raise BadValue(shown(value), "is not a frequency", 'write text with its unit, as "14.2 MHz"')

    return read


def _checked_signed(hz: int, text: Any) -> int:
    if hz:
        checked_hz(abs(hz), text)
    return hz


def _decibels(
    parse: Callable[[str], float], unit: str, low: float, high: float, bare: bool = False
) -> Callable[[Any, bool], float]:
    def read(value: Any, from_file: bool) -> float:
        if isinstance(value, str):
            number = parse(value)
        else:
            real = _real(value)
            if real is None:
                raise BadValue(shown(value), "is not a number", f'write "20 {unit}"')
            if from_file and _bare(value) and not bare:
                raise BadValue(shown(value), "has no unit", f'write "{value} {unit}" in quotes')
            number = real
        if not low <= number <= high:
            raise BadValue(shown(value), "is outside any sense", f"give {low:g} to {high:g} {unit}")
        return number

    return read


def _parse_dbm(text: str) -> float:
    if text.strip()[:1] in "sS":
        raise BadValue(text, "is in S units, which need a frequency", "write it as 7 dBm")
    try:
        return parse_level(text).dbm_low
    except BadValue:
        raise BadValue(text, "is not a level", "write it as 7 dBm") from None


def _parse_scaled(scales: dict[str, int], example: str) -> Callable[[str], float]:
    def parse(text: str) -> float:
        match = re.fullmatch(rf"({_NUMBER})\s*([A-Za-zµμ]*)", text.strip())
        if not match:
            raise BadValue(text, "is not a number with its unit", f"write it as {example}")
        if match[2] not in scales:
            known = ", ".join(unit for unit in scales if unit.isascii())
            said = f"has an unknown unit {match[2]}" if match[2] else "has no unit"
            raise BadValue(text, said, f"use {known}")
        # by way of decimals: 350 * 1e-12 is not the float that 350e-12 is
        return float(Decimal(match[1]).scaleb(scales[match[2]]))

    return parse


def _number(low: float, high: float, above: bool = False) -> Callable[[Any, bool], float]:
    def read(value: Any, from_file: bool) -> float:
        real = _real(value)
        if real is None:
            remedy = f"write {value} without quotes" if _reads_as_number(value) else "write a plain number"
            raise BadValue(shown(value), "is not a number", remedy)
        if real > high or real < low or (above and real == low):
            need = f"above {low:g}, at most {high:,.9g}" if above else f"{low:g} to {high:,.9g}"
            raise BadValue(shown(value), "is outside any sense", f"give a number {need}")
        return real

    return read


def _reads_as_number(value: Any) -> bool:
    return isinstance(value, str) and re.fullmatch(_NUMBER, value.strip()) is not None


def _count(low: int, high: int) -> Callable[[Any, bool], int]:
    def read(value: Any, from_file: bool) -> int:
        whole = _integer(value)
        if whole is None:
            remedy = f"write {value} without quotes" if _reads_as_number(value) else "write a whole number"
            raise BadValue(shown(value), "is not a whole number", remedy)
        if not low <= whole <= high:
            raise BadValue(whole, "is outside any sense", f"give {low} to {high}")
        return whole

    return read


def _words(value: Any, from_file: bool) -> str:
    if not isinstance(value, str):
        raise BadValue(shown(value), "is not text", "write it in quotes")
    if not value.strip():
        raise BadValue(value, "is empty", "write a name")
    if len(value) > 200:
        raise BadValue(value, "is longer than 200 characters", "shorten it")
    if not value.isprintable():
        raise BadValue(value, "holds control characters", "keep it to one line of plain text")
    if value != value.strip():
        # tables are read without the blanks around a cell, and would not find it again
        raise BadValue(value, "begins or ends with a blank", f'write "{value.strip()}"')
    return str(value)


def _level_of(value: Any, from_file: bool) -> Level:
    """Return a level as written: S units stay open until the frequency is known."""
    if isinstance(value, str):
        return parse_level(value)
    real = _real(value)
    if real is None:
        raise BadValue(shown(value), "is not a level", "write it as S7, S9+20 or -53 dBm in quotes")
    if from_file:
        raise BadValue(shown(value), "has no unit", f'write "{value} dBm" in quotes')
    return Level(real, real)


def ascending(points: tuple[tuple[int, Any], ...]) -> tuple[tuple[int, Any], ...]:
    """Return points with their frequencies strictly rising, or raise `BadValue`."""
    for (before, _), (after, _) in itertools.pairwise(points):
        if after <= before:
            raise BadValue(
                f"{hz_text(before)}, {hz_text(after)}",
                "is not in rising order",
                "sort the points by frequency, each frequency once",
            )
    return points


def _in_dbm(points: tuple[tuple[int, Level], ...]) -> tuple[tuple[int, float], ...]:
    """Return levels as decibels: S units at the frequency they were read on."""
    return tuple((hz, level.dbm(hz)) for hz, level in ascending(points))


def _text_form(pattern: str, *examples: str) -> dict[str, Any]:
    return {"type": "string", "pattern": pattern, **({"examples": list(examples)} if examples else {})}


def _hz(parse: Callable[[str], int], check: Callable[[int, Any], int], form: dict[str, Any]) -> Quantity:
    return Quantity(_hertz(parse, check), form)


def _db(low: float, high: float) -> Quantity:
    form = _text_form(rf"^\s*{_NUMBER}\s*[dD][bB]\s*$", "20 dB")
    return Quantity(_decibels(parse_db, "dB", low, high), form)


def _figure(parse: Callable[[str], float], unit: str) -> Quantity:
    """A figure of a mixer: a column of them reads better without the unit repeated."""
    letters = "".join(f"[{c.lower()}{c.upper()}]" for c in unit)
    form = {"type": ["number", "string"], "pattern": rf"^\s*{_NUMBER}\s*{letters}\s*$"}
    return Quantity(_decibels(parse, unit, -200.0, 200.0, bare=True), form)


def _component(scales: dict[str, int], unit: str, low: float, example: str, letters: str) -> Quantity:
    read = _decibels(_parse_scaled(scales, example), unit, low, 1e6)
    return Quantity(read, _text_form(rf"^\s*{_NUMBER}\s*{letters}\s*$"))


def _above(low: float, high: float) -> Quantity:
    return Quantity(_number(low, high, above=True), {"type": "number", "exclusiveMinimum": low})


def _whole(low: int, high: int, **form: Any) -> Quantity:
    return Quantity(_count(low, high), {"type": "integer", **form})


_VOLTS = _decibels(_parse_scaled({"V": 0, "mV": -3}, "3 V"), "V", 0.001, 100.0, bare=True)
_LEVEL_PATTERN = rf"^\s*({_NUMBER}\s*[dD][bB][mM]|[sS]\s*[0-9](\s*\+\s*[0-9.]+\s*([dD][bB])?)?)\s*$"
_SIGNED_PATTERN = r"^\s*[+-]?\s*" + _FREQUENCY_PATTERN[4:]

NAME = Quantity(_words, {"type": "string", "minLength": 1})
HZ = Quantity(_hertz(parse_hz, checked_hz), _text_form(_FREQUENCY_PATTERN, "14.2 MHz", "465 kHz"))
SIGNED_HZ = Quantity(
    _hertz(parse_signed_hz, _checked_signed), _text_form(_SIGNED_PATTERN, "1 kHz", "-500 Hz")
)
# Wide limits: they catch a slip of the pen, they do not judge a set.
GAIN_DB = _db(-200.0, 200.0)
LOSS_DB = _db(0.0, 300.0)
NOISE_FIGURE_DB = _db(0.0, 60.0)
LEVEL = Quantity(_level_of, _text_form(_LEVEL_PATTERN, "S6", "S9+20", "-97 dBm"))
# below it nothing is a resonance any more, and arithmetic gives out
LOADED_Q = Quantity(_number(0.01, 1e6), {"type": "number", "minimum": 0.01})
SHAPE_FACTOR = _above(1, 1000.0)
COUPLING = _above(0, 100.0)
EXPONENT = Quantity(_number(0.0, 1000.0), {"type": "number"})
FIGURE_DB = _figure(parse_db, "dB")
FIGURE_DBM = _figure(_parse_dbm, "dBm")
FIGURE_VOLTS = Quantity(_VOLTS, {"type": ["number", "string"], "pattern": rf"^\s*{_NUMBER}\s*m?V\s*$"})
PICO_FARADS = _component({"pF": 0, "nF": 3}, "pF", 0.1, "350 pF", "[pn]F")
MICRO_HENRIES = _component(
    {"uH": 0, "µH": 0, "μH": 0, "mH": 3, "nH": -3}, "uH", 1e-4, "180 uH", "([uµμ]|m|n)H"
)
REGION = Quantity(_count(1, 3), {"enum": [1, 2, 3]})
HARMONIC = _whole(1, 9, minimum=1)
MULTIPLIER = _whole(1, 99, minimum=1)
ORDER = _whole(1, 20, minimum=1)
# 0 stands for the direct way through the mixer, as in lo = 0
PRODUCT_ORDER = _whole(0, 50)

_Q_REMEDY = 'write a number, or pairs as [["3.5 MHz", 80], ["28 MHz", 40]]'
_DB_REMEDY = 'write pairs, as [["3.5 MHz", "0 dB"], ["28 MHz", "40 dB"]]'
_NOISE_REMEDY = 'write pairs, as [["3.5 MHz", "S6"], ["28 MHz", "S2"]]'
Q_POINTS = ListOf(Row((HZ, LOADED_Q), _Q_REMEDY), _Q_REMEDY, 1, 1000, ascending)
CURVE_POINTS = ListOf(Row((HZ, GAIN_DB), _DB_REMEDY), _DB_REMEDY, 1, 100_000, ascending)
NOISE_POINTS = ListOf(Row((HZ, LEVEL), _NOISE_REMEDY), _NOISE_REMEDY, 1, 1000, _in_dbm)


def decimal(number: float) -> str:
    """Return a float in plain decimals that read back as the same float."""
    text = f"{Decimal(repr(float(number))):f}"
    return text.removesuffix(".0")
