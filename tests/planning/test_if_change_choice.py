"""Which IF is recommended, on which side and where, and what the page says of it: made-up shares, by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from spurplan.columns import Answer, table_of
from spurplan.errors import Refused
from spurplan.planning.decision import compare
from spurplan.planning.if_change.costs import Costs
from spurplan.planning.if_change.findings import Findings
from spurplan.planning.if_change.if_change import FILTER_COLUMNS
from spurplan.planning.if_change.nearby import Near, Nearby, nearby_if
from spurplan.planning.if_change.oscillator import TRACKING_COLUMNS
from spurplan.planning.if_change.proposal_table import RADIATES_COLUMNS, Assessment
from spurplan.planning.if_change.proposals import Asked, Proposal, asked_for, proposals, with_change
from spurplan.planning.if_change.rejection import REJECTION_COLUMNS
from spurplan.planning.if_change.scan import Scan, best_of, merged, round_the_best
from spurplan.planning.if_change.scan_list import Scanned, Why, pick_of, scan_list
from spurplan.planning.if_change.verdict import Fate, Verdict
from spurplan.planning.outlook import Outlook, Together
from spurplan.planning.reason import Reason
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.reporting.layout import View
from spurplan.reporting.views import if_change as page
from spurplan.responses.listening.findings import Loss
from tests.planning.test_decision import finding

SET = Receiver.from_dict(
    {
        "name": "Two ranges",
        "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}],
        "range": [
            {"name": "1", "coverage": ["3 MHz", "4 MHz"]},
            {"name": "2", "coverage": ["6 MHz", "9 MHz"]},
        ],
    }
)
# usable part of each range by IF in kHz and the side of the oscillator
Shares = Mapping[tuple[str, int, str], float | tuple[float, ...]]
NOW: dict[tuple[str, int, str], float | tuple[float, ...]] = {
    ("1", 465, "high"): 0.5,
    ("2", 465, "high"): 0.6,
}


def outlook_of(share: float | tuple[float, ...], edges: tuple[int, int], **more: Any) -> Outlook:
    worlds = np.array(share if isinstance(share, tuple) else (share,) * 10)
    usable = float(worlds.mean())
    span = {"usable": usable, "usable_low": usable, "usable_high": usable}
    return Outlook(finding(*edges, **span, **more), worlds)


def found(
    asked: list[str], shares: Shares, costs: Mapping[tuple[str, int, str], Costs] | None = None, **more: Any
) -> Findings:
    """Return what is found of IFs where so much of each range is usable; none of what is not named."""
    changes = asked_for(SET, asked, None)
    made = proposals(SET, SET.ranges, changes)
    present: dict[str, Outlook] = {}
    some = []
    for one in made:
        name, if_hz, side = one.range.name, one.change.if_hz or 465_000, one.side
        key = (name, if_hz // 1_000, side)
        if one.receiver is None:
            verdict = Verdict(Fate.impossible, refusal=one.refusal)
        else:
            now = outlook_of((NOW | dict(shares)).get(key, 0.0), (one.range.low_hz, one.range.high_hz))
            present.setdefault(name, now)
            was = present[name]
            gain = None if one.change.present else compare(now.worlds, was.worlds)
            own = (costs or {}).get(key, Costs())
            verdict = Verdict(Fate.present if gain is None else Fate.changed, now, was, gain, costs=own)
        some.append(Assessment(one, if_hz, None, side, verdict))
    return Findings(SET, SET.ranges, changes, tuple(some), **more)


def seen(findings: Findings, **settings: Any) -> View:
    """Return the page of these findings; of what is no matter here nothing."""
    columns = {"tracking": TRACKING_COLUMNS, "filters": FILTER_COLUMNS, "radiates": RADIATES_COLUMNS}
    tables = {name: table_of(name, some, []) for name, some in columns.items()}
    return page.view(Answer("Two ranges", settings, (), (), tables, findings))


BOTH = {("1", 1600, "high"): 0.9, ("2", 1600, "high"): 0.95}

# --- what is recommended ---------------------------------------------------------------------


def test_an_if_that_is_better_on_both_ranges_is_recommended() -> None:
    """A quarter of the dial on range 1, three on range 2: 57.5 % now, 93.75 % then, for nine evenings."""
    got = found(["1600kHz"], BOTH)
    assert got.text == "IF 1600 kHz"
    assert got.changes == (Asked(1_600_000),)
    assert (got.effort, got.kept, got.costs) == (8.0, False, ())
    assert got.proposed is not None
    # the chain that both share is changed, and neither gets one of its own
    assert [one.if_hz for one in got.proposed.conversions] == [1_600_000]
    assert [one.conversions for one in got.proposed.ranges] == [None, None]
    assert got.curve is None
    heading = seen(got).heading
    assert heading == (
        "Change to an IF of 1600 kHz: on a busy evening 94 % of the dial is usable instead of 57 %. "
        "It costs some 8 evenings.",
        "Range 1: 1600 kHz above is better; on a busy evening 90 % of it is usable instead of 50 %.",
        "Range 2: 1600 kHz above is better; on a busy evening 95 % of it is usable instead of 60 %.",
    )


def test_the_oscillator_goes_to_the_side_that_is_worth_moving_it() -> None:
    """On range 2 below, where that brings five points; two points are not worth the evenings."""
    below = {**BOTH, ("2", 1600, "high"): 0.85, ("2", 1600, "low"): 0.95, ("1", 1600, "low"): 0.92}
    got = found(["1600kHz"], below)
    assert got.changes == (Asked(1_600_000), Asked(other_side=True, range_name="2"))
    assert [got.recommended[name].injection for name in ("1", "2")] == ["high", "low"]
    assert got.proposed is not None
    sides = [got.proposed.plans_of(one)[0].lo for one in got.proposed.ranges]
    assert [side > 0 for side in sides] == [True, False]
    only_below = {**BOTH, ("2", 1600, "low"): 0.9, ("2", 1600, "high"): 0.5}
    assert found(["1600kHz"], only_below).recommended["2"].injection == "low"


def test_what_can_not_be_ganged_stands_behind_what_can() -> None:
    """However much it brings; where neither side tracks nobody would build it."""
    untracked = Costs(tracks=False)
    got = found(["1600kHz"], {**BOTH, ("2", 1600, "low"): 0.7}, {("2", 1600, "high"): untracked})
    assert got.recommended["2"].injection == "low"
    none = found(
        ["1600kHz"],
        {**BOTH, ("2", 1600, "low"): 0.7},
        {("2", 1600, "high"): untracked, ("2", 1600, "low"): untracked},
    )
    assert none.kept
    assert none.plans[1].objections == ("nothing tracks it on range 2",)
    assert none.possible == []


def test_a_moved_oscillator_alone_is_a_change_of_its_own() -> None:
    """Three evenings of it, where the present IF is better on the other side."""
    got = found(["1600kHz"], {("1", 465, "low"): 0.9, ("1", 1600, "high"): 0.5, ("2", 1600, "high"): 0.6})
    assert got.changes == (Asked(other_side=True, range_name="1"),)
    assert got.effort == 3.0
    assert [plan.change.other_side for plan in got.plans] == [False, True, False]
    assert got.noun == "the oscillator on the other side on range 1"


def test_nothing_is_changed_where_nothing_is_better() -> None:
    """The present IF is kept, nothing proposed; and it is said by which rule."""
    got = found(["1600kHz"], {("1", 1600, "high"): 0.5, ("2", 1600, "high"): 0.61})
    assert (got.kept, got.proposed, got.changes, got.text) == (True, None, (), "the present IF")
    assert got.noun == "the present IF"
    assert got.chosen.present
    assert seen(got).heading[:2] == (
        "Keep the present IF: on a busy evening 57 % of the dial is usable. "
        "Nothing here is better beyond luck.",
        "An IF of 1600 kHz is no better: 58 % usable.",
    )
    little = found(["1600kHz"], {("1", 1600, "high"): 0.53, ("2", 1600, "high"): 0.63})
    assert little.kept
    assert "3 points more are not worth 8 evenings." in seen(little).heading[0]


def test_what_lies_inside_a_range_is_not_recommended_and_says_so() -> None:
    """3.5 MHz lies inside range 1, whatever it brings to range 2."""
    got = found(["3500kHz"], {("1", 3500, "high"): 0.9, ("2", 3500, "high"): 0.9})
    assert got.kept
    assert got.plans[1].objections == ("3.5 MHz lies inside range 1",)
    heading = seen(got).heading
    assert "What is better here is nothing that an old hand would build." in heading[0]
    assert heading[1] == "An IF of 3.5 MHz is better: 90 % usable, but 3.5 MHz lies inside range 1."
    # of range 2 alone it may be, range 1 keeps its own
    alone = found(["2=3500kHz"], {("2", 3500, "high"): 0.9})
    assert alone.changes == (Asked(3_500_000, range_name="2"),)
    assert alone.noun == "an IF of 3.5 MHz on range 2"
    assert seen(alone).heading[0].startswith("Change to an IF of 3.5 MHz on range 2 alone. It costs some")


def test_a_gamble_is_not_recommended_whatever_it_brings() -> None:
    """Better in six worlds of ten, worse in four."""
    luck = (1.0,) * 6 + (0.3,) * 4
    got = found(["1600kHz"], {("1", 1600, "high"): luck, ("2", 1600, "high"): luck})
    assert got.plans[1].word == "a gamble"
    assert got.kept


def test_what_can_not_be_told_from_it_is_named_and_what_it_costs() -> None:
    """The least work of two alike, the other named; costs range by range, a width once."""
    both = {**BOTH, ("1", 1650, "high"): 0.9, ("2", 1650, "high"): 0.95}
    costs = {
        ("1", 1600, "high"): Costs(through=Loss("IF breakthrough", "Coast", 0.13), coils_hz=20_645),
        ("2", 1600, "high"): Costs(coils_hz=20_645),
    }
    got = found(["1600kHz", "1650kHz"], both, costs)
    assert got.changes == (Asked(1_650_000),)
    assert [plan.effort for plan in got.plans] == [0.0, 12.0, 8.0]
    heading = seen(got).heading
    assert heading[0].endswith("It costs some 8 evenings. Not told apart: an IF of 1600 kHz.")
    assert heading[1] == (
        "An IF of 1600 kHz is better: 94 % usable; range 1: Coast breaks through on it, 13 % lost; "
        "coils of the present Q pass 20.6 kHz: it wants a filter of its own."
    )


def test_evenings_are_said_one_by_one() -> None:
    """One is one evening, half a one is not."""
    assert [page.evenings_text(effort) for effort in (1.0, 8.0, 1.5)] == [
        "1 evening",
        "8 evenings",
        "1.5 evenings",
    ]
    assert [page.said_of(word) for word in ("better", "no difference", None)] == [
        "better", "no better", "not compared"
    ]  # fmt: skip


def test_a_stretch_that_matters_is_weighed_by_what_each_range_tunes_of_it() -> None:
    """Of 3.5 to 7 MHz half a megahertz is on range 1 and one on range 2."""
    got = found(["1600kHz"], BOTH, cover=(3_500_000, 7_000_000))
    assert got.plans[0].together.width_hz == 500_001 + 1_000_001
    assert "of 3.5 MHz to 7 MHz is usable instead of" in seen(got).heading[0]
    assert "Range 1, 3.5 MHz to 7 MHz: 1600 kHz above is better" in seen(got).heading[1]


def test_an_if_that_can_be_had_on_one_side_alone_is_had_there() -> None:
    """Where neither side can be had on a range nobody would build it, and it says where."""

    def without(key: tuple[str, str], findings: Findings) -> Findings:
        some = [
            replace(one, verdict=Verdict(Fate.impossible, refusal="no"))
            if (one.proposal.range.name, one.injection) == key and one.if_hz == 1_600_000
            else one
            for one in findings.assessments
        ]
        return replace(findings, assessments=tuple(some))

    both_sides = {**BOTH, ("2", 1600, "low"): 0.95}
    one = without(("2", "high"), found(["1600kHz"], both_sides))
    assert [one.recommended[name].injection for name in ("1", "2")] == ["high", "low"]
    neither = without(("2", "low"), one)
    assert neither.plans[1].parts[1] is None
    assert neither.plans[1].objections == ("it can not be had on range 2",)
    assert neither.kept
    assert neither.plans[1].together.usable == pytest.approx(0.9 * 1_000_001 / 4_000_002)


# --- one near by -----------------------------------------------------------------------------


def test_one_near_by_is_offered_for_the_ranges_that_gain() -> None:
    """With why not the one asked about, how much each range gains and what a second strip costs."""
    range_2 = SET.ranges[1]
    was, after = (outlook_of(share, (range_2.low_hz, range_2.high_hz)) for share in (0.6, 0.9))
    near = Nearby(1_600_000, 1_650_000, (Near(range_2, was, after, compare(after.worlds, was.worlds)),))
    got = found(["1600kHz"], {("1", 1600, "high"): 0.5, ("2", 1600, "high"): 0.62}, nearby=near)
    assert seen(got).heading[0] == (
        "1600 kHz: no, it is no better; keep 465 kHz. On range 2 alone 1650 kHz would be better, usable "
        "90 % for 60 %, at the price of a second IF strip: ask with --if 2=1650kHz. "
        "Now on a busy evening 57 % of the dial is usable."
    )
    costs = {("2", 1600, "high"): Costs(through=Loss("IF breakthrough", "Coast", 0.13))}
    blocked = found(["1600kHz"], {("1", 1600, "high"): 0.5, ("2", 1600, "high"): 0.62}, costs, nearby=near)
    assert seen(blocked).heading[0].startswith("1600 kHz: no, Coast breaks through on it; keep 465 kHz.")
    inside = found(["3500kHz"], {}, nearby=replace(near, asked_hz=3_500_000))
    assert seen(inside).heading[0].startswith("3.5 MHz: no, it lies inside range 1; keep 465 kHz.")


def test_the_nearest_of_those_that_most_ranges_gain_by_is_offered() -> None:
    """Usual and round IFs within a tenth; none inside a range that would have it, none for luck."""

    class OneRange:
        """A range of which so much is usable with each IF."""

        def __init__(self, ranges: Any, chains: Any, *_: Any) -> None:
            self.ranges, self.chains = ranges, chains
            self.present_hz = {465_000}
            self.place = self.settings = self.cover = None

        def together(self, if_hz: Any) -> list[Together]:
            (one,) = self.ranges
            assert len(if_hz), "what would come of no IF is not asked"
            shares = [GAINS.get((one.name, hz), 0.5) for hz in if_hz.tolist()]
            tried.extend(if_hz.tolist())
            return [Together(1, (outlook_of(share, (one.low_hz, one.high_hz)),)) for share in shares]

    tried: list[int] = []
    chain = SimpleNamespace(conversions=1)
    axis: Any = OneRange(SET.ranges, (chain, chain))

    def near(asked_hz: int) -> tuple[int, list[str]] | None:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("spurplan.planning.if_change.nearby.Axis", OneRange)
            got = nearby_if(axis, SET, [Asked(), Asked(asked_hz)])
        return None if got is None else (got.if_hz, [one.range.name for one in got.ranges])

    GAINS = {("1", 1_550_000): 0.9, ("1", 1_650_000): 0.9, ("2", 1_650_000): 0.6, ("1", 1_700_000): 0.9,
             ("2", 1_700_000): 0.56}  # fmt: skip
    assert near(1_600_000) == (1_650_000, ["1", "2"])
    assert set(tried) == {
        465_000,
        1_450_000,
        1_500_000,
        1_550_000,
        1_600_000,
        1_650_000,
        1_700_000,
        1_750_000,
    }
    # of 40 MHz a tenth either way: steps of 50 kHz would be 160, of 800 kHz they are ten
    tried.clear()
    assert near(40_000_000) is None
    assert set(tried) - {465_000, 40_000_000} == {800_000 * k for k in range(45, 56)} - {40_000_000}
    GAINS = {("2", 1_700_000): 0.9, ("2", 1_550_000): 0.9, ("1", 1_600_000): 0.54}
    assert near(1_600_000) == (1_550_000, ["2"])
    GAINS = {("1", 3_500_000): 0.9}
    assert near(3_500_000) is None
    GAINS = {("2", 3_500_000): 0.9}
    assert near(3_500_000) == (3_500_000, ["2"])
    assert nearby_if(axis, SET, [Asked()]) is None
    assert nearby_if(axis, SET, [Asked(1_600_000, range_name="1")]) is None
    double: Any = OneRange(SET.ranges, (chain, SimpleNamespace(conversions=2)))
    assert nearby_if(double, SET, [Asked(1_600_000)]) is None


# --- a scan ----------------------------------------------------------------------------------


def scan_of(*rows: tuple[int, float, float], built: tuple[tuple[bool, bool], ...] | None = None) -> Scan:
    """Return a scan of IFs with the usable parts of a range of 1 MHz and of one of 3 MHz."""
    count = len(rows)
    return Scan(
        if_hz=np.array([if_hz for if_hz, _, _ in rows], dtype=np.int64),
        usable=np.array([[one, two] for _, one, two in rows]),
        unknown=np.full((count, 2), 0.04),
        unlisted=np.zeros((count, 2)),
        low_share=np.zeros(count), high_share=np.ones(count),
        built=np.array(built if built is not None else [(True, True)] * count),
        width_hz=np.array([1_000_000, 3_000_000], dtype=np.int64),
    )  # fmt: skip


def test_ranges_of_a_scan_are_weighed_by_their_dial() -> None:
    """A quarter of the one and three quarters of the other."""
    scan = scan_of((1_000_000, 0.4, 0.8), (2_000_000, 0.8, 0.4))
    assert scan.usable_share.tolist() == pytest.approx([0.7, 0.5])
    assert scan.unknown_share.tolist() == pytest.approx([0.04, 0.04])


def test_the_best_of_a_scan_are_places_of_their_own() -> None:
    """None within 3 % of a better one, of equals the lower, none that can not be had."""
    rows = [(1_000_000, 0.9, 0.9), (1_030_000, 0.8, 0.8), (1_031_000, 0.9, 0.9), (2_000_000, 0.95, 0.95),
            (3_000_000, 0.99, 0.99), (4_000_000, 0.1, 0.1)]  # fmt: skip
    able = [(True, True)] * 6
    able[4] = (False, False)
    scan = scan_of(*rows, built=tuple(able))
    assert [rows[at][0] for at in best_of(scan, 5)] == [2_000_000, 1_000_000, 1_031_000, 4_000_000]
    assert [rows[at][0] for at in best_of(scan, 2)] == [2_000_000, 1_000_000]
    closer = round_the_best(scan_of((1_000_000, 0.9, 0.9), (1_009_000, 0.1, 0.1)))
    assert closer.tolist() == [1_001_000 + 1_000 * number for number in range(8)]
    two = merged(scan_of((2_000_000, 0.2, 0.2)), scan_of((1_000_000, 0.1, 0.1), (3_000_000, 0.3, 0.3)))
    assert two.if_hz.tolist() == [1_000_000, 2_000_000, 3_000_000]
    assert two.usable[:, 0].tolist() == [0.1, 0.2, 0.3]


def scanned(if_hz: int, share: float | tuple[float, ...], effort: float = 8.0, **more: Any) -> Scanned:
    range_ = SET.ranges[0]
    part = outlook_of(share, (range_.low_hz, range_.high_hz))
    present = outlook_of(0.5, (range_.low_hz, range_.high_hz))
    said: dict[str, Any] = {
        "rank": 0, "before": 0.5, "image_rejection_db": 30.0, "usual": None, "reasons": (),
        "gain": compare(part.worlds, present.worlds),
    }  # fmt: skip
    width_hz = range_.high_hz - range_.low_hz + 1
    return Scanned(if_hz=if_hz, together=Together(width_hz, (part,)), effort=effort, **(said | more))


PRESENT = scanned(465_000, 0.5, 0.0, gain=None)


def test_of_a_scan_the_least_work_that_brings_most_is_picked() -> None:
    """None that nobody would build, no gamble; where none is worth it the best is told of all the same."""
    inside = scanned(3_500_000, 0.99, reasons=(Reason(Why.objection, "lies inside range 1"),))
    luck = scanned(2_000_000, (1.0,) * 6 + (0.3,) * 4)
    best, less = scanned(1_234_000, 0.9, 13.0), scanned(1_600_000, 0.85, 8.0)
    assert pick_of([inside, luck, best, less, PRESENT]) == 1_600_000
    assert pick_of([inside, best, PRESENT]) == 1_234_000
    little = [scanned(1_700_000, 0.52), scanned(1_650_000, 0.51)]
    assert pick_of([*little, PRESENT]) == 1_700_000
    assert pick_of([PRESENT, inside, luck]) == 3_500_000
    assert pick_of([PRESENT]) is None


def test_ifs_of_a_scan_stand_by_what_is_usable_then_by_image_then_lower_first() -> None:
    """A share is told to a hundredth of a percent; no image known is worse than any."""
    some = [
        scanned(1_000_000, 0.8, image_rejection_db=20.0),
        scanned(2_000_000, 0.80001, image_rejection_db=30.0),
        scanned(1_900_000, 0.8, image_rejection_db=30.0),
        scanned(900_000, 0.8, image_rejection_db=None),
        scanned(3_000_000, 0.81, image_rejection_db=1.0),
    ]
    order = [one.if_hz for one in sorted(some, key=lambda one: one.merit)]
    assert order == [3_000_000, 1_900_000, 2_000_000, 1_000_000, 900_000]
    row = some[0].record()
    assert (row["usable_before"], row["usable_after"], row["usable_gain"]) == pytest.approx((0.5, 0.8, 0.3))


def test_a_scan_is_said_with_the_best_of_it() -> None:
    """How many were tried from where to where; what stands against the best; or that none is better."""
    some = scan_of((1_000_000, 0.4, 0.8), (1_600_000, 0.8, 0.4))
    tried = "2 IFs from 400 kHz to 12 MHz tried, the usual ones among them, closer round the best."

    def said(*listed: Scanned) -> str:
        got = found(["1600kHz"], BOTH, scan=some, scanned=listed)
        # the curve is drawn, not said
        return seen(got, scan_low_hz=400_000, scan_high_hz=12_000_000).heading[-1]

    better = scanned(1_600_000, 0.9, rank=1)
    assert said(better, PRESENT) == f"{tried} Most is usable with 1600 kHz, 90 %."
    inside = scanned(3_500_000, 0.9, reasons=(Reason(Why.objection, "lies inside range 1"),), rank=1)
    assert said(inside, PRESENT) == f"{tried} Most is usable with 3.5 MHz, 90 %, but it lies inside range 1."
    none = f"{tried} With none of them is more of the dial usable than with the present one."
    assert said(scanned(1_600_000, 0.51, rank=1), PRESENT) == none
    assert said(PRESENT, better) == none
    assert said().startswith(f"{tried} None can be had")
    rows = seen(found(["1600kHz"], BOTH, scan=some, scanned=(better, PRESENT)), scan_low_hz=1, scan_high_hz=2)
    first, second = rows.tables["best and usual IFs"].records()
    assert (first["gain"], first["gain_span"], first["face"]) == ("+40.0", "40 to 40", "better")
    assert (second["gain"], second["gain_span"], second["face"]) == (None, None, "present")


def test_a_scan_lists_the_best_the_usual_and_the_present_with_what_stands_against_each(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The present IF as it is, one inside a range, one not to be had on a range, one with a mast on it."""

    class Shares:
        """The two ranges: so much usable of each with each IF, who takes it; None if it can not be had."""

        def __init__(self, ranges: Any, chains: Any, *_: Any) -> None:
            self.ranges, self.chains = ranges, chains
            self.present_hz = {465_000}
            self.place = self.settings = self.cover = None

        def together(self, if_hz: Any) -> list[Together]:
            out = []
            for hz in if_hz.tolist():
                parts = []
                for one in self.ranges:
                    share, losses = USABLE[hz][int(one.name) - 1]
                    edges = (one.low_hz, one.high_hz)
                    more = {"losses": tuple(Loss("image", who, part) for who, part in losses)}
                    parts.append(None if share is None else outlook_of(share, edges, **more))
                width_hz = sum(one.high_hz - one.low_hz + 1 for one in self.ranges)
                out.append(Together(width_hz, tuple(parts)))
            return out

    USABLE: dict[int, list[tuple[float | None, list[tuple[str, float]]]]] = {
        465_000: [(0.5, []), (0.5, [])],
        1_600_000: [(0.6, [("Light", 0.3), ("Buoy", 0.009)]), (0.9, [("Mast", 0.1), ("Relay", 0.2)])],
        2_100_000: [(0.9, []), (None, [])],
        3_500_000: [(0.7, []), (0.7, [])],
    }
    scan = scan_of((465_000, 0.5, 0.5), (1_600_000, 0.6, 0.9), (2_100_000, 0.9, 0.0), (3_500_000, 0.7, 0.7),
                   built=((True, True), (True, True), (True, False), (True, True)))  # fmt: skip
    monkeypatch.setattr("spurplan.planning.if_change.scan_list.Axis", Shares)
    axis: Any = Shares(SET.ranges, [compile_chains([(SET, one)])[0] for one in SET.ranges])
    loud: Any = SimpleNamespace(
        low_hz=np.array([1_596_000, 1_600_000, 1_603_000, 1_604_000]),
        high_hz=np.array([1_597_000, 1_600_000, 1_603_000, 1_700_000]),
        level_dbm=np.array([-60.0, -74.0, -53.0, 0.0]),
        label_of=lambda at: ["Below", "Faint", "On the edge", "Beside"][at],
    )
    listed = {one.if_hz: one for one in scan_list(scan, axis, SET, loud)}
    assert [(hz, one.rank) for hz, one in listed.items()] == [
        (1_600_000, 1), (3_500_000, 2), (465_000, 3), (2_100_000, 4)
    ]  # fmt: skip
    said = {hz: [(reason.about, reason.text) for reason in one.reasons] for hz, one in listed.items()}
    assert said == {
        # the larger part of dial first; under a hundredth nobody is named; S9 and stronger in its passband
        1_600_000: [
            (Why.spoilt, "20 % of range 2 lost to Relay by image"),
            (Why.spoilt, "30 % of range 1 lost to Light by image"),
            (Why.spoilt, "10 % of range 2 lost to Mast by image"),
            (Why.on_it, "On the edge stands on it, S9+20"),
            (Why.coils, "coils of the present Q pass 20.6 kHz, too wide"),
        ],
        3_500_000: [
            (Why.objection, "lies inside range 1"),
            (Why.coils, "coils of the present Q pass 45.2 kHz, too wide"),
        ],
        465_000: [(Why.present, "the present IF")],
        2_100_000: [
            (Why.objection, "can not be had on range 2"),
            (Why.coils, "coils of the present Q pass 27.1 kHz, too wide"),
        ],
    }
    assert [one.effort for one in listed.values()] == [12.0, 13.0, 0.0, 12.0]
    assert [one.objected for one in listed.values()] == [False, True, False, True]
    present = listed[465_000]
    assert (present.gain, present.present, present.before) == (None, True, 0.5)
    best = listed[1_600_000]
    assert best.gain is not None
    assert best.gain.gain == pytest.approx((0.6 * 1_000_001 + 0.9 * 3_000_001) / 4_000_002 - 0.5)
    assert best.usual is not None
    assert listed[3_500_000].usual is None
    assert best.image_rejection_db is not None
    nothing = scan_of((1_600_000, 0.0, 0.0), built=((False, False),))
    assert scan_list(nothing, axis, SET, loud) == ()


