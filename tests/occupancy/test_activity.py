"""The table of who is on the air: which row a frequency takes, spots, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from spurplan.csvfile import Cells, read_csv
from spurplan.errors import Refused
from spurplan.occupancy.activity import COLUMNS, REGIONS, activity_table, shipped_activity
from spurplan.occupancy.band_rows import SERVICES

TABLE = shipped_activity()
SPOTS = b"kind,chance,spread_db\nbeacon,0.3,\nother,0.1,\nlevel of its own,0.9,3\npath of its own,0.9,10\n"


def cells(rows: str) -> Cells:
    return read_csv("a.csv", COLUMNS, data=(",".join(COLUMNS) + "\n" + rows).encode())


def spots(text: bytes = SPOTS) -> Cells:
    return read_csv("p.csv", data=text)


def band_at(service: str, mhz: float, region: int = 1) -> str:
    row = TABLE.rows_for(np.array([0]), (service,), np.array([mhz * 1e6]), region)[0]
    assert TABLE.service[row] == service
    assert TABLE.region[row] == region
    return TABLE.band[row]


@pytest.mark.parametrize(
    ("service", "mhz", "band"),
    [
        ("amateur", 14.2, "20 m"),
        ("amateur", 28.3, "10 m"),
        ("amateur", 29.23, "10 m upper end"),
        ("broadcast", 15.4, "19 m"),
        ("broadcast", 0.9, "medium wave"),
        ("broadcast", 98.0, "VHF sound"),
        ("citizens", 27.2, "11 m"),
        # outside every row of its service: the nearest on a logarithmic scale of frequency
        ("amateur", 12.0, "20 m"),
        ("amateur", 11.8, "30 m"),
        ("aeronautical", 60.0, "VHF"),
        ("ism", 2450.0, "40.68 MHz"),
        ("maritime", 0.1, "medium frequency"),
    ],
)
def test_a_frequency_takes_the_nearest_row_of_its_service(service: str, mhz: float, band: str) -> None:
    """Inside a row that row; between two the one nearer by log frequency."""
    assert band_at(service, mhz) == band


@pytest.mark.parametrize("region", REGIONS)
def test_every_service_has_rows_in_every_region(region: int) -> None:
    """All of sound kind: a number not below 0, a level below that of a transmitter, a spread."""
    for service in SERVICES:
        found = TABLE.on_the_air(np.zeros(4, int), (service,), np.geomspace(1e5, 5e8, 4), region, "busy")
        assert (found.n_per_mhz > 0).all()
    assert (TABLE.n_per_mhz >= 0).all()
    assert (TABLE.s_db >= 3).all()
    assert (np.abs(TABLE.m_dbm + 75) < 60).all()


def test_a_busy_hour_has_more_above_any_level_that_spoils() -> None:
    """More stations in a busy hour than in a typical one, row by row."""
    assert (TABLE.n_per_mhz[1] >= TABLE.n_per_mhz[0]).all()


@pytest.mark.parametrize("region", REGIONS)
def test_20_m_is_no_contest_all_year(region: int) -> None:
    """An old hand hears less than one and a half stations in 6 kHz at a typical hour; busy is a contest."""
    at = np.array([0]), ("amateur",), np.array([14.2e6]), region
    assert TABLE.on_the_air(*at, "typical").n_per_mhz[0] * 0.006 < 1.5
    assert TABLE.on_the_air(*at, "busy").n_per_mhz[0] * 0.006 > 2


def test_what_no_model_knows_is_marked_an_estimate() -> None:
    """Above 30 MHz, neighbours of the citizens' band, long and medium wave, machines."""
    for service, mhz in (
        ("broadcast", 100),
        ("broadcast", 1),
        ("broadcast", 0.2),
        ("citizens", 27),
        ("ism", 27.12),
    ):
        row = TABLE.rows_for(np.array([0]), (service,), np.array([mhz * 1e6]), 1)[0]
        assert TABLE.mark[row] == "[est]"


def test_look_up_of_many_is_that_of_each() -> None:
    """Mixed services in any order."""
    rng = np.random.default_rng(3)
    service, hz = rng.integers(0, len(SERVICES), 200), rng.uniform(1e5, 1e8, 200)
    rows = TABLE.rows_for(service, SERVICES, hz, 2)
    alone = [TABLE.rows_for(service[i : i + 1], SERVICES, hz[i : i + 1], 2)[0] for i in range(200)]
    assert rows.tolist() == alone


