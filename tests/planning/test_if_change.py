"""if_change: another IF against the present one, range by range."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.if_change.costs import effort_of, estimates
from spurplan.planning.if_change.other_ifs import possible, with_ifs
from spurplan.planning.if_change.proposal_table import PROPOSAL_COLUMNS
from spurplan.planning.if_change.proposals import Asked, with_change
from spurplan.planning.if_change.scan_list import SCAN_COLUMNS
from spurplan.planning.if_change.usual import filters_near, usual_at, usual_ifs
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import parse_receiver
from spurplan.reporting.views import if_change as page

# a set with two ranges and a few invented stations
SET = """
name = "IF bench"
noise_figure = "14 dB"
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "1"
coverage = ["530 kHz", "1.62 MHz"]
front_end = [ { circuits = 2, q = 90 } ]
[range.gang]
c_max = "500 pF"
c_min = "57 pF"
[[range]]
name = "4"
coverage = ["11 MHz", "13 MHz"]
front_end = [ { circuits = 1, q = 55 } ]
"""
BANDS = """low_khz,high_khz,service,label,level,mode
12200,12800,broadcast,Lantern relay,-40 dBm,
1595,1605,broadcast,Harbour light,-20 dBm,
14800,15200,fixed_mobile,Signal hill,-50 dBm,
"""
# a station above them all: the tables reach to the images
FAR_HILL = "60000,60001,fixed_mobile,Far hill,-140 dBm,\n"
SHARES = [
    "usable_before", "usable_after", "usable_gain", "usable_gain_low", "usable_gain_high", "better_in",
    "unknown_share",
    "unlisted_share",
]  # fmt: skip
FIELDS = [
    "range", "if_hz", "first_if_hz", "injection", "verdict", *SHARES, "image_low_hz", "image_high_hz",
    "image_rejection_db", "half_if_margin_db", "on_if_label", "on_if_dbm", "dead_low_hz", "dead_high_hz",
    "whistles", "oscillator_low_hz", "oscillator_high_hz", "oscillator_ratio", "tracking_error_hz",
    "bandwidth_hz", "lost_to_label", "lost_by", "lost_share", "reasons",
]  # fmt: skip
# a full band on the images of range 4; stations at both ends, so that the tables reach to all images
LOUD = """low_khz,high_khz,service,label,level,mode
11930,13930,broadcast,Lantern relay,S9+40,
60000,60001,fixed_mobile,Far hill,-140 dBm,
60,61,fixed_mobile,Low end,-140 dBm,
"""


@pytest.fixture
def bench(tmp_path: Path) -> tuple[Path, Path]:
    """Return the paths of the set and of the stations."""
    (tmp_path / "set.toml").write_text(SET)
    (tmp_path / "stations.csv").write_text(BANDS)
    return tmp_path / "set.toml", tmp_path / "stations.csv"


def proposal(answer: Any, range_name: str, if_hz: int, injection: str = "high") -> dict[str, Any]:
    """Return one proposal."""
    found = [
        row
        for row in answer.proposals.records()
        if (row["range"], row["if_hz"], row["injection"]) == (range_name, if_hz, injection)
    ]
    assert len(found) == 1
    return found[0]


# --- against the questions it is made of ------------------------------------------------------


def test_images_agree_with_the_file_edited_by_hand(bench: tuple[Path, Path]) -> None:
    """Image and dead dial are those of `ranges` for the file with the IF in it."""
    path, stations = bench
    answer = spurplan.if_change(path, bands=stations, if_=["1600 kHz", 2_900_000])
    for text, if_hz in (("465 kHz", 465_000), ("1600 kHz", 1_600_000), ("2900 kHz", 2_900_000)):
        (path.parent / "edited.toml").write_text(SET.replace('if = "465 kHz"', f'if = "{text}"'))
        for row in spurplan.ranges(path.parent / "edited.toml", bands=stations).ranges.records():
            got = proposal(answer, row["range"], if_hz)
            assert got["image_rejection_db"] == pytest.approx(row["image_rejection_db"])
            assert got["dead_low_hz"] == row["dead_low_hz"]


def test_the_other_side_is_proposed_where_there_is_room(bench: tuple[Path, Path]) -> None:
    """The oscillator below the signal, but not below a signal that is below the IF."""
    path, stations = bench
    answer = spurplan.if_change(path, bands=stations, if_="1600 kHz")
    low = SET.replace('injection = "high"', 'injection = "low"').replace('if = "465 kHz"', 'if = "1600 kHz"')
    (path.parent / "edited.toml").write_text(low.replace('"530 kHz"', '"1.61 MHz"'))
    again = spurplan.if_change(path.parent / "edited.toml", bands=stations, if_="465 kHz", range="4")
    there = proposal(again, "4", 1_600_000, "low")
    assert proposal(answer, "4", 1_600_000, "low")["usable_after"] == pytest.approx(there["usable_after"])
    # range 1 is below 1600 kHz: no oscillator fits below it
    assert not [
        row
        for row in answer.proposals
        if row["range"] == "1" and row["if_hz"] == 1_600_000 and row["injection"] == "low"
    ]


def test_what_sits_on_the_if(bench: tuple[Path, Path]) -> None:
    """A station on the new IF is named with its heard level, and spoils the range it gets into."""
    row = proposal(spurplan.if_change(bench[0], bands=bench[1], if_="1600 kHz"), "1", 1_600_000)
    assert row["on_if_label"] == "Harbour light"
    assert any(text.startswith("Harbour light breaks through on it") for text in row["reasons"])
    assert (row["dead_low_hz"], row["dead_high_hz"]) == (1_594_000, 1_606_000)
    assert row["verdict"] == "worse"
    assert (
        proposal(spurplan.if_change(bench[0], bands=bench[1], if_="1700 kHz"), "1", 1_700_000)["on_if_label"]
        is None
    )


def test_whistles_are_the_harmonics_of_the_if(bench: tuple[Path, Path]) -> None:
    """2 x 465 = 930 and 3 x 465 = 1395 kHz whistle on medium waves; common practice."""
    answer = spurplan.if_change(bench[0], bands=bench[1], if_="300 kHz")
    assert proposal(answer, "1", 465_000)["whistles"] == [930_000, 1_395_000]
    assert proposal(answer, "1", 300_000)["whistles"] == [600_000, 900_000, 1_200_000, 1_500_000]


# --- common practice ---------------------------------------------------------------------------


def test_doubling_the_if_moves_the_image_twice_as_far(bench: tuple[Path, Path]) -> None:
    """Common practice: the image stands at twice the IF from the signal."""
    answer = spurplan.if_change(bench[0], bands=bench[1], if_=["465 kHz", "930 kHz"])
    one, two = proposal(answer, "4", 465_000), proposal(answer, "4", 930_000)
    assert one["image_low_hz"] - 11_000_000 == 930_000
    assert two["image_low_hz"] - 11_000_000 == 2 * 930_000


def test_the_other_side_changes_the_rejection_by_the_distance_in_ratio(bench: tuple[Path, Path]) -> None:
    """Common practice: below, the image is as far in hertz and further in ratio, so better held down.

    10 log(1 + Q^2 v^2) with v = x/f - f/x, x = f + 2 IF above and f - 2 IF below, at 13 MHz.
    """
    answer = spurplan.if_change(bench[0], bands=bench[1], if_="465 kHz")
    for injection, x in (("high", 13.93), ("low", 12.07)):
        v = x / 13.0 - 13.0 / x
        want = 10 * math.log10(1 + 55**2 * v**2)
        assert proposal(answer, "4", 465_000, injection)["image_rejection_db"] == pytest.approx(
            want, abs=0.01
        )


def test_same_coils_pass_more_at_a_higher_if(bench: tuple[Path, Path]) -> None:
    """Common practice: of the same Q, twice the frequency is twice the bandwidth."""
    answer = spurplan.if_change(bench[0], bands=bench[1], if_="930 kHz")
    assert proposal(answer, "4", 465_000)["bandwidth_hz"] == 6_000
    assert proposal(answer, "4", 930_000)["bandwidth_hz"] == 12_000


def test_tracking_gets_harder_with_the_if(bench: tuple[Path, Path]) -> None:
    """Common practice: minimax points leave less error than Chebyshev's; parts only where a gang is known."""
    rows = spurplan.if_change(bench[0], bands=bench[1], if_="600 kHz").tracking.records()
    for range_name in ("1", "4"):
        own = {
            (r["if_hz"], r["points"]): r
            for r in rows
            if r["range"] == range_name and r["injection"] == "high"
        }
        for if_hz in (465_000, 600_000):
            best, other = own[if_hz, "minimax"], own[if_hz, "chebyshev"]
            assert best["peak_error_hz"] <= other["peak_error_hz"]
            assert (best["padder_pf"] is None) == (range_name == "4")
        assert own[600_000, "minimax"]["peak_error_hz"] > own[465_000, "minimax"]["peak_error_hz"]


