"""A dial setting as people say it: with its unit, or bare where the set's ranges leave one meaning."""

from __future__ import annotations

import re
from collections.abc import Sequence

from spurplan import units
from spurplan.errors import BadValue

_BARE = re.compile(r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+")


def parse_dial_hz(text: str, coverage_hz: Sequence[tuple[int, int]]) -> int:
    """Return a dial setting in hertz.

    Parameters
    ----------
    text : str. With a unit, as `units.parse_hz` takes it, or a bare number.
    coverage_hz : low and high edge of each range of the set, edges included. [Hz]

    Raises
    ------
    BadValue  as `units.parse_hz`; for a bare number also when both its kHz and
        its MHz reading lie in the ranges, or neither does. Whether a setting
        with a unit lies in the ranges is for the caller to say.
    """
    said = text.strip()
    if not _BARE.fullmatch(said):
        return units.parse_hz(text)
    readings = [f"{said} kHz", f"{said} MHz"]
    inside = [hz for reading in readings if (hz := _covered(reading, coverage_hz)) is not None]
    if len(inside) == 1:
        return inside[0]
    if inside:
        raise BadValue(
            text,
            "has no unit and is a setting of this set in kHz and in MHz",
            f"write {readings[0]} or {readings[1]}",
        )
    raise BadValue(
        text,
        "has no unit and lies in no range of this set, in kHz or in MHz",
        "write its unit; the ranges are "
        + ", ".join(f"{units.hz_text(low)} to {units.hz_text(high)}" for low, high in coverage_hz),
    )


def _covered(reading: str, coverage_hz: Sequence[tuple[int, int]]) -> int | None:
    """Return the reading in hertz when it is a frequency inside one of the ranges."""
    try:
        hz = units.parse_hz(reading)
    except BadValue:
        return None
    return hz if any(low <= hz <= high for low, high in coverage_hz) else None
