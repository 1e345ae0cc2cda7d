"""The one station that a trap of its own would be built for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spurplan.responses.listening.share import Shares

# a station that takes less than this of a range is worth no trap
WORTH_A_TRAP = 0.01
# a trap takes out what is this part of its frequency wide: its Q is about 80
WITHIN_A_TRAP = 1 / 80


@dataclass(frozen=True)
class Station:
    """A station, and what it takes.

    Attributes
    ----------
    label : str. As its table calls it.
    hz : int. Its frequency. [Hz]
    share : float. Part of the dial that it spoils on the mean.
    """

    label: str
    hz: int
    share: float


def deciding_station(shares: Shares, candidate: int = 0) -> Station | None:
    """Return the single station that spoils most of a range; None where none is worth a trap.

    Notes
    -----
    A mast of many stations is no single one: what it spreads over no trap takes out.
    """
    arrivals, occupants, count = shares.arrivals, shares.ways.occupants, shares.dials.count
    alone = arrivals.single & (arrivals.partner < 0)
    some = arrivals.take(np.flatnonzero((arrivals.place // count == candidate) & alone))
    if not len(some):
        return None
    chance = 1.0 - np.exp(-some.expected(spread_db=some.total_spread_db()))
    takes = np.bincount(some.occupant, weights=chance) / count
    middle = (occupants.low_hz[: len(takes)] + occupants.high_hz[: len(takes)]) // 2
    width = occupants.high_hz[: len(takes)] - occupants.low_hz[: len(takes)]
    takes = np.where(width <= WITHIN_A_TRAP * middle, takes, 0.0)
    most = int(np.argmax(takes))
    if takes[most] < WORTH_A_TRAP:
        return None
    hz = int(middle[most])
    return Station(occupants.label_of(most) or "an unnamed station", hz, float(takes[most]))
