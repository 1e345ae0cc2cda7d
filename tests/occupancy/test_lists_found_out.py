"""What a station list leaves unsaid: service, days, ranges, hours; and what is said of what was found."""

from __future__ import annotations

import io
import shlex
from pathlib import Path

import numpy as np
import pytest

from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.occupancy import list_form
from spurplan.occupancy.activity import shipped_activity
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.hours import Moment, Schedule, parse_days, parse_hours
from spurplan.occupancy.station_list import import_list
from spurplan.responses.listening.presence import present

Capture = pytest.CaptureFixture[str]

# Invented stations, none with a service.
GERMAN = """Frequenz (kHz);Rundfunksender;Sendezeit (UTC);Tage
6055,5;Radio Lagune;1700-2000;täglich
9545;Radio Düne;0500-0700;Mo-Fr
7305;Radio Förde;1800-1900;Sa,So
11795;Radio Geest;1200-1300;Di
"""
FRENCH = """MHz\tÉmetteur\tHoraires (TU)\tJours
6,045\tRadio Lagune\t17:00-20:00\tLu-Ve
9,545\tRadio Dune\t05:00-07:00\ttous les jours
15,13\tRadio Cap\t10:00-12:00\tDi
"""
HERTZ = """Frequency (Hz),Station,Days
"6,055,000",Radio Lagoon,1234567
"9,545,000",Radio Dune,12345
"531,000",Radio Ebb,67
"""
WIDE = "kHz\tStation\tTimes (UTC)\n6055\tRadio Lagoon\t1700-2000\n783\tRadio Bluff\tH24\n"
TITLE = """Winter schedule of the coast

kHz,Station,UTC,Days
6055,Radio Lagoon,1700-2000,daily
9545,Radio Dune,0500-0700,"Mo,We,Fr"

11795,Radio Cape,1200-1300,Sat Sun
Total,3 stations,,
"""
ENDS = """freq,station,start,end,days
6055,Radio Lagoon,1700,2000,daily
9545,Radio Dune,500,700,"Mon,Wed"
1008,Radio Moor,0,2400,mo
"""
SPANISH = """Frecuencia (kHz)|Emisora|Horario UTC|Días
6055|Radio Laguna|1700-2000|Lu-Vi
9545|Radio Duna|0500-0700|diario
11795|Radio Cabo|1200-1300|Sá,Do
"""
RANGES = """Frequency kHz,Name
148.5-283.5,Long wave
526.5-1606.5,Medium wave
7200-7450,41 m
11795,Radio Cape
"""
UNITS = """Frequency,Station,Day
7.325 MHz,Radio Fen,mo
531 kHz,Radio Ebb,Mo-Fr
9.545 MHz,Radio Dune,Sa
783 kHz,Radio Bluff,daily
"""


def workbook() -> bytes:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (
        ["Our stations"],
        ["Frequency (MHz)", "Name", "Hours UTC", "Days"],
        [6.055, "Radio Lagoon", "1700-2000", "Mo-Fr"],
        [0.783, "Radio Bluff", "0000-2400", 1234567],
    ):
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


# the list, hertz of the low edges, and days as bits from Monday (127 where no column tells them)
LISTS = {
    "German, semicolons, latin-1": (
        GERMAN.encode("latin-1"), [6_055_500, 9_545_000, 7_305_000, 11_795_000], [127, 31, 96, 2],
    ),
    "French, tabs, MHz": (FRENCH.encode(), [6_045_000, 9_545_000, 15_130_000], [31, 127, 64]),
    "Hz with quoted thousands": (HERTZ.encode(), [6_055_000, 9_545_000, 531_000], [127, 31, 96]),
    "UTF-16": (WIDE.encode("utf-16"), [6_055_000, 783_000], [127, 127]),
    "title, blank line, total": (TITLE.encode(), [6_055_000, 9_545_000, 11_795_000], [127, 21, 96]),
    "start, end, days": (ENDS.encode(), [6_055_000, 9_545_000, 1_008_000], [127, 5, 1]),
    "Spanish, bars": (SPANISH.encode("cp1252"), [6_055_000, 9_545_000, 11_795_000], [31, 127, 96]),
    "ranges in one column": (RANGES.encode(), [148_500, 526_500, 7_200_000, 11_795_000], [127] * 4),
    "units in the cells": (UNITS.encode(), [7_325_000, 531_000, 9_545_000, 783_000], [1, 31, 32, 127]),
    "workbook": (None, [6_055_000, 783_000], [31, 127]),
}  # fmt: skip


def listed(folder: Path, data: bytes | str) -> Path:
    path = folder / "a list.csv"
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


def imported(folder: Path, data: bytes | str, capsys: Capture, *words: str) -> tuple[int, Path, list[str]]:
    made = folder / "ours.csv"
    status = main(["bands", "--import", str(listed(folder, data)), "--output", str(made), *words])
    return status, made, capsys.readouterr().err.splitlines()


