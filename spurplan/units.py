"""The door for quantities: hertz, decibels, dBm and S units, from text or number in and out as text.

Whatever a user hands over becomes a number here and nowhere else. What ends in `_of` takes a value
as it came from Python or a file and raises `BadValue`; `hz`, `span_hz`, `db`, `dbm` and `generator_dbm`
take the place it stands at too, and refuse it there; `headed_hz` and `headed_number` take cells of a
table whose head names the unit.

Frequencies become integer hertz by way of decimal digits alone: 0.1 + 0.2 has
no place in a sum that decides whether a station is inside a passband.
"""

from __future__ import annotations

import math
import operator
import os
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from numbers import Real
from typing import TYPE_CHECKING, Any, SupportsIndex, TypeGuard, TypeVar

from spurplan.errors import BadValue, Fault, Refused, checked_name, shown, text_of

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

# hertz as a whole number of any kind, numpy's too, or text with its unit
FrequencyLike = SupportsIndex | str

LOWEST_HZ = 1
HIGHEST_HZ = 30_000_000_000
S_CHANGE_HZ = 30_000_000
# Metres times megahertz: the speed of light in vacuum, exact by the definition of the metre (SI Brochure).
METRES_MHZ = 299.792458
# Beyond this nobody measures and nobody transmits: 200 dBm are a hundred thousand million megawatts.
MOST_DBM = 200.0
S9_DBM = -73.0
S9_HIGH_DBM = -93.0
DB_PER_S = 6.0
OHMS = 50.0
# Wide limits: they catch a slip of the pen, they do not judge a set.
MOST_DB = 200.0
# What a generator gives, or an attenuator in front of it. [dBm]
GENERATOR_DBM = (-200.0, 60.0)

# The continents that lie in each ITU region but for their edges: northern Asia and the Middle East to
# the Persian Gulf are of region 1, Hawaii of region 2 (Radio Regulations, 5.2 to 5.9).
REGION_WORDS = {
    "europe": 1, "africa": 1, "middle east": 1,
    "americas": 2, "america": 2,
    "asia": 3, "pacific": 3, "oceania": 3,
}  # fmt: skip

Read = TypeVar("Read")

# [0-9], not \d: \d and int() take the digits of every script.
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+")
_FREQUENCY = re.compile(r"([0-9.]+)\s*([A-Za-z]*)")
_LAST_UNIT = re.compile(r"[A-Za-z]+$")
_INFIX = re.compile(r"([0-9]+)([kKmMgG])([0-9]+)")
_SCALE = {"hz": 0, "khz": 3, "k": 3, "mhz": 6, "m": 6, "ghz": 9, "g": 9}
_DBM = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+))\s*dbm", re.IGNORECASE)
_DB = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+))\s*db", re.IGNORECASE)
_SIGNED_TEXT = r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_SIGNED = re.compile(_SIGNED_TEXT)
_WITH_UNIT = re.compile(rf"({_SIGNED_TEXT})\s*([A-Za-zµμ]*)")
_VOLTS = re.compile(r"([0-9]+(?:\.[0-9]+)?|\.[0-9]+)\s*([umµμ]?)V(?:\s*(EMF|PD))?", re.IGNORECASE)
_VOLTS_SCALE = {"": 1.0, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6}
_S = re.compile(r"s\s*([0-9])(?:\s*\+\s*([0-9]{1,3}(?:\.[0-9]+)?)\s*(?:db)?)?", re.IGNORECASE)


def decimal_to_integer(digits: str, exponent: int) -> int:
    """Return ``digits * 10**exponent`` as an integer, without floats.

    Parameters
    ----------
    digits : str. ASCII digits with at most one point: no sign, no exponent.
    exponent : int, 0 or more. Power of ten of the unit.

    Raises
    ------
    BadValue  when `digits` is not such a number, or finer than one unit of the result.
    """
    if not _NUMBER.fullmatch(digits):
        remedy = "write plain digits with a decimal point"
        if "," in digits:
            remedy = f"write decimals with a point, as {digits.replace(',', '.')}"
        elif digits.startswith(("+", "-")):
            remedy = "write plain digits without a sign"
        raise BadValue(digits, "is not a number", remedy)
    whole, _, fraction = digits.partition(".")
    fraction = fraction.rstrip("0")
    if len(fraction) > exponent:
        raise BadValue(digits, "is finer than 1 Hz", f"give at most {exponent} decimals")
    if len(whole.lstrip("0")) + exponent > 15:
        raise BadValue(digits, "is above 30 GHz", "give 1 Hz to 30 GHz")
    return int((whole or "0") + fraction.ljust(exponent, "0"))


