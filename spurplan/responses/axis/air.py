"""The air as intervals: occupants that are heard alike, put together where they touch.

For how much of a dial is clear it does not matter which station is heard. Two of one
level whose noise is heard in one width, and which touch or overlap, are one interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.occupancy.occupants import Occupants
from spurplan.responses.levels import bandwidth_heard_hz
from spurplan.rows import Rows, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


class Intervals(Rows):
    """Stretches of spectrum that do not touch, ascending.

    Attributes
    ----------
    low_hz, high_hz : int64, shape (n,). Both edges belong to a stretch. [Hz]
    """

    sorted_by = ("low_hz", "high_hz")

    low_hz: Ints = ints()
    high_hz: Ints = ints()


@dataclass(frozen=True)
class Family:
    """Occupants whose noise is heard in one width.

    Attributes
    ----------
    width_hz : int. [Hz]
    level_dbm : float64, shape (K,). Their levels, highest first. [dBm]
    own : tuple of Intervals, K. Those of exactly that level.
    nested : tuple of Intervals, K. Those of at least that level.
    """

    width_hz: int
    level_dbm: Floats
    own: tuple[Intervals, ...]
    nested: tuple[Intervals, ...]


def families(occupants: Occupants, bandwidth_hz: int) -> tuple[Family, ...]:
    """Return the occupants by the width their noise is heard in, and by level.

    Parameters
    ----------
    occupants : Occupants.
    bandwidth_hz : int. Final passband. [Hz]
    """
    width = bandwidth_heard_hz(np.full(len(occupants), bandwidth_hz), occupants.narrow)
    out = []
    for heard_in in distinct(width).tolist():
        rows = np.flatnonzero(width == heard_in)
        level = distinct(occupants.level_dbm[rows])[::-1]
        exactly = [rows[occupants.level_dbm[rows] == one] for one in level]
        at_least = [rows[occupants.level_dbm[rows] >= one] for one in level]
        out.append(
            Family(
                heard_in,
                level,
                tuple(_intervals(occupants, those) for those in exactly),
                tuple(_intervals(occupants, those) for those in at_least),
            )
        )
    return tuple(out)


def _intervals(occupants: Occupants, rows: Ints) -> Intervals:
    return touching(occupants.low_hz[rows], occupants.high_hz[rows])


def touching(low_hz: Ints, high_hz: Ints) -> Intervals:
    """Return stretches with those that overlap or touch put together."""
    if not len(low_hz):
        return Intervals(low_hz, high_hz)
    order = np.argsort(low_hz, kind="stable")
    low, high = low_hz[order], np.maximum.accumulate(high_hz[order])
    first = np.flatnonzero(np.append(True, low[1:] > high[:-1] + 1))
    return Intervals(low[first], high[np.append(first[1:] - 1, len(low) - 1)])


def merged(occupants: Occupants, bandwidth_hz: int) -> Occupants:
    """Return occupants with those of one level that touch put together, for a final passband.

    Notes
    -----
    Every stretch received of them is received still, and heard as well or, where a
    station stands nearer to what the front end is tuned to than the middle of the
    passband does, by some hundredths of a decibel less.
    """
    lots = [
        (own, level, family.width_hz < bandwidth_hz)
        for family in families(occupants, bandwidth_hz)
        for own, level in zip(family.own, family.level_dbm.tolist(), strict=True)
    ]
    if not lots:
        return occupants
    low = np.concatenate([own.low_hz for own, _, _ in lots])
    high = np.concatenate([own.high_hz for own, _, _ in lots])
    level = np.concatenate([np.full(len(own), level) for own, level, _ in lots])
    narrow = np.concatenate([np.full(len(own), narrow) for own, _, narrow in lots])
    order = np.lexsort((high, low))
    # words of the first row stand for all: who it is does not matter here
    base = occupants.take(np.zeros(len(low), dtype=np.int64))
    return base.replace(low_hz=low[order], high_hz=high[order], level_dbm=level[order], narrow=narrow[order])
