"""Tables that list hardly anybody: what nobody listed is heard on is no clear dial."""

from __future__ import annotations

from pathlib import Path

import pytest

import spurplan
from spurplan.occupancy.occupants import strangers
from spurplan.reporting.charts.verdicts import shares_text
from spurplan.reporting.views.intrusions import UNLISTED_SHARE, view
from spurplan.responses.asking import Settings, loudest_typical_dbm, occupants_of
from spurplan.responses.listening.dial_words import WORDS
from spurplan.responses.ranges import ranges
from spurplan.responses.turning import turned_ranges
from tests.drawn_sets import quiet, unlisted


def test_gaps_are_what_nobody_takes_up(tmp_path: Path) -> None:
    """Between two spots all but the width of their emissions; of a table of the whole spectrum nothing."""
    receiver, bands = unlisted(tmp_path)
    among = occupants_of(receiver, bands, Settings())
    others = strangers(among, -20.0, gaps=True)
    taken = [(low - width // 2, high + width // 2) for low, high, width in zip(
        among.low_hz.tolist(), among.high_hz.tolist(), among.width_hz.tolist(), strict=True
    )]  # fmt: skip
    inside = [
        (low, high)
        for low, high in zip(others.low_hz.tolist(), others.high_hz.tolist(), strict=True)
        if among.reach[0] < low <= high < among.reach[1]
    ]
    assert len(inside) == 2
    assert all(high < a or low > b for low, high in inside for a, b in taken)
    full, table = quiet(tmp_path)
    whole = occupants_of(full, table, Settings())
    assert len(strangers(whole, -20.0, gaps=True)) == len(strangers(whole, -20.0))


def test_a_range_is_unknown_where_a_strong_image_would_be_heard(tmp_path: Path) -> None:
    """By the level that such a station needs: the image of two circuits falls off towards the low ranges."""
    receiver, bands = unlisted(tmp_path)
    answer = ranges(receiver, bands=bands)
    strong = loudest_typical_dbm(receiver)
    for record in answer.ranges.records():
        heard = record["image_heard_from_dbm"] <= strong
        assert (record["unlisted_share"] > 0.0) is heard, record["range"]
        assert (record["word"] == "believe") is not heard
    full, table = quiet(tmp_path)
    said = ranges(full, bands=table)
    assert {row["word"] for row in said.ranges.records()} == {"believe"}
    assert {row["unlisted_share"] for row in said.ranges.records()} == {0.0}


def test_the_table_of_what_is_unknown_has_it(tmp_path: Path) -> None:
    """As much of each range as is said of it, with the margin that a strong station could have."""
    receiver, bands = unlisted(tmp_path)
    answer = ranges(receiver, bands=bands)
    for row in answer.ranges.records():
        here = [each for each in answer.tables["unknown"].records() if each["range"] == row["range"]]
        hertz = sum(each["dial_high_hz"] - each["dial_low_hz"] + 1 for each in here)
        share = hertz / (row["high_hz"] - row["low_hz"] + 1)
        assert share == pytest.approx(row["unlisted_share"], abs=1e-6)
        assert all(each["margin_db"] >= 0.0 for each in here)


def test_a_setting_on_whose_image_somebody_is_listed_is_told(tmp_path: Path) -> None:
    """Of 5 MHz the tables tell, so of the setting two IFs below; of its neighbours they do not."""
    receiver, bands = unlisted(tmp_path)
    short = turned_ranges(receiver, bands, Settings())[-1]
    told = [
        (low, high)
        for low, high, word in zip(
            short.words.low_hz.tolist(), short.words.high_hz.tolist(), short.words.word.tolist(), strict=True
        )
        if WORDS[word] != "unknown"
    ]
    assert any(low <= 5_000_000 - 930_000 <= high for low, high in told)
    assert sum(high - low for low, high in told) < 20_000


def test_no_share_of_it_reads_as_clear(tmp_path: Path) -> None:
    """In a sentence, in the table that people see, and beside the dial."""
    receiver, bands = unlisted(tmp_path)
    answer = ranges(receiver, bands=bands)
    trawler = next(finding for finding in answer.findings[1:] if finding.range == "trawler")
    assert 0.02 < trawler.unlisted < 0.98
    assert "clear" not in trawler.sentence
    assert "clear" not in shares_text(trawler)
    assert "nobody can tell" in shares_text(trawler)
    assert UNLISTED_SHARE in view(answer).layouts["ranges"]
    full, table = quiet(tmp_path)
    assert not any(
        "unlisted_share" in show.fields for show in view(ranges(full, bands=table)).layouts["ranges"]
    )


@pytest.mark.parametrize("cover", [None, "5MHz:5.2MHz"])
def test_it_is_said_in_a_sentence(tmp_path: Path, cover: str | None) -> None:
    """In place of how much is usable."""
    receiver, bands = unlisted(tmp_path)
    answer = spurplan.ranges(receiver, bands=bands, cover=cover)
    said = answer.findings[-1].sentence
    assert "nobody can tell" in said
    assert "the tables list hardly anybody" in said
    assert "usable" not in said


def test_what_is_heard_is_told_all_the_same(tmp_path: Path) -> None:
    """A strong local on the image spoils its place, whoever else is in no table; and that has its reserve."""
    receiver, _ = unlisted(tmp_path)
    path = tmp_path / "local.csv"
    rows = (
        "5000000,5000000,broadcast,Hill,-10",
        "60000000,60000000,beacon,Far,-150",
        "100000,100000,beacon,Low,-150",
    )
    head = "low_hz,high_hz,service,label,level\n"
    path.write_text(head + "".join(f"{row} dBm\n" for row in rows), "utf-8")
    answer = spurplan.ranges(receiver, bands=path)
    short = answer.ranges.records()[-1]
    assert short["strong"] > 0
    assert short["word"] in ("unknown", "check: much is unknown")


def test_one_setting_says_it(tmp_path: Path) -> None:
    """As its range does; not where somebody is listed on its image, nor where no stranger would be heard."""
    receiver, bands = unlisted(tmp_path)
    said = spurplan.dial(receiver, bands=bands, frequency="5MHz")
    assert (
        said.findings[0].sentence == "5 MHz: nobody can tell; the tables list hardly anybody on its images."
    )
    assert said.tables["dial"].records()[0]["state"] == "unlisted"
    for told in ("4070kHz", "2MHz"):
        answer = spurplan.dial(receiver, bands=bands, frequency=told)
        assert answer.tables["dial"].records()[0]["state"] is None
        assert "nobody can tell" not in answer.findings[0].sentence
    full, table = quiet(tmp_path)
    assert spurplan.dial(full, bands=table, frequency="5MHz").findings[0].state == ""


def test_what_nobody_can_tell_of_is_counted_as_clear_nowhere(tmp_path: Path) -> None:
    """Clear and not listed are no more than the whole dial; where nobody is untold all of it is clear."""
    receiver, bands = unlisted(tmp_path)
    rows = spurplan.ranges(receiver, bands=bands).ranges.records()
    assert rows[0]["clear_share"] == 1.0
    for row in rows:
        assert row["clear_share"] + row["unlisted_share"] + row["unknown_share"] <= 1.0 + 1e-9, row["range"]
