"""The tuning ranges as dial scales one above the other; a station's places on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from spurplan.columns import Answer, Table
from spurplan.emissions import CARRIER
from spurplan.receiver.description import Range, Receiver
from spurplan.receiver.sentence import range_text, span_text
from spurplan.reporting.charts.dial_row import HEAD_PT, NAME_PT, Level, Name, Row, key, lay
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, VERDICT_PT, foot, open_sheet, range_head
from spurplan.reporting.charts.marks import Mark, Spoilt, s_units, skyline, spoilt, unknown
from spurplan.reporting.charts.scale import Scale
from spurplan.reporting.charts.sheet import GRADE_PENS, Sheet, cut, dashed, shown, wrapped
from spurplan.reporting.charts.verdicts import KEY_ORDER, shares_text, verdict, word_text
from spurplan.reporting.plain import counted
from spurplan.reporting.views.intrusions import heading
from spurplan.reporting.views.intrusions import title as title_of
from spurplan.responses.counting import counts_of
from spurplan.responses.folding import fold
from spurplan.responses.levels import bar_dbm, floor_dbm
from spurplan.responses.listening.dial_words import WORDS
from spurplan.responses.routes import Steps, stage_equations
from spurplan.responses.turning import TurnedRange
from spurplan.units import S_CHANGE_HZ, hz_text
from spurplan.units import share_text as whole_share_text

LONGEST_NAME_PT = 150.0
# a page holds some twenty names: of the loudest so many are looked at, and so many tried
MOST_LOOKED_AT, MOST_NAMES = 400, 50
TIERS_WIDE, TIERS_NARROW = 3, 5
NARROW_BELOW_PT = 400.0
LEVEL_POINTS = 33
MOST_VERDICT_LINES = 3


def rows(answer: Answer, receiver: Receiver, width: float, turned: Sequence[TurnedRange] = ()) -> list[Row]:
    """Return what is drawn of each range, in the order of the set.

    Parameters
    ----------
    answer : of `ranges` or `station`, for this receiver.
    width : float. Of the sheet. [pt]
    turned : the ranges as they are turned through; where given, these alone are drawn.
    """
    range_name = answer.settings.get("range")
    picked = [range_ for range_ in receiver.ranges if range_name is None or range_.name == range_name]
    words = {turned_range.name: turned_range for turned_range in turned}
    if words:
        picked = [range_ for range_ in picked if range_.name in words]
    return [_row(answer, receiver, range_, width, words.get(range_.name)) for range_ in picked]


def sheet(
    answer: Answer,
    receiver: Receiver,
    width: float,
    title: bool = True,
    about: str = "",
    turned: Sequence[TurnedRange] = (),
    headline: bool = True,
) -> Sheet:
    """Return the chart of `ranges` or `station`.

    Parameters
    ----------
    title : bool. Whether the name of the set and what it hears stand above, and the
        cautions below: a page that says them itself does without.
    about : str. What was asked, behind the name of the set.
    turned : as of `rows`.
    headline : bool. Whether the answer in a sentence stands above; a page that says it right there does
        without.
    """
    drawn = rows(answer, receiver, width, turned)
    verdict_text = _verdict(answer, turned, width) if headline else ""
    lines = [title_of(answer, about), *(line for line in heading(answer)[1:] if line != verdict_text)]
    made = open_sheet(width, lines if title else [], verdict_text)
    made.says = _says(answer, drawn)
    top = made.height
    for row in drawn:
        top = lay(made, row, top) + 13
    settings = answer.settings
    thresholds = (settings.get("strong_at", 10.0), settings.get("audible_at", 0.0))
    # what occurs, and nothing else
    grades = {mark.grade for row in drawn for mark in row.marks}
    kinds = ["own"] * any(row.own for row in drawn) + [grade for grade in GRADE_PENS if grade in grades]
    if turned:
        used = {WORDS[code] for turned_range in turned for code in turned_range.words.word.tolist()}
        kinds += [*(["noise", "bar"] if grades else []), *(word for word in KEY_ORDER if word in used)]
    else:
        kinds += ["spoilt"] * any(row.spoilt for row in drawn)
        kinds += ["not heard" if _is_station(answer) else "clear"] * any(map(_some_is_clear, drawn))
        kinds += ["unknown"] * any(row.unknown for row in drawn)
        kinds += ["own IF"] * any(row.unusable is not None for row in drawn)
    made.height = key(made, LEFT_PT, width - MARGIN_PT, top, thresholds, kinds)
    foot(made, answer.cautions if title else ())
    return made


def _verdict(answer: Answer, turned: Sequence[TurnedRange], width: float) -> str:
    """Return the answer in a sentence: the ranges by their word; where a station turns up."""
    if not turned:
        return heading(answer)[1]
    full, short = verdict([turned_range.busy for turned_range in turned])
    lines = wrapped(full, VERDICT_PT, width - LEFT_PT - MARGIN_PT, True)
    return full if len(lines) <= MOST_VERDICT_LINES else short


def _some_is_clear(row: Row) -> bool:
    """Whether a part of the strip of a range is left white."""
    filled = [(part.low_hz, part.high_hz) for part in row.spoilt]
    filled += [*row.unknown, *([row.unusable] if row.unusable else [])]
    reached = row.scale.low_hz
    for low, high in sorted(filled):
        if low > reached:
            return True
        reached = max(reached, high)
    return reached < row.scale.high_hz


def _is_station(answer: Answer) -> bool:
    return "wanted" in answer.tables


def _says(answer: Answer, drawn: Sequence[Row]) -> str:
    parts = "; ".join(f"range {row.head}, {row.summary}" for row in drawn)
    return f"{shown(answer.receiver)}, dial scales: {parts}"


def _row(answer: Answer, receiver: Receiver, range_: Range, width: float, turned: TurnedRange | None) -> Row:
    table = answer.first
    scale = Scale(range_.low_hz, range_.high_hz, LEFT_PT, width - MARGIN_PT)
    here = np.flatnonzero(table["range"] == range_.name)
    marks = skyline(table, here, scale)
    own, own_names = _own(answer, range_, scale)
    wanted = tuple((plan.lo, plan.rf) for plan in receiver.plans_of(range_))
    parts = spoilt(table, here, scale)
    names, more = _names(table.take(here), marks, table, wanted, _is_station(answer))
    return Row(
        head=range_head(range_.name, range_.low_hz, range_.high_hz, HEAD_PT, scale.right - scale.left),
        summary=_summary(answer, range_, table.take(here), bool(own))
        if turned is None
        else f"{word_text(turned.busy)}: {shares_text(turned.typical)}",
        way=range_text(receiver, range_) + pointer_text(range_),
        scale=scale,
        marks=marks,
        own=own,
        spoilt=parts,
        unknown=_unknown(answer, range_, scale, parts),
        unusable=_unusable(answer, range_),
        names=[*own_names, *names],
        more=more,
        tiers=TIERS_NARROW if width < NARROW_BELOW_PT else TIERS_WIDE,
        words=None if turned is None else turned.words,
        levels=() if turned is None else levels_of(answer, turned),
    )


def levels_of(answer: Answer, turned: TurnedRange) -> tuple[Level, ...]:
    """Return the noise of the passband, and from where on a single tone is audible and strong."""
    # S9 is another level above 30 MHz: a step, no slope
    step = [at for at in (S_CHANGE_HZ, S_CHANGE_HZ + 1) if turned.low_hz < at < turned.high_hz]
    even = np.linspace(turned.low_hz, turned.high_hz, LEVEL_POINTS).astype(np.int64)
    hz = np.unique(np.append(even, np.array(step, dtype=np.int64)))
    candidate = np.full(len(hz), turned.candidate)
    chains = turned.response.chains
    carrier = np.full(len(hz), CARRIER, dtype=np.int8), np.ones(len(hz), dtype=np.int32)
    tone = bar_dbm(chains, candidate, hz, *carrier)
    settings = answer.settings
    bars = [
        tone + settings.get(name, default) for name, default in (("audible_at", 0.0), ("strong_at", 10.0))
    ]
    drawn = [(floor_dbm(chains, candidate, hz), True), *((bar, False) for bar in bars)]
    return tuple(Level(hz.tolist(), s_units(dbm, hz).tolist(), broken) for dbm, broken in drawn)


def _own(answer: Answer, range_: Range, scale: Scale) -> tuple[list[Mark], list[Name]]:
    """Return where the station belongs on a range: its pointer and its name."""
    if not _is_station(answer):
        return [], []
    table = answer.tables["wanted"]
    here = np.flatnonzero(table["range"] == range_.name)
    marks = skyline(table, here, scale)
    names = [
        Name(
            _fits(str(table["label"][m.row] or "it")),
            f"{place_text(m.low_hz, m.high_hz)}, on frequency",
            (m.low_hz + m.high_hz) // 2,
            m.s_units,
        )
        for m in marks
    ]
    return marks, names


def _summary(answer: Answer, range_: Range, intrusions: Table, own: bool) -> str:
    if _is_station(answer):
        count = int(counts_of(intrusions).sum())
        places = counted(count, "way in", "ways in") if count else "no way in"
        return f"{places} where it does not belong" + ("" if own else "; its own is not on this range")
    table = answer.tables["ranges"]
    row = table.take(np.flatnonzero(table["range"] == range_.name)).records(1)[0]
    clear_text = share_text(row["clear_share"], row["unknown_share"])
    if not len(intrusions):
        return (
            "nothing heard that does not belong"
            if not row["unknown_share"]
            else f"{clear_text}; nothing heard"
        )
    return f"{clear_text}; {row['strong']:,} strong, {row['audible']:,} audible"


def share_text(clear: float, unknown: float = 0.0) -> str:
    """Return how much of a range is clear, and unknown, in words; nearly all is not all."""
    if clear in (0.0, 1.0):
        clear_text = "all clear" if clear else "nowhere clear"
    else:
        clear_text = f"{whole_share_text(clear)} clear"
    return f"{clear_text}, {whole_share_text(unknown)} unknown" if unknown else clear_text


def _unknown(answer: Answer, range_: Range, scale: Scale, heard: Sequence[Spoilt]) -> list[tuple[int, int]]:
    if "unknown" not in answer.tables:
        return []
    table = answer.tables["unknown"]
    return unknown(table, np.flatnonzero(table["range"] == range_.name), scale, heard)


def _unusable(answer: Answer, range_: Range) -> tuple[int, int] | None:
    if "ranges" not in answer.tables:
        return None
    table = answer.tables["ranges"]
    at = np.flatnonzero(table["range"] == range_.name)
    low, high = table["dead_low_hz"][at[0]], table["dead_high_hz"][at[0]]
    return None if np.isnan(low) else (int(low), int(high))


def _names(
    here: Table, marks: Sequence[Mark], table: Table, wanted: Steps, with_dial: bool
) -> tuple[list[Name], int]:
    """Return the names of the intruders that can be seen, loudest first, and how many more there are."""
    folded, _ = fold(here)
    equations, services = table["equation"], table["service"]
    seen = defaultdict(list)
    for mark in marks:
        seen[equations[mark.row], services[mark.row]].append(mark)
    names: list[Name] = []
    for record in folded.records(MOST_LOOKED_AT):
        low, high = record["dial_low_hz"], record["dial_high_hz"]
        ours = [
            mark
            for mark in seen[record["equation"], record["service"]]
            if low <= mark.high_hz and mark.low_hz <= high
        ]
        if not ours or len(names) == MOST_NAMES:
            continue  # something louder stands before it everywhere
        mark = max(ours, key=lambda m: (m.s_units, m.high_hz - m.low_hz))
        route = route_text(record["response"], record["steps"], wanted)
        if with_dial:
            route = f"{place_text(low, high)}, {route}"
        text = _fits(record["label"] or record["service"])
        names.append(Name(text, route, (mark.low_hz + mark.high_hz) // 2, mark.s_units))
    return names, len(folded) - len(names)


def place_text(low_hz: int, high_hz: int) -> str:
    """Return a frequency, or a stretch of them rounded outward to whole kilohertz, in a few letters."""
    if low_hz == high_hz:
        return hz_text(low_hz)
    return dashed(span_text(low_hz // 1_000 * 1_000, -(-high_hz // 1_000) * 1_000))


def pointer_text(range_: Range) -> str:
    """Return what is to be said of a pointer that is off; "" where it is not."""
    if not range_.dial_offset_hz:
        return ""
    off = "more" if range_.dial_offset_hz > 0 else "less"
    return f"; its pointer shows {hz_text(abs(range_.dial_offset_hz))} {off} than this scale"


def _fits(label: str) -> str:
    return cut(shown(label), NAME_PT, LONGEST_NAME_PT)


def route_text(response: str, steps: Sequence[Sequence[int]], wanted: Sequence[tuple[int, int]]) -> str:
    """Return a route for a label: its name, and its equation as far as it differs from the wanted one."""
    route = tuple((lo, rf) for lo, rf in steps)
    stages = stage_equations(route)
    odd = [text for text, step, want in zip(stages, route, wanted, strict=True) if step != want]
    return shown(f"{response}, {'; '.join(odd or stages)}")
