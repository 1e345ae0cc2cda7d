"""Coils and capacitors of what is built ahead of a set: traps, low-pass and high-pass filters, preselectors.

References
----------
[1] G. L. Matthaei, L. Young, E. M. T. Jones, Microwave Filters, Impedance-Matching Networks, and Coupling
    Structures, 1964, eq. 4.05-2 (from memory): elements of a ladder with equal ripple.
[2] Thomson's formula of resonance, f = 1 / (2 pi sqrt(L C)).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from spurplan.receiver.description import Box, Circuits, Curve, Range, Trap
from spurplan.units import OHMS, hz_text

# of a coil wound with care [est]
COIL_Q = 100.0
# a common gang, and what stands across it: trimmer, leads and the coil itself [est]. [pF]
GANG_PF = (10.0, 365.0)
STRAYS_PF = 15.0
RIPPLE_DB = 0.1
POLES = (3, 5, 7, 9, 11)
# More than this a filter on a bench does not hold, whatever its elements say [est]. [dB]
HELD_DB = 60.0
# how far a filter may fall short of the curve that a cure was judged by [dB]
NEAR_DB = 1.0


@dataclass(frozen=True)
class TrapValues:
    """A parallel circuit in series with the aerial lead.

    Attributes
    ----------
    hz : int. Its frequency. [Hz]
    depth_db : float. Between 50 ohm. [dB]
    henries, farads : float.
    low_hz, high_hz : float. Where it takes 3 dB. [Hz]
    """

    hz: int
    depth_db: float
    henries: float
    farads: float
    low_hz: float
    high_hz: float

    @property
    def text(self) -> str:
        """What to wind and solder for the trap, and what it takes beside its frequency."""
        return (
            f"{_henries(self.henries)} across {_farads(self.farads)} in series with the lead is resonant on "
            f"{hz_text(self.hz)} and {self.depth_db:g} dB deep between {OHMS:g} ohm with a coil of "
            f"Q {COIL_Q:g}; it takes 3 dB on {_near(self.low_hz)} and {_near(self.high_hz)}"
        )


@dataclass(frozen=True)
class LadderValues:
    """A ladder filter between 50 ohm, beginning and ending with a capacitor.

    Attributes
    ----------
    kind : "low-pass" or "high-pass".
    edge_hz : float. Edge of the passband, where it is down by the ripple. [Hz]
    farads, henries : tuple of float, from the aerial to the set.
    """

    kind: Literal["low-pass", "high-pass"]
    edge_hz: float
    farads: tuple[float, ...]
    henries: tuple[float, ...]

    @property
    def text(self) -> str:
        """The elements in turn from aerial to set, and the edge they make."""
        farads, henries = ", ".join(map(_farads, self.farads)), ", ".join(map(_henries, self.henries))
        across, along = (farads, henries) if self.kind == "low-pass" else (henries, farads)
        return (
            f"{along} in the lead and {across} across it, in turn from aerial to set: "
            f"{len(self.farads) + len(self.henries)} poles, {RIPPLE_DB:g} dB ripple, "
            f"edge {_near(self.edge_hz)}, {OHMS:g} ohm"
        )


@dataclass(frozen=True)
class CircuitValues:
    """The coil of each tuned circuit of a preselector on one range.

    Attributes
    ----------
    range : str.
    low_hz, high_hz : int. What it has to tune. [Hz]
    henries : float.
    reaches_hz : float. The highest it tunes with the gang open. [Hz]
    """

    range: str
    low_hz: int
    high_hz: int
    henries: float
    reaches_hz: float

    @property
    def text(self) -> str:
        """The coil of each circuit, and what it tunes with the gang."""
        least, most = GANG_PF
        more = "" if self.reaches_hz >= self.high_hz else f", so {hz_text(self.high_hz)} wants a second coil"
        return (
            f"range {self.range}: {_henries(self.henries)} a circuit with {least:g} to {most:g} pF and "
            f"{STRAYS_PF:g} pF of strays tunes {hz_text(self.low_hz)} to {_near(self.reaches_hz)}{more}"
        )


Values = TrapValues | LadderValues | CircuitValues


def values_of(
    boxes: Sequence[Box], ranges: Sequence[Range], cover: tuple[int, int] | None = None
) -> tuple[Values, ...]:
    """Return what boxes ahead of a set may be wound and bought for.

    Parameters
    ----------
    boxes : sequence of Box.
    ranges : sequence of Range. Those that serve.
    cover : (low, high) or None. The part of them that matters. [Hz]

    Returns
    -------
    tuple. Nothing for what is neither trap, tuned circuits nor a low-pass or high-pass curve.
    """
    return tuple(dict.fromkeys(value for box in boxes for value in _of_box(box, ranges, cover)))


def _of_box(box: Box, ranges: Sequence[Range], cover: tuple[int, int] | None) -> Iterator[Values]:
    switched = [range_ for range_ in ranges if box.ranges is None or range_.name in box.ranges]
    for element in box.elements:
        if isinstance(element, Trap):
            yield trap(element.trap_hz, element.depth_db)
        elif isinstance(element, Circuits):
            for range_ in switched:
                low, high = (range_.low_hz, range_.high_hz) if cover is None else cover
                yield circuit(range_.name, max(low, range_.low_hz), min(high, range_.high_hz))
        elif isinstance(element, Curve) and (made := ladder(element.points)) is not None:
            yield made


def trap(hz: int, depth_db: float) -> TrapValues:
    """Return a trap of that depth between 50 ohm.

    Notes
    -----
    At resonance the circuit is Q X, and the loss (2 R + Q X) / 2 R; so X = 2 R (10^(D/20) - 1) / Q, which
    is the reactance of coil and capacitor. Beside it Z = Q X / (1 + j Q v), v = f/f0 - f0/f, and the loss is
    ((1 + QX/2R)^2 + Q^2 v^2) / (1 + Q^2 v^2); it is 2 where Q^2 v^2 = (1 + QX/2R)^2 - 2. Derived here.
    """
    deep = 10.0 ** (depth_db / 20.0)
    reactance = 2.0 * OHMS * (deep - 1.0) / COIL_Q
    omega = 2.0 * math.pi * hz
    off = math.sqrt(max(deep**2 - 2.0, 0.0)) / COIL_Q / 2.0
    wide = math.sqrt(1.0 + off**2)
    return TrapValues(
        hz, depth_db, reactance / omega, 1.0 / (omega * reactance), hz * (wide - off), hz * (wide + off)
    )


def circuit(name: str, low_hz: int, high_hz: int) -> CircuitValues:
    """Return the coil that a common gang tunes down to the low edge."""
    least, most = ((pf + STRAYS_PF) * 1e-12 for pf in GANG_PF)
    henries = 1.0 / ((2.0 * math.pi * low_hz) ** 2 * most)
    return CircuitValues(name, low_hz, high_hz, henries, low_hz * math.sqrt(most / least))


def prototype(poles: int) -> tuple[float, ...]:
    """Return the elements of an equal-ripple ladder for 1 ohm and 1 rad/s at the edge; `poles` is odd [1]."""
    beta = math.log(1.0 / math.tanh(RIPPLE_DB * math.log(10.0) / 40.0))
    gamma = math.sinh(beta / (2 * poles))
    a = [math.sin((2 * k - 1) * math.pi / (2 * poles)) for k in range(1, poles + 1)]
    b = [gamma**2 + math.sin(k * math.pi / poles) ** 2 for k in range(1, poles + 1)]
    elements = [2.0 * a[0] / gamma]
    for k in range(1, poles):
        elements.append(4.0 * a[k - 1] * a[k] / (b[k - 1] * elements[-1]))
    return tuple(elements)


def loss_db(poles: int, ratio: float) -> float:
    """Return what such a filter takes at so many times its edge frequency. [dB]"""
    ripple = 10.0 ** (RIPPLE_DB / 10.0) - 1.0
    if ratio <= 1.0:
        of = math.cos(poles * math.acos(ratio))
    else:
        of = math.cosh(min(poles * math.acosh(ratio), 300.0))
    return 10.0 * math.log10(1.0 + ripple * of**2)


def ladder(points: Sequence[tuple[int, float]]) -> LadderValues | None:
    """Return the filter of fewest poles that does what a curve says; None where none does.

    Parameters
    ----------
    points : (hz, db) in rising order, as of a low-pass or a high-pass.
    """
    high_pass = points[0][1] > points[-1][1]
    # a high-pass is a low-pass over the inverse of frequency
    low_pass = _low_pass([(1.0 / hz, db) for hz, db in reversed(points)] if high_pass else points)
    if low_pass is None:
        return None
    poles, edge = low_pass
    if high_pass:
        omega = 2.0 * math.pi / edge
        parts = [
            1.0 / (g * omega * OHMS) if at % 2 == 0 else OHMS / (g * omega)
            for at, g in enumerate(prototype(poles))
        ]
        return LadderValues("high-pass", 1.0 / edge, tuple(parts[::2]), tuple(parts[1::2]))
    omega = 2.0 * math.pi * edge
    parts = [g / (omega * OHMS) if at % 2 == 0 else g * OHMS / omega for at, g in enumerate(prototype(poles))]
    return LadderValues("low-pass", edge, tuple(parts[::2]), tuple(parts[1::2]))


def _low_pass(points: Sequence[tuple[float, float]]) -> tuple[int, float] | None:
    """Return poles and edge of a low-pass that passes what has to pass, and takes what has to go."""
    losses = [db for _, db in points]
    if losses != sorted(losses) or losses[-1] < 3.0 or losses[0] > 3.0:
        return None
    edge = max(x for x, db in points if db <= 1.0)
    for poles in POLES:
        if all(loss_db(poles, x / edge) >= min(db, HELD_DB) - NEAR_DB for x, db in points if db > 1.0):
            return poles, edge
    return None


def _henries(value: float) -> str:
    """Return "551 nH", "42.0 uH"."""
    for scale, unit in ((1e-3, "mH"), (1e-6, "uH"), (1e-9, "nH")):
        if value >= scale or unit == "nH":
            return f"{_three(value / scale)} {unit}"
    raise AssertionError


def _farads(value: float) -> str:
    """Return "2.76 nF", "110 pF"."""
    return f"{_three(value * 1e9)} nF" if value >= 1e-9 else f"{_three(value * 1e12)} pF"


def _three(value: float) -> str:
    """Return a number with the digits that a part can be measured to."""
    places = max(0, 2 - math.floor(math.log10(value)))
    return f"{value:.{min(places, 3)}f}".rstrip("0").rstrip(".") if places else f"{value:.0f}"


def _near(hz: float) -> str:
    step = 1_000 if hz < 10e6 else 10_000
    return hz_text(round(hz / step) * step)


SOURCES = (
    "Coils and capacitors: filters by Matthaei, Young and Jones, 1964, 4.05 (from memory); "
    "circuits by Thomson's formula; between 50 ohm, which few aerials are: trim in place."
)
