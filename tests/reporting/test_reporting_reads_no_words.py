"""Pages and charts are made of findings: no words are taken apart again, no result read from settings."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import spurplan.reporting

REPORTING = Path(spurplan.reporting.__file__).parent
# these lay out text as text, whatever it says: they break, escape and indent it
TYPESETTING = {
    "text.py",
    "markdown.py",
    "html_table.py",
    "plain.py",
    "data.py",
    "charts/ink.py",
    "charts/sheet.py",
    "charts/short_names.py",
}
MODULES = sorted(
    str(path.relative_to(REPORTING))
    for path in REPORTING.rglob("*.py")
    if str(path.relative_to(REPORTING)) not in TYPESETTING
)
TAKING_APART = {
    "startswith",
    "endswith",
    "partition",
    "rpartition",
    "removeprefix",
    "removesuffix",
    "split",
    "find",
}
# options of a question, and what is worked out of them before anything is asked
ASKED = {
    "at_hz", "audible_at", "cover", "dial_error_hz", "frequency_hz", "log", "range", "region", "scan_high_hz",
    "scan_low_hz", "strong_at", "total_order", "utc", "day", "label", "everything",
}  # fmt: skip
# of `dial` and `ranges`, which have no findings of their own yet
STILL_READ = {"on_own_if", "listed_share", "image_unknown", "set_dial_hz"}


def faults(source: str) -> Iterator[str]:
    """Give what a module does that its pages should not: (line, what)."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import) and any(name.name == "re" for name in node.names):
            yield f"{node.lineno}: patterns"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in TAKING_APART:
                yield f"{node.lineno}: {node.func.attr}"
            if node.func.attr == "get" and _settings(node.func.value):
                yield from _not_asked(node.args[0])
        if isinstance(node, ast.Subscript) and _settings(node.value):
            yield from _not_asked(node.slice)


def _settings(node: ast.expr) -> bool:
    return (isinstance(node, ast.Attribute) and node.attr == "settings") or (
        isinstance(node, ast.Name) and node.id == "settings"
    )


def _not_asked(key: ast.expr) -> Iterator[str]:
    if isinstance(key, ast.Constant) and key.value not in ASKED | STILL_READ:
        yield f"{key.lineno}: settings of {key.value}"


@pytest.mark.parametrize("module", MODULES)
def test_no_words_are_read_back(module: str) -> None:
    """What a page needs to know is an attribute of a finding."""
    assert list(faults((REPORTING / module).read_text("utf-8"))) == []


@pytest.mark.parametrize(
    "line",
    [
        "x = row['verdict'].startswith('better')",
        "x = reason.partition(': ')[2]",
        "import re",
        "best = answer.settings['best']",
        "open_ = answer.settings.get('unknown_share')",
    ],
)
def test_the_look_finds_them(line: str) -> None:
    """Each way of reading words back that there was."""
    assert list(faults(line))
