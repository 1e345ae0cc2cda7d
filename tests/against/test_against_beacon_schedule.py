"""The International Beacon Project as shipped, against its published timing table."""

from __future__ import annotations

from itertools import product

from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.expand import occupants_of
from tests.outside import Differences, against, unlike

# NCDXF/IARU International Beacon Project, transmission schedule: start of the
# 10 s on 14.100, 18.110, 21.150, 24.930 and 28.200 MHz, minutes and seconds into
# each cycle of three minutes. Call of slot 4 as of today (KH6WO in older prints).
SCHEDULE = """
4U1UN  0:00 0:10 0:20 0:30 0:40
VE8AT  0:10 0:20 0:30 0:40 0:50
W6WX   0:20 0:30 0:40 0:50 1:00
KH6RS  0:30 0:40 0:50 1:00 1:10
ZL6B   0:40 0:50 1:00 1:10 1:20
VK6RBP 0:50 1:00 1:10 1:20 1:30
JA2IGY 1:00 1:10 1:20 1:30 1:40
RR9O   1:10 1:20 1:30 1:40 1:50
VR2B   1:20 1:30 1:40 1:50 2:00
4S7B   1:30 1:40 1:50 2:00 2:10
ZS6DN  1:40 1:50 2:00 2:10 2:20
5Z4B   1:50 2:00 2:10 2:20 2:30
4X6TU  2:00 2:10 2:20 2:30 2:40
OH2B   2:10 2:20 2:30 2:40 2:50
CS3B   2:20 2:30 2:40 2:50 0:00
LU4AA  2:30 2:40 2:50 0:00 0:10
OA4B   2:40 2:50 0:00 0:10 0:20
YV5B   2:50 0:00 0:10 0:20 0:30
"""
FREQUENCIES_HZ = (14_100_000, 18_110_000, 21_150_000, 24_930_000, 28_200_000)


def published() -> dict[tuple[int, int], str]:
    """Return (hertz, second of the cycle) to call."""
    out = {}
    for line in SCHEDULE.split("\n"):
        call, *starts = line.split() or [""]
        for hz, start in zip(FREQUENCIES_HZ, starts, strict=False):
            minutes, seconds = start.split(":")
            out[hz, int(minutes) * 60 + int(seconds)] = call
    return out


def on_the_air(utc: str | None) -> dict[int, list[str]]:
    """Return the calls that may be on, by frequency."""
    occupants = occupants_of(read_bands(), utc=utc)
    found: dict[int, list[str]] = {hz: [] for hz in FREQUENCIES_HZ}
    beacons = occupants.table == occupants.tables.index("beacons.csv")
    for hz, label in zip(occupants.low_hz[beacons].tolist(), occupants.label[beacons].tolist(), strict=True):
        found[hz].append(occupants.labels[label].removesuffix(" beacon"))
    return found


def test_the_published_table_is_complete() -> None:
    """Eighteen beacons, five frequencies, each slot of each frequency taken once."""
    table = published()
    assert len(table) == 90
    assert len(set(table.values())) == 18


@against("NCDXF/IARU beacon schedule", "who sends when, first and last second", unit="calls", tolerance=0)
def test_one_beacon_a_frequency_in_every_slot() -> Differences:
    """At its first and its last second the published beacon sends, and no other."""
    table = published()
    for second, inside in product(range(0, 180, 10), (0, 9)):
        # 18:03 begins a cycle: 18 h 3 min is a multiple of three minutes
        at = second + inside
        found = on_the_air(f"18:{3 + at // 60:02d}:{at % 60:02d}")
        for hz in FREQUENCIES_HZ:
            yield f"{hz} Hz at {at} s", unlike(found[hz], [table[hz, second]])


def test_a_time_without_seconds_leaves_all_beacons_in() -> None:
    for utc in (None, "1803", "18:03"):
        found = on_the_air(utc)
        assert {hz: len(set(calls)) for hz, calls in found.items()} == dict.fromkeys(FREQUENCIES_HZ, 18)
