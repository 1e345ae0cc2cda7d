"""A station that somebody wrote down by name, among the bands and rasters that only say what may be there."""

from __future__ import annotations

from pathlib import Path

import pytest

import spurplan
from spurplan.cli import main

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
def air(tmp_path: Path) -> list[str]:
    """Return words of a command line: a set and two tables."""
    (tmp_path / "set.toml").write_text(SET, "utf-8")
    (tmp_path / "generic.csv").write_text(GENERIC, "utf-8")
    (tmp_path / "named.csv").write_text(NAMED.format("S9+50"), "utf-8")
    return [str(tmp_path / "set.toml"), str(tmp_path / "generic.csv"), str(tmp_path / "named.csv")]


def said(capsys: pytest.CaptureFixture[str], command: str, air: list[str], *words: str) -> str:
    assert main([command, air[0], *words, "--bands", air[1], "--bands", air[2]]) == 0
    return capsys.readouterr().out


def test_a_spot_is_told_from_a_band_and_a_raster(air: list[str]) -> None:
    """One line, one frequency, one station."""
    found = spurplan.dial(air[0], air[1:], "14.27 MHz").intrusions.records()
    assert {row["label"]: row["spot"] for row in found} == {
        "19 m broadcasting": False, "19 m carrier": False, "Radio Lamplighter": True,
    }  # fmt: skip


@pytest.mark.parametrize("level", ["S9+50", "S9", ""])
def test_a_dial_setting_names_the_station(
    air: list[str], level: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With its own level, louder or weaker than typical; it stands for what only may be there."""
    Path(air[2]).write_text(NAMED.format(level), "utf-8")
    rows = spurplan.dial(air[0], air[1:], "14.27 MHz").intrusions.records()
    own = next(row for row in rows if row["label"] == "Radio Lamplighter")
    page = said(capsys, "dial", air, "14.27", "MHz")
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
    page = said(capsys, "dial", air, "14.2725", "MHz")
    assert "Radio Lamplighter" in page
    assert "19 m carrier" in page


def test_ranges_list_a_station_with_a_level_of_its_own(
    air: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """It is not drowned in the band it stands in."""
    page = said(capsys, "ranges", air)
    lines = [line for line in page.splitlines() if line.startswith(("strong", "audible"))]
    assert sum("Radio Lamplighter" in line and "image" in line for line in lines) == 1
    assert any("19 m" in line for line in lines)


def test_suspects_name_the_station_once(air: list[str]) -> None:
    """The carrier of the raster on its frequency is no second cause."""
    found = spurplan.suspects(air[0], air[1:], "14.27 MHz", moves="against").suspects.records()
    assert found[0]["label"] == "Radio Lamplighter"
    assert [row["label"] for row in found if row["response"] == "image"] == ["Radio Lamplighter"]
