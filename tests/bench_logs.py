"""Sheets filled in for tests: with the model's own predictions, with errors, or by hand."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from spurplan.columns import Answer
from spurplan.reporting.data import csv_pieces
from spurplan.units import hz_text

Row = dict[str, str]


def rows_of(answer: Answer) -> list[Row]:
    """Return the lines of a sheet as its CSV has them."""
    return list(csv.DictReader(io.StringIO("".join(csv_pieces(answer.first)))))


def own_prediction(row: Row) -> str:
    """Return what the description itself would read: a pointer, decibels, nothing for the wanted signal."""
    if row["response"] == "pointer":
        return hz_text(int(row["pointer_hz"]))
    if row["response"] == "wanted" or row["reachable"] == "false":
        return ""
    return f"{float(row['predicted_db']):.9f}"


def filled(rows: list[Row], reading: Callable[[Row], str]) -> list[Row]:
    """Return lines with their readings."""
    return [{**row, "reading": reading(row)} for row in rows]


def text_of(rows: list[Row]) -> str:
    """Return lines as a CSV file."""
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def write(path: Path, rows: list[Row]) -> Path:
    """Write a log, and return its path."""
    path.write_text(text_of(rows), encoding="utf-8")
    return path


def by_figure(answer: Answer) -> Mapping[str, dict[str, Any]]:
    """Return the rows of `fitted` by the name of the figure."""
    return {record["figure"]: record for record in answer.tables["fitted"].records()}
