"""suspects --log: one cause of many lines, two, and none; what was not heard counts."""

from __future__ import annotations

from pathlib import Path

import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.suspects.evening import Evening
from tests.suspects.cases import receiver_of

ELSEWHERE = "low_khz,high_khz,service,label,level\n900000,900001,fixed,Elsewhere,\n"
HEAD = "time_utc,dial_khz,heard,strength,moves,pad_drop_db,trimmer,note\n"


def explained(folder: Path, lines: str, name: str = "Gatehouse", rows: str = "") -> Evening:
    log, air = folder / "evening.csv", folder / "air.csv"
    log.write_text(HEAD + lines, "utf-8")
    air.write_text(ELSEWHERE + rows, "utf-8")
    found: Evening = spurplan.evening(receiver_of(name), bands=air, log=log).findings
    return found


# an IF of 1600 kHz takes in whoever sends there, wherever the dial stands: it stays put and peaks far down
TAKES_IN = """\
1900,6100,am,S7,not,10,down,
1905,9700,am,S6,not,,down,
1910,14200,am,S7,not,9,,
1915,21300,am,S5,not,,down,
"""


def test_one_cause_of_all_lines(tmp_path: Path) -> None:
    """Four settings, one station on the IF of 1600 kHz: one cause, named once, that explains them all."""
    found = explained(tmp_path, TAKES_IN, "Orchard")
    [one] = found.common
    assert one.first.listen_hz == 1_600_000
    assert [found.noted[i].line for i in one.lines] == [2, 3, 4, 5]


def test_two_causes(tmp_path: Path) -> None:
    """A station on the IF and another on 15.2 MHz: on its own place and as the image of 15.2 - 3.2 MHz."""
    lines = TAKES_IN + "1920,15200,ssb,S9,with,10,same,\n1925,12000,ssb,S5,against,10,up,\n"
    found = explained(tmp_path, lines, "Orchard")
    assert {one.first.listen_hz for one in found.common} == {1_600_000, 15_200_000}
    by_hz = {one.first.listen_hz: [found.noted[i].line for i in one.lines] for one in found.common}
    assert by_hz[15_200_000] == [6, 7]


def test_no_common_cause(tmp_path: Path) -> None:
    """Three stations that each belong where they are heard have nothing in common."""
    lines = "1900,6100,am,S7,with,10,same,\n1905,9713,cw,S6,with,10,same,\n1910,14231,ssb,S7,with,9,same,\n"
    assert explained(tmp_path, lines).common == ()


def test_what_was_not_heard_speaks_against_a_cause(tmp_path: Path) -> None:
    """Where a station ought to be heard on its own frequency and was not, it explains the rest less well."""
    lines = "1900,15200,ssb,,with,,,\n1925,12000,ssb,,against,,up,\n"
    heard = explained(tmp_path, lines, "Orchard").common
    silent = explained(tmp_path, lines + "1930,15201,nothing,,,,,\n", "Orchard").common
    assert heard
    gains = silent[0].gains_bits if silent else 0.0
    assert gains < heard[0].gains_bits


def test_a_damaged_log_is_refused_whole(tmp_path: Path) -> None:
    """Every fault at its place: a setting on no range, a sound, a motion, a drop, an hour."""
    lines = "1900,99999,am,,,,,\n2500,6100,music,,,,,\n1900,6100,am,,sideways,ten,,\n"
    with pytest.raises(Refused) as refusal:
        explained(tmp_path, lines)
    places = [fault.place for fault in refusal.value.faults]
    for row, column in ((2, "dial_khz"), (3, "time_utc"), (3, "heard"), (4, "moves"), (4, "pad_drop_db")):
        assert any(f"row {row}" in place and column in place for place in places), (row, column, places)


@pytest.mark.parametrize(
    ("line", "column"),
    [
        ("1900,6100,am,loud,,,,", "strength"),
        ("1900,6100,am,,sideways,,,", "moves"),
        ("1900,6100,am,,,300,,", "pad_drop_db"),
        ("1900,6100,am,,,,left,", "trimmer"),
    ],
)
def test_a_cell_that_means_nothing_is_named_by_its_column(tmp_path: Path, line: str, column: str) -> None:
    """As the head of the file writes it, whatever the option of the same observation is called."""
    with pytest.raises(Refused) as refusal:
        explained(tmp_path, line + "\n")
    [fault] = refusal.value.faults
    assert fault.place == f"{tmp_path / 'evening.csv'}, row 2, column {column}"


def test_a_log_on_the_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The answer first; a frequency or other evidence beside a log is refused."""
    set_ = Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml"
    log = tmp_path / "evening.csv"
    log.write_text(HEAD + "1900,14060,cw,,not,10,down,\n1905,21060,cw,,not,10,down,\n", "utf-8")
    assert main(["suspects", str(set_), "--log", str(log)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Behind lines 2 and 3 is one station, on 465 kHz")
    assert main(["suspects", str(set_), "14 MHz", "--log", str(log)]) == 2
    assert main(["suspects", str(set_), "--log", str(log), "--moves", "with"]) == 2


def test_a_log_refines_the_levels_of_services(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Stronger than typical raises a service, not heard lowers one; the file is taken as --levels."""
    rows = "6000,6200,broadcast,49 m,\n14000,14350,amateur,20 m,\n"
    loud = "".join(f"19{n}0,60{n}0,am,S9+40,with,10,same,\n" for n in range(1, 5))
    quiet = "".join(f"20{n}0,140{n}0,nothing,,,,,\n" for n in range(1, 5))
    shifts = explained(tmp_path, loud + quiet, rows=rows).shifts()
    assert shifts["broadcast"][1] == shifts["amateur"][1] == 4
    assert shifts["broadcast"][0] > 3.0
    assert shifts["amateur"][0] < -1.0
    set_ = Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml"
    words = [
        "suspects",
        str(set_),
        "--log",
        str(tmp_path / "evening.csv"),
        "--bands",
        str(tmp_path / "air.csv"),
    ]
    assert main([*words, "--as-levels", "--output", str(tmp_path / "mine.csv")]) == 0
    assert main(["dial", str(set_), "6050 kHz", "--bands", str(tmp_path / "air.csv"), "--levels",
                 str(tmp_path / "mine.csv")]) == 0  # fmt: skip
    capsys.readouterr()
    assert main(["suspects", str(set_), "14 MHz", "--as-levels"]) == 2
