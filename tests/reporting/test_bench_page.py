"""What readings of an image mean, in a sentence: which is told as the worst, and what it is put down to."""

from __future__ import annotations

import math
from itertools import permutations
from types import SimpleNamespace
from typing import Any

import pytest

from spurplan.columns import Column, Table, table_of
from spurplan.planning.bench.fitted import SPREAD
from spurplan.planning.bench.image_readings import RangeRejection, Rejection
from spurplan.planning.bench.sheet import Line, Sheet
from spurplan.reporting.views.bench import (
    _extent_said,
    _interval,
    _listed,
    _notes,
    _rejection_said,
    _shortfall_said,
    _summary,
    _time_text,
)


def image(dial_mhz: int, rejection_db: float, fair_db: float | None = 40.0, **more: Any) -> Rejection:
    """Return an image read on a dial, which sound circuits leave within 3 dB of what is fair."""
    said: dict[str, Any] = {
        "number": dial_mhz, "range": "a", "dial_hz": dial_mhz * 1_000_000, "response": "image",
        "at_least": False, "described_db": 50.0, "chance_db": 3.0, "tells_q": True, "set_aside": False,
    }  # fmt: skip
    return Rejection(rejection_db=rejection_db, fair_db=fair_db, **(said | more))


def of(*images: Rejection) -> RangeRejection:
    return RangeRejection("a", images, (), 2)


def said(*images: Rejection) -> str:
    own = of(*images)
    assert own.least_image is not None
    return _shortfall_said(own, own.least_image)


def test_the_worst_shortfall_is_the_farthest_below_what_is_due_there() -> None:
    """10 dB short at 6 MHz, 20 at 9, 5 at 15; the least image, at 12 MHz, is fair. In any order."""
    some = (image(6, 50.0, 60.0), image(9, 20.0, 40.0), image(12, 19.0, 20.0), image(15, 45.0, 50.0))
    for images in permutations(some):
        text = said(*images)
        assert text.startswith("; 20 dB below it at 9 MHz"), text
        assert "6 MHz" not in text
        assert "15 MHz" not in text


def test_where_the_least_image_is_short_itself_no_other_is_told_first() -> None:
    """Its own shortfall stands before, and is not said twice."""
    own = of(image(6, 20.0), image(9, 30.0))
    assert own.least_image is own.images[0]
    assert " dB below it at " not in said(*own.images)
    assert _rejection_said(own).startswith(
        "Range a: image 20 dB at 6 MHz, 20 dB below what two circuits should give"
    )


@pytest.mark.parametrize(
    ("images", "meaning"),
    [
        # common practice: all along the coils, at one end the tracking, by no Q at all the wiring
        ((image(6, 20.0), image(9, 22.0)), ", and short all along: damped coils, or a circuit out of line"),
        ((image(6, 20.0), image(9, 41.0)), ", not so at 9 MHz: tracking first, then a damped coil"),
        ((image(6, 20.0),), ": a damped coil, or tracking"),
        ((image(6, 20.0, tells_q=False),), ": stray coupling round the circuits first, then a damped coil"),
        ((image(6, 20.0, tells_q=False), image(9, 21.0, tells_q=False)),
         ": stray coupling round the circuits first, then a damped coil"),
        # one that tells of a Q is enough to look at the coils
        ((image(6, 20.0, tells_q=False), image(9, 21.0)),
         ", and short all along: damped coils, or a circuit out of line"),
        ((image(6, 38.0), image(9, 44.0)), ""),
        ((image(6, 20.0, at_least=True),), ""),
        ((image(6, 20.0, None),), ""),
    ],
)  # fmt: skip
def test_a_shortfall_is_put_down_to_where_it_is(images: tuple[Rejection, ...], meaning: str) -> None:
    """Short at every setting, at one of several, or where no circuit tells."""
    assert said(*images) == meaning


def test_what_is_fair_and_what_is_above_it_is_called_so() -> None:
    """Within chance fair; beyond it so many decibels above or below, in whole ones; not heard a bound."""
    fair = _rejection_said(of(image(6, 41.0)))
    assert "image 41 dB at 6 MHz, what two circuits should give" in fair
    assert fair.endswith(": 40.")
    assert "image 46.5 dB at 6 MHz, 6 dB above what two circuits" in _rejection_said(of(image(6, 46.5)))
    assert _rejection_said(of(image(6, 30.0, at_least=True))) == "Range a: image better than 30 dB."
    one = RangeRejection("a", (image(6, 20.0),), (image(6, 70.0, None, response="IF breakthrough"),), 1)
    assert ", 20 dB below what one circuit should give" in _rejection_said(one)
    assert _rejection_said(one).endswith(". IF breakthrough 70 dB at 6 MHz.")


def test_an_image_that_was_set_aside_is_told_with_its_own_shortfall() -> None:
    """By its number on the sheet, to be read again; it makes no verdict on the coils."""
    own = of(image(6, 41.0), image(9, 15.0, set_aside=True))
    text = _rejection_said(own)
    assert "No. 9 has 15 dB at 9 MHz, 25 dB below what is due there" in text
    assert "coil" not in text


# --- how long a sheet is, and what readings came to ------------------------------------------


