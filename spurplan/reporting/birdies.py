"""How birdies read for people: where on the dial, what meets there, what the set radiates on."""

from __future__ import annotations

from collections import Counter

import numpy as np

from spurplan.columns import Answer, Coded, Column, Table
from spurplan.reporting.layout import Show, View
from spurplan.reporting.plain import counted

BIRDIES = (
    Show("Range", ("range",), 1),
    Show("Exactly at", ("exact_dial_hz",)),
    Show("Received", ("dial_low_hz", "dial_high_hz"), 3),
    Show("What meets there", ("kind", "equation")),
    Show("Spoils", ("label",), 1),
    Show("Below it", ("below_station_db",), 2),
    Show("Grade", ("grade",), 1),
    Show("Beat moves", ("beat_hz_per_hz",), 4),
    Show("Beat", ("beat_hz",), 5),
    Show("Moves", ("moves",), 6),
    Show("Certainty", ("certainty",), 7),
)
RADIATES = (
    Show("Range", ("range",)),
    Show("Oscillator", ("oscillator",)),
    Show("Harmonic", ("harmonic",)),
    Show("On", ("low_hz", "high_hz")),
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
    kinds = Counter(table["kind"].tolist())
    said = ", ".join(f"{number:,} {kind}" for kind, number in kinds.most_common())
    heading = [answer.receiver, *receiver.splitlines()]
    heading.append(f"{counted(len(table), 'place')} on the dial: {said}." if said else "No birdies found.")
    tables = {**answer.tables, "radiates": radiated(answer.tables["radiates"])}
    remark = f"Radiates: {counted(len(answer.tables['radiates']), 'row')} of the tables; json lists each."
    return View(tuple(heading), tables, {"birdies": BIRDIES, "radiates": RADIATES}, (remark,))


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
