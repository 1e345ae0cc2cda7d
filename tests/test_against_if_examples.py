"""Published worked examples of choosing an IF, asked through the command."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from spurplan.cli import main

SET = """
name = "worked example"
[[conversion]]
injection = "{injection}"
if = "{if_hz} Hz"
[conversion.filter]
bandwidth = "{bandwidth} Hz"
[[range]]
name = "1"
coverage = ["{low} Hz", "{high} Hz"]
front_end = [{front_end}]
{gang}
"""
# nothing of these examples depends on who is on the air
BANDS = "low_khz,high_khz,service,label\n1,2,fixed_mobile,nobody in particular\n"


@pytest.fixture
def asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Return a function that asks `if-change` about a set and returns its JSON."""

    def ask(low: float, high: float, if_hz: float, *options: str, **figures: Any) -> dict[str, Any]:
        figures = {"injection": "high", "bandwidth": 6000, "front_end": "", "gang": "", **figures}
        text = SET.format(low=round(low), high=round(high), if_hz=round(if_hz), **figures)
        (tmp_path / "set.toml").write_text(text)
        (tmp_path / "bands.csv").write_text(BANDS)
        words = ["if-change", str(tmp_path / "set.toml"), "--bands", str(tmp_path / "bands.csv"), *options]
        assert main([*words, "--format", "json"]) == 0
        found: dict[str, Any] = json.loads(capsys.readouterr().out)
        return found

    return ask


def of(answer: dict[str, Any], if_hz: int, injection: str = "high") -> dict[str, Any]:
    """Return the proposal with an IF and a side."""
    rows = [r for r in answer["proposals"] if r["if_hz"] == if_hz and r["injection"] == injection]
    assert len(rows) == 1
    return rows[0]


def test_rejection_by_q_or_by_if(asked: Any) -> None:
    """At 25 MHz as good as at 1 MHz with 455 kHz: one more circuit of Q 268, or an IF of 11.4 MHz."""
    # Kennedy and Davis, Electronic Communication Systems, 4th ed., example 6-2 (from memory); the
    # rejection to reach is that of example 6-1 (a): Q 100, 1000 kHz, IF 455 kHz, ratio 138.6.
    wanted_db = 20 * math.log10(138.65)
    answer = asked(
        24e6, 25e6, 455e3, "--rejection", f"{wanted_db:.5f}", front_end="{ circuits = 1, q = 100 }"
    )
    row = answer["rejection"][0]
    # example 6-1 (b): ratio 7.22 at 25 MHz
    assert 10 ** (row["present_db"] / 20) == pytest.approx(7.22, abs=0.01)
    assert row["dial_hz"] == 25_000_000
    assert row["added_q"] == pytest.approx(268, abs=1)
    assert row["if_hz"] == pytest.approx(11.4e6, abs=0.05e6)
    # the same arithmetic without intermediate rounding
    assert row["added_q"] == pytest.approx(268.1, abs=0.1)
    assert row["if_hz"] == pytest.approx(11.375e6, abs=0.002e6)


def test_ganging_the_oscillator(asked: Any) -> None:
    """525 to 1605 kHz with 470 kHz: 995 to 2075 above, 55 to 1135 below, which no gang tunes."""
    # M. G. Scroggie, Foundations of Wireless, s. 21.6
    answer = asked(525e3, 1605e3, 455e3, "--if", "470kHz")
    above, below = of(answer, 470_000), of(answer, 470_000, "low")
    assert (above["oscillator_low_hz"], above["oscillator_high_hz"]) == (995_000, 2_075_000)
    assert above["oscillator_ratio"] == pytest.approx(2.09, abs=0.005)
    assert (below["oscillator_low_hz"], below["oscillator_high_hz"]) == (55_000, 1_135_000)
    assert below["oscillator_ratio"] == pytest.approx(20.64, abs=0.005)
    assert above["tracking_error_hz"] is not None
    assert below["tracking_error_hz"] is None
    assert "no padder and trimmer track it" in below["verdict"]


# Kennedy, Electronic Communication Systems, worked in the Scilab textbook companion 1409:
# examples 8.19 and 8.26. (low, high, IF, signal capacitance ratio, C min, oscillator's range and
# capacitance ratio, series padder), kHz and pF; gang of 350 pF.
PADDERS = [
    (500, 1600, 465, 10.24, 34.2, (965, 2065), 4.58, 221.3),
    (550, 1600, 455, 8.46, 41.4, (1005, 2055), 4.18, 260.0),
]


