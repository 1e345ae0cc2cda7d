"""How another IF reads for people: a verdict a range, then the proposals side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spurplan.columns import RANGE, Answer, Column, Table, table_of
from spurplan.planning.if_change.findings import Findings
from spurplan.planning.if_change.rows import Assessment
from spurplan.planning.if_change.scan_list import Scanned, Why
from spurplan.planning.judging import Standing
from spurplan.reporting import intrusions
from spurplan.reporting.layout import Layout, Show, View
from spurplan.units import decimal_text, hz_text, percent_text

SIDES = {"high": "above", "low": "below", "sum": "sum"}
FACES = {
    Standing.present: "present",
    Standing.better: "better",
    Standing.worse: "worse",
    Standing.same: "same",
    Standing.impossible: "not possible",
}

_IF = (
    Column("first_if_hz", "int", "Hz", True, "First IF", "the first of two IFs"),
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("side", "text", "", False, "LO", "side of the tuning oscillator"),
)
_COMPARED = (
    *_IF,
    Column("clear_share", "float", "", True, "Clear", "part of the range that is clear"),
    Column("unknown_share", "float", "", True, "Unknown", "part of it where an image is beyond the tables"),
    Column("image_rejection_db", "float", "dB", True, "Image", "least image rejection"),
    Column(
        "half_if_margin_db",
        "float",
        "dB",
        True,
        "Half-IF margin",
        "margin of the loudest by the half-IF route",
    ),
    Column("worst", "text", "", True, "Worst left", "who is heard loudest, and by which way"),
    Column("worst_margin_db", "float", "dB", True, "Margin", "how far above the noise"),
    Column("face", "text", "", False, "It is", "better or worse than the present IF"),
)
_BESIDES = (
    RANGE,
    *_IF[:2],
    Column("on_if", "text", "", True, "On the IF", "the loudest that sits on the IF"),
    Column("on_if_dbm", "float", "dBm", True, "Heard", "and how loud"),
    Column("unusable", "text", "", True, "Unusable", "dial that the IF spoils"),
    Column("whistles", "text", "", True, "Whistles at", "harmonics of the IF, self-whistles"),
    Column("same_coils", "text", "", True, "Same coils pass", "bandwidth of coils of the present Q"),
)
_OSCILLATOR = (
    RANGE,
    *_IF,
    Column("swing", "text", "", True, "Swing", "of the tuning oscillator"),
    Column("ratio", "text", "", True, "Tunes 1 to", "its tuning ratio"),
    Column("off", "text", "", True, "Tracks within", "largest error with the best points"),
    Column("off_chebyshev", "text", "", True, "Chebyshev points", "largest error with Chebyshev's points"),
)
_IF_SHOWN = (Show("IF", ("if_hz",)), Show("LO", ("side",)))
_FIRST = Show("First IF", ("first_if_hz",))
COMPARED: Layout = (
    *_IF_SHOWN,
    Show("Clear", ("clear_share",)),
    intrusions.UNKNOWN_SHARE,
    Show("Image", ("image_rejection_db",)),
    Show("Half-IF margin", ("half_if_margin_db",), 3),
    Show("Worst left", ("worst",)),
    Show("Margin", ("worst_margin_db",)),
    Show("It is", ("face",)),
)
BESIDES: Layout = (
    Show("Range", ("range",)),
    Show("IF", ("if_hz",)),
    Show("On the IF", ("on_if",)),
    Show("Heard", ("on_if_dbm",)),
    Show("Unusable", ("unusable",), 1),
    Show("Whistles at", ("whistles",), 2),
    Show("Same coils pass", ("same_coils",), 3),
)
OSCILLATOR: Layout = (
    Show("Range", ("range",)),
    *_IF_SHOWN,
    Show("Swing", ("swing",)),
    Show("Tunes 1 to", ("ratio",)),
    Show("Tracks within", ("off",)),
    Show("Chebyshev points", ("off_chebyshev",), 3),
)
_SCANNED = (
    Column("rank", "int", "", False, "", "place"),
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("clear_share", "float", "", False, "Clear", "clear part of all ranges"),
    Column("unknown_share", "float", "", False, "Unknown", "part where an image is beyond the tables"),
    Column("image_rejection_db", "float", "dB", True, "Image", "least image rejection"),
    Column("worst_margin_db", "float", "dB", True, "Margin", "of the worst intruder"),
    Column("why", "text", "", True, "What spoils it", "the most of it"),
    Column("usual", "text", "", True, "Used in", "where it is usual"),
)
SCAN: Layout = (
    Show("", ("rank",)),
    Show("IF", ("if_hz",)),
    Show("Clear", ("clear_share",)),
    intrusions.UNKNOWN_SHARE,
    Show("Image", ("image_rejection_db",)),
    Show("Margin", ("worst_margin_db",), 2),
    Show("What spoils it", ("why",)),
    Show("Used in", ("usual",), 1),
)
REJECTION: Layout = (
    Show("Range", ("range",)),
    Show("Now", ("present_db",)),
    Show("at", ("dial_hz",)),
    Show("One more of Q", ("added_q",)),
    Show("Present ones of Q", ("present_circuits_q",)),
    Show("Circuits in all", ("circuits",)),
    Show("IF of", ("if_hz",)),
)
MOST_NAMED = 4


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of if_change.

    Parameters
    ----------
    receiver : str. The way of the signal through the set as it is, a line a range.
    """
    tables: dict[str, Table] = {}
    layouts: dict[str, Layout] = {}
    findings: Findings = answer.findings
    every = findings.assessments
    first = (_FIRST,) if any(one.first_if_hz is not None for one in every) else ()
    if findings.scan is not None:
        listed = [_scanned(one) for one in findings.scanned]
        tables["best and usual IFs"] = table_of("scan", _SCANNED, listed)
        layouts["best and usual IFs"] = intrusions.with_unknown(SCAN, tables["best and usual IFs"])
    for one in findings.ranges:
        title = f"range {one.name}"
        tables[title] = table_of(title, _COMPARED, [_compared(own) for own in findings.on_range(one.name)])
        layouts[title] = (*first, *intrusions.with_unknown(COMPARED, tables[title]))
    tables["on the IF"] = table_of("besides", _BESIDES, _besides(every))
    layouts["on the IF"] = (BESIDES[0], *first, *BESIDES[1:])
    oscillators = [_oscillator(answer, one) for one in every if one.oscillator_hz is not None]
    tables["oscillator"] = table_of("oscillator", _OSCILLATOR, oscillators)
    layouts["oscillator"] = (OSCILLATOR[0], *first, *OSCILLATOR[1:])
    if "rejection" in answer.tables:
        tables["for that image rejection"] = answer.tables["rejection"]
        layouts["for that image rejection"] = REJECTION
    remarks = [*_ways(answer), *_parts(answer), *_filters(answer), *_radiates(answer)]
    heading = [answer.receiver, *receiver.splitlines(), *_of_scan(answer), *_recommendation(findings)]
    return View(tuple(heading), tables, layouts, tuple(remarks))


