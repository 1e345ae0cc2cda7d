"""Column, Table, Answer: one definition for JSON, CSV, frames and the documented tables.

A table keeps arrays, one a column. Text that repeats (labels, equations) is
kept as codes into a list of words and gathered only for the rows that are
shown: making text of everything costs a hundred times the answer itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused

if TYPE_CHECKING:
    import pandas as pd

Kind = Literal["int", "float", "bool", "text", "list"]

# int64 has no NaN; no frequency, row or count comes near its lowest value.
NULL_INT = int(np.iinfo(np.int64).min)
_NOTEBOOK_ROWS = 20


@dataclass(frozen=True)
class Column:
    """One field of a table of records.

    Attributes
    ----------
    name : str. The field in JSON, the head in CSV, the column of the frame.
    kind : "int", "float", "bool", "text" or "list".
    unit : str. "Hz", "dB", "dBm" or "" for none.
    null : bool. Whether the value may be unknown.
    text : str. The head in text for people; "" keeps the column out of it.
    doc : str. One clause: what the field means.
    """

    name: str
    kind: Kind
    unit: str
    null: bool
    text: str
    doc: str


# the column that most tables begin with
RANGE = Column("range", "text", "", False, "Range", "name of the range")


@dataclass(frozen=True)
class Coded:
    """Text as codes into a list of words; a code below 0 is unknown.

    Attributes
    ----------
    codes : integer array, shape (n,).
    words : sequence of str (of any value for a column of kind "list").
    """

    codes: npt.NDArray[np.integer[Any]]
    words: Sequence[Any]


Values = npt.NDArray[Any] | Coded


class Kept(Mapping[str, Any]):
    """A mapping that nobody can write into, nor into what it holds.

    Parameters
    ----------
    held : mapping. Its lists are kept as tuples, its mappings as such ones.
    """

    def __init__(self, held: Mapping[str, Any]) -> None:
        self._held = {name: _kept(value) for name, value in held.items()}

    def __getitem__(self, name: str) -> Any:
        return self._held[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._held)

    def __len__(self) -> int:
        return len(self._held)

    def __repr__(self) -> str:
        return repr(self._held)


def _kept(value: Any) -> Any:
    if isinstance(value, Kept):
        return value
    if isinstance(value, Mapping):
        return Kept(value)
    return tuple(map(_kept, value)) if isinstance(value, list | tuple) else value


def plain(value: Any) -> Any:
    """Return what JSON has for a value of a `Kept`: dictionaries and lists, new ones."""
    if isinstance(value, Mapping):
        return {name: plain(item) for name, item in value.items()}
    return list(map(plain, value)) if isinstance(value, list | tuple) else value


class _Words(tuple[Any, ...]):
    """Words of a column, lists as tuples: once made so, taken rows share them."""

    __slots__ = ()


def _only_read(value: Values) -> Values:
    """Return a column that nobody can write into; the array it came from stays its maker's."""
    if isinstance(value, Coded):
        words = value.words if isinstance(value.words, _Words) else _Words(map(_kept, value.words))
        return Coded(_only_read_array(value.codes), words)
    array = np.asarray(value)
    if array.dtype == object and any(isinstance(cell, list) for cell in array.tolist()):
        cells, array = array.tolist(), np.empty(len(array), dtype=object)
        for at, cell in enumerate(cells):  # one by one: numpy would make a matrix of lists
            array[at] = _kept(cell)
    return _only_read_array(array)


def _only_read_array(array: npt.NDArray[Any]) -> npt.NDArray[Any]:
    seen = array.view()
    seen.setflags(write=False)
    return seen


