"""A table for a page: its cells as people read them, and the number each sorts by."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from spurplan.columns import Column, Table
from spurplan.reporting.layout import UNKNOWN, Cells, Layout, default_layout, written
from spurplan.reporting.plain import counted

# A page of more rows than these is for a program; the csv has them.
MOST_ROWS = 400
FEWEST_TO_SORT = 6
# so many are two pages at most on paper; whoever wants more asks the terminal.
MOST_PRINTED = 60
# columns of this rank and above are left out on a telephone
FIRST_EXTRA = 4
# and of this rank where they say the same in every row, which is then said above
SAID_ONCE = 8
_PART = re.compile(r"(?<=[,;]) ")
GRADES = ("buried", "audible", "strong")


@dataclass(frozen=True)
class Head:
    """The head of a column.

    Attributes
    ----------
    text : str.
    right : bool. Whether it stands against the right edge, as numbers do.
    extra : bool. Whether a telephone does without it.
    """

    text: str
    right: bool
    extra: bool


@dataclass(frozen=True)
class Cell:
    """One cell: its text, and the number it sorts by (None: by its text; "": unknown)."""

    text: str
    key: float | str | None

    @property
    def parts(self) -> list[str]:
        """Its text in pieces between which a line may break: an equation stays whole."""
        return _PART.split(self.text)


@dataclass(frozen=True)
class Line:
    """One row of a table."""

    cells: tuple[Cell, ...]
    grade: str = ""


@dataclass(frozen=True)
class HtmlTable:
    """A table of the page.

    Attributes
    ----------
    name : str. Its id in the page, an ASCII word.
    title : str.
    heads, rows : what it shows.
    more : str. What is left out of it, "" for nothing.
    printed : str. How much of it stands on paper, and what shows the rest; "" for all.
    sorts : bool. Whether it sorts and filters.
    """

    name: str
    title: str
    heads: tuple[Head, ...]
    rows: tuple[Line, ...]
    more: str = ""
    printed: str = ""
    sorts: bool = True


def html_table(
    name: str, title: str, table: Table, layout: Layout | None, sorts: bool = True, command: str = ""
) -> HtmlTable:
    """Return a table for the page.

    Parameters
    ----------
    name : str. Its id in the page, an ASCII word.
    layout : which columns people see; None for every one that has a head.
    sorts : bool. Whether it sorts and filters, where it is long enough for that.
    command : str. What shows every row in a terminal: then paper has the first of a long table alone.
    """
    layout = default_layout(table) if layout is None else layout
    shown = table.take(slice(0, MOST_ROWS))
    cells = written(shown, layout)
    columns = {column.name: column for column in table.columns}
    kept = [n for n, column in enumerate(cells) if _tells(column)]
    keys = [_keys(shown, columns[layout[n].fields[0]]) for n in kept]
    grades = shown["grade"].tolist() if "grade" in columns else [""] * len(shown)
    rows = tuple(
        Line(tuple(Cell(*cell) for cell in zip(texts, sort_keys, strict=True)), grade or "")
        for texts, sort_keys, grade in zip(
            _across([cells[n].texts for n in kept], len(shown)),
            _across(keys, len(shown)),
            grades,
            strict=True,
        )
    )
    heads = tuple(Head(cells[n].head, cells[n].right, layout[n].rank >= FIRST_EXTRA) for n in kept)
    missing = len(table) - len(shown)
    more = f"{counted(missing, 'more row')} left out here; --format csv has all." if missing else ""
    printed = ""
    if command and len(rows) > MOST_PRINTED:
        printed = (
            f"On paper the first {MOST_PRINTED} of {len(table):,} rows stand; {command} shows every one."
        )
    return HtmlTable(name, title, heads, rows, more, printed, sorts and len(rows) >= FEWEST_TO_SORT)


def _tells(cells: Cells) -> bool:
    """Return whether a column says anything that its absence does not."""
    different = set(cells.texts)
    return cells.rank == 0 or (different != {UNKNOWN} and (cells.rank < SAID_ONCE or len(different) > 1))


def _across(columns: Sequence[Sequence[Any]], rows: int) -> list[tuple[Any, ...]]:
    return list(zip(*columns, strict=True)) if columns else [()] * rows


def _keys(table: Table, column: Column) -> list[float | str | None]:
    """Return what a column sorts by: numbers by value, levels by decibels, grades by loudness."""
    if column.name == "heard_s" and "heard_dbm" in table.values:
        return [round(float(value), 3) for value in table["heard_dbm"]]
    if column.name in ("grade", "worst_grade"):
        return ["" if word is None else float(GRADES.index(word)) for word in table[column.name]]
    if column.kind in ("int", "float", "bool"):
        return ["" if value is None or math.isnan(value) else value for value in table.cells(column)]
    return ["" if value is None else None for value in table.cells(column)]
