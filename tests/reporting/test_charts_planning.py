"""Charts of what could be done: converters, IFs, readings; what is drawn, and that it can be read."""

from __future__ import annotations

import csv
import io
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.cli import main
from spurplan.columns import Answer
from spurplan.errors import Refused
from spurplan.planning.converter.findings import Candidate
from spurplan.reporting.charts import converter, cures, if_change, ink, readings
from spurplan.reporting.charts.ruler import Ruler
from spurplan.reporting.charts.scale import Scale
from spurplan.reporting.charts.sheet import Hatch, Sheet
from spurplan.reporting.data import csv_pieces
from tests.charting import ROOT, WIDTHS, covering, demo, outside

COVERS = ("28MHz:29.7MHz", "5MHz:16MHz", "24MHz:34MHz")


@cache
def converters(cover: str) -> Answer:
    return spurplan.converter(demo("boathouse"), None, cover)


KNOWN: dict[tuple[str, int], Answer] = {}


def heard_of(cover: str) -> converter.Heard:
    """Return what gives what is heard on the set behind one converter for a cover, or by itself."""

    def heard(one: Candidate | None) -> Answer:
        key = ("", -1) if one is None else (cover, one.number)
        if key not in KNOWN:
            behind = demo("boathouse") if one is None else converters(cover).findings.behind(one)
            KNOWN[key] = spurplan.ranges(behind)
        return KNOWN[key]

    return heard


def strips_of(cover: str) -> tuple[Scale, list[converter.Strip]]:
    answer = converters(cover)
    low, high = answer.settings["cover"][0]
    scale = Scale(low, high, 32.0, 710.0)
    return scale, converter.strips(answer, (low, high), heard_of(cover), scale)


@pytest.mark.parametrize("cover", COVERS)
def test_candidates_are_drawn_in_their_order_and_the_set_by_itself_below(cover: str) -> None:
    """Each injection once, best first; then what a converter has to beat."""
    _, strips = strips_of(cover)
    ranks = [int(strip.name.split(".")[0]) for strip in strips if strip.name[0].isdigit()]
    assert ranks == sorted(set(ranks))
    assert 1 <= len(ranks) <= converter.MOST_CANDIDATES
    assert strips[-1].name == "Without a converter"
    names = [strip.name for strip in strips]
    assert names[len(ranks) :] == ["Without a converter"] * (len(names) - len(ranks))


def heard_part(answer: Answer) -> float:
    """Return the part of the only range on which anything is audible or strong."""
    total, reached = 0, -1
    stretches = [
        (row["dial_low_hz"], row["dial_high_hz"])
        for row in answer.intrusions.records()
        if row["grade"] != "buried"
    ]
    for low, high in sorted(stretches):
        total += max(0, high - max(low, reached + 1) + 1)
        reached = max(reached, high)
    (one,) = answer.ranges.records()
    return float(total / (one["high_hz"] - one["low_hz"] + 1))


@pytest.mark.parametrize("cover", COVERS)
def test_spoilt_and_lost_parts_agree_with_the_figures(cover: str) -> None:
    """Hatched, crossed out and white are the shares of what is heard, and add up to the cover.

    The table's share is that of the same but for stations in a band as loud as they are at the line.
    """
    scale, strips = strips_of(cover)
    records = {f"{r['rank']}.": r for r in converters(cover).candidates.records()}
    for strip in strips:
        if strip.name == "Without a converter":
            continue
        record = records[strip.name.split()[0]]
        assert sum(high - low for low, high in strip.lost) == record["lost_hz"]
        hatched = sum(part.high_hz - part.low_hz for part in strip.spoilt)
        tuned = record["cover_high_hz"] - record["cover_low_hz"]
        cells = 2 * (len(strip.spoilt) + 1) * 0.25 / scale.pt_per_hz / tuned
        heard = heard_part(heard_of(cover)(converters(cover).findings.candidate(record["rank"] - 1)))
        assert hatched / tuned == pytest.approx(heard, abs=cells)
        assert 1 - record["unheard_share"] == pytest.approx(heard, abs=0.001)
        for part in strip.spoilt:
            assert record["cover_low_hz"] <= part.low_hz <= part.high_hz <= record["cover_high_hz"]