@dataclass(frozen=True, repr=False)
class Table:
    """Records of one kind, kept as columns.

    Parameters
    ----------
    name : str.
    columns : tuple of Column.
    values : mapping of column name to an array of shape (n,) or a `Coded`. Unknown
        is NaN in a float column, `NULL_INT` in an int column, a negative code or
        None in the others. It is kept for reading alone.

    Raises
    ------
    ValueError  when the values are not exactly the columns, or differ in length.
    """

    name: str
    columns: tuple[Column, ...]
    values: Mapping[str, Values]
    _length: int = field(init=False, repr=False)

    def __post_init__(self) -> None:
        wanted = [column.name for column in self.columns]
        if sorted(wanted) != sorted(self.values):
            odd = sorted(set(wanted) ^ set(self.values))
            raise ValueError(f"table {self.name}: columns and values differ in {odd}")
        lengths = {len(v.codes) if isinstance(v, Coded) else len(v) for v in self.values.values()}
        if len(lengths) > 1:
            raise ValueError(f"table {self.name}: columns of different length {sorted(lengths)}")
        object.__setattr__(self, "_length", lengths.pop() if lengths else 0)
        only_read = {name: _only_read(value) for name, value in self.values.items()}
        object.__setattr__(self, "values", Kept(only_read))

    def __len__(self) -> int:
        return self._length

    def __getitem__(self, name: str) -> npt.NDArray[Any]:
        """Return one column as an array, shape (n,), for reading alone.

        Notes
        -----
        Text comes as objects, None where unknown. Whole numbers that may be unknown come as
        floats, NaN where they are: no frequency or count here is too large to be exact in one.
        """
        if name not in self.values:
            known = ", ".join(column.name for column in self.columns)
            raise KeyError(f"table {self.name} has no column {name!r}; it has {known}")
        value = self.values[name]
        if not isinstance(value, Coded):
            if value.dtype.kind != "i" or not self._may_be_unknown(name):
                return value
            return _only_read_array(np.where(value == NULL_INT, np.nan, value))
        # the spare last entry answers code -1: unknown
        words = np.empty(len(value.words) + 1, dtype=object)
        words[: len(value.words)] = list(value.words)
        return _only_read_array(words[np.where(value.codes < 0, len(value.words), value.codes)])

    def _may_be_unknown(self, name: str) -> bool:
        return any(column.null for column in self.columns if column.name == name)

    def take(self, rows: npt.NDArray[Any] | slice) -> Table:
        """Return a table of some rows, in the order given (indices, mask or slice)."""
        picked = {
            name: Coded(value.codes[rows], value.words) if isinstance(value, Coded) else value[rows]
            for name, value in self.values.items()
        }
        return Table(self.name, self.columns, picked)

    def cells(self, column: Column) -> list[Any]:
        """Return one column as plain Python values, unknown as None."""
        if column.kind == "int":
            return [None if v == NULL_INT else v for v in np.asarray(self.values[column.name]).tolist()]
        cells = self[column.name].tolist()
        if column.kind == "float":
            return [None if math.isnan(v) else v for v in cells]
        return list(map(plain, cells)) if column.kind == "list" else list(cells)

    def records(self, n: int | None = None) -> list[dict[str, Any]]:
        """Return the first `n` records (all where None) as plain dictionaries."""
        head = self if n is None else self.take(slice(0, n))
        names = [column.name for column in self.columns]
        columns = [head.cells(column) for column in self.columns]
        return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]

    def __iter__(self) -> Iterator[dict[str, Any]]:
        return iter(self.records())

    def to_frame(self) -> pd.DataFrame:
        """Return a pandas frame: text as categories, unknown integers as <NA>.

        Notes
        -----
        ``frame.attrs["units"]`` has the unit of each column that has one, ``frame.attrs["meaning"]``
        a clause for each column.
        """
        import pandas as pd

        series: dict[str, Any] = {}
        for column in self.columns:
            value = self.values[column.name]
            if isinstance(value, Coded) and column.kind == "text":
                series[column.name] = _categories(value, pd)
            elif column.kind == "list":
                series[column.name] = np.fromiter(self.cells(column), object, len(self))
            elif column.kind == "int":
                array = np.asarray(value)
                series[column.name] = (
                    pd.arrays.IntegerArray(array.astype(np.int64), array == NULL_INT)
                    if column.null
                    else array.astype(np.int64)
                )
            else:
                series[column.name] = self[column.name].copy()
        frame = pd.DataFrame(series, columns=[column.name for column in self.columns])
        frame.attrs["units"] = {column.name: column.unit for column in self.columns if column.unit}
        frame.attrs["meaning"] = {column.name: column.doc for column in self.columns}
        return frame

    def __repr__(self) -> str:
        names = ", ".join(column.name for column in self.columns)
        return f"<Table {self.name}: {len(self)} row{'' if len(self) == 1 else 's'} of {names}>"

    def _repr_html_(self) -> str:
        """Return the first rows for a notebook."""
        from html import escape

        columns = [column for column in self.columns if column.text]
        heads = "".join(f"<th>{escape(c.text)}{f' ({c.unit})' if c.unit else ''}</th>" for c in columns)
        rows = "".join(
            "<tr>" + "".join(f"<td>{escape(_cell(record[c.name]))}</td>" for c in columns) + "</tr>"
            for record in self.records(_NOTEBOOK_ROWS)
        )
        more = f"<p>{len(self) - _NOTEBOOK_ROWS} more rows</p>" if len(self) > _NOTEBOOK_ROWS else ""
        head = f"<p>{escape(self.name)}</p><table><thead><tr>{heads}</tr></thead>"
        return f"{head}<tbody>{rows}</tbody></table>{more}"


