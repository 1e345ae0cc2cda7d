"""The few lines that say it: how many intrude, the worst intruder, rows that say the same."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, Coded, Table, alphabetical, distinct
from spurplan.emissions import CARRIER
from spurplan.occupancy.occupants import FROM_TABLE, LEVEL_FROM, Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.grades import GRADES, Graded
from spurplan.responses.levels import bar_dbm, heard_dbm
from spurplan.responses.lines import Lines, lines_of_routes

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# A level far below every clip: what is lost by a weak signal is lost by all of first order.
WEAK_DBM = -100.0
REJECTION_POINTS = 33


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


def deaf_stretches(chains: Chains) -> tuple[Ints, Ints, Ints]:
    """Return where a set is tuned to one of its own IFs.

    Returns
    -------
    (candidate, first dial, last dial). Within one bandwidth of it, at the aerial or, behind
    a converter, on the tunable IF. [Hz]

    Notes
    -----
    There the wanted signal and the one that goes straight through are the same, and
    the IF strip feeds back into the aerial: no set works on its own IF.
    """
    found = []
    for point in range(chains.conversions):
        a, b = chains.want_a[:, point], chains.want_b[:, point]
        for behind in range(point + 1, chains.conversions + 1):
            tunes = np.flatnonzero((a != 0) & (chains.want_a[:, behind] == 0))
            at = (chains.want_b[tunes, behind] - b[tunes]) * a[tunes]
            low = np.maximum(at - chains.bandwidth_hz[tunes], chains.low_hz[tunes])
            high = np.minimum(at + chains.bandwidth_hz[tunes], chains.high_hz[tunes])
            here = low <= high
            found.append((tunes[here], low[here], high[here]))
    candidate, low, high = (np.concatenate(column).astype(np.int64) for column in zip(*found, strict=True))
    return candidate, low, high


def unusable(chains: Chains) -> tuple[Ints, Ints]:
    """Return the stretch of dial spoilt because an IF of the set lies in the range, shape (V,).

    Returns
    -------
    low, high : int64. First and last of `deaf_stretches`; `NULL_INT` where there is none. [Hz]
    """
    candidate, first, last = deaf_stretches(chains)
    low = np.full(len(chains), np.iinfo(np.int64).max)
    high = np.full(len(chains), NULL_INT)
    np.minimum.at(low, candidate, first)
    np.maximum.at(high, candidate, last)
    return np.where(high == NULL_INT, NULL_INT, low), high


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


def flipped(chains: Chains, conversion: int) -> Ints:
    """Return the steps of the image of one conversion, shape (V, N, 2).

    Notes
    -----
    The other place from which the same oscillator reaches the same IF: with the
    difference mixers [1, -1] and [-1, 1] are each other's image; the image of the
    sum [1, 1], IF - LO, is IF + LO, that is [-1, 1].
    """
    steps = chains.wanted_steps.copy()
    lo, rf = steps[:, conversion, 0].copy(), steps[:, conversion, 1].copy()
    summed = (lo > 0) & (rf > 0)
    steps[:, conversion, 0] = -lo
    steps[:, conversion, 1] = np.where(summed, rf, -rf)
    return steps


def route_rejection_db(chains: Chains, steps: Ints, dial_hz: Ints) -> Floats:
    """Return the rejection of one route of each candidate at some dial settings.

    Parameters
    ----------
    chains : Chains, V candidates.
    steps : int64, shape (V, N, 2). Routes of first order in the signal.
    dial_hz : int64, shape (V, K). [Hz]

    Returns
    -------
    float64, shape (V, K). Antenna level minus heard level; NaN where the route
    would need a signal, or a product between the mixers, below 0 Hz. [dB]
    """
    lines = lines_of_routes(chains, steps)
    v, k = dial_hz.shape
    line = np.repeat(np.arange(v, dtype=np.int64), k)
    dial = dial_hz.ravel()
    points = (lines.p[:, line] * dial + lines.q[:, line]) / lines.d[:, line]
    rf, real = points[0], (points > 0).all(axis=0)
    level = np.full(len(line), WEAK_DBM)
    with np.errstate(invalid="ignore", divide="ignore"):
        heard = heard_dbm(chains, lines, line, np.where(real, rf, 1.0), level, dial)
    return np.where(real, WEAK_DBM - heard, np.nan).reshape(v, k)


def image_rejection_db(chains: Chains, conversion: int = 0) -> tuple[Floats, Ints]:
    """Return the worst image rejection over each range and where, shape (V,) each.

    Parameters
    ----------
    chains : Chains, V candidates.
    conversion : int. 0 for the image of the first mixer, 1 for the second image.

    Returns
    -------
    rejection : float64. Least over 33 even points of the range, both ends included;
        NaN where there is no such image. [dB]
    dial : int64. Where it is least. [Hz]
    """
    dial = _points_of(chains)
    rejection, worst = _least(route_rejection_db(chains, flipped(chains, conversion), dial))
    return rejection, dial[np.arange(len(chains)), worst]


def image_heard_from_dbm(chains: Chains) -> Floats:
    """Return the weakest carrier that is heard as an image anywhere on a range, shape (V,). [dBm]

    Notes
    -----
    At the antenna terminals, as an image of the first mixer: least of rejection and bar of hearing
    together over the points of `image_rejection_db`; NaN where there is no such image.
    """
    dial = _points_of(chains)
    candidate = np.repeat(np.arange(len(chains)), REJECTION_POINTS)
    carrier = np.full(dial.size, CARRIER, dtype=np.int8), np.ones(dial.size, dtype=np.int32)
    bar = bar_dbm(chains, candidate, dial.reshape(-1), *carrier)
    level, _ = _least(route_rejection_db(chains, flipped(chains, 0), dial) + bar.reshape(dial.shape))
    return level


def _points_of(chains: Chains) -> Ints:
    """Return even points of each range, both ends included, shape (V, `REJECTION_POINTS`). [Hz]"""
    span = (chains.high_hz - chains.low_hz)[:, None]
    points: Ints = chains.low_hz[:, None] + span * np.arange(REJECTION_POINTS) // (REJECTION_POINTS - 1)
    return points


def _least(values: Floats) -> tuple[Floats, Ints]:
    """Return the least known value of each row and where it stands; NaN where none is known."""
    known = ~np.isnan(values)
    where = np.argmin(np.where(known, values, np.inf), axis=1)
    return np.where(known.any(axis=1), values[np.arange(len(values)), where], np.nan), where


def fold(table: Table, *, by_station: bool = False, loudest: bool = False) -> tuple[Table, Ints]:
    """Return intrusions with rows that say the same folded into one, for people.

    Parameters
    ----------
    table : Table of intrusions, in the order they are shown.
    by_station : bool. Whether each station with a row of its own keeps a line of its own, and
        stands for the bands and rasters it is in: where one setting is asked about, who it is
        matters more than who it may be.
    loudest : bool. Whether frequencies and label are those of the loudest row, as its levels are:
        somebody, not a group.

    Returns
    -------
    folded : Table of the same columns, one row a group, in the order of each group's
        first row. Its stretches are the union, its levels those of the loudest row,
        its label the most telling one: at one dial setting that of the narrowest
        occupant, over a stretch that of the row which covers most of it; with "and 3
        more" where rows of the group lie beside that one instead of over it.
    rows : int64, shape of `folded`. How many rows each one stands for.

    Notes
    -----
    Rows say the same when they come from one range by one route, are of
    one service, and their stretches overlap or touch. The grade is that of the loudest.
    What has a level of its own is never one with anything else: that level is not theirs.
    """
    if by_station:
        known = _known_by_name(table)
        kept = np.flatnonzero(known == np.arange(len(table)))
        folded, group = _folded(table.take(kept), by_station=True, loudest=loudest)
        return folded, np.bincount(group[np.searchsorted(kept, known)], minlength=len(folded))
    folded, group = _folded(table, by_station=False, loudest=loudest)
    return folded, np.bincount(group, minlength=len(folded))


def _known_by_name(table: Table) -> Ints:
    """Return for each row itself, or the loudest station with its own row that is meant by it, shape (n,).

    Rows are meant to be the same when they come from one range by one route, are of one
    service and received on one frequency.
    """
    out = np.arange(len(table))
    ways, spot = kind_of(table, ("range", "steps", "service")), np.asarray(table["spot"], dtype=np.bool_)
    low, high = table["rf_low_hz"], table["rf_high_hz"]
    named: dict[int, Ints] = {
        way: np.flatnonzero(spot & (ways == way)) for way in distinct(ways[spot]).tolist()
    }
    for row in np.flatnonzero(~spot & np.isin(ways, list(named))).tolist():
        here = named[int(ways[row])]
        meant = here[(low[here] <= high[row]) & (high[here] >= low[row])]
        if len(meant):
            out[row] = meant[0]
    return out


def _folded(table: Table, *, by_station: bool, loudest: bool) -> tuple[Table, Ints]:
    """Return the table folded, and which of its rows stands for each row, shape (n,)."""
    count = len(table)
    if not count:
        return table, np.zeros(0, dtype=np.int64)
    low, high = table["dial_low_hz"].astype(np.int64), table["dial_high_hz"].astype(np.int64)
    kind = _kind(table, by_station)
    order = np.lexsort((low, kind))
    group = np.empty(count, dtype=np.int64)
    far = int(high.max()) + 2
    top = np.maximum.accumulate(high[order] + kind[order] * far)
    apart = low[order] + kind[order] * far > np.append(np.int64(-1), top[:-1]) + 1
    group[order] = np.cumsum(apart)
    _, first, inverse = np.unique(group, return_index=True, return_inverse=True)
    one_setting = bool((low == high).all())
    width = (table["rf_high_hz"] - table["rf_low_hz"]).astype(np.int64)
    telling = np.lexsort((width, np.zeros(count) if one_setting else low - high, inverse))
    label_row = telling[np.append(True, np.diff(inverse[telling]) != 0)]
    shown = np.argsort(first, kind="stable")
    folded = table.take(first[shown])
    if loudest:
        return folded, np.argsort(shown)[inverse]
    values = dict(folded.values)
    for name, pick in (
        ("dial_low_hz", np.minimum), ("rf_low_hz", np.minimum),
        ("dial_high_hz", np.maximum), ("rf_high_hz", np.maximum),
    ):  # fmt: skip
        ends = table[name].astype(np.int64)
        whole = ends[first].copy()
        pick.at(whole, inverse, ends)
        values[name] = whole[shown]
    for name in ("mode", "region", "table", "row", "spot"):
        values[name] = table.take(label_row[shown]).values[name]
    values["label"] = _labels(table, label_row, inverse, shown)
    return Table(table.name, table.columns, values), np.argsort(shown)[inverse]


def _kind(table: Table, by_station: bool) -> Ints:
    """Return which rows may be one, shape (n,): those of one code."""
    ways = kind_of(table, ("range", "steps", "service"))
    spot = np.asarray(table["spot"], dtype=np.bool_)
    own = np.asarray(table["level_from"] == LEVEL_FROM[FROM_TABLE])
    who = kind_of(table, ("label",)) + 1
    apart = np.where(own | (spot & by_station), who, 0)
    _, kind = np.unique(ways * (int(who.max(initial=0)) + 1) + apart, return_inverse=True)
    return kind


def _labels(table: Table, label_row: Ints, group: Ints, shown: Ints) -> Coded:
    """Return the label of each group, and how many others lie beside the one it names."""
    who = kind_of(table, ("label",))
    named = who == who[label_row][group]
    low, high = table["rf_low_hz"].astype(np.int64), table["rf_high_hz"].astype(np.int64)
    # a row cut into stretches, a raster with its carriers, rows of one label are one
    own_low, own_high = low[label_row].copy(), high[label_row].copy()
    np.minimum.at(own_low, group[named], low[named])
    np.maximum.at(own_high, group[named], high[named])
    beside = (low > own_high[group]) | (high < own_low[group])
    kinds = int(who.max(initial=0)) + 1
    others = distinct(group[beside] * kinds + who[beside]) // kinds
    more = np.bincount(others, minlength=len(label_row))[shown].tolist()
    names = table["label"][label_row[shown]].tolist()
    words = [
        name if not count else f"{name or 'unnamed'} and {count} more"
        for name, count in zip(names, more, strict=True)
    ]
    codes = np.array([-1 if word is None else k for k, word in enumerate(words)], dtype=np.int64)
    return Coded(codes, words)


def kind_of(table: Table, names: Sequence[str]) -> Ints:
    """Return one code for each different combination of some columns, shape (n,)."""
    code = np.zeros(len(table), dtype=np.int64)
    for name in names:
        _, inverse = np.unique(alphabetical(table.values[name]), return_inverse=True)
        code = code * (int(inverse.max(initial=0)) + 1) + inverse
        _, code = np.unique(code, return_inverse=True)
    return code
