"""Published worked examples of choosing an IF, asked through the command."""

from __future__ import annotations

import contextlib
import io
import json
import math
from pathlib import Path
from typing import Any

from spurplan.cli import main
from tests.outside import Differences, against

SET = """
name = "worked example"
# in print nothing gets round the circuits
case_pickup = "300 dB"
[[conversion]]
injection = "{injection}"
if = "{if_hz} Hz"
[conversion.filter]
bandwidth = "{bandwidth} Hz"
[[range]]
name = "1"
coverage = ["{low} Hz", "{high} Hz"]
front_end = [{front_end}]
front_end_ceiling = "300 dB"
{gang}
"""
# nothing of these examples depends on who is on the air
BANDS = "low_khz,high_khz,service,label\n1,2,fixed_mobile,nobody in particular\n"


def if_change_json(
    folder: Path, low: float, high: float, if_hz: float, *options: str, **figures: Any
) -> dict[str, Any]:
    """Ask `if-change` about a set; return its JSON."""
    figures = {"injection": "high", "bandwidth": 6000, "front_end": "", "gang": "", **figures}
    text = SET.format(low=round(low), high=round(high), if_hz=round(if_hz), **figures)
    (folder / "set.toml").write_text(text)
    (folder / "bands.csv").write_text(BANDS)
    words = ["if-change", str(folder / "set.toml"), "--bands", str(folder / "bands.csv"), *options]
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main([*words, "--format", "json"]) == 0
    found: dict[str, Any] = json.loads(out.getvalue())
    return found


def frequencies(source: str, compares: str) -> Any:
    """A check of frequencies, to the hertz."""
    return against(source, compares, unit="Hz", tolerance=0)


def of(answer: dict[str, Any], if_hz: int, injection: str = "high") -> dict[str, Any]:
    """Return the proposal with an IF and a side."""
    rows = [r for r in answer["proposals"] if r["if_hz"] == if_hz and r["injection"] == injection]
    assert len(rows) == 1
    return rows[0]


KENNEDY = "Kennedy and Davis 4th ed., ex. 6-2 (from memory)"


@against(KENNEDY, "`if-change --rejection`: Q of a circuit to add, another IF", unit="%", tolerance=0.05)
def test_rejection_by_q_or_by_if(folder: Path) -> Differences:
    """At 25 MHz as good as at 1 MHz with 455 kHz: one more circuit of Q 268, or an IF of 11.4 MHz."""
    # Kennedy and Davis, Electronic Communication Systems, 4th ed., example 6-2 (from memory); the
    # rejection to reach is that of example 6-1 (a): Q 100, 1000 kHz, IF 455 kHz, ratio 138.6.
    wanted_db = 20 * math.log10(138.65)
    answer = if_change_json(
        folder, 24e6, 25e6, 455e3, "--rejection", f"{wanted_db:.5f}", front_end="{ circuits = 1, q = 100 }"
    )
    row = answer["rejection"][0]
    assert row["dial_hz"] == 25_000_000
    # example 6-1 (b): ratio 7.22 at 25 MHz
    yield "present ratio", 100 * (10 ** (row["present_db"] / 20) / 7.22 - 1)
    # 268 and 11.4 MHz as printed; the same arithmetic without intermediate rounding
    assert abs(row["added_q"] - 268) < 1
    assert abs(row["if_hz"] - 11.4e6) < 0.05e6
    yield "added Q", 100 * (row["added_q"] / 268.1 - 1)
    yield "IF", 100 * (row["if_hz"] / 11.375e6 - 1)


def oscillator_beside(row: dict[str, Any], low_hz: int, high_hz: int) -> list[int]:
    """How far the ends of an oscillator's range are from the published ones. [Hz]"""
    return [row["oscillator_low_hz"] - low_hz, row["oscillator_high_hz"] - high_hz]


