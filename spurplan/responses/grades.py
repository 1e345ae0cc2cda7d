"""Grades over exact stretches: strong, audible, buried, the edge true to 1 Hz.

The margin of a hit is looked at wherever its curve can bend (`curves`). All
changes of grade between neighbouring points are then bisected together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.curves import (
    DIAL_BITS,
    DIAL_MASK,
    NARROW_STRETCH,
    Curve,
    Samples,
    key_of,
    look,
    points_of,
    with_points,
)
from spurplan.responses.join import Hits
from spurplan.responses.lines import Lines
from spurplan.rows import Rows, column, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
# a curve of hits, of line, occupant and dial frequency
Work = Callable[[Ints, Ints, Ints], Floats]

GRADES = ("buried", "audible", "strong")
BURIED, AUDIBLE, STRONG = range(3)
# Levels nearer than this are equal: the lowest dial frequency of a flat stretch is quoted.
FLAT_DB = 1e-6
HITS_AT_ONCE = 20_000
# A maximum whose neighbours are this near to it is found. [dB]
NEAR_TOP_DB = 1e-3
# The top is looked for as far out as the points looked at are this near to the highest of them:
# shallow dips part it from them. [dB]
SHALLOW_DB = 0.5
# A top between points that stay this little below a threshold may be above it; so a dip. [dB]
BELOW_EDGE_DB = 3.0
# Few curves are searched by cutting their span in this many parts at once: calls of
# numpy cost more than points. Many are searched by halves or thirds.
PARTS = 9
MANY = 4_000


class Graded(Rows):
    """Hits cut into stretches of one grade; G of them.

    Attributes
    ----------
    line, occupant : int64, shape (G,).
    dial_low_hz, dial_high_hz : int64, shape (G,). The stretch. [Hz]
    loudest_dial_hz : int64, shape (G,). Where it is heard loudest. [Hz]
    antenna_dbm, heard_dbm : float64, shape (G,). Levels there. [dBm]
    bar_dbm : float64, shape (G,). The bar of hearing there. [dBm]
    grade : uint8, shape (G,). Index into `GRADES`.
    """

    line: Ints = ints()
    occupant: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    loudest_dial_hz: Ints = ints()
    antenna_dbm: Floats = floats()
    heard_dbm: Floats = floats()
    bar_dbm: Floats = floats()
    grade: npt.NDArray[np.uint8] = column(np.uint8)

    @property
    def margin_db(self) -> Floats:
        """Heard level above the bar of hearing, shape (G,). [dB]"""
        margin: Floats = self.heard_dbm - self.bar_dbm
        return margin

    @property
    def rejection_db(self) -> Floats:
        """Antenna level above the heard level, shape (G,). [dB]"""
        rejection: Floats = self.antenna_dbm - self.heard_dbm
        return rejection


def grade_of(margin_db: Floats, strong_at_db: float, audible_at_db: float) -> Ints:
    """Return the grade of each margin over the bar of hearing, index into `GRADES`; same shape."""
    heard = np.where(margin_db >= audible_at_db, AUDIBLE, BURIED)
    return np.where(margin_db >= strong_at_db, STRONG, heard).astype(np.int64)


def grade_hits(
    chains: Chains,
    lines: Lines,
    occupants: Occupants,
    hits: Hits,
    *,
    strong_at_db: float = 10.0,
    audible_at_db: float = 0.0,
    keep_buried: bool = True,
) -> Graded:
    """Return the hits cut into stretches of one grade, with levels.

    Parameters
    ----------
    chains, lines, occupants, hits : what was joined.
    strong_at_db, audible_at_db : float. Margins from which a grade holds. [dB]
    keep_buried : bool. Whether buried stretches are kept.

    Returns
    -------
    Graded. A hit whose occupant is below its line's need_dbm is one buried
    stretch; of the others every change of grade is exact to 1 Hz.
    """
    curve = Curve(chains, lines, occupants)
    thresholds = (audible_at_db, strong_at_db)
    hopeless = occupants.level_dbm[hits.occupant] < lines.need_dbm[hits.line]
    pieces: list[Graded] = []
    if keep_buried:
        for part in _parts(hits.take(np.flatnonzero(hopeless))):
            pieces.append(_quote(curve, part, look(curve, part, points_of(curve, part, few=True)), None))
    for part in _parts(hits.take(np.flatnonzero(~hopeless))):
        graded = _cut(curve, part, thresholds)
        pieces.append(graded if keep_buried else graded.take(graded.grade > BURIED))
    return Graded.concat(pieces)


def _parts(hits: Hits) -> list[Hits]:
    return [hits.take(slice(start, start + HITS_AT_ONCE)) for start in range(0, len(hits), HITS_AT_ONCE)]


def _cut(curve: Curve, hits: Hits, thresholds_db: tuple[float, float]) -> Graded:
    """Return the stretches of some hits that can be heard."""
    seen = look(curve, hits, points_of(curve, hits, few=False))
    seen = _with_turns(curve, hits, seen, thresholds_db)
    first = key_of(np.arange(len(hits), dtype=np.int64), hits.dial_low_hz)
    edges = [_edges(curve, hits, seen, threshold) for threshold in thresholds_db]
    starts = np.concatenate([first, *edges])
    starts.sort()
    # both thresholds crossed between the same two hertz make one edge
    starts = starts[np.append(True, starts[1:] != starts[:-1])]
    hit, start = starts >> DIAL_BITS, starts & DIAL_MASK
    last = np.append(hit[1:] != hit[:-1], True)
    stop = np.where(last, hits.dial_high_hz[hit], np.append(start[1:], 0) - 1)
    pieces = Hits(hits.line[hit], hits.occupant[hit], start, stop)
    return _quote(curve, pieces, _by_piece(curve, hits, starts, pieces, seen), thresholds_db)


def _edges(curve: Curve, hits: Hits, seen: Samples, threshold_db: float) -> Ints:
    """Return the keys of the first hertz behind every crossing of a threshold."""
    above = seen.heard - seen.bar >= threshold_db
    at = np.flatnonzero((above[1:] != above[:-1]) & (seen.hit[1:] == seen.hit[:-1]))
    hit, low, high, before = seen.hit[at], seen.dial_hz[at], seen.dial_hz[at + 1], above[at]
    line, occupant = hits.line[hit], hits.occupant[hit]
    while len(open_ := np.flatnonzero(high - low > 1)):
        parts = 2 if len(open_) > MANY else PARTS
        inside = _cuts(low[open_], high[open_], parts)
        margin = _each(curve.margin, line[open_], occupant[open_], inside)
        same = (margin >= threshold_db) == before[open_, None]
        # the last point before the first one that differs, and that one
        first = np.where(same.all(axis=1), parts - 1, np.argmin(same, axis=1))
        grid = np.concatenate([low[open_, None], inside, high[open_, None]], axis=1)
        rows = np.arange(len(open_))
        low[open_], high[open_] = grid[rows, first], grid[rows, first + 1]
    return key_of(hit, high)


def _cuts(low: Ints, high: Ints, parts: int) -> Ints:
    """Return the points that cut each span into parts, shape (n, parts - 1). [Hz]"""
    k = np.arange(1, parts, dtype=np.int64)
    cuts: Ints = low[:, None] + (high - low)[:, None] * k // parts
    return cuts


def _each(work: Work, line: Ints, occupant: Ints, dial_hz: Ints) -> Floats:
    """Return a curve of n hits at points of shape (n, K)."""
    k = dial_hz.shape[1]
    flat = work(np.repeat(line, k), np.repeat(occupant, k), dial_hz.ravel())
    return flat.reshape(dial_hz.shape)


def _by_piece(curve: Curve, hits: Hits, starts: Ints, pieces: Hits, seen: Samples) -> Samples:
    """Return the samples told by piece instead of hit, the ends of new pieces looked at too."""
    hit = starts >> DIAL_BITS
    ends = np.concatenate([starts, key_of(hit, pieces.dial_high_hz)])
    all_seen = with_points(curve, hits, seen, ends) if len(starts) > len(hits) else seen
    piece = np.searchsorted(starts, all_seen.key, side="right") - 1
    return Samples(piece, all_seen.dial_hz, all_seen.heard, all_seen.bar)


def _with_turns(curve: Curve, hits: Hits, seen: Samples, thresholds_db: tuple[float, float]) -> Samples:
    """Return the samples with the turns of the curves that may cross a threshold between two points.

    A hump whose points stay just below a threshold may have its top above it, a dip its
    bottom below. Near a threshold a wide span is looked at closer first: it may hold both.
    """
    margin = seen.heard - seen.bar
    near = _near(margin, thresholds_db) | _near(-margin, [-threshold for threshold in thresholds_db])
    wide = (
        seen.dial_hz[1:] - seen.dial_hz[:-1] > NARROW_STRETCH * curve.lines.reach_hz[hits.line[seen.hit[:-1]]]
    )
    left = np.flatnonzero(near & wide & (seen.hit[1:] == seen.hit[:-1]))
    inside = _cuts(seen.dial_hz[left], seen.dial_hz[left + 1], PARTS)
    seen = with_points(curve, hits, seen, key_of(seen.hit[left, None], inside).ravel())
    margin = seen.heard - seen.bar
    tops = _tops(curve.margin, hits, seen, margin, thresholds_db)
    dips = _tops(curve.shortfall, hits, seen, -margin, [-threshold for threshold in thresholds_db])
    return with_points(curve, hits, seen, np.concatenate([tops, dips]))


def _near(height: Floats, edges: Sequence[float]) -> Bools:
    """Return which pairs of neighbours both stay below one of some edges, and not by much."""
    ends = np.maximum(height[:-1], height[1:])
    near: Bools = np.logical_or.reduce([(ends < edge) & (ends >= edge - BELOW_EDGE_DB) for edge in edges])
    return near


def _tops(work: Work, hits: Hits, seen: Samples, height: Floats, edges: Sequence[float]) -> Ints:
    """Return the keys of the tops of a curve between samples that both stay below one of some edges.

    Between two bends a curve is smooth: it has a top there if it rises into the span from both ends.
    """
    low, high = seen.dial_hz[:-1], seen.dial_hz[1:]
    left = np.flatnonzero(_near(height, edges) & (seen.hit[:-1] == seen.hit[1:]) & (high - low > 2))
    line, occupant = (column[seen.hit[left]] for column in (hits.line, hits.occupant))
    rises = work(line, occupant, low[left] + 1) > height[left]
    both = rises & (work(line, occupant, high[left] - 1) > height[left + 1])
    left = left[both]
    if not len(left):
        return left
    within = hits.take(seen.hit[left])
    inside = _cuts(low[left], high[left], PARTS)
    heights = _each(work, within.line, within.occupant, inside)
    rows, best = np.arange(len(left)), np.argmax(heights, axis=1)
    points = seen.dial_hz, height
    dial, _ = _refine(work, within, inside[rows, best], heights[rows, best], points, left, left + 1)
    return key_of(seen.hit[left], dial)


def _highest(seen: Samples, count: int) -> tuple[Floats, Ints]:
    """Return the highest level of each hit and its point; among equals the first, the lowest on the dial."""
    numbers = np.arange(count, dtype=np.int64)
    start = np.searchsorted(seen.hit, numbers)
    top = np.maximum.reduceat(seen.heard, start) if count else np.zeros(0)
    high = np.flatnonzero(seen.heard >= top[seen.hit] - FLAT_DB)
    return top, high[np.searchsorted(seen.hit[high], numbers)]


def _quote(curve: Curve, pieces: Hits, seen: Samples, thresholds_db: tuple[float, float] | None) -> Graded:
    """Return pieces with their grade and the figures where each is loudest.

    Without thresholds all are buried, and quoted at the loudest point looked at.
    """
    top, best = _highest(seen, len(pieces))
    grade = np.zeros(len(pieces), dtype=np.uint8)
    loudest, heard, bar = seen.dial_hz[best], seen.heard[best], seen.bar[best]
    if thresholds_db is not None:
        start = np.searchsorted(seen.hit, np.arange(len(pieces), dtype=np.int64))
        margin = (seen.heard - seen.bar)[start]
        for threshold in thresholds_db:
            grade += (margin >= threshold).astype(np.uint8)
        rows = np.flatnonzero(grade > BURIED)
        loudest[rows] = _loudest(curve, pieces.take(rows), seen, top, best, rows)
        heard[rows], bar[rows] = curve.heard_and_bar(pieces.line[rows], pieces.occupant[rows], loudest[rows])
    return Graded(
        pieces.line, pieces.occupant, pieces.dial_low_hz, pieces.dial_high_hz, loudest,
        curve.occupants.level_dbm[pieces.occupant], heard, bar, grade,
    )  # fmt: skip


def _loudest(curve: Curve, pieces: Hits, seen: Samples, top: Floats, best: Ints, rows: Ints) -> Ints:
    """Return the loudest dial frequency of some pieces, the pieces being `rows` of the samples. [Hz]

    Looked for beside the loudest point first, then between the points that enclose all
    which are nearly as loud: bends lie in clusters, and the top may lie beyond one.
    """
    dial, level = seen.dial_hz[best[rows]], seen.heard[best[rows]]
    points = seen.dial_hz, seen.heard
    beside = _around(seen, top, rows, NEAR_TOP_DB)
    dial, level = _refine(curve.heard, pieces, dial, level, points, *beside)
    wide = _around(seen, top, rows, SHALLOW_DB)
    more = np.flatnonzero((wide[0] != beside[0]) | (wide[1] != beside[1]))
    if len(more):
        ends = wide[0][more], wide[1][more]
        dial[more], _ = _refine(curve.heard, pieces.take(more), dial[more], level[more], points, *ends)
    return dial


def _around(seen: Samples, top: Floats, rows: Ints, within_db: float) -> tuple[Ints, Ints]:
    """Return the points before and behind all that are near the top of some pieces."""
    near = np.flatnonzero(seen.heard >= top[seen.hit] - within_db)
    first = near[np.searchsorted(seen.hit[near], rows)]
    last = near[np.searchsorted(seen.hit[near], rows, side="right") - 1]
    before, after = np.maximum(first - 1, 0), np.minimum(last + 1, len(seen.hit) - 1)
    before = np.where(seen.hit[before] == rows, before, first)
    after = np.where(seen.hit[after] == rows, after, last)
    return before, after


def _refine(
    work: Work,
    pieces: Hits,
    dial_hz: Ints,
    height: Floats,
    points: tuple[Ints, Floats],
    before: Ints,
    after: Ints,
) -> tuple[Ints, Floats]:
    """Return the dial frequency where a curve is highest between two of the points looked at, and how high.

    The span is cut into parts again and again, and the parts beside the highest cut are
    kept, until the neighbours are as high within `NEAR_TOP_DB`. What is given is
    returned where nothing higher is found.
    """
    dial, level = dial_hz.copy(), height.copy()
    low, high = (points[0][end] for end in (before, after))
    at_low, at_high = (points[1][end] for end in (before, after))
    while True:
        drop = level - np.minimum(at_low, at_high)
        open_ = np.flatnonzero((high - low > 2) & (drop > NEAR_TOP_DB))
        if not len(open_):
            return dial, level
        inside = _cuts(low[open_], high[open_], 3 if len(open_) > MANY else PARTS)
        levels = _each(work, pieces.line[open_], pieces.occupant[open_], inside)
        dials = np.concatenate([low[open_, None], inside, high[open_, None]], axis=1)
        levels = np.concatenate([at_low[open_, None], levels, at_high[open_, None]], axis=1)
        rows = np.arange(len(open_))
        top = np.argmax(levels, axis=1)
        louder = levels[rows, top] > level[open_] + FLAT_DB
        dial[open_] = np.where(louder, dials[rows, top], dial[open_])
        level[open_] = np.where(louder, levels[rows, top], level[open_])
        left, right = np.maximum(top - 1, 0), np.minimum(top + 1, dials.shape[1] - 1)
        low[open_], at_low[open_] = dials[rows, left], levels[rows, left]
        high[open_], at_high[open_] = dials[rows, right], levels[rows, right]
