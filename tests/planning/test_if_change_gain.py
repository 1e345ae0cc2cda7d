"""What another IF gains: the same figures in proposals, in a scan, and of the cure "another IF"."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.occupancy.bands import read_bands
from spurplan.planning.cures.changes import carried_out
from spurplan.planning.cures.cure_list import cures_in_use
from spurplan.planning.decision import compare, verdict
from spurplan.planning.if_change.costs import Costs, estimates
from spurplan.planning.if_change.scan import axis_of, grid, scanned
from spurplan.planning.outlook import Outlook, Together, outlooks, place_of, width_hz
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings, occupants_of
from spurplan.responses.listening.findings import Loss
from spurplan.responses.listening.judged import AirAtHour
from tests.planning.test_recommendation import random_set

# two ranges with a gap between them, from 1.62 to 11 MHz
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
[[range]]
name = "4"
coverage = ["11 MHz", "13 MHz"]
front_end = [ { circuits = 1, q = 55 } ]
"""
# a full band on the images of range 4; stations at both ends, so that the tables reach to all images
LOUD = """low_khz,high_khz,service,label,level
11930,13930,broadcast,Lantern relay,S9+40
60000,60001,fixed_mobile,Far hill,-140 dBm
60,61,fixed_mobile,Low end,-140 dBm
"""
WIDTHS_HZ = (1_090_001, 2_000_001)


@pytest.fixture
def bench(tmp_path: Path) -> tuple[Path, Path]:
    """Return the paths of the set and of the stations."""
    (tmp_path / "set.toml").write_text(SET)
    (tmp_path / "stations.csv").write_text(LOUD)
    return tmp_path / "set.toml", tmp_path / "stations.csv"


def together(receiver: Receiver, place: AirAtHour) -> Together:
    """Return what becomes of two ranges of a set."""
    ranges = [range_named(receiver, name=name) for name in ("1", "4")]
    found = outlooks([(receiver, one) for one in ranges], place, Settings())
    return Together(sum(width_hz(one) for one in ranges), tuple(found))


def where(receiver: Receiver, stations: Path) -> AirAtHour:
    return place_of(receiver, occupants_of(receiver, read_bands(stations), Settings()), Settings())


def judged(receiver: Receiver, stations: Path, name: str) -> Outlook:
    """Return what becomes of a range on a busy evening."""
    return outlooks([(receiver, range_named(receiver, name=name))], where(receiver, stations), Settings())[0]


def proposal(answer: Any, range_name: str, if_hz: int) -> dict[str, Any]:
    """Return the proposal with the oscillator above the signal."""
    (row,) = (
        row
        for row in answer.proposals.records()
        if (row["range"], row["if_hz"], row["injection"]) == (range_name, if_hz, "high")
    )
    return dict(row)


def of_all(answer: Any, if_hz: int, field: str) -> float:
    """Return a share of both ranges, each for its dial."""
    parts = [proposal(answer, name, if_hz)[field] for name in ("1", "4")]
    return float(sum(part * width for part, width in zip(parts, WIDTHS_HZ, strict=True)) / sum(WIDTHS_HZ))


def test_proposals_agree_with_the_file_edited_by_hand(bench: tuple[Path, Path]) -> None:
    """Share and gain are those of the file with the IF in it, judged in the same worlds."""
    path, stations = bench
    answer = spurplan.if_change(path, bands=stations, if_=["1700 kHz", 2_900_000])
    present, edited = spurplan.read_receiver(path), path.parent / "edited.toml"
    for text, if_hz in (("1700 kHz", 1_700_000), ("2900 kHz", 2_900_000)):
        edited.write_text(SET.replace('if = "465 kHz"', f'if = "{text}"'))
        for name in ("1", "4"):
            got = proposal(answer, name, if_hz)
            now = judged(spurplan.read_receiver(edited), stations, name)
            was = judged(present, stations, name)
            gain = compare(now.worlds, was.worlds)
            assert got["usable_before"] == pytest.approx(was.finding.usable, abs=1e-9)
            assert got["usable_after"] == pytest.approx(now.finding.usable, abs=1e-9)
            assert got["usable_gain"] == pytest.approx(gain.gain, abs=1e-9)
            assert (got["usable_gain_low"], got["usable_gain_high"]) == pytest.approx((gain.low, gain.high))
            assert (got["better_in"], got["verdict"]) == (gain.better_in, verdict(gain))
    assert proposal(answer, "4", 1_700_000)["usable_gain"] > 0.05


