"""Answers made by hand, with the fields of intrusions, for tests of pages and of the command line.

Sets, stations and figures are invented; the labels hold what a table from
elsewhere may hold: brackets, pipes, umlauts, terminal sequences.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from spurplan.columns import NULL_INT, Answer, Coded, Table
from spurplan.responses.intrusion_table import INTRUSION_COLUMNS

HOSTILE = "[red]Radio|Söder\x1b]0;owned\x07 \x1b[31m`x` \x9b2J\u202e<b>"

LIGHTHOUSE: dict[str, Any] = {
    "range": "4",
    "set_dial_hz": NULL_INT,
    "dial_low_hz": 14_200_000,
    "dial_high_hz": 14_200_000,
    "rf_low_hz": 15_130_000,
    "rf_high_hz": 15_130_000,
    "label": "Radio Marrowmere",
    "service": "broadcast",
    "mode": "am",
    "region": "1",
    "table": "stations.csv",
    "row": 2,
    "response": "image",
    "equation": "IF = RF - LO",
    "steps": [-1, 1],
    "order": 2,
    "antenna_dbm": -33.0,
    "level_from": "assumed",
    "rejection_db": 24.05,
    "heard_dbm": -57.05,
    "heard_s": "S9+16",
    "floor_dbm": -97.3,
    "margin_db": 40.25,
    "grade": "strong",
    "loudest_dial_hz": 14_200_000,
    "moves": -1.0,
    "inverted": True,
    "pad_db_per_db": 1,
    "offset_hz": 0,
    "pitch_hz": NULL_INT,
    "hurts": ["AM"],
}


# for fields these tests say nothing about
NOTHING: dict[str, Any] = {"int": NULL_INT, "float": np.nan, "bool": False, "text": None, "list": []}


def row(**changes: Any) -> dict[str, Any]:
    """Return one record of intrusions with some fields changed."""
    return LIGHTHOUSE | changes


def table(rows: Sequence[dict[str, Any]], name: str = "intrusions") -> Table:
    """Return records as a table."""
    values: dict[str, Any] = {}
    dtypes = {"int": np.int64, "float": np.float64, "bool": np.bool_}
    for column in INTRUSION_COLUMNS:
        cells = [record.get(column.name, NOTHING[column.kind]) for record in rows]
        if column.kind in dtypes:
            values[column.name] = np.array(cells, dtype=dtypes[column.kind])
        else:
            words = [word for at, word in enumerate(cells) if word not in cells[:at]]
            values[column.name] = Coded(
                np.array([words.index(word) for word in cells], dtype=np.int64), words
            )
    return Table(name, INTRUSION_COLUMNS, values)


def answer(*rows: dict[str, Any]) -> Answer:
    """Return an answer whose only table holds these records."""
    return Answer(
        receiver="Boathouse valve set",
        settings={"lo_order": 10, "frequency_hz": 14_200_000, "dial_error_hz": None},
        assumptions=("one circuit of the usual Q at the front",),
        cautions=("the tables are typical, not a licence",),
        tables={"intrusions": table(rows)},
    )
