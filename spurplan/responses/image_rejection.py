"""How far down an image is, and how weak a station is heard as one."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER
from spurplan.receiver.chain import Chains
from spurplan.responses.levels import bar_dbm, heard_dbm
from spurplan.responses.lines import lines_of_routes

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# A level far below every clip: what is lost by a weak signal is lost by all of first order.
WEAK_DBM = -100.0
REJECTION_POINTS = 33


def flipped(chains: Chains, conversion: int) -> Ints:
    """Return the steps of the image of one conversion, shape (V, N, 2).

    Notes
    -----
    The other place from which the same oscillator reaches the same IF: with the
    difference mixers [1, -1] and [-1, 1] are each other's image; the image of the
    sum [1, 1], IF - LO, is IF + LO, that is [-1, 1].
    """
    steps = chains.wanted_steps.copy()
    lo, rf = steps[:, conversion, 0].copy(), steps[:, conversion, 1].copy()
    summed = (lo > 0) & (rf > 0)
    steps[:, conversion, 0] = -lo
    steps[:, conversion, 1] = np.where(summed, rf, -rf)
    return steps


def route_rejection_db(chains: Chains, steps: Ints, dial_hz: Ints) -> Floats:
    """Return the rejection of one route of each candidate at some dial settings.

    Parameters
    ----------
    chains : Chains, V candidates.
    steps : int64, shape (V, N, 2). Routes of first order in the signal.
    dial_hz : int64, shape (V, K). [Hz]

    Returns
    -------
    float64, shape (V, K). Antenna level minus heard level; NaN where the route
    would need a signal, or a product between the mixers, below 0 Hz. [dB]
    """
    lines = lines_of_routes(chains, steps)
    v, k = dial_hz.shape
    line = np.repeat(np.arange(v, dtype=np.int64), k)
    dial = dial_hz.ravel()
    points = (lines.p[:, line] * dial + lines.q[:, line]) / lines.d[:, line]
    rf, real = points[0], (points > 0).all(axis=0)
    level = np.full(len(line), WEAK_DBM)
    with np.errstate(invalid="ignore", divide="ignore"):
        heard = heard_dbm(chains, lines, line, np.where(real, rf, 1.0), level, dial)
    return np.where(real, WEAK_DBM - heard, np.nan).reshape(v, k)


def image_rejection_db(chains: Chains, conversion: int = 0) -> tuple[Floats, Ints]:
    """Return the worst image rejection over each range and where, shape (V,) each.

    Parameters
    ----------
    chains : Chains, V candidates.
    conversion : int. 0 for the image of the first mixer, 1 for the second image.

    Returns
    -------
    rejection : float64. Least over 33 even points of the range, both ends included;
        NaN where there is no such image. [dB]
    dial : int64. Where it is least. [Hz]
    """
    dial = _points_of(chains)
    rejection, worst = _least(route_rejection_db(chains, flipped(chains, conversion), dial))
    return rejection, dial[np.arange(len(chains)), worst]


def image_heard_from_dbm(chains: Chains) -> Floats:
    """Return the weakest carrier that is heard as an image anywhere on a range, shape (V,). [dBm]

    Notes
    -----
    At the antenna terminals, as an image of the first mixer: least of rejection and bar of hearing
    together over the points of `image_rejection_db`; NaN where there is no such image.
    """
    dial = _points_of(chains)
    candidate = np.repeat(np.arange(len(chains)), REJECTION_POINTS)
    carrier = np.full(dial.size, CARRIER, dtype=np.int8), np.ones(dial.size, dtype=np.int32)
    bar = bar_dbm(chains, candidate, dial.reshape(-1), *carrier)
    level, _ = _least(route_rejection_db(chains, flipped(chains, 0), dial) + bar.reshape(dial.shape))
    return level


def _points_of(chains: Chains) -> Ints:
    """Return even points of each range, both ends included, shape (V, `REJECTION_POINTS`). [Hz]"""
    span = (chains.high_hz - chains.low_hz)[:, None]
    points: Ints = chains.low_hz[:, None] + span * np.arange(REJECTION_POINTS) // (REJECTION_POINTS - 1)
    return points


def _least(values: Floats) -> tuple[Floats, Ints]:
    """Return the least known value of each row and where it stands; NaN where none is known."""
    known = ~np.isnan(values)
    where = np.argmin(np.where(known, values, np.inf), axis=1)
    return np.where(known.any(axis=1), values[np.arange(len(values)), where], np.nan), where