# --- what is proposed ------------------------------------------------------------------------


def test_changes_are_asked_for_each_with_its_other_side() -> None:
    """The present IF first; one of a range alone by its name; a first IF goes with each."""
    got = asked_for(SET, ["1600kHz", "2 = 2 MHz", "1600kHz"], None)
    wanted = [Asked(), Asked(1_600_000), Asked(2_000_000, range_name="2")]
    assert got == tuple(part for one in wanted for part in (one, replace(one, other_side=True)))
    with_first = asked_for(SET, ["455kHz"], "9MHz")
    assert with_first[2] == Asked(455_000, 9_000_000)
    assert asked_for(SET, [], "9MHz")[2] == Asked(first_if_hz=9_000_000)


@pytest.mark.parametrize(
    ("text", "able"), [("1kHz", True), ("999Hz", False), ("200MHz", True), ("200.1MHz", False)]
)
def test_an_if_is_one_that_such_a_set_could_have(text: str, able: bool) -> None:
    """From 1 kHz to 200 MHz, or four times the top of the dial."""
    if able:
        assert len(asked_for(SET, [text], None)) == 4
    else:
        with pytest.raises(Refused, match="tunes to 9 MHz"):
            asked_for(SET, [text], None)


def test_a_first_if_puts_a_conversion_ahead_of_the_one_there_is() -> None:
    """The tuned mixer to the first IF, a fixed one to the present IF, its oscillator below if it can."""
    made = with_change(SET, Asked(first_if_hz=9_500_000))
    first, second = made.conversions
    assert (first.if_hz, second.if_hz, first.injection, second.injection) == (
        9_500_000,
        465_000,
        "high",
        "low",
    )
    assert (first.filter and first.filter.bandwidth_hz, second.filter and second.filter.bandwidth_hz) == (
        15_000,
        6_000,
    )
    low = with_change(SET, Asked(first_if_hz=100_000))
    assert [one.injection for one in low.conversions] == ["high", "high"]
    with pytest.raises(Refused, match="is the last IF already"):
        with_change(SET, Asked(first_if_hz=465_000))
    # on one range alone the others keep theirs, and what the mixer is described as goes along
    alone = with_change(SET, Asked(first_if_hz=9_500_000, range_name="2"))
    assert [len(alone.conversions_of(one)) for one in alone.ranges] == [1, 2]
    again = with_change(alone, Asked(first_if_hz=10_700_000, range_name="2"))
    assert [alone.plans_of(one)[0].if_hz for one in alone.ranges] == [465_000, 9_500_000]
    assert [again.plans_of(one)[0].if_hz for one in again.ranges] == [465_000, 10_700_000]
    # of two conversions the first IF is changed, and no third put ahead
    other = with_change(made, Asked(first_if_hz=10_700_000))
    assert [one.if_hz for one in other.conversions] == [10_700_000, 465_000]


