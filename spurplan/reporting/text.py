"""An answer for the terminal: what it says first, then tables that fit the page.

A page that is too narrow loses whole columns, the least needed first, and says
which; no frequency is ever cut or wrapped.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from spurplan.columns import Answer, Table
from spurplan.reporting.layout import Cells, Layout, View, default_view, written
from spurplan.reporting.plain import counted, harmless

if TYPE_CHECKING:
    from rich.table import Table as Grid

GAP = 2
COMFORTABLE = 24
# words and equations up to so many columns stay whole, as long as the page allows
WHOLE_WORDS = (24, 18, 14, 9)
# Private-use characters never come out of a file as they are (`harmless`), and are one column wide.
_NO_BREAK = "\ue000"
_EQUATION = re.compile(r"IF[0-9]* = [^;]*")
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


def text(answer: Answer, page: Page, view: View | None = None) -> str:
    """Return an answer as text.

    Parameters
    ----------
    view : what people are shown of it; None for everything under its heads.
    """
    view = default_view(answer) if view is None else view
    parts = [_lines(view.heading, page.width)]
    tables = answer.tables if view.tables is None else view.tables
    for name, table in tables.items():
        title = f"{title_of(name)}\n" if len(tables) > 1 else ""
        parts.append(title + table_text(table, page, view.layouts.get(name)))
    parts += [_lines(lines, page.width) for lines in [view.remarks, *notes(answer)]]
    return "\n".join(part for part in parts if part)


def title_of(name: str) -> str:
    """Return the name of a table as a title, "On frequency" for on_frequency."""
    return name.replace("_", " ").capitalize()


def notes(answer: Answer) -> list[list[str]]:
    """Return what stands below the tables: assumptions and cautions, a list of lines each."""
    return [
        ["Assumed:", *(f"- {line}" for line in answer.assumptions)] if answer.assumptions else [],
        [f"Caution: {line}" for line in answer.cautions],
    ]


def left_out(table: Table, top: int) -> str:
    """Return the sentence about rows that are not shown, "" where all are."""
    missing = len(table) - top if top else 0
    if missing <= 0:
        return ""
    return f"{counted(missing, 'more row')} left out; --top 0 shows all {len(table):,}."


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
        if line
    )
    return "".join(f"{line}\n" for line in wrapped)


def fitting(cells: list[Cells], width: int) -> tuple[list[Cells], list[str]]:
    """Return the columns that fit side by side, and the heads of those that do not.

    Notes
    -----
    A column goes before the texts beside it get too narrow to read.
    """
    kept, dropped = list(cells), []
    while sum(_comfortable(entry) + GAP for entry in kept) - GAP > width:
        last = max(kept, key=lambda entry: entry.rank)
        if last.rank == 0:
            break
        kept.remove(last)
        dropped.append(last.head)
    return kept, dropped[::-1]


def _comfortable(cells: Cells) -> int:
    """Return the width at which a column reads well."""
    least = _least(cells, WHOLE_WORDS[0])
    return least if cells.right else max(least, min(_wished(cells), COMFORTABLE))


def _wished(cells: Cells) -> int:
    """Return the width at which nothing wraps."""
    from rich.cells import cell_len

    return max(map(cell_len, [cells.head, *cells.texts]))


def _widths(cells: list[Cells], width: int) -> list[int]:
    """Return the width of each column: what it needs, and a fair part of what is left.

    Notes
    -----
    Equations and long words are broken only where nothing else helps, and
    numbers never.
    """
    room = width - GAP * (len(cells) - 1)
    for longest in WHOLE_WORDS:
        given = [_least(entry, longest) for entry in cells]
        if sum(given) <= room:
            break
    wished = [_wished(entry) for entry in cells]
    for _ in range(room - sum(given)):
        hungry = [at for at in range(len(cells)) if given[at] < wished[at]]
        if not hungry:
            break
        given[max(hungry, key=lambda at: wished[at] / given[at])] += 1
    return given


def _least(cells: Cells, longest: int) -> int:
    """Return the narrowest a column can be with words of at most `longest` columns whole."""
    from rich.cells import cell_len

    head = max(map(cell_len, cells.head.split()), default=1)
    if cells.right:
        return max([head, *map(cell_len, cells.texts)])
    words = (word for text in cells.texts for word in _unbroken(text, longest).split())
    return max(head, min(max(map(cell_len, words), default=1), longest))


def _styles(table: Table) -> list[str]:
    if "grade" not in table.values:
        return [""] * len(table)
    return [GRADES.get(str(grade), "") for grade in table["grade"]]


def _drawn(cells: list[Cells], page: Page, styles: list[str]) -> str:
    from rich.console import Console
    from rich.text import Text

    widths = _widths(cells, page.width)
    grid = _grid(cells, widths)
    for row, style in enumerate(styles):
        # Text, not str: brackets in a label are part of it, never markup
        grid.add_row(
            *(
                Text(_unbroken(entry.texts[row], width), no_wrap=entry.right)
                for entry, width in zip(cells, widths, strict=True)
            ),
            style=style,
        )
    out = io.StringIO()
    console = Console(
        file=out,
        width=max(page.width, sum(widths) + GAP * len(widths)),
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
    drawn = out.getvalue().replace(_NO_BREAK, " ")
    return "".join(f"{line.rstrip()}\n" for line in drawn.splitlines())


def _unbroken(text: str, width: int) -> str:
    """Return `text` with each equation that fits the column held together."""
    return _EQUATION.sub(lambda m: m[0].replace(" ", _NO_BREAK) if len(m[0]) <= width else m[0], text)


def _grid(cells: list[Cells], widths: list[int]) -> Grid:
    from rich import box
    from rich.table import Table as Grid
    from rich.text import Text

    rule = box.Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)
    grid = Grid(box=rule, show_edge=False, pad_edge=False, padding=(0, GAP - 1, 0, 0))
    for entry, width in zip(cells, widths, strict=True):
        grid.add_column(
            Text(entry.head, no_wrap=False),
            justify="right" if entry.right else "left",
            vertical="top",
            width=width,
            overflow="fold",
        )
    return grid
