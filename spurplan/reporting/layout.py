"""Which columns of a table people see, under which heads, and how values are written.

A layout is a tuple of `Show`, left to right. Text, Markdown and the printed
page write the same cells; only the frame round them differs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from spurplan import units
from spurplan.columns import Answer, Column, Table
from spurplan.reporting.plain import harmless
from spurplan.units import KILOHERTZ_BELOW_HZ, near_hz, whole_percent_text

UNKNOWN = "-"
Key = Literal["", "first", "every"]
# what a row is about, and what comes of it: never left out of a narrow page
ALWAYS = frozenset(
    {"rank", "number", "label", "cause", "cure", "figure", "crystal_hz", "if_hz", "grade", "heard_s"}
)
_EXPONENTS = {"Hz": 0, "kHz": 3, "MHz": 6}
# a column of text may be squeezed to so many columns before another has to go
COMFORTABLE = 24
# a column with nothing above this holds differences, or what is too low to suit the others
_OWN_UNIT_HZ = 100_000


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
    near : bool. Frequencies for the eye: stretches rounded outward to 1 kHz.
    places : int or None. Decimals of every number in it; None for what suits its unit.
    short : names of the fields that stay of it on a page too narrow for all of them,
        which is tried before any column goes.
    comfort : int. How far its text may be squeezed before another column goes instead.
    key : str. Whether it holds the answer and stands out where type can: "every" row, the "first"
        row alone, or "" for none.
    by : str. The field whose word says how it stands out; "" for its own text.
    """

    head: str
    fields: tuple[str, ...]
    rank: int = 0
    mhz: bool = False
    near: bool = False
    places: int | None = None
    short: tuple[str, ...] = ()
    comfort: int = COMFORTABLE
    key: Key = ""
    by: str = ""


Layout = tuple[Show, ...]


@dataclass(frozen=True)
class View:
    """What people are shown of an answer.

    Attributes
    ----------
    heading : lines that sum it up, above the tables: the answer first.
    tables : the tables in order, under their names; None for the answer's own.
        Rows that say the same may be folded here: programs get every row.
    layouts : columns by name of table; a table without one shows all its
        columns that have a head.
    described : lines that say what the set is, below the tables.
    remarks : lines below those, ahead of the assumptions.
    whole : names of the tables that sum up: short, and never cut.
    cautions_first : bool. Cautions ahead of everything, on a page that is taken to the bench.
    """

    heading: tuple[str, ...]
    tables: Mapping[str, Table] | None = None
    layouts: Mapping[str, Layout] = field(default_factory=dict)
    described: tuple[str, ...] = ()
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
    rank, comfort, key : as in `Show`.
    short : the texts of a narrow page, a list as long; None where there are no shorter ones.
    words : what says how each text stands out, a list as long; None for the texts themselves.
    """

    head: str
    texts: list[str]
    right: bool
    rank: int
    comfort: int = COMFORTABLE
    key: Key = ""
    short: list[str] | None = None
    words: list[str] | None = None


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
    """Return the cells of a table (of all its rows: take the ones to show first).

    Notes
    -----
    One unit serves all frequencies of a table, so that they compare along a row as well; columns that
    hold nothing but differences have a unit of their own.
    """
    columns = {column.name: column for column in table.columns}
    shows = default_layout(table) if layout is None else layout
    values = {name: table.cells(columns[name]) for show in shows for name in (*show.fields, *show.short)}
    alike = [
        (show, [values[name] for name in show.fields])
        for show in shows
        if _is_frequency(columns[show.fields[0]])
    ]
    unit = _unit_of_all(alike)
    return [_cells(show, table, columns, values, unit) for show in shows]


def _is_frequency(column: Column) -> bool:
    return column.unit == "Hz" and column.kind in ("int", "float")


def _unit_of_all(shown: Sequence[tuple[Show, Sequence[Sequence[float | None]]]]) -> str:
    """Return the unit of a table's frequencies, differences left out."""
    if any(show.mhz for show, _ in shown):
        return "MHz"
    near, exact = [
        [
            vector
            for show, values in shown
            if show.near is wanted and _largest(values) >= _OWN_UNIT_HZ
            for vector in values
        ]
        for wanted in (True, False)
    ]
    return unit_of([*_rounded(near), *exact])


def _largest(values: Sequence[Sequence[float | None]]) -> float:
    return max((abs(value) for vector in values for value in vector if value is not None), default=0.0)


def _cells(
    show: Show, table: Table, columns: Mapping[str, Column], values: Mapping[str, list[Any]], unit: str
) -> Cells:
    first = columns[show.fields[0]]
    numbers = first.kind in ("int", "float")
    own = [values[name] for name in show.fields]
    if _is_frequency(first):
        wanted_unit = unit if _largest(own) >= _OWN_UNIT_HZ else ""
        unit, texts = frequency_texts(
            own, aligned=len(own) == 1, mhz=show.mhz, near=show.near, unit=wanted_unit, outward=len(own) > 1
        )
    else:
        unit = "%" if is_share(first) else first.unit
        texts = [[_text(value, columns[name], show.places) for value in values[name]] for name in show.fields]
        if unit == "%" and len(own) == 2:  # an interval, whose ends bar nothing
            texts = [[UNKNOWN if v is None else f"{100 * v:.0f}" for v in vector] for vector in own]
    between = "-" if numbers else ", "
    short = None
    if show.short:
        few = [[_text(value, columns[name], show.places) for value in values[name]] for name in show.short]
        short = [_joined(row, between) for row in zip(*few, strict=True)]
    return Cells(
        f"{show.head} ({unit})" if unit else show.head,
        [_joined(row, between) for row in zip(*texts, strict=True)],
        numbers,
        show.rank,
        show.comfort,
        show.key,
        short,
        [str(word) for word in table.cells(columns[show.by])] if show.by in columns else None,
    )


