"""How much of a range is usable with a set-up, in the worlds that all set-ups of a question share.

What plans is judged on a busy evening: a change has to hold when the bands are full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.listening.findings import BUSY, RangeFinding
from spurplan.responses.listening.judged import Place, findings_of, judged, place_of
from spurplan.responses.listening.share import Shares

Floats = npt.NDArray[np.float64]
Pair = tuple[Receiver, Range]

HOUR = BUSY
# Settings looked at on a range where many set-ups are compared.
SETTINGS = 500


@dataclass(frozen=True)
class Outlook:
    """One range with one set-up.

    Attributes
    ----------
    finding : RangeFinding. What becomes of the range on a busy evening.
    worlds : float64, shape (Z,). Its usable share in each world.
    """

    finding: RangeFinding
    worlds: Floats


@dataclass(frozen=True)
class Together:
    """Ranges of one set-up taken together, each for its part of the dial.

    Attributes
    ----------
    widths_hz : tuple of int. Dial of each range. [Hz]
    outlooks : of each range; None where the set-up cannot be had: nothing of it is usable.
    """

    widths_hz: tuple[int, ...]
    outlooks: tuple[Outlook | None, ...]

    @property
    def usable(self) -> float:
        """Part of all dials that is usable on the mean."""
        return self._mean("usable")

    @property
    def interval(self) -> tuple[float, float]:
        """Between which it lies in eight worlds of ten."""
        low, high = np.quantile(self.worlds, [0.1, 0.9]).tolist()
        return float(low), float(high)

    @property
    def at(self) -> str:
        """When it is so, in words."""
        return next(one.finding.at for one in self.outlooks if one is not None)

    @property
    def unknown(self) -> float:
        """Part of all dials of which the tables cannot tell."""
        return self._mean("unknown")

    def _mean(self, name: str) -> float:
        parts = zip(self.widths_hz, self.outlooks, strict=True)
        total = sum(width * getattr(one.finding, name) for width, one in parts if one is not None)
        return float(total) / sum(self.widths_hz)

    @property
    def worlds(self) -> Floats:
        """Usable part of all dials in each world, shape (Z,); one world where it can be had nowhere."""
        total: Floats = np.zeros(1)
        for width, one in zip(self.widths_hz, self.outlooks, strict=True):
            if one is not None:
                total = total + width * one.worlds
        return total / sum(self.widths_hz)


def together_of(
    receiver: Receiver,
    names: Sequence[str],
    place: Place,
    settings: Settings,
    cover: tuple[int, int] | None = None,
    hour: str = HOUR,
) -> Together:
    """Return what becomes of some ranges of a set-up, taken together; see `outlooks`."""
    ranges = [range_named(receiver, name) for name in names]
    found = outlooks([(receiver, one) for one in ranges], place, settings, cover, hour)
    return Together(tuple(width_hz(one, cover) for one in ranges), tuple(found))


def width_hz(one: Range, cover: tuple[int, int] | None = None) -> int:
    """Return the whole hertz of a dial, or of the part of it inside a stretch. [Hz]"""
    if cover is None:
        return one.high_hz - one.low_hz + 1
    return min(one.high_hz, cover[1]) - max(one.low_hz, cover[0]) + 1


def outlooks(
    pairs: Sequence[Pair],
    place: Place,
    settings: Settings,
    cover: tuple[int, int] | None = None,
    hour: str = HOUR,
) -> list[Outlook]:
    """Return what becomes of ranges of set-ups, in the order given.

    Parameters
    ----------
    pairs : sequence of (receiver, one of its ranges).
    place : Place.
    settings : Settings. Orders, worlds and seed.
    cover : (low, high) or None. The stretch asked about; every range holds some of it. [Hz]
    hour : str. A busy evening unless asked otherwise.
    """
    found: dict[int, Outlook] = {}
    by_conversions: dict[int, list[int]] = {}
    for number, (receiver, one) in enumerate(pairs):
        by_conversions.setdefault(len(receiver.conversions_of(one)), []).append(number)
    for numbers in by_conversions.values():
        (chains,) = compile_chains([pairs[number] for number in numbers])
        told = shares_of(chains, place, settings, cover, hour)
        for number, finding, worlds in zip(
            numbers, findings_of(told, hour, cover is not None), told.worlds, strict=True
        ):
            found[number] = Outlook(finding, worlds)
    return [found[number] for number in range(len(pairs))]


def shares_of(
    chains: Chains,
    place: Place,
    settings: Settings,
    cover: tuple[int, int] | None = None,
    hour: str = HOUR,
    count: int = SETTINGS,
    *,
    with_clear: bool = True,
) -> Shares:
    """Return what becomes of the dial of each candidate; see `outlooks`."""
    return judged(chains, place, settings, hour, cover, count, with_clear=with_clear)


__all__ = [
    "HOUR",
    "SETTINGS",
    "Outlook",
    "Pair",
    "Together",
    "outlooks",
    "place_of",
    "shares_of",
    "together_of",
    "width_hz",
]
