"""The margin of hits against the dial: where it can bend, and what it is there.

A curve is looked at on a few even points of its stretch and at every place
where it can bend: the corners of each selectivity seen through the line, the
corners of the floor, where the line crosses the wanted frequency, where the
occupant's nearest frequency leaves the line. Without the corners a narrow
trap inside a stretch hides its grade edges.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.injection import code_of
from spurplan.receiver.premixer import Attenuates
from spurplan.responses.join import Hits
from spurplan.responses.levels import bar_dbm, heard_dbm, nearest_hz
from spurplan.responses.lines import Lines
from spurplan.rows import Rows, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

EVEN_POINTS = 9
# A stretch no wider than this many bandwidths is one station's, with little to see in it.
NARROW_STRETCH = 4
FEW_POINTS = 5
# Dial frequencies are below 2**35 Hz: hit and dial make one sortable number.
DIAL_BITS = 36
DIAL_MASK = (1 << DIAL_BITS) - 1


@dataclass(frozen=True)
class Curve:
    """Heard level and margin of pairs of line and occupant against the dial.

    Methods take line, occupant and dial frequency as int64 of shape (n,) and return
    float64 of that shape.
    """

    chains: Chains
    lines: Lines
    occupants: Occupants

    def heard_and_bar(self, line: Ints, occupant: Ints, dial_hz: Ints) -> tuple[Floats, Floats]:
        heard = self.heard(line, occupant, dial_hz)
        sound, width = self.occupants.sound[occupant], self.occupants.width_hz[occupant]
        return heard, bar_dbm(self.chains, self.lines.candidate[line], dial_hz, sound, width)

    def heard(self, line: Ints, occupant: Ints, dial_hz: Ints) -> Floats:
        rf = nearest_hz(self.lines, self.occupants, line, occupant, dial_hz)
        level = self.occupants.level_dbm[occupant]
        return heard_dbm(self.chains, self.lines, line, rf, level, dial_hz)

    def margin(self, line: Ints, occupant: Ints, dial_hz: Ints) -> Floats:
        heard, bar = self.heard_and_bar(line, occupant, dial_hz)
        margin: Floats = heard - bar
        return margin

    def shortfall(self, line: Ints, occupant: Ints, dial_hz: Ints) -> Floats:
        return -self.margin(line, occupant, dial_hz)


class Samples(Rows):
    """Points of the curves of some hits, ascending by hit, then dial; every hit has its two ends.

    Attributes
    ----------
    hit : int64, shape (n,). Which hit a point is of.
    dial_hz : int64, shape (n,). [Hz]
    heard, bar : float64, shape (n,). Level there, and the bar of hearing. [dBm]
    """

    sorted_by = ("hit", "dial_hz")

    hit: Ints = ints()
    dial_hz: Ints = ints()
    heard: Floats = floats()
    bar: Floats = floats()

    @property
    def key(self) -> Ints:
        return key_of(self.hit, self.dial_hz)


def key_of(hit: Ints, dial_hz: Ints) -> Ints:
    """Return hit and dial frequency as one sortable number, shape (n,)."""
    key: Ints = (hit << DIAL_BITS) | dial_hz
    return key


def points_of(curve: Curve, hits: Hits, *, few: bool) -> Ints:
    """Return the points to look at as sorted keys of hit and dial, without repeats."""
    numbers = np.arange(len(hits), dtype=np.int64)
    low, high = hits.dial_low_hz, hits.dial_high_hz
    span = high - low
    if not span.any():
        return key_of(numbers, low)
    narrow = span <= NARROW_STRETCH * curve.lines.reach_hz[hits.line]
    keys = [key_of(numbers, low), key_of(numbers, high)]
    for points, which in ((FEW_POINTS, narrow), (EVEN_POINTS, ~narrow)):
        rows, steps = np.flatnonzero(which), 2 if few else points - 1
        keys += [key_of(rows, low[rows] + span[rows] * k // steps) for k in range(1, steps)]
    for corner in _corners(curve, hits):
        with np.errstate(invalid="ignore"):
            rows = np.flatnonzero((corner > low) & (corner < high))
        whole = np.floor(corner[rows]).astype(np.int64)
        keys += [key_of(rows, whole), key_of(rows, np.minimum(whole + 1, high[rows]))]
    key = np.concatenate(keys)
    key.sort()
    once: Ints = key[np.append(True, key[1:] != key[:-1])]
    return once


def _corners(curve: Curve, hits: Hits) -> Iterator[Floats]:
    """Yield dial frequencies where the margin of each hit may bend, each of shape (H,). [Hz]"""
    chains, lines, occupants = curve.chains, curve.lines, curve.occupants
    line, candidate = hits.line, lines.candidate[hits.line]
    with np.errstate(divide="ignore", invalid="ignore"):
        p, q, d = (getattr(lines, name)[0][line].astype(np.float64) for name in ("p", "q", "d"))
        for edge in (occupants.low_hz, occupants.high_hz):
            yield (d * edge[hits.occupant] - q) / p
        for point in range(chains.conversions):
            want_a = chains.want_a[:, point][candidate].astype(np.float64)
            want_b = chains.want_b[:, point][candidate].astype(np.float64)
            ratios, places, wanteds, offsets = _bends(chains, point)
            for p, q in _courses(curve, hits, point):
                for u in ratios:
                    yield (u * want_b - q) / (p - u * want_a)
                for x in places:
                    yield (x - q) / p
                for o in offsets:
                    yield (want_b + o - q) / (p - want_a)
            for w in wanteds:
                yield (w - want_b) / want_a
        for conversion in range(chains.conversions):
            yield from _corners_of_premixer(curve, hits, conversion)
    for bend in sorted({float(x) for floor in chains.floor for x in floor.corners()}):
        yield np.full(len(line), bend)


def _corners_of_premixer(curve: Curve, hits: Hits, conversion: int) -> Iterator[Floats]:
    """Yield dial frequencies where the filter behind a premixer bends the level of a line through it."""
    chains, lines, line = curve.chains, curve.lines, hits.line
    filters = [mixer.passed.filter for mixer in chains.mixer[conversion] if mixer.passed is not None]
    candidate, code = lines.candidate[line], code_of(lines.steps[line, conversion, 0])
    if not filters or not code.any():
        return
    inject_a, inject_b = (
        getattr(chains, name)[:, conversion][candidate] / chains.osc_h[:, conversion][candidate]
        for name in ("osc_a", "osc_b")
    )
    a, b, h = chains.line_beside(conversion, candidate, code)
    ratios, places, wanteds, offsets = _bends_of(filters)
    # a line and its negative are one
    for sign in (1, -1):
        p, q = sign * a / h, sign * b / h
        for u in ratios:
            yield np.where(code > 0, (u * inject_b - q) / (p - u * inject_a), np.nan)
        for x in places:
            yield np.where(code > 0, (x - q) / p, np.nan)
        for o in offsets:
            yield np.where(code > 0, (inject_b + o - q) / (p - inject_a), np.nan)
    for w in wanteds:
        yield np.where(code > 0, (w - inject_b) / inject_a, np.nan)


def _courses(curve: Curve, hits: Hits, point: int) -> Iterator[tuple[Floats, Floats]]:
    """Yield (p, q) of the frequency p d + q at a point: of the line's centre, and of the occupant's edges.

    An occupant beside the centre of the line stands still while the centre moves on, so
    it crosses what bends the curve at another dial frequency.
    """
    lines, occupants, line = curve.lines, curve.occupants, hits.line
    p, q = (getattr(lines, name)[point][line] / lines.d[point][line] for name in ("p", "q"))
    yield p, q
    p_0, q_0 = (getattr(lines, name)[0][line] / lines.d[0][line] for name in ("p", "q"))
    # hertz at the point to one hertz at the antenna, the dial held
    gain = (lines.r[point][line] / lines.d[point][line]) / (lines.r[0][line] / lines.d[0][line])
    low, high = occupants.low_hz[hits.occupant], occupants.high_hz[hits.occupant]
    for edge in (low,) if np.array_equal(low, high) else (low, high):
        yield p - gain * p_0, q - gain * (q_0 - edge)


def _bends(chains: Chains, point: int) -> tuple[list[float], list[float], list[float], list[float]]:
    """Return where a point's curves bend, as `_bends_of`."""
    return _bends_of(chains.selectivity[point])


