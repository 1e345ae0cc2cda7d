"""Answers about the tables: what is in use, and what is on a frequency."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from spurplan.errors import Refused
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.bands_in_use import on_frequency, tables_in_use

TABLE = (
    "low_khz,high_khz,freq_khz,service,label,mode,hours,note,source,power\n"
    '7000,7200,,amateur,40 m,all,,,RR,\n,,7100,meteor,Echo,,1800-2200,loud,"own log, from memory",5\n\n'
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    (tmp_path / "north.csv").write_text(TABLE)
    return tmp_path / "north.csv"


def test_the_tables_in_use_are_told_with_all_that_is_known_of_them(path: Path) -> None:
    answer = tables_in_use(path)
    (record,) = answer.tables["tables"].records()
    assert record == {
        "table": "north.csv",
        "rows": 2,
        "occupants": 2,
        "low_hz": 7_000_000,
        "high_hz": 7_200_000,
        "services": ["amateur", "meteor"],
        "document": None,
        "edition": None,
        "section": None,
        "date": None,
        "changed": None,
        "left_out": None,
        "from_memory": 1,
        "state": "no record",
        "other_columns": ["power"],
        "blank_lines": 1,
    }
    assert 'service "meteor" is not among the known ones' in answer.assumptions
    assert "the tables reach from 7 MHz to 7.2 MHz" in answer.assumptions
    assert "local law" in answer.cautions[0]


def test_gaps_are_told(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("low_khz,high_khz,service,label\n1,2,ism,a\n5,6,ism,b\n")
    assert tables_in_use(tmp_path / "a.csv").gaps.records() == [{"low_hz": 2_001, "high_hz": 4_999}]


def test_a_record_beside_a_table_of_ones_own_is_read(path: Path) -> None:
    beside = path.with_name("north.source.toml")
    beside.write_text(
        'document = "Own log"\nedition = "first"\nsection = "all"\ndate = "2024"\nchanged = "nothing"\n'
        'rows = 2\nfrom_memory = [3]\nsha256 = "0"\n'
    )
    (record,) = tables_in_use(path).tables["tables"].records()
    assert (record["document"], record["from_memory"]) == ("Own log", 1)
    assert record["state"] == "edited since its record was written"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("document = ", "north.source.toml: is not TOML"),
        ('dokument = "x"', 'north.source.toml, dokument: unknown key; did you mean "document"?'),
        ('edition = "x"', "north.source.toml, document: is missing"),
        ("document = 1", 'north.source.toml, document: "1" is not text'),
        ("rows = true", 'north.source.toml, rows: "true" is not a whole number'),
        ('from_memory = ["2"]', 'from_memory[1]: "2" is not a whole number'),
        ("from_memory = " + "[" * 5000 + "]" * 5000, "north.source.toml: is nested too deep"),
        ("rows = " + "9" * 6000, "north.source.toml: holds a number no computer takes"),
    ],
)
def test_a_damaged_record_is_refused(path: Path, text: str, said: str) -> None:
    path.with_name("north.source.toml").write_text(text)
    with pytest.raises(Refused) as refused:
        tables_in_use(path)
    assert said in str(refused.value)


def test_what_is_on_a_frequency(path: Path) -> None:
    answer = on_frequency("7100 kHz", bands=path)
    assert answer.rows["label"].tolist() == ["40 m", "Echo"]
    echo = answer.rows.records()[1]
    assert echo == {
        "label": "Echo",
        "service": "meteor",
        "mode": None,
        "region": None,
        "low_hz": 7_100_000,
        "high_hz": 7_100_000,
        "level_dbm": -33.0,
        "level_from": "assumed",
        "hours": "1800-2200",
        "days": None,
        "slot": None,
        "table": "north.csv",
        "row": 3,
        "note": "loud",
        "source": "own log, from memory",
    }
    assert on_frequency(7_100_000, bands=path, utc="0600").rows["label"].tolist() == ["40 m"]
    assert answer.settings["at_hz"] == 7_100_000


def test_nothing_there_is_not_the_same_as_nothing_known(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(
        "low_khz,high_khz,freq_khz,service,label,hours\n100,200,,ism,a,\n,,300,ism,b,1800-1900\n"
    )
    beyond = on_frequency("400 kHz", bands=tmp_path / "a.csv").assumptions
    between = on_frequency("250 kHz", bands=tmp_path / "a.csv").assumptions
    silent = on_frequency("300 kHz", bands=tmp_path / "a.csv", utc="0600").assumptions
    assert beyond == ("no row of the tables covers 400 kHz: nothing is known of it",)
    assert between == ("no row of the tables covers 250 kHz: nothing is known of it",)
    assert silent == ("no row of the tables has anybody on 300 kHz at that time",)
    (tmp_path / "b.csv").write_text("low_khz,high_khz,raster_khz,service,label\n531,1602,9,broadcast,x\n")
    beside = on_frequency("535 kHz", bands=tmp_path / "b.csv").assumptions
    assert beside == ("no row of the tables has anybody on 535 kHz",), "no time was given"


@pytest.mark.parametrize("frequency", [7.1, True, "99999", 0, 30_000_000_001, None])
def test_other_frequencies_are_refused(path: Path, frequency: Any) -> None:
    with pytest.raises(Refused, match="frequency: "):
        on_frequency(frequency, bands=path)


def test_answers_are_plain_json() -> None:
    for answer in (
        tables_in_use(),
        on_frequency("14.1 MHz", utc="18:00:20"),
        tables_in_use(read_bands(), region=2),
    ):
        assert json.loads(json.dumps(answer.to_dict(), allow_nan=False)) == answer.to_dict()


def test_answers_make_frames() -> None:
    frame = on_frequency("7.1 MHz", region=1).to_frame()
    assert frame["level_dbm"].max() == -53.0
    assert len(tables_in_use().to_frame("gaps").columns) == 2
