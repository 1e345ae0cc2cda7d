"""By turns: what takes too long to be run at every commit is run at some of them, each part once in so many.

A part and a commit belong together by their sums, so that which commit runs what
is known beforehand and nobody keeps a list.
"""

from __future__ import annotations

from collections.abc import Container, Iterable
from typing import Any
from zlib import crc32

import pytest


def turn_of(commit: str, turns: int) -> int:
    """Return which of `turns` parts a commit runs, by its hash in hexadecimal."""
    return int(commit, 16) % turns


def part_of(name: str, turns: int) -> int:
    """Return to which of `turns` parts something belongs, by its name."""
    return crc32(name.encode()) % turns


def by_turns(values: Iterable[Any], always: Container[Any], *, several: bool = False) -> list[Any]:
    """Return values as parameters of a test: some always, each other one when its part has its turn.

    Parameters
    ----------
    always : those that every run takes.
    several : bool. Whether a value is one of several parameters, a tuple of theirs.
    """
    return [
        value if value in always else pytest.param(*(value if several else (value,)), marks=pytest.mark.long)
        for value in values
    ]
