"""Which occupants lie on a frequency: one question, or many at once.

One-off questions go to an interval tree, sweeps to sorted arrays. Both give
indices in the order of the occupants, and both count both edges in.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.occupancy.occupants import Occupants

# Building the tree takes about 20 microseconds an occupant; a plain comparison
# of two arrays answers a single question on a large table sooner.
MOST_IN_TREE = 20_000
PAIRS_AT_ONCE = 4_000_000

Indices = npt.NDArray[np.intp]


class OccupantIndex:
    """Finds the occupants on a frequency or in a stretch.

    Parameters
    ----------
    occupants : Occupants.
    """

    def __init__(self, occupants: Occupants) -> None:
        self.occupants = occupants

    def at(self, low_hz: int, high_hz: int | None = None) -> Indices:
        """Return the occupants that touch [low_hz, high_hz], edges included, ascending.

        Parameters
        ----------
        low_hz : int. [Hz]
        high_hz : int or None. At least `low_hz`; None for that one frequency. [Hz]

        Raises
        ------
        ValueError  when high_hz is below low_hz.
        """
        high = low_hz if high_hz is None else high_hz
        if high < low_hz:
            raise ValueError(f"high_hz {high} is below low_hz {low_hz}")
        if len(self.occupants) > MOST_IN_TREE:
            touching = (self.occupants.low_hz <= high) & (self.occupants.high_hz >= low_hz)
            return np.flatnonzero(touching)
        # The tree's intervals are half open: it holds high + 1, and is asked to high + 1.
        # overlap() and not overlaps(), which is hundreds of times slower.
        intervals = self._tree.overlap(low_hz, high + 1)
        return np.array(sorted(interval.data for interval in intervals), np.intp)

    @cached_property
    def _tree(self) -> Any:
        from intervaltree import IntervalTree

        low, high = self.occupants.low_hz.tolist(), self.occupants.high_hz.tolist()
        return IntervalTree.from_tuples(
            (first, last + 1, number) for number, (first, last) in enumerate(zip(low, high, strict=True))
        )

    def sweep(self, low_hz: npt.NDArray[np.int64], high_hz: npt.NDArray[np.int64]) -> tuple[Indices, Indices]:
        """Return all pairs (question, occupant) that touch, by question and then by occupant.

        Parameters
        ----------
        low_hz, high_hz : int64 arrays, shape (n,), edges included; a question whose
            high is below its low touches nothing. [Hz]

        Notes
        -----
        Occupants are sorted into classes of width 2**k to 2**(k+1). Within a class
        those that can touch [a, b] begin between a - 2**(k+1) and b: one stretch of
        the sorted beginnings, of which few are in vain. A single class would put the
        widest band's width before every question.
        """
        questions: list[Indices] = []
        answers: list[Indices] = []
        nonempty = np.flatnonzero(high_hz >= low_hz)
        for lows, highs, members, widest in self._classes:
            first = np.searchsorted(lows, low_hz[nonempty] - widest, side="left")
            last = np.searchsorted(lows, high_hz[nonempty], side="right")
            for part in _portions(last - first):
                question, candidate = _pairs(first[part], last[part])
                question = nonempty[part][question]
                touching = highs[candidate] >= low_hz[question]
                questions.append(question[touching])
                answers.append(members[candidate[touching]])
        if not questions:
            return np.zeros(0, np.intp), np.zeros(0, np.intp)
        question, answer = np.concatenate(questions), np.concatenate(answers)
        order = np.lexsort((answer, question))
        return question[order], answer[order]

    @cached_property
    def _classes(self) -> list[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], Indices, int]]:
        """Return (beginnings sorted, ends, occupants, widest) of each width class."""
        width = self.occupants.high_hz - self.occupants.low_hz
        exponent = np.frexp(width.astype(np.float64))[1]
        out = []
        for k in distinct(exponent).tolist():
            members = np.flatnonzero(exponent == k)
            members = members[np.argsort(self.occupants.low_hz[members], kind="stable")]
            low, high = self.occupants.low_hz[members], self.occupants.high_hz[members]
            out.append((low, high, members, int(width[members].max())))
        return out


def _portions(counts: npt.NDArray[np.intp]) -> list[slice]:
    """Return slices of the questions that make at most `PAIRS_AT_ONCE` pairs each."""
    out, begin, total = [], 0, np.cumsum(np.maximum(counts, 0))
    while begin < len(counts):
        before = int(total[begin - 1]) if begin else 0
        end = int(np.searchsorted(total, before + PAIRS_AT_ONCE, side="right"))
        end = max(end, begin + 1)
        out.append(slice(begin, end))
        begin = end
    return out


def _pairs(first: Indices, last: Indices) -> tuple[Indices, Indices]:
    """Return (question, candidate) for every candidate in [first, last) of every question."""
    counts = np.maximum(last - first, 0)
    question = np.repeat(np.arange(len(first)), counts)
    starts = np.cumsum(counts) - counts
    candidate = np.arange(int(counts.sum())) - np.repeat(starts - first, counts)
    return question, candidate
