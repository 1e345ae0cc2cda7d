"""What stands round every chart: margins, title, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from spurplan.reporting.charts.sheet import Sheet, paragraph, shown, wrapped

MARGIN_PT = 10.0
# the heights in S units hang in the margin
LEFT_PT = 32.0
TITLE_PT, SAID_PT, CAUTION_PT = 12.0, 7.4, 6.2


def open_sheet(width: float, lines: Sequence[str]) -> Sheet:
    """Return a sheet with a title and what is said below it; its height is where the chart begins."""
    made = Sheet(width, MARGIN_PT)
    if not lines:
        return made
    room = width - LEFT_PT - MARGIN_PT
    top = paragraph(made, wrapped(shown(lines[0]), TITLE_PT, room, True), LEFT_PT, MARGIN_PT, TITLE_PT, True)
    for line in lines[1:]:
        top = paragraph(made, wrapped(shown(line), SAID_PT, room), LEFT_PT, top, SAID_PT)
    made.height = top + 8
    return made


def foot(made: Sheet, cautions: Sequence[str]) -> None:
    """Lay the cautions below what there is, and close the sheet."""
    top = made.height + 5
    for line in cautions:
        lines = wrapped(f"Caution: {shown(line)}", CAUTION_PT, made.width - LEFT_PT - MARGIN_PT)
        top = paragraph(made, lines, LEFT_PT, top, CAUTION_PT)
    made.height = top + MARGIN_PT - 5
