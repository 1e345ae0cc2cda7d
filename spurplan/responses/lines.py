"""Response lines: every route from antenna to detector as a straight line.

Worked from the detector to the antenna. A point of the route is
``x = (P d + Q + R delta) / D`` in integers, d the dial frequency and delta the
place inside the final passband, ``|delta| <= bandwidth / 2``. Through a mixer
with oscillator (a d + b) / h and product lo, rf, s the sign of rf:

    P, Q <- s (h P - lo D a), s (h Q - lo D b)      R, D <- s h R, D h |rf|

Keeping P, Q, R, D of every point lets the join ask that each intermediate
product is positive for the same delta that brings the occupant in: asking it
of the centre line alone is wrong where a passband is wide.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused
from spurplan.receiver.chain import Chains
from spurplan.rows import Rows, bools, floats, ints
from spurplan.units import HIGHEST_HZ

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

LARGEST = 2**62
# Lines times products worked on together: enough to keep numpy busy, small enough for the cache.
CHUNK = 100_000
# Routes kept at once, of 200 bytes and more each: beyond it the memory of a bench computer goes.
MOST_ROUTES = 4_000_000


class Lines(Rows):
    """L response lines of some chains with N conversions.

    Attributes
    ----------
    candidate : int64, shape (L,).
    steps : int64, shape (L, N, 2). [lo, rf] a conversion, in signal order; lo as in `Chains.mixed_with`.
    p, q, r, d : int64, shape (N, L). The line at point i (0: antenna; i: input of
        mixer i + 1).
    dial_low_hz, dial_high_hz : int64, shape (L,). Where all products can be positive. [Hz]
    reach_hz : int64, shape (L,). Width in the final IF that counts as received. [Hz]
    tight : bool, shape (L,). Some intermediate product is positive for a part of
        the passband only, somewhere on the dial.
    need_dbm : float64, shape (L,). Least antenna level that could be heard; -inf
        where nobody asked. [dBm]
    """

    candidate: Ints = ints()
    steps: Ints = ints(ndim=3)
    p: Ints = ints(axis=1, ndim=2)
    q: Ints = ints(axis=1, ndim=2)
    r: Ints = ints(axis=1, ndim=2)
    d: Ints = ints(axis=1, ndim=2)
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    reach_hz: Ints = ints()
    tight: Bools = bools()
    need_dbm: Floats = floats()

    def at_hz(self, dial_hz: Ints, point: int = 0) -> Floats:
        """Return the centre of each line at a point, shape of `dial_hz`, which broadcasts with (L,). [Hz]"""
        at: Floats = (self.p[point] * dial_hz + self.q[point]) / self.d[point]
        return at

    def slack_hz(self, point: int = 0) -> Floats:
        """Return half the width of each line on the axis of a point, shape (L,). [Hz]"""
        slack: Floats = np.abs(self.r[point]) * self.reach_hz / (2.0 * self.d[point])
        return slack

    def is_wanted(self, chains: Chains) -> Bools:
        """Whether a line is the wanted route of its candidate, shape (L,)."""
        same: Bools = (self.steps == chains.wanted_steps[self.candidate]).all(axis=(1, 2))
        return same


class Budget(Protocol):
    """What it takes to be heard, worked backwards beside the lines; see `levels`."""

    def at_detector(self, candidate: Ints) -> Floats:
        """Return the level needed at the detector, shape (L,). [dBm]"""

    def worth_asking(self, conversion: int, candidate: Ints, need_dbm: Floats, steps: Ints) -> Bools:
        """Whether a product could be heard on any of the lines at all, shape (S,)."""

    def through_mixer(self, conversion: int, candidate: Ints, need_dbm: Floats, steps: Ints) -> Floats:
        """Return the level needed into a mixer, shape (L, S), for each of S products. [dBm]"""

    def through_selectivity(self, point: int, lines: Lines) -> Floats:
        """Return the level needed ahead of the selectivity at a point, shape (L,). [dBm]

        The lines end (their point 0) there; their need_dbm is the level needed behind it.
        """

    def possible_into_mixer(self, conversion: int, candidate: Ints, need_dbm: Floats, steps: Ints) -> Bools:
        """Whether any occupant could bring that much into a mixer, shape (L, S)."""

    def may_be_on_the_air(self, lines: Lines) -> Bools:
        """Whether an occupant is strong enough for a line if nothing weakens it, shape (L,).

        The lines end at the input of the first mixer.
        """

    def possible_at(self, point: int, candidate: Ints, need_dbm: Floats) -> Bools:
        """Whether any occupant could bring that much out of mixer number `point`, shape (L,)."""

    def on_the_air(self, need_dbm: Floats, low_hz: Floats, high_hz: Floats) -> Bools:
        """Whether an occupant between two antenna frequencies is strong enough, shape (L,)."""


def product_steps(lo_order: int, rf_order: int) -> Ints:
    """Return every (lo, rf) of a mixer whose result can be positive, shape (S, 2).

    Parameters
    ----------
    lo_order, rf_order : int, 0 or more and 1 or more. Highest oscillator and signal harmonic.
    """
    lo, rf = np.meshgrid(np.arange(-lo_order, lo_order + 1), np.arange(-rf_order, rf_order + 1))
    pairs = np.stack([lo.ravel(), rf.ravel()], axis=1).astype(np.int64)
    useful = (pairs[:, 1] != 0) & ~((pairs[:, 0] <= 0) & (pairs[:, 1] < 0))
    pairs = pairs[useful]
    # simplest first: what is listed first among equals is the likelier route
    order = np.lexsort((pairs[:, 1], pairs[:, 0], np.abs(pairs).sum(axis=1)))
    ordered: Ints = pairs[order]
    return ordered


def check_size(chains: Chains, lo_order: int, rf_order: int, reach_hz: Ints | None = None) -> None:
    """Refuse chains whose coefficients could leave 62 bits, before any array exists.

    Parameters
    ----------
    chains, lo_order, rf_order, reach_hz : as in `enumerate_lines`.

    Raises
    ------
    Refused  with the orders that would fit as the remedy.
    """
    if not len(chains):
        return
    reach = int((chains.bandwidth_hz if reach_hz is None else reach_hz).max())
    for lo in range(lo_order, -1, -1):
        if _largest(chains, lo, rf_order, reach) < LARGEST:
            if lo == lo_order:
                return
            remedy = f"ask for --lo-order {lo} or less, or a lower --rf-order"
            break
    else:
        remedy = "use a lower --rf-order or a lower oscillator_harmonic"
    raise Refused(
        Fault(
            "orders",
            f"and {rf_order} give numbers beyond 62 bits in this chain",
            value=str(lo_order),
            remedy=remedy,
        )
    )


def _largest(chains: Chains, lo_order: int, rf_order: int, reach: int) -> int:
    # Python integers: they can not overflow where they are asked whether arrays would.
    p, q, r, d = 0, int(chains.if_hz.max()), 1, 1
    dial = int(chains.high_hz.max())
    for i in range(chains.conversions - 1, -1, -1):
        h = int(chains.osc_h[:, i].max())
        a, b = chains.most_mixed_with(i)
        p, q = h * p + lo_order * d * a, h * q + lo_order * d * b
        r, d = h * r, d * h * rf_order
    # they grow from point to point: the aerial has the largest
    largest = 2 * (p * dial + q + r * reach + d * HIGHEST_HZ)
    # the positivity test multiplies the R of one point by the offset of another
    return largest * 2 * r if chains.conversions > 1 else largest


def enumerate_lines(
    chains: Chains,
    lo_order: int = 10,
    rf_order: int = 3,
    *,
    span_hz: tuple[int, int] = (1, HIGHEST_HZ),
    reach_hz: Ints | None = None,
    budget: Budget | None = None,
    tally: Callable[[Lines], None] | None = None,
) -> Lines:
    """Return all response lines that some occupant of `span_hz` could ride on.

    Parameters
    ----------
    chains : Chains, V candidates with N conversions.
    lo_order, rf_order : int. Highest |lo| and |rf| of each mixer.
    span_hz : (int, int). Lowest and highest frequency of any occupant. [Hz]
    reach_hz : int64, shape (V,). Width in the final IF that counts as received;
        the -6 dB bandwidth where None. [Hz]
    budget : Budget or None. Drops lines that nothing on the air can make heard.
    tally : function or None. Where there may be more than `MOST_ROUTES` it is given all lines
        a lot at a time before any are kept, to refuse what would come of them.

    Returns
    -------
    Lines, the wanted route included. Lines that coincide are not merged: their
    steps and levels differ.

    Raises
    ------
    Refused  when the coefficients could leave 62 bits, or there are more than `MOST_ROUTES`.
    """
    whole = np.asarray(chains.bandwidth_hz if reach_hz is None else reach_hz, dtype=np.int64)
    check_size(chains, lo_order, rf_order, whole)
    steps = product_steps(lo_order, rf_order)
    pieces = [
        _from_detector(chains, steps, np.arange(start, stop, dtype=np.int64), whole, span_hz, budget, tally)
        for start, stop in _blocks(len(chains), max(1, CHUNK // len(steps)))
    ]
    return _joined(pieces, chains)


def lines_of_routes(chains: Chains, steps: Ints) -> Lines:
    """Return one given route of each candidate as a line, shape (V,).

    Parameters
    ----------
    chains : Chains, V candidates with N conversions.
    steps : int64, shape (V, N, 2). [lo, rf] a conversion; rf not 0.

    Notes
    -----
    Nothing is asked of the products' signs: the line is where the route would be.
    """
    count, n = len(chains), chains.conversions
    ones = np.ones(count, dtype=np.int64)
    points = [(ones * 0, chains.if_hz, ones, ones)]
    for i in range(n - 1, -1, -1):
        oscillator = chains.mixed_with(i, np.arange(count), steps[:, i, 0])
        points.append(ahead_of_mixer(*points[-1], *oscillator, steps[:, i, 1]))
    p, q, r, d = (np.stack(column) for column in zip(*points[:0:-1], strict=True))
    return Lines(
        candidate=np.arange(count, dtype=np.int64), steps=steps, p=p, q=q, r=r, d=d,
        dial_low_hz=chains.low_hz, dial_high_hz=chains.high_hz, reach_hz=chains.bandwidth_hz,
        tight=np.ones(count, dtype=bool), need_dbm=np.full(count, -np.inf),
    )  # fmt: skip


def lines_behind(chains: Chains, conversion: int, steps: Ints, budget: Budget) -> Lines:
    """Return the lines on which something made in a mixer comes through to the detector.

    Parameters
    ----------
    chains : Chains, V candidates with N conversions.
    conversion : int. The mixer, 0 the first.
    steps : int64, shape (S, 2). What the mixers behind it may do.
    budget : Budget. What it takes to be heard; its need is the level behind the mixer.

    Returns
    -------
    Lines that end (their point 0) behind that mixer; the steps up to it are 0.

    Raises
    ------
    Refused  when there are more than `MOST_ROUTES`.
    """
    lines = _at_detector(chains, np.arange(len(chains), dtype=np.int64), chains.bandwidth_hz, budget)
    for behind in range(chains.conversions - 1, conversion, -1):
        if not len(lines):
            break
        if len(lines) * len(steps) > MOST_ROUTES:
            raise Refused(_too_many_routes())
        lines = _through(chains, steps, lines, behind, (1, HIGHEST_HZ), budget)
    return lines


def ahead_of_mixer(
    p: Ints, q: Ints, r: Ints, d: Ints, a: Ints, b: Ints, h: Ints, lo: Ints, rf: Ints
) -> tuple[Ints, Ints, Ints, Ints]:
    """Return the line of what goes into a mixer from the line of what comes out; all broadcast."""
    sign = np.sign(rf)
    return sign * (h * p - lo * d * a), sign * (h * q - lo * d * b), sign * h * r, d * h * np.abs(rf)


def _blocks(count: int, size: int) -> list[tuple[int, int]]:
    return [(start, min(start + size, count)) for start in range(0, count, size)]


def _joined(pieces: list[Lines], chains: Chains) -> Lines:
    if pieces:
        return Lines.concat(pieces)
    n = chains.conversions
    points = np.zeros((n, 0), dtype=np.int64)
    return Lines.empty(steps=np.zeros((0, n, 2), dtype=np.int64), p=points, q=points, r=points, d=points)


def _at_detector(chains: Chains, candidate: Ints, reach_hz: Ints, budget: Budget | None) -> Lines:
    """Return the lines of some candidates where they end: on the last IF, ahead of its filter."""
    n = chains.conversions
    zeros = np.zeros(len(candidate), dtype=np.int64)
    lines = Lines(
        candidate=candidate,
        steps=np.zeros((len(candidate), n, 2), dtype=np.int64),
        p=zeros[None],
        q=chains.if_hz[candidate][None],
        r=(zeros + 1)[None],
        d=(zeros + 1)[None],
        dial_low_hz=chains.low_hz[candidate],
        dial_high_hz=chains.high_hz[candidate],
        reach_hz=reach_hz[candidate],
        tight=np.zeros(len(candidate), dtype=bool),
        need_dbm=np.full(len(candidate), -np.inf),
    )
    if budget is not None:
        at_end = lines.replace(need_dbm=budget.at_detector(candidate))
        lines = at_end.replace(need_dbm=budget.through_selectivity(n, at_end))
    return lines


def _from_detector(
    chains: Chains, steps: Ints, candidate: Ints, reach_hz: Ints, span_hz: tuple[int, int],
    budget: Budget | None, tally: Callable[[Lines], None] | None,
) -> Lines:  # fmt: skip
    n = chains.conversions
    lines = _at_detector(chains, candidate, reach_hz, budget)
    for conversion in range(n - 1, -1, -1):
        beside = chains.beside_steps(conversion, steps)
        parts = [
            lines.take(np.arange(start, stop))
            for start, stop in _blocks(len(lines), max(1, CHUNK // len(beside)))
        ]
        if len(lines) * len(beside) > MOST_ROUTES:
            # counted before any is kept: what is too much is refused with hardly any memory used
            count = 0
            for part in parts:
                passed = _through(chains, beside, part, conversion, span_hz, budget)
                count += len(passed)
                if count > MOST_ROUTES:
                    raise Refused(_too_many_routes())
                if conversion == 0 and tally is not None:
                    tally(_whole(passed, n))
        if not parts:
            break
        lines = _joined(
            [_through(chains, beside, part, conversion, span_hz, budget) for part in parts], chains
        )
    return _whole(lines, n)


def _whole(lines: Lines, conversions: int) -> Lines:
    """Return lines that have reached the antenna without the IF itself, the same for all of them."""
    return lines.replace(**{name: getattr(lines, name)[:conversions] for name in ("p", "q", "r", "d")})


def _too_many_routes() -> Fault:
    remedy = "ask for lower --lo-order and --rf-order, for one --range, or leave --everything out"
    return Fault("orders", f"give more than {MOST_ROUTES:,} routes through the mixers", remedy=remedy)


def _through(
    chains: Chains, steps: Ints, lines: Lines, conversion: int, span_hz: tuple[int, int],
    budget: Budget | None,
) -> Lines:  # fmt: skip
    """Return the lines one mixer nearer to the antenna."""
    candidate = lines.candidate
    if budget is not None:
        # of many candidates most ask for the same products: what is hopeless for the best is not tried on all
        steps = steps[budget.worth_asking(conversion, candidate, lines.need_dbm, steps)]
    oscillator = chains.mixed_with(conversion, candidate[:, None], steps[:, 0][None])
    behind = (lines.p[0][:, None], lines.q[0][:, None], lines.r[0][:, None], lines.d[0][:, None])
    p, q, r, d = ahead_of_mixer(*behind, *oscillator, steps[:, 1][None])
    width = np.abs(r) * lines.reach_hz[:, None]
    low, high = lines.dial_low_hz[:, None], lines.dial_high_hz[:, None]
    ends = (p * low, p * high)
    most = 2 * (np.maximum(*ends) + q) + width
    # positive at an end of the dial at least, or nowhere on it
    keep = (most > 0) & chains.there(conversion, candidate[:, None], steps[:, 0][None])
    if conversion == 0:
        least = 2 * (np.minimum(*ends) + q) - width
        keep &= (most >= 2 * d * span_hz[0]) & (least <= 2 * d * span_hz[1])
    need = None
    if budget is not None:
        need = budget.through_mixer(conversion, candidate, lines.need_dbm, steps)
        keep &= budget.possible_into_mixer(conversion, candidate, need, steps)
    row, step = np.nonzero(keep)
    near = Lines(
        candidate=candidate[row],
        # the steps ahead of this mixer are not known yet, those behind it not needed here
        steps=np.broadcast_to(steps[step][:, None], (len(row), chains.conversions, 2)),
        p=p[row, step][None],
        q=q[row, step][None],
        r=r[row, step][None],
        d=d[row, step][None],
        dial_low_hz=lines.dial_low_hz[row],
        dial_high_hz=lines.dial_high_hz[row],
        reach_hz=lines.reach_hz[row],
        tight=lines.tight[row],
        need_dbm=lines.need_dbm[row] if need is None else need[row, step],
    )
    # most of them end here: what is behind the mixer is copied for the others alone
    near, kept = _that_go_on(near, conversion, budget)
    taken = lines.take(row[kept])
    passed = near.replace(
        steps=taken.steps,
        **{
            name: np.concatenate([getattr(near, name), getattr(taken, name)]) for name in ("p", "q", "r", "d")
        },
    )
    passed.steps[:, conversion] = steps[step[kept]]
    return passed


def _that_go_on(lines: Lines, point: int, budget: Budget | None) -> tuple[Lines, Ints]:
    """Return the lines the air can pay for, their dials clipped, and which they were."""
    kept = np.arange(len(lines), dtype=np.int64)
    if point > 0:
        lines = _positive_here(lines)
    if budget is None:
        return lines, kept
    if point == 0:
        worth = np.flatnonzero(budget.may_be_on_the_air(lines))
        lines, kept = lines.take(worth), kept[worth]
    lines = lines.replace(need_dbm=budget.through_selectivity(point, lines))
    paid = budget.possible_at(point, lines.candidate, lines.need_dbm) if point else _reachable(lines, budget)
    return lines.take(paid), kept[paid]


def _positive_here(lines: Lines) -> Lines:
    """Clip the dial to where the nearest point can be positive, and mark the doubtful lines."""
    p, q = 2 * lines.p[0], 2 * lines.q[0]
    width = np.abs(lines.r[0]) * lines.reach_hz
    low, high = clip_positive(p, q + width, lines.dial_low_hz, lines.dial_high_hz, strict=True)
    least = np.minimum(p * low, p * high) + q - width
    return lines.replace(dial_low_hz=low, dial_high_hz=high, tight=lines.tight | (least <= 0))


def clip_positive(slope: Ints, offset: Ints, low: Ints, high: Ints, *, strict: bool) -> tuple[Ints, Ints]:
    """Return the whole d in [low, high] with ``slope d + offset`` positive.

    Parameters
    ----------
    slope, offset, low, high : int64 arrays of one shape.
    strict : bool. Above zero, or (False) zero too.

    Returns
    -------
    low, high : the clipped ends; low above high where there is none.
    """
    floor_value = 1 if strict else 0
    size = np.where(slope == 0, 1, np.abs(slope))
    # slope d >= floor_value - offset, rounded inward either way round
    from_low = -((offset - floor_value) // size)
    from_high = (offset - floor_value) // size
    new_low = np.where(slope > 0, np.maximum(low, from_low), low)
    new_high = np.where(slope < 0, np.minimum(high, from_high), high)
    never = (slope == 0) & (offset < floor_value)
    return np.where(never, new_high + 1, new_low), new_high


def _reachable(lines: Lines, budget: Budget) -> Bools:
    ends = (lines.at_hz(lines.dial_low_hz), lines.at_hz(lines.dial_high_hz))
    slack = lines.slack_hz()
    return budget.on_the_air(lines.need_dbm, np.minimum(*ends) - slack, np.maximum(*ends) + slack)
