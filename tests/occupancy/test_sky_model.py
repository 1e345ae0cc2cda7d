"""The sky model: limit cases, symmetry, monotony, what it refuses, its tables and its fit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import norm

from spurplan.errors import Refused
from spurplan.occupancy.shipped import EDITED, UNCHANGED
from spurplan.occupancy.sky import atmospheric_fa_db, coefficients, e_layer, field_dbuv, station_dbm
from spurplan.occupancy.sky.absorption import absorption_factor
from spurplan.occupancy.sky.coefficients import parse_tables, published, source_of
from spurplan.occupancy.sky.geometry import EARTH_RADIUS_KM, Points, bearing_and_distance, destination
from spurplan.occupancy.sky.ground_wave import ground_wave_dbuv
from spurplan.occupancy.sky.level_law import fit_law
from spurplan.occupancy.sky.magnetic_field import dip_and_gyrofrequency
from spurplan.occupancy.sky.medium_wave import night_wave_dbuv
from spurplan.occupancy.sky.path import Paths
from spurplan.occupancy.sky.sun import sun_over
from spurplan.occupancy.sky.variability import share_of_days_open

DOCUMENTS = ("p1239", "p533", "p842", "p372")
# London and New York
ENDS = {"lat": 51.5, "lon": 0.0, "to_lat": 40.7, "to_lon": -74.0}


def at(lat: float, lon: float) -> Points:
    return Points(np.radians([lat]), np.radians([lon]))


def paths(lat: float, lon: float, azimuth_deg: float, distance_km: float, month: int, hour: float) -> Paths:
    single = (np.array([v]) for v in (np.radians(azimuth_deg), distance_km))
    return Paths(at(lat, lon), *single, np.array([month]), np.array([hour]), np.array([70.0]))


# --- arguments


def test_arguments_broadcast_and_each_value_is_that_of_its_own() -> None:
    """An array of hours by an array of frequencies gives what each pair gives alone."""
    hours, mhz = np.arange(0, 24, 5.0), np.array([3.0, 9.5, 21.0])
    table = field_dbuv(**ENDS, frequency_hz=mhz * 1e6, month=4, utc_hour=hours[:, None], r12=90)
    assert table.shape == (5, 3)
    alone = [
        [float(field_dbuv(**ENDS, frequency_hz=f * 1e6, month=4, utc_hour=hour, r12=90)) for f in mhz]
        for hour in hours
    ]
    assert_allclose(table, alone, atol=1e-9)
    noise = atmospheric_fa_db(50, lon=10, month=4, utc_hour=hours[:, None], frequency_hz=mhz * 1e6)
    alone = [
        [
            float(atmospheric_fa_db(50, lon=10, month=4, utc_hour=hour, frequency_hz=f * 1e6).fa_db)
            for f in mhz
        ]
        for hour in hours
    ]
    assert_allclose(noise.fa_db, alone, atol=1e-9)


@pytest.mark.parametrize("long_way", [False, True])
def test_a_path_is_the_same_from_both_ends(long_way: bool) -> None:
    """Reciprocity: control points lie as far from either end; every field is a number."""
    rng = np.random.default_rng(2)
    lat, to_lat = rng.uniform(-85, 85, (2, 300))
    lon, to_lon = rng.uniform(-180, 180, (2, 300))
    when: dict[str, Any] = {
        "frequency_hz": 9.7e6,
        "month": rng.integers(1, 13, 300),
        "utc_hour": rng.uniform(0, 24, 300),
        "r12": 60,
        "long_way": long_way,
    }
    there = field_dbuv(lat, lon=lon, to_lat=to_lat, to_lon=to_lon, **when)
    assert np.isfinite(there).all()
    assert_allclose(there, field_dbuv(to_lat, lon=to_lon, to_lat=lat, to_lon=lon, **when), atol=0.02)


def test_what_lies_outside_the_limits_is_refused_all_at_once() -> None:
    """Each argument with its first value outside; a month that is no whole number is none."""
    with pytest.raises(Refused) as refused:
        field_dbuv(91, lon=0, to_lat=0, to_lon=0, frequency_hz=[1e5, 5e6], month=6.5, utc_hour=25, r12=70)
    assert [fault.place for fault in refused.value.faults] == ["lat", "frequency_hz", "month", "utc_hour"]
    with pytest.raises(Refused, match=r"month: \"13\" is not from 1 to 12"):
        atmospheric_fa_db(0, lon=0, month=13, utc_hour=0, frequency_hz=1e6)
    with pytest.raises(Refused, match="lon"):
        atmospheric_fa_db(0, lon=np.nan, month=1, utc_hour=0, frequency_hz=1e6)


# --- what has to be so


def test_distances_and_places_agree_with_vectors() -> None:
    """Great circles from the angle between two unit vectors; going that far arrives."""

    def vector(lat: float, lon: float) -> np.ndarray:
        return np.array([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])

    rng = np.random.default_rng(1)
    ends = np.radians(np.stack([rng.uniform(-89, 89, (2, 50)), rng.uniform(-180, 180, (2, 50))], 1))
    start, end = Points(*ends[0]), Points(*ends[1])
    azimuth, distance_km = bearing_and_distance(start, end)
    cosines = [vector(*ends[0, :, i]) @ vector(*ends[1, :, i]) for i in range(50)]
    assert_allclose(distance_km, EARTH_RADIUS_KM * np.arccos(cosines), rtol=1e-9)
    arrived = destination(start, azimuth, distance_km)
    assert_allclose(bearing_and_distance(arrived, end)[1], 0, atol=1e-3)


def test_the_sun_keeps_its_calendar() -> None:
    """Declination about 23.4 deg in the middle of June, the same south in December, noon at noon."""
    june, december = (sun_over(at(0, 0), month, 12.0) for month in (6, 12))
    assert np.degrees(june.declination) == pytest.approx(23.3, abs=0.3)
    assert np.degrees(december.declination) == pytest.approx(-23.3, abs=0.3)
    assert np.degrees(june.hour_angle) == pytest.approx(0, abs=4)


def test_the_magnetic_field_points_down_in_the_north() -> None:
    """Dip above 60 deg in middle Europe, south of the dip equator negative; 0.6 to 1.7 MHz everywhere."""
    assert 62 < np.degrees(dip_and_gyrofrequency(at(50, 10), 0.0)[0][0]) < 69
    assert dip_and_gyrofrequency(at(-34, 151), 0.0)[0][0] < 0
    lat, lon = np.meshgrid(np.radians(np.arange(-90, 91, 10.0)), np.radians(np.arange(0, 360, 15.0)))
    gyro = dip_and_gyrofrequency(Points(lat.ravel(), lon.ravel()), 100.0)[1]
    assert gyro.min() > 0.6
    assert gyro.max() < 1.9


def test_the_e_layer_follows_the_sun() -> None:
    """foE is highest near noon, some tenths of a megahertz at night, and rises with sunspots."""
    hours = np.arange(24.0)
    foe = e_layer.critical_frequency_mhz(at(50, 0), 6, hours, 70)
    assert abs(int(np.argmax(foe)) - 12) <= 1
    assert foe[0] < 1.2 < 2.8 < foe[12]
    assert (
        np.diff([e_layer.critical_frequency_mhz(at(50, 0), 6, 12.0, r12)[0] for r12 in (0, 80, 160)]) > 0
    ).all()


def test_absorption_belongs_to_the_day() -> None:
    """At midnight almost none is left of what noon has."""
    dip = np.radians([65.0])
    noon, midnight = (absorption_factor(at(50, 0), dip, 6, hour)[0] for hour in (12.0, 0.0))
    assert midnight < 0.1 * noon


def test_seasons_are_half_a_year_apart_across_the_equator() -> None:
    """Noon of a southern January absorbs as that of a northern July does."""
    south, north = (
        absorption_factor(at(lat, 0), np.radians([dip]), month, 12.0)[0]
        for lat, dip, month in ((-45, -65.0, 1), (45, 65.0, 7))
    )
    assert south == pytest.approx(north, rel=0.02)
    winter = absorption_factor(at(45, 0), np.radians([65.0]), 1, 12.0)[0]
    assert winter < 0.95 * north


def test_low_frequencies_are_for_the_night_and_high_ones_for_the_day() -> None:
    """1000 km: 3 MHz is absorbed at noon; 21 MHz at 4000 km wants daylight and sunspots."""
    low = field_dbuv(50, lon=0, to_lat=50, to_lon=14, frequency_hz=3e6, month=3, utc_hour=[0.0, 12.0], r12=70)
    assert low[0] > low[1] + 20
    high = field_dbuv(
        50, lon=10, to_lat=33, to_lon=52, frequency_hz=21e6, month=1, utc_hour=[0.0, 10.0], r12=120
    )
    assert high[1] > high[0] + 30
    quiet, active = field_dbuv(
        50, lon=10, to_lat=33, to_lon=52, frequency_hz=28e6, month=1, utc_hour=10.0, r12=[10, 130]
    )
    assert active > quiet + 10


def test_medium_wave_is_a_night_wave() -> None:
    """1000 km away it is 25 dB and more louder at midnight than at noon; long wave differs by less."""
    night, noon = (
        night_wave_dbuv(paths(50, 0, 90, 1000, 1, hour), np.array([0.2, 1.0]))[0] for hour in (0.0, 12.0)
    )
    assert night[1] > noon[1] + 25
    assert noon[0] < night[0] < noon[0] + 25
    # the same by way of the one function: 1 kW e.i.r.p. is 4.77 dB below 1 kW into a short monopole
    to = destination(at(50, 0), np.radians([90.0]), 1000.0)
    to_lat, to_lon = np.degrees([to.lat[0], to.lon[0]])
    field = field_dbuv(
        50,
        lon=0,
        to_lat=to_lat,
        to_lon=to_lon,
        frequency_hz=[0.2e6, 1e6, 9e6],
        month=1,
        utc_hour=0.0,
        r12=70,
    )
    assert_allclose(field[:2], night - 4.77, atol=1e-6)
    short = paths(50, 0, 90, 1000, 1, 0.0).field_dbuv(np.array([9.0]))[0]
    assert field[2] == pytest.approx(short[0])


def test_the_ground_wave_begins_at_300_millivolts() -> None:
    """1 kW, 1 km, low frequency: 300 mV/m (109.5 dB); it falls with distance and frequency."""
    assert ground_wave_dbuv(1.0, 0.15) == pytest.approx(109.5, abs=0.1)
    distance_km = np.array([1.0, 10, 100, 1000])
    assert (np.diff(ground_wave_dbuv(distance_km, 1.0)) < 0).all()
    assert (np.diff(ground_wave_dbuv(30.0, np.array([0.2, 1, 5, 20]))) < 0).all()


def test_a_station_next_door_comes_by_the_ground_and_a_far_one_by_the_sky() -> None:
    """Ten times the power is 10 dB; near, the hour does not matter; far, only the sky is left."""
    near = station_dbm(
        50,
        lon=10,
        to_lat=50,
        to_lon=10.1,
        frequency_hz=1e6,
        power_kw=[1, 10],
        month=1,
        utc_hour=[[0.0], [12.0]],
        r12=70,
    )
    assert_allclose(near[:, 1] - near[:, 0], 10)
    assert_allclose(near[0], near[1], atol=0.2)
    # 7.15 km, 1 kW, long wave: 300 mV/m over the distance, with hardly a loss in the ground
    long_wave = station_dbm(
        50, lon=10, to_lat=50, to_lon=10.1, frequency_hz=0.2e6, power_kw=1, month=1, utc_hour=12.0, r12=70
    )
    at_7_km = 109.5 - 20 * np.log10(7.15)
    assert long_wave == pytest.approx(at_7_km - 20 * np.log10(0.2) - 77.2 + 1.76, abs=0.5)
    far = station_dbm(
        50, lon=10, to_lat=33, to_lon=52, frequency_hz=9.7e6, power_kw=100, month=1, utc_hour=18.0, r12=70
    )
    field = field_dbuv(50, lon=10, to_lat=33, to_lon=52, frequency_hz=9.7e6, month=1, utc_hour=18.0, r12=70)
    assert far == pytest.approx(field + 20 - 20 * np.log10(9.7) - 77.2 + 1.76, abs=0.01)
    with pytest.raises(Refused, match="power_kw"):
        station_dbm(
            50, lon=10, to_lat=33, to_lon=52, frequency_hz=9.7e6, power_kw=0, month=1, utc_hour=18.0, r12=70
        )


def test_noise_falls_with_frequency_and_rises_towards_the_tropics() -> None:
    """Thunderstorms are in the tropics, and their noise falls by some 20 dB a decade and more."""
    mhz = np.array([0.2, 0.5, 1, 3, 10])
    night = atmospheric_fa_db(50, lon=10, month=7, utc_hour=22, frequency_hz=mhz * 1e6)
    assert (np.diff(night.fa_db) < 0).all()
    assert (night.upper_db > 0).all()
    assert (night.lower_db > 0).all()
    assert (
        atmospheric_fa_db(5, lon=10, month=7, utc_hour=22, frequency_hz=1e6).fa_db
        > atmospheric_fa_db(65, lon=10, month=7, utc_hour=22, frequency_hz=1e6).fa_db + 10
    )


def test_days_are_open_below_the_muf() -> None:
    """Half of all days at the median MUF, nearly all well below it, none far above."""
    day = paths(50, 0, 90, 2500, 3, 12.0)
    shares = day.share_of_days_open(day.muf_mhz[:, None] * np.array([0.5, 0.9, 1.0, 1.1, 2.0]))[0]
    assert shares[2] == pytest.approx(0.5)
    assert (np.diff(shares) <= 0).all()
    assert shares[0] > 0.9
    assert shares[4] < 0.1


@pytest.mark.parametrize(
    ("lat", "month", "season"),
    [(40, 1, 0), (40, 4, 1), (40, 7, 2), (-40, 1, 2), (-40, 4, 1), (-40, 7, 0)],
    ids=["north-winter", "north-equinox", "north-summer", "south-summer", "south-equinox", "south-winter"],
)
def test_a_decile_of_the_muf_is_that_of_the_season_there(lat: float, month: int, season: int) -> None:
    """The lower decile is exceeded on nine days in ten, the upper on one; the head of the table has winter,
    equinox and summer in this order, and January is winter north of the equator."""
    # sunspots of 50 to 100, 40 deg, midnight by local time
    deciles = published("p1239")["muf_deciles"][:, :, 1, 4, 0]
    assert len({tuple(pair) for pair in deciles.T.tolist()}) == 3
    share = share_of_days_open(deciles[:, season], at(lat, 0), np.array([month]), 0.0, 70.0)
    assert_allclose(share, [0.9, 0.1], atol=1e-9)


def test_weak_fields_vary_more_from_day_to_day() -> None:
    """Rec. P.842 table 2: deciles of 6 and 8 dB below 0.8 of the MUF, 13 and 10 dB at 1.3 of it."""
    day = paths(50, 0, 90, 2500, 3, 12.0)
    upper, lower = day.day_to_day_db(day.muf_mhz[:, None] * np.array([0.5, 1.3]))
    assert upper[0].tolist() == [6, 13]
    assert lower[0].tolist() == [8, 10]


# --- tables


@pytest.mark.parametrize("document", DOCUMENTS)
def test_tables_are_those_of_their_source_record(document: str) -> None:
    """Checksum and lines; every number finite; one more byte is noticed."""
    data = (coefficients.files("spurplan.occupancy.sky") / "tables" / f"{document}.txt").read_bytes()
    record = source_of(document)
    assert record.state(data) == UNCHANGED
    assert record.state(data + b"\n") == EDITED
    assert record.rows == data.count(b"\n")
    assert all(np.isfinite(table).all() for table in published(document).values())


def test_a_table_that_was_changed_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A field worked out from damaged numbers would look like any other."""
    monkeypatch.setattr(coefficients, "source_of", lambda document: source_of("p1239"))
    with pytest.raises(Refused, match=r"p533\.txt: differs from its source record"):
        published.__wrapped__("p533")


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("[a] 1 2 2\n1 2\n3\n", r"row 1: \"a\" has 3 numbers, its shape wants 4"),
        ("[a] 1 2\n1 x\n", r"row 2: \"1 x\" is neither"),
        ("[a] 1 2\n1 nan\n", r"row 2: \"1 nan\" is neither"),
        ("1 2\n", r"row 1: \"1 2\" is neither"),
        ("[a one 2\n1 2\n", r"row 1: \"\[a one 2\" is neither"),
    ],
)
def test_a_damaged_table_is_refused_with_its_line(text: str, fault: str) -> None:
    """A number too few shifts all that follow."""
    with pytest.raises(Refused, match=fault):
        parse_tables("t.txt", text)


