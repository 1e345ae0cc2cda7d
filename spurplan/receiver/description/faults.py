"""The validator's error list in the words of the trade: place, value, rule, remedy.

Places are key paths as a person counts them: ``conversion[2].filter.bandwidth``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import Any, TypeVar

from pydantic import ValidationError

from spurplan.errors import BadValue, Fault, Refused, did_you_mean
from spurplan.receiver.description import (
    ELEMENT_KEYS,
    ELEMENTS,
    PARTS,
    Description,
)
from spurplan.receiver.description.base import toml_keys, toml_path
from spurplan.receiver.description.quantities import NotAPair, shown
from spurplan.receiver.wrong import Inconsistent, Wrong

Path = tuple[str | int, ...]
Model = TypeVar("Model", bound=Description)

MISSING = "is missing"

# What a missing key would have looked like.
_EXAMPLES = {
    "name": 'name = "Boathouse valve set"',
    "range": "describe at least one as [[range]]",
    "coverage": 'coverage = ["11 MHz", "30 MHz"]',
    "bandwidth": 'bandwidth = "6 kHz"',
    "offset": 'offset = "1 kHz"',
    "frequency": 'frequency = "100 kHz"',
    "depth": 'depth = "30 dB"',
    "q": "q = 55",
    "order": "order = 3",
    "c_max": 'c_max = "350 pF"',
}
_TABLES = {
    "filter": "[conversion.filter]",
    "mixer": "[conversion.mixer]",
    "bfo": "[bfo]",
    "gang": "[range.gang]",
}


def described(model: type[Model], data: Any, source: str, at: Path = ()) -> Model:
    """Return a validated description of `data`.

    Parameters
    ----------
    model : the class of description.
    data : dict. Keys of the receiver file or attribute names.
    source : str. What the faults name first: the file, or the name of the set.
    at : key path of the description inside the source.

    Raises
    ------
    Refused  with every fault.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        found = [replace(wrong, path=at + wrong.path) for wrong in wrongs_of(error, model)]
        raise Refused(faults(found, source)) from None


def faults(wrongs: Iterable[Wrong], source: str) -> list[Fault]:
    """Return faults with their full place; of several at one place with one rule the first."""
    found: dict[tuple[str, str], Fault] = {}
    wrongs = list(wrongs)
    held = {wrong.path for wrong in wrongs if wrong.rule != MISSING}
    for wrong in wrongs:
        if wrong.rule == MISSING and wrong.path in held:
            continue  # it is there, and wrong
        place = place_text(source, wrong.path)
        found.setdefault((place, wrong.rule), Fault(place, wrong.rule, wrong.value, wrong.remedy))
    return list(found.values())


def place_text(source: str, path: Path) -> str:
    """Return "set.toml, conversion[2].filter.bandwidth", indices counted from 1."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += f".{step}" if text else step
    return f"{source}, {text}" if text else source


def wrongs_of(error: ValidationError, model: type[Description]) -> list[Wrong]:
    """Return everything a validation found wrong, paths relative to `model`."""
    found: list[Wrong] = []
    for item in error.errors(include_url=False):
        cause = (item.get("ctx") or {}).get("error")
        path, where = _path(model, tuple(item["loc"]))
        if isinstance(cause, Inconsistent):
            found += [replace(wrong, path=path + _packed(where, wrong.path)) for wrong in cause.wrongs]
        elif isinstance(cause, BadValue):
            if isinstance(item["input"], NotAPair):
                path = path[:-1]
            found.append(Wrong(path, cause.rule, cause.value, cause.remedy))
        elif item["type"] == "extra_forbidden":
            found.append(unknown_key(path, _path(model, tuple(item["loc"][:-1]))[1] or model))
        else:
            found.append(_of_type(item["type"], path, item["input"], item.get("ctx") or {}))
    return found


def _packed(where: type[Description] | None, path: Path) -> Path:
    if where is None or not path or not isinstance(path[0], str):
        return path
    return (*toml_path(where, path[0]), *path[1:])


def _path(model: type[Description], loc: Path) -> tuple[Path, type[Description] | None]:
    """Return the key path for a validator's location, and the description it ends in."""
    path: Path = ()
    where: type[Description] | None = model
    for step in loc:
        if isinstance(step, str) and step.startswith("="):  # a tag of a union
            where = dict(zip(ELEMENT_KEYS, ELEMENTS, strict=True)).get(step[1:])
        elif isinstance(step, int):
            path += (step,)
        else:
            path += (step,) if where is None else toml_path(where, step)
            where = child(where, step)
    return path, where


def child(model: type[Description] | None, key: str) -> type[Description] | None:
    """Return the description that stands under a key (of one item, where it is a list)."""
    if model is None:
        return None
    name = next((n for n, f in model.model_fields.items() if key in (n, f.alias)), None)
    return PARTS.get((model, name or ""))


def unknown_key(path: Path, model: type[Description]) -> Wrong:
    """Return the fault of a key, the last of `path`, that a description does not have."""
    return Wrong(path, "unknown key", remedy=did_you_mean(str(path[-1]), toml_keys(model)))


def _of_type(kind: str, path: Path, value: Any, ctx: dict[str, Any]) -> Wrong:
    key = str(path[-1]) if path else ""
    if kind == "missing":
        # half a pair is missing only where the whole of it is
        whole = path[:-1] if isinstance(path[-1], int) else path
        return Wrong(whole, MISSING, remedy=_example(str(whole[-1])))
    if kind == "literal_error":
        known = re.findall(r"'([^']*)'", str(ctx.get("expected", "")))
        if isinstance(value, str):
            return Wrong(path, "is not known here", value, did_you_mean(value, known))
        return Wrong(path, "is not text", shown(value), "known here: " + ", ".join(known))
    if kind == "union_tag_not_found":
        return _not_an_element(path, value)
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return Wrong(path, "is not a table", shown(value), _table_remedy(path, key))
    if kind == "string_type":
        return Wrong(path, "is not text", shown(value), "write it in quotes")
    rule = f"is not accepted ({kind.replace('_', ' ')})"
    return Wrong(path, rule, shown(value), "compare it with a starter file")


def _example(key: str) -> str:
    example = _EXAMPLES.get(key, "")
    return f"write {example}" if "=" in example else example


def _table_remedy(path: Path, key: str) -> str:
    if key in _TABLES:
        return f"write it as {_TABLES[key]} with its keys below"
    above = str(path[-2]) if len(path) > 1 and isinstance(path[-1], int) else key
    return f"write it as [[{above}]] with its keys below"


def _not_an_element(path: Path, value: Any) -> Wrong:
    if not isinstance(value, dict):
        remedy = "write it as { circuits = 2, q = 55 }"
        return Wrong(path, "is not an element of a front end", shown(value), remedy)
    found = [key for key in ELEMENT_KEYS if key in value]
    if len(found) > 1:
        remedy = "give each an element of its own, in braces"
        return Wrong(path, f"is several elements at once: {' and '.join(found)}", shown(value), remedy)
    rule = f"needs one of {', '.join(ELEMENT_KEYS)}"
    for key in value:
        said = did_you_mean(str(key), ELEMENT_KEYS)
        if said.startswith("did"):
            return Wrong((*path, key), "unknown key", remedy=said)
    return Wrong(path, rule, shown(value), "write it as { circuits = 2, q = 55 }")
