"""The day hour by hour as dial strips: they agree with the figures, and can be read."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.columns import Answer
from spurplan.receiver.sentence import span_text
from spurplan.reporting.charts import by_hour, ink
from spurplan.reporting.charts.sheet import Ground, dashed
from spurplan.responses.by_hour import HOURS, DayDial, Visitor, day_said, dials_by_hour
from spurplan.units import share_text
from tests.charting import ROOT, WIDTHS, covering, demo, outside

# a stretch on which something gets in by day and nothing by night
HERE: dict[str, Any] = {
    "place": "54N,3W", "month": 12, "sunspots": 120, "range": "3", "cover": "6.8MHz:8.8MHz",
}  # fmt: skip


@cache
def day() -> Answer:
    return spurplan.by_hour(demo("boathouse"), **HERE)


@cache
def dials() -> list[DayDial]:
    return dials_by_hour(demo("boathouse"), **HERE)


def test_each_strip_is_what_the_figures_say_of_its_hour() -> None:
    """What can be believed is usable, what is spoilt half of the time is not; the figures look at samples."""
    (dial,) = dials()
    assert (dial.low_hz, dial.high_hz) == (6_800_000, 8_800_000)
    assert len(dial.hours) == len(HOURS)
    (course,) = day().findings
    believed = []
    for finding, words in zip(course.hours, dial.hours, strict=True):
        shares = words.shares(dial.low_hz, dial.high_hz)
        believed.append(shares["believe"])
        assert finding.usable >= 0.99 * shares["believe"] - 0.02
        assert finding.usable <= 1.0 - 0.5 * shares["don't"] - shares["dead"] + 0.02
    # something gets in by day
    assert max(believed) - min(believed) > 0.2


def test_a_strip_an_hour_with_its_share() -> None:
    """Twenty-four below each other, the hour left and the usable share right of each."""
    made = by_hour.sheet(day(), demo("boathouse"), 720.0, dials=dials())
    (course,) = day().findings
    at = {word.text: word.y for word in made.words() if word.anchor == "end"}
    lines = [at[f"{hour:02d}00"] for hour in HOURS]
    assert np.allclose(np.diff(lines), by_hour.PITCH_PT)
    for line, finding in zip(lines, course.hours, strict=True):
        assert share_text(finding.usable) in [word.text for word in made.words() if word.y == line]
    solid = [item.box for item in made.items if isinstance(item, Ground) and item.box.left >= 32.0]
    assert len({box.top for box in solid}) >= len(HOURS)


@pytest.mark.parametrize("width", WIDTHS)
def test_it_can_be_read(width: float) -> None:
    """The verdict in a sentence on top, no words over others, none beyond the edge."""
    made = by_hour.sheet(day(), demo("boathouse"), width, dials=dials())
    assert covering(made.words()) == []
    assert outside(made) == []
    said = " ".join(word.text for word in made.words() if word.bold)
    assert day_said(day().findings) in said
    assert ink.picture(made, "svg")


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        (range(24), "at every hour"),
        ((3,), "0300 to 0359"),
        ((0, 1, 22, 23), "2200 to 0159"),
        ((5, 6, 9), "0500 to 0659, 0900 to 0959"),
        ((0, 4, 5, 23), "0400 to 0559, 2300 to 0059"),
    ],
)
def test_hours_in_words_run_past_midnight(hours: tuple[int, ...], text: str) -> None:
    """From the first minute of each run to its last."""
    shares = tuple(0.1 if hour in hours else 0.0 for hour in HOURS)
    assert Visitor("Radio Marrowmere", "image", shares).hours_text == text


def test_the_command_draws_the_day(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`ranges --by-hour` takes a chart as every other question does, bare numbers too."""
    where = ["--place", "54N,3W", "--month", "12", "--sunspots", "120", "--range", "4"]
    words = [
        "ranges",
        str(ROOT / "demos/boathouse/set.toml"),
        "--by-hour",
        "--cover",
        "14:14.1",
        *where,
    ]
    assert main([*words, "--chart", str(tmp_path / "day.svg")]) == 0
    assert "Boathouse valve set" in capsys.readouterr().out
    drawn = (tmp_path / "day.svg").read_text("utf-8")
    assert "a day hour by hour" in drawn
    # of the stretch that was asked about, as the figures are
    assert dashed(span_text(14_000_000, 14_100_000)) in drawn
    assert dashed(span_text(14_000_000, 30_000_000)) not in drawn


@pytest.mark.parametrize("usable", [0.0, 0.001, 0.5, 0.999, 1.0])
def test_the_sentence_over_the_day_begins_as_one(usable: float) -> None:
    """With a capital letter, whatever the share is called."""
    hours = tuple(SimpleNamespace(width_hz=1_000, usable=usable) for _ in range(24))
    course: Any = SimpleNamespace(hours=hours)
    assert day_said([course])[0].isupper()
