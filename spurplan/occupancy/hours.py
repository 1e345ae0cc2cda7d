"""When an occupant may be on the air: hours, days and slots of a cycle.

The rule throughout is that doubt keeps a row in: no time given, a time without
seconds against a slot shorter than a minute, a day that was not said. Both ends
of the hours belong to them, as both edges belong to a band.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from spurplan.errors import BadValue, did_you_mean

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAY_SECONDS = 86_400
MINUTE_SECONDS = 60
ALL_DAYS = (1 << 7) - 1

_TIME = re.compile(r"([0-9]{2}):?([0-9]{2})|([0-9]{2}):([0-9]{2}):([0-9]{2})")
_WINDOW = re.compile(r"([0-9]{2}):?([0-9]{2})\s*-\s*([0-9]{2}):?([0-9]{2})")
_SLOT = re.compile(r"([0-9]{1,5})/([0-9]{1,5})\+([0-9]{1,5})")


@dataclass(frozen=True)
class Moment:
    """A time of day in UTC and perhaps a day, as exactly as they were said.

    Attributes
    ----------
    second : int or None. Second of the day; None where no time was given.
    length : int. Seconds the time may mean: 60 for "1800", 1 for "18:00:20".
    day : int or None. 0 is Monday; None where no day was given.
    """

    second: int | None = None
    length: int = MINUTE_SECONDS
    day: int | None = None


@dataclass(frozen=True)
class Schedule:
    """Hours, days and slot of one row.

    Attributes
    ----------
    windows : tuple of (start, seconds). Start is a second of the day, seconds the
        time from there to the end, past midnight where need be; () for all day.
    days : int. Bit 0 is Monday. The day is that on which a window begins.
    slot : (seconds, cycle, start) or None. On the air for `seconds` out of every
        `cycle`, from `start` seconds into it; cycles begin at midnight UTC.
    """

    windows: tuple[tuple[int, int], ...] = ()
    days: int = ALL_DAYS
    slot: tuple[int, int, int] | None = None

    def may_be_on(self, moment: Moment) -> bool:
        """Return whether the row may be on the air at `moment`."""
        return self._in_hours(moment) and self._in_slot(moment)

    def share_at(self, moment: Moment) -> float | None:
        """Return on which share of the days its own hours hold a time; None where they do not tell.

        Notes
        -----
        They tell of a time that is given, and of any time where they are the whole day. A day that
        is not given is any of the seven.
        """
        if not self.windows or self.slot is not None:
            return None
        whole_day = sum(seconds for _, seconds in self.windows) >= DAY_SECONDS - 1
        if moment.second is None and not whole_day:
            return None
        second = 0 if moment.second is None else moment.second
        days = range(len(DAYS)) if moment.day is None else (moment.day,)
        on = [self._in_hours(Moment(second, moment.length, day)) for day in days]
        return sum(on) / len(on)

    def _in_hours(self, moment: Moment) -> bool:
        # All day long ends a second before the next day: its midnight is not this day's.
        windows = self.windows or ((0, DAY_SECONDS - 1),)
        for start, seconds in windows:
            for days_ago in (0, 1):
                if moment.day is not None and not self.days >> (moment.day - days_ago) % 7 & 1:
                    continue
                if moment.second is None:
                    on = days_ago == 0 or start + seconds >= DAY_SECONDS
                else:
                    begin = moment.second + days_ago * DAY_SECONDS
                    on = begin <= start + seconds and begin + moment.length > start
                if on:
                    return True
        return False

    def _in_slot(self, moment: Moment) -> bool:
        if self.slot is None or moment.second is None:
            return True
        seconds, cycle, start = self.slot
        if seconds < moment.length:
            return True  # the time does not tell such short slots apart
        # slots follow one another, so the end belongs to the next one
        into = (moment.second - start) % cycle
        return into < seconds or into + moment.length > cycle


ALWAYS = Schedule()


def parse_moment(utc: str | None, day: str | None) -> Moment:
    """Return the time and day asked about.

    Parameters
    ----------
    utc : str or None. "HHMM", "HH:MM" or "HH:MM:SS", 00:00 to 23:59:59.
    day : str or None. "mon" to "sun", the day in UTC.

    Raises
    ------
    BadValue  for anything else.
    """
    for value in (utc, day):
        if value is not None and not isinstance(value, str):
            raise BadValue(value, "is not text", 'write it in quotes, as "1800" or "mon"')
    number = None if day is None else _day_number(day, day)
    if utc is None:
        return Moment(day=number)
    match = _TIME.fullmatch(utc.strip())
    if not match:
        raise BadValue(utc, "is not a time", "write it as 1800, 18:00 or 18:00:20, in UTC")
    hour, minute, second = (int(part or 0) for part in (match[1] or match[3], match[2] or match[4], match[5]))
    if hour > 23 or minute > 59 or second > 59:
        raise BadValue(utc, "is not a time", "give 0000 to 2359, in UTC")
    length = MINUTE_SECONDS if match[5] is None else 1
    return Moment((hour * 60 + minute) * 60 + second, length, number)


def parse_hours(text: str) -> tuple[tuple[int, int], ...]:
    """Return the windows of "1800-2200" or "0600-0900;2200-0200", as in `Schedule`.

    Raises
    ------
    BadValue  when a part is not two times, or begins and ends at the same minute.
    """
    windows = []
    for part in _parts(text, "write it as 1800-2200, several with ;"):
        match = _WINDOW.fullmatch(part)
        if not match:
            raise BadValue(text, "is not a span of hours", "write it as 1800-2200, several with ;")
        h1, m1, h2, m2 = map(int, match.groups())
        if h1 > 23 or m1 > 59 or m2 > 59 or h2 * 60 + m2 > 24 * 60:
            raise BadValue(text, "is not a span of hours", "give 0000 to 2400, in UTC")
        start, end = (h1 * 60 + m1) * 60, (h2 * 60 + m2) * 60
        if start == end:
            raise BadValue(text, "begins and ends at the same minute", "write 0000-2400 for all day")
        # 2400 ends with the day: the midnight after it is the next one's
        windows.append((start, end - start - 1 if end == DAY_SECONDS else (end - start) % DAY_SECONDS))
    return tuple(windows)


def parse_days(text: str) -> int:
    """Return the days of "mon", "sat;sun" or "mon-fri;sun" as bits, Monday being bit 0.

    Raises
    ------
    BadValue  for anything that is not a day.
    """
    bits = 0
    for part in _parts(text, "write it as mon-fri, several with ;"):
        first, dash, last = part.partition("-")
        begin = _day_number(first, text)
        end = _day_number(last, text) if dash else begin
        for number in range(begin, begin + (end - begin) % 7 + 1):
            bits |= 1 << number % 7
    return bits


def parse_slot(text: str) -> tuple[int, int, int]:
    """Return (seconds, cycle, start) of "10/180+20": ten seconds of every 180, from second 20.

    Raises
    ------
    BadValue  for another form, a slot that does not fit into its cycle, or a cycle
        that does not divide the day (nobody could say where one begins).
    """
    match = _SLOT.fullmatch(text.strip())
    if not match:
        raise BadValue(text, "is not a slot", "write seconds/cycle+start, as 10/180+20")
    seconds, cycle, start = map(int, match.groups())
    if cycle < 1 or DAY_SECONDS % cycle:
        raise BadValue(text, "has a cycle that does not divide the day", "give a cycle such as 180 or 14400")
    if seconds < 1 or start + seconds > cycle:
        raise BadValue(text, "does not fit into its cycle", "give a start and a length inside the cycle")
    return seconds, cycle, start


def _parts(text: str, remedy: str) -> list[str]:
    parts = [part.strip() for part in text.split(";")]
    if not all(parts):
        raise BadValue(text, "has an empty part", remedy)
    return parts


def _day_number(word: str, text: str) -> int:
    day = word.strip().lower()
    if day not in DAYS:
        raise BadValue(text, "is not a day", did_you_mean(day, DAYS))
    return DAYS.index(day)