def test_what_is_lost_is_crossed_out_with_the_reason() -> None:
    """A cover wider than any range loses a part of itself, and the chart says which and why."""
    _, strips = strips_of("24MHz:34MHz")
    losing = [strip for strip in strips if strip.lost and strip.reasons]
    made = converter.sheet(converters("24MHz:34MHz"), demo("boathouse"), 720.0, heard_of("24MHz:34MHz"))
    said = " ".join(word.text for word in made.words())
    for strip in losing:
        assert any(reason.text.startswith("loses") for reason in strip.reasons)
        assert "of the cover" in said
    assert any(strip.lost for strip in strips)
    assert any(isinstance(item, Hatch) and item.falling for item in made.items)


def test_a_dial_that_runs_backwards_reads_backwards() -> None:
    """With the crystal above the signal the set is tuned down as the signal goes up (common practice)."""
    for cover in COVERS:
        for strip in strips_of(cover)[1]:
            if strip.set_low_hz is None or strip.set_high_hz is None:
                continue
            assert (strip.set_low_hz > strip.set_high_hz) == strip.name.endswith("above")
            assert abs(strip.set_low_hz - strip.set_high_hz) == strip.high_hz - strip.low_hz


@cache
def scanned() -> Answer:
    return spurplan.if_change(demo("boathouse"), scan="400kHz:12MHz")


def test_each_if_is_a_row_with_its_share_its_verdict_and_its_reason() -> None:
    """In the order of the scan, the present one among them."""
    bars = if_change.bars(scanned())
    records = {f"{r['rank']}.": r for r in scanned().scan.records()}
    ranks = [int(bar.name.split(".")[0]) for bar in bars]
    assert ranks == sorted(ranks)
    assert ranks[0] == 1
    for bar in bars:
        record = records[bar.name.split()[0]]
        assert bar.clear_share == record["usable_after"]
        assert bar.before == record["usable_before"]
        assert record["verdict"] is None or f", {record['verdict']}, " in bar.summary
        assert f"image {record['image_rejection_db']:.0f} dB down" in bar.summary
        assert bar.reasons
    present = next(r["rank"] for r in scanned().scan.records() if r["if_hz"] == 465_000)
    assert [bar.name for bar in bars if "present" in bar.name] == [f"{present}. 465 kHz, the present IF"]


def test_the_white_part_of_a_row_is_what_can_be_used() -> None:
    """Half of the rule is half of the dial."""
    bars = if_change.bars(scanned())
    made = if_change.sheet(scanned(), demo("boathouse"), 720.0)
    hatched = [item.box for item in made.items if isinstance(item, Hatch)][: len(bars)]
    for bar, box in zip(bars, hatched, strict=True):
        spoilt = 1 - bar.clear_share - bar.unknown_share
        assert (box.right - box.left) / (710.0 - 32.0) == pytest.approx(spoilt)


def test_without_a_scan_there_is_nothing_to_draw() -> None:
    """And the remedy is said."""
    answer = spurplan.if_change(demo("boathouse"), if_=["1.6 MHz"], range="4")
    with pytest.raises(Refused, match="add --scan LOW:HIGH"):
        if_change.sheet(answer, demo("boathouse"), 720.0)


@cache
def cured() -> Answer:
    return spurplan.cures(demo("boathouse"), range="4")


