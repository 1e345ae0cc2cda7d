"""The papers of the project, and the parts of them that the program writes itself.

``python -m tests.papers`` puts in anew what it prints and the fields of its answers; `test_documented`
fails where they are not what the program says.
"""

from __future__ import annotations

import contextlib
import functools
import io
import os
import re
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import spurplan
from spurplan.cli import main
from spurplan.columns import Column
from spurplan.occupancy.bands_in_use import on_frequency, tables_in_use
from spurplan.receiver.overview import overview

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
OPTIONS = ROOT / "demos" / "OPTIONS.md"
RECEIVER_FILE = ROOT / "demos" / "RECEIVER_FILE.md"
FIELDS = ROOT / "demos" / "FIELDS.md"
BAND_TABLES = ROOT / "bandplans" / "FORMAT.md"
OUTSIDE = ROOT / "tests" / "OUTSIDE.md"
TIMES = ROOT / "tests" / "benchmarks" / "TIMES.md"
GUIDE = ROOT / "DEVELOPERS.md"
# what somebody reads who uses the program
FOR_USERS = (README, OPTIONS, RECEIVER_FILE, FIELDS, BAND_TABLES)
ALL = (*FOR_USERS, OUTSIDE, TIMES, GUIDE)

DEMO = "demos/boathouse/set.toml"
# a block of text whose first line is a command
PRINTED = re.compile(r"```text\n\$ spurplan (?P<words>.*)\n(?P<said>(?:.*\n)*?)```")
# a row of the table of questions: what for, command line, Python
SIDE_BY_SIDE = re.compile(r"^\| [a-z].*? \| `(spurplan [^`]*)` \| (?:`([^`]*)`)? ?\|$", re.MULTILINE)
WIDTH = "100"


def _marks(name: str) -> tuple[str, str]:
    return f"<!-- {name} -->", f"<!-- end of {name} -->"


def between(text: str, name: str) -> str:
    """Return what stands between the marks of that name."""
    start, end = _marks(name)
    return text[text.index(start) + len(start) : text.index(end)].strip("\n")


def put(text: str, name: str, content: str) -> str:
    """Return the text with that content between the marks of that name."""
    start, end = _marks(name)
    return f"{text[: text.index(start)]}{start}\n\n{content}\n\n{text[text.index(end) :]}"


def write(paper: Path, name: str, content: str) -> None:
    """Put content between the marks of a paper."""
    paper.write_text(put(paper.read_text("utf-8"), name, content), "utf-8")


def answers() -> Iterator[tuple[str, spurplan.Answer]]:
    """Give each command's answer about a demonstration set, with every table it can have."""
    demo = ROOT / DEMO
    yield "dial", spurplan.dial(demo, frequency="14.2 MHz", intermodulation=True)
    yield "ranges", spurplan.ranges(demo, range="1", intermodulation=True)
    yield "ranges", spurplan.by_hour(demo, range="1", place="50N,10E", month=1)
    yield "station", spurplan.station(demo, frequency="15130 kHz")
    yield "suspects", spurplan.suspects(demo, frequency="14.2 MHz")
    yield "suspects --log", spurplan.evening(demo, log=ROOT / "demos/boathouse/evening.csv")
    yield "birdies", spurplan.birdies(demo, intermodulation=True)
    yield "converter", spurplan.converter(demo, cover="50:52 MHz", crystal="48 MHz", explain="48 MHz")
    yield (
        "if-change",
        spurplan.if_change(demo, if_="1.6 MHz", scan="1.5:1.7 MHz", rejection=40, range="4"),
    )
    yield "cures", spurplan.cures(demo, range="4")
    yield "bench-sheet", spurplan.bench_sheet(demo)
    yield "readings", spurplan.readings(demo, log=ROOT / "demos/boathouse/log.csv")
    yield "bands", tables_in_use()
    yield "bands", on_frequency("7.1 MHz")
    yield "receiver", overview(spurplan.read_receiver(demo))


def questions() -> list[tuple[str, str]]:
    """Return command line and Python call of each row of README's table of questions."""
    return SIDE_BY_SIDE.findall(README.read_text("utf-8"))


@functools.cache
def columns() -> dict[str, dict[str, tuple[Column, ...]]]:
    """Return the columns of each table of each command."""
    found: dict[str, dict[str, tuple[Column, ...]]] = {}
    for command, answer in answers():
        found.setdefault(command, {}).update({n: t.columns for n, t in answer.tables.items()})
    return found


def fields() -> str:
    """Return the list of fields."""
    parts = []
    said: dict[tuple[Column, ...], str] = {}
    for command, tables in columns().items():
        for name, own in tables.items():
            title = f"**{command}: `{name}`**"
            if own in said:
                parts.append(f"{title} has the fields of {said[own]}.")
                continue
            said[own] = f"`{name}` of {command}"
            rows = "\n".join(_row(column) for column in own)
            parts.append(f"{title}\n\n| field | kind | unit | meaning |\n| --- | --- | --- | --- |\n{rows}")
    return "\n\n".join(parts)


def _row(column: Column) -> str:
    doc = column.doc.replace("|", "\\|")
    kind = column.kind + (" or null" if column.null else "")
    return f"| `{column.name}` | {kind} | {column.unit} | {doc} |"


def printed(words: str) -> str:
    """Return what a command line prints on a page of `WIDTH` columns."""
    out = io.StringIO()
    with (
        mock.patch.dict(os.environ, {"COLUMNS": WIDTH}),
        contextlib.chdir(ROOT),
        contextlib.redirect_stdout(out),
    ):
        assert main(words.split()) == 0, words
    return out.getvalue()


def renewed(text: str) -> str:
    """Return a paper with all that the program prints in it printed anew."""
    return PRINTED.sub(lambda m: f"```text\n$ spurplan {m['words']}\n{printed(m['words'])}```", text)


if __name__ == "__main__":
    for paper in FOR_USERS:
        paper.write_text(renewed(paper.read_text("utf-8")), "utf-8")
    write(FIELDS, "fields", fields())
