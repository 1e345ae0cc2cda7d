"""How suspects read for people: who it may be, how likely, and what to try next."""

from __future__ import annotations

import numpy as np

from spurplan.columns import Answer, Table
from spurplan.planning.suspects.answer import NOT_LISTED
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted
from spurplan.units import hz_text

WHO = (
    Show("Weight", ("weight",)),
    Show("Cause", ("cause", "response")),
    Show("Station or band", ("label",)),
    Show("Really on", ("rf_hz",)),
)
WOULD_SHOW = ("next_test",)
EVIDENCE = ("fits",)
MORE = (Show("By way of", ("equation",), 3), Show("Heard", ("heard_s",), 4))
# what there is to say of the observations is worth more than what to observe next
UNSEEN = (*WHO, Show("It would show", WOULD_SHOW), *MORE)
SEEN = (*WHO, Show("Evidence", EVIDENCE), Show("It would show", WOULD_SHOW, 2), *MORE)
OBSERVED = ("moves", "pad_drop_db", "inverted", "trimmer")


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
        if not answer.settings["fitting"]:
            heading.append(
                "Nothing the tables and the set lead one to expect there fits what was observed: look for a "
                "source in the house, a fault, or a station in no table."
            )
        likeliest = next(one for one in table.records() if one["cause"] != NOT_LISTED)
        who = likeliest["label"] or likeliest["equation"] or "the set itself"
        share = f"{100 * likeliest['weight']:.0f} of 100"
        first = "Likeliest" if answer.settings["fitting"] else "Of what is known the likeliest"
        many = counted(len(table), "suspect")
        heading.append(f"{first}: {likeliest['cause']}, {who} ({share}), of {many}.")
        if answer.settings["next_test"]:
            heading.append(f"The test that would tell most: {answer.settings['next_test']}.")
    ranges = Show("Range", ("range",), 2)
    several = len(set(table["range"].tolist())) > 1
    seen = any(answer.settings[name] is not None for name in OBSERVED)
    columns = SEEN if seen else UNSEEN
    layout = (columns[0], ranges, *columns[1:]) if several else columns
    table, remark = _folded(table)
    return View(tuple(heading), {"suspects": table}, {"suspects": layout}, (remark,) if remark else ())


def _folded(table: Table) -> tuple[Table, str]:
    """Return the likeliest of pairs of stations that come by one product, and how many it stands for."""
    first: dict[tuple[object, ...], int] = {}
    for at, record in enumerate(table.records()):
        alike = (record["range"], record["equation"], record["moves"])
        first.setdefault(alike if record["response"] == "intermodulation" else (at,), at)
    kept = np.array(list(first.values()), dtype=np.int64)
    if len(kept) == len(table):
        return table, ""
    more = counted(len(table) - len(kept), "more pair")
    return table.take(kept), f"{more} of stations come by a product that is listed; csv and json have them."
