"""What it takes to hold the image down: which Q, how many circuits, which IF."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np

from spurplan.columns import RANGE, Column, Table, distinct, table_of
from spurplan.errors import Refused
from spurplan.planning.if_change.other_ifs import possible, with_ifs
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes import changed, front_end_of, with_added_elements, with_front_end
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Circuits, CoupledPair, Range, Receiver
from spurplan.responses.image_rejection import image_rejection_db
from spurplan.units import hz_text

REJECTION_COLUMNS = (
    RANGE,
    Column("rejection_db", "float", "dB", False, "Asked", "image rejection to reach"),
    Column("present_db", "float", "dB", True, "Now", "the least on the range as it is"),
    Column("dial_hz", "int", "Hz", True, "Least at", "where it is least"),
    Column("added_q", "float", "", True, "One more of Q", "loaded Q that one more tuned circuit needs"),
    Column(
        "present_circuits_q", "float", "", True, "Present ones of Q",
        "loaded Q that the circuits it has would need",
    ),
    Column("circuits", "int", "", True, "Circuits in all", "how many of the present Q would do"),
    Column("if_hz", "int", "Hz", True, "IF of", "lowest IF from which on the present front end does it"),
    Column("note", "text", "", False, "", "what stands in the way"),
)  # fmt: skip

HIGHEST_Q = 100_000.0
# Coil, gang and valve or transistor hold no more than this over a range: common practice.
HIGHEST_BUILT_Q = 300.0
LOWEST_Q = 1.0
MOST_CIRCUITS = 20
# IFs are looked through in steps of this factor, then halved down to a hertz.
IF_STEP = 1.002
HIGHEST_IF_HZ = 1_000_000_000


def rejection_table(receiver: Receiver, picked: Sequence[Range], wanted_db: float) -> Table:
    """Return what each range would need for an image rejection.

    Parameters
    ----------
    receiver : Receiver.
    picked : ranges of it.
    wanted_db : float, above 0. At the worst place of the range. [dB]

    Notes
    -----
    Each way by itself, the rest of the set left as it is. Found by halving on the set
    described anew, so elements of every kind and the ceiling are in it. The lowest IF is
    the one from which on every IF up to `HIGHEST_IF_HZ` does it too.
    """
    records = [_record(receiver, range_, wanted_db) for range_ in picked]
    return table_of("rejection", REJECTION_COLUMNS, records)


def _record(receiver: Receiver, range_: Range, wanted_db: float) -> dict[str, Any]:
    (chains,) = compile_chains([(receiver, range_)])
    (present,), (dial,) = image_rejection_db(chains)
    known = not math.isnan(present)
    q = _q_of(range_)
    row: dict[str, Any] = {
        "range": range_.name,
        "rejection_db": wanted_db,
        "present_db": float(present) if known else None,
        "dial_hz": int(dial) if known else None,
        **dict.fromkeys(("added_q", "present_circuits_q", "circuits", "if_hz")),
        "note": "",
    }
    if not known:
        return row | {"note": "has no image above 0 Hz"}
    if present >= wanted_db:
        return row | {"note": "has it already"}
    if wanted_db > range_.front_end_ceiling_db:
        return row | {
            "note": f"the box can not exceed {range_.front_end_ceiling_db:g} dB (front_end_ceiling)"
        }
    row["added_q"] = _least_q(lambda q: _with_circuit(receiver, range_, q), range_.name, wanted_db)
    if any(isinstance(element, Circuits | CoupledPair) for element in front_end_of(range_)):
        row["present_circuits_q"] = _least_q(lambda q: _with_q(receiver, range_, q), range_.name, wanted_db)
    row["circuits"] = _circuits(receiver, range_, wanted_db, q)
    row["if_hz"] = _lowest_if(receiver, range_, wanted_db)
    row["note"] = "; ".join(_in_the_way(range_, row))
    return row


def _in_the_way(range_: Range, row: dict[str, Any]) -> Iterator[str]:
    """Yield what stands in the way of the ways found."""
    high_q = [q for q in (row["added_q"], row["present_circuits_q"]) if q is not None and q > HIGHEST_BUILT_Q]
    if high_q:
        yield f"a loaded Q above {HIGHEST_BUILT_Q:g} can not be held over a range by coil and gang"
    if row["if_hz"] is None:
        yield f"no IF up to {hz_text(HIGHEST_IF_HZ)} does it with this front end"
    elif range_.low_hz <= row["if_hz"] <= range_.high_hz:
        yield "that IF lies inside the range, which is unusable there"


def _rejection_db(receiver: Receiver, name: str) -> float:
    (chains,) = compile_chains([(receiver, range_named(receiver, name=name))])
    return float(image_rejection_db(chains)[0][0])


def _least_q(made: Callable[[float], Receiver], name: str, wanted_db: float) -> float | None:
    """Return the lowest Q that reaches a rejection, to a hundredth; None where none does."""
    low, high = LOWEST_Q, HIGHEST_Q
    if _rejection_db(made(high), name) < wanted_db:
        return None
    while high - low > 0.005:
        middle = math.sqrt(low * high)
        if _rejection_db(made(middle), name) < wanted_db:
            low = middle
        else:
            high = middle
    return round(high, 2)


def _with_circuit(receiver: Receiver, range_: Range, q: float) -> Receiver:
    return with_added_elements(receiver, elements=[Circuits(circuits=1, q=q)], range_name=range_.name)


def _with_q(receiver: Receiver, range_: Range, q: float) -> Receiver:
    elements = [
        changed(element, receiver.name, q=q) if isinstance(element, Circuits | CoupledPair) else element
        for element in front_end_of(range_)
    ]
    return with_front_end(receiver, elements=elements, range_name=range_.name)


def _q_of(range_: Range) -> Any:
    """Return the Q of the first circuits of a front end, as it is described."""
    for element in front_end_of(range_):
        if isinstance(element, Circuits | CoupledPair):
            return element.q
    return None


def _circuits(receiver: Receiver, range_: Range, wanted_db: float, q: Any) -> int | None:
    """Return how many circuits in all would do; the ones there are count, a coupled pair as two."""
    elements = front_end_of(range_)
    there = sum(
        e.circuits if isinstance(e, Circuits) else 2
        for e in elements
        if isinstance(e, Circuits | CoupledPair)
    )
    for more in range(MOST_CIRCUITS + 1):
        added = [Circuits(circuits=more, q=q)] if more else []
        try:
            made = with_added_elements(receiver, elements=added, range_name=range_.name)
        except Refused:
            return None
        if _rejection_db(made, range_.name) >= wanted_db:
            return there + more
    return None


def _lowest_if(receiver: Receiver, range_: Range, wanted_db: float) -> int | None:
    """Return the lowest first IF from which on the front end holds the image down that far."""
    (chains,) = compile_chains([(receiver, range_)])
    if chains.want_a[0, 1] != 0:
        return None
    start = max(1_000, int(chains.bandwidth_hz[0]))
    steps = math.ceil(math.log(HIGHEST_IF_HZ / start) / math.log(IF_STEP))
    grid = distinct(np.rint(start * IF_STEP ** np.arange(steps + 1)).astype(np.int64))

    def reached(ifs: np.ndarray[Any, np.dtype[np.int64]]) -> np.ndarray[Any, np.dtype[np.bool_]]:
        made = with_ifs(chains, ifs, 0)
        rejection_db, _ = image_rejection_db(made)
        # no image at all is no image to hold down; an impossible set does nothing
        return possible(made) & (np.isnan(rejection_db) | (rejection_db >= wanted_db))

    good = reached(grid)
    if not good.any():
        return None
    # low-side sets end where the oscillator would reach 0 Hz: up to the last that can be built
    last = int(np.flatnonzero(good)[-1])
    bad = np.flatnonzero(~good[:last])
    if not len(bad):
        return int(grid[0])
    low, high = int(grid[bad[-1]]), int(grid[bad[-1] + 1])
    while high - low > 1:
        middle = (low + high) // 2
        if reached(np.array([middle], dtype=np.int64))[0]:
            high = middle
        else:
            low = middle
    return high
