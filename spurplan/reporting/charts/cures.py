"""Cures compared, a row each: what is usable with it, what is usable as the set is, what is not cured."""

from __future__ import annotations

from spurplan.columns import Answer
from spurplan.planning.cures.cures import MOST_NAMED, loss_text
from spurplan.planning.cures.findings import Findings
from spurplan.planning.cures.trials import Tried
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.bars import USABLE, Bar, lay_bars
from spurplan.reporting.charts.frame import open_sheet
from spurplan.reporting.charts.sheet import Sheet, shown
from spurplan.units import share_text

MOST_CURES = 14


def bars(answer: Answer) -> list[Bar]:
    """Return the first cures, in the order of the answer; none where the place is to blame."""
    findings: Findings = answer.findings
    return [_bar(rank, one, findings) for rank, one in enumerate(findings.offered[:MOST_CURES], start=1)]


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `cures`."""
    findings: Findings = answer.findings
    drawn = bars(answer)
    advice = shown(findings.said[0])
    made = open_sheet(width, [f"{answer.receiver}: cures, {findings.present.at}", advice] if title else [])
    first = [f"{bar.name}, {bar.summary}" for bar in drawn[:3]]
    made.says = f"{shown(receiver.name)}, cures: " + "; ".join([advice.rstrip("."), *first])
    lay_bars(made, drawn, answer.cautions if title else (), USABLE)
    return made


def _bar(rank: int, one: Tried, findings: Findings) -> Bar:
    left = [shown(loss_text(loss)) for loss in one.outlook.losses[:MOST_NAMED]]
    evenings = "evening" if one.trial.effort == 1 else "evenings"
    return Bar(
        name=f"{rank}. {shown(one.trial.name)}",
        summary=f"{share_text(one.outlook.usable)} usable, {one.trial.effort:g} {evenings}",
        clear_share=one.outlook.usable,
        reasons=("leaves " + "; ".join(left),) if left else (),
        before=findings.present.usable,
        unknown_share=one.outlook.unknown,
    )