def _recommendation(findings: Findings) -> list[str]:
    """Return what is recommended, range by range, and for all of them."""
    lines = [_of_range(findings, one.name) for one in findings.ranges]
    if 1 < len(findings.ranges) < len(findings.assessments):
        lines.append(f"All ranges together are clearest with {findings.text}.")
    return lines


def _of_range(findings: Findings, name: str) -> str:
    """Return what is recommended on a range in a sentence or two."""
    best = findings.recommended[name]
    if best.verdict.standing is Standing.present:
        kept = "keep" if len(findings.on_range(name)) > 1 else "now"
        sentence = f"Range {name}: {kept} {_name(best)}; {best.verdict.because}."
    else:
        sentence = f"Range {name}: {_name(best)} is {best.verdict.standing}; {best.verdict.because}."
    alone = findings.better_alone(name) if len(findings.ranges) > 1 else None
    return sentence if alone is None else f"{sentence} By itself it is better with {_name(alone)}."


def _of_scan(answer: Answer) -> list[str]:
    """Return what a scan found, in a sentence or two."""
    findings: Findings = answer.findings
    if findings.scan is None:
        return []
    low_hz, high_hz = (answer.settings[name] for name in ("scan_low_hz", "scan_high_hz"))
    tried = (
        f"{len(findings.scan.if_hz):,} IFs from {hz_text(low_hz)} to {hz_text(high_hz)} "
        f"tried, every {hz_text(findings.scan.step_hz)} and the usual ones."
    )
    if any(one.first_if_hz is not None for one in findings.assessments):
        tried += " It is the last IF that is tried: the first stays, and the image with it; see --first-if."
    if not findings.scanned:
        none = "None can be had: the oscillator, or an edge of the filter, would come to 0 Hz or below."
        return [tried, none]
    best = findings.scanned[0]
    usual = next((one for one in findings.scanned if one.usual is not None), None)
    present = next((one for one in findings.scanned if one.present), None)
    if present is not None and percent_text(present.clear_share) == percent_text(best.clear_share):
        return [tried, f"None leaves more of the dial clear than the present {_clear(present, ': ')}."]
    sentence = f"The best: {_clear(best, ' leaves ')} of the dial clear"
    if usual is not None and usual is not best:
        sentence += f"; of the usual ones {_clear(usual, ', ')}"
    return [tried, f"{sentence}."]