def test_two_ways_of_saying_one_change_are_one_proposal() -> None:
    """What was asked for twice is told of once, and known by either."""
    made = proposals(SET, SET.ranges, asked_for(SET, ["1600kHz", "2=1600kHz"], None))
    on_2 = [one for one in made if one.range.name == "2" and one.change.if_hz == 1_600_000]
    assert len(on_2) == 2
    by_side = next(one for one in on_2 if one.side == "high")
    assert by_side.means(Asked(1_600_000))
    assert by_side.means(Asked(1_600_000, range_name="2"))
    assert not by_side.means(Asked(1_600_000, other_side=True))
    assert isinstance(by_side, Proposal)
    assert by_side.before_hz == (465_000, 6_000)


def test_an_oscillator_goes_to_the_other_side_from_either() -> None:
    """From above to below and back again."""
    below = with_change(SET, Asked(other_side=True))
    assert [below.plans_of(one)[0].lo > 0 for one in below.ranges] == [False, False]
    assert with_change(below, Asked(other_side=True)).plans_of(below.ranges[0])[0].lo > 0
    assert [one.side for one in proposals(below, below.ranges[:1], asked_for(below, [], None))] == [
        "low",
        "high",
    ]


def test_what_can_be_had_on_no_range_is_refused_with_the_reason() -> None:
    """A first IF that is the last one; on one of two ranges it is told of there."""
    with pytest.raises(Refused, match="can be had on none of these ranges") as refused:
        proposals(SET, SET.ranges, asked_for(SET, [], "465kHz"))
    (fault,) = refused.value.faults
    assert (fault.place, fault.value) == ("--first-if", "465 kHz")


# --- image rejection -------------------------------------------------------------------------


def test_ways_to_an_image_rejection_are_explained_with_what_stands_in_the_way() -> None:
    """The figure asked for, and each range's note."""
    rows: list[dict[str, Any]] = [
        {
            "range": "1",
            "rejection_db": 40.0,
            "present_db": 50.0,
            "dial_hz": 4_000_000,
            "note": "has it already",
        },
        {"range": "2", "rejection_db": 40.0, "present_db": 20.0, "dial_hz": 9_000_000, "note": ""},
    ]
    empty = dict.fromkeys(("added_q", "present_circuits_q", "circuits", "if_hz"))
    columns = {"tracking": TRACKING_COLUMNS, "filters": FILTER_COLUMNS, "radiates": RADIATES_COLUMNS}
    tables = {name: table_of(name, some, []) for name, some in columns.items()}
    tables["rejection"] = table_of("rejection", REJECTION_COLUMNS, [empty | row for row in rows])
    got = page.view(Answer("Two ranges", {}, (), (), tables, found(["1600kHz"], BOTH)))
    assert got.remarks[0].startswith("For an image 40 dB down all over a range, any one of")
    assert got.remarks[1:] == ("Range 1: has it already.",)
