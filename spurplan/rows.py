"""Rows: many things of one kind, an array for each of their figures.

The fields of a class of rows say what each array has to be::

    class Hits(Rows):
        line: Ints = ints()
        names: tuple[str, ...] = shared()      # belongs to all rows together
        p: Ints = ints(axis=1, ndim=2)         # shape (N, H): rows along the second axis

Kind, length and order are checked whenever rows are made, and rows do not change
afterwards: whatever takes some may rely on them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import FrozenInstanceError
from typing import Any, ClassVar, NamedTuple, NoReturn, Self, dataclass_transform

import numpy as np
import numpy.typing as npt

_REQUIRED: Any = object()


class _Column(NamedTuple):
    dtype: np.dtype[Any]
    axis: int
    ndim: int


class _Shared(NamedTuple):
    default: Any


def column(dtype: npt.DTypeLike, *, axis: int = 0, ndim: int = 1) -> Any:
    """Declare an array of `ndim` dimensions with one entry a row along `axis`."""
    return _Column(np.dtype(dtype), axis, ndim)


def ints(*, axis: int = 0, ndim: int = 1) -> Any:
    """Declare an array of int64; see `column`."""
    return column(np.int64, axis=axis, ndim=ndim)


def floats(*, axis: int = 0, ndim: int = 1) -> Any:
    """Declare an array of float64; see `column`."""
    return column(np.float64, axis=axis, ndim=ndim)


def bools(*, axis: int = 0, ndim: int = 1) -> Any:
    """Declare an array of bool; see `column`."""
    return column(np.bool_, axis=axis, ndim=ndim)


def shared(*, default: Any = _REQUIRED) -> Any:
    """Declare a value that belongs to all rows together."""
    return _Shared(default)


@dataclass_transform(frozen_default=True, field_specifiers=(column, ints, floats, bools, shared))
class Rows:
    """Many things of one kind; subclasses declare their columns.

    Attributes
    ----------
    sorted_by : tuple of str. Columns by which the rows ascend, the first counting most; () for none.
    field_names, column_names : tuple of str. All fields as declared; the columns among them.

    Raises
    ------
    TypeError  for values that are not exactly the fields.
    ValueError  for a column of another kind, number of dimensions or length than declared, and
        for rows out of order.
    """

    sorted_by: ClassVar[tuple[str, ...]] = ()
    field_names: ClassVar[tuple[str, ...]] = ()
    column_names: ClassVar[tuple[str, ...]] = ()
    _fields: ClassVar[frozenset[str]] = frozenset()
    _columns: ClassVar[dict[str, _Column]] = {}
    _defaults: ClassVar[dict[str, Any]] = {}

    def __init_subclass__(cls) -> None:
        declared = {n: v for n, v in vars(cls).items() if isinstance(v, _Column | _Shared)}
        for name, kind in cls.__annotations__.items():
            if name not in declared and "ClassVar" not in str(kind):
                raise TypeError(f"{cls.__name__}.{name} is declared neither a column nor shared")
        cls.field_names = tuple(declared)
        cls._fields = frozenset(declared)
        cls._columns = {n: v for n, v in declared.items() if isinstance(v, _Column)}
        cls.column_names = tuple(cls._columns)
        cls._defaults = {
            n: v.default for n, v in declared.items() if isinstance(v, _Shared) and v.default is not _REQUIRED
        }
        for name in declared:
            delattr(cls, name)

    def __init__(self, *values: Any, **named: Any) -> None:
        given = self._defaults | dict(zip(self.field_names, values, strict=False)) | named
        if len(values) > len(self.field_names):
            raise TypeError(f"{type(self).__name__}: too many values")
        odd = (given.keys() ^ self._fields) | (named.keys() & self.field_names[: len(values)])
        if odd:
            what = f"missing, unknown or given twice: {', '.join(sorted(odd))}"
            raise TypeError(f"{type(self).__name__}: {what}")
        self._hold(given, self._columns)

    def _hold(self, values: dict[str, Any], unsure: Iterable[str]) -> None:
        """Take the values of all fields, the columns among them checked of which nobody is sure."""
        name_of = type(self).__name__
        rows: int | None = None
        for name in unsure:
            dtype, axis, ndim = self._columns[name]
            array = values[name]
            # most are the very same kind: comparing kinds takes longer than all else here
            if not isinstance(array, np.ndarray) or (array.dtype is not dtype and array.dtype != dtype):
                kind = array.dtype if isinstance(array, np.ndarray) else type(array).__name__
                raise ValueError(f"{name_of}.{name} is {kind}, not an array of {dtype}")
            shape = array.shape
            if len(shape) != ndim:
                raise ValueError(f"{name_of}.{name} has {len(shape)} dimensions, not {ndim}")
            if rows is None:
                rows = shape[axis]
            elif shape[axis] != rows:
                raise ValueError(f"{name_of}.{name} has {shape[axis]} rows, not {rows}")
        if self.sorted_by and not ascending([values[name] for name in self.sorted_by]):
            raise ValueError(f"{name_of} does not ascend by {', '.join(self.sorted_by)}")
        self.__dict__.update(values)

    def __len__(self) -> int:
        name, (_, axis, _) = next(iter(self._columns.items()))
        return int(self.__dict__[name].shape[axis])

    def __setattr__(self, name: str, value: Any) -> NoReturn:
        raise FrozenInstanceError(f"cannot assign to {name}: {type(self).__name__} does not change")

    def __delattr__(self, name: str) -> NoReturn:
        raise FrozenInstanceError(f"cannot delete {name}: {type(self).__name__} does not change")

    def __repr__(self) -> str:
        return f"<{type(self).__name__}: {len(self)} rows>"

    def replace(self, **changes: Any) -> Self:
        """Return the rows with other values of some fields."""
        # what a cached property keeps in the same place is no field
        return self._with({name: self.__dict__[name] for name in self.field_names}, changes)

    def take(self, which: npt.NDArray[Any] | slice, **changes: Any) -> Self:
        """Return some rows, in the order given (indices, mask or slice); `changes` are fields of those."""
        values = {name: self.__dict__[name] for name in self.field_names}
        for name, (_, axis, _) in self._columns.items():
            if name not in changes:
                values[name] = values[name][(slice(None),) * axis + (which,) if axis else which]
        return self._with(values, changes)

    def _with(self, values: dict[str, Any], changes: dict[str, Any]) -> Self:
        """Return rows of values that fit together, with changes that may not."""
        if odd := changes.keys() - self._fields:
            raise TypeError(f"{type(self).__name__} has no {', '.join(sorted(odd))}")
        changed = [name for name in self._columns if name in changes]
        # the first of the others says how many rows there are, and whether it was rows that were taken
        first = next((name for name in self._columns if name not in changes), None)
        new = object.__new__(type(self))
        new._hold(values | changes, changed if first is None else [first, *changed])
        return new

    @classmethod
    def concat(cls, pieces: Sequence[Self]) -> Self:
        """Return several lots as one, in the order given; none are `empty`.

        Raises
        ------
        ValueError  for lots that do not share the same.
        """
        if not pieces:
            return cls.empty()
        first = pieces[0]
        if len(pieces) == 1:
            return first
        for name in set(cls.field_names) - set(cls._columns):
            if not all(_same(first.__dict__[name], piece.__dict__[name]) for piece in pieces):
                raise ValueError(f"lots of {cls.__name__} with different {name}")
        return first.replace(
            **{
                name: np.concatenate([piece.__dict__[name] for piece in pieces], axis=axis)
                for name, (_, axis, _) in cls._columns.items()
            }
        )

    @classmethod
    def empty(cls, **values: Any) -> Self:
        """Return no rows.

        Parameters
        ----------
        values : fields that have to be given: shared ones without a default, columns of several
            dimensions.
        """
        none = {
            name: np.zeros(0, dtype=dtype) for name, (dtype, _, ndim) in cls._columns.items() if ndim == 1
        }
        return cls(**none | values)


def ascending(columns: Sequence[npt.NDArray[Any]]) -> bool:
    """Return whether the rows of some columns ascend, the first column counting most."""
    tied = np.ones(max(len(columns[0]) - 1, 0), dtype=np.bool_)
    for values in columns:
        # compared, not subtracted: a difference of unsigned numbers never falls
        if (tied & (values[1:] < values[:-1])).any():
            return False
        tied &= values[1:] == values[:-1]
        if not tied.any():
            break
    return True


def _same(value: Any, other: Any) -> bool:
    if value is other:
        return True
    return np.array_equal(value, other) if isinstance(value, np.ndarray) else bool(value == other)


def of_the_best(
    lot: npt.NDArray[Any], member: npt.NDArray[Any], worth: npt.NDArray[Any]
) -> npt.NDArray[np.bool_]:
    """Return which entries are of the member worth most in their lot; of equals the first counts.

    Parameters
    ----------
    lot : int, shape (n,). What an entry competes in, 0 or more.
    member : int, shape (n,). Whom it belongs to; one may have several entries in a lot.
    worth : shape (n,).
    """
    most = np.full(int(lot.max(initial=-1)) + 1, -np.inf)
    np.maximum.at(most, lot, worth)
    best = np.flatnonzero(worth == most[lot])
    chosen = np.full(len(most), -1, dtype=np.int64)
    # written from the last to the first, so that the first stays
    chosen[lot[best[::-1]]] = member[best[::-1]]
    return np.asarray(member == chosen[lot])


# products of what is packed into one whole number stay below it
_LARGEST = 2**62


def alike(*keys: npt.NDArray[Any]) -> npt.NDArray[np.int64]:
    """Return the same number for entries that are the same in all of some whole-number keys, shape (n,).

    Parameters
    ----------
    keys : int, shape (n,) each.

    Returns
    -------
    int64. From 0, ascending as the keys do, the first of them first.

    Notes
    -----
    One sort of whole numbers; numpy's own of several columns is ten times slower.
    """
    packed, count = np.zeros(len(keys[0]), dtype=np.int64), 1
    if not len(packed):
        return packed
    for key in keys:
        place = key.astype(np.int64) - int(key.min())
        wide = int(place.max()) + 1
        if count * wide >= _LARGEST:
            used, packed = np.unique(packed, return_inverse=True)
            there, place = np.unique(place, return_inverse=True)
            count, wide = len(used), len(there)
        packed, count = packed * wide + place, count * wide
    number: npt.NDArray[np.int64] = np.unique(packed, return_inverse=True)[1].astype(np.int64)
    return number


def lots(counts: npt.NDArray[np.int64], most: int) -> Iterator[slice]:
    """Yield rows in turn, with about so many of what each counts at a time; none with nothing."""
    ends = np.cumsum(counts)
    start = 0
    while start < len(counts):
        done = int(ends[start - 1]) if start else 0
        stop = max(start + 1, int(np.searchsorted(ends, done + most, side="right")))
        if ends[stop - 1] > done:
            yield slice(start, stop)
        start = stop


def numbered(counts: npt.NDArray[np.int64]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return each row as often as it counts, and the numbers from 0 inside each."""
    row = np.repeat(np.arange(len(counts), dtype=np.int64), counts)
    return row, np.arange(len(row), dtype=np.int64) - np.repeat(np.cumsum(counts) - counts, counts)
