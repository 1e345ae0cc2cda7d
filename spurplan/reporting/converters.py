"""How the choice of a crystal reads for people: the best in a sentence, the others below it, and why."""

from __future__ import annotations

from typing import Any

import numpy as np

from spurplan.columns import Answer, Coded, Table
from spurplan.planning.converter.findings import Candidate, Findings
from spurplan.reporting import intrusions
from spurplan.reporting.layout import Layout, Show, View
from spurplan.responses.summary import fold
from spurplan.units import decimal_text, hz_text, percent_text

# Reasons are told of so many candidates; csv and json have those of all.
REASONED = 5
CANDIDATES: Layout = (
    Show("Rank", ("rank",)),
    Show("Crystal", ("crystal_hz",), mhz=True),
    Show("Times", ("multiplier",)),
    Show("How to read the dial", ("dial_rule",)),
    Show("Range", ("range",)),
    Show("Tunable IF", ("set_low_hz", "set_high_hz"), 5, mhz=True),
    Show("Clear", ("clear_share",)),
    intrusions.UNKNOWN_SHARE,
    Show("Image", ("image_rejection_db",), 2),
    Show("2nd image", ("second_image_rejection_db",), 3),
    Show("Worst intruder", ("worst_label",), 1),
    Show("Margin", ("worst_margin_db",), 4),
    Show("Whistles", ("whistles",), 8),
    Show("Birdies", ("birdies",), 6),
    Show("Lost", ("lost_hz",), 7),
    Show("Dial error", ("reading_error_hz",), 9),
    Show("Straight in", ("straight_in_label",), 10),
)
ALONE: Layout = (
    Show("Range", ("range",)),
    Show("Tunes", ("cover_low_hz", "cover_high_hz"), mhz=True),
    Show("Clear", ("clear_share",)),
    intrusions.UNKNOWN_SHARE,
    Show("Image", ("image_rejection_db",)),
    Show("2nd image", ("second_image_rejection_db",), 2),
    Show("Worst intruder", ("worst_label",)),
    Show("Margin", ("worst_margin_db",), 1),
)
WAYS_IN: Layout = (
    Show("Response", ("response",)),
    Show("From", ("rf_low_hz", "rf_high_hz"), mhz=True),
    Show("Rejection", ("rejection_db",)),
    Show("Loudest there", ("label",)),
    Show("Heard", ("heard_dbm",), 2),
    Show("Grade", ("grade",)),
    Show("Equation", ("equation",), 3),
)
BIRDIES: Layout = (
    Show("Heard on", ("exact_dial_hz",)),
    Show("Set's dial", ("set_dial_hz",)),
    Show("What it is", ("what",)),
    Show("Equation", ("equation",), 1),
)


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of the choice of a crystal.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    findings: Findings = answer.findings
    explain = findings.asked.about is not None
    several = len(findings.asked.covers) > 1
    tables: dict[str, Table] = {}
    for name in ("candidates", "alone", "ways_in", "birdies", "intrusions"):
        if name in answer.tables:
            tables[name] = answer.tables[name]
    listed, remarks = findings.listed, []
    if not explain:
        if several:
            # the best for each cover first, then the second best
            listed = listed[np.argsort(findings.ranking.rank[listed], kind="stable")]
        less = len(tables["candidates"]) - len(listed)
        if less:
            remarks = [
                f"{less:,} more inject the same as one listed, from a lower crystal; csv and json have them."
            ]
        tables["candidates"] = tables["candidates"].take(listed)
    if "intrusions" in tables:
        tables["intrusions"], _ = fold(tables["intrusions"])
    tables["candidates"] = _with_losses(tables["candidates"])
    layouts: dict[str, Layout] = {
        "candidates": _worth_showing(tables["candidates"], several),
        "alone": intrusions.with_unknown(ALONE, tables["alone"]), "ways_in": WAYS_IN, "birdies": BIRDIES,
    }  # fmt: skip
    if "intrusions" in tables:
        layouts["intrusions"] = intrusions.columns_of(tables["intrusions"])
    heading = [f"{answer.receiver}: a converter for {_covers(findings)}", *receiver.splitlines()]
    heading += _summary(answer)
    if several:
        heading += _one_for_all(findings)
    reasoned = listed if explain else listed[:REASONED]
    why = _why([findings.candidate(number) for number in reasoned.tolist()])
    return View(tuple(heading), tables, layouts, (*remarks, *why))


