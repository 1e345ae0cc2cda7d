"""Somebody's list becomes a table; what is left out is told, row by row."""

from __future__ import annotations

from pathlib import Path

import pytest

from spurplan.errors import Refused
from spurplan.files import write_text
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.station_list import import_list

COLUMNS = {"freq": "kHz", "label": "Station", "hours": "UTC", "service": "=broadcast"}

# An invented list as a spreadsheet of some countries saves it.
LIST = """kHz;Station;UTC;Power
7100,5;Radio Lagoon;1800-2200;10

abc;Radio Bluff;1800-2200;10
7105;;1800-2200;10
7110;Radio Cape;at night;10
7115;Radio Dune
7120;=Radio Ebb;0000-2400;"10"
7125;"Radio Fen" x;0000-2400;10
0;;never;1
"""


def listed(folder: Path, text: str = LIST, encoding: str = "utf-8") -> Path:
    path = folder / "list.csv"
    path.write_bytes(text.encode(encoding))
    return path


def test_what_is_taken_is_a_table_of_ours(tmp_path: Path) -> None:
    got = import_list(listed(tmp_path), columns=COLUMNS, delimiter=";", decimal_comma=True)
    write_text(tmp_path / "ours.csv", got.text)
    b = read_bands(tmp_path / "ours.csv")
    assert b.low_hz.tolist() == [7_100_500, 7_120_000]
    assert [b.labels[code] for code in b.label] == ["Radio Lagoon", "=Radio Ebb"]
    assert [b.schedule_texts[code][0] for code in b.schedule] == ["1800-2200", "0000-2400"]
    assert b.services[b.service[0]] == "broadcast"
    assert got.taken == 2


def test_every_row_left_out_is_told_with_its_line_and_column_and_all_its_reasons(tmp_path: Path) -> None:
    path = listed(tmp_path)
    got = import_list(path, columns=COLUMNS, delimiter=";", decimal_comma=True)
    assert [fault.place.removeprefix(f"{path}, ") for fault in got.left_out] == [
        "row 4, column kHz",
        "row 5, column Station",
        "row 6, column UTC",
        "row 7",
        "row 9",
        "row 10, column kHz",
        "row 10, column Station",
        "row 10, column UTC",
    ]
    assert got.skipped == 6
    assert all(fault.remedy for fault in got.left_out)
    assert got.taken + got.skipped == 8  # every row of the list that is not blank


@pytest.mark.parametrize(
    ("delimiter", "unit", "text", "hz"),
    [
        (",", "kHz", "f,s\n7100.5,A\n", 7_100_500),
        ("tab", "MHz", "f\ts\n7.1005\tA\n", 7_100_500),
        ("|", "hz", "f|s\r\n7100500|A\r\n", 7_100_500),
    ],
)
def test_delimiters_and_units(tmp_path: Path, delimiter: str, unit: str, text: str, hz: int) -> None:
    columns = {"freq": "f", "label": "s", "service": "=amateur"}
    got = import_list(listed(tmp_path, text), columns=columns, unit=unit, delimiter=delimiter)
    write_text(tmp_path / "ours.csv", got.text)
    assert read_bands(tmp_path / "ours.csv").low_hz.tolist() == [hz]


def test_bands_and_all_our_columns(tmp_path: Path) -> None:
    text = "from,to,step,who,what,where,how,loud,wide\n531,558,9,Carriers,broadcast,1,am,S9+20,9\n"
    columns = {
        "low": "from", "high": "to", "raster": "step", "label": "who", "service": "what", "region": "where",
        "mode": "how", "level": "loud", "bandwidth": "wide",
    }  # fmt: skip
    write_text(tmp_path / "ours.csv", import_list(listed(tmp_path, text), columns=columns, unit="kHz").text)
    o = occupants_of(read_bands(tmp_path / "ours.csv"))
    assert o.low_hz.tolist() == [526_500, 535_500, 544_500, 553_500]
    assert set(o.level_dbm.tolist()) == {-53.0}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    columns = {"freq": "f", "label": "s", "service": "=amateur"}
    path = listed(tmp_path, "f,s\n7100,Süd\n", encoding)
    assert "7100,Süd,amateur" in import_list(path, columns=columns, encoding=encoding).text
    with pytest.raises(Refused, match=r"list\.csv: is not ascii; name another encoding"):
        import_list(path, columns=columns, encoding="ascii")


