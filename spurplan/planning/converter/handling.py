"""What a converter is like to build and to use: which way its dial runs, how fine it reads, how it drifts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.planning.converter.candidates import ABOVE, Candidates, Prototypes
from spurplan.receiver.description import Range, Receiver
from spurplan.receiver.multiplier import impurity_db
from spurplan.receiver.plan import sources_of
from spurplan.rows import Rows, bools, floats, ints
from spurplan.tomlfile import shipped_toml

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

ROUND_HZ = 1_000_000
# how what is to be added on the dial reads
READINGS = ("round", "half", "odd")
ROUND, HALF, ODD = range(3)


@cache
def estimates() -> Mapping[str, Mapping[str, float]]:
    """Return ``data/crystals.toml``: what handling is worth, and what it is worked out from."""
    read: dict[str, Any] = shipped_toml("crystals.toml")
    return read


class Handling(Rows):
    """What V candidates are like to use; without a range all that hangs on it is unknown.

    Attributes
    ----------
    forward : bool, shape (V,). Whether the dial runs with the signal.
    reading : int64, shape (V,). How what is added on the dial reads; index into `READINGS`.
    spread_khz_mm : float64, shape (V,). Mean spread of the set's scale. [kHz/mm]
    drift_hz : float64, shape (V,). In the first hour, all oscillators together. [Hz]
    impurity_db : float64, shape (V,). How far the worst other line of a multiplied injection is under
        the one that is used; NaN where nothing is multiplied. [dB]
    """

    forward: npt.NDArray[np.bool_] = bools()
    reading: Ints = ints()
    spread_khz_mm: Floats = floats()
    drift_hz: Floats = floats()
    impurity_db: Floats = floats()


def handling_of(
    chosen: Candidates, receiver: Receiver, ranges: Sequence[Range], before: Prototypes
) -> Handling:
    """Return what candidates are like to use.

    Parameters
    ----------
    chosen : Candidates, V of them.
    receiver, ranges : the set, and the ranges that `chosen.range` counts.
    before : Prototypes of these ranges.

    Notes
    -----
    The scale is taken as linear over the range; one marked on a variable capacitor is finer at one end
    and coarser at the other by up to two. Drift: |oscillator| times its parts per million and what an error
    of it does to the last IF, for every oscillator of the set at the middle of the cover, and the crystal;
    the worst case, all one way. What drops out in a drift-cancelling loop is not counted.
    """
    return Handling(
        forward=chosen.side != ABOVE,
        reading=_readings(chosen.injected_hz),
        spread_khz_mm=_spread_khz_mm(chosen, ranges),
        drift_hz=_drift_hz(chosen, receiver, ranges),
        impurity_db=_impurity_db(chosen.multiplier, before.circuits),
    )


def _readings(injected_hz: Ints) -> Ints:
    near = estimates()["reading"]["near"] * 1e3
    off = np.abs(injected_hz - ROUND_HZ * np.round(injected_hz / ROUND_HZ))
    readings: Ints = np.where(off <= near, ROUND, np.where(ROUND_HZ // 2 - off <= near, HALF, ODD))
    return readings.astype(np.int64)


def _spread_khz_mm(chosen: Candidates, ranges: Sequence[Range]) -> Floats:
    length = estimates()["scale"]["length"]
    of_range = np.array([(range_.high_hz - range_.low_hz) / 1e3 / length for range_ in ranges])
    return np.where(chosen.placed, of_range[chosen.range], np.nan)


def _drift_hz(chosen: Candidates, receiver: Receiver, ranges: Sequence[Range]) -> Floats:
    ppm = estimates()["drift"]
    middle = chosen.tunable_hz((chosen.low_hz + chosen.high_hz) // 2)
    out = chosen.injected_hz * ppm["crystal"] * 1e-6
    for number, range_ in enumerate(ranges):
        here = np.flatnonzero(chosen.range == number)
        for source in sources_of(receiver.conversions_of(range_), receiver.plans_of(range_)):
            oscillator = np.abs((source.a * middle[here] + source.b) / source.h)
            out[here] += (
                abs(source.weight) * oscillator * ppm["crystal" if source.crystal else "free_running"] * 1e-6
            )
    return np.where(chosen.placed, out, np.nan)


def _impurity_db(multiplier: Ints, circuits: int) -> Floats:
    return np.array([impurity_db(times, circuits) for times in multiplier.tolist()], dtype=np.float64)
