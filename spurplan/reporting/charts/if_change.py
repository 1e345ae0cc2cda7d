"""Intermediate frequencies compared, a row each: what is left clear, the margin, the reason."""

from __future__ import annotations

from typing import Any

from spurplan.columns import Answer
from spurplan.errors import Fault, Refused
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.bars import Bar, lay_bars
from spurplan.reporting.charts.frame import open_sheet
from spurplan.reporting.charts.ranges import share_text
from spurplan.reporting.charts.sheet import Sheet, shown
from spurplan.units import hz_text

MOST_CANDIDATES, MOST_USUAL = 8, 5
PRESENT = "the present IF"


def bars(answer: Answer) -> list[Bar]:
    """Return the first candidates of the table `scan`, some usual ones behind them, and the present IF.

    Raises
    ------
    Refused  when nothing was scanned.
    """
    if "scan" not in answer.tables:
        rule = "draws the candidates of a scan"
        raise Refused(Fault("--chart", rule, remedy="add --scan LOW:HIGH, as 400kHz:12MHz"))
    records = answer.tables["scan"].records()
    usual = [r for r in records[MOST_CANDIDATES:] if r["usual"] is not None][:MOST_USUAL]
    present = [r for r in records if PRESENT in r["reasons"]]
    picked = {record["rank"]: record for record in (*records[:MOST_CANDIDATES], *usual, *present)}
    return [_bar(picked[rank]) for rank in sorted(picked)]


def sheet(answer: Answer, receiver: Receiver, width: float, title: bool = True) -> Sheet:
    """Return the chart of `if_change` with a scan."""
    drawn = bars(answer)
    low, high = answer.settings["scan_low_hz"], answer.settings["scan_high_hz"]
    about = f"IFs from {hz_text(low)} to {hz_text(high)}"
    made = open_sheet(width, [f"{answer.receiver}: {about}"] if title else [])
    made.says = f"{shown(receiver.name)}, {about}: best {drawn[0].name}, {drawn[0].summary}"
    lay_bars(made, drawn, answer.cautions if title else ())
    return made


def _bar(record: dict[str, Any]) -> Bar:
    known = PRESENT if PRESENT in record["reasons"] else record["usual"]
    usual = f", {shown(known)}" if known else ""
    said = [share_text(record["clear_share"], record["unknown_share"])]
    if record["worst_margin_db"] is not None:
        said.append(f"worst {record['worst_margin_db']:+.0f} dB over the noise".replace("-", "\u2212"))
    if record["image_rejection_db"] is not None:
        said.append(f"image {record['image_rejection_db']:.0f} dB down")
    return Bar(
        f"{record['rank']}. {hz_text(record['if_hz'])}{usual}",
        ", ".join(said),
        float(record["clear_share"]),
        tuple(shown(reason) for reason in record["reasons"] if reason != PRESENT),
        unknown_share=float(record["unknown_share"]),
    )
