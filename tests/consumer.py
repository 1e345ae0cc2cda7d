"""What a program of somebody's own writes: each public call, for mypy to read strictly and a test to run.

A line marked `type: ignore` is a mistake that the types have to find: mypy refuses a mark without one.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, assert_type

import numpy as np
import numpy.typing as npt
import pandas as pd

import spurplan
from spurplan import occupancy


def questions(
    receiver: Path, bands: Path, log: Path, evening: Path
) -> dict[str, Callable[[], spurplan.Answer]]:
    """Return each question as a call of its own, with numbers as programs have them."""
    edges: npt.NDArray[np.int64] = np.array([14_000_000, 14_010_000])
    settings = spurplan.Settings(region=1, worlds=2, strong_at=float(np.float64(12.0)))
    return {
        "bench_sheet": lambda: spurplan.bench_sheet(receiver, points=1, generator_max="0.1 V EMF"),
        "birdies": lambda: spurplan.birdies(receiver, bands=bands, settings=settings),
        "by_hour": lambda: spurplan.by_hour(receiver, place="50N,10E", month=1, cover=edges, worlds=2),
        "converter": lambda: spurplan.converter(
            receiver, cover=[("21 MHz", "21.01 MHz")], crystal=np.int64(7_000_000), bands=bands
        ),
        "cures": lambda: spurplan.cures(receiver, cover=(edges[0], 14_010_000), effort={"10 dB pad": 2.0}),
        "dial": lambda: spurplan.dial(receiver, frequency=edges[0], dial_error=1_000, settings=settings),
        "evening": lambda: spurplan.evening(receiver, log=evening, bands=bands),
        "if_change": lambda: spurplan.if_change(receiver, if_=["1600 kHz", np.int64(1_700_000)], bands=bands),
        "ranges": lambda: spurplan.ranges(receiver, bands=[bands], cover="14MHz:14.01MHz", worlds=2),
        "readings": lambda: spurplan.readings(receiver, log=log, reading_error=1.5),
        "station": lambda: spurplan.station(receiver, label="Lantern", bands=bands),
        "suspects": lambda: spurplan.suspects(
            receiver, frequency="14.005 MHz", moves="with", also_on=[14_930_000], inverted=False
        ),
        "on_frequency": lambda: occupancy.on_frequency(np.int64(14_930_000), bands=bands, region=1),
        "tables_in_use": lambda: occupancy.tables_in_use(bands, region=1),
    }


def parts(receiver: Path, bands: Path) -> tuple[str, int, int, int]:
    """Return what the other public calls give: a set's name, rows, occupants, rows of an import."""
    described = spurplan.read_receiver(receiver)
    tables = assert_type(spurplan.read_bands([bands]), occupancy.Bands)
    on_air = assert_type(occupancy.occupants_of(tables, region=1, antenna_gain_db=2.0), occupancy.Occupants)
    imported = assert_type(occupancy.import_list(bands, unit="kHz"), occupancy.Imported)
    return described.name, len(tables), len(on_air), imported.taken


def figures(answer: spurplan.Answer) -> tuple[dict[str, Any], pd.DataFrame, list[str]]:
    """Return an answer as plain values, as a frame, and what was refused on the way."""
    try:
        frame = assert_type(answer.to_frame(), pd.DataFrame)
    except spurplan.Refused as refused:
        return answer.to_dict(), pd.DataFrame(), [str(fault) for fault in refused.faults]
    return answer.to_dict(), frame, []


def mistakes(receiver: Path) -> list[Callable[[], spurplan.Answer]]:
    """Return calls that the types refuse, and the library too."""
    return [
        lambda: spurplan.dial(receiver, "14.005 MHz"),  # type: ignore[call-arg]
        lambda: spurplan.dial(receiver),  # type: ignore[call-arg]
        lambda: spurplan.dial(receiver, frequency=14.005e6),  # type: ignore[arg-type]
        lambda: spurplan.station(receiver, frequency=np.float64(14.005e6)),  # type: ignore[arg-type]
        lambda: spurplan.readings(receiver, log=5),  # type: ignore[arg-type]
        lambda: spurplan.ranges(receiver, settings={"region": 1}),  # type: ignore[arg-type]
        lambda: occupancy.on_frequency(14_005_000, None, 1),  # type: ignore[call-arg]
    ]
