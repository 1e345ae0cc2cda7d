"""How a dial divides, hertz by hertz: where something is heard, where nobody can know, and the rest.

Nothing is heard on what is left of the other two. What lies beyond the tables is never taken for
that, and where something is heard already it makes no difference.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.beyond import Beyond, beyond_tables
from spurplan.responses.counting import covered_hz
from spurplan.responses.dead_dial import dead_stretches
from spurplan.responses.grades import AUDIBLE, Graded
from spurplan.responses.lines import Lines
from spurplan.rows import Rows, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Stretches = tuple[Ints, Ints, Ints]


class Division(Rows):
    """The whole hertz of each dial; V of them.

    Attributes
    ----------
    width_hz : int64, shape (V,). All of it. [Hz]
    heard_hz : int64, shape (V,). Where an intruder is audible, or an IF of the set lies. [Hz]
    unknown_hz : int64, shape (V,). Where neither is, but a strong station beyond the tables
        would be heard. [Hz]
    """

    width_hz: Ints = ints()
    heard_hz: Ints = ints()
    unknown_hz: Ints = ints()

    @property
    def unheard_hz(self) -> Ints:
        """What is neither: nothing that may be occupied is heard, and the tables know, shape (V,). [Hz]"""
        return self.width_hz - self.heard_hz - self.unknown_hz

    @property
    def unheard_share(self) -> Floats:
        """The part of each dial on which nothing is heard, 0 to 1, shape (V,)."""
        return np.asarray(self.unheard_hz / self.width_hz)

    @property
    def unknown_share(self) -> Floats:
        """The part of each dial that is unknown, 0 to 1, shape (V,)."""
        return np.asarray(self.unknown_hz / self.width_hz)


def heard_stretches(lines: Lines, graded: Graded) -> Stretches:
    """Return where something is audible or strong: candidate, first and last dial. [Hz]"""
    heard = graded.grade >= AUDIBLE
    return lines.candidate[graded.line[heard]], graded.dial_low_hz[heard], graded.dial_high_hz[heard]


def heard_hz(chains: Chains, heard: Stretches) -> Ints:
    """Return how much of each dial is heard stretches or an IF of the set, shape (V,). [Hz]"""
    return covered_hz(*_joined(heard, dead_stretches(chains)), len(chains))


def divided(chains: Chains, heard: Stretches, beyond: Beyond) -> Division:
    """Return how each dial divides, shape (V,).

    Parameters
    ----------
    chains : Chains, V candidates.
    heard : as `heard_stretches`; they may overlap.
    beyond : Beyond of these chains.
    """
    lost = heard_hz(chains, heard)
    open_ = (beyond.candidate, beyond.dial_low_hz, beyond.dial_high_hz)
    return Division(chains.high_hz - chains.low_hz + 1, lost, heard_hz(chains, _joined(heard, open_)) - lost)


def unknown_stretches(
    chains: Chains,
    beyond: Beyond,
    occupants: Occupants,
    settings: Settings,
    loudest_dbm: float,
    *,
    gaps: bool = False,
) -> Beyond:
    """Return the stretches that are unknown, apart from each other, by candidate and dial.

    Parameters
    ----------
    chains, beyond : as in `divided`.
    occupants, settings, loudest_dbm, gaps : as in `beyond_tables`.

    Returns
    -------
    Beyond. Nothing of them is on an IF of the set; the margin is the greatest that a strong station
    beyond the tables could have on what is left of each.
    """
    open_ = (beyond.candidate, beyond.dial_low_hz, beyond.dial_high_hz)
    candidate, low, high = without(open_, dead_stretches(chains))
    parts = chains.take(candidate).tuned_to(low, high)
    margin = beyond_tables(parts, occupants, settings, loudest_dbm, gaps=gaps).greatest_margin_db(len(parts))
    return Beyond(candidate, low, high, margin)


def without(some: Stretches, others: Stretches) -> Stretches:
    """Return the whole hertz of some stretches that are in none of some others, of each group.

    Parameters
    ----------
    some, others : (group, first, last), int64; last >= first >= 0.

    Returns
    -------
    (group, first, last), ascending, neither overlapping nor touching.
    """
    if not len(some[0]):
        return some
    # groups are laid end to end on one axis, with a hertz between that belongs to none
    far = max(int(some[2].max()), int(others[2].max(initial=0))) + 2
    low, high = _merged(some[1] + some[0] * far, some[2] + some[0] * far)
    taken_low, taken_high = _merged(others[1] + others[0] * far, others[2] + others[0] * far)
    free_low, free_high = np.append(np.int64(0), taken_high + 1), np.append(taken_low - 1, high[-1])
    first = np.searchsorted(free_high, low, side="left")
    count = np.maximum(np.searchsorted(free_low, high, side="right") - first, 0)
    each = np.repeat(np.arange(len(low)), count)
    at = np.arange(len(each)) - np.repeat(np.cumsum(count) - count, count) + first[each]
    left, right = np.maximum(low[each], free_low[at]), np.minimum(high[each], free_high[at])
    kept = left <= right
    left, right = left[kept], right[kept]
    return left // far, left % far, right % far


def _merged(low: Ints, high: Ints) -> tuple[Ints, Ints]:
    """Return stretches on one axis as those that neither overlap nor touch, ascending."""
    order = np.argsort(low, kind="stable")
    low, high = low[order], high[order]
    reach = np.maximum.accumulate(high)
    first = np.flatnonzero(np.append(True, low[1:] > reach[:-1] + 1)[: len(low)])
    return low[first], reach[np.append(first[1:] - 1, len(low) - 1)[: len(first)]]


def _joined(some: Stretches, others: Stretches) -> Stretches:
    group, low, high = (np.concatenate(pair) for pair in zip(some, others, strict=True))
    return group, low, high