def image_beside(row: dict[str, Any], low_hz: int, high_hz: int) -> list[int]:
    """How far the ends of the image range are from the published ones. [Hz]"""
    return [row["image_low_hz"] - low_hz, row["image_high_hz"] - high_hz]


def ganged(folder: Path) -> dict[str, Any]:
    return if_change_json(folder, 525e3, 1605e3, 455e3, "--if", "470kHz")


@frequencies("Scroggie, Foundations of Wireless, s. 21.6", "`if-change`: oscillator above and below")
def test_ganging_the_oscillator(folder: Path) -> Differences:
    """525 to 1605 kHz with 470 kHz: 995 to 2075 above, 55 to 1135 below, which no gang tunes."""
    # M. G. Scroggie, Foundations of Wireless, s. 21.6
    answer = ganged(folder)
    above, below = of(answer, 470_000), of(answer, 470_000, "low")
    yield "above", oscillator_beside(above, 995_000, 2_075_000)
    yield "below", oscillator_beside(below, 55_000, 1_135_000)
    assert above["tracking_error_hz"] is not None
    assert below["tracking_error_hz"] is None
    assert any("no padder and trimmer track it" in reason for reason in below["reasons"])


@against("Scroggie, Foundations of Wireless, s. 21.6", "`if-change`: tuning ratio", unit="", tolerance=0.005)
def test_ratio_of_the_oscillator(folder: Path) -> Differences:
    """2.09 as printed; 20.64 for the oscillator below, by calculation."""
    answer = ganged(folder)
    yield "above", of(answer, 470_000)["oscillator_ratio"] - 2.09
    yield "below", of(answer, 470_000, "low")["oscillator_ratio"] - 20.64


# Kennedy, Electronic Communication Systems, worked in the Scilab textbook companion 1409:
# examples 8.19 and 8.26. (low, high, IF, signal capacitance ratio, C min, oscillator's range and
# capacitance ratio, series padder), kHz and pF; gang of 350 pF.
PADDERS = [
    (500, 1600, 465, 10.24, 34.2, (965, 2065), 4.58, 221.3),
    (550, 1600, 455, 8.46, 41.4, (1005, 2055), 4.18, 260.0),
]


SCILAB = "Scilab companion 1409, ex. 8.19 and 8.26"


def padded(folder: Path, example: tuple[Any, ...]) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """The proposal of an example, and its tracking."""
    low, high, if_khz, signal, c_min, _, _, _ = example
    exact_pf = 350 / (high / low) ** 2
    assert abs((high / low) ** 2 - signal) < 0.005
    assert abs(exact_pf - c_min) < 0.05
    gang = f'[range.gang]\nc_max = "350 pF"\nc_min = "{exact_pf:.6f} pF"'
    answer = if_change_json(folder, low * 1e3, high * 1e3, 500e3, "--if", f"{if_khz}kHz", gang=gang)
    tracking = [r for r in answer["tracking"] if r["if_hz"] == if_khz * 1000 and r["injection"] == "high"]
    assert {r["points"] for r in tracking} == {"minimax", "chebyshev"}
    return of(answer, if_khz * 1000), tracking


@frequencies(SCILAB, "`if-change`: oscillator's range")
def test_range_of_a_padded_oscillator(folder: Path) -> Differences:
    for example in PADDERS:
        row, _ = padded(folder, example)
        yield f"{example[0]} kHz", oscillator_beside(row, *(khz * 1000 for khz in example[5]))


@against(f"{SCILAB}; GATE (from memory)", "`if-change`: capacitance ratio", unit="", tolerance=0.005)
def test_capacitance_ratio_of_an_oscillator(folder: Path) -> Differences:
    for example in PADDERS:
        _, tracking = padded(folder, example)
        yield f"{example[0]} kHz", [one["capacitance_ratio"] - example[6] for one in tracking]
    # GATE (India), electronics paper (from memory): 550 to 1650 kHz with 450 kHz above: 4.41 to 1
    answer = if_change_json(folder, 550e3, 1650e3, 455e3, "--if", "450kHz")
    assert answer["tracking"][0]["if_hz"] == 455_000
    asked_for = [r for r in answer["tracking"] if (r["if_hz"], r["injection"]) == (450_000, "high")]
    yield "550 kHz, GATE", [r["capacitance_ratio"] - 4.41 for r in asked_for]


