"""Hertz, decibels, dBm and S units: read from text and written as text.

Frequencies become integer hertz by way of decimal digits alone: 0.1 + 0.2 has
no place in a sum that decides whether a station is inside a passband.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from spurplan.errors import BadValue

LOWEST_HZ = 1
HIGHEST_HZ = 30_000_000_000
S_CHANGE_HZ = 30_000_000
# Beyond this nobody measures and nobody transmits: 200 dBm are a hundred thousand million megawatts.
MOST_DBM = 200.0
S9_DBM = -73.0
S9_HIGH_DBM = -93.0
DB_PER_S = 6.0

# [0-9], not \d: \d and int() take the digits of every script.
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+")
_FREQUENCY = re.compile(r"([0-9.]+)\s*([A-Za-z]*)")
_LAST_UNIT = re.compile(r"[A-Za-z]+$")
_INFIX = re.compile(r"([0-9]+)([kKmMgG])([0-9]+)")
_SCALE = {"hz": 0, "khz": 3, "k": 3, "mhz": 6, "m": 6, "ghz": 9, "g": 9}
_DBM = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+))\s*dbm", re.IGNORECASE)
_DB = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+))\s*db", re.IGNORECASE)
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
    to millihertz.

    Raises
    ------
    BadValue  for a missing or unknown unit, a sign, an exponent, a decimal
        comma, more than 1 Hz resolution, or outside 1 Hz to 30 GHz.
    """
    said = text.strip()
    infix = _INFIX.fullmatch(said)
    if infix:
        digits, unit = f"{infix[1]}.{infix[3]}", infix[2]
    else:
        match = _FREQUENCY.fullmatch(said)
        if not match:
            raise BadValue(text, "is not a frequency", _frequency_remedy(said))
        digits, unit = match[1], match[2]
    if not unit:
        raise BadValue(text, "has no unit", f"write {digits} kHz or {digits} MHz")
    if unit.lower() not in _SCALE:
        raise BadValue(text, f"has an unknown unit {unit}", "use Hz, kHz, MHz or GHz")
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


def _frequency_remedy(said: str) -> str:
    if re.search(r"[0-9],[0-9]", said):
        return f"write decimals with a point, as {said.replace(',', '.')}"
    if said.startswith(("-", "+")):
        return "leave the sign out"
    return "write it as 14.2MHz, 14200 kHz or 465k"


def parse_signed_hz(text: str) -> int:
    """Return a frequency difference in hertz; a sign is allowed, and zero.

    Raises
    ------
    BadValue  as `parse_hz`, zero excepted.
    """
    said = text.strip()
    sign = -1 if said.startswith("-") else 1
    bare = said[1:].lstrip() if said[:1] in "+-" else said
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
    said = text.strip()
    match = _DBM.fullmatch(said)
    if match:
        dbm = float(match[1])
        return Level(_possible(dbm, text), dbm)
    match = _S.fullmatch(said)
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


def hz_text(hz: int) -> str:
    """Return a frequency exactly, in the unit the trade would use: "465 kHz", "14.2 MHz".

    Notes
    -----
    Hertz below 1 kHz, kilohertz below 1.8 MHz, megahertz above; never rounded.
    """
    size = abs(hz)
    if size < 1_000:
        return f"{hz} Hz"
    exponent, unit = (3, "kHz") if size < 1_800_000 else (6, "MHz")
    return f"{decimal_text(hz, exponent)} {unit}"


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


def percent_text(share: float) -> str:
    """Return a part of one in percent, "76.1"; what is not quite all or none does not read as that."""
    return f"{100 * share:.0f}" if share in (0.0, 1.0) else f"{min(max(100 * share, 0.1), 99.9):.1f}"
