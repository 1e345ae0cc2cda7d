"""How intrusions read for people: the sentence above them and the columns of a page."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np

from spurplan.columns import Answer, Coded, Table
from spurplan.reporting.layout import Layout, Show, View
from spurplan.reporting.plain import counted
from spurplan.reporting.text import title_of
from spurplan.reporting.views.pairs import PAIRS, TRIPLES, folded
from spurplan.responses.counting import counts_of
from spurplan.responses.folding import fold
from spurplan.responses.grades import GRADES
from spurplan.responses.listening.limits import limits
from spurplan.units import hz_text, percent_text, s_text

# a pointer is off by less than this share of what it shows, an IF by more
MISMARKED = 0.02

UNKNOWN_SHARE = Show("Unknown", ("unknown_share",))
UNLISTED_SHARE = Show("Not listed", ("unlisted_share",))
UNKNOWN = (
    Show("Range", ("range",)),
    Show("On the dial", ("dial_low_hz", "dial_high_hz"), near=True),
    Show("Margin of a strong one there", ("margin_db",), places=0),
)
# places where a station turns up, in the sentence above
_NAMED = 3
# rows that are seen first
_FIRST = 5
RANGES = (
    Show("Range", ("range",)),
    Show("Word", ("word",), comfort=12),
    Show("Tunes", ("low_hz", "high_hz"), near=True),
    Show("Usable", ("usable_share",), key="every"),
    Show("Between", ("usable_low", "usable_high"), 2),
    Show("Busy", ("busy_share",), 6),
    Show("Clear", ("clear_share",), 3),
    UNKNOWN_SHARE,
    UNLISTED_SHARE,
    Show("Image", ("image_rejection_db",), 1, places=0),
    Show("Worst intruder", ("worst_label", "worst_response"), 3, short=("worst_label",), comfort=14),
    Show("Margin", ("worst_margin_db",), 4, places=0),
    Show("Loudest at", ("worst_dial_hz",), 5, near=True),
    Show("Intruders", ("intruders",), 4),
    Show("Dead", ("dead_low_hz", "dead_high_hz"), 2, near=True),
)


def view(answer: Answer, receiver: str = "", about: str = "") -> View:
    """Return what people see of dial, ranges and station: rows that say the same are one.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    about : str. What was asked, behind the name of the set: ", looking for 15130 kHz".
    """
    tables, remarks = {}, []
    # the ranges sum up what follows, so they stand first
    for name in sorted(answer.tables, key=lambda name: name != "ranges"):
        if name == "dial":  # its one line is the sentence above
            continue
        tables[name] = table = answer.tables[name]
        if name in ("unknown", "overload") and not len(table):
            del tables[name]
        if is_intrusions(table):
            tables[name], stand_for = fold(table, by_station="on_frequency" in answer.tables)
            if len(stand_for) < len(table):
                lines = counted(len(stand_for), "line")
                remarks.append(f"{title_of(name)}: {len(table):,} records in {lines}.")
    if remarks:
        remarks.append("One range, service, grade and way in make a line; json lists each.")
    layouts = {name: columns_of(table) for name, table in tables.items() if is_intrusions(table)}
    if "ranges" in tables:
        layouts["ranges"] = with_unknown(RANGES, tables["ranges"])
    if "unknown" in tables:
        layouts["unknown"] = UNKNOWN if len(tables["ranges"]) > 1 else UNKNOWN[1:]
    sentences = [" ".join(remarks)] if remarks else []
    if "pairs" in tables:
        tables["pairs"], remark = folded(tables["pairs"])
        layouts["pairs"] = PAIRS
        sentences += [remark] if remark else []
    if "triples" in tables:
        layouts["triples"] = TRIPLES
    return View(
        tuple(heading(answer, about)), tables, layouts, tuple(receiver.splitlines()), tuple(sentences)
    )


def with_unknown(layout: Layout, table: Table) -> Layout:
    """Return a layout without the shares nobody can tell of where there are none.

    Where later rows alone have some it may be left out.
    """
    out: list[Show] = []
    for show in layout:
        if show not in (UNKNOWN_SHARE, UNLISTED_SHARE):
            out.append(show)
            continue
        shares = np.nan_to_num(np.asarray(table[show.fields[0]], dtype=np.float64))
        if shares.any():
            out.append(show if shares[:_FIRST].any() else replace(show, rank=7))
    return tuple(out)


def is_intrusions(table: Table) -> bool:
    """Return whether a table holds records of this kind."""
    return "steps" in table.values and "margin_db" in table.values


def heading(answer: Answer, about: str = "") -> list[str]:
    """Return the lines above the tables: what it comes to, then how much is heard, by grade."""
    sentences = [finding.sentence for finding in answer.findings or ()]
    return [title(answer, about), *sentences, *_turns_up(answer), counted_said(answer), *besides(answer)]


def title(answer: Answer, about: str = "") -> str:
    """Return the name of the set with what was asked."""
    return f"{answer.receiver}{about or _setting(answer)}"


def counted_said(answer: Answer) -> str:
    """Return how much is heard that does not belong, by grade."""
    by_grade = counts_of(answer.first).tolist()
    phrases = [f"{count:,} {grade}" for grade, count in zip(GRADES, by_grade, strict=True) if count][::-1]
    none = "No intrusions." if "wanted" not in answer.tables else "It comes in nowhere by a wrong way."
    together = [name for name in ("pairs", "triples") if len(answer.tables.get(name, ()))]
    if together:
        by = " and ".join({"pairs": "two", "triples": "three"}[name] for name in together)
        none = f"No intrusions by one station alone; products of {by} are below."
    return f"{counted(sum(by_grade), 'intrusion')}: {', '.join(phrases)}." if phrases else none


def besides(answer: Answer) -> list[str]:
    """Return what else to know of an answer: what it rests on, and where it is not to be trusted."""
    table = answer.first
    lines = []
    assumed = _count(table, "level_from")["assumed"]
    if not counts_of(table).sum() and "pairs" not in answer.tables:
        lines.append(f"That rests on assumed levels: {_still_heard(answer)}.")
    if assumed:
        verb = "is" if assumed == 1 else "are"
        which = (
            "All levels are" if assumed == len(table) else f"{assumed:,} of the {len(table):,} levels {verb}"
        )
        lines.append(
            f"{which} assumed, typical of the service; a band may be occupied, now and then or never."
        )
    return lines + _not_to_be_trusted(answer)


def _turns_up(answer: Answer) -> list[str]:
    """Say where a station that was asked about is heard: its own place, then wrong ones, loudest first."""
    if "wanted" not in answer.tables:
        return []
    places = {}
    for name in ("wanted", "intrusions"):
        places[name] = {
            hz_text(round((row["dial_low_hz"] + row["dial_high_hz"]) // 2, -3)): row
            for row in reversed(answer.tables[name].records())
        }
    if len({(row["rf_low_hz"], row["rf_high_hz"]) for some in places.values() for row in some.values()}) != 1:
        return []
    own = [f"{dial}, {row['heard_s']}" for dial, row in reversed(places["wanted"].items())]
    wrong = [
        f"{dial} by the {row['response']}, {row['heard_s']}"
        for dial, row in reversed(places["intrusions"].items())
    ]
    more = len(wrong) - _NAMED
    own_text = f"Heard on its own place, {'; '.join(own)}" if own else "The set does not tune its own place"
    also = f"; where it does not belong, on {'; '.join(wrong[:_NAMED])}" if wrong else ""
    return [f"{own_text}{also}{f' and {more} more' if more > 0 else ''}."]


def _still_heard(answer: Answer) -> str:
    """Say what would be heard where nothing is, as far as the answer tells."""
    images = [
        f"{dbm:.0f} dBm ({s_text(dbm, row['low_hz'])}) on range {row['range']}"
        for row in (answer.tables["ranges"].records() if "ranges" in answer.tables else ())
        if (dbm := row["image_heard_from_dbm"]) is not None
    ]
    if not images:
        return "a strong local station may come through all the same"
    return f"a local station is heard as an image from {', '.join(images)}"


def _not_to_be_trusted(answer: Answer) -> list[str]:
    """Return where nothing listed does not mean clear: on the set's own IF, and beyond the tables."""
    own = answer.settings.get("on_own_if")
    lines = [f"Unusable: on range {own} that is the set's own IF, whatever is listed."] if own else []
    thin = thin_tables(answer.settings.get("listed_share"))
    lines += [f"Unknown: {thin}"] if thin else []
    beyond = answer.settings.get("image_unknown")
    if beyond:
        on = f" on range {', '.join(beyond)}" if len(beyond) > 1 else ""
        lines.append(
            f"Unknown: its image lies beyond the tables{on}: nothing listed there is not nothing heard."
        )
    for row in answer.tables["ranges"].records() if "ranges" in answer.tables else ():
        if row["dead_low_hz"] is not None:
            spoilt = f"from {hz_text(row['dead_low_hz'])} to {hz_text(row['dead_high_hz'])}"
            lines.append(f"Dead: range {row['range']} {spoilt}, where the set's own IF lies.")
        if row["unknown_share"] > 0:
            share = percent_text(row["unknown_share"])
            lines.append(
                f"Unknown: on {share} % of range {row['range']} the image lies beyond the tables: nothing "
                "listed there is not nothing heard."
            )
    return lines


