"""cures: each agrees with editing the receiver file by hand and asking again."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.cures import trials
from spurplan.planning.cures.changes import carried_out
from spurplan.planning.cures.cure_list import read_cures, shipped_cures
from spurplan.planning.cures.cures import CURE_COLUMNS
from spurplan.planning.cures.worst_station import Station
from spurplan.planning.outlook import outlooks, place_of
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes import changed, with_front_end
from spurplan.receiver.description import Circuits, Receiver
from spurplan.receiver.file.writing import write_receiver
from spurplan.responses.asking import as_bands, as_receiver, occupants_of, picked_ranges, settings_from
from spurplan.responses.image_rejection import image_rejection_db

# a set with two ranges and a few invented stations: enough for every cure to do something
SET = """
name = "Cure bench"
noise_figure = "14 dB"
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "2"
coverage = ["3 MHz", "6 MHz"]
rf_gain = "20 dB"
front_end = [ { circuits = 1, q = 70 } ]
[[range]]
name = "4"
coverage = ["26 MHz", "30 MHz"]
rf_gain = "18 dB"
front_end = [ { circuits = 2, q = 55 } ]
"""
BANDS = """low_khz,high_khz,service,label,level,mode
4600,4900,fixed_mobile,Harbour office,-60 dBm,
6000,6400,broadcast,49 m,-30 dBm,
28500,29200,broadcast,Lantern relay,-40 dBm,
460,470,maritime,Lightship,-20 dBm,cw
900,1500,broadcast,Local station,-5 dBm,
"""
# a band that nobody is heard on: where the tables end does not matter with it
KNOWN = "low_khz,high_khz,service,label,level\n1,300000,amateur,Nobody,-170 dBm\n"
FIELDS = [
    "rank", "cure", "usable_before", "usable_after", "usable_gain", "usable_gain_low", "usable_gain_high",
    "better_in", "effort", "recommended", "not_told_from", "unknown_share_before", "unknown_share_after",
    "unlisted_share_before", "unlisted_share_after",
    "not_cured", "note", "values",
]  # fmt: skip


@pytest.fixture
def bench(tmp_path: Path) -> tuple[Path, Path]:
    """Return the paths of the set and of the stations."""
    (tmp_path / "set.toml").write_text(SET)
    (tmp_path / "stations.csv").write_text(BANDS + "1,300000,amateur,Nobody,-170 dBm,\n")
    return tmp_path / "set.toml", tmp_path / "stations.csv"


def edited(path: Path, *changes: tuple[str, str]) -> Path:
    """Write the receiver file with some of its text changed, as a hand would; return where."""
    text = path.read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    out = path.with_name("edited.toml")
    out.write_text(text)
    return out


def in_the_lead(keys: str) -> tuple[str, str]:
    """Return the change that puts a box into the aerial lead."""
    return "[[conversion]]", f"[[ahead]]\n{keys}\n[[conversion]]"


def in_lead(name: str, elements: str, figures: str = "") -> list[tuple[str, str]]:
    """Return what puts a box into the aerial lead."""
    box = f'[[ahead]]\nname = "{name}"\nelements = [ {elements} ]\n{figures}'
    return [("[[conversion]]", f"{box}[[conversion]]")]


PRESELECTOR = in_lead("preselector", "{ circuits = 2, q = 80 }", 'gain = "-5 dB"\n')
# What a hand would write for each cure that ships.
BY_HAND: dict[str, list[tuple[str, str]]] = {
    "one more tuned circuit": [
        ("{ circuits = 1, q = 70 }", "{ circuits = 2, q = 70 }"),
        ("{ circuits = 2, q = 55 }", "{ circuits = 3, q = 55 }"),
    ],
    "preselector of two circuits": PRESELECTOR,
    "valve preselector": in_lead(
        "valve", "{ circuits = 2, q = 80 }", 'gain = "20 dB"\nnoise_figure = "6 dB"\n'
    ),
    "Q multiplied circuit": [
        ("{ circuits = 1, q = 70 }", "{ circuits = 1, q = 300 }"),
        ("{ circuits = 2, q = 55 }", "{ circuits = 1, q = 300 }, { circuits = 1, q = 55 }"),
    ],
    # no aerial that is short: nothing is regained
    "aerial tuner": in_lead(
        "tuner", "{ circuits = 1, q = 10 }", 'noise_figure = "1 dB"\nceiling = "30 dB"\n'
    ),
    "IF trap": in_lead("trap", '{ trap = "465 kHz", depth = "40 dB", q = 80 }'),
    "10 dB pad": [("[[conversion]]", '[[ahead]]\nname = "pad"\ngain = "-10 dB"\n[[conversion]]')],
    "AM filter of 4.5 kHz": [('bandwidth = "6 kHz"', 'bandwidth = "4.5 kHz"')],
}
# the best of several IFs is taken
OTHER_IF = re.compile(r"another IF \(([^)]*)\)")
# the same share on as many settings of the dial
SAME = 1e-9


def usable(path: Path, stations: Any, cover: tuple[int, int] | None = None, **options: Any) -> float:
    """Return the usable share of a set on a busy evening, its ranges weighed by their width."""
    settings = settings_from(None, options)
    receiver = as_receiver(path)
    place = place_of(receiver, occupants_of(receiver, as_bands(stations), settings), settings)
    parts = outlooks(
        [(receiver, one) for one in picked_ranges(receiver, settings.range)], place, settings, cover
    )
    widths = [part.finding.high_hz - part.finding.low_hz + 1 for part in parts]
    return sum(part.finding.usable * width for part, width in zip(parts, widths, strict=True)) / sum(widths)


def rows_of(path: Path, stations: Any, **options: Any) -> dict[str, dict[str, Any]]:
    return {row["cure"]: row for row in spurplan.cures(path, bands=stations, **options).cures.records()}


def other_if(rows: dict[str, Any]) -> tuple[str, str]:
    """Return the name of the cure with another IF, and that IF."""
    name = next(cure for cure in rows if OTHER_IF.fullmatch(cure))
    found = OTHER_IF.fullmatch(name)
    assert found is not None
    return name, found[1]


def test_each_cure_agrees_with_the_file_edited_by_hand(bench: tuple[Path, Path]) -> None:
    """What is usable with a cure is what is usable of the file with the change in it."""
    path, stations = bench
    rows = rows_of(path, stations)
    for cure, changes in BY_HAND.items():
        by_hand = usable(edited(path, *changes), stations)
        assert rows[cure]["usable_after"] == pytest.approx(by_hand, abs=SAME), cure
    name, if_text = other_if(rows)
    by_hand = usable(edited(path, ('if = "465 kHz"', f'if = "{if_text}"')), stations)
    assert rows[name]["usable_after"] == pytest.approx(by_hand, abs=SAME)
    assert rows["IF trap"]["usable_before"] == pytest.approx(usable(path, stations), abs=SAME)


def test_figures_are_those_of_ranges(bench: tuple[Path, Path]) -> None:
    """Before a cure stands what `ranges` says of the set on a busy evening, on twice as many settings."""
    path, stations = bench
    before = spurplan.cures(path, bands=stations, range="4").cures["usable_before"][0]
    again = spurplan.ranges(path, bands=stations, range="4", activity="busy").ranges
    assert before == pytest.approx(again["usable_share"][0], abs=0.005)


def test_curves_agree_with_a_curve_in_the_file(bench: tuple[Path, Path]) -> None:
    """The band-stop is a measured curve in the lead."""
    path, stations = bench
    (path.parent / "stop.csv").write_text(
        "freq_khz,attenuation_db\n150,2\n400,20\n530,40\n1600,40\n1800,6\n2000,3\n3000,0\n"
    )
    row = rows_of(path, stations)["medium-wave band-stop"]
    by_hand = usable(edited(path, *in_lead("stop", '{ curve = "stop.csv" }')), stations)
    assert row["usable_after"] == pytest.approx(by_hand, abs=SAME)
    assert "cross-modulation is not judged" in row["note"]


def test_a_trap_is_built_for_the_station_that_spoils_most(bench: tuple[Path, Path]) -> None:
    """Of two stations by the image the louder one is named, and the trap is the one in the file."""
    path, stations = bench
    stations.write_text(
        "low_khz,high_khz,freq_khz,service,label,level,mode\n1,300000,,amateur,Nobody,-170 dBm,\n"
        ",,28800,maritime,Lightship,-65 dBm,am\n,,29000,maritime,Buoy,-80 dBm,am\n"
    )
    cover = (27_865_000, 27_875_000)
    rows = rows_of(path, stations, cover=cover)
    row = rows["trap for a station (Lightship, 28.8 MHz)"]
    by_hand = in_lead("trap", '{ trap = "28.8 MHz", depth = "40 dB", q = 80 }')
    after = usable(edited(path, *by_hand), stations, cover, range="4")
    assert row["usable_after"] == pytest.approx(after, abs=SAME)
    assert row["usable_after"] > row["usable_before"] + 0.3


def test_the_trap_is_for_the_station_that_spoils_most_of_any_range(
    bench: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever range it spoils; one on the IF is left to the IF trap, however much it takes."""
    least, most, on_if = Station("Buoy", 4_000_000, 0.02), Station("Light", 29_000_000, 0.1), 0.5
    for told, named in (
        ((least, most), most), ((most, least), most), ((None, least), least),
        ((Station("On the IF", 466_000, on_if), least), least), ((None, None), None),
    ):  # fmt: skip
        of_range = iter(told)
        monkeypatch.setattr(trials, "shares_of", lambda *_: None)
        monkeypatch.setattr(trials, "deciding_station", lambda _, of_range=of_range: next(of_range))
        on_two = trials.CureTrials(
            as_receiver(bench[0]), ("2", "4"), None, place=None, settings=None, bands=None, cures={}
        )
        on_two.find_station()
        assert on_two.station == named


