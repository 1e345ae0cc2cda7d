"""Where a dial is not to be trusted for its image, and that everybody who is asked says the same."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

import spurplan
from spurplan.columns import Answer
from spurplan.reporting.charts.verdicts import verdict, word_text
from spurplan.reporting.views import intrusions
from spurplan.responses.asking import Settings, as_bands, as_receiver
from spurplan.responses.listening.dial_words import WORDS, range_word
from spurplan.responses.listening.findings import RangeFinding, WeakImage
from spurplan.responses.turning import TurnedRange, turned_ranges

# two circuits ahead of the mixer throughout, as a set with one RF stage has them
SET = """
name = "Loft set"
noise_figure = "12 dB"
[[conversion]]
injection = "high"
if = "455 kHz"
[conversion.mixer]
family = "valve_multiplicative"
[conversion.filter]
bandwidth = "6 kHz"
"""
RANGES = (("550 kHz", "1600 kHz"), ("4.5 MHz", "12 MHz"), ("12 MHz", "30 MHz"))
TOP = "2"


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("weak") / "set.toml"
    ranges = "".join(
        f'[[range]]\nname = "{number}"\ncoverage = ["{low}", "{high}"]\nfront_end = [ {{ circuits = 2 }} ]\n'
        for number, (low, high) in enumerate(RANGES)
    )
    made.write_text(SET + ranges, "utf-8")
    return made


@cache
def answer_of(path: Path) -> Answer:
    return spurplan.ranges(path)


@cache
def turned(path: Path) -> list[TurnedRange]:
    return turned_ranges(as_receiver(path, Settings()), as_bands(None), Settings())


def weak(path: Path) -> WeakImage:
    found = turned(path)[-1].busy.weak_image
    assert found is not None
    return found


@pytest.mark.parametrize(("beside_hz", "grade"), [(-400_000, "audible"), (400_000, "strong")])
def test_a_station_of_s9_on_the_image_is_strong_there_and_not_beside(
    path: Path, tmp_path: Path, beside_hz: int, grade: str
) -> None:
    """The engine hears a carrier of S9 two IFs above as strong inside the stretch, weaker outside."""
    dial = weak(path).low_hz + beside_hz
    alone = tmp_path / "alone.csv"
    rf = dial + 2 * 455_000
    alone.write_text(
        "low_khz,high_khz,service,mode,label,level\n"
        f"{rf / 1000},{rf / 1000},beacon,beacon,S9 carrier,S9\n100,100,ism,,below,-150 dBm\n"
        "60000,60000,ism,,above,-150 dBm\n",
        "utf-8",
    )
    heard = spurplan.dial(path, bands=str(alone), frequency=dial).tables["intrusions"].records()
    assert [row["grade"] for row in heard if row["response"] == "image"] == [grade]


def test_nothing_is_believed_where_the_image_is_weak(path: Path) -> None:
    """However seldom anybody is there; and on the ranges with a good image something is."""
    for one in turned(path):
        words, image = one.words, one.busy.weak_image
        believed = words.word == WORDS.index("believe")
        if image is None:
            assert believed.any()
        else:
            inside = (words.low_hz >= image.low_hz) & (words.high_hz <= image.high_hz)
            assert inside.any()
            assert not (believed & inside).any()
            # what the head of the strip says is the fill that most of it has there
            length = np.bincount(
                words.word[inside], weights=(words.high_hz - words.low_hz + 1)[inside], minlength=len(WORDS)
            )
            assert word_text(one.busy).startswith(WORDS[int(length.argmax())].upper())


def test_the_first_line_is_the_verdict_of_the_card(path: Path) -> None:
    """Below the name of the set, in the text of `ranges` as on the card, by one finding."""
    title, first, *_ = intrusions.heading(answer_of(path))
    assert title == "Loft set"
    assert first == verdict([one.busy for one in turned(path)])[0]
    assert first.startswith("Believe 0. Check 1. Do not trust 2 above 13 MHz: image down to ")
    assert first.endswith("strong stations 910 kHz above come in too.")
    assert word_text(turned(path)[-1].busy) == "CHECK above 13 MHz: weak image"
    assert answer_of(path).tables["ranges"]["word"].tolist() == [range_word(one.busy) for one in turned(path)]


def test_a_stretch_is_not_called_usable_without_its_image(path: Path) -> None:
    """`--cover` of that range says the same of trust as the range does."""
    image = weak(path)
    (finding,) = spurplan.ranges(path, cover="12MHz:30MHz").findings or ()
    assert f"do not trust it {image.where}: {image.why}" in finding.sentence
    (quiet,) = spurplan.ranges(path, cover="23MHz:23.5MHz").findings or ()
    assert "but do not trust it: image down to 2" in quiet.sentence


def test_one_set_has_one_figure_for_a_busy_evening(path: Path) -> None:
    """`ranges`, the card and the present IF of `if-change` name the same share."""
    busy = answer_of(path).tables["ranges"]["busy_share"]
    assert busy.tolist() == [one.busy.usable for one in turned(path)]
    present = spurplan.if_change(path, if_=["1.6 MHz"]).tables["proposals"]
    own = present.records()
    for number, share in enumerate(busy.tolist()):
        before = [row["usable_before"] for row in own if row["range"] == str(number)]
        assert before == pytest.approx([share] * len(before), abs=1e-9)
        assert before


def test_the_worst_of_the_table_is_the_one_of_the_sentence(path: Path) -> None:
    """Who spoils most, not who would be loudest if ever on."""
    for row, found in zip(
        answer_of(path).tables["ranges"].records(), (answer_of(path).findings or ())[1:], strict=True
    ):
        assert isinstance(found, RangeFinding)
        if not row["intruders"]:
            continue
        first = found.losses[0]
        assert (row["worst_label"], row["worst_response"]) == (first.label, first.response)
    rows = answer_of(path).tables["intrusions"]
    its = (rows["label"] == row["worst_label"]) & (rows["response"] == "image") & (rows["range"] == TOP)
    assert row["worst_margin_db"] == pytest.approx(np.max(rows["margin_db"][its]))
    # somebody is louder who is hardly ever there: the rule can be told from the loudest
    assert row["worst_margin_db"] < np.max(rows["margin_db"][rows["range"] == TOP])
