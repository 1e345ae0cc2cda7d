"""The table of all figures, and how it is written."""

from __future__ import annotations

import platform
from importlib import import_module
from importlib.metadata import version

from tests.benchmarks.figures import FIGURES, Figure

# modules in the order in which their figures stand in the table
MODULES = ("engine", "sizes", "tables", "converter", "if_scan", "intermodulation", "sky", "start_up", "truth")
HEAD = "| what | time | against | its time | ratio | wanted |\n| --- | --: | --- | --: | --- | --- |"


def figures() -> list[Figure]:
    """Return all figures, in order."""
    out = []
    for module in MODULES:
        name = import_module(f"tests.benchmarks.{module}").__name__
        out += [one for one in FIGURES if one.measure.__module__ == name]
    return out


def row(one: Figure) -> str:
    """Measure one figure and return its line."""
    own, other, ratio = one.measure().cells()
    return f"| {one.what} | {own} | {one.against} | {other} | {ratio} | {one.wanted} |"


def machine() -> str:
    """Return what the figures were measured with."""
    return f"Python {platform.python_version()}, numpy {version('numpy')}, typer {version('typer')}"


def lines_of(text: str) -> dict[tuple[str, str, str], str]:
    """Return the lines of a table as it is written, by what, against and wanted."""
    lines = [line for line in text.splitlines() if line.startswith("| ")][2:]
    found = {}
    for line in lines:
        what, _, against, _, _, wanted = (cell.strip() for cell in line.strip("|").split("|"))
        found[what, against, wanted] = line
    return found
