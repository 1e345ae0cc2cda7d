"""The set without a converter on the same cover: what a converter has to beat."""

from __future__ import annotations

from typing import Any

import numpy as np

from spurplan.columns import NULL_INT, Column
from spurplan.planning.converter.question import Question
from spurplan.planning.tally import NOBODY, tally
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.responses.grades import GRADES
from spurplan.responses.summary import image_rejection_db

ALONE_COLUMNS = (
    Column("range", "text", "", True, "Range", "range of the set; unknown where none holds any of the cover"),
    Column("cover_low_hz", "int", "Hz", False, "Cover", "lowest frequency of the cover that it tunes"),
    Column("cover_high_hz", "int", "Hz", False, "Cover to", "highest frequency of the cover that it tunes"),
    Column("lost_hz", "int", "Hz", False, "Lost", "part of the cover that it does not tune"),
    Column(
        "image_rejection_db", "float", "dB", True, "Image", "least rejection of its image over the cover"
    ),
    Column(
        "second_image_rejection_db", "float", "dB", True, "2nd image",
        "likewise of the second; unknown where it has one conversion",
    ),
    Column("clear_share", "float", "", True, "Clear", "part of what it tunes on which nothing is heard"),
    Column(
        "unknown_share", "float", "", True, "Unknown",
        "part of it where nothing is heard, but an image lies beyond the tables",
    ),
    Column(
        "worst_label", "text", "", True, "Worst intruder",
        "the intruder with the greatest margin; unknown where none is heard",
    ),
    Column("worst_grade", "text", "", True, "Grade", "its grade"),
    Column("worst_margin_db", "float", "dB", True, "Margin", "its margin over the floor"),
    Column("whistles", "int", "", True, "Whistles", "places where a station beats with itself"),
)  # fmt: skip


def alone_records(asked: Question) -> list[dict[str, Any]]:
    """Return one record for each cover and each range of the set that tunes some of it."""
    place = {one.name: number for number, one in enumerate(asked.receiver.ranges)}
    groups = compile_chains([(asked.receiver, one) for one in asked.receiver.ranges])
    out = []
    for low, high in asked.covers:
        found = []
        for chains in groups:
            for row in np.flatnonzero((chains.low_hz < high) & (chains.high_hz > low)).tolist():
                one = chains.take(np.array([row]))
                start, stop = max(low, int(one.low_hz[0])), min(high, int(one.high_hz[0]))
                one = one.tuned_to(np.array([start]), np.array([stop]))
                found.append(_record(asked, one, (low, high), (start, stop)))
        out += sorted(found, key=lambda record: place[record["range"]])
        if not found:
            out.append(_nowhere(low, high))
    return out


def _record(asked: Question, chains: Chains, cover: tuple[int, int], got: tuple[int, int]) -> dict[str, Any]:
    heard = tally(chains, asked.occupants, asked.settings, asked.unlisted_dbm)
    second = image_rejection_db(chains, 1)[0] if chains.conversions > 1 else np.array([np.nan])
    worst = int(heard.occupant[0])
    return {
        "range": chains.names[int(chains.name_code[0])],
        "cover_low_hz": got[0],
        "cover_high_hz": got[1],
        "lost_hz": (cover[1] - cover[0]) - (got[1] - got[0]),
        "image_rejection_db": float(image_rejection_db(chains)[0][0]),
        "second_image_rejection_db": float(second[0]),
        "clear_share": float(heard.clear_share[0]),
        "unknown_share": float(heard.unknown_share[0]),
        "worst_label": None if worst == NOBODY else asked.occupants.label_of(worst),
        "worst_grade": None if worst == NOBODY else GRADES[int(heard.grade[0])],
        "worst_margin_db": float(heard.margin_db[0]),
        "whistles": int(heard.whistles[0]),
    }


def _nowhere(low: int, high: int) -> dict[str, Any]:
    known: dict[str, Any] = dict.fromkeys(column.name for column in ALONE_COLUMNS)
    return known | {"cover_low_hz": low, "cover_high_hz": high, "lost_hz": high - low, "whistles": NULL_INT}
