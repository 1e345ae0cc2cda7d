"""The drawn cases of `suspects`: what their file promises, and how often the true way in is found."""

from __future__ import annotations

from collections import Counter

from tests.suspects.cases import drawn_cases
from tests.suspects.draw import drawn


def test_the_file_is_what_its_script_draws() -> None:
    """The file was made once, ahead of any run; nobody has picked among its lines."""
    assert [{name: str(value) for name, value in case.items()} for case in drawn()] == [
        dict(case.row) for case in drawn_cases()
    ]


def test_the_file_has_enough_of_everything() -> None:
    """600 cases, each cause 40 times at least, a fifth of the stations in no table, 60 ambiguous at first."""
    cases = drawn_cases()
    assert len(cases) == 600
    assert min(Counter(case.row["cause"] for case in cases).values()) >= 40
    stations = [case for case in cases if case.row["cause"] != "own"]
    assert 0.17 <= sum(case.row["listed"] == "0" for case in stations) / len(stations) <= 0.25
    assert sum(case.ambiguous for case in cases) >= 60
