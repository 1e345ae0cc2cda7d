"""An answer for programs: JSON and CSV.

A table is written column by column and put together row by row: a label that
stands in ten thousand rows is quoted once.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from spurplan.columns import NULL_INT, Answer, Coded, Column, Table, plain
from spurplan.csvtext import csv_text

CHUNK = 10_000

# Inside JSON these stand in strings only, where an escape means the same. Left
# as they are, they would act on a terminal or could not be written as UTF-8.
_UNSAFE = re.compile("[\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
_SURROGATE = re.compile("[\ud800-\udfff]")


@dataclass(frozen=True)
class _Form:
    """How single values are written: text and lists by `word`, the rest as given."""

    word: Callable[[Any], str]
    unknown: str
    false: str = "false"
    true: str = "true"


def json_pieces(answer: Answer) -> Iterator[str]:
    """Give an answer as one JSON object, a record a line: exactly `Answer.to_dict`."""
    head = {
        "receiver": answer.receiver,
        "settings": plain(answer.settings),
        "assumptions": list(answer.assumptions),
        "cautions": list(answer.cautions),
    }
    yield "{\n" + ",\n".join(f'"{name}": {_json(value)}' for name, value in head.items())
    for name, table in answer.tables.items():
        yield f',\n"{name}": ['
        before = "\n"
        fields = ", ".join(f"{_json(column.name)}: %s" for column in table.columns)
        for rows in _rows(table, _Form(_json, "null")):
            yield before + ",\n".join(f"{{{fields % row}}}" for row in rows)
            before = ",\n"
        yield "\n]" if len(table) else "]"
    yield "\n}\n"


def _json(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    return _UNSAFE.sub(lambda match: f"\\u{ord(match[0]):04x}", text)


def csv_pieces(table: Table) -> Iterator[str]:
    """Give one table as CSV: unknown is an empty cell, a list is JSON text."""
    yield csv_text([column.name for column in table.columns], ())
    for rows in _rows(table, _Form(_csv, "")):
        yield "".join(f"{','.join(row)}\n" for row in rows)


def _csv(value: Any) -> str:
    """Return a text or a list as one cell, quoted and guarded where it must be."""
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, allow_nan=False)
    # the name of a file need not be UTF-8, and the table has to be
    text = _SURROGATE.sub(lambda match: f"\\u{ord(match[0]):04x}", text)
    return csv_text([text], ()).removesuffix("\n") if text else ""


def _rows(table: Table, form: _Form) -> Iterator[Iterator[tuple[str, ...]]]:
    """Give the rows of a table in chunks, each value written."""
    words = {
        column.name: [form.unknown if word is None else form.word(word) for word in value.words]
        for column in table.columns
        if isinstance(value := table.values[column.name], Coded)
    }
    for start in range(0, len(table), CHUNK):
        chunk = table.take(slice(start, start + CHUNK))
        yield zip(
            *(_texts(chunk, column, words.get(column.name), form) for column in table.columns), strict=True
        )


def _texts(table: Table, column: Column, words: list[str] | None, form: _Form) -> list[str]:
    """Return one column, each value written."""
    value = table.values[column.name]
    if isinstance(value, Coded):
        # the last one answers code -1: unknown
        known = [*(words or ()), form.unknown]
        return [known[max(code, -1)] for code in value.codes.tolist()]
    plain = value.tolist()
    if column.kind == "int":
        return [form.unknown if number == NULL_INT else str(number) for number in plain]
    if column.kind == "float":
        return [form.unknown if math.isnan(number) else repr(number) for number in plain]
    if column.kind == "bool":
        truth_words = {None: form.unknown, False: form.false, True: form.true}
        return [truth_words[truth] for truth in plain]
    return [form.unknown if entry is None else form.word(entry) for entry in plain]
