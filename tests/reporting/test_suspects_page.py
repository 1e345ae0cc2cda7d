"""What the page says of suspects: made-up weights in, the sentences an old hand would say out."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import pytest

from spurplan.columns import Answer, table_of
from spurplan.planning.suspects.evidence import Evidence, Traits
from spurplan.planning.suspects.suspects import SUSPECT_COLUMNS, RankedWay
from spurplan.planning.suspects.ways import (
    BIRDIE,
    CROSS,
    INTRUSION,
    NEIGHBOUR,
    NONE_OF_THESE,
    OVERLOAD,
    PAIR,
    SELF_WHISTLE,
    THE_STATION,
    TRANSMITTER,
    Way,
    Who,
)
from spurplan.reporting.layout import View
from spurplan.reporting.views import suspects as page

DIAL_HZ = 14_200_000


def suspect(
    cause: str = INTRUSION,
    weight: float = 0.7,
    response: str | None = "image",
    label: str | None = "Mast",
    rf_hz: int | None = 15_130_000,
    name: str = "4",
    **more: Any,
) -> RankedWay:
    """Return somebody by the image, whom nothing speaks against, but for what is said."""
    traits = more.pop("traits", Traits(moves=-1.0, inverted=True))
    who = Who(0.5, traits, fields={"label": label, "rf_hz": rf_hz})
    way = Way(name, cause, response, "IF = RF - LO", 1.0, -1.0, 1.0, True, rf_hz, DIAL_HZ, (who,))
    said: dict[str, Any] = {"others": (), "rank": 1, "fits": (), "fitting": True, "would_show": None}
    return RankedWay(way=way, who=who, weight=weight, **(said | more))


def seen(some: Sequence[RankedWay], evidence: Evidence | None = None, test: Any = None, **more: Any) -> View:
    """Return the page about some suspects."""
    by_range: dict[str, list[RankedWay]] = {}
    for one in some:
        by_range.setdefault(one.way.range, []).append(one)
    belongs = more.pop("nobody_belongs", None)
    findings = SimpleNamespace(
        ranked=tuple(some), by_range=lambda: by_range, seen=evidence or Evidence(), nobody_belongs=belongs,
        next_test=None if test is None else SimpleNamespace(test=test),
    )  # fmt: skip
    empty = {column.name: None for column in SUSPECT_COLUMNS} | {"others": [], "fits": []}
    rows = [
        empty
        | {
            "range": one.way.range, "rank": number, "cause": one.way.cause, "label": one.who.label,
            "rf_hz": one.listen_hz, "dial_hz": DIAL_HZ, "weight": one.weight,
        }
        for number, one in enumerate(some, start=1)
    ]  # fmt: skip
    tables = {"suspects": table_of("suspects", SUSPECT_COLUMNS, rows)}
    return page.view(Answer("Set", {"frequency_hz": DIAL_HZ}, (), (), tables, findings), **more)


AGAINST = Evidence(moves="against")


def test_with_nothing_observed_the_likeliest_two_are_named_and_nothing_is_sure() -> None:
    """Each with its weight of a hundred."""
    both = [suspect(weight=0.524), suspect(THE_STATION, 0.376, None)]
    got = seen(both)
    assert got.heading == (
        "Nothing was observed, so nothing is sure: likeliest an image (52 of 100) before a station that "
        "belongs there (38).",
        "Set at 14.2 MHz",
    )
    assert got.layouts["suspects"] == page.UNSEEN
    assert seen(both[:1]).heading[0].endswith("likeliest an image (52 of 100).")


def test_from_a_half_on_what_was_observed_is_said_as_what_it_is() -> None:
    """The observation, the cause, its weight, where it really is; below a half it is not settled."""
    plain = seen([suspect(weight=0.5), suspect(THE_STATION, 0.3, None)], AGAINST)
    assert plain.heading[0] == (
        "It moves against the dial: an image (50 of 100). Then it is really on 15.13 MHz (Mast); listen "
        "there on another set."
    )
    assert plain.layouts["suspects"] == page.SEEN
    less = seen([suspect(weight=0.494), suspect(THE_STATION, 0.3, None)], AGAINST)
    assert less.heading[0] == (
        "Not settled: likeliest an image (49 of 100), before a station that belongs there (30). "
        "Then it is really on 15.13 MHz (Mast); listen there on another set."
    )
    doubtful = seen([suspect(weight=0.9, fitting=False)], AGAINST)
    assert doubtful.heading[1] == "Something observed speaks against it: make that test again."


@pytest.mark.parametrize(
    ("evidence", "traits", "said"),
    [
        (Evidence(pad_drop_db=10), Traits(pad_db_per_db=1.0), "It falls 10 dB with a 10 dB pad"),
        (Evidence(inverted=True), Traits(inverted=True), "Its sideband is inverted"),
        (Evidence(inverted=False), Traits(inverted=False), "Its sideband is the right way round"),
        (Evidence(trimmer="up"), Traits(off=0.5), "It peaks with the circuits tuned up"),
        (Evidence(trimmer="same"), Traits(off=0.0), "No other setting of the front end peaks it"),
        (Evidence(loudest="here"), Traits(moves=1.0), "It is loudest where it is"),
        (Evidence(loudest="everywhere"), Traits(moves=0.0), "It is the same all over the dial"),
        (Evidence(loudest="up"), Traits(beside=("up",)), "It grows up the dial"),
        (Evidence(loudest="down"), Traits(beside=("down",)), "It grows down the dial"),
        (Evidence(aerial_off="stays"), Traits(stays=0.95), "It stays when the aerial is taken off"),
        (Evidence(heard="cw"), Traits(heard={"cw": 1.0}), "It sounds like Morse"),
        # what is heard says least of the way
        (
            Evidence(heard="cw", aerial_off="goes"),
            Traits(heard={"cw": 1.0}, stays=0.05),
            "It goes when the aerial is taken off",
        ),
        (
            Evidence(also_on=(15_130_000,)),
            Traits(elsewhere_hz=(15_130_000,)),
            "It is on 15.13 MHz on another set",
        ),
    ],
)
def test_what_speaks_for_it_is_said_first(evidence: Evidence, traits: Traits, said: str) -> None:
    """The first observation that fits; one that says nothing of the way comes last."""
    assert seen([suspect(weight=0.9, traits=traits)], evidence).heading[0].startswith(f"{said}: an image (90")


@pytest.mark.parametrize(
    ("one", "called", "where"),
    [
        (suspect(label=None), "an image", "Then it is really on 15.13 MHz (somebody in no table)"),
        (suspect(response="half-IF"), "a half-IF response", "Then it is really on 15.13 MHz (Mast)"),
        (suspect(response="IF breakthrough"), "a signal on the IF itself", "Then it is really on 15.13 MHz"),
        (suspect(response="second image"), "a signal by way of the second image", "Then it is really"),
        (suspect(rf_hz=None), "an image", "Where it really is, nobody knows."),
        (
            suspect(THE_STATION, rf_hz=DIAL_HZ + 999),
            "a station that belongs there",
            "There by the tables: Mast.",
        ),
        (
            suspect(THE_STATION, rf_hz=DIAL_HZ - 1_000),
            "a station that belongs there",
            "There by the tables: Mast, on 14.199 MHz.",
        ),
        (
            suspect(THE_STATION, label=None, rf_hz=None),
            "a station that belongs there",
            "There by the tables: nobody in the tables.",
        ),
        (suspect(BIRDIE), "a birdie of the set's own", "It is made in the set (IF = RF - LO)"),
        (
            suspect(SELF_WHISTLE),
            "a station that whistles with itself",
            "The station tuned in comes by two ways (IF",
        ),
        (
            suspect(NEIGHBOUR),
            "a neighbour by way of the skirts",
            "Then it is on 15.13 MHz (Mast): tune there",
        ),
        (
            suspect(NEIGHBOUR, label=None),
            "a neighbour by way of the skirts",
            "Then it is a few kilohertz beside: tune there",
        ),
        (
            suspect(TRANSMITTER),
            "the harmonic of a transmitter near by",
            "Then it is really on 15.13 MHz (Mast)",
        ),
        (
            suspect(PAIR),
            "a product of two strong stations",
            "By way of IF = RF - LO (Mast); a pad takes it off",
        ),
        (suspect(CROSS), "cross-modulation by a strong station", "Look for a strong station (Mast); a trap"),
        (
            suspect(OVERLOAD, label=None),
            "a strong station that overloads the set",
            "Look for a strong station (whoever sends near by)",
        ),
    ],
)
def test_each_cause_says_what_it_is_and_where_to_look(one: RankedWay, called: str, where: str) -> None:
    """In the words of the trade, with what to do about it."""
    first = seen([one], AGAINST).heading[0]
    assert first.startswith(f"It moves against the dial: {called} (70 of 100). {where}")


def test_what_the_set_does_not_explain_is_said_to_be_looked_for_in_the_house() -> None:
    """With the likeliest of the ways in."""
    got = seen([suspect(NONE_OF_THESE, 0.8, None), suspect(weight=0.15)], AGAINST)
    assert got.heading[:2] == (
        "Nothing that the set leads one to expect there fits what was observed: look for a source in the "
        "house, or a fault.",
        "Of the ways in the likeliest: an image (15 of 100).",
    )


def test_the_next_test_is_named_with_how_to_tell_its_outcome() -> None:
    """Where it names places to listen at, the answer does not send to another one too."""
    from spurplan.planning.suspects.evidence import ANOTHER_SET, MOVES

    dial_turn = seen([suspect()], AGAINST, MOVES).heading
    assert dial_turn[1] == "The test that would tell most: turn the dial a little (--moves)."
    assert "listen there on another set" in dial_turn[0]
    places = SimpleNamespace(
        name="listen on 5 MHz on another set", option="--also-on or --not-on 5 MHz", listening=ANOTHER_SET,
        places_hz=(5_000_000,),
    )  # fmt: skip
    elsewhere = seen([suspect()], AGAINST, places).heading
    assert elsewhere[0].endswith("Then it is really on 15.13 MHz (Mast).")
    assert elsewhere[1] == (
        "The test that would tell most: listen on 5 MHz on another set (--also-on or --not-on 5 MHz); where "
        "it is not there, tune that set to 15.13 MHz."
    )
    there = SimpleNamespace(**(vars(places) | {"places_hz": (15_130_000,)}))
    assert seen([suspect()], AGAINST, there).heading[1].endswith("--not-on 5 MHz).")
    assert seen([suspect(THE_STATION)], AGAINST, places).heading[1].endswith("--not-on 5 MHz).")


def test_ranges_are_answered_each_by_its_name_where_there_are_several() -> None:
    """Who belongs nowhere is said above all; the range is a column then."""
    belongs = SimpleNamespace(sentence="Nobody belongs there.")
    two = seen([suspect(name="1"), suspect(name="2", weight=0.6)], AGAINST, nobody_belongs=belongs)
    assert two.heading[0] == "Nobody belongs there."
    assert two.heading[1].startswith("On range 1: It moves against the dial: an image (70 of 100)")
    assert two.heading[2].startswith("On range 2: It moves against the dial: an image (60 of 100)")
    assert two.layouts["suspects"][1].fields == ("range",)


def test_a_page_has_the_likeliest_and_says_how_much_is_left_out() -> None:
    """Twelve, or as many as are asked for, all where none is; in the order they were in."""
    weights = [0.02, 0.3, 0.01, *[0.06] * 11, 0.01]
    some = [
        suspect(weight=weight, label=None if number == 1 else f"S{number}")
        for number, weight in enumerate(weights)
    ]
    got = seen(some)
    kept = got.tables["suspects"].records()
    assert [row["weight"] for row in kept] == [0.3, *[0.06] * 11]
    assert kept[0]["label"] == "somebody in no table"
    left = 100 * 0.04 / sum(weights)
    assert got.remarks == (f"3 more ways in, {left:.1f} of 100 together, left out; --top 0 shows them all.",)
    assert len(seen(some, most=0).tables["suspects"]) == 15
    assert len(seen(some[:12]).tables["suspects"]) == 12
    assert seen(some[:12]).remarks == ()
    (only,) = seen(some, most=1, receiver="range 4: a line\nanother").tables["suspects"].records()
    assert only["weight"] == 0.3
    assert seen(some, receiver="range 4: a line\nanother").described == ("range 4: a line", "another")