def test_scan_and_proposals_say_the_same_of_an_if(bench: tuple[Path, Path]) -> None:
    """A figure of an IF in the scan is that of the ranges together, asked about by itself."""
    rows = {
        row["if_hz"]: row
        for row in spurplan.if_change(bench[0], bands=bench[1], scan="400kHz:3MHz").scan.records()
    }
    for if_hz in (455_000, 1_650_000, 2_100_000):
        answer = spurplan.if_change(bench[0], bands=bench[1], if_=if_hz)
        for field in ("usable_before", "usable_after", "usable_gain"):
            assert rows[if_hz][field] == pytest.approx(of_all(answer, if_hz, field), abs=1e-9)
    assert rows[1_650_000]["usable_gain"] > 0.05


def test_the_gain_of_an_if_is_that_of_the_cure_another_if(bench: tuple[Path, Path]) -> None:
    """Carried out as a cure and judged, the set gains what the proposal and the scan say."""
    path, stations = bench
    (cure,) = [one for one in cures_in_use(None) if one.if_hz]
    receiver = spurplan.read_receiver(path)
    place = where(receiver, stations)
    answer = spurplan.if_change(path, bands=stations, if_=list(cure.if_hz))
    rows = {
        r["if_hz"]: r for r in spurplan.if_change(path, bands=stations, scan="400kHz:11MHz").scan.records()
    }
    before = together(receiver, place)
    gains = {}
    for if_hz in cure.if_hz:
        cured = carried_out(receiver, cure, ("1", "4"), if_hz)
        assert cured is not None
        after = together(cured, place)
        gains[if_hz] = compare(after.worlds, before.worlds).gain
        assert of_all(answer, if_hz, "usable_gain") == pytest.approx(gains[if_hz], abs=1e-9)
    both = set(gains) & set(rows)
    assert len(both) > 1
    for if_hz in both:
        assert rows[if_hz]["usable_gain"] == pytest.approx(gains[if_hz], abs=1e-9)
    assert max(gains.values()) > 0.05
    assert estimates()["effort"]["another_if"] == cure.effort


def test_a_stretch_that_matters_has_one_share_whoever_is_asked(bench: tuple[Path, Path], capsys: Any) -> None:
    """`ranges`, `if-change`, its scan and `cures`: the same share of the cover, and of that range alone."""
    path, stations = bench
    # the band on the images of the lower half alone
    stations.write_text(LOUD.replace("11930,13930", "11930,12930"))
    cover = "11.2MHz:11.9MHz"
    answer = spurplan.if_change(path, bands=stations, if_="2100kHz", cover=cover)
    assert {row["range"] for row in answer.proposals.records()} == {"4"}
    row = proposal(answer, "4", 2_100_000)
    (present,) = spurplan.ranges(path, bands=stations, cover=cover).ranges.records()
    assert row["usable_before"] == pytest.approx(present["usable_share"], abs=1e-9)
    scan = spurplan.if_change(path, bands=stations, scan="400kHz:3MHz", cover=cover).scan.records()
    (scanned_,) = [one for one in scan if one["if_hz"] == 2_100_000]
    cures = spurplan.cures(path, bands=stations, cover=cover).findings
    assert cures.present.usable == pytest.approx(row["usable_before"], abs=1e-9)
    for field in ("usable_before", "usable_after", "usable_gain"):
        assert scanned_[field] == pytest.approx(row[field], abs=1e-9)
    whole = proposal(spurplan.if_change(path, bands=stations, if_="2100kHz"), "4", 2_100_000)
    assert abs(whole["usable_before"] - row["usable_before"]) > 0.05
    assert main(["if-change", str(path), "--bands", str(stations), "--if", "2100kHz", "--cover", cover]) == 0
    assert "11.2 MHz to 11.9 MHz" in " ".join(capsys.readouterr().out.split())
    with pytest.raises(Refused, match=r"--cover.* is on no range of the set"):
        spurplan.if_change(path, bands=stations, if_="2100kHz", cover="40MHz:41MHz")