def checked_hz(hz: int, text: object) -> int:
    """Return `hz` when it lies in 1 Hz to 30 GHz.

    Raises
    ------
    BadValue  otherwise, quoting `text`.
    """
    if hz < LOWEST_HZ:
        raise BadValue(text, "is below 1 Hz", "give 1 Hz to 30 GHz")
    if hz > HIGHEST_HZ:
        raise BadValue(text, "is above 30 GHz", "give 1 Hz to 30 GHz")
    return hz


def parse_hz(text: str) -> int:
    """Return a frequency in hertz from text with its unit.

    Takes ``14.2MHz``, ``14200 kHz``, ``465k``, ``14M2`` (the unit in place of
    the point) and ``455 khz``; lower-case mhz means megahertz, as nobody tunes
    to millihertz. A lower-case m alone is refused: 20m is a band to a listener.

    Raises
    ------
    BadValue  for a missing or unknown unit, metres, a sign, an exponent, a decimal
        comma, more than 1 Hz resolution, or outside 1 Hz to 30 GHz.
    """
    stripped = text.strip()
    infix = _INFIX.fullmatch(stripped)
    if infix:
        digits, unit = f"{infix[1]}.{infix[3]}", infix[2]
    else:
        match = _FREQUENCY.fullmatch(stripped)
        if not match:
            raise BadValue(text, "is not a frequency", _frequency_remedy(stripped))
        digits, unit = match[1], match[2]
    if not unit:
        raise BadValue(text, "has no unit", f"write {digits} kHz or {digits} MHz")
    if unit.lower() not in _SCALE:
        raise BadValue(text, f"has an unknown unit {unit}", "use Hz, kHz, MHz or GHz")
    if unit == "m" and not infix:
        raise BadValue(text, "may be in metres or in megahertz", _metres_remedy(digits))
    try:
        return checked_hz(decimal_to_integer(digits, _SCALE[unit.lower()]), text)
    except BadValue as bad:
        raise BadValue(text, bad.rule, bad.remedy) from None


def parse_span(text: str) -> tuple[int, int]:
    """Return the two edges of a span, in hertz, from ``21MHz:21.45MHz`` or ``21:21.45 MHz``.

    Raises
    ------
    BadValue  for what is not two frequencies, the lower one first.
    """
    edges = [part.strip() for part in text.split(":")]
    if len(edges) != 2 or not all(edges):
        raise BadValue(text, "is not two edges", "write it as 21MHz:21.45MHz")
    unit = _LAST_UNIT.search(edges[1])
    if unit and not _LAST_UNIT.search(edges[0]):
        edges[0] += unit[0]
    return checked_span(parse_hz(edges[0]), parse_hz(edges[1]), text)


def checked_span(low_hz: int, high_hz: int, text: object) -> tuple[int, int]:
    """Return the edges of a span when the low one is below the high one.

    Raises
    ------
    BadValue  otherwise, quoting `text`.
    """
    if low_hz >= high_hz:
        rule = f"has its low edge {hz_text(low_hz)} not below its high edge {hz_text(high_hz)}"
        raise BadValue(text, rule, "give the lower edge first")
    return low_hz, high_hz


def _metres_remedy(digits: str) -> str:
    """Return both readings of "20m", the wavelength by what it is in frequency."""
    try:
        metres = float(digits)
    except ValueError:
        return "write MHz"
    near = f", near {METRES_MHZ / metres:.3g} MHz" if metres >= METRES_MHZ / (HIGHEST_HZ / 1e6) else ""
    return f"write {digits} MHz, or for the band of {digits} metres{near}, a frequency inside it"


def _frequency_remedy(text: str) -> str:
    if re.search(r"[0-9],[0-9]", text):
        return f"write decimals with a point, as {text.replace(',', '.')}"
    if text.startswith(("-", "+")):
        return "leave the sign out"
    return "write it as 14.2MHz, 14200 kHz or 465k"


def parse_signed_hz(text: str) -> int:
    """Return a frequency difference in hertz; a sign is allowed, and zero.

    Raises
    ------
    BadValue  as `parse_hz`, zero excepted.
    """
    stripped = text.strip()
    sign = -1 if stripped.startswith("-") else 1
    bare = stripped[1:].lstrip() if stripped[:1] in "+-" else stripped
    nothing = re.fullmatch(r"0+(?:\.0+)?\s*([A-Za-z]*)", bare)
    if nothing and nothing[1].lower() in ("", *_SCALE):
        return 0
    try:
        return sign * parse_hz(bare)
    except BadValue as bad:
        raise BadValue(text, bad.rule, bad.remedy) from None


