"""How another IF reads for people: a verdict a range, then the proposals side by side."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from spurplan.columns import RANGE, Answer, Column, Table, table_of
from spurplan.planning.if_change.scan_list import PRESENT
from spurplan.reporting import intrusions
from spurplan.reporting.layout import Layout, Show, View
from spurplan.units import decimal_text, hz_text, percent_text

SIDES = {"high": "above", "low": "below", "sum": "sum"}
FACES = {"as it is": "present", "better": "better", "worse": "worse", "no better": "same"}
UNTRACKED = "no padder and trimmer track it"

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
_WAY = re.compile(r"; worst .*? by (.+?), \+[0-9]+ dB(?:;|$)")


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of if_change.

    Parameters
    ----------
    receiver : str. The way of the signal through the set as it is, a line a range.
    """
    tables: dict[str, Table] = {}
    layouts: dict[str, Layout] = {}
    rows = answer.tables["proposals"].records()
    first = (_FIRST,) if any(row["first_if_hz"] is not None for row in rows) else ()
    if "scan" in answer.tables:
        tables["best and usual IFs"] = _scan_table(answer)
        layouts["best and usual IFs"] = intrusions.with_unknown(SCAN, tables["best and usual IFs"])
    for name in dict.fromkeys(row["range"] for row in rows):
        title = f"range {name}"
        own = [_compared(row) for row in rows if row["range"] == name]
        tables[title] = table_of(title, _COMPARED, own)
        layouts[title] = (*first, *intrusions.with_unknown(COMPARED, tables[title]))
    tables["on the IF"] = table_of("besides", _BESIDES, _besides(rows))
    layouts["on the IF"] = (BESIDES[0], *first, *BESIDES[1:])
    oscillators = [_oscillator(answer, row) for row in rows if row["oscillator_low_hz"] is not None]
    tables["oscillator"] = table_of("oscillator", _OSCILLATOR, oscillators)
    layouts["oscillator"] = (OSCILLATOR[0], *first, *OSCILLATOR[1:])
    if "rejection" in answer.tables:
        tables["for that image rejection"] = answer.tables["rejection"]
        layouts["for that image rejection"] = REJECTION
    remarks = [*_ways(answer), *_parts(answer), *_filters(answer), *_radiates(answer)]
    return View(tuple(_heading(answer, receiver, rows)), tables, layouts, tuple(remarks))


def _heading(answer: Answer, receiver: str, rows: Sequence[dict[str, Any]]) -> list[str]:
    lines = [answer.receiver, *receiver.splitlines(), *_of_scan(answer)]
    for name in dict.fromkeys(row["range"] for row in rows):
        own = [row for row in rows if row["range"] == name]
        lines.append(_of_range(name, own))
    if (
        len({row["range"] for row in rows}) > 1
        and len(rows) > len({row["range"] for row in rows})
        and answer.settings["best"] is not None
    ):
        lines.append(f"All ranges together are clearest with {answer.settings['best']}.")
    return lines


def _of_scan(answer: Answer) -> list[str]:
    """Return what a scan found, in a sentence or two."""
    if "scan" not in answer.tables:
        return []
    rows, asked = answer.tables["scan"].records(), answer.settings
    tried = (
        f"{asked['scanned']:,} IFs from {hz_text(asked['scan_low_hz'])} to {hz_text(asked['scan_high_hz'])} "
        f"tried, every {hz_text(asked['scan_step_hz'])} and the usual ones."
    )
    if any(row["first_if_hz"] is not None for row in answer.tables["proposals"].records()):
        tried += " It is the last IF that is tried: the first stays, and the image with it; see --first-if."
    if not rows:
        return [
            tried,
            "None can be had: the oscillator, or an edge of the filter, would come to 0 Hz or below.",
        ]
    best = rows[0]
    usual = next((row for row in rows if row["usual"] is not None), None)
    present = next((row for row in rows if PRESENT in row["reasons"]), None)
    if present is not None and percent_text(present["clear_share"]) == percent_text(best["clear_share"]):
        now = f"{hz_text(present['if_hz'])}: {percent_text(present['clear_share'])} %"
        return [tried, f"None leaves more of the dial clear than the present {now}."]
    said = (
        f"The best: {hz_text(best['if_hz'])} leaves {percent_text(best['clear_share'])} % of the dial clear"
    )
    if usual is not None and usual is not best:
        said += f"; of the usual ones {hz_text(usual['if_hz'])}, {percent_text(usual['clear_share'])} %"
    return [tried, f"{said}."]


def _scan_table(answer: Answer) -> Table:
    """Return the IFs of a scan with the few reasons that matter most."""
    rows = answer.tables["scan"].records()
    records = [
        {**{column.name: row.get(column.name) for column in _SCANNED}, "why": "; ".join(_few(row["reasons"]))}
        for row in rows
    ]
    return table_of("scan", _SCANNED, records)


