"""The tables that ship: whole, as recorded, in order, covering what they claim."""

from __future__ import annotations

import csv
import hashlib
import io
import re

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


# --- one row against another, and against its own words ---------------------------------------


def edges_khz(row: dict[str, str]) -> tuple[float, float]:
    """Return the edges of a row; of a single frequency it twice."""
    spot = row.get("freq_khz") or ""
    return float(row.get("low_khz") or spot), float(row.get("high_khz") or spot)


def stands_in(row: dict[str, str], region: int) -> bool:
    return row["region"] == "W" or str(region) in row["region"].split(";")


KILOHERTZ = re.compile(r"([0-9]+(?:\.[0-9]+)?) kHz")
MEGAHERTZ = re.compile(r"([0-9]+)(\.[0-9]+)? MHz")
METRES = re.compile(r"([0-9]+) m\b")


@pytest.mark.parametrize("name", NAMES)
def test_a_row_lies_where_its_label_says(name: str) -> None:
    """The frequency of a label is the carrier of its row, in the middle or, of one sideband, at its low end.

    A band of ships is called by the megahertz it begins in, any other lies about the one it is called by; one
    called by the metre has such a wavelength to a tenth: names of the trade are round (common practice). c is
    299,792.458 km/s.
    """
    for row in rows_of(name):
        low, high = edges_khz(row)
        for khz in map(float, KILOHERTZ.findall(row["label"])):
            assert khz == (low if row["mode"] == "ssb" else (low + high) / 2), row
        for whole, part in MEGAHERTZ.findall(row["label"]):
            if row["label"].startswith("Ships"):
                assert low // 1_000 == int(whole), row
            else:
                assert (low + high) / 2 == pytest.approx(1_000 * float(whole + part), rel=5e-3), row
        if metres := METRES.match(row["label"]):
            for khz in (low, high):
                assert 299_792.458 / khz == pytest.approx(float(metres[1]), rel=0.1), row


# Appendix 1 of the Radio Regulations: one sideband of speech is J3E, 2K80 wide (2.8 kHz), its carrier at the
# low end of it. Width of a NAVTEX or safety channel: 500 Hz (App. 15 and 17, from memory).
def test_a_channel_is_as_wide_as_what_is_sent_in_it() -> None:
    for name in ("aeronautical.csv", "maritime.csv"):
        for row in rows_of(name):
            low, high = edges_khz(row)
            if row["mode"] == "ssb" and high - low < 10:
                assert high - low == pytest.approx(2.8), row
            if row["label"].startswith(("NAVTEX", "Safety", "Distress and safety, digital")):
                assert row["bandwidth_khz"] == "0.5", row


# AIP Ireland, ENR (Shannon) and ICAO EUR and NAT documents; RR App. 15 (search and rescue); lists of the
# military network; carriers in kHz, from memory.
AIRCRAFT_KHZ = {
    "Shannon VOLMET": [3413, 5505, 8957, 13264],
    "New York / Gander VOLMET": [3485, 6604, 10051, 13270],
    "Pacific VOLMET": [2863, 6679, 8828, 13282],
    "Search and rescue": [3023, 5680],
    "Military aircraft, global network": [4724, 8992, 11175, 13200, 15016],
}


def test_the_channels_of_aircraft_are_those_published_and_lie_in_their_bands() -> None:
    """Weather and rescue in the bands of routes or at their upper edge, military ones off the routes."""
    rows = rows_of("aeronautical.csv")
    found: dict[str, list[float]] = {}
    for row in rows:
        if KILOHERTZ.search(row["label"]):
            found.setdefault(KILOHERTZ.sub("", row["label"]).strip(), []).append(edges_khz(row)[0])
    assert found == AIRCRAFT_KHZ
    bands = [row for row in rows if row["label"].startswith("Aircraft")]
    for name, carriers in AIRCRAFT_KHZ.items():
        of = "(OR)" if name.startswith("Military") else "(R)"
        mine = [edges_khz(row) for row in bands if of in row["label"]]
        for khz in carriers:
            assert any(low <= khz <= high for low, high in mine), (name, khz)


