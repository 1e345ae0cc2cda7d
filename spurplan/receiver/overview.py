"""What a receiver file describes, as an answer: one record a range."""

from __future__ import annotations

import numpy as np

from spurplan.columns import NULL_INT, RANGE, Answer, Coded, Column, Table
from spurplan.receiver.defaults import defaults_in_use
from spurplan.receiver.description import Receiver
from spurplan.receiver.doubts import columns_left_alone, doubts, own_ifs
from spurplan.receiver.sentence import range_text

RANGES = (
    RANGE,
    Column("low_hz", "int", "Hz", False, "Tunes", "lowest dial frequency"),
    Column("high_hz", "int", "Hz", False, "to", "highest dial frequency"),
    Column("conversions", "int", "", False, "Conversions", "how many mixers the signal passes"),
    Column("if_hz", "int", "Hz", True, "First IF", "first intermediate frequency; null for a tunable one"),
    Column("last_if_hz", "int", "Hz", False, "Last IF", "last intermediate frequency"),
    Column("says", "text", "", False, "", "the way of a signal, in a line of text"),
)


def overview(receiver: Receiver) -> Answer:
    """Return what a description says, what of it is hardly meant, and what it leaves to default.

    Parameters
    ----------
    receiver : Receiver.
    """
    plans = [receiver.plans_of(range_) for range_ in receiver.ranges]
    counts = np.arange(len(plans))
    return Answer(
        receiver=receiver.name,
        settings={},
        assumptions=(
            *doubts(receiver),
            *columns_left_alone(receiver),
            *own_ifs(receiver),
            *defaults_in_use(receiver),
        ),
        cautions=(),
        tables={
            "ranges": Table(
                "ranges",
                RANGES,
                {
                    "range": Coded(counts, [range_.name for range_ in receiver.ranges]),
                    "low_hz": np.array([range_.low_hz for range_ in receiver.ranges], np.int64),
                    "high_hz": np.array([range_.high_hz for range_ in receiver.ranges], np.int64),
                    "conversions": np.array([len(plan) for plan in plans], np.int64),
                    "if_hz": np.array([_or_null(plan[0].if_hz) for plan in plans], np.int64),
                    "last_if_hz": np.array([_or_null(plan[-1].if_hz) for plan in plans], np.int64),
                    "says": Coded(counts, [range_text(receiver, range_) for range_ in receiver.ranges]),
                },
            )
        },
    )


def _or_null(hz: int | None) -> int:
    return NULL_INT if hz is None else hz
