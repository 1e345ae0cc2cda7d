"""What stands round every chart: margins, title, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from spurplan.receiver.sentence import span_text
from spurplan.reporting.charts.sheet import (
    RISE,
    Sheet,
    Words,
    cut,
    dashed,
    paragraph,
    shown,
    text_width,
    wrapped,
)

MARGIN_PT = 10.0
# the heights in S units hang in the margin
LEFT_PT = 32.0
TITLE_PT, VERDICT_PT, SAID_PT, CAUTION_PT = 12.0, 8.6, 7.4, 6.2


def open_sheet(width: float, lines: Sequence[str], verdict: str = "") -> Sheet:
    """Return a sheet with what is said above the chart; its height is where the chart begins.

    Parameters
    ----------
    lines : a title and what is said besides; () where the page has its own.
    verdict : str. The answer in a sentence, which stands first in any case; "" where there is none.
    """
    made = Sheet(width, MARGIN_PT)
    room = width - LEFT_PT - MARGIN_PT
    top = MARGIN_PT
    for line in lines[:1]:
        top = paragraph(made, wrapped(shown(line), TITLE_PT, room, True), LEFT_PT, top, TITLE_PT, True)
    if verdict:
        verdict_lines = wrapped(shown(verdict), VERDICT_PT, room, True)
        top = paragraph(made, verdict_lines, LEFT_PT, top, VERDICT_PT, True) + 2
    for line in lines[1:]:
        top = paragraph(made, wrapped(shown(line), SAID_PT, room), LEFT_PT, top, SAID_PT)
    made.height = top + (8 if lines or verdict else 0)
    return made


def headed(
    made: Sheet, name: str, remark: str, edges: tuple[float, float], top: float, sizes: tuple[float, float]
) -> float:
    """Lay a name in bold with what is said of it beside it, or below where there is no room.

    Parameters
    ----------
    edges : left and right. [pt]
    sizes : of the name and of what is said. [pt]

    Returns
    -------
    float. Where the next thing may begin. [pt]
    """
    left, right = edges
    line = top + RISE * sizes[0]
    name = cut(name, sizes[0], right - left, True)
    made.add(Words(left, line, name, sizes[0], bold=True))
    after = left + text_width(name, sizes[0], True) + 8
    lines = wrapped(remark, sizes[1], right - left)
    if len(lines) == 1 and after + text_width(remark, sizes[1]) <= right:
        made.add(Words(after, line, remark, sizes[1]))
        lines = []
    return paragraph(made, lines, left, top + 1.35 * sizes[0], sizes[1])


def range_head(name: str, low_hz: int, high_hz: int, size: float, room: float) -> str:
    """Return the bold head of a range; a long name gives way, where it begins and ends is never cut."""
    span = f"  {dashed(span_text(low_hz, high_hz))}"
    return cut(shown(name), size, room - text_width(span, size, True), True) + span


def foot(made: Sheet, cautions: Sequence[str]) -> None:
    """Lay the cautions below what there is, and close the sheet."""
    top = made.height + 5
    for line in cautions:
        lines = wrapped(f"Caution: {shown(line)}", CAUTION_PT, made.width - LEFT_PT - MARGIN_PT)
        top = paragraph(made, lines, LEFT_PT, top, CAUTION_PT)
    made.height = top + MARGIN_PT - 5
