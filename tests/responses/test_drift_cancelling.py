"""A drift-cancelling loop: the first oscillator moves, the tuned frequency does not, and other routes do."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.planning.converter.candidates import alone, prototypes
from spurplan.planning.converter.handling import handling_of
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.changes import converter_conversion, with_converter
from spurplan.receiver.description import Front, Receiver
from spurplan.receiver.doubts import doubts
from spurplan.receiver.injection import BESIDE, line_code, line_of
from spurplan.receiver.plan import sources_of
from spurplan.receiver.sentence import receiver_text
from spurplan.responses.lines import lines_of_routes, product_steps
from tests.oracle import connect
from tests.responses.test_premixed_injection import brute

Steps = tuple[tuple[int, int], ...]


def loop(first: str = "54.5 MHz") -> dict[str, Any]:
    """14 to 15 MHz go to 40.5 to 39.5, with the 17th harmonic of 1 MHz to 3 to 2 MHz, and on to 100 kHz."""
    return {
        "name": "loop",
        "conversion": [
            {"oscillator": first, "selectivity": []},
            {
                "selectivity": [],
                "premix": {
                    "makes": "variable - crystal", "oscillator_of": 1, "crystal": "1 MHz", "multiplier": 17,
                    "filter": [{"passband": ["37.35 MHz", "37.65 MHz"], "order": 3}],
                },
            },
            {"injection": "high", "if": "100 kHz", "filter": {"bandwidth": "3 kHz"}},
        ],
        "range": [{"name": "14", "coverage": ["14 MHz", "15 MHz"], "dial_shows": "signal"}],
    }  # fmt: skip


def chains_of(receiver: dict[str, Any]) -> Chains:
    described = Receiver.from_dict(receiver)
    (chains,) = compile_chains([(described, described.ranges[0])])
    return chains


def aerial_hz(chains: Chains, steps: Steps, dial_hz: int) -> float:
    line = lines_of_routes(chains, np.array([steps], dtype=np.int64))
    return float(line.at_hz(np.array([dial_hz]))[0])


WANTED: Steps = ((1, -1), (-1, 1), (1, -1))


def test_the_first_oscillator_moves_and_the_tuned_frequency_does_not() -> None:
    """By hand at 14.2 MHz. LO1 54.5, IF1 40.3, LO2 37.5, IF2 2.8, LO3 2.9 MHz; with LO1 on 54.53 IF1 is 40.33
    and LO2 37.53, and IF2 2.8 MHz as before. The first image is on 94.8 and moves by 60 kHz, what comes by
    2 LO1 is on 68.7 and moves by 30 kHz."""
    still, moved = chains_of(loop()), chains_of(loop("54.53 MHz"))
    dial, one = np.array([14_200_000]), np.zeros(1, dtype=np.int64)
    for chains, off in ((still, 0), (moved, 30_000)):
        assert chains.wanted_steps[0].tolist() == [list(step) for step in WANTED]
        assert chains.oscillator_hz(0, one, dial)[0] == 54_500_000 + off
        assert chains.wanted_hz(1, one, dial)[0] == 40_300_000 + off
        assert chains.oscillator_hz(1, one, dial)[0] == 37_500_000 + off
        assert chains.wanted_hz(2, one, dial)[0] == 2_800_000
        assert chains.oscillator_hz(2, one, dial)[0] == 2_900_000
        assert aerial_hz(chains, WANTED, 14_200_000) == 14_200_000
        assert aerial_hz(chains, ((-1, 1), *WANTED[1:]), 14_200_000) == 94_800_000 + 2 * off
        assert aerial_hz(chains, ((2, -1), *WANTED[1:]), 14_200_000) == 68_700_000 + off


def test_a_line_of_the_premixer_moves_unless_the_first_oscillator_is_in_it_once() -> None:
    """By hand at 14.2 MHz: LO1 - 16 MHz stands in for 37.5 with IF1 on 41.3, signal 13.2 MHz, and LO1 drops
    out. With the 38th harmonic alone IF1 is 40.8 and the signal 13.7 MHz, and that moves by 30 kHz."""
    still, moved = chains_of(loop()), chains_of(loop("54.53 MHz"))
    neighbour = BESIDE + line_code(-16, 1)
    harmonic = BESIDE + line_code(38, 0)
    # the code of LO1 - 16 is that of 16 - LO1: the other sign
    assert tuple(int(part) for part in line_of(neighbour - BESIDE)) == (16, -1)
    for chains, off in ((still, 0), (moved, 30_000)):
        assert aerial_hz(chains, (WANTED[0], (neighbour, 1), WANTED[2]), 14_200_000) == 13_200_000
        assert aerial_hz(chains, (WANTED[0], (-harmonic, 1), WANTED[2]), 14_200_000) == 13_700_000 + off


def test_the_neighbouring_harmonics_are_heard_as_far_as_the_filter_lets_them(tmp_path: Any) -> None:
    """By hand: of 37.35 to 37.65 MHz 38.5 MHz is 3.28 bandwidths or 6.57 half bandwidths off, by
    (f^2 - f0^2)/(f B): of three poles 10 log10(1 + 6.58^6) = 49.1 dB; the pulse has as much of the 16th as of
    the 17th harmonic within a decibel."""
    table = tmp_path / "planted.csv"
    rows = ["100000,broadcast,weak,-160 dBm", "13200000,broadcast,planted,-20 dBm"]
    rows.append("100000000,broadcast,weak,-160 dBm")
    table.write_text("freq_hz,service,label,level\n" + "\n".join(rows) + "\n", encoding="utf-8")
    receiver = loop()
    receiver["range"][0]["front_end"] = []
    receiver["conversion"][1]["premix"]["filter_ceiling"] = "200 dB"
    records = spurplan.dial(
        Receiver.from_dict(receiver), bands=[table], frequency="14.2 MHz"
    ).intrusions.records()
    (row,) = (one for one in records if one["steps"][1][0] == BESIDE + line_code(16, -1))
    assert row["equation"] == "IF1 = LO1 - RF; IF2 = 16 crystal2 + IF1 - VFO2; IF3 = LO3 - IF2"
    off = (38.5**2 - 37.35 * 37.65) / (38.5 * 0.3)
    assert row["rejection_db"] == pytest.approx(10 * np.log10(1 + off**6), abs=1.0)


@pytest.mark.parametrize("first", ["oscillator", "tracking"])
def test_every_route_of_a_loop_is_where_its_oscillators_bring_it(first: str) -> None:
    """With lines of the premixer, an oscillator that stands still and one that follows the dial."""
    own: dict[str, Any] = {"oscillator": "545 Hz"}
    if first == "tracking":
        own = {"injection": "high", "if": "400 Hz", "filter": {"bandwidth": "60 Hz"}}
    receiver = {
        "name": "loop",
        "conversion": [
            own,
            {
                "premix": {
                    "makes": "variable - crystal", "oscillator_of": 1, "crystal": "57 Hz", "multiplier": 3,
                    "filter": [],
                },
            },
            {"injection": "high", "if": "9 Hz", "filter": {"bandwidth": "5 Hz"}},
        ],
        "range": [{"name": "1", "coverage": ["140 Hz", "146 Hz"]}],
    }  # fmt: skip
    stations = [(1, 139), (140, 140), (147, 400), (401, 800), (801, 2_500)]
    lines = {(0, 1), (2, -1), (5, 0), (4, 1)}
    pairs = brute(receiver, stations, lines, orders=(1, 1))
    expected = {key: (min(dials), max(dials)) for key, dials in pairs.items()}
    codes = {BESIDE + line_code(*line) for line in lines}
    found = [
        one for one in connect.engine(receiver, stations, {3: (1, 1)})["1"] if abs(one[0][1][0]) in codes
    ]
    assert len(expected) > 15
    assert connect.differences(found, expected) == []


def test_its_drift_drops_out_and_that_of_the_others_stays() -> None:
    """By hand in the middle, 14.5 MHz: 17 MHz at 10 ppm is 170 Hz; the last oscillator on 2.6 MHz at 500 ppm
    is 1300 Hz. An oscillator of 37.5 MHz in place of the loop would add 54.5 and 37.5 MHz at 500 ppm."""
    receiver = Receiver.from_dict(loop())
    one = receiver.ranges[0]
    sources = sources_of(receiver.conversions_of(one), receiver.plans_of(one))
    weight = {(source.conversion, source.crystal): source.weight for source in sources}
    # IF3 = LO3 - IF2, and IF2 is 17 MHz - d
    assert weight == {(0, False): 0, (1, True): -17, (2, False): 1}
    drift = {}
    for name, described in (("loop", loop()), ("two oscillators", loop())):
        if name == "two oscillators":
            described["conversion"][1] = {"oscillator": "37.5 MHz", "selectivity": []}
        receiver = Receiver.from_dict(described)
        chosen = alone([(14_000_000, 15_000_000)], receiver.ranges)
        before = prototypes(receiver, receiver.ranges, Front())
        drift[name] = float(handling_of(chosen, receiver, receiver.ranges, before).drift_hz[0])
    assert drift["loop"] == pytest.approx(170 + 1_300)
    assert drift["two oscillators"] == pytest.approx((54.5 + 37.5 + 2.6) * 500)


def test_a_loop_that_does_not_cancel_does_not_say_so() -> None:
    """99 MHz - LO1 = 44.5 MHz, less IF1: an error of LO1 is in both, the same way, and counts twice."""
    assert "its drift dropping out" in receiver_text(Receiver.from_dict(loop()))
    assert not doubts(Receiver.from_dict(loop()))
    doubled = loop()
    doubled["conversion"][1]["premix"] |= {"makes": "crystal - variable", "multiplier": 99}
    assert "dropping out" not in receiver_text(Receiver.from_dict(doubled))
    (said,) = doubts(Receiver.from_dict(doubled))
    assert "2 times" in said


def test_behind_a_converter_the_loop_shares_the_oscillator_that_it_did() -> None:
    """With 7 MHz below it 21.2 MHz is tuned in at 14.2: LO1 54.5 and the loop's 37.5 MHz stay what they are,
    and the lines of the premixer are no more and no stronger than those of the set alone."""
    alone_ = chains_of(loop())
    receiver = Receiver.from_dict(loop())
    crystal = converter_conversion(7_000_000, front=Front())
    behind = with_converter(receiver, conversion=crystal, cover=(21_000_000, 21_450_000))
    (chains,) = compile_chains([(behind, behind.ranges[0])])
    dial, none = np.array([21_200_000]), np.zeros(1, dtype=np.int64)
    assert [float(chains.oscillator_hz(i, none, dial)[0]) for i in range(4)] == [7e6, 54.5e6, 37.5e6, 2.9e6]
    assert [int(chains.wanted_hz(i, none, dial)[0]) for i in range(4)] == [
        21_200_000, 14_200_000, 40_300_000, 2_800_000,
    ]  # fmt: skip
    (range_,) = behind.ranges
    sources = sources_of(behind.conversions_of(range_), behind.plans_of(range_))
    # IF4 = LO4 - IF3, and IF3 is 17 times 1 MHz less (d - 7 MHz)
    assert [source.weight for source in sources] == [-1, 0, -17, 1]
    (ahead,) = prototypes(receiver, receiver.ranges, Front()).ahead
    for compiled in (chains, ahead):
        assert len(compiled.mixer[2]) == 1
        assert compiled.mixer[2][0].beside == alone_.mixer[1][0].beside


def test_a_converter_before_a_loop_asks_for_as_few_products_as_the_set_alone() -> None:
    """Its mixer has the lines of its premixer and no others, so the steps asked for are as many."""
    steps = product_steps(10, 3)
    receiver = Receiver.from_dict(loop())
    before = prototypes(receiver, receiver.ranges, Front())
    counts = [len(before.alone[0].beside_steps(1, steps)), len(before.ahead[0].beside_steps(2, steps))]
    assert counts[0] == counts[1] < 2 * len(steps)
