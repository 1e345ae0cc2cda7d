"""Where the package is asked: its answers in the oracle's terms, and the two compared.

The rest of `tests/oracle` is plain Python and numpy; this module alone imports
the package.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from spurplan.emissions import CARRIER, VOICE
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.join import join
from spurplan.responses.lines import enumerate_lines
from tests.oracle.exact import Route

Pair = tuple[Route, int]
Found = tuple[Route, int, int, int]  # route, number of the station, first and last dial
Stations = Sequence[tuple[int, int]]


def occupants_of(
    stations: Stations, level_dbm: float | Sequence[float] = -53.0, carrier: bool | Sequence[bool] = False
) -> Occupants:
    """Return stations (low, high) as occupants, ascending: one table, row 2 the first, label its number.

    Levels and whether a station is heard in 500 Hz: one for all, or one each.
    """
    low, high = np.array(stations, dtype=np.int64).reshape(-1, 2).T
    count = len(low)
    order = np.lexsort((high, low))
    return Occupants(
        low_hz=low[order],
        high_hz=high[order],
        level_dbm=np.broadcast_to(np.asarray(level_dbm, dtype=np.float64), count)[order],
        level_from=np.zeros(count, dtype=np.uint8),
        service=np.zeros(count, dtype=np.int16),
        hours_share=np.full(count, -1.0),
        label=order.astype(np.int32),
        mode=np.full(count, -1, dtype=np.int8),
        region=np.full(count, -1, dtype=np.int16),
        table=np.zeros(count, dtype=np.int16),
        row=(order + 2).astype(np.int32),
        sound=np.where(np.broadcast_to(np.asarray(carrier), count)[order], CARRIER, VOICE).astype(np.int8),
        width_hz=np.full(count, 2_700, dtype=np.int32),
        spot=np.zeros(count, dtype=np.bool_),
        raster_hz=np.zeros(count, dtype=np.int64),
        services=("amateur",),
        labels=tuple(str(number) for number in range(count)),
        modes=(),
        regions=(),
        tables=("planted.csv",),
        reach=(int(low.min()), int(high.max())),
    )


def engine(
    receiver: dict[str, Any],
    stations: Stations,
    orders: dict[int, tuple[int, int]],
    dial_hz: int | None = None,
) -> dict[str, list[Found]]:
    """Return what the engine's lines and join find, by name of the range, the wanted route included.

    Parameters
    ----------
    receiver : a receiver file's contents.
    stations : (low, high). [Hz]
    orders : (lo_order, rf_order) by number of conversions.
    dial_hz : int or None. One dial setting instead of the whole coverage. [Hz]
    """
    description = Receiver.from_dict(receiver)
    occupants = occupants_of(stations)
    out: dict[str, list[Found]] = {position.name: [] for position in description.ranges}
    for chains in compile_chains([(description, position) for position in description.ranges]):
        if dial_hz is not None:
            here = np.full(len(chains), dial_hz, dtype=np.int64)
            chains = chains.tuned_to(here, here)
        lines = enumerate_lines(chains, *orders[chains.conversions], span_hz=occupants.reach)
        hits = join(lines, occupants)
        columns = (hits.line, occupants.label[hits.occupant], hits.dial_low_hz, hits.dial_high_hz)
        for line, station, low_hz, high_hz in zip(*(c.tolist() for c in columns), strict=True):
            route = tuple((lo, rf) for lo, rf in lines.steps[line].tolist())
            name = chains.names[chains.name_code[lines.candidate[line]]]
            out[name].append((route, station, low_hz, high_hz))
    return out


def received_at(
    receiver: dict[str, Any], stations: Stations, dial_hz: int, lo_order: int, rf_order: int
) -> set[Pair]:
    """Return the pairs the engine finds at one dial setting of a set with one range."""
    orders = dict.fromkeys(range(1, 5), (lo_order, rf_order))
    ((_, found),) = engine(receiver, stations, orders, dial_hz).items()
    assert all(low == high == dial_hz for _, _, low, high in found)
    return {(route, station) for route, station, _, _ in found}


def differences(found: Sequence[Found], expected: dict[Pair, tuple[int, int]]) -> list[str]:
    """Return what is wrong with an answer: pairs listed twice, invented, missed, on other dial settings."""
    wrong = []
    count = Counter((route, station) for route, station, _, _ in found)
    wrong += [f"{pair} listed {times} times" for pair, times in count.items() if times > 1]
    got = {(route, station): (low, high) for route, station, low, high in found}
    wrong += [f"{pair} invented on {got[pair]}" for pair in got if pair not in expected]
    wrong += [f"{pair} missed on {expected[pair]}" for pair in expected if pair not in got]
    wrong += [
        f"{pair} on {got[pair]}, not {where}"
        for pair, where in expected.items()
        if pair in got and got[pair] != where
    ]
    return wrong


def band_table(folder: Path, stations: Stations, level: str = "-53 dBm", name: str = "planted.csv") -> Path:
    """Write stations as a band table, spots as frequencies and the rest as rows; return its path."""
    lines = ["low_hz,high_hz,freq_hz,service,label,level"]
    for number, (low_hz, high_hz) in enumerate(stations):
        where = f",,{low_hz}" if low_hz == high_hz else f"{low_hz},{high_hz},"
        lines.append(f"{where},amateur,station {number},{level}")
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def joined(records: Sequence[dict[str, Any]]) -> dict[str, list[Found]]:
    """Put the pieces of one pair back together, by name of the range.

    Raises
    ------
    AssertionError  when pieces overlap, leave a gap, or two that touch have one grade.
    """
    pieces: dict[tuple[str, Route, int], list[tuple[int, int, str]]] = {}
    for record in records:
        route = tuple((lo, rf) for lo, rf in record["steps"])
        key = (record["range"], route, record["row"] - 2)
        pieces.setdefault(key, []).append((record["dial_low_hz"], record["dial_high_hz"], record["grade"]))
    out: dict[str, list[Found]] = {}
    for (name, route, station), parts in pieces.items():
        parts.sort()
        for (_, high, grade), (low, _, next_grade) in itertools.pairwise(parts):
            assert low == high + 1, (name, route, station, parts)
            assert grade != next_grade, (name, route, station, parts)
        out.setdefault(name, []).append((route, station, parts[0][0], parts[-1][1]))
    return out
