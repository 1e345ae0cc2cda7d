"""Birdies and self-whistles listed by the package against mixers simulated in time.

The dial is turned bin by bin in front of mixers that exist only as samples
(tests/simulation/sweep.py), with no signal at all or with the wanted one, and the
bins around the IF are read. What is read above -100 dB must be listed, and what is
listed and strong enough must be read, on the predicted bin.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.birdies.harmonics import self_heard
from spurplan.responses.birdies.self_whistles import self_whistles
from tests.oracle import connect
from tests.outside import Differences, against, agreed
from tests.simulation import sweep

Floats = npt.NDArray[np.float64]

IF_BIN = 91  # 455 kHz
LO2_BIN = 443  # 2.215 MHz, a prime
IF1_BIN = LO2_BIN - IF_BIN
FIRST, LAST = 100, 700  # 0.5 to 3.5 MHz of dial
LEAK = 0.2  # of the second oscillator into the first mixer, its own being 1
COLUMNS = range(-sweep.AROUND, sweep.AROUND + 1)
LEAST = 1e-5  # -100 dB


def hz(bin_number: int) -> str:
    return f"{bin_number * sweep.BIN_HZ} Hz"


def chains_of(*conversions: dict[str, Any]) -> Chains:
    """A set that tunes the bins of the sweep, its last filter as wide as what is read."""
    conversions[-1]["filter"] = {"bandwidth": hz(2 * sweep.AROUND)}
    made = {
        "name": "simulated in time",
        "conversion": list(conversions),
        "range": [{"name": "1", "coverage": [hz(FIRST), hz(LAST)]}],
    }
    receiver = Receiver.from_dict(made)
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    return chains


def readers() -> Floats:
    """Weights that read the bins around the IF, shape (half the record, 7)."""
    weight = np.full(sweep.SAMPLES // 2 + 1, 2.0 / sweep.SAMPLES)
    weight[[0, -1]] = 1.0 / sweep.SAMPLES
    return np.stack([weight * sweep.tone(IF_BIN + k) for k in COLUMNS], axis=1)


# --- two oscillators and no signal ---------------------------------------------------------------


@cache
def no_aerial() -> Floats:
    """Readings of a double conversion without a signal, shape (dial bins, 7).

    Some of the second oscillator leaks into the first mixer; the second mixer multiplies by
    a rich oscillator; no filter between them.
    """
    second = sweep.tone(LO2_BIN)
    reading = readers() * np.exp(second)[:, None]
    return np.stack(
        [
            np.exp(1.5 * (sweep.tone(dial + IF1_BIN) + LEAK * second)) @ reading
            for dial in range(FIRST, LAST + 1)
        ]
    )


@cache
def harmonics_of_two() -> Floats:
    """Half the peak of k1 LO1 + k2 LO2 behind the second mixer, entry [k1, k2], from the phases alone."""
    phase = np.cos(2 * np.pi * np.arange(64) / 64)
    grid = np.exp(1.5 * (phase[:, None] + LEAK * phase[None])) * np.exp(phase)[None]
    return np.fft.fft2(grid).real / 64**2


def listed_birdies() -> list[tuple[int, int, int, int, int]]:
    """(k1, k2, first and last dial bin, order) of each place listed, as it is on the last IF.

    What lands on the dial or on the first IF reaches the last one with an oscillator more:
    IF1 = LO1 - d and IF2 = LO2 - IF1.
    """
    chains = chains_of(
        {"injection": "high", "if": hz(IF1_BIN)}, {"injection": "high", "if": hz(IF_BIN)}
    )  # fmt: skip
    found, made = self_heard(chains)
    rows = []
    for i in range(len(found)):
        k1, k2, detector = made.factors[found.combination[i]].tolist()
        if detector:
            continue  # there is none in the simulation
        target = int(made.target[found.combination[i]])
        if target == 0:
            k1, k2 = 1 - k1, -k2
        if target <= 1:
            k1, k2 = -k1, 1 - k2
        low, high = (int(found.dial_low_hz[i]), int(found.dial_high_hz[i]))
        order = int(made.order[found.combination[i]])
        rows.append((k1, k2, -(-low // sweep.BIN_HZ), high // sweep.BIN_HZ, order))
    return rows


def swept(compares: str) -> Any:
    return against("blind sweep of a mixer sampled in time", compares, unit="readings", tolerance=0)


@swept("birdies: readings above -100 dBc and places listed")
def test_birdies_of_two_oscillators() -> Differences:
    """Everything heard with no signal is listed where it is heard, and what is listed is heard."""
    readings, levels = no_aerial(), harmonics_of_two()
    least = LEAST * abs(levels[1, 1])
    explained = np.zeros(readings.shape, dtype=bool)
    strong = 0
    for k1, k2, first, last, _ in listed_birdies():
        for dial in range(first, last + 1):
            column = k1 * (dial + IF1_BIN) + k2 * LO2_BIN - IF_BIN + sweep.AROUND
            assert 0 <= column <= 2 * sweep.AROUND, (k1, k2, dial)
            explained[dial - FIRST, column] = True
            if abs(levels[k1, k2]) > 2 * least:
                strong += 1
                assert abs(readings[dial - FIRST, column]) > least, (k1, k2, dial)
    heard = np.abs(readings) > least
    assert strong > 50
    assert heard.sum() > 50
    unexplained = int((heard & ~explained).sum())
    yield "unexplained", np.ones(unexplained)
    yield "explained", agreed(int(heard.sum()) - unexplained)


def test_level_of_a_birdie_is_that_of_its_harmonics() -> None:
    """On its place the simplest birdie is as strong as its two harmonics make it: it is that one."""
    readings, levels = no_aerial(), harmonics_of_two()
    simplest = min(listed_birdies(), key=lambda row: row[4])
    k1, k2, first, last, _ = simplest
    dial = next(d for d in range(first, last + 1) if k1 * (d + IF1_BIN) + k2 * LO2_BIN == IF_BIN)
    assert abs(readings[dial - FIRST, sweep.AROUND]) == pytest.approx(abs(levels[k1, k2]), rel=1e-3)


# --- the station tuned to ------------------------------------------------------------------------


def tuned_in(device: sweep.Device) -> Floats:
    """Readings of one conversion with a station on the dial frequency, shape (dial bins, 7)."""
    reading = readers()
    return np.stack(
        [
            device(sweep.tone(dial + IF_BIN), sweep.SIGNAL * sweep.tone(dial)) @ reading
            for dial in range(FIRST, LAST + 1)
        ]
    )


def predicted_whistles(device: sweep.Device) -> tuple[Floats, int]:
    """Readings as the listed routes make them, the wanted one left out, and how many routes there are."""
    chains = chains_of({"injection": "high", "if": hz(IF_BIN)})
    occupants = connect.occupants_of([(1, 1)])
    settings = Settings(lo_order=24, rf_order=9, everything=True)
    lines, found = self_whistles(chains, occupants, settings, -33.0)
    levels = sweep.two_dimensional(device)
    out = np.zeros((LAST - FIRST + 1, 2 * sweep.AROUND + 1))
    for i in range(len(found)):
        lo, rf = lines.steps[found.line[i], 0].tolist()
        first, last = (
            -(-int(found.dial_low_hz[i]) // sweep.BIN_HZ),
            int(found.dial_high_hz[i]) // sweep.BIN_HZ,
        )
        for dial in range(first, last + 1):
            off = lo * (dial + IF_BIN) + rf * dial - IF_BIN
            assert int(found.a[i]) * dial * sweep.BIN_HZ + int(found.b[i]) == off * sweep.BIN_HZ * int(
                found.h[i]
            )
            out[dial - FIRST, off + sweep.AROUND] += levels[lo, rf]
    return out, len(found)


def strong_station(device: sweep.Device) -> sweep.Device:
    """The same mixer with a local station: a quarter as strong as the oscillator."""
    return lambda lo, rf: device(lo, 5.0 * rf)


def compare(device: sweep.Device) -> Differences:
    """Hold readings beside the station against the listed routes; a case is a reading heard."""
    readings = tuned_in(device)
    predicted, routes = predicted_whistles(device)
    station = np.abs(readings[:, sweep.AROUND]).max()
    beside = [k for k in range(2 * sweep.AROUND + 1) if k != sweep.AROUND]
    off = np.abs(readings[:, beside] - predicted[:, beside])
    heard = np.abs(readings[:, beside]) > LEAST * station
    assert routes > 10
    assert heard.sum() > 10
    wrong = int((off >= LEAST * station).sum())
    yield "not as the routes put it", np.ones(wrong)
    yield "as the routes put it", agreed(max(0, int(heard.sum()) - wrong))
    # the classic one: a station on twice the IF
    assert heard[2 * IF_BIN + 1 - FIRST].any()


@swept("self-whistles: readings and routes listed, soft switch")
def test_self_whistles_of_a_soft_switch() -> Differences:
    """What stands beside the tuned station in the IF is what the listed routes put there."""
    yield from compare(strong_station(sweep.soft_switch))


@swept("self-whistles: readings and routes listed, exponential")
def test_self_whistles_of_an_exponential() -> Differences:
    """The same for a characteristic that makes every order of both."""
    yield from compare(strong_station(sweep.exponential))
