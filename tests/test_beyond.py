"""Where the tables end nothing is clear: an image beyond them is unknown, and is said to be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import spurplan
from spurplan.cli import main

SET = """\
name = "Bench set"
noise = [["20 MHz", "-120 dBm"]]
[[conversion]]
injection = "high"
if = "455 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "1"
coverage = ["29 MHz", "31 MHz"]
front_end = [{ circuits = 1, q = 60 }]
"""
ROWS = "low_khz,high_khz,service,label\n1000,30000,amateur,All of it\n"


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A set, and a table that ends at 30 MHz."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    Path("set.toml").write_text(SET, "utf-8")
    Path("mine.csv").write_text(ROWS, "utf-8")
    return tmp_path


def test_the_share_whose_image_no_table_knows_is_that_worked_out_by_hand(desk: Path) -> None:
    """High-side image: dial + 910 kHz. Above 30 MHz from dial 29.090 MHz on, less half the passband."""
    (row,) = spurplan.ranges("set.toml", "mine.csv").ranges.records()
    first = 30_000_001 - 2 * 455_000 - 3_000
    assert row["unknown_share"] == pytest.approx((31_000_000 - first + 1) / 2_000_001, abs=1e-9)


def test_a_station_that_could_not_be_heard_there_leaves_nothing_unknown(desk: Path) -> None:
    """With a front end that holds any image down, where the tables end does not matter."""
    Path("set.toml").write_text(
        SET.replace("circuits = 1, q = 60", "circuits = 4, q = 400").replace(
            "[[range]]", "[[range]]\nfront_end_ceiling = '140 dB'"
        ),
        "utf-8",
    )
    (row,) = spurplan.ranges("set.toml", "mine.csv").ranges.records()
    assert row["unknown_share"] == 0.0


def test_tables_that_know_nothing_leave_all_of_it_unknown(desk: Path) -> None:
    Path("mine.csv").write_text(ROWS.replace("label\n", "label,region\n").replace("it\n", "it,3\n"), "utf-8")
    (row,) = spurplan.ranges("set.toml", "mine.csv", region=1).ranges.records()
    assert (row["clear_share"], row["unknown_share"]) == (1.0, 1.0)


def test_it_is_said_at_the_head_of_the_page(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ranges", "set.toml", "--bands", "mine.csv"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Unknown: on 95.6 % of range 1 the image lies beyond the tables" in said
    assert "with somebody listed on 100 % of it: what lies beyond or between is unknown" in said


def test_shipped_tables_leave_nothing_of_a_short_wave_set_unknown() -> None:
    """All images of the demonstration set lie within what the tables know."""
    demo = Path(__file__).parents[1] / "demos" / "boathouse" / "set.toml"
    table = spurplan.ranges(demo).ranges
    assert not np.any(table["unknown_share"])


def test_a_crystal_does_not_win_by_an_image_that_no_table_knows(desk: Path) -> None:
    """116 MHz has broadcasting on its image, which is listed; 3 x 58 MHz has 202-204 MHz, which is not."""
    selective = SET.replace("circuits = 1, q = 60", "circuits = 4, q = 400").replace('"29 MHz"', '"27 MHz"')
    Path("set.toml").write_text(selective, "utf-8")
    Path("stock.csv").write_text("freq_mhz,mode\n58,3rd\n116,5th\n", "utf-8")
    answer = spurplan.converter("set.toml", None, "144:146 MHz", stock="stock.csv")
    rows = {row["injected_hz"]: row for row in answer.candidates.records()}
    blind, listed = rows[174_000_000], rows[116_000_000]
    assert blind["clear_share"] > listed["clear_share"]
    assert blind["unknown_share"] == 1.0
    assert listed["rank"] < blind["rank"]
    assert any("beyond the tables: unknown, not clear" in reason for reason in blind["reasons"])
    ways = spurplan.converter("set.toml", None, "144:146 MHz", explain="58 MHz").ways_in.records()
    unheard = next(way for way in ways if way["rf_low_hz"] == 202_000_000)
    assert (unheard["label"], unheard["grade"]) == ("beyond the tables", None)


def test_a_dial_on_the_sets_own_if_is_called_unusable(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing listed there would read as clear."""
    Path("set.toml").write_text(SET.replace('["29 MHz", "31 MHz"]', '["400 kHz", "1600 kHz"]'), "utf-8")
    assert main(["dial", "set.toml", "455", "kHz", "--bands", "mine.csv"]) == 0
    assert "Unusable: on range 1 that is the set's own IF" in capsys.readouterr().out
    assert main(["ranges", "set.toml", "--bands", "mine.csv"]) == 0
    assert "Unusable: range 1 from 449 kHz to 461 kHz, where the set's own IF" in capsys.readouterr().out
    assert main(["dial", "set.toml", "600", "kHz", "--bands", "mine.csv"]) == 0
    assert "Unusable" not in capsys.readouterr().out
