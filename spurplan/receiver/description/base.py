"""What all parts of a description share.

Attributes carry the unit in their name; the keys of the receiver file are the
aliases, or hold several attributes at once (`packed`).
"""

from __future__ import annotations

from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict

from spurplan.receiver.description.quantities import Loaded, NotAPair
from spurplan.receiver.wrong import Inconsistent, Wrong

Packed = dict[str, tuple[str | int, ...]]


class Description(BaseModel):
    """What all parts of a description share: frozen, strict, no unknown keys, no nan."""

    model_config = ConfigDict(
        frozen=True,
        strict=True,
        extra="forbid",
        allow_inf_nan=False,
        populate_by_name=True,
        protected_namespaces=(),
        defer_build=True,
    )

    packed: ClassVar[Packed] = {}
    """Attributes that the receiver file holds inside another key, and where in it."""


def toml_path(model: type[Description], name: str) -> tuple[str | int, ...]:
    """Return the key of the receiver file for an attribute or alias of a description."""
    if name in model.packed:
        return model.packed[name]
    field = model.model_fields.get(name)
    return (name if field is None else field.alias or name,)


def toml_keys(model: type[Description]) -> list[str]:
    """Return the keys that a table of the receiver file may have, in their order."""
    return list(dict.fromkeys(str(toml_path(model, name)[0]) for name in model.model_fields))


def unpacked(data: Any, key: str) -> Any:
    """Return the data of a table with its pair `key` as low_hz and high_hz."""
    if not isinstance(data, dict) or key not in data:
        return data
    rest = {name: value for name, value in data.items() if name != key}
    pair = data[key]
    if isinstance(pair, list | tuple) and len(pair) == 2:
        return {**rest, "low_hz": pair[0], "high_hz": pair[1]}
    return {**rest, "low_hz": NotAPair(pair)}


def with_rows(data: Any, key: str, name: str, rows: str) -> Any:
    """Return the data of a table with what `key` holds as a file's name and its rows."""
    if not isinstance(data, dict) or key not in data:
        return data
    held = data[key]
    if isinstance(held, Loaded):
        return {**{k: v for k, v in data.items() if k != key}, name: held.path, rows: held.rows}
    if isinstance(held, list | tuple):
        return {**{k: v for k, v in data.items() if k != key}, name: "", rows: held}
    return data


def raise_if(wrongs: list[Wrong]) -> None:
    """Raise `Inconsistent` where anything is wrong."""
    if wrongs:
        raise Inconsistent(wrongs)
