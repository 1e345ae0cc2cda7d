"""Every IF of a span at once: which leaves most of the dial clear, and what spoils the others."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.other_ifs import possible, with_ifs
from spurplan.planning.if_change.usual import usual_between
from spurplan.planning.tally import Progress
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.asking import Settings, loudest_typical_dbm
from spurplan.responses.axis.air import merged
from spurplan.responses.axis.chains import axis_of
from spurplan.responses.axis.cover import Air, air_of, spoilt_and_unknown_hz
from spurplan.responses.beyond import beyond_tables
from spurplan.responses.clear_share import divided, heard_stretches
from spurplan.responses.engine import respond
from spurplan.responses.records import intruding
from spurplan.rows import Rows, bools, ints, shared
from spurplan.units import hz_text

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

MOST_IFS = 10_000
# A set with several conversions has far more routes: fewer IFs are tried on it.
MOST_IFS_OF_SEVERAL = 400
SEVERAL_AT_ONCE = 20
FINEST_STEP_HZ = 100


class Scan(Rows):
    """K IFs and what each leaves clear.

    Attributes
    ----------
    if_hz : int64, shape (K,), ascending. [Hz]
    step_hz : int. Of the grid; usual IFs, the present ones and the ends of the span come to it. [Hz]
    lost_hz : int64, shape (K, ranges). Dial on which something is heard; the whole range where the
        IF can not be had there. [Hz]
    unknown_hz : int64, shape (K, ranges). Dial on which nothing is, but an image lies beyond the
        tables. [Hz]
    built : bool, shape (K, ranges). Whether it can be had.
    width_hz : int64, shape (ranges,). Whole hertz of each dial. [Hz]
    """

    sorted_by = ("if_hz",)

    if_hz: Ints = ints()
    step_hz: int = shared()
    lost_hz: Ints = ints(ndim=2)
    unknown_hz: Ints = ints(ndim=2)
    built: npt.NDArray[np.bool_] = bools(ndim=2)
    width_hz: Ints = shared()

    @property
    def clear_share(self) -> Floats:
        """Clear part of all ranges together, shape (K,)."""
        whole = self.width_hz.sum()
        share: Floats = (whole - self.lost_hz.sum(axis=1) - self.unknown_hz.sum(axis=1)) / whole
        return share

    @property
    def unknown_share(self) -> Floats:
        """Unknown part of all ranges together, shape (K,)."""
        share: Floats = self.unknown_hz.sum(axis=1) / self.width_hz.sum()
        return share


def scanned(
    receiver: Receiver,
    picked: Sequence[Range],
    span: tuple[int, int],
    occupants: Occupants,
    settings: Settings,
    *,
    step_hz: int | None = None,
    progress: Progress | None = None,
) -> Scan:
    """Return what each IF of a span leaves clear, worked out exactly.

    Parameters
    ----------
    receiver : Receiver.
    picked : ranges of it.
    span : (low, high). [Hz]
    occupants, settings : who is on the air, and how it is asked.
    step_hz : int or None. Of the grid, whose points are whole multiples of it; as fine as
        `MOST_IFS` allow where None. [Hz]
    progress : called with (IFs and ranges done, in all), or None.

    Raises
    ------
    Refused  when signals on the skirts are asked for, or the step gives too many.

    Notes
    -----
    The IF is the last one, the oscillator stays on its side, and the last filter keeps its
    width. Grids of whole multiples hold each other: a scan is never worse than a coarser one.
    """
    if settings.skirts:
        remedy = "ask about single IFs with --if"
        raise Refused(Fault("--scan", "looks at the -6 dB passband only, not at --skirts", remedy=remedy))
    several = any(len(receiver.conversions_of(one)) > 1 for one in picked)
    most = MOST_IFS_OF_SEVERAL if several else MOST_IFS
    step = finest_step_hz(span, most) if step_hz is None else step_hz
    ifs = grid(receiver, picked, span, step, most)
    jobs = [_Job(receiver, one, ifs, settings) for one in picked]
    airs = {listener: air_of(occupants, listener) for listener in {job.listener for job in jobs}}
    done, whole = 0, len(ifs) * len(jobs)
    lost, unknown = [], []
    # numpy lets go of the interpreter: two ranges are worked on side by side
    with ThreadPoolExecutor(max_workers=2) as pool:
        for lost_hz, unknown_hz in pool.map(lambda job: job.found(airs[job.listener], occupants), jobs):
            lost.append(lost_hz)
            unknown.append(unknown_hz)
            done += len(ifs)
            if progress is not None:
                progress(done, whole)
    width = np.array([one.high_hz - one.low_hz + 1 for one in picked], dtype=np.int64)
    built = np.stack([job.built for job in jobs], axis=1)
    return Scan(ifs, step, np.stack(lost, axis=1), np.stack(unknown, axis=1), built, width)


def finest_step_hz(span: tuple[int, int], most: int = MOST_IFS) -> int:
    """Return the finest of the steps 1, 2, 5, 10, ... times 100 Hz that stays within a number of IFs."""
    step = FINEST_STEP_HZ
    factors = (2.0, 2.5, 2.0)
    at = 0
    while (span[1] - span[0]) / step > most:
        step = int(step * factors[at % 3])
        at += 1
    return step


def grid(receiver: Receiver, picked: Sequence[Range], span: tuple[int, int], step_hz: int, most: int) -> Ints:
    """Return the IFs to try, ascending: multiples of a step, the ends, the usual ones, those of the set.

    Raises
    ------
    Refused  when there are too many.
    """
    low, high = span
    if step_hz < 1 or (high - low) / step_hz > most:
        rule = f"gives more than {most:,} IFs" if step_hz >= 1 else "is no step"
        raise Refused(Fault("--scan", rule, hz_text(step_hz), "take a narrower span"))
    present = {int(compile_chains([(receiver, one)])[0].if_hz[0]) for one in picked}
    also = {low, high, *(hz for hz in present if low <= hz <= high)}
    multiples = range(-(-low // step_hz) * step_hz, high + 1, step_hz)
    return np.array(sorted({*multiples, *usual_between(low, high, also)}), dtype=np.int64)


class _Job:
    """One range with every IF."""

    def __init__(self, receiver: Receiver, one: Range, ifs: Ints, settings: Settings) -> None:
        (chain,) = compile_chains([(receiver, one)])
        self.settings = settings
        self.chains: Chains = with_ifs(chain, ifs)
        self.built = possible(self.chains)
        (self.listener,) = chain.listener
        self.width_hz = one.high_hz - one.low_hz + 1
        self.loudest_dbm = loudest_typical_dbm(receiver)

    def found(self, air: Air, occupants: Occupants) -> tuple[Ints, Ints]:
        """Return how much of the dial each IF spoils, and how much it leaves unknown. [Hz]

        All of it is spoilt where the IF can not be had.
        """
        lost = np.full(len(self.built), self.width_hz, dtype=np.int64)
        unknown = np.zeros(len(self.built), dtype=np.int64)
        able = np.flatnonzero(self.built)
        if len(able):
            chains = self.chains.take(able)
            axis = axis_of(chains)
            if axis is None:
                lost[able], unknown[able] = self._one_by_one(chains, occupants)
            else:
                beyond = beyond_tables(chains, occupants, self.settings, self.loudest_dbm)
                stretches = (beyond.candidate, beyond.dial_low_hz, beyond.dial_high_hz)
                lost[able], unknown[able] = spoilt_and_unknown_hz(axis, air, self.settings, stretches)
        return lost, unknown

    def _one_by_one(self, chains: Chains, occupants: Occupants) -> tuple[Ints, Ints]:
        """Return the same for chains of several conversions, by way of every stretch."""
        heard_of = merged(occupants, self.listener)
        lost, unknown = np.zeros((2, len(chains)), dtype=np.int64)
        for start in range(0, len(chains), SEVERAL_AT_ONCE):
            part = np.arange(start, min(start + SEVERAL_AT_ONCE, len(chains)))
            response = intruding(respond(chains.take(part), heard_of, self.settings))
            beyond = beyond_tables(response.chains, occupants, self.settings, self.loudest_dbm)
            share = divided(response.chains, heard_stretches(response.lines, response.graded), beyond)
            lost[part], unknown[part] = share.heard_hz, share.unknown_hz
        return lost, unknown