def test_numbers_come_in_the_unit_of_their_head() -> None:
    """Whole steps in the file, plain units in the array; the last axis along the line."""
    tables = parse_tables("t.txt", "# words\n[a] 0.5 2 2\n1 2\n3 4\n[b] 1 1\n7\n")
    assert tables["a"].tolist() == [[0.5, 1], [1.5, 2]]
    assert tables["b"].tolist() == [7]


# --- the law of levels


@settings(max_examples=50, deadline=None)
@given(st.floats(-105, -40), st.floats(5, 22), st.floats(0.5, 500))
def test_a_planted_law_is_found_again(median: float, spread: float, number: float) -> None:
    """Stations that follow a law are described by it."""
    levels = np.arange(-120.0, 41, 4)
    planted = number * norm.sf((levels - median) / spread)
    law = fit_law(levels, planted[:, None])
    assert law.number[0] == pytest.approx(planted[0])
    refit = law.number[0] * norm.sf((levels - law.median_dbm[0]) / law.spread_db[0])
    counted = (planted > max(0.02, 0.005 * planted[0])) & (planted < 0.9 * planted[0])
    assert_allclose(refit[counted], planted[counted], rtol=0.15)


def test_where_nobody_is_the_law_is_plain() -> None:
    """No division by nothing; the number says it."""
    law = fit_law(np.arange(-120.0, 41, 4), np.zeros((41, 1)))
    assert [float(part[0]) for part in law] == [0, -120, 10, 0]
