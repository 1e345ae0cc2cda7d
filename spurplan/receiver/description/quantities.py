"""What a key of a receiver file may hold: quantities with their units and limits, and lists of them.

From a receiver file a quantity has to be text with its unit: a bare 465 may be
kilohertz or hertz. From Python a number is taken too, in the unit of the
attribute's name.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import Any

from spurplan.errors import BadValue, did_you_mean
from spurplan.place import parse_place
from spurplan.receiver.listener import WANTED_WORDS
from spurplan.schema import Choice, Count, Kind, ListOf, Number, Quantity, Reading, Row
from spurplan.schema_faults import Path
from spurplan.units import (
    Level,
    count_of,
    db_of,
    dbm_of,
    hz_of,
    hz_text,
    level_of,
    microhenries_of,
    picofarads_of,
    signed_hz_of,
    volts_of,
)

# The forms that editors are told of; what is taken is decided by `units`.
_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_FREQUENCY = r"^\s*([0-9]*\.?[0-9]+\s*([kKmMgG]?[hH][zZ]|[kKMgG])|[0-9]+[kKmMgG][0-9]+)\s*$"
_LEVEL = rf"^\s*({_NUMBER}\s*[dD][bB][mM]|[sS]\s*[0-9](\s*\+\s*[0-9.]+\s*([dD][bB])?)?)\s*$"
_SIGNED_FREQUENCY = r"^\s*[+-]?\s*" + _FREQUENCY[4:]
_DB = rf"^\s*{_NUMBER}\s*[dD][bB]\s*$"


def wanted_of(value: Any, needs_unit: bool = False) -> str:
    """Return how strong a wanted signal is, in words or as a level, as text.

    Raises
    ------
    BadValue  for what is neither.
    """
    if isinstance(value, str) and value.strip().lower() in WANTED_WORDS:
        return value.strip().lower()
    try:
        level = level_of(value, needs_unit)
        text = value.strip() if isinstance(value, str) else f"{decimal(level.dbm_low)} dBm"
        level_of(text)  # a number may be no level of any signal
    except BadValue as bad:
        remedy = f"write weak, fair or good, or a level as S5 or -102 dBm{_nearest(str(value))}"
        raise BadValue(bad.value, "is neither a word nor a level", remedy) from None
    return text


def level_text_of(value: Any, needs_unit: bool = False) -> str:
    """Return a level as text; S units stay open until the frequency is known.

    Raises
    ------
    BadValue  for what is none.
    """
    level = level_of(value, needs_unit)
    return value.strip() if isinstance(value, str) else f"{decimal(level.dbm_low)} dBm"


def place_of(value: Any, needs_unit: bool = False) -> str:
    """Return a place as it was written.

    Raises
    ------
    BadValue  for what is none.
    """
    if not isinstance(value, str):
        raise BadValue(value, "is not a place as text", 'write it in quotes, as "52N,5E"')
    parse_place(value)
    return value.strip()


def _nearest(word: str) -> str:
    near = did_you_mean(word.strip().lower(), WANTED_WORDS)
    return f" ({near})" if near.startswith("did") else ""


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


def _form(pattern: str, *examples: str) -> dict[str, Any]:
    return {"type": "string", "pattern": pattern, **({"examples": list(examples)} if examples else {})}


def decibels(low: float, high: float) -> Quantity:
    """Return the kind of decibels from `low` to `high`."""
    return Quantity(partial(db_of, low=low, high=high), _form(_DB, "20 dB"))


def _figure(read: Callable[[Any], float], units: str) -> Quantity:
    """A figure of a mixer may go without its unit: a column of them reads better without it repeated."""
    form = {"type": ["number", "string"], "pattern": rf"^\s*{_NUMBER}\s*{units}\s*$"}
    return Quantity(lambda value, needs_unit: read(value), form)


HZ = Quantity(hz_of, _form(_FREQUENCY, "14.2 MHz", "465 kHz"))
SIGNED_HZ = Quantity(signed_hz_of, _form(_SIGNED_FREQUENCY, "1 kHz", "-500 Hz"))
# Wide limits: they catch a slip of the pen, they do not judge a set.
GAIN_DB = decibels(-200.0, 200.0)
LOSS_DB = decibels(0.0, 300.0)
NOISE_FIGURE_DB = decibels(0.0, 60.0)
LEVEL = Quantity(level_of, _form(_LEVEL, "S6", "S9+20", "-97 dBm"))
LEVEL_TEXT = Quantity(level_text_of, _form(_LEVEL, "-13 dBm", "S9+60"))
# below it nothing is a resonance any more, and arithmetic gives out
LOADED_Q = Number(0.01, 1e6, minimum=0.01)
WANTED = Quantity(wanted_of, {"type": "string", "examples": [*WANTED_WORDS, "S5", "-102 dBm"]})
PLACE = Quantity(place_of, {"type": "string", "examples": ["52N,5E", "52.1,5.2", "JO22"]})
SHAPE_FACTOR = Number(1, 1000.0, above=True)
COUPLING = Number(0, 100.0, above=True)
EXPONENT = Number(0.0, 1000.0)
FIGURE_DB = _figure(db_of, "[dD][bB]")
FIGURE_DBM = _figure(dbm_of, "[dD][bB][mM]")
FIGURE_VOLTS = _figure(volts_of, "m?V")
PICO_FARADS = Quantity(picofarads_of, _form(rf"^\s*{_NUMBER}\s*[pn]F\s*$"))
MICRO_HENRIES = Quantity(microhenries_of, _form(rf"^\s*{_NUMBER}\s*([uµμ]|m|n)H\s*$"))
REGION = Quantity(lambda value, needs_unit: count_of(value, 1, 3), {"enum": [1, 2, 3]})
HARMONIC = Count(1, 9, minimum=1)
MULTIPLIER = Count(1, 99, minimum=1)
MULTIPLIER_CIRCUITS = Count(0, 4)
ORDER = Count(1, 20, minimum=1)
# 0 stands for the direct way through the mixer, as in lo = 0
PRODUCT_ORDER = Count(0, 50)
SIGNED_ORDER = Count(-50, 50)

_Q_REMEDY = 'write a number, or pairs as [["3.5 MHz", 80], ["28 MHz", 40]]'
_DB_REMEDY = 'write pairs, as [["3.5 MHz", "0 dB"], ["28 MHz", "40 dB"]]'
_NOISE_REMEDY = 'write pairs, as [["3.5 MHz", "S6"], ["28 MHz", "S2"]]'
_Q_INTERVAL_REMEDY = "write both ends, as [52, 61]"
_DB_INTERVAL_REMEDY = 'write both ends, as ["64 dB", "67 dB"]'
Q_INTERVAL = Row((LOADED_Q, LOADED_Q), _Q_INTERVAL_REMEDY)
DB_INTERVAL = Row((LOSS_DB, LOSS_DB), _DB_INTERVAL_REMEDY)
Q_POINTS = ListOf(Row((HZ, LOADED_Q), _Q_REMEDY), _Q_REMEDY, 1, 1000, ascending)
CURVE_POINTS = ListOf(Row((HZ, GAIN_DB), _DB_REMEDY), _DB_REMEDY, 1, 100_000, ascending)
NOISE_POINTS = ListOf(Row((HZ, LEVEL), _NOISE_REMEDY), _NOISE_REMEDY, 1, 1000, _in_dbm)


class OscillatorNoise(Kind):
    """The kind of an oscillator, by a word, or its noise as measured."""

    WORDS = ("lc", "crystal", "synthesiser")
    _REMEDY = 'write lc, crystal or synthesiser, or pairs as [["5 kHz", "-123 dB"], ["20 kHz", "-142 dB"]]'

    def __init__(self) -> None:
        self.words = Choice(self.WORDS)
        self.points = ListOf(Row((HZ, GAIN_DB), self._REMEDY), self._REMEDY, 1, 100, ascending)

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        return (self.words if isinstance(value, str) else self.points).read(value, path, reading)

    def form(self) -> dict[str, Any]:
        return {"anyOf": [self.words.form(), self.points.form()]}


OSCILLATOR_NOISE = OscillatorNoise()


def decimal(number: float) -> str:
    """Return a float in plain decimals that read back as the same float."""
    text = f"{Decimal(repr(float(number))):f}"
    return text.removesuffix(".0")
