"""Before and after: what is won and lost stands below the strips, a range whole on one sheet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spurplan.occupancy.bands import read_bands
from spurplan.receiver.changes.edits import changed
from spurplan.reporting.charts.before_after import LOST, WON, Comparison, comparison, height, sheets, turns
from spurplan.reporting.charts.card import HEIGHT
from spurplan.responses.asking import Settings
from spurplan.responses.listening.dial_words import WORDS, DialWords
from spurplan.responses.turning import TurnedRange, turned_ranges
from tests.charting import covering, demo, outside

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


def test_everything_has_its_place(compared: Comparison) -> None:
    """No words over words and none beyond the edge, on sheets no higher than a page."""
    for made in sheets(compared):
        assert covering(made.words()) == []
        assert outside(made) == []
        assert made.height <= HEIGHT


def test_a_range_stands_whole_on_one_sheet(compared: Comparison) -> None:
    """Its head and all its states are together, and every range is there once."""
    texts = [[word.text for word in made.words()] for made in sheets(compared)]
    for stack in compared.stacks:
        at = [n for n, some in enumerate(texts) if any(text.startswith(f"{stack.name}: ") for text in some)]
        assert len(at) == 1
    assert sum(some.count("as it is") for some in texts) == len(compared.stacks)
    assert all(height(stack) < HEIGHT / 2 for stack in compared.stacks)


def test_a_converter_has_a_strip_only_where_it_tunes(compared: Comparison) -> None:
    """Its share says of what, and the other ranges say that it does not tune them."""
    said = [word.text for made in sheets(compared) for word in made.words()]
    assert sum(text.endswith("of 21\u201321.45 MHz") for text in said) == 1
    assert said.count("does not tune this") == 3


def test_the_verdict_gives_each_state_its_share(compared: Comparison) -> None:
    """As the question that compared them found it."""
    assert compared.verdict.endswith("as it is 94 %; with nothing in front 31 %.")
