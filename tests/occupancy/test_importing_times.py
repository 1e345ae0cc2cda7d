"""A list whose hours stand in two columns, and what is said of columns that nothing is taken from."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.station_list import import_list

BROADCAST = {"service": "=broadcast"}


def listed(folder: Path, heads: str, *rows: str) -> Path:
    path = folder / "list.csv"
    path.write_text("\n".join([heads, *rows]) + "\n", "utf-8")
    return path


def hours(text: str) -> list[str]:
    return [row["hours"] for row in csv.DictReader(io.StringIO(text))]


@pytest.mark.parametrize(
    "heads",
    [
        "Frequenz (kHz);Sender;Beginn (UTC);Ende (UTC)", "kHz;Station;Start;Stop",
        "kHz;Station;From UTC;To UTC",
        "kHz;Nom;Début;Fin", "kHz;Emisora;Hora inicio;Hora fin", "kHz;Station;Von (UTC);Bis (UTC)",
        "kHz;Station;Time on;Time off", "kHz;Station;Begin GMT;End GMT",
    ],
)  # fmt: skip
def test_start_and_end_are_joined_whatever_they_are_called(tmp_path: Path, heads: str) -> None:
    """In the usual languages; every way of writing a time, a spreadsheet's lost zeros among them."""
    rows = ["5955;Lagoon;1800;1900", "5980;Bluff;07:00;22:00", "6005;Cape;700;0", "6070;Dune;;"]
    made = import_list(listed(tmp_path, heads, *rows), columns=BROADCAST)
    assert (made.taken, made.skipped) == (4, 0)
    assert hours(made.text) == ["1800-1900", "0700-2200", "0700-0000", ""]
    assert made.not_taken == ()
    ours = tmp_path / "ours.csv"
    ours.write_text(made.text, "utf-8")
    assert len(read_bands(ours)) == 4


def test_from_and_to_of_frequencies_are_no_times(tmp_path: Path) -> None:
    """Begin without a time zone is where a band begins, as before."""
    made = import_list(listed(tmp_path, "Begin kHz;High kHz;Name", "5900;6200;49 m"), columns=BROADCAST)
    assert {"low", "high"} <= set(made.form.columns)
    assert "hours" not in made.text.splitlines()[0]


def test_they_can_be_told_and_one_end_alone_is_refused(tmp_path: Path) -> None:
    path = listed(tmp_path, "kHz;Station;A;B", "5955;Lagoon;1800;1900")
    told = import_list(path, columns={**BROADCAST, "start": "A", "end": "B"})
    assert hours(told.text) == ["1800-1900"]
    for columns, rule in (
        ({"start": "A"}, "give start and end"),
        ({"hours": "A", "end": "B"}, "give hours, or"),
    ):
        with pytest.raises(Refused, match=rule):
            import_list(path, columns={**BROADCAST, **columns})


def test_half_a_span_leaves_its_row_out_in_the_lists_own_words(tmp_path: Path) -> None:
    """Unknown is not all day: a start without an end is told, and the row is not on."""
    rows = ["5955;Lagoon;1800;", "5980;Bluff;late;2200", "6005;Cape;0800;1700"]
    made = import_list(listed(tmp_path, "kHz;Station;Start;End", *rows), columns=BROADCAST)
    assert (made.taken, made.skipped) == (1, 2)
    assert all("column Start and End" in str(fault) for fault in made.left_out)


def test_what_is_not_taken_is_named_and_part_of_a_site_is_not_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A power without a place is read by nobody: it is not written, and the reader leaves no column alone."""
    path, ours = listed(tmp_path, "kHz;Station;Country;kW", "5955;Lagoon;Nowhere;10"), tmp_path / "ours.csv"
    words = ["bands", "--import", str(path), "--column", "service==broadcast", "--column", "power_kw=kW"]
    assert main([*words, "--output", str(ours)]) == 0
    said = capsys.readouterr().err
    assert "not taken: Country, kW (kW: a site is lat, lon and power_kw together)" in said
    assert "start=THEIRS and end=THEIRS" in said
    assert main(["bands", str(ours), "--assumptions"]) == 0
    assert "left alone" not in capsys.readouterr().out


def test_faults_of_one_kind_are_one_line_with_their_rows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Twenty rows with a time where a span should be: one fault, the rows, and how many."""
    rows = [f"{5955 + 5 * n};Station {n};18{n:02d};x" for n in range(20)]
    path = listed(tmp_path, "kHz;Station;A;B", *rows)
    assert (
        main(["bands", "--import", str(path), "--column", "service==broadcast", "--column", "hours=A"]) == 1
    )
    said = capsys.readouterr().err.splitlines()
    (fault,) = [line for line in said if "is not a span of hours" in line]
    assert "rows 2-21, column A" in fault
    assert "and 19 more so" in fault


def test_a_list_in_another_form_is_pointed_to_the_import(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="bands --import FILE"):
        read_bands(listed(tmp_path, "kHz;Station", "5955;Lagoon"))


def test_an_imported_list_that_people_edit_is_not_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As a starter and a sheet: another import over it wants --overwrite."""
    path, ours = listed(tmp_path, "kHz;Station", "5955;Lagoon"), tmp_path / "ours.csv"
    words = ["bands", "--import", str(path), "--column", "service==broadcast", "--output", str(ours)]
    assert main(words) == 0
    ours.write_text("edited by hand", "utf-8")
    assert main(words) == 1
    assert "give --overwrite" in capsys.readouterr().err
    assert ours.read_text("utf-8") == "edited by hand"
    assert main([*words, "--overwrite"]) == 0
    assert "Lagoon" in ours.read_text("utf-8")
