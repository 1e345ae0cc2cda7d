"""Which of the chosen tests a run takes: all of them, or those whose turn it is (`--turn COMMIT`)."""

from __future__ import annotations

import pytest

from tests.turns import part_of, turn_of

# parts of the long profile: one of them takes about two minutes on two cores
TURNS = 24


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--turn", metavar="COMMIT", help="of the tests chosen, only the part whose turn it is at this commit"
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    commit = config.getoption("--turn")
    if commit is None:
        return
    turn = turn_of(commit, TURNS)
    others = [item for item in items if part_of(item.nodeid, TURNS) != turn]
    config.hook.pytest_deselected(items=others)
    items[:] = [item for item in items if part_of(item.nodeid, TURNS) == turn]
