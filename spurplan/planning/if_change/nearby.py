"""An IF near the one asked about that is worth its evenings on some ranges, where that one is not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from spurplan.planning.decision import Comparison, compare, least_gain, verdict
from spurplan.planning.if_change.costs import estimates, range_around
from spurplan.planning.if_change.proposals import Asked
from spurplan.planning.if_change.scan import Axis
from spurplan.planning.if_change.usual import usual_between
from spurplan.planning.outlook import Outlook
from spurplan.receiver.description import Range, Receiver


@dataclass(frozen=True)
class Near:
    """One range that would gain by an IF near the one asked about.

    Attributes
    ----------
    range : Range.
    before, after : Outlook. With the present IF, and with that one.
    gain : Comparison.
    """

    range: Range
    before: Outlook
    after: Outlook
    gain: Comparison


@dataclass(frozen=True)
class Nearby:
    """An IF near one asked about, for some ranges alone.

    Attributes
    ----------
    asked_hz : int. What was asked about. [Hz]
    if_hz : int. What those ranges gain by; the same where it is that one. [Hz]
    ranges : tuple of Near. In the order of the set.
    """

    asked_hz: int
    if_hz: int
    ranges: tuple[Near, ...]


def nearby_if(axis: Axis, receiver: Receiver, changes: Sequence[Asked]) -> Nearby | None:
    """Return the IF near one asked about that most ranges gain by, the nearest of those; None for none.

    Parameters
    ----------
    axis : Axis. The ranges asked about; of several conversions none is looked at.
    receiver : Receiver.
    changes : Asked, those for all ranges among them are looked at.

    Notes
    -----
    Judged as everything else is: a gain is one that is better beyond luck and worth the evenings of a change.
    Usual IFs and round ones within ``nearby`` of ``if_change.toml``, not inside the range that has it.
    """
    if any(chain.conversions > 1 for chain in axis.chains):
        return None
    wanted = [change.if_hz for change in changes if change.range_name is None and change.first_if_hz is None]
    nearby = [
        Nearby(asked_hz, if_hz, ranges)
        for asked_hz in dict.fromkeys(hz for hz in wanted if hz is not None and hz not in axis.present_hz)
        for if_hz, ranges in _gains(axis, receiver, asked_hz)
        if ranges
    ]
    return min(
        nearby, key=lambda nearby: (-len(nearby.ranges), abs(nearby.if_hz - nearby.asked_hz)), default=None
    )


def _gains(axis: Axis, receiver: Receiver, asked_hz: int) -> Iterator[tuple[int, tuple[Near, ...]]]:
    candidates = _candidates(asked_hz)
    by_if: dict[int, list[Near]] = {if_hz: [] for if_hz in candidates}
    for range_, chain in zip(axis.ranges, axis.chains, strict=True):
        own = Axis((range_,), (chain,), axis.place, axis.settings, axis.cover)
        (present,) = own.together(np.array(sorted(own.present_hz), dtype=np.int64))[0].outlooks
        able = [hz for hz in candidates if range_around(receiver, hz, [range_.name]) is None]
        if present is None or not able:
            continue
        for if_hz, together in zip(able, own.together(np.array(able, dtype=np.int64)), strict=True):
            (after,) = together.outlooks
            if after is None:
                continue
            gain = compare(after.worlds, present.worlds)
            if gain.gain >= least_gain() and gain.beats and verdict(gain) == "better":
                by_if[if_hz].append(Near(range_, present, after, gain))
    for if_hz, ranges in by_if.items():
        yield if_hz, tuple(ranges)


def _candidates(asked_hz: int) -> list[int]:
    """Return the IF itself, and usual and round ones near it, ascending. [Hz]"""
    near = estimates()["nearby"]
    reach, step = near["part"] * asked_hz, near["step_khz"] * 1e3
    while 2.0 * reach / step > near["most"]:
        step *= 2.0
    first, last = round((asked_hz - reach) / step), round((asked_hz + reach) / step)
    rounded = [round(step * k) for k in range(max(first, 1), last + 1)]
    return sorted({asked_hz, *rounded, *usual_between(round(asked_hz - reach), round(asked_hz + reach))})
