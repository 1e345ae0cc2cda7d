"""How answers about the band tables and the receiver file read for people."""

from __future__ import annotations

from collections.abc import Sequence

from spurplan.columns import Answer
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted
from spurplan.units import hz_text

TABLES = (
    Show("Table", ("table",)),
    Show("Rows", ("rows",)),
    Show("Stations and bands", ("occupants",)),
    Show("Reach", ("low_hz", "high_hz")),
    Show("From memory", ("from_memory",), 1),
    Show("As recorded", ("state",), 2),
    Show("Columns left alone", ("other_columns",), 3),
    Show("Source", ("document", "edition"), 4),
)
GAPS = (Show("Nothing known", ("low_hz", "high_hz")),)
ROWS = (
    Show("Station or band", ("label",)),
    Show("Service", ("service",)),
    Show("Frequency", ("low_hz", "high_hz")),
    Show("Level", ("level_dbm",), places=0),
    Show("Level from", ("level_from",), 3),
    Show("Region", ("region",), 1),
    Show("When", ("hours", "days", "slot"), 2),
    Show("Mode", ("mode",), 4),
    Show("Table", ("table",), 5),
    Show("Row", ("row",), 6),
    Show("Note", ("note",), 7),
)


def tables_view(answer: Answer) -> View:
    """Return what people see of the tables in use."""
    table = answer.first
    heading = f"{counted(len(table), 'band table')}, {counted(int(table['rows'].sum()), 'row')}, in order."
    return View((heading,), layouts={"tables": TABLES, "gaps": GAPS})


def rows_view(answer: Answer) -> View:
    """Return what people see of who may be on a frequency."""
    at = hz_text(answer.settings["at_hz"])
    return View(
        (f"On {at}, by the tables: {len(answer.first):,} that may be there.",), layouts={"rows": ROWS}
    )


def receiver_view(answer: Answer, questions: Sequence[str] = ()) -> View:
    """Return a checked receiver file as people read it: a line of text a range.

    Parameters
    ----------
    questions : what of it is hardly meant, which comes before anything that is well.
    """
    ranges = answer.first
    ways = [f"{name}: {way}" for name, way in zip(ranges["range"], ranges["says"], strict=True)]
    return View((*questions, f"{answer.receiver}: no faults found.", *ways), tables={})
