"""The guard of what is printed sees a byte that changes."""

from __future__ import annotations

from tests import guard


def test_sees_one_byte() -> None:
    """An output that changed by a byte, came or went is named; the same outputs are not."""
    before = {"a": "1", "b": "2", "c": "3"}
    assert guard.differing({"a": "1", "b": "2", "c": "3"}, before) == []
    assert guard.differing({"a": "1", "b": "9", "d": "4"}, before) == ["b", "c", "d"]


def test_sums_are_of_the_commands() -> None:
    """The file has a sum for each command in each format, and none of a command that is gone."""
    commands = [f"{command} --format {form}" for command in guard.COMMANDS for form in guard.FORMATS]
    assert set(commands) <= set(guard.kept())
    assert len(guard.kept()) == len(commands) + len(guard.DRAWN) + 3


def test_a_short_command_prints_what_was_kept() -> None:
    """What it prints now has the sum kept, and is told from the same with a byte more."""
    import hashlib

    words = f"receiver {guard.BOATHOUSE} --format text"
    said = guard.printed(words)
    kept = guard.kept()[words]
    assert hashlib.sha256(said).hexdigest()[:16] == kept
    assert hashlib.sha256(said + b" ").hexdigest()[:16] != kept
