"""Which occupants ride on which lines, and over which stretch of dial: exactly.

An occupant [low, high] is received where ``D low <= P d + Q + R delta <= D high``
for some delta of the passband. Doubled, so that an odd bandwidth stays whole,
that is one division for each end of the stretch. Pairs that can not meet are
discarded before anything is divided.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.occupancy.occupants import Occupants
from spurplan.responses.lines import Lines, clip_positive
from spurplan.rows import Rows, ints

Ints = npt.NDArray[np.int64]

# Occupants are looked up in classes of width, each 16 times the one before: a
# wide allocation must not make every narrow one a neighbour.
CLASS_BITS = 4
# Below this many pairs to one slope, dividing by an array beats a loop over slopes.
FEW = 64
PAIRS_AT_ONCE = 4_000_000


class Hits(Rows):
    """H pairs of line and occupant with the stretch of dial on which they meet.

    Attributes
    ----------
    line, occupant : int64, shape (H,).
    dial_low_hz, dial_high_hz : int64, shape (H,). First and last whole hertz. [Hz]
    """

    line: Ints = ints()
    occupant: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()


def join(lines: Lines, occupants: Occupants, *, strong_enough: bool = False) -> Hits:
    """Return every (line, occupant) that is received somewhere on the dial.

    Parameters
    ----------
    lines : Lines, L of them.
    occupants : Occupants, O of them.
    strong_enough : bool. Leave out occupants below the line's need_dbm.

    Returns
    -------
    Hits, each pair once, in no order to rely on.

    Notes
    -----
    The ends of a stretch are the first and last whole hertz; a stretch that
    holds no whole hertz is left out. A line of slope zero is received over its
    whole dial or nowhere.
    """
    order = np.argsort(lines.p[0], kind="stable") if len(lines) else np.zeros(0, dtype=np.int64)
    by_slope = lines.take(order)
    finder = _Finder(by_slope, occupants)
    pieces: list[Hits] = []
    for line, occupant in finder.pairs(PAIRS_AT_ONCE):
        if strong_enough:
            heard = occupants.level_dbm[occupant] >= by_slope.need_dbm[line]
            line, occupant = line[heard], occupant[heard]
        pieces.append(_meet(by_slope, occupants, line, occupant))
    hits = Hits.concat(pieces)
    tight = by_slope.tight[hits.line]
    if tight.any():
        hits = _all_positive(by_slope, occupants, hits, tight)
    return Hits(order[hits.line], hits.occupant, hits.dial_low_hz, hits.dial_high_hz)


def may_meet(lines: Lines, occupants: Occupants) -> Ints:
    """Return how many occupants each line is looked at with, at most so many are received, shape (L,)."""
    return np.sum(_Finder(lines, occupants).counts, axis=0, dtype=np.int64, initial=0) + np.zeros(
        len(lines), dtype=np.int64
    )


class _Finder:
    """Occupants that lie in the antenna interval of a line, by class of width."""

    def __init__(self, lines: Lines, occupants: Occupants) -> None:
        low, high = _antenna_interval(lines)
        width = occupants.high_hz - occupants.low_hz
        # bit length of the width, without a float logarithm
        bits = np.frexp(width.astype(np.float64))[1]
        classes = -(-bits // CLASS_BITS)
        self.members: list[Ints] = []
        self.first: list[Ints] = []
        self.counts: list[Ints] = []
        for width_class in distinct(classes):
            member = np.flatnonzero(classes == width_class)
            lows = occupants.low_hz[member]  # sorted: occupants come sorted by low edge
            first = np.searchsorted(lows, low - int(width[member].max()), side="left")
            last = np.searchsorted(lows, high, side="right")
            self.members.append(member)
            self.first.append(first)
            self.counts.append(np.maximum(last - first, 0))

    def pairs(self, size: int) -> Iterator[tuple[Ints, Ints]]:
        """Yield (line, occupant) worth a division, about `size` at a time, sorted by line."""
        for member, first, count in zip(self.members, self.first, self.counts, strict=True):
            ends = np.cumsum(count)
            start = 0
            while start < len(count):
                done = int(ends[start - 1]) if start else 0
                stop = max(start + 1, int(np.searchsorted(ends, done + size, side="right")))
                many = count[start:stop]
                if ends[stop - 1] > done:
                    line = np.repeat(np.arange(start, stop, dtype=np.int64), many)
                    shift = first[start:stop] - (ends[start:stop] - many - done)
                    place = np.arange(len(line), dtype=np.int64) + np.repeat(shift, many)
                    yield line, member[place]
                start = stop


def _antenna_interval(lines: Lines) -> tuple[Ints, Ints]:
    """Return the whole hertz a line sweeps at the antenna, passband and all."""
    width = np.abs(lines.r[0]) * lines.reach_hz
    ends = (lines.p[0] * lines.dial_low_hz, lines.p[0] * lines.dial_high_hz)
    twice_d = 2 * lines.d[0]
    low = -((width - 2 * (np.minimum(*ends) + lines.q[0])) // twice_d)
    high = (2 * (np.maximum(*ends) + lines.q[0]) + width) // twice_d
    return low, high


def _meet(lines: Lines, occupants: Occupants, line: Ints, occupant: Ints) -> Hits:
    """Divide: the stretch of each pair, pairs without one left out. Lines come sorted by slope."""
    width = np.abs(lines.r[0]) * lines.reach_hz
    twice_q = 2 * lines.q[0]
    twice_d = 2 * lines.d[0][line]
    # slope d between least and most, both doubled
    least = twice_d * occupants.low_hz[occupant] - (width + twice_q)[line]
    most = twice_d * occupants.high_hz[occupant] + (width - twice_q)[line]
    low, high = lines.dial_low_hz[line], lines.dial_high_hz[line]
    slopes, starts = np.unique(lines.p[0], return_index=True)
    ends = np.searchsorted(line, np.append(starts, len(lines)))
    if len(slopes) * FEW > len(line):
        _divide_each(2 * lines.p[0][line], least, most, low, high)
    else:
        for slope, start, stop in zip(slopes.tolist(), ends[:-1].tolist(), ends[1:].tolist(), strict=True):
            part = slice(start, stop)
            _divide_all(2 * slope, least[part], most[part], low[part], high[part])
    met = np.flatnonzero(low <= high)
    return Hits(line[met], occupant[met], low[met], high[met])


def _divide_all(slope: int, least: Ints, most: Ints, low: Ints, high: Ints) -> None:
    """Narrow low and high in place; one slope for all, which numpy divides several times faster."""
    if slope == 0:
        high[(least > 0) | (most < 0)] = np.iinfo(np.int64).min
        return
    if slope < 0:
        slope, least, most = -slope, -most, -least
    np.maximum(low, -(-least // slope), out=low)
    np.minimum(high, most // slope, out=high)


def _divide_each(slope: Ints, least: Ints, most: Ints, low: Ints, high: Ints) -> None:
    """Narrow low and high in place; a slope each."""
    down = slope < 0
    least, most = np.where(down, -most, least), np.where(down, -least, most)
    size = np.abs(slope)
    flat = size == 0
    size[flat] = 1
    high[flat & ((least > 0) | (most < 0))] = np.iinfo(np.int64).min
    np.maximum(low, np.where(flat, low, -(-least // size)), out=low)
    np.minimum(high, np.where(flat, high, most // size), out=high)


def _all_positive(lines: Lines, occupants: Occupants, hits: Hits, tight: npt.NDArray[np.bool_]) -> Hits:
    """Narrow the stretches of tight lines to where every product is positive at once.

    Each condition is ``R t + k1 d + k0 >= 0`` (> 0 for a product) in t, twice the
    place in the passband. Some t meets them all just when every condition that
    bounds t from below agrees with every one that bounds it from above: t is
    eliminated pair by pair, and what is left is linear in d.
    """
    here = np.flatnonzero(tight)
    line, occupant = hits.line[here], hits.occupant[here]
    conditions = _conditions(lines, occupants, line, occupant)
    low, high = hits.dial_low_hz[here].copy(), hits.dial_high_hz[here].copy()
    for i, (r_i, k1_i, k0_i, strict_i) in enumerate(conditions):
        for r_j, k1_j, k0_j, strict_j in conditions[i + 1 :]:
            opposed = (r_i > 0) != (r_j > 0)
            size_i, size_j = np.abs(r_i), np.abs(r_j)
            slope = np.where(opposed, size_i * k1_j + size_j * k1_i, 0)
            offset = np.where(opposed, size_i * k0_j + size_j * k0_i, 1)
            low, high = clip_positive(slope, offset, low, high, strict=strict_i or strict_j)
    dial_low, dial_high = hits.dial_low_hz.copy(), hits.dial_high_hz.copy()
    dial_low[here], dial_high[here] = low, high
    kept = Hits(hits.line, hits.occupant, dial_low, dial_high)
    return kept.take(np.flatnonzero(dial_low <= dial_high))


def _conditions(
    lines: Lines, occupants: Occupants, line: Ints, occupant: Ints
) -> list[tuple[Ints, Ints, Ints, bool]]:
    none = np.zeros(len(line), dtype=np.int64)
    reach = lines.reach_hz[line]
    p, q, r, d = (2 * lines.p[0][line], 2 * lines.q[0][line], lines.r[0][line], 2 * lines.d[0][line])
    conditions: list[tuple[Ints, Ints, Ints, bool]] = [
        (none + 1, none, reach, False),
        (none - 1, none, reach, False),
        (r, p, q - d * occupants.low_hz[occupant], False),
        (-r, -p, d * occupants.high_hz[occupant] - q, False),
    ]
    conditions += [
        (lines.r[i][line], 2 * lines.p[i][line], 2 * lines.q[i][line], True) for i in range(1, len(lines.p))
    ]
    return conditions
