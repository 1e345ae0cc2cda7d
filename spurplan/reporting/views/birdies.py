"""How birdies read for people: where on the dial, what meets there, what the set radiates on."""

from __future__ import annotations

from collections import Counter

import numpy as np

from spurplan.columns import Answer, Coded, Column, Table
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted
from spurplan.reporting.views.pairs import PAIRS, TRIPLES, folded
from spurplan.responses.birdies.birdies import SELF_WHISTLE

BIRDIES = (
    Show("Range", ("range",)),
    Show("On the dial", ("dial_low_hz", "dial_high_hz"), near=True),
    Show("Exactly", ("exact_dial_hz",), 2, near=True),
    Show("What meets there", ("equation",)),
    Show("Kind", ("kind",)),
    Show("Order", ("order",), 3),
    Show("Moves", ("moves",), 4),
    Show("Beat", ("beat_hz",), 5),
)
WHISTLES = (
    Show("Range", ("range",)),
    Show("On the dial", ("dial_low_hz", "dial_high_hz"), near=True),
    Show("Exactly", ("exact_dial_hz",), 2, near=True),
    Show("Comes in too by", ("equation",)),
    Show("Spoils", ("label",)),
    Show("Below it", ("below_station_db",), places=0),
    Show("Grade", ("grade",), key="every"),
    Show("Beat", ("beat_hz",), 3),
    Show("Beat moves", ("beat_hz_per_hz",), 4),
)
RADIATES = (
    Show("Range", ("range",)),
    Show("Oscillator", ("oscillator",)),
    Show("Harmonic", ("harmonic",)),
    Show("On", ("low_hz", "high_hz"), near=True),
    Show("Among", ("services",)),
)
RADIATED = ("range", "oscillator", "harmonic", "low_hz", "high_hz")
SERVICES = Column("services", "list", "", False, "Among", "services whose frequencies they are")


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of birdies: one line an oscillator harmonic of what is radiated.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    table = answer.tables["birdies"]
    whistles = table["kind"] == SELF_WHISTLE
    tables = {
        "birdies": table.take(np.flatnonzero(~whistles)),
        "self-whistles": table.take(np.flatnonzero(whistles)),
        **{name: other for name, other in answer.tables.items() if name != "birdies"},
    }
    rows = len(answer.tables["radiates"])
    tables["radiates"] = radiated(answer.tables["radiates"])
    remarks = [f"Radiates: {counted(rows, 'row')} of the tables; json lists each."]
    if "pairs" in tables:
        tables["pairs"], remark = folded(answer.tables["pairs"])
        remarks += [remark] if remark else []
    layouts = {
        "birdies": BIRDIES,
        "self-whistles": WHISTLES,
        "radiates": RADIATES,
        "pairs": PAIRS,
        "triples": TRIPLES,
    }
    several = len(set(table["range"].tolist())) > 1
    if not several:
        layouts = {name: tuple(s for s in shows if s.head != "Range") for name, shows in layouts.items()}
    return View(tuple(_heading(answer)), tables, layouts, tuple(receiver.splitlines()), tuple(remarks))


def _heading(answer: Answer) -> list[str]:
    table = answer.tables["birdies"]
    kinds = Counter(table["kind"].tolist())
    whistles = kinds.pop(SELF_WHISTLE, 0)
    by_kind = ", ".join(f"{number:,} {kind}" for kind, number in kinds.most_common())
    lines = [answer.receiver]
    lines.append(
        f"{counted(kinds.total(), 'possible birdie')}: {by_kind}; how loud each is, only listening tells."
        if by_kind
        else f"No birdies up to a total order of {answer.settings['total_order']}."
    )
    lines.append(
        f"{counted(whistles, 'self-whistle')}, by the levels of the model."
        if whistles
        else "No self-whistle is heard, by the levels of the model."
    )
    return lines + [marks.sentence for marks in answer.findings or ()]


def radiated(table: Table) -> Table:
    """Return one record a range, oscillator and harmonic, with the services it falls among."""
    rows: dict[tuple[str, str, int], list[int]] = {}
    heads = zip(table["range"], table["oscillator"], table["harmonic"].tolist(), strict=True)
    for at, head in enumerate(heads):
        rows.setdefault(head, []).append(at)
    low, high, service = table["low_hz"], table["high_hz"], table["service"]
    services = [list(dict.fromkeys(service[members].tolist())) for members in rows.values()]
    codes = np.arange(len(rows))
    kept = tuple(column for column in table.columns if column.name in RADIATED)
    return Table(
        table.name,
        (*kept, SERVICES),
        {
            "range": Coded(codes, [name for name, _, _ in rows]),
            "oscillator": Coded(codes, [oscillator for _, oscillator, _ in rows]),
            "harmonic": np.array([harmonic for _, _, harmonic in rows], np.int64),
            "low_hz": np.array([low[members].min() for members in rows.values()], np.int64),
            "high_hz": np.array([high[members].max() for members in rows.values()], np.int64),
            "services": Coded(codes, services),
        },
    )