def _covers(findings: Findings) -> str:
    return ", ".join(f"{_mhz(low)}-{_mhz(high)} MHz" for low, high in findings.asked.covers)


def _summary(answer: Answer) -> list[str]:
    """Return the candidate to build for each cover in a sentence."""
    findings: Findings = answer.findings
    out = []
    without = answer.tables["alone"].records()
    for (low, high), best in findings.per_cover():
        span = f"{_mhz(low)}-{_mhz(high)} MHz: " if len(findings.asked.covers) > 1 else ""
        if best is None:
            out.append(
                f"{span}No crystal here brings all of it into one range; what each one loses is below."
            )
            continue
        loses = f" It loses {hz_text(best.lost_hz)} of that." if best.lost_hz else ""
        gain = _gain(best, [row for row in without if _overlaps(row, low, high)])
        out.append(f"{span}{_sentence(best)}{loses} {gain}")
    return out


def _sentence(best: Candidate) -> str:
    used = "for the sum" if best.side == "sum" else best.side
    assert best.set_low_hz is not None, "it goes into a range"
    assert best.set_high_hz is not None, "it goes into a range"
    return (
        f"Number {best.rank}: crystal {best.crystal_text}, {used}, into range "
        f"{best.range} at {_mhz(best.set_low_hz)}-{_mhz(best.set_high_hz)} MHz; {best.dial_rule}."
    )


def _gain(best: Candidate, without: list[dict[str, Any]]) -> str:
    assert best.clear_share is not None, "it goes into a range"
    with_one = f"{percent_text(best.clear_share)} % of it is clear"
    if best.unknown_share:
        with_one += f", {percent_text(best.unknown_share)} % unknown (the tables end before an image)"
    tuned = [record for record in without if record["clear_share"] is not None]
    if not tuned:
        return f"{with_one}; the set alone does not tune it."
    alone = max(tuned, key=lambda record: record["clear_share"])
    images = ""
    known_db = [db for db in (best.image_rejection_db, best.second_image_rejection_db) if db is not None]
    if alone["image_rejection_db"] is not None and known_db:
        down = min(known_db)
        images = f"; its images are {down:.0f} dB down at worst, against {alone['image_rejection_db']:.0f} dB"
    return f"{with_one}, against {percent_text(alone['clear_share'])} % with the set alone{images}."


def _overlaps(record: dict[str, Any], low: int, high: int) -> bool:
    return bool(record["cover_low_hz"] < high and record["cover_high_hz"] > low)


def _one_for_all(findings: Findings) -> list[str]:
    """Return the crystal that serves every cover in a sentence."""
    serving = findings.for_all_covers()
    if serving is None:
        return ["No crystal here serves for all of them."]
    hz, shares = serving
    clear = " and ".join(f"{percent_text(share)} %" for share in shares)
    return [f"One crystal for all: {hz_text(hz)}, {clear} of them clear."]


def _worth_showing(table: Table, several: bool) -> Layout:
    """Return the columns of the candidates without those that say the same of all."""
    idle = set()
    for name, nothing in (("multiplier", 1), ("lost_hz", 0), ("whistles", 0)):
        if len(table) and (table[name] == nothing).all():
            idle.add(name)
    shown = tuple(show for show in CANDIDATES if show.fields[0] not in idle)
    shown = intrusions.with_unknown(shown, table)
    return (
        (shown[0], Show("Cover", ("cover_low_hz", "cover_high_hz"), mhz=True), *shown[1:])
        if several
        else shown
    )


def _with_losses(table: Table) -> Table:
    """Return the candidates, each loss beside its range: one that loses must not read like one whole."""
    names = [
        f"{name}, less {hz_text(lost)}" if name is not None and lost else name
        for name, lost in zip(table["range"].tolist(), table["lost_hz"].tolist(), strict=True)
    ]
    codes = np.array([-1 if name is None else at for at, name in enumerate(names)], dtype=np.int64)
    return Table(table.name, table.columns, {**table.values, "range": Coded(codes, names)})


def _why(candidates: list[Candidate]) -> list[str]:
    """Return the reasons of some candidates, a line each."""
    lines = ["Why:"] if candidates else []
    for one in candidates:
        where = "" if one.range is None else f", range {one.range}"
        reasons = "; ".join(why.text for why in one.reasons)
        lines.append(f"- {one.rank}. {one.crystal_text} {one.side}{where}: {reasons}.")
    return lines


def _mhz(hz: int) -> str:
    return decimal_text(hz, 6)
