"""Quantities are read in `units` alone: nothing else in the package turns text with a unit into a number."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "spurplan"
DOOR = PACKAGE / "units.py"
# What reads digits and units of text, or checks what was read: for the door, and what stands behind it.
INSIDE = frozenset(
    ("parse_hz", "parse_span", "parse_signed_hz", "decimal_to_integer", "checked_hz", "checked_span")
)
# `[dD][bB]` or `k?[hH]z` in a pattern: a form for editors may have it, a pattern that is matched may not.
_UNIT = re.compile(r"[hH]\]?\[?[zZ]|[dD]\]?\[?[bB]|\bV\b|[pn]\]?F|[uµ].*H\b")
_MATCHING = frozenset(("compile", "fullmatch", "match", "search", "findall", "split", "sub"))


def parsers(source: str) -> Iterator[str]:
    """What reads quantities in a module: the inside of the door in use, patterns with units, names."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and node.module == "spurplan.units":
            yield from (alias.name for alias in node.names if alias.name in INSIDE)
        elif isinstance(node, ast.Attribute) and node.attr in INSIDE:
            yield node.attr
        elif isinstance(node, ast.FunctionDef) and re.fullmatch(
            r"_?(as_hz|as_span|hertz|decibels|(parse|read)_(\w+_)?(hz|db|dbm|level|volts))", node.name
        ):
            yield f"def {node.name}"
        elif (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and isinstance(node.func.value, ast.Name)
            and node.func.value.id == "re"
            and node.func.attr in _MATCHING
            and node.args
        ):
            words = [one.value for one in ast.walk(node.args[0]) if isinstance(one, ast.Constant)]
            yield from (word for word in words if isinstance(word, str) and _UNIT.search(word))


# A word of the command line with a unit in it is put together, not read; decibels is the name of a kind,
# which takes its reader from the door.
ALLOWED = {
    ("cli/words.py", r"(?:[kmg]?hz|dbm?)(?::[0-9][0-9.,]*)?"),
    ("receiver/description/quantities.py", "def decibels"),
}


def test_no_parser_of_quantities_stands_elsewhere() -> None:
    """One door, so that one change of what is taken, or how it is refused, is a change everywhere."""
    found = {
        (path.relative_to(PACKAGE).as_posix(), reader)
        for path in PACKAGE.rglob("*.py")
        if path != DOOR and "reporting" not in path.parts  # which reads nothing
        for reader in parsers(path.read_text("utf-8"))
    }
    assert found == ALLOWED


@pytest.mark.parametrize(
    "source",
    [
        "from spurplan.units import parse_hz\n",
        "from spurplan import units\nunits.checked_hz(5, 5)\n",
        "def _hertz(value):\n    return int(value)\n",
        "def parse_output_db(text):\n    return float(text)\n",
        'import re\nre.compile(r"([0-9]+)\\s*kHz")\n',
        'import re\nre.fullmatch(r"[0-9]+ ?[dD][bB]", text)\n',
    ],
)
def test_a_parser_planted_elsewhere_is_seen(source: str) -> None:
    """Each form in which one was found before."""
    assert list(parsers(source))