def thin_tables(listed: float | None) -> str:
    """Say how little tables tell of what they span; "" of those that tell nearly all.

    Parameters
    ----------
    listed : as `responses.assumptions.listed_share`.
    """
    if listed is None or listed >= limits()["listed"]["well"]:
        return ""
    return (
        f"the tables list somebody on {percent_text(listed)} % of what they span; nothing heard means nobody "
        "listed is."
    )


def _count(table: Table, name: str) -> Counter[str]:
    """Return how often each word stands in a column of text."""
    value = table.values[name]
    if not isinstance(value, Coded):
        return Counter(value.tolist())
    codes, times = np.unique(value.codes, return_counts=True)
    return Counter({value.words[code]: int(n) for code, n in zip(codes, times, strict=True) if code >= 0})


def _setting(answer: Answer) -> str:
    """Return the dial setting a question was about, " at 14.2 MHz"; "" for one about more."""
    hz, error_hz = answer.settings.get("frequency_hz"), answer.settings.get("dial_error_hz")
    if hz is None:
        return ""
    shown = answer.settings.get("set_dial_hz")
    return (
        f" at {hz_text(hz)}"
        + (f", where its dial shows {hz_text(shown)}" if shown else "")
        + (f", give or take {hz_text(error_hz)}" if error_hz else "")
    )


