"""Before and after: what is won and lost stands below the strips, a range below the other."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.occupancy.bands import read_bands
from spurplan.receiver.changes.edits import changed
from spurplan.reporting.charts.before_after import LOST, WON, Comparison, comparison, of_ifs, sheet, turns
from spurplan.responses.asking import Settings
from spurplan.responses.listening.dial_words import WORDS, DialWords
from spurplan.responses.turning import TurnedRange, turned_ranges
from spurplan.units import share_text
from tests.charting import ROOT, WIDTHS, covering, demo, outside, ranges_of

BELIEVE, UNKNOWN, CHECK, DONT = (WORDS.index(word) for word in ("believe", "unknown", "check", "don't"))


def narrowed(one: TurnedRange, low_hz: int, high_hz: int) -> TurnedRange:
    """Return a range of which a converter tunes a part, clear all over."""
    words = DialWords(np.array([low_hz]), np.array([high_hz]), np.array([BELIEVE], dtype=np.uint8))
    return replace(one, words=words)


@pytest.fixture(scope="module")
def compared() -> Comparison:
    receiver = demo("boathouse")
    bare = changed(
        receiver,
        receiver.name,
        ranges=tuple(changed(one, receiver.name, front_end=()) for one in receiver.ranges),
    )
    states = [
        ("as it is", turned_ranges(receiver, read_bands(None), Settings())),
        ("with nothing in front of the mixer", turned_ranges(bare, read_bands(None), Settings())),
    ]
    states.append(("with a crystal converter", [narrowed(states[0][1][3], 21_000_000, 21_450_000)]))
    return comparison(receiver.name, states, [("as it is", 0.94), ("with nothing in front", 0.31)])


def test_what_changes_sides_is_marked() -> None:
    """Spoilt to clear is won, clear to spoilt is lost; what is unknown before or after is neither."""
    before = np.array([CHECK, CHECK, BELIEVE, UNKNOWN, CHECK, UNKNOWN, DONT, BELIEVE])
    after = np.array([BELIEVE, BELIEVE, DONT, BELIEVE, UNKNOWN, CHECK, CHECK, BELIEVE])
    assert list(turns(before, after)) == [(0, 2, WON), (2, 3, LOST)]


@pytest.mark.parametrize("width", WIDTHS)
def test_everything_has_its_place(compared: Comparison, width: float) -> None:
    """No words over words and none beyond the edge, on a page as on a telephone."""
    made = sheet(ranges_of("boathouse"), demo("boathouse"), width, compared=compared)
    assert covering(made.words()) == []
    assert outside(made) == []


@pytest.mark.parametrize("width", WIDTHS)
def test_each_range_has_all_its_states(compared: Comparison, width: float) -> None:
    """Below its head, in the order of the question."""
    made = sheet(ranges_of("boathouse"), demo("boathouse"), width, title=False, compared=compared)
    texts = [word.text for word in made.words()]
    heads = [at for at, text in enumerate(texts) if text.startswith(("1  ", "2  ", "3  ", "4  "))]
    assert len(heads) == len(compared.stacks)
    for start, stop in pairwise([*heads, len(texts)]):
        said = " ".join(texts[start:stop])
        assert said.index("as it is") < said.index("with nothing in") < said.index("with a crystal")


def test_a_converter_has_a_strip_only_where_it_tunes(compared: Comparison) -> None:
    """Its share says of what, and the other ranges say that it does not tune them."""
    made = sheet(ranges_of("boathouse"), demo("boathouse"), 720.0, compared=compared)
    said = [word.text for word in made.words()]
    assert sum(text.endswith("of 21\u201321.45 MHz") for text in said) == 1
    assert said.count("does not tune this") == 3


def test_the_key_explains_what_is_drawn_and_nothing_else(compared: Comparison) -> None:
    """Without a change nothing is newly clear or spoilt."""
    still = replace(compared, stacks=tuple(replace(s, states=s.states[:1]) for s in compared.stacks))
    for some, changes in ((compared, True), (still, False)):
        made = sheet(ranges_of("boathouse"), demo("boathouse"), 720.0, compared=some)
        said = {word.text for word in made.words()}
        assert "believe" in said
        assert (LOST in said) is changes


def test_other_ifs_are_drawn_beside_the_present_one(tmp_path: Path) -> None:
    """Each with the share that the page gives it; the command writes the picture."""
    path = tmp_path / "ifs.svg"
    asked = [str(ROOT / "demos" / "boathouse" / "set.toml"), "--range", "4", "--if", "1600kHz"]
    assert main(["if-change", *asked, "--chart", str(path)]) == 0
    drawn = " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", path.read_text("utf-8")))
    findings = spurplan.if_change(demo("boathouse"), range="4", if_="1600kHz").findings
    for plan in findings.plans:
        assert f"{share_text(plan.together.usable)} usable" in drawn
    assert "with an IF of 1600 kHz" in drawn


@pytest.mark.parametrize(
    ("options", "remedy"),
    [({"rejection": 40}, "add --if FREQ"), ({"if_": "1600kHz", "cover": "14MHz:15MHz"}, "leave --cover out")],
)
def test_a_comparison_of_nothing_is_refused(options: dict[str, Any], remedy: str) -> None:
    """With the present IF alone there is no after; of a cover the strips would show another share."""
    findings = spurplan.if_change(demo("boathouse"), range="4", **options).findings
    with pytest.raises(Refused, match=remedy):
        of_ifs(findings, read_bands(None), Settings())


def test_the_verdict_gives_each_state_its_share(compared: Comparison) -> None:
    """As the question that compared them found it."""
    assert compared.verdict.endswith("as it is 94 %; with nothing in front 31 %.")