def days(bands: Bands) -> list[int]:
    by_code = [*(schedule.days for schedule in bands.schedules), 127]
    return [by_code[code] for code in bands.schedule.tolist()]


@pytest.mark.parametrize("name", LISTS)
def test_a_list_without_services_is_taken_in_one_attempt(name: str, tmp_path: Path, capsys: Capture) -> None:
    """Broadcasting bands hold nearly all of each: that is the service of all, and the first line."""
    data, hz, bits = LISTS[name]
    status, made, said = imported(tmp_path, workbook() if data is None else data, capsys)
    assert status == 0, said
    bands = read_bands(made)
    assert bands.low_hz.tolist() == hz
    assert {bands.services[code] for code in bands.service.tolist()} == {"broadcast"}
    assert days(bands) == bits
    assert said[0].startswith(f"service: broadcast for all, since {len(hz)} of {len(hz)} frequencies lie in")
    assert "--column service==NAME for another" in said[0]


def test_ranges_have_both_their_edges(tmp_path: Path, capsys: Capture) -> None:
    _, made, _ = imported(tmp_path, RANGES, capsys)
    assert read_bands(made).high_hz.tolist() == [283_500, 1_606_500, 7_450_000, 11_795_000]


def test_a_stray_leaves_the_service_clear_and_is_counted(tmp_path: Path) -> None:
    inside = [9_400 + 5 * number for number in range(20)]
    text = "kHz,Station\n" + "".join(f"{khz},Radio {khz}\n" for khz in [*inside, 11_005])
    found = import_list(listed(tmp_path, text)).service_found
    assert found is not None
    assert (found.service, found.within, found.of) == ("broadcast", 20, 21)


@pytest.mark.parametrize(
    ("khz", "proposed"),
    [
        ((14_100, 14_200, 14_300, 9_500, 9_600), "amateur"),
        ((9_500, 9_600, 9_700, 14_100, 14_200), "broadcast"),
    ],
)
def test_where_services_mix_the_list_is_refused_with_what_most_are(
    khz: tuple[int, ...], proposed: str, tmp_path: Path, capsys: Capture
) -> None:
    """And the command keeps what was given beside it."""
    text = "kHz,Station\n" + "".join(f"{frequency},Radio {frequency}\n" for frequency in khz)
    status, made, said = imported(tmp_path, text, capsys, "--delimiter", ",")
    assert (status, made.exists()) == (1, False)
    (command,) = [line.removeprefix("what would take it: ") for line in said if line.startswith("what ")]
    assert f"--column service=={proposed}" in command
    assert f"--output {made}" in command.replace("'", "")
    assert main(shlex.split(command)[1:]) == 0
    assert len(read_bands(made)) == len(khz)


def test_days_that_are_none_cost_the_days_and_come_first(tmp_path: Path, capsys: Capture) -> None:
    text = "kHz,Station,Days\n" + "".join(f"{9400 + n},Radio {n},xyz {n}\n" for n in range(20))
    status, made, said = imported(tmp_path, text + "9500,Radio Z,Mo-Fr\n", capsys)
    assert status == 0
    assert said[0].startswith('days not read in 20 of 21 rows, which are taken as every day: "xyz 0"')
    assert days(read_bands(made)) == [127] * 20 + [31]


def test_where_most_rows_are_lost_nothing_is_written_unless_asked(tmp_path: Path, capsys: Capture) -> None:
    text = "kHz,Station,Service\n9500,A,broadcast\n" + "x,B,broadcast\n" * 3
    status, made, said = imported(tmp_path, text, capsys)
    assert (status, made.exists()) == (1, False)
    assert "1 taken, 3 left out of 4 rows, nothing written" in said[0]
    status, made, _ = imported(tmp_path, text, capsys, "--partly")
    assert (status, len(read_bands(made))) == (0, 1)


@pytest.mark.parametrize(
    ("cells", "read"),
    [
        (["Di", "Mo-Fr", "So"], ["tue", "mon-fri", "sun"]),
        (["Di", "Lu-Ve"], ["sun", "mon-fri"]),
        (["Di"], [None]),
        (["1-5", "1,2", "..3...7"], ["mon-fri", "mon;tue", "wed;sun"]),
        (["8", "0", "someday"], [None] * 3),
        (["Fri-Mon", "SaSu", "weekend", ""], ["fri-mon", "sat;sun", "sat;sun", ""]),
    ],
)
def test_days_are_read_by_the_language_of_their_column(cells: list[str], read: list[str | None]) -> None:
    """A word that is two days in two languages stays unread where the rest does not tell which."""
    assert [list_form.days_of(cells)[cell] for cell in cells] == read


