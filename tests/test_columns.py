"""Column, Table, Answer: unknown stays unknown on every way out, and text is text."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from spurplan.columns import Answer, Coded, Column, Table, distinct, table_of

COLUMNS = (
    Column("count", "int", "", True, "Count", "how many"),
    Column("level_dbm", "float", "dBm", True, "Level", "how loud"),
    Column("label", "text", "", True, "Label", "who"),
    Column("yes", "bool", "", True, "Yes", "whether"),
    Column("steps", "list", "", False, "", "which way"),
)
RECORDS = [
    {"count": 3, "level_dbm": -53.5, "label": "a <b>", "yes": True, "steps": [[1, -1]]},
    {"count": None, "level_dbm": None, "label": None, "yes": None, "steps": []},
    {"count": 0, "level_dbm": 0.0, "label": "", "yes": False, "steps": [[2, -2], [1, 1]]},
]


@pytest.fixture
def table() -> Table:
    return table_of("things", COLUMNS, RECORDS)


@pytest.fixture
def answer(table: Table) -> Answer:
    return Answer("a set", {"range": None}, ("assumed",), ("careful",), {"things": table})


def test_records_come_back_as_they_went_in(table: Table) -> None:
    """Unknown is None, zero is zero, empty text is empty text."""
    assert table.records() == RECORDS
    assert table.records(1) == RECORDS[:1]
    assert list(table) == RECORDS


def test_unknown_in_arrays_is_never_a_number_that_could_pass(table: Table) -> None:
    """NaN, the lowest integer, None: nothing that reads as clear."""
    assert table["count"][[0, 2]].tolist() == [3, 0]
    assert math.isnan(table["count"][1])
    assert math.isnan(table["level_dbm"][1])
    assert table["label"].tolist() == ["a <b>", None, ""]


def test_take_keeps_the_order_asked_for(table: Table) -> None:
    """Indices, masks and slices."""
    assert table.take(np.array([2, 0])).records() == [RECORDS[2], RECORDS[0]]
    assert table.take(np.array([False, True, False])).records() == [RECORDS[1]]
    assert len(table.take(slice(0, 0))) == 0


def test_frames_hold_unknowns(table: Table) -> None:
    """<NA> for integers, NaN for floats, missing categories for text."""
    frame = table.to_frame()
    assert list(frame.columns) == [column.name for column in COLUMNS]
    assert frame["count"].isna().tolist() == [False, True, False]
    assert frame["count"].dtype == "Int64"
    assert frame["label"].isna().tolist() == [False, True, False]
    assert frame["level_dbm"].isna().tolist() == [False, True, False]


def test_words_may_repeat_in_the_list_of_words() -> None:
    """Two rows of one label are one category in a frame, and both are gathered."""
    one = (Column("label", "text", "", True, "Label", "who"),)
    table = Table("t", one, {"label": Coded(np.array([0, 1, -1, 2]), ("x", "x", "y"))})
    assert table["label"].tolist() == ["x", "x", None, "y"]
    assert list(table.to_frame()["label"].cat.categories) == ["x", "y"]


def test_json_is_plain_and_whole(answer: Answer) -> None:
    """No NaN anywhere, and the four fields ahead of the tables."""
    text = json.dumps(answer.to_dict(), allow_nan=False)
    assert json.loads(text)["things"] == RECORDS
    assert list(answer.to_dict()) == ["receiver", "settings", "assumptions", "cautions", "things"]


def test_tables_are_attributes_and_the_first_is_the_frame(answer: Answer) -> None:
    """An unknown name says which tables there are."""
    assert answer.things is answer.first
    assert len(answer.to_frame()) == len(answer.to_frame("things")) == 3
    with pytest.raises(AttributeError, match="it has things"):
        _ = answer.nothing
    with pytest.raises(KeyError, match="it has count, level_dbm"):
        _ = answer.things["nothing"]


def test_html_for_notebooks_escapes_and_limits(table: Table) -> None:
    """A label with markup is shown as text; columns without a head and long tables are cut."""
    many = table.take(np.zeros(50, dtype=np.int64))
    page = Answer("<i>set</i>", {}, ("a & b",), (), {"things": many})._repr_html_()
    assert "<i>" not in page
    assert "a &lt;b&gt;" in page
    assert "a &amp; b" in page
    assert page.count("<tr>") == 21
    assert "30 more rows" in page
    assert "steps" not in page


def test_values_must_be_exactly_the_columns() -> None:
    """A missing, an extra or a shorter column is a fault of ours, told at once."""
    one = (Column("count", "int", "", False, "", ""), Column("size", "int", "", False, "", ""))
    with pytest.raises(ValueError, match="differ in \\['size'\\]"):
        Table("t", one, {"count": np.zeros(1)})
    with pytest.raises(ValueError, match="different length"):
        Table("t", one, {"count": np.zeros(1), "size": np.zeros(2)})


@pytest.mark.parametrize("kind", [np.int8, np.int64, np.float64])
@pytest.mark.parametrize("shape", [(0,), (1,), (200,), (20, 5)])
def test_distinct_values_are_what_numpy_calls_unique(kind: type, shape: tuple[int, ...]) -> None:
    """Sorted, each once, whatever the shape."""
    values = np.random.default_rng(len(shape)).integers(-9, 9, shape).astype(kind)
    found = distinct(values)
    np.testing.assert_array_equal(found, np.unique(values))
    assert found.dtype == values.dtype
