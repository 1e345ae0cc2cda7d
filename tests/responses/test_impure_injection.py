"""A multiplied crystal injects its other harmonics, too: where they bring signals in, and how strong."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Front, Receiver
from spurplan.receiver.injection import BESIDE
from spurplan.receiver.multiplier import beside_db
from tests.oracle import connect, exact, plain
from tests.outside import Differences, against, agreed
from tests.quiet_air import quiet_air
from tests.simulation import sweep
from tests.turns import by_turns

Steps = tuple[tuple[int, int], ...]


def behind_crystal(crystal: str, times: int, cover: tuple[str, str], if_: str, width: str) -> dict[str, Any]:
    return {
        "name": "behind a multiplied crystal",
        "conversion": [
            {"crystal": crystal, "multiplier": times},
            {"injection": "high", "if": if_, "filter": {"bandwidth": width}},
        ],
        "range": [{"name": "1", "coverage": list(cover)}],
    }


def brute(receiver: dict[str, Any], stations: list[tuple[int, int]], lines: set[int]) -> dict[Any, set[int]]:
    """Return the settings on which each station comes in by each route that has a line beside the injection,
    every setting and every route tried: the line is the crystal's harmonic in place of the oscillator."""
    (chain,) = plain.chains(receiver)
    crystal_hz = plain.hertz(receiver["conversion"][0]["crystal"])
    out: dict[Any, set[int]] = {}
    for k in lines:
        own = exact.Oscillator(0, k * crystal_hz)
        mixed = replace(chain, oscillators=(own, *chain.oscillators[1:]))
        for (lo, rf), second in exact.routes(2, 2, 2):
            if abs(lo) != 1:
                continue
            route = ((lo * (BESIDE + k), rf), second)
            for number, (low, high) in enumerate(stations):
                for dial in range(chain.low_hz, chain.high_hz + 1):
                    if exact.received(mixed, dial, ((lo, rf), second), low, high):
                        out.setdefault((route, number), set()).add(dial)
    return out


@pytest.mark.parametrize(
    ("crystal", "times", "seed"),
    by_turns([("31 Hz", 3, 1), ("170 Hz", 2, 2), ("23 Hz", 4, 3)], always=[("170 Hz", 2, 2)], several=True),
)
def test_every_line_is_where_the_harmonic_of_the_crystal_brings_it(
    crystal: str, times: int, seed: int
) -> None:
    """Exact to the hertz of the dial, and none is missed."""
    receiver = behind_crystal(crystal, times, ("200 Hz", "222 Hz"), "61 Hz", "7 Hz")
    rng = np.random.default_rng(seed)
    lows = np.sort(rng.integers(1, 700, 12))
    stations = [(int(low), int(low + rng.integers(0, 9))) for low in lows]
    lines = set(beside_db(times, 1))
    expected = {key: (min(dials), max(dials)) for key, dials in brute(receiver, stations, lines).items()}
    found = connect.engine(receiver, stations, {2: (2, 2)})["1"]
    beside = [one for one in found if abs(one[0][0][0]) > BESIDE]
    assert len(expected) > 20
    assert connect.differences(beside, expected) == []


CRYSTAL_BIN, TIMES, LO2_BIN, IF_BIN = 211, 3, 443, 91  # 1.055 MHz times 3; both oscillators on primes
WANTED_BIN = TIMES * CRYSTAL_BIN + LO2_BIN - IF_BIN
LEAST_DB = -62.0


def pulses() -> np.ndarray[Any, np.dtype[np.float64]]:
    """The injection as samples: pulses of half angle 40 degrees through a circuit of loaded Q 50."""
    samples = sweep.SAMPLES
    phase = 2 * np.pi * CRYSTAL_BIN * np.arange(samples) / samples
    pulse = np.maximum(np.cos(phase) - math.cos(math.radians(40.0)), 0.0)
    spectrum = np.fft.rfft(pulse)
    ratio = np.arange(1, len(spectrum)) / (TIMES * CRYSTAL_BIN)
    spectrum[1:] *= 1.0 / (1.0 + 50.0j * (ratio - 1.0 / ratio))
    spectrum[0] = 0.0
    # the record holds whole periods of the crystal: between its harmonics stand aliases of a sampled edge
    spectrum[np.arange(len(spectrum)) % CRYSTAL_BIN > 0] = 0.0
    return np.fft.irfft(spectrum / np.abs(spectrum[TIMES * CRYSTAL_BIN]), samples) * samples / 2.0


def readings(injection: np.ndarray[Any, Any]) -> np.ndarray[Any, np.dtype[np.float64]]:
    """What a multiplying mixer with that injection and a clean second one bring to the IF, in dB of the
    wanted signal, for a generator on every bin from 40 kHz to 20 MHz; shape (bins, 2*AROUND + 1)."""
    samples = sweep.SAMPLES
    # the set is linear in the signal: what it makes of a carrier is the spectrum of both oscillators, moved
    both = np.fft.fft(injection * np.cos(2 * np.pi * LO2_BIN * np.arange(samples) / samples)) / samples
    station = np.arange(sweep.FIRST_BIN, sweep.LAST_BIN + 1)[:, None]
    landing = IF_BIN + np.arange(-sweep.AROUND, sweep.AROUND + 1)[None]
    level = np.abs(both[(landing - station) % samples] + both[(landing + station) % samples])
    wanted = level[WANTED_BIN - sweep.FIRST_BIN, sweep.AROUND]
    return np.asarray(20 * np.log10(np.maximum(level / wanted, 1e-12)))


