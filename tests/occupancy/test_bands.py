"""Band tables: the three row forms, the columns, the faults, several files in one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.errors import BadValue, Refused
from spurplan.occupancy.band_rows import MOST_CARRIERS, MOST_SERVICES, SERVICES, Parsed
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.units import checked_hz, decimal_to_integer, headed_hz


def table(folder: Path, text: str, name: str = "north.csv") -> Path:
    """Write a table and return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def bands(folder: Path, text: str) -> Bands:
    """Return the bands of one table."""
    return read_bands(table(folder, text))


def refusal(folder: Path, text: str) -> str:
    """Return what is said of a damaged table."""
    with pytest.raises(Refused) as refused:
        bands(folder, text)
    return str(refused.value)


def row_fault(folder: Path, **cells: str) -> str:
    """Return what is said of a table with one row, sound but for these cells."""
    row = {"service": "broadcast", "label": "Radio Lagoon", **cells}
    quoted = ",".join('"' + cell.replace('"', '""') + '"' for cell in row.values())
    return refusal(folder, ",".join(row) + "\n" + quoted + "\n")


def test_three_row_forms(tmp_path: Path) -> None:
    """A band, a frequency, and carriers on a raster, in one table."""
    b = bands(
        tmp_path,
        "low_khz,high_khz,freq_khz,raster_khz,service,label\n"
        "7000,7200,,,amateur,40 m\n,,7100.5,,broadcast,Radio Lagoon\n531,1602,,9,broadcast,Carrier\n",
    )
    assert b.low_hz.tolist() == [7_000_000, 7_100_500, 531_000]
    assert b.high_hz.tolist() == [7_200_000, 7_100_500, 1_602_000]
    assert b.raster_hz.tolist() == [0, 0, 9_000]
    assert b.carriers().tolist() == [1, 1, 120]
    assert b.row.tolist() == [2, 3, 4]


def test_units(tmp_path: Path) -> None:
    """Each quantity may have its own unit."""
    b = bands(
        tmp_path,
        "low_mhz,high_hz,raster_khz,bandwidth_hz,service,label\n7,7200000,5,2700,amateur,x\n",
    )
    assert (b.low_hz[0], b.high_hz[0], b.raster_hz[0], b.bandwidth_hz[0]) == (
        7_000_000,
        7_200_000,
        5_000,
        2_700,
    )


def test_every_column_is_kept(tmp_path: Path) -> None:
    b = bands(
        tmp_path,
        "freq_khz,service,label,region,mode,level,hours,days,slot,bandwidth_khz,note,source\n"
        '7100,Broadcast,"Radio Lagoon, east",3;1,AM,S9+20,1800-2200,mon-fri,10/180+20,9,\'=loud,own log\n',
    )
    assert b.services[b.service[0]] == "broadcast"
    assert b.labels[b.label[0]] == "Radio Lagoon, east"
    assert b.regions[b.region[0]] == "1;3"
    assert b.modes[b.mode[0]] == "am"
    assert b.levels[b.level[0]].dbm(7_100_000) == -53.0
    assert b.schedule_texts[b.schedule[0]] == ("1800-2200", "mon-fri", "10/180+20")
    assert b.notes[b.note[0]] == "=loud"
    assert b.sources[b.source[0]] == "own log"


def test_cells_left_empty_are_unknown_and_not_something(tmp_path: Path) -> None:
    b = bands(tmp_path, "freq_khz,service,label,region,mode,level,hours,note\n7100,ism,x,,,,,\n")
    names = ("region", "mode", "level", "schedule", "note", "source")
    assert {name: int(getattr(b, name)[0]) for name in names} == dict.fromkeys(names, -1)


def test_unknown_services_and_other_columns_are_kept_and_named(tmp_path: Path) -> None:
    b = bands(tmp_path, "freq_khz,service,label,power,azimuth\n7100,meteor,x,10,0\n7101,amateur,y,1,2\n")
    assert b.unknown_services == ("meteor",)
    assert b.tables[0].other_columns == ("power", "azimuth")