@pytest.mark.parametrize(("low", "high", "if_khz", "signal", "c_min", "lo", "ratio", "padder"), PADDERS)
def test_padders(
    asked: Any, low: int, high: int, if_khz: int, signal: float, c_min: float, lo: tuple[int, int],
    ratio: float, padder: float,
) -> None:  # fmt: skip
    """A series padder alone sets both ends of the oscillator's range."""
    exact_pf = 350 / (high / low) ** 2
    assert (high / low) ** 2 == pytest.approx(signal, abs=0.005)
    assert exact_pf == pytest.approx(c_min, abs=0.05)
    gang = f'[range.gang]\nc_max = "350 pF"\nc_min = "{exact_pf:.6f} pF"'
    answer = asked(low * 1e3, high * 1e3, 500e3, "--if", f"{if_khz}kHz", gang=gang)
    row = of(answer, if_khz * 1000)
    assert (row["oscillator_low_hz"], row["oscillator_high_hz"]) == (lo[0] * 1000, lo[1] * 1000)
    tracking = [r for r in answer["tracking"] if r["if_hz"] == if_khz * 1000 and r["injection"] == "high"]
    assert {r["points"] for r in tracking} == {"minimax", "chebyshev"}
    for one in tracking:
        assert one["capacitance_ratio"] == pytest.approx(ratio, abs=0.005)
        assert one["series_padder_pf"] == pytest.approx(padder, abs=0.1)


def test_oscillator_capacitance_ratio_and_image(asked: Any) -> None:
    """550 to 1650 kHz with 450 kHz above: 4.41 to 1; the image of 700 kHz is 1600 kHz."""
    # GATE (India), electronics paper (from memory)
    answer = asked(550e3, 1650e3, 455e3, "--if", "450kHz")
    assert answer["tracking"][0]["if_hz"] == 455_000
    ratios = {r["capacitance_ratio"] for r in answer["tracking"] if r["if_hz"] == 450_000}
    assert any(ratio == pytest.approx(4.41, abs=0.001) for ratio in ratios)
    row = of(asked(700e3, 1650e3, 455e3, "--if", "450kHz"), 450_000)
    assert row["image_low_hz"] == 1_600_000


@pytest.mark.parametrize(("if_hz", "outside"), [(5_000_000, True), (4_990_000, False)])
def test_image_outside_the_band(asked: Any, if_hz: int, outside: bool) -> None:
    """58 to 68 MHz: the image leaves the band from an IF of 5 MHz on."""
    # GATE 2016 (from memory)
    row = of(asked(58e6, 68e6, 1e6, "--if", f"{if_hz} Hz"), if_hz)
    assert (row["image_low_hz"] >= 68_000_000) == outside


def test_image_overlaps_the_band(asked: Any) -> None:
    """24.1 to 48.4 MHz with 3225 kHz: images 30.55 to 54.85 MHz; the IF must exceed 12.15 MHz."""
    # published homework solution, receiver for 24.1 to 48.4 MHz
    answer = asked(24.1e6, 48.4e6, 455e3, "--if", "3225kHz", "--if", "12.15MHz", "--if", "12.151MHz")
    row = of(answer, 3_225_000)
    assert (row["oscillator_low_hz"], row["oscillator_high_hz"]) == (27_325_000, 51_625_000)
    assert (row["image_low_hz"], row["image_high_hz"]) == (30_550_000, 54_850_000)
    assert of(answer, 12_150_000)["image_low_hz"] == 48_400_000
    assert of(answer, 12_151_000)["image_low_hz"] > 48_400_000


def test_television_tuner(asked: Any) -> None:
    """45 to 860 MHz: with 40 MHz the image band overlaps the signals, with 1.2 GHz it does not."""
    # homework problem on a television tuner with 8 MHz channels (ranges worked out, overlap stated)
    answer = asked(45e6, 860e6, 40e6, "--if", "1.2GHz", bandwidth=8_000_000)
    now, then = of(answer, 40_000_000), of(answer, 1_200_000_000)
    assert (now["oscillator_low_hz"], now["oscillator_high_hz"]) == (85_000_000, 900_000_000)
    assert (now["image_low_hz"], now["image_high_hz"]) == (125_000_000, 940_000_000)
    assert (then["oscillator_low_hz"], then["oscillator_high_hz"]) == (1_245_000_000, 2_060_000_000)
    assert (then["image_low_hz"], then["image_high_hz"]) == (2_445_000_000, 3_260_000_000)


def test_usual_ifs_and_their_filters(asked: Any) -> None:
    """Filters are named where the IF is one they are made for."""
    # Tooley, Aircraft Communications and Navigation Systems: 455 kHz, 1.6 MHz or 10.7 MHz are usual
    answer = asked(3e6, 6e6, 465e3, "--if", "455kHz", "--if", "1234kHz", "--if", "10.7MHz")
    made_for = {(row["if_hz"], row["made_for_hz"]) for row in answer["filters"]}
    assert (455_000, 455_000) in made_for
    assert (10_700_000, 10_700_000) in made_for
    assert not any(if_hz == 1_234_000 for if_hz, _ in made_for)
