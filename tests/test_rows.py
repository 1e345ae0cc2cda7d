"""Rows hold what they promise: kind, length and order are checked whenever they are made."""

from __future__ import annotations

import copy
import pickle
from collections.abc import Callable
from dataclasses import FrozenInstanceError
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.file.reading import read_receiver
from spurplan.responses.grades import Graded, grade_hits
from spurplan.responses.join import Hits, join
from spurplan.responses.lines import Lines, enumerate_lines
from spurplan.rows import Rows, alike, bools, column, floats, ints, shared
from tests.oracle import axis as at_random

Ints = npt.NDArray[np.int64]
RECEIVER = Path(__file__).parent / "receivers" / "boathouse.toml"


class Carriers(Rows):
    """Carriers, ascending, with two levels each."""

    sorted_by = ("hz", "number")

    hz: Ints = ints()
    number: npt.NDArray[np.uint8] = column(np.uint8)
    level_dbm: npt.NDArray[np.float64] = floats(axis=1, ndim=2)
    narrow: npt.NDArray[np.bool_] = bools()
    words: tuple[str, ...] = shared()
    reach: tuple[int, int] = shared(default=(0, 0))

    @cached_property
    def doubled_hz(self) -> Ints:
        return 2 * self.hz


def carriers(at_hz: list[int], numbers: list[int] | None = None, **others: Any) -> Carriers:
    count = len(at_hz)
    columns: dict[str, Any] = {
        "hz": np.array(at_hz, dtype=np.int64),
        "number": np.array(range(count) if numbers is None else numbers, dtype=np.uint8),
        "level_dbm": np.arange(2.0 * count).reshape(2, count),
        "narrow": np.zeros(count, dtype=bool),
        "words": ("a",),
    }
    return Carriers(**columns | others)


@pytest.mark.parametrize(
    ("others", "fault"),
    [
        ({"hz": np.array([1, 2, 3], dtype=np.int32)}, r"Carriers\.hz is int32, not an array of int64"),
        ({"hz": np.array([1.0, 2.0, 3.0])}, r"Carriers\.hz is float64, not an array of int64"),
        ({"hz": [1, 2, 3]}, r"Carriers\.hz is list, not an array of int64"),
        ({"narrow": np.zeros(3, dtype=np.uint8)}, r"Carriers\.narrow is uint8, not an array of bool"),
        ({"hz": np.array(3)}, r"Carriers\.hz has 0 dimensions, not 1"),
        ({"level_dbm": np.zeros(3)}, r"Carriers\.level_dbm has 1 dimensions, not 2"),
        ({"narrow": np.zeros(2, dtype=bool)}, r"Carriers\.narrow has 2 rows, not 3"),
        ({"level_dbm": np.zeros((3, 2))}, r"Carriers\.level_dbm has 2 rows, not 3"),
        ({"hz": np.array([1, 3, 2])}, r"Carriers does not ascend by hz, number"),
    ],
)
def test_a_wrong_kind_length_or_order_is_refused(others: dict[str, Any], fault: str) -> None:
    """No such rows can be made, anew or from others."""
    for make in (lambda: carriers([1, 2, 3], **others), lambda: carriers([1, 2, 3]).replace(**others)):
        with pytest.raises(ValueError, match=fault):
            make()


@pytest.mark.parametrize(
    ("make", "fault"),
    [
        (lambda: carriers([1], unknown=2), "Carriers: missing, unknown or given twice: unknown"),
        (lambda: Carriers(np.zeros(0, dtype=np.int64)), "twice: level_dbm, narrow, number, words"),
        (lambda: Carriers(1, hz=2), "twice: hz, level_dbm"),
        (lambda: Carriers(1, 2, 3, 4, 5, 6, 7), "too many values"),
        (lambda: carriers([1]).replace(unknown=2), "Carriers has no unknown"),
    ],
)
def test_values_that_are_not_the_fields_are_refused(make: Callable[[], Any], fault: str) -> None:
    """A slip in a name is seen at once."""
    with pytest.raises(TypeError, match=fault):
        make()


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 255)), max_size=6))
def test_order_is_that_of_tuples(pairs: list[tuple[int, int]]) -> None:
    """Ties in one column go by the next, whatever kind of number it holds."""
    hz, number = [a for a, _ in pairs], [b for _, b in pairs]
    if pairs == sorted(pairs):
        assert len(carriers(hz, number)) == len(pairs)
    else:
        with pytest.raises(ValueError, match="does not ascend"):
            carriers(hz, number)


def test_rows_are_taken_in_the_order_given() -> None:
    """By indices, mask or slice, along the axis of the rows; what is shared stays."""
    rows = carriers([5, 5, 7], [1, 1, 0])
    for which in (np.array([0, 2]), np.array([True, False, True]), slice(0, 3, 2)):
        some = rows.take(which)
        assert some.hz.tolist() == [5, 7]
        assert some.level_dbm.tolist() == [[0, 2], [3, 5]]
        assert some.words is rows.words
    assert rows.take(np.array([1, 0]), words=("b",)).words == ("b",)
    with pytest.raises(ValueError, match="does not ascend"):
        rows.take(np.array([2, 0]))
    assert rows.take(np.array([2, 0]), hz=np.array([7, 8])).hz.tolist() == [7, 8]


