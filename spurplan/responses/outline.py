"""Where anything is heard on the dials of many candidates, and who is loudest: without every detail.

The stretches are those of `grades`, told from silence alone; the loudest is
looked for on the points that were looked at, and only the one that wins is
worked out to the hertz. A choice among thousands of candidates needs no more.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.curves import Curve, look, points_of
from spurplan.responses.grades import AUDIBLE, BURIED, STRONG, Graded, grade_hits
from spurplan.responses.join import Hits
from spurplan.responses.lines import Lines
from spurplan.rows import Rows, ints, shared

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

HITS_AT_ONCE = 20_000
# A stretch of at most so many bandwidths is narrow: one station's, about its middle.
NARROW = 2
# How much more may be heard on a narrow stretch than in its middle: three circuits of Q 100
# turn by 25 dB within 6 kHz at 500 kHz, worked out from their universal curve. [dB]
BEYOND_MIDDLE_DB = 30.0
_OUT_OF_REACH_DB = 1e6
# Tops are seen to about this. [dB]
BESIDE_TOP_DB = 0.5


class Outline(Rows):
    """What is heard on the dials of V candidates.

    Attributes
    ----------
    candidate, dial_low_hz, dial_high_hz : int64, shape (S,). Stretches on which somebody
        is heard, overlaps not joined. [Hz]
    worst : Graded. The loudest stretch of each candidate that has any, worked out in full.
    """

    candidate: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    worst: Graded = shared()


def outline(
    chains: Chains,
    lines: Lines,
    occupants: Occupants,
    hits: Hits,
    *,
    strong_at_db: float = 10.0,
    audible_at_db: float = 0.0,
) -> Outline:
    """Return where anything is heard, and the loudest of each candidate.

    Parameters
    ----------
    chains, lines, occupants, hits : what was joined.
    strong_at_db, audible_at_db : float. Margins from which a grade holds. [dB]
    """
    curve = Curve(chains, lines, occupants)
    parts = [hits.take(slice(at, at + HITS_AT_ONCE)) for at in range(0, len(hits), HITS_AT_ONCE)]
    wide, narrow, middles = _sorted_out(curve, parts, audible_at_db)
    heard, top = _audible(curve, wide, audible_at_db)
    # what is silent anyway, a narrow stretch makes no more silent
    fresh = np.flatnonzero(~_covered(curve, narrow, heard))
    more, _ = _audible(curve, narrow.take(fresh), audible_at_db)
    candidate, low, high = (np.concatenate(pair) for pair in zip(heard, more, strict=True))
    worst = at_loudest(
        chains, lines, occupants, _loudest(curve, wide, top, narrow, middles),
        strong_at_db=strong_at_db, audible_at_db=audible_at_db,
    )  # fmt: skip
    worst = worst.take(np.flatnonzero(worst.grade > BURIED))
    return Outline(candidate, low, high, worst.take(_first_of_each(curve, worst)))


def at_loudest(
    chains: Chains,
    lines: Lines,
    occupants: Occupants,
    hits: Hits,
    *,
    strong_at_db: float = 10.0,
    audible_at_db: float = 0.0,
) -> Graded:
    """Return hits whole, with the figures and the grade where each is loudest.

    Parameters
    ----------
    chains, lines, occupants, hits : what was joined.
    strong_at_db, audible_at_db : float. Margins from which a grade holds. [dB]
    """
    # with thresholds out of reach nothing is cut
    graded = grade_hits(
        chains, lines, occupants, hits, strong_at_db=_OUT_OF_REACH_DB, audible_at_db=-_OUT_OF_REACH_DB
    )
    grade = np.full(len(graded), BURIED, dtype=np.uint8)
    grade[graded.margin_db >= audible_at_db] = AUDIBLE
    grade[graded.margin_db >= strong_at_db] = STRONG
    return graded.replace(grade=grade)


def _sorted_out(curve: Curve, parts: list[Hits], audible_at_db: float) -> tuple[Hits, Hits, Floats]:
    """Return wide hits, narrow hits that are nearly heard in their middle, and their margin there."""
    wide, narrow, margins = [], [], [np.zeros(0)]
    for hits in parts:
        reach = NARROW * curve.lines.reach_hz[hits.line]
        is_narrow = hits.dial_high_hz - hits.dial_low_hz <= reach
        wide.append(hits.take(np.flatnonzero(~is_narrow)))
        some = hits.take(np.flatnonzero(is_narrow))
        margin = curve.margin(some.line, some.occupant, (some.dial_low_hz + some.dial_high_hz) // 2)
        near = np.flatnonzero(margin >= audible_at_db - BEYOND_MIDDLE_DB)
        narrow.append(some.take(near))
        margins.append(margin[near])
    return Hits.concat(wide), Hits.concat(narrow), np.concatenate(margins)


def _covered(curve: Curve, hits: Hits, heard: tuple[Ints, Ints, Ints]) -> npt.NDArray[np.bool_]:
    """Whether a hit lies wholly where something of its candidate is heard, shape (H,)."""
    candidate, low, high = heard
    if not len(low) or not len(hits):
        return np.zeros(len(hits), dtype=bool)
    # candidates are laid end to end on one axis
    far = int(max(high.max(), hits.dial_high_hz.max())) + 2
    order = np.lexsort((low, candidate))
    start, stop = (low + candidate * far)[order], (high + candidate * far)[order]
    reach = np.maximum.accumulate(stop)
    apart = np.append(True, start[1:] > reach[:-1] + 1)
    begins = start[apart]
    ends = reach[np.append(np.flatnonzero(apart)[1:], len(start)) - 1]
    shift = curve.lines.candidate[hits.line] * far
    at = np.searchsorted(begins, hits.dial_low_hz + shift, side="right") - 1
    inside: npt.NDArray[np.bool_] = (at >= 0) & (ends[np.maximum(at, 0)] >= hits.dial_high_hz + shift)
    return inside


def _audible(curve: Curve, hits: Hits, audible_at_db: float) -> tuple[tuple[Ints, Ints, Ints], Floats]:
    """Return (candidate, first, last) of each stretch that is heard, and each hit's greatest margin seen."""
    if not len(hits):
        none = np.zeros(0, dtype=np.int64)
        return (none, none, none), np.zeros(0)
    seen = look(curve, hits, points_of(curve, hits, few=False))
    margin = seen.heard - seen.bar
    start = np.searchsorted(seen.hit, np.arange(len(hits), dtype=np.int64))
    top = np.maximum.reduceat(margin, start)
    above = margin >= audible_at_db
    same = seen.hit[1:] == seen.hit[:-1]
    turns = np.flatnonzero(same & (above[1:] != above[:-1]))
    edge = _edges(curve, hits, seen.hit[turns], seen.dial_hz[turns], seen.dial_hz[turns + 1], audible_at_db)
    first = np.append(True, ~same)
    last = np.append(~same, True)
    # a stretch begins on the first point of a hit, or behind an edge; it ends likewise
    begins = np.flatnonzero(first & above)
    ends = np.flatnonzero(last & above)
    rising = above[turns + 1]
    low_hit = np.concatenate([seen.hit[begins], seen.hit[turns[rising]]])
    low = np.concatenate([seen.dial_hz[begins], edge[rising] + 1])
    high_hit = np.concatenate([seen.hit[ends], seen.hit[turns[~rising]]])
    high = np.concatenate([seen.dial_hz[ends], edge[~rising]])
    by_low, by_high = np.lexsort((low, low_hit)), np.lexsort((high, high_hit))
    candidate = curve.lines.candidate[hits.line[low_hit[by_low]]]
    return (candidate, low[by_low], high[by_high]), top


