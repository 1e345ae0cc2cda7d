"""JSON and CSV: the same records, nothing lost, nothing a program or a terminal trips over."""

from __future__ import annotations

import csv
import io
import json

import numpy as np

from spurplan.columns import Answer, Coded, Column, Table
from spurplan.csvtext import csv_text
from spurplan.reporting import data
from spurplan.responses.intrusion_table import INTRUSION_COLUMNS
from tests.answers import HOSTILE, answer, row, table

ROWS = [
    row(),
    row(label=HOSTILE, rejection_db=np.nan, set_dial_hz=465_000),
    row(label='=A1,"x"\nb', inverted=False),
]


def test_json_is_exactly_the_dictionary_of_the_answer() -> None:
    """One definition of the fields: what Python gives is what JSON gives."""
    made = answer(*ROWS)
    assert json.loads("".join(data.json_pieces(made))) == made.to_dict()


def test_json_of_an_empty_answer_keeps_its_tables() -> None:
    """No record is an empty list, not a missing field."""
    assert json.loads("".join(data.json_pieces(answer())))["intrusions"] == []


def test_json_writes_the_unknown_as_null_and_never_nan() -> None:
    """NaN is no JSON."""
    written = "".join(data.json_pieces(answer(*ROWS)))
    assert "NaN" not in written
    assert json.loads(written)["intrusions"][1]["rejection_db"] is None


def test_json_holds_no_character_that_a_terminal_acts_on() -> None:
    """Controls and direction marks are escapes that mean the same; letters stay letters."""
    written = "".join(data.json_pieces(answer(*ROWS)))
    assert not set(written) & set("\x1b\x07\x9b\u202e")
    assert "Söder" in written


def test_json_of_many_chunks_is_one_list(monkeypatch) -> None:  # type: ignore[no-untyped-def]
    """Chunks meet without a gap or a comma too many."""
    monkeypatch.setattr(data, "CHUNK", 2)
    made = answer(*(row(rf_low_hz=n) for n in range(1, 8)))
    assert [r["rf_low_hz"] for r in json.loads("".join(data.json_pieces(made)))["intrusions"]] == list(
        range(1, 8)
    )


def test_csv_of_many_chunks_is_one_table(monkeypatch) -> None:  # type: ignore[no-untyped-def]
    """Chunks meet, and each row is where it was."""
    monkeypatch.setattr(data, "CHUNK", 2)
    made = table([row(rf_low_hz=n, label=f"Station {n % 3}") for n in range(1, 8)])
    read = list(csv.DictReader(io.StringIO("".join(data.csv_pieces(made)), newline="")))
    assert [(int(r["rf_low_hz"]), r["label"]) for r in read] == [(n, f"Station {n % 3}") for n in range(1, 8)]


def test_csv_is_what_the_one_writer_of_the_project_writes() -> None:
    """Quotes, guards and line ends come from `csvtext`, cell by cell as for whole rows."""
    made = table(ROWS)
    cells = [[json.dumps(v) if isinstance(v, list | bool) else v for v in r.values()] for r in made.records()]
    assert "".join(data.csv_pieces(made)) == csv_text([column.name for column in made.columns], cells)


def test_csv_has_every_field_of_the_first_table() -> None:
    """The head is the fields' names; unknown is empty; a list is JSON text."""
    read = list(csv.DictReader(io.StringIO("".join(data.csv_pieces(table(ROWS))), newline="")))
    assert list(read[0]) == [column.name for column in INTRUSION_COLUMNS]
    assert read[0]["set_dial_hz"] == ""
    assert read[1]["rejection_db"] == ""
    assert read[1]["set_dial_hz"] == "465000"
    assert json.loads(read[0]["steps"]) == [-1, 1]
    assert (read[0]["inverted"], read[2]["inverted"]) == ("true", "false")
    assert float(read[0]["margin_db"]) == 40.25


def test_an_unknown_yes_or_no_stays_unknown() -> None:
    """Nobody said no: null in JSON, an empty cell in CSV."""
    column = Column("through_ceiling", "bool", "", True, "", "whether it gets past a filter")
    truths = Table(
        "birdies",
        (column, INTRUSION_COLUMNS[0]),
        {
            "through_ceiling": np.array([True, None, False], dtype=object),
            "range": Coded(np.zeros(3, dtype=np.int64), ["4"]),
        },
    )
    made = Answer("set", {}, (), (), {"birdies": truths})
    assert json.loads("".join(data.json_pieces(made))) == made.to_dict()
    assert "".join(data.csv_pieces(truths)).splitlines()[1:] == ["true,4", ",4", "false,4"]


def test_csv_text_can_not_become_a_formula() -> None:
    """A cell that a spreadsheet would calculate gets a leading apostrophe; numbers get none."""
    read = list(csv.DictReader(io.StringIO("".join(data.csv_pieces(table(ROWS))), newline="")))
    assert read[2]["label"] == '\'=A1,"x"\nb'
    assert read[0]["antenna_dbm"] == "-33.0"
