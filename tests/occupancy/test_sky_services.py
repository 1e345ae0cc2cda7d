"""Who can be heard at an hour: what everybody knows who has listened, and how long it takes."""

from __future__ import annotations

import time
from functools import cache
from importlib.resources import files

import numpy as np
import pytest

from spurplan.csvfile import read_csv
from spurplan.errors import Refused
from spurplan.occupancy.activity import shipped_activity
from spurplan.occupancy.shipped import UNCHANGED, parse_record
from spurplan.occupancy.sky import Heard, Listening, activity_at
from spurplan.occupancy.sky.activity_table import MARK, laws_of, made_from, typical_and_busy, widths_mhz
from spurplan.occupancy.sky.services import FLOOR_DBM, LEVELS_DBM
from spurplan.occupancy.sky.stations import (
    regions_of,
    rhythms_of,
    shipped_regions,
    shipped_stations,
    stations_of,
)

QUIET, ACTIVE = 20, 120
JANUARY, JUNE = 1, 6
NIGHT, NOON = 0.0, 12.0
STATIONS = shipped_stations()


@cache
def listening(sunspots: float) -> Listening:
    """A set at 50 N 10 E, where midnight UTC is night and 12 h noon."""
    return Listening(50, 10, sunspots)


@cache
def heard(sunspots: float, month: int, hour: float) -> Heard:
    return listening(sunspots).heard(month, hour)


def row_of(service: str, band: str) -> int:
    return list(zip(STATIONS.service, STATIONS.band, strict=True)).index((service, band))


def loudest_dbm(sunspots: float, month: int, hour: float, service: str, band: str) -> float:
    """Level of the loudest; the floor where there is none half of the time."""
    level = heard(sunspots, month, hour).loudest_dbm[row_of(service, band)]
    return FLOOR_DBM if np.isnan(level) else float(level)


def night_less_noon_db(sunspots: float, month: int, service: str, band: str) -> float:
    night, noon = (loudest_dbm(sunspots, month, hour, service, band) for hour in (NIGHT, NOON))
    return night - noon


