"""How cures read for people: the best for the least, what clears most, then all of them."""

from __future__ import annotations

from typing import Any

from spurplan.columns import Answer, Column, table_of
from spurplan.planning.cures.answer import MOST_NAMED
from spurplan.planning.cures.findings import Findings
from spurplan.planning.cures.trials import Tried
from spurplan.reporting.layout import Layout, Show, View
from spurplan.reporting.plain import counted
from spurplan.units import hz_text, percent_text

_SHOWN = (
    Column("rank", "int", "", False, "", ""),
    Column("cure", "text", "", False, "Cure", "what is done"),
    Column("clear_share_after", "float", "", False, "Clear", "clear part with it"),
    Column("unknown_share_after", "float", "", False, "Unknown", "part that is unknown with it"),
    Column(
        "intrusions_after", "int", "", False, "Still heard", "occupants still heard, once for each way in"
    ),
    Column("effort", "float", "", False, "Effort", "how much work it is"),
    Column("left", "text", "", True, "Not cured", "the worst that is left"),
)
UNKNOWN = Show("Unknown", ("unknown_share_after",))
CURES: Layout = (
    Show("", ("rank",)),
    Show("Cure", ("cure",)),
    Show("Clear", ("clear_share_after",)),
    UNKNOWN,
    Show("Still heard", ("intrusions_after",), 2),
    Show("Effort", ("effort",)),
    Show("Not cured", ("left",), 1),
)


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of cures.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    findings: Findings = answer.findings
    lines = [answer.receiver, *receiver.splitlines(), *_summary(findings)]
    alone = [one.trial.cures[0] for one in findings.tried if len(one.trial.cures) == 1]
    remarks = [f"{name}: {note}." for name, note in {cure.name: cure.note for cure in alone}.items() if note]
    remarks += [f"Not tried, {cure.text}." for cure in findings.not_tried]
    rows = [_row(rank, one) for rank, one in enumerate(findings.tried, start=1)]
    shares = [findings.present.unknown_share, *(one.reception.unknown_share for one in findings.tried)]
    layout = CURES if any(shares) else tuple(show for show in CURES if show is not UNKNOWN)
    return View(tuple(lines), {"cures": table_of("cures", _SHOWN, rows)}, {"cures": layout}, tuple(remarks))


def _summary(findings: Findings) -> list[str]:
    if not findings.tried:
        return ["No cure can be tried on this set."]
    now, cover = findings.present, findings.cover
    what = "the dial" if cover is None else f"{hz_text(cover[0])} to {hz_text(cover[1])}"
    also = f", {percent_text(now.unknown_share)} % unknown" if now.unknown_share else ""
    heard = counted(now.intrusions, "intrusion")
    lines = [f"Now {percent_text(now.clear_share)} % of {what} is clear{also}, with {heard}."]
    if now.unknown_share:
        lines.append(
            f"Unknown: on {percent_text(now.unknown_share)} % of it an image lies beyond the tables, which "
            "tell of no station there to be cured of."
        )
    if now.clear_share == 1.0:
        return [*lines, "There is nothing to cure."]
    if not now.intrusions:
        lines.append("Nothing that the tables know of is heard.")
    best, clearest = findings.recommended, findings.clearest
    if best is None:
        return [*lines, "None of these makes it better."]
    lines.append(f"The best for the least: {_outcome(best)}.")
    if clearest is not None and clearest.trial.name != best.trial.name:
        lines.append(f"What clears most: {_outcome(clearest)}.")
    return lines


def _outcome(one: Tried) -> str:
    clear = percent_text(one.reception.clear_share)
    return f"{one.trial.name}, effort {one.trial.effort:g}, leaves {clear} % clear"


def _row(rank: int, one: Tried) -> dict[str, Any]:
    return {
        "rank": rank,
        "cure": one.trial.name,
        "clear_share_after": one.reception.clear_share,
        "unknown_share_after": one.reception.unknown_share,
        "intrusions_after": one.reception.intrusions,
        "effort": one.trial.effort,
        "left": _left(one),
    }


def _left(one: Tried) -> str | None:
    named = one.not_cured[:MOST_NAMED]
    if not named:
        return None
    more = len(named) - 1
    return named[0].text + (f"; {more} more" if more else "")
