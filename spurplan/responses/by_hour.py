"""A day hour by hour: how much of each range is usable when, and which intruder comes at which hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from spurplan import units
from spurplan.cautions import cautions_of
from spurplan.columns import RANGE, Answer, Column, Table, table_of
from spurplan.errors import Fault, Refused
from spurplan.receiver.chain import compile_chains
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    SpanLike,
    as_bands,
    as_receiver,
    here_and_now,
    hour_settings,
    in_set,
    occupants_of,
    picked_ranges,
    public_question,
    ranges_in,
    settings_from,
)
from spurplan.responses.assumptions import assumptions_of, listed_share
from spurplan.responses.engine import respond
from spurplan.responses.intrusion_table import intruding
from spurplan.responses.listening.dial_words import DialWords, judge_dials
from spurplan.responses.listening.findings import WORTH_A_WORD, Loss, RangeFinding
from spurplan.responses.listening.judged import judge_ranges, place_of
from spurplan.units import share_text

HOURS = range(24)
# who takes less of a range than this comes to no hour that anybody would name
WORTH_AN_HOUR = 0.005

DAY_COLUMNS = (
    RANGE,
    Column("utc", "text", "", False, "UTC", "the hour"),
    Column(
        "usable_share", "float", "", False, "Usable",
        "mean chance (0 to 1) that a setting can be listened to at that hour",
    ),
    Column("usable_low", "float", "", False, "from", "what it exceeds in nine worlds of ten"),
    Column("usable_high", "float", "", False, "to", "what it exceeds in one world of ten"),
    Column("lost_to_noise", "float", "", False, "To noise", "part where noise hides the wanted signal"),
    Column("lost_to_intruders", "float", "", False, "To intruders", "part that intruders spoil"),
    Column("intruder", "text", "", True, "First intruder", "who takes most at that hour"),
    Column("response", "text", "", True, "By way of", "the way it comes in"),
    Column("intruder_share", "float", "", True, "Takes", "part of the range that it spoils on the mean"),
)  # fmt: skip

VISITOR_COLUMNS = (
    RANGE,
    Column("label", "text", "", False, "Station or band", "who comes"),
    Column("response", "text", "", False, "By way of", "the way it comes in"),
    Column("utc", "list", "", False, "Hours (UTC)", "the hours at which it takes half a hundredth or more"),
    Column("most_share", "float", "", False, "At most", "part of the range that it takes at its worst hour"),
    Column("most_utc", "text", "", False, "At", "that hour"),
    Column("shares", "list", "", False, "", "the part at each of 24 hours from 0000; 0 for none to speak of"),
)  # fmt: skip


@dataclass(frozen=True)
class Visitor:
    """Who comes to a range by one way, hour by hour.

    Attributes
    ----------
    label, response : str.
    shares : tuple of float. What part of the range it takes at each hour from 0000 UTC.
    """

    label: str
    response: str
    shares: tuple[float, ...]

    @property
    def worst(self) -> int:
        """The hour at which it takes most."""
        return int(np.argmax(self.shares))

    @property
    def hours(self) -> tuple[int, ...]:
        """The hours at which it is worth a word."""
        return tuple(hour for hour in HOURS if self.shares[hour] >= WORTH_AN_HOUR)

    @property
    def hours_text(self) -> str:
        """The same in words, from the first minute of an hour to the last: "1500 to 2059, 0200 to 0259"."""
        if len(self.hours) == len(HOURS):
            return "at every hour"
        first = [hour for hour in self.hours if (hour - 1) % len(HOURS) not in self.hours]
        last = [hour for hour in self.hours if (hour + 1) % len(HOURS) not in self.hours]
        # one that goes on past midnight ends where the first end is
        if first and last[0] < first[0]:
            last = [*last[1:], last[0]]
        return ", ".join(f"{a:02d}00 to {b:02d}59" for a, b in zip(first, last, strict=True))


@dataclass(frozen=True)
class CourseFinding:
    """What becomes of a range in the course of a day.

    Attributes
    ----------
    hours : tuple of RangeFinding, one for each hour from 0000 UTC.
    """

    hours: tuple[RangeFinding, ...]

    @property
    def range(self) -> str:
        """Its name."""
        return self.hours[0].range

    @property
    def visitors(self) -> tuple[Visitor, ...]:
        """Who comes at any hour, who takes most first."""
        shares: dict[tuple[str, str], list[float]] = {}
        most: dict[tuple[str, str], Loss] = {}
        for hour, finding in enumerate(self.hours):
            for loss in finding.losses:
                # a band and its channels are one visitor, called what takes most of it
                who = (loss.band, loss.response)
                shares.setdefault(who, [0.0] * len(HOURS))[hour] += loss.share
                most[who] = max(most.get(who, loss), loss, key=lambda known: known.share)
        every = (Visitor(most[who].label, who[1], tuple(part)) for who, part in shares.items())
        named = [visitor for visitor in every if visitor.hours]
        return tuple(sorted(named, key=lambda visitor: -max(visitor.shares)))

    @property
    def sentence(self) -> str:
        """Its best and its worst hour, and who comes then."""
        usable = [finding.usable for finding in self.hours]
        worst, best = int(np.argmin(usable)), int(np.argmax(usable))
        name = self.hours[0].name
        if usable[best] - usable[worst] < WORTH_A_WORD:
            return f"{name}: {share_text(float(np.mean(usable)))} of it is usable, at one hour as at another."
        text = f"{name}: {share_text(usable[best])} of it is usable at {_utc(best)} UTC"
        text += f", {share_text(usable[worst])} at {_utc(worst)} UTC"
        first = self.hours[worst].losses[:1]
        if self.hours[worst].intruders >= self.hours[worst].noise and first:
            text += f", when {first[0].label} {first[0].way} takes most"
        return f"{text}."


@dataclass(frozen=True)
class DayDial:
    """The dial of a range in words at each hour of a day.

    Attributes
    ----------
    range : str. Its name.
    hours : tuple of DialWords, one for each hour from 0000 UTC.
    """

    range: str
    hours: tuple[DialWords, ...]

    @property
    def low_hz(self) -> int:
        """The first dial frequency. [Hz]"""
        return int(self.hours[0].low_hz[0])

    @property
    def high_hz(self) -> int:
        """The last dial frequency. [Hz]"""
        return int(self.hours[0].high_hz[-1])


def day_said(courses: Sequence[CourseFinding]) -> str:
    """Return when most and when least of all the dial is usable, in a sentence."""
    widths = np.array([course.hours[0].width_hz for course in courses])
    usable = widths @ np.array([[hour.usable for hour in course.hours] for course in courses]) / widths.sum()
    worst, best = int(np.argmin(usable)), int(np.argmax(usable))
    if usable[best] - usable[worst] < WORTH_A_WORD:
        return f"Of the dial {share_text(float(usable.mean()))} is usable, at one hour as at another."
    return (
        f"Most of the dial is usable at {_utc(best)} UTC, {share_text(float(usable[best]))}; "
        f"least at {_utc(worst)} UTC, {share_text(float(usable[worst]))}."
    )


@public_question
def by_hour(
    receiver: ReceiverLike,
    *,
    bands: BandsLike = None,
    cover: SpanLike | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Return how much of each range is usable at each hour of a day, and who comes when.

    Parameters
    ----------
    receiver, bands, cover, settings, options : as in `ranges`. A place (or that of the receiver) and a
        month are needed; the hour of `settings` plays no part.

    Returns
    -------
    Answer with the tables `day`, one record a range and hour, and `visitors`, one an intruder and way in.

    Raises
    ------
    Refused  as `ranges`; without a month or a place, and for an hour among the options.
    """
    chosen = _chosen(settings, options)
    set_, tables = as_receiver(receiver), as_bands(bands)
    span = None if cover is None else units.span_hz(cover, "--cover", in_set(set_))
    picked = ranges_in(picked_ranges(set_, chosen.range), span)
    by_range: dict[str, list[RangeFinding]] = {range_.name: [] for range_ in picked}
    assumptions: list[list[str]] = []
    for hour in HOURS:
        then = replace(chosen, utc=_utc(hour))
        there = as_receiver(set_, then)
        occupants = occupants_of(there, tables, then)
        groups = compile_chains([(there, range_) for range_ in picked])
        for chains in groups:
            for finding in judge_ranges(chains, place_of(there, occupants, then), then, then.activity, span):
                by_range[finding.range].append(finding)
        assumptions.append(assumptions_of(there, then, groups, occupants, listed_share(occupants)))
    findings = tuple(CourseFinding(tuple(by_range[range_.name])) for range_ in picked)
    now = here_and_now(set_, chosen)
    assert now is not None
    # what is so at every hour
    common = [line for line in assumptions[0] if all(line in others for others in assumptions[1:])]
    sky = [line for line in now.assumptions_at("each hour UTC") if line not in common]
    return Answer(
        receiver=set_.name,
        settings={
            **chosen.plain(),
            **hour_settings(set_, chosen),
            "utc": None,
            "region": chosen.region if chosen.region is not None else set_.region,
        },
        assumptions=(*sky, *common),
        cautions=cautions_of("ranges"),
        tables={"day": _day(findings), "visitors": _visitors(findings)},
        findings=findings,
    )


