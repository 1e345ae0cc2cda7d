"""What people see of a day: a mark an hour by what a visitor takes, and its worst hour in figures."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from spurplan.reporting.views.by_hour import _mark, _visits
from spurplan.responses.by_hour import WORTH_AN_HOUR, Visitor


@pytest.mark.parametrize(
    ("share", "mark"),
    [
        (0.5, "#"), (0.1, "#"), (0.0999, "+"), (0.03, "+"), (0.0299, "-"), (WORTH_AN_HOUR, "-"),
        (WORTH_AN_HOUR - 1e-6, "."), (0.0, "."),
    ],
)  # fmt: skip
def test_a_mark_stands_from_its_part_of_the_range_on(share: float, mark: str) -> None:
    """# from a tenth of it on, + from 3 in a hundred, - from what is worth an hour."""
    assert _mark(share) == mark


@pytest.mark.parametrize("worst", [0, 7, 23])
def test_at_most_is_the_worst_hour_whichever_it_is(worst: int) -> None:
    shares = [0.01] * 24
    shares[worst] = 0.12
    courses: list[Any] = [SimpleNamespace(range="4", visitors=[Visitor("Mast", "image", tuple(shares))])]
    (row,) = _visits(courses).records()
    assert row["most_share"] == 0.12
    assert row["strip"].index("#") == worst
    assert row["strip"].count("-") == 23
