"""How cures read for people: the best for the least, what clears most, then all of them."""

from __future__ import annotations

from typing import Any

from spurplan.columns import Answer, Column, Table, table_of
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
    rows = answer.tables["cures"].records()
    lines = [answer.receiver, *receiver.splitlines(), *_summary(answer, rows)]
    notes = {_bare(row["cure"]): row["note"] for row in rows if " + " not in row["cure"] and row["note"]}
    remarks = [f"{cure}: {note}." for cure, note in notes.items()]
    remarks += [f"Not tried, {said}." for said in answer.settings["not_tried"]]
    any_unknown = any(row["unknown_share_before"] or row["unknown_share_after"] for row in rows)
    layout = CURES if any_unknown else tuple(show for show in CURES if show is not UNKNOWN)
    return View(tuple(lines), {"cures": _table(rows)}, {"cures": layout}, tuple(remarks))


def _summary(answer: Answer, rows: list[dict[str, Any]]) -> list[str]:
    if not rows:
        return ["No cure can be tried on this set."]
    now, open_ = rows[0]["clear_share_before"], rows[0]["unknown_share_before"]
    low, high = answer.settings["cover_low_hz"], answer.settings["cover_high_hz"]
    what = "the dial" if low is None else f"{hz_text(low)} to {hz_text(high)}"
    also = f", {percent_text(open_)} % unknown" if open_ else ""
    heard = counted(rows[0]["intrusions_before"], "intrusion")
    lines = [f"Now {percent_text(now)} % of {what} is clear{also}, with {heard}."]
    if open_:
        lines.append(
            f"Unknown: on {percent_text(open_)} % of it an image lies beyond the tables, which tell of no "
            "station there to be cured of."
        )
    if now == 1.0:
        return [*lines, "There is nothing to cure."]
    if not rows[0]["intrusions_before"]:
        lines.append("Nothing that the tables know of is heard.")
    best = rows[0]
    if best["clear_share_after"] <= now:
        return [*lines, "None of these makes it better."]
    lines.append(f"The best for the least: {_said(best)}.")
    most = max(rows, key=lambda row: (round(row["clear_share_after"], 4), -row["effort"]))
    if most["cure"] != best["cure"]:
        lines.append(f"What clears most: {_said(most)}.")
    return lines


def _said(row: dict[str, Any]) -> str:
    return f"{row['cure']}, effort {row['effort']:g}, leaves {percent_text(row['clear_share_after'])} % clear"


def _bare(cure: str) -> str:
    """Return the name of a cure without what it is in this case."""
    return cure.partition(" (")[0]


def _table(rows: list[dict[str, Any]]) -> Table:
    names = [column.name for column in _SHOWN if column.name != "left"]
    records = [{**{name: row[name] for name in names}, "left": _left(row["not_cured"])} for row in rows]
    return table_of("cures", _SHOWN, records)


def _left(not_cured: list[str]) -> str | None:
    if not not_cured:
        return None
    more = len(not_cured) - 1
    return not_cured[0] + (f"; {more} more" if more else "")
