"""An answer for the terminal: what it says first, then tables that fit the page.

A page that is too narrow loses whole columns, the least needed first, and says
which; no frequency is ever cut or wrapped.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from spurplan.columns import Answer, Table
from spurplan.reporting.layout import UNKNOWN, Cells, Layout, View, default_view, written
from spurplan.reporting.plain import counted, harmless

GAP = 2
# words and equations up to so many columns stay whole, as long as the page allows
WHOLE_WORDS = (24, 18, 14, 9)
# a number and its unit stay on one line; a blank that is no place to break stands between them so long
_UNIT = re.compile(r"(?<=\d) (?=(?:%|dB|dBm|Hz|kHz|MHz|ohm|pF|nF|nH|uH|V|uV|ppm)(?![A-Za-z0-9]))")
_KEPT_TOGETHER = "\N{NO-BREAK SPACE}"
# an equation reads badly in two halves
_WORD = re.compile(r"IF[0-9]* = [^;]*;?|\S+")
# How a cell that holds the answer stands out: the word in it says as much. Any other is bold.
STYLES = {
    "strong": "bold red",
    "audible": "yellow",
    "buried": "dim",
    "better": "bold green",
    "a little better": "green",
    "a gamble": "yellow",
    "worse": "red",
    "no difference": "",
    "present": "",
    UNKNOWN: "",
}


@dataclass(frozen=True)
class Page:
    """What an answer is written on.

    Attributes
    ----------
    width : int. Columns of the terminal.
    emphasis : bool. Whether the cells that hold the answer may stand out in colour and bold type; what
        they say stands there as a word in any case.
    top : int. Rows of each table to show; 0 for all.
    assumed_by : str. What shows the assumptions, which are then counted and no more; "" says them here.
    """

    width: int
    emphasis: bool = False
    top: int = 30
    assumed_by: str = ""


def text(answer: Answer, page: Page, view: View | None = None) -> str:
    """Return an answer as text.

    Parameters
    ----------
    view : what people are shown of it; None for everything under its heads.
    """
    view = default_view(answer) if view is None else view
    first, *more = view.heading
    parts = [_lines([first, *(cautions(answer) if view.cautions_first else ()), *more], page.width)]
    tables = answer.tables if view.tables is None else view.tables
    for name, table in tables.items():
        title = f"{title_of(name)}\n" if len(tables) > 1 else ""
        cut = replace(page, top=0) if name in view.whole else page
        parts.append(title + table_text(table, cut, view.layouts.get(name)))
    below = [view.described, view.remarks, *notes(answer, view, page.assumed_by)]
    parts += [_lines(lines, page.width) for lines in below]
    return "\n".join(part for part in parts if part)


def title_of(name: str) -> str:
    """Return the name of a table as a title, "On frequency" for on_frequency."""
    title = name.replace("_", " ")
    return title[:1].upper() + title[1:]


def notes(answer: Answer, view: View, assumed_by: str = "") -> list[list[str]]:
    """Return what stands below the tables: assumptions and cautions, a list of lines each.

    Parameters
    ----------
    assumed_by : str. What shows the assumptions, which are then only counted: "--assumptions shows them".

    Notes
    -----
    What the heading has already asked is not said again; a page that is taken to the bench says all of it.
    """
    assumed = [line for line in answer.assumptions if line not in view.heading]
    lines = ["Assumed:", *(f"- {line}" for line in assumed)]
    if assumed_by and not view.cautions_first:
        lines = [f"{counted(len(assumed), 'assumption')}: {assumed_by}."]
    return [lines if assumed else [], [] if view.cautions_first else cautions(answer)]


def cautions(answer: Answer) -> list[str]:
    """Return what can hurt someone, a line each."""
    return [f"Caution: {line}" for line in answer.cautions]


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
    cells, dropped, shortened = fitting(written(shown, layout), page.width)
    remarks = [left_out(table, page.top)]
    if dropped:
        remarks.append(f"Left out at this width: {', '.join(dropped)}.")
    if shortened:
        remarks.append(f"Shortened: {', '.join(shortened)}.")
    below = _lines([remark for remark in remarks if remark], page.width)
    return _drawn(cells, page) + below


def _lines(lines: Sequence[str], width: int) -> str:
    wrapped = (
        textwrap.fill(
            _UNIT.sub(_KEPT_TOGETHER, harmless(line)),
            width,
            subsequent_indent="  ",
            break_long_words=False,
            break_on_hyphens=False,
        ).replace(_KEPT_TOGETHER, " ")
        for line in lines
        if line
    )
    return "".join(f"{line}\n" for line in wrapped)


def fitting(cells: list[Cells], width: int) -> tuple[list[Cells], list[str], list[str]]:
    """Return the columns that fit side by side, the heads of those left out, and of those said shorter.

    Notes
    -----
    What can be said shorter is, before any column goes; and a column goes before the
    texts beside it get too narrow to read. One that went comes back where a wider one left room.
    """
    # a column of unknowns says nothing that its absence does not
    kept = [entry for entry in cells if entry.rank == 0 or set(entry.texts) != {UNKNOWN}]
    shortened: list[int] = []
    for at, entry in enumerate(kept):
        if entry.short is not None and not _fits(kept, width):
            kept[at] = replace(entry, texts=entry.short, short=None)
            shortened.append(at)
    there = list(range(len(kept)))
    gone: list[int] = []
    while not _fits([kept[at] for at in there], width):
        last = max(there, key=lambda at: kept[at].rank)
        if kept[last].rank == 0:
            break
        there.remove(last)
        gone.insert(0, last)
    for at in tuple(gone):
        if _fits([kept[some] for some in (*there, at)], width):
            there.append(at)
            gone.remove(at)
    heads = [[kept[at].head for at in some] for some in (gone, (at for at in shortened if at in there))]
    return [kept[at] for at in sorted(there)], heads[0], heads[1]


def _fits(cells: list[Cells], width: int) -> bool:
    """Return whether columns stand side by side and read well."""
    return sum(_comfortable(entry) + GAP for entry in cells) - GAP <= width


def _comfortable(cells: Cells) -> int:
    """Return the width at which a column reads well."""
    least = _least(cells, min(WHOLE_WORDS[0], cells.comfort))
    return least if cells.right else max(least, min(_wished(cells), cells.comfort))


def _wished(cells: Cells) -> int:
    """Return the width at which nothing wraps."""
    return max(map(columns_of, [cells.head, *cells.texts]))


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
    modest = [
        least if entry.right else min(wish, entry.comfort)
        for least, wish, entry in zip(given, wished, cells, strict=True)
    ]
    for _ in range(room - sum(given)):
        # what reads well comes before what is wished for
        wants = next((some for some in (modest, wished) if any(map(int.__lt__, given, some))), None)
        if wants is None:
            break
        hungry = [at for at in range(len(cells)) if given[at] < wants[at]]
        given[max(hungry, key=lambda at: wants[at] / given[at])] += 1
    return given


def _least(cells: Cells, longest: int) -> int:
    """Return the narrowest a column can be with words of at most `longest` columns whole."""
    head = max(map(columns_of, cells.head.split()), default=1)
    if cells.right:
        return max([head, *map(columns_of, cells.texts)])
    words = (word for text in cells.texts for word in _words(text, longest))
    return max(head, min(max(map(columns_of, words), default=1), longest))


def _words(text: str, width: int) -> Iterator[str]:
    """Give the parts of a text that stay on one line: words, and equations that fit."""
    for word in _WORD.findall(text):
        if columns_of(word) <= width:
            yield word
        else:
            yield from word.split()


def _drawn(cells: list[Cells], page: Page) -> str:
    widths = _widths(cells, page.width)
    lines = _row([entry.head for entry in cells], cells, widths, at_bottom=True)
    lines.append("-" * (sum(widths) + GAP * (len(widths) - 1)))
    for row in range(len(cells[0].texts)):
        texts = [entry.texts[row] for entry in cells]
        lines += _row(texts, cells, widths, styles=_styles(cells, row) if page.emphasis else None)
    return "".join(f"{line}\n" for line in lines)


def _row(
    texts: list[str],
    cells: list[Cells],
    widths: list[int],
    at_bottom: bool = False,
    styles: Sequence[str] | None = None,
) -> list[str]:
    """Return one row as lines, each cell wrapped into its column and in its style."""
    blocks = [_wrapped(text, width) for text, width in zip(texts, widths, strict=True)]
    height = max(map(len, blocks))
    for block in blocks:
        block[len(block) if not at_bottom else 0 : 0] = [""] * (height - len(block))
    drawn = []
    for line_of in zip(*blocks, strict=True):
        padded = [
            _padded(line, width, entry.right)
            for line, width, entry in zip(line_of, widths, cells, strict=True)
        ]
        padded[-1] = padded[-1].rstrip()
        line = (" " * GAP).join(padded if styles is None else map(_styled, padded, styles))
        drawn.append(line.rstrip())
    return drawn


def _styles(cells: list[Cells], row: int) -> list[str]:
    """Return how each cell of a row stands out, "" for those that do not."""
    return [
        STYLES.get((entry.words or entry.texts)[row], "bold")
        if entry.key == "every" or (entry.key == "first" and row == 0)
        else ""
        for entry in cells
    ]


def _styled(text: str, style: str) -> str:
    """Return a cell so that it stands out, the blanks beside it as they were."""
    stripped = text.strip()
    if not style or not stripped:
        return text
    from rich.color import ColorSystem
    from rich.style import Style

    stressed = Style.parse(style).render(stripped, color_system=ColorSystem.STANDARD)
    at = text.index(stripped)
    return text[:at] + stressed + text[at + len(stripped) :]


def columns_of(text: str) -> int:
    """Return the columns a text takes in a terminal: two a wide character, none a mark on another."""
    if text.isascii():  # nearly all there is, and known without asking
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def _padded(text: str, width: int, right: bool) -> str:
    blanks = " " * (width - columns_of(text))
    return blanks + text if right else text + blanks


def _wrapped(text: str, width: int) -> list[str]:
    """Return a text as lines of at most `width` columns; only a longer word is cut."""
    lines = [""]
    for word in _words(text, width):
        if lines[-1] and columns_of(lines[-1]) + 1 + columns_of(word) > width:
            lines.append("")
        lines[-1] += f" {word}" if lines[-1] else ""
        if not lines[-1]:
            *whole, lines[-1] = _cut(word, width)
            lines[-1:-1] = whole
    return lines


def _cut(word: str, width: int) -> list[str]:
    """Return a word in pieces of at most `width` columns; one, where it fits."""
    pieces = [""]
    for character in word:
        if pieces[-1] and columns_of(pieces[-1]) + columns_of(character) > width:
            pieces.append("")
        pieces[-1] += character
    return pieces
