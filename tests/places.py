"""Where a module of tests stands: its name says which, its room is looked up."""

from __future__ import annotations

from functools import cache
from pathlib import Path

TESTS = Path(__file__).parent


@cache
def modules() -> dict[str, Path]:
    """Return the file of every module of tests, by its name, which no other has."""
    paths = sorted(TESTS.rglob("test_*.py"))
    found = {path.stem: path for path in paths}
    assert len(found) == len(paths), "two modules of tests have the same name"
    return found


def file_of(name: str) -> str:
    """Return where a module of tests is, from the repository on: tests/responses/test_join.py."""
    return modules()[name].relative_to(TESTS.parent).as_posix()


def import_name(name: str) -> str:
    """Return what it is imported as: tests.responses.test_join."""
    return file_of(name).removesuffix(".py").replace("/", ".")
