"""Every frequency the engine names is heard by a mixer simulated in time, and no other one.

A generator is stepped from 40 kHz to 20 MHz in front of a mixer that exists
only as samples (tests/simulation/sweep.py), and the bins around the IF are
read. The stations of the engine's question stand on the same steps, its
passband is the bins that were read. Then

- every reading above -100 dB of the wanted one must be a route the engine lists, and
- every listed route whose product is above that must be in the readings, as strong as the
  two-dimensional transform of the same device makes it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from tests.oracle import connect
from tests.oracle.exact import Route
from tests.outside import Differences, against, agreed
from tests.simulation import sweep

THRESHOLD_DB = -100.0
IF_BIN = 91  # 455 kHz
LO_BIN = 811  # 4.055 MHz, a prime
DIAL_BIN = LO_BIN - IF_BIN
LO2_BIN = 443  # 2.215 MHz, a prime: the second oscillator of the double conversion
IF1_BIN = LO2_BIN - IF_BIN
DIAL1_BIN = LO_BIN - IF1_BIN
WIDE = f"{2 * sweep.AROUND * sweep.BIN_HZ} Hz"
STATIONS = [(b * sweep.BIN_HZ, b * sweep.BIN_HZ) for b in range(sweep.FIRST_BIN, sweep.LAST_BIN + 1)]

Readings = npt.NDArray[np.float64]
Listed = set[tuple[Route, int]]


def receiver(*conversions: dict[str, Any]) -> dict[str, Any]:
    """A set tuned anywhere from 1 to 4 MHz, its last filter as wide as what is read."""
    conversions[-1]["filter"] = {"bandwidth": WIDE}
    return {
        "name": "simulated in time",
        "conversion": list(conversions),
        "range": [{"name": "1", "coverage": ["1 MHz", "4 MHz"]}],
    }


@cache
def readings_of(device: sweep.Device) -> Readings:
    return sweep.Bench(device, LO_BIN, IF_BIN).sweep()


def landing(steps: Route, oscillator_bins: tuple[int, ...], station_bin: int) -> int:
    """The bin a station comes out on, worked out mixer by mixer."""
    x = station_bin
    for (lo, rf), oscillator in zip(steps, oscillator_bins, strict=True):
        x = lo * oscillator + rf * x
    return x


def compare(
    readings: Readings,
    listed: Listed,
    oscillator_bins: tuple[int, ...],
    wanted_bin: int,
    level: Callable[[Route], float],
) -> dict[str, float]:
    """Hold the readings against the routes listed; return what was counted."""
    unit = abs(readings[wanted_bin - sweep.FIRST_BIN, sweep.AROUND])
    least = unit * 10 ** (THRESHOLD_DB / 20)
    predicted = np.zeros_like(readings)
    explained = np.zeros(readings.shape, dtype=bool)
    for steps, station in sorted(listed):
        column = landing(steps, oscillator_bins, sweep.FIRST_BIN + station) - IF_BIN + sweep.AROUND
        assert 0 <= column <= 2 * sweep.AROUND, (steps, station)
        predicted[station, column] += level(steps)
        explained[station, column] = True
    heard = np.abs(readings) > least
    clear = heard & (np.abs(predicted) > 10 * least)
    return {
        "heard": int(heard.sum()),
        "unexplained": int((heard & ~explained).sum()),
        # two products in one bin may cancel each other: what is left of them must be there
        "missed": int(((np.abs(predicted) > 1.01 * least) & ~heard).sum()),
        "routes": len({steps for steps, station in listed if abs(level(steps)) > least}),
        "worst_db": float(np.abs(20 * np.log10(np.abs(readings[clear] / predicted[clear]))).max()),
        "worst_dbc": float(20 * np.log10(np.abs(readings - predicted).max() / unit)),
    }


def swept(device: str, long: bool = False) -> Any:
    return against(
        "blind sweep of a mixer sampled in time",
        f"readings above -100 dBc and routes listed: {device}",
        unit="readings",
        tolerance=0,
        long=long,
    )


def unlike(found: dict[str, float], least_routes: int) -> Differences:
    """How many readings no route explains, or routes no reading shows; a case is a reading heard."""
    assert found["routes"] >= least_routes, found
    assert found["heard"] >= 3 * found["routes"], found
    assert found["worst_db"] < 0.001, found
    assert found["worst_dbc"] < THRESHOLD_DB, found
    wrong = int(found["unexplained"] + found["missed"])
    yield "unexplained or missed", wrong
    yield "explained", agreed(max(0, int(found["heard"]) - 1))


@cache
def listed_by_the_engine() -> Listed:
    return connect.received_at(
        receiver({"injection": "high", "if": "455 kHz"}),
        STATIONS,
        DIAL_BIN * sweep.BIN_HZ,
        lo_order=24,
        rf_order=9,
    )


def one_mixer(device: sweep.Device, listed: Listed) -> dict[str, float]:
    levels = sweep.two_dimensional(device)
    return compare(readings_of(device), listed, (LO_BIN,), DIAL_BIN, lambda steps: float(levels[steps[0]]))


@swept("soft switch")
def test_soft_switch() -> Differences:
    """One conversion, oscillator above, a commutator: routes and readings are one set, alike in level."""
    yield from unlike(one_mixer(sweep.soft_switch, listed_by_the_engine()), 35)


@swept("exponential characteristic")
def test_exponential() -> Differences:
    """The same for an exponential characteristic, which makes every order of both."""
    yield from unlike(one_mixer(sweep.exponential, listed_by_the_engine()), 25)


@swept("multiplier with weak curvature", long=True)
def test_multiplier() -> Differences:
    """The same for a multiplier with weak curvature."""
    yield from unlike(one_mixer(sweep.multiplier, listed_by_the_engine()), 20)


@swept("two mixers, double conversion")
def test_two_mixers() -> Differences:
    """Double conversion without a filter between: every pair of steps, positive in between.

    The second mixer multiplies by a rich oscillator, so it is linear in the signal
    and single routes are all there is.
    """
    second = sweep.harmonics(np.exp(np.cos(2 * np.pi * np.arange(64) / 64)))
    levels = sweep.two_dimensional(sweep.exponential)
    bench = sweep.Bench(sweep.exponential, LO_BIN, IF_BIN, np.exp(sweep.tone(LO2_BIN)))
    listed = connect.received_at(
        receiver(
            {"injection": "high", "if": f"{IF1_BIN * sweep.BIN_HZ} Hz"},
            {"injection": "high", "if": "455 kHz"},
        ),
        STATIONS,
        DIAL1_BIN * sweep.BIN_HZ,
        lo_order=12,
        rf_order=5,
    )

    def level(steps: Route) -> float:
        lo2, rf2 = steps[1]
        return float(levels[steps[0]] * second[lo2]) if abs(rf2) == 1 else 0.0

    yield from unlike(compare(bench.sweep(), listed, (LO_BIN, LO2_BIN), DIAL1_BIN, level), 200)


def test_a_route_left_out_or_silent_is_seen() -> None:
    """The comparison is not blind: drop the half-IF and readings are unexplained, silence one
    reading of the image and it is missed."""
    listed = listed_by_the_engine()
    half_if: Route = ((2, -2),)
    assert one_mixer(sweep.exponential, {pair for pair in listed if pair[0] != half_if})["unexplained"] > 0
    image: Route = ((-1, 1),)
    silent = readings_of(sweep.exponential).copy()
    silent[max(station for steps, station in listed if steps == image)] = 0.0
    levels = sweep.two_dimensional(sweep.exponential)
    found = compare(silent, listed, (LO_BIN,), DIAL_BIN, lambda steps: float(levels[steps[0]]))
    assert found["missed"] > 0