def parse_db(text: str) -> float:
    """Return decibels from text such as ``20 dB`` or ``-3.5dB``.

    Raises
    ------
    BadValue  when the text is anything else.
    """
    match = _DB.fullmatch(text.strip())
    if not match:
        raise BadValue(text, "is not a number of decibels", "write it as 20 dB")
    return float(match[1])


@dataclass(frozen=True)
class Level:
    """A level as somebody wrote it: dBm, or S units that need a frequency.

    Attributes
    ----------
    dbm_low : float. The level of a signal up to and including 30 MHz. [dBm, 50 ohm]
    dbm_high : float. The level above 30 MHz; the same unless written in S units. [dBm]
    """

    dbm_low: float
    dbm_high: float

    def dbm(self, frequency_hz: float) -> float:
        """Return the level of a signal on `frequency_hz`. [dBm, 50 ohm]"""
        return self.dbm_low if frequency_hz <= S_CHANGE_HZ else self.dbm_high


def s9_dbm(frequency_hz: float) -> float:
    """Return the level agreed on for S9 on a frequency; see `parse_level`. [dBm, 50 ohm]"""
    return S9_DBM if frequency_hz <= S_CHANGE_HZ else S9_HIGH_DBM


def parse_level(text: str) -> Level:
    """Return a level from ``-53 dBm``, ``S7``, ``S9+20`` or ``S9+20 dB``.

    S9 is -73 dBm up to and including 30 MHz and -93 dBm above, 6 dB an S unit.

    Raises
    ------
    BadValue  when the text is anything else, or "S5+10".

    References
    ----------
    [1] IARU Region 1 Technical Recommendation R.1, Brighton 1981, Torremolinos 1990.
    """
    stripped = text.strip()
    match = _DBM.fullmatch(stripped)
    if match:
        dbm = float(match[1])
        return Level(_possible(dbm, text), dbm)
    match = _S.fullmatch(stripped)
    if not match:
        raise BadValue(text, "is not a level", "write it as S7, S9+20 or -53 dBm")
    if match[2] is not None and match[1] != "9":
        raise BadValue(text, "adds decibels to less than S9", "write S7, or S9+20")
    above_s9_db = float(match[2] or 0.0) - DB_PER_S * (9 - int(match[1]))
    return Level(_possible(S9_DBM + above_s9_db, text), S9_HIGH_DBM + above_s9_db)


def _possible(dbm: float, text: str) -> float:
    if abs(dbm) > MOST_DBM:
        raise BadValue(text, "is no level of any signal", f"give -{MOST_DBM:g} to {MOST_DBM:g} dBm")
    return dbm


def parse_decimal(text: str) -> float:
    """Return a number without sign: ASCII digits with a point, no exponent, no grouping.

    Raises
    ------
    BadValue  otherwise.
    """
    if text[:1] in ("+", "-"):
        raise BadValue(text, "has a sign", "leave the sign out")
    return parse_signed_decimal(text)


def parse_signed_decimal(text: str) -> float:
    """Return a number that may have a sign; else as `parse_decimal`.

    Raises
    ------
    BadValue  otherwise.
    """
    if not _SIGNED.fullmatch(text):
        remedy = "write plain digits with a decimal point"
        if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text):
            remedy = f"write decimals with a point, as {text.replace(',', '.')}"
        raise BadValue(text, "is not a number", remedy)
    return float(text)


def parse_whole(text: str) -> int:
    """Return a whole number in plain ASCII digits.

    Raises
    ------
    BadValue  for anything else, or more than 15 of them.
    """
    if not (text.isascii() and text.isdigit()) or len(text) > 15:
        remedy = "write plain digits"
        if "E" in text.upper():
            remedy = "a spreadsheet rounded it: format the column as a number without decimals"
        raise BadValue(text, "is not a whole number", remedy)
    return int(text)


def parse_whole_hz(text: str) -> int:
    """Return a frequency in whole hertz above 0. [Hz]

    Raises
    ------
    BadValue  for anything else.
    """
    hz = parse_whole(text)
    if hz < 1:
        raise BadValue(text, "is no frequency", "give hertz above 0")
    return hz


def volts_dbm(volts_pd: float) -> float:
    """Return the power of a voltage across 50 ohm. [V rms -> dBm]"""
    return 10.0 * math.log10(volts_pd**2 / OHMS) + 30.0


