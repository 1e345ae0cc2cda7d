"""Where the tables end nothing is clear: an image beyond them is unknown, and is said to be."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import spurplan
from spurplan.cli import main
from spurplan.reporting.charts.dial_row import DOT_PEN
from spurplan.reporting.charts.marks import CELL_PT
from spurplan.reporting.charts.ranges import rows as range_rows
from spurplan.reporting.charts.ranges import sheet as range_sheet
from spurplan.reporting.views import intrusions
from spurplan.responses.asking import loudest_typical_dbm
from spurplan.responses.division_of_dial import without

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
    quiet = {"level": {"amateur": "-140 dBm"}}
    answer = spurplan.ranges("set.toml", bands="mine.csv", **quiet)
    (row,) = answer.ranges.records()
    first = 30_000_001 - 2 * 455_000 - 3_000
    # a thousand settings are looked at
    assert row["unknown_share"] == pytest.approx((31_000_000 - first + 1) / 2_000_001, abs=1e-3)
    assert row["clear_share"] == pytest.approx(1.0 - row["unknown_share"], abs=1e-12)
    (stretch,) = answer.unknown.records()
    assert (stretch["range"], stretch["dial_low_hz"], stretch["dial_high_hz"]) == ("1", first, 31_000_000)
    assert stretch["margin_db"] > 0


def test_clear_is_what_is_neither_heard_nor_unknown(desk: Path) -> None:
    """Where nobody can know, nothing is clear, and where something is heard neither."""
    Path("mine.csv").write_text(
        "low_khz,high_khz,service,label,level\n1000,29950,amateur,Below,-140 dBm\n"
        "29950,30000,amateur,Image,S9+20\n29500,29600,amateur,Half-IF,S9+60\n",
        "utf-8",
    )
    answer = spurplan.ranges("set.toml", bands="mine.csv")
    (row,) = answer.ranges.records()
    dial = np.zeros(2_000_001, dtype=np.int64)
    for record in answer.unknown.records():
        dial[record["dial_low_hz"] - 29_000_000 : record["dial_high_hz"] - 29_000_000 + 1] += 1
    assert dial.max() == 1, "stretches lie apart"
    for record in answer.intrusions.records():
        if record["grade"] != "buried":
            dial[record["dial_low_hz"] - 29_000_000 : record["dial_high_hz"] - 29_000_000 + 1] += 2
    assert row["unknown_share"] == pytest.approx((dial % 2 == 1).mean(), abs=1e-3)
    assert row["clear_share"] <= (dial == 0).mean() + 1e-3
    assert 0 < row["unknown_share"] < 1


def test_the_margin_of_a_stranger_is_that_of_a_station_listed_there(desk: Path) -> None:
    """As strong a band put on the image is heard with the same margin, on the same stretch."""
    weak = ROWS.replace("label\n", "label,level\n").replace("it\n", "it,-140 dBm\n")
    Path("mine.csv").write_text(weak, "utf-8")
    (stretch,) = spurplan.ranges("set.toml", bands="mine.csv").unknown.records()
    loudest = loudest_typical_dbm(spurplan.read_receiver("set.toml"))
    with Path("mine.csv").open("a", encoding="utf-8") as file:
        file.write(f"30000.001,40000,broadcast,Stranger,{loudest} dBm\n")
    found = spurplan.ranges("set.toml", bands="mine.csv").intrusions.records()
    rows = [row for row in found if row["response"] == "image"]
    assert min(r["dial_low_hz"] for r in rows) == stretch["dial_low_hz"]
    assert max(r["margin_db"] for r in rows) == pytest.approx(stretch["margin_db"], abs=1e-6)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 3), st.integers(0, 60), st.integers(0, 20)), max_size=12),
    st.lists(st.tuples(st.integers(0, 3), st.integers(0, 60), st.integers(0, 20)), max_size=12),
)
def test_stretches_without_others_are_the_hertz_left_over(
    some: list[tuple[int, int, int]], others: list[tuple[int, int, int]]
) -> None:
    """Hertz for hertz as sets have it; none overlap or touch."""

    def columns(rows: list[tuple[int, int, int]]) -> tuple[np.ndarray, ...]:
        group, low, width = np.array(rows, dtype=np.int64).reshape(-1, 3).T
        return group, low, low + width

    def hertz(group: np.ndarray, low: np.ndarray, high: np.ndarray) -> list[tuple[int, int]]:
        ends = zip(group.tolist(), low.tolist(), high.tolist(), strict=True)
        return [(g, hz) for g, a, b in ends for hz in range(a, b + 1)]

    found = without(columns(some), columns(others))
    assert hertz(*found) == sorted(set(hertz(*columns(some))) - set(hertz(*columns(others))))
    same = found[0][1:] == found[0][:-1]
    assert (found[1][1:] > found[2][:-1] + 1)[same].all()


def test_status_3_where_nobody_can_know(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--fail-on unknown: on a range, at a setting; not where the tables reach; not where it is not told."""
    words = ["--bands", "mine.csv", "--level", "amateur=-140 dBm", "--fail-on", "unknown"]
    assert main(["ranges", "set.toml", *words]) == 3
    assert main(["dial", "set.toml", "30", "MHz", *words]) == 3
    assert main(["dial", "set.toml", "29", "MHz", *words]) == 0
    Path("mine.csv").write_text(ROWS.replace("30000", "40000"), "utf-8")
    assert main(["ranges", "set.toml", *words]) == 0
    assert main(["station", "set.toml", "29", "MHz", *words]) == 2
    assert "does not tell what the tables leave open" in capsys.readouterr().err


