"""An injection premixed of a crystal and a variable oscillator: what it injects besides, and how strong."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.injection import BESIDE, line_code, line_of
from spurplan.responses.curves import Curve
from spurplan.responses.grades import grade_hits, grade_of
from spurplan.responses.join import join
from spurplan.responses.lines import enumerate_lines
from tests.oracle import connect, exact, plain
from tests.outside import Differences, against, agreed
from tests.simulation import sweep

Line = tuple[int, int]


def premixed(
    makes: str, crystal: str, cover: tuple[str, str], if_: str, width: str, **premix: Any
) -> dict[str, Any]:
    return {
        "name": "premixed",
        "conversion": [
            {
                "injection": "high", "if": if_, "filter": {"bandwidth": width},
                "premix": {"makes": makes, "crystal": crystal, **premix},
            }
        ],
        "range": [{"name": "1", "coverage": list(cover)}],
    }  # fmt: skip


BOATHOUSE = premixed("crystal + variable", "18 MHz", ("14 MHz", "14.5 MHz"), "9 MHz", "2 kHz")


def test_a_set_worked_by_hand() -> None:
    """14.2 MHz on an IF of 9 MHz: injected are 23.2 MHz, crystal 18, variable 5.2. 2 x 18 - 5.2 = 30.8 MHz
    is injected as well, and 30.8 - 9 = 21.8 and 30.8 + 9 = 39.8 MHz come in by it; 18 itself brings in 9 and
    27, 5.2 brings in 3.8 and 14.2."""
    stations = [(mhz * 100_000, mhz * 100_000) for mhz in (38, 90, 142, 218, 270, 398)]
    found = connect.received_at(BOATHOUSE, stations, 14_200_000, lo_order=1, rf_order=1)
    by_line: dict[Line, set[float]] = {}
    for ((lo, _),), station in found:
        if abs(lo) > BESIDE:
            p, q = (int(part) for part in line_of(abs(lo) - BESIDE))
            by_line.setdefault((p, q), set()).add(stations[station][0] / 1e6)
    assert by_line[2, -1] == {21.8, 39.8}
    assert by_line[1, 0] == {9.0, 27.0}
    assert by_line[0, 1] == {3.8, 14.2}
    # 36 - 2 x 5.2 = 25.6 and 18 + 2 x 5.2 = 28.4 MHz meet none of them
    assert not {(2, -2), (1, 2)} & set(by_line)


def brute(
    receiver: dict[str, Any],
    stations: list[tuple[int, int]],
    lines: set[Line],
    orders: tuple[int, int] = (2, 2),
) -> dict[Any, set[int]]:
    """Return the settings on which each station comes in by each route with a line in place of the injection:
    every setting, every route, in exact fractions."""
    out: dict[Any, set[int]] = {}
    (position,) = receiver["range"]
    number = next(i for i, one in enumerate(receiver["conversion"]) if "premix" in one)
    for p, q in lines:
        chain = plain.premixer_line(receiver, position, number, p, q)
        for route in exact.routes(len(chain.oscillators), *orders):
            if abs(route[number][0]) != 1:
                continue
            lo, rf = route[number]
            named = (*route[:number], (lo * (BESIDE + line_code(p, q)), rf), *route[number + 1 :])
            for who, (low, high) in enumerate(stations):
                for dial in range(chain.low_hz, chain.high_hz + 1):
                    if exact.received(chain, dial, route, low, high):
                        out.setdefault((named, who), set()).add(dial)
    return out


@pytest.mark.parametrize(
    ("makes", "crystal", "multiplier", "injection", "harmonic"),
    [
        ("crystal + variable", "170 Hz", 1, "high", 1),
        ("crystal - variable", "131 Hz", 3, "high", 1),
        ("variable - crystal", "43 Hz", 1, "low", 2),
    ],
)
def test_every_line_of_a_premixer_is_where_its_oscillators_bring_it(
    makes: str, crystal: str, multiplier: int, injection: str, harmonic: int
) -> None:
    """Exact to the hertz of the dial, and none is missed."""
    receiver = premixed(
        makes, crystal, ("200 Hz", "216 Hz"), "61 Hz", "7 Hz", multiplier=multiplier, filter=[]
    )
    receiver["conversion"][0] |= {"injection": injection, "oscillator_harmonic": harmonic}
    rng = np.random.default_rng(len(crystal) + multiplier)
    lows = np.sort(rng.integers(1, 700, 8))
    stations = [(int(low), int(low + rng.integers(0, 9))) for low in lows]
    described = Receiver.from_dict(receiver)
    (chains,) = compile_chains([(described, described.ranges[0])])
    lines = {(int(p), int(q)) for p, q in (line_of(code) for code, _ in chains.mixer[0][0].beside)}
    assert lines >= {(1, 0), (0, 1), (2, 1), (2, -1), (1, 2), (0, 3)}
    some = set(sorted(lines)[:: max(len(lines) // 14, 1)]) | {(1, 0), (0, 1), (2, -1)}
    expected = {key: (min(dials), max(dials)) for key, dials in brute(receiver, stations, some).items()}
    found = [
        one
        for one in connect.engine(receiver, stations, {1: (2, 2)})["1"]
        if any(abs(one[0][0][0]) - BESIDE == line_code(*line) for line in some)
    ]
    assert len(expected) > 10
    assert connect.differences(found, expected) == []


# --- one in time -----------------------------------------------------------------------------------

HERTZ = sweep.BIN_HZ
CRYSTAL_BIN, VARIABLE_BIN, IF_BIN = 1_699, 487, 307  # 8.495 and 2.435 MHz; IF 1.535 MHz
WANTED_BIN = CRYSTAL_BIN + VARIABLE_BIN - IF_BIN
LEAST_DB = -58.0
PASSBAND = ("10.2 MHz", "11.7 MHz")


def premixer(crystal: Any, variable: Any) -> Any:
    """One device on which both oscillators stand: a bent characteristic up to the fourth power."""
    both = 0.8 * crystal + 0.3 * variable
    return both + 0.6 * both**2 + 0.2 * both**3 + 0.1 * both**4


def products() -> list[list[Any]]:
    """The premixer by itself on a bench: each product below crystal + variable, as one would measure it."""
    phase = 2 * np.pi * np.arange(64) / 64
    grid = premixer(np.cos(phase)[:, None], np.cos(phase)[None, :])
    level = np.abs(np.fft.fft2(grid)) / 64**2
    rows = []
    for p in range(4):
        for q in range(-3, 4):
            if (p == 0 and q <= 0) or (p == q):
                continue
            below = 20 * np.log10(level[1, 1] / max(level[p, q % 64], 1e-9))
            rows.append([p, q, f"{below:.3f} dB"])
    return rows


def injection() -> np.ndarray[Any, np.dtype[np.float64]]:
    """The injection as samples: the premixer, then a bandpass of three poles."""
    samples = sweep.SAMPLES
    time = 2 * np.pi * np.arange(samples) / samples
    spectrum = np.fft.rfft(premixer(np.cos(CRYSTAL_BIN * time), np.cos(VARIABLE_BIN * time)))
    low, high = (plain.hertz(edge) / HERTZ for edge in PASSBAND)
    at = np.arange(1, len(spectrum))
    off = (at**2 - low * high) / (at * (high - low))
    spectrum[1:] /= np.sqrt(1.0 + off**6)
    spectrum[0] = 0.0
    wave: np.ndarray[Any, np.dtype[np.float64]] = np.fft.irfft(spectrum, samples)
    return wave


@against(
    "time-domain simulation of a premixed injection behind a three-pole filter",
    "products of the lines beside the injection and routes listed",
    unit="dB",
    tolerance=2.0,
)
def test_a_premixed_injection_in_time() -> Differences:
    """Every reading that no clean product explains is a listed route, as strong, and there is no other."""
    samples = sweep.SAMPLES
    mixed = np.fft.fft(injection()) / samples
    station = np.arange(sweep.FIRST_BIN, sweep.LAST_BIN + 1)[:, None]
    landing = IF_BIN + np.arange(-sweep.AROUND, sweep.AROUND + 1)[None]
    level = np.abs(mixed[(landing - station) % samples] + mixed[(landing + station) % samples])
    wanted = level[WANTED_BIN - sweep.FIRST_BIN, sweep.AROUND]
    read = 20 * np.log10(np.maximum(level / wanted, 1e-12))
    receiver = premixed(
        "crystal + variable", f"{CRYSTAL_BIN * HERTZ} Hz", ("8.9 MHz", "9.9 MHz"), f"{IF_BIN * HERTZ} Hz",
        f"{2 * sweep.AROUND * HERTZ} Hz", products=products(), filter_ceiling="200 dB",
        filter=[{"passband": list(PASSBAND), "order": 3}],
    )  # fmt: skip
    stations = [(b * HERTZ, b * HERTZ) for b in range(sweep.FIRST_BIN, sweep.LAST_BIN + 1)]
    dial_hz = WANTED_BIN * HERTZ
    listed = connect.received_at(receiver, stations, dial_hz, lo_order=1, rf_order=1)
    described = Receiver.from_dict(receiver)
    (chains,) = compile_chains([(described, described.ranges[0])])
    explained = np.zeros(read.shape, dtype=bool)
    one, dial = np.zeros(1, dtype=np.int64), np.array([dial_hz])
    count = 0
    for ((lo, rf),), who in sorted(listed):
        at = chains.injected_hz(0, one, np.array([lo]), dial) / HERTZ + rf * (sweep.FIRST_BIN + who)
        column = round(float(at[0])) - IF_BIN + sweep.AROUND
        explained[who, column] = True
        if abs(lo) > BESIDE:
            more = chains.weakened_db(0, one, np.array([lo]), dial)
            assert more is not None
            below = float(chains.mixer[0][0].suppression_db(abs(lo), 1, -60.0) + more[0])
            yield (
                f"{line_of(abs(lo) - BESIDE)} on bin {sweep.FIRST_BIN + who}",
                float(read[who, column]) + below,
            )
            count += 1
    assert count > 90
    unexplained = (read > LEAST_DB) & ~explained
    assert not unexplained.any(), np.argwhere(unexplained)[:5]
    yield "explained", agreed(count)


def test_it_is_as_strong_at_a_setting_as_the_filter_leaves_it_there(tmp_path: Path) -> None:
    """A circuit of Q 50 on the injection: 2 x 18 MHz - variable is 30.8 MHz over 23.2 at 14.2 MHz, 29.2 dB
    down; at 14.4 MHz it is 30.6 over 23.4, 28.7 dB."""
    margins = {}
    for dial, line in ((14_200_000, 30_800_000), (14_400_000, 30_600_000)):
        station = line - 9_000_000
        receiver = premixed(
            "crystal + variable", "18 MHz", ("14 MHz", "14.5 MHz"), "9 MHz", "2 kHz",
            products=[[2, -1, "0 dB"]], filter=[{"circuits": 1, "q": 50}], filter_ceiling="300 dB",
        )  # fmt: skip
        receiver["range"][0]["front_end"] = []
        table = tmp_path / "planted.csv"
        rows = [f"{hz},broadcast,{name},{level}" for hz, name, level in (
            (100_000, "weak", "-160 dBm"), (station, "planted", "-20 dBm"), (90_000_000, "weak", "-160 dBm"),
        )]  # fmt: skip
        table.write_text("freq_hz,service,label,level\n" + "\n".join(rows) + "\n", encoding="utf-8")
        records = spurplan.dial(
            Receiver.from_dict(receiver), bands=[table], frequency=f"{dial} Hz"
        ).intrusions.records()
        (row,) = (one for one in records if one["equation"] == "IF = 2 crystal - VFO - RF")
        assert row["response"] == "impure injection"
        margins[dial] = row["rejection_db"]
        ratio = line / (dial + 9_000_000)
        assert row["rejection_db"] == pytest.approx(
            10 * np.log10(1 + 2500 * (ratio - 1 / ratio) ** 2), abs=0.01
        )
    assert margins[14_200_000] - margins[14_400_000] == pytest.approx(0.5, abs=0.1)


def test_what_the_oscillators_of_a_premixer_make_by_themselves_are_birdies() -> None:
    """2 x 18 MHz - 4 (d - 9 MHz) = d at 14.4 MHz."""
    (row,) = (
        row
        for row in spurplan.birdies(Receiver.from_dict(BOATHOUSE)).tables["birdies"].records()
        if row["equation"] == "2 crystal - 4 VFO = dial"
    )
    assert row["exact_dial_hz"] == 14_400_000
    assert row["kind"] == "variable"


def test_grades_have_their_edges_where_the_filter_bends_the_level() -> None:
    """A line that runs across the premixer's passband, 2 x 20 MHz - 3 x variable on 25 MHz at 16 MHz: the top
    and every edge of a grade are those of a grid of one kilohertz."""
    receiver = premixed(
        "crystal + variable", "20 MHz", ("15.8 MHz", "16.2 MHz"), "9 MHz", "2 kHz",
        products=[[2, -3, "30 dB"]], filter=[{"passband": ["24.85 MHz", "25.2 MHz"], "order": 5}],
    )  # fmt: skip
    receiver["range"][0]["front_end"] = []
    described = Receiver.from_dict(receiver)
    (chains,) = compile_chains([(described, described.ranges[0])])
    occupants = connect.occupants_of([(30_000_000, 38_000_000)], -55.0)
    code = BESIDE + line_code(2, -3)
    lines = enumerate_lines(chains, 1, 1, span_hz=(1, 100_000_000))
    (number,) = np.flatnonzero((lines.steps[:, 0, 0] == -code) & (lines.steps[:, 0, 1] == 1))
    lines = lines.take(np.array([number]))
    graded = grade_hits(
        chains, lines, occupants, join(lines, occupants), strong_at_db=15.0, audible_at_db=0.0
    )
    grid = np.arange(15_800_000, 16_200_001, 1_000)
    none = np.zeros(len(grid), dtype=np.int64)
    heard, bar = Curve(chains, lines, occupants).heard_and_bar(none, none, grid)
    assert heard.max() - heard.min() > 40.0
    assert graded.heard_dbm.max() == pytest.approx(heard.max(), abs=0.02)
    there = np.searchsorted(graded.dial_low_hz, grid, side="right") - 1
    assert len(graded) >= 5
    assert (graded.grade[there] == grade_of(heard - bar, 15.0, 0.0)).all()
