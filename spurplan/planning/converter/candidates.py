"""Every crystal in every way it could serve: the converters to choose from, as arrays.

A converter with the injection Y puts the signal d on the tunable IF t:

    crystal below   t = d - Y       forwards
    crystal above   t = Y - d       backwards, sidebands inverted
    sum             t = d + Y       forwards

and without a converter it is tuned to d itself.

The set behind a converter is tuned to t, so its own lines a t + b become lines in d by
putting that in; thousands of converters are one prototype a range with other
numbers in it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from spurplan.planning.converter.crystals import MOST_ORDERED_HZ, Crystal
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.changes import converter_conversion, with_converter
from spurplan.receiver.description import Front, Range, Receiver
from spurplan.rows import Rows, ints, shared
from spurplan.units import HIGHEST_HZ

Ints = npt.NDArray[np.int64]
Cover = tuple[int, int]

# where the crystal stands to the signal, and the set alone
SIDES = ("below", "above", "sum", "alone")
BELOW, ABOVE, SUM, ALONE = range(4)
# the ways of using a crystal
MIXING = (BELOW, ABOVE, SUM)
# t = SLOPE d + OFFSET Y, and the wanted product of the converter's mixer
SLOPE = np.array([1, -1, 1, 1], dtype=np.int64)
OFFSET = np.array([-1, 1, 1, 0], dtype=np.int64)
STEPS = np.array([[-1, 1], [1, -1], [1, 1]], dtype=np.int64)
NOWHERE = -1
NO_CRYSTAL = -1
# Above anything a converter makes; keeps the prototype's crystal below its signal.
_PROTOTYPE_HZ = 1_000_000_000


class Candidates(Rows):
    """V ways to receive a cover; one that has no place has range `NOWHERE`.

    Attributes
    ----------
    cover, crystal, range : int64, shape (V,). Indices into the covers, crystals and ranges; the set
        alone has the crystal `NO_CRYSTAL`.
    multiplier, injected_hz : int64, shape (V,). Of the set alone 1 and 0.
    side : int64, shape (V,). Index into `SIDES`.
    low_hz, high_hz : int64, shape (V,). The part of the cover that can be tuned. [Hz]
    lost_hz : int64, shape (V,). The rest of the cover. [Hz]
    """

    cover: Ints = ints()
    crystal: Ints = ints()
    range: Ints = ints()
    multiplier: Ints = ints()
    injected_hz: Ints = ints()
    side: Ints = ints()
    low_hz: Ints = ints()
    high_hz: Ints = ints()
    lost_hz: Ints = ints()

    @property
    def placed(self) -> npt.NDArray[np.bool_]:
        """Which ones have a range to go to, shape (V,)."""
        placed: npt.NDArray[np.bool_] = self.range != NOWHERE
        return placed

    @property
    def alone(self) -> npt.NDArray[np.bool_]:
        """Which ones are the set without a converter, shape (V,)."""
        alone: npt.NDArray[np.bool_] = self.side == ALONE
        return alone

    def tunable_hz(self, dial_hz: Ints) -> Ints:
        """Return the tunable IF at a dial frequency each, shape (V,). [Hz]"""
        tunable: Ints = SLOPE[self.side] * dial_hz + OFFSET[self.side] * self.injected_hz
        return tunable

    def signal_hz(self, tunable_hz: Ints) -> Ints:
        """Return the dial frequency at a tunable IF each, shape (V,). [Hz]"""
        signal: Ints = SLOPE[self.side] * (tunable_hz - OFFSET[self.side] * self.injected_hz)
        return signal

    @property
    def set_hz(self) -> tuple[Ints, Ints]:
        """The lowest and the highest tunable IF, shape (V,) each. [Hz]"""
        ends = self.tunable_hz(self.low_hz), self.tunable_hz(self.high_hz)
        return np.minimum(*ends), np.maximum(*ends)


def candidates(
    covers: Sequence[Cover],
    crystals: Sequence[Crystal],
    ranges: Sequence[Range],
    pointed_at: Sequence[Crystal] = (),
) -> Candidates:
    """Return every way in which some crystals bring some covers into some ranges.

    Parameters
    ----------
    covers : (low, high) of each. [Hz]
    crystals : sequence of Crystal.
    ranges : the ranges of the set that may serve.
    pointed_at : those among the crystals that were asked about one by one: of these what
        brings a part of a cover without multiplication is listed in any case.

    Returns
    -------
    Candidates, by cover and crystal in the order given.

    Notes
    -----
    A crystal that brings the whole cover into some range is listed with all such
    ranges; one that does not, with the range that loses least for each way of using it;
    one that somebody has but which brings a cover nowhere, without a range.
    """
    ways = list(_ways(crystals))
    crystal, times = (np.array(column, dtype=np.int64) for column in zip(*ways, strict=True))
    injected = np.array([crystals[i].frequency_hz for i, _ in ways], dtype=np.int64) * times
    pointed_hz = {xtal.frequency_hz for xtal in pointed_at}
    is_pointed = np.array([xtal.frequency_hz in pointed_hz for xtal in crystals], dtype=np.bool_)
    parts = []
    for number, cover in enumerate(covers):
        placed = _into_ranges(number, cover, crystal, times, injected, ranges, is_pointed)
        parts.append(_with_empty(placed, number, cover, crystals))
    return Candidates.concat(parts)


def _ways(crystals: Sequence[Crystal]) -> Iterator[tuple[int, int]]:
    """Yield (crystal, multiplier) for every injection."""
    for number, crystal in enumerate(crystals):
        for times in range(1, crystal.most_times + 1):
            # one to order is multiplied only where no crystal is cut that high
            needed = -(-crystal.frequency_hz * times // MOST_ORDERED_HZ)
            if crystal.listed or times == max(needed, 1):
                yield number, times


def _into_ranges(
    number: int,
    cover: Cover,
    crystal: Ints,
    times: Ints,
    injected: Ints,
    ranges: Sequence[Range],
    is_pointed: npt.NDArray[np.bool_],
) -> Candidates:
    low, high = cover
    way = np.tile(np.arange(len(injected)), len(MIXING))
    side = np.repeat(np.array(MIXING), len(injected))
    y = injected[way]
    # a difference needs the crystal outside the cover: inside, part of it has no IF
    possible = np.where(side == BELOW, y < low, np.where(side == ABOVE, y > high, y + high <= HIGHEST_HZ))
    way, side, y = way[possible], side[possible], y[possible]
    starts = np.empty((len(ranges), len(way)), dtype=np.int64)
    stops = np.empty_like(starts)
    for number_of_range, range_ in enumerate(ranges):
        at_low = SLOPE[side] * (range_.low_hz - OFFSET[side] * y)
        at_high = SLOPE[side] * (range_.high_hz - OFFSET[side] * y)
        starts[number_of_range] = np.maximum(low, np.minimum(at_low, at_high))
        stops[number_of_range] = np.minimum(high, np.maximum(at_low, at_high))
    got = np.where(starts < stops, stops - starts, 0)
    whole = got == high - low
    row, column = np.nonzero(whole)
    # what is lost is said of crystals that can do no better, and of those asked about as they are
    better = np.zeros(len(is_pointed), dtype=bool)
    better[crystal[way[column]]] = True
    better = better[crystal[way]] & ~(is_pointed[crystal[way]] & (times[way] == 1))
    best = np.argmax(got, axis=0) if len(ranges) else np.zeros(len(way), dtype=np.int64)
    partly = np.flatnonzero((got.max(axis=0, initial=0) > 0) & ~better & ~whole.any(axis=0))
    row, column = np.concatenate([row, best[partly]]), np.concatenate([column, partly])
    order = np.lexsort((row, side[column], times[way[column]], crystal[way[column]]))
    row, column = row[order], column[order]
    which = way[column]
    return Candidates(
        cover=np.full(len(row), number, dtype=np.int64),
        crystal=crystal[which],
        range=row.astype(np.int64),
        multiplier=times[which],
        injected_hz=injected[which],
        side=side[column],
        low_hz=starts[row, column],
        high_hz=stops[row, column],
        lost_hz=(high - low) - got[row, column],
    )


def _with_empty(placed: Candidates, number: int, cover: Cover, crystals: Sequence[Crystal]) -> Candidates:
    """Add the crystals that bring a cover nowhere, as they are and not multiplied."""
    served = set(placed.crystal.tolist())
    none = [i for i, crystal in enumerate(crystals) if crystal.listed and i not in served]
    if not none:
        return placed
    at = np.array(none, dtype=np.int64)
    hz = np.array([crystals[i].frequency_hz for i in none], dtype=np.int64)
    every = np.ones(len(at), dtype=np.int64)
    side = np.where(hz < cover[0], BELOW, np.where(hz > cover[1], ABOVE, SUM))
    empty = Candidates(
        cover=every * number, crystal=at, range=every * NOWHERE, multiplier=every, injected_hz=hz, side=side,
        low_hz=every * cover[0], high_hz=every * cover[1], lost_hz=every * (cover[1] - cover[0]),
    )  # fmt: skip
    both = Candidates.concat([placed, empty])
    return both.take(np.argsort(both.crystal, kind="stable"))


def alone(covers: Sequence[Cover], ranges: Sequence[Range]) -> Candidates:
    """Return the set without a converter: one for each cover and range that tunes some of it.

    Returns
    -------
    Candidates; where no range tunes any of a cover, one without a range.
    """
    rows = []
    for number, (low, high) in enumerate(covers):
        parts = [
            (number, at, max(low, range_.low_hz), min(high, range_.high_hz))
            for at, range_ in enumerate(ranges)
            if max(low, range_.low_hz) < min(high, range_.high_hz)
        ]
        rows += parts or [(number, NOWHERE, low, high)]
    cover, where, low_hz, high_hz = (np.array(column, dtype=np.int64) for column in zip(*rows, strict=True))
    whole = np.array([high - low for low, high in covers], dtype=np.int64)[cover]
    none = np.zeros(len(rows), dtype=np.int64)
    return Candidates(
        cover=cover, crystal=none + NO_CRYSTAL, range=where, multiplier=none + 1, injected_hz=none,
        side=none + ALONE, low_hz=low_hz, high_hz=high_hz,
        lost_hz=np.where(where == NOWHERE, whole, whole - (high_hz - low_hz)),
    )  # fmt: skip


def injection_spans(covers: Sequence[Cover], ranges: Sequence[Range]) -> list[tuple[int, int]]:
    """Return what could be injected to bring a whole cover into a range, (low, high) each. [Hz]"""
    spans = []
    for low, high in covers:
        for range_ in ranges:
            spans += [
                (max(1, high - range_.high_hz), low - range_.low_hz),
                (high + range_.low_hz, low + range_.high_hz),
                (max(1, range_.low_hz - low), range_.high_hz - high),
            ]
    return [(first, last) for first, last in spans if first <= last]


# --- their chains --------------------------------------------------------------------------


class Prototypes(Rows):
    """A converter before each range, and each range by itself.

    Attributes
    ----------
    ahead, alone : tuples of Chains, one a number of conversions, with the converter
        and without; both in the same order.
    group, row : int64, shape (ranges,). Where a range stands in them.
    circuits : int. Tuned circuits behind a multiplier of the converter.
    """

    ahead: tuple[Chains, ...] = shared()
    alone: tuple[Chains, ...] = shared()
    group: Ints = ints()
    row: Ints = ints()
    circuits: int = shared()


def prototypes(receiver: Receiver, ranges: Sequence[Range], front: Front) -> Prototypes:
    """Return the prototypes of some ranges.

    Raises
    ------
    Refused  when the set has as many conversions as can be handled already.
    """
    names = [range_.name for range_ in ranges]
    cover = (
        min(range_.low_hz for range_ in receiver.ranges),
        max(range_.high_hz for range_ in receiver.ranges),
    )
    conversion = converter_conversion(_PROTOTYPE_HZ, front=front)
    with_one = with_converter(
        receiver,
        conversion=conversion,
        cover=(_PROTOTYPE_HZ + cover[0], _PROTOTYPE_HZ + cover[1]),
        front=front,
    )
    behind = {range_.name: range_ for range_ in with_one.ranges}
    ahead = compile_chains([(with_one, behind[name]) for name in names])
    alone = compile_chains([(receiver, range_) for range_ in ranges])
    counts = [len(receiver.conversions_of(range_)) for range_ in ranges]
    kinds = sorted(set(counts))
    group = np.array([kinds.index(count) for count in counts], dtype=np.int64)
    row = np.array([counts[:at].count(count) for at, count in enumerate(counts)], dtype=np.int64)
    return Prototypes(ahead, alone, group, row, front.multiplier_circuits)


def chains_of(chosen: Candidates, before: Prototypes) -> Iterator[tuple[Ints, Chains]]:
    """Yield the chains of all candidates with one number of conversions, and which they are.

    Parameters
    ----------
    chosen : Candidates, all of them placed.
    before : Prototypes of the ranges.

    Yields
    ------
    (indices into `chosen`, Chains of as many candidates): either all have a converter or none has.
    """
    group = before.group[chosen.range]
    for number, (ahead, own) in enumerate(zip(before.ahead, before.alone, strict=True)):
        for without in (False, True):
            which = np.flatnonzero((group == number) & (chosen.alone == without))
            if not len(which):
                continue
            some = chosen.take(which)
            row = before.row[some.range]
            if without:
                yield which, own.take(row).tuned_to(some.low_hz, some.high_hz)
            else:
                yield which, _with_numbers(ahead.take(row), own.take(row), some, before.circuits)


def _with_numbers(chains: Chains, own: Chains, chosen: Candidates, circuits: int) -> Chains:
    """Return prototypes with each candidate's injection, side and cover in their place."""
    # one converter for all: only what the multiplier leaves beside the injection differs at its mixer
    times, code = np.unique(chosen.multiplier, return_inverse=True)
    mixers = tuple(chains.mixer[0][0].multiplied(n, circuits) for n in times.tolist())
    mixer_code, made_of = chains.mixer_code.copy(), chains.made_of.copy()
    mixer_code[:, 0] = code.reshape(-1)
    made_of[:, 0, 0] = np.where(chosen.multiplier > 1, chosen.injected_hz // chosen.multiplier, 0)
    made_of[:, 0, 1] = chosen.multiplier
    slope, shift = SLOPE[chosen.side][:, None], (OFFSET[chosen.side] * chosen.injected_hz)[:, None]
    none = np.zeros((len(chosen), 1), dtype=np.int64)
    osc_a = np.concatenate([none, own.osc_a * slope], axis=1)
    osc_b = np.concatenate([chosen.injected_hz[:, None], own.osc_a * shift + own.osc_b], axis=1)
    want_a = np.concatenate([none + 1, own.want_a * slope], axis=1)
    want_b = np.concatenate([none, own.want_a * shift + own.want_b], axis=1)
    steps = chains.wanted_steps.copy()
    steps[:, 0] = STEPS[chosen.side]
    return chains.replace(
        osc_a=osc_a, osc_b=osc_b, want_a=want_a, want_b=want_b, wanted_steps=steps,
        low_hz=chosen.low_hz, high_hz=chosen.high_hz, made_of=made_of, mixer_code=mixer_code,
        mixer=(mixers, *chains.mixer[1:]),
    )  # fmt: skip
