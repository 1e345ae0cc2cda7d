"""Where a set is tuned to one of its own IFs: dead dial."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT
from spurplan.receiver.chain import Chains

Ints = npt.NDArray[np.int64]


def dead_stretches(chains: Chains) -> tuple[Ints, Ints, Ints]:
    """Return where a set is tuned to one of its own IFs.

    Returns
    -------
    (candidate, first dial, last dial). Within one bandwidth of it, at the aerial or, behind
    a converter, on the tunable IF. [Hz]

    Notes
    -----
    There the wanted signal and the one that goes straight through are the same, and
    the IF strip feeds back into the aerial: no set works on its own IF.
    """
    stretches = []
    for point in range(chains.conversions):
        a, b = chains.want_a[:, point], chains.want_b[:, point]
        for behind in range(point + 1, chains.conversions + 1):
            tunes = np.flatnonzero((a != 0) & (chains.want_a[:, behind] == 0))
            at = (chains.want_b[tunes, behind] - b[tunes]) * a[tunes]
            low = np.maximum(at - chains.bandwidth_hz[tunes], chains.low_hz[tunes])
            high = np.minimum(at + chains.bandwidth_hz[tunes], chains.high_hz[tunes])
            here = low <= high
            stretches.append((tunes[here], low[here], high[here]))
    candidate, low, high = (
        np.concatenate(column).astype(np.int64) for column in zip(*stretches, strict=True)
    )
    return candidate, low, high


def unusable(chains: Chains) -> tuple[Ints, Ints]:
    """Return the stretch of dial spoilt because an IF of the set lies in the range, shape (V,).

    Returns
    -------
    low, high : int64. First and last of `dead_stretches`; `NULL_INT` where there is none. [Hz]
    """
    candidate, first, last = dead_stretches(chains)
    low = np.full(len(chains), np.iinfo(np.int64).max)
    high = np.full(len(chains), NULL_INT)
    np.minimum.at(low, candidate, first)
    np.maximum.at(high, candidate, last)
    return np.where(high == NULL_INT, NULL_INT, low), high
