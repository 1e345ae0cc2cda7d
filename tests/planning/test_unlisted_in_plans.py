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
