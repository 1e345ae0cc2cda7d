"""Cures compared, a row each: what is clear with it, what is clear as the set is, what is not cured."""

from __future__ import annotations

from typing import Any

from spurplan.columns import Answer
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.bars import Bar, lay_bars
from spurplan.reporting.charts.frame import open_sheet
from spurplan.reporting.charts.ranges import share_text
from spurplan.reporting.charts.sheet import Sheet, shown

MOST_CURES = 14


def bars(answer: Answer) -> list[Bar]:
    """Return the first cures, in the order of the answer."""
    return [_bar(record) for record in answer.tables["cures"].records(MOST_CURES)]


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `cures`."""
    drawn = bars(answer)
    made = open_sheet(
        width, [f"{answer.receiver}: cures, the best for the least effort first"] if title else []
    )
    made.says = f"{shown(receiver.name)}, cures: " + "; ".join(f"{b.name}, {b.summary}" for b in drawn[:3])
    lay_bars(made, drawn, answer.cautions if title else ())
    return made


def _bar(record: dict[str, Any]) -> Bar:
    left = record["not_cured"]
    return Bar(
        name=f"{record['rank']}. {shown(record['cure'])}",
        summary=f"{_clear(record)}, effort {record['effort']:g}",
        clear_share=float(record["clear_share_after"]),
        reasons=("leaves " + "; ".join(shown(text) for text in left),) if left else (),
        before=float(record["clear_share_before"]),
        unknown_share=float(record["unknown_share_after"]),
    )


def _clear(record: dict[str, Any]) -> str:
    return share_text(record["clear_share_after"], record["unknown_share_after"])