def _few(reasons: Sequence[str]) -> list[str]:
    """Return the first reasons, and how wide the place is."""
    return [*reasons[:2], *(text for text in reasons[2:] if text.startswith("as good"))]


def _of_range(name: str, rows: Sequence[dict[str, Any]]) -> str:
    """Return the verdict of a range in a sentence."""
    present = rows[0]
    better = [row for row in rows[1:] if row["verdict"].startswith("better")]
    if not better:
        kept = "keep" if len(rows) > 1 else "now"
        return f"Range {name}: {kept} {_name(present)}; {present['verdict'].partition(': ')[2]}."
    best = max(better, key=_goodness)
    return f"Range {name}: {_name(best)} is better; {best['verdict'].partition(': ')[2]}."


def _goodness(row: dict[str, Any]) -> tuple[bool, float, float]:
    """Return what sorts proposals: one that a gang can track first, then by what is clear."""
    margin = -100.0 if row["worst_margin_db"] is None else row["worst_margin_db"]
    return UNTRACKED not in row["verdict"], round(row["clear_share"], 3), -margin


def _name(row: dict[str, Any]) -> str:
    """Return "465 kHz above", "10.7 MHz, 465 kHz above"."""
    first = "" if row["first_if_hz"] is None else f"{hz_text(row['first_if_hz'])}, "
    return f"{first}{hz_text(row['if_hz'])} {SIDES[row['injection']]}"


def _compared(row: dict[str, Any]) -> dict[str, Any]:
    word, _, said = row["verdict"].partition(": ")
    way = _WAY.search(said)
    worst = row["worst_label"] and row["worst_label"] + ("" if way is None else f", {way[1]}")
    impossible = word not in FACES
    return {
        **_if(row),
        "clear_share": row["clear_share"],
        "unknown_share": row["unknown_share"],
        "image_rejection_db": row["image_rejection_db"],
        "half_if_margin_db": row["half_if_margin_db"],
        "worst": said if impossible else worst,
        "worst_margin_db": row["worst_margin_db"],
        "face": "not possible" if impossible else FACES[word],
    }


def _if(row: dict[str, Any]) -> dict[str, Any]:
    return {
        "first_if_hz": row.get("first_if_hz"), "if_hz": row["if_hz"], "side": SIDES[row["injection"]],
    }  # fmt: skip


def _besides(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return what the IF itself brings, once for each IF: the side of the oscillator is nothing to it."""
    found: dict[tuple[Any, ...], dict[str, Any]] = {}
    for row in rows:
        spoilt = row["unusable_low_hz"]
        found.setdefault(
            (row["range"], row["first_if_hz"], row["if_hz"]),
            {
                "range": row["range"],
                "first_if_hz": row["first_if_hz"],
                "if_hz": row["if_hz"],
                "on_if": row["on_if_label"],
                "on_if_dbm": row["on_if_dbm"],
                "unusable": None if spoilt is None else span_text(spoilt, row["unusable_high_hz"]),
                "whistles": _listed([hz_text(hz) for hz in row["whistles"]]) or None,
                "same_coils": None if row["bandwidth_hz"] is None else near_text(row["bandwidth_hz"]),
            },
        )
    return list(found.values())


def _oscillator(answer: Answer, row: dict[str, Any]) -> dict[str, Any]:
    """Return the oscillator of a proposal and what tracks it."""
    tracked_hz = row["if_hz"] if row["first_if_hz"] is None else row["first_if_hz"]
    found = {
        one["points"]: one
        for one in answer.tables["tracking"].records()
        if (one["range"], one["if_hz"], one["injection"]) == (row["range"], tracked_hz, row["injection"])
        and one["peak_error_hz"] is not None
    }
    best, other = found.get("minimax"), found.get("chebyshev")
    return {
        "range": row["range"],
        **_if(row),
        "swing": span_text(row["oscillator_low_hz"], row["oscillator_high_hz"]),
        "ratio": None if row["oscillator_ratio"] is None else f"{row['oscillator_ratio']:.2f}",
        "off": None if best is None else near_text(best["peak_error_hz"]),
        "off_chebyshev": None if other is None else near_text(other["peak_error_hz"]),
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
    rows = answer.tables["radiates"].records()
    present: dict[str, str] = {}
    for row in rows:
        present.setdefault(row["range"], row["injection"])
    return [
        f"Range {row['range']}, {_name(row)}: the oscillator also sweeps over {_listed(row['new_labels'])}."
        for row in rows
        if row["new_labels"] and row["injection"] == present[row["range"]]
    ]


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
