"""What a page says of cures, by hand: made-up shares in, the sentences an old hand would expect out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from spurplan.planning.cures.changes import carried_out
from spurplan.planning.cures.cure_list import Cure, shipped_cures
from spurplan.planning.cures.cures import loss_text
from spurplan.planning.cures.findings import Findings, Step, ordered
from spurplan.planning.cures.trials import NotTried, Trial, Tried
from spurplan.planning.decision import Choice
from spurplan.planning.outlook import Outlook, Together
from spurplan.receiver.description import Receiver
from spurplan.responses.listening.findings import Loss
from tests.planning.test_decision import finding

CURES = {cure.name: cure for cure in shipped_cures()}
SET = Receiver.from_dict(
    {
        "name": "Cure bench",
        "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}],
        "range": [{"name": "4", "coverage": ["26 MHz", "30 MHz"], "front_end": [{"circuits": 2, "q": 55}]}],
    }
)


def becomes(usable: float, *worlds: float, **figures: Any) -> Together:
    """Return one range of which so much is usable; the same in each world where none are given."""
    part = finding(1, 1_000_000, usable=usable, **figures)
    return Together(1_000_000, (Outlook(part, np.array(worlds or (usable, usable))),))


def tried(name: str, outlook: Together, *, effort: float | None = None, detail: str = "") -> Tried:
    cure = CURES[name]
    made = cure if effort is None else cure.unchecked(effort=effort)
    return Tried(Trial((made,), SET, ("4",), (detail,)), outlook)


def found(present: Together, some: Sequence[Tried], **more: Any) -> Findings:
    """Return what is found where these were tried, in the order and with the choice of the program."""
    shown, choice = ordered(some, present)
    return Findings(("4",), None, present, shown, choice, **more)


def names(some: Sequence[Tried]) -> list[str]:
    return [one.trial.cures[0].name for one in some]


# --- which stands where ----------------------------------------------------------------------


def test_the_one_recommended_stands_first_then_what_is_alike_then_most_gain() -> None:
    """Of the rest the most gain first; where that is alike to a thousandth, the least work."""
    rest = [
        tried("10 dB pad", becomes(0.5)),
        tried("low-pass", becomes(0.5004)),
        tried("valve preselector", becomes(0.91)),
        tried("high-pass", becomes(0.6)),
        tried("IF trap", becomes(0.9)),
        tried("aerial tuner", becomes(0.53)),
    ]
    got = found(becomes(0.5), rest)
    assert names(got.tried) == [
        "IF trap", "valve preselector", "high-pass", "aerial tuner", "10 dB pad", "low-pass"
    ]  # fmt: skip
    assert got.choice == Choice(0, (1,))
    assert names([got.recommended] if got.recommended else []) == ["IF trap"]
    assert names(got.alike) == ["valve preselector"]
    assert got.gains[2].gain == pytest.approx(0.1)
    assert got.proposed is SET


def test_where_nothing_is_worth_it_most_gain_stands_first() -> None:
    """No choice, nothing proposed, no plan; all that was tried is offered all the same."""
    got = found(becomes(0.5), [tried("10 dB pad", becomes(0.5)), tried("IF trap", becomes(0.53))])
    assert names(got.tried) == ["IF trap", "10 dB pad"] == names(got.offered)
    assert (got.choice, got.recommended, got.proposed, got.plan, got.useless) == (
        Choice(None),
        None,
        None,
        (),
        (),
    )


# --- the recommendation in words -------------------------------------------------------------


def test_what_is_best_is_said_with_what_was_before_and_how_sure_it_is() -> None:
    """96 instead of 50, between what a tenth of the worlds lies under and over: 0.91 and 0.99."""
    sure = becomes(0.96, *np.linspace(0.90, 1.0, 11))
    got = found(becomes(0.5, *[0.5] * 11), [tried("IF trap", sure)])
    assert got.sentences == (
        "Best for the least: an IF trap; on a busy evening 96 % (91 to 99 %) instead of 50.",
        "Now 50 % of the dial is usable on a busy evening.",
    )


def test_no_span_is_said_where_all_hangs_on_single_stations() -> None:
    """Whether a mast is on or off makes no span of it; that is said in words."""
    sure = becomes(0.96, *np.linspace(0.90, 1.0, 11), decided_by=("Mast",))
    before = becomes(0.5, *np.linspace(0.4, 0.6, 11), decided_by=("Mast", "Light", "Buoy", "Relay"))
    first, now = found(before, [tried("IF trap", sure)]).sentences
    assert first == "Best for the least: an IF trap; on a busy evening 96 % instead of 50."
    assert now.endswith("usable on a busy evening. It depends on whether Mast, Light or Buoy is on.")


def test_what_is_alike_useless_and_still_there_is_named() -> None:
    """Up to three of each; useless is what takes less work than the best and makes no difference."""
    best = tried("preselector of two circuits", becomes(0.9, regulars=("A at 1 MHz", "B", "C", "D")))
    alike = [
        tried(name, becomes(0.9), effort=6.0 + number)
        for number, name in enumerate(("low-pass", "high-pass", "valve preselector", "another IF"))
    ]
    idle = [tried("IF trap", becomes(0.51)), tried("10 dB pad", becomes(0.5))]
    as_much_work = tried("Q multiplied circuit", becomes(0.5), effort=4.0)
    got = found(becomes(0.5), [*idle, *alike, best, as_much_work])
    assert names(got.useless) == ["10 dB pad", "IF trap"]
    assert got.sentences[0] == (
        "Best for the least: a preselector of two circuits; on a busy evening 90 % instead of 50. "
        "Not told apart: a low-pass, a high-pass, a valve preselector and 1 more. "
        "A pad and an IF trap do nothing about this. Still there: A at 1 MHz, B and C."
    )
    three = found(becomes(0.5), [best, *alike[:3], idle[1]]).sentences[0]
    assert "a valve preselector. A pad does nothing about this." in three


def test_what_the_place_takes_is_said_beside_a_cure_that_helps() -> None:
    """From a tenth of the dial on: no cure gives it back."""
    some = [tried("IF trap", becomes(0.85))]
    said = " 10 % is lost to noise from outside, which no cure gives back."
    assert found(becomes(0.5, place=0.1, noise=0.1), some).sentences[0].endswith(said)
    assert "outside" not in found(becomes(0.5, place=0.099, noise=0.1), some).sentences[0]


def test_a_plan_says_each_step_with_what_was_before_it() -> None:
    """Each step is compared with those before it, not with the set as it was."""
    first = tried("IF trap", becomes(0.7, 0.7, 0.7))
    second = Tried(
        Trial((CURES["IF trap"], CURES["another IF"]), SET, ("4",), ("", "1.6 MHz")), becomes(0.8, 0.75, 0.85)
    )
    third = Tried(
        Trial((CURES["IF trap"], CURES["another IF"], CURES["low-pass"]), SET, ("4",), ("", "1.6 MHz", "")),
        becomes(0.9, 0.9, 0.9),
    )
    got = found(becomes(0.3, 0.3, 0.3), [first], further=(second, third))
    assert [step.before.usable for step in got.plan] == [0.3, 0.7, 0.8]
    assert [step.gain.gain for step in got.plan] == pytest.approx([0.4, 0.1, 0.1])
    assert [step.effort for step in got.plan] == [1.0, 8.0, 1.5]
    assert [step.phrase for step in got.plan] == ["an IF trap", "an IF of 1.6 MHz", "a low-pass"]
    assert got.sentences[1] == (
        "Then an IF of 1.6 MHz; 80 % (76 to 84 %) instead of 70; then a low-pass; 90 % instead of 80."
    )
    assert second.trial.name == "IF trap + another IF (1.6 MHz)"
    assert second.trial.last_name == "another IF (1.6 MHz)"
    assert second.trial.phrase == "an IF trap and an IF of 1.6 MHz"
    assert third.trial.effort == 10.5
    assert third.trial.last_name == "low-pass"
    assert isinstance(got.plan[0], Step)


# --- where nothing is recommended ------------------------------------------------------------


def said(present: Together, *some: Tried) -> str:
    return found(present, some).sentences[0]


def test_nothing_to_cure_is_said_from_nineteen_twentieths_on() -> None:
    """95 % usable is as good as all; a little less is not."""
    idle = tried("10 dB pad", becomes(0.95))
    assert said(becomes(0.95), idle) == "Nothing to cure: on a busy evening 95 % is usable as it is."
    less = said(becomes(0.949), tried("10 dB pad", becomes(0.949)))
    assert less == "None of these makes it better: on a busy evening 95 % is usable as it is."


def test_the_place_is_to_blame_from_half_of_what_is_lost() -> None:
    """Noise outside that takes half of the loss is to blame, and nothing is offered; not if all is well."""
    idle = tried("10 dB pad", becomes(0.5))
    half = found(becomes(0.5, place=0.25, noise=0.25), [idle])
    assert half.place_to_blame
    assert half.offered == ()
    assert half.sentences[0] == (
        "The place is to blame, not the set: noise from outside takes 25 %. No cure helps."
    )
    assert not found(becomes(0.5, place=0.24, noise=0.25), [idle]).place_to_blame
    assert not found(
        becomes(0.96, place=0.04, noise=0.04), [tried("10 dB pad", becomes(0.96))]
    ).place_to_blame
    # a cure that helps all the same is offered
    helped = found(becomes(0.5, place=0.25), [tried("IF trap", becomes(0.9))])
    assert helped.place_to_blame
    assert names(helped.offered) == ["IF trap"]


def test_nobody_can_tell_what_to_cure_where_half_is_unknown() -> None:
    """Half of the dial beyond the tables: no cure is to be judged."""
    idle = tried("10 dB pad", becomes(0.5))
    assert said(becomes(0.5, unknown=0.5), idle) == (
        "Nobody can tell what to cure: the images lie beyond the tables."
    )
    told = found(becomes(0.5, unknown=0.49), [idle]).sentences
    assert told[0].startswith("None of these makes it better")
    assert told[1].endswith("49 % is unknown: images beyond the tables.")


def test_what_brings_most_is_named_where_it_is_not_worth_it() -> None:
    """From two points on, with how many points of a hundred; a gamble is one."""
    little = tried("10 dB pad", becomes(0.501))
    assert said(becomes(0.5), little, tried("IF trap", becomes(0.53))) == (
        "None of these is worth its evenings: on a busy evening 50 % is usable as it is; most brings "
        "an IF trap, 3 points, and not for certain."
    )
    # seven tenths gained on the mean, and worse in two worlds of ten
    luck = becomes(0.8, *[1.0] * 8, 0.0, 0.0)
    assert "an IF trap, 70 points, and" in said(becomes(0.1, *[0.1] * 10), tried("IF trap", luck))
    assert said(becomes(0.5), little, tried("IF trap", becomes(0.519))).startswith("None of these makes it")
    assert said(becomes(0.5)) == "No cure can be tried on this set."


def test_who_takes_most_now_is_said_from_two_points_of_intruders_on() -> None:
    """The first of the losses, and by which way."""
    losses = (Loss("image", "Mast", 0.3), Loss("half-IF", "Light", 0.1))
    idle = tried("10 dB pad", becomes(0.5))
    now = found(becomes(0.5, intruders=0.4, losses=losses), [idle]).sentences[-1]
    assert now == (
        "Now 50 % of the dial is usable on a busy evening. Most is lost by way of the image, Mast first."
    )
    assert "Most" not in found(becomes(0.5, intruders=0.019, losses=losses), [idle]).sentences[-1]
    assert "unknown" not in found(becomes(0.5, unknown=0.019), [idle]).sentences[-1]
    assert loss_text(losses[0]) == "Mast by image, 30 %"


def test_a_stretch_that_matters_is_named_in_place_of_the_dial() -> None:
    """From where to where, as it was asked for."""
    present = becomes(0.5)
    got = Findings(("4",), (28_000_000, 29_700_000), present, (tried("IF trap", present),), Choice(None))
    assert got.sentences[-1] == "Now 50 % of 28 MHz to 29.7 MHz is usable on a busy evening."


# --- what is made of it ----------------------------------------------------------------------


def test_coils_are_given_for_what_a_cure_puts_ahead_of_the_set() -> None:
    """Not for the boxes that stand there already; for the stretch that matters alone."""
    trap = carried_out(SET, CURES["IF trap"], ("4",))
    assert trap is not None
    both = carried_out(trap, CURES["preselector of two circuits"], ("4",))
    assert both is not None
    one, two = (Tried(Trial((CURES["IF trap"],), made, ("4",)), becomes(0.9)) for made in (trap, both))

    def words(result: Tried, receiver: Receiver | None, cover: tuple[int, int] | None = None) -> list[str]:
        got = Findings(("4",), cover, becomes(0.5), (result,), Choice(None), receiver=receiver)
        return [value.text for value in got.values_of(result)]

    assert len(words(one, SET)) == len(words(one, None)) == 1
    assert len(words(two, SET)) == 2
    (coil,) = words(two, trap)
    assert coil in words(two, SET)
    assert "tunes 26 MHz to" in coil
    (of_stretch,) = words(two, trap, (28_000_000, 29_000_000))
    assert "tunes 28 MHz to" in of_stretch


def test_notes_of_several_cures_stand_one_after_the_other() -> None:
    """Each that has one; no note is none."""
    bare: Cure = CURES["IF trap"].unchecked(note="")
    both = Trial((CURES["IF trap"], bare, CURES["10 dB pad"]), SET, ("4",), ("", "", ""))
    assert both.note == f"{CURES['IF trap'].note}; {CURES['10 dB pad'].note}"
    assert Trial((bare,), SET, ("4",)).note is None
    assert NotTried("IF trap", "of no use").text == "IF trap: of no use"