def parse_generator_level(text: str) -> float:
    """Return a generator level in dBm from ``0.1 V EMF``, ``50 mV PD``, ``100 uV`` or ``-13 dBm``.

    Raises
    ------
    BadValue  when the text is anything else.

    Notes
    -----
    Power into a matched load of 50 ohm. A voltage without a word is the EMF, the open-circuit
    voltage, as most attenuators are marked; the PD across a matched load is half of it.
    """
    stripped = text.strip()
    match = _VOLTS.fullmatch(stripped)
    if match:
        volts = float(match[1]) * _VOLTS_SCALE[match[2].lower()]
        if volts <= 0.0:
            raise BadValue(text, "is no level", "give more than 0 V")
        pd = volts if (match[3] or "EMF").upper() == "PD" else volts / 2.0
        return volts_dbm(pd)
    try:
        level = parse_level(stripped)
    except BadValue:
        raise BadValue(
            text, "is not a generator level", "write it as 0.1 V EMF, 50 mV PD or -13 dBm"
        ) from None
    if level.dbm_low != level.dbm_high:
        raise BadValue(text, "is in S units", "write it as 0.1 V EMF, 50 mV PD or -13 dBm")
    return level.dbm_low


# --- values as they come from Python or a file --------------------------------------------------


def is_number(value: object) -> TypeGuard[float]:
    """Return whether something is a plain number: an int or a float, no text, no bool, no array."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def pythons_own(value: Any) -> Any:
    """Return a numpy scalar, or an array of no dimension, as Python's own value; anything else as it is."""
    return value.item() if getattr(value, "ndim", None) == 0 and hasattr(value, "item") else value


def as_whole(value: Any) -> int | None:
    """Return an integer of any kind, numpy's too, as Python's own; None for what is none, or a bool."""
    if isinstance(value, bool):
        return None
    try:
        return operator.index(value)
    except TypeError:
        return None


def _real(value: Any) -> float | None:
    """Return a finite number; None for anything that is none (text, true, nan)."""
    value = pythons_own(value)
    if isinstance(value, bool) or not isinstance(value, Real | Decimal):
        return None
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def hz_of(value: Any, needs_unit: bool = False, where: Where | None = None) -> int:
    """Return whole hertz from text with its unit, or from a whole number where it needs none.

    Parameters
    ----------
    where : Where or None. Where text without a unit has to lie; None takes none.

    Raises
    ------
    BadValue  for anything else: a float, a bool, what is not within 1 Hz to 30 GHz.
    """
    value = _with_unit(value, where)
    return parse_hz(value) if isinstance(value, str) else checked_hz(_whole_hz(value, needs_unit), value)


def signed_hz_of(value: Any, needs_unit: bool = False) -> int:
    """Return a difference in whole hertz, sign allowed, and zero; else as `hz_of`."""
    if isinstance(value, str):
        return parse_signed_hz(value)
    hz = _whole_hz(value, needs_unit)
    if hz:
        checked_hz(abs(hz), value)
    return hz


def _whole_hz(value: Any, needs_unit: bool) -> int:
    whole = as_whole(value)
    if whole is not None and not needs_unit:
        return int(whole)
    if _real(value) is None:
        raise BadValue(shown(value), "is not a frequency", 'write text with its unit, as "14.2 MHz"')
    if needs_unit:
        raise BadValue(shown(value), "has no unit", f'write "{value} kHz" or "{value} MHz" in quotes')
    raise BadValue(value, "is a float", "give whole hertz as int, or text with its unit")


def span_hz_of(value: Any) -> tuple[int, int]:
    """Return the edges of a span in whole hertz from "21MHz:21.45MHz" or a pair of edges.

    Raises
    ------
    BadValue  for what is not two frequencies, the lower one first.
    """
    if isinstance(value, str):
        return parse_span(value)
    edges = list(value) if isinstance(value, list | tuple) or getattr(value, "ndim", 0) == 1 else []
    if len(edges) == 2:
        return checked_span(hz_of(edges[0]), hz_of(edges[1]), f"{edges[0]}:{edges[1]}")
    raise BadValue(shown(value), "is not two edges", "write it as 21MHz:21.45MHz")


def db_of(value: Any, needs_unit: bool = False, low: float = -MOST_DB, high: float = MOST_DB) -> float:
    """Return decibels from text with its unit, or from a number where it needs none.

    Raises
    ------
    BadValue  for anything else, and outside `low` to `high`.
    """
    return _amount_of(value, needs_unit, parse_db, "dB", low, high)


def dbm_of(value: Any, needs_unit: bool = False, low: float = -MOST_DBM, high: float = MOST_DBM) -> float:
    """Return a level in dBm from text, or from a number where it needs no unit.

    Raises
    ------
    BadValue  for anything else, S units without a frequency, and outside `low` to `high`.
    """
    return _amount_of(value, needs_unit, _parse_dbm, "dBm", low, high)


