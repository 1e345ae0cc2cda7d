"""The tables that ship: whole, as recorded, in order, covering what they claim."""

from __future__ import annotations

import csv
import hashlib
import io

import numpy as np
import pytest

from spurplan.occupancy.band_rows import SERVICES
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.occupancy.shipped import UNCHANGED, record_beside, shipped_folder, shipped_tables

NAMES = sorted(shipped_tables())


@pytest.fixture(scope="module")
def shipped() -> Bands:
    return read_bands()


def rows_of(name: str) -> list[dict[str, str]]:
    """Return the rows of a table by the standard module alone."""
    return list(csv.DictReader(io.StringIO(shipped_tables()[name].read_text(encoding="utf-8"), newline="")))


def test_every_table_has_a_record_and_every_record_a_table() -> None:
    names = {entry.name for entry in shipped_folder().iterdir()}
    tables = {name.removesuffix(".csv") for name in names if name.endswith(".csv")}
    records = {name.removesuffix(".source.toml") for name in names if name.endswith(".source.toml")}
    assert tables == records
    assert len(tables) >= 12


@pytest.mark.parametrize("name", NAMES)
def test_a_table_is_what_its_record_says(name: str) -> None:
    """Row count, hash, and the rows from memory, which name themselves so in `source`."""
    entry = shipped_tables()[name]
    record = record_beside(entry)
    assert record is not None
    data = entry.read_bytes()
    rows = rows_of(name)
    assert record.rows == len(rows)
    assert record.sha256 == hashlib.sha256(data).hexdigest()
    assert record.state(data) == UNCHANGED
    memory = tuple(line for line, row in enumerate(rows, 2) if "from memory" in row["source"])
    assert record.from_memory == memory
    assert all((record.document, record.edition, record.section, record.date, record.changed))


@pytest.mark.parametrize("name", NAMES)
def test_a_table_has_no_blank_lines_no_odd_columns_and_lf_ends(name: str, shipped: Bands) -> None:
    (info,) = [info for info in shipped.tables if info.name == name]
    assert (info.blank_lines, info.other_columns) == (0, ())
    data = shipped_tables()[name].read_bytes()
    assert b"\r" not in data
    assert data.endswith(b"\n")


def test_every_row_has_a_known_service_a_region_and_a_source(shipped: Bands) -> None:
    assert shipped.unknown_services == ()
    assert set(np.unique(shipped.service)) == set(range(len(SERVICES)))
    assert (shipped.region >= 0).all()
    assert (shipped.source >= 0).all()


@pytest.mark.parametrize("name", [name for name in NAMES if name not in ("beacons.csv",)])
def test_rows_ascend_within_a_table(name: str, shipped: Bands) -> None:
    """By low edge; segments and rasters within each region, beacons by band and slot."""
    number = [info.name for info in shipped.tables].index(name)
    mine = shipped.table == number
    low, region, raster = shipped.low_hz[mine], shipped.region[mine], shipped.raster_hz[mine]
    if name == "amateur_segments.csv":
        for code in np.unique(region):
            assert (np.diff(low[region == code]) >= 0).all()
    elif name == "broadcast_rasters.csv":
        assert (np.diff(low[raster == 5_000]) >= 0).all()
    else:
        assert (np.diff(low) >= 0).all()


def test_no_row_stands_twice(shipped: Bands) -> None:
    """Same edges, label and region once only."""
    seen = [
        (int(a), int(b), int(r), int(lab), word)
        for a, b, r, lab, region in zip(
            shipped.low_hz, shipped.high_hz, shipped.raster_hz, shipped.label, shipped.region, strict=True
        )
        for word in (shipped.regions[region].replace("W", "1;2;3").split(";"))
    ]
    assert len(seen) == len(set(seen))


@pytest.mark.parametrize("region", [1, 2, 3])
def test_from_100_khz_to_108_mhz_every_hertz_is_covered(region: int, shipped: Bands) -> None:
    """The one gap is a band of radio astronomy, in which nobody may transmit.

    ITU Radio Regulations, Article 5: 25550-25670 kHz RADIO ASTRONOMY (from memory).
    """
    low, high = shipped.reach(region)
    assert low <= 100_000
    assert high >= 108_000_000
    gaps = [gap for gap in shipped.gaps(region) if gap[1] >= 100_000 and gap[0] <= 108_000_000]
    assert gaps == [(25_550_001, 25_669_999)]


def test_segments_lie_inside_amateur_allocations(shipped: Bands) -> None:
    """Every segment of a band plan lies inside what is allocated to amateurs in its region."""
    names = [info.name for info in shipped.tables]
    allocated = (shipped.table == names.index("amateur.csv")) & (shipped.bandwidth_hz == 0)
    segments = np.flatnonzero(shipped.table == names.index("amateur_segments.csv"))
    outside = []
    for region in (1, 2, 3):
        here = shipped.in_region(region)
        spans: list[list[int]] = []
        for low, high in sorted(
            zip(
                shipped.low_hz[allocated & here].tolist(),
                shipped.high_hz[allocated & here].tolist(),
                strict=True,
            )
        ):
            if spans and low <= spans[-1][1]:
                spans[-1][1] = max(spans[-1][1], high)
            else:
                spans.append([low, high])
        for row in segments[here[segments]].tolist():
            low, high = int(shipped.low_hz[row]), int(shipped.high_hz[row])
            if not any(a <= low and high <= b for a, b in spans):
                outside.append((region, low, high))
    assert outside == []
    assert len(segments) > 150