def test_a_column_of_names_taken_for_services_is_refused(tmp_path: Path) -> None:
    """Codes of services are 16 bits wide: beyond 32,767 one station would take the service of another."""
    last = MOST_SERVICES - len(SERVICES)
    rows = "".join(f"{n},service {n},x\n" for n in range(1, last + 1))
    assert len(bands(tmp_path, "freq_khz,service,label\n" + rows).services) == MOST_SERVICES
    said = refusal(tmp_path, f"freq_khz,service,label\n{rows}1,one more,x\n2,service 1,x\n")
    assert f'row {last + 2}, column service: "one more" is one service more than the 1,000' in said
    assert said.count("column service") == 1


def test_files_are_joined_in_order_with_words_in_common(tmp_path: Path) -> None:
    first = table(tmp_path, "freq_khz,service,label\n7100,amateur,A\n7101,amateur,B\n", "a.csv")
    second = table(tmp_path, "service,label,freq_mhz\nbroadcast,B,9.5\n", "b.csv")
    b = read_bands([first, second])
    assert [b.labels[code] for code in b.label] == ["A", "B", "B"]
    assert b.table.tolist() == [0, 0, 1]
    assert [info.name for info in b.tables] == ["a.csv", "b.csv"]
    assert len(set(b.label.tolist())) == 2


def test_tables_of_one_name_are_told_apart_by_their_folders(tmp_path: Path) -> None:
    paths = []
    for folder in ("x", "y"):
        (tmp_path / folder).mkdir()
        paths.append(table(tmp_path / folder, "freq_khz,service,label\n7100,amateur,A\n"))
    assert [info.name for info in read_bands(paths).tables] == [str(path) for path in paths]


def test_a_file_given_twice_is_refused(tmp_path: Path) -> None:
    path = table(tmp_path, "freq_khz,service,label\n7100,amateur,A\n")
    (tmp_path / "link.csv").symlink_to(path)
    with pytest.raises(Refused, match=r"link\.csv: is given twice"):
        read_bands([path, tmp_path / "link.csv"])


def test_the_shipped_tables_can_be_had_beside_others(tmp_path: Path) -> None:
    """By the word "shipped" among the paths, once; a table of one of their names keeps its folder."""
    own = tmp_path / "beacons.csv"
    own.write_text("freq_khz,service,label\n14100,beacon,Ours\n", "utf-8")
    alone, both = read_bands(None), read_bands(["shipped", own])
    assert len(both) == len(alone) + 1
    assert {info.name for info in both.tables} == {info.name for info in alone.tables} | {str(own)}
    with pytest.raises(Refused, match='"shipped" is given twice'):
        read_bands(["shipped", own, "shipped"])
    with pytest.raises(Refused, match="shipped: does not exist"):
        read_bands(["./shipped"])


def test_a_path_with_a_nul_is_refused() -> None:
    with pytest.raises(Refused, match="is not a path"):
        read_bands("north\0.csv")