def test_a_design_is_all_of_its_parts(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """A design is the file with each change in it, and says how much work it is by itself."""
    path, stations = bench
    own = tmp_path / "own.toml"
    own.write_text('[[cure]]\nname = "both"\neffort = 4.5\nparts = ["one more tuned circuit", "IF trap"]\n')
    # on a dial on which the IF and images spoil, neither part does it all
    rows = rows_of(path, stations, cures=own)
    by_hand = usable(edited(path, *BY_HAND["one more tuned circuit"], *BY_HAND["IF trap"]), stations)
    assert rows["both"]["usable_after"] == pytest.approx(by_hand, abs=SAME)
    assert rows["both"]["effort"] == 4.5


def test_a_design_that_one_part_does_alone_is_left_out(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """A trap with a pad does no more than the trap, and is said not to."""
    own = tmp_path / "own.toml"
    own.write_text('[[cure]]\nname = "both"\neffort = 2\nparts = ["IF trap", "10 dB pad"]\n')
    answer = spurplan.cures(bench[0], bands=bench[1], cures=own)
    assert "both" not in [row["cure"] for row in answer.cures.records()]
    assert any(text.startswith("both: no better than ") for text in answer.settings["not_tried"])


def test_converter_agrees_with_the_set_behind_it(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """The converter among the cures is the best of `converter`; its figures are those of the set saved."""
    path, stations = bench
    cover = (28_500_000, 29_000_000)
    answer = spurplan.cures(path, bands=stations, cover="28.5MHz:29MHz")
    (row,) = (row for row in answer.cures.records() if row["cure"].startswith("crystal converter in front ("))
    best = spurplan.converter(path, bands=stations, cover=cover).findings.chosen(cover)
    assert row["cure"].split("(crystal ")[1].startswith(best.crystal_text)
    (one,) = (one for one in answer.findings.tried if one.trial.name == row["cure"])
    write_receiver(one.trial.receiver, tmp_path / "behind.toml")
    assert row["usable_after"] == pytest.approx(usable(tmp_path / "behind.toml", stations, cover), abs=SAME)


@pytest.mark.long
def test_cover_and_range_narrow_the_question(bench: tuple[Path, Path]) -> None:
    """With a cover that stretch alone counts, on the ranges that tune some of it."""
    path, stations = bench
    row = spurplan.cures(path, bands=stations, cover=(28_000_000, 28_500_000)).cures.records()[0]
    by_hand = edited(path, ('["26 MHz", "30 MHz"]', '["28 MHz", "28.5 MHz"]'))
    assert row["usable_before"] == pytest.approx(usable(by_hand, stations, range="4"), abs=SAME)
    only = spurplan.cures(path, bands=stations, range="2").cures.records()[0]
    assert only["usable_before"] == pytest.approx(usable(path, stations, range="2"), abs=SAME)


def test_saved_receiver_is_the_recommended_cure(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """--save-receiver writes the set with the best for the least, comments of the file kept."""
    path, stations = bench
    path.write_text("# kept\n" + path.read_text())
    out = tmp_path / "cured.toml"
    words = ["cures", str(path), "--bands", str(stations), "--save-receiver", str(out), "--format", "json"]
    assert main([*words, "--output", str(tmp_path / "a.json")]) == 0
    row = json.loads((tmp_path / "a.json").read_text())["cures"][0]
    assert row["recommended"]
    assert row["usable_after"] == pytest.approx(usable(out, stations), abs=SAME)
    assert out.read_text().startswith("# kept\n")


def test_nothing_is_saved_where_nothing_is_worth_it(
    bench: tuple[Path, Path], tmp_path: Path, capsys: Any
) -> None:
    """Where nothing is lost no cure is proposed, and no file written."""
    path, stations = bench
    out = tmp_path / "cured.toml"
    stations.write_text(KNOWN)
    assert main(["cures", str(path), "--bands", str(stations)]) == 0
    assert capsys.readouterr().out.startswith("Nothing to cure")
    assert main(["cures", str(path), "--bands", str(stations), "--save-receiver", str(out)]) == 1
    assert "has nothing to write" in capsys.readouterr().err
    assert not out.exists()


def test_what_is_unknown_is_said(bench: tuple[Path, Path], capsys: Any) -> None:
    """Tables that end before the images leave them open, and the page says of how much."""
    path, stations = bench
    stations.write_text("freq_khz,service,label,level\n100,beacon,Nobody,-120 dBm\n")
    assert main(["cures", str(path), "--bands", str(stations)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "100 % is unknown: images beyond the tables." in said
    assert "Nothing to cure" not in said


# --- the decision ----------------------------------------------------------------------------


def test_gain_is_the_mean_over_worlds_both_share(bench: tuple[Path, Path]) -> None:
    """The mean gain lies where its interval says, and says which way it mostly goes."""
    for row in rows_of(*bench).values():
        assert row["usable_gain_low"] <= row["usable_gain_high"]
        assert -1 <= row["usable_gain"] <= 1
        if row["usable_gain_low"] > 0:
            assert row["better_in"] >= 0.9
        assert row["usable_after"] - row["usable_before"] == pytest.approx(row["usable_gain"], abs=0.1)


def test_the_least_work_among_what_brings_most_comes_first(bench: tuple[Path, Path]) -> None:
    """No cure that brings seven tenths of the best gain is less work; an effort that is set moves it."""
    rows = list(rows_of(*bench).values())
    best = max(row["usable_gain"] for row in rows)
    assert rows[0]["recommended"]
    assert rows[0]["usable_gain"] >= 0.7 * best
    assert not any(row["recommended"] for row in rows[1:])
    enough = [row for row in rows if row["usable_gain"] >= 0.7 * best and row["usable_gain_low"] > 0]
    assert rows[0]["effort"] == min(row["effort"] for row in enough)
    assert [row["rank"] for row in rows] == list(range(1, len(rows) + 1))
    (name, _) = other_if({row["cure"]: row for row in rows})
    cheap = spurplan.cures(bench[0], bands=bench[1], effort={"another IF": 0.001}).cures.records()
    assert cheap[0]["cure"] == name


def test_what_can_not_be_told_apart_is_named_both_ways(bench: tuple[Path, Path]) -> None:
    """The recommended cure names those, and each of them names it; nobody else names anybody."""
    first, *rest = spurplan.cures(bench[0], bands=bench[1]).cures.records()
    assert {row["cure"] for row in rest if row["not_told_from"]} == set(first["not_told_from"])
    assert all(row["not_told_from"] in ([], [first["cure"]]) for row in rest)


@pytest.mark.long
def test_a_filter_too_narrow_for_the_mode_is_not_offered(bench: tuple[Path, Path]) -> None:
    """A filter for telegraphy is none for speech, and one that is there already is no change."""
    filters = {"AM filter of 4.5 kHz": "am", "SSB filter of 2.4 kHz": "ssb", "CW filter of 500 Hz": "cw"}
    for mode in ("am", "ssb", "cw"):
        offered = {cure for cure in rows_of(*bench, mode=mode) if cure in filters}
        assert offered == {cure for cure, meant in filters.items() if meant == mode}
    narrow = edited(bench[0], ('bandwidth = "6 kHz"', 'bandwidth = "4 kHz"'))
    assert "AM filter of 4.5 kHz" not in rows_of(narrow, bench[1])


def test_a_tuner_regains_what_the_aerial_is_short_of() -> None:
    """6 dB where it is 6 dB short, never more than a match gives, nothing where it is not short."""
    (tuner,) = (one for one in shipped_cures() if one.name == "aerial tuner")
    for gain_db, regained_db in ((0.0, 0.0), (3.0, 0.0), (-6.0, 6.0), (-40.0, 15.0)):
        bare = changed(one_circuit("3 MHz", "4 MHz", 50), "test", antenna_gain_db=gain_db)
        made = carried_out(bare, tuner, ["1"])
        assert made is not None
        assert made.ahead[-1].gain_db == regained_db


def test_what_is_left_is_named(bench: tuple[Path, Path]) -> None:
    """not_cured names who still takes most, by which way in, and how much."""
    left = rows_of(*bench)["10 dB pad"]["not_cured"]
    assert left
    assert all(re.fullmatch(r".+ by .+, (under )?\d+ %|.+ by .+, over 99 %", text) for text in left)
    assert any("Lantern relay by image" in text for text in left)


# --- common practice -------------------------------------------------------------------------


def rejection_db(receiver: Receiver, cure: str, dial_hz: int) -> float:
    """Return image rejection at a dial setting with a shipped cure carried out. [dB]"""
    one = next(entry for entry in shipped_cures() if entry.name == cure)
    changed = carried_out(receiver, one, [receiver.ranges[0].name])
    assert changed is not None
    (chains,) = compile_chains([(changed, changed.ranges[0])])
    return float(image_rejection_db(chains.tuned_to([dial_hz], [dial_hz]))[0][0])


def one_circuit(low: str, high: str, q: float, circuits: int = 1) -> Receiver:
    return Receiver.from_dict(
        {
            "name": "one",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": [low, high], "front_end": [{"circuits": circuits, "q": q}]}],
        }
    )


def test_preselector_near_28_mhz() -> None:
    """Common practice: a preselector of two circuits brings 30 to 40 dB in all near 28 MHz."""
    got = rejection_db(one_circuit("26 MHz", "30 MHz", 50), "preselector of two circuits", 28_000_000)
    assert 30 <= got <= 40


def test_aerial_tuner_brings_little_high_up_and_more_lower_down() -> None:
    """Common practice: a few dB at 28 MHz and 910 kHz distance, more lower down."""
    gains = {}
    for low, high, dial in (
        ("26 MHz", "30 MHz", 28_000_000),
        ("6 MHz", "8 MHz", 7_000_000),
        ("3 MHz", "4 MHz", 3_500_000),
    ):
        bare = one_circuit(low, high, 50)
        gains[dial] = rejection_db(bare, "aerial tuner", dial) - rejection_db(
            with_front_end(bare, elements=[Circuits(circuits=1, q=50)]), "IF trap", dial
        )
    assert 1 <= gains[28_000_000] <= 4
    assert gains[28_000_000] < gains[7_000_000] < gains[3_500_000]
    # worked out from 10 log(1 + Q^2 v^2), Q 10, with what gets round it 30 dB down
    for dial, alone_db in ((28_000_000, 1.5), (7_000_000, 8.5), (3_500_000, 13.6)):
        expected = -10 * math.log10((10 ** (-alone_db / 10) + 1e-3) / (1 + 1e-3))
        assert gains[dial] == pytest.approx(expected, abs=0.1)


def test_q_multiplied_circuit_is_one_circuit_of_high_q() -> None:
    """Common practice: a Q-multiplied circuit is one circuit of high Q."""
    bare = one_circuit("26 MHz", "30 MHz", 50)
    high = with_front_end(bare, elements=[Circuits(circuits=1, q=300)])
    one = next(entry for entry in shipped_cures() if entry.name == "Q multiplied circuit")
    changed = carried_out(bare, one, ["1"])
    assert changed is not None
    assert changed.ranges[0].front_end == high.ranges[0].front_end
    # a circuit that is better already stays as it is
    assert carried_out(high, one, ["1"]) == high


def test_pad_cures_what_falls_faster_than_the_signal(tmp_path: Path) -> None:
    """Common practice: a pad cures products of higher order and no image.

    The image keeps its distance to the signal and to outside noise, the half-IF response loses
    twice what the signal loses.
    """
    (tmp_path / "set.toml").write_text(
        'name = "pad"\nnoise_figure = "3 dB"\n[[conversion]]\ninjection = "high"\nif = "455 kHz"\n'
        '[conversion.mixer]\nfamily = "bipolar"\n[conversion.filter]\nbandwidth = "6 kHz"\n[[range]]\n'
        'name = "1"\ncoverage = ["7 MHz", "7.1 MHz"]\nrf_gain = "20 dB"\n'
        "front_end = [ { circuits = 2, q = 60 } ]\n"
    )
    (tmp_path / "image.csv").write_text(
        "low_khz,high_khz,service,label,level\n7930,8000,broadcast,Image,-20 dBm\n"
    )
    (tmp_path / "half.csv").write_text(
        "low_khz,high_khz,service,label,level\n7240,7320,broadcast,Half,-38 dBm\n"
    )
    (tmp_path / "known.csv").write_text(KNOWN)
    found = {}
    for name in ("image", "half"):
        rows = rows_of(
            tmp_path / "set.toml", [tmp_path / f"{name}.csv", tmp_path / "known.csv"], lo_order=2, rf_order=2
        )
        found[name] = rows["10 dB pad"]
    image, half = found["image"], found["half"]
    assert image["usable_before"] < 0.9
    assert image["usable_after"] == pytest.approx(image["usable_before"], abs=0.01)
    # on or off as a whole: better in the worlds in which ten decibels decide, worse in none
    assert half["usable_gain"] > 0.15
    assert half["usable_gain_low"] > -0.01


# --- the file --------------------------------------------------------------------------------


def test_own_cures_come_beside_the_shipped_ones(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """A file adds cures, and one of the same name takes the place of the shipped one."""
    own = tmp_path / "own.toml"
    own.write_text(
        '[[cure]]\nname = "wave trap for the lantern"\neffort = 0.7\nnote = "a coil on a stick"\n'
        'front_end = [ { trap = "29.0 MHz", depth = "30 dB", q = 100 } ]\n'
        '[[cure]]\nname = "10 dB pad"\neffort = 3\npad = "20 dB"\n'
    )
    path, stations = bench
    rows = {
        row["cure"]: row for row in spurplan.cures(path, bands=stations, range="4", cures=own).cures.records()
    }
    trap = rows["wave trap for the lantern"]
    assert (trap["effort"], trap["note"]) == (0.7, "a coil on a stick")
    text = '{ trap = "29 MHz", depth = "30 dB", q = 100 }, { circuits = 2, q = 55 }'
    by_hand = usable(edited(path, ("{ circuits = 2, q = 55 }", text)), stations, range="4")
    assert trap["usable_after"] == pytest.approx(by_hand, abs=SAME)
    assert rows["10 dB pad"]["effort"] == 3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x = 1\n", r"cure: is missing; write each one as \[\[cure\]\]"),
        ('[[cure]]\nname = "a"\neffort = 1\n', r"cure\[1\]: changes nothing"),
        (
            '[[cure]]\nname = "a"\neffort = 1\nconverter = "stock"\npad = "6 dB"\nfrom = "2 MHz"\n',
            r"cure\[1\]\.pad: is not used beside.*\n.*cure\[1\]\.from: is not used",
        ),
        (
            '[[cure]]\nname = "a"\neffort = 1\npad = "6 dB"\nfrom = "9 MHz"\nto = "2 MHz"\n',
            r'cure\[1\]\.to: "2 MHz" is not above from; from is 9 MHz',
        ),
        ('[[cure]]\nname = "a"\neffort = 1\npad = "10"\n', r'cure\[1\]\.pad: "10" '),
        ('[[cure]]\nname = "a"\neffort = 0\npad = "3 dB"\n', r'cure\[1\]\.effort: "0" is outside any sense'),
        ('[[cure]]\nname = "a"\neffort = true\npad = "3 dB"\n', r"effort"),
        ('[[cure]]\neffort = 1\npad = "3 dB"\n', r"cure\[1\]\.name: is missing"),
        ('[[cure]]\nname = "a"\nefort = 1\npad = "3 dB"\n', r'did you mean "effort"'),
        ('[[cure]]\nname = "a"\neffort = 1\nfront_end = [ { circus = 1 } ]\n', r"cure\[1\]\.front_end\[1\]"),
        ('[[cure]]\nname = "a"\neffort = 1\nfront_end = [ { curve = "a.csv" } ]\n', r"names a file"),
        ('[[cure]]\nname = "a"\neffort = 1\nif = [1600]\n', r"cure\[1\]\.if\[1\]"),
        ('[[cure]]\nname = "a"\neffort = 1\nconverter = "best"\n', r'"best" is not known'),
        ('[[cure]]\nname = "a"\neffort = nan\npad = "3 dB"\n', r"effort"),
        (
            '[[cure]]\nname = "a"\neffort = 1\nparts = ["IF trap", "low-pass"]\npad = "3 dB"\n',
            r"cure\[1\]\.pad: is not used beside parts",
        ),
        ('[[cure]]\nname = "a"\neffort = 1\nparts = ["IF trap"]\n', r"cure\[1\]\.parts"),
        ('[[cure]]\nname = "a"\neffort = 1\nmodes = ["fax"]\npad = "3 dB"\n', r'"fax" is not known'),
        ("[[cure]\n", r"is not TOML"),
        ("cure = " + "[" * 5000 + "]" * 5000, r"is nested too deep"),
        ("cure = " + "9" * 6000, r"holds a number no computer takes"),
    ],
)
def test_damaged_cure_files_are_refused(tmp_path: Path, text: str, said: str) -> None:
    """Place, value, rule and remedy, as in every other file."""
    (tmp_path / "bad.toml").write_text(text)
    with pytest.raises(Refused, match=said) as refused:
        read_cures(tmp_path / "bad.toml")
    assert all(str(tmp_path / "bad.toml") in fault.place for fault in refused.value.faults)


def test_every_fault_of_a_cure_file_at_once(tmp_path: Path) -> None:
    """Several faults in several cures are all told."""
    (tmp_path / "bad.toml").write_text(
        '[[cure]]\nname = "a"\neffort = -1\npad = "x"\n[[cure]]\nname = "a"\neffort = 2\n'
    )
    with pytest.raises(Refused) as refused:
        read_cures(tmp_path / "bad.toml")
    assert len(refused.value.faults) >= 3


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"effort": {"10 dB padd": 1}}, r'"10 dB padd" is no cure; did you mean "10 dB pad"'),
        ({"effort": {"10 dB pad": "much"}}, r"is no sensible effort"),
        ({"effort": {"10 dB pad": 0}}, r"is no sensible effort"),
        ({"cover": "1MHz:2MHz"}, r"is on no range of the set"),
        ({"cover": "29MHz:28MHz"}, r"low edge"),
        ({"range": "9"}, r"is no range of this set"),
    ],
)
def test_nonsense_is_refused(bench: tuple[Path, Path], options: dict[str, Any], said: str) -> None:
    """Efforts for no cure, covers off the dial, ranges there are not."""
    with pytest.raises(Refused, match=said):
        spurplan.cures(bench[0], bands=bench[1], **options)


# --- the answer and the command --------------------------------------------------------------


def test_fields_and_cautions(bench: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """The fields are those of the design, in JSON and CSV; both cautions and the assumptions are there."""
    assert [column.name for column in CURE_COLUMNS] == FIELDS
    words = ["cures", str(bench[0]), "--bands", str(bench[1])]
    assert main([*words, "--format", "csv"]) == 0
    assert next(csv.reader(io.StringIO(capsys.readouterr().out))) == FIELDS
    assert main([*words, "--format", "json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert set(answer["cures"][0]) == set(FIELDS)
    assert any("lethal" in text for text in answer["cautions"])
    assert any("not a licence" in text for text in answer["cautions"])
    assert any("cross-modulation" in text for text in answer["assumptions"])
    # a station of -5 dBm at the terminals drives the mixer hard: said, because no share counts it
    assert any("intercept" in text for text in answer["assumptions"])
    assert any("--cover" in text for text in answer["settings"]["not_tried"])


def test_page(bench: tuple[Path, Path], capsys: pytest.CaptureFixture[str], monkeypatch: Any) -> None:
    """Eighty columns say what is clear now, the best for the least, and what cannot be cured."""
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["cures", str(bench[0]), "--bands", str(bench[1])]) == 0
    page = capsys.readouterr().out
    assert max(map(len, page.splitlines())) <= 80
    assert page.startswith("Best for the least: ")
    assert "of the dial is usable on a busy evening" in page
    assert "Not tried, crystal converter in front: needs --cover LOW:HIGH." in page
    assert "lethal voltages" in page


def test_progress_is_told(bench: tuple[Path, Path]) -> None:
    """Whoever waits is told how far it is."""
    seen: list[tuple[int, int]] = []
    told: Callable[[int, int], None] = lambda done, whole: seen.append((done, whole))  # noqa: E731
    spurplan.cures(bench[0], bands=bench[1], progress=told)
    assert seen
    assert all(0 < done <= whole for done, whole in seen)
