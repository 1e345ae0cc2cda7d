"""station is the inverse of ranges: each stretch of one is a stretch of the other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.errors import Refused
from spurplan.occupancy.bands import read_bands
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.station import occupants_of_station
from tests.oracle import connect, exact, plain, sets

ORDERS = {"lo_order": 4, "rf_order": 2}
ROUTES = {n: exact.routes(n, 4, 2) for n in (1, 2)} | {3: exact.routes(3, 1, 1)}
KINDS = ("single", "double", "converter")


def random_case(seed: int, folder: Path) -> tuple[Receiver, Path, list[tuple[int, int]]]:
    rng = np.random.default_rng(seed)
    described = sets.receiver(rng, KINDS[seed % 3], dials=2_000_000, scale=20_000_000)
    stations = sets.occupants(rng, plain.chains(described), ROUTES)[:25]
    return Receiver.from_dict(described), connect.band_table(folder, stations), stations


def stretches(records: list[dict[str, Any]]) -> set[tuple[Any, ...]]:
    """Return records as (range, route, row, first and last dial, grade)."""
    return {
        (r["range"], r["equation"], r["row"], r["dial_low_hz"], r["dial_high_hz"], r["grade"])
        for r in records
    }


@pytest.mark.parametrize("seed", range(12))
def test_every_stretch_of_ranges_is_one_of_station_and_back(seed: int, tmp_path: Path) -> None:
    """Asked label by label, station gives exactly what ranges gives of all of them."""
    receiver, table, _ = random_case(seed, tmp_path)
    across = spurplan.ranges(receiver, bands=table, everything=True, **ORDERS).intrusions.records()
    labels = sorted({r["label"] for r in across})
    assert labels
    one_by_one: set[tuple[Any, ...]] = set()
    for label in labels:
        answer = spurplan.station(receiver, bands=table, label=label, everything=True, **ORDERS)
        one_by_one |= stretches([r for r in answer.intrusions if r["label"] == label])
    assert one_by_one == stretches(across)


def test_a_band_asked_as_one_carrier_stands_in_its_place(tmp_path: Path) -> None:
    """A band that begins below a station becomes a carrier above the station's lower edge: both are found."""
    receiver, *_ = random_case(0, tmp_path)
    hz = receiver.ranges[0].low_hz + 10_000
    table = tmp_path / "both.csv"
    table.write_text(
        "low_hz,high_hz,freq_hz,bandwidth_hz,service,label\n"
        f"{hz - 50_000},{hz + 50_000},,,amateur,band\n"
        f",,{hz},9000,broadcast,station\n",
        encoding="utf-8",
    )
    occupants = occupants_of_station(receiver, read_bands(table), Settings(), hz, None)
    names = [occupants.labels[code] for code in occupants.label]
    edges = zip(names, occupants.low_hz.tolist(), occupants.high_hz.tolist(), strict=True)
    assert list(edges) == [("station", hz - 4_500, hz + 4_500), ("band", hz, hz)]


@pytest.mark.parametrize("seed", range(6))
def test_a_spot_is_found_by_its_frequency(seed: int, tmp_path: Path) -> None:
    """A station on one frequency turns up where ranges has it; wider rows there as that frequency."""
    receiver, table, stations = random_case(seed, tmp_path)
    across = spurplan.ranges(receiver, bands=table, everything=True, **ORDERS).intrusions.records()
    spots = [(row, low) for row, (low, high) in enumerate(stations, start=2) if low == high]
    assert spots
    for row, hz in spots[:6]:
        answer = spurplan.station(receiver, bands=table, frequency=hz, everything=True, **ORDERS)
        of_row = [r for r in answer.intrusions if r["row"] == row]
        assert stretches(of_row) == stretches([r for r in across if r["row"] == row])
        assert all(r["rf_low_hz"] == r["rf_high_hz"] == hz for r in answer.intrusions)


def test_a_station_in_no_table_is_asked_all_the_same(tmp_path: Path) -> None:
    """Nobody listed it: a carrier of the loudest typical level, and the row says so."""
    receiver, table, _ = random_case(0, tmp_path)
    hz = 25_999_999_999
    answer = spurplan.station(receiver, bands=table, frequency=hz, everything=True, **ORDERS)
    assert set(answer.intrusions["service"]) | set(answer.wanted["service"]) <= {"unlisted"}


def test_a_station_that_is_silent_then_is_said_to_be(tmp_path: Path) -> None:
    """Neither in no table, nor heard: it has hours, and the hour asked about is none of them."""
    receiver, _, _ = random_case(0, tmp_path)
    table = tmp_path / "hours.csv"
    table.write_text("freq_khz,service,label,hours\n15130,broadcast,Radio Marrowmere,1800-2200\n", "utf-8")
    for asked in ({"frequency": "15130 kHz"}, {"label": "marrowmere"}):
        with pytest.raises(Refused, match="is silent at that time: Radio Marrowmere; leave --utc"):
            spurplan.station(receiver, bands=table, **asked, utc="0300")
        assert spurplan.station(receiver, bands=table, **asked, utc="1900")
    assert spurplan.station(receiver, bands=table, frequency="15131 kHz", utc="0300")


@pytest.mark.parametrize(
    ("when", "on_air"),
    [
        ({}, True), ({"day": "sat"}, True), ({"day": "mon"}, False), ({"utc": "1900"}, True),
        ({"utc": "0300"}, False), ({"utc": "1900", "day": "sat"}, True),
        ({"utc": "1900", "day": "sun"}, False), ({"utc": "0300", "day": "sat"}, False),
        ({"utc": "0300", "place": "52N,5E", "month": 6}, False),
    ],
)  # fmt: skip
@pytest.mark.parametrize("asked", [{"frequency": "15130 kHz"}, {"label": "marrow"}])
def test_a_station_is_never_unlisted_for_being_silent(
    asked: dict[str, str], when: dict[str, Any], on_air: bool, tmp_path: Path
) -> None:
    """Saturdays from 1800 to 2200: by day, by hour or by both it is itself, or it is said to be silent."""
    receiver, _, _ = random_case(0, tmp_path)
    table = tmp_path / "days.csv"
    table.write_text(
        "freq_khz,service,label,hours,days\n15130,broadcast,Radio Marrowmere,1800-2200,sat\n", "utf-8"
    )
    if on_air:
        answer = spurplan.station(receiver, bands=table, **asked, **when, everything=True)
        rows = [*answer.intrusions.records(), *answer.wanted.records()]
        assert {row["label"] for row in rows} == {"Radio Marrowmere"}
    else:
        with pytest.raises(Refused, match="is silent at that time: Radio Marrowmere"):
            spurplan.station(receiver, bands=table, **asked, **when)


def test_label_and_frequency_exclude_each_other(tmp_path: Path) -> None:
    """Neither or both is refused, and a label that is nowhere."""
    receiver, table, _ = random_case(0, tmp_path)
    for given in ({}, {"frequency": 7_000_000, "label": "0"}):
        with pytest.raises(Refused, match="give one of them"):
            spurplan.station(receiver, bands=table, **given)
    with pytest.raises(Refused, match='"no such label" is in no label'):
        spurplan.station(receiver, bands=table, label="no such label")
