"""Many IFs at once: a chain taken many times, with other numbers in it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains
from spurplan.receiver.injection import line_code

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


def with_ifs(chains: Chains, if_hz: Ints, stage: int = -1) -> Chains:
    """Return every candidate with every IF, shape (V * K,), the IFs of one candidate together.

    Parameters
    ----------
    chains : Chains, V candidates; the IF of that stage is fixed in all of them.
    if_hz : int64, shape (K,). [Hz]
    stage : int. The conversion whose IF it is, from 0; -1 is the last.

    Notes
    -----
    The same as describing each set anew: IF = lo LO + rf RF gives
    LO = (IF - rf RF) / lo, there and in the conversion behind it.
    """
    number = stage % chains.conversions
    each = np.repeat(np.arange(len(chains)), len(if_hz))
    out = chains.take(each)
    wanted = np.tile(np.asarray(if_hz, dtype=np.int64), len(chains))
    want_b = out.want_b.copy()
    want_b[:, number + 1] = wanted
    osc_a, osc_b = out.osc_a.copy(), out.osc_b.copy()
    for i in range(number, min(number + 2, chains.conversions)):
        lo, rf = out.wanted_steps[:, i, 0], out.wanted_steps[:, i, 1]
        osc_a[:, i] = -np.sign(lo) * rf * out.want_a[:, i]
        osc_b[:, i] = np.sign(lo) * (want_b[:, i + 1] - rf * want_b[:, i])
    return out.replace(want_b=want_b, osc_a=osc_a, osc_b=osc_b, if_hz=want_b[:, -1].copy())


def possible(chains: Chains) -> Bools:
    """Return which candidates can be built, shape (V,): oscillators and filter edges above 0 Hz.

    Notes
    -----
    Of a premixed oscillator the crystal stays, so its variable one has to find room.
    """
    out = chains.bandwidth_hz < 2 * chains.if_hz
    every = np.arange(len(chains), dtype=np.int64)
    for i in range(chains.conversions):
        a, b, _ = chains.line_beside(i, every, np.full(len(chains), line_code(0, 1)))
        premixed = chains.made_of[:, i, 2] != 0
        for dial in (chains.low_hz, chains.high_hz):
            out &= chains.osc_a[:, i] * dial + chains.osc_b[:, i] > 0
            out &= (a * dial + b > 0) | ~premixed
    return out
