"""A day hour by hour: each range as a dial strip an hour, one below the other, with what is usable."""

from __future__ import annotations

from collections.abc import Sequence

from spurplan.columns import Answer
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.dial_row import draw_scale
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, headed, open_sheet, range_head
from spurplan.reporting.charts.legend import Draw, a_fill, legend
from spurplan.reporting.charts.scale import Scale
from spurplan.reporting.charts.sheet import Sheet, Words, paragraph, shown, wrapped
from spurplan.reporting.charts.strip import lay_strip
from spurplan.reporting.charts.verdicts import KEY_ORDER, MEANING
from spurplan.responses.by_hour import CourseFinding, DayDial, Visitor, day_said
from spurplan.responses.listening.dial_words import WORDS
from spurplan.units import share_text

HEAD_PT, SAID_PT, HOUR_PT = 9.0, 6.8, 6.2
STRIP_PT, PITCH_PT = 7.0, 8.6
# room for "over 99 %" at the right
SHARE_PT = 38.0
MOST_VISITORS = 4


def sheet(
    answer: Answer, receiver: Receiver, width: float, title: bool = True, dials: Sequence[DayDial] = ()
) -> Sheet:
    """Return the chart of `by_hour`.

    Parameters
    ----------
    dials : each range of the answer in words at each hour.
    """
    courses: tuple[CourseFinding, ...] = answer.findings
    headline = day_said(courses)
    made = open_sheet(width, [f"{answer.receiver}: a day hour by hour, UTC"] if title else [], headline)
    made.says = f"{shown(receiver.name)}, hour by hour: {headline} " + " ".join(
        shown(course.sentence) for course in courses
    )
    top = made.height
    words = {dial.range: dial for dial in dials}
    for course in courses:
        top = _lay(made, course, words[course.range], top) + 12
    used = {WORDS[code] for dial in dials for hour in dial.hours for code in hour.word.tolist()}
    entries: list[tuple[Draw, str]] = [(a_fill(word), MEANING[word]) for word in KEY_ORDER if word in used]
    made.height = legend(made, LEFT_PT, width - MARGIN_PT, top, entries)
    foot(made, answer.cautions if title else ())
    return made


def _lay(made: Sheet, course: CourseFinding, dial: DayDial, top: float) -> float:
    """Lay one range from `top` down and return where it ends. [pt]"""
    scale = Scale(dial.low_hz, dial.high_hz, LEFT_PT, made.width - MARGIN_PT - SHARE_PT)
    edges = LEFT_PT, made.width - MARGIN_PT
    head = range_head(course.range, dial.low_hz, dial.high_hz, HEAD_PT, edges[1] - edges[0])
    top = headed(made, head, shown(course.sentence), edges, top, (HEAD_PT, SAID_PT)) + 3
    for hour, (finding, words) in enumerate(zip(course.hours, dial.hours, strict=True)):
        lay_strip(made, scale, words, top, STRIP_PT)
        line = top + STRIP_PT / 2 + 0.36 * HOUR_PT
        made.add(Words(scale.left - 3, line, f"{hour:02d}00", HOUR_PT, anchor="end"))
        made.add(Words(scale.right + 4, line, share_text(finding.usable), HOUR_PT))
        top += PITCH_PT
    line = top + HOUR_PT
    made.add(Words(scale.left - 3, line, "UTC", HOUR_PT, anchor="end"))
    made.add(Words(scale.right + 4, line, "usable", HOUR_PT))
    top = draw_scale(made, scale, top) + 2
    for visitor in course.visitors[:MOST_VISITORS]:
        top = paragraph(made, wrapped(_visit(visitor), SAID_PT, edges[1] - edges[0]), LEFT_PT, top, SAID_PT)
    return top


def _visit(visitor: Visitor) -> str:
    """Return who comes at which hours, and takes how much at the worst of them."""
    most = share_text(max(visitor.shares))
    who = f"{shown(visitor.label)} by {visitor.response}"
    return f"{who}: {visitor.hours_text}; at most {most}, at {visitor.worst:02d}00"