def columns_of(table: Table) -> Layout:
    """Return the columns people see of intrusions.

    Notes
    -----
    Where on the dial, how loud, who, and where in truth stand at any width, the way in from eighty
    columns on. The dial goes where it says the same in every row, as do ranges.
    """
    one_dial = len(table) > 0 and _constant(table, "dial_low_hz") and _constant(table, "dial_high_hz")
    dial = (
        ()
        if one_dial and table["dial_low_hz"][0] == table["dial_high_hz"][0]
        else ("dial_low_hz", "dial_high_hz")
    )
    other = _shows_something_else(table)
    ranges = not _constant(table, "range")
    return (
        *([Show("Range", ("range",))] if ranges else []),
        *([Show("Tuned to" if other else "On the dial", dial, near=True)] if dial else []),
        *([Show("Set's dial", ("set_dial_hz",), 2, near=True)] if dial and other else []),
        Show("Grade", ("grade",), 3),
        Show("Heard", ("heard_s",), 1),
        Show("Margin", ("margin_db",), places=0, key="every", by="grade"),
        Show("Chance", ("chance",), 4),
        Show("Station or band", ("label",), comfort=14),
        Show("Really on", ("rf_low_hz", "rf_high_hz"), near=True),
        Show("By way of", ("response", "equation", "note"), 3, short=("response",)),
        Show("At the aerial", ("antenna_dbm",), 5, places=0),
        Show("Rejection", ("rejection_db",), 6, places=0),
        Show("Moves", ("moves",), 7),
        Show("Level", ("level_from",), 8),
    )


def _shows_something_else(table: Table) -> bool:
    """Return whether the set's own dial is marked in another frequency, not just a little off."""
    shown, tuned = table["set_dial_hz"], table["loudest_dial_hz"]
    return bool((np.abs(shown - tuned) > MISMARKED * tuned).any())


def _constant(table: Table, name: str) -> bool:
    values = table[name]
    return len(values) > 0 and bool((values == values[0]).all())
