"""How suspects read for people: who it may be, how likely, and what to try next."""

from __future__ import annotations

from spurplan.columns import Answer
from spurplan.reporting.layout import Show, View
from spurplan.units import hz_text

SUSPECTS = (
    Show("Weight", ("weight",)),
    Show("Cause", ("cause",)),
    Show("Station or band", ("label",)),
    Show("Really on", ("rf_hz",)),
    Show("By way of", ("response", "equation"), 1),
    Show("Heard", ("heard_s",), 2),
    Show("Evidence", ("fits",), 3),
    Show("It would show", ("next_test",)),
)


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of suspects.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    table = answer.tables["suspects"]
    heading = [f"{answer.receiver} at {hz_text(answer.settings['frequency_hz'])}", *receiver.splitlines()]
    if not len(table):
        heading.append("Nothing in the tables in use, and nothing of the set's own, is heard there.")
    else:
        likeliest = table.records(1)[0]
        who = likeliest["label"] or likeliest["equation"] or "the set itself"
        share = f"{100 * likeliest['weight']:.0f} of 100"
        heading.append(f"Likeliest: {likeliest['cause']}, {who} ({share}), of {len(table)} suspects.")
        if answer.settings["next_test"]:
            heading.append(f"The test that would tell most: {answer.settings['next_test']}.")
    ranges = Show("Range", ("range",), 2)
    several = len(set(table["range"].tolist())) > 1
    layout = (SUSPECTS[0], ranges, *SUSPECTS[1:]) if several else SUSPECTS
    return View(tuple(heading), {"suspects": table}, {"suspects": layout}, ())
