"""Grades over exact stretches: strong, audible, buried, the edge true to 1 Hz.

The margin of a hit is looked at on a few even points of its stretch and at
every place where the curve can bend: the corners of each selectivity seen
through the line, the corners of the floor, where the line crosses the wanted
frequency, where the occupant's nearest frequency leaves the line. Without the
corners a narrow trap inside a stretch hides its grade edges. All changes of
grade between neighbouring points are then bisected together.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.join import Hits
from spurplan.responses.levels import floor_dbm, heard_dbm, nearest_hz
from spurplan.responses.lines import Lines

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

GRADES = ("buried", "audible", "strong")
BURIED, AUDIBLE, STRONG = range(3)
EVEN_POINTS = 9
# Levels nearer than this are equal: the lowest dial frequency of a flat stretch is quoted.
FLAT_DB = 1e-6
HITS_AT_ONCE = 20_000
# Ternary search by thirds brings any range of ours (2**35 Hz) down to a few hertz.
REFINEMENTS = 56


@dataclass(frozen=True)
class Graded:
    """Hits cut into stretches of one grade; G of them.

    Attributes
    ----------
    line, occupant : int64, shape (G,).
    dial_low_hz, dial_high_hz : int64, shape (G,). The stretch. [Hz]
    loudest_dial_hz : int64, shape (G,). Where it is heard loudest. [Hz]
    antenna_dbm, heard_dbm, floor_dbm : float64, shape (G,). Levels there. [dBm]
    grade : uint8, shape (G,). Index into `GRADES`.
    """

    line: Ints
    occupant: Ints
    dial_low_hz: Ints
    dial_high_hz: Ints
    loudest_dial_hz: Ints
    antenna_dbm: Floats
    heard_dbm: Floats
    floor_dbm: Floats
    grade: npt.NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.line)

    @property
    def margin_db(self) -> Floats:
        """Heard level above the floor, shape (G,). [dB]"""
        margin: Floats = self.heard_dbm - self.floor_dbm
        return margin

    @property
    def rejection_db(self) -> Floats:
        """Antenna level above the heard level, shape (G,). [dB]"""
        rejection: Floats = self.antenna_dbm - self.heard_dbm
        return rejection

    def take(self, which: npt.NDArray[Any] | slice) -> Graded:
        """Return some stretches, in the order given (indices, mask or slice)."""
        return replace(self, **{f.name: getattr(self, f.name)[which] for f in fields(self)})


@dataclass(frozen=True)
class _Curve:
    """The margin of hits against the dial."""

    chains: Chains
    lines: Lines
    occupants: Occupants

    def heard_and_floor(self, line: Ints, occupant: Ints, dial_hz: Ints) -> tuple[Floats, Floats]:
        rf = nearest_hz(self.lines, self.occupants, line, occupant, dial_hz)
        level = self.occupants.level_dbm[occupant]
        heard = heard_dbm(self.chains, self.lines, line, rf, level, dial_hz)
        narrow = self.occupants.narrow[occupant]
        return heard, floor_dbm(self.chains, self.lines.candidate[line], dial_hz, narrow)

    def margin(self, line: Ints, occupant: Ints, dial_hz: Ints) -> Floats:
        heard, floor = self.heard_and_floor(line, occupant, dial_hz)
        margin: Floats = heard - floor
        return margin


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
    stretch, unlooked at; of the others every change of grade is exact to 1 Hz.
    """
    curve = _Curve(chains, lines, occupants)
    hopeless = occupants.level_dbm[hits.occupant] < lines.need_dbm[hits.line]
    pieces: list[Graded] = []
    if keep_buried:
        for part in _parts(hits.take(np.flatnonzero(hopeless))):
            dial = _sample_points(curve, part, even=3)
            pieces.append(_whole(curve, part, dial))
    for part in _parts(hits.take(np.flatnonzero(~hopeless))):
        graded = _cut(curve, part, (audible_at_db, strong_at_db))
        pieces.append(graded if keep_buried else graded.take(graded.grade > BURIED))
    return concatenate(pieces)


def _parts(hits: Hits) -> list[Hits]:
    return [hits.take(slice(start, start + HITS_AT_ONCE)) for start in range(0, len(hits), HITS_AT_ONCE)]


def concatenate(pieces: list[Graded]) -> Graded:
    """Return the stretches of several answers as one."""
    if not pieces:
        whole, real = np.zeros(0, dtype=np.int64), np.zeros(0)
        return Graded(whole, whole, whole, whole, whole, real, real, real, np.zeros(0, dtype=np.uint8))
    if len(pieces) == 1:
        return pieces[0]
    return Graded(
        **{f.name: np.concatenate([getattr(piece, f.name) for piece in pieces]) for f in fields(Graded)}
    )


