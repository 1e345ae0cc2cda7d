"""Keys of any file: declared once, and refused in one way, with place, value, rule and remedy."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import pytest

from spurplan.errors import Refused
from spurplan.receiver.description.quantities import GAIN_DB, HZ
from spurplan.schema import (
    NAME,
    TEXT,
    Choice,
    Count,
    Description,
    ListOf,
    Number,
    Part,
    described,
    described_by_file,
    json_schema,
    key,
    toml_keys,
)
from spurplan.schema_faults import Wrong


class Box(Description):
    """A box ahead of a set, as a file might come to know it."""

    name: str = key(NAME, example='name = "preamplifier"')
    gain_db: float = key(GAIN_DB, toml="gain", default=0.0)
    trap_hz: int | None = key(HZ, toml="trap", default=None)
    stages: int = key(Count(1, 9, minimum=1), default=1)
    coupling: float | None = key(Number(0.0, 10.0, above=True), default=None)

    @classmethod
    def keys_together(cls, keys: Collection[str]) -> list[Wrong]:
        if "trap" in keys and "coupling" in keys:
            return [Wrong(("coupling",), "is not used beside trap", remedy="leave one of them out")]
        return []

    def checked(self) -> list[Wrong]:
        if self.trap_hz is not None and self.gain_db > 0.0:
            return [Wrong(("gain_db",), "is gain in a trap", f"{self.gain_db:g} dB", "give 0 dB")]
        return []


class Shack(Description):
    """A file with a list of such boxes."""

    mode: str = key(Choice(("am", "ssb")), default="am")
    note: str = key(TEXT, default="")
    ahead: tuple[Box, ...] = key(
        ListOf(Part(Box, "[[ahead]]"), "write each one as [[ahead]]", 0, 5, unique="name"), default=()
    )
    source: str = key(TEXT, default="", in_file=False)


def refused(tables: dict[str, Any]) -> list[str]:
    """What is said of the tables of a file."""
    with pytest.raises(Refused) as caught:
        described_by_file(Shack, tables, "shack.toml")
    return [str(fault) for fault in caught.value.faults]


def test_a_list_of_tables_is_read_with_what_was_given_told_apart() -> None:
    """Values are in the units of their attributes; the rest is at its default and not among the given."""
    made = described_by_file(Shack, {"ahead": [{"name": "a", "gain": "12 dB"}, {"name": "b"}]}, "shack.toml")
    assert [(box.name, box.gain_db) for box in made.ahead] == [("a", 12.0), ("b", 0.0)]
    assert made.ahead[0].given == {"name", "gain_db"}
    assert made.mode == "am"
    assert made.given == {"ahead"}


@pytest.mark.parametrize(
    ("box", "fault"),
    [
        ({"name": "a", "gain": 12}, 'ahead[1].gain: "12" has no unit; write "12 dB" in quotes'),
        ({"name": "a", "gain_db": 12.0}, 'ahead[1].gain_db: unknown key; did you mean "gain"?'),
        ({"gain": "1 dB"}, 'ahead[1].name: is missing; write name = "preamplifier"'),
        ({"name": "a", "stages": 0}, 'ahead[1].stages: "0" is outside any sense; give 1 to 9'),
        ({"name": "a", "trap": "x"}, 'ahead[1].trap: "x" is not a frequency; write it as 14.2MHz'),
        ({"name": "a", "gain": "3 dB", "trap": "1 MHz"}, 'ahead[1].gain: "3 dB" is gain in a trap'),
        ("a", 'ahead[1]: "a" is not a table; write it as [[ahead]] with its keys below'),
    ],
)
def test_what_is_wrong_in_a_box_is_told_at_its_key(box: Any, fault: str) -> None:
    """One fault, at the key as the file has it, counted from 1, with the way out."""
    (said,) = refused({"ahead": [box]})
    assert said.startswith(f"shack.toml, {fault}")


def test_keys_that_do_not_go_together_are_told_beside_faulty_values() -> None:
    """Which keys stand there is known whatever they hold."""
    faulty = refused({"ahead": [{"name": "a", "trap": 5, "coupling": -1}]})
    assert [text.split(": ", 1)[1].split(";")[0] for text in faulty] == [
        '"5" has no unit',
        "is not used beside trap",
        '"-1" is outside any sense',
    ]


def test_keys_that_do_not_go_together_are_told_under_any_name() -> None:
    """From Python an attribute stands for its key, and None is no value."""
    with pytest.raises(Refused, match="coupling: is not used beside trap"):
        Box(name="a", trap_hz=1_000_000, coupling=1.0)
    assert Box(name="a", trap_hz=1_000_000, coupling=None).coupling is None


def test_what_has_to_be_unique_is_told_beside_other_faults() -> None:
    """The second of two with one name is told, though another box is damaged."""
    said = refused({"ahead": [{"name": "a"}, {"name": "b", "gain": 1}, {"name": "a"}]})
    assert [text.split(":")[0] for text in said] == ["shack.toml, ahead[2].gain", "shack.toml, ahead[3].name"]
    assert 'ahead[3].name: "a" is that of ahead[1] as well' in said[1]


def test_faults_come_in_the_order_of_the_file() -> None:
    """Unknown keys and faulty values stand as the file has them, missing keys last."""
    said = refused({"ahead": [{"gain": 1}], "mod": "am", "note": 4})
    assert [text.split(": ")[0] for text in said] == [
        "shack.toml, ahead[1].gain",
        "shack.toml, ahead[1].name",
        "shack.toml, mod",
        "shack.toml, note",
    ]


def test_a_key_that_no_file_gives_stays_out_of_files() -> None:
    """It is no key to a file, to an editor or to a list of keys, but an attribute from Python."""
    assert toml_keys(Shack) == ["mode", "note", "ahead"]
    assert list(json_schema(Shack, "Shack")["properties"]) == ["mode", "note", "ahead"]
    assert "unknown key" in refused({"source": "x"})[0]
    assert described(Shack, {"source": "x"}, "shack").source == "x"


def test_editors_are_told_of_every_table_below() -> None:
    """A table below is defined once and named where it stands."""
    schema = json_schema(Shack, "Shack")
    assert schema["properties"]["ahead"]["items"] == {"$ref": "#/$defs/Box"}
    box = schema["$defs"]["Box"]
    assert box["required"] == ["name"]
    assert list(box["properties"]) == toml_keys(Box) == ["name", "gain", "trap", "stages", "coupling"]
    assert box["additionalProperties"] is False
