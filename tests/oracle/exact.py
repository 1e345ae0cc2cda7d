"""Whether a station is received, in exact fractions and nothing else.

The rule, and not the way the package works it out: at a dial setting d an
occupant is received by a route when some real frequency r of it goes through
every mixer to a positive frequency and ends inside the final passband, both
edges included. At a fixed d every condition is linear in r, so the
frequencies that qualify are one interval, found here by intersection.

Two functions say it a second time in another way: `received_on_grid` walks a
grid of r fine enough to be exact, and `stretch` finds where on the dial the
pair is received from the corners of the region in the (d, r) plane.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product

Step = tuple[int, int]
Route = tuple[Step, ...]


@dataclass(frozen=True)
class Oscillator:
    """An oscillator on ``(a*d + b) / h`` hertz, d being the dial frequency."""

    a: int
    b: int
    h: int = 1

    def hz(self, dial_hz: Fraction | int) -> Fraction:
        """Return its frequency at a dial setting. [Hz]"""
        return (self.a * Fraction(dial_hz) + self.b) / self.h


@dataclass(frozen=True)
class PlainChain:
    """One range of a receiver: its oscillators in signal order and its final passband.

    Attributes
    ----------
    name : str. The range.
    oscillators : one a conversion.
    if_hz, bandwidth_hz : int. The last IF and its -6 dB width. [Hz]
    low_hz, high_hz : int. Dial coverage, both ends inside. [Hz]
    wanted : the (lo, rf) steps of the wanted route.
    """

    name: str
    oscillators: tuple[Oscillator, ...]
    if_hz: int
    bandwidth_hz: int
    low_hz: int
    high_hz: int
    wanted: Route


@dataclass(frozen=True)
class Span:
    """Real frequencies from low to high; an open end is itself not inside."""

    low: Fraction
    high: Fraction
    low_open: bool = False
    high_open: bool = False

    @property
    def empty(self) -> bool:
        return self.low > self.high or (self.low == self.high and (self.low_open or self.high_open))

    def above(self, edge: Fraction, is_open: bool) -> Span:
        """Return the part at or above `edge` (strictly above where open)."""
        if edge < self.low or (edge == self.low and not is_open):
            return self
        return Span(edge, self.high, is_open, self.high_open)

    def below(self, edge: Fraction, is_open: bool) -> Span:
        """Return the part at or below `edge` (strictly below where open)."""
        if edge > self.high or (edge == self.high and not is_open):
            return self
        return Span(self.low, edge, self.low_open, is_open)


def steps(lo_order: int, rf_order: int) -> list[Step]:
    """Return every (lo, rf) of one mixer that can give a positive result."""
    return [
        (lo, rf)
        for lo, rf in product(range(-lo_order, lo_order + 1), range(-rf_order, rf_order + 1))
        if rf != 0 and not (lo <= 0 and rf < 0)
    ]


def routes(conversions: int, lo_order: int, rf_order: int) -> list[Route]:
    """Return every route through so many mixers."""
    return list(product(steps(lo_order, rf_order), repeat=conversions))


def walk(chain: PlainChain, dial_hz: Fraction | int, route: Route, rf_hz: Fraction | int) -> list[Fraction]:
    """Return the frequency behind each mixer for one frequency at the aerial. [Hz]"""
    x = Fraction(rf_hz)
    out = []
    for oscillator, (lo, rf) in zip(chain.oscillators, route, strict=True):
        x = lo * oscillator.hz(dial_hz) + rf * x
        out.append(x)
    return out


def _affine(chain: PlainChain, dial_hz: int, route: Route) -> Iterator[tuple[int, Fraction]]:
    """Yield (slope, offset) of the frequency behind each mixer as a function of r."""
    slope, offset = 1, Fraction(0)
    for oscillator, (lo, rf) in zip(chain.oscillators, route, strict=True):
        slope, offset = rf * slope, lo * oscillator.hz(dial_hz) + rf * offset
        yield slope, offset


def _limit(span: Span, slope: int, offset: Fraction, least: Fraction, is_open: bool) -> Span:
    """Keep where ``slope*r + offset >= least`` (> where open)."""
    edge = (least - offset) / slope
    return span.above(edge, is_open) if slope > 0 else span.below(edge, is_open)


def frequencies(chain: PlainChain, dial_hz: int, route: Route, low_hz: int, high_hz: int) -> Span:
    """Return the frequencies of an occupant [low, high] that are received by a route."""
    half = Fraction(chain.bandwidth_hz, 2)
    span = Span(Fraction(low_hz), Fraction(high_hz))
    behind = list(_affine(chain, dial_hz, route))
    for slope, offset in behind:
        span = _limit(span, slope, offset, Fraction(0), True)
    slope, offset = behind[-1]
    span = _limit(span, slope, offset, chain.if_hz - half, False)
    return _limit(span, -slope, -offset, -(chain.if_hz + half), False)


def received(chain: PlainChain, dial_hz: int, route: Route, low_hz: int, high_hz: int) -> bool:
    """Return whether an occupant is received by a route at a dial setting."""
    return not frequencies(chain, dial_hz, route, low_hz, high_hz).empty


def received_on_grid(chain: PlainChain, dial_hz: int, route: Route, low_hz: int, high_hz: int) -> bool:
    """Return the same, by trying every r of a grid.

    Every edge in r is a multiple of 1/M, M = 2 * product of h * product of
    abs(rf), so an interval that is not empty holds a multiple of 1/(2M).
    """
    fine = 4
    for oscillator, (_, rf) in zip(chain.oscillators, route, strict=True):
        fine *= oscillator.h * abs(rf)
    half = Fraction(chain.bandwidth_hz, 2)
    for tick in range(low_hz * fine, high_hz * fine + 1):
        behind = walk(chain, dial_hz, route, Fraction(tick, fine))
        if min(behind) > 0 and abs(behind[-1] - chain.if_hz) <= half:
            return True
    return False


@dataclass(frozen=True)
class _Edge:
    """The half plane ``p*d + q*r <= s``."""

    p: Fraction
    q: Fraction
    s: Fraction

    def holds(self, d: Fraction, r: Fraction) -> bool:
        return self.p * d + self.q * r <= self.s


def _half_planes(chain: PlainChain, route: Route, low_hz: int, high_hz: int) -> list[_Edge]:
    half = Fraction(chain.bandwidth_hz, 2)
    zero, one = Fraction(0), Fraction(1)
    edges = [
        _Edge(-one, zero, Fraction(-chain.low_hz)),
        _Edge(one, zero, Fraction(chain.high_hz)),
        _Edge(zero, -one, Fraction(-low_hz)),
        _Edge(zero, one, Fraction(high_hz)),
    ]
    a, b, n = zero, zero, one
    for oscillator, (lo, rf) in zip(chain.oscillators, route, strict=True):
        a = lo * Fraction(oscillator.a, oscillator.h) + rf * a
        b = lo * Fraction(oscillator.b, oscillator.h) + rf * b
        n = rf * n
        edges.append(_Edge(-a, -n, b))
    edges.append(_Edge(-a, -n, b - (chain.if_hz - half)))
    edges.append(_Edge(a, n, (chain.if_hz + half) - b))
    return edges


def stretch(chain: PlainChain, route: Route, low_hz: int, high_hz: int) -> tuple[int, int] | None:
    """Return the first and last whole hertz of the dial at which the pair is received.

    The region of (d, r) is convex. Its corners give the ends of the dial
    stretch with the edges counted in; where a product must be strictly
    positive the end itself may fall out, and then the next hertz decides.
    """
    edges = _half_planes(chain, route, low_hz, high_hz)
    dials: list[Fraction] = []
    for one, two in combinations(edges, 2):
        determinant = one.p * two.q - two.p * one.q
        if determinant == 0:
            continue
        d = (one.s * two.q - two.s * one.q) / determinant
        r = (one.p * two.s - two.p * one.s) / determinant
        if all(edge.holds(d, r) for edge in edges):
            dials.append(d)
    if not dials:
        return None
    first, last = math.ceil(min(dials)), math.floor(max(dials))
    if first <= last and not received(chain, first, route, low_hz, high_hz):
        first += 1
    if first <= last and not received(chain, last, route, low_hz, high_hz):
        last -= 1
    if first > last or not received(chain, first, route, low_hz, high_hz):
        return None
    return first, last


def stretches(
    chain: PlainChain, all_routes: Sequence[Route], occupants: Sequence[tuple[int, int]]
) -> dict[tuple[Route, int], tuple[int, int]]:
    """Return the dial stretch of every pair (route, number of the occupant) that has one."""
    found = {}
    for route in all_routes:
        for number, (low_hz, high_hz) in enumerate(occupants):
            where = stretch(chain, route, low_hz, high_hz)
            if where is not None:
                found[route, number] = where
    return found
