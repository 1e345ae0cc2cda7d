"""What every question takes: a set, band tables, frequencies, ranges, as whoever asks gives them."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import ParamSpec, TypeVar

import numpy as np

from spurplan.errors import BadValue, Fault, Refused
from spurplan.given import as_path
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.occupancy.levels import Levels, option_levels, read_levels, typical_levels
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.description import Range, Receiver
from spurplan.receiver.file.reading import read_receiver
from spurplan.responses.settings import Settings, not_a_name
from spurplan.units import checked_hz, checked_span, parse_hz, parse_span

ReceiverLike = Receiver | str | Path
SpanLike = tuple[int | str, int | str] | str
BandsLike = Bands | str | Path | Sequence[str | Path] | None


Asked = ParamSpec("Asked")
Answered = TypeVar("Answered")


def own_arithmetic(question: Callable[Asked, Answered]) -> Callable[Asked, Answered]:
    """Make a question work things out as it was tested, whatever its caller wants of numpy.

    Notes
    -----
    Skirts and sums of powers run out to where a float holds nothing more, and nothing is what is
    meant there; a caller's ``numpy.seterr(all="raise")`` is for the caller's own sums.
    """

    @functools.wraps(question)
    def answered(*args: Asked.args, **options: Asked.kwargs) -> Answered:
        with np.errstate(divide="warn", over="warn", invalid="warn", under="ignore"):
            return question(*args, **options)

    return answered


def as_receiver(receiver: ReceiverLike) -> Receiver:
    """Return a receiver from itself or the path of its file."""
    return receiver if isinstance(receiver, Receiver) else read_receiver(as_path(receiver, "receiver"))


def as_bands(bands: BandsLike) -> Bands:
    """Return band tables from themselves, paths, or None for the shipped ones.

    Raises
    ------
    Refused  with the faults of the files; for a frequency, which is easily given in their place.
    """
    if isinstance(bands, Bands):
        return bands
    try:
        return read_bands(bands)
    except Refused:
        if isinstance(bands, str) and _is_frequency(bands):
            remedy = f'tables stand behind the receiver: give it by its name, as frequency="{bands}"'
            raise Refused(Fault("bands", "is a frequency and no band table", bands, remedy)) from None
        raise


def _is_frequency(text: str) -> bool:
    try:
        parse_hz(text)
    except BadValue:
        return False
    return True


def as_hz(value: int | str, place: str) -> int:
    """Return whole hertz from an int or text with its unit.

    Raises
    ------
    Refused  for a float, a bool, what is not within 1 Hz to 30 GHz, or text that is not a frequency.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | np.integer):
        remedy = "give whole hertz as an int, or text with its unit"
        raise Refused(Fault(place, "is not a frequency in whole hertz", str(value), remedy))
    try:
        return parse_hz(value) if isinstance(value, str) else checked_hz(int(value), value)
    except BadValue as bad:
        raise Refused(bad.at(place)) from None


def as_span(value: SpanLike, place: str) -> tuple[int, int]:
    """Return the edges of a span in whole hertz from "21MHz:21.45MHz" or a pair of edges.

    Raises
    ------
    Refused  for what is not two frequencies, the lower one first.
    """
    try:
        if isinstance(value, str):
            return parse_span(value)
        if isinstance(value, list | tuple) and len(value) == 2:
            low, high = (as_hz(edge, place) for edge in value)
            return checked_span(low, high, f"{value[0]}:{value[1]}")
        raise BadValue(value, "is not two edges", "write it as 21MHz:21.45MHz")
    except BadValue as bad:
        raise Refused(bad.at(place)) from None


def occupants_of(receiver: Receiver, bands: Bands, settings: Settings) -> Occupants:
    """Return who may be on the air for a receiver under some settings."""
    region = settings.region if settings.region is not None else receiver.region
    return bands.occupants(
        region=region,
        utc=settings.utc,
        day=settings.day,
        levels=_levels_asked(settings),
        antenna_gain_db=receiver.antenna_gain_db,
    )


def loudest_typical_dbm(receiver: Receiver) -> float:
    """Return the level, at its terminals, of a station that no table knows. [dBm]"""
    return typical_levels().loudest_dbm + receiver.antenna_gain_db


def _levels_asked(settings: Settings) -> Levels:
    """Return the levels asked for: single services over those of a file, where both are given."""
    if settings.levels is None:
        return settings.level or None
    table = read_levels(settings.levels)
    if not settings.level:
        return table
    single = option_levels(settings.level, tuple(table.services))
    assert isinstance(single, dict)
    return table.with_levels(single)


def picked_ranges(receiver: Receiver, name: str | None) -> tuple[Range, ...]:
    """Return the range of a name, or all.

    Raises
    ------
    Refused  when there is no such range; the names are listed.
    """
    if name is None:
        return receiver.ranges
    if not isinstance(name, str):
        raise Refused(not_a_name(name))
    picked = tuple(r for r in receiver.ranges if r.name == name)
    if not picked:
        known = ", ".join(f'"{r.name}"' for r in receiver.ranges)
        raise Refused(Fault("--range", "is no range of this set", name, f"it has {known}"))
    return picked
