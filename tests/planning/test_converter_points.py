"""What a crystal is worth and where it stands, by hand: made-up figures in, points, order and words out."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from spurplan.errors import Refused
from spurplan.planning.converter.candidates import ABOVE, ALONE, BELOW, NO_CRYSTAL, NOWHERE, SUM, Candidates
from spurplan.planning.converter.figures import Birdies, Figures
from spurplan.planning.converter.findings import Findings
from spurplan.planning.converter.handling import HALF, ODD, ROUND, Handling, handling_of
from spurplan.planning.converter.points import TERMS, Points, points_of
from spurplan.planning.converter.ranking import Ranking, dial_rule, difference, lost_place, ordered
from spurplan.planning.reason import Reason
from spurplan.receiver.description import Front, Receiver
from spurplan.reporting.views import converter as page

COVER = (21_000_000, 21_450_000)


def made_of(*rows: dict[str, Any]) -> Candidates:
    """Return candidates for one cover, each a crystal of its own of 17.5 MHz below, but for what is said."""
    every = []
    for number, row in enumerate(rows):
        said = {
            "cover": 0, "crystal": number, "range": 0, "multiplier": 1, "injected_hz": 17_500_000,
            "side": BELOW, "low_hz": COVER[0], "high_hz": COVER[1], "lost_hz": 0,
        }  # fmt: skip
        every.append(said | row)
    return Candidates(**{name: np.array([row[name] for row in every], dtype=np.int64) for name in every[0]})


def figures_of(*rows: dict[str, Any]) -> Figures:
    """Return figures of candidates with which nothing is wrong, but for what is said."""
    said = {
        "image_rejection_db": 40.0, "second_image_rejection_db": 50.0, "straight_in": -1,
        "straight_in_dbm": np.nan, "straight_in_grade": 0, "unheard_share": 1.0, "unknown_share": 0.0,
        "usable_share": 0.9, "usable_low": 0.8, "usable_high": 0.95, "unknown_margin_db": np.nan,
        "worst": -1, "worst_grade": 0, "worst_margin_db": np.nan, "worst_dial_hz": 0, "whistles": 0,
        "unlisted_share": 0.0, "dead_hz": 0, "birdies": 0, "everywhere": False, "reading_error_hz": 0,
    }  # fmt: skip
    columns = {name: np.array([(said | row)[name] for row in rows]) for name in said}
    steps = np.empty(len(rows), dtype=object)
    steps[:] = [() for _ in rows]
    return Figures(**columns, worst_steps=steps, heard_birdies=Birdies.empty())


def handled(*rows: dict[str, Any]) -> Handling:
    said = {
        "forward": True, "reading": ROUND, "spread_khz_mm": 10.0, "drift_hz": 500.0, "impurity_db": np.nan
    }  # fmt: skip
    return Handling(**{name: np.array([(said | row)[name] for row in rows]) for name in said})


def pointed(**terms: float) -> dict[str, float]:
    return dict.fromkeys(TERMS, 0.0) | terms


def points(*rows: dict[str, float]) -> Points:
    return Points(**{term: np.array([row[term] for row in rows]) for term in TERMS})


# --- points ----------------------------------------------------------------------------------


def test_each_term_takes_what_the_table_says() -> None:
    """Of 90 points 12 for a dial backwards, 5 and 2 for a reading, 3 for each doubling of 20 kHz a mm.

    And 2 for each doubling of 2 kHz of drift, 3 for a multiplier, 10 for a sum.
    """
    rows: list[tuple[dict[str, Any], dict[str, Any], float]] = [
        ({}, {}, 90.0),
        ({"side": ABOVE}, {"forward": False}, 78.0),
        ({}, {"reading": ODD}, 85.0),
        ({}, {"reading": HALF}, 88.0),
        ({}, {"spread_khz_mm": 20.0}, 90.0),
        ({}, {"spread_khz_mm": 80.0}, 84.0),
        ({}, {"drift_hz": 2_000.0}, 90.0),
        ({}, {"drift_hz": 16_000.0}, 84.0),
        ({"multiplier": 2}, {}, 87.0),
        ({"multiplier": 3}, {}, 87.0),
        ({"side": SUM}, {}, 80.0),
        ({"side": SUM, "multiplier": 2}, {"reading": ODD, "spread_khz_mm": 40.0, "drift_hz": 4_000.0}, 67.0),
    ]
    chosen = made_of(*(row for row, _, _ in rows))
    got = points_of(chosen, np.full(len(rows), 0.9), handled(*(row for _, row, _ in rows)))
    assert got.total.tolist() == pytest.approx([total for _, _, total in rows])
    # what a term takes off never adds
    assert all((getattr(got, term) <= 0.0).all() for term in TERMS[1:])


def test_what_decides_is_the_term_by_which_one_is_most_ahead() -> None:
    """Not the greatest of either; two that differ by two points are alike, by more they are not."""
    two = points(pointed(usable=90.0, scale=-6.0), pointed(usable=80.0, scale=-9.0, drift=-1.0))
    assert (two.deciding(0, 1), two.deciding(1, 0)) == ("usable", "backwards")
    assert points(pointed(usable=80.0, sum=0.0), pointed(usable=84.0, sum=-10.0)).deciding(0, 1) == "sum"
    near = points(pointed(usable=90.0), pointed(usable=88.0), pointed(usable=87.9))
    assert [near.alike(0, 1), near.alike(1, 0), near.alike(0, 2), near.alike(2, 0)] == [
        True,
        True,
        False,
        False,
    ]


# --- handling --------------------------------------------------------------------------------

# of what stands ahead of the set, handling asks how many circuits behind a multiplier
BEFORE: Any = SimpleNamespace(circuits=2)

SET = Receiver.from_dict(
    {
        "name": "Behind a converter",
        "conversion": [{"injection": "high", "if": "500 kHz", "filter": {"bandwidth": "6 kHz"}}],
        "range": [
            {"name": "1", "coverage": ["3 MHz", "6 MHz"]},
            {"name": "2", "coverage": ["6 MHz", "18 MHz"]},
        ],
    }
)


def test_a_scale_is_the_width_of_the_range_over_150_mm() -> None:
    """3 MHz on 150 mm are 20 kHz a mm, 12 MHz are 80; without a range nothing is known."""
    chosen = made_of({}, {"range": 1}, {"range": NOWHERE})
    got = handling_of(chosen, SET, SET.ranges, BEFORE)
    assert got.spread_khz_mm[:2].tolist() == [20.0, 80.0]
    assert np.isnan([got.spread_khz_mm[2], got.drift_hz[2]]).all()


def test_drift_is_that_of_the_crystal_and_of_the_oscillator_behind_it() -> None:
    """Ten parts in a million of the crystal and 500 of an oscillator at 3.725 MHz + 500 kHz."""
    chosen = made_of({}, {"side": ABOVE, "injected_hz": 24_950_000})
    got = handling_of(chosen, SET, SET.ranges, BEFORE)
    assert got.drift_hz.tolist() == pytest.approx(
        [175.0 + 4_225_000 * 500e-6, 249.5 + (24_950_000 - 21_225_000 + 500_000) * 500e-6]
    )
    assert got.forward.tolist() == [True, False]


def test_a_reading_is_round_half_or_odd_by_what_is_added_on_the_dial() -> None:
    """Within a kilohertz of a megahertz, of half a one, or neither."""
    rows = (17_000_000, 17_001_000, 16_999_000, 17_001_001, 17_500_000, 17_499_000, 17_501_000, 17_498_999)
    chosen = made_of(*({"injected_hz": hz} for hz in rows))
    got = handling_of(chosen, SET, SET.ranges, BEFORE).reading.tolist()
    assert got == [ROUND, ROUND, ROUND, ODD, HALF, HALF, HALF, ODD]


# --- the order -------------------------------------------------------------------------------


def order_of(
    chosen: Candidates,
    figures: Figures,
    totals: list[float],
    *,
    pointed_at: list[int] | None = None,
    tune: tuple[int, int] | None = None,
) -> tuple[list[int], Ranking, Candidates, Figures]:
    """Return the crystals in the order offered, and why."""
    at = np.isin(np.arange(len(chosen)), pointed_at or [])
    worth = points(*(pointed(usable=total) for total in totals))
    handling = handled(*({} for _ in totals))
    after, merits, ranking = ordered(chosen, figures, handling, worth, at, tune)
    return after.crystal.tolist(), ranking, after, merits


def test_points_decide_before_all_that_breaks_a_tie() -> None:
    """Most points first; a tenth of a point is nothing to go by, and then whistles, work and image decide."""
    rows: list[tuple[float, dict[str, Any], dict[str, Any]]] = [
        (80.0, {}, {"whistles": 0, "injected_hz": 1}),
        (90.0, {"injected_hz": 17_000_001}, {"whistles": 2, "birdies": 1}),
        (90.04, {"injected_hz": 17_000_002}, {"whistles": 4}),
        (90.0, {"injected_hz": 17_000_003, "multiplier": 2}, {}),
        (90.0, {"injected_hz": 17_000_004}, {"image_rejection_db": 30.0, "second_image_rejection_db": 60.0}),
        (90.0, {"injected_hz": 17_000_005}, {"image_rejection_db": 60.0, "second_image_rejection_db": 31.0}),
        (90.0, {"injected_hz": 17_000_006}, {"reading_error_hz": 100}),
        (90.0, {"injected_hz": 17_000_007}, {"reading_error_hz": 50}),
        (90.0, {"injected_hz": 17_000_000}, {"reading_error_hz": 50}),
        (
            90.0,
            {"injected_hz": 17_000_009},
            {"image_rejection_db": np.nan, "second_image_rejection_db": np.nan},
        ),
    ]
    chosen = made_of(*(row for _, row, _ in rows))
    figures = figures_of(*({k: v for k, v in row.items() if k != "injected_hz"} for _, _, row in rows))
    order, ranking, _, _ = order_of(chosen, figures, [total for total, _, _ in rows])
    assert order == [9, 8, 7, 6, 5, 4, 3, 1, 2, 0]
    assert ranking.rank.tolist() == list(range(1, 11))


def test_what_can_not_be_used_stands_last_however_many_points_it_has() -> None:
    """Part of the cover lost, a birdie everywhere, all of it on an IF, no range: behind all that can."""
    chosen = made_of(
        {"lost_hz": 10_000, "injected_hz": 1},
        {"injected_hz": 2},
        {"injected_hz": 3},
        {"range": NOWHERE, "lost_hz": 450_001, "injected_hz": 4},
        {"injected_hz": 5},
        {"injected_hz": 6},
        {"lost_hz": 5_000, "injected_hz": 7},
    )
    figures = figures_of({}, {"everywhere": True}, {"dead_hz": 450_001}, {}, {"dead_hz": 450_000}, {}, {})
    order, ranking, _, _ = order_of(chosen, figures, [99.0, 98.0, 97.0, np.nan, 10.0, 11.0, 90.0])
    assert order == [5, 4, 1, 2, 6, 0, 3]
    assert ranking.possible.tolist() == [True, True, False, False, False, False, False]
    assert ranking.in_tune.tolist() == [True, True, True, True, False, False, False]


def test_what_comes_into_the_stretch_asked_for_stands_before_what_does_not() -> None:
    """The whole cover, with its edges, and never the set alone."""
    chosen = made_of(
        {"injected_hz": 17_500_001},
        {"injected_hz": 17_500_000},
        {"injected_hz": 0, "side": ALONE, "crystal": NO_CRYSTAL},
        {"injected_hz": 24_950_001, "side": ABOVE},
    )
    inside, ranking, _, _ = order_of(
        chosen, figures_of({}, {}, {}, {}), [99.0, 50.0, 98.0, 60.0], tune=(3_500_000, 3_950_000)
    )
    assert inside == [1, 0, NO_CRYSTAL, 3]
    assert ranking.in_tune.tolist() == [True, False, False, False]
    backwards, _, _, _ = order_of(
        chosen, figures_of({}, {}, {}, {}), [99.0, 50.0, 98.0, 60.0], tune=(3_500_001, 3_950_001)
    )
    assert backwards == [3, 0, NO_CRYSTAL, 1]


def test_what_injects_the_same_from_a_lower_crystal_comes_behind_all_others() -> None:
    """It adds nothing but work; of those asked about one by one each keeps its place."""
    chosen = made_of({"multiplier": 2}, {}, {"injected_hz": 17_000_000}, {"range": 1})
    order, ranking, _, _ = order_of(chosen, figures_of({}, {}, {}, {}), [80.0, 83.0, 50.0, 60.0])
    assert order == [1, 3, 2, 0]
    assert ranking.same_as.tolist() == [-1, -1, -1, 0]
    kept, ranking, _, _ = order_of(
        chosen, figures_of({}, {}, {}, {}), [80.0, 83.0, 50.0, 60.0], pointed_at=[0]
    )
    assert kept == [1, 0, 3, 2]
    assert ranking.same_as.tolist() == [-1, -1, -1, -1]


def test_each_cover_has_a_list_of_its_own() -> None:
    """Ranks begin at 1 in each, whatever the order they were given in."""
    chosen = made_of(
        {"cover": 1, "injected_hz": 1}, {"cover": 0, "injected_hz": 2}, {"cover": 1, "injected_hz": 3}
    )
    order, ranking, _, _ = order_of(chosen, figures_of({}, {}, {}), [50.0, 60.0, 70.0])
    assert (order, ranking.rank.tolist()) == ([1, 2, 0], [1, 1, 2])


# --- words -----------------------------------------------------------------------------------


def test_a_dial_rule_says_how_the_set_is_read() -> None:
    """Forwards, backwards, for the sum, and the set alone."""
    rules = [dial_rule(side, 17_500_000) for side in (BELOW, ABOVE, SUM, ALONE)]
    assert rules == [
        "signal = 17.500 MHz + dial",
        "signal = 17.500 MHz \N{MINUS SIGN} dial: runs backwards",
        "signal = dial \N{MINUS SIGN} 17.500 MHz",
        "the set alone: signal = dial",
    ]


@pytest.mark.parametrize(
    ("lower", "upper", "said"),
    [
        (
            ({"usable": 76.1}, {}, {"usable_share": 0.761}),
            ({"usable": 90.0}, {}, {"usable_share": 0.9}),
            "what is usable: 76.1 % against 90.0 %",
        ),
        (
            ({"scale": -6.0}, {"spread_khz_mm": 80.4}, {}),
            ({}, {"spread_khz_mm": 20.4}, {}),
            "its scale: 80 kHz a mm against 20",
        ),
        (
            ({"drift": -6.0}, {"drift_hz": 16_040.0}, {}),
            ({}, {"drift_hz": 2_040.0}, {}),
            "its drift: 16.0 kHz in the first hour against 2.0 kHz",
        ),
        (
            ({"reading": -5.0}, {"reading": ODD}, {}),
            ({}, {}, {}),
            "the reading, no round number of megahertz away",
        ),
        (({"reading": -2.0}, {"reading": HALF}, {}), ({}, {}, {}), "the reading, half a megahertz off"),
        (({"multiplier": -3.0}, {}, {}), ({}, {}, {}), "its multiplier: times 3"),
        (({"backwards": -12.0}, {}, {}), ({}, {}, {}), "a dial that runs backwards"),
        (({"sum": -10.0}, {}, {}), ({}, {}, {}), "mixing for the sum"),
    ],
)
def test_what_takes_most_is_said_with_both_figures(lower: Any, upper: Any, said: str) -> None:
    """Of the lower one first, then of the one above it."""
    terms, handling, figures = zip(upper, lower, strict=True)
    chosen = made_of({}, {"multiplier": 3})
    worth, merits = points(*(pointed(**row) for row in terms)), figures_of(*figures)
    ranking = Ranking(
        rank=np.array([1, 2]), possible=np.ones(2, dtype=bool), in_tune=np.ones(2, dtype=bool),
        handling=handled(*handling), points=worth, same_as=np.full(2, -1),
        keys={"use": np.zeros(2, dtype=np.int64), "points": np.array([0, 9], dtype=np.int64)},
    )  # fmt: skip
    assert difference(ranking, merits, chosen, 1, 0) == said
    less = float(worth.total[0] - worth.total[1])
    alike = "cannot be told apart, " if less <= 2.0 else ""
    assert lost_place(ranking, merits, chosen, 1, 0) == f"{alike}{less:.1f} points less, most for {said}"


@pytest.mark.parametrize(
    ("lower", "said"),
    [
        (({"lost_hz": 10}, {}), "can not be used as it stands"),
        (({}, {"whistles": 2, "birdies": 1}), "more whistles and birdies: 3 against 0"),
        (({"multiplier": 3}, {}), "more multiplication: times 3 against times 1"),
        (({}, {"image_rejection_db": 30.4}), "less image rejection: 30 dB against 40 dB"),
        (({}, {"reading_error_hz": 70}), "its crystal may be further off: 70 Hz against 0 Hz"),
        (({"injected_hz": 17_600_000}, {}), "only a higher frequency"),
    ],
)
def test_with_as_many_points_it_is_said_what_breaks_the_tie(lower: Any, said: str) -> None:
    """The first in which they differ."""
    chosen = made_of({"injected_hz": 17_400_000}, {"injected_hz": 17_400_000, "range": 1} | lower[0])
    order, ranking, after, merits = order_of(chosen, figures_of({}, lower[1]), [90.0, 90.0])
    assert order == [0, 1]
    assert lost_place(ranking, merits, after, 1, 0) == said


def test_two_that_are_alike_in_all_are_said_to_be() -> None:
    """Nothing is left to go by."""
    chosen = made_of({}, {"range": 1})
    _, ranking, after, merits = order_of(chosen, figures_of({}, {}), [90.0, 90.0])
    assert lost_place(ranking, merits, after, 1, 0) == "equal in all that counts"
    none = {"image_rejection_db": np.nan, "second_image_rejection_db": np.nan}
    _, ranking, after, merits = order_of(made_of({}, {"range": 1}), figures_of(none, {}), [90.0, 90.0])
    assert lost_place(ranking, merits, after, 1, 0) == "less image rejection: 40 dB against no image"


# --- what is recommended, and the page -------------------------------------------------------

SECOND = (28_000_000, 28_450_000)


def findings_for(
    rows: list[dict[str, Any]],
    totals: list[float],
    figures: list[dict[str, Any]] | None = None,
    *,
    crystals: tuple[int, ...] = (17_500_000, 17_000_000, 24_950_000),
    covers: tuple[tuple[int, int], ...] = (COVER,),
    about: Any = None,
    tune: tuple[int, int] | None = None,
) -> Findings:
    """Return what is found of candidates with so many points; what made them is no matter."""
    chosen = made_of(*rows)
    _, ranking, after, merits = order_of(
        chosen, figures_of(*(figures or [{} for _ in rows])), totals, tune=tune
    )
    stock = tuple(SimpleNamespace(frequency_hz=hz, at_hand=True) for hz in crystals)
    question: Any = SimpleNamespace(
        covers=covers, crystals=stock, ranges=SET.ranges, receiver=SET, about=about, tune=tune,
        place=SimpleNamespace(activity=None), front=Front.from_dict({}),
    )  # fmt: skip
    reasons: Any = SimpleNamespace(of=lambda number: [Reason("", f"reason of {number}")])
    return Findings(question, after, merits, ranking, reasons)


WITHOUT = {"crystal": NO_CRYSTAL, "side": ALONE, "injected_hz": 0}


def test_the_first_that_can_be_used_is_built() -> None:
    """None where none can; the set alone is none of them; of one that is to be explained the first placed."""
    some = findings_for(
        [{}, {"crystal": 1, "injected_hz": 17_000_000, "lost_hz": 10}, WITHOUT], [80.0, 99.0, 95.0]
    )
    best = some.chosen(COVER)
    assert best is not None
    assert (best.crystal_hz, best.rank, best.number, best.usable_share) == (17_500_000, 2, 1, 0.9)
    assert (best.set_low_hz, best.set_high_hz) == (3_500_000, 3_950_000)
    assert [one.crystal_text for one in some.alone(COVER)] == ["the set alone"]
    assert some.before(best) == [0]
    assert some.rivals(best) == ([], [])
    lost = findings_for([{"lost_hz": 10}, WITHOUT], [80.0, 95.0])
    assert lost.chosen(COVER) is None
    asked = SimpleNamespace(crystal=SimpleNamespace(frequency_hz=17_500_000), multiplier=None, side=None)
    told = findings_for([{"lost_hz": 10}, WITHOUT], [80.0, 95.0], about=asked).chosen(COVER)
    assert told is not None
    assert told.lost_hz == 10


def test_a_crystal_that_is_to_be_explained_is_meant_as_it_was_asked_for() -> None:
    """By its frequency, and by times and side where these were said."""
    rows: list[dict[str, Any]] = [
        {}, {"crystal": 0, "multiplier": 2, "range": 1}, {"crystal": 0, "side": SUM, "range": 1},
        {"crystal": 1}, WITHOUT,
    ]  # fmt: skip
    for times, side, wanted in ((None, None, 3), (2, None, 1), (None, SUM, 1), (1, BELOW, 1), (3, None, 0)):
        about = SimpleNamespace(crystal=SimpleNamespace(frequency_hz=17_500_000), multiplier=times, side=side)
        got = findings_for(rows, [80.0, 70.0, 60.0, 50.0, 40.0], about=about)
        assert int(got.meant.sum()) == wanted
        assert not got.meant[got.candidates.alone].any()


def test_what_cannot_be_told_from_the_best_and_what_is_behind() -> None:
    """Within two points, each injection once, of those tuned where it was asked for as the best is."""
    rows: list[dict[str, Any]] = [
        {}, {"crystal": 1, "injected_hz": 17_000_000},
        {"crystal": 2, "injected_hz": 24_950_000, "side": ABOVE},
        {"injected_hz": 17_500_000, "multiplier": 2}, {"lost_hz": 5}, WITHOUT,
    ]  # fmt: skip
    some = findings_for(rows, [90.0, 88.5, 80.0, 89.0, 95.0, 85.0])
    best = some.chosen(COVER)
    assert best is not None
    alike, behind = some.rivals(best)
    assert [some.candidate(at).crystal_hz for at in alike] == [17_000_000]
    assert [some.candidate(at).crystal_hz for at in behind] == [None, 24_950_000]
    assert some.behind_by(behind[1], best) == (pytest.approx(10.0), "what is usable: 90.0 % against 90.0 %")
    assert some.ahead_by(best.number, some.candidate(behind[0]))[0] == pytest.approx(5.0)
    # what injects the same as one listed is left out of the list
    assert [int(some.candidates.crystal[at]) for at in some.listed] == [0, 1, NO_CRYSTAL, 2]


def test_one_crystal_for_all_covers_is_the_one_that_has_most_where_it_has_least() -> None:
    """18 MHz has more for the one cover and less for the other; of equals the lower frequency."""
    both = ((0, COVER), (1, SECOND))
    rows = [
        {
            "crystal": crystal,
            "cover": cover,
            "low_hz": low,
            "high_hz": high,
            "injected_hz": 1_000 * crystal + cover,
        }
        for crystal in (0, 1, 2)
        for cover, (low, high) in both
    ]
    shares = [{"usable_share": share} for share in (0.9, 0.5, 0.8, 0.7, 0.8, 0.7)]
    got = findings_for(
        rows, [90.0, 50.0, 80.0, 70.0, 80.0, 70.0], shares, crystals=(18_000_000, 19_000_000, 17_000_000),
        covers=(COVER, SECOND),
    )  # fmt: skip
    assert got.for_all_covers() == (17_000_000, (0.8, 0.7))
    none = findings_for(rows[:1], [90.0], shares[:1], covers=(COVER, SECOND))
    assert none.for_all_covers() is None
    assert [cover for cover, _ in got.per_cover()] == [COVER, SECOND]


def test_the_set_behind_a_converter_is_of_the_one_range_that_serves() -> None:
    """Named by its crystal; a candidate without a range has none to write."""
    some = findings_for([{}, {"crystal": 1, "range": NOWHERE, "injected_hz": 17_000_000}], [90.0, np.nan])
    best = some.chosen(COVER)
    assert best is not None
    behind = some.behind(best)
    assert behind.name == "Behind a converter, converter with 17.5 MHz"
    assert [(one.low_hz, one.high_hz) for one in behind.ranges] == [COVER]
    assert [plan.if_hz for plan in behind.plans_of(behind.ranges[0])][-1] == 500_000
    assert some.proposed == behind
    with pytest.raises(Refused, match="has no converter to write: reason of 1"):
        some.behind(some.candidate(1))


def said(findings: Findings) -> str:
    """Return the sentences about the one cover."""
    (text,) = page.summary(findings)
    return text


def test_the_sentence_says_what_to_build_how_much_is_usable_and_by_what_it_won() -> None:
    """Against the set alone where that tunes it; what cannot be told from it is named, three at most."""
    figures = [{"usable_share": 0.93, "usable_low": 0.88, "usable_high": 0.97, "unknown_share": 0.04}]
    other = {"crystal": 2, "injected_hz": 24_950_000, "side": ABOVE}
    assert said(findings_for([{}, other], [90.0, 80.0], [*figures, {"usable_share": 0.8}])) == (
        "Number 1: crystal 17.5 MHz, below, into range 1 at 3.5-3.95 MHz; signal = 17.500 MHz + dial. "
        "On a busy evening 93 % of it is usable (88 to 97 %), 4 % unknown (the tables end before an image); "
        "the set alone does not tune it. "
        "Number 2, 24.95 MHz above, is 10.0 points behind it, most for what is usable: 80.0 % against 93.0 %."
    )
    with_alone = findings_for([{}, WITHOUT], [90.0, 80.0], [{}, {"usable_share": 0.7}])
    assert "90 % of it is usable (80 to 95 %), against 70 % with the set alone." in said(with_alone)
    assert "Number 2, the set alone, is 10.0 points behind it" in said(with_alone)
    alike = [{"crystal": 1, "injected_hz": 17_000_000 + at} for at in range(4)]
    near = said(findings_for([{}, *alike], [90.0, 89.5, 89.4, 89.3, 89.2]))
    assert near.endswith("Cannot be told from it: 17 MHz below, 17 MHz below, 17 MHz below and 1 more.")


def test_a_set_that_does_as_well_alone_is_said_to_first() -> None:
    """Whether it cannot be told from the best or is ahead of it; then no crystal is behind anything."""
    as_good = said(findings_for([{}, WITHOUT], [90.0, 89.0]))
    assert as_good.startswith(
        "None of these crystals: the set alone cannot be told from the best of them; no converter here is "
        "worth its building. Number 1: crystal 17.5 MHz"
    )
    ahead = said(findings_for([{}, WITHOUT], [80.0, 89.0], [{"usable_share": 0.8}, {"usable_share": 0.89}]))
    assert ahead.startswith(
        "None of these crystals: the best is 9.0 points behind the set alone, most for what is usable: "
        "80.0 % against 89.0 %; no converter here is worth its building. That is for AM: --mode ssb or "
        "cw asks for those. Number 2: crystal 17.5 MHz"
    )
    assert "is 9.0 points behind it" not in ahead


def test_where_no_crystal_serves_or_none_where_it_was_asked_for_it_is_said_first() -> None:
    """Nothing brings all of it into one range; or not into the stretch of the dial that was named."""
    assert said(findings_for([{"lost_hz": 10}], [90.0])) == (
        "No crystal here brings all of it into one range; what each one loses is below."
    )
    elsewhere = said(findings_for([{}], [90.0], tune=(4_000_000, 5_000_000)))
    assert elsewhere.startswith("No crystal here puts all of it into 4-5 MHz; the best otherwise: Number 1")
    asked = SimpleNamespace(crystal=SimpleNamespace(frequency_hz=17_500_000), multiplier=None, side=None)
    lost = said(findings_for([{"lost_hz": 10_000}], [90.0], about=asked))
    assert "It loses 10 kHz of that." in lost
    two = findings_for([{}, {"cover": 1, "crystal": 1}], [90.0, 80.0], covers=(COVER, SECOND))
    assert [text[:20] for text in page.summary(two)] == ["21-21.45 MHz: Number", "28-28.45 MHz: Number"]