def test_a_time_is_said_as_finely_as_it_is_known() -> None:
    """To five minutes and never none; from an hour and a half on to half an hour."""
    minutes = (0, 4, 7.6, 12.4, 87.4, 89.9, 90, 104, 106, 240, 269, 271)
    assert [_time_text(some) for some in minutes] == [
        "5 minutes", "5 minutes", "10 minutes", "10 minutes", "85 minutes", "90 minutes", "1.5 hours",
        "1.5 hours", "2 hours", "4 hours", "4.5 hours", "4.5 hours",
    ]  # fmt: skip


def lines_of(*rows: tuple[str, int, str]) -> tuple[Line, ...]:
    return tuple(
        Line(number, {"range": name, "dial_hz": dial, "response": response}, ())
        for number, (name, dial, response) in enumerate(rows, 1)
    )


def test_a_sheet_says_its_ranges_settings_and_readings() -> None:
    """Each setting once; the wanted signal, which is set and not read, is no reading."""
    one = Sheet(lines_of(("1", 6, "wanted"), ("1", 6, "image")))
    assert _extent_said(one).startswith("range 1: 1 reading at 1 dial setting, about ")
    two = lines_of(
        ("1", 6, "wanted"), ("1", 6, "image"), ("1", 9, "wanted"), ("1", 9, "image"), ("3", 6, "wanted"),
        ("3", 6, "half-IF"), ("3", 6, "image"),
    )  # fmt: skip
    assert _extent_said(Sheet(two)).startswith("ranges 1 and 3: 4 readings at 3 dial settings, about ")
    assert _extent_said(Sheet(two, only="image")).startswith("image alone, ranges 1 and 3: ")
    assert _extent_said(Sheet(())) == "no reading."


@pytest.mark.parametrize(
    ("numbers", "text"),
    [
        ([7], "7"), ([2, 1], "1, 2"), ([1, 2, 3], "1-3"), ([5, 3, 4, 9], "3-5, 9"),
        ([1, 3, 5], "1, 3, 5"), ([1, 2, 4, 5, 6, 8], "1, 2, 4-6, 8"),
    ],
)  # fmt: skip
def test_numbers_are_listed_in_runs_of_three_and_more(numbers: list[int], text: str) -> None:
    """In rising order, each in one place."""
    assert _listed(numbers) == text


def test_a_remark_stands_once_with_all_its_numbers() -> None:
    """In the order in which they come up."""
    noted = [(1, ("a",)), (2, ("b", "a")), (3, ("a",)), (9, ("b",))]
    assert list(_notes([Line(number, {}, notes) for number, notes in noted])) == [
        "No. 1-3: a.", "No. 2, 9: b."
    ]  # fmt: skip


def a_table(name: str, *rows: tuple[Any, ...], **kinds: Any) -> Table:
    columns = tuple(Column(of, kind, "", False, "", "of a test") for of, kind in kinds.items())
    return table_of(name, columns, [dict(zip(kinds, values, strict=True)) for values in rows])


def summed_up(
    figures: list[tuple[str, bool]], read: list[tuple[int, bool, bool]], dial: list[tuple[int, bool]]
) -> list[str]:
    return list(
        _summary(
            a_table("fitted", *figures, figure="text", decided="bool"),
            a_table("residuals", *read, number="int", outlier="bool", at_ceiling="bool"),
            a_table("dial", *dial, number="int", outlier="bool"),
        )
    )


def test_readings_are_counted_and_so_is_what_they_decide() -> None:
    """The scatter of the readings is no figure of the set; both kinds of reading, one or many."""
    assert summed_up([("q", True), ("ceiling", False), (SPREAD, True)], [(1, False, False)], []) == [
        "1 level reading, 0 pointer readings: 1 of 2 figures decided."
    ]
    assert summed_up([("q", False)], [(1, False, False), (2, False, False)], [(3, False)]) == [
        "2 level readings, 1 pointer reading: 0 of 1 figure decided."
    ]


def test_what_disagrees_is_named_whatever_was_read_and_what_stands_at_the_ceiling_too() -> None:
    """Levels and pointers alike; one of them, or several."""
    said_one = summed_up([("q", True)], [(1, False, True), (2, True, False), (3, False, True)], [(4, False)])
    assert said_one[1:] == [
        "No. 2 disagrees with the others and was set aside: read it again.",
        "At the ceiling, so without a word about Q: No. 1, 3.",
    ]
    said_both = summed_up([("q", True)], [(2, True, False)], [(4, True), (5, False)])
    assert said_both[1:] == ["No. 2, 4 disagree with the others and were set aside: read them again."]


def test_an_interval_open_above_says_so() -> None:
    """Two ends with the unit once; one end; none."""

    def of_figure(low: float | None, high: float | None) -> str | None:
        made: Any = SimpleNamespace(low=low, high=high, unit="dB")
        return _interval(made)

    assert of_figure(None, None) is None
    assert of_figure(40.0, None) == of_figure(40.0, math.inf) != of_figure(40.0, 50.0)
    assert str(of_figure(40.0, None)).startswith("above 40")
    assert " to " in str(of_figure(40.0, 50.0))
