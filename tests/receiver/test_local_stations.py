"""Stations nearby, named without a table: on the air, as loud as they are said to be."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.writing import receiver_toml

SET = Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml"
# 465 kHz above the top range's dial at 28.0 MHz lies the oscillator, and its image 930 kHz above the dial
IMAGE = "28.93MHz=-20dBm,Harbour mast"


def heard(*local: str, **options: Any) -> list[dict[str, Any]]:
    answer = spurplan.dial(str(SET), frequency="28 MHz", local=list(local), **options)
    return [row for row in answer.intrusions.records() if row["table"] == "[[local]]"]


def test_a_local_station_is_heard_as_an_image() -> None:
    """By its name, its level as given, certain to be on the air."""
    (row,) = heard(IMAGE)
    assert (row["label"], row["response"], row["level_from"]) == ("Harbour mast", "image", "table")
    assert row["antenna_dbm"] == -20.0
    assert row["chance"] == pytest.approx(1.0, abs=1e-3)


def test_the_same_level_in_s_units() -> None:
    """S9 is -73 dBm on short wave: 53 dB over it are -20 dBm."""
    (said,) = heard("28.93MHz=S9+53,Harbour mast")
    assert said["antenna_dbm"] == -20.0


def test_a_station_of_a_table_with_a_level_of_its_own_is_less_certain(tmp_path: Path) -> None:
    """A row of a table is on nine times in ten; who names a local knows that it is on."""
    table = tmp_path / "one.csv"
    table.write_text("freq_khz,service,label,level\n28930,broadcast,Harbour mast,-20 dBm\n", encoding="utf-8")
    answer = spurplan.dial(str(SET), bands=str(table), frequency="28 MHz")
    (listed,) = [row for row in answer.intrusions.records() if row["label"] == "Harbour mast"]
    (local,) = heard(IMAGE)
    assert listed["chance"] < local["chance"]
    assert listed["heard_dbm"] == pytest.approx(local["heard_dbm"])


def test_it_may_stand_in_the_receiver_file_and_goes_into_a_saved_one(tmp_path: Path) -> None:
    """The two ways of naming it are one; a file written and read back says it still."""
    text = SET.read_text(encoding="utf-8") + (
        '\n[[local]]\nfrequency = "28.93 MHz"\nlevel = "-20 dBm"\n'
        'label = "Harbour mast"\nhours = "0600-2200"\n'
    )
    receiver = parse_receiver(text, "set.toml")
    named = spurplan.dial(receiver, frequency="28 MHz").intrusions
    asked = spurplan.dial(str(SET), frequency="28 MHz", local=[IMAGE]).intrusions
    assert named["label"].tolist() == asked["label"].tolist()
    np.testing.assert_array_equal(named["margin_db"], asked["margin_db"])
    again = parse_receiver(receiver_toml(receiver, str(tmp_path / "again.toml")), "again.toml")
    assert again.local == receiver.local


def test_it_is_silent_out_of_its_hours() -> None:
    """As any row of a table with hours."""
    from spurplan.receiver.description import Local
    from spurplan.receiver.file.reading import read_receiver

    mast = Local(frequency_hz=28_930_000, level="-20 dBm", label="Harbour mast", hours="0600-2200")
    for utc, count in (("1200", 1), ("2300", 0)):
        answer = spurplan.dial(read_receiver(SET), frequency="28 MHz", local=[mast], utc=utc)
        assert answer.intrusions["label"].tolist().count("Harbour mast") == count


def test_beyond_the_tables_nothing_else_gets_known() -> None:
    """A station at 145 MHz says nothing of what lies between the tables' end and it."""
    plain = spurplan.ranges(str(SET))
    beside = spurplan.ranges(str(SET), local=["145MHz=-30dBm,repeater"])
    assert plain.ranges["unknown_share"].tolist() == beside.ranges["unknown_share"].tolist()


def test_it_only_takes_away_from_what_is_usable() -> None:
    """One station more never makes a range better."""
    plain, beside = (spurplan.ranges(str(SET), local=local).ranges for local in ([], [IMAGE]))
    assert (beside["usable_share"] <= plain["usable_share"] + 1e-9).all()
    assert beside["intruders"][3] > plain["intruders"][3]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("28.93MHz", r'--local: "28\.93MHz" is no station with its level; write it as 1278kHz=-13dBm,name'),
        ("28.93MHz=loud,mast", r'--local: "loud" is not a level'),
        ("28.93MHz=-20dBm,", "--local: .*is no station with its level"),
    ],
)
def test_what_names_no_station_is_refused(text: str, said: str) -> None:
    """With the value, the rule and the remedy."""
    with pytest.raises(Refused, match=said):
        spurplan.dial(str(SET), frequency="28 MHz", local=[text])


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('service = "broadcst"', r"local\[1\]\.service.*broadcst.*did you mean"),
        ('mode = "morse"', r"local\[1\]\.mode"),
        ('hours = "25-26"', r"local\[1\]\.hours"),
    ],
)
def test_words_of_the_file_that_no_table_knows_are_refused(line: str, said: str) -> None:
    """A slip is never read past."""
    text = SET.read_text(encoding="utf-8") + f'\n[[local]]\nfrequency = "1 MHz"\nlevel = "S9"\n{line}\n'
    with pytest.raises(Refused, match=said):
        spurplan.dial(parse_receiver(text, "set.toml"), frequency="28 MHz")


def test_the_command_line_takes_several(capsys: Any) -> None:
    """And JSON says what was asked."""
    words = ["dial", str(SET), "28 MHz", "--local", IMAGE, "--local", "1278kHz=-13dBm,Town mast"]
    assert main([*words, "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["settings"]["local"] == ["28.93 MHz=-20dBm,Harbour mast", "1278 kHz=-13dBm,Town mast"]
    assert any("2 local stations are on the air" in line for line in found["assumptions"])
