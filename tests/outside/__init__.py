"""Every check of the package against something outside it, in one place.

A check is a test function that gives its cases one after another, each with what the
package says less what the source says:

    @against("Recommendation ITU-R P.372", "man-made noise", unit="dB", tolerance=0.01)
    def test_man_made_noise() -> Differences:
        for mhz, category, published in ROWS:
            yield f"{mhz} MHz, {category}", figure_db(mhz, category) - published

pytest collects the function as it stands there and fails with every case beyond the
tolerance; ``python -m tests.outside`` prints the table of all checks from the same
functions, and tests/OUTSIDE.md carries that table.
"""

from __future__ import annotations

import inspect
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest

# what a case is called, and its difference: a number, or an array of many compared at once
Differences = Iterator[tuple[str, Any]]


@dataclass(frozen=True)
class Found:
    """What a check found.

    Attributes
    ----------
    cases : how many figures were compared.
    worst : greatest absolute difference; inf where something was not found at all.
    beyond : the cases beyond the tolerance, in words.
    """

    cases: int
    worst: float
    beyond: list[str]


@dataclass(frozen=True)
class Check:
    """One comparison with the outside.

    Attributes
    ----------
    source : who says so: title, edition, section; or the program or method.
    compares : what is compared.
    unit, tolerance : of the difference, and the greatest that passes.
    needs : a program or module without which it cannot be run; "" for none.
    long : whether it takes minutes.
    apart : why it shows that nothing slipped and not that the world agrees; "" where it shows that.
    """

    source: str
    compares: str
    unit: str
    tolerance: float
    cases_of: Callable[..., Differences] = field(repr=False)
    needs: str = ""
    long: bool = False
    apart: str = ""

    @property
    def missing(self) -> bool:
        """Whether what it needs is not installed here."""
        return bool(self.needs) and shutil.which(self.needs) is None and find_spec(self.needs) is None

    @cached_property
    def outcome(self) -> Found:
        """What was found, worked out once in a process."""
        if "folder" not in inspect.signature(self.cases_of).parameters:
            return self._gathered(self.cases_of())
        with tempfile.TemporaryDirectory() as folder:
            return self._gathered(self.cases_of(Path(folder)))

    def _gathered(self, differences: Differences) -> Found:
        cases, worst, beyond = 0, 0.0, []
        for name, difference in differences:
            size = np.abs(np.asarray(difference, dtype=np.float64))
            size = np.where(np.isnan(size), np.inf, size)
            cases += size.size
            largest = float(size.max(initial=0.0))
            worst = max(worst, largest)
            if largest > self.tolerance:
                beyond.append(f"{name}: {largest:.6g} {self.unit}")
        return Found(cases, worst, beyond)


# why a check stands apart
CHOSEN_ON_IT = "a default was chosen on it"
SAME_FORMULA = "the same formula, written again"
ROUND_TRIP = "what was put in comes out"

CHECKS: list[Check] = []


def against(
    source: str,
    compares: str,
    *,
    unit: str,
    tolerance: float,
    needs: str = "",
    long: bool = False,
    apart: str = "",
) -> Callable[[Callable[..., Differences]], Callable[[], None]]:
    """Register a generator of cases as a check, and make it a test.

    Parameters
    ----------
    source, compares, unit, tolerance, needs, long, apart : see `Check`.

    Returns
    -------
    decorator. The generator may take one argument, `folder`, and is given an empty one.
    """

    def registered(cases_of: Callable[..., Differences]) -> Callable[[], None]:
        check = Check(source, compares, unit, tolerance, cases_of, needs, long, apart)
        CHECKS.append(check)

        def test() -> None:
            if check.missing:
                pytest.skip(f"{check.needs} is not installed")
            found = check.outcome
            assert found.cases > 0, "a check without cases checks nothing"
            assert not found.beyond, f"beyond {check.tolerance:g} {check.unit}: {'; '.join(found.beyond)}"

        test.__name__, test.__qualname__ = cases_of.__name__, cases_of.__qualname__
        test.__module__, test.__doc__ = cases_of.__module__, cases_of.__doc__
        test.check = check  # type: ignore[attr-defined]
        return pytest.mark.long(test) if long else test

    return registered


def unlike(found: Any, published: Any) -> int:
    """Return how many entries stand in one of two collections and not, or not as often, in the other."""
    here, there = Counter(found), Counter(published)
    return sum(((here - there) + (there - here)).values())


def agreed(count: int) -> Any:
    """Return the differences of so many things found alike by code that stops at the first that is not."""
    return np.zeros(count)