def _clear(one: Scanned, between: str) -> str:
    return f"{hz_text(one.if_hz)}{between}{percent_text(one.clear_share)} %"


def _scanned(one: Scanned) -> dict[str, Any]:
    """Return an IF of a scan with the few reasons that matter most, and how wide the place is."""
    few = [*one.reasons[:2], *(why for why in one.reasons[2:] if why.about is Why.as_good)]
    shown = {column.name: getattr(one, column.name, None) for column in _SCANNED}
    return {**shown, "why": "; ".join(why.text for why in few)}


def _name(one: Assessment) -> str:
    """Return "465 kHz above", "10.7 MHz, 465 kHz above"."""
    return _named(one.first_if_hz, one.if_hz, one.injection)


def _named(first_if_hz: int | None, if_hz: int, injection: str) -> str:
    first = "" if first_if_hz is None else f"{hz_text(first_if_hz)}, "
    return f"{first}{hz_text(if_hz)} {SIDES[injection]}"


def _compared(one: Assessment) -> dict[str, Any]:
    verdict, record = one.verdict, one.record()
    worst = None if verdict.worst is None else f"{verdict.worst.label}, {verdict.worst.by}"
    return {
        **_if(one),
        **{name: record[name] for name in _FIGURES},
        "worst": verdict.because if verdict.standing is Standing.impossible else worst,
        "face": FACES[verdict.standing],
    }


_FIGURES = ("clear_share", "unknown_share", "image_rejection_db", "half_if_margin_db", "worst_margin_db")


def _if(one: Assessment) -> dict[str, Any]:
    return {"first_if_hz": one.first_if_hz, "if_hz": one.if_hz, "side": SIDES[one.injection]}


def _besides(every: Sequence[Assessment]) -> list[dict[str, Any]]:
    """Return what the IF itself brings, once for each IF: the side of the oscillator is nothing to it."""
    rows: dict[tuple[Any, ...], dict[str, Any]] = {}
    for one in every:
        record = one.record()
        spoilt = record["unusable_low_hz"]
        rows.setdefault(
            (record["range"], one.first_if_hz, one.if_hz),
            {
                **{name: record[name] for name in ("range", "first_if_hz", "if_hz", "on_if_dbm")},
                "on_if": record["on_if_label"],
                "unusable": None if spoilt is None else span_text(spoilt, record["unusable_high_hz"]),
                "whistles": _listed([hz_text(hz) for hz in one.whistles_hz]) or None,
                "same_coils": None if one.bandwidth_hz is None else near_text(one.bandwidth_hz),
            },
        )
    return list(rows.values())


