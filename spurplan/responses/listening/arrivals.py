"""Who arrives at which dial setting, by which way, how far over what the listener bears.

The dial is looked at on even settings. For each one the engine's exact
stretches tell which occupants are received by which way; what is kept of each
is how far its median level stands over the bar and how that moves with what
nobody knows exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.rows import Rows, bools, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Ways in are followed for stations this many of their own spreads over the median, and for
# what a world may add to that. [dB]
LOUDEST_SPREADS = 2.5
WORLD_SPARE_DB = 12.0


@dataclass(frozen=True)
class Dials:
    """The settings at which some candidates are looked at, as many on each.

    Attributes
    ----------
    low_hz, high_hz : int64, shape (V,). The part of the dial in question. [Hz]
    count : int. How many settings on each.
    """

    low_hz: Ints
    high_hz: Ints
    count: int

    @property
    def hz(self) -> Ints:
        """The settings, shape (V, count): each in the middle of its part of the dial. [Hz]"""
        span = (self.high_hz - self.low_hz + 1)[:, None]
        steps = 2 * np.arange(self.count, dtype=np.int64) + 1
        settings: Ints = self.low_hz[:, None] + span * steps // (2 * self.count)
        return settings

    def within(self, candidate: Ints, low_hz: Ints, high_hz: Ints) -> tuple[Ints, Ints]:
        """Return the first setting at or above each low edge, and the first above each high edge."""
        low, span = self.low_hz[candidate], (self.high_hz - self.low_hz + 1)[candidate]
        # setting k stands at low + floor(span (2 k + 1) / (2 count))
        first = -(-((low_hz - low) * 2 * self.count - span) // (2 * span))
        beyond = -(-((high_hz + 1 - low) * 2 * self.count - span) // (2 * span))
        return np.clip(first, 0, self.count), np.clip(beyond, 0, self.count)


class Arrivals(Rows):
    """What arrives where; n of them, ascending by place.

    Attributes
    ----------
    place : int64, shape (n,). Number of the setting: candidate times settings a candidate, plus setting.
    line, occupant : int64, shape (n,).
    over_db : float64, shape (n,). Heard at its median level, over the higher of the bar of hearing
        and what the wanted signal bears. [dB]
    stations : float64, shape (n,). Expected number of stations received there; of a single
        station the chance that it is on.
    single : bool, shape (n,). Whether it is one station, on or off.
    own_db : float64, shape (n,). Spread of a station's own level, times the order. [dB]
    most_over_db : float64, shape (n,). What `over_db` is at the loudest level that is allowed; the
        loudest counts as over the bar no more than this. [dB]
    service_db : float64, shape (n,). Spread of its service's level, times the order. [dB]
    up_db, down_db : float64, shape (F, n). What `over_db` gains in a world in which a factor of the set
        is one standard deviation higher, and lower; F as in `SET_FACTORS`. [dB]
    """

    sorted_by = ("place",)
    place: Ints = ints()
    line: Ints = ints()
    occupant: Ints = ints()
    over_db: Floats = floats()
    stations: Floats = floats()
    single: npt.NDArray[np.bool_] = bools()
    own_db: Floats = floats()
    most_over_db: Floats = floats()
    service_db: Floats = floats()
    up_db: Floats = floats(axis=1, ndim=2)
    down_db: Floats = floats(axis=1, ndim=2)
