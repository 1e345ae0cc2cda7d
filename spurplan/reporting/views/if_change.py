"""How another IF reads for people: a verdict a range, then the proposals side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spurplan.columns import RANGE, Answer, Column, Table, table_of
from spurplan.planning.decision import Comparison
from spurplan.planning.if_change.costs import range_around
from spurplan.planning.if_change.findings import Findings, Plan
from spurplan.planning.if_change.nearby import Nearby
from spurplan.planning.if_change.proposal_table import Assessment
from spurplan.planning.if_change.proposals import Asked
from spurplan.planning.if_change.scan_list import Scanned, Why
from spurplan.planning.if_change.verdict import Fate, usable_text
from spurplan.reporting.layout import Layout, Show, View
from spurplan.reporting.views import intrusions
from spurplan.responses.asking import cover_text
from spurplan.responses.listening.findings import HARDLY_LISTED, WORTH_A_WORD, listed_alone_said
from spurplan.units import KILOHERTZ_BELOW_HZ, decimal_text, hz_text, listed_text, share_text

SIDES = {"high": "above", "low": "below", "sum": "sum"}

_IF = (
    Column("first_if_hz", "int", "Hz", True, "First IF", "the first of two IFs"),
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("side", "text", "", False, "LO", "side of the tuning oscillator"),
)
_COMPARED = (
    *_IF,
    Column("usable_share", "float", "", True, "Usable", "part of the range usable on a busy evening"),
    Column("gain", "text", "", True, "Gain", "in points of a hundred"),
    Column("gain_span", "text", "", True, "8 of 10", "between what it lies in eight worlds of ten"),
    Column("unknown_share", "float", "", True, "Unknown", "part of it where an image is beyond the tables"),
    Column("unlisted_share", "float", "", True, "Not listed", "part where the tables list hardly anybody"),
    Column("image_rejection_db", "float", "dB", True, "Image", "least image rejection"),
    Column(
        "half_if_margin_db",
        "float",
        "dB",
        True,
        "Half-IF margin",
        "margin of the loudest by the half-IF route",
    ),
    Column("lost_to", "text", "", True, "Most lost to", "who takes most, and by which way"),
    Column("face", "text", "", False, "It is", "better or worse than the present IF"),
)
_BESIDES = (
    RANGE,
    *_IF[:2],
    Column("on_if", "text", "", True, "On the IF", "the loudest that sits on the IF"),
    Column("on_if_dbm", "float", "dBm", True, "Heard", "and how loud"),
    Column("dead", "text", "", True, "Dead", "dial that lies on the IF"),
    Column("whistles", "text", "", True, "Whistles at", "harmonics of the IF, self-whistles"),
    Column("same_coils", "text", "", True, "Same coils pass", "bandwidth of coils of the present Q"),
)
_OSCILLATOR = (
    RANGE,
    *_IF,
    Column("swing_low_hz", "int", "Hz", False, "Swing", "of the tuning oscillator, lowest"),
    Column("swing_high_hz", "int", "Hz", False, "", "and highest"),
    Column("ratio", "text", "", True, "Tunes 1 to", "its tuning ratio"),
    Column("off", "text", "", True, "Tracks within", "largest error with the best points"),
    Column("off_chebyshev", "text", "", True, "Chebyshev points", "largest error with Chebyshev's points"),
)
_IF_SHOWN = (Show("IF", ("if_hz",)), Show("LO", ("side",)))
_FIRST = Show("First IF", ("first_if_hz",))
COMPARED: Layout = (
    *_IF_SHOWN,
    Show("Usable", ("usable_share",)),
    Show("Gain", ("gain",)),
    Show("8 of 10", ("gain_span",), 2),
    intrusions.UNKNOWN_SHARE,
    intrusions.UNLISTED_SHARE,
    Show("It is", ("face",), key="every"),
    Show("Image", ("image_rejection_db",), 1, places=0),
    Show("Half-IF margin", ("half_if_margin_db",), 4, places=0),
    Show("Most lost to", ("lost_to",), 3),
)
BESIDES: Layout = (
    Show("Range", ("range",)),
    Show("IF", ("if_hz",)),
    Show("On the IF", ("on_if",)),
    Show("Heard", ("on_if_dbm",), places=0),
    Show("Dead", ("dead",), 1),
    Show("Whistles at", ("whistles",), 2),
    Show("Same coils pass", ("same_coils",), 3),
)
OSCILLATOR: Layout = (
    Show("Range", ("range",)),
    *_IF_SHOWN,
    Show("Swing", ("swing_low_hz", "swing_high_hz"), near=True),
    Show("Tunes 1 to", ("ratio",)),
    Show("Tracks within", ("off",)),
    Show("Chebyshev points", ("off_chebyshev",), 3),
)
_SCANNED = (
    Column("rank", "int", "", False, "", "place"),
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("usable_share", "float", "", False, "Usable", "part of all ranges usable on a busy evening"),
    Column("gain", "text", "", True, "Gain", "in points of a hundred"),
    Column("gain_span", "text", "", True, "8 of 10", "between what it lies in eight worlds of ten"),
    Column("unknown_share", "float", "", True, "Unknown", "part where an image is beyond the tables"),
    Column("unlisted_share", "float", "", True, "Not listed", "part where the tables list hardly anybody"),
    Column("face", "text", "", False, "It is", "better or worse than the present IF"),
    Column("image_rejection_db", "float", "dB", True, "Image", "least image rejection"),
    Column("why", "text", "", True, "Why", "what stands against it, what it loses"),
    Column("usual", "text", "", True, "Used in", "where it is usual"),
)
SCAN: Layout = (
    Show("", ("rank",)),
    Show("IF", ("if_hz",)),
    Show("Usable", ("usable_share",)),
    Show("Gain", ("gain",)),
    Show("8 of 10", ("gain_span",), 1),
    intrusions.UNKNOWN_SHARE,
    intrusions.UNLISTED_SHARE,
    Show("It is", ("face",), key="every"),
    Show("Image", ("image_rejection_db",), 2, places=0),
    Show("Why", ("why",)),
    Show("Used in", ("usual",), 3),
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
MOST_PLANS, MOST_COSTS = 3, 3


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
    first = (_FIRST,) if any(assessment.first_if_hz is not None for assessment in every) else ()
    if findings.scan is not None:
        listed = [_scanned(scanned_if) for scanned_if in findings.scanned]
        tables["best and usual IFs"] = table_of("scan", _SCANNED, listed)
        layouts["best and usual IFs"] = intrusions.with_unknown(SCAN, tables["best and usual IFs"])
    for range_ in findings.ranges:
        title = f"range {range_.name}"
        tables[title] = table_of(title, _COMPARED, [_compared(own) for own in findings.on_range(range_.name)])
        layouts[title] = (*first, *intrusions.with_unknown(COMPARED, tables[title]))
    tables["on the IF"] = table_of("besides", _BESIDES, _besides(every))
    layouts["on the IF"] = (BESIDES[0], *first, *BESIDES[1:])
    oscillators = [
        _oscillator(answer, assessment) for assessment in every if assessment.oscillator_hz is not None
    ]
    tables["oscillator"] = table_of("oscillator", _OSCILLATOR, oscillators)
    layouts["oscillator"] = (OSCILLATOR[0], *first, *OSCILLATOR[1:])
    if "rejection" in answer.tables:
        tables["for that image rejection"] = answer.tables["rejection"]
        layouts["for that image rejection"] = REJECTION
    remarks = [*_ways(answer), *_parts(answer), *_filters(answer), *_radiates(answer)]
    heading = [*_recommendation(findings), *_of_scan(answer)]
    described = (answer.receiver, *receiver.splitlines())
    return View(tuple(heading), tables, layouts, described, tuple(remarks))


def verdict(findings: Findings) -> str:
    """Return what is recommended for all ranges asked about, in a sentence or two."""
    return " ".join([_headline(findings), *_besides_use(findings)])


def _recommendation(findings: Findings) -> list[str]:
    """Return what to do in a sentence, what the other IFs come to, and each range of several."""
    if not any(not change.same_if for change in findings.considered):
        return [_of_range(findings, range_.name) for range_ in findings.ranges]
    others = [plan for plan in findings.plans[1:] if plan is not findings.chosen and not plan.change.same_if]
    lines = [_of_plan(plan) for plan in others[:MOST_PLANS]]
    if len(findings.ranges) < len(findings.receiver.ranges) and not findings.chosen.present:
        lines.append(_of_others(findings))
    ranges = [_of_range(findings, range_.name) for range_ in findings.ranges]
    if len(ranges) == 1:
        return [" ".join([*ranges, *_besides_use(findings)]), *lines]
    return [verdict(findings), *lines, *ranges]


def _of_others(findings: Findings) -> str:
    """Return what a change on the ranges asked about alone is to the others."""
    if_hz = findings.chosen.change.if_hz
    around = None if if_hz is None else range_around(findings.receiver, if_hz)
    if if_hz is None or around is None:
        return "A set has one IF: ask without --range what it does to the others."
    own = _ranges([range_.name for range_ in findings.ranges])
    return (
        f"That is on {own} alone, the others keep theirs: as the IF of the whole set "
        f"{hz_text(if_hz)} lies inside range {around.name}."
    )


def _headline(findings: Findings) -> str:
    """Return what is recommended for all ranges asked about."""
    plan, before = findings.chosen, findings.plans[0].together
    of = cover_text(findings.cover)
    alone = listed_alone_said(max(before.unlisted, plan.together.unlisted))
    if plan.present and not findings.kept:
        return _spaced(f"Change to {findings.noun} alone.", alone)
    if plan.present and before.nobody_tells:
        return f"Nobody can tell whether another IF would be better: {HARDLY_LISTED}. Keep the present one."
    if plan.present:
        usable = usable_text(before.usable, before.interval, before.at, of=of)
        near = findings.nearby
        if near is None:
            return _spaced(f"Keep the present IF: {usable}.", alone)
        return _spaced(f"{_nearby_said(findings, near)} Now {usable}.", alone)
    usable = usable_text(
        plan.together.usable,
        plan.together.interval,
        before.at,
        before.usable,
        of=of,
    )
    return _spaced(f"Change to {findings.noun}: {usable}.", alone)


def _spaced(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


def _besides_use(findings: Findings) -> list[str]:
    """Return what the recommended change costs, or why nothing is changed."""
    if findings.kept:
        untold = findings.plans[0].together.nobody_tells
        return [] if untold or findings.nearby is not None else [_why_kept(findings)]
    costs = "".join(f"; {cost}" for cost in findings.costs)
    sentences = [f"It costs some {evenings_text(findings.effort)}{costs}."]
    alike = [plan.change.noun for plan in findings.not_told_from]
    return sentences + ([f"Not told apart: {_listed(alike)}."] if alike else [])


def _nearby_said(findings: Findings, near: Nearby) -> str:
    """Return why not the IF asked about, then which ranges would gain by one near it, and at what price."""
    names = [near_range.range.name for near_range in near.ranges]
    shares = [
        (near_range.after.finding.usable, near_range.before.finding.usable) for near_range in near.ranges
    ]
    usable = listed_text([f"{share_text(after)} for {share_text(before)}" for after, before in shares])
    some = len(names) < len(findings.receiver.ranges)
    where = f"On {_ranges(names)}{' alone' if some else ''}"
    # the others keep theirs, and what follows the mixer has one tuning
    price = ", at the price of a second IF strip" if some else ""
    return (
        f"{_why_not(findings, near.asked_hz)} {where} {hz_text(near.if_hz)} would be better, usable {usable}"
        f"{price}: ask with --if {names[0]}={hz_text(near.if_hz).replace(' ', '')}."
    )


def _why_not(findings: Findings, asked_hz: int) -> str:
    """Return what stands against an IF that was asked about, and what to keep."""
    reasons = []
    around = range_around(findings.receiver, asked_hz, [range_.name for range_ in findings.ranges])
    if around is not None:
        reasons.append(f"it lies inside range {around.name}")
    assessed = [findings.of_change(Asked(if_hz=asked_hz), range_.name) for range_ in findings.ranges]
    through = [
        own.verdict.costs.through
        for own in assessed
        if own is not None and own.verdict.costs.through is not None
    ]
    if through:
        worst = max(through, key=lambda loss: loss.share)
        reasons.append(f"{worst.label} breaks through on it")
    if not reasons:
        reasons += [
            "what it brings to all of them is not worth the work"
            if plan.word in ("better", "a little better")
            else f"it is {said_of(plan.word)}"
            for plan in findings.plans
            if plan.change == Asked(if_hz=asked_hz)
        ]
    present = {findings.receiver.plans_of(range_)[-1].if_hz for range_ in findings.ranges}
    (only,) = present if len(present) == 1 else (None,)
    kept = "the present IFs" if only is None else hz_text(only)
    return f"{hz_text(asked_hz)}: no, {' and '.join(reasons)}; keep {kept}."


def _ranges(names: Sequence[str]) -> str:
    return f"range{'' if len(names) == 1 else 's'} {listed_text(names)}"


def _why_kept(findings: Findings) -> str:
    gains = [plan.gain.gain for plan in findings.possible if plan.gain is not None and plan.gain.beats]
    if gains:
        least = evenings_text(min(plan.effort for plan in findings.possible))
        return f"{100 * max(gains):.0f} points more are not worth {least}."
    every = [*(plan.gain for plan in findings.plans), *(scanned_if.gain for scanned_if in findings.scanned)]
    verdict_words = {
        assessment.verdict.word
        for assessment in findings.assessments
        if not assessment.proposal.change.present
    }
    if any(gain is not None and gain.beats for gain in every) or verdict_words & {
        "better",
        "a little better",
    }:
        return "What is better here is nothing that an old hand would build."
    return "Nothing here is better beyond luck."


def said_of(word: str | None) -> str:
    """Return a verdict as the end of a sentence."""
    return {"no difference": "no better", None: "not compared"}.get(word, str(word))


def _of_plan(plan: Plan) -> str:
    """Return what an IF that is not recommended comes to, in a sentence."""
    name = plan.change.noun
    text = f"{name[:1].upper()}{name[1:]} is {said_of(plan.word)}: {share_text(plan.together.usable)} usable"
    if plan.together.unlisted >= WORTH_A_WORD:
        text += ", of those listed"
    if plan.objections and plan.gain is not None and plan.gain.gain > 0.0:
        return f"{text}, but {' and '.join(plan.objections)}."
    return "; ".join([text, *plan.costs[:MOST_COSTS]]) + "."


def evenings_text(effort: float) -> str:
    """Return "8 evenings"."""
    return "1 evening" if effort == 1 else f"{effort:g} evenings"


def _of_range(findings: Findings, name: str) -> str:
    """Return what is recommended on a range in a sentence; what it costs stands elsewhere."""
    best = findings.recommended[name]
    verdict = best.verdict
    kept = "keep" if len(findings.on_range(name)) > 1 else "now"
    changed = f"{_name(best)} is {said_of(verdict.word)}"
    what = f"{kept} {_name(best)}" if verdict.fate is Fate.present else changed
    where = f"Range {name}" if findings.cover is None else f"Range {name}, {cover_text(findings.cover)}"
    return "; ".join([f"{where}: {what}", verdict.usable_said, *verdict.figures]) + "."


def _of_scan(answer: Answer) -> list[str]:
    """Return what a scan found, in a sentence or two."""
    findings: Findings = answer.findings
    if findings.scan is None:
        return []
    low_hz, high_hz = (answer.settings[name] for name in ("scan_low_hz", "scan_high_hz"))
    tried = (
        f"{len(findings.scan.if_hz):,} IFs from {hz_text(low_hz)} to {hz_text(high_hz)} "
        "tried, the usual ones among them, closer round the best."
    )
    if any(assessment.first_if_hz is not None for assessment in findings.assessments):
        tried += " It is the last IF that is tried: the first stays, and the image with it; see --first-if."
    if not findings.scanned:
        none = "None can be had: the oscillator, or an edge of the filter, would come to 0 Hz or below."
        return [f"{tried} {none}"]
    best = findings.scanned[0]
    if best.gain is None or not best.gain.beats:
        what = cover_text(findings.cover)
        if findings.plans[0].together.nobody_tells:
            return [f"{tried} {HARDLY_LISTED[:1].upper()}{HARDLY_LISTED[1:]}: none can be told from another."]
        return [f"{tried} With none of them is more of {what} usable than with the present one."]
    sentence = f"Most is usable with {hz_text(best.if_hz)}, {share_text(best.usable)}"
    against = [why.text for why in best.reasons if why.about is Why.objection]
    return [f"{tried} {sentence}" + (f", but it {' and '.join(against)}." if against else ".")]


def _scanned(scanned_if: Scanned) -> dict[str, Any]:
    """Return an IF of a scan with the few reasons that matter most."""
    few = [why for why in scanned_if.reasons if why.about is not Why.present][:2]
    return {
        "rank": scanned_if.rank,
        "if_hz": scanned_if.if_hz,
        "usable_share": scanned_if.usable,
        **_gain(scanned_if.gain),
        "unknown_share": scanned_if.unknown,
        "unlisted_share": scanned_if.together.unlisted,
        "face": scanned_if.word or "present",
        "image_rejection_db": scanned_if.image_rejection_db,
        "why": "; ".join(why.text for why in few) or None,
        "usual": scanned_if.usual,
    }


def _gain(gain: Comparison | None) -> dict[str, str | None]:
    """Return a gain in points, "+5.7", and between what it lies, "3 to 9"."""
    if gain is None:
        return {"gain": None, "gain_span": None}
    return {
        "gain": f"{100 * gain.gain:+z.1f}",
        "gain_span": f"{100 * gain.low:z.0f} to {100 * gain.high:z.0f}",
    }


def _name(assessment: Assessment) -> str:
    """Return "465 kHz above", "10.7 MHz, 465 kHz above"."""
    return _named(assessment.first_if_hz, assessment.if_hz, assessment.injection)


def _named(first_if_hz: int | None, if_hz: int, injection: str) -> str:
    first = "" if first_if_hz is None else f"{hz_text(first_if_hz)}, "
    return f"{first}{hz_text(if_hz)} {SIDES[injection]}"


def _compared(assessment: Assessment) -> dict[str, Any]:
    verdict, record = assessment.verdict, assessment.record()
    lost = None if record["lost_by"] is None else f"{record['lost_to_label']}, {record['lost_by']}"
    return {
        **_if(assessment),
        "usable_share": record["usable_after"],
        **_gain(verdict.gain),
        **{
            name: record[name]
            for name in ("unknown_share", "unlisted_share", "image_rejection_db", "half_if_margin_db")
        },
        "lost_to": verdict.refusal or lost,
        "face": verdict.face,
    }


def _if(assessment: Assessment) -> dict[str, Any]:
    return {
        "first_if_hz": assessment.first_if_hz,
        "if_hz": assessment.if_hz,
        "side": SIDES[assessment.injection],
    }


def _besides(every: Sequence[Assessment]) -> list[dict[str, Any]]:
    """Return what the IF itself brings, once for each IF: the side of the oscillator is nothing to it."""
    rows: dict[tuple[Any, ...], dict[str, Any]] = {}
    for assessment in every:
        record = assessment.record()
        dead = record["dead_low_hz"]
        rows.setdefault(
            (record["range"], assessment.first_if_hz, assessment.if_hz),
            {
                **{name: record[name] for name in ("range", "first_if_hz", "if_hz", "on_if_dbm")},
                "on_if": record["on_if_label"],
                "dead": None if dead is None else span_text(dead, record["dead_high_hz"]),
                "whistles": _listed([hz_text(hz) for hz in assessment.whistles_hz]) or None,
                "same_coils": None if assessment.bandwidth_hz is None else near_text(assessment.bandwidth_hz),
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
        "swing_low_hz": assessed.oscillator_hz[0],
        "swing_high_hz": assessed.oscillator_hz[1],
        "ratio": None if ratio is None else f"{ratio:.2f}",
        "off": None if off is None else near_text(off),
        "off_chebyshev": None if off_chebyshev is None else near_text(off_chebyshev),
    }


def _parts(answer: Answer) -> list[str]:
    """Return padder, trimmer and coil in words, where a gang is described, for what can be tracked."""
    sentences = []
    for row in answer.tables["tracking"].records():
        if row["padder_pf"] is None or row["points"] != "minimax":
            continue
        points = points_text([row[f"{name}_point_hz"] for name in ("low", "mid", "high")])
        alone = row["series_padder_pf"]
        sentences.append(
            f"Range {row['range']}, {hz_text(row['if_hz'])} {SIDES[row['injection']]}: padder "
            f"{row['padder_pf']:.0f} pF, trimmer {row['trimmer_pf']:.1f} pF, oscillator coil "
            f"{row['coil_uh']:.1f} uH are right at {points}"
            + ("." if alone is None else f"; a series padder alone is {alone:.0f} pF.")
        )
    return sentences


def _ways(answer: Answer) -> list[str]:
    """Say what the columns about image rejection mean, and what stands in the way."""
    if "rejection" not in answer.tables:
        return []
    rows = answer.tables["rejection"].records()
    sentences = [
        f"For an image {rows[0]['rejection_db']:.3g} dB down all over a range, any one of: one more tuned "
        "circuit of that loaded Q; the circuits it has with that Q; that many of the present Q; the present "
        "front end with that IF or a higher one."
    ]
    return sentences + [f"Range {row['range']}: {row['note']}." for row in rows if row["note"]]


def _filters(answer: Answer) -> list[str]:
    return [
        f"Filters for {hz_text(row['made_for_hz'])} ({row['used_in']}): {row['filters']}."
        for row in answer.tables["filters"].records()
    ]


def _radiates(answer: Answer) -> list[str]:
    """Say what the oscillator disturbs that it did not before, for the side it is on now."""
    findings: Findings = answer.findings
    present = {range_.name: findings.on_range(range_.name)[0].injection for range_ in findings.ranges}
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
    exponent, unit = (3, "kHz") if low_hz < KILOHERTZ_BELOW_HZ else (6, "MHz")
    return f"{decimal_text(low_hz, exponent)}-{decimal_text(high_hz, exponent)} {unit}"


def near_text(hz: int) -> str:
    """Return a frequency for the eye, to a tenth of a kilohertz."""
    return hz_text(round(hz, -2)) if hz >= 1_000 else hz_text(hz)


def points_text(points_hz: Sequence[int]) -> str:
    """Return frequencies for the eye in one unit: "588, 1012.3, 1530.6 kHz"."""
    near = [round(hz, -2) for hz in points_hz]
    exponent, unit = (3, "kHz") if min(near) < KILOHERTZ_BELOW_HZ else (6, "MHz")
    return ", ".join(decimal_text(hz, exponent) for hz in near) + f" {unit}"
