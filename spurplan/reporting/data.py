"""An answer for programs: JSON and CSV."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from spurplan.columns import Answer, Table

CHUNK = 10_000

# Inside JSON these stand in strings only, where an escape means the same. Left
# as they are, they would act on a terminal or could not be written as UTF-8.
_UNSAFE = re.compile("[\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def json_pieces(answer: Answer) -> Iterator[str]:
    """Give an answer as one JSON object, a record a line."""
    head = {
        "receiver": answer.receiver,
        "settings": dict(answer.settings),
        "assumptions": list(answer.assumptions),
        "cautions": list(answer.cautions),
    }
    body = ",\n".join(f'"{name}": {_json(value)}' for name, value in head.items())
    yield f"{{\n{body}"
    for name, table in answer.tables.items():
        yield f',\n"{name}": ['
        before = "\n"
        for chunk in chunks(table):
            yield before + ",\n".join(map(_json, chunk.records()))
            before = ",\n"
        yield "\n]" if len(table) else "]"
    yield "\n}\n"


def _json(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    return _UNSAFE.sub(lambda match: f"\\u{ord(match[0]):04x}", text)


def csv_pieces(table: Table) -> list[str]:
    """Return one table as CSV: unknown is an empty cell, a list is JSON text."""
    from spurplan.csvfile import csv_text

    names = [column.name for column in table.columns]
    lists = {column.name for column in table.columns if column.kind == "list"}
    rows = (
        [_cell(record[name], name in lists) for name in names]
        for chunk in chunks(table)
        for record in chunk.records()
    )
    return [csv_text(names, rows)]


def _cell(value: Any, is_list: bool) -> Any:
    if value is None:
        return None
    if is_list:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)
    return ("true" if value else "false") if isinstance(value, bool) else value


def chunks(table: Table) -> Iterator[Table]:
    """Give a table in parts of `CHUNK` rows."""
    for start in range(0, len(table), CHUNK):
        yield table.take(slice(start, start + CHUNK))
