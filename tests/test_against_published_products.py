"""Published ratios of oscillators, cures and a two-tone range, asked of the package as a user would."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import spurplan
from spurplan.columns import Table
from spurplan.receiver.description import Receiver
from spurplan.receiver.families import single_tone_intercept_dbm
from tests.oracle import connect
from tests.oracle.plain import hertz
from tests.outside import Differences, against


def exact(source: str, compares: str) -> Any:
    """A check of frequencies, to the hertz."""
    return against(source, compares, unit="Hz", tolerance=0)


def a_set(if_text: str, low: str, high: str, bandwidth: str = "6 kHz", **more: Any) -> dict[str, Any]:
    """A set with one conversion, its oscillator above."""
    return {
        "name": "in print",
        "conversion": [{"injection": "high", "if": if_text, "filter": {"bandwidth": bandwidth}}],
        "range": [{"name": "1", "coverage": [low, high]}],
        **more,
    }


def around(text: str, width_hz: int = 20_000) -> tuple[str, str]:
    return f"{hertz(text) - width_hz} Hz", f"{hertz(text) + width_hz} Hz"


# --- two stations at once --------------------------------------------------------------------------


def pairs(folder: Path, description: dict[str, Any], *stations: str, level: str) -> Table:
    """What two stations make in a set, everything listed."""
    rising = sorted(hertz(text) for text in stations)
    table = connect.band_table(folder, [(hz, hz) for hz in rising], level=level)
    answer = spurplan.ranges(
        Receiver.model_validate(description), table, intermodulation=True, everything=True, lo_order=1
    )
    return answer.tables["pairs"]


@against("page on spurious-free range", "two-tone range: 86.67 dB", unit="dB", tolerance=0.01)
def test_two_tone_spurious_free_range(folder: Path) -> Differences:
    """(2/3)(IIP3 - MDS): +10 and -120 dBm give 86.67 dB; so strong a pair makes a product at the floor."""
    mixer = {"h3": f"{single_tone_intercept_dbm(3, 10.0)} dBm", "h2": "200 dBm"}
    description = a_set("455 kHz", *around("7.02 MHz"), noise=[["1 MHz", "-120 dBm"]], noise_figure="0 dB")
    description["conversion"][0]["mixer"] = mixer
    description["range"][0] |= {"front_end": [], "rf_gain": "0 dB"}
    level = f"{-120 + 86.67} dBm"
    found = pairs(folder, description, "7.06 MHz", "7.1 MHz", level=level)
    margins = [r["margin_db"] for r in found.records() if r["product"] == "2 f1 - f2"]
    assert len(margins) == 1
    # the product rises 3 dB for each decibel of the tones
    yield "at the floor", margins[0] / 3


# --- what a proposal says --------------------------------------------------------------------------


def proposal(folder: Path, description: dict[str, Any], **asked: Any) -> spurplan.Answer:
    nobody = connect.band_table(folder, [(100_000, 100_000)])
    return spurplan.if_change(Receiver.model_validate(description), nobody, **asked)


RATIOS = [
    # M. G. Scroggie, Foundations of Wireless, s. 21.6: 525-1605 kHz, IF 470 kHz: ratio 2.09
    ("470 kHz", "525 kHz", "1605 kHz", 1, 2.09),
    # Scilab textbook companion 1409, ex. 8.19 and 8.26: ratios of capacitance 4.58 and 4.18
    ("465 kHz", "500 kHz", "1600 kHz", 2, 4.58),
    ("455 kHz", "550 kHz", "1600 kHz", 2, 4.18),
    # GATE (India) electronics paper (from memory): 550-1650 kHz, IF 450 kHz: ratio of capacitance 4.41
    ("450 kHz", "550 kHz", "1650 kHz", 2, 4.41),
]


@against(
    "Scroggie s. 21.6; Scilab companion 1409, ex. 8.19, 8.26; GATE (from memory)",
    "tuning ratios of oscillators, in frequency or capacitance",
    unit="",
    tolerance=0.005,
)
def test_tuning_ratio_of_the_oscillator(folder: Path) -> Differences:
    for if_text, low, high, power, published in RATIOS:
        answer = proposal(folder, a_set(if_text, low, high), if_=if_text)
        yield f"{low} to {high}", answer.proposals["oscillator_ratio"][0] ** power - published


@against(
    "Scroggie s. 21.6", "tuning ratio, oscillator below (by calculation 20.64)", unit="", tolerance=0.005
)
def test_tuning_ratio_with_the_oscillator_below(folder: Path) -> Differences:
    """LO low 55-1135 kHz: 20.636."""
    made = a_set("470 kHz", "525 kHz", "1605 kHz")
    made["conversion"][0]["injection"] = "low"
    answer = proposal(folder, made, if_="470 kHz")
    yield "55 to 1135 kHz", answer.proposals["oscillator_ratio"][0] - 20.636


@against(
    "Kennedy and Davis 4th ed., ex. 6-2 (from memory)",
    "asked for 42.84 dB at 25 MHz: Q of an added circuit 268.1, IF 11.375 MHz",
    unit="%",
    tolerance=0.2,
)
def test_cures_of_a_poor_image_rejection(folder: Path) -> Differences:
    """Q 100, IF 455 kHz: 25 MHz is to be made as good as 1 MHz. Printed: 268 and 11.4 MHz; unrounded by
    calculation 268.1 and 11.375 MHz."""
    made = a_set("455 kHz", "24.999 MHz", "25 MHz")
    made["range"][0] |= {"front_end": [{"circuits": 1, "q": 100}], "front_end_ceiling": "200 dB"}
    (record,) = proposal(folder, made, rejection=42.84).tables["rejection"].records()
    yield "added Q", 100 * (record["added_q"] / 268.1 - 1)
    yield "IF", 100 * (record["if_hz"] / 11.375e6 - 1)


# --- second oscillators ----------------------------------------------------------------------------


@exact("by calculation from common pairs of IFs", "second-oscillator crystals")
def test_second_oscillators_of_common_pairs(folder: Path) -> Differences:
    """10.7 - 0.455, 21.4 - 0.455, 45.0 - 0.455 and 45.0 - 10.7 MHz: what such a set radiates on."""
    for first, second, crystal in (
        ("10.7 MHz", "455 kHz", "10.245 MHz"),
        ("21.4 MHz", "455 kHz", "20.945 MHz"),
        ("45 MHz", "455 kHz", "44.545 MHz"),
        ("45 MHz", "10.7 MHz", "34.3 MHz"),
    ):
        made = a_set(first, "150 MHz", "151 MHz")
        made["conversion"][0].pop("filter")
        made["conversion"].append({"injection": "low", "if": second, "filter": {"bandwidth": "6 kHz"}})
        near = connect.band_table(folder, [(hertz(crystal) - 1_000, hertz(crystal) + 1_000)])
        answer = spurplan.birdies(Receiver.model_validate(made), near)
        own = [r for r in answer.radiates.records() if (r["oscillator"], r["harmonic"]) == ("LO2", 1)]
        yield crystal, [record["low_hz"] - hertz(crystal) for record in own] or math.inf
