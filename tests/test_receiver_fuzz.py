"""Whatever a receiver file holds, reading it gives a set or a refusal and nothing else."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spurplan.errors import Refused
from spurplan.receiver.description import Receiver
from spurplan.receiver.file import parse_receiver
from spurplan.receiver.reading import described_by

SETS = Path(__file__).parent / "receivers"


def outcome(read: Callable[[], Receiver]) -> Receiver | Refused:
    """Return the set or the refusal; any other error is the test's failure."""
    try:
        return read()
    except Refused as refusal:
        return refusal


PIECES = st.sampled_from(
    ["\n", '"', "[", "]", "{", "}", "=", ",", "nan", "true", "-1", "0", "9" * 40, '"0 Hz"', '"1 GHz"',
     "[[range]]", "[conversion]", "[[conversion]]", "if", '"S9"', "\x00", "é", "1979-05-27", "'''"]
)  # fmt: skip


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(SETS.glob("*.toml"))), st.data())
def test_any_damage_gives_a_set_or_a_refusal_and_nothing_else(path: Path, data: st.DataObject) -> None:
    """No damage to a good file escapes as another kind of error."""
    text = path.read_text("utf-8")
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        stop = min(len(text), start + data.draw(st.integers(0, 30)))
        text = text[:start] + data.draw(PIECES) + text[stop:]
    found = outcome(lambda: parse_receiver(text, str(path)))
    assert isinstance(found, Receiver) or found.text().startswith(str(path.parent))


WORDS = st.sampled_from(["1 MHz", "3 dB"])
KEYS = st.sampled_from(["q", "circuits", "if", "name"])
PLAIN = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | WORDS
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=5,
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_value_at_any_key_gives_a_set_or_a_refusal(data: st.DataObject) -> None:
    """A value of any kind where another was meant is told, never tripped over."""
    raw = tomllib.loads((SETS / "ferry_converter.toml").read_text("utf-8"))
    held: dict[str, object] = raw
    while True:
        key = data.draw(st.sampled_from(sorted(held)))
        value = held[key]
        inner = value[0] if isinstance(value, list) and value else value
        if not isinstance(inner, dict) or data.draw(st.integers(0, 2)) == 0:
            held[key] = data.draw(VALUES)
            break
        held = inner
    found = outcome(lambda: described_by(raw, "set.toml"))
    assert isinstance(found, Receiver) or all(one.place.startswith("set.toml") for one in found.faults)
