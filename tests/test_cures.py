"""cures: each agrees with editing the receiver file by hand and asking again."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.cures.answer import CURE_COLUMNS
from spurplan.planning.cures.changes import carried_out
from spurplan.planning.cures.file import read_cures, shipped_cures
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes import with_front_end
from spurplan.receiver.description import Circuits, Receiver
from spurplan.receiver.file.writing import write_receiver
from spurplan.responses.summary import image_rejection_db
from spurplan.units import hz_text

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
    "rank", "cure", "clear_share_before", "clear_share_after", "unknown_share_before", "unknown_share_after",
    "intrusions_before", "intrusions_after",
    "worst_label", "worst_margin_db", "effort", "not_cured", "note",
]  # fmt: skip


@pytest.fixture
def bench(tmp_path: Path) -> tuple[Path, Path]:
    """Return the paths of the set and of the stations."""
    (tmp_path / "set.toml").write_text(SET)
    (tmp_path / "stations.csv").write_text(BANDS)
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


# What a hand would write for each cure that ships.
BY_HAND: dict[str, list[tuple[str, str]]] = {
    "one more tuned circuit": [
        ("{ circuits = 1, q = 70 }", "{ circuits = 2, q = 70 }"),
        ("{ circuits = 2, q = 55 }", "{ circuits = 3, q = 55 }"),
    ],
    "preselector of two circuits": [in_the_lead("elements = [ { circuits = 2, q = 80 } ]")],
    "Q multiplied circuit": [
        ("{ circuits = 1, q = 70 }", "{ circuits = 1, q = 300 }"),
        ("{ circuits = 2, q = 55 }", "{ circuits = 1, q = 300 }, { circuits = 1, q = 55 }"),
    ],
    "resonant aerial tuner": [in_the_lead("elements = [ { circuits = 1, q = 10 } ]")],
    "IF trap": [in_the_lead('elements = [ { trap = "465 kHz", depth = "40 dB", q = 80 } ]')],
    "10 dB pad": [in_the_lead('gain = "-10 dB"')],
}
# the best of several IFs is taken
OTHER_IF = re.compile(r"another IF \(([^)]*)\)")


def shares(answer: Any) -> tuple[float, int, float]:
    """Return clear hertz, who is heard by how many ways, and the worst margin, of a `ranges` answer."""
    rows = answer.ranges.records()
    clear = sum(row["clear_share"] * (row["high_hz"] - row["low_hz"] + 1) for row in rows)
    margins = [row["worst_margin_db"] for row in rows if row["worst_margin_db"] is not None]
    heard = {(row["range"], row["row"], str(row["steps"])) for row in answer.intrusions.records()}
    return clear, len(heard), max(margins, default=-1000.0)


WIDTH_HZ = 3_000_001 + 4_000_001


def hold(row: dict[str, Any], asked_again: Any) -> None:
    """Hold one cure against `ranges` of the set as changed."""
    clear, intrusions, worst = shares(asked_again)
    assert row["clear_share_after"] * WIDTH_HZ == pytest.approx(clear, abs=0.5)
    assert row["intrusions_after"] == intrusions
    assert (-1000.0 if row["worst_margin_db"] is None else row["worst_margin_db"]) == pytest.approx(worst)


def other_if(rows: dict[str, Any]) -> tuple[str, str]:
    """Return the name of the cure with another IF, and that IF."""
    name = next(cure for cure in rows if OTHER_IF.fullmatch(cure))
    found = OTHER_IF.fullmatch(name)
    assert found is not None
    return name, found[1]


def test_each_cure_agrees_with_the_file_edited_by_hand(bench: tuple[Path, Path]) -> None:
    """Clear share, number of intrusions and the worst left are those of the file with the change in it."""
    path, stations = bench
    rows = {row["cure"]: row for row in spurplan.cures(path, stations).cures.records()}
    for cure, changes in BY_HAND.items():
        hold(rows[cure], spurplan.ranges(edited(path, *changes), stations))
    name, if_text = other_if(rows)
    hold(rows[name], spurplan.ranges(edited(path, ('if = "465 kHz"', f'if = "{if_text}"')), stations))
    before = spurplan.ranges(path, stations)
    assert rows["IF trap"]["clear_share_before"] * WIDTH_HZ == pytest.approx(shares(before)[0], abs=0.5)


def test_band_stop_agrees_with_a_curve_in_the_file(bench: tuple[Path, Path]) -> None:
    """The band-stop is a measured curve in a box in the lead."""
    path, stations = bench
    rows = {row["cure"]: row for row in spurplan.cures(path, stations).cures.records()}
    (path.parent / "stop.csv").write_text(
        "freq_khz,attenuation_db\n150,2\n400,20\n530,40\n1600,40\n1800,6\n2000,3\n3000,0\n"
    )
    changes = [in_the_lead('elements = [ { curve = "stop.csv" } ]')]
    hold(rows["medium-wave band-stop"], spurplan.ranges(edited(path, *changes), stations))
    assert "cross-modulation is not judged" in rows["medium-wave band-stop"]["note"]


def test_pairs_agree_with_both_edits(bench: tuple[Path, Path]) -> None:
    """Two cures are the file with both changes in it."""
    path, stations = bench
    rows = {row["cure"]: row for row in spurplan.cures(path, stations).cures.records()}
    name, if_text = other_if(rows)
    pair = f"{name} + preselector of two circuits"
    changes = [('if = "465 kHz"', f'if = "{if_text}"'), *BY_HAND["preselector of two circuits"]]
    hold(rows[pair], spurplan.ranges(edited(path, *changes), stations))
    assert rows[pair]["effort"] == rows[name]["effort"] + rows["preselector of two circuits"]["effort"]
    pair = "Q multiplied circuit + resonant aerial tuner"
    circuits = [*BY_HAND["Q multiplied circuit"], *BY_HAND["resonant aerial tuner"]]
    hold(rows[pair], spurplan.ranges(edited(path, *circuits), stations))
    # two ways of having more circuits do not go together
    assert "one more tuned circuit + preselector of two circuits" not in rows


def test_converter_agrees_with_the_set_behind_it(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """The converter among the cures is the best of `converter`; its figures are those of the set saved."""
    path, stations = bench[0], [bench[1], tmp_path / "known.csv"]
    stations[1].write_text(KNOWN)
    effort = {"crystal converter in front": "0.01"}
    answer = spurplan.cures(path, stations, cover="28.5MHz:29MHz", effort=effort)
    rows = answer.cures.records()
    assert rows[0]["cure"].startswith("crystal converter in front (crystal ")
    best = spurplan.converter(path, stations, (28_500_000, 29_000_000)).candidates.records(1)[0]
    assert rows[0]["cure"].split("(crystal ")[1].startswith(hz_text(best["crystal_hz"]))
    write_receiver(answer.findings.proposed, tmp_path / "behind.toml")
    again = spurplan.ranges(tmp_path / "behind.toml", stations, range=best["range"]).ranges.records()[0]
    width = again["high_hz"] - again["low_hz"] + 1
    assert rows[0]["clear_share_after"] * 500_001 == pytest.approx(again["clear_share"] * width, abs=1)


def test_cover_and_range_narrow_the_question(bench: tuple[Path, Path]) -> None:
    """With a cover only that part of the dial counts, on the ranges that tune some of it."""
    path, stations = bench
    answer = spurplan.cures(path, stations, cover=(28_000_000, 28_500_000))
    clear = spurplan.ranges(
        edited(path, ('["26 MHz", "30 MHz"]', '["28 MHz", "28.5 MHz"]')), stations, range="4"
    )
    row = answer.cures.records()[0]
    assert row["clear_share_before"] == pytest.approx(clear.ranges.records()[0]["clear_share"])
    only = spurplan.cures(path, stations, range="2").cures.records()[0]
    assert only["clear_share_before"] == spurplan.ranges(path, stations, range="2").ranges["clear_share"][0]


def test_saved_receiver_is_the_first_cure(bench: tuple[Path, Path], tmp_path: Path) -> None:
    """--save-receiver writes the set with the best for the least, comments of the file kept."""
    path, stations = bench
    path.write_text("# kept\n" + path.read_text())
    out = tmp_path / "cured.toml"
    words = ["cures", str(path), "--bands", str(stations), "--save-receiver", str(out), "--format", "json"]
    assert main([*words, "--output", str(tmp_path / "a.json")]) == 0
    row = json.loads((tmp_path / "a.json").read_text())["cures"][0]
    hold(row, spurplan.ranges(out, stations))
    assert out.read_text().startswith("# kept\n")


def test_nothing_is_saved_where_no_cure_makes_it_better(
    bench: tuple[Path, Path], tmp_path: Path, capsys: Any
) -> None:
    """A cure that clears nothing is not proposed: the file is refused, and not written."""
    path, stations = bench
    nobody = "freq_khz,service,label,level\n100,beacon,Nobody,-120 dBm\n"
    stations.write_text(nobody)
    out = tmp_path / "cured.toml"
    assert main(["cures", str(path), "--bands", str(stations)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Unknown: on 100 % of it an image lies beyond the tables" in said
    assert "Nothing that the tables know of is heard." in said
    stations.write_text(f"{nobody}200000,beacon,Nobody,-120 dBm\n")
    assert main(["cures", str(path), "--bands", str(stations)]) == 0
    assert "nothing to cure" in capsys.readouterr().out
    assert main(["cures", str(path), "--bands", str(stations), "--save-receiver", str(out)]) == 1
    assert "has nothing to write" in capsys.readouterr().err
    assert not out.exists()


# --- ranking ---------------------------------------------------------------------------------


def test_rank_is_gain_for_each_unit_of_effort(bench: tuple[Path, Path]) -> None:
    """Most cleared for the least comes first; an effort can be set, and moves its cure."""
    rows = spurplan.cures(*bench).cures.records()
    gains = [(row["clear_share_after"] - row["clear_share_before"]) / row["effort"] for row in rows]
    helpful = [gain for gain in gains if gain > 0]
    assert helpful == sorted(helpful, reverse=True)
    assert [row["rank"] for row in rows] == list(range(1, len(rows) + 1))
    last = [row["cure"] for row in rows if row["clear_share_after"] > row["clear_share_before"]][-1]
    name = last.split(" + ")[0].partition(" (")[0]
    cheap = spurplan.cures(*bench, effort={name: 0.001}).cures.records()
    assert cheap[0]["cure"].partition(" (")[0] == name


def test_what_is_left_is_named(bench: tuple[Path, Path]) -> None:
    """not_cured names who is left, by which way, how loud; the worst is the first of them."""
    for row in spurplan.cures(*bench).cures.records():
        assert (row["worst_label"] is None) == (row["not_cured"] == [])
        if row["not_cured"]:
            assert row["not_cured"][0].startswith(f"{row['worst_label']} by ")
            assert row["not_cured"][0].endswith(f"+{row['worst_margin_db']:.0f} dB")


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
        gains[dial] = rejection_db(bare, "resonant aerial tuner", dial) - rejection_db(
            with_front_end(bare, [Circuits(circuits=1, q=50)]), "IF trap", dial
        )
    assert 1 <= gains[28_000_000] <= 4
    assert gains[28_000_000] < gains[7_000_000] < gains[3_500_000]
    # worked out from 10 log(1 + Q^2 v^2), Q 10
    assert gains[28_000_000] == pytest.approx(1.5, abs=0.1)
    assert gains[7_000_000] == pytest.approx(8.5, abs=0.1)
    assert gains[3_500_000] == pytest.approx(13.6, abs=0.1)


def test_q_multiplied_circuit_is_one_circuit_of_high_q() -> None:
    """Common practice: a Q-multiplied circuit is one circuit of high Q."""
    bare = one_circuit("26 MHz", "30 MHz", 50)
    high = with_front_end(bare, [Circuits(circuits=1, q=300)])
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
        "low_khz,high_khz,service,label,level\n7240,7320,broadcast,Half,-33 dBm\n"
    )
    (tmp_path / "known.csv").write_text(KNOWN)
    found = {}
    for name in ("image", "half"):
        rows = spurplan.cures(
            tmp_path / "set.toml", [tmp_path / f"{name}.csv", tmp_path / "known.csv"], lo_order=2, rf_order=2
        ).cures
        found[name] = {row["cure"]: row for row in rows.records()}["10 dB pad"]
    image, half = found["image"], found["half"]
    assert image["clear_share_after"] == pytest.approx(image["clear_share_before"], abs=0.01)
    assert half["clear_share_before"] < 0.5
    assert half["clear_share_after"] > half["clear_share_before"] + 0.3


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
    rows = {row["cure"]: row for row in spurplan.cures(path, stations, range="4", cures=own).cures.records()}
    trap = rows["wave trap for the lantern"]
    assert (trap["effort"], trap["note"]) == (0.7, "a coil on a stick")
    text = '{ trap = "29 MHz", depth = "30 dB", q = 100 }, { circuits = 2, q = 55 }'
    again = spurplan.ranges(edited(path, ("{ circuits = 2, q = 55 }", text)), stations, range="4")
    assert trap["clear_share_after"] == pytest.approx(again.ranges["clear_share"][0])
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
        spurplan.cures(*bench, **options)


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
    # a station of -5 dBm at the terminals drives the mixer hard: said, because it is not modelled
    assert any("intercept" in text for text in answer["assumptions"])
    assert any("--cover" in text for text in answer["settings"]["not_tried"])


def test_page(bench: tuple[Path, Path], capsys: pytest.CaptureFixture[str], monkeypatch: Any) -> None:
    """Eighty columns say what is clear now, the best for the least, and what cannot be cured."""
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["cures", str(bench[0]), "--bands", str(bench[1])]) == 0
    page = capsys.readouterr().out
    assert max(map(len, page.splitlines())) <= 80
    assert "of the dial is clear" in page
    assert "The best for the least: " in page
    assert "Not tried, crystal converter in front: needs --cover LOW:HIGH." in page
    assert "lethal voltages" in page


def test_progress_is_told(bench: tuple[Path, Path]) -> None:
    """Whoever waits is told how far it is."""
    seen: list[tuple[int, int]] = []
    told: Callable[[int, int], None] = lambda done, whole: seen.append((done, whole))  # noqa: E731
    spurplan.cures(*bench, progress=told)
    assert seen
    assert all(0 < done <= whole for done, whole in seen)
