"""Charts of what could be done: converters, IFs, readings; what is drawn, and that it can be read."""

from __future__ import annotations

import copy
import csv
import io
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.columns import Answer
from spurplan.errors import Refused
from spurplan.planning.converter.findings import Candidate
from spurplan.planning.if_change.scan_curve import ScanCurve
from spurplan.reporting.charts import converter, cures, if_change, ink, readings
from spurplan.reporting.charts.if_axis import IfAxis, draw_if_axis
from spurplan.reporting.charts.marks import Spoilt
from spurplan.reporting.charts.ruler import Ruler
from spurplan.reporting.charts.scale import Scale
from spurplan.reporting.charts.sheet import Dots, Ground, Hatch, Pen, Sheet, Stroke, shown
from spurplan.reporting.data import csv_pieces
from spurplan.reporting.views import bench
from spurplan.reporting.views import if_change as if_change_view
from spurplan.reporting.views.converter import summary
from spurplan.units import share_text
from tests.charting import ROOT, WIDTHS, covering, demo, outside
from tests.drawn_sets import quiet, twelve
from tests.turns import by_turns

COVERS = ("28MHz:29.7MHz", "5MHz:16MHz", "24MHz:34MHz")


@cache
def converters(cover: str) -> Answer:
    return spurplan.converter(demo("boathouse"), cover=cover)


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


@pytest.mark.parametrize("cover", by_turns(COVERS, always=COVERS[-1:]))
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


@pytest.mark.parametrize("cover", by_turns(COVERS, always=COVERS[-1:]))
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


def test_what_is_lost_is_no_part_of_the_strip_and_has_its_reason() -> None:
    """A cover wider than any range loses a part of itself, and the chart says which and why."""
    _, strips = strips_of("24MHz:34MHz")
    losing = [strip for strip in strips if strip.lost and strip.reasons]
    made = converter.sheet(converters("24MHz:34MHz"), demo("boathouse"), 720.0, heard_of("24MHz:34MHz"))
    said = " ".join(word.text for word in made.words())
    for strip in losing:
        assert any(reason.text.startswith("loses") for reason in strip.reasons)
        assert "of the cover" in said
    assert any(strip.lost for strip in strips)
    scale = Scale(24_000_000, 34_000_000, 32.0, 710.0)
    lines = [item.points for item in strokes(made, converter.LOST)]
    for strip in strips:
        for low, high in strip.lost:
            assert any((a[0], b[0]) == (scale.at(low), scale.at(high)) for a, b in lines)
        assert fill_ends(strip) == (strip.low_hz, strip.high_hz)


def fill_ends(strip: converter.Strip) -> tuple[int, int]:
    """Return where the fills of a strip begin and end, each beginning where the one before ends."""
    parts = converter.fills(strip)
    assert [low for low, _, _ in parts[1:]] == [high for _, high, _ in parts[:-1]]
    return parts[0][0], parts[-1][1]


def test_an_if_of_the_set_is_never_drawn_as_clear_or_as_heard() -> None:
    """It counts before whatever is heard there, and unknown before clear."""
    (first, *_) = strips_of(COVERS[0])[1]
    low, width = first.low_hz, (first.high_hz - first.low_hz) // 10
    parts = [(low + n * width, low + (n + 1) * width) for n in range(3)]
    strip = replace(
        first,
        spoilt=(Spoilt(parts[0][0], parts[1][1], "strong"),),
        unknown=(parts[2],),
        dead=(parts[1],),
    )
    assert converter.fills(strip) == [
        (*parts[0], "don't"),
        (*parts[1], "dead"),
        (*parts[2], "unknown"),
        (parts[2][1], first.high_hz, "believe"),
    ]


