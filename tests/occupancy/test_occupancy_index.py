"""The index gives what a plain scan gives, by the tree and by the arrays alike."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.occupancy import frequency_index as index_module
from spurplan.occupancy.frequency_index import OccupantIndex
from spurplan.occupancy.occupants import Occupants

TOP_HZ = 30_000_000_000


def occupants(edges: list[tuple[int, int]]) -> Occupants:
    """Return occupants with these edges and nothing else of note."""
    low = np.array([a for a, _ in edges], np.int64)
    high = np.array([b for _, b in edges], np.int64)
    count = len(edges)
    return Occupants(
        low_hz=low,
        high_hz=high,
        level_dbm=np.zeros(count),
        level_from=np.zeros(count, np.uint8),
        service=np.zeros(count, np.int16),
        label=np.zeros(count, np.int32),
        mode=np.zeros(count, np.int8),
        region=np.zeros(count, np.int16),
        table=np.zeros(count, np.int16),
        row=np.arange(count, dtype=np.int32),
        sound=np.zeros(count, np.int8),
        width_hz=np.full(count, 6_000, np.int32),
        spot=np.zeros(count, bool),
        hours_share=np.full(count, -1.0),
        raster_hz=np.zeros(count, np.int64),
        services=("amateur",),
        labels=("x",),
        modes=("all",),
        regions=("W",),
        tables=("x.csv",),
    )


# Close together, so that edges meet, and far apart, so that width classes differ.
frequencies = st.one_of(st.integers(1, 40), st.integers(1, 100_000), st.integers(1, TOP_HZ))
stretches = st.tuples(frequencies, frequencies).map(lambda pair: (min(pair), max(pair)))


@given(st.lists(stretches, max_size=40), st.lists(stretches, max_size=20))
@settings(max_examples=300, deadline=None)
def test_tree_and_arrays_equal_a_plain_scan(
    held: list[tuple[int, int]], asked: list[tuple[int, int]]
) -> None:
    """The index finds exactly the occupants that share a hertz with the question, edges included."""
    held = sorted(held)
    index = OccupantIndex(occupants(held))
    scan = [
        (number, which)
        for number, (low, high) in enumerate(asked)
        for which, (a, b) in enumerate(held)
        if a <= high and b >= low
    ]
    by_tree = [
        (number, int(which)) for number, (low, high) in enumerate(asked) for which in index.at(low, high)
    ]
    question, answer = index.sweep(
        np.array([low for low, _ in asked], np.int64), np.array([high for _, high in asked], np.int64)
    )
    assert by_tree == scan
    assert list(zip(question.tolist(), answer.tolist(), strict=True)) == scan


@pytest.mark.parametrize("at_once", [1, 3, 1000])
def test_portions_do_not_change_the_answer(monkeypatch: pytest.MonkeyPatch, at_once: int) -> None:
    """However small the portions, every pair comes once."""
    held = [(10 * k, 10 * k + k) for k in range(1, 60)]
    low = np.arange(1, 700, 7, dtype=np.int64)
    high = low + 25
    whole = OccupantIndex(occupants(held)).sweep(low, high)
    monkeypatch.setattr(index_module, "PAIRS_AT_ONCE", at_once)
    parts = OccupantIndex(occupants(held)).sweep(low, high)
    np.testing.assert_array_equal(parts[0], whole[0])
    np.testing.assert_array_equal(parts[1], whole[1])
    assert len(whole[0]) > 100


def test_large_tables_are_scanned_and_agree_with_the_tree(monkeypatch: pytest.MonkeyPatch) -> None:
    """Above the limit the tree is not built; the answer is the same."""
    held = [(k * 5, k * 5 + 9) for k in range(1, 200)]
    by_tree = [OccupantIndex(occupants(held)).at(hz).tolist() for hz in range(1, 1100)]
    monkeypatch.setattr(index_module, "MOST_IN_TREE", 10)
    by_scan = [OccupantIndex(occupants(held)).at(hz).tolist() for hz in range(1, 1100)]
    assert by_scan == by_tree


def test_both_edges_of_an_allocation_belong_to_it() -> None:
    """7200 kHz is in 7000-7200 kHz; a hertz above is not."""
    index = OccupantIndex(occupants([(7_000_000, 7_200_000)]))
    found = {hz: len(index.at(hz)) for hz in (6_999_999, 7_000_000, 7_200_000, 7_200_001)}
    assert found == {6_999_999: 0, 7_000_000: 1, 7_200_000: 1, 7_200_001: 0}


def test_a_question_upside_down_is_refused_or_touches_nothing() -> None:
    index = OccupantIndex(occupants([(5, 10)]))
    with pytest.raises(ValueError, match="high_hz 6 is below low_hz 7"):
        index.at(7, 6)
    question, answer = index.sweep(np.array([7]), np.array([6]))
    assert len(question) == len(answer) == 0


def test_no_occupants_no_answer() -> None:
    index = OccupantIndex(occupants([]))
    assert index.at(7_100_000).tolist() == []
    assert [len(part) for part in index.sweep(np.array([1]), np.array([9]))] == [0, 0]