def _parse_dbm(text: str) -> float:
    if text.strip()[:1] in "sS":
        raise BadValue(text, "is in S units, which need a frequency", "write it as 7 dBm")
    try:
        return parse_level(text).dbm_low
    except BadValue:
        raise BadValue(text, "is not a level", "write it as 7 dBm") from None


def level_of(value: Any, needs_unit: bool = False) -> Level:
    """Return a level as written: S units stay open until the frequency is known.

    Raises
    ------
    BadValue  for anything else than text with its unit, or a number of dBm where it needs none.
    """
    if isinstance(value, str):
        return parse_level(value)
    real = _real(value)
    if real is None:
        raise BadValue(shown(value), "is not a level", "write it as S7, S9+20 or -53 dBm in quotes")
    if needs_unit:
        raise BadValue(shown(value), "has no unit", f'write "{value} dBm" in quotes')
    return Level(real, real)


def generator_dbm_of(value: Any) -> float:
    """Return a generator level in dBm from text, as `parse_generator_level`, or from a number of dBm.

    Raises
    ------
    BadValue  for anything else, and outside `GENERATOR_DBM`.
    """
    dbm = parse_generator_level(value) if isinstance(value, str) else pythons_own(value)
    low, high = GENERATOR_DBM
    if not is_number(dbm) or not low <= dbm <= high:
        raise BadValue(value, "is no generator level", f"give {low:g} to {high:g} dBm")
    return float(dbm)


def volts_of(value: Any, needs_unit: bool = False) -> float:
    """Return volts from "3 V" or "200 mV", or from a number where it needs no unit; else `BadValue`."""
    return _amount_of(value, needs_unit, _scaled({"V": 0, "mV": -3}, "3 V"), "V", 0.001, 100.0)


def picofarads_of(value: Any, needs_unit: bool = False) -> float:
    """Return picofarads from "350 pF" or "1 nF", or from a number where it needs no unit; else `BadValue`."""
    return _amount_of(value, needs_unit, _scaled({"pF": 0, "nF": 3}, "350 pF"), "pF", 0.1, 1e6)


def microhenries_of(value: Any, needs_unit: bool = False) -> float:
    """Return microhenries from "180 uH", or from a number where it needs no unit; else `BadValue`."""
    scales = {"uH": 0, "µH": 0, "μH": 0, "mH": 3, "nH": -3}
    return _amount_of(value, needs_unit, _scaled(scales, "180 uH"), "uH", 1e-4, 1e6)


def _amount_of(
    value: Any, needs_unit: bool, parse: Callable[[str], float], unit: str, low: float, high: float
) -> float:
    if isinstance(value, str):
        number = parse(value)
    else:
        real = _real(value)
        if real is None:
            raise BadValue(shown(value), "is not a number", f'write "20 {unit}"')
        if needs_unit:
            raise BadValue(shown(value), "has no unit", f'write "{value} {unit}" in quotes')
        number = real
    if not low <= number <= high:
        raise BadValue(shown(value), "is outside any sense", f"give {low:g} to {high:g} {unit}")
    return number


def _scaled(scales: Mapping[str, int], example: str) -> Callable[[str], float]:
    def parse(text: str) -> float:
        match = _WITH_UNIT.fullmatch(text.strip())
        if not match:
            raise BadValue(text, "is not a number with its unit", f"write it as {example}")
        if match[2] not in scales:
            known = ", ".join(unit for unit in scales if unit.isascii())
            rule = f"has an unknown unit {match[2]}" if match[2] else "has no unit"
            raise BadValue(text, rule, f"use {known}")
        # by way of decimals: 350 * 1e-12 is not the float that 350e-12 is
        return float(Decimal(match[1]).scaleb(scales[match[2]]))

    return parse


def number_of(value: Any, low: float, high: float, *, above: bool = False) -> float:
    """Return a plain number from `low` to `high`, without `low` itself where it has to be `above` it.

    Raises
    ------
    BadValue  for anything else; text is none, even of digits.
    """
    real = _real(value)
    if real is None:
        remedy = f"write {value} without quotes" if _reads_as_number(value) else "write a plain number"
        raise BadValue(shown(value), "is not a number", remedy)
    if real > high or real < low or (above and real == low):
        need = f"above {low:g}, at most {high:,.9g}" if above else f"{low:g} to {high:,.9g}"
        raise BadValue(shown(value), "is outside any sense", f"give a number {need}")
    return real


