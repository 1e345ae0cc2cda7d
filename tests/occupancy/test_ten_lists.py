"""Ten lists as people have them: eight are taken in one attempt, two refused with the command for them."""

from __future__ import annotations

import io
import shlex
from pathlib import Path

import pytest

from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.occupancy import list_form
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.occupancy.station_list import import_list

# An invented station list of each kind, with the hertz of its rows.
SEMICOLONS = """Frequenz (kHz);Sender;Dienst;Sendezeit
6055,5;Radio Lagune;Rundfunk;18:00-22:00
9545;Radio Düne;Rundfunk;h24
"""
TABS = "kHz\tStation\tService\tRemarks\n783\tRadio Bluff\tbroadcast\tlocal\n1008\tRadio Ebb\tbroadcast\t\n"
TITLE = """Registre des émetteurs de la côte
édition d'hiver

Fréquence (MHz),Nom,Service,Latitude,Longitude,Puissance (W)
156.8,Port Nord,maritima,48.5,-4.5,25
156.65,Port Sud,marine,43.25,5.5,50
"""
TOTALS = """QRG;Name;Dienst
145,5000;Relais Berg;Amateurfunk
438,9500;Relais Tal;Amateurfunk
Summe;2 Relais;
"""
THOUSANDS = """Frequency kHz,Name,Service
"7,100",Net of the north,ham
"14,200",Net of the south,ham
"21,300.5",Net of the isles,ham
"""
HERTZ = "frequency;callsign;service\n5000000;Time A;time signal\n10000000;Time B;time signal\n"
GIGAHERTZ = "Freq GHz,Label,Service\n1.29625,Beacon hill,beacon\n10.36885,Beacon moor,beacon\n"
EDGES = "low (kHz)|high (kHz)|raster (kHz)|name|service|mode\n531|1602|9|Carriers|BC|A3E\n"
FOREIGN = "kanal,hvor,hvem\n7100,nord,Radio Fjord\n7205,syd,Radio Fjeld\n9600,vest,Radio Vik\n"
UNFIT = "kHz,Station,Service\n0.783,Radio Lagoon,broadcast\n1.008,Radio Bluff,broadcast\n"

TAKEN = {
    "semicolons, decimal comma, Latin-1": (SEMICOLONS.encode("latin-1"), [6_055_500, 9_545_000]),
    "tabs, UTF-16": (TABS.encode("utf-16"), [783_000, 1_008_000]),
    "a title above the heads, power in watts": (TITLE.encode(), [156_800_000, 156_650_000]),
    "totals at the end, MHz that no head tells": (TOTALS.encode(), [145_500_000, 438_950_000]),
    "quoted thousands": (THOUSANDS.encode("utf-8-sig"), [7_100_000, 14_200_000, 21_300_500]),
    "Hz that no head tells": (HERTZ.encode(), [5_000_000, 10_000_000]),
    "GHz": (GIGAHERTZ.encode(), [1_296_250_000, 10_368_850_000]),
    "bars, band edges, a raster": (EDGES.encode(), [531_000]),
}
REFUSED = {
    "foreign heads, no service": (FOREIGN.encode(), [7_100_000, 7_205_000, 9_600_000]),
    "a unit in which no such service is": (UNFIT.encode(), [783_000, 1_008_000]),
}


Capture = pytest.CaptureFixture[str]


def taken(folder: Path, words: list[str], capsys: Capture) -> tuple[int, Bands | None, str]:
    """Exit status, the table and what is said, of one command line."""
    made = folder / "ours.csv"
    status = main([*words, "--output", str(made)])
    said = capsys.readouterr().err
    return status, read_bands(made) if status == 0 else None, said


def listed(folder: Path, data: bytes) -> Path:
    path = folder / "a list.csv"
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("name", TAKEN)
def test_a_list_is_taken_in_one_attempt(name: str, tmp_path: Path, capsys: Capture) -> None:
    """Nothing is told but its name; how it was read is said."""
    data, hz = TAKEN[name]
    status, bands, said = taken(tmp_path, ["bands", "--import", str(listed(tmp_path, data))], capsys)
    assert status == 0, said
    assert bands is not None
    assert bands.low_hz.tolist() == hz
    assert bands.unknown_services == ()
    assert "read as: " in said
    assert f"{len(hz)} taken" in said


@pytest.mark.parametrize("name", REFUSED)
def test_a_list_that_is_not_clear_is_refused_with_the_command_that_takes_it(
    name: str, tmp_path: Path, capsys: Capture
) -> None:
    """The command stands in the refusal, word for word as it can be typed."""
    data, hz = REFUSED[name]
    status, _, said = taken(tmp_path, ["bands", "--import", str(listed(tmp_path, data))], capsys)
    assert status == 1
    line = next(line for line in said.splitlines() if line.startswith("what would take it: "))
    program, *words = shlex.split(line.removeprefix("what would take it: "))
    assert program == "spurplan"
    status, bands, said = taken(tmp_path, words, capsys)
    assert status == 0, said
    assert bands is not None
    assert bands.low_hz.tolist() == hz


