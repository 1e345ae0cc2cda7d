"""Which figures some readings decide, which they do not, and what further reading would."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.least_squares import TELLS_DB, Fit, told

Floats = npt.NDArray[np.float64]

# Part of a figure that lies in directions nobody tells anything about, above which it is open.
OPEN = 0.01
# Others count as tied up with it from this part of its own share on.
TIED = 0.05
# A figure whose 95 % interval reaches further than this many steps that matter is not decided.
WIDEST_STEPS = 2.0
# What a reading is taken to be good for where no spread is known. [dB]
USUAL_SPREAD_DB = 1.0
# A further reading must take this part of what is unknown away to be worth naming.
WORTH = 0.3


@dataclass(frozen=True)
class Verdict:
    """What readings say about one figure.

    Attributes
    ----------
    decided : bool.
    silent : bool. Whether no reading moves with it at all.
    tied_to : tuple of int. Figures it can be told together with alone.
    half_width : float. Half its 95 % interval, in the coordinate; nan where nothing checks it.
    readings : int. How many move with it.
    """

    decided: bool
    silent: bool
    tied_to: tuple[int, ...]
    half_width: float
    readings: int


def verdicts(fit: Fit, variance: Floats | None = None, moves_db: float = 0.5) -> list[Verdict]:
    """Return what a fit's readings decide of each figure.

    Parameters
    ----------
    fit : Fit.
    variance : float64, shape (p,), or None. What else is not sure of each coordinate.
    moves_db : float. A reading moves with a figure when a step that matters changes it by so much. [dB]

    Notes
    -----
    A figure is open where the directions that no reading tells anything about (singular values of
    the Jacobian below `TELLS_DB`) hold more than a hundredth of it; it is not decided either when
    its interval is wider than two steps that matter each way. Without a spread, 1 dB is taken for that.
    """
    jacobian = fit.jacobian[fit.kept]
    figures = jacobian.shape[1]
    values, vectors = told(jacobian)
    blind = vectors[values <= TELLS_DB]
    open_ = blind.T @ blind
    out = []
    for j in range(figures):
        column = np.abs(jacobian[:, j])
        silent = not len(column) or bool(column.max() < TELLS_DB)
        free = float(open_[j, j]) > OPEN
        tied = tuple(
            k for k in range(figures) if free and k != j and abs(open_[j, k]) > TIED * float(open_[j, j])
        )
        unit = np.eye(figures)[j]
        width = fit.half_width(unit) if not free else math.nan
        if variance is not None and not math.isnan(width):
            width = math.hypot(width, fit.quantile * math.sqrt(float(variance[j])))
        out.append(
            Verdict(
                not free and not silent and _narrow(fit, unit, width),
                silent,
                () if silent else tied,
                width,
                int((column >= moves_db).sum()),
            )
        )
    return out


def _narrow(fit: Fit, unit: Floats, half_width: float) -> bool:
    if math.isnan(half_width):
        half_width = 2.0 * USUAL_SPREAD_DB * math.sqrt(fit.step_variance(unit * fit.scale))
    return half_width <= WIDEST_STEPS * float(unit @ fit.scale)


def telling(fit: Fit, rows: Floats) -> list[int | None]:
    """Return for each figure the further reading that would tell most about it, None where none helps.

    Parameters
    ----------
    fit : Fit.
    rows : float64, shape (c, p). How each reading not yet made would move, per step that matters.

    Notes
    -----
    With C the covariance of the figures given the readings (and one step that matters known of each
    beforehand), a reading r takes (C r)^2/(s^2 + r C r) off the variances.
    """
    figures = fit.jacobian.shape[1]
    if not len(rows):
        return [None] * figures
    spread = fit.spread if math.isfinite(fit.spread) and fit.spread > 0.1 else USUAL_SPREAD_DB
    kept = fit.jacobian[fit.kept] / spread
    covariance = np.linalg.inv(np.eye(figures) + kept.T @ kept)
    moved = rows @ covariance / spread
    gain = moved**2 / (1.0 + np.einsum("cp,cp->c", moved, rows / spread))[:, None]
    best = np.argmax(np.round(gain, 6), axis=0)
    part = gain[best, np.arange(figures)] / np.diag(covariance)
    return [int(b) if p >= WORTH else None for b, p in zip(best.tolist(), part.tolist(), strict=True)]
