"""Who is named as always there, and what it would take to be rid of strangers: by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np

from spurplan.occupancy.bands import read_bands
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings, occupants_of
from spurplan.responses.listening.arrivals import Dials
from spurplan.responses.listening.findings import BUSY
from spurplan.responses.listening.judged import _regulars, _rejection_for, judge_cover, judge_ranges, place_of
from spurplan.responses.listening.limits import limits
from tests.responses.test_listening_by_hand import arriving

LABELS = ("Mast", "Light", "", "Buoy")


def judged_of(*rows: dict[str, Any]) -> Any:
    """Return what stands for two ranges of ten settings each, 100 kHz apart, from 7 and from 10 MHz."""
    dials = Dials(np.array([7_000_000, 10_000_000]), np.array([7_999_999, 10_999_999]), 10)
    ordered = sorted(rows, key=lambda row: row.get("place", 0))
    occupants = SimpleNamespace(label_of=lambda who: LABELS[who])
    return SimpleNamespace(
        arrivals=arriving(*ordered), dials=dials, ways=SimpleNamespace(occupants=occupants)
    )


# a station that is on for certain, ten spreads over the bar
SURE = {"over_db": 60.0}


def test_who_is_always_there_is_named_where_he_is_loudest() -> None:
    """Each once, the loudest first, with the setting in the middle of its part of the dial."""
    some = judged_of(
        SURE | {"place": 2}, SURE | {"place": 4, "over_db": 66.0},
        SURE | {"place": 6, "occupant": 1, "over_db": 64.0}, SURE | {"place": 8, "occupant": 2},
        SURE | {"place": 13, "occupant": 3},
    )  # fmt: skip
    assert _regulars(some, 0) == (
        "Mast is at 7.45 MHz as well", "Light is at 7.65 MHz as well",
        "an unnamed station is at 7.85 MHz as well",
    )  # fmt: skip
    assert _regulars(some, 1) == ("Buoy is at 10.35 MHz as well",)


def test_who_may_be_off_or_low_or_is_made_of_two_is_not_named() -> None:
    """From the chance and the level of the limits on; never one of many, never a product."""
    named = limits()["named"]
    often, loud = named["chance"], named["over_bar"]
    for row, there in (
        ({"stations": often + 0.005}, True), ({"stations": often - 0.005}, False),
        ({"own_db": 0.01, "over_db": loud + 0.1}, True), ({"own_db": 0.01, "over_db": loud - 0.1}, False),
        ({"single": False, "stations": 50.0}, False), ({"partner": 1}, False),
    ):  # fmt: skip
        assert bool(_regulars(judged_of(SURE | row), 0)) is there, row


def test_strangers_are_as_rare_as_is_asked_with_so_much_more_rejection() -> None:
    """Of one at every setting, 20 dB over the bar, 6 dB of spread, one in five is left with 25.05 dB more."""
    everywhere = [{"place": place, "over_db": 20.0} for place in range(10, 20)]
    assert _rejection_for(judged_of(*everywhere), 1, 0.2) == 26.0
    # of one at every other setting twice as many may be left: two in five, 21.52 dB
    assert _rejection_for(judged_of(*everywhere[::2]), 1, 0.2) == 22.0
    # two of them at one setting are two chances: 1 - 0.8^(1/2) each, 1.2502 spreads
    two = [row | {"occupant": who} for row in everywhere for who in (0, 1)]
    assert _rejection_for(judged_of(*two), 1, 0.2) == math.ceil(20.0 + 6.0 * 1.2502)
    # what no rejection reaches
    assert _rejection_for(judged_of(*[row | {"over_db": 140.0} for row in everywhere]), 1, 0.2) is None


def test_a_stretch_is_judged_from_its_own_edges(tmp_path: Any) -> None:
    """What of it lies inside the range; the whole range without one."""
    (tmp_path / "air.csv").write_text(
        "freq_khz,service,label,level\n5000,broadcast,Low,S9\n12000,broadcast,High,S9\n", "utf-8"
    )
    receiver = Receiver.from_dict(
        {
            "name": "any", "region": 1,
            "conversions": [{"injection": "high", "if_hz": 465_000, "filter": {"bandwidth_hz": 6_000}}],
            "ranges": [{"name": "1", "low_hz": 7_000_000, "high_hz": 9_000_000, "front_end": []}],
        }
    )  # fmt: skip
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    chosen = Settings()
    place = place_of(receiver, occupants_of(receiver, read_bands(tmp_path / "air.csv"), chosen), chosen)
    for cover, edges in (
        ((7_500_000, 7_600_000), (7_500_000, 7_600_000)), ((6_000_000, 7_250_000), (7_000_000, 7_250_000)),
        ((8_900_000, 9_900_000), (8_900_000, 9_000_000)),
    ):  # fmt: skip
        (got,) = judge_ranges(chains, place, chosen, BUSY, cover)
        (of_cover,) = judge_cover(chains, place, chosen, cover)
        for finding in (got, of_cover.busy):
            assert (finding.low_hz, finding.high_hz, finding.cover) == (*edges, True)
    (whole,) = judge_ranges(chains, place, chosen, BUSY)
    assert (whole.low_hz, whole.high_hz, whole.cover) == (7_000_000, 9_000_000, False)
