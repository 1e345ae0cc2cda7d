"""A published two-tone range, and the crystals of common pairs of IFs, asked as a user would."""

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
        Receiver.from_dict(description), bands=table, intermodulation=True, everything=True, lo_order=1
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
    # over the noise as it was measured: that of the image, which nothing holds back, comes on top of it
    margins = [r["heard_dbm"] + 120.0 for r in found.records() if r["product"] == "2 f1 - f2"]
    assert len(margins) == 1
    # the product rises 3 dB for each decibel of the tones
    yield "at the floor", margins[0] / 3


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
        answer = spurplan.birdies(Receiver.from_dict(made), bands=near)
        own = [r for r in answer.radiates.records() if (r["oscillator"], r["harmonic"]) == ("LO2", 1)]
        yield crystal, [record["low_hz"] - hertz(crystal) for record in own] or math.inf
