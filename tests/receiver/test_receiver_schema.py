"""The JSON Schema of the receiver file says yes to good files and no to bad ones."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from spurplan.receiver.description import Conversion, Mixer, Range, Receiver
from spurplan.receiver.file.schema import json_schema
from spurplan.receiver.file.starter import starter_text
from spurplan.schema import toml_keys
from tests.receiver_sound import SOUND

SETS = Path(__file__).parents[1] / "receivers"
TYPES: dict[str, Any] = {"string": str, "integer": int, "number": (int, float), "array": list, "object": dict}


def fits(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> bool:
    """Judge a value by the few words of JSON Schema that ours uses, each as the standard has it."""
    if "$ref" in schema:
        return fits(value, root["$defs"][schema["$ref"].rsplit("/", 1)[1]], root)
    if "anyOf" in schema and not any(fits(value, one, root) for one in schema["anyOf"]):
        return False
    if "oneOf" in schema and sum(fits(value, one, root) for one in schema["oneOf"]) != 1:
        return False
    if "enum" in schema and value not in schema["enum"]:
        return False
    if "type" in schema:
        kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
        if isinstance(value, bool) or not any(isinstance(value, TYPES[kind]) for kind in kinds):
            return False
    return _fits_inside(value, schema, root)


def _fits_inside(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> bool:
    if isinstance(value, str):
        return re.search(schema.get("pattern", ""), value) is not None and len(value) >= schema.get(
            "minLength", 0
        )
    if isinstance(value, list):
        first = schema.get("prefixItems", [])
        pairs = list(zip(value, first, strict=False)) + [
            (v, schema.get("items", {})) for v in value[len(first) :]
        ]
        sized = schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value))
        return sized and all(fits(one, wanted, root) for one, wanted in pairs)
    if isinstance(value, dict):
        known = schema.get("properties", {})
        if schema.get("additionalProperties") is False and not set(value) <= set(known):
            return False
        complete = set(schema.get("required", ())) <= set(value)
        return complete and all(fits(one, known.get(key, {}), root) for key, one in value.items())
    return bool(value >= schema.get("minimum", value) and value > schema.get("exclusiveMinimum", value - 1))


def says(text: str) -> bool:
    schema = json_schema()
    return fits(tomllib.loads(text), schema, schema)


@pytest.mark.parametrize("path", sorted(SETS.glob("*.toml")), ids=lambda path: path.stem)
def test_good_files_are_taken(path: Path) -> None:
    assert says(path.read_text("utf-8"))


def test_the_starter_files_are_taken() -> None:
    assert says(starter_text())
    assert says(starter_text(("1.8 MHz", "30 MHz"), ["1.6 MHz", "85 kHz"]))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('if = "465 kHz"', "if = 465"),
        ('if = "465 kHz"', 'if = "465"'),
        ('if = "465 kHz"', 'if = "465 dB"'),
        ('if = "465 kHz"', 'if = "465 kHz"\nif_hz = 465000'),
        ('noise_figure = "12 dB"', "noise_figure = 12"),
        ('injection = "high"', 'injection = "hihg"'),
        ('family = "jfet"', 'family = "valve"'),
        ('name = "Test bench"', ""),
        ('coverage = ["11 MHz", "30 MHz"]', ""),
        ('coverage = ["11 MHz", "30 MHz"]', 'coverage = ["11 MHz"]'),
        ("circuits = 2, q = 55", "circuits = 0, q = 55"),
        ("circuits = 2, q = 55", "circuits = 2, q = 0"),
        ("circuits = 2, q = 55", "q = 55"),
        ("circuits = 2, q = 55", 'trap = "1 MHz", q = 55'),
        ('offset = "1 kHz"', 'ofset = "1 kHz"'),
    ],
)
def test_bad_files_are_not(old: str, new: str) -> None:
    """What an editor can mark as wrong while the user types."""
    assert says(SOUND)
    assert not says(SOUND.replace(old, new))


def test_the_keys_are_those_of_the_file_and_no_other() -> None:
    """Attribute names stay out of it, so completion offers what the reader takes."""
    schema = json_schema()
    assert list(schema["properties"]) == toml_keys(Receiver)
    for model in (Range, Conversion, Mixer):
        assert list(schema["$defs"][model.__name__]["properties"]) == toml_keys(model)
    assert not re.search(r'"(low_hz|high_hz|if_hz|table_rows|points)"', json.dumps(schema))


def test_it_is_plain_json_with_its_dialect_named() -> None:
    schema = json_schema()
    assert json.loads(json.dumps(schema)) == schema
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