ENDS = {
    ("148.5", ""): "148.5", ("148.5", "khz"): "148.5 kHz", ("900", "khz"): "900kHz",
    ("1.6", "mhz"): "1.6 MHz", ("7", "mhz"): "7 Mc/s", ("30000", "hz"): "30000 Hz",
    ("1", "ghz"): "1 GHz", ("6200", "khz"): "6200 kc",
}  # fmt: skip


@pytest.mark.parametrize("low", ENDS)
@pytest.mark.parametrize("high", ENDS)
@pytest.mark.parametrize("between", [" - ", "-", " \u2013 ", " to ", " bis "])
def test_each_end_of_a_range_is_in_its_own_unit(
    low: tuple[str, str], high: tuple[str, str], between: str
) -> None:
    """An end without one has that of the other; without any the unit of the column is left to say."""
    cell = f"{ENDS[low]}{between}{ENDS[high]}"
    got = list_form.frequencies_in(cell)
    assert got == [(low[0], low[1] or high[1]), (high[0], high[1] or low[1])], cell
    assert list_form.is_range(cell)
    assert list_form.frequencies_in(ENDS[low]) == [low]
    assert not list_form.is_range(ENDS[low])


def test_a_band_from_kilohertz_to_megahertz_is_taken_from_end_to_end(tmp_path: Path) -> None:
    """900 kHz to 1.6 MHz, worth 900 and 1600 kHz, whichever unit the list has."""
    rows = "Frequency;Service;Station\n900 kHz - 1.6 MHz;broadcast;Part\n6070;broadcast;A\n7300;broadcast;B\n"
    got = import_list(listed(tmp_path, rows), unit="kHz")
    assert got.taken == 3
    made = tmp_path / "made.csv"
    made.write_text(got.text, encoding="utf-8")
    bands = read_bands(made)
    assert (int(bands.low_hz[0]), int(bands.high_hz[0])) == (900_000, 1_600_000)


def test_a_column_of_times_that_are_no_hours_is_left_alone(tmp_path: Path) -> None:
    got = import_list(listed(tmp_path, "kHz,Station,Time\n9500,A,evening\n9600,B,often\n"))
    assert got.taken == 2
    assert got.not_taken == ("Time",)


@pytest.mark.parametrize(
    ("hours", "on_days", "second", "day", "share"),
    [
        ("1700-2000", "", 18 * 3600, None, 1.0),
        ("1700-2000", "", None, None, None),
        ("0000-2400", "", None, None, 1.0),
        ("1700-2000", "mon-fri", 18 * 3600, None, 5 / 7),
        ("1700-2000", "mon-fri", 18 * 3600, 5, 0.0),
        ("", "mon-fri", 18 * 3600, None, None),
    ],
)
def test_on_which_share_of_the_days_hours_hold_a_time(
    hours: str, on_days: str, second: int | None, day: int | None, share: float | None
) -> None:
    schedule = Schedule(parse_hours(hours) if hours else (), parse_days(on_days) if on_days else 127)
    assert schedule.share_at(Moment(second, day=day)) == share


def test_a_broadcaster_in_its_hours_is_on_the_air_as_listed(tmp_path: Path) -> None:
    """An amateur keeps to no hours, and a broadcaster without hours is one channel of many."""
    rows = "11005,broadcast,A,1700-2000\n11010,broadcast,B,\n14100,amateur,C,1700-2000\n"
    bands = read_bands([listed(tmp_path, "freq_khz,service,label,hours\n" + rows)])
    table = shipped_activity()
    other = table.spot_chance["other"]
    at_hour = present(occupants_of(bands, utc="1800"), 1, "typical").chance
    assert at_hour.tolist() == [table.as_listed("broadcast"), other, other]
    assert table.as_listed("broadcast") > 0.5 > other
    assert present(occupants_of(bands), 1, "typical").chance.tolist() == [other] * 3
    assert np.isnan(table.as_listed("amateur"))


def test_a_file_of_another_kind_is_named(tmp_path: Path) -> None:
    receiver = tmp_path / "set.toml"
    receiver.write_text('# a set\nname = "x"\n[[range]]\nname = "1"\n')
    with pytest.raises(Refused, match=r"set\.toml: is a receiver file, and no table of rows"):
        read_bands([receiver])
    import spurplan

    table = listed(tmp_path, "freq_khz,service,label\n7100,amateur,A\n")
    with pytest.raises(
        Refused, match=r"is a bench log or another table of rows .* the receiver file comes first"
    ):
        spurplan.dial(table, frequency="14.2 MHz")
    with pytest.raises(Refused, match=r"nosuch\.toml: does not exist; check the path"):
        spurplan.dial(tmp_path / "nosuch.toml", frequency="14.2 MHz")
    with pytest.raises(Refused, match=r"sett.toml: does not exist; did you mean .*set\.toml"):
        spurplan.dial(tmp_path / "sett.toml", frequency="14.2 MHz")
