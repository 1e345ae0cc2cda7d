"""What a set's own oscillators radiate on: which rows of the band tables they sweep over.

How far it carries depends on the coupling to the aerial, which nobody has
measured; what can be worked out is on whose frequencies it is.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.join import Hits, join
from spurplan.responses.lines import Lines
from spurplan.rows import Rows, ints

Ints = npt.NDArray[np.int64]

HIGHEST_HARMONIC = 5


class Radiated(Rows):
    """G stretches of spectrum that a harmonic of an oscillator sweeps over.

    Attributes
    ----------
    candidate, conversion, harmonic : int64, shape (G,). Whose oscillator, and which harmonic of it.
    occupant : int64, shape (G,). One of the row that is swept over.
    low_hz, high_hz : int64, shape (G,). First and last frequency of the row it is on. [Hz]
    dial_low_hz, dial_high_hz : int64, shape (G,). Dial settings at which it is. [Hz]
    """

    candidate: Ints = ints()
    conversion: Ints = ints()
    harmonic: Ints = ints()
    occupant: Ints = ints()
    low_hz: Ints = ints()
    high_hz: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()


def radiated(chains: Chains, occupants: Occupants, highest_harmonic: int = HIGHEST_HARMONIC) -> Radiated:
    """Return what the mixing oscillators and their harmonics sweep over.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants.
    highest_harmonic : int, 1 or more.

    Returns
    -------
    Radiated, one entry a harmonic and row of a table (the carriers of a raster are one
    row), by candidate, harmonic, conversion and frequency.

    Notes
    -----
    An oscillator sweeps: on its way from one whole hertz of the dial to the next it is on
    everything between. Frequencies and dial settings are the nearest whole hertz to where it
    comes onto the row and leaves it, or to the ends of its range.
    """
    lines, conversion, harmonic = _sweeps(chains, highest_harmonic)
    hits = join(lines, occupants)
    hits = hits.take(np.flatnonzero(_swept_over(lines, occupants, hits)))
    line, who = hits.line, hits.occupant
    ends = [end / lines.d[0][line] for end in _span(lines, line)]
    low = np.rint(np.maximum(np.minimum(*ends), occupants.low_hz[who])).astype(np.int64)
    high = np.rint(np.minimum(np.maximum(*ends), occupants.high_hz[who])).astype(np.int64)
    key = np.stack([line, occupants.table[who].astype(np.int64), occupants.row[who].astype(np.int64)])
    _, first, group = np.unique(key, axis=1, return_index=True, return_inverse=True)
    group = group.reshape(-1)
    out = Radiated(
        candidate=lines.candidate[line[first]],
        conversion=conversion[line[first]],
        harmonic=harmonic[line[first]],
        occupant=who[first],
        low_hz=_least(low, group, first),
        high_hz=-_least(-high, group, first),
        dial_low_hz=_least(hits.dial_low_hz, group, first),
        dial_high_hz=-_least(-hits.dial_high_hz, group, first),
    )
    order = np.lexsort((out.high_hz, out.low_hz, out.conversion, out.harmonic, out.candidate))
    return out.take(order)


def _sweeps(chains: Chains, highest_harmonic: int) -> tuple[Lines, Ints, Ints]:
    """Return each harmonic as a line, with its conversion and number.

    Notes
    -----
    As wide as a step of the dial: what it passes over belongs to the nearest setting.
    """
    shape = (len(chains), chains.conversions, highest_harmonic)
    candidate, conversion, k = (grid.ravel() for grid in np.indices(shape, dtype=np.int64))
    k = k + 1
    a, b, h = (getattr(chains, f"osc_{part}")[candidate, conversion] for part in "abh")
    lines = Lines(
        candidate=candidate, steps=np.zeros((len(k), chains.conversions, 2), dtype=np.int64),
        p=(k * a)[None], q=(k * b)[None], r=np.ones((1, len(k)), dtype=np.int64), d=h[None],
        dial_low_hz=chains.low_hz[candidate], dial_high_hz=chains.high_hz[candidate],
        reach_hz=np.abs(k * a), tight=np.zeros(len(k), dtype=bool), need_dbm=np.full(len(k), -np.inf),
    )  # fmt: skip
    return lines, conversion, k


def _span(lines: Lines, line: Ints) -> tuple[Ints, Ints]:
    """Return where lines are at the ends of their dial, times their d, shape of `line` each."""
    p, q = lines.p[0][line], lines.q[0][line]
    return p * lines.dial_low_hz[line] + q, p * lines.dial_high_hz[line] + q


def _swept_over(lines: Lines, occupants: Occupants, hits: Hits) -> npt.NDArray[np.bool_]:
    """Return whether each is passed over on the dial itself, not half a hertz past its end."""
    d, (first, last) = lines.d[0][hits.line], _span(lines, hits.line)
    low, high = d * occupants.low_hz[hits.occupant], d * occupants.high_hz[hits.occupant]
    over: npt.NDArray[np.bool_] = (high >= np.minimum(first, last)) & (low <= np.maximum(first, last))
    return over


def _least(values: Ints, group: Ints, first: Ints) -> Ints:
    out = values[first].copy()
    np.minimum.at(out, group, values)
    return out
