"""bands and receiver: files begun, checked, described, imported."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from spurplan.cli import main
from spurplan.cli.receiver import STAGES_TAKEN

RECEIVERS = Path(__file__).parents[1] / "receivers"


def output_of(capsys: Any, *words: str, status: int = 0) -> tuple[str, str]:
    assert main(list(words)) == status
    captured = capsys.readouterr()
    return captured.out, captured.err


def test_a_receiver_file_to_start_from_checks_and_answers(capsys: Any, tmp_path: Path) -> None:
    """What `receiver` writes is a file that works."""
    started = tmp_path / "mine.toml"
    words = [
        "receiver",
        "--cover",
        "11:30MHz",
        "--if",
        "1.6",
        "MHz",
        "--name",
        "Mine",
        "--output",
        str(started),
    ]
    taken = f"no --rf-stages given: {STAGES_TAKEN}"
    beside = f"wrote {started}\n{taken}\nnext: spurplan ranges {started}\n"
    assert output_of(capsys, *words) == ("", beside)
    out, _ = output_of(capsys, "receiver", str(started))
    assert out.startswith("Mine: no faults found.\n1: aerial -> 11-30 MHz, 2 circuits -> mixer")
    out, _ = output_of(capsys, "dial", str(started), "14.2")
    assert "Mine at 14.2 MHz" in out


@pytest.mark.parametrize("name", [path.name for path in sorted(RECEIVERS.glob("*.toml"))])
def test_a_checked_file_is_said_in_a_line_a_range(capsys: Any, name: str) -> None:
    """The way of a signal, and the defaults in use."""
    out, _ = output_of(capsys, "receiver", str(RECEIVERS / name))
    assert "no faults found" in out
    ranges = json.loads(output_of(capsys, "receiver", str(RECEIVERS / name), "--format", "json")[0])["ranges"]
    for record in ranges:
        assert f"{record['range']}: {record['says']}"[:40] in out.replace("\n  ", " ")


def test_a_damaged_file_gets_every_fault_and_prints_nothing(capsys: Any, tmp_path: Path) -> None:
    """Place, value, rule, remedy; on standard error."""
    text = (RECEIVERS / "boathouse.toml").read_text("utf-8")
    damaged = tmp_path / "damaged.toml"
    damaged.write_text(text.replace("injection", "injektion", 1).replace("name =", "name = 3 #", 1), "utf-8")
    out, err = output_of(capsys, "receiver", str(damaged), status=1)
    assert out == ""
    assert 'did you mean "injection"?' in err
    assert len(err.splitlines()) >= 2


def test_the_schema_is_json(capsys: Any) -> None:
    """For editors that complete and check as one types."""
    schema = json.loads(output_of(capsys, "receiver", "--schema")[0])
    assert "conversion" in schema["properties"]


def test_the_shipped_tables_are_listed_with_what_they_cover(capsys: Any) -> None:
    """One line a table; nothing a table does not cover looks covered."""
    out, _ = output_of(capsys, "bands")
    assert "broadcast.csv" in out
    assert "Nothing known" in out


def test_who_may_be_on_a_frequency(capsys: Any) -> None:
    """A frequency in two words, in a region."""
    out, _ = output_of(capsys, "bands", "--at", "7.1", "MHz", "--region", "2")
    assert out.startswith("On 7.1 MHz, by the tables:")
    assert "amateur" in out


def test_a_damaged_table_is_refused_with_its_rows(capsys: Any, tmp_path: Path) -> None:
    """File, row, column, value."""
    table = tmp_path / "mine.csv"
    table.write_text("freq_khz,service,label\n7100,amateur,fine\n7x,amateur,not fine\n", "utf-8")
    out, err = output_of(capsys, "bands", str(table), status=1)
    assert out == ""
    assert 'mine.csv, row 3, column freq_khz: "7x"' in err


def test_an_imported_list_is_a_band_table_and_tells_what_it_left_out(capsys: Any, tmp_path: Path) -> None:
    """Semicolons, decimal commas and other heads in; a checked table out."""
    foreign, ours = tmp_path / "list.txt", tmp_path / "ours.csv"
    foreign.write_text("QRG;Sender\n7,1;Eins\nspäter;Zwei\n", "utf-8")
    form = ["--unit", "MHz", "--delimiter", ";", "--decimal-comma"]
    columns = ["--column", "freq=QRG", "--column", "label=Sender", "--column", "service==broadcast"]
    out, err = output_of(capsys, "bands", "--import", str(foreign), *columns, *form, "--output", str(ours))
    assert out == ""
    assert "row 3, column QRG" in err
    assert err.endswith("1 taken, 1 left out of 2 rows\n")
    assert "1 band table, 1 row," in output_of(capsys, "bands", str(ours))[0]


@pytest.mark.parametrize(
    ("words", "said_so"),
    [
        (["receiver", "x.toml", "--schema"], "leave the other options out"),
        (["bands", "--unit", "MHz"], "--import"),
        (["bands", "--import", "x.csv", "--column", "freq"], "NAME=VALUE"),
        (["bands", "mine.csv", "--import", "x.csv"], "imported by itself"),
        (["bands", "--at", "7 MHz", "--import", "x.csv"], "imported by itself"),
        (["bands", "--import", "x.csv", "--region", "1"], "leave it out"),
        (["bands", "--utc", "1800"], "--at"),
        (["bands", "--level", "amateur=S9"], "--at"),
        (["receiver", "--schema", "--format", "csv"], "leave it out"),
        (["receiver", "--format", "json"], "leave it out"),
    ],
)
def test_options_that_do_not_go_together_are_wrong_options(
    capsys: Any, words: list[str], said_so: str
) -> None:
    """Nothing is ignored silently."""
    assert said_so in output_of(capsys, *words, status=2)[1]