# Radio Regulations, Article 5 (from memory): where two of these share what they have, in kHz. Radar of coasts
# and industry stand in the bands of others and are left out; so are single channels.
SHARED_KHZ = {
    (1_850, 2_000): {"amateur.csv", "fixed_mobile.csv"},  # 5.96
    (2_300, 2_495): {"broadcast.csv", "fixed_mobile.csv"},  # 5.113, as the next three of broadcasting
    (2_300, 2_498): {"broadcast.csv", "fixed_mobile.csv"},
    (3_200, 3_400): {"broadcast.csv", "fixed_mobile.csv"},
    (3_900, 3_950): {"broadcast.csv", "aeronautical.csv"},
    (4_750, 4_850): {"broadcast.csv", "aeronautical.csv", "fixed_mobile.csv"},
    (4_850, 4_995): {"broadcast.csv", "fixed_mobile.csv"},
    (5_005, 5_060): {"broadcast.csv", "fixed_mobile.csv"},
    (10_100, 10_150): {"amateur.csv", "fixed_mobile.csv"},
}
TILES = ("aeronautical.csv", "amateur.csv", "broadcast.csv", "fixed_mobile.csv", "maritime.csv",
         "standard_frequency.csv")  # fmt: skip


@pytest.mark.parametrize("region", [1, 2, 3])
def test_no_band_reaches_into_that_of_its_neighbour(region: int) -> None:
    """From medium wave to 30 MHz each ends where the next begins, but for what they share by the Regulations.

    There are no gaps (checked above): an edge that is off by a kilohertz makes one, or a band in a band.
    """
    spans = sorted(
        (*edges_khz(row), name)
        for name in TILES
        for row in rows_of(name)
        if stands_in(row, region) and edges_khz(row)[0] >= 526.5 and edges_khz(row)[1] <= 30_000
        if edges_khz(row)[1] - edges_khz(row)[0] > 3
    )
    assert len(spans) > 80
    for at, (low, high, name) in enumerate(spans):
        for other_low, other_high, other in spans[at + 1 :]:
            both = (max(low, other_low), min(high, other_high))
            if both[0] < both[1]:
                assert {name, other} <= SHARED_KHZ.get(both, set()), (both, name, other)


# What the band plans of the IARU leave open between their segments, kHz: a guard below what satellites send
# down (all Regions), and what that of Region 3 does not tell. From memory.
LEFT_OPEN_KHZ = {
    1: {(29_510, 29_520)},
    2: {(29_510, 29_520)},
    3: {(29_510, 29_520), (1_800, 1_830), (3_510, 3_535)},
}
# and where two segments tell of the same: stations nobody attends, and long distances, among all modes
TOLD_TWICE_KHZ = {1: {(3_600, 3_620)}, 2: set[tuple[int, int]](), 3: {(3_775, 3_800)}}


@pytest.mark.parametrize("region", [1, 2, 3])
def test_segments_of_a_band_plan_follow_each_other(region: int) -> None:
    """From one end of an amateur band to the other, wherever a plan tells of it at all."""
    segments = sorted(edges_khz(row) for row in rows_of("amateur_segments.csv") if stands_in(row, region))
    bands: list[tuple[float, float]] = []
    for row in rows_of("amateur.csv"):
        low, high = edges_khz(row)
        if stands_in(row, region) and low < high:
            # 160 m is one band in two rows
            bands = (
                [*bands[:-1], (bands[-1][0], high)]
                if bands and bands[-1][1] == low
                else [*bands, (low, high)]
            )
    told, gaps, twice = 0, set(), set()
    for begin, end in bands:
        mine = [(low, high) for low, high in segments if begin <= low and high <= end]
        told += len(mine)
        at = begin
        for low, high in [*mine, (end, end)] if mine else []:
            gaps |= {(at, low)} if low > at else set()
            twice |= {(low, min(at, high))} if low < at else set()
            at = max(at, high)
    assert told == len(segments) > 30
    assert (gaps, twice) == (LEFT_OPEN_KHZ[region], TOLD_TWICE_KHZ[region])


def test_channels_fill_the_bands_they_are_of() -> None:
    """A row of carriers begins and ends on a multiple of its step, or a whole number of steps apart."""
    for name in ("broadcast_rasters.csv", "citizens.csv"):
        for row in rows_of(name):
            if not row["raster_khz"]:
                continue
            low, high = edges_khz(row)
            step = float(row["raster_khz"])
            assert ((high - low) / step).is_integer(), row
            assert 0.0 < float(row.get("bandwidth_khz") or step) <= max(step, 150.0), row


def test_the_tables_that_ship_are_read_once_and_cannot_be_written_into() -> None:
    """Every question of a process is about the same rows, so that none may change them for the next."""
    bands = read_bands()
    assert read_bands() is bands
    for name in (*bands.column_names, "sites"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(bands, name)[:1] = 0
