"""Nothing that was written for an answer is read past without a word: columns, times, regions, units."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import spurplan
from spurplan.csvfile import left_alone, open_csv, read_csv
from spurplan.errors import Refused
from spurplan.occupancy.bands_in_use import on_frequency, tables_in_use
from spurplan.units import parse_hz
from tests.bench_logs import filled, own_prediction, rows_of, write

SETS = Path(__file__).parents[1] / "receivers"
BOATHOUSE = SETS / "boathouse.toml"
STATION = "freq_khz,service,label{more}\n29230,amateur,Harbour{cells}\n"

LEVELS = "service,low_khz,high_khz,level{more}\namateur,1,30000,S9+40{cells}\n"
STOCK = "freq_mhz{more}\n21{cells}\n"
CURVE = "freq_khz,attenuation_db{more}\n100,60{cells}\n20000,0{cells}\n"
MIXER = "lo,rf,suppression_db,signal_dbm{more}\n1,1,0,-40{cells}\n"
SET = """
name = "{name}"
region = 1
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.mixer]
{mixer}
[conversion.filter]
bandwidth = "6 kHz"
{bfo}
[[range]]
name = "4"
coverage = ["11 MHz", "30 MHz"]
front_end = [ {front} ]
"""


def described(folder: Path, **parts: str) -> Path:
    """A set of one range, some parts of it given."""
    values = {"name": "Shed", "mixer": "", "bfo": "", "front": "{ circuits = 2, q = 55 }"} | parts
    text = SET
    for part, value in values.items():
        text = text.replace("{" + part + "}", value)
    return file(folder, "set.toml", text)


def file(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def bands_of(folder: Path, more: str = "", cells: str = "") -> Path:
    return file(folder, "north.csv", STATION.format(more=more, cells=cells))


def answer_of(kind: str, folder: Path, more: str, cells: str) -> Any:
    """Ask a question that reads a table of one kind, with more columns than it has to have."""
    bands, set_ = bands_of(folder), described(folder)
    if kind == "bands":
        return spurplan.dial(set_, bands=bands_of(folder, more, cells), frequency="28.3 MHz")
    if kind == "levels":
        levels = file(folder, "loud.csv", LEVELS.format(more=more, cells=cells))
        return spurplan.dial(set_, bands=bands, frequency="28.3 MHz", levels=levels)
    if kind == "stock":
        stock = file(folder, "drawer.csv", STOCK.format(more=more, cells=cells))
        return spurplan.converter(set_, bands=bands, cover="33MHz:34MHz", stock=stock)
    if kind == "curve":
        file(folder, "trap.csv", CURVE.format(more=more, cells=cells))
        return spurplan.dial(
            described(folder, front='{ curve = "trap.csv" }'), bands=bands, frequency="14.3 MHz"
        )
    if kind == "mixer":
        file(folder, "mixer.csv", MIXER.format(more=more, cells=cells))
        return spurplan.dial(
            described(folder, mixer='table = "mixer.csv"'), bands=bands, frequency="28.3 MHz"
        )
    if kind == "front":
        file(folder, "front.csv", CURVE.format(more=more, cells=cells))
        front = file(folder, "front.toml", 'elements = [ { curve = "front.csv" } ]')
        return spurplan.converter(set_, bands=bands, cover="33MHz:34MHz", crystal="21 MHz", front=front)
    rows = filled(rows_of(spurplan.bench_sheet(set_)), own_prediction)
    extra = dict(zip(more.split(",")[1:], cells.split(",")[1:], strict=True))
    return spurplan.readings(set_, log=write(folder / "log.csv", [row | extra for row in rows]))


NEAR = [
    ("bands", "hour", "hours"),
    ("bands", "levels", "level"),
    ("bands", "regions", "region"),
    ("bands", "bandwidth-khz", "bandwidth_khz"),
    ("bands", "raster khz", "raster_khz"),
    ("bands", "Sl0t", "slot"),
    ("bands", "dasy", "days"),
    ("stock", "tolerance-ppm", "tolerance_ppm"),
    ("stock", "modes", "mode"),
    ("log", "pointer_hzs", "pointer_hz"),
]


@pytest.mark.parametrize(("kind", "column", "meant"), NEAR)
def test_a_column_that_is_nearly_a_known_one_is_refused(
    tmp_path: Path, kind: str, column: str, meant: str
) -> None:
    """A slip in the name of a column that may be missing would take its cells out of the answer."""
    if kind == "log":
        rows = filled(rows_of(spurplan.bench_sheet(BOATHOUSE)), own_prediction)
        renamed = [{column if head == meant else head: cell for head, cell in row.items()} for row in rows]
        with pytest.raises(Refused, match=rf'"{column}" is not a column .* did you mean "{meant}"\?'):
            spurplan.readings(BOATHOUSE, log=write(tmp_path / "log.csv", renamed))
        return
    with pytest.raises(Refused, match=rf'"{column.lower()}" is not a column .* did you mean "{meant}"\?'):
        answer_of(kind, tmp_path, f",{column}", ",S9")


@pytest.mark.parametrize("kind", ["bands", "levels", "stock", "curve", "mixer", "front", "log"])
def test_a_column_that_nothing_reads_is_named_with_the_answer(tmp_path: Path, kind: str) -> None:
    """Whoever wrote a column sees that it changed nothing, whichever table it stands in."""
    answer = answer_of(kind, tmp_path, ",power_kw,town", ",50,Leith")
    told = [line for line in answer.assumptions if '"power_kw", "town"' in line]
    assert len(told) == 1, answer.assumptions
    assert ".csv: nothing reads its columns" in told[0]
    assert not any("nothing reads" in line for line in answer_of(kind, tmp_path, "", "").assumptions)


def test_the_tables_in_use_name_what_they_leave_alone(tmp_path: Path) -> None:
    path = bands_of(tmp_path, ",town", ",Leith")
    for answer in (tables_in_use(path), on_frequency("29.23 MHz", bands=path)):
        assert 'north.csv: nothing reads its column "town"' in answer.assumptions


def test_a_quantity_in_two_units_is_refused_where_one_unit_is_read(tmp_path: Path) -> None:
    """Beside low_khz a low_hz would be the edge that its author trusts, and nobody reads it."""
    with pytest.raises(Refused, match='"low_hz" gives low a second time; keep low_khz alone'):
        answer_of("levels", tmp_path, ",low_hz", ",14000000")
    with pytest.raises(Refused, match='"freq_ghz" gives freq a second time; keep freq_mhz alone'):
        answer_of("stock", tmp_path, ",freq_ghz", ",0.021")
    with pytest.raises(Refused, match='"low_mhz" is in a unit not taken here; give it as low_khz'):
        read_csv("l.csv", ("service", "low_khz"), data=b"service,low_mhz\na,1\n")


def test_a_name_like_a_known_one_may_stand_beside_it() -> None:
    """The known column is there and is read: the other can not be a slip for it."""
    sheet = open_csv("n.csv", ("label",), known=("level",), data=b"label,labels,level,levels\n1,2,3,4\n")
    assert sheet.others == ("labels", "levels")


@given(st.text("abcdefgh", min_size=4, max_size=8), st.data())
def test_one_edit_of_a_name_is_near_and_three_are_not(name: str, data: st.DataObject) -> None:
    """One character left out, added, changed or exchanged with its neighbour; three more are a word."""
    at = data.draw(st.integers(0, len(name) - 2))
    slips = {
        name[:at] + name[at + 1 :],
        name[:at] + "x" + name[at:],
        name[:at] + "x" + name[at + 1 :],
        name[:at] + name[at + 1] + name[at] + name[at + 2 :],
    } - {name}
    for slip in slips:
        with pytest.raises(Refused, match=f'did you mean "{name}"'):
            open_csv("n.csv", known=(name,), data=f"{slip},other_thing\n1,2\n".encode())
    far = name[:at] + "xyz" + name[at:]
    assert open_csv("n.csv", known=(name,), data=f"{far}\n1\n".encode()).others == (far,)


def test_many_columns_are_counted_and_not_all_named() -> None:
    [line] = left_alone("n.csv", [f"c{i}" for i in range(40)])
    assert line.endswith('"c5" and 34 more')


def test_a_shipped_table_has_no_column_that_nothing_reads() -> None:
    answer = spurplan.dial(BOATHOUSE, frequency="28.3 MHz")
    assert not any("nothing reads" in line for line in answer.assumptions)


@pytest.mark.parametrize(
    ("column", "cell", "rule"),
    [
        ("predicted_db", "loud", "is not a number"),
        ("generator_dbm", "12,5", "is not a number"),
        ("pointer_hz", "image", "is not a number"),
        ("reachable", "perhaps", "is neither true nor false"),
    ],
)
def test_junk_in_a_column_of_a_log_that_nothing_is_worked_out_from_is_refused(
    tmp_path: Path, column: str, cell: str, rule: str
) -> None:
    """A word where the sheet has a number says that its cells moved: the readings did as well."""
    rows = filled(rows_of(spurplan.bench_sheet(BOATHOUSE)), own_prediction)
    rows[3][column] = cell
    with pytest.raises(Refused, match=rf'row 5, column {column}: "{cell}" {rule}'):
        spurplan.readings(BOATHOUSE, log=write(tmp_path / "log.csv", rows))
    rows[3][column] = ""
    assert len(spurplan.readings(BOATHOUSE, log=write(tmp_path / "log.csv", rows)).residuals)


def test_an_answer_for_no_region_says_that_all_are_taken(tmp_path: Path) -> None:
    """Where a region would have left rows out, nobody takes the answer for that of a region."""
    rows = "freq_khz,service,label,region\n29230,amateur,Harbour,{}\n"
    set_ = file(tmp_path, "set.toml", described(tmp_path).read_text().replace("region = 1\n", ""))
    for region, told in (("2", True), ("1;3", True), ("W", False), ("1;2;3", False), ("", False)):
        bands = file(tmp_path, "some.csv", rows.format(region))
        answers = [
            spurplan.dial(set_, bands=bands, frequency="28.3 MHz"),
            on_frequency("29.23 MHz", bands=bands),
        ]
        answers.append(tables_in_use(bands))
        for answer in answers:
            assert any("all three ITU regions" in line for line in answer.assumptions) == told, region
        for answer in (
            spurplan.dial(set_, bands=bands, frequency="28.3 MHz", region=1),
            on_frequency(29_230_000, bands=bands, region=1),
        ):
            assert not any("all three ITU regions" in line for line in answer.assumptions)


@pytest.mark.parametrize(
    ("columns", "cells", "utc", "day"),
    [
        ("", "", False, False),
        (",hours", ",1000-1100", True, False),
        (",slot", ",10/180+20", True, False),
        (",days", ",sat", False, True),
        (",hours,days", ",1000-1100,sat", True, True),
        (",hours", ",", False, False),
    ],
)
def test_a_time_or_a_day_that_no_row_knows_is_said_to_change_nothing(
    tmp_path: Path, columns: str, cells: str, utc: bool, day: bool
) -> None:
    """From rows without hours an answer for 18:00 is that of any hour; a silent row does know its own."""
    set_, bands = described(tmp_path), bands_of(tmp_path, columns, cells)
    for answer in (
        spurplan.dial(set_, bands=bands, frequency="28.3 MHz", utc="1800", day="mon"),
        on_frequency("29.23 MHz", bands=bands, region=1, utc="1800", day="mon"),
    ):
        said = "\n".join(answer.assumptions)
        assert ("the time given changes nothing" in said) == (not utc)
        assert ("the day given changes nothing" in said) == (not day)
    untimed = spurplan.dial(set_, bands=bands, frequency="28.3 MHz")
    assert not any("changes nothing" in line for line in untimed.assumptions)


@pytest.mark.parametrize(
    ("offset", "refused"),
    [("-464.999 kHz", False), ("-465 kHz", True), ("-466 kHz", True), ("466 kHz", False)],
)
def test_a_beat_oscillator_runs_above_0_hz(tmp_path: Path, offset: str, refused: bool) -> None:
    """It is on the last IF and its offset: below nothing there is no frequency."""
    path = described(tmp_path, bfo=f'[bfo]\noffset = "{offset}"')
    if not refused:
        assert spurplan.read_receiver(path).bfo is not None
        return
    with pytest.raises(Refused, match=rf'bfo.offset: "{offset}" puts the BFO at .*last IF is 465 kHz'):
        spurplan.read_receiver(path)


@pytest.mark.parametrize(
    ("text", "mhz", "near"),
    [("20m", "20 MHz", "15 MHz"), ("20 m", "20 MHz", "15 MHz"), ("1.5 m", "1.5 MHz", "200 MHz")],
)
def test_a_number_of_metres_is_no_frequency(text: str, mhz: str, near: str) -> None:
    """To a listener 20m is a band: by the speed of light over the wavelength, near 15 MHz and not on 20."""
    with pytest.raises(ValueError, match=rf"in metres or in megahertz; write {mhz}.*near {near}"):
        parse_hz(text)
    with pytest.raises(Refused, match=f'FREQ: "{text}"'):
        spurplan.dial(BOATHOUSE, frequency=text)
    assert parse_hz(text.replace("m", "M")) == parse_hz(mhz)


def test_a_question_about_a_description_stands_ahead_of_its_praise(tmp_path: Path) -> None:
    """Whoever reads the first line alone learns that a unit is doubtful."""
    text = described(tmp_path).read_text().replace('bandwidth = "6 kHz"', 'bandwidth = "6 Hz"')
    path = file(tmp_path, "doubtful.toml", text)
    done = subprocess.run(
        [sys.executable, "-m", "spurplan", "receiver", str(path)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    said = " ".join(done.stdout.split())
    assert said.count("are the units right?") == 1
    assert said.index("are the units right?") < said.index("no faults found")
