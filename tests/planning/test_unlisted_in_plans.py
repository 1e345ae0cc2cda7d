"""What is planned where the tables list hardly anybody: no headline judges as if nobody else were there."""

from __future__ import annotations

from pathlib import Path

import pytest

import spurplan
from spurplan.columns import Answer
from spurplan.occupancy.bands import Bands
from spurplan.planning.converter.findings import Candidate
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts import converter as charts_converter
from spurplan.reporting.charts import cures as charts_cures
from spurplan.reporting.charts import if_change as charts_if_change
from spurplan.reporting.charts.sheet import Dots, Stroke
from spurplan.reporting.layout import View
from spurplan.reporting.views import converter, cures, if_change
from tests.drawn_sets import quiet, unlisted

SAID = "the tables list hardly anybody on its images"
Set = tuple[Receiver, Bands]


@pytest.fixture
def few(tmp_path: Path) -> Set:
    return unlisted(tmp_path)


@pytest.fixture
def whole(tmp_path: Path) -> Set:
    return quiet(tmp_path)


def headline(view: View) -> str:
    return view.heading[0]


def test_nobody_tells_what_to_cure(few: Set, whole: Set) -> None:
    """In place of "Nothing to cure", and no cure is offered; of tables that know the spectrum that stands."""
    receiver, bands = few
    answer = spurplan.cures(receiver, bands=bands, range="short")
    assert answer.findings.sentences == (f"Nobody can tell what there is to cure: {SAID}.",)
    assert not cures.view(answer).tables
    receiver, bands = whole
    told = spurplan.cures(receiver, bands=bands, range="short").findings.sentences
    assert told[0].startswith("Nothing to cure")
    assert SAID not in " ".join(told)


def test_part_of_a_dial_is_told_apart(few: Set) -> None:
    """With ranges of which the tables tell enough, the share of the rest stands in the first sentence."""
    receiver, bands = few
    found = spurplan.cures(receiver, bands=bands).findings
    ranges = spurplan.ranges(receiver, bands=bands).ranges.records()
    width = {row["range"]: row["high_hz"] - row["low_hz"] + 1 for row in ranges}
    share = sum(row["unlisted_share"] * width[row["range"]] for row in ranges) / sum(width.values())
    assert found.present.unlisted == pytest.approx(share, abs=1e-6)
    assert found.sentences[0].startswith(f"Nobody can tell of {100 * share:.0f} % of the dial")
    assert found.sentences[0].count(SAID) == 1


def test_a_recommendation_holds_for_those_listed(tmp_path: Path) -> None:
    """A local on the image is cured; who else is there, nobody can tell, and the advice says so."""
    receiver, _ = unlisted(tmp_path)
    path = tmp_path / "local.csv"
    rows = ("100000,100000,Low,-150", "4500000,5500000,Hill,-10", "60000000,60000000,Far,-150")
    lines = [",".join((low, high, "broadcast", *rest)) for low, high, *rest in (r.split(",") for r in rows)]
    path.write_text(
        "low_hz,high_hz,service,label,level\n" + "".join(f"{line} dBm\n" for line in lines), "utf-8"
    )
    found = spurplan.cures(receiver, bands=path, range="short").findings
    assert found.recommended is not None
    assert found.sentences[0].startswith("Best for the least")
    assert found.sentences[0].endswith(f"{SAID}.")


def test_another_if_is_no_better_known(few: Set, whole: Set) -> None:
    """One range, all of them, and each range of them."""
    receiver, bands = few
    one = if_change.view(spurplan.if_change(receiver, bands=bands, if_="1600kHz", range="short"))
    assert f"nobody can tell how much of it is usable: {SAID}" in headline(one)
    assert "beyond luck" not in headline(one)
    every = if_change.view(spurplan.if_change(receiver, bands=bands, if_="1600kHz"))
    assert SAID in headline(every)
    receiver, bands = whole
    assert SAID not in " ".join(
        if_change.view(spurplan.if_change(receiver, bands=bands, if_="1600kHz")).heading
    )


def test_the_verdict_over_the_picture_says_it(few: Set) -> None:
    receiver, bands = few
    findings = spurplan.if_change(receiver, bands=bands, if_="1600kHz", range="short").findings
    assert if_change.verdict(findings).startswith("Nobody can tell whether another IF would be better")


def test_a_converter_is_not_called_usable(few: Set, whole: Set) -> None:
    receiver, bands = few
    asked = {"cover": "28MHz:29MHz", "crystal": "26MHz"}
    said = converter.summary(spurplan.converter(receiver, bands=bands, **asked).findings)[0]
    assert f"Nobody can tell how much of it is usable: {SAID}." in said
    assert "of it is usable;" not in said
    receiver, bands = whole
    assert SAID not in converter.summary(spurplan.converter(receiver, bands=bands, **asked).findings)[0]


