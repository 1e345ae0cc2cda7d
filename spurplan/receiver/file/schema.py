"""JSON Schema of the receiver file, for editors that complete and check TOML."""

from __future__ import annotations

import inspect
from typing import Any

from spurplan.receiver.description import ELEMENTS, Receiver
from spurplan.receiver.description.base import Description, Key, toml_path

_TITLE = "Receiver file of spurplan"
_FILE_OR_ROWS = {
    "description": "A CSV file, named relative to this one, or the rows themselves.",
    "anyOf": [{"type": "string"}, {"type": "array"}],
}


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the TOML form.

    Returns
    -------
    dict, ready to be written as JSON. Quantities are text with a pattern for
    their unit; what only arithmetic can tell (a crystal against its IF, say)
    no schema can, and `read_receiver` does.
    """
    parts = sorted(_below(Receiver) | set(ELEMENTS.values()), key=lambda model: model.__name__)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$defs": {model.__name__: _table(model, model.__name__) for model in parts},
        **_table(Receiver, _TITLE),
    }


def _below(model: type[Description]) -> set[type[Description]]:
    """Return the descriptions that stand in tables below a description."""
    parts = {one.kind.part for one in model.keys.values() if one.kind.part is not None}
    return parts.union(*(_below(part) for part in parts))


def _table(model: type[Description], title: str) -> dict[str, Any]:
    properties: dict[str, Any] = {}
    required: dict[str, None] = {}
    for name, one in model.keys.items():
        toml = str(toml_path(model, name)[0])
        properties[toml] = _property(model, name, one)
        if one.required:
            required[toml] = None
    return {
        "title": title,
        "description": inspect.getdoc(model),
        "type": "object",
        "properties": properties,
        **({"required": list(required)} if required else {}),
        "additionalProperties": False,
    }


def _property(model: type[Description], name: str, one: Key) -> dict[str, Any]:
    form = one.kind.form()
    if name in model.packed:
        one_edge = len(model.packed[name]) == 2
        return {"type": "array", "items": form, "minItems": 2, "maxItems": 2} if one_edge else _FILE_OR_ROWS
    # numbers at rest are in the units of Python, not in those of the file
    return form | ({"default": one.default} if isinstance(one.default, str) else {})
