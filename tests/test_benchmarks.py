"""The table of times has every figure that is measured; the times themselves are no test."""

from __future__ import annotations

import pytest

from tests import papers
from tests.benchmarks import engine, table
from tests.benchmarks.figures import Growth, Times, time_text
from tests.benchmarks.measuring import growth


def test_the_paper_lists_every_figure_that_is_measured() -> None:
    """In order; python -m tests.benchmarks --write measures them anew."""
    measured = [(one.what, one.against, one.wanted) for one in table.figures()]
    assert list(table.lines_of(papers.between(papers.TIMES.read_text("utf-8"), "benchmarks"))) == measured
    assert len(measured) > 40


@pytest.mark.parametrize(
    ("own", "other", "ratio"),
    [(0.01, 1.25, "125 times faster"), (0.02, 0.01, "2.00 times as long"), (1.0, 1.0, "1.00 times faster")],
)
def test_ratios_say_which_is_longer(own: float, other: float, ratio: str) -> None:
    assert Times(own, other).cells()[2] == ratio


def test_growth_is_the_exponent_of_a_power() -> None:
    """t = c n^1.5 is found exactly."""
    sizes = [10, 100, 1_000]
    exponent = growth(sizes, [2e-3 * n**1.5 for n in sizes])
    assert exponent == pytest.approx(1.5, abs=1e-9)
    assert Growth(exponent, 2.0).cells() == ("2 s", "", "exponent 1.50")


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.00123, "1.23 ms"), (0.123, "123 ms"), (4.56, "4.56 s"), (1_234.5, "1,234 s")]
)
def test_times_are_written_in_their_unit(seconds: float, text: str) -> None:
    assert time_text(seconds) == text


def test_rows_can_be_drawn_as_many_as_are_asked_for() -> None:
    """Of a million some begin on the same hertz, and rows ascend by where they begin and end."""
    drawn = engine.rows(1_000_000)
    same = drawn.low_hz[1:] == drawn.low_hz[:-1]
    assert same.any()
    assert (drawn.high_hz[1:] >= drawn.high_hz[:-1])[same].all()