def _sample_points(curve: _Curve, hits: Hits, even: int) -> Ints:
    """Return the dial points to look at, shape (H, K), ascending along each row. [Hz]"""
    low, high = hits.dial_low_hz, hits.dial_high_hz
    if (low == high).all():
        return low[:, None]
    span = high - low
    points = [low + span * k // (even - 1) for k in range(even)]
    for corner in _corners(curve, hits):
        whole = np.floor(np.where(np.isfinite(corner), corner, -1.0))
        inside = np.clip(whole, low.astype(np.float64), high.astype(np.float64)).astype(np.int64)
        points += [inside, np.minimum(inside + 1, high)]
    dial = np.stack(points, axis=1)
    dial.sort(axis=1)
    return dial


def _corners(curve: _Curve, hits: Hits) -> list[Floats]:
    """Return dial frequencies where the margin of each hit may bend, each of shape (H,). [Hz]"""
    chains, lines, occupants = curve.chains, curve.lines, curve.occupants
    line, candidate = hits.line, lines.candidate[hits.line]
    corners: list[Floats] = []
    with np.errstate(divide="ignore", invalid="ignore"):
        p, q, d = (getattr(lines, name)[0][line].astype(np.float64) for name in ("p", "q", "d"))
        for edge in (occupants.low_hz, occupants.high_hz):
            corners.append((d * edge[hits.occupant] - q) / p)
        for point in range(chains.conversions):
            p, q, d = (getattr(lines, name)[point][line].astype(np.float64) for name in ("p", "q", "d"))
            want_a = chains.want_a[candidate, point].astype(np.float64)
            want_b = chains.want_b[candidate, point].astype(np.float64)
            ratios, places, wanteds, offsets = _bends(chains, point)
            corners += [(u * d * want_b - q) / (p - u * d * want_a) for u in ratios]
            corners += [(x * d - q) / p for x in places]
            corners += [(d * (want_b + o) - q) / (p - d * want_a) for o in offsets]
            corners += [(w - want_b) / want_a for w in wanteds]
    bends = {float(x) for floor in chains.floor for x in floor.corners()}
    corners += [np.full(len(line), bend) for bend in sorted(bends)]
    return corners


def _bends(chains: Chains, point: int) -> tuple[list[float], list[float], list[float], list[float]]:
    """Return where a point's curves bend: ratios x / wanted, x, wanted, and offsets x - wanted."""
    ratios: set[float] = {1.0}
    places: set[float] = set()
    wanteds: set[float] = set()
    offsets: set[float] = set()
    for selectivity in chains.selectivity[point]:
        ratios |= {float(u) for u in selectivity.corners_ratio()}
        places |= {float(x) for x in selectivity.corners_x()}
        wanteds |= {float(w) for w in selectivity.corners_wanted()}
        offsets |= {float(o) for o in selectivity.corners_offset()}
    return sorted(ratios), sorted(places), sorted(wanteds), sorted(offsets)


def _look(curve: _Curve, hits: Hits, dial_hz: Ints) -> tuple[Floats, Floats]:
    """Return heard level and floor on a grid of points, shape (H, K). [dBm]"""
    count, points = dial_hz.shape
    line, occupant = np.repeat(hits.line, points), np.repeat(hits.occupant, points)
    heard, floor = curve.heard_and_floor(line, occupant, dial_hz.ravel())
    return heard.reshape(count, points), floor.reshape(count, points)


def _first_highest(heard: Floats) -> Ints:
    """Return the index of the highest of each row; among equals the first."""
    top = heard.max(axis=1, keepdims=True)
    first: Ints = np.argmax(heard >= top - FLAT_DB, axis=1)
    return first


def _whole(curve: _Curve, hits: Hits, dial_hz: Ints) -> Graded:
    heard, floor = _look(curve, hits, dial_hz)
    rows, best = np.arange(len(hits)), _first_highest(heard)
    return Graded(
        hits.line, hits.occupant, hits.dial_low_hz, hits.dial_high_hz, dial_hz[rows, best],
        curve.occupants.level_dbm[hits.occupant], heard[rows, best], floor[rows, best],
        np.full(len(hits), BURIED, dtype=np.uint8),
    )  # fmt: skip


def _cut(curve: _Curve, hits: Hits, thresholds_db: tuple[float, float]) -> Graded:
    """Return the stretches of some hits that can be heard."""
    dial = _sample_points(curve, hits, EVEN_POINTS)
    heard, floor = _look(curve, hits, dial)
    margin = heard - floor
    edges = [_edges(curve, hits, dial, margin, threshold) for threshold in thresholds_db]
    hit = np.concatenate([np.arange(len(hits)), *(h for h, _ in edges)])
    start = np.concatenate([hits.dial_low_hz, *(k + 1 for _, k in edges)])
    order = np.lexsort((start, hit))
    hit, start = hit[order], start[order]
    # both thresholds crossed between the same two hertz make one edge
    fresh = np.append(True, (hit[1:] != hit[:-1]) | (start[1:] != start[:-1]))
    hit, start = hit[fresh], start[fresh]
    last = np.append(hit[1:] != hit[:-1], True)
    stop = np.where(last, hits.dial_high_hz[hit], np.append(start[1:], 0) - 1)
    pieces = Hits(hits.line[hit], hits.occupant[hit], start, stop)
    return _quote(curve, pieces, dial[hit], heard[hit], thresholds_db)


def _edges(
    curve: _Curve, hits: Hits, dial_hz: Ints, margin_db: Floats, threshold_db: float
) -> tuple[Ints, Ints]:
    """Return (hit, last hertz before the change) of every crossing of a threshold."""
    above = margin_db >= threshold_db
    hit, k = np.nonzero(above[:, 1:] != above[:, :-1])
    low, high, before = dial_hz[hit, k], dial_hz[hit, k + 1], above[hit, k]
    line, occupant = hits.line[hit], hits.occupant[hit]
    while len(open_ := np.flatnonzero(high - low > 1)):
        middle = low[open_] + (high[open_] - low[open_]) // 2
        same = (curve.margin(line[open_], occupant[open_], middle) >= threshold_db) == before[open_]
        low[open_] = np.where(same, middle, low[open_])
        high[open_] = np.where(same, high[open_], middle)
    return hit, low


def _quote(
    curve: _Curve, pieces: Hits, dial_hz: Ints, heard: Floats, thresholds_db: tuple[float, float]
) -> Graded:
    """Return pieces with their grade and the figures where each is loudest."""
    low, high = pieces.dial_low_hz[:, None], pieces.dial_high_hz[:, None]
    inside = (dial_hz >= low) & (dial_hz <= high)
    ends = np.concatenate([low, high], axis=1)
    end_heard, _ = _look(curve, pieces, ends)
    points = np.concatenate([low, np.where(inside, dial_hz, low), high], axis=1)
    levels = np.concatenate([end_heard[:, :1], np.where(inside, heard, -np.inf), end_heard[:, 1:]], axis=1)
    best = _first_highest(levels)
    rows = np.arange(len(pieces))
    loudest = points[rows, best]
    before = points[rows, np.maximum(best - 1, 0)]
    after = points[rows, np.minimum(best + 1, points.shape[1] - 1)]
    loudest = _refine(curve, pieces, loudest, np.minimum(before, loudest), np.maximum(after, loudest))
    top, floor = curve.heard_and_floor(pieces.line, pieces.occupant, loudest)
    start_margin = curve.margin(pieces.line, pieces.occupant, pieces.dial_low_hz)
    grade = sum((start_margin >= threshold).astype(np.uint8) for threshold in thresholds_db)
    return Graded(
        pieces.line, pieces.occupant, pieces.dial_low_hz, pieces.dial_high_hz, loudest,
        curve.occupants.level_dbm[pieces.occupant], top, floor, np.asarray(grade, dtype=np.uint8),
    )  # fmt: skip


def _refine(curve: _Curve, pieces: Hits, best: Ints, low: Ints, high: Ints) -> Ints:
    """Return the loudest dial frequency between the neighbours of the best point looked at."""
    low, high, best = low.copy(), high.copy(), best.copy()
    level, _ = curve.heard_and_floor(pieces.line, pieces.occupant, best)
    for _ in range(REFINEMENTS):
        open_ = np.flatnonzero(high - low > 2)
        if not len(open_):
            break
        third = (high[open_] - low[open_]) // 3
        left, right = low[open_] + third, high[open_] - third
        line, occupant = pieces.line[open_], pieces.occupant[open_]
        at_left, _ = curve.heard_and_floor(line, occupant, left)
        at_right, _ = curve.heard_and_floor(line, occupant, right)
        for point, at in ((left, at_left), (right, at_right)):
            louder = at > level[open_] + FLAT_DB
            best[open_] = np.where(louder, point, best[open_])
            level[open_] = np.where(louder, at, level[open_])
        rising = at_right > at_left
        low[open_] = np.where(rising, left, low[open_])
        high[open_] = np.where(rising, high[open_], right)
    return best
