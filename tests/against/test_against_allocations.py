"""Shipped allocations and spots against the published limits, by source."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import zip_longest
from typing import Any

from spurplan.occupancy.bands import Bands, read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.frequency_index import OccupantIndex
from tests.outside import Differences, against


@cache
def shipped() -> Bands:
    return read_bands()


def spans(table: str, region: int, joined: bool = True) -> list[tuple[float, float]]:
    """Return the bands of a table in a region in kHz, adjoining ones joined."""
    bands = shipped()
    names = [info.name for info in bands.tables]
    keep = (bands.table == names.index(table)) & bands.in_region(region) & (bands.low_hz < bands.high_hz)
    out: list[list[float]] = []
    for low, high in sorted(zip(bands.low_hz[keep] / 1000, bands.high_hz[keep] / 1000, strict=True)):
        if joined and out and low <= out[-1][1]:
            out[-1][1] = max(out[-1][1], high)
        else:
            out.append([low, high])
    return [(a, b) for a, b in out]


def spots(table: str, region: int | None = None) -> dict[float, list[str]]:
    """Return the single frequencies of a table in kHz, with their labels."""
    bands = shipped()
    names = [info.name for info in bands.tables]
    keep = (bands.table == names.index(table)) & bands.in_region(region) & (bands.low_hz == bands.high_hz)
    out: dict[float, list[str]] = {}
    for hz, label in zip(bands.low_hz[keep].tolist(), bands.label[keep].tolist(), strict=True):
        out.setdefault(hz / 1000, []).append(bands.labels[label])
    return out


# 47 CFR 97.301(a) to (d), limits by ITU Region, kHz (2009 and 2021 editions); 630 m
# RR 5.80A; 60 m RR 5.133B (WRC-15); 6 m of Region 1 WRC-19; 1850-2000 kHz of
# Region 1 IARU HF band plan of 16 Oct 2020.
AMATEUR_KHZ = {
    "2200 m": {1: (135.7, 137.8), 2: (135.7, 137.8), 3: (135.7, 137.8)},
    "630 m": {1: (472, 479), 2: (472, 479), 3: (472, 479)},
    "160 m": {1: (1810, 2000), 2: (1800, 2000), 3: (1800, 2000)},
    "80 m": {1: (3500, 3800), 2: (3500, 4000), 3: (3500, 3900)},
    "60 m": {1: (5351.5, 5366.5), 2: (5351.5, 5366.5), 3: (5351.5, 5366.5)},
    "40 m": {1: (7000, 7200), 2: (7000, 7300), 3: (7000, 7200)},
    "30 m": {1: (10100, 10150), 2: (10100, 10150), 3: (10100, 10150)},
    "20 m": {1: (14000, 14350), 2: (14000, 14350), 3: (14000, 14350)},
    "17 m": {1: (18068, 18168), 2: (18068, 18168), 3: (18068, 18168)},
    "15 m": {1: (21000, 21450), 2: (21000, 21450), 3: (21000, 21450)},
    "12 m": {1: (24890, 24990), 2: (24890, 24990), 3: (24890, 24990)},
    "10 m": {1: (28000, 29700), 2: (28000, 29700), 3: (28000, 29700)},
    "6 m": {1: (50000, 52000), 2: (50000, 54000), 3: (50000, 54000)},
}


def tables(source: str, compares: str, unit: str = "entries") -> Any:
    """A check of the tables that ship: how many entries are not those published."""
    return against(source, compares, unit=unit, tolerance=0)


REGIONS = (1, 2, 3)


def in_order(found: Sequence[Any], published: Sequence[Any]) -> list[int]:
    """0 for each entry that is the published one in its place, 1 for each other."""
    return [int(a != b) for a, b in zip_longest(found, published)]


@tables("47 CFR 97.301; RR 5.80A, 5.133B; WRC-19; IARU R1 plan 2020", "amateur bands, by region")
def test_amateur_limits() -> Differences:
    for region in REGIONS:
        published = [limits[region] for limits in AMATEUR_KHZ.values()]
        yield f"region {region}", in_order(spans("amateur.csv", region), published)


# FCC Report and Order 25-60, 9 Dec 2025: channels kept beside 5351.5-5366.5 kHz.
@tables("FCC Report and Order 25-60 (2025)", "channels of the USA on 60 m")
def test_channels_of_the_usa_on_60_m() -> Differences:
    yield "region 2", in_order(sorted(spots("amateur.csv", 2)), [5332, 5348, 5373, 5405])
    yield "region 1", len(spots("amateur.csv", 1))


# ITU Radio Regulations, Art. 5 (limits read in national tables): HF broadcasting
# bands that are the same in all Regions, kHz, extensions of 1992 joined.
WORLD_BROADCAST_KHZ = [
    (5900, 6200),
    (9400, 9900),
    (11600, 12100),
    (13570, 13870),
    (15100, 15800),
    (17480, 17900),
    (18900, 19020),
    (21450, 21850),
    (25670, 26100),
]
# RR Art. 5, 5.142, 5.143 and 47 CFR 2.106: 41 m by Region.
FORTY_ONE_METRES_KHZ = {1: (7200, 7450), 2: (7300, 7400), 3: (7200, 7450)}
# GE75 (Regions 1 and 3), RJ81 with RR 5.86 and 5.89 (Region 2): medium wave, kHz.
MEDIUM_WAVE_KHZ = {1: (526.5, 1606.5), 2: (525, 1705), 3: (526.5, 1606.5)}
# RR Art. 5: long wave, Region 1 alone.
LONG_WAVE_KHZ = (148.5, 283.5)


@tables("RR Art. 5; 47 CFR 2.106; GE75; RJ81", "broadcasting bands, by region")
def test_broadcasting_bands() -> Differences:
    for region in REGIONS:
        found = spans("broadcast.csv", region)
        short = sorted([*WORLD_BROADCAST_KHZ, FORTY_ONE_METRES_KHZ[region]])
        yield f"short, {region}", in_order([span for span in found if 5_500 <= span[0] < 30_000], short)
        medium = [span for span in found if 300 < span[0] < 2_000]
        yield f"medium, {region}", in_order(medium, [MEDIUM_WAVE_KHZ[region]])
        long_wave = [LONG_WAVE_KHZ] if region == 1 else []
        yield f"long, {region}", in_order([span for span in found if span[0] < 300], long_wave)


# RR 5.113 and the table: tropical bands, kHz; the lowest ends at 2498 in Region 1.
@tables("RR Art. 5, 5.113", "tropical bands, by region")
def test_tropical_bands() -> Differences:
    for region, end in ((1, 2498), (2, 2495), (3, 2495)):
        found = spans("broadcast.csv", region)
        for published in ((2300, end), (3200, 3400), (4750, 4995), (5005, 5060)):
            yield f"{published}, region {region}", int(published not in found)


# GE75: 15 long wave carriers 153-279 kHz, 120 medium wave carriers 531-1602 kHz,
# multiples of 9 kHz. Region 2: 117 carriers 540-1700 kHz every 10 kHz (RJ81 and the
# plan of Rio de Janeiro 1988), and 530 kHz (47 CFR 2.106, US221).
@tables("GE75; RJ81 and Rio de Janeiro 1988; 47 CFR 2.106", "long and medium wave carriers")
def test_long_and_medium_wave_carriers() -> Differences:
    for region, published in (
        (1, [*range(153, 280, 9), *range(531, 1603, 9)]),
        (2, [*range(530, 1701, 10)]),
        (3, [*range(531, 1603, 9)]),
    ):
        occupants = occupants_of(shipped(), region=region)
        mine = (occupants.table == occupants.tables.index("broadcast_rasters.csv")) & (
            occupants.low_hz < 2_000_000
        )
        expected = [khz * 1000 for khz in published]
        yield f"region {region}", in_order(occupants.low_hz[mine].tolist(), expected)
        assert occupants.high_hz[mine].tolist() == occupants.low_hz[mine].tolist()


# RR Art. 12 practice: short wave carriers on multiples of 5 kHz inside the bands.
@tables("RR Art. 12", "short wave carriers every 5 kHz")
def test_short_wave_carriers_fill_the_bands() -> Differences:
    for region in REGIONS:
        occupants = occupants_of(shipped(), region=region)
        low = occupants.low_hz
        mine = occupants.table == occupants.tables.index("broadcast_rasters.csv")
        found = low[mine & (low > 2_000_000) & (low < 30_000_000)].tolist()
        bands = [span for span in spans("broadcast.csv", region) if 2_000 < span[0] < 30_000]
        expected = [
            khz * 1000 for khz in range(2_000, 30_000, 5) if any(low <= khz <= high for low, high in bands)
        ]
        yield f"region {region}", in_order(found, expected)
        assert len(found) > 800


# RR Art. 5: standard frequency bands above 4 MHz, space research parts joined, kHz.
@tables("RR Art. 5", "standard frequency bands, by region")
def test_standard_frequency_bands() -> Differences:
    published = [(4995, 5005), (9995, 10005), (14990, 15010), (19990, 20010), (24990, 25010)]
    for region in REGIONS:
        # 2498-2501 kHz in Region 1 and 2495-2501 kHz in Regions 2 and 3, to 2502 or 2505
        lowest = (2498, 2502) if region == 1 else (2495, 2505)
        yield f"region {region}", in_order(spans("standard_frequency.csv", region), [lowest, *published])


# NIST (WWV, WWVH, WWVB); NRC (CHU, 7850 kHz since 1 Jan 2009); descriptions of
# DCF77, MSF, RBU and RWM: kHz.
STATIONS_KHZ = {
    "WWV": {2500, 5000, 10000, 15000, 20000, 25000},
    "WWVH": {2500, 5000, 10000, 15000},
    "WWVB": {60},
    "CHU": {3330, 7850, 14670},
    "DCF77": {77.5},
    "MSF": {60},
    "RWM": {4996, 9996, 14996},
    "RBU": {66.667},
}


@tables("NIST; NRC; station descriptions", "time signal stations")
def test_time_signal_stations() -> Differences:
    found: dict[str, set[float]] = {}
    for khz, labels in spots("standard_frequency.csv").items():
        for label in labels:
            found.setdefault(label.split()[0], set()).add(khz)
    for call, published in STATIONS_KHZ.items():
        yield call, in_order(sorted(found[call]), sorted(published))


# RR App. 15 as in GMDSS training material and a DSC table, kHz: radiotelephone
# carriers, DSC assigned frequencies, maritime safety information by NBDP, NAVTEX.
VOICE_KHZ = [2182, 4125, 6215, 8291, 12290, 16420]
DSC_KHZ = [2187.5, 4207.5, 6312, 8414.5, 12577, 16804.5]
SAFETY_INFORMATION_KHZ = [4210, 6314, 8416.5, 12579, 16806.5, 19680.5, 22376, 26100.5]
NAVTEX_KHZ = [490, 518, 4209.5]


@tables("RR App. 15", "distress and safety frequencies")
def test_distress_and_safety_frequencies() -> Differences:
    bands = shipped()
    found: dict[str, list[float]] = {}
    for row in range(len(bands)):
        found.setdefault(bands.labels[bands.label[row]], []).append(bands.low_hz[row] / 1000)
    for start, published in (
        ("Distress and safety, voice", VOICE_KHZ),
        ("Distress and safety, digital calling", DSC_KHZ),
        ("Safety information to ships", SAFETY_INFORMATION_KHZ),
        ("NAVTEX", NAVTEX_KHZ),
    ):
        mine = [khz for label, row in found.items() if label.startswith(start) for khz in row]
        yield start, in_order(mine, published)


# RR App. 27 (Rev. WRC-12): exclusive aeronautical (R) bands, kHz. 5450-5480 kHz is (R)
# in Region 2 alone and so not among them there.
ROUTE_KHZ = [
    (2850, 3025),
    (3400, 3500),
    (4650, 4700),
    (5480, 5680),
    (6525, 6685),
    (8815, 8965),
    (10005, 10100),
    (11275, 11400),
    (13260, 13360),
    (17900, 17970),
    (21924, 22000),
]


@tables("RR App. 27 (Rev. WRC-12)", "aeronautical route bands")
def test_aeronautical_route_bands() -> Differences:
    bands = shipped()
    keep = [
        row
        for row in range(len(bands))
        if bands.labels[bands.label[row]].endswith("(R)") and bands.in_region(1)[row]
    ]
    found = [(bands.low_hz[row] / 1000, bands.high_hz[row] / 1000) for row in keep]
    yield "region 1", in_order(found, ROUTE_KHZ)


# RR 5.138 and 5.150: ISM bands and their centres, kHz.
ISM_KHZ = {6780: (6765, 6795), 13560: (13553, 13567), 27120: (26957, 27283), 40680: (40660, 40700)}


@tables("RR 5.138, 5.150", "ISM bands and their centres")
def test_ism_bands_and_their_centres() -> Differences:
    yield "bands", in_order(spans("ism.csv", 1), list(ISM_KHZ.values()))
    yield "centres", in_order(sorted(spots("ism.csv")), sorted(ISM_KHZ))


# IARU Region 1 HF band plan of 16 Oct 2020, and the same in Regions 2 and 3:
# exclusive segments of the International Beacon Project, kHz.
@tables("IARU R1 HF band plan (2020)", "beacon segments, by region")
def test_beacon_segments() -> Differences:
    bands = shipped()
    published = [(14099, 14101), (18109, 18111), (21149, 21151), (24929, 24931), (28199, 28201)]
    for region in REGIONS:
        here = bands.in_region(region)
        found = [
            (bands.low_hz[row] / 1000, bands.high_hz[row] / 1000)
            for row in range(len(bands))
            if here[row] and bands.labels[bands.label[row]].endswith("International Beacon Project")
        ]
        yield f"region {region}", in_order(found, published)


# 47 CFR 73.201: 100 FM channels, 88.1 to 107.9 MHz every 200 kHz (from memory).
@tables("47 CFR 73.201 (from memory)", "VHF sound carriers in Region 2")
def test_vhf_sound_carriers_in_region_2() -> Differences:
    occupants = occupants_of(shipped(), region=2)
    mine = (occupants.table == occupants.tables.index("broadcast_rasters.csv")) & (
        occupants.low_hz > 30_000_000
    )
    centres = ((occupants.low_hz + occupants.high_hz) // 2)[mine]
    published = list(range(88_100_000, 107_900_001, 200_000))
    assert len(published) == 100
    yield "carriers", in_order(centres.tolist(), published)


# Common practice: whoever looks up 7.1 MHz in Europe expects the 40 m band, and the
# 41 m band begins where it ends; both edges belong to both.
def test_the_edge_of_40_m_belongs_to_both_neighbours() -> None:
    occupants = occupants_of(shipped(), region=1)
    index = OccupantIndex(occupants)
    services = {
        hz: {occupants.services[code] for code in occupants.service[index.at(hz)]}
        for hz in (7_100_000, 7_200_000, 7_200_001)
    }
    assert services == {7_100_000: {"amateur"}, 7_200_000: {"amateur", "broadcast"}, 7_200_001: {"broadcast"}}