@pytest.mark.long
@pytest.mark.parametrize("cover", by_turns(COVERS, always=COVERS[-1:]))
def test_the_key_of_a_converter_names_what_is_drawn(cover: str) -> None:
    """Each fill of a strip, a broken line where something cannot be tuned, and nothing else."""
    answer = converters(cover)
    made = converter.sheet(answer, demo("boathouse"), 720.0, heard_of(cover))
    said = {word.text for word in made.words()}
    _, strips = strips_of(cover)
    fills = {word for strip in strips if not strip.untuned for _, _, word in converter.fills(strip)}
    assert {word for word, text in converter.KEY.items() if text in said} == fills
    assert ("cannot be tuned" in said) is any(strip.lost for strip in strips)


def test_the_key_of_a_scan_names_what_is_drawn() -> None:
    """No range where none reaches into the span; a usual IF where there is one; the pens of the curve."""
    for low, high in ((400_000, 520_000), (400_000, 3_000_000)):
        answer = spurplan.if_change(demo("boathouse"), scan=(low, high), range="4")
        made = if_change.sheet(answer, demo("boathouse"), 720.0)
        said = " ".join(word.text for word in made.words())
        pens = {item.pen for item in made.items if isinstance(item, Stroke)}
        assert ("a range of the set" in said) is (high > demo("boathouse").ranges[0].low_hz)
        assert ("inside a range" in said) is (if_change.INSIDE in pens)


def test_an_if_asked_about_has_a_flag_of_its_own() -> None:
    """On the curve of the others, by its name; the key says what such a flag is."""
    answer = spurplan.if_change(demo("lockkeeper"), if_=[1_400_000], scan=(1_300_000, 1_700_000))
    [flag] = [flag for flag in if_change.flags(answer) if flag.kind == "asked"]
    assert flag.if_hz == 1_400_000
    said = [word.text for word in if_change.sheet(answer, demo("lockkeeper"), 720.0).words()]
    assert any(text.startswith("asked 1400 kHz") for text in said)
    assert any("one asked about" in text for text in said)


def test_the_key_of_cures_names_what_is_drawn(tmp_path: Path) -> None:
    """Where nothing is lost nothing is said of what is."""
    receiver, bands = quiet(tmp_path)
    said = [word.text for word in cures.sheet(spurplan.cures(receiver, bands=bands), receiver, 720.0).words()]
    assert "usable" in said
    assert "lost to intruders or noise" not in said
    said = [
        word.text for word in cures.sheet(spurplan.cures(demo("boathouse")), demo("boathouse"), 720.0).words()
    ]
    assert {"usable", "lost to intruders or noise"} <= set(said)


def test_what_is_recommended_stands_in_the_list_below_the_curve() -> None:
    """Behind the present IF, as the headline has it."""
    answer = spurplan.if_change(demo("boathouse"), scan=(400_000, 3_000_000), range="4")
    [change] = answer.findings.changes
    below = if_change.listed(answer.findings)
    assert below[0].present
    assert below[1].if_hz == change.if_hz
    assert len({one.if_hz for one in below}) == len(below) <= if_change.MOST_LISTED


@pytest.mark.parametrize("cover", by_turns(COVERS, always=COVERS[-1:]))
def test_a_dial_that_runs_backwards_reads_backwards(cover: str) -> None:
    """With the crystal above the signal the set is tuned down as the signal goes up (common practice)."""
    for strip in strips_of(cover)[1]:
        if strip.set_low_hz is None or strip.set_high_hz is None:
            continue
        assert (strip.set_low_hz > strip.set_high_hz) == strip.name.endswith("above")
        assert abs(strip.set_low_hz - strip.set_high_hz) == strip.high_hz - strip.low_hz


@cache
def scanned() -> Answer:
    return spurplan.if_change(demo("boathouse"), scan="400kHz:12MHz", range="4")


@pytest.mark.long
def test_the_curve_is_the_scan_and_where_ifs_were_judged_closer_the_list() -> None:
    """Every IF tried is on it; one in the table stands where the table says."""
    curve, scan = if_change.curve_of(scanned()), scanned().findings.scan
    assert curve.if_hz.tolist() == scan.if_hz.tolist()
    assert ((curve.low <= curve.usable) & (curve.usable <= curve.high)).all()
    assert (curve.usable + curve.unknown <= 1.0 + 1e-9).all()
    records = {record["if_hz"]: record for record in scanned().scan.records()}
    for if_hz, usable in zip(curve.if_hz.tolist(), curve.usable.tolist(), strict=True):
        if if_hz in records:
            assert usable == records[if_hz]["usable_after"]
    others = ~np.isin(curve.if_hz, list(records))
    assert others.sum() > 100
    assert (curve.usable[others] == scan.usable_share[others]).all()
    assert curve.present_hz == (465_000,)