def count_of(value: Any, low: int, high: int) -> int:
    """Return a whole number from `low` to `high`.

    Raises
    ------
    BadValue  for anything else; 2.0 is none, and neither is text.
    """
    whole = as_whole(value)
    if whole is None:
        remedy = f"write {value} without quotes" if _reads_as_number(value) else "write a whole number"
        raise BadValue(shown(value), "is not a whole number", remedy)
    if not low <= whole <= high:
        raise BadValue(whole, "is outside any sense", f"give {low} to {high}")
    return whole


def _reads_as_number(value: Any) -> bool:
    return isinstance(value, str) and _SIGNED.fullmatch(value.strip()) is not None


def name_of(value: Any) -> str:
    """Return a name: one line of text, up to 200 characters, with no blank around it; else `BadValue`."""
    if not isinstance(value, str):
        raise BadValue(shown(value), "is not text", "write it in quotes")
    if not value.strip():
        raise BadValue(value, "is empty", "write a name")
    checked_name(value)
    if not value.isprintable():
        raise BadValue(value, "holds control characters", "keep it to one line of plain text")
    if value != value.strip():
        # tables are read without the blanks around a cell, and would not find it again
        raise BadValue(value, "begins or ends with a blank", f'write "{value.strip()}"')
    return str(value)


# --- cells of a table whose head names the unit -------------------------------------------------


def headed_hz(text: str, exponent: int) -> int:
    """Return hertz from the digits of a cell; the head says the unit, 10**exponent Hz.

    Raises
    ------
    BadValue  as `decimal_to_integer`, and outside 1 Hz to 30 GHz.
    """
    # the plain case, which is nearly every cell, in a quarter of the time
    whole, point, fraction = text.partition(".")
    digits = whole + fraction
    plain = digits.isdecimal() and digits.isascii() and bool(point) == bool(fraction)
    if plain and len(fraction) <= exponent and 0 < len(whole) < 12:
        return checked_hz(int(whole + fraction.ljust(exponent, "0")), text)
    return checked_hz(decimal_to_integer(text, exponent), text)


def headed_number(text: str, low: float, high: float) -> float:
    """Return a number from the digits of a cell, sign allowed; the head says the unit.

    Raises
    ------
    BadValue  for anything else, and outside `low` to `high`.
    """
    number = parse_signed_decimal(text)
    if not low <= number <= high:
        raise BadValue(text, "is outside any sense", f"give {low:g} to {high:g}")
    return number


def headed_hz_of_digits(
    digits: npt.NDArray[np.int64], decimals: npt.NDArray[np.int64], exponent: int
) -> npt.NDArray[np.int64]:
    """Return hertz from cells that are digits and nothing else; 0 for what `headed_hz` has to look at.

    Parameters
    ----------
    digits, decimals : int64 arrays of one shape. As `csvblocks.Digits` has them: no sign, no more than 16.
    exponent : int. As in `headed_hz`.
    """
    # twelve digits are more than 30 GHz has, and times a million stay within 64 bits
    sound = (decimals <= exponent) & (digits < 10**12)
    hz = digits * sound * 10 ** ((exponent - decimals) * sound)
    return hz * ((hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ))


def numbers_of_digits(
    digits: npt.NDArray[np.int64], decimals: npt.NDArray[np.int64], sign: npt.NDArray[np.int8]
) -> npt.NDArray[np.float64]:
    """Return numbers from digits below 2^53, a sign and up to 16 decimals: those of their text.

    Notes
    -----
    Such digits and powers of ten are exact as floats, so the quotient is the one nearest to the number.
    """
    numbers: npt.NDArray[np.float64] = digits / 10.0**decimals * (1.0 - 2.0 * (sign < 0))
    return numbers


# --- arguments and options, refused at their place ----------------------------------------------


def _at(place: str, read: Callable[[], Read]) -> Read:
    try:
        return read()
    except BadValue as bad:
        raise Refused(bad.at(place)) from None


@dataclass(frozen=True)
class Where:
    """Where a number without its unit has to lie, so that it can be read.

    Attributes
    ----------
    words : str. In words, as "the tables".
    lies : function of (low, high), both edges in hertz. Whether some of that is there.
    remedy : str. What to say to him whose number lies there in neither unit; "" where nothing is known.
    """

    words: str
    lies: Callable[[int, int], bool]
    remedy: str = ""


def is_bare(text: str) -> bool:
    """Return whether text is a number, or two edges, without a unit."""
    edges = text.split(":")
    return len(edges) <= 2 and all(_NUMBER.fullmatch(part.strip()) for part in edges)


