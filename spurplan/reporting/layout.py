"""Which columns of a table people see, under which heads, and how values are written.

A layout is a tuple of `Show`, left to right. Text, Markdown and the printed
page write the same cells; only the frame round them differs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from spurplan import units
from spurplan.columns import Answer, Column, Table
from spurplan.reporting.plain import harmless
from spurplan.units import percent_text

UNKNOWN = "-"
# what a row is about, and what comes of it: never left out of a narrow page
ALWAYS = frozenset(
    {"rank", "number", "label", "cause", "cure", "figure", "crystal_hz", "if_hz", "grade", "heard_s"}
)
_EXPONENTS = {"Hz": 0, "kHz": 3, "MHz": 6}


@dataclass(frozen=True)
class Show:
    """One column on the page.

    Attributes
    ----------
    head : str. Its head; the unit is added.
    fields : names of the table's columns. Two frequencies or other numbers make
        one cell "14.100-14.350" (one number where they are the same); texts are
        joined with a comma.
    rank : int. 0 is always shown; on a narrow page the highest rank goes first.
    mhz : bool. Megahertz whatever the frequencies, as the trade marks crystals.
    """

    head: str
    fields: tuple[str, ...]
    rank: int = 0
    mhz: bool = False


Layout = tuple[Show, ...]


@dataclass(frozen=True)
class View:
    """What people are shown of an answer.

    Attributes
    ----------
    heading : lines that sum it up, above the tables.
    tables : the tables in order, under their names; None for the answer's own.
        Rows that say the same may be folded here: programs get every row.
    layouts : columns by name of table; a table without one shows all its
        columns that have a head.
    remarks : lines below the tables, ahead of the assumptions.
    whole : names of the tables that sum up: short, and never cut.
    cautions_first : bool. Cautions ahead of everything, on a page that is taken to the bench.
    """

    heading: tuple[str, ...]
    tables: Mapping[str, Table] | None = None
    layouts: Mapping[str, Layout] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()
    whole: frozenset[str] = frozenset({"ranges"})
    cautions_first: bool = False


def default_view(answer: Answer) -> View:
    """Return the name of the set as heading, and the tables as they are."""
    return View((answer.receiver,))


@dataclass(frozen=True)
class Cells:
    """One column, written out.

    Attributes
    ----------
    head : str. With its unit.
    texts : list of str, one a row.
    right : bool. Whether it stands against the right edge, as numbers do.
    rank : int. As in `Show`.
    """

    head: str
    texts: list[str]
    right: bool
    rank: int


def default_layout(table: Table) -> Layout:
    """Return every column that has a head, the later ones the sooner left out.

    Notes
    -----
    A ``..._low_hz`` followed by its ``..._high_hz`` makes one column of spans,
    under the head of the low edge.
    """
    shown = [column for column in table.columns if column.text]
    names = [column.name for column in shown]
    layout = []
    for rank, column in enumerate(shown):
        other = column.name.replace("_low_hz", "_high_hz")
        if "_high_hz" in column.name and column.name.replace("_high_hz", "_low_hz") in names:
            continue
        fields = (column.name, other) if other != column.name and other in names else (column.name,)
        layout.append(Show(column.text, fields, 0 if column.name in ALWAYS else rank))
    return tuple(layout)


def written(table: Table, layout: Layout | None = None) -> list[Cells]:
    """Return the cells of a table (of all its rows: take the ones to show first)."""
    columns = {column.name: column for column in table.columns}
    return [
        _cells(
            show,
            [columns[name] for name in show.fields],
            [table.cells(columns[name]) for name in show.fields],
        )
        for show in (default_layout(table) if layout is None else layout)
    ]


def _cells(show: Show, columns: list[Column], values: list[list[Any]]) -> Cells:
    first = columns[0]
    numbers = first.kind in ("int", "float")
    if first.unit == "Hz" and numbers:
        unit, texts = frequency_texts(values, aligned=len(values) == 1, mhz=show.mhz)
    else:
        unit = "%" if is_share(first) else first.unit
        texts = [
            [_text(value, column) for value in vector] for column, vector in zip(columns, values, strict=True)
        ]
    joined = [_joined(row, "-" if numbers else ", ") for row in zip(*texts, strict=True)]
    return Cells(f"{show.head} ({unit})" if unit else show.head, joined, numbers, show.rank)


def _joined(texts: Sequence[str], between: str) -> str:
    known = [text for text in dict.fromkeys(texts) if text != UNKNOWN]
    return between.join(known) if known else UNKNOWN


def frequency_texts(
    values: Sequence[Sequence[float | None]], aligned: bool = True, mhz: bool = False
) -> tuple[str, list[list[str]]]:
    """Return the unit that suits all the frequencies, and each with all its digits.

    Parameters
    ----------
    values : columns of frequencies or differences, None where unknown. [Hz]
    aligned : bool. Whether kilohertz have as many decimals all down the column,
        so that the points stand below each other; spans are easier to read without.
    mhz : bool. Whether megahertz are asked for, with as many decimals as it takes.

    Notes
    -----
    One unit for all, so that they compare at a glance. Megahertz with three
    decimals where that says it exactly and nothing lies below 1.8 MHz, else
    kilohertz; hertz where everything is below 1 kHz.
    """
    known = [abs(round(value)) for vector in values for value in vector if value is not None]
    unit, places = "kHz", 0
    if mhz:
        unit, places = "MHz", max((_places(hz, 6) for hz in known), default=0)
    elif known and max(known) < 1_000:
        unit = "Hz"
    elif known and min(known) >= 1_800_000 and not any(hz % 1_000 for hz in known):
        unit, places = "MHz", 3
    elif aligned:
        places = max((_places(hz) for hz in known), default=0)
    exponent = _EXPONENTS[unit]
    return unit, [
        [UNKNOWN if v is None else units.decimal_text(round(v), exponent, places) for v in vector]
        for vector in values
    ]


def _places(hz: int, exponent: int = 3) -> int:
    """Return how many decimals it takes to write a frequency exactly."""
    return len(f"{hz % 10**exponent:0{exponent}d}".rstrip("0"))


# parts of one whose names do not say so
_SHARES = ("weight", "chance", "usable_chance", "usable_low", "usable_high")


def is_share(column: Column) -> bool:
    """Return whether a column holds a part of one, which people read as percent."""
    return column.kind == "float" and ("_share" in column.name or column.name in _SHARES)


def _text(value: Any, column: Column) -> str:
    if value is None:
        return UNKNOWN
    if column.kind == "bool":
        return "yes" if value else "no"
    if column.kind == "list":
        return "; ".join(harmless(str(entry)) for entry in value) or UNKNOWN
    if column.kind == "float":
        return _float_text(value, column)
    return harmless(str(value)) or UNKNOWN


def _float_text(value: float, column: Column) -> str:
    if is_share(column):
        return percent_text(value)
    if column.name == "moves":
        return "0" if value == 0 else f"{value:+.4g}"
    if column.unit in ("dB", "dBm"):
        return f"{value:z.1f}"
    return f"{value:,.0f}" if 1_000 <= abs(value) < 1e6 else f"{value:.3g}"
