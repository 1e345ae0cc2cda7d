"""How the choice of a crystal reads for people: the best in a sentence, the others below it, and why."""

from __future__ import annotations

from typing import Any

import numpy as np

from spurplan.columns import Answer, Coded, Table
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
    table = answer.tables["candidates"]
    records = table.records()
    explain = answer.settings.get("explain") is not None
    tables: dict[str, Table] = {}
    remarks = []
    for name in ("candidates", "alone", "ways_in", "birdies", "intrusions"):
        if name in answer.tables:
            tables[name] = answer.tables[name]
    several = len(answer.settings["cover"]) > 1
    if not explain:
        if several:
            # the best for each cover first, then the second best
            table = table.take(np.argsort(table["rank"], kind="stable"))
        tables["candidates"], remark = _folded(table)
        remarks += [remark] if remark else []
    if "intrusions" in tables:
        tables["intrusions"], _ = fold(tables["intrusions"])
    tables["candidates"] = _with_losses(tables["candidates"])
    alone = intrusions.with_unknown(ALONE, answer.tables["alone"])
    layouts: dict[str, Layout] = {
        "candidates": _worth_showing(table, several), "alone": alone, "ways_in": WAYS_IN, "birdies": BIRDIES,
    }  # fmt: skip
    if "intrusions" in tables:
        layouts["intrusions"] = intrusions.columns_of(tables["intrusions"])
    heading = [f"{answer.receiver}: a converter for {_covers(answer)}", *receiver.splitlines()]
    heading += _summary(answer, records)
    if several:
        heading += _one_for_all(answer, records)
    told = records if explain else tables["candidates"].records(REASONED)
    return View(tuple(heading), tables, layouts, (*remarks, *_why(told)))


def _covers(answer: Answer) -> str:
    return ", ".join(f"{_mhz(low)}-{_mhz(high)} MHz" for low, high in answer.settings["cover"])


def _summary(answer: Answer, records: list[dict[str, Any]]) -> list[str]:
    """Return the best candidate for each cover in a sentence."""
    out = []
    usable = [record for record in records if record["usable"]]
    without = answer.tables["alone"].records()
    for low, high in answer.settings["cover"]:
        here = [r for r in usable if (r["cover_low_hz"], r["cover_high_hz"]) == (low, high)]
        span = f"{_mhz(low)}-{_mhz(high)} MHz: " if len(answer.settings["cover"]) > 1 else ""
        if not here:
            out.append(
                f"{span}No crystal here brings all of it into one range; what each one loses is below."
            )
            continue
        best = here[0]
        out.append(f"{span}{_sentence(best)} {_gain(best, [r for r in without if _overlaps(r, low, high)])}")
    return out


def _sentence(best: dict[str, Any]) -> str:
    times = "" if best["multiplier"] == 1 else f" times {best['multiplier']}"
    used = "for the sum" if best["side"] == "sum" else best["side"]
    return (
        f"Number {best['rank']}: crystal {hz_text(best['crystal_hz'])}{times}, {used}, into range "
        f"{best['range']} at {_mhz(best['set_low_hz'])}-{_mhz(best['set_high_hz'])} MHz; {best['dial_rule']}."
    )


def _gain(best: dict[str, Any], without: list[dict[str, Any]]) -> str:
    with_one = f"{percent_text(best['clear_share'])} % of it is clear"
    if best["unknown_share"]:
        with_one += f", {percent_text(best['unknown_share'])} % unknown (the tables end before an image)"
    known = [record for record in without if record["clear_share"] is not None]
    if not known:
        return f"{with_one}; the set alone does not tune it."
    alone = max(known, key=lambda record: record["clear_share"])
    images = ""
    worst = [best[name] for name in ("image_rejection_db", "second_image_rejection_db")]
    known_db = [db for db in worst if db is not None]
    if alone["image_rejection_db"] is not None and known_db:
        down = min(known_db)
        images = f"; its images are {down:.0f} dB down at worst, against {alone['image_rejection_db']:.0f} dB"
    return f"{with_one}, against {percent_text(alone['clear_share'])} % with the set alone{images}."


def _overlaps(record: dict[str, Any], low: int, high: int) -> bool:
    return bool(record["cover_low_hz"] < high and record["cover_high_hz"] > low)


def _one_for_all(answer: Answer, records: list[dict[str, Any]]) -> list[str]:
    """Return the crystal that serves every cover, and leaves most clear where it leaves least."""
    covers = [tuple(pair) for pair in answer.settings["cover"]]
    best: dict[int, dict[tuple[int, ...], float]] = {}
    for record in records:
        cover = (record["cover_low_hz"], record["cover_high_hz"])
        if record["usable"] and cover in covers:
            shares = best.setdefault(record["crystal_hz"], {})
            shares[cover] = max(shares.get(cover, 0.0), record["clear_share"])
    serving = {hz: shares for hz, shares in best.items() if len(shares) == len(covers)}
    if not serving:
        return ["No crystal here serves for all of them."]
    hz = max(serving, key=lambda crystal: (min(serving[crystal].values()), -crystal))
    clear = " and ".join(f"{percent_text(serving[hz][cover])} %" for cover in covers)
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


def _folded(table: Table) -> tuple[Table, str]:
    """Leave out what injects the same as one before it with more multiplication.

    Returns
    -------
    (the table without them, the remark that says so; "" where there are none).
    """
    seen: set[tuple[Any, ...]] = set()
    kept = []
    keys = zip(
        *(table[name].tolist() for name in ("cover_low_hz", "cover_high_hz", "side", "injected_hz", "range")),
        strict=True,
    )
    for row, key in enumerate(keys):
        if key not in seen:
            seen.add(key)
            kept.append(row)
    if len(kept) == len(table):
        return table, ""
    less = len(table) - len(kept)
    remark = f"{less:,} more inject the same as one listed, from a lower crystal; csv and json have them."
    return table.take(np.array(kept)), remark


def _why(told: list[dict[str, Any]]) -> list[str]:
    """Return the reasons of some candidates, a line each."""
    lines = ["Why:"] if told else []
    for record in told:
        times = "" if record["multiplier"] == 1 else f" times {record['multiplier']}"
        name = f"{record['rank']}. {hz_text(record['crystal_hz'])}{times} {record['side']}"
        where = "" if record["range"] is None else f", range {record['range']}"
        lines.append(f"- {name}{where}: {'; '.join(record['reasons'])}.")
    return lines


def _mhz(hz: int) -> str:
    return decimal_text(hz, 6)
