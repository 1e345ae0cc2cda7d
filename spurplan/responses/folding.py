"""Rows of intrusions that say the same to people, folded into one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spurplan.columns import Coded, Table, alphabetical, distinct
from spurplan.occupancy.occupants import FROM_TABLE, LEVEL_FROM

Ints = npt.NDArray[np.int64]


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