def test_the_strip_of_cures_draws_it_as_unknown(few: Set, whole: Set) -> None:
    """The share that is usable for all that is listed is no solid ink, and the key says what the dots are."""
    receiver, bands = few
    told = "usable"
    dots = "unknown: the tables tell nothing of an image"
    for picked, solid, dotted in (("short", False, True), (None, True, True)):
        answer = spurplan.cures(receiver, bands=bands, range=picked)
        said = {word.text for word in charts_cures.sheet(answer, receiver, 500.0).words()}
        assert (told in said, dots in said) == (solid, dotted), picked
    receiver, bands = whole
    answer = spurplan.cures(receiver, bands=bands)
    said = {word.text for word in charts_cures.sheet(answer, receiver, 500.0).words()}
    assert told in said
    assert dots not in said


def test_the_strips_of_converters_are_called_clear_nowhere(few: Set) -> None:
    receiver, bands = few
    answer = spurplan.converter(receiver, bands=bands, cover="28MHz:29MHz", crystal="26MHz")

    def heard(candidate: Candidate | None) -> Answer:
        behind = receiver if candidate is None else answer.findings.behind(candidate)
        return spurplan.ranges(behind, bands=bands)

    said = " ".join(word.text for word in charts_converter.sheet(answer, receiver, 720.0, heard).words())
    assert "nowhere clear, 100 % unknown" in said or "nowhere clear, over 99 % unknown" in said
    assert "all clear" not in said


def test_tables_of_plans_say_what_is_not_listed(few: Set, whole: Set) -> None:
    """The share of the headline stands in the rows of JSON as in `ranges`, and in a column of the page."""
    receiver, bands = few
    share = spurplan.ranges(receiver, bands=bands, range="short").ranges.records()[0]["unlisted_share"]
    assert share > 0.5
    changed = spurplan.if_change(receiver, bands=bands, range="short", if_="1600kHz", scan="450kHz:480kHz")
    now = changed.proposals.records()[0]
    assert now["unlisted_share"] == pytest.approx(share, abs=1e-6)
    present = next(r for r in changed.scan.records() if r["if_hz"] == now["if_hz"])
    assert present["unlisted_share"] == pytest.approx(share, abs=1e-6)
    tried = spurplan.cures(receiver, bands=bands, range="short")
    assert {r["unlisted_share_before"] for r in tried.cures.records()} == {tried.settings["unlisted_share"]}
    assert tried.settings["unlisted_share"] == pytest.approx(share, abs=1e-6)
    built = spurplan.converter(receiver, bands=bands, cover="28MHz:29MHz", crystal="26MHz")
    able = [r for r in built.candidates.records() if r["usable_share"] is not None]
    assert able
    assert all(r["unlisted_share"] > 0.5 for r in able)
    assert "Not listed" in heads(if_change.view(changed), "range short")
    assert "Not listed" in heads(if_change.view(changed), "best and usual IFs")
    assert "Not listed" in heads(converter.view(built), "candidates")
    # with ranges of which the tables tell, there is something to choose from
    assert "Not listed" in heads(cures.view(spurplan.cures(receiver, bands=bands)), "cures")
    receiver, bands = whole
    told = spurplan.if_change(receiver, bands=bands, range="short", if_="1600kHz")
    assert "Not listed" not in heads(if_change.view(told), "range short")
    assert "Not listed" not in heads(cures.view(spurplan.cures(receiver, bands=bands)), "cures")


def heads(view: View, name: str) -> list[str]:
    return [show.head for show in view.layouts[name]]


def test_a_scan_draws_what_hardly_anybody_is_listed_on_as_unknown(few: Set, whole: Set) -> None:
    """No solid curve over it but a dotted one, dots below it, and the list says of whom it holds."""
    for (receiver, bands), solid in ((few, False), (whole, True)):
        answer = spurplan.if_change(receiver, bands=bands, range="short", scan="450kHz:480kHz")
        made = charts_if_change.sheet(answer, receiver, 500.0)
        plot = max(
            item.points[0][1] for item in made.items if isinstance(item, Stroke) and item.pen.width > 2.0
        )
        pens = {item.pen for item in made.items if isinstance(item, Stroke) and item.points[0][1] <= plot}
        assert (charts_if_change.CURVE in pens) is solid
        assert (charts_if_change.LISTED in pens) is not solid
        said = " ".join(word.text for word in made.words())
        assert ("usable for all that is listed" in said) is not solid
        below = [item.box for item in made.items if isinstance(item, Dots) and item.box.bottom <= plot]
        curve = answer.findings.curve
        assert bool(below) is not solid
        assert (curve.unlisted > 0.5).all() == (not solid)