class Told(Listening):
    """Everybody at a median of -60 dBm, by 12 dB stronger on a good day and by 4 dB weaker on a bad one."""

    def _levels(self, month: int, utc_hour: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        median_dbm = np.full((len(self._azimuth), len(self.stations.service)), -60.0)
        return median_dbm, np.full_like(median_dbm, 12.0), np.full_like(median_dbm, 4.0)


def test_good_days_reach_as_far_up_as_the_upper_spread_says() -> None:
    """15.9 % are one upper spread above the median, and 84.1 % above one lower spread below it."""
    here = Told(50, 10, ACTIVE)
    ordinary = here.number_above(JANUARY, NOON)[0] - here._local
    at_median, good, bad = (ordinary[LEVELS_DBM.tolist().index(dbm)] for dbm in (-60.0, -48.0, -64.0))
    assert (at_median > 0.0).any()
    np.testing.assert_allclose(good, 0.1587 / 0.5 * at_median, rtol=2e-3)
    np.testing.assert_allclose(bad, 0.8413 / 0.5 * at_median, rtol=2e-3)


# --- common knowledge, at 50 N 10 E


@pytest.mark.parametrize("sunspots", [QUIET, ACTIVE])
@pytest.mark.parametrize("band", ["49 m", "41 m"])
def test_49_and_41_m_belong_to_the_night(band: str, sunspots: float) -> None:
    """A little in January, when even noon is open, and much in June."""
    assert night_less_noon_db(sunspots, JANUARY, "broadcast", band) >= 2
    assert night_less_noon_db(sunspots, JUNE, "broadcast", band) >= 10


@pytest.mark.parametrize(("service", "band"), [("broadcast", "13 m"), ("amateur", "10 m")])
def test_13_and_10_m_belong_to_noon_in_winter_with_sunspots(service: str, band: str) -> None:
    """In June 13 m stays open late."""
    assert night_less_noon_db(ACTIVE, JANUARY, service, band) <= -30
    if band == "13 m":
        assert loudest_dbm(ACTIVE, JUNE, NIGHT, service, band) > loudest_dbm(
            ACTIVE, JANUARY, NIGHT, service, band
        )


@pytest.mark.parametrize("hour", [0.0, 6.0, 12.0, 18.0])
@pytest.mark.parametrize("month", [JANUARY, JUNE])
@pytest.mark.parametrize("sunspots", [QUIET, ACTIVE])
def test_11_m_broadcasting_is_hardly_ever_there(sunspots: float, month: int, hour: float) -> None:
    """Hardly a transmitter is left: not one hour in ten has one."""
    assert heard(sunspots, month, hour).law.number[row_of("broadcast", "11 m")] < 0.1


@pytest.mark.parametrize("month", [JANUARY, JUNE])
@pytest.mark.parametrize("sunspots", [QUIET, ACTIVE])
def test_80_m_and_distant_medium_wave_belong_to_the_night(sunspots: float, month: int) -> None:
    """In every season."""
    assert night_less_noon_db(sunspots, month, "amateur", "80 m") >= 10
    assert night_less_noon_db(sunspots, month, "broadcast", "medium wave") >= 15


def test_20_m_belongs_to_the_day_in_quiet_winters() -> None:
    """Closed after dark, full at noon."""
    assert night_less_noon_db(QUIET, JANUARY, "amateur", "20 m") <= -20


def test_10_m_wants_sunspots() -> None:
    """Noon in January."""
    quiet, active = (loudest_dbm(spots, JANUARY, NOON, "amateur", "10 m") for spots in (QUIET, ACTIVE))
    assert active > quiet + 10


# --- the figures of an hour


def test_stations_rise_and_go_to_bed() -> None:
    """Numbers follow local time where the station is: fewer amateurs before dawn, all hours of beacons."""
    share = STATIONS.on_the_air(np.array([4.0, 20.0]))
    amateur, beacon = row_of("amateur", "20 m"), row_of("beacon", "20 m")
    assert share[0, amateur] < 0.5 * share[1, amateur]
    assert share[:, beacon].tolist() == [1, 1]


def test_fewer_stations_are_louder_and_none_more_than_there_are() -> None:
    """The number above a level falls as it rises; the world has no more than its table says."""
    ordinary, busy = listening(ACTIVE).number_above(JUNE, NOON)
    assert (np.diff(ordinary, axis=0) <= 1e-9).all()
    assert (ordinary[0] <= STATIONS.number + STATIONS.local + 1e-6).all()
    assert (busy >= ordinary - 1e-9).all()


def test_the_law_stands_for_the_numbers() -> None:
    """Over all services within a factor of 1.5 rms, half of them within 1.15."""
    errors = np.concatenate(
        [heard(spots, JANUARY, hour).law.error for spots in (QUIET, ACTIVE) for hour in (NIGHT, NOON)]
    )
    assert np.quantile(errors, 0.9) < np.log(1.5)
    assert np.median(errors) < np.log(1.15)


def test_one_hour_of_all_services_takes_at_most_60_ms() -> None:
    """Of the processor, best of twelve hours: the machine does other things too."""
    at = listening(ACTIVE)
    at.heard(1, 0.0)
    times = []
    for hour in range(12):
        start = time.process_time()
        at.heard(3, float(hour))
        times.append(time.process_time() - start)
    assert min(times) < 0.060


def test_the_hour_takes_the_place_of_the_year() -> None:
    """Rows of the model get the figures of the hour, estimates keep theirs, and the mark says which."""
    yearly = shipped_activity()
    table = activity_at(listening(ACTIVE), month=JANUARY, utc_hour=NIGHT)
    noon = activity_at(listening(ACTIVE), month=JANUARY, utc_hour=NOON)
    modelled = np.array([mark == MARK for mark in yearly.mark])
    assert [mark for mark, was in zip(table.mark, modelled, strict=True) if was] == ["sky"] * int(
        modelled.sum()
    )
    for figures in ("n_per_mhz", "m_dbm", "s_db"):
        before, after = getattr(yearly, figures), getattr(table, figures)
        assert np.array_equal(before[:, ~modelled], after[:, ~modelled])
    code = np.array([0])
    night_10_m, noon_10_m = (
        t.on_the_air(code, ("amateur",), np.array([28.3e6]), 1, "typical") for t in (table, noon)
    )
    assert noon_10_m.n_per_mhz > 5 * night_10_m.n_per_mhz
    busy = noon.on_the_air(code, ("amateur",), np.array([28.3e6]), 1, "busy")
    assert busy.n_per_mhz > 2 * noon_10_m.n_per_mhz


# --- typical and busy


def test_typical_is_the_median_and_busy_the_mean_of_the_best_tenth() -> None:
    """Twenty hours of 1 to 20 stations: 10 or 11, and 19.5."""
    hours = np.arange(1.0, 21).reshape(20, 1, 1)
    typical, busy = typical_and_busy(hours, hours, np.zeros(1))
    assert typical[0, 0] in (10, 11)
    assert busy[0, 0] == pytest.approx(19.5)


def test_busy_days_count_by_their_share() -> None:
    """A tenth of days with five times as many: all of the best tenth, and hardly the median."""
    hours = np.ones((20, 1, 1))
    typical, busy = typical_and_busy(hours, 5 * hours, np.array([0.1]))
    assert typical[0, 0] == 1
    assert busy[0, 0] == pytest.approx(5)


@pytest.mark.parametrize(
    "region", [1, pytest.param(2, marks=pytest.mark.long), pytest.param(3, marks=pytest.mark.long)]
)
def test_the_shipped_table_is_what_its_script_makes(region: int) -> None:
    """Whoever edits stations or model makes it anew: python -m spurplan.occupancy.sky.activity_table."""
    table = shipped_activity()
    laws = laws_of(region, STATIONS)
    widths = widths_mhz(STATIONS, region)
    model = [row for row in range(len(table.mark)) if table.mark[row] == MARK and table.region[row] == region]
    source = np.flatnonzero(~STATIONS.distant_only)
    keys = [(table.service[row], table.band[row]) for row in model]
    assert keys == [(STATIONS.service[row], STATIONS.band[row]) for row in source]
    for hour, law in enumerate(laws):
        np.testing.assert_allclose(
            table.n_per_mhz[hour, model], law.number[source] / widths[source], rtol=0.01
        )
        np.testing.assert_allclose(table.m_dbm[hour, model], law.median_dbm[source], atol=0.1)
        np.testing.assert_allclose(table.s_db[hour, model], law.spread_db[source], atol=0.1)


# --- the tables of estimates


@pytest.mark.parametrize(
    "name",
    ["activity", "activity_estimates", "sky_regions", "sky_rhythms", "sky_stations", "spot_activity"],
)
def test_every_table_is_that_of_its_source_record(name: str) -> None:
    """Rows and checksum; a table that is edited gets its record written anew."""
    folder = files("spurplan") / "data"
    data = (folder / f"{name}.csv").read_bytes()
    record = parse_record(name, (folder / f"{name}.source.toml").read_bytes())
    assert record.state(data) == UNCHANGED
    assert record.rows == data.count(b"\n") - 1


def test_the_shipped_table_was_made_from_the_stations_that_ship() -> None:
    """Its record says from which; nobody edits a number on the air and forgets the table."""
    record = parse_record("activity", (files("spurplan") / "data" / "activity.source.toml").read_bytes())
    assert made_from() in record.edition


def test_every_estimate_is_marked() -> None:
    """Whoever reads a figure sees that nobody counted it."""
    for name in (
        "sky_regions.csv",
        "sky_rhythms.csv",
        "sky_stations.csv",
        "activity_estimates.csv",
        "spot_activity.csv",
    ):
        data = (files("spurplan") / "data" / name).read_bytes()
        assert set(read_csv(name, ("mark",), data=data).columns["mark"]) == {"[est]"}


def test_damaged_tables_of_stations_are_refused() -> None:
    """All faults at once, each with its row and column."""
    header = (
        b"service,band,low_mhz,high_mhz,freq_mhz,where,stations,eirp_dbkw,spread_db,local,"
        b"rhythm,busy_factor,busy_share,distant_only\n"
    )
    rows = (
        b"amatuer,x,1,2,1.5,moon,1,0,6,0,steady,1,0,no\n"
        b"amateur,x,1,2,1.5,amateur,many,0,6,0,lazy,1,0,perhaps\n"
    )
    with pytest.raises(Refused) as refused:
        stations_of(read_csv("s.csv", data=header + rows), {"steady": np.ones(12)})
    assert refused.value.total == 5
    assert 's.csv, row 2, column service: "amatuer" is not known here; did you mean "amateur"?' in str(
        refused.value
    )
    outside = b"amateur,x,1,2,3,amateur,1,0,6,0,steady,1,0,no\n"
    with pytest.raises(Refused, match=r'column freq_mhz: "3" does not lie from low_mhz 1 to high_mhz 2'):
        stations_of(read_csv("s.csv", data=header + outside), {"steady": np.ones(12)})
    hours = ",".join(f"h{hour:02d}" for hour in range(0, 24, 2))
    with pytest.raises(Refused, match=r'column h22: "2" is not from 0 to 1'):
        rhythms_of(read_csv("r.csv", data=f"rhythm,{hours}\nx,{'1,' * 11}2\n".encode()))
    kinds = "broadcast,amateur,other,standard_frequency,long_wave"
    with pytest.raises(Refused, match=r'column lat: "95" is not from -90 to 90'):
        regions_of(read_csv("g.csv", data=f"region,lat,lon,{kinds}\nx,95,0,1,1,1,1,1\n".encode()))
    with pytest.raises(Refused, match="column long_wave: is nowhere above 0"):
        regions_of(read_csv("g.csv", data=f"region,lat,lon,{kinds}\nx,5,0,1,1,1,1,0\n".encode()))


def test_each_kind_of_station_stands_somewhere() -> None:
    """Shares of the world add up."""
    assert shipped_regions().share.sum(0) == pytest.approx(1)
    assert LEVELS_DBM[0] == FLOOR_DBM