def _joined(texts: Sequence[str], between: str) -> str:
    known = [text for text in dict.fromkeys(texts) if text != UNKNOWN]
    return between.join(known) if known else UNKNOWN


def frequency_texts(
    values: Sequence[Sequence[float | None]],
    aligned: bool = True,
    mhz: bool = False,
    *,
    near: bool = False,
    outward: bool = False,
    unit: str = "",
) -> tuple[str, list[list[str]]]:
    """Return the unit that suits all the frequencies, and each in it, with all its digits or near.

    Parameters
    ----------
    values : columns of frequencies or differences, None where unknown. [Hz]
    aligned : bool. Whether kilohertz have as many decimals all down the column,
        so that the points stand below each other; spans are easier to read without.
    mhz : bool. Whether megahertz are asked for, with as many decimals as it takes.
    near : bool. Whether they are for the eye: to 1 kHz, single ones below 1.8 MHz to 0.1 kHz.
    outward : bool. Whether two columns are the edges of stretches, which near are rounded outward.
    unit : str. The unit of the table they stand in, "" for their own.

    Notes
    -----
    One unit for all, so that they compare at a glance: see `unit_of`.
    """
    if near:
        values = _rounded(values, outward)
    known = _known(values)
    unit, places = ("MHz" if mhz else unit or unit_of(values)), 0
    if mhz:
        places = max((_places(hz, 6) for hz in known), default=0)
    elif unit == "MHz":
        places = 3
    elif aligned and unit == "kHz":
        places = max((_places(hz) for hz in known), default=0)
    exponent = _EXPONENTS[unit]
    return unit, [
        [UNKNOWN if v is None else units.decimal_text(round(v), exponent, places) for v in vector]
        for vector in values
    ]


def unit_of(values: Sequence[Sequence[float | None]]) -> str:
    """Return the unit that suits frequencies: "MHz", "kHz" or "Hz".

    Notes
    -----
    Megahertz with three decimals where that says it exactly and nothing lies below 1.8 MHz, else
    kilohertz; hertz where everything is below 1 kHz.
    """
    known = _known(values)
    if known and max(known) < 1_000:
        return "Hz"
    short_wave = bool(known) and min(known) >= KILOHERTZ_BELOW_HZ
    return "MHz" if short_wave and not any(hz % 1_000 for hz in known) else "kHz"


def _known(values: Sequence[Sequence[float | None]]) -> list[int]:
    return [abs(round(value)) for vector in values for value in vector if value is not None]


def _rounded(values: Sequence[Sequence[float | None]], outward: bool = True) -> list[list[float | None]]:
    """Return frequencies for the eye: two columns are the edges of stretches, others stand by themselves."""
    rows: list[tuple[float | None, ...]] = []
    for row in zip(*values, strict=True):
        low, high = row[0], row[-1]
        if outward and len(row) == 2 and low is not None and high is not None and low < high:
            rows.append((low // 1_000 * 1_000, -(-high // 1_000) * 1_000))
        else:
            rows.append(tuple(None if hz is None else near_hz(hz) for hz in row))
    return [list(column) for column in zip(*rows, strict=True)] if rows else [[] for _ in values]


def _places(hz: int, exponent: int = 3) -> int:
    """Return how many decimals it takes to write a frequency exactly."""
    return len(f"{hz % 10**exponent:0{exponent}d}".rstrip("0"))


# parts of one whose names do not say so
_SHARES = frozenset({"weight", "chance", "usable_chance", "usable_low", "usable_high"})


def is_share(column: Column) -> bool:
    """Return whether a column holds a part of one, which people read as percent."""
    return column.kind == "float" and ("_share" in column.name or column.name in _SHARES)


def _text(value: Any, column: Column, places: int | None = None) -> str:
    if value is None:
        return UNKNOWN
    if column.kind == "bool":
        return "yes" if value else "no"
    if column.kind == "list":
        return "; ".join(harmless(str(entry)) for entry in value) or UNKNOWN
    if column.kind == "float":
        return _float_text(value, column, places)
    return harmless(str(value)) or UNKNOWN


def _float_text(value: float, column: Column, places: int | None) -> str:
    if is_share(column):
        return whole_percent_text(value)
    if places is not None:
        return f"{value:z,.{places}f}"
    if column.name == "moves":
        return "0" if value == 0 else f"{value:+.4g}"
    if column.unit in ("dB", "dBm"):
        return f"{value:z.1f}"
    return f"{value:,.0f}" if 1_000 <= abs(value) < 1e6 else f"{value:.3g}"
