"""The tables that ship: whole, as recorded, in order, covering what they claim."""

from __future__ import annotations

import csv
import hashlib
import io

import numpy as np
import pytest

from spurplan.occupancy.bands import Bands, read_bands
from spurplan.occupancy.rows import SERVICES
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