def test_there_are_eight_and_two() -> None:
    assert (len(TAKEN), len(REFUSED)) == (8, 2)


def test_what_is_carried_over(tmp_path: Path) -> None:
    """Sites with watts as kilowatts, hours, remarks and modes, in our words."""
    got = import_list(listed(tmp_path, TITLE.encode()))
    (tmp_path / "ours.csv").write_text(got.text, "utf-8")
    bands = read_bands(tmp_path / "ours.csv")
    assert bands.sites[bands.site].tolist() == [[48.5, -4.5, 0.025], [43.25, 5.5, 0.05]]
    assert (got.above, got.form.head_line, got.has_levels) == (2, 4, True)
    got = import_list(listed(tmp_path, SEMICOLONS.encode()))
    assert [row.split(",")[3] for row in got.text.splitlines()] == ["hours", "1800-2200", "0000-2400"]
    assert not got.has_levels
    assert "mode\n" in import_list(listed(tmp_path, EDGES.encode())).text
    assert ",am\n" in import_list(listed(tmp_path, EDGES.encode())).text


def test_a_site_told_in_part_costs_the_site_and_is_said(tmp_path: Path) -> None:
    text = "MHz,name,service,lat,lon,power kW\n7.1,A,amateur,51,7,0.1\n7.2,B,amateur,51,,0.1\n"
    got = import_list(listed(tmp_path, text.encode()))
    assert got.taken == 2
    assert ["gives 1 sites in part" in str(one) for one in got.questioned] == [True]


def test_a_frequency_no_such_service_has_is_questioned(tmp_path: Path) -> None:
    """Among others that are where they belong: taken, and asked about with its line."""
    text = "kHz,name,service\n783,A,broadcast\n1008,B,broadcast\n9500,C,broadcast\n0.783,D,broadcast\n"
    got = import_list(listed(tmp_path, text.encode()))
    assert got.taken == 4
    (one,) = got.questioned
    assert "row 5: has broadcast on 783 Hz; that service reaches from 148.5 kHz" in str(one)


def test_unknown_services_are_listed_with_the_nearest(tmp_path: Path) -> None:
    text = "kHz,name,service\n7100,A,amatuer\n7105,B,amatuer\n7110,C,amateur\n"
    got = import_list(listed(tmp_path, text.encode()))
    (one,) = got.questioned
    assert '"amatuer" is a service that is not known here, in 2 rows; the nearest is amateur' in str(one)


def test_a_workbook_is_read_or_says_how_to_save_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "empty"
    sheet = book.create_sheet("stations")
    for row in (
        ["Our stations"],
        [],
        ["Frequency (MHz)", "Station", "Service"],
        [7.1, "A", "ham"],
        [14, "B", "ham"],
    ):
        sheet.append(row)
    file = io.BytesIO()
    book.save(file)
    got = import_list(listed(tmp_path, file.getvalue()))
    assert got.text == "freq_mhz,label,service\n7.1,A,amateur\n14,B,amateur\n"
    monkeypatch.setitem(__import__("sys").modules, "openpyxl", None)
    with pytest.raises(
        Refused, match=r"needs openpyxl.* -m pip install openpyxl; or in the spreadsheet choose Save as"
    ):
        import_list(tmp_path / "a list.csv")


@pytest.mark.parametrize("data", [b"PK\x03\x04damaged", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1old"])
def test_a_workbook_of_another_kind_says_how_to_save_it(data: bytes, tmp_path: Path) -> None:
    with pytest.raises(Refused, match="a kind that can not be read; in the spreadsheet choose Save as"):
        import_list(listed(tmp_path, data))


@pytest.mark.parametrize(
    ("cells", "marks"),
    [
        (["7100", "9"], (".",)),
        (["7100.5"], (".",)),
        (["7100,5", "7,100"], (",",)),
        (["7.100,5"], (",",)),
        (["1.234.567"], (",",)),
        (["1,234,567.5"], (".",)),
        (["7 100,25"], (",",)),
        (["0.783", "1.008"], (".",)),
        (["7.100"], (".", ",")),
        (["7,100"], (".", ",")),
    ],
)
def test_decimal_marks_are_told_where_they_show(cells: list[str], marks: tuple[str, ...]) -> None:
    """Groups of three behind one mark may be thousands or decimals: both stay open."""
    assert list_form.decimal_marks(cells) == marks


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"]
)
def test_encodings_are_told_apart(encoding: str) -> None:
    text = "kHz,Station\n7100,Süd – Düne\n7105,Nord\n"
    data = text.encode(encoding)
    assert data.decode(list_form.encoding_of(data)).removeprefix("\ufeff") == text
