"""Cures compared, a row each: what is clear with it, what is clear as the set is, what is not cured."""

from __future__ import annotations

from spurplan.columns import Answer
from spurplan.planning.cures.answer import MOST_NAMED
from spurplan.planning.cures.findings import Findings
from spurplan.planning.cures.trials import Tried
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.bars import Bar, lay_bars
from spurplan.reporting.charts.frame import open_sheet
from spurplan.reporting.charts.ranges import share_text
from spurplan.reporting.charts.sheet import Sheet, shown

MOST_CURES = 14


def bars(answer: Answer) -> list[Bar]:
    """Return the first cures, in the order of the answer."""
    findings: Findings = answer.findings
    first = enumerate(findings.tried[:MOST_CURES], start=1)
    return [_bar(rank, one, findings.present.clear_share) for rank, one in first]


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `cures`."""
    findings: Findings = answer.findings
    drawn = bars(answer)
    nothing = [] if findings.recommended is not None else ["none of these makes it better"]
    lines = [f"{answer.receiver}: cures, the best for the least effort first", *nothing]
    made = open_sheet(width, lines if title else [])
    first = [f"{bar.name}, {bar.summary}" for bar in drawn[:3]]
    made.says = f"{shown(receiver.name)}, cures: " + "; ".join([*nothing, *first])
    lay_bars(made, drawn, answer.cautions if title else ())
    return made


def _bar(rank: int, one: Tried, before: float) -> Bar:
    clear = share_text(one.reception.clear_share, one.reception.unknown_share)
    left = [shown(way.text) for way in one.not_cured[:MOST_NAMED]]
    return Bar(
        name=f"{rank}. {shown(one.trial.name)}",
        summary=f"{clear}, effort {one.trial.effort:g}",
        clear_share=one.reception.clear_share,
        reasons=("leaves " + "; ".join(left),) if left else (),
        before=before,
        unknown_share=one.reception.unknown_share,
    )
