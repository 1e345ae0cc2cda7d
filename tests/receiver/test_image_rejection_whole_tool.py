"""Image rejection asked of the tool itself: a set, a station on the image, what `dial` says.

The published ratios and their sources stand in test_against_published_image_examples.py;
here the same cases go through receiver, lines, join, levels and records.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import spurplan
from spurplan.receiver.description import Receiver
from tests.against.test_against_published_image_examples import BOOKS, EXAMPLES, Example
from tests.outside import Differences, against
from tests.quiet_air import quiet_air


def a_set(q: float, circuits: int, if_hz: int, low_hz: int, high_hz: int) -> Receiver:
    """Return a single conversion with the oscillator above and nothing but tuned circuits ahead."""
    return Receiver.from_dict(
        {
            "name": "example",
            "conversions": [{"injection": "high", "if_hz": if_hz, "filter": {"bandwidth_hz": 6_000}}],
            "ranges": [
                {
                    "name": "1", "low_hz": low_hz, "high_hz": high_hz, "front_end_ceiling_db": 200.0,
                    "front_end": [{"circuits": circuits, "q": float(q)}],
                }
            ],
        }
    )  # fmt: skip


def on_the_air(folder: Path, *khz: float) -> Path:
    path = folder / "air.csv"
    rows = [f"{f:.3f},broadcast,on {f:g} kHz,-40 dBm" for f in khz]
    path.write_text("freq_khz,service,label,level\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def whole_tool_off_db(example: Example, folder: Path) -> float:
    """How far `dial` is from the rejection of a worked example. [dB]"""
    signal_hz = round(example.signal_khz * 1000)
    receiver = a_set(example.q, example.circuits, round(example.if_khz * 1000), signal_hz, signal_hz + 1_000)
    answer = spurplan.dial(
        receiver, bands=on_the_air(folder, example.image_khz), frequency=signal_hz, everything=True
    )
    images = [r for r in answer.intrusions if r["response"] == "image"]
    assert [r["rf_low_hz"] for r in images] == [round(example.image_khz * 1000)]
    assert images[0]["equation"] == "IF = RF - LO"
    return float(images[0]["rejection_db"]) - example.exact_db


@against(BOOKS, "image rejection as `dial` gives it", unit="dB", tolerance=0.05)
def test_rejection_of_published_examples(folder: Path) -> Differences:
    """The image of each worked example comes out at its rejection to 0.05 dB."""
    for example in EXAMPLES:
        yield example.name, whole_tool_off_db(example, folder)


def test_a_station_on_ten_metres_is_heard_910_khz_below_itself(tmp_path: Path) -> None:
    """Common practice: with 455 kHz and the oscillator above, the image turns up two IFs down the dial."""
    receiver = a_set(60, 2, 455_000, 11_000_000, 30_000_000)
    places = spurplan.station(receiver, bands=on_the_air(tmp_path, 28_500), frequency="28.5 MHz").intrusions
    image = next(r for r in places if r["response"] == "image")
    middle_hz = (image["dial_low_hz"] + image["dial_high_hz"]) / 2
    assert middle_hz == pytest.approx(28_500_000 - 910_000, abs=1)
    assert image["grade"] == "strong"
    assert image["moves"] == -1.0
    assert image["inverted"]


def test_the_highest_range_is_the_worst() -> None:
    """Common practice: image rejection falls from range to range as the frequency rises."""
    demo = Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml"
    summary = spurplan.ranges(demo).ranges
    rejection = summary["image_rejection_db"].tolist()
    assert rejection == sorted(rejection, reverse=True)
    assert summary["clear_share"].argmin() == len(summary) - 1
    assert summary["image_rejection_dial_hz"].tolist()[1:] == summary["high_hz"].tolist()[1:]


def test_a_range_over_the_if_is_unusable_there(tmp_path: Path) -> None:
    """Common practice: no dial setting may equal the IF; the part beside it is given up and said."""
    receiver = a_set(60, 1, 455_000, 300_000, 1_000_000)
    answer = spurplan.ranges(receiver, bands=quiet_air(tmp_path))
    record = answer.ranges.records()[0]
    assert (record["dead_low_hz"], record["dead_high_hz"]) == (449_000, 461_000)
    assert record["dead_share"] == pytest.approx(12_001 / 700_001, abs=1e-3)
    assert record["clear_share"] == pytest.approx(1 - record["dead_share"], abs=1e-12)
    assert any(
        "is unusable from 449 kHz to 461 kHz: an IF of the set lies there" in line
        for line in answer.assumptions
    )


@pytest.mark.parametrize(("name", "audible_at"), [("1", 0.0), ("4", 0.0), ("4", 6.0)])
def test_a_station_is_heard_as_an_image_from_the_level_that_is_said(
    name: str, audible_at: float, tmp_path: Path
) -> None:
    """Stations on the images of 33 settings: a tenth of a decibel below it none is heard, above it one is."""
    receiver = spurplan.read_receiver(Path(__file__).parents[1] / "receivers" / "boathouse.toml")
    asked = {"range": name, "audible_at": audible_at}
    table = tmp_path / "images.csv"
    table.write_text("freq_hz,service,label\n60000,standard_frequency,Clock\n", "utf-8")
    [row] = spurplan.ranges(receiver, bands=table, **asked).ranges.records()
    level = row["image_heard_from_dbm"]
    width = row["high_hz"] - row["low_hz"]
    images = [row["low_hz"] + width * k // 32 + 930_000 for k in range(33)]
    for off, heard in ((-0.1, False), (0.1, True)):
        lines = [f"{hz},fixed_mobile,Lamp {hz},cw,{level + off:.3f} dBm" for hz in images]
        table.write_text("freq_hz,service,label,mode,level\n" + "\n".join(lines) + "\n", "utf-8")
        found = spurplan.ranges(receiver, bands=table, **asked).intrusions.records()
        assert any(one["response"] == "image" for one in found) is heard