def _oscillator(answer: Answer, assessed: Assessment) -> dict[str, Any]:
    """Return the oscillator of a proposal and what tracks it."""
    name, ratio = assessed.proposal.range.name, assessed.oscillator_ratio
    tracked_hz = assessed.if_hz if assessed.first_if_hz is None else assessed.first_if_hz
    errors_hz = {
        row["points"]: row["peak_error_hz"]
        for row in answer.tables["tracking"].records()
        if (row["range"], row["if_hz"], row["injection"]) == (name, tracked_hz, assessed.injection)
        and row["peak_error_hz"] is not None
    }
    off, off_chebyshev = errors_hz.get("minimax"), errors_hz.get("chebyshev")
    assert assessed.oscillator_hz is not None
    return {
        "range": name,
        **_if(assessed),
        "swing": span_text(*assessed.oscillator_hz),
        "ratio": None if ratio is None else f"{ratio:.2f}",
        "off": None if off is None else near_text(off),
        "off_chebyshev": None if off_chebyshev is None else near_text(off_chebyshev),
    }


def _parts(answer: Answer) -> list[str]:
    """Return padder, trimmer and coil in words, where a gang is described, for what can be tracked."""
    said = []
    for row in answer.tables["tracking"].records():
        if row["padder_pf"] is None or row["points"] != "minimax":
            continue
        points = points_text([row[f"{name}_point_hz"] for name in ("low", "mid", "high")])
        alone = row["series_padder_pf"]
        said.append(
            f"Range {row['range']}, {hz_text(row['if_hz'])} {SIDES[row['injection']]}: padder "
            f"{row['padder_pf']:.0f} pF, trimmer {row['trimmer_pf']:.1f} pF, oscillator coil "
            f"{row['coil_uh']:.1f} uH are right at {points}"
            + ("." if alone is None else f"; a series padder alone is {alone:.0f} pF.")
        )
    return said


def _ways(answer: Answer) -> list[str]:
    """Say what the columns about image rejection mean, and what stands in the way."""
    if "rejection" not in answer.tables:
        return []
    rows = answer.tables["rejection"].records()
    said = [
        f"For an image {rows[0]['rejection_db']:.3g} dB down all over a range, any one of: one more tuned "
        "circuit of that loaded Q; the circuits it has with that Q; that many of the present Q; the present "
        "front end with that IF or a higher one."
    ]
    return said + [f"Range {row['range']}: {row['note']}." for row in rows if row["note"]]


def _filters(answer: Answer) -> list[str]:
    return [
        f"Filters for {hz_text(row['made_for_hz'])} ({row['used_in']}): {row['filters']}."
        for row in answer.tables["filters"].records()
    ]


def _radiates(answer: Answer) -> list[str]:
    """Say what the oscillator disturbs that it did not before, for the side it is on now."""
    findings: Findings = answer.findings
    present = {one.name: findings.on_range(one.name)[0].injection for one in findings.ranges}
    remarks = []
    for row in answer.tables["radiates"].records():
        if row["new_labels"] and row["injection"] == present[row["range"]]:
            name = _named(row["first_if_hz"], row["if_hz"], row["injection"])
            labels = _listed(row["new_labels"])
            remarks.append(f"Range {row['range']}, {name}: the oscillator also sweeps over {labels}.")
    return remarks


def _listed(words: Sequence[str]) -> str:
    """Return the first few, and how many more there are."""
    more = len(words) - MOST_NAMED
    return "; ".join(words[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def span_text(low_hz: int, high_hz: int) -> str:
    """Return "12.6-31.6 MHz"."""
    exponent, unit = (3, "kHz") if low_hz < 1_800_000 else (6, "MHz")
    return f"{decimal_text(low_hz, exponent)}-{decimal_text(high_hz, exponent)} {unit}"


def near_text(hz: int) -> str:
    """Return a frequency for the eye, to a tenth of a kilohertz."""
    return hz_text(round(hz, -2)) if hz >= 1_000 else hz_text(hz)


def points_text(points_hz: Sequence[int]) -> str:
    """Return frequencies for the eye in one unit: "588, 1012.3, 1530.6 kHz"."""
    near = [round(hz, -2) for hz in points_hz]
    exponent, unit = (3, "kHz") if min(near) < 1_800_000 else (6, "MHz")
    return ", ".join(decimal_text(hz, exponent) for hz in near) + f" {unit}"