def test_lots_are_put_together_in_the_order_given() -> None:
    """One after the other; never where they would be out of order, or share something else."""
    low, high = carriers([1, 2]), carriers([3], words=("a",))
    both = Carriers.concat([low, high])
    assert both.hz.tolist() == [1, 2, 3]
    assert both.level_dbm.tolist() == [[0, 1, 0], [2, 3, 1]]
    assert Carriers.concat([low]) is low
    with pytest.raises(ValueError, match="does not ascend"):
        Carriers.concat([high, low])
    with pytest.raises(ValueError, match="lots of Carriers with different words"):
        Carriers.concat([low, carriers([3], words=("b",))])


def test_no_rows_are_of_the_same_kinds() -> None:
    """What cannot be known of them has to be given."""
    none = Carriers.empty(words=(), level_dbm=np.zeros((2, 0)))
    assert [getattr(none, name).dtype for name in Carriers.column_names] == [
        np.int64, np.uint8, np.float64, np.bool_,
    ]  # fmt: skip
    assert len(none) == 0
    with pytest.raises(TypeError, match="level_dbm, words"):
        Carriers.concat([])
    assert len(Hits.concat([])) == 0


def test_rows_do_not_change() -> None:
    """Nothing is set or taken out; what is worked out once is kept all the same."""
    rows = carriers([1, 2])
    for attempt in (lambda: setattr(rows, "hz", rows.hz), lambda: delattr(rows, "hz")):
        with pytest.raises(FrozenInstanceError, match="hz: Carriers does not change"):
            attempt()
    assert rows.doubled_hz is rows.doubled_hz
    assert rows.replace(hz=rows.hz + 1).doubled_hz.tolist() == [4, 6]
    assert repr(rows) == "<Carriers: 2 rows>"
    assert rows.field_names == ("hz", "number", "level_dbm", "narrow", "words", "reach")


def test_copies_and_pickles_hold_the_same() -> None:
    """A process that gets rows from another has the same ones."""
    rows = carriers([1, 2])
    for other in (pickle.loads(pickle.dumps(rows)), copy.copy(rows), copy.deepcopy(rows)):
        assert other.hz.tolist() == [1, 2]
        assert other.words == rows.words


def test_a_field_has_to_be_declared() -> None:
    """An annotation alone would be neither checked nor taken along."""
    with pytest.raises(TypeError, match=r"Slip\.width_hz is declared neither a column nor shared"):

        class Slip(Rows):
            hz: Ints = ints()
            width_hz: Ints


def engine() -> tuple[Occupants, Chains, Lines, Hits, Graded]:
    receiver = read_receiver(RECEIVER)
    chains = compile_chains([(receiver, r) for r in receiver.ranges])[0]
    occupants = at_random.occupants(np.random.default_rng(3))
    lines = enumerate_lines(chains, 3, 2)
    hits = join(lines, occupants)
    return occupants, chains, lines, hits, grade_hits(chains, lines, occupants, hits)


def test_the_engine_takes_no_array_of_another_kind_or_length() -> None:
    """Every column of what the engine hands on is checked."""
    for rows in engine():
        assert len(rows) > 1
        for name in rows.column_names:
            values = getattr(rows, name)
            axis = [axis for axis, size in enumerate(values.shape) if size == len(rows)][-1]
            with pytest.raises(ValueError, match=rf"{name} has|has {len(rows)} rows"):
                rows.replace(**{name: np.concatenate([values, values], axis=axis)})
            with pytest.raises(ValueError, match=f"{name} is float16"):
                rows.replace(**{name: np.zeros(values.shape, dtype=np.float16)})


def test_occupants_out_of_order_are_refused() -> None:
    """The join finds an occupant by its edges: of a permuted list it would miss some without a word."""
    occupants, *_ = engine()
    for order in (np.arange(len(occupants))[::-1], np.random.default_rng(1).permutation(len(occupants))):
        with pytest.raises(ValueError, match="Occupants does not ascend by low_hz, high_hz, table, row"):
            occupants.take(order)


@pytest.mark.parametrize("reach", [3, 10**6, 2**40])
def test_entries_alike_in_all_keys_have_one_number(reach: int) -> None:
    """As numpy numbers the columns of a table, however far apart the keys lie."""
    rng = np.random.default_rng(reach)
    few = rng.integers(-reach, reach, (4, 12))
    keys = few[:, rng.integers(0, 12, 200)]
    keys[0] = np.where(rng.random(200) < 0.3, keys[0] + 1, keys[0])
    expected = np.unique(keys, axis=1, return_inverse=True)[1]
    assert alike(*keys).tolist() == expected.reshape(-1).tolist()
    assert len(alike(np.zeros(0, dtype=np.int64))) == 0
