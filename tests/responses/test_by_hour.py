"""A day hour by hour: its figures, who comes when, how it reads, and what it refuses."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.columns import Answer
from spurplan.errors import Refused
from spurplan.reporting.views.by_hour import view
from spurplan.responses.by_hour import CourseFinding, Visitor, day_said
from spurplan.responses.listening.findings import Loss, RangeFinding
from tests.papers import DEMO, ROOT

SET = ROOT / DEMO
HERE: dict[str, Any] = {"place": "50N,10E", "month": 1, "sunspots": 100}


@pytest.fixture(scope="module")
def day() -> Answer:
    return spurplan.by_hour(SET, **HERE)


def test_each_hour_is_what_ranges_says_of_it(day: Answer) -> None:
    """One arithmetic: the strip and the question of one hour agree to the last digit."""
    told = {(row["range"], row["utc"]): row for row in day.tables["day"].records()}
    assert len(told) == 24 * len(spurplan.read_receiver(SET).ranges)
    for utc in ("0000", "1300"):
        for row in spurplan.ranges(SET, **HERE, utc=utc).tables["ranges"].records():
            course = told[row["range"], utc]
            for name in ("usable_share", "usable_low", "usable_high", "lost_to_noise", "lost_to_intruders"):
                assert course[name] == row[name], (utc, name)


def test_a_visitor_comes_at_the_hours_at_which_it_takes_something(day: Answer) -> None:
    """Hours, the worst of them and its share follow from the 24 shares."""
    rows = day.tables["visitors"].records()
    assert rows
    for row in rows:
        shares = np.array(row["shares"])
        assert len(shares) == 24
        assert row["most_share"] == pytest.approx(shares.max(), abs=5e-5)
        assert int(row["most_utc"][:2]) in np.flatnonzero(shares == shares.max())
        sure = {f"{hour:02d}00" for hour in np.flatnonzero(shares >= 0.0051)}
        assert sure <= set(row["utc"]) <= {f"{hour:02d}00" for hour in np.flatnonzero(shares >= 0.0049)}


def test_high_bands_come_by_day_and_low_ones_by_night(day: Answer) -> None:
    """In January 13 m broadcasting is no visitor at night, and 49 m takes most in the dark."""
    shares = {
        row["label"].split(" broadcast")[0]: np.array(row["shares"])
        for row in day.tables["visitors"].records()
        if row["response"] == "image"
    }
    assert shares["19 m"].argmax() in range(8, 18)
    assert shares["19 m"][:4].max() < 0.2 * shares["19 m"].max()
    assert shares["49 m"].argmax() not in range(8, 15)


def test_a_band_and_its_channels_are_one_visitor(day: Answer) -> None:
    """Broadcasters listed as a band and channel by channel are the same people."""
    rows = [
        (row["range"], row["response"], row["label"].split(" broadcast")[0])
        for row in day.tables["visitors"].records()
        if " broadcast" in row["label"]
    ]
    assert len(rows) > 3
    assert len(set(rows)) == len(rows)


def test_the_strip_has_an_hour_a_place(day: Answer) -> None:
    """What stands under 07 is seven o'clock's."""
    shown = view(day)
    assert shown.tables is not None
    usable = {row["range"]: [] for row in day.tables["day"].records()}  # type: dict[str, list[float]]
    for row in day.tables["day"].records():
        usable[row["range"]].append(row["usable_share"])
    for row in shown.tables["day"].records():
        for percent, share in zip(row["strip"].split(), usable[row["range"]], strict=True):
            assert abs(int(percent) - min(100 * share, 99)) <= 0.5
    for row in shown.tables["visitors"].records():
        assert len(row["strip"]) == 24


def test_a_cover_narrows_the_day() -> None:
    """Of a stretch alone: ranges that hold none of it are left out."""
    day = spurplan.by_hour(SET, cover="14MHz:14.35MHz", **HERE)
    assert {row["range"] for row in day.tables["day"].records()} == {"4"}
    assert "14-14.35 MHz" in day.findings[0].sentence or "14 MHz to 14.35 MHz" in day.findings[0].sentence


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"place": "50N,10E"}, "has no --month beside it"),
        ({"month": 1}, "has no place beside it"),
        ({}, "--month: is missing"),
        ({**HERE, "utc": "1200"}, "every hour is asked about"),
    ],
)
def test_a_day_wants_a_place_and_a_month_and_no_hour(options: dict[str, Any], said: str) -> None:
    """What is missing, or changes nothing, is refused with its name."""
    with pytest.raises(Refused) as refused:
        spurplan.by_hour(SET, **options)
    assert said in str(refused.value)


def run(*words: str) -> subprocess.CompletedProcess[str]:
    line = [sys.executable, "-m", "spurplan", "ranges", str(SET), *words]
    return subprocess.run(line, capture_output=True, text=True, check=False)


def test_the_command_says_it() -> None:
    """The strips stand on the page, the assumptions name place and month."""
    done = run("--by-hour", "--place", "50N,10E", "--month", "jan", "--range", "4", "--assumptions")
    assert done.returncode == 0, done.stderr
    assert " ".join(f"{hour:02d}" for hour in range(24)) in done.stdout
    assert "50N,10E, January, each hour UTC, sunspot number 70 (usual; none" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--place", "50N,10E"), "add --month and --utc"),
        (("--place", "50N,10E", "--utc", "1200"), "add --month"),
        (("--place", "50N,10E", "--month", "1"), "add --utc"),
        (("--by-hour", "--place", "50N,10E", "--month", "1", "--utc", "1200"), "--utc"),
        (("--by-hour", "--place", "50N,10E", "--month", "1", "--everything"), "--everything"),
        (("--by-hour", "--place", "50N,10E"), "--month"),
    ],
)
def test_what_lacks_something_ends_with_status_2(words: tuple[str, ...], said: str) -> None:
    """A command line that means nothing is refused, naming what is missing."""
    done = run(*words)
    assert done.returncode == 2
    assert said in " ".join(done.stderr.split())
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--place", "52X", "--month", "1", "--utc", "1200"), '--place: "52X" is not a place'),
        (("--place", "50N,10E", "--month", "Mai", "--utc", "1200"), '--month: "Mai" is not a month'),
        (("--place", "50N,10E", "--month", "1", "--utc", "2400"), '"2400" is not a time'),
    ],
)
def test_what_is_none_is_refused_like_everything_else(words: tuple[str, ...], said: str) -> None:
    """A bad value ends with status 1, said with its place, rule and remedy."""
    done = run(*words)
    assert done.returncode == 1
    assert said in " ".join(done.stderr.split())


def course(width_hz: int, *usable: float, name: str = "1", **more: Any) -> CourseFinding:
    """Return the day of a range of which so much is usable, the last of it at all hours that are left."""
    every = [*usable, *usable[-1:] * (24 - len(usable))]
    return CourseFinding(
        tuple(
            RangeFinding(
                name, 1_000_000, 1_000_000 + width_hz - 1, False, "typical", part, part, part, part, 0.0, 0.0,
                0.0, 0.0, 1.0 - part, -80.0, **more,
            )
            for part in every
        )
    )  # fmt: skip


def test_a_day_is_that_of_the_dial_and_not_of_the_ranges() -> None:
    """One hertz as another: 0.9 of a hundredth and 0.1 of the rest are 0.108 of the dial at midnight."""
    narrow, wide = course(10_000, 0.9, 0.1), course(990_000, 0.1, 0.5)
    for courses in ((narrow, wide), (wide, narrow)):
        assert day_said(courses) == ("Most of the dial is usable at 0100 UTC, 50 %; least at 0000 UTC, 11 %.")
    # each as wide as the other: at either hour the same
    assert day_said([course(1_000, 0.9, 0.1), course(1_000, 0.1, 0.9)]) == (
        "Of the dial 50 % is usable, at one hour as at another."
    )
    assert day_said([course(3_000, 0.9, 0.1), course(1_000, 0.1, 0.9)]) == (
        "Most of the dial is usable at 0000 UTC, 70 %; least at 0100 UTC, 30 %."
    )


def test_a_day_of_two_halves_is_that_of_the_whole() -> None:
    """A range told as two parts of any width, alike at every hour, says what it says as one."""
    hours = [0.3 + 0.02 * hour for hour in range(24)]
    whole = day_said([course(1_000_000, *hours)])
    assert day_said([course(137_000, *hours), course(863_000, *hours)]) == whole
    assert whole == "Most of the dial is usable at 2300 UTC, 76 %; least at 0000 UTC, 30 %."


def test_the_hours_of_a_visitor_are_said_from_first_to_last_minute() -> None:
    """One that stays past midnight comes once, and not at the end and the beginning of a day."""

    def hours(*some: int) -> str:
        return Visitor("A", "image", tuple(0.1 * (hour in some) for hour in range(24))).hours_text

    assert hours(15, 16, 17, 2) == "0200 to 0259, 1500 to 1759"
    assert hours(22, 23, 0, 1) == "2200 to 0159"
    assert hours(22, 23, 0, 9) == "0900 to 0959, 2200 to 0059"
    assert hours(*range(24)) == "at every hour"
    assert hours(0) == "0000 to 0059"
    assert hours(23) == "2300 to 2359"
    least = Visitor("A", "image", (0.005, 0.00499, *[0.0] * 22))
    assert (least.hours, least.worst) == ((0,), 0)


def test_who_comes_is_summed_over_a_band_and_named_by_what_takes_most() -> None:
    """A band and its channels add up at each hour; who takes most at any hour stands first."""
    first = course(
        1_000, 0.5, losses=(
            Loss("image", "49 m", 0.02, "b 49"), Loss("image", "49 m carrier", 0.03, "b 49"),
            Loss("half-IF", "Mast", 0.08, "m"), Loss("image", "Mast", 0.004, "m"),
        ),
    )  # fmt: skip
    told = [(one.label, one.response, one.shares[0]) for one in first.visitors]
    assert told == [("Mast", "half-IF", 0.08), ("49 m carrier", "image", pytest.approx(0.05))]


def test_a_range_says_its_best_and_its_worst_hour_and_who_comes_then() -> None:
    """Who, only where intruders take at least as much as noise does."""
    lost = (Loss("image", "Mast", 0.4),)
    said = course(1_000, 0.5, 0.9, 0.9, losses=lost).sentence
    assert (
        "90 % of it is usable at 0100 UTC, 50 % at 0000 UTC, when Mast by way of the image takes most" in said
    )
    noisy = CourseFinding(
        tuple(replace(hour, noise=0.6, intruders=0.0) for hour in course(1_000, 0.4, 0.9, losses=lost).hours)
    )
    assert noisy.sentence.endswith("40 % at 0000 UTC.")
