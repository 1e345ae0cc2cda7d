"""Intermediate frequencies compared, a row each: how much is usable, the verdict, the reason."""

from __future__ import annotations

from spurplan.columns import Answer
from spurplan.errors import Fault, Refused
from spurplan.planning.if_change.findings import Findings
from spurplan.planning.if_change.scan_list import Scanned, Why
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.bars import Bar, lay_bars
from spurplan.reporting.charts.frame import open_sheet
from spurplan.reporting.charts.sheet import Sheet, shown
from spurplan.units import hz_text, share_text

MOST_CANDIDATES, MOST_USUAL = 8, 5


def bars(answer: Answer) -> list[Bar]:
    """Return the first candidates of the table `scan`, some usual ones behind them, and the present IF.

    Raises
    ------
    Refused  when nothing was scanned.
    """
    findings: Findings = answer.findings
    if findings.scan is None:
        rule = "draws the candidates of a scan"
        raise Refused(Fault("--chart", rule, remedy="add --scan LOW:HIGH, as 400kHz:12MHz"))
    every = findings.scanned
    usual = [one for one in every[MOST_CANDIDATES:] if one.usual is not None][:MOST_USUAL]
    present = [one for one in every if one.present]
    picked = {one.rank: one for one in (*every[:MOST_CANDIDATES], *usual, *present)}
    return [_bar(picked[rank]) for rank in sorted(picked)]


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `if_change` with a scan."""
    drawn = bars(answer)
    low, high = answer.settings["scan_low_hz"], answer.settings["scan_high_hz"]
    about = f"IFs from {hz_text(low)} to {hz_text(high)}"
    findings: Findings = answer.findings
    recommended = f"recommended: {findings.text}"
    made = open_sheet(width, [f"{answer.receiver}: {about}", recommended] if title else [])
    made.says = f"{shown(receiver.name)}, {about}: {recommended}; {drawn[0].name}, {drawn[0].summary}"
    lay_bars(made, drawn, answer.cautions if title else ())
    return made


def _bar(one: Scanned) -> Bar:
    known = "the present IF" if one.present else one.usual
    usual = f", {shown(known)}" if known else ""
    figures = [f"{share_text(one.usable)} usable on a busy evening"]
    if one.word is not None:
        figures.append(one.word)
    if one.image_rejection_db is not None:
        figures.append(f"image {one.image_rejection_db:.0f} dB down")
    return Bar(
        f"{one.rank}. {hz_text(one.if_hz)}{usual}",
        ", ".join(figures),
        one.usable,
        tuple(shown(reason.text) for reason in one.reasons if reason.about is not Why.present),
        before=one.before,
        unknown_share=one.unknown,
    )
