"""JSON Schema of the receiver file, for editors that complete and check TOML."""

from __future__ import annotations

from typing import Any

from spurplan.receiver.description import Receiver
from spurplan.receiver.description.base import Description, toml_path

_TITLE = "Receiver file of spurplan"
_FILE_OR_ROWS = "A CSV file, named relative to this one, or the rows themselves."


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the TOML form.

    Returns
    -------
    dict, ready to be written as JSON. Quantities are text with a pattern for
    their unit; what only arithmetic can tell (a crystal against its IF, say)
    no schema can, and `read_receiver` does.
    """
    schema = Receiver.model_json_schema(by_alias=True, mode="validation")
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": _TITLE}
    for model in _all_models():
        part = schema if model is Receiver else schema["$defs"].get(model.__name__)
        if part is not None:
            _repacked(part, model)
    return schema


def _all_models() -> list[type[Description]]:
    return [Receiver, *_below(Description)]


def _below(model: type[Description]) -> list[type[Description]]:
    out: list[type[Description]] = []
    for one in model.__subclasses__():
        if one is not Receiver:
            out += [one, *_below(one)]
    return out


def _repacked(part: dict[str, Any], model: type[Description]) -> None:
    """Put the keys of the file where the attributes they are unpacked to stand."""
    properties: dict[str, Any] = {}
    required = dict.fromkeys(part.get("required", ()))
    for name in model.model_fields:
        path = toml_path(model, name)
        key = str(path[0])
        held = part["properties"].get(name, part["properties"].get(key))
        if name not in model.packed:
            properties[key] = held
            continue
        if len(path) == 2:  # one edge of a pair
            edge = {k: v for k, v in held.items() if k not in ("title", "default")}
            properties[key] = {"type": "array", "items": edge, "minItems": 2, "maxItems": 2}
        else:
            properties[key] = {"description": _FILE_OR_ROWS, "anyOf": [{"type": "string"}, {"type": "array"}]}
        if name in required:
            del required[name]
            required[key] = None
    part["properties"] = properties
    if required:
        part["required"] = list(required)
    for held in properties.values():
        _tidied(held)


def _tidied(held: dict[str, Any]) -> None:
    """Drop the Python side of a default: an optional key is left out in TOML, never null."""
    held.pop("title", None)
    if held.get("default", 0) is None or isinstance(held.get("default"), int | float | list):
        held.pop("default", None)
    choices = [choice for choice in held.get("anyOf", ()) if choice != {"type": "null"}]
    if choices and len(choices) < len(held["anyOf"]):
        held.pop("anyOf")
        held.update(choices[0] if len(choices) == 1 else {"anyOf": choices})