@against(
    "time-domain simulation of a tripled crystal behind one circuit",
    "products of the other harmonics of the crystal and routes listed",
    unit="dB",
    tolerance=2.0,
)
def test_an_impure_tripled_injection_in_time() -> Differences:
    """Every reading that no clean product explains is a listed route, as strong, and there is no other."""
    read = readings(pulses())
    hertz = sweep.BIN_HZ
    receiver = behind_crystal(
        f"{CRYSTAL_BIN * hertz} Hz", TIMES, ("4 MHz", "6 MHz"), "455 kHz", f"{2 * sweep.AROUND * hertz} Hz"
    )
    stations = [(b * hertz, b * hertz) for b in range(sweep.FIRST_BIN, sweep.LAST_BIN + 1)]
    listed = connect.received_at(receiver, stations, WANTED_BIN * hertz, lo_order=4, rf_order=1)
    described = Receiver.from_dict(receiver)
    (chains,) = compile_chains([(described, described.ranges[0])])
    explained = np.zeros(read.shape, dtype=bool)
    count = 0
    for (first, second), station in sorted(listed):
        if abs(second[0]) != 1:
            continue  # the second injection has no harmonics here
        k = abs(first[0]) - BESIDE if abs(first[0]) > BESIDE else TIMES * abs(first[0])
        x = int(np.sign(first[0])) * k * CRYSTAL_BIN + first[1] * (sweep.FIRST_BIN + station)
        column = second[0] * LO2_BIN + second[1] * x - IF_BIN + sweep.AROUND
        explained[station, column] = True
        if abs(first[0]) > BESIDE:
            below = float(chains.mixer[0][0].suppression_db(abs(first[0]), 1, -60.0))
            yield (
                f"{first}, {second} on bin {sweep.FIRST_BIN + station}",
                float(read[station, column]) + below,
            )
            count += 1
    lines = {abs(steps[0][0]) - BESIDE for steps, _ in listed if abs(steps[0][0]) > BESIDE}
    assert lines >= {1, 2, 4, 5}
    assert count > 100
    unexplained = (read > LEAST_DB) & ~explained
    assert not unexplained.any(), np.argwhere(unexplained)[:5]
    yield "explained", agreed(count)


def with_station(folder: Path, **conversion: str) -> tuple[Receiver, Path]:
    """A set with 6 MHz tripled, tuned round 21.25 MHz, and one strong station 3.25 MHz above twice the
    crystal."""
    described = behind_crystal("6 MHz", 3, ("21 MHz", "21.5 MHz"), "455 kHz", "6 kHz")
    described["conversion"][0] |= {"selectivity": [{"circuits": 1}], **conversion}
    described["range"][0]["front_end"] = [{"circuits": 1}]
    table = folder / "planted.csv"
    # the weak ones say how far the table reaches: what lies beyond would be unknown
    rows = ["100000,broadcasting,weak,-160 dBm", "15250000,broadcasting,planted,-20 dBm"]
    rows.append("90000000,broadcasting,weak,-160 dBm")
    table.write_text("freq_hz,service,label,level\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return Receiver.from_dict(described), table


def test_it_is_listed_at_the_setting_and_counts_in_the_share(tmp_path: Path) -> None:
    """10 dB purer it is 10 dB weaker, and clean the setting is clear."""
    margins = []
    for impurity in ("40 dB", "50 dB"):
        receiver, table = with_station(tmp_path, multiplier_impurity=impurity)
        (row,) = spurplan.dial(receiver, bands=[table], frequency="21.25 MHz").intrusions.records()
        assert (row["response"], row["equation"]) == (
            "impure injection", "IF1 = RF - 2 crystal1; IF2 = LO2 - IF1",
        )  # fmt: skip
        assert row["order"] == 4
        margins.append(row["margin_db"])
    assert margins[0] - margins[1] == pytest.approx(10.0, abs=1e-6)
    shares = {}
    for impurity in ("30 dB", "300 dB"):
        receiver, table = with_station(tmp_path, multiplier_impurity=impurity)
        bands = [table, quiet_air(tmp_path)]
        answer = spurplan.ranges(receiver, bands=bands, cover="21.24MHz:21.26MHz")
        (shares[impurity],) = (row["clear_share"] for row in answer.tables["ranges"].records())
    assert shares["30 dB"] < 0.9
    assert shares["300 dB"] == 1.0


def test_it_counts_in_the_ranking_of_crystals(tmp_path: Path) -> None:
    """The same injection from 18 MHz and from 6 MHz tripled: behind the multiplier the station comes in."""
    _, table = with_station(tmp_path)
    plain_set = Receiver.from_dict(
        {
            "name": "plain",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": ["3 MHz", "3.5 MHz"]}],
        }
    )
    answer = spurplan.converter(
        plain_set, bands=[table], cover="21.24MHz:21.26MHz", crystal=["6 MHz", "18 MHz"], front=Front()
    )
    rows = [
        row
        for row in answer.candidates.records()
        if row["side"] == "below" and row["injected_hz"] == 18_000_000
    ]
    share = {row["multiplier"]: row["usable_share"] for row in rows}
    assert share[3] < share[1]