def distinct(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Return the different values of an array, sorted, shape (K,).

    Notes
    -----
    What `numpy.unique` gives where there is no nan; that one imports all of
    `numpy.ma` when first used, which is a twentieth of a short command.
    """
    ordered = np.sort(values, axis=None)
    fresh = np.ones(len(ordered), dtype=np.bool_)
    np.not_equal(ordered[1:], ordered[:-1], out=fresh[1:])
    return ordered[fresh]


def alphabetical(values: Values) -> npt.NDArray[Any]:
    """Return values to sort or to group by: of text its place in the alphabet, -1 for unknown."""
    if not isinstance(values, Coded):
        return values
    # words in use: a table of many labels may name a few of them
    used, which = np.unique(values.codes, return_inverse=True)
    words = [str(values.words[code]) for code in used.tolist() if code >= 0]
    _, place = np.unique(np.array(words, dtype=str), return_inverse=True)
    ranks = np.concatenate([np.full(len(used) - len(words), -1, dtype=np.int64), place.reshape(-1)])
    return np.asarray(ranks[which.reshape(-1)])


def table_of(name: str, columns: tuple[Column, ...], records: Sequence[dict[str, Any]]) -> Table:
    """Return a table from plain records; for the small tables only.

    Unknown is None, NaN or `NULL_INT`.
    """
    values: dict[str, Any] = {}
    for column in columns:
        cells = [record[column.name] for record in records]
        if column.kind in ("text", "list"):
            known = [cell for cell in cells if cell is not None]
            codes = np.cumsum([cell is not None for cell in cells]) - 1
            missing = np.array([cell is None for cell in cells], dtype=bool)
            values[column.name] = Coded(np.where(missing, -1, codes).astype(np.int64), known)
        elif column.kind == "int":
            values[column.name] = np.array([NULL_INT if c is None else c for c in cells], dtype=np.int64)
        elif column.kind == "float":
            values[column.name] = np.array([np.nan if c is None else c for c in cells], dtype=np.float64)
        else:
            # unknown stays None, which a plain array of truth values cannot hold
            values[column.name] = np.array(cells, dtype=object if column.null else bool)
    return Table(name, columns, values)


def _categories(value: Coded, pd: Any) -> Any:
    # Words may repeat in the list (two rows of one label); categories may not.
    words, back = np.unique(np.asarray(value.words, dtype=object).astype(str), return_inverse=True)
    codes = np.where(value.codes < 0, -1, back[np.maximum(value.codes, 0)] if len(words) else -1)
    return pd.Categorical.from_codes(codes, categories=words)


@dataclass(frozen=True)
class Answer:
    """What a question returns: to be read, printed and written out, never to be changed.

    Attributes
    ----------
    receiver : str. Name of the set.
    settings : dict. The options in force, as plain values.
    assumptions : tuple of str. What was taken for granted, and what is not modelled.
    cautions : tuple of str. What can hurt someone.
    tables : dict of Table by name; the first is the one CSV gives. Each is an
        attribute too: ``answer.intrusions``.
    findings : what was found, as objects, where the question has them; what people read is made of
        these, never of the texts in the tables.
    """

    receiver: str
    settings: Mapping[str, Any]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    tables: Mapping[str, Table]
    findings: Any = field(default=None, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "settings", Kept(self.settings))
        object.__setattr__(self, "tables", Kept(self.tables))

    def __getstate__(self) -> dict[str, Any]:
        # findings hold what was compiled to find them, which goes into no file; tables say the same
        return {**self.__dict__, "findings": None}

    def __str__(self) -> str:
        """Return the answer as the command prints it."""
        # How an answer reads is for reporting to say, which stands above: found by its name as the package
        # finds what it offers, so that nothing here needs it.
        return str(import_module("spurplan.reporting.shown").answer_text(self))

    def __getattr__(self, name: str) -> Table:
        tables: Mapping[str, Table] = self.__dict__.get("tables", {})
        if name in tables:
            return tables[name]
        raise AttributeError(f"this answer has no table {name!r}; it has {', '.join(tables)}")

    @property
    def first(self) -> Table:
        """The table that CSV gives."""
        return next(iter(self.tables.values()))

    def to_dict(self) -> dict[str, Any]:
        """Return exactly the JSON object, as plain Python values."""
        out: dict[str, Any] = {
            "receiver": self.receiver,
            "settings": plain(self.settings),
            "assumptions": list(self.assumptions),
            "cautions": list(self.cautions),
        }
        out.update({name: table.records() for name, table in self.tables.items()})
        return out

    def to_frame(self, table: str | None = None) -> pd.DataFrame:
        """Return one table (the first where None) as a pandas frame.

        Raises
        ------
        Refused  for a table that this answer does not have; its tables are named.
        """
        if table is None:
            return self.first.to_frame()
        if not isinstance(table, str) or table not in self.tables:
            known = ", ".join(self.tables)
            raise Refused(Fault("table", "is no table of this answer", str(table), f"it has {known}"))
        return self.tables[table].to_frame()

    def _repr_html_(self) -> str:
        """Return the first rows for a notebook."""
        from html import escape

        parts = [f"<p><b>{escape(self.receiver)}</b></p>"]
        parts += [table._repr_html_() for table in self.tables.values()]
        parts += [f"<p>{escape(line)}</p>" for line in (*self.assumptions, *self.cautions)]
        return "".join(parts)


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.1f}"
    if isinstance(value, list | tuple):
        return "; ".join(map(str, value))
    return str(value)
