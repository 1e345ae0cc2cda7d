"""What is known before anything is read: the description, and how far off it may be."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.figures import Figure
from spurplan.planning.bench.laws import Course
from spurplan.planning.bench.least_squares import Prior
from spurplan.receiver.description import Range
from spurplan.receiver.selectivity import known_of
from spurplan.responses.listening.worlds import shipped_spreads


def prior_of(figures: Sequence[Figure], ranges: Sequence[Range], courses: Mapping[str, Course]) -> Prior:
    """Return what the description says of some figures.

    Parameters
    ----------
    figures : those of a model, in its order.
    ranges : those in play.
    courses : of the ranges with tuned circuits, by name.

    Notes
    -----
    Each figure for itself, but for the Q of a range: its height in the middle of the range, its
    slope and its bend are what departs from the description independently.
    """
    number = {figure.key: j for j, figure in enumerate(figures)}
    rows, spreads = [], []
    for j, figure in enumerate(figures):
        if figure.key[0] != "q":
            rows.append(np.eye(len(figures))[j])
            spreads.append(figure.spread)
    for range_ in ranges:
        if range_.name in courses:
            course = courses[range_.name]
            columns = [number["q", range_.name, k] for k in range(len(course.at_hz))]
            for weights, spread in _departures(range_, course):
                row = np.zeros(len(figures))
                row[columns] = weights
                rows.append(row)
                spreads.append(spread)
    matrix = np.array(rows).reshape(len(rows), len(figures))
    at = matrix @ np.array([figure.start for figure in figures])
    return Prior(matrix, at, np.array(spreads), expected().tails)


def _departures(range_: Range, course: Course) -> list[tuple[np.ndarray[Any, Any], float]]:
    """Return height, slope and bend of a Q as weights of where it is told, each with its spread."""
    known, at = expected(), course.at_hz
    measured = known_of(range_).q
    height = shipped_spreads().q if measured is None else measured
    middle = math.sqrt(range_.low_hz * range_.high_hz)
    if len(at) == 1:
        off = known.q_slope * math.log(at[0] / middle)
        return [(np.ones(1), math.hypot(height, off))]
    span = math.log(at[-1] / at[0])
    slope = np.zeros(len(at))
    slope[0], slope[-1] = -1.0 / span, 1.0 / span
    out = [(course.weights(middle), height), (slope, known.q_slope)]
    if len(at) > 2:
        out.append((np.array([-0.5, 1.0, -0.5]), known.q_bend * (0.5 * span) ** 2))
    return out
