"""How intrusions read for people: the sentence above them and the columns of a page."""

from __future__ import annotations

from collections import Counter

from spurplan.columns import Answer, Table
from spurplan.reporting.layout import Layout, Show, View
from spurplan.reporting.text import title_of
from spurplan.responses.summary import fold

GRADES = ("strong", "audible", "buried")


def view(answer: Answer) -> View:
    """Return what people see of dial, ranges and station: rows that say the same are one."""
    tables, remarks = {}, []
    for name, table in answer.tables.items():
        tables[name] = table
        if is_intrusions(table):
            tables[name], stand_for = fold(table)
            if len(stand_for) < len(table):
                remarks.append(
                    f"{title_of(name)}: {len(table):,} rows say the same as one of these {len(stand_for):,} "
                    "(range, service, grade and way in); csv and json have them all."
                )
    layouts = {name: columns_of(table) for name, table in tables.items() if is_intrusions(table)}
    return View(tuple(heading(answer)), tables, layouts, tuple(remarks))


def is_intrusions(table: Table) -> bool:
    """Return whether a table holds records of this kind."""
    return "equation" in table.values and "margin_db" in table.values


def heading(answer: Answer) -> list[str]:
    """Return the lines above the tables: the set, then how much is heard, by grade."""
    table = answer.first
    lines = [answer.receiver]
    counts = Counter(table["grade"].tolist())
    said = [f"{counts[grade]:,} {grade}" for grade in GRADES if counts[grade]]
    lines.append(f"{len(table):,} intrusions: {', '.join(said)}." if said else "No intrusions.")
    assumed = Counter(table["level_from"].tolist())["assumed"]
    if assumed:
        verb = "is" if assumed == 1 else "are"
        which = (
            "All levels are" if assumed == len(table) else f"{assumed:,} of the {len(table):,} levels {verb}"
        )
        lines.append(
            f"{which} assumed, typical of the service; a band may be occupied, now and then or never."
        )
    return lines


def columns_of(table: Table) -> Layout:
    """Return the columns people see of intrusions.

    Notes
    -----
    Eighty columns hold who, how loud, where on the dial, where in truth, and by
    which way. The dial goes where it says the same in every row, as do ranges.
    """
    one_dial = len(table) > 0 and _constant(table, "dial_low_hz") and _constant(table, "dial_high_hz")
    dial = (
        ()
        if one_dial and table["dial_low_hz"][0] == table["dial_high_hz"][0]
        else ("dial_low_hz", "dial_high_hz")
    )
    return (
        Show("Grade", ("grade",)),
        Show("Heard", ("heard_s",)),
        *([Show("On the dial", dial)] if dial else []),
        *([] if _constant(table, "range") else [Show("Range", ("range",), 3)]),
        Show("Station or band", ("label",)),
        Show("Really on", ("rf_low_hz", "rf_high_hz")),
        Show("By way of", ("response", "equation")),
        Show("Margin", ("margin_db",), 4),
        Show("At the aerial", ("antenna_dbm",), 5),
        Show("Rejection", ("rejection_db",), 6),
        Show("Moves", ("moves",), 7),
        Show("Level", ("level_from",), 8),
    )


def _constant(table: Table, name: str) -> bool:
    values = table[name]
    return len(values) > 0 and bool((values == values[0]).all())
