"""A station that somebody wrote down by name, among the bands and rasters that only say what may be there."""

from __future__ import annotations

from pathlib import Path

import pytest

import spurplan
from spurplan.cli import main
from spurplan.receiver.description import Receiver

SET = """\
name = "Signal-box set"
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "1"
coverage = ["14 MHz", "15 MHz"]
front_end = [ { circuits = 1, q = 40 } ]
"""
# the image of 14.270 MHz is 15.200 MHz
GENERIC = """\
low_khz,high_khz,raster_khz,service,label,level
15100,15800,,broadcast,19 m broadcasting,
15100,15800,5,broadcast,19 m carrier,
"""
NAMED = "freq_khz,service,label,level,bandwidth_khz\n15200,broadcast,Radio Lamplighter,{},10\n"


@pytest.fixture
def air(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return words of a command line: a set and two tables; a page that breaks no label."""
    monkeypatch.setenv("COLUMNS", "200")
    (tmp_path / "set.toml").write_text(SET, "utf-8")
    (tmp_path / "generic.csv").write_text(GENERIC, "utf-8")
    (tmp_path / "named.csv").write_text(NAMED.format("S9+50"), "utf-8")
    return [str(tmp_path / "set.toml"), str(tmp_path / "generic.csv"), str(tmp_path / "named.csv")]


def output_of(capsys: pytest.CaptureFixture[str], command: str, air: list[str], *words: str) -> str:
    assert main([command, air[0], *words, "--bands", air[1], "--bands", air[2]]) == 0
    return capsys.readouterr().out


def test_a_spot_is_told_from_a_band_and_a_raster(air: list[str]) -> None:
    """One line, one frequency, one station."""
    found = spurplan.dial(air[0], bands=air[1:], frequency="14.27 MHz").intrusions.records()
    assert {row["label"]: row["spot"] for row in found} == {
        "19 m broadcasting": False, "19 m carrier": False, "Radio Lamplighter": True,
    }  # fmt: skip


@pytest.mark.parametrize("level", ["S9+50", "S9", ""])
def test_a_dial_setting_names_the_station(
    air: list[str], level: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With its own level, louder or weaker than typical; it stands for what only may be there."""
    Path(air[2]).write_text(NAMED.format(level), "utf-8")
    rows = spurplan.dial(air[0], bands=air[1:], frequency="14.27 MHz").intrusions.records()
    own = next(row for row in rows if row["label"] == "Radio Lamplighter")
    page = output_of(capsys, "dial", air, "14.27", "MHz")
    table = page[page.index("Really on") : page.index("On frequency")]
    assert "19 m carrier" not in table
    assert "19 m broadcasting" not in table
    assert len([line for line in table.splitlines() if "Radio" in line]) == 1
    assert f"{own['grade']}  {own['heard_s']}" in table.replace("   ", "  ")
    assert f"Intrusions: {len(rows)} records in 1 line" in page.replace("\n  ", " ")


def test_what_comes_from_beside_the_station_keeps_its_line(
    air: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """In a passband of 6 kHz between 15.2 and 15.205 MHz there are two carriers; one has a name."""
    Path(air[1]).write_text(GENERIC.splitlines()[0] + "\n" + GENERIC.splitlines()[2] + "\n", "utf-8")
    Path(air[2]).write_text(NAMED.format("S9+50").replace(",10\n", ",\n"), "utf-8")
    page = output_of(capsys, "dial", air, "14.2725", "MHz")
    assert "Radio Lamplighter" in page
    assert "19 m carrier" in page


def test_ranges_list_a_station_with_a_level_of_its_own(
    air: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """It is not drowned in the band it stands in."""
    page = output_of(capsys, "ranges", air)
    lines = [line for line in page.splitlines() if {"strong", "audible"} & set(line.split())]
    assert sum("Radio Lamplighter" in line and "image" in line for line in lines) == 1
    assert any("19 m" in line for line in lines)


def test_suspects_name_the_station_once(air: list[str]) -> None:
    """The carrier of the raster on its frequency is no second cause."""
    found = spurplan.suspects(
        air[0], bands=air[1:], frequency="14.27 MHz", moves="against"
    ).suspects.records()
    assert found[0]["label"] == "Radio Lamplighter"
    assert [row["label"] for row in found if row["response"] == "image"] == ["Radio Lamplighter"]


def test_two_stations_on_one_frequency_keep_their_own_levels(
    air: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """S9+40 is -33 dBm; the station of -10 dBm is another one."""
    rows = "15200,broadcast,Weak,S9+40,10\n15200,broadcast,Loud,-10 dBm,\n"
    Path(air[2]).write_text(NAMED.splitlines()[0] + "\n" + rows, "utf-8")
    assert main(["ranges", *air[:1], "--bands", air[2]]) == 0
    page = capsys.readouterr().out
    for label, level in (("Weak", "-33"), ("Loud", "-10")):
        lines = [line.split() for line in page.splitlines() if label in line and "image" in line]
        [cells] = [cells for cells in lines if "strong" in cells]
        assert level in cells


def test_a_suspect_is_on_a_frequency_that_somebody_uses(air: list[str]) -> None:
    """Of two carriers in one passband the louder one is named, not the middle between them."""
    rows = "15100,15800,5,broadcast,19 m carrier,-40 dBm\n"
    Path(air[1]).write_text(GENERIC.splitlines()[0] + "\n" + rows, "utf-8")
    for hz in range(14_270_000, 14_275_000, 900):
        found = spurplan.suspects(air[0], bands=air[1], frequency=hz).suspects.records()
        images = [row["rf_hz"] for row in found if row["response"] == "image"]
        assert images
        assert all(rf % 5_000 == 0 for rf in images)


def test_a_station_found_by_its_frequency_has_its_own_width(air: list[str]) -> None:
    """By label and by frequency it turns up on the same stretch."""
    by_label = spurplan.station(air[0], bands=air[2], label="Lamplighter").intrusions.records()
    by_frequency = spurplan.station(air[0], bands=air[2], frequency="15.2 MHz").intrusions.records()
    assert by_label == by_frequency
    image = next(row for row in by_label if row["response"] == "image")
    # 10 kHz of station in 6 kHz of passband
    assert image["dial_high_hz"] - image["dial_low_hz"] == 16_000


@pytest.mark.parametrize("label", ["", " ", 5, None])
def test_nothing_is_no_part_of_a_label(air: list[str], label: object) -> None:
    with pytest.raises(spurplan.Refused, match="label"):
        spurplan.station(air[0], bands=air[2], label=label)  # type: ignore[arg-type]


def test_an_image_beyond_the_tables_is_said_of_one_setting(
    air: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """The image of 14.9 MHz is 15.83 MHz, above the last row."""
    assert spurplan.dial(air[0], bands=air[1:], frequency="14.9 MHz").settings["image_unknown"] == ("1",)
    assert spurplan.dial(air[0], bands=air[1:], frequency="14.3 MHz").settings["image_unknown"] == ()
    page = output_of(capsys, "dial", air, "14.9", "MHz")
    assert "Unknown: its image lies beyond the tables" in page
    assert "Unknown:" not in output_of(capsys, "dial", air, "14.3", "MHz")


def test_products_of_two_are_not_passed_over_in_the_heading(
    air: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """14.05 and 14.1 MHz make 14.15 and 14.0 MHz of the third order. Common practice."""
    rows = "14050,broadcast,P,-5 dBm,\n14100,broadcast,Q,-5 dBm,\n"
    rows += "60,beacon,R,-140 dBm,\n90000,beacon,S,-140 dBm,\n"
    Path(air[2]).write_text(NAMED.splitlines()[0] + "\n" + rows, "utf-8")
    assert main(["dial", air[0], "14.15MHz", "--bands", air[2], "--intermodulation"]) == 0
    page = capsys.readouterr().out
    assert "No intrusions by one station alone; products of two are below." in page
    assert "2 f2 - f1" in page or "2 f1 - f2" in page


def test_an_order_that_leaves_out_the_set_itself_is_said(air: list[str]) -> None:
    """A set that mixes with the third harmonic has its image there."""
    Path(air[0]).write_text(SET.replace('if = "465 kHz"', 'if = "465 kHz"\noscillator_harmonic = 3'), "utf-8")
    assert any("harmonic 3" in one for one in spurplan.ranges(air[0], bands=air[1], lo_order=2).assumptions)
    assert not any("harmonic 3" in one for one in spurplan.ranges(air[0], bands=air[1]).assumptions)


def test_a_list_of_stations_is_not_taken_for_all_there_is(
    air: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Between two stations far apart nobody is listed, which is not nobody there."""
    Path(air[2]).write_text(NAMED.format("S9") + "100000,beacon,Far light,S1,\n", "utf-8")
    assert main(["ranges", air[0], "--bands", air[2]]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "Unknown: the tables list somebody on 0.1 % of what they span" in page
    assert main(["ranges", air[0]]) == 0
    assert "list somebody on" not in capsys.readouterr().out.split("Assumed")[0]


# intercept far down, so that what two and three local stations make is loud
OVERDRIVEN: dict[str, object] = {
    "name": "Any",
    "region": 1,
    "iip3": "-30 dBm",
    "conversion": [
        {"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz", "shape_factor": 3}}
    ],
    "range": [{"name": "1", "coverage": ["4 MHz", "12 MHz"]}],
}


@pytest.mark.parametrize(
    ("stations", "on_hz", "there"),
    [
        # 2 f1 - f2, f1 + f2 and f1 + f2 - f3: somebody's product, and nobody is there
        (((6_000, "Alpha"), (5_500, "Beta")), 6_500_000, ()),
        (((4_500, "Alpha"), (5_500, "Beta")), 10_000_000, ()),
        (((6_000, "Alpha"), (5_500, "Beta"), (5_200, "Gamma")), 6_300_000, ()),
        # 930 kHz under the first: its image, whoever else is on the air
        (((6_000, "Alpha"),), 5_070_000, ("Alpha is at 5.071 MHz as well",)),
        (((6_000, "Alpha"), (5_500, "Beta")), 5_070_000, ("Alpha is at 5.071 MHz as well",)),
        (((6_000, "Alpha"), (5_500, "Beta")), 4_570_000, ("Beta is at 4.571 MHz as well",)),
    ],
)
def test_only_a_station_that_comes_in_itself_is_somewhere_as_well(
    stations: tuple[tuple[int, str], ...], on_hz: int, there: tuple[str, ...], tmp_path: Path
) -> None:
    """What stations make together is none of them: where it falls none of them is to be heard for itself."""
    air = tmp_path / "air.csv"
    air.write_text("low_khz,high_khz,service,label\n900000,900001,fixed,Elsewhere\n", "utf-8")
    [found] = spurplan.ranges(
        Receiver.from_dict(OVERDRIVEN), bands=air, local=[f"{khz}kHz=7dBm,{name}" for khz, name in stations],
        cover=(on_hz - 1_000, on_hz + 1_000), intermodulation=True,
    ).findings  # fmt: skip
    assert found.regulars == there
    first = found.busy.losses[0]
    assert (first.response == "image") is bool(there)
    assert first.share > 0.5
