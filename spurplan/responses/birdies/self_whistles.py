"""Self-whistles: the station the set is tuned to comes in by another way too.

A station on the dial frequency, r = d, goes through mixer after mixer by some
other route and ends beside itself in the last IF, off by (A d + B) / H: where
that is at most half the final bandwidth, the two carriers beat. At the antenna
nothing tells them apart, so no front end helps; what helps stands behind the
first mixer, and how far below the station the whistle is follows from levels.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER
from spurplan.occupancy.occupants import Occupants, unlisted
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.grades import grade_of
from spurplan.responses.levels import AirBudget, bar_dbm, heard_dbm
from spurplan.responses.lines import Lines, clip_positive, enumerate_lines, product_steps
from spurplan.rows import Rows, bools, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

EVEN_POINTS = 9
# Whistles times occupants compared at once.
CHUNK = 4_000_000


class Whistles(Rows):
    """W stretches of dial on which the station tuned to beats with itself.

    Attributes
    ----------
    line : int64, shape (W,). The other route, index into the lines.
    dial_low_hz, dial_high_hz : int64, shape (W,). First and last whole hertz. [Hz]
    a, b, h : int64, shape (W,). With the station tuned in the beat is |a d + b| / h.
    occupant : int64, shape (W,). The strongest that is wanted there; -1 for none listed.
    station_dbm : float64, shape (W,). Its level at the terminals. [dBm]
    loudest_dial_hz : int64, shape (W,). Where the figures are quoted. [Hz]
    below_station_db : float64, shape (W,). How far the whistle is below the station. [dB]
    bar_dbm : float64, shape (W,). The bar of hearing a tone there. [dBm]
    through_ceiling : bool, shape (W,). It gets by a filter only by stray coupling.
    """

    line: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    a: Ints = ints()
    b: Ints = ints()
    h: Ints = ints()
    occupant: Ints = ints()
    station_dbm: Floats = floats()
    loudest_dial_hz: Ints = ints()
    below_station_db: Floats = floats()
    bar_dbm: Floats = floats()
    through_ceiling: Bools = bools()

    @property
    def margin_db(self) -> Floats:
        """How far the whistle is above the bar of hearing, shape (W,). [dB]"""
        margin: Floats = self.station_dbm - self.below_station_db - self.bar_dbm
        return margin

    def grade(self, strong_at_db: float, audible_at_db: float) -> Ints:
        """Return the grade of each, shape (W,); index into `grades.GRADES`."""
        return grade_of(self.margin_db, strong_at_db, audible_at_db)


def self_whistles(
    chains: Chains, occupants: Occupants, settings: Settings, unlisted_dbm: float
) -> tuple[Lines, Whistles]:
    """Return where a wanted station beats with itself.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants. The stations there may be.
    settings : Settings. Orders, thresholds, and whether buried ones are kept.
    unlisted_dbm : float. Level of a station where none is listed. [dBm]

    Returns
    -------
    Lines, and the whistles on them: by candidate, those through stray coupling last,
    then by how little they are below the station.

    Raises
    ------
    Refused  when the orders are too high for the numbers.
    """
    steps = product_steps(settings.lo_order, settings.rf_order)
    span = (int(chains.low_hz.min()), int(chains.high_hz.max()))
    loudest = max(unlisted_dbm, float(occupants.level_dbm.max(initial=-np.inf)))
    anywhere = unlisted(span[0], loudest, occupants)
    anywhere = anywhere.replace(high_hz=np.array([span[1]], dtype=np.int64))
    budget = AirBudget(chains, anywhere, settings.audible_at, drop=not settings.everything, steps=steps)
    lines = enumerate_lines(
        chains, settings.lo_order, settings.rf_order, span_hz=span, budget=budget
    )  # fmt: skip
    whistles = whistles_on(chains, lines, occupants, unlisted_dbm)
    if not settings.everything:
        whistles = whistles.take(np.flatnonzero(whistles.margin_db >= settings.audible_at))
    below = np.round(whistles.below_station_db, 6)
    order = np.lexsort(
        (whistles.dial_low_hz, below, whistles.through_ceiling, lines.candidate[whistles.line])
    )
    return lines, whistles.take(order)


def whistles_on(chains: Chains, lines: Lines, occupants: Occupants, unlisted_dbm: float) -> Whistles:
    """Return the whistles that some routes make, in the order of the lines.

    Parameters
    ----------
    chains, lines : the chains and the routes through them; the wanted one makes none.
    occupants, unlisted_dbm : as in `self_whistles`.
    """
    line, low, high, a, b, h = _crossings(chains, lines)
    occupant = _strongest(occupants, low, high)
    listed = occupant >= 0
    station = np.full(len(line), unlisted_dbm)
    from_hz, to_hz = low.copy(), high.copy()
    if listed.any():
        who = occupant[listed]
        station[listed] = occupants.level_dbm[who]
        from_hz[listed] = np.maximum(low[listed], occupants.low_hz[who])
        to_hz[listed] = np.minimum(high[listed], occupants.high_hz[who])
    dial = _points(from_hz, to_hz, a, b)
    points = dial.shape[1]
    heard = heard_dbm(
        chains, lines, np.repeat(line, points), dial.ravel().astype(np.float64),
        np.repeat(station, points), dial.ravel(),
    ).reshape(dial.shape)  # fmt: skip
    best = np.argmax(heard >= heard.max(axis=1, keepdims=True) - 1e-9, axis=1) if len(line) else line
    rows = np.arange(len(line))
    loudest = dial[rows, best]
    # the two beat with each other: a tone, whatever they bear
    tone = np.full(len(line), CARRIER, dtype=np.int8), np.ones(len(line), dtype=np.int32)
    return Whistles(
        line=line, dial_low_hz=low, dial_high_hz=high, a=a, b=b, h=h, occupant=occupant,
        station_dbm=station, loudest_dial_hz=loudest, below_station_db=station - heard[rows, best],
        bar_dbm=bar_dbm(chains, lines.candidate[line], loudest, *tone),
        through_ceiling=_at_ceiling(chains, lines, line, loudest),
    )  # fmt: skip


def _crossings(chains: Chains, lines: Lines) -> tuple[Ints, Ints, Ints, Ints, Ints, Ints]:
    """Return (line, first and last dial, a, b, h) wherever a route brings r = d into the passband."""
    candidate = lines.candidate
    a = np.ones(len(lines), dtype=np.int64)
    b, h = np.zeros_like(a), a
    low, high = lines.dial_low_hz, lines.dial_high_hz
    for i in range(chains.conversions):
        rf = lines.steps[:, i, 1]
        osc_a, osc_b, osc_h, lo = chains.mixed_with(i, candidate, lines.steps[:, i, 0])
        a, b, h = lo * osc_a * h + rf * a * osc_h, lo * osc_b * h + rf * b * osc_h, h * osc_h
        low, high = clip_positive(a, b, low, high, strict=True)
    b = b - chains.if_hz[candidate] * h
    width = chains.bandwidth_hz[candidate] * h
    low, high = clip_positive(2 * a, 2 * b + width, low, high, strict=False)
    low, high = clip_positive(-2 * a, width - 2 * b, low, high, strict=False)
    # a route that ends exactly on the station at every setting adds to it and beats with nothing
    beats = ~lines.is_wanted(chains) & ~((a == 0) & (b == 0))
    line = np.flatnonzero((low <= high) & beats)
    return line, low[line], high[line], a[line], b[line], h[line]


def _strongest(occupants: Occupants, low_hz: Ints, high_hz: Ints) -> Ints:
    """Return the strongest occupant in each stretch, the narrowest among equals; -1 for none."""
    out = np.full(len(low_hz), -1, dtype=np.int64)
    if not len(occupants):
        return out
    loudest_first = np.lexsort((occupants.high_hz - occupants.low_hz, -occupants.level_dbm))
    first, last = occupants.low_hz[loudest_first], occupants.high_hz[loudest_first]
    size = max(1, CHUNK // len(occupants))
    for start in range(0, len(low_hz), size):
        part = slice(start, start + size)
        there = (first[None] <= high_hz[part, None]) & (last[None] >= low_hz[part, None])
        out[part] = np.where(there.any(axis=1), loudest_first[np.argmax(there, axis=1)], -1)
    return out


def _points(low_hz: Ints, high_hz: Ints, a: Ints, b: Ints) -> Ints:
    """Return dial settings to look at, ascending: the ends, some between, and where the beat is zero."""
    span = high_hz - low_hz
    points = [low_hz + span * k // (EVEN_POINTS - 1) for k in range(EVEN_POINTS)]
    zero = -b // np.where(a == 0, 1, a)
    points += [np.clip(np.where(a == 0, low_hz, zero + off), low_hz, high_hz) for off in (0, 1)]
    dial = np.stack(points, axis=1)
    dial.sort(axis=1)
    return dial


def _at_ceiling(chains: Chains, lines: Lines, line: Ints, dial_hz: Ints) -> Bools:
    """Whether a whistle gets by somewhere on its way by stray coupling, shape (W,)."""
    candidate = lines.candidate[line]
    x = dial_hz.astype(np.float64)
    out = np.zeros(len(line), dtype=bool)
    for i in range(chains.conversions + 1):
        wanted = chains.wanted_hz(i, candidate, dial_hz).astype(np.float64)
        for code, selectivity in enumerate(chains.selectivity[i]):
            rows = np.flatnonzero(chains.selectivity_code[candidate, i] == code)
            out[rows] |= selectivity.strays(x[rows], wanted[rows])
        if i < chains.conversions:
            lo, rf = lines.steps[line, i, 0], lines.steps[line, i, 1]
            x = chains.injected_hz(i, candidate, lo, dial_hz) + rf * x
    return out
