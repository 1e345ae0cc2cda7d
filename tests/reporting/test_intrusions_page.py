"""What stands above a table of intrusions: how much is heard, what that rests on, what nobody can know."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from spurplan.columns import Answer, table_of
from spurplan.reporting.layout import written
from spurplan.reporting.text import fitting
from spurplan.reporting.views import intrusions as page
from spurplan.responses.listening.limits import limits
from spurplan.responses.range_tables import RANGE_COLUMNS
from tests.answers import answer, row, table
from tests.charting import DEMOS, ranges_of

STRONG, AUDIBLE, BURIED = (row(grade=grade, level_from="table") for grade in ("strong", "audible", "buried"))


def with_settings(made: Answer, **settings: Any) -> Answer:
    return replace(made, settings={**made.settings, **settings})


def with_ranges(made: Answer, *rows: dict[str, Any]) -> Answer:
    """Return an answer with the summary of its ranges; of what is not said nothing is known."""
    empty = {column.name: [] if column.kind == "list" else None for column in RANGE_COLUMNS}
    numbers = {
        column.name: 0 for column in RANGE_COLUMNS if not column.null and column.kind in ("int", "float")
    }
    said = {"range": "4", "low_hz": 6_000_000, "high_hz": 18_000_000, "unknown_share": 0.0}
    every = [empty | numbers | said | one for one in rows]
    return replace(made, tables={**made.tables, "ranges": table_of("ranges", RANGE_COLUMNS, every)})


def test_a_page_is_headed_by_the_set_and_what_was_asked() -> None:
    """The setting, what the set's dial shows there, how far the pointer may be off; or what is looked for."""
    asked = answer(STRONG)
    assert page.title(asked) == "Boathouse valve set at 14.2 MHz"
    assert page.title(with_settings(asked, set_dial_hz=3_700_000)).endswith(
        " at 14.2 MHz, where its dial shows 3.7 MHz"
    )
    both = with_settings(asked, set_dial_hz=3_700_000, dial_error_hz=5_000)
    assert page.title(both).endswith(" shows 3.7 MHz, give or take 5 kHz")
    assert page.title(with_settings(asked, frequency_hz=None)) == "Boathouse valve set"
    assert page.title(asked, ", looking for Mast") == "Boathouse valve set, looking for Mast"


def test_intrusions_are_counted_by_grade_the_loudest_first() -> None:
    """A grade of which there is none is not said; with none at all it is said of what there is none."""
    # the same station by the same way is counted once, however many stretches of dial it takes
    some = answer(
        *(one | {"row": at, "label": f"S{at}"} for at, one in enumerate((STRONG, STRONG, AUDIBLE, BURIED)))
    )
    assert page.counted_said(answer(STRONG, STRONG)) == "1 intrusion: 1 strong."
    assert page.counted_said(some) == "4 intrusions: 2 strong, 1 audible, 1 buried."
    assert page.counted_said(answer(AUDIBLE)) == "1 intrusion: 1 audible."
    nothing = answer()
    assert page.counted_said(nothing) == "No intrusions."
    station = replace(nothing, tables={**nothing.tables, "wanted": table([], "wanted")})
    assert page.counted_said(station) == "It comes in nowhere by a wrong way."
    pairs = replace(nothing, tables={**nothing.tables, "pairs": table([STRONG], "pairs")})
    assert page.counted_said(pairs) == "No intrusions by one station alone; products of two are below."
    none = replace(nothing, tables={**nothing.tables, "pairs": table([], "pairs")})
    assert page.counted_said(none) == "No intrusions."


def test_levels_that_nobody_measured_are_counted() -> None:
    """All, some, one; none is not said. Where nothing is heard it is said from where on it would be."""
    assumed = row(level_from="assumed")
    end = "assumed, typical of the service; a band may be occupied, now and then or never."
    assert page.besides(answer(assumed, assumed)) == [f"All levels are {end}"]
    assert page.besides(answer(assumed, STRONG)) == [f"1 of the 2 levels is {end}"]
    assert page.besides(answer(assumed, assumed, STRONG)) == [f"2 of the 3 levels are {end}"]
    assert page.besides(answer(STRONG)) == []
    nothing = answer()
    assert page.besides(nothing) == [
        "That rests on assumed levels: a strong local station may come through all the same."
    ]
    ranges = with_ranges(
        nothing,
        {"range": "1", "image_heard_from_dbm": -73.4},
        {"range": "2", "image_heard_from_dbm": None},
        {"range": "4", "low_hz": 31_000_000, "high_hz": 32_000_000, "image_heard_from_dbm": -93.0},
    )
    assert page.besides(ranges)[0] == (
        "That rests on assumed levels: a local station is heard as an image from -73 dBm (S9) on range 1, "
        "-93 dBm (S9) on range 4."
    )


