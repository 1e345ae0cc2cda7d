"""Which of two set-ups is better, and which change is worth its evening: one decision for every question.

Set-ups are compared in the same worlds, so that what is the same luck for both
tells nothing about either.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.responses.listening.limits import limits

Floats = npt.NDArray[np.float64]

GAMBLE = "a gamble"


@dataclass(frozen=True)
class Comparison:
    """What a change gains, as parts of a range.

    Attributes
    ----------
    gain : float. Mean over the worlds of the usable share with it less that without it.
    low, high : float. Between which it lies in eight worlds of ten.
    better_in : float. Part of the worlds in which it is better.
    worse_in : float. Part of the worlds in which it is clearly worse.
    """

    gain: float
    low: float
    high: float
    better_in: float
    worse_in: float

    @property
    def beats(self) -> bool:
        """Whether the change is better beyond luck."""
        limit = limits()["beats"]
        return self.gain >= limit["gain"] and self.worse_in <= limit["worse_in"]


def compare(with_it: Floats, without: Floats) -> Comparison:
    """Return what a change gains.

    Parameters
    ----------
    with_it, without : float64, shape (Z,). Usable shares in the same worlds.
    """
    difference = with_it - without
    low, high = np.quantile(difference, [0.1, 0.9]).tolist()
    return Comparison(
        gain=float(difference.mean()),
        low=float(low),
        high=float(high),
        better_in=float((difference > 0.0).mean()),
        worse_in=float((difference < -limits()["beats"]["worse_by"]).mean()),
    )


@dataclass(frozen=True)
class Choice:
    """What is worth doing among some changes.

    Attributes
    ----------
    recommended : int or None. Number of the change; None where none is worth its effort.
    not_told_from : tuple of int. Those that beat the set as it is, and neither beat this one nor are beaten
        by it, least effort first.
    """

    recommended: int | None
    not_told_from: tuple[int, ...] = ()


def choose(worlds: Sequence[Floats], efforts: Sequence[float], present: Floats) -> Choice:
    """Return the least effort among the changes that bring most of the best gain, where that is worth it.

    Parameters
    ----------
    worlds : usable share of each change in each world, shape (Z,) each.
    efforts : evenings each takes, in the same order.
    present : float64, shape (Z,). The set as it is.
    """
    gains = [compare(usable, present) for usable in worlds]
    limit = limits()["recommended"]
    best = max((comparison.gain for comparison in gains if comparison.beats), default=0.0)
    if best < limit["gain"]:
        return Choice(None)
    worth = [
        number
        for number, comparison in enumerate(gains)
        if comparison.beats and comparison.gain >= limit["part_of_best"] * best
    ]
    recommended = min(worth, key=lambda number: (efforts[number], -gains[number].gain))
    alike = [
        number
        for number in range(len(worlds))
        if number != recommended
        and gains[number].beats
        and not compare(worlds[number], worlds[recommended]).beats
        and not compare(worlds[recommended], worlds[number]).beats
    ]
    return Choice(recommended, tuple(sorted(alike, key=lambda number: efforts[number])))


def least_gain() -> float:
    """Return what the best of some changes has to gain before any is worth its effort, a part of the dial."""
    return limits()["recommended"]["gain"]


def verdict(comparison: Comparison) -> str:
    """Return what a change is worth.

    Returns
    -------
    "better", "a little better", "no difference", "a gamble" or "worse".
    """
    limit = limits()["verdict"]
    if abs(comparison.gain) < limit["no_difference"]:
        return "no difference"
    if comparison.gain < 0.0:
        return "worse"
    if comparison.better_in < limit["pays_in"] or comparison.worse_in > limits()["beats"]["worse_in"]:
        return GAMBLE
    return "better" if comparison.gain >= limit["better"] else "a little better"