def test_an_if_inside_a_range_is_drawn_in_dashes() -> None:
    """The present IF and what lies in a gap between ranges stand on the full line alone."""
    curve = if_change.curve_of(scanned())
    ranges = demo("boathouse").ranges
    for if_hz, inside in zip(curve.if_hz.tolist(), curve.inside.tolist(), strict=True):
        assert inside == any(one.low_hz <= if_hz <= one.high_hz for one in ranges)
    made = if_change.sheet(scanned(), demo("boathouse"), 720.0)
    axis = if_change.IfAxis(400_000, 12_000_000, 32.0, 710.0)
    full = [x for item in strokes(made, if_change.CURVE) for x, _ in item.points]
    assert full
    assert max(full) <= axis.at(float(curve.if_hz[curve.inside].min()))
    assert len(strokes(made, if_change.INSIDE)) >= 1


def test_the_curve_stands_where_its_share_is() -> None:
    """Each point of the full line is the usable share on the rule of the plot, to a tenth of a point."""
    curve = if_change.curve_of(scanned())
    made = if_change.sheet(scanned(), demo("boathouse"), 720.0)
    numerals = {word.text: word.y - 0.36 * word.size for word in made.words() if word.anchor == "end"}
    per_share = (numerals["50"] - numerals["100 %"]) / 0.5
    axis = if_change.IfAxis(400_000, 12_000_000, 32.0, 710.0)
    known = dict(zip(curve.if_hz.tolist(), curve.usable.tolist(), strict=True))
    base = numerals["100 %"] + if_change.PLOT_PT
    seen = 0
    for item in strokes(made, if_change.CURVE):
        for x, y in item.points if item.points[0][1] < base else ():
            if_hz = min(known, key=lambda hz: abs(axis.at(hz) - x))
            if abs(axis.at(if_hz) - x) < 1e-6:
                assert 1.0 - (y - numerals["100 %"]) / per_share == pytest.approx(known[if_hz], abs=0.001)
                seen += 1
    assert seen >= 2


def test_usual_ifs_are_flags_and_the_present_one_is_a_post() -> None:
    """Each usual IF of the table has a flag with its share; the present one is named first."""
    flags = if_change.flags(scanned())
    usual = {r["if_hz"] for r in scanned().scan.records() if r["usual"] is not None}
    assert {flag.if_hz for flag in flags} == usual | {465_000}
    assert [flag.kind for flag in flags].count("present") == 1
    assert flags[0].text == f"present 465 kHz, {share_text(flags[0].usable or 0.0)}"
    made = if_change.sheet(scanned(), demo("boathouse"), 720.0)
    axis = if_change.IfAxis(400_000, 12_000_000, 32.0, 710.0)
    assert axis.at(465_000) in [item.points[0][0] for item in strokes(made, if_change.POST)]


