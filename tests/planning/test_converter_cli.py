"""The converter command: what a person sees, what a program gets, what goes to a file."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import spurplan
from spurplan.cli.progress import counting
from spurplan.planning.converter.figures import SETTINGS
from spurplan.planning.outlook import place_of, shares_of
from spurplan.receiver.chain import compile_chains
from spurplan.reporting.views.converter import view
from spurplan.responses.asking import Settings, as_bands, occupants_of

RECEIVER = Path(__file__).parents[1] / "receivers" / "boathouse.toml"
COVER = ("--cover", "21MHz:21.45MHz")


def run(*words: str, columns: int | None = None) -> subprocess.CompletedProcess[str]:
    """Run one command line, standard output and error both pipes."""
    env = {k: v for k, v in os.environ.items() if k != "COLUMNS"}
    env |= {"PYTHONIOENCODING": "utf-8"} | ({} if columns is None else {"COLUMNS": str(columns)})
    command = [sys.executable, "-m", "spurplan", "converter", str(RECEIVER), *words]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", env=env, check=False)


def usable_share(path: Path) -> float:
    """Return what is usable on the only range of a set, on as many settings as converters are judged on."""
    receiver, settings = spurplan.read_receiver(path), Settings()
    place = place_of(receiver, occupants_of(receiver, as_bands(None), settings), settings)
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    return float(shares_of(chains, place, settings, count=SETTINGS).usable[0])


def test_a_page_of_80_columns_says_the_best_and_why() -> None:
    """Nothing is wider than the page; the best stands in a sentence with the set alone beside it."""
    done = run(*COVER, columns=80)
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    text = " ".join(line.strip() for line in lines)
    assert "a converter for 21-21.45 MHz" in lines[0]
    assert "Number 1: crystal " in text
    assert "On a busy evening " in text
    assert "with the set alone. Number " in text
    assert " points behind it, most for " in text
    assert "first; number 2 is behind it: " in text
    assert "behind number 1: " in text
    assert "lethal voltages" in text
    assert "not a licence" in text


def test_who_listens_decides() -> None:
    """A listener to speech minds less than one to broadcasts: more of the same cover is usable for him."""
    one = [*COVER, "--crystal", "17.5MHz", "--format", "json"]
    told = {mode: json.loads(run(*one, "--mode", mode).stdout) for mode in ("am", "ssb")}
    usable = {
        mode: [row["usable_share"] for row in answer["candidates"] if row["side"] == "below"]
        for mode, answer in told.items()
    }
    assert told["ssb"]["settings"]["mode"] == "ssb"
    assert all(b > a for a, b in zip(usable["am"], usable["ssb"], strict=True))


@pytest.mark.long
def test_csv_and_json_hold_every_candidate_with_every_field() -> None:
    """CSV and JSON have the candidates, the set alone among them; both agree."""
    as_json = json.loads(run(*COVER, "--format", "json").stdout)
    rows = list(csv.DictReader(io.StringIO(run(*COVER, "--format", "csv").stdout)))
    assert list(as_json)[:4] == ["receiver", "settings", "assumptions", "cautions"]
    assert set(as_json) - {"receiver", "settings", "assumptions", "cautions"} == {"candidates"}
    assert len(rows) == len(as_json["candidates"]) > 100
    # the fields as agreed on, in their order
    names = (
        "rank possible in_tune crystal_hz multiplier injected_hz side dial_rule range cover_low_hz "
        "cover_high_hz set_low_hz set_high_hz lost_hz image_rejection_db second_image_rejection_db "
        "straight_in_label straight_in_dbm usable_share usable_low usable_high forward reading "
        "spread_khz_mm drift_hz impurity_db points usable_points backwards_points reading_points "
        "scale_points drift_points multiplier_points sum_points unheard_share unknown_share unlisted_share "
        "worst_label worst_grade worst_margin_db whistles birdies reading_error_hz reasons order"
    )
    assert list(rows[0]) == list(as_json["candidates"][0]) == names.split()
    assert as_json["settings"]["cover"] == [[21_000_000, 21_450_000]]
    for row, record in zip(rows, as_json["candidates"], strict=True):
        assert row["crystal_hz"] == ("" if record["side"] == "alone" else str(record["crystal_hz"]))
        assert row["worst_label"] == (record["worst_label"] or "")


def test_a_saved_receiver_is_the_best_one_and_serves_every_other_command(tmp_path: Path) -> None:
    """The file reads back, tunes the cover, and its usable share is the one that was ranked."""
    path = tmp_path / "behind.toml"
    done = run(*COVER, "--save-receiver", str(path), "--format", "json")
    best = json.loads(done.stdout)["candidates"][0]
    behind = spurplan.read_receiver(path)
    (one,) = behind.ranges
    assert (one.low_hz, one.high_hz) == (21_000_000, 21_450_000)
    (summary,) = spurplan.ranges(path).ranges.records()
    assert usable_share(path) == pytest.approx(best["usable_share"], abs=1e-9)
    assert summary["image_rejection_db"] == pytest.approx(
        best["image_rejection_db"] or float("nan"), nan_ok=True
    ) or (summary["image_rejection_db"] is None and best["image_rejection_db"] is None)


def test_explain_tells_everything_about_one_crystal(tmp_path: Path) -> None:
    """Its ways in, every intrusion, every birdie; and the saved file is its own."""
    path = tmp_path / "behind.toml"
    done = run(*COVER, "--explain", "14.318MHz", "--format", "json", "--save-receiver", str(path))
    answer = json.loads(done.stdout)
    assert {r["crystal_hz"] for r in answer["candidates"]} == {14_318_000, None}
    assert answer["candidates"][0]["rank"] > 1
    assert [r["response"] for r in answer["ways_in"]][:3] == ["image", "second image", "IF breakthrough"]
    assert {r["label"] for r in answer["intrusions"]}
    (one,) = spurplan.read_receiver(path).ranges
    assert one.conversions is not None
    assert one.conversions[0].crystal_hz == 14_318_000


@pytest.mark.parametrize(
    ("way", "times", "side"), [("7MHz times 2 below", 2, "below"), ("28.5MHz, above", 1, "above")]
)
def test_explain_is_about_the_way_that_is_named_and_saves_that(
    tmp_path: Path, way: str, times: int, side: str
) -> None:
    """A line of the list names multiplier and side: what is explained and saved has both."""
    path = tmp_path / "behind.toml"
    done = run(*COVER, "--explain", way, "--format", "json", "--save-receiver", str(path))
    answer = json.loads(done.stdout)
    listed = {(r["multiplier"], r["side"]) for r in answer["candidates"]}
    assert listed == {(times, side), (None, "alone")}
    first = spurplan.read_receiver(path).ranges[0].conversions[0]
    best = next(r for r in answer["candidates"] if r["side"] != "alone")
    assert (first.crystal_hz, first.multiplier) == (best["crystal_hz"], times)
    assert usable_share(path) == pytest.approx(best["usable_share"], abs=1e-9)


@pytest.mark.long
def test_explain_of_a_way_that_serves_for_nothing_names_those_that_do() -> None:
    """7 MHz as it is leaves 14 MHz, which no range below it tunes with the crystal above the signal."""
    done = run(*COVER, "--explain", "7MHz above")
    assert (done.returncode, done.stdout) == (1, "")
    assert '--explain: "7 MHz above" serves for no cover; it serves as 7 MHz' in done.stderr


def test_a_crystal_asked_about_is_never_hidden_behind_another() -> None:
    """7 MHz doubled injects what 14 MHz does; whoever names 7 MHz sees it on the list."""
    page = run(*COVER, "--crystal", "7MHz", "--crystal", "14MHz", "--top", "50", columns=120).stdout
    listed = page.partition("Rank")[2].partition("Why:")[0]
    assert [line for line in listed.splitlines() if line.split()[1:3] == ["7", "2"]], listed


def test_the_list_skips_no_rank_and_reasons_name_what_is_on_it() -> None:
    """What injects the same as one listed comes behind all others, so that 1, 2, 3 are what a reader sees."""
    answer = spurplan.converter(RECEIVER, cover="21MHz:21.45MHz")
    page = view(answer)
    ranks = page.tables["candidates"]["rank"].tolist()
    assert ranks == list(range(1, len(ranks) + 1))
    assert len(ranks) < len(answer.candidates)
    named = [int(n) for line in page.remarks for n in re.findall(r"number ([0-9]+)", line)]
    assert named
    assert set(named) <= set(ranks)
    behind = answer.candidates.records()[len(ranks) :]
    assert all(row["reasons"][0].startswith("injects the same as number ") for row in behind)


def test_front_describes_the_converter(tmp_path: Path) -> None:
    """A converter with more selectivity and less pickup is clear where the default one is not."""
    front = tmp_path / "front.toml"
    front.write_text(
        'elements = [{circuits = 4, q = 70}]\nceiling = "100 dB"\ngain = "15 dB"\n'
        'pickup = "100 dB"\nnoise_figure = "6 dB"\n[mixer]\nfamily = "dual_gate_mosfet"\n'
    )
    words = (*COVER, "--crystal", "14.3MHz", "--format", "json", "--region", "1")
    plain, better = (json.loads(run(*w).stdout) for w in (words, (*words, "--front", str(front))))
    before, after = (
        next(r for r in answer["candidates"] if (r["multiplier"], r["side"]) == (1, "below"))
        for answer in (plain, better)
    )
    # 100 dB of ceiling instead of 70, beside 100 dB past everything: 10 log((10^-7 + 10^-10)/(2 * 10^-10))
    assert after["straight_in_dbm"] == pytest.approx(before["straight_in_dbm"] - 27.0, abs=1.0)
    assert after["unheard_share"] > before["unheard_share"]
    assert any("--front describes yours" in text for text in plain["assumptions"])
    assert not any("--front describes yours" in text for text in better["assumptions"])
    assert better["settings"]["front"] == str(front)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("--cover", "21.45MHz:21MHz"), 1, "has its low edge 21.45 MHz not below"),
        (("--cover", "21MHz"), 2, "give two edges"),
        ((*COVER, "--crystal", "21.2MHz"), 1, "stands inside the cover"),
        ((*COVER, "--front", "missing.toml"), 1, "missing.toml: does not exist"),
        ((*COVER, "--stock", "missing.csv"), 1, "missing.csv: does not exist"),
        ((), 2, "--cover"),
    ],
)
def test_refusals_leave_standard_output_empty(words: tuple[str, ...], status: int, said: str) -> None:
    """Status 1 for what the library refuses, 2 for wrong options; the reason on standard error."""
    done = run(*words)
    assert (done.returncode, done.stdout) == (status, "")
    assert said in done.stderr


@pytest.mark.long
def test_a_pipe_sees_no_progress() -> None:
    """Standard error stays empty however long it takes."""
    done = run("--cover", "21MHz:21.45MHz", "--step", "20kHz", "--top", "1")
    assert (done.returncode, done.stderr) == (0, "")


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_comes_after_a_second_and_is_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing before a second, a bar after it, an empty line at the end; nothing where nobody watches."""
    now = [0.0]
    monkeypatch.setattr("spurplan.cli.progress.time.monotonic", lambda: now[0])
    watched = _Terminal()
    monkeypatch.setattr(sys, "stderr", watched)
    with counting("converters") as progress:
        assert progress is not None
        progress(100, 1_000)
        assert watched.getvalue() == ""
        now[0] = 1.5
        progress(500, 1_000)
        assert "500 of 1,000 converters" in watched.getvalue()
        assert "\n" not in watched.getvalue()
    assert watched.getvalue().rsplit("\r", 2)[-2].strip() == ""
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with counting("converters") as progress:
        assert progress is None
