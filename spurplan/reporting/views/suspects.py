"""How suspects read for people: what it is, where it really is, how sure that is, and what to try next."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from spurplan.columns import Answer, Table
from spurplan.planning.suspects.evening import Common, Evening
from spurplan.planning.suspects.evidence import ANOTHER_SET, FITS, SOUND_WORDS, Evidence, Test, made_tests
from spurplan.planning.suspects.foremost import foremost
from spurplan.planning.suspects.suspects import Findings, RankedWay
from spurplan.planning.suspects.ways import (
    BIRDIE,
    CROSS,
    INTRUSION,
    NEIGHBOUR,
    OVERLOAD,
    PAIR,
    SELF_WHISTLE,
    THE_STATION,
    TRANSMITTER,
)
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted
from spurplan.responses.routes import PRODUCT
from spurplan.units import dial_text, hz_text, listed_text

# Suspects that a page has at most, where nobody asks for more.
MOST = 12
# who is in no table
STRANGER = "somebody in no table"
# From this weight on, and with something observed, the likeliest is said as what it is.
PLAINLY = 0.5

WHO = (
    Show("Weight", ("weight",)),
    Show("Cause", ("cause", "response")),
    Show("Station or band", ("label",)),
    Show("Really on", ("rf_hz",), near=True),
)
WOULD_SHOW = ("next_test",)
EVIDENCE = ("fits",)
MORE = (Show("By way of", ("equation",), 3), Show("Heard", ("heard_s",), 4))
# what there is to say of the observations is worth more than what to observe next
UNSEEN = (*WHO, Show("It would show", WOULD_SHOW), *MORE)
SEEN = (*WHO, Show("Evidence", EVIDENCE), Show("It would show", WOULD_SHOW, 2), *MORE)

# a station so far from where the pointer stands is told with its frequency
POINTER_HZ = 1_000

_WAYS = {
    "image": "an image",
    "half-IF": "a half-IF response",
    "IF breakthrough": "a signal on the IF itself",
    "LO-harmonic": "a signal that mixes with a harmonic of the oscillator",
    "RF-harmonic": "a harmonic of the signal, made in the mixer",
    PRODUCT: "a product of two harmonics",
}
_CAUSES = {
    THE_STATION: "a station that belongs there",
    NEIGHBOUR: "a neighbour by way of the skirts",
    BIRDIE: "a birdie of the set's own",
    SELF_WHISTLE: "a station that whistles with itself",
    TRANSMITTER: "the harmonic of a transmitter near by",
    PAIR: "a product of two strong stations",
    CROSS: "cross-modulation by a strong station",
    OVERLOAD: "a strong station that overloads the set",
}


def view(answer: Answer, receiver: str = "", most: int = MOST) -> View:
    """Return what people see of suspects.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    most : int. Suspects shown at most, of all ranges together; 0 for all.
    """
    findings: Findings = answer.findings
    by_range = findings.by_range()
    test = None if findings.next_test is None else findings.next_test.test
    heading = [] if findings.nobody_belongs is None else [findings.nobody_belongs.sentence]
    for name, some in by_range.items():
        # the places to listen at are enough to name once: those of the test, where it has such
        go = test is None or not test.places_hz
        heading += _answered(some, findings.seen, name if len(by_range) > 1 else None, go=go)
    if test is not None:
        then = _then(next(iter(by_range.values()))[0], test) if test.listening is ANOTHER_SET else ""
        heading.append(f"The test that would tell most: {test.name} ({test.option}){then}.")
    heading.append(f"{answer.receiver} at {hz_text(answer.settings['frequency_hz'])}")
    ranges = Show("Range", ("range",))
    columns = UNSEEN if findings.seen == Evidence() else SEEN
    layout = (columns[0], ranges, *columns[1:]) if len(by_range) > 1 else columns
    table, remarks = _foremost(answer.tables["suspects"], findings.ranked, most)
    table = _named(table)
    described = tuple(receiver.splitlines())
    return View(tuple(heading), {"suspects": table}, {"suspects": layout}, described, remarks)


def _then(first: RankedWay, test: Test) -> str:
    """Say where to listen after places where the likeliest is not; "" where it is one of them."""
    hz = first.listen_hz
    if hz is None or hz in test.places_hz or first.way.cause != INTRUSION:
        return ""
    return f"; where it is not there, tune that set to {dial_text(hz)}"


def _answered(
    suspects: Sequence[RankedWay], seen: Evidence, name: str | None, *, go: bool = True
) -> list[str]:
    """Say what it is on one range, named where there are several; where to go and listen, if that is due."""
    first = suspects[0]
    on = "" if name is None else f"On range {name}: "
    share = f"{100 * first.weight:.0f} of 100"
    if seen == Evidence():
        second = f" before {phrase(suspects[1])} ({100 * suspects[1].weight:.0f})" if suspects[1:] else ""
        return [f"{on}Nothing was observed, so nothing is sure: likeliest {phrase(first)} ({share}){second}."]
    if not first.explained:
        sentence = "Nothing that the set leads one to expect there fits what was observed"
        nearest = (
            f"Of the ways in the likeliest: {phrase(suspects[1])} ({100 * suspects[1].weight:.0f} of 100)."
        )
        return [f"{on}{sentence}: look for a source in the house, or a fault.", nearest]
    because = _because(first, seen)
    if first.weight >= PLAINLY and because:
        lines = [f"{on}{because}: {phrase(first)} ({share}). {_where(first, go=go)}"]
    else:
        second = f", before {phrase(suspects[1])} ({100 * suspects[1].weight:.0f})" if suspects[1:] else ""
        lines = [f"{on}Not settled: likeliest {phrase(first)} ({share}){second}. {_where(first, go=go)}"]
    if not first.fitting:
        lines.append("Something observed speaks against it: make that test again.")
    return lines


def phrase(ranked_way: RankedWay) -> str:
    """Return what a way in is called in a sentence."""
    response = ranked_way.way.response
    if ranked_way.way.cause == INTRUSION:
        # the later mixers' are named by their number
        return _WAYS.get(str(response), f"a signal by way of the {response}")
    return _CAUSES.get(ranked_way.way.cause, "something the set does not explain")


def _because(ranked_way: RankedWay, seen: Evidence) -> str | None:
    """Return the observation that speaks for it, the motion first; None where none fits."""
    # what it sounds like says least of the way
    made = sorted(made_tests(seen, ranked_way.way.dial_hz), key=lambda pair: pair[0].option == "--heard")
    for test, shown in made:
        wording = _OBSERVED.get(test.option)
        if test.sits(ranked_way.who.traits, shown) != FITS:
            continue
        if wording is not None:
            return wording(seen)
        if test.listening is not None and shown:
            return f"It is {test.expects(ranked_way.who.traits)}"
    return None


def _moved(seen: Evidence) -> str:
    assert seen.motion is not None
    return f"It {seen.motion.phrase}"


_OBSERVED: Mapping[str, Callable[[Evidence], str]] = {
    "--moves": _moved,
    "--pad-drop": lambda seen: f"It falls {seen.pad_drop_db:g} dB with a 10 dB pad",
    "--inverted or --not-inverted": lambda seen: (
        "Its sideband is inverted" if seen.inverted else "Its sideband is the right way round"
    ),
    "--trimmer": lambda seen: (
        "No other setting of the front end peaks it"
        if seen.trimmer == "same"
        else f"It peaks with the circuits tuned {seen.trimmer}"
    ),
    "--loudest": lambda seen: _LOUDEST[str(seen.loudest)],
    "--behind-others": lambda seen: (
        "Other stations near by have it behind them"
        if seen.behind_others == "yes"
        else "No other station near by has it behind it"
    ),
    "--aerial-off": lambda seen: f"It {seen.aerial_off} when the aerial is taken off",
    "--heard": lambda seen: f"It sounds like {SOUND_WORDS[str(seen.heard)]}",
}


_LOUDEST: Mapping[str, str] = {
    "here": "It is loudest where it is",
    "up": "It grows up the dial",
    "down": "It grows down the dial",
    "everywhere": "It is the same all over the dial",
}


def _where(ranked_way: RankedWay, *, go: bool = True) -> str:
    """Say where it really is, and what to do to see it."""
    hz, label = ranked_way.listen_hz, ranked_way.who.label
    who = f" ({label if label is not None else STRANGER})"
    cause = ranked_way.way.cause
    if cause == THE_STATION:
        sender = label if label is not None else "nobody in the tables"
        # with a pointer that may be off, where it belongs is a question too
        off = hz is not None and abs(hz - ranked_way.way.dial_hz) >= POINTER_HZ
        return f"There by the tables: {sender}{f', on {dial_text(hz)}' if off and hz is not None else ''}."
    if cause == BIRDIE:
        return f"It is made in the set ({ranked_way.way.equation}): no aerial and no front end helps."
    if cause == SELF_WHISTLE:
        equation = ranked_way.way.equation
        return f"The station tuned in comes by two ways ({equation}): the front end does not help."
    if cause == NEIGHBOUR:
        beside = (
            f" on {dial_text(hz)}{who}" if label is not None and hz is not None else " a few kilohertz beside"
        )
        return f"Then it is{beside}: tune there, and it grows."
    if cause in (CROSS, OVERLOAD):
        sender = label if label is not None else "whoever sends near by"
        return f"Look for a strong station ({sender}); a trap for it, or a pad, cleans the dial up."
    if cause == PAIR:
        return f"By way of {ranked_way.way.equation}{who}; a pad takes it off faster than a station."
    if hz is None:
        return "Where it really is, nobody knows."
    return f"Then it is really on {dial_text(hz)}{who}{'; listen there on another set' if go else ''}."


def _named(table: Table) -> Table:
    """Return suspects with a word for who sends somewhere and is in no table."""
    labels = [
        STRANGER if row["label"] is None and row["rf_hz"] is not None else row["label"]
        for row in table.records()
    ]
    return replace(table, values={**table.values, "label": np.array(labels, dtype=object)})


def _foremost(table: Table, ranked: Sequence[RankedWay], most: int) -> tuple[Table, tuple[str, ...]]:
    """Return those there is room for, and what was left out."""
    if not most or len(table) <= most:
        return table, ()
    weight = np.asarray(table["weight"])
    families = [ranked_way.way.family for ranked_way in ranked]
    kept = np.array(foremost(families, weight.tolist(), most), dtype=np.int64)
    missing = len(table) - most
    share = 100 * (weight.sum() - weight[kept].sum()) / weight.sum()
    return table.take(kept), (
        f"{counted(missing, 'more way')} in, {share:.1f} of 100 together, left out; --top 0 shows them all.",
    )


def evening_view(answer: Answer) -> View:
    """Return what people see of an evening's observations, explained together."""
    evening: Evening = answer.findings
    heading = [_together(cause, evening) for cause in evening.common]
    if not heading:
        heading = ["Nothing explains two of these lines better than each its own cause does."]
    causes = answer.tables["causes"]
    tables = {"causes": causes, "lines": answer.tables["lines"]}
    layouts = {
        "lines": (
            Show("Line", ("line",)), Show("Dial", ("dial_hz",)), Show("Heard", ("heard",)),
            Show("Common", ("explained_by",)), Show("Cause", ("cause", "response")),
            Show("Really on", ("rf_hz",), near=True), Show("Station or band", ("label",), 1),
        )
    }  # fmt: skip
    levels = answer.tables["levels"]
    shown = {name: table for name, table in (*tables.items(), ("levels", levels)) if len(table)}
    return View((*heading, answer.receiver), shown, layouts)


def _together(cause: Common, evening: Evening) -> str:
    """Say what is behind several lines of a log."""
    lines = listed_text([str(evening.noted[i].line) for i in cause.lines])
    label = f" ({cause.who.label})" if cause.who.label is not None else ""
    if cause.first.listen_hz is None:
        return f"Behind lines {lines} is one cause: {phrase(cause.first)}{label}."
    hz = dial_text(cause.first.listen_hz)
    return f"Behind lines {lines} is one station, on {hz}{label}; listen for it there."
