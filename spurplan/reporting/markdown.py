"""An answer as Markdown that pastes into a forum post."""

from __future__ import annotations

import re
from collections.abc import Sequence

from spurplan.columns import Answer, Table
from spurplan.reporting.layout import Cells, Layout, View, default_view, written
from spurplan.reporting.plain import harmless
from spurplan.reporting.text import cautions, left_out, notes, title_of

# what would start markup, or end a cell
_SPECIAL = re.compile(r"([\\`*_{}\[\]<>|~#])")


def markdown(answer: Answer, view: View | None = None, top: int = 30) -> str:
    """Return an answer as Markdown: heading, one table each, assumptions, cautions.

    Parameters
    ----------
    view : what people are shown of it; None for everything under its heads.
    top : int. Rows of each table to show; 0 for all.
    """
    view = default_view(answer) if view is None else view
    named, rest = (
        "\n".join(f"{escaped(line)}  " for line in lines) for lines in (view.heading[:1], view.heading[1:])
    )
    parts = [f"{named}\n{rest}" if rest else named]
    if view.cautions_first:
        parts = [named, "\n".join(map(_note, cautions(answer))), rest]
    tables = answer.tables if view.tables is None else view.tables
    for name, table in tables.items():
        if len(tables) > 1:
            parts.append(f"**{escaped(title_of(name))}**")
        cut = 0 if name in view.whole else top
        parts.append(table_markdown(table, view.layouts.get(name), cut))
        if more := left_out(table, cut):
            parts.append(more)
    below = [view.described, view.remarks, *notes(answer, view)]
    parts += ["\n".join(map(_note, lines)) for lines in below]
    return "\n\n".join(part for part in parts if part) + "\n"


def _note(line: str) -> str:
    """Return a line below the tables: a list entry, or a paragraph of its own."""
    return f"- {escaped(line[2:])}" if line.startswith("- ") else f"{escaped(line)}\n"


def table_markdown(table: Table, layout: Layout | None, top: int) -> str:
    """Return one table, numbers aligned right."""
    if not len(table):
        return "none"
    cells = written(table.take(slice(0, top)) if top else table, layout)
    lines = [
        _row([escaped(entry.head) for entry in cells]),
        _row(["---:" if e.right else "---" for e in cells]),
    ]
    return "\n".join(lines + [_row(row) for row in _rows(cells)])


def _rows(cells: list[Cells]) -> list[list[str]]:
    return [[escaped(text) for text in row] for row in zip(*(entry.texts for entry in cells), strict=True)]


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def escaped(text: str) -> str:
    """Return `text` so that Markdown shows it as it is, on one line."""
    return _SPECIAL.sub(r"\\\1", harmless(text))
