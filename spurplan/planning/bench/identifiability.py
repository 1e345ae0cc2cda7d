"""What each figure rests on, readings or description, and which further reading would tell more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.fit import BenchFit

Floats = npt.NDArray[np.float64]
Rests = Literal["readings", "both", "description"]

# What is left of the spread that a description has: below the first readings decide, above the second they
# say next to nothing.
DECIDED, UNTOUCHED = 0.5, 0.9
# Of a full step of every figure together, what moves the readings by less than this moves nothing. [dB]
TELLS_DB = 0.05
# A reading moves with a figure when a step that matters changes it by so much. [dB]
MOVES_DB = 0.5
# Figures as strongly correlated as this are told together alone.
TIED = 0.9
# A further reading must take this part of what is unknown away to be worth naming.
WORTH = 0.3


@dataclass(frozen=True)
class Verdict:
    """What one figure rests on.

    Attributes
    ----------
    rests : str. On readings, on both, or on the description.
    left : float. Its spread over the one of the description.
    silent : bool. Whether no reading moves with it at all.
    tied_to : tuple of int. Figures that readings tell it together with alone.
    low, high : float. Its 95 % interval, in the coordinate; nan where nothing tells the spread of readings.
    readings : int. How many move with it.
    at_least : bool. Whether those that move with it all heard nothing: it is `low` or more, and nothing
        says how much more.
    """

    rests: Rests
    left: float
    silent: bool
    tied_to: tuple[int, ...]
    low: float
    high: float
    readings: int
    at_least: bool = False

    @property
    def decided(self) -> bool:
        """Whether readings decide it."""
        return self.rests == "readings" and not self.at_least


def verdicts(bench_fit: BenchFit) -> list[Verdict]:
    """Return what each figure of a fit rests on.

    Notes
    -----
    Readings that leave no more than half of the spread that the description has carry three
    quarters of what is known of a figure, or more. A figure that must be more than described, since nothing
    was heard where it would have been, rests on the readings; where the description has enough, on that.
    """
    fit = bench_fit.fit
    jacobian = np.abs(fit.jacobian[fit.kept])
    silence = np.array([reading.beyond for reading in bench_fit.readings], dtype=bool)[fit.kept]
    moves = np.where(np.abs(fit.jacobian[fit.kept]) >= MOVES_DB, np.sign(fit.jacobian[fit.kept]), 0.0)
    deviation = np.sqrt(np.diag(fit.covariance))
    correlation = fit.covariance / np.outer(deviation, deviation)
    before = np.sqrt(np.diag(bench_fit.prior.covariance)) / fit.scale
    out = []
    for j in range(len(fit.at)):
        silent = not len(jacobian) or bool(jacobian[:, j].max() < TELLS_DB)
        left = float(deviation[j] / before[j])
        rests: Rests = "readings" if left <= DECIDED else "both" if left <= UNTOUCHED else "description"
        tied = tuple(
            k for k in range(len(fit.at)) if k != j and abs(correlation[j, k]) > TIED and rests != "readings"
        )
        low, high = fit.interval(j)
        count = int((jacobian[:, j] >= MOVES_DB).sum())
        at_least = count > 0 and bool((silence & (moves[:, j] > 0.0)).sum() == count)
        # as little as can be at all says nothing
        at_least &= low > bench_fit.model.figures[j].low
        if at_least:
            tied = ()
            rests = "readings" if low > bench_fit.model.figures[j].start else "description"
        out.append(
            Verdict(
                "description" if silent else rests, left, silent, () if silent else tied, low, high, count,
                at_least,
            )
        )  # fmt: skip
    return out


def telling(variances: Floats, off: Floats) -> list[int | None]:
    """Return for each figure the further reading that would tell most about it, None where none helps.

    Parameters
    ----------
    variances : float64, shape (p,). Of the figures as they are.
    off : float64, shape (c, p). What each reading not yet made would take off them, as `taken_off`.
    """
    figures = len(variances)
    if not len(off):
        return [None] * figures
    part = off / variances
    best = np.argmax(np.round(part, 6), axis=0)
    most = part[best, np.arange(figures)]
    return [int(b) if p >= WORTH else None for b, p in zip(best.tolist(), most.tolist(), strict=True)]


def taken_off(covariance: Floats, rows: Floats, spread_db: float, figures: Floats | None = None) -> Floats:
    """Return what each of some readings would take off the variance of each figure, shape (c, p).

    Parameters
    ----------
    covariance : float64, shape (q, q). Of the coordinates.
    rows : float64, shape (c, q). How each reading not yet made would move with them. [dB]
    spread_db : float. Of one reading. [dB]
    figures : float64, shape (p, q), or None. The figures as sums of coordinates; the coordinates where None.

    Notes
    -----
    With C the covariance, a reading r takes (a C r)^2/(s^2 + r C r) off the variance of a figure a.
    """
    moved = rows @ covariance
    cross_covariance = moved if figures is None else moved @ figures.T
    off = cross_covariance**2 / (spread_db**2 + np.einsum("cp,cp->c", moved, rows))[:, None]
    return np.asarray(off, dtype=np.float64)


def with_reading(covariance: Floats, row: Floats, spread_db: float) -> Floats:
    """Return the covariance once a reading has been made, shape (p, p)."""
    moved = covariance @ row
    return np.asarray(covariance - np.outer(moved, moved) / (spread_db**2 + row @ moved))
