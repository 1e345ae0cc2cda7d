"""Where the set stands, which month, how many sunspots: as people write them.

References
----------
[1] IARU Region 1, VHF Managers' Handbook, the locator (from memory): two letters, two digits, and again.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from spurplan.errors import BadValue, did_you_mean
from spurplan.units import parse_signed_decimal

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
TYPICAL_SUNSPOTS = 70.0
MOST_SUNSPOTS = 300.0

_LOCATOR = re.compile(r"([A-R]{2})([0-9]{2})(?:([A-X]{2})([0-9]{2})?)?", re.IGNORECASE)
_ANGLE = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*°?\s*([NSEW]?)", re.IGNORECASE)
_FORMS = "write degrees as 52N,5E or 52.1,5.2 (north and east positive), or a locator of 4 to 8 characters"


@dataclass(frozen=True)
class Place:
    """A place on the Earth.

    Attributes
    ----------
    lat, lon : float. North and east positive; of a locator, the middle of its field. [deg]
    """

    lat: float
    lon: float

    def __str__(self) -> str:
        north = f"{_degrees(self.lat)}{'N' if self.lat >= 0 else 'S'}"
        return f"{north},{_degrees(self.lon)}{'E' if self.lon >= 0 else 'W'}"


def _degrees(angle: float) -> str:
    return f"{abs(angle):.2f}".rstrip("0").rstrip(".")


def parse_place(text: str) -> Place:
    """Return the place in "52N,5E", "52,5", "33.9S 151.2E" or a locator.

    Raises
    ------
    BadValue  when it is none of these, or lies off the Earth.
    """
    written = text.strip()
    if written[:1].isalpha() and not re.search(r"[,\s]", written):
        return _located(text, written)
    parts = [part for part in re.split(r"\s*,\s*|\s+", written) if part]
    angles = [_ANGLE.fullmatch(part) for part in parts]
    if len(parts) != 2 or not all(angles):
        raise BadValue(text, "is not a place", _FORMS)
    (lat_text, lat_side), (lon_text, lon_side) = ((m[1], m[2].upper()) for m in angles if m)
    if lat_side in ("E", "W") or lon_side in ("N", "S"):
        raise BadValue(text, "gives the longitude first", "give the latitude first, as 52N,5E")
    lat = _signed(text, lat_text, lat_side == "S", bool(lat_side))
    lon = _signed(text, lon_text, lon_side == "W", bool(lon_side))
    if abs(lat) > 90:
        raise BadValue(
            text, "lies beyond a pole", "give a latitude from 90S to 90N first, then the longitude"
        )
    if abs(lon) > 180:
        raise BadValue(text, "has a longitude above 180 degrees", "give one from 180W to 180E")
    return Place(lat, lon)


def _signed(text: str, digits: str, negative: bool, lettered: bool) -> float:
    if lettered and digits[0] in "+-":
        raise BadValue(text, "has a sign and a letter", "give one of them: -5 or 5W")
    value = float(digits)
    return -value if negative else value


def _located(text: str, written: str) -> Place:
    parts = _LOCATOR.fullmatch(written)
    if not parts:
        rule = "is not a locator of 4, 6 or 8 characters"
        raise BadValue(text, rule, "write two letters A to R, two digits, two letters A to X, two digits")
    field, square, letters, digits = parts.groups()
    lon, lat = -180.0, -90.0
    # each pair of characters divides the last cell: longitude first; a field is 20 by 10 degrees
    width, height = 20.0, 10.0
    lon += (ord(field[0].upper()) - ord("A")) * width
    lat += (ord(field[1].upper()) - ord("A")) * height
    for pair, cells, first in ((square, 10, "0"), (letters, 24, "A"), (digits, 10, "0")):
        if pair:
            width, height = width / cells, height / cells
            lon += (ord(pair[0].upper()) - ord(first)) * width
            lat += (ord(pair[1].upper()) - ord(first)) * height
    return Place(lat + height / 2, lon + width / 2)


def parse_month(text: str) -> int:
    """Return a month, 1 to 12, given as a number or by the first three or more letters of its name.

    Raises
    ------
    BadValue  when it is none.
    """
    word = text.strip().lower()
    if re.fullmatch(r"[0-9]{1,2}", word, re.ASCII):
        if 1 <= int(word) <= 12:
            return int(word)
        raise BadValue(text, "is not a month from 1 to 12", "give one, or its name")
    named = [number for number, name in enumerate(MONTHS, 1) if name.lower().startswith(word)]
    if len(word) >= 3 and len(named) == 1:
        return named[0]
    raise BadValue(text, "is not a month", did_you_mean(word.capitalize(), MONTHS))


def parse_sunspots(text: str) -> float:
    """Return a sunspot number smoothed over twelve months, 0 to 300.

    Raises
    ------
    BadValue  when it is none.
    """
    value = parse_signed_decimal(text.strip())
    if not 0 <= value <= MOST_SUNSPOTS:
        raise BadValue(text, f"is not a sunspot number from 0 to {MOST_SUNSPOTS:g}", "70 is usual")
    return value