def test_each_cure_is_a_row_with_what_is_usable_and_what_it_leaves() -> None:
    """In the order of the answer; the share as it is stands on each, for comparison."""
    records = cured().cures.records(cures.MOST_CURES)
    bars = cures.bars(cured())
    assert [bar.name.partition(". ")[2] for bar in bars] == [record["cure"] for record in records]
    for bar, record in zip(bars, records, strict=True):
        assert (bar.before, bar.clear_share) == (record["usable_before"], record["usable_after"])
        assert bool(bar.reasons) == bool(record["not_cured"])
    said = {word.text for word in cures.sheet(cured(), demo("boathouse"), 720.0).words()}
    assert "usable up to here as it is" in said


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a filled sheet: what was predicted, a little off by turns, one reading far off."""
    rows = list(
        csv.DictReader(io.StringIO("".join(csv_pieces(spurplan.bench_sheet(demo("boathouse")).first))))
    )
    far_off = next(entry for entry in rows if (entry["range"], entry["response"]) == ("3", "image"))
    for number, entry in enumerate(rows):
        if entry["predicted_db"] and entry["response"] != "wanted":
            off = 14.0 if entry is far_off else (-1) ** number * 0.4
            entry["reading"] = f"{float(entry['predicted_db']) + off:.1f}"
    path = tmp_path_factory.mktemp("bench") / "log.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        made = csv.DictWriter(file, list(rows[0]))
        made.writeheader()
        made.writerows(rows)
    return path


def test_each_reading_is_a_row_against_the_model(log: Path) -> None:
    """Both stand on one rule of decibels; what was set aside says so."""
    answer = spurplan.readings(demo("boathouse"), log)
    points = readings.points(answer)
    records = answer.residuals.records()
    assert [point.number for point in points] == [record["number"] for record in records]
    for point, record in zip(points, records, strict=True):
        assert (point.predicted_db, point.reading_db) == (record["predicted_db"], record["reading_db"])
        assert point.off.endswith("set aside") == record["outlier"]
    assert any(point.outlier for point in points)


@pytest.mark.parametrize("width", WIDTHS)
def test_no_words_cover_each_other(log: Path, width: float) -> None:
    """By their boxes, in every chart of a plan, at every width."""
    receiver = demo("boathouse")
    sheets: list[Sheet] = [
        converter.sheet(converters(cover), receiver, width, heard_of(cover)) for cover in COVERS
    ]
    sheets.append(if_change.sheet(scanned(), receiver, width))
    sheets.append(cures.sheet(cured(), receiver, width))
    sheets.append(readings.sheet(spurplan.readings(receiver, log), receiver, width))
    for made in sheets:
        assert covering(made.words()) == []
        assert outside(made) == []
        assert ink.picture(made, "svg")


@pytest.mark.parametrize(("low", "high"), [(0, 100), (20, 90), (-30, 40), (0, 7)])
def test_a_rule_is_straight_and_its_numerals_have_room(low: int, high: int) -> None:
    """Numerals at even steps, none nearer to another than the room it needs."""
    ruler = Ruler(low, high, 50.0, 650.0)
    ticks = ruler.ticks(34.0)
    assert len(ticks) >= 2
    assert {b - a for a, b in pairwise(ticks)} == {ticks[1] - ticks[0]}
    assert ruler.at(ticks[1]) - ruler.at(ticks[0]) >= 34.0
    assert ruler.at((low + high) / 2) == pytest.approx(350.0)


@pytest.mark.parametrize(
    "words",
    [
        ["converter", "set.toml", "--cover", "21MHz:21.45MHz", "--crystal", "14MHz"],
        ["cures", "set.toml", "--range", "4"],
        ["if-change", "set.toml", "--scan", "1.5MHz:1.7MHz", "--range", "4"],
    ],
    ids=lambda words: words[0],
)
def test_the_command_draws_it(
    words: list[str], tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The chart goes to its file, the answer to standard output as ever."""
    monkeypatch.chdir(ROOT / "demos" / "boathouse")
    assert main([*words, "--chart", str(tmp_path / "chart.svg")]) == 0
    assert "Boathouse valve set" in capsys.readouterr().out
    assert "Boathouse valve set" in (tmp_path / "chart.svg").read_text("utf-8")


def test_readings_are_drawn_from_the_command_line(log: Path, tmp_path: Path, capsys: Any) -> None:
    """As every other chart."""
    words = ["readings", str(ROOT / "demos" / "boathouse" / "set.toml"), str(log)]
    assert main([*words, "--chart", str(tmp_path / "chart.svg")]) == 0
    assert "Boathouse valve set" in capsys.readouterr().out
    assert "set aside" in (tmp_path / "chart.svg").read_text("utf-8")
