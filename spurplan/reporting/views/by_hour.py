"""How a day hour by hour reads for people: a strip of 24 hours for each range, and for each visitor."""

from __future__ import annotations

import numpy as np

from spurplan.columns import RANGE, Answer, Column, Table, table_of
from spurplan.reporting.layout import Show, View
from spurplan.responses.by_hour import HOURS, WORTH_AN_HOUR, CourseFinding

# from which part of a range on a mark stands for an hour
MARKS = ((0.1, "#"), (0.03, "+"), (WORTH_AN_HOUR, "-"), (0.0, "."))
# two digits an hour
MOST_PERCENT = 99

_EVERY_HOUR = " ".join(f"{hour:02d}" for hour in HOURS)
_SIX_HOURS = "".join(f"{hour:.<6d}" for hour in HOURS[::6])
_STRIPS = (
    RANGE,
    Column("strip", "text", "", False, _EVERY_HOUR, "percent usable at each hour"),
)
_VISITS = (
    RANGE,
    Column("strip", "text", "", False, _SIX_HOURS, "what it takes at each hour"),
    Column("label", "text", "", False, "Station or band", "who comes"),
    Column("response", "text", "", False, "By way of", "the way it comes in"),
    Column("most_share", "float", "", False, "At most", "part of the range that it takes at its worst hour"),
)


def view(answer: Answer) -> View:
    """Return what people see of a day: a line a range, then a line a visitor, hours from 0000 UTC."""
    courses = [course for course in answer.findings if isinstance(course, CourseFinding)]
    return View(
        heading=(answer.receiver, *(course.sentence for course in courses)),
        tables={"day": _strips(courses), "visitors": _visits(courses)},
        layouts={
            "day": (Show("Range", ("range",)), Show(_EVERY_HOUR, ("strip",))),
            "visitors": (
                Show("Range", ("range",)),
                Show(_SIX_HOURS, ("strip",)),
                Show("Station or band", ("label",)),
                Show("By way of", ("response",), 2),
                Show("At most", ("most_share",), 1),
            ),
        },
        remarks=(
            f"Day: percent usable at each hour, UTC; {MOST_PERCENT} stands for more as well.",
            "Visitors: what each takes of the range, hours from 0000 UTC: - 0.5 percent, + 3, # 10 or more.",
        ),
        whole=frozenset({"day"}),
    )


def _strips(courses: list[CourseFinding]) -> Table:
    records = [
        {
            "range": course.range,
            "strip": " ".join(
                f"{min(int(np.floor(100 * finding.usable + 0.5)), MOST_PERCENT):2d}"
                for finding in course.hours
            ),
        }
        for course in courses
    ]
    return table_of("day", _STRIPS, records)


def _visits(courses: list[CourseFinding]) -> Table:
    records = [
        {
            "range": course.range,
            "strip": "".join(_mark(share) for share in visitor.shares),
            "label": visitor.label,
            "response": visitor.response,
            "most_share": max(visitor.shares),
        }
        for course in courses
        for visitor in course.visitors
    ]
    return table_of("visitors", _VISITS, records)


def _mark(share: float) -> str:
    return next(mark for least, mark in MARKS if share >= least)
