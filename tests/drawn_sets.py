"""Sets for tests of pictures: crowded, of twelve ranges with long names, quiet, and of a short list.

Sets and stations are invented.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

import spurplan
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.receiver.description import Receiver

BANDS_HEAD = "low_hz,high_hz,service,label\n"
QUIET = """
name = "Set of the quiet shore"
region = 1
environment = "rural"
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.mixer]
family = "valve_multiplicative"
[conversion.filter]
bandwidth = "6 kHz"
shape_factor = 3
"""
CROWDED = QUIET.replace("quiet shore", "crowded attic")
RANGE = """
[[range]]
name = "{name}"
coverage = ["{low} kHz", "{high} kHz"]
front_end = {front}
"""
PAIR = "[ { circuits = 2, q = 80 } ]"
THREE = (("long", 700, 1_600), ("trawler", 1_600, 3_200), ("short", 3_200, 6_400))
LONG_NAMES = [f"Number {n}, the stretch of the long handle by the window" for n in range(1, 13)]


def _set(folder: Path, name: str, text: str) -> Receiver:
    path = folder / f"{name}.toml"
    path.write_text(text, "utf-8")
    return spurplan.read_receiver(path)


def _bands(folder: Path, name: str, rows: list[str]) -> Bands:
    path = folder / f"{name}.csv"
    path.write_text(BANDS_HEAD + "".join(row + "\n" for row in rows), "utf-8")
    return read_bands(path)


def crowded(folder: Path) -> tuple[Receiver, Bands]:
    """Return a set without a front end, and the shipped tables with 300 more stations."""
    made = np.random.default_rng(4)
    hz = np.sort(made.integers(100_000, 60_000_000, 300)).tolist()
    path = folder / "stations.csv"
    rows = [f"{at},{at},broadcast,Radio Hill {n}\n" for n, at in enumerate(hz)]
    path.write_text(BANDS_HEAD + "".join(rows), "utf-8")
    shipped = sorted((Path(__file__).parents[1] / "bandplans").glob("*.csv"))
    ranges = RANGE.format(name="low", low=6_000, high=16_000, front="[]")
    ranges += RANGE.format(name="high", low=15_000, high=31_000, front="[]")
    return _set(folder, "crowded", CROWDED + ranges), read_bands([*shipped, path])


def twelve(folder: Path) -> tuple[Receiver, Bands]:
    """Return a set of twelve ranges with long names, and the shipped tables."""
    text = QUIET.replace("quiet shore", "twelve ranges, on the long table")
    for n, name in enumerate(LONG_NAMES):
        low = 2_000 + 2_000 * n
        text += RANGE.format(name=name, low=low, high=low + 2_300, front=PAIR)
    return _set(folder, "twelve", text), read_bands(None)


def quiet(folder: Path) -> tuple[Receiver, Bands]:
    """Return a set into which nothing gets, and a table of the whole spectrum that knows it."""
    path = folder / "few.csv"
    rows = "low_hz,high_hz,service,label,level\n100000,60000000,fixed_mobile,Whispers,-160 dBm\n"
    path.write_text(rows, "utf-8")
    return _three_ranges(folder, "quiet", QUIET), read_bands(path)


def unlisted(folder: Path) -> tuple[Receiver, Bands]:
    """Return the same set with a list of three stations, which tells nothing of all that lies between."""
    text = QUIET.replace("quiet shore", "short list")
    rows = [
        "100000,100000,beacon,Low mark",
        "5000000,5000000,standard_frequency,Tick",
        "60000000,60000000,beacon,High mark",
    ]
    return _three_ranges(folder, "unlisted", text), _bands(folder, "three", rows)


def _three_ranges(folder: Path, name: str, text: str) -> Receiver:
    text += "".join(
        RANGE.format(name=range_name, low=low, high=high, front=PAIR) for range_name, low, high in THREE
    )
    return _set(folder, name, text)