@pytest.mark.parametrize(
    ("unit", "hz"), [("kHz", [7_100_000, 7_100_000]), ("MHz", [7_100_000, 7_100_000_000])]
)
def test_seven_comma_one_hundred_is_what_lies_in_a_band(tmp_path: Path, unit: str, hz: list[int]) -> None:
    """In kHz the comma groups thousands, in MHz it is a decimal one; what was told is not found out."""
    path = listed(tmp_path, f"{unit};s\n7,100;A\n")
    got = import_list(path, columns={"label": "s", "service": "=amateur"})
    assert got.form.decimal_comma == (unit == "MHz")
    assert "decimal_comma" in got.form.inferred
    write_text(tmp_path / "ours.csv", got.text)
    assert read_bands(tmp_path / "ours.csv").low_hz.tolist() == hz[:1]
    got = import_list(path, columns={"label": "s", "service": "=amateur"}, unit=unit, decimal_comma=False)
    write_text(tmp_path / "ours.csv", got.text)
    assert read_bands(tmp_path / "ours.csv").low_hz.tolist() == hz[1:]


def test_grouped_thousands_beside_a_decimal_comma_are_taken(tmp_path: Path) -> None:
    path = listed(tmp_path, "f;s\n7.100,5;A\n7 100,5;B\n7100,5;C\n7,100.5;D\n")
    columns = {"freq": "f", "label": "s", "service": "=amateur"}
    got = import_list(path, columns=columns, delimiter=";", decimal_comma=True)
    assert (got.taken, got.skipped) == (3, 1)
    write_text(tmp_path / "ours.csv", got.text)
    assert set(read_bands(tmp_path / "ours.csv").low_hz.tolist()) == {7_100_500}


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (
            {"columns": {"low": "kHz", "label": "Station", "service": "=x"}},
            "has no column known by its head for frequency",
        ),
        (
            {"columns": {**COLUMNS, "labl": "Station"}},
            'columns: "labl" is not a name of ours; did you mean "label"?',
        ),
        (
            {"columns": {**COLUMNS, "label": "Staton"}},
            '"Staton" is not a column of it; did you mean "Station"?',
        ),
        ({"unit": "THz"}, 'unit: "THz" is not a unit of the list; give Hz, kHz, MHz or GHz'),
        ({"delimiter": ";;"}, 'delimiter: ";;" is not one character'),
        ({"delimiter": ","}, 'it has one column when split at ",": name another delimiter'),
        ({"encoding": "martian"}, 'encoding: "martian" is not known here'),
        ({"encoding": "base64"}, 'encoding: "base64" is not known here'),
    ],
)
def test_options_that_do_not_fit_are_refused(tmp_path: Path, options: dict[str, object], said: str) -> None:
    with pytest.raises(Refused) as refused:
        import_list(listed(tmp_path), **{"columns": COLUMNS, "delimiter": ";", **options})  # type: ignore[arg-type]
    assert said in str(refused.value)


def test_a_row_with_nothing_in_our_columns_is_left_out_and_told(tmp_path: Path) -> None:
    """Our own reader skips blank lines; a list's row must not vanish that way, nor be counted."""
    (tmp_path / "list.csv").write_text(
        "kc,kind,who,remark\n100,amateur,a,x\n,,,closed down\n200,amateur,b,\n"
    )
    found = import_list(tmp_path / "list.csv", columns={"freq": "kc", "service": "kind", "label": "who"})
    assert [str(fault) for fault in found.left_out] == [
        f"{tmp_path / 'list.csv'}, row 3: holds nothing in the columns named; "
        "fill it in, or name other columns"
    ]
    (tmp_path / "list.csv").write_text("kc,kind,who,remark\n,,,closed down\n")
    with pytest.raises(Refused, match="has no row that can be taken"):
        import_list(tmp_path / "list.csv", columns={"freq": "kc", "service": "kind", "label": "who"})


def test_a_nul_costs_its_row_alone(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_bytes(b"kc,kind,who\n\n100,amateur,a\n2\x0000,amateur,b\n")
    found = import_list(tmp_path / "list.csv", columns={"freq": "kc", "service": "kind", "label": "who"})
    assert found.taken == 1
    assert [str(fault) for fault in found.left_out] == [
        f"{tmp_path / 'list.csv'}, row 4: holds a NUL byte; take it out, or name another encoding"
    ]


def test_a_list_of_which_nothing_can_be_taken_is_refused(tmp_path: Path) -> None:
    columns = {"freq": "f", "label": "s", "service": "=amateur"}
    with pytest.raises(Refused, match="has no row that can be taken"):
        import_list(listed(tmp_path, "f,s\nx,A\n"), columns=columns)
    with pytest.raises(Refused, match="is empty"):
        import_list(listed(tmp_path, "\n\n"), columns=columns)


def test_a_list_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"none\.csv: does not exist"):
        import_list(tmp_path / "none.csv", columns=COLUMNS)