def bare_readings(text: str) -> list[str]:
    """Return a number without a unit in kHz and in MHz, as far as each is a frequency; none of other text.

    Notes
    -----
    Two edges, as "21:21.45", are read in one unit.
    """
    if not is_bare(text):
        return []
    edges = [part.strip() for part in text.split(":")]
    readings = []
    for unit in ("kHz", "MHz"):
        reading = f"{':'.join(edges)} {unit}"
        try:
            parse_span(reading) if len(edges) == 2 else parse_hz(reading)
        except BadValue:
            continue
        readings.append(reading)
    return readings


def _with_unit(value: Any, where: Where | None) -> Any:
    """Return a value as it came, a bare number with the unit in which alone it lies where it has to.

    Raises
    ------
    BadValue  for a bare number that lies there in both units, or in neither.
    """
    if where is None or not isinstance(value, str) or not is_bare(value):
        return value
    low, _, high = value.partition(":")
    if high and Decimal(low) >= Decimal(high):
        raise BadValue(value, "has its low edge not below its high edge", "give the lower edge first")
    readings = bare_readings(value)
    edges = [parse_span(reading) if ":" in reading else (parse_hz(reading),) * 2 for reading in readings]
    there = [reading for reading, span in zip(readings, edges, strict=True) if where.lies(*span)]
    if len(there) == 1:
        return there[0]
    rule = "in kHz and in MHz" if there else "in neither kHz nor MHz"
    remedy = f"write {' or '.join(readings)}" if readings else "give 1 Hz to 30 GHz, with its unit"
    if where.remedy and not there:
        remedy = where.remedy
    raise BadValue(value, f"has no unit and lies in {where.words} {rule}", remedy)


def hz(value: Any, place: str, where: Where | None = None) -> int:
    """Return whole hertz from an int or text with its unit, or refuse it at its place; see `hz_of`.

    Parameters
    ----------
    where : Where or None. Where a number without a unit has to lie; None takes none.
    """
    return _at(place, lambda: hz_of(value, where=where))


def span_hz(value: Any, place: str, where: Where | None = None) -> tuple[int, int]:
    """Return the edges of a span in whole hertz, or refuse it at its place; see `span_hz_of` and `hz`."""
    return _at(place, lambda: span_hz_of(_with_unit(value, where)))


def db(value: Any, place: str, low: float = -MOST_DB, high: float = MOST_DB) -> float:
    """Return decibels from a number or text with its unit, or refuse it at its place; see `db_of`."""
    return _at(place, lambda: db_of(value, low=low, high=high))


def region(text: str, place: str) -> int:
    """Return an ITU region as somebody typed it, ``1`` to ``3`` or ``europe``, or refuse it at its place."""
    word = text.strip().lower().replace("-", " ")
    if word in ("1", "2", "3"):
        return int(word)
    if word not in REGION_WORDS:
        remedy = f"give 1, 2, 3 or one of {', '.join(REGION_WORDS)}"
        raise Refused(BadValue(text, "is not an ITU region", remedy).at(place))
    return REGION_WORDS[word]


def typed_db(text: str, place: str) -> float:
    """Return decibels as somebody typed them, ``12`` or ``12 dB``, or refuse them at their place."""
    stripped = text.strip()
    try:
        return parse_db(f"{stripped} dB" if stripped[-1:].isdigit() else stripped)
    except BadValue as bad:
        raise Refused(BadValue(text, bad.rule, "write it as 12 or 12 dB").at(place)) from None


def dbm(value: Any, place: str, low: float = -MOST_DBM, high: float = MOST_DBM) -> float:
    """Return dBm from a number or text with its unit, or refuse it at its place; see `dbm_of`."""
    return _at(place, lambda: dbm_of(value, low=low, high=high))


def generator_dbm(value: Any, place: str) -> float:
    """Return a generator level in dBm, or refuse it at its place; see `generator_dbm_of`."""
    return _at(place, lambda: generator_dbm_of(value))


def as_path(value: object, place: str = "path") -> str:
    """Return the text of a path.

    Raises
    ------
    Refused  naming the place, for what is neither text nor a path.
    """
    if isinstance(value, str | os.PathLike):
        text = os.fspath(value)
        if isinstance(text, str):
            return text
    raise Refused(Fault(place, "is not a path", str(value), "name a file, as text"))


def several(value: object) -> TypeGuard[Iterable[Any]]:
    """Return whether something is a list of things, and not one: no text, nothing to look up in."""
    if isinstance(value, str | bytes | bytearray | Mapping) or not isinstance(value, Iterable):
        return False
    return getattr(value, "ndim", 1) > 0


def flag_faults(value: object, place: str) -> list[Fault]:
    """Return the fault of what is neither True nor False, or nothing."""
    if isinstance(value, bool):
        return []
    return [Fault(place, "is neither yes nor no", str(value), "give True or False")]


