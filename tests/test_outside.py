"""The registry of outside checks fails where it must, leaves none out; tests/OUTSIDE.md has what it finds."""

from __future__ import annotations

import itertools
import math

import pytest

from tests import outside, papers
from tests.outside import Check, Differences, against, agreed, table, unlike, written
from tests.places import modules


def tried(monkeypatch: pytest.MonkeyPatch, *differences: object, tolerance: float = 0.1) -> None:
    """Run a check made of some differences, without registering it."""
    monkeypatch.setattr(outside, "CHECKS", [])

    @against("somebody", "something", unit="dB", tolerance=tolerance)
    def check() -> Differences:
        yield from ((f"case {i}", difference) for i, difference in enumerate(differences))

    check()


@pytest.mark.parametrize("wrong", [0.11, -0.11, math.nan, math.inf, [0.0, 0.2], [[0.0], [math.nan]]])
def test_a_difference_beyond_the_tolerance_fails(monkeypatch: pytest.MonkeyPatch, wrong: object) -> None:
    """The case is named, whatever its sign or shape; what is no number is no agreement."""
    with pytest.raises(AssertionError, match="case 1"):
        tried(monkeypatch, 0.0, wrong, 0.05)


def test_a_check_without_cases_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing compared is nothing checked."""
    with pytest.raises(AssertionError, match="without cases"):
        tried(monkeypatch)
    with pytest.raises(AssertionError, match="without cases"):
        tried(monkeypatch, [])


def test_cases_and_the_worst_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """An array counts for each of its figures; a tolerance of 0 is an equality."""
    tried(monkeypatch, 0.05, [-0.1, 0.02])
    found = outside.CHECKS[0].outcome
    assert (found.cases, found.worst) == (3, 0.1)
    tried(monkeypatch, agreed(7), tolerance=0.0)
    assert outside.CHECKS[0].outcome.cases == 7
    with pytest.raises(AssertionError, match="case 0"):
        tried(monkeypatch, 1e-300, tolerance=0.0)


def test_entries_are_compared_with_their_number() -> None:
    """One missing, one too many, one there twice."""
    assert unlike([1, 2], [2, 1]) == 0
    assert unlike([1, 2], [1, 3]) == 2
    assert unlike([1, 1], [1]) == 1


@pytest.mark.parametrize(
    ("value", "tolerance", "written"),
    [
        (0.0, 0.0, "0"),
        (2.0, 0.0, "2"),
        (0.0123456, 0.05, "0.0123"),
        (1e-9, 1e-6, "under 1e-08"),
        (200.0, 200.0, "200"),
        (math.inf, 1.0, "not found"),
    ],
)
def test_figures_are_written_to_a_hundredth_of_their_tolerance(
    value: float, tolerance: float, written: str
) -> None:
    assert table.figure(value, tolerance) == written


def test_the_table_leaves_no_check_out() -> None:
    """Every test file with an outside check stands under one heading."""
    listed = list(itertools.chain.from_iterable(table.SECTIONS.values()))
    using = {p.stem for p in modules().values() if "\nfrom tests.outside import" in p.read_text("utf-8")}
    assert sorted(listed) == sorted(using - {"test_outside"})
    assert len(listed) == len(set(listed))
    assert all(found for found in table.checks().values())


def test_sources_are_named() -> None:
    """Every check says against whom, what, and how near it must be."""
    for check in itertools.chain.from_iterable(table.checks().values()):
        assert isinstance(check, Check)
        assert len(check.source) > 5, check
        assert len(check.compares) > 3, check
        assert 0.0 <= check.tolerance < math.inf, check


@pytest.mark.long
def test_the_paper_carries_what_the_checks_find() -> None:
    """Line by line; python -m tests.outside --write renews it."""
    found = table.table().splitlines()
    lines = papers.between(papers.OUTSIDE.read_text("utf-8"), "outside checks").splitlines()
    assert len(found) == len(lines)
    for here, there in zip(found, lines, strict=True):
        assert written.alike(here, there), f"found   {here}\nwritten {there}"


def test_the_paper_is_compared_closely_enough() -> None:
    """Another count, another name or another size is seen; the last digit is not."""
    line = "| somebody | something | 7 | 0.0123 dB | 0.05 dB |"
    assert written.alike(line, line.replace("0.0123", "0.0125"))
    assert written.alike("| somebody | something |  | ngspice is not installed | 0.05 dB |", line)
    for other in (
        line.replace("0.0123", "0.0163"),
        line.replace("7", "8"),
        line.replace("something", "else"),
        line.replace("0.05", "0.06"),
        "",
    ):
        assert not written.alike(line, other)
