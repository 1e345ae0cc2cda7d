"""Published converters, asked of the package as a builder would: frequencies, images, dial.

Published are the frequencies; how far an image is down is the package's own figure and
not held against anything here.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import spurplan
from spurplan.receiver.description import Receiver
from tests.oracle import connect
from tests.outside import Differences, against

MHZ = 1_000_000


def published(source: str, compares: str) -> Any:
    """A check of frequencies, to the hertz."""
    return against(source, compares, unit="Hz", tolerance=0)


def set_of(low: str, high: str, if_text: str = "455 kHz") -> Receiver:
    """A set with one range."""
    return Receiver.from_dict(
        {
            "name": "published",
            "conversion": [{"injection": "high", "if": if_text, "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": [low, high], "front_end": [{"circuits": 2, "q": 60.0}]}],
        }
    )


def ask(
    folder: Path, receiver: Receiver, cover: str, crystal: str, multiplier: int, side: str
) -> tuple[dict[str, Any], dict[str, dict[str, Any]]]:
    """Return the candidate, and its ways in by what they are called (of the LO-harmonics the first)."""
    table = connect.band_table(folder, [(10_000, 10_000)])
    answer = spurplan.converter(receiver, bands=table, cover=cover, explain=crystal)
    found = [r for r in answer.candidates.records() if (r["multiplier"], r["side"]) == (multiplier, side)]
    assert len(found) == 1
    ways: dict[str, dict[str, Any]] = {}
    for record in answer.ways_in.records():
        ways.setdefault(record["response"], record)
    return found[0], ways


def image_beside(ways: dict[str, dict[str, Any]], low_hz: int, high_hz: int) -> list[int]:
    """How far the ends of the image are from where they should be. [Hz]"""
    return [ways["image"]["rf_low_hz"] - low_hz, ways["image"]["rf_high_hz"] - high_hz]


# A magazine short-wave converter, 49 m band to a fixed 1.6 MHz, oscillator about 4.4 MHz.
# Published: 6.0 - 1.6 = 4.4 MHz. The image, 4.4 - 1.6 = 2.8 MHz, was worked out from it.


@published("magazine short-wave converter", "`converter`: 49 m to 1.6 MHz by 4.4 MHz, image")
def test_49_m_to_1600_khz(folder: Path) -> Differences:
    """A crystal of 4.4 MHz puts 6.0 MHz on 1.6 MHz, and 2.8 MHz as well."""
    receiver = set_of("1.5 MHz", "2 MHz")
    candidate, ways = ask(folder, receiver, "5.999MHz:6.001MHz", "4.4MHz", 1, "below")
    yield "set", (candidate["set_low_hz"] + candidate["set_high_hz"]) // 2 - 1_600_000
    assert candidate["dial_rule"] == "signal = 4.400 MHz + dial"
    yield "image", (ways["image"]["rf_low_hz"] + ways["image"]["rf_high_hz"]) // 2 - 2_800_000


@published("magazine short-wave converter, by calculation", "`converter`: 5.9-6.2 MHz needs 4.3-4.6 MHz")
def test_49_m_with_a_fixed_1600_khz_needs_4300_to_4600_khz() -> Differences:
    """Worked out: 5.9-6.2 MHz to 1.6 MHz takes 4.3 to 4.6 MHz; every step between serves for its own part."""
    receiver = set_of("1.599 MHz", "1.601 MHz")
    for signal, crystal in ((5_900_000, 4_300_000), (6_200_000, 4_600_000)):
        cover = (signal - 500, signal + 500)
        answer = spurplan.converter(receiver, cover=cover, crystal=crystal)
        first = answer.candidates.records(1)[0]
        assert (first["possible"], first["side"]) == (True, "below")
        yield f"{signal} Hz", first["injected_hz"] - crystal


# Short-wave converter kit notes: a crystal of 14.31818 MHz ahead of a medium-wave set gives
# the 19 m and the 22 m band. The ranges were worked out: sum side 14.868-15.918 MHz, difference
# side 12.718-13.768 MHz for a set of 0.55-1.6 MHz: each is the image of the other.


@published("short-wave converter kit notes", "`converter`: 14.31818 MHz for 19 m and 22 m")
def test_one_crystal_gives_the_19_m_and_the_22_m_band(folder: Path) -> Differences:
    """Below the 19 m band it stands whole; above the 22 m band what lies beyond 13.768 MHz is lost."""
    receiver = set_of("550 kHz", "1600 kHz")
    upper, ways = ask(folder, receiver, "15.1MHz:15.8MHz", "14.31818MHz", 1, "below")
    assert (upper["possible"], upper["lost_hz"]) == (True, 0)
    # 15.1 - 14.31818 = 0.78182, 15.8 - 14.31818 = 1.48182 MHz
    yield "dial for 19 m", [upper["set_low_hz"] - 781_820, upper["set_high_hz"] - 1_481_820]
    # image: 14.31818 - 1.48182 = 12.83636 to 14.31818 - 0.78182 = 13.53636 MHz
    yield "image of 19 m", image_beside(ways, 12_836_360, 13_536_360)
    lower, ways = ask(folder, receiver, "13.57MHz:13.87MHz", "14.31818MHz", 1, "above")
    assert not lower["possible"]
    # 14.31818 - 0.55 = 13.76818: beyond it, up to 13.87 MHz, 101.82 kHz are lost
    yield "22 m in part", [lower["cover_high_hz"] - 13_768_180, lower["lost_hz"] - 101_820]
    assert (
        "loses 101.82 kHz of the cover, 13.76818 to 13.87 MHz: range 1 begins at 550 kHz" in lower["reasons"]
    )
    # image: 14.31818 + 0.55 = 14.86818 to 14.31818 + (14.31818 - 13.57) = 15.06636 MHz
    yield "image of 22 m", image_beside(ways, 14_868_180, 15_066_360)


@published("short-wave converter kit notes", "`converter`: crystal plus and minus 455 kHz")
def test_a_set_fixed_on_455_khz_hears_crystal_plus_and_minus_455_khz(folder: Path) -> Differences:
    """Published: crystal +/- 455 kHz."""
    receiver = set_of("454 kHz", "456 kHz", "1.6 MHz")
    above = (14_773_180, 13_863_180)  # 14.31818 + 0.455 and 14.31818 - 0.455 MHz
    candidate, ways = ask(
        folder, receiver, f"{above[0] - 500}Hz:{above[0] + 500}Hz", "14.31818MHz", 1, "below"
    )
    yield "plus", candidate["set_low_hz"] + 500 - 455_000
    yield "minus", ways["image"]["rf_low_hz"] + 500 - above[1]


# From memory, an amateur handbook's 2 m converter, 144-146 MHz to 28-30 MHz, crystal
# 38.6667 MHz times 3 = 116 MHz, image 88 to 86 MHz.


@published("amateur handbook (from memory)", "`converter`: 2 m to 10 m, crystal as printed, times 3")
def test_2_m_converter_with_a_tripled_overtone_crystal(folder: Path) -> Differences:
    """116 - 28 = 88, 116 - 30 = 86 MHz, to the 100 Hz by which 3 x 38.6667 MHz is not 116 MHz."""
    receiver = set_of("27 MHz", "31 MHz")
    candidate, ways = ask(folder, receiver, "144MHz:146MHz", "38.6667MHz", 3, "below")
    yield "injected", candidate["injected_hz"] - 116_000_100
    yield "dial", [candidate["set_low_hz"] - 28 * MHZ + 100, candidate["set_high_hz"] - 30 * MHZ + 100]
    assert candidate["dial_rule"] == "signal = 116.0001 MHz + dial"
    yield "image", image_beside(ways, 86 * MHZ + 200, 88 * MHZ + 200)
    assert candidate["possible"]
