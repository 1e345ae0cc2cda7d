"""Intermediate frequencies in common use, and the filters that are made for them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files as shipped_files

from spurplan.csvfile import FaultList, read_csv
from spurplan.files import read_shipped
from spurplan.units import headed_hz

SHIPPED = "usual_ifs.csv"
# A filter is made for its frequency: beside it by more than this it is of no use. Narrower than the
# step from 455 to 460 kHz and wider than from 10.7 to 10.695 MHz, which the same filters serve; our estimate.
NEAR_SHARE = 0.002


@dataclass(frozen=True)
class UsualIf:
    """One intermediate frequency that sets are built for.

    Attributes
    ----------
    if_hz : int. [Hz]
    used_in : str. Where it is used.
    filters : str. Filters made for it with their -6 dB bandwidths; "" for none known.
    widths_hz : (narrowest, widest) or None. Of those whose width is known. [Hz]
    source : str. Where that was read, or "from memory".
    """

    if_hz: int
    used_in: str
    filters: str
    widths_hz: tuple[int, int] | None
    source: str


@cache
def usual_ifs() -> tuple[UsualIf, ...]:
    """Return the usual intermediate frequencies, ascending."""
    cells = read_csv(SHIPPED, data=read_shipped(shipped_files("spurplan") / "data" / SHIPPED))
    faults = FaultList()
    frequencies = cells.parsed("if_khz", lambda text: headed_hz(text, 3), faults)
    faults.check()
    widths = (cells.columns[name] for name in ("narrowest_khz", "widest_khz"))
    spans = [
        (headed_hz(narrow, 3), headed_hz(wide, 3)) if narrow else None
        for narrow, wide in zip(*widths, strict=True)
    ]
    used_in, filters, source = (cells.columns[name] for name in ("used_in", "filters", "source"))
    rows = [UsualIf(*row) for row in zip(frequencies, used_in, filters, spans, source, strict=True)]
    return tuple(sorted(rows, key=lambda row: row.if_hz))


def usual_at(if_hz: int) -> UsualIf | None:
    """Return the usual IF on exactly this frequency, or None. [Hz]"""
    return next((row for row in usual_ifs() if row.if_hz == if_hz), None)


def filters_near(if_hz: int) -> tuple[UsualIf, ...]:
    """Return the usual IFs with known filters that could serve at a frequency, nearest first. [Hz]"""
    near = [row for row in usual_ifs() if row.filters and abs(row.if_hz - if_hz) <= NEAR_SHARE * if_hz]
    return tuple(sorted(near, key=lambda row: abs(row.if_hz - if_hz)))


def filter_made(if_hz: int, bandwidth_hz: int, factor: float) -> bool:
    """Whether a filter of about a width is made for an IF.

    Parameters
    ----------
    if_hz, bandwidth_hz : int. [Hz]
    factor : float. How many times wider or narrower it may be.
    """
    widths = [row.widths_hz for row in filters_near(if_hz) if row.widths_hz is not None]
    return any(low / factor <= bandwidth_hz <= high * factor for low, high in widths)


def usual_between(low_hz: int, high_hz: int, also: Iterable[int] = ()) -> tuple[int, ...]:
    """Return the usual IFs in a span, ascending, and some others. [Hz]"""
    inside = {row.if_hz for row in usual_ifs() if low_hz <= row.if_hz <= high_hz}
    return tuple(sorted(inside.union(also)))