def _edges(curve: Curve, hits: Hits, hit: Ints, low_hz: Ints, high_hz: Ints, audible_at_db: float) -> Ints:
    """Return the last hertz before each change, between two points of which one is heard. [Hz]"""
    low, high = low_hz.copy(), high_hz.copy()
    line, occupant = hits.line[hit], hits.occupant[hit]
    before = curve.margin(line, occupant, low) >= audible_at_db
    while len(open_ := np.flatnonzero(high - low > 1)):
        middle = (low[open_] + high[open_]) // 2
        same = (curve.margin(line[open_], occupant[open_], middle) >= audible_at_db) == before[open_]
        low[open_] = np.where(same, middle, low[open_])
        high[open_] = np.where(same, high[open_], middle)
    return low


def _loudest(curve: Curve, wide: Hits, top: Floats, narrow: Hits, middle: Floats) -> Hits:
    """Return the hit of each candidate that is loudest, as far as was looked, and what comes near it."""
    hits = Hits.concat([wide, narrow])
    margin = np.concatenate([top, middle])
    candidate = curve.lines.candidate[hits.line]
    greatest = np.full(len(curve.chains), -np.inf)
    np.maximum.at(greatest, candidate, margin)
    # a top is seldom more than this above what was seen of it, and never worth more hits than two
    near = np.flatnonzero(margin >= greatest[candidate] - BESIDE_TOP_DB)
    order = near[np.lexsort((-margin[near], candidate[near]))]
    place = np.arange(len(order)) - np.searchsorted(candidate[order], candidate[order], side="left")
    return hits.take(order[place < 2])


def _first_of_each(curve: Curve, graded: Graded) -> Ints:
    """Return the loudest stretch of each candidate, one each."""
    candidate = curve.lines.candidate[graded.line]
    order = np.lexsort((graded.dial_low_hz, -np.round(graded.margin_db, 6), candidate))
    first: Ints = order[np.append(True, np.diff(candidate[order]) != 0)[: len(order)]]
    return first
