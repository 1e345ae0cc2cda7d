"""The routes of ten thousand IFs: those that somebody on the air could make heard."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.responses.axis.chains import Axis
from spurplan.responses.levels import StrongestOnAir
from spurplan.responses.lines import product_steps
from spurplan.rows import Rows, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# IFs bounded together: a route of one differs from that of its neighbour by an offset.
BLOCK = 64
# Bounds and levels are summed in different orders. [dB]
SPARE_DB = 1e-3


class AxisLines(Rows):
    """L routes, each of one candidate; x = (p d + q) / d_ at the antenna, half its width either side.

    Attributes
    ----------
    candidate : int64, shape (L,).
    m, n : int64, shape (L,). |lo| and |rf|.
    p, q, r, d : int64, shape (L,). The route's antenna frequency is (p dial + q) / d, and half
        a passband off the middle of the IF is half of r / d passbands there; r not negative.
    slope, offset, half_hz : float64, shape (L,). p / d, q / d, and half the width. [Hz]
    """

    candidate: Ints = ints()
    m: Ints = ints()
    n: Ints = ints()
    p: Ints = ints()
    q: Ints = ints()
    r: Ints = ints()
    d: Ints = ints()
    slope: Floats = floats()
    offset: Floats = floats()
    half_hz: Floats = floats()


def axis_lines(
    axis: Axis, air: StrongestOnAir, floor_dbm: float, audible_at_db: float, lo_order: int, rf_order: int
) -> AxisLines:
    """Return every route but the wanted one that the strongest on the air could make heard.

    Parameters
    ----------
    axis : Axis, V candidates.
    air : StrongestOnAir.
    floor_dbm : float. The least floor anywhere. [dBm]
    audible_at_db : float. [dB]
    lo_order, rf_order : int. Highest harmonics.

    Notes
    -----
    Lossless: candidates are bounded a block at a time, by the least loss along the
    stretch that the routes of all of them sweep.
    """
    steps = product_steps(lo_order, rf_order)
    steps = steps[(steps != np.array(axis.wanted)).any(axis=1)]
    lo, rf = steps.T
    sign = np.sign(rf)
    h = axis.osc_h
    p, r, d = -sign * lo * axis.osc_a, np.full(len(steps), h), h * np.abs(rf)
    # what goes into the mixer with the signal, apart from the dial: at each IF
    by_if, by_oscillator = sign * h, -sign * lo
    need = axis.mixer.need_dbm(np.abs(lo), np.abs(rf), floor_dbm + audible_at_db + axis.gain_db - SPARE_DB)
    step, block = _worth(axis, air, need - axis.gain_db, p, r, d, by_if, by_oscillator)
    start = block * BLOCK
    count = np.minimum(start + BLOCK, len(axis)) - start
    line_step = np.repeat(step, count)
    first = np.repeat(start - (np.cumsum(count) - count), count)
    candidate = np.arange(len(line_step), dtype=np.int64) + first
    q = by_if[line_step] * axis.if_hz[candidate] + by_oscillator[line_step] * axis.osc_b[candidate]
    d_line, r_line = d[line_step], r[line_step]
    return AxisLines(
        candidate=candidate, m=np.abs(lo)[line_step], n=np.abs(rf)[line_step], p=p[line_step], q=q, r=r_line,
        d=d_line, slope=(p / d)[line_step], offset=q / d_line,
        half_hz=(r * axis.bandwidth_hz / (2.0 * d))[line_step],
    )  # fmt: skip


def _worth(
    axis: Axis, air: StrongestOnAir, need_dbm: Floats, p: Ints, r: Ints, d: Ints, by_if: Ints,
    by_oscillator: Ints,
) -> tuple[Ints, Ints]:  # fmt: skip
    """Return (product, block of candidates) wherever somebody could be heard."""
    starts = np.arange(0, len(axis), BLOCK)
    q = by_if[:, None] * axis.if_hz + by_oscillator[:, None] * axis.osc_b
    least, most = np.minimum.reduceat(q, starts, axis=1), np.maximum.reduceat(q, starts, axis=1)
    middle = (least + most) / 2.0
    width = d[:, None].astype(np.float64)
    slack = (r[:, None] * axis.bandwidth_hz + (most - least)) / (2.0 * width)
    ends = [(p[:, None] * dial + middle) / width for dial in (axis.low_hz, axis.high_hz)]
    low, high = np.minimum(*ends) - slack, np.maximum(*ends) + slack
    step, block = np.nonzero((high >= 1.0) & (low <= air.high + air.bin_hz))
    at = (step, block)
    lost = axis.front.least_db(ends[0][at], ends[1][at], float(axis.low_hz), float(axis.high_hz), slack[at])
    paid = need_dbm[step] + lost <= air.between(low[at], high[at])
    return step[paid], block[paid]