def test_what_cannot_be_had_and_what_is_unknown_are_no_part_of_the_curve() -> None:
    """IFs that no filter or oscillator gives are crossed out; what is unknown is dotted above the curve."""
    curve = if_change.curve_of(scanned())
    unsure = curve.replace(
        unknown=np.full(len(curve), 0.05),
        usable=np.full(len(curve), 0.6),
        low=np.full(len(curve), 0.5),
        high=np.full(len(curve), 0.7),
        whole=curve.if_hz > 1_000_000,
    )
    made = if_change.sheet(answer_with(unsure), demo("boathouse"), 720.0)
    axis = if_change.IfAxis(400_000, 12_000_000, 32.0, 710.0)
    drawn = [
        x for pen in (if_change.CURVE, if_change.INSIDE) for one in strokes(made, pen) for x, _ in one.points
    ]
    first = axis.at(float(unsure.if_hz[unsure.whole].min()))
    samples = axis.left + 400.0
    assert min(x for x in drawn if x > samples) >= first or min(drawn) >= axis.left
    crossed = [item.box for item in made.items if isinstance(item, Hatch) and item.falling]
    assert crossed[0].left == axis.left
    assert crossed[0].right == pytest.approx(first, abs=3.0)
    dots = [item.box for item in made.items if isinstance(item, Dots)]
    assert min(box.left for box in dots[:-1]) == pytest.approx(first)
    said = {word.text for word in made.words()}
    assert {"unknown: the tables tell nothing of an image", "cannot be had on every range"} <= said


def answer_with(curve: ScanCurve) -> Answer:
    """Return the scan with another curve."""
    findings = copy.copy(scanned().findings)
    findings.__dict__["curve"] = curve
    return replace(scanned(), findings=findings)


def strokes(made: Sheet, pen: Pen) -> list[Stroke]:
    """Return the lines of a sheet that are drawn with a pen."""
    return [item for item in made.items if isinstance(item, Stroke) and item.pen == pen]