@pytest.mark.long
def test_a_scan_misses_nothing_that_a_fine_one_finds(bench: tuple[Path, Path]) -> None:
    """The usual IFs, the present one and the ends are tried, and what is best between them is found."""
    path, stations = bench
    receiver = spurplan.read_receiver(path)
    occupants = occupants_of(receiver, read_bands(stations), Settings())
    axis = axis_of(receiver, receiver.ranges, occupants, Settings())
    scan = scanned(axis, (400_000, 4_000_000))
    coarse = grid((400_000, 4_000_000), axis.present_hz)
    assert 200 <= len(coarse) <= 400
    assert {400_000, 455_000, 465_000, 4_000_000} <= set(coarse.tolist()) < set(scan.if_hz.tolist())
    fine = axis.looked_at(np.arange(400_000, 4_000_000, 7_300), 250)
    assert scan.usable_share.max() >= fine.usable_share.max() - 0.003
    assert scan.usable_share.max() > scan.usable_share[scan.if_hz == 465_000][0] + 0.05


def test_an_if_inside_a_range_is_not_recommended(bench: tuple[Path, Path], capsys: Any) -> None:
    """However much it brings: the range would be dead there, and howl (common practice)."""
    path, stations = bench
    for if_hz, built in ((1_500_000, False), (1_700_000, True)):
        findings = spurplan.if_change(path, bands=stations, if_=if_hz).findings
        (plan,) = [one for one in findings.plans if one.change.if_hz == if_hz]
        assert plan.word == "better"
        assert (plan.objections == ()) == built
        assert (findings.proposed is not None) == built
    assert main(["if-change", str(path), "--bands", str(stations), "--if", "1500kHz"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("1500 kHz: no, it lies inside range 1")
    assert "An IF of 1500 kHz is better" in said
    assert "but 1500 kHz lies inside range 1." in said


def test_the_headline_names_what_a_change_costs(bench: tuple[Path, Path], capsys: Any) -> None:
    """Evenings, and coils that pass too much, beside the answer."""
    assert main(["if-change", str(bench[0]), "--bands", str(bench[1]), "--if", "1700kHz"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("Change to an IF of 1700 kHz: on a busy evening ")
    # 8 evenings, 4 for want of a filter, 1 for want of parts
    assert "It costs some 13 evenings; " in said
    # 6 kHz times 1700 / 465
    assert "coils of the present Q pass 21.9 kHz: it wants a filter of its own" in said


def test_a_gamble_is_not_recommended(tmp_path: Path) -> None:
    """What pays in few worlds costs its evenings in all of them."""
    path, stations = random_set(tmp_path, 46)
    findings = spurplan.if_change(path, bands=stations, if_="2451 kHz").findings
    (plan,) = findings.plans[1:]
    assert (plan.word, plan.objections) == ("a gamble", ())
    assert plan.gain is not None
    assert plan.gain.gain > 0.05
    assert findings.proposed is None


def test_what_breaks_through_and_what_goes_dead_is_named() -> None:
    """Who, how much, and from where to where."""
    costs = Costs(dead_hz=(1_594_000, 1_606_000), through=Loss("IF breakthrough", "Harbour light", 0.4))
    assert costs.texts == (
        "Harbour light breaks through on it, 40 % lost",
        "dead from 1594 kHz to 1606 kHz, round the IF",
    )


def test_what_takes_most_is_said_alike_of_a_route_and_of_two_stations() -> None:
    """What two stations make together comes by no route that the trade has a name for."""
    assert Loss("image", "Harbour light", 0.4).first == "by way of the image, Harbour light first"
    assert Loss("intermodulation", "A with B", 0.4).first == "by intermodulation, A with B first"
