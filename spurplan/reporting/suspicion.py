"""How suspects read for people: who it may be, how likely, and what to try next."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spurplan.columns import Answer, Table
from spurplan.planning.suspects.answer import Findings, Weighed
from spurplan.planning.suspects.evidence import Evidence
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted
from spurplan.units import hz_text

WHO = (
    Show("Weight", ("weight",)),
    Show("Cause", ("cause", "response"), key="first"),
    Show("Station or band", ("label",)),
    Show("Really on", ("rf_hz",), near=True),
)
WOULD_SHOW = ("next_test",)
EVIDENCE = ("fits",)
MORE = (Show("By way of", ("equation",), 3), Show("Heard", ("heard_s",), 4))
# what there is to say of the observations is worth more than what to observe next
UNSEEN = (*WHO, Show("It would show", WOULD_SHOW), *MORE)
SEEN = (*WHO, Show("Evidence", EVIDENCE), Show("It would show", WOULD_SHOW, 2), *MORE)
# what tells one product of two stations from another
PAIR = ("range", "equation", "moves")


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of suspects.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    findings: Findings = answer.findings
    heading = [f"{answer.receiver} at {hz_text(answer.settings['frequency_hz'])}"]
    by_range = findings.by_range()
    if not by_range:
        heading.append("Nothing in the tables in use, and nothing of the set's own, is heard there.")
    for name, some in by_range.items():
        heading += _likeliest(some, name if len(by_range) > 1 else None)
    if findings.next_test is not None:
        heading.append(f"The test that would tell most: {findings.next_test}.")
    ranges = Show("Range", ("range",))
    columns = UNSEEN if findings.seen == Evidence() else SEEN
    layout = (columns[0], ranges, *columns[1:]) if len(by_range) > 1 else columns
    table, remarks = _folded(answer.tables["suspects"])
    return View(
        tuple(heading), {"suspects": table}, {"suspects": layout}, tuple(receiver.splitlines()), remarks
    )


def _likeliest(suspects: Sequence[Weighed], name: str | None) -> list[str]:
    """Say who is likeliest on one range, named where there are several."""
    fitting = all(one.listed for one in suspects)
    on = "" if name is None else f" on range {name}"
    lines = []
    if not fitting:
        lines.append(
            f"Nothing the tables and the set lead one to expect there{on} fits what was observed: look for a "
            "source in the house, a fault, or a station in no table."
        )
    likeliest = next(one for one in suspects if one.listed)
    share = f"{100 * likeliest.weight:.0f} of 100"
    first = "Likeliest" if fitting else "Of what is known the likeliest"
    many = counted(len(suspects), "suspect")
    return [*lines, f"{first}{on}: {likeliest.suspect.cause}, {likeliest.who} ({share}), of {many}."]


def _folded(table: Table) -> tuple[Table, tuple[str, ...]]:
    """Return the likeliest of what would read alike, and what was left out.

    That is pairs of stations that come by one product, and rows of several tables or
    regions that hold one station.
    """
    first: dict[tuple[object, ...], int] = {}
    pairs = rows = 0
    for at, record in enumerate(table.records()):
        pair = record["response"] == "intermodulation"
        alike = PAIR if pair else (*PAIR, "cause", "response", "label", "rf_hz", "fits")
        if first.setdefault((pair, *(str(record[name]) for name in alike)), at) != at:
            pairs, rows = pairs + pair, rows + (not pair)
    remarks = []
    if pairs:
        more = counted(pairs, "more pair")
        remarks.append(f"{more} of stations come by a product that is listed; csv and json have them.")
    if rows:
        more = counted(rows, "more row")
        remarks.append(f"{more} of the tables with a station that is listed; csv and json have them.")
    return table.take(np.array(list(first.values()), dtype=np.int64)), tuple(remarks)
