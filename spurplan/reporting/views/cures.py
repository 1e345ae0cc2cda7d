"""How cures read for people: what to do, in a sentence, then the plan and all that was tried."""

from __future__ import annotations

from typing import Any

from spurplan.columns import Answer, Column, table_of
from spurplan.planning.cures.component_values import SOURCES
from spurplan.planning.cures.cures import MOST_NAMED, loss_text
from spurplan.planning.cures.findings import Findings
from spurplan.planning.cures.trials import Tried
from spurplan.reporting.layout import Layout, Show, View
from spurplan.units import listed_text

_SHOWN = (
    Column("rank", "int", "", False, "", ""),
    Column("cure", "text", "", False, "Cure", "what is done"),
    Column("usable_share", "float", "", False, "Usable", "usable part with it"),
    Column("usable_share_low", "float", "", False, "", "low end of that"),
    Column("usable_share_high", "float", "", False, "", "high end of that"),
    Column("unknown_share_after", "float", "", False, "Unknown", "part that is unknown with it"),
    Column("unlisted_share_after", "float", "", False, "Not listed", "part where hardly anybody is listed"),
    Column("effort", "float", "", False, "Evenings", "how much work it is"),
    Column("left", "text", "", True, "Not cured", "the worst that is left"),
)
UNKNOWN = Show("Unknown", ("unknown_share_after",))
UNLISTED = Show("Not listed", ("unlisted_share_after",))
CURES: Layout = (
    Show("", ("rank",)),
    Show("Cure", ("cure",)),
    Show("Usable", ("usable_share",)),
    Show("Between", ("usable_share_low", "usable_share_high"), 1),
    UNKNOWN,
    UNLISTED,
    Show("Evenings", ("effort",)),
    Show("Not cured", ("left",), 2),
)


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of cures; no cure is offered where the place is to blame.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    findings: Findings = answer.findings
    lines = [*findings.sentences]
    alone = [result.trial.cures[0] for result in findings.offered]
    remarks = [f"{name}: {note}." for name, note in {cure.name: cure.note for cure in alone}.items() if note]
    made: dict[str, list[str]] = {}
    for result in findings.offered:
        for value in findings.values_of(result):
            made.setdefault(value.text, []).append(result.trial.name)
    remarks += [f"For {listed_text(names)}: {value_text}." for value_text, names in made.items()]
    remarks += [SOURCES] if made else []
    remarks += [f"Not tried, {cure.text}." for cure in findings.not_tried]
    rows = [_row(rank, result) for rank, result in enumerate(findings.offered, start=1)]
    outlooks = [findings.present, *(result.outlook for result in findings.offered)]
    idle = [UNKNOWN] * (not any(some.unknown for some in outlooks))
    idle += [UNLISTED] * (not any(some.unlisted for some in outlooks))
    layout = tuple(show for show in CURES if show not in idle)
    tables = {"cures": table_of("cures", _SHOWN, rows)} if rows else {}
    described = (answer.receiver, *receiver.splitlines())
    return View(tuple(lines), tables, {"cures": layout}, described, tuple(remarks))


def _row(rank: int, result: Tried) -> dict[str, Any]:
    low, high = result.outlook.interval
    return {
        "rank": rank,
        "cure": result.trial.name,
        "usable_share": result.outlook.usable,
        "usable_share_low": low,
        "usable_share_high": high,
        "unknown_share_after": result.outlook.unknown,
        "unlisted_share_after": result.outlook.unlisted,
        "effort": result.trial.effort,
        "left": _left(result),
    }


def _left(result: Tried) -> str | None:
    named = result.outlook.losses[:MOST_NAMED]
    if not named:
        return None
    more = len(named) - 1
    return loss_text(named[0]) + (f"; {more} more" if more else "")
