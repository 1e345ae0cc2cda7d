"""An answer in words by itself, as ``print(answer)`` gives it: the page of the command that asks the same."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from spurplan.columns import Answer
from spurplan.reporting.layout import View
from spurplan.reporting.text import Page, text
from spurplan.reporting.views import birdies, converter, cures, if_change, intrusions, suspects, tables
from spurplan.reporting.views.bench import readings_view, sheet_view

# A page without a terminal: notebooks and editors show a hundred columns without wrapping.
WIDTH = 100

# by the table that the command gives as CSV
VIEWS: Mapping[str, Callable[[Answer], View]] = {
    "intrusions": intrusions.view,
    "suspects": suspects.view,
    "causes": suspects.evening_view,
    "birdies": birdies.view,
    "candidates": converter.view,
    "proposals": if_change.view,
    "scan": if_change.view,
    "cures": cures.view,
    "points": sheet_view,
    "fitted": readings_view,
    "tables": tables.tables_view,
    "rows": tables.rows_view,
    "ranges": tables.receiver_view,
}


def answer_text(answer: Answer) -> str:
    """Return an answer as its command prints it, the way through the set left out, assumptions counted.

    Parameters
    ----------
    answer : Answer. One with tables of its own kind is shown with every column that has a head.
    """
    view = VIEWS.get(next(iter(answer.tables), ""))
    page = Page(width=WIDTH, assumed_by="the attribute assumptions holds them")
    return text(answer, page, None if view is None else view(answer))
