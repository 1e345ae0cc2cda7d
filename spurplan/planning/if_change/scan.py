"""The IFs of a span: a coarse look at how much each leaves usable, and a closer one round the best."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.other_ifs import possible, with_ifs
from spurplan.planning.if_change.usual import usual_between
from spurplan.planning.outlook import HOUR, Outlook, Together, place_of, shares_of, width_hz
from spurplan.planning.tally import Progress
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.listening.judged import AirAtHour, findings_of, unlisted_share
from spurplan.rows import Rows, bools, floats, ints, shared

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# IFs of the coarse look, evenly spaced on a logarithmic scale, and settings of each range it looks at.
COARSE = 300
COARSE_SETTINGS = 80
# a builder's IF is a round number of kilohertz
ROUND_HZ = 1_000
# Places looked at closer, and IFs round each.
PLACES = 8
ROUND_EACH = 8
CLOSE_SETTINGS = 250
# Candidates worked through together, by number of conversions: what fits in memory.
AT_ONCE = {1: 50, 2: 10}
# An IF is a place of its own where none this near is better.
NEIGHBOUR_SHARE = 0.03


class Scan(Rows):
    """K IFs and what each leaves usable.

    Attributes
    ----------
    if_hz : int64, shape (K,), ascending. [Hz]
    usable : float64, shape (K, ranges). Usable part of each dial; 0 where the IF can not be had.
    unknown : float64, shape (K, ranges). Part of each dial of which the tables cannot tell.
    unlisted : float64, shape (K, ranges). Part of which nobody can tell besides: on its images the tables
        list hardly anybody.
    low_share, high_share : float64, shape (K,). Between what the usable part of all ranges together lies in
        eight worlds of ten.
    built : bool, shape (K, ranges). Whether it can be had.
    width_hz : int64, shape (ranges,). Whole hertz of each dial. [Hz]
    """

    sorted_by = ("if_hz",)

    if_hz: Ints = ints()
    usable: Floats = floats(ndim=2)
    unknown: Floats = floats(ndim=2)
    unlisted: Floats = floats(ndim=2)
    low_share: Floats = floats()
    high_share: Floats = floats()
    built: npt.NDArray[np.bool_] = bools(ndim=2)
    width_hz: Ints = shared()

    @property
    def usable_share(self) -> Floats:
        """Usable part of all ranges together, shape (K,)."""
        return self._together(self.usable)

    @property
    def unknown_share(self) -> Floats:
        """Part of all ranges together of which the tables cannot tell, shape (K,)."""
        return self._together(self.unknown)

    @property
    def unlisted_share(self) -> Floats:
        """Part of all ranges together of which nobody can tell besides, shape (K,)."""
        return self._together(self.unlisted)

    def _together(self, parts: Floats) -> Floats:
        share: Floats = parts @ self.width_hz / self.width_hz.sum()
        return share


@dataclass(frozen=True)
class Axis:
    """The candidate axis: a set with any IF, its oscillators left on their sides.

    Attributes
    ----------
    ranges : ranges of it.
    chains : of each.
    place, settings : where it stands, and how it is asked.
    cover : (low, high) or None. The stretch that matters; all of the ranges where None. [Hz]
    """

    ranges: tuple[Range, ...]
    chains: tuple[Chains, ...]
    place: AirAtHour
    settings: Settings
    cover: tuple[int, int] | None = None

    @property
    def present_hz(self) -> set[int]:
        """The last IFs that the set has. [Hz]"""
        return {int(chain.if_hz[0]) for chain in self.chains}

    def looked_at(self, if_hz: Ints, count: int, progress: Progress | None = None) -> Scan:
        """Return what each IF leaves usable, on so many settings of each range."""
        widths = np.array([width_hz(range_, self.cover) for range_ in self.ranges], dtype=np.int64)
        usable = np.zeros((len(if_hz), len(self.chains)))
        unknown, unlisted = np.zeros(usable.shape), np.zeros(usable.shape)
        built = np.zeros(usable.shape, dtype=np.bool_)
        # what cannot be had leaves nothing usable in any world
        worlds = np.zeros((len(if_hz), 1))
        done, whole = 0, usable.size
        for at, chain in enumerate(self.chains):
            for part in parts_of(len(if_hz), chain.conversions):
                every = with_ifs(chain, if_hz[part])
                able = np.flatnonzero(possible(every))
                built[part[able], at] = True
                if len(able):
                    chains = every.take(able)
                    dial_shares = shares_of(chains, self.place, self.settings, self.cover, count=count)
                    usable[part[able], at], unknown[part[able], at] = dial_shares.usable, dial_shares.unknown
                    unlisted[part[able], at] = unlisted_share(chains, self.place, self.settings, self.cover)
                    if worlds.shape[1] == 1:
                        worlds = np.repeat(worlds, dial_shares.worlds.shape[1], axis=1)
                    worlds[part[able]] += dial_shares.worlds * (widths[at] / widths.sum())
                done += len(part)
                if progress is not None:
                    progress(done, whole)
        share = usable @ widths / widths.sum()
        low, high = np.quantile(worlds, [0.1, 0.9], axis=1)
        # the worlds look at fewer settings than the share
        ends = np.minimum(low, share), np.maximum(high, share)
        return Scan(if_hz, usable, unknown, unlisted, *ends, built, widths)

    def together(self, if_hz: Ints) -> list[Together]:
        """Return what becomes of all ranges with each IF, judged in the worlds that all share."""
        outlooks: list[list[Outlook | None]] = [[None] * len(self.chains) for _ in if_hz]
        for at, chain in enumerate(self.chains):
            for part in parts_of(len(if_hz), chain.conversions):
                every = with_ifs(chain, if_hz[part])
                able = np.flatnonzero(possible(every))
                if not len(able):
                    continue
                chains = every.take(able)
                dial_shares = shares_of(chains, self.place, self.settings, self.cover)
                findings = findings_of(dial_shares, HOUR, self.cover is not None)
                open_share = unlisted_share(chains, self.place, self.settings, self.cover).tolist()
                for number, finding, share, worlds in zip(
                    part[able].tolist(), findings, open_share, dial_shares.worlds, strict=True
                ):
                    outlooks[number][at] = Outlook(replace(finding, unlisted=share), worlds)
        wanted_hz = sum(width_hz(range_, self.cover) for range_ in self.ranges)
        return [Together(wanted_hz, tuple(row)) for row in outlooks]


def parts_of(count: int, conversions: int) -> Iterable[Ints]:
    """Yield numbers from 0 on, as many at once as fit in memory."""
    step = AT_ONCE.get(conversions, 1)
    for start in range(0, count, step):
        yield np.arange(start, min(start + step, count), dtype=np.int64)


def axis_of(
    receiver: Receiver,
    picked: Sequence[Range],
    occupants: Occupants,
    settings: Settings,
    cover: tuple[int, int] | None = None,
) -> Axis:
    """Return the candidate axis of a set; each of the ranges tunes some of the cover."""
    chains = tuple(compile_chains([(receiver, range_)])[0] for range_ in picked)
    return Axis(tuple(picked), chains, place_of(receiver, occupants, settings), settings, cover)


def scanned(axis: Axis, span: tuple[int, int], progress: Progress | None = None) -> Scan:
    """Return what the IFs of a span leave usable: coarsely all over it, closer round the best.

    Parameters
    ----------
    axis : Axis.
    span : (low, high). [Hz]
    progress : called with (IFs and ranges done, in all) of the coarse look, or None.

    Notes
    -----
    The IF is the last one, the oscillator stays on its side, and the last filter keeps its width.
    The usual IFs, the present ones and the ends of the span are always among them.
    """
    coarse = axis.looked_at(grid(span, axis.present_hz), COARSE_SETTINGS, progress)
    between = round_the_best(coarse)
    if not len(between):
        return coarse
    return merged(coarse, axis.looked_at(between, CLOSE_SETTINGS))


def grid(span: tuple[int, int], also: Iterable[int] = ()) -> Ints:
    """Return the IFs of the coarse look, ascending. [Hz]"""
    low, high = span
    even = np.rint(np.geomspace(low, high, COARSE) / ROUND_HZ).astype(np.int64) * ROUND_HZ
    ends = {low, high, *(hz for hz in also if low <= hz <= high)}
    inside = even[(even >= low) & (even <= high)]
    return distinct(np.concatenate([inside, np.array(usual_between(low, high, ends), dtype=np.int64)]))


def round_the_best(scan: Scan) -> Ints:
    """Return round IFs between the best places and their neighbours that were not looked at. [Hz]"""
    ifs, round_ifs = scan.if_hz, []
    for at in best_of(scan, PLACES):
        low, high = int(ifs[max(at - 1, 0)]), int(ifs[min(at + 1, len(ifs) - 1)])
        inside = np.rint(np.linspace(low, high, ROUND_EACH + 2)[1:-1] / ROUND_HZ).astype(np.int64) * ROUND_HZ
        round_ifs.append(inside[(inside > low) & (inside < high)])
    every = distinct(np.concatenate([*round_ifs, np.zeros(0, dtype=np.int64)]))
    return every[~np.isin(every, ifs)]


def merged(some: Scan, others: Scan) -> Scan:
    """Return two scans of different IFs as one."""
    order = np.argsort(np.concatenate([some.if_hz, others.if_hz]))
    both = {
        name: np.concatenate([getattr(some, name), getattr(others, name)])[order]
        for name in Scan.column_names
    }
    return Scan(**both, width_hz=some.width_hz)


def best_of(scan: Scan, most: int) -> list[int]:
    """Return the best IFs, the best first: of those near each other one, of equals the lowest."""
    share, ifs = scan.usable_share, scan.if_hz
    low = np.searchsorted(ifs, ifs * (1.0 - NEIGHBOUR_SHARE))
    high = np.searchsorted(ifs, ifs * (1.0 + NEIGHBOUR_SHARE), side="right")
    best: list[int] = []
    taken = np.zeros(len(ifs), dtype=np.bool_)
    for at in np.lexsort((ifs, -np.round(share, 9))).tolist():
        if len(best) == most:
            break
        if taken[at] or not scan.built[at].any():
            continue
        best.append(at)
        taken[low[at] : high[at]] = True
    return best
