"""suspects: the true cause first, weights that add to 1, evidence that moves them the right way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.suspects.evidence import (
    NO_TRAITS,
    Evidence,
    Traits,
    best_test,
    contradicted,
    fits_of,
    weigh,
)
from spurplan.receiver.description import Receiver
from tests.suspicion_cases import cases, judge, table

STATION = Traits(1.0, 1.0, False, "same")
IMAGE = Traits(-1.0, 1.0, True, "up")
HALF_IF = Traits(2.0, 2.0, False, "up")
BIRDIE = Traits(-1.0, 0.0, None, "same")


def test_the_true_cause_comes_first_with_one_observation(tmp_path: Path) -> None:
    """On the stated distribution in at least 90 %, and it is listed in every case."""
    taken, listed = judge(120, 7, tmp_path)
    assert sum(count for (cause, said), count in taken.items() if cause == said) >= 108, taken
    assert listed == 120


def test_weights_add_to_one_and_ranks_follow_them(tmp_path: Path) -> None:
    """Weights are shares; rank 1 is the heaviest."""
    for case in cases(5, 3):
        suspects = spurplan.suspects(case.receiver, table(case, tmp_path), case.dial_hz).suspects
        assert suspects["weight"].sum() == pytest.approx(1.0, abs=1e-12)
        assert (np.diff(suspects["weight"]) <= 0).all()
        assert suspects["rank"].tolist() == list(range(1, len(suspects) + 1))


@pytest.mark.parametrize(
    ("evidence", "favoured"),
    [
        (Evidence(moves="with"), STATION),
        (Evidence(moves="1"), STATION),
        (Evidence(moves="twice"), HALF_IF),
        (Evidence(moves="2"), HALF_IF),
        (Evidence(pad_drop_db=20.0), HALF_IF),
        (Evidence(pad_drop_db=0.0), BIRDIE),
        (Evidence(moves="against", inverted=True), IMAGE),
        (Evidence(moves="against", trimmer="up"), IMAGE),
        (Evidence(moves="against", pad_drop_db=0.0), BIRDIE),
    ],
)
def test_evidence_favours_whom_it_fits(evidence: Evidence, favoured: Traits) -> None:
    """From even odds, the one that predicts what was seen is the heaviest."""
    everybody = [STATION, IMAGE, HALF_IF, BIRDIE]
    weight = weigh(np.ones(4), everybody, evidence)
    assert everybody[int(np.argmax(weight))] == favoured
    assert (weight > 0).all(), "no observation rules anybody out altogether"


def test_the_next_test_is_one_that_tells_them_apart() -> None:
    """A pad tells a birdie from an image that moves alike; nothing tells twins apart."""
    apart = best_test([(np.array([0.5, 0.5]), [Traits(-1.0, 1.0, None, "same"), BIRDIE])], Evidence())
    assert apart is not None
    assert apart.name == "put a 10 dB pad at the aerial"
    assert best_test([(np.array([0.5, 0.5]), [IMAGE, IMAGE])], Evidence()) is None
    told = Evidence(moves="with", pad_drop_db=10.0, inverted=False, trimmer="same")
    assert best_test([(np.array([0.5, 0.5]), [STATION, IMAGE])], told) is None


def test_evidence_that_means_nothing_is_refused_whole() -> None:
    """Every fault at once, with the words that are taken."""
    with pytest.raises(Refused) as refusal:
        Evidence(moves="sideways", pad_drop_db=300.0, trimmer="left")
    assert [fault.place for fault in refusal.value.faults] == ["--moves", "--pad-drop", "--trimmer"]
    assert "with, against, twice, not" in str(refusal.value)


def test_a_dial_error_widens_the_search(tmp_path: Path) -> None:
    """A station 20 kHz beside the setting is a suspect once the pointer may be that far off."""
    case = next(cases(1, 11))
    beside = tmp_path / "beside.csv"
    hz = case.dial_hz + 20_000
    beside.write_text(
        f"freq_khz,service,label,level\n{hz / 1000:.3f},amateur,beside,-53 dBm\n", encoding="utf-8"
    )
    near = spurplan.suspects(case.receiver, beside, case.dial_hz).suspects
    wide = spurplan.suspects(case.receiver, beside, case.dial_hz, dial_error="25 kHz").suspects
    assert "the station itself" not in near["cause"].tolist()
    assert "the station itself" in wide["cause"].tolist()


def test_a_product_of_two_strong_stations_is_a_suspect(tmp_path: Path) -> None:
    """6.0 and 8.2 MHz add to 14.2 MHz in a mixer with a bare front end; a pad takes twice its decibels."""
    receiver = Receiver.from_dict(
        {
            "name": "open window",
            "conversions": [
                {"injection": "high", "if_hz": 455_000, "filter": {"bandwidth_hz": 6_000},
                 "mixer": {"family": "bipolar"}}
            ],
            "ranges": [
                {"name": "1", "low_hz": 11_000_000, "high_hz": 30_000_000,
                 "front_end": [{"circuits": 1, "q": 10.0}]}
            ],
        }
    )  # fmt: skip
    air = tmp_path / "air.csv"
    air.write_text(
        "freq_khz,service,label,level\n6000,broadcast,Northmoor,-10 dBm\n8200,broadcast,Southmoor,-10 dBm\n",
        encoding="utf-8",
    )
    found = [
        r for r in spurplan.suspects(receiver, air, "14.2 MHz").suspects if r["cause"] == "intermodulation"
    ]
    assert found
    assert {"Northmoor", "Southmoor"} == set(found[0]["label"].split(" with "))
    assert found[0]["pad_db_per_db"] == 2.0
    told = spurplan.suspects(receiver, air, "14.2 MHz", pad_drop=20.0).suspects.records(1)[0]
    assert told["cause"] == "intermodulation"


def test_a_transmitters_harmonic_is_graded_by_the_thresholds_asked_for(tmp_path: Path) -> None:
    """A 7.1 MHz station at +5 dBm, its harmonic 50 dB down: graded, or left out, by its margin."""
    receiver = next(cases(1, 1)).receiver
    air = tmp_path / "air.csv"
    air.write_text("freq_khz,service,label,level\n7100,amateur,Hilltop,5 dBm\n", encoding="utf-8")

    def harmonic(**thresholds: float) -> list[dict[str, object]]:
        rows = spurplan.suspects(receiver, air, "14.2 MHz", **thresholds).suspects.records()
        return [row for row in rows if row["cause"] == "transmitter harmonic"]

    [usual] = harmonic()
    margin = float(str(usual["margin_db"]))
    assert (usual["grade"], usual["heard_dbm"]) == ("strong", -45.0)
    assert [row["grade"] for row in harmonic(strong_at=margin + 1)] == ["audible"]
    assert [row["grade"] for row in harmonic(strong_at=margin - 1)] == ["strong"]
    assert harmonic(strong_at=margin + 2, audible_at=margin + 1) == []


QUIET = """\
name = "Quiet set"
noise = [["20 MHz", "-110 dBm"]]
[[conversion]]
injection = "high"
if = "1600 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "E"
coverage = ["20 MHz", "31 MHz"]
front_end = [{ circuits = 3, q = 60 }]
"""


def quiet(folder: Path) -> tuple[Path, Path]:
    """A set that buries its image, a station on 21.2 MHz and one on its image, 24.4 MHz."""
    set_, bands = folder / "set.toml", folder / "bands.csv"
    set_.write_text(QUIET, "utf-8")
    bands.write_text(
        "freq_khz,service,label,level\n21200,amateur,Wanted,S9\n24400,fixed,On the image,-60 dBm\n", "utf-8"
    )
    return set_, bands


def test_where_nothing_heard_fits_that_is_said_and_what_is_buried_is_looked_at(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A station on its own frequency can not run backwards: it is no 100 of 100."""
    set_, bands = quiet(tmp_path)
    answer = spurplan.suspects(set_, bands, "21.2 MHz", moves="against")
    rows = {row["label"] or row["cause"]: row for row in answer.suspects.records()}
    assert answer.settings["fitting"] is False
    assert rows["not listed"]["rank"] == 1
    assert rows["Wanted"]["weight"] < 0.5
    image = rows["On the image"]
    assert (image["response"], image["grade"], image["fits"]) == (
        "image", "buried", ["fits: moves against the dial"],
    )  # fmt: skip
    assert main(["suspects", str(set_), "21.2MHz", "--bands", str(bands), "--moves", "against"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "fits what was observed: look for a source in the house" in said


def test_where_something_fits_nothing_is_added(tmp_path: Path) -> None:
    """One observation that one suspect explains: what is buried or in no table is left out."""
    answer = spurplan.suspects(*quiet(tmp_path), "21.2 MHz", moves="with")
    assert answer.settings["fitting"] is True
    assert [row["label"] for row in answer.suspects.records()] == ["Wanted"]


def test_four_times_as_fast_is_not_against(tmp_path: Path) -> None:
    """What a suspect predicts must be what was seen; it is not enough that no word would fit better."""
    fast = Traits(4.0, 1.0, False, "up")
    assert contradicted(fast, Evidence(moves="against"))
    assert not contradicted(fast, Evidence(moves="4"))
    assert fits_of(fast, Evidence(moves="against")) == ["against it: moves 4 times as fast"]
    assert not contradicted(NO_TRAITS, Evidence("against", 20.0, True, "up"))


def test_a_band_inside_a_band_is_no_second_cause(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ten segments of one band make a product with the same partner as likely as one, and one line of it."""
    set_, bands = quiet(tmp_path)
    set_.write_text(QUIET.replace("circuits = 3, q = 60", "circuits = 1, q = 3"), "utf-8")
    head = "low_khz,high_khz,service,label,level\n7100,7100,broadcast,Tower,0 dBm\n"
    segments = [f"14{n}00,14350,amateur,segment {n},0 dBm\n" for n in range(1, 4)]
    weights = {}
    for count in (1, 3):
        bands.write_text(head + "".join(segments[:count]), "utf-8")
        found = spurplan.suspects(set_, bands, "21.4 MHz").suspects.records()
        pairs = [row for row in found if row["equation"] == "f1 + f2 = dial"]
        assert len(pairs) == count
        weights[count] = sum(row["weight"] for row in pairs)
    assert weights[3] == pytest.approx(weights[1], rel=0.02)
    assert main(["suspects", str(set_), "21.4MHz", "--bands", str(bands)]) == 0
    said = capsys.readouterr().out
    assert said.count("Tower with") == 1
    assert "3 more pairs of stations" in said


@pytest.mark.parametrize(
    ("mode", "told"), [("am", False), ("fm", False), ("cw", False), ("ssb", True), ("", True)]
)
def test_nobody_is_sent_to_listen_for_a_sideband_that_can_not_be_told(
    mode: str, told: bool, tmp_path: Path
) -> None:
    """AM has both sidebands, a keyed carrier none: turned round they sound as before. Common practice."""
    set_, bands = quiet(tmp_path)
    set_.write_text(QUIET.replace("circuits = 3, q = 60", "circuits = 1, q = 3"), "utf-8")
    bands.write_text(f"freq_khz,service,label,level,mode\n24400,broadcast,Tower,0 dBm,{mode}\n", "utf-8")
    found = spurplan.suspects(set_, bands, "21.2 MHz", inverted=True)
    [image] = [row for row in found.suspects.records() if row["response"] == "image"]
    assert (image["inverted"] is None) != told
    assert image["fits"] == [
        "fits: sideband inverted" if told else "open: has no sideband of its own to tell by"
    ]


def test_a_station_of_two_regions_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows that would read alike are one line for people; programs get each."""
    monkeypatch.setenv("COLUMNS", "200")
    set_, bands = quiet(tmp_path)
    head, tower = "freq_khz,service,label,level,region\n", "10600,broadcast,Tower,0 dBm,"
    bands.write_text(f"{head}{tower}1\n{tower}2\n", "utf-8")
    rows = spurplan.suspects(set_, bands, "21.2 MHz").suspects.records()
    assert [row["cause"] for row in rows] == ["transmitter harmonic"] * 2
    assert main(["suspects", str(set_), "21.2MHz", "--bands", str(bands)]) == 0
    said = capsys.readouterr().out
    assert said[said.index("----") :].count("transmitter harmonic") == 1
    assert "1 more row of the tables with" in said


OVERLAPPING = """\
name = "Two ranges"
[[conversion]]
injection = "high"
if = "1625 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[internal]]
name = "calibrator"
frequency = "100 kHz"
[[range]]
name = "low"
coverage = ["1.6 MHz", "4 MHz"]
[[range]]
name = "high"
coverage = ["3 MHz", "8 MHz"]
"""


def test_weights_add_to_one_on_each_range(tmp_path: Path) -> None:
    """Where ranges overlap the switch stands on one of them: each has its own first suspect."""
    set_, air = tmp_path / "set.toml", tmp_path / "air.csv"
    set_.write_text(OVERLAPPING, "utf-8")
    air.write_text("freq_khz,service,label,level\n3500,fixed,Wanted,S9\n6750,fixed,Image,S9+20\n", "utf-8")
    both = spurplan.suspects(set_, air, "3500 kHz").suspects.records()
    assert [row["rank"] for row in both if row["rank"] == 1] == [1, 1]
    for name in ("low", "high"):
        rows = [row for row in both if row["range"] == name]
        assert sum(row["weight"] for row in rows) == pytest.approx(1.0, abs=1e-12)
        alone = spurplan.suspects(set_, air, "3500 kHz", range=name).suspects.records()
        assert [row["weight"] for row in alone] == pytest.approx([row["weight"] for row in rows], abs=1e-12)


def test_a_calibrator_is_suspected_on_every_harmonic_the_dial_needs(tmp_path: Path) -> None:
    """The 35th harmonic of 100 kHz is on 3.5 MHz, and with nobody on the air the only suspect."""
    set_, air = tmp_path / "set.toml", tmp_path / "air.csv"
    set_.write_text(OVERLAPPING, "utf-8")
    air.write_text("freq_khz,service,label,level\n9000,fixed,Elsewhere,S1\n", "utf-8")
    first = spurplan.suspects(set_, air, "3500 kHz", range="low").suspects.records(1)[0]
    assert (first["cause"], first["equation"]) == ("birdie", "35 calibrator = dial")
    answer = spurplan.birdies(set_, air)
    comb = {
        (row["range"], row["harmonic"])
        for row in answer.birdies
        if row["kind"] == "internal" and row["equation"].endswith("calibrator = dial")
    }
    assert comb == {("low", k) for k in range(16, 41)} | {("high", k) for k in range(30, 81)}