def checked_progress(value: object) -> None:
    """Pass for something that can be called, or None.

    Raises
    ------
    Refused  for anything else.
    """
    if value is not None and not callable(value):
        remedy = "give a function of (done, in all), or leave it out"
        raise Refused(Fault("progress", "can not be called", text_of(value), remedy))


# --- numbers as text ----------------------------------------------------------------------------


def s_text(dbm: float, frequency_hz: float) -> str:
    """Return a level in whole S units, "S5", "S9" or "S9+12".

    Parameters
    ----------
    dbm : float. Level at the terminals, 50 ohm. [dBm]
    frequency_hz : float. Frequency of the signal it describes. [Hz]

    Notes
    -----
    Nearest S unit below S9, nearest decibel above; nothing is written below S0.
    """
    above_s9_db = dbm - (S9_DBM if frequency_hz <= S_CHANGE_HZ else S9_HIGH_DBM)
    if above_s9_db >= 0.5:
        return f"S9+{math.floor(above_s9_db + 0.5)}"
    return f"S{max(0, math.floor(9.5 + above_s9_db / DB_PER_S))}"


# Below this people write kilohertz, and a station may well stand on half of one.
KILOHERTZ_BELOW_HZ = 1_800_000


def hz_text(hz: int) -> str:
    """Return a frequency exactly, in the unit the trade would use: "465 kHz", "14.2 MHz".

    Notes
    -----
    Hertz below 1 kHz, kilohertz below 1.8 MHz, megahertz above; never rounded.
    """
    size = abs(hz)
    if size < 1_000:
        return f"{hz} Hz"
    exponent, unit = (3, "kHz") if size < KILOHERTZ_BELOW_HZ else (6, "MHz")
    return f"{decimal_text(hz, exponent)} {unit}"


def near_hz(hz: float) -> int:
    """Return a frequency as near as a dial is read: to 1 kHz, below 1.8 MHz to 0.1 kHz. [Hz]"""
    step = 100 if abs(hz) < KILOHERTZ_BELOW_HZ else 1_000
    return math.floor(hz / step + 0.5) * step


def dial_text(hz: int) -> str:
    """Return a frequency for the eye, as near as a dial is read; hertz below 1 kHz."""
    return hz_text(hz if abs(hz) < 1_000 else near_hz(hz))


def decimal_text(value: int, exponent: int, places: int = 0) -> str:
    """Return ``value / 10**exponent`` exactly in decimals.

    Parameters
    ----------
    value : int.
    exponent : int, 0 or more.
    places : int. Decimals to keep even where they are zeros.
    """
    whole, rest = divmod(abs(value), 10**exponent)
    fraction = f"{rest:0{exponent}d}".rstrip("0").ljust(places, "0") if exponent else ""
    return ("-" if value < 0 else "") + str(whole) + (f".{fraction}" if fraction else "")


def share_text(share: float) -> str:
    """Return a part of one in whole percent, "95 %"; what is not quite all or none does not read as that."""
    if share in (0.0, 1.0):
        return f"{100 * share:.0f} %"
    if share < 0.005:
        return "under 1 %"
    return "over 99 %" if share >= 0.995 else f"{100 * share:.0f} %"


def part_text(share: float, of: str = "it") -> str:
    """Return a part of something within a sentence, "95 % of it"; what is exactly none or all reads so.

    Parameters
    ----------
    of : str. What it is a part of; "" where that goes without saying.
    """
    what = {0.0: "none", 1.0: "all"}.get(share, share_text(share))
    return f"{what} of {of}" if of else what


def share_span_text(low: float, high: float) -> str:
    """Return the span of a part of one in whole percent, "92 to 98 %"; "" where both are the same."""
    ends = [f"{100 * share:.0f}" for share in (low, high)]
    return "" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]} %"


def listed_text(names: Sequence[str], word: str = "and") -> str:
    """Return names as a list within a sentence, "a, b and c"; one or more of them."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {word} {names[-1]}"


def whole_percent_text(share: float) -> str:
    """Return a part of one in whole percent, "94"; what is not quite all or none is ">99" or "<1"."""
    if share in (0.0, 1.0):
        return f"{100 * share:.0f}"
    if share < 0.005:
        return "<1"
    return ">99" if share >= 0.995 else f"{100 * share:.0f}"


def percent_text(share: float) -> str:
    """Return a part of one in percent, "76.1"; what is not quite all or none does not read as that."""
    return f"{100 * share:.0f}" if share in (0.0, 1.0) else f"{min(max(100 * share, 0.1), 99.9):.1f}"
