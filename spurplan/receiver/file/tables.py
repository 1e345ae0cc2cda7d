"""A description as the tables of a receiver file: what was given, in text with its unit.

What is left to default stays left out, so that a file written and read back
still says which figures nobody gave.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

from spurplan.receiver.description import Mixer, Receiver
from spurplan.receiver.description.quantities import decimal
from spurplan.schema import Description, toml_path
from spurplan.units import hz_text

_PAIRS = {"coverage", "passband"}
# what belongs to the question and not to the set
_OF_THE_HOUR = {"atmospheric"}
_TEXT_BY_UNIT: dict[str, Callable[[Any], str]] = {
    "_hz": hz_text,
    "_db": lambda db: f"{decimal(db)} dB",
    "_pf": lambda pf: f"{decimal(pf)} pF",
    "_uh": lambda uh: f"{decimal(uh)} uH",
}


def receiver_tables(receiver: Receiver, folder: str = "") -> dict[str, Any]:
    """Return the tables of the file that describes a receiver.

    Parameters
    ----------
    receiver : Receiver.
    folder : str. Folder of the file; what it names stands relative to it.

    Returns
    -------
    dict of plain values: text, numbers, lists and dicts, keys in their usual order.
    """
    return tables(receiver, folder)


def tables(part: Description, folder: str) -> dict[str, Any]:
    """Return one part of a description as the table of a receiver file."""
    out: dict[str, Any] = {}
    for name in type(part).keys:
        value = getattr(part, name)
        if name not in part.given or value is None or name in _OF_THE_HOUR:
            continue
        key = str(toml_path(type(part), name)[0])
        if key in _PAIRS:
            out.setdefault(key, []).append(hz_text(value))
        elif name in ("path", "table"):
            if value:
                out[key] = relative(value, folder)
        elif name == "products":
            out[key] = [[p, q, f"{decimal(db)} dB"] for p, q, db in value]
        elif name in ("points", "table_rows"):
            out.setdefault(key, _rows(name, value))
        elif value != () or name in ("front_end", "selectivity", "filter"):
            out[key] = _plain(type(part), name, value, folder)
    return out


def _rows(name: str, rows: tuple[tuple[Any, ...], ...]) -> list[list[Any]]:
    if name == "points":
        return [[hz_text(hz), f"{decimal(db)} dB"] for hz, db in rows]
    return [[lo, rf, f"{decimal(db)} dB", f"{decimal(dbm)} dBm"] for lo, rf, db, dbm in rows]


def _plain(model: type[Description], name: str, value: Any, folder: str) -> Any:
    if isinstance(value, Description):
        return tables(value, folder)
    if name == "noise":
        return [[hz_text(hz), f"{decimal(dbm)} dBm"] for hz, dbm in value]
    if name == "q" and isinstance(value, tuple):
        return [[hz_text(hz), number(q)] for hz, q in value]
    if isinstance(value, tuple):
        unit = name if name[-3:] in _TEXT_BY_UNIT else ""
        return [_plain(model, unit, item, folder) for item in value]
    # figures of a mixer stand as numbers: a column of them reads better so
    if name[-3:] in _TEXT_BY_UNIT and model is not Mixer:
        return _TEXT_BY_UNIT[name[-3:]](value)
    return number(value) if isinstance(value, float) else value


def number(value: float) -> int | float:
    """Return a float as an integer where it is one: 55 reads better than 55.0."""
    return int(value) if value.is_integer() else value


def relative(path: str, folder: str) -> str:
    """Return a path as seen from the folder of the receiver file, with forward slashes."""
    try:
        return os.path.relpath(path, folder or ".").replace(os.sep, "/")
    except ValueError:  # another drive
        return path
