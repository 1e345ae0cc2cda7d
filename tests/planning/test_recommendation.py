"""One recommendation: what a page says to do is what its chart shows first and what is saved."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.reporting.charts import converter as converter_chart
from spurplan.reporting.charts import cures as cure_chart
from spurplan.reporting.charts import if_change as if_chart
from spurplan.reporting.views import converter, if_change
from spurplan.reporting.views import cures as cure_page
from spurplan.units import hz_text
from tests.turns import by_turns

SEEDS = by_turns(range(10), always=range(1))


def random_set(folder: Path, seed: int) -> tuple[Path, Path]:
    """Write a set with one or two ranges and a dozen stations; the paths of both."""
    rng = np.random.default_rng(seed)
    if_khz = int(rng.integers(3, 20)) * 100
    text = (
        f'name = "Set {seed}"\n[[conversion]]\ninjection = "high"\nif = "{if_khz} kHz"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n'
    )
    edge = 5_000 + int(rng.integers(0, 3_000))
    for number in range(int(rng.integers(1, 3))):
        top = edge + int(rng.integers(500, 4_000))
        q = int(rng.integers(20, 120))
        text += (
            f'[[range]]\nname = "{number + 1}"\ncoverage = ["{edge} kHz", "{top} kHz"]\n'
            f"front_end = [{{ circuits = {rng.integers(1, 3)}, q = {q} }}]\n"
        )
        edge = top
    rows = ["low_khz,high_khz,service,label,level", "60,61,beacon,Low end,-140 dBm"]
    rows += ["62,80000,amateur,Nobody,-170 dBm", "80000,80001,beacon,High end,-140 dBm"]
    for number in range(12):
        low = int(rng.integers(300, 20_000))
        high = low + int(rng.integers(5, 400))
        rows.append(f"{low},{high},broadcast,Station {number} by the sea,{-rng.integers(20, 110)} dBm")
    (folder / "set.toml").write_text(text, "utf-8")
    (folder / "stations.csv").write_text("\n".join(rows) + "\n", "utf-8")
    return folder / "set.toml", folder / "stations.csv"


def saved(words: list[str], path: Path, capsys: Any) -> spurplan.Receiver | None:
    """Return the set that a command saves; None where it refuses for want of a proposal."""
    status = main([*words, "--save-receiver", str(path)])
    printed = capsys.readouterr()
    if status:
        assert "proposes none" in printed.err
        assert not path.exists()
        return None
    return spurplan.read_receiver(path)


@pytest.mark.parametrize("seed", SEEDS)
def test_if_change_saves_what_its_page_and_chart_say(seed: int, tmp_path: Path, capsys: Any) -> None:
    """The IF and the side that each line names are those of the file; "keep" everywhere writes none."""
    path, stations = random_set(tmp_path, seed)
    described = spurplan.read_receiver(path)
    asked = {"scan": "300kHz:2500kHz", "if_": ["1600kHz", "2=2100kHz"][: len(described.ranges)]}
    answer = spurplan.if_change(path, bands=stations, **asked)
    words = ["if-change", str(path), "--bands", str(stations), "--scan", "300kHz:2500kHz"]
    words += [word for text in asked["if_"] for word in ("--if", text)]
    written = saved(words, tmp_path / "saved.toml", capsys)
    heading = if_change.view(answer).heading
    kept = []
    for one in described.ranges:
        (line,) = (text for text in heading if text.startswith(f"Range {one.name}: "))
        kept.append(": keep " in line)
        behind = described if written is None else written
        plan = behind.plans_of(next(r for r in behind.ranges if r.name == one.name))[-1]
        side = "above" if plan.lo > 0 else "below"
        assert f"{hz_text(plan.if_hz)} {side}" in line.split(";")[0]
    assert (written is None) == all(kept)
    chosen = answer.findings.text
    sentence = (
        f"Change to an {chosen.replace('IF ', 'IF of ')}: "
        if chosen.startswith("IF ")
        else f"Keep {chosen}: "
    )
    assert sentence in if_chart.sheet(answer, described, 720.0).says
    assert answer.settings["best"] == answer.findings.text


@pytest.mark.parametrize("seed", SEEDS)
def test_cures_save_what_their_page_and_chart_say(seed: int, tmp_path: Path, capsys: Any) -> None:
    """The best for the least is the first row drawn and the file written; without one there is no file."""
    path, stations = random_set(tmp_path, seed)
    described = spurplan.read_receiver(path)
    answer = spurplan.cures(path, bands=stations)
    written = saved(["cures", str(path), "--bands", str(stations)], tmp_path / "saved.toml", capsys)
    heading = cure_page.view(answer).heading[0]
    drawn = cure_chart.sheet(answer, described, 720.0)
    records = answer.cures.records()
    assert (written is None) == (not heading.startswith("Best for the least: "))
    # the chart leaves out what does nothing
    assert drawn.says.split("cures: ")[1].startswith(heading.split(". ")[0].rstrip("."))
    assert (written is None) == (not any(row["recommended"] for row in records))
    if written is not None:
        (first,) = (one for one in cure_chart.effects(answer) if one.standing == "recommended")
        assert records[0]["recommended"]
        assert first.name == records[0]["cure"]
        again = spurplan.cures(tmp_path / "saved.toml", bands=stations).findings.present
        assert again.usable == pytest.approx(first.usable, abs=1e-9)
        assert again.usable == pytest.approx(records[0]["usable_after"], abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_converter_saves_what_its_page_and_chart_say(seed: int, tmp_path: Path, capsys: Any) -> None:
    """The number and crystal in the sentence are drawn as best and saved; where none serves nothing is."""
    path, stations = random_set(tmp_path, seed)
    rng = np.random.default_rng(seed)
    low = int(rng.integers(20_000, 30_000))
    cover = f"{low}kHz:{low + int(rng.integers(100, 2_500))}kHz"
    answer = spurplan.converter(path, bands=stations, cover=cover)
    words = ["converter", str(path), "--bands", str(stations), "--cover", cover]
    written = saved(words, tmp_path / "saved.toml", capsys)
    heading = " ".join(converter.view(answer).heading)
    drawn = converter_chart.sheet(
        answer, spurplan.read_receiver(path), 720.0, lambda one: spurplan.ranges(path, bands=stations)
    )
    best = answer.findings.chosen(answer.findings.question.covers[0])
    assert (written is None) == (best is None)
    assert (written is None) == ("No crystal here brings all of it into one range" in heading)
    assert (written is None) == ("No crystal here brings all of it into one range" in drawn.says)
    if written is not None and best is not None:
        assert f"Number {best.rank}: crystal {best.crystal_text}, " in heading
        assert f"Number {best.rank}: crystal {best.crystal_text}, " in drawn.says
        (one,) = written.ranges
        first = written.conversions_of(one)[0]
        assert (first.crystal_hz, first.multiplier) == (best.crystal_hz, best.multiplier)
        assert (one.low_hz, one.high_hz) == (best.low_hz, best.high_hz)
