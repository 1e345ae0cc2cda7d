"""Answers made by hand, with the fields of intrusions, for tests of pages and of the command line.

Sets, stations and figures are invented; the labels hold what a table from
elsewhere may hold: brackets, pipes, umlauts, terminal sequences.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from spurplan.columns import NULL_INT, Answer, Coded, Column, Table

INTRUSIONS = (
    Column("range", "text", "", False, "Range", "name of the range"),
    Column("set_dial_hz", "int", "Hz", True, "", "what the main dial shows"),
    Column("dial_low_hz", "int", "Hz", False, "Dial", "the stretch"),
    Column("dial_high_hz", "int", "Hz", False, "to", "the stretch"),
    Column("rf_low_hz", "int", "Hz", False, "Really on", "the part received"),
    Column("rf_high_hz", "int", "Hz", False, "to", "the part received"),
    Column("label", "text", "", False, "Station", "the occupant"),
    Column("response", "text", "", False, "Response", "name of the route"),
    Column("equation", "text", "", False, "Equation", "the route"),
    Column("steps", "list", "", False, "", "signed orders"),
    Column("antenna_dbm", "float", "dBm", False, "Aerial", "its level"),
    Column("level_from", "text", "", False, "Level", "where the level comes from"),
    Column("rejection_db", "float", "dB", True, "Rejection", "what the set keeps out"),
    Column("heard_s", "text", "", False, "Heard", "as loud as"),
    Column("margin_db", "float", "dB", False, "Margin", "over the noise"),
    Column("grade", "text", "", False, "Grade", "how well"),
    Column("moves", "float", "", False, "Moves", "with the dial"),
    Column("inverted", "bool", "", False, "Inverted", "sideband"),
)

HOSTILE = "[red]Radio|Söder\x1b]0;owned\x07 \x1b[31m`x` \x9b2J\u202e<b>"

LIGHTHOUSE: dict[str, Any] = {
    "range": "4",
    "set_dial_hz": NULL_INT,
    "dial_low_hz": 14_200_000,
    "dial_high_hz": 14_200_000,
    "rf_low_hz": 15_130_000,
    "rf_high_hz": 15_130_000,
    "label": "Radio Lighthouse",
    "response": "image",
    "equation": "IF = RF - LO",
    "steps": [-1, 1],
    "antenna_dbm": -33.0,
    "level_from": "assumed",
    "rejection_db": 24.05,
    "heard_s": "S9+16",
    "margin_db": 40.25,
    "grade": "strong",
    "moves": -1.0,
    "inverted": True,
}


def row(**changes: Any) -> dict[str, Any]:
    """Return one record of intrusions with some fields changed."""
    return LIGHTHOUSE | changes


def table(rows: Sequence[dict[str, Any]], name: str = "intrusions") -> Table:
    """Return records as a table."""
    values: dict[str, Any] = {}
    dtypes = {"int": np.int64, "float": np.float64, "bool": np.bool_}
    for column in INTRUSIONS:
        cells = [record[column.name] for record in rows]
        if column.kind in dtypes:
            values[column.name] = np.array(cells, dtype=dtypes[column.kind])
        else:
            values[column.name] = Coded(np.arange(len(cells)), cells)
    return Table(name, INTRUSIONS, values)


def answer(*rows: dict[str, Any]) -> Answer:
    """Return an answer whose only table holds these records."""
    return Answer(
        receiver="Boathouse valve set",
        settings={"lo_order": 10},
        assumptions=("one circuit of the usual Q at the front",),
        cautions=("the tables are typical, not a licence",),
        tables={"intrusions": table(rows)},
    )