@public_question
def dials_by_hour(
    receiver: ReceiverLike,
    *,
    bands: BandsLike = None,
    cover: SpanLike | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> list[DayDial]:
    """Return each range, or what the cover takes of it, in words at each hour of a day; see `by_hour`.

    Parameters
    ----------
    receiver, bands, cover, settings, options : as in `by_hour`.

    Raises
    ------
    Refused  as `by_hour`.
    """
    chosen = _chosen(settings, options)
    set_, tables = as_receiver(receiver), as_bands(bands)
    span = None if cover is None else units.span_hz(cover, "--cover", in_set(set_))
    picked = ranges_in(picked_ranges(set_, chosen.range), span)
    by_range: dict[str, list[DialWords]] = {range_.name: [] for range_ in picked}
    for hour in HOURS:
        then = replace(chosen, utc=_utc(hour))
        there = as_receiver(set_, then)
        occupants = occupants_of(there, tables, then)
        place = place_of(there, occupants, then)
        for every in compile_chains([(there, range_) for range_ in picked]):
            chains = every
            if span is not None:
                chains = every.within(span)
            judged = judge_dials(intruding(respond(chains, occupants, then)), place, then, then.activity)
            for v, pieces in enumerate(judged):
                by_range[chains.names[int(chains.name_code[v])]].append(pieces.words)
    return [DayDial(range_.name, tuple(by_range[range_.name])) for range_ in picked]


def _chosen(settings: Settings | None, options: dict[str, Any]) -> Settings:
    """Return the settings of a day, which has a month and no hour."""
    if options.get("utc") is not None:
        rule = "plays no part: every hour is asked about"
        raise Refused(Fault("--utc", rule, str(options["utc"]), "leave it out"))
    chosen = settings_from(settings, {**options, "utc": _utc(0)})
    if chosen.month is None:
        raise Refused(Fault("--month", "is missing", remedy="say which, as --month 6"))
    return chosen


def _day(findings: Sequence[CourseFinding]) -> Table:
    records: list[dict[str, Any]] = []
    for course in findings:
        for hour, finding in enumerate(course.hours):
            first = finding.losses[0] if finding.losses else None
            records.append(
                {
                    "range": finding.range,
                    "utc": _utc(hour),
                    "usable_share": finding.usable,
                    "usable_low": finding.usable_low,
                    "usable_high": finding.usable_high,
                    "lost_to_noise": finding.noise,
                    "lost_to_intruders": finding.intruders,
                    "intruder": None if first is None else first.label,
                    "response": None if first is None else first.response,
                    "intruder_share": np.nan if first is None else first.share,
                }
            )
    return table_of("day", DAY_COLUMNS, records)


def _visitors(findings: Sequence[CourseFinding]) -> Table:
    records = [
        {
            "range": course.range,
            "label": visitor.label,
            "response": visitor.response,
            "utc": [_utc(hour) for hour in visitor.hours],
            "most_share": max(visitor.shares),
            "most_utc": _utc(visitor.worst),
            "shares": [round(share, 4) for share in visitor.shares],
        }
        for course in findings
        for visitor in course.visitors
    ]
    return table_of("visitors", VISITOR_COLUMNS, records)


def _utc(hour: int) -> str:
    return f"{hour:02d}00"
