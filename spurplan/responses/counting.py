"""How many intrude, who is worst, how much of a dial is covered."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.columns import Table
from spurplan.occupancy.occupants import Occupants
from spurplan.responses.folding import kind_of
from spurplan.responses.grades import GRADES, Graded
from spurplan.responses.lines import Lines

Ints = npt.NDArray[np.int64]


def covered_hz(group: Ints, low_hz: Ints, high_hz: Ints, groups: int) -> Ints:
    """Return how many whole hertz the stretches of each group cover together.

    Parameters
    ----------
    group : int64, shape (n,). Which group a stretch is of, 0 to groups - 1.
    low_hz, high_hz : int64, shape (n,). First and last hertz of each; low <= high.
    groups : int.

    Returns
    -------
    int64, shape (groups,). Overlaps count once. [Hz]
    """
    covered = np.zeros(groups, dtype=np.int64)
    if not len(group):
        return covered
    order = np.lexsort((low_hz, group))
    group, low, high = group[order], low_hz[order], high_hz[order]
    # groups are laid end to end on one axis, so that one running maximum serves them all
    far = int(high.max()) + 1
    low, high = low + group * far, high + group * far
    before = np.maximum.accumulate(high)
    start = np.maximum(low, np.append(np.int64(-1), before[:-1]) + 1)
    np.add.at(covered, group, np.maximum(high - start + 1, 0))
    return covered


def count_intrusions(group: Ints, way: Ints, table: Ints, row: Ints, grade: Ints, groups: int) -> Ints:
    """Return how many intrusions of each grade each group has: the one count that every answer gives.

    Parameters
    ----------
    group : int64, shape (n,). The range, or candidate, a stretch is on, 0 to groups - 1.
    way, table, row : int64, shape (n,). The route it comes by; the row of a table it comes from.
    grade : int64, shape (n,). Index into `grades.GRADES`.
    groups : int.

    Returns
    -------
    int64, shape (groups, 3). A station or band counts once for each way it gets in, at the best
    grade it has anywhere on the range: so the count never rises where stations get weaker and
    their stretches fall apart.
    """
    out = np.zeros((groups, len(GRADES)), dtype=np.int64)
    if not len(group):
        return out
    order = np.lexsort((-grade, row, table, way, group))
    key = np.stack([group, way, table, row])[:, order]
    first = order[np.append(True, (key[:, 1:] != key[:, :-1]).any(axis=0))]
    np.add.at(out, (group[first], grade[first]), 1)
    return out


def counts(lines: Lines, occupants: Occupants, graded: Graded, candidates: int) -> Ints:
    """Return how many intrusions of each grade each candidate has, shape (V, 3): see `count_intrusions`."""
    line, who = graded.line, graded.occupant
    table, row = occupants.table[who].astype(np.int64), occupants.row[who].astype(np.int64)
    return count_intrusions(
        lines.candidate[line], line, table, row, graded.grade.astype(np.int64), candidates
    )


def counts_of(table: Table) -> Ints:
    """Return how many intrusions of each grade a table of them has on all its ranges, shape (3,)."""
    ranges = kind_of(table, ("range",))
    grades = [GRADES.index(word) for word in table["grade"]]
    by_range = count_intrusions(
        ranges, kind_of(table, ("steps",)), kind_of(table, ("table",)), table["row"],
        np.array(grades, dtype=np.int64), int(ranges.max(initial=-1)) + 1,
    )  # fmt: skip
    total: Ints = by_range.sum(axis=0)
    return total


def loudest_of(lines: Lines, graded: Graded, candidates: int) -> Ints:
    """Return the stretch with the greatest margin of each candidate, shape (V,); -1 for none."""
    worst = np.full(candidates, -1, dtype=np.int64)
    if len(graded):
        candidate = lines.candidate[graded.line]
        order = np.lexsort((graded.dial_low_hz, -np.round(graded.margin_db, 6), candidate))
        first = np.append(True, candidate[order][1:] != candidate[order][:-1])
        worst[candidate[order][first]] = order[first]
    return worst