def test_a_strip_is_dotted_where_nobody_can_know(desk: Path) -> None:
    """Every part of the strip is spoilt, unknown or clear; the unknown ones are those of the table."""
    level = {"level": {"amateur": "-140 dBm"}}
    answer = spurplan.ranges("set.toml", bands="mine.csv", **level)
    receiver = spurplan.read_receiver("set.toml")
    (row,) = range_rows(answer, receiver, 720.0)
    ((low, high),) = row.unknown
    (stretch,) = answer.unknown.records()
    cell = 2_000_000 / ((row.scale.right - row.scale.left) / CELL_PT)
    assert abs(low - stretch["dial_low_hz"]) <= cell
    assert high == 31_000_000
    assert row.summary.startswith("4 % clear, 96 % unknown")
    items = range_sheet(answer, receiver, 720.0).items
    assert sum(getattr(item, "pen", None) == DOT_PEN for item in items) > 100


def test_a_station_that_could_not_be_heard_there_leaves_nothing_unknown(desk: Path) -> None:
    """With a front end that holds any image down, where the tables end does not matter."""
    Path("set.toml").write_text(
        "case_pickup = '200 dB'\n"
        + SET.replace("circuits = 1, q = 60", "circuits = 4, q = 400").replace(
            "[[range]]", "[[range]]\nfront_end_ceiling = '140 dB'"
        ),
        "utf-8",
    )
    (row,) = spurplan.ranges("set.toml", bands="mine.csv").ranges.records()
    assert row["unknown_share"] == 0.0


def test_tables_that_know_nothing_leave_all_of_it_unknown(desk: Path) -> None:
    Path("mine.csv").write_text(ROWS.replace("label\n", "label,region\n").replace("it\n", "it,3\n"), "utf-8")
    (row,) = spurplan.ranges("set.toml", bands="mine.csv", region=1).ranges.records()
    assert (row["clear_share"], row["unknown_share"]) == (0.0, 1.0)


def test_it_is_said_at_the_head_of_the_page(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        main(["ranges", "set.toml", "--bands", "mine.csv", "--level", "amateur=-140 dBm", "--assumptions"])
        == 0
    )
    said = " ".join(capsys.readouterr().out.split())
    assert "Unknown: on 95.6 % of range 1 the image lies beyond the tables" in said
    assert "with somebody listed on 100 % of it: what lies beyond or between is unknown" in said


@pytest.mark.parametrize(("share", "said"), [(0.004, "0.4"), (0.3, "30.0"), (0.5, "50.0")])
def test_however_little_is_unknown_is_said(desk: Path, share: float, said: str) -> None:
    """Unknown never looks like clear; where nothing is, nothing is said of it."""
    answer = spurplan.ranges("set.toml", bands="mine.csv")
    table = answer.tables["ranges"]
    for part, lines in ((share, [f"Unknown: on {said} % of range 1"]), (0.0, [])):
        known = replace(table, values={**table.values, "unknown_share": np.full(len(table), part)})
        told = intrusions.besides(replace(answer, tables={**answer.tables, "ranges": known}))
        assert [line[: line.find(" the image")] for line in told if "of range" in line] == lines


def test_shipped_tables_leave_nothing_of_a_short_wave_set_unknown() -> None:
    """All images of the demonstration set lie within what the tables know."""
    demo = Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml"
    table = spurplan.ranges(demo).ranges
    assert not np.any(table["unknown_share"])


def test_a_crystal_does_not_win_by_an_image_that_no_table_knows(desk: Path) -> None:
    """116 MHz has broadcasting on its image, which is listed; 3 x 58 MHz has 202-204 MHz, which is not."""
    selective = SET.replace("circuits = 1, q = 60", "circuits = 4, q = 400").replace('"29 MHz"', '"27 MHz"')
    Path("set.toml").write_text(selective, "utf-8")
    Path("stock.csv").write_text("freq_mhz,mode\n58,3rd\n116,5th\n", "utf-8")
    answer = spurplan.converter("set.toml", cover="144:146 MHz", stock="stock.csv")
    # of what injects the same the first
    rows = {row["injected_hz"]: row for row in reversed(answer.candidates.records())}
    blind, listed = rows[174_000_000], rows[116_000_000]
    assert blind["unheard_share"] == 0.0
    assert blind["unknown_share"] > 0.9 > listed["unknown_share"]
    assert listed["rank"] < blind["rank"]
    assert any("beyond the tables: unknown, not clear" in reason for reason in blind["reasons"])
    ways = spurplan.converter("set.toml", cover="144:146 MHz", explain="58 MHz").ways_in.records()
    unheard = next(way for way in ways if way["rf_low_hz"] == 202_000_000)
    assert (unheard["label"], unheard["grade"]) == ("beyond the tables", None)


def test_a_dial_on_the_sets_own_if_is_called_unusable(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing listed there would read as clear."""
    Path("set.toml").write_text(SET.replace('["29 MHz", "31 MHz"]', '["400 kHz", "1600 kHz"]'), "utf-8")
    assert main(["dial", "set.toml", "455", "kHz", "--bands", "mine.csv"]) == 0
    assert "Unusable: on range 1 that is the set's own IF" in capsys.readouterr().out
    assert main(["ranges", "set.toml", "--bands", "mine.csv"]) == 0
    assert "Dead: range 1 from 449 kHz to 461 kHz, where the set's own IF" in capsys.readouterr().out
    assert main(["dial", "set.toml", "600", "kHz", "--bands", "mine.csv"]) == 0
    assert "Unusable" not in capsys.readouterr().out