def _bends_of(
    filters: Iterable[Attenuates],
) -> tuple[list[float], list[float], list[float], list[float]]:
    """Return where curves bend: ratios x / wanted, x, wanted, and offsets x - wanted."""
    ratios: set[float] = {1.0}
    places: set[float] = set()
    wanteds: set[float] = set()
    offsets: set[float] = set()
    for filter_ in filters:
        ratios |= {float(u) for u in filter_.corners_ratio()}
        places |= {float(x) for x in filter_.corners_x()}
        wanteds |= {float(w) for w in filter_.corners_wanted()}
        offsets |= {float(o) for o in filter_.corners_offset()}
    return sorted(ratios), sorted(places), sorted(wanteds), sorted(offsets)


def look(curve: Curve, hits: Hits, key: Ints) -> Samples:
    """Return the curves of some hits at sorted keys."""
    hit, dial = key >> DIAL_BITS, key & DIAL_MASK
    heard, bar = curve.heard_and_bar(hits.line[hit], hits.occupant[hit], dial)
    return Samples(hit, dial, heard, bar)


def with_points(curve: Curve, hits: Hits, seen: Samples, key: Ints) -> Samples:
    """Return the samples with some more points, those already there left out."""
    fresh = distinct(key)
    first, beyond = (np.searchsorted(seen.key, fresh, side=side) for side in ("left", "right"))
    fresh = fresh[first == beyond]
    if not len(fresh):
        return seen
    more = look(curve, hits, fresh)
    order = np.argsort(np.concatenate([seen.key, fresh]), kind="stable")
    return Samples(
        **{
            name: np.concatenate([getattr(seen, name), getattr(more, name)])[order]
            for name in Samples.column_names
        }
    )