def test_no_file_is_refused() -> None:
    with pytest.raises(Refused, match="names no file"):
        read_bands([])


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"freq_khz": ""}, "row 2: has no frequency; give a frequency, or low and high"),
        ({"freq_khz": "0"}, 'column freq_khz: "0" is below 1 Hz'),
        ({"freq_khz": "30000001"}, 'column freq_khz: "30000001" is above 30 GHz'),
        ({"freq_khz": "7100.0005"}, "is finer than 1 Hz"),
        ({"freq_khz": "-7100"}, "is not a number"),
        ({"freq_khz": "+7100"}, "is not a number"),
        ({"freq_khz": "7.1e3"}, "is not a number"),
        ({"freq_khz": "7_100"}, "is not a number"),
        ({"freq_khz": "٧١٠٠"}, "is not a number"),
        ({"freq_khz": "²"}, "is not a number"),
        ({"freq_khz": "7 100"}, "is not a number"),
        ({"freq_khz": "nan"}, "is not a number"),
        ({"freq_mhz": "7,1"}, 'column freq_mhz: "7,1" is not a number; write decimals with a point, as 7.1'),
        ({"low_khz": "7000", "high_khz": ""}, "row 2: has one edge of a band"),
        ({"low_khz": "", "high_khz": "7200"}, "row 2: has one edge of a band"),
        ({"low_khz": "7200", "high_khz": "7000"}, 'column low_khz: "7200" is above the high edge 7000 kHz'),
        ({"low_khz": "1", "high_khz": "2", "freq_khz": "1"}, 'column freq_khz: "1" stands beside the edges'),
        ({"freq_khz": "1", "raster_khz": "1"}, 'column freq_khz: "1" stands beside the edges'),
        ({"freq_khz": "", "low_khz": "", "high_khz": "", "raster_khz": "5"}, 'raster_khz: "5" has no band'),
        ({"low_khz": "1", "high_khz": "2", "raster_hz": "0"}, 'column raster_hz: "0" is below 1 Hz'),
        (
            {"low_khz": "1000", "high_khz": "1100", "raster_hz": "1"},
            'column raster_hz: "1" makes 100,001 carriers; give at most 100,000',
        ),
        ({"low_khz": "1", "high_khz": "2", "bandwidth_khz": "1"}, 'column bandwidth_khz: "1" widens a band'),
        ({"freq_khz": "1", "region": "4"}, 'column region: "4" is not a region; give 1, 2, 3 or W'),
        ({"freq_khz": "1", "region": "1,3"}, 'column region: "1,3" is not a region'),
        ({"freq_khz": "1", "region": "1;;3"}, "is not a region"),
        ({"freq_khz": "1", "mode": "usb"}, 'column mode: "usb" is not a mode'),
        ({"freq_khz": "1", "mode": "digitl"}, 'did you mean "digital"?'),
        ({"freq_khz": "1", "level": "loud"}, 'column level: "loud" is not a level'),
        ({"freq_khz": "1", "level": "-53"}, "write it as S7, S9+20 or -53 dBm"),
        ({"freq_khz": "1", "hours": "18-22"}, 'column hours: "18-22" is not a span of hours'),
        ({"freq_khz": "1", "days": "monday"}, 'column days: "monday" is not a day; did you mean "mon"?'),
        ({"freq_khz": "1", "slot": "x"}, 'column slot: "x" is not a slot'),
        ({"freq_khz": "1", "label": " "}, 'column label: "" is empty; name the station or the band'),
        ({"freq_khz": "1", "service": ""}, 'column service: "" is empty'),
    ],
)
def test_a_damaged_row_is_told_by_row_column_value_rule_and_remedy(
    tmp_path: Path, cells: dict[str, str], said: str
) -> None:
    text = row_fault(tmp_path, **cells)
    assert said in text
    assert text.startswith("north.csv, row 2")


def test_the_largest_raster_is_taken(tmp_path: Path) -> None:
    b = bands(tmp_path, f"low_hz,high_hz,raster_hz,service,label\n1,{MOST_CARRIERS},1,ism,x\n")
    assert b.carriers().tolist() == [MOST_CARRIERS]


@pytest.mark.parametrize(
    ("header", "said"),
    [
        (
            "low_khz,service,label",
            "has no column of frequencies; name them freq_khz, or low_khz and high_khz",
        ),
        ("frequency,service,label", "has no column of frequencies"),
        ("freq_khz,freq_mhz,service,label", '"freq_mhz" gives freq in a second unit'),
        ("freq_khz,label,servise", '"servise" is not a column of this table; did you mean "service"?'),
        ("freq_khz,service", "has no column label"),
    ],
)
def test_a_header_that_lacks_something_is_refused(tmp_path: Path, header: str, said: str) -> None:
    assert said in refusal(tmp_path, header + "\n" + ",".join("1" for _ in header.split(",")) + "\n")


def test_all_faults_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    one = table(tmp_path, "freq_khz,service,label,mode\nx,amateur,,usb\n7100,amateur,A\n", "a.csv")
    two = table(tmp_path, "freq_khz,service,label\n0,amateur,B\n", "b.csv")
    with pytest.raises(Refused) as refused:
        read_bands([one, tmp_path / "none.csv", two])
    places = [fault.place for fault in refused.value.faults]
    assert places == [
        str(tmp_path / "none.csv"),
        "a.csv, row 2, column freq_khz",
        "a.csv, row 2, column label",
        "a.csv, row 2, column mode",
        "a.csv, row 3",
        "b.csv, row 2, column freq_khz",
    ]


