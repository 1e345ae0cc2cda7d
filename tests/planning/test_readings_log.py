"""Filled sheets that are damaged: every fault named, and nothing fitted from half a file."""

from __future__ import annotations

import contextlib
import random
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.bench.log import read_log
from tests.bench_logs import Row, filled, own_prediction, rows_of, text_of, write

SETS = Path(__file__).parents[1] / "receivers"
BOATHOUSE = SETS / "boathouse.toml"


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    """The sheet of range 4, filled with the description's own predictions."""
    return filled(rows_of(spurplan.bench_sheet(BOATHOUSE, range="4")), own_prediction)


def refused(path: Path) -> Refused:
    with pytest.raises(Refused) as caught:
        spurplan.readings(BOATHOUSE, log=path)
    return caught.value


def at(rows: list[Row], number_: int, /, **cells: str) -> list[Row]:
    """Return the lines with cells of one changed."""
    return [{**row, **cells} if row["number"] == str(number_) else dict(row) for row in rows]


DAMAGES = [
    (3, "reading", "44,5", "decimals with a point, as 44.5"),
    (3, "reading", "4.45E+01", "is not a number"),
    (3, "reading", "loud", "is not a reading"),
    (3, "reading", "20280000", "outside any sense"),
    (3, "reading", "-44 dB", "where 37 dB above it are expected"),
    (3, "reading", "nan", "is not a reading"),
    (3, "reading", ">", "has no number"),
    (3, "reading", "-63 dBm", "the wanted signal of that setting has none"),
    (3, "reading", "S5+10", "adds decibels to less than S9"),
    (1, "reading", "44 dB", "is no level"),
    (2, "reading", "41.9 MHz", "another range"),
    (2, "reading", "11.93", ""),
    (2, "reading", "about 12", "is not a frequency"),
    (3, "number", "3.0", "is not a whole number"),
    (4, "number", "3", "stands in row 4 already"),
    (3, "number", "0", "is no number of a line"),
    (3, "number", "٣", "is not a whole number"),
    (3, "range", "5", "is not a range of this set"),
    (3, "dial_hz", "1.19E+07", "a spreadsheet rounded it"),
    (3, "dial_hz", "9000000", 'outside range "4"'),
    (3, "dial_hz", "", "is not a whole number"),
    (3, "generator_hz", "12980000", "is not where this response lies"),
    (3, "generator_hz", "0", "is no frequency"),
    (3, "response", "half-IF", "is not what its steps say, image"),
    (3, "steps", "[[-1, 1]", "is not a route"),
    (3, "steps", "[[-1, 0]]", "is not a route"),
    (3, "steps", "[[-1, 1], [1, 1]]", "is not a route through 1 mixer"),
    (3, "steps", "[[true, 1]]", "is not a route"),
    (3, "steps", "[" * 4000, "is not a route"),
    (3, "wanted_dbm", "-100 dBm", "is not a number"),
    (3, "wanted_dbm", "900", "outside any sense"),
]


@pytest.mark.parametrize(("number", "column", "value", "said"), DAMAGES)
def test_one_damaged_cell_refuses_the_file(
    rows: list[Row], tmp_path: Path, number: int, column: str, value: str, said: str
) -> None:
    """Place, value, rule, remedy; and no figure of the other forty readings."""
    path = write(tmp_path / "log.csv", at(rows, number, **{column: value}))
    if not said:
        assert len(spurplan.readings(BOATHOUSE, log=path).fitted)
        return
    error = refused(path)
    assert said in str(error)
    line = next(n for n, row in enumerate(rows, start=2) if row["number"] == str(number))
    assert any(f"log.csv, row {line}, column {column}" in str(fault) for fault in error.faults)


def test_every_fault_is_named_at_once(rows: list[Row], tmp_path: Path) -> None:
    """All damages of different lines together give a fault each, in the order of the lines."""
    damaged = at(at(at(rows, 3, reading="44,5"), 5, range="9"), 7, generator_hz="1")
    error = refused(write(tmp_path / "log.csv", damaged))
    assert [fault.place.split(", ")[1] for fault in error.faults] == ["row 4", "row 6", "row 8"]


def test_the_first_twenty_faults_and_their_number(rows: list[Row], tmp_path: Path) -> None:
    """Forty lines of another set are told as twenty and the count."""
    sheet = filled(rows_of(spurplan.bench_sheet(BOATHOUSE)), own_prediction)
    error = refused(write(tmp_path / "log.csv", [{**row, "reading": "x"} for row in sheet]))
    assert len(error.faults) == 20
    assert error.total > 50
    assert "faults in all, the first 20 shown" in str(error)


def test_the_sheet_of_another_set_is_refused(tmp_path: Path) -> None:
    """Two mixers, or another IF: the routes or the frequencies do not fit."""
    double = filled(rows_of(spurplan.bench_sheet(SETS / "lockkeeper.toml")), own_prediction)
    error = refused(write(tmp_path / "log.csv", double))
    assert "is not a range of this set; known here: 1, 2, 3, 4" in str(error)
    text = BOATHOUSE.read_text("utf-8").replace('if = "465 kHz"', 'if = "455 kHz"')
    other = tmp_path / "set.toml"
    other.write_text(text, "utf-8")
    rows_ = filled(rows_of(spurplan.bench_sheet(other, range="3")), own_prediction)
    assert "was the sheet made for another set" in str(refused(write(tmp_path / "log.csv", rows_)))