@against(SCILAB, "`if-change`: series padder", unit="pF", tolerance=0.1)
def test_padders(folder: Path) -> Differences:
    """A series padder alone sets both ends of the oscillator's range."""
    for example in PADDERS:
        _, tracking = padded(folder, example)
        yield f"{example[0]} kHz", [one["series_padder_pf"] - example[7] for one in tracking]


@frequencies("GATE (from memory); homework solutions", "`if-change`: ranges of image and oscillator")
def test_image_ranges(folder: Path) -> Differences:
    # GATE (India), electronics paper (from memory): the image of 700 kHz is 1600 kHz
    row = of(if_change_json(folder, 700e3, 1650e3, 455e3, "--if", "450kHz"), 450_000)
    yield "700 kHz", row["image_low_hz"] - 1_600_000
    # published homework solution, 24.1 to 48.4 MHz with 3225 kHz: images 30.55 to 54.85 MHz, overlapping
    # the band; the IF must exceed 12.15 MHz
    answer = if_change_json(
        folder, 24.1e6, 48.4e6, 455e3, "--if", "3225kHz", "--if", "12.15MHz", "--if", "12.151MHz"
    )
    row = of(answer, 3_225_000)
    yield "3225 kHz, oscillator", oscillator_beside(row, 27_325_000, 51_625_000)
    yield "3225 kHz, image", image_beside(row, 30_550_000, 54_850_000)
    yield "12.15 MHz", of(answer, 12_150_000)["image_low_hz"] - 48_400_000
    assert of(answer, 12_151_000)["image_low_hz"] > 48_400_000
    # homework problem on a television tuner with 8 MHz channels (ranges worked out, overlap stated)
    answer = if_change_json(folder, 45e6, 860e6, 40e6, "--if", "1.2GHz", bandwidth=8_000_000)
    now, then = of(answer, 40_000_000), of(answer, 1_200_000_000)
    yield "40 MHz, oscillator", oscillator_beside(now, 85_000_000, 900_000_000)
    yield "40 MHz, image", image_beside(now, 125_000_000, 940_000_000)
    yield "1.2 GHz, oscillator", oscillator_beside(then, 1_245_000_000, 2_060_000_000)
    yield "1.2 GHz, image", image_beside(then, 2_445_000_000, 3_260_000_000)


@against("GATE 2016 (from memory)", "`if-change`: image outside the band", unit="verdicts", tolerance=0)
def test_image_outside_the_band(folder: Path) -> Differences:
    """58 to 68 MHz: the image leaves the band from an IF of 5 MHz on."""
    for if_hz, outside in ((5_000_000, True), (4_990_000, False)):
        row = of(if_change_json(folder, 58e6, 68e6, 1e6, "--if", f"{if_hz} Hz"), if_hz)
        yield f"{if_hz} Hz", int((row["image_low_hz"] >= 68_000_000) != outside)


def test_usual_ifs_and_their_filters(tmp_path: Path) -> None:
    """Filters are named where the IF is one they are made for."""
    # Tooley, Aircraft Communications and Navigation Systems: 455 kHz, 1.6 MHz or 10.7 MHz are usual
    answer = if_change_json(tmp_path, 3e6, 6e6, 465e3, "--if", "455kHz", "--if", "1234kHz", "--if", "10.7MHz")
    made_for = {(row["if_hz"], row["made_for_hz"]) for row in answer["filters"]}
    assert (455_000, 455_000) in made_for
    assert (10_700_000, 10_700_000) in made_for
    assert not any(if_hz == 1_234_000 for if_hz, _ in made_for)