def test_amateur_rows_outside_the_allocations_of_article_5() -> None:
    """The exceptions, each with its reason.

    1850-2000 kHz in Region 1: national allocations (RR 5.96). 5332, 5348, 5373 and
    5405 kHz: channels of the USA kept beside 5351.5-5366.5 kHz (FCC 25-60, 2025).
    """
    notes = {row["freq_khz"] or row["low_khz"]: row["source"] for row in rows_of("amateur.csv")}
    assert "IARU Region 1" in notes["1850"]
    assert {khz for khz, source in notes.items() if "FCC 25-60" in source} == {"5332", "5348", "5373", "5405"}


def test_closed_and_historic_stations_are_left_out(shipped: Bands) -> None:
    """500 kHz Morse distress, HBG on 75 kHz, the teleprinter distress spots of before WRC-23."""
    spots = shipped.low_hz[shipped.low_hz == shipped.high_hz]
    for khz in (75, 500, 2174.5, 4177.5, 6268, 8364, 8376.5, 12520, 16695, 7335):
        assert not (spots == round(khz * 1000)).any()


def test_tables_of_a_checkout_are_found_from_any_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: pytest.TempPathFactory
) -> None:
    monkeypatch.chdir(str(tmp_path))
    assert len(read_bands()) > 600


def rows_from(name: str, low_khz: str, high_khz: str, region: str) -> list[dict[str, str]]:
    """Return the rows of a table that stand for a region with exactly these edges."""
    return [
        row
        for row in rows_of(name)
        if (row["low_khz"], row["high_khz"]) == (low_khz, high_khz)
        and (row["region"] == "W" or region in row["region"].split(";"))
    ]


# RR Art. 5, from memory: fixed and mobile beside the amateurs and the broadcasters they share with.
@pytest.mark.parametrize(
    ("khz", "region"),
    [(1_900, 1), (10_125, 1), (10_125, 2), (10_125, 3)]
    + [(khz, region) for khz in (2_400, 3_300, 4_800, 4_900, 5_030) for region in (1, 2, 3)],
)
def test_fixed_and_mobile_stand_in_the_bands_they_share(khz: int, region: int, shipped: Bands) -> None:
    here = shipped.in_region(region) & (shipped.low_hz <= khz * 1000) & (khz * 1000 <= shipped.high_hz)
    assert "fixed_mobile" in {shipped.services[code] for code in shipped.service[here]}


# RR Art. 5 with 5.77, from memory: aeronautical radionavigation to 526.5 kHz, but for the 10 kHz about 500.
@pytest.mark.parametrize("region", [1, 2, 3])
@pytest.mark.parametrize("khz", [425, 450, 475, 490, 520])
def test_aircraft_beacons_reach_up_to_medium_wave(khz: int, region: int, shipped: Bands) -> None:
    here = shipped.in_region(region) & (shipped.low_hz <= khz * 1000) & (khz * 1000 <= shipped.high_hz)
    assert "Aircraft radiobeacons" in {shipped.labels[code] for code in shipped.label[here]}


def test_no_beacon_stands_on_the_old_distress_frequency(shipped: Bands) -> None:
    beacon = shipped.service == SERVICES.index("radionavigation")
    assert not (beacon & (shipped.low_hz <= 500_000) & (shipped.high_hz >= 500_000)).any()


def test_what_is_closed_or_hardly_used_says_so_in_its_row() -> None:
    """Long wave and 11 m, in the table of bands and in that of carriers."""
    for name in ("broadcast.csv", "broadcast_rasters.csv"):
        notes = {(row["label"].split(" broadcast")[0], row["note"]) for row in rows_of(name)}
        assert any(label.startswith("Long wave") and "closed" in note for label, note in notes)
        assert any(label == "11 m" and "nearly unused" in note for label, note in notes)


@pytest.mark.parametrize("name", ["broadcast.csv", "broadcast_rasters.csv"])
def test_every_row_of_a_tropical_band_says_where_its_stations_are(name: str) -> None:
    rows = [row for row in rows_of(name) if row["label"].split()[0] in ("120", "90", "60")]
    assert len(rows) >= 4
    assert all("tropical zone alone (RR 5.113)" in row["note"] for row in rows)


# WRC-12, from memory: bands of oceanographic radar, kHz, that are the same in all Regions.
@pytest.mark.parametrize(
    ("low_khz", "high_khz"),
    [("4438", "4488"), ("5250", "5275"), ("13450", "13550"), ("16100", "16200")],
)
def test_coastal_radar_has_its_bands(low_khz: str, high_khz: str) -> None:
    (row,) = rows_from("radionavigation.csv", low_khz, high_khz, "1")
    assert (row["label"], row["region"]) == ("Coastal radar", "W")


def test_over_the_horizon_radar_is_named_where_it_works_and_covers_nothing_by_itself() -> None:
    """It wanders over short wave: a row for it would put somebody on every hertz of the dial."""
    short = [row for row in rows_of("fixed_mobile.csv") if 9_000 < float(row["low_khz"] or 0) < 25_000]
    named = [row for row in short if "over-the-horizon radars" in row["note"]]
    assert len(named) > 20
    assert not any("horizon" in row["label"] for name in NAMES for row in rows_of(name))


def test_what_one_country_allows_bears_its_name() -> None:
    """The country stands in the label, which is what answers show; a table knows regions and no borders."""
    channels = [row for row in rows_of("citizens.csv") if row["service"] == "citizens"]
    national = {row["label"]: row["note"] for row in channels if "national" in row["note"]}
    assert set(national) == {f"CB, {of} channel" for of in ("UK FM", "Australian", "New Zealand", "Japanese")}
    assert "the United Kingdom alone" in national["CB, UK FM channel"]
    assert {row["region"] for row in channels if row["label"] not in national} == {"1;2"}
