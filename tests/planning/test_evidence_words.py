"""What may be told of something heard, and how each telling sits with what a suspect predicts: by hand."""

from __future__ import annotations

from typing import Any

import pytest

from spurplan.errors import Refused
from spurplan.planning.suspects.evidence import (
    AERIAL_WORDS,
    BEHIND,
    LOUDEST_WORDS,
    PAD,
    TRIMMER_WORDS,
    YES_NO,
    Evidence,
    Traits,
)
from spurplan.planning.suspects.weights import HEARD_WORDS, figure


@pytest.mark.parametrize(
    ("name", "option", "words"),
    [
        ("trimmer", "--trimmer", TRIMMER_WORDS), ("loudest", "--loudest", LOUDEST_WORDS),
        ("heard", "--heard", HEARD_WORDS), ("fading", "--fading", YES_NO),
        ("behind_others", "--behind-others", YES_NO), ("aerial_off", "--aerial-off", AERIAL_WORDS),
    ],
)  # fmt: skip
def test_a_word_that_means_nothing_is_refused_with_those_that_do(
    name: str, option: str, words: tuple[str, ...]
) -> None:
    """Each that means something is taken; of another the place, the word and all that would do are named."""
    for word in words:
        Evidence(**{name: word})
    with pytest.raises(Refused) as refused:
        Evidence(**{name: "sideways"})
    (fault,) = refused.value.faults
    assert (fault.place, fault.value) == (option, "sideways")
    assert fault.remedy == f"say {', '.join(words[:-1])} or {words[-1]}"


@pytest.mark.parametrize("drop", [-20.0, 0, 9.5, 120])
def test_a_drop_by_a_pad_is_a_number_of_decibels(drop: float) -> None:
    assert Evidence(pad_drop_db=drop).pad_drop_db == drop


@pytest.mark.parametrize("drop", [-20.1, 120.1, "10 dB", True])
def test_a_drop_that_no_pad_of_10_db_makes_is_refused(drop: Any) -> None:
    """Below -20 and above 120 dB, and what is no number."""
    with pytest.raises(Refused, match=r"--pad-drop: .* is no drop"):
        Evidence(pad_drop_db=drop)


@pytest.mark.parametrize(
    ("names", "options"), [(("also_on", "not_on"), "--also-on"), (("found_at", "not_at"), "--found-at")]
)
def test_there_and_not_there_are_not_said_of_one_place(names: tuple[str, str], options: str) -> None:
    """Every fault is told at once."""
    on, off = names
    Evidence(**{on: (7_000_000,), off: (7_100_000,)})
    with pytest.raises(Refused) as refused:
        Evidence(**{on: (7_000_000,), off: (7_100_000, 7_000_000)}, heard="sideways")
    assert [fault.place for fault in refused.value.faults] == ["--heard", options]
    assert "7 MHz" in str(refused.value)


def test_others_have_behind_them_what_rides_on_all_and_what_stays_put() -> None:
    """Cross-modulation is on every carrier; what does not move is under all; what moves is not."""
    heard, taken = figure("evidence", "behind_heard"), figure("evidence", "behind_taken")
    assert heard > 0.5 > taken
    for traits, yes, words in (
        (Traits(rides=True, moves=1.0), heard, "behind other stations too"),
        (Traits(moves=0.0), heard, "behind other stations too"),
        (Traits(moves=-1.0), taken, "behind no other station"),
        (Traits(moves=2.0), taken, "behind no other station"),
        (Traits(), 0.5, "whether others have it too unknown"),
    ):
        assert BEHIND.chance(traits, "yes") == pytest.approx(yes)
        assert BEHIND.chance(traits, "no") == pytest.approx(1.0 - yes)
        assert BEHIND.expects(traits) == words


def test_a_drop_speaks_for_what_predicts_it() -> None:
    """10 dB of pad take 10 of an image and 20 of a half-IF; where nothing is predicted nothing is said."""
    image, half_if = Traits(pad_db_per_db=1.0), Traits(pad_db_per_db=2.0)
    own, unknown = Traits(pad_db_per_db=0.0), Traits()
    best = {10.0: image, 20.0: half_if, 0.0: own}
    for drop, traits in best.items():
        chances = {id(one): PAD.chance(one, drop) for one in (image, half_if, own)}
        assert max(chances, key=lambda key: chances[key]) == id(traits)
        # as likely for what falls 3 dB more as for what falls 3 dB less
        assert PAD.chance(traits, drop + 3.0) == pytest.approx(PAD.chance(traits, drop - 3.0))
        assert PAD.sits(traits, drop) == "fits"
        assert PAD.sits(unknown, drop) == "open"
    assert PAD.sits(image, 20.0) == PAD.sits(half_if, 10.0) == PAD.sits(own, 10.0) == "against it"
