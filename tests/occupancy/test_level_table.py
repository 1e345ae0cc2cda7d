"""A table of levels: which row a frequency takes, and what is taken where it says nothing; by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from spurplan.errors import Refused
from spurplan.occupancy.occupants import FROM_ASSUMED, FROM_OPTION, FROM_TABLE
from spurplan.occupancy.typical_levels import (
    LevelTable,
    option_levels,
    read_levels,
    resolve,
    short_aerial_db,
    typical_levels,
)
from spurplan.units import parse_level

# S9 is -73 dBm up to 30 MHz and -93 dBm above (IARU Region 1 recommendation R.1, from memory)
TABLE = """service,low_khz,high_khz,level
broadcast,7000,7300,S9
broadcast,100,7000,-50 dBm
broadcast,29000,31000,S9
amateur,14000,14350,-80 dBm
"""


@pytest.fixture
def table(tmp_path: Path) -> LevelTable:
    (tmp_path / "levels.csv").write_text(TABLE, encoding="utf-8")
    return read_levels(tmp_path / "levels.csv")


def at(table: LevelTable, service: str, *khz: float) -> list[float]:
    return table.dbm(service, np.array([round(1_000 * one) for one in khz], dtype=np.int64)).tolist()


def test_an_edge_that_two_rows_share_is_the_lower_ones(table: LevelTable) -> None:
    """Both ends of a row are its own; between rows, beyond them and of other services nothing is said."""
    assert at(table, "broadcast", 100, 6_999, 7_000, 7_000.001, 7_300) == [-50, -50, -50, -73, -73]
    assert np.isnan(at(table, "broadcast", 99.999, 7_300.001, 20_000, 31_000.001)).all()
    assert np.isnan(at(table, "maritime", 5_000)).all()
    found = table.find("broadcast", np.array([99_999, 100_000, 7_000_001, 40_000_000]))
    assert found.tolist() == [-1, 0, 1, -1]
    assert table.find("maritime", np.array([5_000_000])).tolist() == [-1]


def test_s_units_are_twenty_decibels_less_above_30_mhz(table: LevelTable) -> None:
    """30 MHz itself is the last of the short waves."""
    assert at(table, "broadcast", 29_000, 30_000, 30_000.001, 31_000) == [-73, -73, -93, -93]


def test_the_loudest_of_all_is_that_of_either_side_of_30_mhz(table: LevelTable, tmp_path: Path) -> None:
    """Whatever the service."""
    assert table.loudest_dbm == -50
    (tmp_path / "s.csv").write_text("service,low_khz,high_khz,level\nism,1,2,S9\n", encoding="utf-8")
    assert read_levels(tmp_path / "s.csv").loudest_dbm == -73


def test_a_level_given_for_a_service_is_its_level_everywhere(table: LevelTable) -> None:
    """The others keep theirs."""
    given = table.with_levels({"amateur": parse_level("S9"), "ism": parse_level("-20 dBm")})
    assert at(given, "amateur", 1_000, 14_200, 50_000) == [-73, -73, -93]
    assert at(given, "ism", 1_000) == [-20]
    assert at(given, "broadcast", 6_000) == [-50]


@pytest.mark.parametrize(
    ("rows", "rule"),
    [
        ("broadcast,7000,7000,S9", "is not below high_khz"),
        ("broadcast,100,200,S9\nbroadcast,199.999,300,S9", "overlaps row 2"),
        (",100,200,S9", "is empty"),
        ("broadcast,100,200,loud", "is not a level"),
    ],
)
def test_rows_that_contradict_each_other_are_refused(rows: str, rule: str, tmp_path: Path) -> None:
    """The lower edge first, an edge shared at most, a service, a level."""
    (tmp_path / "bad.csv").write_text(f"service,low_khz,high_khz,level\n{rows}\n", encoding="utf-8")
    with pytest.raises(Refused, match=rule):
        read_levels(tmp_path / "bad.csv")
    # of two services the same stretch is each one's own
    (tmp_path / "fine.csv").write_text(
        "service,low_khz,high_khz,level\nbroadcast,100,200,S9\namateur,100,200,S7\n", encoding="utf-8"
    )
    assert set(read_levels(tmp_path / "fine.csv").services) == {"broadcast", "amateur"}


def test_a_level_comes_from_the_row_then_the_option_then_what_is_typical(table: LevelTable) -> None:
    """An aerial's gain counts for what is assumed alone; what no table knows is as loud as the loudest."""
    nan = np.nan
    services = ("broadcast", "amateur", "maritime")
    got = resolve(
        np.array([-10.0, nan, nan, nan, nan]), np.array([0, 0, 1, 2, 0]), services,
        np.array([6_000_000, 6_000_000, 14_000_000, 5_000_000, 6_900_000]),
        np.array([6_000_000, 6_000_000, 14_350_000, 5_000_000, 7_100_000]),
        option_levels({"amateur": "S7"}, services), table, -6.0,
    )  # fmt: skip
    assert got.dbm.tolist() == [-10.0, -56.0, -85.0, -56.0, -56.0]
    assert got.origin.tolist() == [FROM_TABLE, FROM_ASSUMED, FROM_OPTION, FROM_ASSUMED, FROM_ASSUMED]
    # a band that runs over the edge of two rows takes the level of its lower end, and it is said
    assert got.class_changes.tolist() == [False, False, False, False, True]


def test_levels_that_ship_know_every_usual_service() -> None:
    """None is silent where it is met."""
    assert {"broadcast", "amateur", "maritime", "fixed_mobile"} <= set(typical_levels().services)
    with pytest.raises(Refused):
        option_levels({"no such service": "S9"}, ())
    assert option_levels(None, ()) == {}


def test_a_short_aerial_loses_as_its_wavelength_grows() -> None:
    """6 dB an octave below 15 MHz, nothing from there on."""
    lost = short_aerial_db(np.array([1.5e6, 7.5e6, 15e6, 30e6]))
    assert lost == pytest.approx([20.0, 20 * np.log10(2.0), 0.0, 0.0])