def test_a_spreadsheet_in_between_is_told_what_to_do(rows: list[Row], tmp_path: Path) -> None:
    """Semicolons, tabs and UTF-16 are refused with a remedy; blank lines and a byte-order mark are taken."""
    text = text_of(rows)
    path = tmp_path / "log.csv"
    path.write_text(text.replace(",", ";"), "utf-8")
    assert "separated by semicolons; save it separated by commas" in str(refused(path))
    path.write_text(text, "utf-16")
    assert "UTF-16" in str(refused(path))
    lines = text.splitlines()
    empty = "," * (len(rows[0]) - 1)
    path.write_bytes(
        b"\xef\xbb\xbf" + "\r\n".join([lines[0], "", *lines[1:4], empty, *lines[4:], ""]).encode()
    )
    assert len(spurplan.readings(BOATHOUSE, log=path).residuals) == len(read_log(path, _set()).levels)


def test_columns_may_be_added_moved_or_dropped_as_far_as_they_are_not_needed(
    rows: list[Row], tmp_path: Path
) -> None:
    """Only what ties a reading to its route is needed; a missing one is named."""
    needed = ("reading", "number", "range", "dial_hz", "response", "generator_hz", "wanted_dbm", "steps")
    few = [{"operator": "Ida", **{name: row[name] for name in needed}} for row in rows]
    assert len(spurplan.readings(BOATHOUSE, log=write(tmp_path / "log.csv", few)).residuals) > 10
    less = [{name: cell for name, cell in row.items() if name != "steps"} for row in rows]
    assert "has no column steps" in str(refused(write(tmp_path / "log.csv", less)))


def test_a_sheet_with_nothing_written_is_refused(rows: list[Row], tmp_path: Path) -> None:
    """There is nothing to fit; the remedy says which column to fill."""
    path = write(tmp_path / "log.csv", [{**row, "reading": ""} for row in rows])
    assert "has no readings; fill in its column reading" in str(refused(path))


def test_readings_are_taken_in_decibels_levels_and_s_units(rows: list[Row], tmp_path: Path) -> None:
    """The same reading in each form: dB, dBm, EMF, and S units by the generator's own frequency."""
    image, wanted = 3, 1
    # S9 is -73 dBm up to 30 MHz. IARU Region 1 Technical Recommendation R.1
    for reading, reference in (
        ("37", ""), ("37 dB", ""), ("-63 dBm", "-100 dBm"), ("S9+10", "-100 dBm"),
        ("316.6 uV EMF", "4.472 uV EMF"), ("158.3 uV PD", "2.236 uV PD"),
    ):  # fmt: skip
        log = at(at(rows, image, reading=reading), wanted, reading=reference)
        taken = read_log(write(tmp_path / "log.csv", log), _set())
        [found] = [level for level in taken.levels if level.number == image]
        assert found.db == pytest.approx(37.0, abs=0.01)
        assert found.reference_dbm == pytest.approx(-100.0, abs=0.01)
    taken = read_log(write(tmp_path / "log.csv", at(rows, image, reading=">37 dB")), _set())
    assert [level.beyond for level in taken.levels if level.number == image] == [True]


def test_the_pointer_is_read_against_the_frequency(rows: list[Row], tmp_path: Path) -> None:
    """11.97 MHz with the generator on 11.95 is 20 kHz too much; a bare number is taken where it fits."""
    for text, offset in (
        ("11.97 MHz", 20_000),
        ("11970 kHz", 20_000),
        ("11.93", -20_000),
        ("11930", -20_000),
    ):
        taken = read_log(write(tmp_path / "log.csv", at(rows, 2, reading=text)), _set())
        assert [p.offset_hz for p in taken.pointers if p.number == 2] == [offset]


def test_a_refusal_leaves_standard_output_empty_and_saves_nothing(
    rows: list[Row], tmp_path: Path, capsys: Any
) -> None:
    """Status 1, the faults on standard error, no receiver file."""
    path = write(tmp_path / "log.csv", at(rows, 3, reading="44,5"))
    saved = tmp_path / "new.toml"
    assert main(["readings", str(BOATHOUSE), str(path), "--save-receiver", str(saved)]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "44,5" in err
    assert not saved.exists()


def test_no_damage_gives_anything_but_a_refusal(rows: list[Row], tmp_path: Path) -> None:
    """Bytes changed, cut or doubled at random: an answer, or the project's own error."""
    data = text_of(rows).encode()
    rng = random.Random(8)
    path, receiver = tmp_path / "log.csv", _set()
    for _ in range(300):
        damaged = bytearray(data)
        for _ in range(rng.randint(1, 4)):
            where = rng.randrange(len(damaged))
            kind = rng.randrange(3)
            if kind == 0:
                damaged[where] = rng.choice(b'0123456789",;-.>S[]\n\r\x00\xff')
            elif kind == 1:
                del damaged[where : where + rng.randint(1, 30)]
            else:
                damaged[where:where] = damaged[where : where + rng.randint(1, 30)]
        path.write_bytes(bytes(damaged))
        # any other error fails the test
        with contextlib.suppress(Refused):
            read_log(path, receiver)


def _set() -> Any:
    return spurplan.read_receiver(BOATHOUSE)
