"""An answer for the terminal: what it says first, then tables that fit the page.

A page that is too narrow loses whole columns, the least needed first, and says
which; no frequency is ever cut or wrapped.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from spurplan.columns import Answer, Table
from spurplan.reporting.layout import Cells, Layout, written
from spurplan.reporting.plain import harmless

if TYPE_CHECKING:
    from rich.table import Table as Grid

GAP = 2
NARROWEST = 14
GRADES = {"strong": "bold", "audible": "", "buried": "dim"}


@dataclass(frozen=True, slots=True)
class Page:
    """What an answer is written on.

    Attributes
    ----------
    width : int. Columns of the terminal.
    emphasis : bool. Whether bold and faint type may be used; every grade
        stands there as a word in any case.
    top : int. Rows of each table to show; 0 for all.
    """

    width: int
    emphasis: bool = False
    top: int = 30


def text(
    answer: Answer,
    page: Page,
    heading: Sequence[str] = (),
    layouts: Mapping[str, Layout] | None = None,
) -> str:
    """Return an answer as text.

    Parameters
    ----------
    heading : lines that sum it up, above the tables.
    layouts : layouts of tables by name; None or missing for all columns that
        have a head.
    """
    parts = [_lines(heading or (answer.receiver,), page.width)]
    for name, table in answer.tables.items():
        title = f"{name.replace('_', ' ').capitalize()}\n" if len(answer.tables) > 1 else ""
        parts.append(title + table_text(table, page, (layouts or {}).get(name)))
    parts += [_lines(lines, page.width) for lines in notes(answer)]
    return "\n".join(part for part in parts if part)


def notes(answer: Answer) -> list[list[str]]:
    """Return what stands below the tables: assumptions and cautions, a list of lines each."""
    return [
        [f"Assumed: {line}" for line in answer.assumptions],
        [f"Caution: {line}" for line in answer.cautions],
    ]


def left_out(table: Table, top: int) -> str:
    """Return the sentence about rows that are not shown, "" where all are."""
    missing = len(table) - top if top else 0
    if missing <= 0:
        return ""
    return f"{missing:,} more row{'s' if missing > 1 else ''} left out; --top 0 shows all {len(table):,}."


def table_text(table: Table, page: Page, layout: Layout | None = None) -> str:
    """Return one table, with what is left out of it said below."""
    if not len(table):
        return "none\n"
    shown = table.take(slice(0, page.top)) if page.top else table
    cells, dropped = fitting(written(shown, layout), page.width)
    remarks = [left_out(table, page.top)]
    if dropped:
        remarks.append(f"Columns left out at this width: {', '.join(dropped)}.")
    below = _lines([remark for remark in remarks if remark], page.width)
    return _drawn(cells, page, _styles(shown)) + below


def _lines(lines: Sequence[str], width: int) -> str:
    wrapped = (
        textwrap.fill(
            harmless(line), width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False
        )
        for line in lines
    )
    return "".join(f"{line}\n" for line in wrapped)


def fitting(cells: list[Cells], width: int) -> tuple[list[Cells], list[str]]:
    """Return the columns that fit side by side, and the heads of those that do not."""
    kept, dropped = list(cells), []
    while sum(_least(entry) + GAP for entry in kept) - GAP > width:
        last = max(kept, key=lambda entry: entry.rank)
        if last.rank == 0:
            break
        kept.remove(last)
        dropped.append(last.head)
    return kept, dropped[::-1]


def _least(cells: Cells) -> int:
    """Return the narrowest a column can be: numbers stay whole, texts wrap between words."""
    from rich.cells import cell_len

    head = max(map(cell_len, cells.head.split()), default=1)
    if cells.right:
        return max(head, *map(cell_len, cells.texts))
    word = max((cell_len(word) for entry in cells.texts for word in entry.split()), default=1)
    return max(head, min(word, NARROWEST))


def _widths(cells: list[Cells], width: int) -> list[int]:
    """Return the width of each column: its least, and a fair part of what is left."""
    from rich.cells import cell_len

    least = [_least(entry) for entry in cells]
    wished = [max(cell_len(entry.head), *map(cell_len, entry.texts)) for entry in cells]
    spare = width - sum(least) - GAP * (len(cells) - 1)
    given = list(least)
    while spare > 0:
        hungry = [at for at in range(len(cells)) if given[at] < wished[at]]
        if not hungry:
            break
        neediest = max(hungry, key=lambda at: wished[at] / given[at])
        given[neediest] += 1
        spare -= 1
    return given


def _styles(table: Table) -> list[str]:
    if "grade" not in table.values:
        return [""] * len(table)
    return [GRADES.get(str(grade), "") for grade in table["grade"]]


def _drawn(cells: list[Cells], page: Page, styles: list[str]) -> str:
    from rich.console import Console
    from rich.text import Text

    grid = _grid(cells, page)
    for row, style in enumerate(styles):
        # Text, not str: brackets in a label are part of it, never markup
        grid.add_row(*(Text(entry.texts[row]) for entry in cells), style=style)
    out = io.StringIO()
    console = Console(
        file=out,
        width=max(page.width, sum(_least(entry) + GAP for entry in cells)),
        force_terminal=page.emphasis,
        color_system="standard" if page.emphasis else None,
        no_color=True,
        highlight=False,
        markup=False,
        emoji=False,
        legacy_windows=False,
        _environ={},
    )
    console.print(grid)
    return "".join(f"{line.rstrip()}\n" for line in out.getvalue().splitlines())


def _grid(cells: list[Cells], page: Page) -> Grid:
    from rich import box
    from rich.table import Table as Grid
    from rich.text import Text

    rule = box.Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)
    grid = Grid(box=rule, show_edge=False, pad_edge=False, padding=(0, GAP, 0, 0), collapse_padding=True)
    for entry, width in zip(cells, _widths(cells, page.width), strict=True):
        grid.add_column(Text(entry.head), justify=justify, width=width, no_wrap=entry.right, overflow="fold")
    return grid
