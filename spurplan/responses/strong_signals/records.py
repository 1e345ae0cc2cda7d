"""What strong stations do at a setting, as records: the columns of `overload`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from spurplan.columns import RANGE, Answer, Column, Table, table_of
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.strong_signals.overload import EFFECTS, PAD_GAINS_DB, Overload, overload

OVERLOAD_COLUMNS = (
    RANGE,
    Column("effect", "text", "", False, "Effect", "reciprocal mixing, blocking or cross-modulation"),
    Column("label", "text", "", True, "Station or band", "who does it, as its table calls it"),
    Column("f_hz", "int", "Hz", False, "On", "its frequency; of a band, the nearest"),
    Column("service", "text", "", False, "", "its service"),
    Column("table", "text", "", False, "", "file it came from"),
    Column("row", "int", "", False, "", "its line there, the head being line 1"),
    Column("antenna_dbm", "float", "dBm", False, "Aerial", "its level at the terminals"),
    Column("mixer", "int", "", False, "In mixer", "in which mixer, 1 the first"),
    Column("at_mixer_dbm", "float", "dBm", False, "", "its level there"),
    Column(
        "amount_db", "float", "dB", False, "By",
        "by how much the noise rises, the gain changes, or its modulation on the wanted carrier stands to "
        "its own",
    ),
    Column(
        "pad_gains_db_per_db", "int", "", False, "A pad gains",
        "decibels won against the wanted signal for each decibel of pad at the aerial",
    ),
)  # fmt: skip


def with_overload(
    answer: Answer,
    groups: Sequence[tuple[Chains, np.ndarray[Any, Any]]],
    occupants: Occupants,
) -> Answer:
    """Return an answer with what strong stations do at the setting of each candidate besides products.

    Parameters
    ----------
    groups : chains, and int64, shape (V,): the setting of each. [Hz]
    """
    records = [
        record
        for chains, dial_hz in groups
        for record in _records(chains, occupants, overload(chains, occupants, dial_hz))
    ]
    table: Table = table_of("overload", OVERLOAD_COLUMNS, records)
    return replace(answer, tables={**answer.tables, "overload": table})


def _records(chains: Chains, occupants: Occupants, overloads: Overload) -> list[dict[str, Any]]:
    order = np.lexsort((overloads.f_hz, -np.abs(overloads.amount_db), overloads.effect, overloads.candidate))
    return [
        {
            "range": chains.names[int(chains.name_code[overloads.candidate[n]])],
            "effect": EFFECTS[int(overloads.effect[n])],
            "f_hz": int(overloads.f_hz[n]),
            **occupants.record(int(overloads.occupant[n])),
            "antenna_dbm": float(occupants.level_dbm[overloads.occupant[n]]),
            "mixer": int(overloads.mixer[n]) + 1,
            "at_mixer_dbm": float(overloads.at_mixer_dbm[n]),
            "amount_db": float(overloads.amount_db[n]),
            "pad_gains_db_per_db": PAD_GAINS_DB[int(overloads.effect[n])],
        }
        for n in order.tolist()
    ]
