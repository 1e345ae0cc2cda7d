"""Answers and sheets for tests of charts: none, one, thousands; whether words cover each other.

Sets, stations and figures are invented.
"""

from __future__ import annotations

from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

import spurplan
from spurplan.columns import Answer
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.sheet import Box, Sheet, Words
from tests.answers import row, table

ROOT = Path(__file__).parents[1]
DEMOS = ("boathouse", "lockkeeper")
# a page across, the column of a report, a telephone
WIDTHS = (720.0, 560.0, 270.0)


@cache
def demo(name: str) -> Receiver:
    """Return the set of a demonstration."""
    return spurplan.read_receiver(ROOT / "demos" / name / "set.toml")


@cache
def ranges_of(name: str, **options: Any) -> Answer:
    """Return what intrudes across the ranges of a demonstration."""
    return spurplan.ranges(demo(name), **options)


def picked(rows: list[dict[str, Any]]) -> Answer:
    """Return an answer about the boathouse set whose intrusions are these records."""
    answer = ranges_of("boathouse")
    return Answer(
        answer.receiver,
        answer.settings,
        answer.assumptions,
        answer.cautions,
        {"intrusions": table(rows), "ranges": answer.ranges},
    )


def stretch(**changes: Any) -> dict[str, Any]:
    """Return one record on the top range: Radio Marrowmere by the image."""
    return row(steps=[[-1, 1]], **changes)


def crowd(count: int, seed: int = 1) -> list[dict[str, Any]]:
    """Return many records on the top range, loudest first, from carriers to wide bands."""
    made = np.random.default_rng(seed)
    rows = []
    for n in range(count):
        low = int(made.integers(11_000_000, 29_000_000))
        width = int(10 ** made.uniform(2, 6))
        heard = float(made.uniform(-125, -40))
        grade = ("strong", "audible", "buried")[int(made.integers(0, 3))]
        rows.append(
            {
                "range": "4",
                "dial_low_hz": low,
                "dial_high_hz": min(low + width, 30_000_000),
                "rf_low_hz": low + 930_000,
                "rf_high_hz": low + 930_000 + width,
                "label": f"Station {n} on the hill",
                "service": ("broadcast", "amateur", "maritime")[n % 3],
                "table": "t.csv",
                "row": n + 2,
                "response": "image",
                "equation": "IF = RF - LO",
                "steps": [[-1, 1]],
                "heard_dbm": heard,
                "heard_s": "S5",
                "margin_db": heard + 110,
                "floor_dbm": -110.0,
                "rejection_db": 20.0,
                "antenna_dbm": heard + 20,
                "grade": grade,
                "loudest_dial_hz": low,
                "level_from": "assumed",
                "moves": -1.0,
                "order": 2,
            }
        )
    return sorted(rows, key=lambda row: -row["heard_dbm"])


def covering(words: list[Words]) -> list[tuple[str, str]]:
    """Return the pairs of texts that share ground."""
    boxes = [(word.text, word.box()) for word in words]
    return [(a, b) for (a, one), (b, two) in combinations(boxes, 2) if one.overlaps(two, gap=-0.01)]


def outside(sheet: Sheet) -> list[str]:
    """Return the texts that stand beyond the edges of a sheet."""
    page = Box(0.0, 0.0, sheet.width, sheet.height)
    return [
        word.text
        for word in sheet.words()
        for box in [word.box()]
        if box.left < page.left or box.right > page.right or box.top < page.top or box.bottom > page.bottom
    ]