# --- proposals of other kinds ------------------------------------------------------------------


def test_if_for_one_range_alone(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """RANGE=FREQ changes that range and no other, and is what is saved."""
    path, stations = bench
    stations.write_text(LOUD)
    answer = spurplan.if_change(path, bands=stations, if_=["4=2.9MHz"])
    assert {(r["range"], r["if_hz"]) for r in answer.proposals.records()} == {
        ("1", 465_000), ("4", 465_000), ("4", 2_900_000),
    }  # fmt: skip
    proposed = answer.findings.proposed
    own = {one.name: proposed.conversions_of(one)[-1].if_hz for one in proposed.ranges}
    assert own == {"1": 465_000, "4": 2_900_000}
    with pytest.raises(Refused, match=r"4=2\.9 MHz.* is for a range that --range or --cover leaves out"):
        spurplan.if_change(path, bands=stations, if_=["4=2.9MHz", "1=1.6MHz"], range="1")


def test_first_if(bench: tuple[Path, Path]) -> None:
    """A double conversion puts the image at twice the first IF and keeps the last one."""
    answer = spurplan.if_change(bench[0], bands=bench[1], first_if="10.7 MHz", range="4")
    row = next(r for r in answer.proposals if r["first_if_hz"] == 10_700_000 and r["injection"] == "high")
    assert row["if_hz"] == 465_000
    assert row["image_low_hz"] == 11_000_000 + 2 * 10_700_000
    assert row["oscillator_low_hz"] == 21_700_000
    assert any("first IF" in text for text in answer.assumptions)
    # the tuning oscillator tracks the first IF, and the page says so
    (tracked,) = (
        r for r in answer.tracking.records()
        if (r["if_hz"], r["injection"], r["points"]) == (10_700_000, "high", "minimax")
    )  # fmt: skip
    shown = next(
        r for r in page.view(answer).tables["oscillator"].records()
        if (r["first_if_hz"], r["side"]) == (10_700_000, "above")
    )  # fmt: skip
    assert shown["off"] == page.near_text(tracked["peak_error_hz"])
    # of a set with two conversions it is the first IF that changes
    change = next(one for one in answer.findings.considered if one.first_if_hz is not None)
    two = answer.findings.of_change(change, "4").proposal.receiver
    again = spurplan.if_change(two, bands=bench[1], first_if="9 MHz", range="4").proposals.records()
    assert {row["first_if_hz"] for row in again} == {10_700_000, 9_000_000}


def test_the_oscillator_of_a_first_if_is_below_it_where_there_is_room() -> None:
    """10.7 MHz and then 465 kHz by 10.235 MHz, as the usual pairs of IFs have it (common practice); below the
    last IF it can be above alone."""
    bench_set = parse_receiver(SET)
    for first_hz, side, second_hz in ((10_700_000, "low", 10_235_000), (300_000, "high", 765_000)):
        doubled = with_change(bench_set, Asked(first_if_hz=first_hz), "4")
        own = next(range_ for range_ in doubled.ranges if range_.name == "4")
        assert doubled.conversions_of(own)[1].injection == side
        plan = doubled.plans_of(own)[1]
        assert (plan.osc_a, plan.osc_b // plan.osc_h) == (0, second_hz)


def test_an_if_costs_more_where_nothing_is_made_for_it() -> None:
    """Coils that are too wide are more work by far than a frequency that nobody else has."""
    effort = estimates()["effort"]
    usual, unusual = Asked(if_hz=465_000), Asked(if_hz=523_000)
    assert effort_of(usual) == effort["another_if"]
    assert effort_of(usual, too_wide=True) == effort["another_if"] + effort["nothing_made"]
    assert effort_of(unusual) == effort["another_if"] + effort["unusual"]
    assert effort_of(unusual) < effort_of(usual, too_wide=True) < effort_of(unusual, too_wide=True)


def test_impossible_on_one_range_is_said_there(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """A change that one range can not have is a row of unknowns that says why."""
    low = SET.replace('injection = "high"', 'injection = "low"')
    (tmp_path / "low.toml").write_text(low)
    answer = spurplan.if_change(tmp_path / "low.toml", bands=bench[1], if_="1600 kHz")
    row = proposal(answer, "1", 1_600_000, "low")
    assert row["verdict"] is None
    assert len(row["reasons"]) == 1
    assert (row["usable_after"], row["image_rejection_db"], row["oscillator_ratio"]) == (None, None, None)
    assert proposal(answer, "4", 1_600_000, "low")["usable_after"] is not None


def test_an_oscillator_that_would_come_down_to_nothing_has_no_tuning_ratio(
    bench: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sum with a dial that ends just below the IF: less than a hertz is no oscillator to divide by."""
    sums = tmp_path / "sums.toml"
    sums.write_text(
        'name = "Sums"\n[[conversion]]\ninjection = "sum"\nif = "1000.001 kHz"\noscillator_harmonic = 3\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n'
        '[[range]]\nname = "1"\ncoverage = ["500 kHz", "1 MHz"]\n'
    )
    answer = spurplan.if_change(sums, bands=bench[1], if_="1.2 MHz")
    at_its_if = next(row for row in answer.proposals if row["oscillator_low_hz"] == 0)
    assert at_its_if["oscillator_ratio"] is None
    assert main(["if-change", str(sums), "--if", "1.2 MHz"]) == 0
    assert "Tunes 1 to" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({}, r"nothing is asked; give --if"),
        ({"if_": "999999"}, r'--if: "999999" has no unit'),
        ({"if_": ["9=1600kHz"]}, r'"9" is not a range of this set'),
        ({"if_": 1600.5}, r"is a float"),
        ({"if_": "2 kHz"}, r"reaches down to 0 Hz"),
        ({"if_": [f"{n} kHz" for n in range(400, 600)]}, r"take --scan"),
        ({"first_if": "465 kHz"}, r"is the last IF already"),
        ({"scan": "12MHz:400kHz"}, r"not below its high edge"),
        ({"scan": "400kHz"}, r"is not two edges"),
        ({"scan": "999998:999999"}, r"has no unit"),
        ({"rejection": 0}, r"is outside any sense; give 0.1 to 200 dB"),
        ({"rejection": "lots"}, r"is not a number of decibels"),
    ],
)
def test_nonsense_is_refused(bench: tuple[Path, Path], options: dict[str, Any], said: str) -> None:
    """Each with its place and what to do instead."""
    with pytest.raises(Refused, match=said):
        spurplan.if_change(bench[0], bands=bench[1], **options)


# --- rejection ---------------------------------------------------------------------------------


def test_rejection_is_reached_by_each_way(bench: tuple[Path, Path]) -> None:
    """Each way, put into the file by hand, gives the rejection asked for."""
    path, stations = bench
    row = spurplan.if_change(path, bands=stations, rejection=30, range="4").rejection.records()[0]
    assert row["present_db"] < 30
    for old, new in (
        ("{ circuits = 1, q = 55 }", f"{{ circuits = 1, q = {row['added_q']} }}, {{ circuits = 1, q = 55 }}"),
        ("{ circuits = 1, q = 55 }", f"{{ circuits = 1, q = {row['present_circuits_q']} }}"),
        ('if = "465 kHz"', f'if = "{row["if_hz"]} Hz"'),
    ):
        (path.parent / "edited.toml").write_text(SET.replace(old, new))
        got = spurplan.ranges(path.parent / "edited.toml", bands=stations, range="4").ranges[
            "image_rejection_db"
        ][0]
        assert got == pytest.approx(30, abs=0.01)
    for circuits, enough in ((row["circuits"], True), (row["circuits"] - 1, False)):
        changed = SET.replace("circuits = 1, q = 55", f"circuits = {circuits}, q = 55")
        (path.parent / "edited.toml").write_text(changed)
        got = spurplan.ranges(path.parent / "edited.toml", bands=stations, range="4").ranges[
            "image_rejection_db"
        ][0]
        assert (got >= 30) == enough


def test_what_a_box_can_not_do_is_said(bench: tuple[Path, Path]) -> None:
    """Beyond the ceiling no Q helps."""
    row = spurplan.if_change(bench[0], bands=bench[1], rejection="90 dB", range="4").rejection.records()[0]
    assert row["added_q"] is None
    assert "can not exceed 70 dB" in row["note"]


# --- the scan ----------------------------------------------------------------------------------


def test_scan_lists_the_best_and_the_usual(bench: tuple[Path, Path]) -> None:
    """Best first, usual IFs marked, what stands against each; one of them is worked out as a proposal too."""
    bench[1].write_text(LOUD + "1595,1605,broadcast,Harbour light,-20 dBm,\n")
    answer = spurplan.if_change(bench[0], bands=bench[1], scan=(400_000, 3_000_000))
    rows = answer.scan.records()
    shares = [round(row["usable_after"], 4) for row in rows]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > shares[-1]
    assert [row["rank"] for row in rows] == list(range(1, len(rows) + 1))
    usual = {row["if_hz"] for row in rows if row["usual"] is not None}
    assert usual == {row.if_hz for row in usual_ifs() if 400_000 <= row.if_hz <= 3_000_000}
    worked_out = {row["if_hz"] for row in answer.proposals.records()} - {465_000}
    assert len(worked_out) == 1
    assert worked_out < {row["if_hz"] for row in rows}
    by_if = {row["if_hz"]: row for row in rows}
    assert "the present IF" in by_if[465_000]["reasons"]
    assert any("Lantern relay by image" in reason for reason in by_if[465_000]["reasons"])
    assert any("Harbour light by IF breakthrough" in reason for reason in by_if[1_600_000]["reasons"])
    assert "lies inside range 1" in by_if[1_600_000]["reasons"]


def test_scan_names_a_strong_station_on_an_if(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """S9 and more, within the passband of the last filter; the width of that counts, a weak one does not."""
    path, _ = bench
    table = tmp_path / "on_it.csv"
    table.write_text(
        "freq_khz,service,label,level\n464.000,ndb,Weak one,S8\n472.000,ndb,Half a passband off,S9+20\n"
        "503.100,ndb,Beyond,S9+20\n",
        encoding="utf-8",
    )
    rows = spurplan.if_change(path, bands=table, scan="400kHz:550kHz").scan.records()
    said = {row["if_hz"]: " ".join(row["reasons"]) for row in rows}
    assert "Half a passband off stands on it, S9+20" in said[470_000]
    assert "stands on it" not in said[465_000] + said[500_000]


def test_scan_of_ifs_that_can_not_be_had_says_so(
    bench: tuple[Path, Path], tmp_path: Path, capsys: Any
) -> None:
    """With the oscillator below the signal no range of the set can have an IF above them all."""
    path = tmp_path / "low.toml"
    path.write_text(SET.replace('injection = "high"', 'injection = "low"'), "utf-8")
    assert len(spurplan.if_change(path, bands=bench[1], scan="20MHz:30MHz").scan) == 0
    assert main(["if-change", str(path), "--bands", str(bench[1]), "--scan", "20MHz:30MHz"]) == 0
    assert "None can be had" in capsys.readouterr().out


def test_what_the_tables_do_not_reach_is_no_gain(bench: tuple[Path, Path], capsys: Any) -> None:
    """1700 kHz moves images of range 4 above the last station the tables know: unknown, not usable."""
    rows = spurplan.if_change(bench[0], bands=bench[1], if_="1700 kHz", range="4").proposals.records()
    moved = next(row for row in rows if row["if_hz"] == 1_700_000 and row["injection"] == "high")
    # images of 11.8 MHz and up, 15.2 MHz less 3.4 MHz, lie beyond 15.2 MHz
    assert moved["unknown_share"] == pytest.approx(0.6, abs=0.01)
    assert moved["usable_after"] <= 1.0 - moved["unknown_share"]
    assert moved["verdict"] == "worse"
    assert "unknown 60 %: an image lies beyond the tables" in moved["reasons"]


def test_scan_says_where_nothing_is_gained_and_which_if_it_moves(tmp_path: Path, capsys: Any) -> None:
    """Nobody on the air: every IF is as good as the present one. With two conversions the first IF stays."""
    (tmp_path / "air.csv").write_text(
        "low_khz,high_khz,service,label,level\n1,100000,amateur,Nobody,-170 dBm\n", "utf-8"
    )
    (tmp_path / "set.toml").write_text(SET, "utf-8")
    asked = [
        "if-change",
        str(tmp_path / "set.toml"),
        "--bands",
        str(tmp_path / "air.csv"),
        "--scan",
        "400kHz:600kHz",
    ]
    assert main(asked) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "With none of them is more of the dial usable than with the present one." in said
    assert "last IF" not in said
    first = '[[conversion]]\ninjection = "high"\nif = "1600 kHz"\n'
    first += '[conversion.filter]\nbandwidth = "20 kHz"\n[[conversion]]'
    (tmp_path / "set.toml").write_text(SET.replace("[[conversion]]", first, 1), "utf-8")
    assert main(asked) == 0
    assert "It is the last IF that is tried" in " ".join(capsys.readouterr().out.split())


def test_scan_of_a_low_side_set_loses_what_it_can_not_have(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """An IF above a signal of a low-side set loses that range altogether: unknown never looks like clear."""
    (tmp_path / "low.toml").write_text(SET.replace('injection = "high"', 'injection = "low"'))
    rows = spurplan.if_change(tmp_path / "low.toml", bands=bench[1], scan="400kHz:3MHz").scan.records()
    above = next(row for row in rows if row["if_hz"] == 1_600_000)
    assert "can not be had on range 1" in above["reasons"]
    assert above["usable_after"] <= 2_000_001 / (2_000_001 + 1_090_001)


def test_usual_ifs() -> None:
    """The list is ascending, every row says where it is from, and filters are looked for near by."""
    ifs = [row.if_hz for row in usual_ifs()]
    assert ifs == sorted(set(ifs))
    assert all(row.source and row.used_in for row in usual_ifs())
    # a national IF table: 455 kHz in the United States after 1940 and today's standard
    assert usual_at(455_000) is not None
    assert usual_at(455_001) is None
    assert [row.if_hz for row in filters_near(455_100)] == [455_000]
    assert filters_near(1_234_000) == ()


# --- the answer and the command ----------------------------------------------------------------


def test_fields_cautions_and_csv(bench: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """The fields are those of the design; a scan, where it is asked for, comes first."""
    assert [column.name for column in PROPOSAL_COLUMNS] == FIELDS
    assert [column.name for column in SCAN_COLUMNS] == [
        "rank", "if_hz", "verdict", *SHARES, "image_rejection_db", "effort", "usual", "reasons",
    ]  # fmt: skip
    words = ["if-change", str(bench[0]), "--bands", str(bench[1]), "--if", "1600", "kHz"]
    assert main([*words, "--format", "csv"]) == 0
    assert next(csv.reader(io.StringIO(capsys.readouterr().out))) == FIELDS
    assert main([*words, "--format", "json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert {"proposals", "tracking", "radiates", "filters"} <= set(answer)
    assert any("lethal" in text for text in answer["cautions"])
    assert any("not a licence" in text for text in answer["cautions"])
    assert main([*words, "--scan", "400kHz:500kHz", "--format", "csv"]) == 0
    assert next(csv.reader(io.StringIO(capsys.readouterr().out)))[0] == "rank"


def test_saved_receiver(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """--save-receiver writes the set with what is recommended, comments kept."""
    path, stations = bench
    path.write_text("# kept\n" + SET)
    stations.write_text(LOUD)
    out = tmp_path / "changed.toml"
    words = ["if-change", str(path), "--bands", str(stations), "--if", "1700kHz", "--save-receiver", str(out)]
    assert main([*words, "--output", str(tmp_path / "page.txt")]) == 0
    text = out.read_text()
    assert text.startswith("# kept\n")
    assert spurplan.read_receiver(out).conversions[0].if_hz == 1_700_000
    # of several the one that can be built
    both = spurplan.if_change(path, bands=stations, if_=["1600 kHz", "1700 kHz"]).findings.proposed
    assert both.conversions[0].if_hz == 1_700_000


def test_what_is_not_recommended_is_not_saved(
    bench: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the page says to keep the present IF there is no other set to write."""
    out = tmp_path / "changed.toml"
    words = ["if-change", str(bench[0]), "--bands", str(bench[1]), "--if", "1700kHz", "--range", "1"]
    assert main(words) == 0
    assert "Range 1: keep 465 kHz above" in capsys.readouterr().out
    assert main([*words, "--save-receiver", str(out)]) == 1
    assert "proposes none" in capsys.readouterr().err
    assert not out.exists()


@pytest.mark.parametrize("label", ["Radio by the sea", "Stand by, +3 dB; worst by far"])
def test_a_station_may_be_called_anything(
    bench: tuple[Path, Path], capsys: pytest.CaptureFixture[str], monkeypatch: Any, label: str
) -> None:
    """The page names the worst as the table does, whatever words its name is made of."""
    monkeypatch.setenv("COLUMNS", "200")
    bench[1].write_text(LOUD.replace("Lantern relay", f'"{label}"'))
    assert main(["if-change", str(bench[0]), "--bands", str(bench[1]), "--if", "1700kHz"]) == 0
    assert f"  {label}, image" in capsys.readouterr().out


def test_page(bench: tuple[Path, Path], capsys: pytest.CaptureFixture[str], monkeypatch: Any) -> None:
    """Eighty columns: a verdict a range first, then the proposals side by side."""
    monkeypatch.setenv("COLUMNS", "80")
    words = ["if-change", str(bench[0]), "--bands", str(bench[1]), "--if", "1700kHz", "--rejection", "30"]
    assert main(words) == 0
    page = capsys.readouterr().out
    assert max(map(len, page.splitlines())) <= 80
    assert "Range 1: keep 465 kHz above; on a busy evening " in " ".join(page.split())
    bench[1].write_text(LOUD)
    assert main(words) == 0
    assert "Range 4: 1700 kHz above is better" in capsys.readouterr().out
    for title in ("Range 1\n", "Range 4\n", "On the IF\n", "Oscillator\n"):
        assert title in page
    assert "lethal voltages" in page


def test_progress_is_told(bench: tuple[Path, Path]) -> None:
    """Whoever waits for a scan is told how far it is."""
    seen: list[tuple[int, int]] = []
    spurplan.if_change(
        bench[0],
        bands=bench[1],
        scan="400kHz:500kHz",
        progress=lambda done, whole: seen.append((done, whole)),
    )
    assert seen[-1][0] == seen[-1][1]


def test_a_rejection_that_can_not_be_built_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One circuit of the default Q at 22 MHz against 40 dB: Q in the hundreds, or an IF inside 7-22 MHz."""
    file = tmp_path / "set.toml"
    file.write_text(
        'name = "Portable"\n[[conversion]]\ninjection = "high"\nif = "455 kHz"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n'
        '[[range]]\nname = "SW2"\ncoverage = ["7 MHz", "22 MHz"]\nfront_end = [{ circuits = 1, q = 40 }]\n'
    )
    (row,) = spurplan.if_change(file, rejection=40).rejection.records()
    # 40 dB past a ceiling of 70: 1 / (1 + x^2) = 10^-4 - 10^-7, x = Q (22.91/22 - 22/22.91) = 100.045
    assert row["present_circuits_q"] == pytest.approx(100.045 / (22.91 / 22 - 22 / 22.91), rel=1e-5)
    assert "a loaded Q above 300 can not be held" in row["note"]
    assert 7_000_000 <= row["if_hz"] <= 22_000_000
    assert "that IF lies inside the range" in row["note"]
    assert main(["if-change", str(file), "--rejection", "40"]) == 0
    out = capsys.readouterr().out
    assert "1,234" in out
    assert "inside the range, which is unusable there" in " ".join(out.split())


def test_an_oscillator_that_must_swing_more_than_any_gang_is_named(tmp_path: Path) -> None:
    """7-22 MHz less 2.9 MHz is 4.1-19.1 MHz, 1 to 4.66, beside a signal of 1 to 3.14."""
    file = tmp_path / "set.toml"
    file.write_text(
        'name = "Portable"\n[[conversion]]\ninjection = "high"\nif = "455 kHz"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n'
        '[[range]]\nname = "SW2"\ncoverage = ["7 MHz", "22 MHz"]\n'
    )
    answer = spurplan.if_change(file, if_="2.9 MHz")
    said = "no gang tunes an oscillator 1 to 4.66 with the signal 1 to 3.14"
    reasons = {(row["if_hz"], row["injection"]): row["reasons"] for row in answer.proposals.records()}
    assert said in reasons[2_900_000, "low"]
    others = [text for key, texts in reasons.items() if key != (2_900_000, "low") for text in texts]
    assert not any("no gang" in text for text in others)


def test_an_if_that_leaves_a_premixer_no_variable_oscillator_can_not_be_built() -> None:
    """14 MHz and 3.5 MHz make 17.5 MHz: with a crystal on 18 MHz nothing is to be added to it."""
    described = {
        "name": "premixed",
        "conversion": [
            {
                "injection": "high", "if": "9 MHz", "filter": {"bandwidth": "2.4 kHz"},
                "premix": {"makes": "crystal + variable", "crystal": "18 MHz"},
            }
        ],
        "range": [{"name": "1", "coverage": ["14 MHz", "14.5 MHz"]}],
    }  # fmt: skip
    receiver = Receiver.from_dict(described)
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    tried = np.array([3_500_000, 4_000_000, 4_100_000], dtype=np.int64)
    assert possible(with_ifs(chains, tried)).tolist() == [False, False, True]
