"""The changes that tests are asked about: each kind is made, none is explained that is not there."""

from __future__ import annotations

import pytest

from tests.mutation.explained import entries, stale_in
from tests.mutation.mutants import mutants_of
from tests.mutation.reach import Reach
from tests.mutation.targets import TARGETS
from tests.mutation.trial import path_of
from tests.places import modules

TEXT = '''
def heard(low, high=3, *, region=None):
    """Say who."""
    found = [one for one in told(low, region=region) if one > 0]
    found.sort(key=size)
    if low < 10 and high:
        return []
    return sorted(found)[1:] + [*these, *those]


def said(share: float, of: str) -> str:
    return f"{share:.0f} of {of}"
'''


@pytest.mark.parametrize(
    "change",
    [
        "def heard(low, high=[3 -> 4], *, region=None):",
        "def heard(low, high=[3 -> 2], *, region=None):",
        "found = [one for one in told(low[, region=region -> ]) if one > 0]",
        "found = [one for one in told(low, region=region) if [one > 0 -> True]]",
        "found = [one for one in told(low, region=region) if one [> -> >=] 0]",
        "[found.sort(key=size) -> pass]",
        "found.sort(key=size[) -> , reverse=True)]",
        "if low [< -> <=] 10 and high:",
        "if low < 10 [and -> or] high:",
        "if low < 10[ and high -> ]:",
        "if [low < 10 and -> ]high:",
        "[return [] -> pass]",
        "return sorted(found)[[1 -> ]:] + [*these, *those]",
        "return sorted(found[) -> , reverse=True)][1:] + [*these, *those]",
        "return sorted(found)[1:] [+ -> -] [*these, *those]",
        "return sorted(found)[1:] + [*these[, *those -> ]]",
        'return f"{[share:.0f} of {of -> of:.0f} of {share]}"',
        'return f"{share:.[0 -> 1]f} of {of}"',
        'return [f"{share:.0f} of {of}" -> ""]',
    ],
)
def test_each_kind_of_change_is_made(change: str) -> None:
    """Once, where it stands."""
    found = [mutant for mutant in mutants_of(TEXT) if mutant.change == change]
    assert len(found) == 1, [mutant.change for mutant in mutants_of(TEXT)]


def test_no_change_touches_what_is_said_of_the_code() -> None:
    """Docstrings and annotations stay, and a change is one of the text."""
    for mutant in mutants_of(TEXT):
        assert '"""Say who."""' in mutant.text
        assert "-> str:" in mutant.text
        assert mutant.text != TEXT


def test_a_change_is_met_by_what_runs_through_its_statement() -> None:
    """A head of several lines is a statement; a default counts in each call; the top of a module always."""
    reach = Reach("A = 1\n\n\ndef f(x=2):\n    if (x\n            > 3):\n        return A\n    return 0\n")
    assert reach.meets(1, set())
    assert [reach.meets(4, lines) for lines in (set(), {8})] == [False, True]
    assert [reach.meets(6, lines) for lines in ({5}, {7}, {8})] == [True, False, False]
    assert [reach.meets(7, lines) for lines in ({5}, {7})] == [False, True]
    # what is kept is worked out for the first test that asks, whichever that is
    assert Reach("@cache\ndef f():\n    return 0\n").meets(3, set())


def test_what_is_explained_is_one_of_the_changes() -> None:
    """An entry whose line has changed goes, or is thought about anew."""
    assert set(entries()) <= set(TARGETS)
    every = {module: mutants_of(path_of(module).read_text(encoding="utf-8")) for module in entries()}
    assert {module: stale_in(module, some) for module, some in every.items() if stale_in(module, some)} == {}


def test_the_tests_of_a_module_are_there() -> None:
    """Every module that is tried has a file, and quick tests that are files of ours."""
    for module, target in TARGETS.items():
        assert path_of(module).exists(), module
        assert target.quick
        for test in (*target.quick, *target.wide):
            assert test.partition("::")[0] in modules(), test