def test_an_unknown_service_is_taken_for_the_loudest() -> None:
    """Unknown must never look like clear: it takes the rows of broadcasting."""
    codes, hz = np.array([0, 1]), np.array([9.6e6, 9.6e6])
    found = TABLE.on_the_air(codes, ("watching", "broadcast"), hz)
    assert found.row[0] == found.row[1]
    with pytest.raises(ValueError, match="no region 4"):
        TABLE.rows_for(codes, ("a", "b"), hz, 4)


def test_spots_have_the_chance_of_their_service_and_keep_their_own_level() -> None:
    """0.3 for a beacon, 0.1 for others; somebody has measured the last."""
    services = ("beacon", "fixed_mobile")
    codes, hz = np.array([0, 1, 1]), np.array([14.1e6, 8e6, 8e6])
    found = TABLE.spots(codes, services, hz, own_level_dbm=np.array([np.nan, np.nan, -55.0]))
    assert found.chance.tolist() == [0.3, 0.1, 0.9]
    band = TABLE.on_the_air(codes, services, hz)
    assert found.level_dbm.tolist() == [band.m_dbm[0], band.m_dbm[1], -55.0]
    assert found.spread_db.tolist() == [band.s_db[0], band.s_db[1], 3.0]
    assert TABLE.spots(codes, services, hz).chance.tolist() == [0.3, 0.1, 0.1]


@pytest.mark.parametrize(
    ("rows", "fault"),
    [
        (
            "1,amatuer,x,1,2,1,-80,10,2,-70,10,m\n",
            r'row 2, column service: "amatuer" is not a service; did you mean',
        ),
        ("4,amateur,x,1,2,1,-80,10,2,-70,10,m\n", r'row 2, column region: "4" is not a list of regions'),
        ("1,amateur,x,2,1,1,-80,10,2,-70,10,m\n", r'row 2, column low_mhz: "2" is not below high_mhz 1'),
        ("1,amateur,x,0,1,1,-80,10,2,-70,10,m\n", r'row 2, column low_mhz: "0" is not above 0'),
        ("1,amateur,x,1,2,-1,-80,10,2,-70,10,m\n", r"row 2, column typical_n_per_mhz: \"-1\" has a sign"),
        (
            "1,amateur,x,1,2,1,-80,10,2,-70,10,m\n1;3,amateur,y,1.9,3,1,-80,10,2,-70,10,m\n",
            r"row 3: overlaps a.csv, row 2, of the same service and region",
        ),
    ],
)
def test_damaged_rows_are_refused(rows: str, fault: str) -> None:
    """Place, value, rule, remedy."""
    with pytest.raises(Refused, match=fault):
        activity_table([cells(rows)], spots())


def test_chances_are_shares_and_none_is_left_out() -> None:
    """A chance above 1, and a table that does not say what holds for the rest."""
    sound = [cells("1,amateur,x,1,2,1,-80,10,2,-70,10,m\n")]
    with pytest.raises(Refused, match=r'column chance: "1.5" is above 1'):
        activity_table(sound, spots(SPOTS.replace(b"0.3", b"1.5")))
    with pytest.raises(Refused, match='has no row "other"'):
        activity_table(sound, spots(SPOTS.replace(b"other", b"rest")))


def test_a_service_that_keeps_to_its_hours_is_on_by_the_share_of_days_they_hold() -> None:
    """Broadcasters do: half of the days is half of the chance; where hours tell nothing it is as usual."""
    listed, usual = (
        TABLE.as_listed("broadcast"),
        TABLE.spot_chance.get("broadcast", TABLE.spot_chance["other"]),
    )
    assert usual < listed <= 1.0
    services = np.array([0, 0, 0, 1])
    shares = np.array([1.0, 0.5, -1.0, 0.5])
    at = services, ("broadcast", "amateur"), np.array([9.6e6, 9.6e6, 9.6e6, 14.2e6])
    amateur = TABLE.spot_chance.get("amateur", TABLE.spot_chance["other"])
    chance = TABLE.spots(*at, hours_share=shares).chance
    assert chance == pytest.approx([listed, listed / 2, usual, amateur])
    # a level of its own says that somebody heard it
    known = TABLE.spots(*at, own_level_dbm=np.array([np.nan, -40.0, np.nan, np.nan]), hours_share=shares)
    assert known.chance[1] == TABLE.spot_chance["level of its own"]
    assert known.level_dbm[1] == -40.0
    assert np.isnan(TABLE.as_listed("amateur"))