def test_where_nothing_listed_is_not_nothing_heard_it_is_said() -> None:
    """On the set's own IF, with thin tables, beyond them, and on dead parts of a dial."""
    asked = with_settings(answer(STRONG), on_own_if="2", listed_share=0.2, image_unknown=["3"])
    assert page.besides(asked) == [
        "Unusable: on range 2 that is the set's own IF, whatever is listed.",
        "Unknown: the tables list somebody on 20.0 % of what they span; nothing heard means nobody "
        "listed is.",
        "Unknown: its image lies beyond the tables: nothing listed there is not nothing heard.",
    ]
    two = with_settings(answer(STRONG), image_unknown=["3", "4"], listed_share=limits()["listed"]["well"])
    assert page.besides(two) == [
        "Unknown: its image lies beyond the tables on range 3, 4: nothing listed there is not nothing heard."
    ]
    ranges = with_ranges(
        answer(STRONG),
        {"range": "4", "unknown_share": 0.125, "dead_low_hz": 6_000_000, "dead_high_hz": 6_010_000},
        {"range": "5"},
    )
    assert page.besides(ranges) == [
        "Dead: range 4 from 6 MHz to 6.01 MHz, where the set's own IF lies.",
        "Unknown: on 12.5 % of range 4 the image lies beyond the tables: nothing listed there is not nothing "
        "heard.",
    ]


def test_a_station_is_told_where_it_belongs_and_where_it_does_not() -> None:
    """Its own place first, then three wrong ones and how many more; of several stations nothing is said."""
    own = row(dial_low_hz=15_128_000, dial_high_hz=15_132_000, heard_s="S9")
    wrong = [
        row(dial_low_hz=hz, dial_high_hz=hz, heard_s=f"S{number}", response="image")
        for number, hz in enumerate(range(14_200_000, 14_700_000, 100_000), start=1)
    ]

    def turns_up(wanted: list[dict[str, Any]], others: list[dict[str, Any]]) -> list[str]:
        made = replace(answer(), tables={"intrusions": table(others), "wanted": table(wanted, "wanted")})
        first, *rest = page.heading(replace(made, findings=()))
        assert first == "Boathouse valve set at 14.2 MHz"
        return rest

    assert turns_up([own], wrong)[0] == (
        "Heard on its own place, 15.13 MHz, S9; where it does not belong, on 14.2 MHz by the image, S1; "
        "14.3 MHz by the image, S2; 14.4 MHz by the image, S3 and 2 more."
    )
    assert turns_up([], wrong[:1])[0] == (
        "The set does not tune its own place; where it does not belong, on 14.2 MHz by the image, S1."
    )
    assert turns_up([own], [])[0] == "Heard on its own place, 15.13 MHz, S9."
    other = row(rf_low_hz=1_000_000, rf_high_hz=1_000_000)
    assert turns_up([own], [other])[0].startswith("1 intrusion")


def test_the_answer_stands_below_the_name_and_above_the_counts() -> None:
    """What was found of each range, in its own words."""
    made = replace(answer(STRONG), findings=(SimpleNamespace(sentence="Range 4: usable."),))
    assert page.heading(made) == [
        "Boathouse valve set at 14.2 MHz", "Range 4: usable.", "1 intrusion: 1 strong."
    ]  # fmt: skip


def test_columns_that_say_the_same_of_all_are_left_out() -> None:
    """One setting, one range; a dial marked in another frequency has a column of its own."""

    def heads(*rows: dict[str, Any]) -> list[str]:
        return [show.head for show in page.columns_of(table(rows))]

    here = row(set_dial_hz=14_200_000)
    assert heads(here, here)[:2] == ["Grade", "Heard"]
    stretch = row(set_dial_hz=14_200_000, dial_high_hz=14_201_000)
    assert heads(stretch)[0] == "On the dial"
    assert heads(here, row(set_dial_hz=14_200_000, range="5"))[0] == "Range"
    behind = row(set_dial_hz=3_700_000, dial_high_hz=14_201_000)
    assert heads(behind)[:2] == ["Tuned to", "Set's dial"]


@pytest.mark.parametrize(("shares", "there"), [((0.0, 0.0), False), ((0.0, 0.1), True)])
def test_a_share_that_is_unknown_has_a_column_where_there_is_one(
    shares: tuple[float, ...], there: bool
) -> None:
    """Of what stands far down it may be left out on a narrow page."""
    made = with_ranges(answer(), *({"unknown_share": share} for share in shares)).tables["ranges"]
    layout = page.with_unknown(page.RANGES, made)
    assert any(show.fields == ("unknown_share",) for show in layout) is there
    late = with_ranges(answer(), *({"unknown_share": share} for share in (*[0.0] * 5, 0.1))).tables["ranges"]
    (shown,) = (show for show in page.with_unknown(page.RANGES, late) if show.fields == ("unknown_share",))
    (first,) = (show for show in page.RANGES if show.fields == ("unknown_share",))
    assert shown.rank > first.rank


@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("name", DEMOS)
def test_the_word_of_a_range_stands_at_any_width(name: str, width: int) -> None:
    """What can be believed is the answer: margins, counts and where it is loudest go before it."""
    heard = ranges_of(name)
    kept, _, _ = fitting(written(heard.ranges, page.view(heard).layouts["ranges"]), width)
    assert "Word" in [cells.head for cells in kept]
