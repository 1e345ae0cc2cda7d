"""The short cut of the judgement against worlds in which every station is drawn."""

from __future__ import annotations

import pytest

from tests.truth_cases import CASES, Case, Compared, compared

# the share as promised, and the ends of its interval where no single emission decides
SHARE, ENDS = 0.03, 0.05
QUICK = [case for case in CASES if case.number == 3 or "one_circuit" in case.file]


def name(case: Case) -> str:
    return case.name


def agree(both: Compared) -> None:
    assert abs(both.share_error) <= SHARE
    assert both.parts_error() <= SHARE
    if not both.decided:
        assert max(map(abs, both.ends_error)) <= ENDS


@pytest.mark.parametrize("case", QUICK, ids=name)
def test_the_share_is_that_of_drawn_worlds(case: Case) -> None:
    """Within 0.03, and so is what each cause takes; ends of the interval within 0.05."""
    both = compared(case, 400)
    # where nothing is ever lost agreement proves nothing
    assert 0.1 < both.drawn.mean < 0.99
    agree(both)


@pytest.mark.long
@pytest.mark.parametrize("case", CASES, ids=name)
def test_the_share_of_every_range_is_that_of_two_thousand_worlds(case: Case) -> None:
    """As above; with a sampling error of at most 0.008 of its own."""
    both = compared(case)
    assert both.drawn.error < 0.01
    agree(both)


def test_worlds_without_spreads_differ_by_luck_alone() -> None:
    """With nothing common moved, drawn worlds scatter less than with it."""
    from tests.oracle.truth import Dial

    case = next(case for case in CASES if "one_circuit" in case.file)
    usable = [
        Dial(
            case.contents,
            case.number,
            case.occupants(),
            settings=100,
            stranger_dbm=case.stranger_dbm,
            factor=factor,
        )
        .run(200, 3)
        .usable
        for factor in (0.0, 1.0)
    ]
    assert usable[0].std() < 0.7 * usable[1].std()
