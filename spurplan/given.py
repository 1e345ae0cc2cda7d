"""Arguments of library calls as what they must be: a path, a number, a yes or no."""

from __future__ import annotations

import operator
import os
from collections.abc import Iterable, Mapping
from typing import Any, TypeGuard

from spurplan.errors import Fault, Refused, text_of


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


def as_whole(value: object) -> int | None:
    """Return an integer of any kind, numpy's too, as Python's own; None for what is none, or a bool."""
    if isinstance(value, bool):
        return None
    try:
        return operator.index(value)  # type: ignore[arg-type]
    except TypeError:
        return None


def checked_progress(value: object) -> None:
    """Pass for something that can be called, or None.

    Raises
    ------
    Refused  for anything else.
    """
    if value is not None and not callable(value):
        remedy = "give a function of (done, in all), or leave it out"
        raise Refused(Fault("progress", "can not be called", text_of(value), remedy))


def is_number(value: object) -> TypeGuard[float]:
    """Return whether something is a plain number: an int or a float, no text, no bool, no array."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def flag_faults(value: object, place: str) -> list[Fault]:
    """Return the fault of what is neither True nor False, or nothing."""
    if isinstance(value, bool):
        return []
    return [Fault(place, "is neither yes nor no", str(value), "give True or False")]