@pytest.mark.parametrize(
    ("low", "high"), [(400_000, 12_000_000), (1_500_000, 1_700_000), (50_000, 9_000_000)]
)
@pytest.mark.parametrize("width", WIDTHS)
def test_an_axis_of_ifs_rises_and_its_numerals_have_room(low: int, high: int, width: float) -> None:
    """From edge to edge, and no numeral over another."""
    axis = IfAxis(low, high, 32.0, width - 10.0)
    made = Sheet(width, 40.0)
    draw_if_axis(made, axis, 10.0)
    assert (axis.at(low), axis.at(high)) == (pytest.approx(32.0), pytest.approx(width - 10.0))
    assert axis.at(low) < axis.at((low + high) // 2) < axis.at(high)
    assert len(made.words()) >= 3
    assert covering(made.words()) == []


def test_without_a_scan_there_is_nothing_to_draw() -> None:
    """And the remedy is said."""
    answer = spurplan.if_change(demo("boathouse"), if_=["1.6 MHz"], range="4")
    with pytest.raises(Refused, match="add --scan LOW:HIGH"):
        if_change.sheet(answer, demo("boathouse"), 720.0)


@cache
def cured() -> Answer:
    return spurplan.cures(demo("boathouse"), range="4")


def test_each_cure_stands_with_its_evenings_and_its_gain() -> None:
    """Least effort first; gain, its interval, and which is recommended are those of the table."""
    records = {record["cure"]: record for record in cured().cures.records(cures.MOST_CURES)}
    effects = cures.effects(cured())
    assert {one.name for one in effects} == set(records)
    assert [one.effort for one in effects] == sorted(one.effort for one in effects)
    for one in effects:
        record = records[one.name]
        shares = (record["usable_gain"], record["usable_gain_low"], record["usable_gain_high"])
        assert (one.gain, one.low, one.high) == pytest.approx([100 * share for share in shares])
        assert (one.effort, one.usable) == (record["effort"], record["usable_after"])
        assert (one.standing == "recommended") == record["recommended"]
    assert [one.standing for one in effects].count("recommended") == 1
    made = cures.sheet(cured(), demo("boathouse"), 720.0)
    assert any(word.text.startswith("recommended; ") for word in made.words())


def test_a_gain_is_drawn_from_its_low_to_its_high_end() -> None:
    """All intervals stand on one rule, whose zero is the set as it is."""
    effects = cures.effects(cured())
    made = cures.sheet(cured(), demo("boathouse"), 720.0)
    drawn = strokes(made, cures.INTERVAL)[: len(effects)]
    uprights = [item.points for item in strokes(made, cures.ZERO)]
    (zero,) = {top[0] for top, foot in uprights if foot[1] - top[1] == pytest.approx(cures.MARK_PT)}
    for one, item in zip(effects, drawn, strict=True):
        if abs(one.high) > 0.5:
            per_point = (item.points[1][0] - zero) / one.high
            assert item.points[0][0] - zero == pytest.approx(one.low * per_point, abs=0.01)


def test_a_gamble_leaves_the_scale_to_what_helps(tmp_path: Path) -> None:
    """Less is drawn below the set as it is than above it; an arrow tells what goes on there."""
    receiver, bands = twelve(tmp_path)
    answer = spurplan.cures(receiver, bands=bands)
    effects = cures.effects(answer)
    most, least = max(one.high for one in effects), min(one.low for one in effects)
    assert least < -2 * most
    made = cures.sheet(answer, receiver, 720.0)
    uprights = [item.points for item in strokes(made, cures.ZERO)]
    (zero,) = {top[0] for top, foot in uprights if foot[1] - top[1] == pytest.approx(cures.MARK_PT)}
    drawn = [x - zero for item in strokes(made, cures.INTERVAL)[: len(effects)] for x, _ in item.points]
    assert -min(drawn) <= 1.2 * max(drawn)
    barbs = [item for item in strokes(made, cures.ENDS) if len(item.points) == 3]
    below = [one for one in effects if one.low < -most]
    # and one in the key
    assert len(barbs) == len(below) + 1
    words = " ".join(word.text for word in made.words())
    assert f"({round(least)} to".replace("-", "\N{MINUS SIGN}") in words
    assert "loses more than the scale shows" in words


def test_the_dial_before_and_after_is_the_thickest_thing() -> None:
    """Two strips, solid as far as usable and hatched for the rest, thicker than any mark."""
    made = cures.sheet(cured(), demo("boathouse"), 720.0)
    findings = cured().findings
    solid = [item.box for item in made.items if isinstance(item, Ground)][:2]
    for share, box in zip((findings.present.usable, findings.recommended.outlook.usable), solid, strict=True):
        assert (box.right - box.left) / 678.0 == pytest.approx(share)
        assert box.bottom - box.top > cures.MARK_PT


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


def test_each_reading_is_a_bar_from_zero(log: Path) -> None:
    """As long as it is off, on one rule a unit; what was set aside says so."""
    answer = spurplan.readings(demo("boathouse"), log=log)
    points = readings.points(answer)
    records = answer.residuals.records()
    assert [(point.number, point.off) for point in points] == [
        (record["number"], record["residual_db"]) for record in records
    ]
    for point, record in zip(points, records, strict=True):
        assert point.text.endswith("set aside") == record["outlier"]
    assert any(point.outlier for point in points)
    made = readings.sheet(answer, demo("boathouse"), 720.0)
    solid = [
        item.box
        for item in made.items
        if isinstance(item, Ground) and item.tint == 1.0 and item.box.bottom - item.box.top < 5.5
    ]
    kept = [abs(point.off) for point in points if point.off is not None and not point.outlier]
    lengths = [box.right - box.left for box in solid[: len(kept)]]
    longest = max(range(len(kept)), key=lambda number: kept[number])
    for off, length in zip(kept, lengths, strict=True):
        assert length == pytest.approx(max(lengths[longest] * off / kept[longest], 0.6), abs=0.01)


def test_what_was_not_heard_has_no_bar(log: Path, tmp_path: Path) -> None:
    """It is off by at least so much, and is drawn from there on in dashes."""
    rows = list(csv.DictReader(io.StringIO(log.read_text("utf-8"))))
    deaf = next(row for row in rows if (row["range"], row["response"]) == ("4", "half-IF"))
    deaf["reading"] = f">{deaf['predicted_db']}"
    path = tmp_path / "log.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        made = csv.DictWriter(file, list(rows[0]))
        made.writeheader()
        made.writerows(rows)
    answer = spurplan.readings(demo("boathouse"), log=path)
    (silent,) = [point for point in readings.points(answer) if point.off is None]
    assert (silent.number, silent.text) == (int(deaf["number"]), "not heard")
    record = next(row for row in answer.residuals.records() if row["number"] == silent.number)
    assert silent.at_least == record["reading_db"] - record["predicted_db"]
    assert len(strokes(readings.sheet(answer, demo("boathouse"), 720.0), readings.BEYOND)) == 2


def test_figures_run_from_described_to_fitted(log: Path) -> None:
    """Those of one unit on one rule; one that the readings leave open is dotted, not at zero."""
    answer = spurplan.readings(demo("boathouse"), log=log)
    moved = readings.moved(answer)
    known = {one.figure: one for one in answer.findings.fitted}
    drawn = [one for some in moved.values() for one in some]
    assert len(drawn) == sum(one.described is not None for one in known.values())
    for (_, unit), some in moved.items():
        for one in some:
            figure = known[one.name]
            assert (one.change is not None) == figure.decided
            if one.change is not None and unit == "dB":
                assert one.change == pytest.approx(figure.value - figure.described)
    ceiling = next(one for one in drawn if one.name == "range 4, front-end ceiling")
    assert ceiling.change is not None


@pytest.mark.parametrize("width", WIDTHS)
def test_no_words_cover_each_other(log: Path, width: float) -> None:
    """By their boxes, in every chart of a plan, at every width."""
    receiver = demo("boathouse")
    assert_legible(converter.sheet(converters(COVERS[-1]), receiver, width, heard_of(COVERS[-1])))
    assert_legible(if_change.sheet(scanned(), receiver, width))
    assert_legible(cures.sheet(cured(), receiver, width))
    assert_legible(readings.sheet(spurplan.readings(receiver, log=log), receiver, width))


@pytest.mark.long
@pytest.mark.parametrize("cover", COVERS[:-1])
def test_no_words_cover_each_other_whatever_is_to_be_covered(cover: str) -> None:
    for width in WIDTHS:
        assert_legible(converter.sheet(converters(cover), demo("boathouse"), width, heard_of(cover)))


def assert_legible(made: Sheet) -> None:
    """No words cover each other or stand outside, and it can be drawn."""
    assert covering(made.words()) == []
    assert outside(made) == []
    assert ink.picture(made, "svg")


def test_the_answer_in_a_sentence_stands_on_each(log: Path) -> None:
    """Bold, right below the title, as the page says it."""
    receiver = demo("boathouse")
    read = spurplan.readings(receiver, log=log)
    for made, said in (
        (converter.sheet(converters(COVERS[-1]), receiver, 720.0, heard_of(COVERS[-1])),
         summary(converters(COVERS[-1]).findings)[0]),
        (if_change.sheet(scanned(), receiver, 720.0), if_change_view.verdict(scanned().findings)),
        (cures.sheet(cured(), receiver, 720.0), cured().findings.sentences[0]),
        (readings.sheet(read, receiver, 720.0), bench.verdict(read)),
    ):  # fmt: skip
        bold = [word.text for word in made.words() if word.bold]
        assert " ".join(bold[1:]).startswith(shown(said))


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


@pytest.mark.parametrize("width", WIDTHS)
def test_a_reading_is_told_by_its_setting_at_any_width(log: Path, width: float) -> None:
    """Its number and its frequency are never cut, nor that it was set aside."""
    answer = spurplan.readings(demo("boathouse"), log=log)
    said = [word.text for word in readings.sheet(answer, demo("boathouse"), width).words()]
    for point in [*readings.points(answer), *readings.pointers(answer)]:
        number = point.name.split(" ")[0]
        assert any(text.startswith(f"{number} ") and text.endswith(f" at {point.at}") for text in said)
        assert point.text in said


def test_readings_are_drawn_from_the_command_line(log: Path, tmp_path: Path, capsys: Any) -> None:
    """As every other chart."""
    words = ["readings", str(ROOT / "demos" / "boathouse" / "set.toml"), str(log)]
    assert main([*words, "--chart", str(tmp_path / "chart.svg")]) == 0
    assert "Boathouse valve set" in capsys.readouterr().out
    assert "set aside" in (tmp_path / "chart.svg").read_text("utf-8")
