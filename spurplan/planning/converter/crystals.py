"""Crystals: a list of what is in the drawer, single ones, and every one on a step.

A crystal is marked with the frequency it is meant to run on: its fundamental, or
its third or fifth overtone. The stage behind it may multiply that.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib.resources import files

from spurplan.csvfile import Cells, FaultList, left_alone, read_csv
from spurplan.errors import BadValue, Fault, Refused, did_you_mean
from spurplan.files import read_shipped
from spurplan.units import headed_hz, hz_text, parse_decimal

SHIPPED = "stock_crystals.csv"
MODES = ("fundamental", "3rd", "5th")
# A multiplier stage gives less with every step and lets more of the others through;
# an overtone crystal starts high enough to need fewer. Common practice.
MOST_TIMES = {"fundamental": 4, "3rd": 3, "5th": 3}
# Commodity parts are sold with 20 to 50 ppm calibration; from memory.
USUAL_PPM = 50.0
MOST_PPM = 1_000.0
# Where one kind of blank gives way to the next: makers' limits overlap from 18 to 30
# and from 50 to 90 MHz.
FUNDAMENTAL_TO_HZ = 30_000_000
THIRD_TO_HZ = 75_000_000
# The lowest and the highest that is cut to order without asking for a price first: about where
# makers' lists of fundamentals begin and those of seventh overtones do. Common practice.
LEAST_ORDERED_HZ = 1_000_000
MOST_ORDERED_HZ = 125_000_000

# Above this no quartz is cut: seventh overtones end near 200 MHz, etched fundamentals near 400.
# Common practice. A kilohertz figure in a column of megahertz lies beyond it.
HIGHEST_CRYSTAL_HZ = 500_000_000

_FREQUENCY = {"freq_mhz": 6, "freq_khz": 3, "freq_hz": 0}
COLUMNS = (*_FREQUENCY, "mode", "tolerance_ppm")
_WORDS = {
    "fundamental": ("fundamental", "f", "1", "1st"),
    "3rd": ("3rd", "3", "third", "3rd overtone", "third overtone"),
    "5th": ("5th", "5", "fifth", "5th overtone", "fifth overtone"),
}


@dataclass(frozen=True)
class Crystal:
    """One crystal.

    Attributes
    ----------
    frequency_hz : int. As marked, the overtone where it is one. [Hz]
    mode : str. "fundamental", "3rd" or "5th".
    tolerance_ppm : float or None. None where nobody said. [parts per million]
    note : str.
    listed : bool. Whether it is on a list, or would be cut to a step.
    at_hand : bool. Whether it lies in the asker's drawer: there is nothing to order.
    """

    frequency_hz: int
    mode: str
    tolerance_ppm: float | None = None
    note: str = ""
    listed: bool = True
    at_hand: bool = False

    @property
    def most_times(self) -> int:
        """How often its frequency may be multiplied."""
        return MOST_TIMES[self.mode]

    @property
    def ppm(self) -> float:
        """The tolerance, the usual one where nobody said. [parts per million]"""
        return USUAL_PPM if self.tolerance_ppm is None else self.tolerance_ppm


def usual_mode(frequency_hz: int) -> str:
    """Return the mode in which a crystal of a frequency is usually cut.

    References
    ----------
    [1] Limits of two crystal makers: fundamental to 29 and 30 MHz, third overtone
        18 to 75 and 25 to 90 MHz, fifth 50 to 120 and 60 to 150 MHz.
    """
    if frequency_hz <= FUNDAMENTAL_TO_HZ:
        return "fundamental"
    return "3rd" if frequency_hz <= THIRD_TO_HZ else "5th"


def single(frequency_hz: int) -> Crystal:
    """Return a crystal of which only the frequency is known."""
    return Crystal(frequency_hz, usual_mode(frequency_hz))


def read_stock(path: str | os.PathLike[str]) -> tuple[Crystal, ...]:
    """Read a list of crystals.

    Parameters
    ----------
    path : path of a CSV file with a column freq_mhz (or freq_khz, freq_hz) and,
        where known, mode (fundamental, 3rd, 5th), tolerance_ppm and note; other
        columns are left alone. An empty mode is the usual one for the frequency.

    Raises
    ------
    Refused  with every fault.
    """
    return read_stock_and_unread(path)[0]


def read_stock_and_unread(path: str | os.PathLike[str]) -> tuple[tuple[Crystal, ...], list[str]]:
    """Return the crystals of `read_stock`, and what to say of columns that nothing reads."""
    cells = read_csv(path, known=COLUMNS)
    return _crystals(cells), left_alone(cells.name, cells.others)


def shipped_stock() -> tuple[Crystal, ...]:
    """Return the common crystals that come with the package."""
    return _crystals(read_csv(SHIPPED, data=read_shipped(files("spurplan") / "data" / SHIPPED)))


def _crystals(cells: Cells) -> tuple[Crystal, ...]:
    faults = FaultList()
    column = _frequency_column(cells)
    exponent = _FREQUENCY[column]
    frequencies = cells.parsed(column, lambda text: _marked_hz(text, exponent), faults)
    count = len(cells)
    modes = cells.parsed("mode", _mode, faults) if "mode" in cells.columns else [None] * count
    named = "tolerance_ppm" in cells.columns
    tolerances = cells.parsed("tolerance_ppm", _ppm, faults) if named else [None] * count
    notes = cells.columns.get("note", [""] * count)
    faults.check()
    return tuple(
        Crystal(hz, mode or usual_mode(hz), ppm, note)
        for hz, mode, ppm, note in zip(frequencies, modes, tolerances, notes, strict=True)
    )


def _marked_hz(text: str, exponent: int) -> int:
    hz = headed_hz(text, exponent)
    if hz > HIGHEST_CRYSTAL_HZ:
        rule = f"is no crystal: {hz_text(hz)} is above {hz_text(HIGHEST_CRYSTAL_HZ)}"
        raise BadValue(text, rule, "give it in the unit that the column's name says")
    return hz


def _frequency_column(cells: Cells) -> str:
    given = [name for name in _FREQUENCY if name in cells.columns]
    if len(given) != 1:
        rule = "has no column freq_mhz" if not given else f"has both {given[0]} and {given[1]}"
        raise Refused(Fault(cells.name, rule, remedy="name the column with the frequencies freq_mhz"))
    return given[0]


def _mode(text: str) -> str | None:
    if not text:
        return None
    for mode, words in _WORDS.items():
        if text.lower() in words:
            return mode
    remedy = did_you_mean(text.lower(), MODES)
    raise BadValue(text, "is not a mode of a crystal", remedy)


def _ppm(text: str) -> float | None:
    if not text:
        return None
    remedy = "crystals have 5 to 100 parts per million"
    try:
        ppm = parse_decimal(text)
    except BadValue as bad:
        raise BadValue(text, bad.rule, f"{bad.remedy}; {remedy}" if bad.remedy else remedy) from None
    if ppm > MOST_PPM:
        raise BadValue(text, f"is more than {MOST_PPM:,.0f} ppm: no crystal is that far off", remedy)
    return ppm


def on_step(step_hz: int, spans: Iterable[tuple[int, int]], most: int) -> tuple[Crystal, ...]:
    """Return the crystals to order: every multiple of a step that injects into given spans.

    Parameters
    ----------
    step_hz : int, above 0. [Hz]
    spans : (low, high) of what would be injected, overlaps allowed. [Hz]
    most : int. How many are too many.

    Returns
    -------
    tuple of Crystal, ascending, `listed` False. What lies above the highest crystal
        that is cut comes from the nearest lower one that reaches it multiplied.

    Raises
    ------
    Refused  when there would be more than `most`.
    """
    low_number = -(-LEAST_ORDERED_HZ // step_hz)
    numbers: set[int] = set()
    for low, high in spans:
        for times in range(1, max(MOST_TIMES.values()) + 1):
            first = max(-(-low // (times * step_hz)), low_number)
            last = min(high // times, MOST_ORDERED_HZ) // step_hz
            if times > 1:
                # below this one fewer multiplications do
                first = max(first, MOST_ORDERED_HZ * (times - 1) // times // step_hz + 1)
            if last - first + 1 + len(numbers) > most:
                raise Refused(
                    Fault(
                        "--step",
                        f"gives more than {most:,} crystals",
                        f"{step_hz} Hz",
                        "take a coarser step, a narrower cover, or one range with --range",
                    )
                )
            numbers.update(range(first, last + 1))
    return tuple(
        Crystal(k * step_hz, usual_mode(k * step_hz), None, "", listed=False) for k in sorted(numbers)
    )


def together(lots: Sequence[Sequence[Crystal]]) -> tuple[Crystal, ...]:
    """Return several lots as one, in their order; a frequency that comes again is left out."""
    seen: dict[int, Crystal] = {}
    for lot in lots:
        for crystal in lot:
            seen.setdefault(crystal.frequency_hz, crystal)
    return tuple(seen.values())
