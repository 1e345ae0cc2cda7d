"""How much of a range is usable with a set-up, in the worlds that all set-ups of a question share.

What plans is judged on a busy evening: a change has to hold when the bands are full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains, compile_chains
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
) -> Shares:
    """Return what becomes of the dial of each candidate; see `outlooks`."""
    return judged(chains, place, settings, hour, cover, count)


__all__ = ["HOUR", "SETTINGS", "Outlook", "Pair", "outlooks", "place_of", "shares_of"]
