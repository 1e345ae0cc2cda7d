"""Hours, days and slots: a row is silent only where the table says so beyond doubt."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.errors import BadValue
from spurplan.occupancy.hours import (
    ALL_DAYS,
    DAY_SECONDS,
    DAYS,
    Moment,
    Schedule,
    parse_days,
    parse_hours,
    parse_moment,
    parse_slot,
)

WEEK = 7 * DAY_SECONDS


def week_of(hours: list[tuple[int, int]], days: set[int], slot: tuple[int, int, int] | None) -> np.ndarray:
    """Return which seconds of the week are on, marked one window at a time.

    Parameters
    ----------
    hours : (from, to) in minutes of the day; to at or below from is the next day.
    """
    on = np.zeros(WEEK, bool)
    for day in days:
        for begin, end in hours or [(0, 1440)]:
            first = day * DAY_SECONDS + begin * 60
            last = day * DAY_SECONDS + (end if end > begin else end + 1440) * 60
            # "to 2400" ends with the day, every other end belongs to the window
            stop = last if end == 1440 else last + 1
            on[np.arange(first, stop) % WEEK] = True
    if slot:
        seconds, cycle, start = slot
        on &= (np.arange(WEEK) % cycle >= start) & (np.arange(WEEK) % cycle < start + seconds)
    return on


minutes = st.integers(0, 1439)
windows = st.lists(
    st.tuples(minutes, st.integers(0, 1440)).filter(lambda pair: pair[0] != pair[1]), max_size=3
)
some_days = st.sets(st.integers(0, 6), min_size=1)
slots = st.sampled_from(
    [None, (10, 180, 0), (10, 180, 170), (600, 14_400, 13_800), (1, 2, 1), (86_400, 86_400, 0)]
)


def written(hours: list[tuple[int, int]], days: set[int], slot: tuple[int, int, int] | None) -> Schedule:
    """Return the schedule by way of the text a table would have."""
    text = ";".join(f"{a // 60:02d}{a % 60:02d}-{b // 60:02d}{b % 60:02d}" for a, b in hours)
    return Schedule(
        parse_hours(text) if text else (),
        parse_days(";".join(DAYS[day] for day in sorted(days))),
        parse_slot(f"{slot[0]}/{slot[1]}+{slot[2]}") if slot else None,
    )


@given(windows, some_days, slots, st.integers(0, WEEK - 1))
@settings(max_examples=150, deadline=None)
def test_a_second_of_the_week_is_on_as_marked_out(
    hours: list[tuple[int, int]], days: set[int], slot: tuple[int, int, int] | None, second: int
) -> None:
    """Day and time to the second: exactly the seconds of a week marked out window by window."""
    day, time = divmod(second, DAY_SECONDS)
    on = week_of(hours, days, slot)
    assert written(hours, days, slot).may_be_on(Moment(time, 1, day)) == on[second]


@given(windows, some_days, slots, st.integers(0, 1439), st.none() | st.integers(0, 6))
@settings(max_examples=150, deadline=None)
def test_doubt_keeps_a_row_in(
    hours: list[tuple[int, int]],
    days: set[int],
    slot: tuple[int, int, int] | None,
    minute: int,
    day: int | None,
) -> None:
    """Time to the minute, day perhaps: on whenever some second that may be meant is on."""
    on = week_of(hours, days, slot).reshape(7, 1440, 60)
    meant = on[slice(None) if day is None else day, ..., minute, :]
    schedule = written(hours, days, slot)
    if meant.any():
        assert schedule.may_be_on(Moment(minute * 60, 60, day))
        assert schedule.may_be_on(Moment(day=day))
    elif slot is None:
        assert not schedule.may_be_on(Moment(minute * 60, 60, day))


@given(windows, some_days, st.integers(0, 6))
@settings(max_examples=100, deadline=None)
def test_a_day_without_a_time_is_the_whole_day(
    hours: list[tuple[int, int]], days: set[int], day: int
) -> None:
    on = week_of(hours, days, None).reshape(7, DAY_SECONDS)
    assert written(hours, days, None).may_be_on(Moment(day=day)) == on[day].any()


@pytest.mark.parametrize(
    ("hours", "utc", "on"),
    [
        ("1800-2200", "1759", False),
        ("1800-2200", "1800", True),
        ("1800-2200", "2200", True),  # both ends belong to it
        ("1800-2200", "2201", False),
        ("1800-2200", "22:00:01", False),
        ("2200-0200", "0100", True),
        ("2200-0200", "2359", True),
        ("2200-0200", "1200", False),
        ("0600-0700;1800-1900", "1830", True),
        ("0600-0700;1800-1900", "1200", False),
        ("0000-2400", "0000", True),
        ("1800-2400", "0000", False),  # midnight after it is the next day's
        ("06:30-07:15", "0645", True),
    ],
)
def test_hours(hours: str, utc: str, on: bool) -> None:
    assert Schedule(parse_hours(hours)).may_be_on(parse_moment(utc, None)) == on


@pytest.mark.parametrize(
    ("days", "day", "utc", "on"),
    [
        ("fri", "fri", "2300", True),
        ("fri", "sat", "0100", True),  # begun on Friday
        ("fri", "fri", "0100", False),
        ("fri-mon", "mon", "2300", True),
        ("fri-mon", "tue", "0100", True),
        ("fri-mon", "wed", "2300", False),
        ("sun", "mon", "0100", True),
        ("mon;wed", "tue", "2300", False),
        ("mon-fri", None, "2300", True),  # nobody said which day
    ],
)
def test_days_are_those_on_which_a_window_begins(days: str, day: str | None, utc: str, on: bool) -> None:
    schedule = Schedule(parse_hours("2200-0200"), parse_days(days))
    assert schedule.may_be_on(parse_moment(utc, day)) == on


def test_without_a_time_hours_leave_a_row_in() -> None:
    assert Schedule(parse_hours("1800-2200"), parse_days("sun"), parse_slot("10/180+0")).may_be_on(Moment())


def test_on_which_share_of_the_days_a_row_is_on() -> None:
    """Of a day that was said all or none, else of the seven; hours that are the whole day need no time."""
    evening = Schedule(parse_hours("1800-2200"), parse_days("mon-fri"))
    at_seven, at_noon = (parse_moment(utc, None) for utc in ("1900", "1200"))
    assert evening.share_at(at_seven) == pytest.approx(5 / 7)
    assert evening.share_at(at_noon) == 0.0
    assert [evening.share_at(parse_moment("1900", day)) for day in ("fri", "sat")] == [1.0, 0.0]
    assert evening.share_at(Moment()) is None
    whole = Schedule(parse_hours("0000-2400"), parse_days("sat;sun"))
    assert whole.share_at(Moment()) == pytest.approx(2 / 7)
    assert whole.share_at(Moment(day=6)) == 1.0
    halves = Schedule(parse_hours("0000-1200;1200-2400"))
    assert halves.share_at(Moment()) == 1.0
    # no hours of its own, or slots of a cycle, tell nothing of days
    assert Schedule().share_at(at_seven) is None
    assert Schedule(parse_hours("1800-2200"), slot=(10, 180, 20)).share_at(at_seven) is None


def test_slots_need_seconds() -> None:
    """18:00:20 is second 20 of a cycle of 180; 18:00 could be any second of the minute."""
    slots = [Schedule(slot=parse_slot(f"10/180+{start}")) for start in range(0, 180, 10)]
    exact = parse_moment("18:00:20", None)
    assert [n for n, slot in enumerate(slots) if slot.may_be_on(exact)] == [2]
    last = parse_moment("18:02:59", None)
    assert [n for n, slot in enumerate(slots) if slot.may_be_on(last)] == [17]
    assert all(slot.may_be_on(parse_moment("18:00", None)) for slot in slots)


def test_slots_of_minutes_are_told_apart_by_the_minute() -> None:
    """Ten minutes every four hours, as on 518 kHz: from 08:10 on, and at 12:10 again."""
    slot = Schedule(slot=parse_slot("600/14400+600"))
    on = [utc for utc in ("0809", "0810", "0819", "0820", "1215") if slot.may_be_on(parse_moment(utc, None))]
    assert on == ["0810", "0819", "1215"]


@pytest.mark.parametrize(
    ("text", "second", "length"),
    [
        ("1800", 64_800, 60),
        ("18:00", 64_800, 60),
        ("18:00:20", 64_820, 1),
        ("0000", 0, 60),
        ("23:59:59", 86_399, 1),
    ],
)
def test_forms_of_a_time(text: str, second: int, length: int) -> None:
    assert parse_moment(text, None) == Moment(second, length, None)


@pytest.mark.parametrize(
    "text", ["18", "180", "2400", "1860", "18:0", "18:00:60", "6pm", "", "18.00", "١٨٠٠", "-100"]
)
def test_other_times_are_refused(text: str) -> None:
    with pytest.raises(BadValue, match="is not a time"):
        parse_moment(text, None)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1800", "is not a span of hours"),
        ("1800-2500", "is not a span of hours"),
        ("2400-0200", "is not a span of hours"),
        ("1800-1860", "is not a span of hours"),
        ("1800-1800", "begins and ends at the same minute; write 0000-2400"),
        ("1800-2200;", "has an empty part"),
        (";", "has an empty part"),
        ("daily", "is not a span of hours"),
    ],
)
def test_other_hours_are_refused(text: str, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        parse_hours(text)


@pytest.mark.parametrize(
    ("text", "bits"),
    [
        ("mon", 0b0000001),
        ("sun", 0b1000000),
        ("mon-fri", 0b0011111),
        ("sat;sun", 0b1100000),
        ("sat-mon", 0b1100001),
        ("Mon - Fri ; SUN", 0b1011111),
        ("mon-sun", ALL_DAYS),
        ("fri-fri", 0b0010000),
    ],
)
def test_days(text: str, bits: int) -> None:
    assert parse_days(text) == bits


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("fry", 'is not a day; did you mean "fri"'),
        ("mon-", "is not a day"),
        ("1-5", "is not a day"),
        ("mon;;tue", "empty part"),
    ],
)
def test_other_days_are_refused(text: str, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        parse_days(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("10/180", "is not a slot; write seconds/cycle"),
        ("10/181+0", "does not divide the day"),
        ("10/0+0", "does not divide the day"),
        ("0/180+0", "does not fit into its cycle"),
        ("10/180+171", "does not fit into its cycle"),
        ("-1/180+0", "is not a slot"),
    ],
)
def test_other_slots_are_refused(text: str, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        parse_slot(text)
