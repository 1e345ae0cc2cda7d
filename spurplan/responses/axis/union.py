"""Stretches of dial of many candidates, put together where they overlap or touch."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.rows import Rows, ints, shared

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_BITS = 62


class Union(Rows):
    """Stretches that do not touch, ascending by candidate and place.

    Attributes
    ----------
    base_hz : int. Lowest dial frequency. [Hz]
    bits : int. Bits that hold a place on the dial.
    start, stop : int64, shape (n,). candidate << bits | first, last hertz above the base.
    """

    sorted_by = ("start", "stop")

    base_hz: int = shared()
    bits: int = shared()
    start: Ints = ints()
    stop: Ints = ints()

    def covers(self, candidate: Ints, low_hz: Ints, high_hz: Ints) -> Bools:
        """Whether a stretch lies inside one of these, shape (n,)."""
        if not len(self.start):
            return np.zeros(len(candidate), dtype=bool)
        first, last = self._place(candidate, low_hz), self._place(candidate, high_hz)
        at = np.searchsorted(self.start, first, side="right") - 1
        inside: Bools = (at >= 0) & (self.stop[np.maximum(at, 0)] >= last)
        return inside

    def with_more(self, candidate: Ints, low_hz: Ints, high_hz: Ints) -> Union:
        """Return these and more stretches, none of them empty."""
        start = np.concatenate([self.start, self._place(candidate, low_hz)])
        stop = np.concatenate([self.stop, self._place(candidate, high_hz)])
        if not len(start):
            return self
        start, stop = self._sorted(start, stop)
        reach = np.maximum.accumulate(stop)
        # candidates lie end to end: the last hertz of one must not touch the first of the next
        apart = (start[1:] > reach[:-1] + 1) | ((start[1:] ^ start[:-1]) >> self.bits != 0)
        first = np.flatnonzero(np.append(True, apart))
        return Union(self.base_hz, self.bits, start[first], reach[np.append(first[1:] - 1, len(start) - 1)])

    def _place(self, candidate: Ints, hz: Ints) -> Ints:
        return (candidate << self.bits) | (hz - self.base_hz)

    def _sorted(self, start: Ints, stop: Ints) -> tuple[Ints, Ints]:
        if int(start.max()).bit_length() + self.bits > _BITS:
            order = np.argsort(start)
            return start[order], stop[order]
        # a stretch in one number sorts several times faster than two arrays by an index
        key = (start << self.bits) | (stop - start)
        key.sort()
        start = key >> self.bits
        return start, start + (key & ((1 << self.bits) - 1))

    def total_hz(self, candidates: int) -> Ints:
        """Return how many whole hertz each candidate has, shape (V,). [Hz]"""
        total = np.zeros(candidates, dtype=np.int64)
        np.add.at(total, self.start >> self.bits, self.stop - self.start + 1)
        return total


def no_stretches(low_hz: int, high_hz: int) -> Union:
    """Return the union of nothing on a dial. [Hz]"""
    none = np.zeros(0, dtype=np.int64)
    return Union(low_hz, (high_hz - low_hz + 1).bit_length(), none, none)
