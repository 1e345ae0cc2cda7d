"""The normal law of levels that comes nearest to a number of stations above each level."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.normal_law import density, tail

Floats = npt.NDArray[np.float64]

_STEPS = 12
_LEAST_SPREAD, _MOST_SPREAD = 3.0, 30.0


class Law(NamedTuple):
    """Stations that are on the air above the floor, and how loud they are.

    Attributes
    ----------
    number : array. Stations above the lowest level of the fit.
    median_dbm, spread_db : arrays. Of the normal law of their levels. [dBm], [dB]
    error : array. Root mean square of the error in ln(number) over the levels fitted.
    """

    number: Floats
    median_dbm: Floats
    spread_db: Floats
    error: Floats


def fit_law(level_dbm: Floats, number_above: Floats) -> Law:
    """Fit number x tail((level - m)/s) to the expected number above each level.

    Parameters
    ----------
    level_dbm : array, shape (k,), ascending. [dBm]
    number_above : array, shape (k, rows). Expected number of stations above each.

    Notes
    -----
    The number is that above the lowest level; m and s make the squares of the errors of ln(number)
    smallest, by Gauss-Newton steps. Levels above which fewer than 0.02 stations are left, or 1 in 200
    of all, do not count: no decision depends on them. Where hardly anybody is on the air a law of
    median at the floor and spread of 10 dB stands.
    """
    number = number_above[0]
    heard = number > 1e-6
    share = number_above / np.where(heard, number, 1)
    least = np.maximum(0.005, np.minimum(0.02 / np.where(heard, number, 1), 0.1))
    # a level which all stations exceed says nothing of the law
    used = (share > least) & (share < 0.98)
    used &= np.cumsum(~used & (share <= least), axis=0) == 0
    fitted = heard & (used.sum(0) >= 3)
    target = np.log(np.maximum(share, 1e-12))
    # z = a + b x; begin at the levels that half and a sixth of the stations exceed
    half = _level_at(level_dbm, share, 0.5)
    sixth = _level_at(level_dbm, share, 0.1587)
    spread = np.clip(sixth - half, _LEAST_SPREAD, _MOST_SPREAD)
    median = half
    x = level_dbm[:, None]
    for _ in range(_STEPS):
        z = np.clip((x - median) / spread, -6, 6)
        above = tail(z)
        error = np.where(used, target - np.log(above), 0)
        by_z = np.where(used, -density(z) / above, 0)
        by_median, by_spread = -by_z / spread, -by_z * z / spread
        aa, bb, ab = (by_median**2).sum(0), (by_spread**2).sum(0), (by_median * by_spread).sum(0)
        ae, be = (by_median * error).sum(0), (by_spread * error).sum(0)
        determinant = np.maximum(aa * bb - ab**2, 1e-12)
        median = median + np.clip((bb * ae - ab * be) / determinant, -5, 5)
        spread = np.clip(
            spread + np.clip((aa * be - ab * ae) / determinant, -3, 3), _LEAST_SPREAD, _MOST_SPREAD
        )
    error = np.where(used, target - np.log(tail(np.clip((x - median) / spread, -6, 6))), 0)
    rms = np.sqrt((error**2).sum(0) / np.maximum(used.sum(0), 1))
    floor = level_dbm[0]
    return Law(
        np.where(heard, number, 0.0),
        np.where(fitted, median, floor),
        np.where(fitted, spread, 10.0),
        np.where(fitted, rms, 0.0),
    )


def _level_at(level_dbm: Floats, share: Floats, wanted: float) -> Floats:
    """Return the level above which a share of the stations is, shape (rows,)."""
    # the share falls as the level rises
    last = np.clip((share > wanted).sum(0) - 1, 0, len(level_dbm) - 2)
    rows = np.arange(share.shape[1])
    before, after = share[last, rows], share[last + 1, rows]
    part = np.clip((before - wanted) / np.maximum(before - after, 1e-12), 0, 1)
    return np.asarray(level_dbm[last] + part * (level_dbm[last + 1] - level_dbm[last]))