def test_faults_beyond_twenty_are_counted(tmp_path: Path) -> None:
    rows = "".join(f"{n},amateur,\n" for n in range(1, 5001))
    text = refusal(tmp_path, "freq_khz,service,label\n" + rows).splitlines()
    assert len(text) == 21
    assert text[19].startswith("north.csv, row 21, column label")
    assert text[20] == "5000 faults in all, the first 20 shown"


def said_of(text: str, exponent: int) -> int | str:
    """Return hertz by the plain road, or the rule that is broken."""
    try:
        return checked_hz(decimal_to_integer(text, exponent), text)
    except BadValue as bad:
        return bad.rule


@given(
    st.text("0123456789.", min_size=1, max_size=16)
    | st.text("0123456789.,+-e_ ٣½", min_size=1, max_size=8).map(str.strip).filter(bool),
    st.sampled_from([0, 3, 6]),
)
@settings(max_examples=500)
def test_the_quick_road_for_frequencies_agrees_with_the_plain_one(text: str, exponent: int) -> None:
    """The same hertz or the same rule broken, whatever stands in the cell."""
    parsed = Parsed(lambda cell: headed_hz(cell, exponent))
    value = parsed[text]
    assert (parsed.bad[text].rule if text in parsed.bad else value) == said_of(text, exponent)


def test_coverage_reach_and_gaps(tmp_path: Path) -> None:
    """Where no row says anything nothing is known, and that is told."""
    b = bands(
        tmp_path,
        "low_khz,high_khz,freq_khz,raster_khz,bandwidth_khz,service,label,region\n"
        "100,200,,,,ism,a,W\n200,300,,,,ism,b,1\n,,400,,10,ism,c,W\n500,509,,4,2,ism,d,2\n",
    )
    assert b.reach() == (100_000, 509_000)
    assert b.reach(1) == (100_000, 405_000)
    assert b.reach(3) == (100_000, 405_000)
    assert b.gaps(1) == [(300_001, 394_999)]
    assert b.gaps(3) == [(200_001, 394_999)]
    assert b.gaps() == [(300_001, 394_999), (405_001, 498_999)]


def test_two_hundred_thousand_rows_are_read(tmp_path: Path) -> None:
    """A large table comes out whole: as many rows, the first and the last as written."""
    count = 200_000
    rows = (f"{100 + n}.{n % 1000:03d},broadcast,Station {n % 977},{1 + n % 3}\n" for n in range(count))
    b = bands(tmp_path, "freq_khz,service,label,region\n" + "".join(rows))
    assert len(b) == count
    np.testing.assert_array_equal(b.low_hz, (100 + np.arange(count)) * 1000 + np.arange(count) % 1000)
    np.testing.assert_array_equal(b.row, np.arange(count) + 2)
    assert len(b.labels) == 977


def random_table(draw: Any) -> str:
    """Return a sound table of a few rows."""
    rows = draw(
        st.lists(
            st.tuples(st.integers(1, 10**9), st.integers(0, 10**6), st.sampled_from(["", "1", "1;3", "W"])),
            min_size=1,
            max_size=6,
        )
    )
    return "low_hz,high_hz,service,label,region\n" + "".join(
        f"{low},{low + width},amateur,L{n},{region}\n" for n, (low, width, region) in enumerate(rows)
    )


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_any_damage_is_refused_or_harmless(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """One byte changed, added or taken out: a table or a refusal, never another error."""
    content = bytearray(random_table(data.draw).encode())
    at = data.draw(st.integers(0, len(content) - 1))
    how = data.draw(st.sampled_from(["change", "add", "remove"]))
    byte = data.draw(st.integers(0, 255))
    if how == "change":
        content[at] = byte
    elif how == "add":
        content.insert(at, byte)
    else:
        del content[at]
    path = tmp_path_factory.mktemp("damage") / "t.csv"
    path.write_bytes(content)
    try:
        b = read_bands(path)
    except Refused:
        return
    assert ((b.low_hz >= 1) & (b.low_hz <= b.high_hz) & (b.high_hz <= 30_000_000_000)).all()
