"""Published birdies, whistles and products of two stations, asked of the package as a user would.

Each is a receiver and what somebody reported of it. What is published are the
frequencies; equations and kinds are this package's way of saying it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import spurplan
from spurplan.receiver.description import Receiver
from tests.oracle import connect
from tests.oracle.plain import hertz
from tests.outside import Differences, against


def published(source: str, compares: str) -> Any:
    """A check of frequencies, to the hertz."""
    return against(source, compares, unit="Hz", tolerance=0)


def single(
    injection: str, if_text: str, low: str, high: str, bandwidth: str = "6 kHz", **more: Any
) -> Receiver:
    """A set with one conversion."""
    return Receiver.from_dict(
        {
            "name": "worked example",
            "conversion": [{"injection": injection, "if": if_text, "filter": {"bandwidth": bandwidth}}],
            "range": [{"name": "1", "coverage": [low, high]}],
            **more,
        }
    )


def nothing_on_the_air(folder: Path) -> Path:
    """A band table with one weak carrier far from everything."""
    return connect.band_table(folder, [(29_000_000_000, 29_000_000_000)], level="-150 dBm")


def places(receiver: Receiver, table: Path, **options: Any) -> dict[tuple[str, str], dict[str, Any]]:
    """Return the birdies of a set by kind and equation."""
    answer = spurplan.birdies(receiver, bands=table, **options)
    return {(record["kind"], record["equation"]): record for record in answer.birdies}


@published("constructors' list post (2008)", "birdie of 5 LO and 9 BFO")
def test_fifth_harmonic_of_the_oscillator_meets_the_ninth_of_the_bfo(folder: Path) -> Differences:
    """A home-built superhet with its IF on a television crystal has a birdie in the 80 m band."""
    # Constructors' list post, 2008: IF 4.433 MHz, oscillator above the signal on 7.979 MHz; the birdie is
    # at 3.546 MHz, both harmonics on 39.897 MHz. (The post says "7th IF harmonic"; only the 9th fits.)
    receiver = single("high", "4.433 MHz", "3.5 MHz", "3.8 MHz", "2.4 kHz", bfo={"offset": "0 Hz"})
    birdie = places(receiver, nothing_on_the_air(folder))["BFO", "5 LO = 9 BFO"]
    yield "4 IF/5", birdie["exact_dial_hz"] - 3_546_400
    # 2.4 kHz of passband, crossed five times as fast as the dial: the reported kilohertz is beside it
    assert (birdie["dial_low_hz"], birdie["dial_high_hz"]) == (3_546_160, 3_546_640)
    assert round(5 * (birdie["exact_dial_hz"] + 4_433_000), -3) == round(9 * 4_433_000, -3) == 39_897_000
    assert birdie["order"] == 5 + 9
    assert birdie["certainty"] == "possible"
    # the lower harmonics do not meet inside the band: this is the simplest that does
    assert min(r["order"] for r in places(receiver, nothing_on_the_air(folder)).values()) == 14


@published(
    "list post on a double-conversion set", "tenth harmonic of its tunable oscillator in the 15 m band"
)
def test_tenth_harmonic_of_a_tunable_second_oscillator(folder: Path) -> Differences:
    """A double-conversion amateur receiver hears its second oscillator in the 15 m band."""
    # List post on such a receiver: second oscillator 1.9-2.15 MHz, its 10th harmonic turns up in 15 m.
    # By calculation: 21.0-21.45 MHz when it is on 2.100-2.145 MHz. The other figures of the set are
    # chosen here: a crystal of 19.555 MHz ahead of it and 455 kHz behind.
    receiver = Receiver.from_dict(
        {
            "name": "worked example",
            "conversion": [
                {"crystal": "19.555 MHz"},
                {"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "2.1 kHz"}},
            ],
            "range": [{"name": "15 m", "coverage": ["21 MHz", "21.25 MHz"]}],
        }
    )
    birdie = places(receiver, nothing_on_the_air(folder))["oscillators", "10 LO2 = dial"]
    second_hz = birdie["exact_dial_hz"] - 19_555_000 + 455_000
    assert 2_100_000 <= second_hz <= 2_145_000
    assert abs(10 * second_hz - birdie["exact_dial_hz"]) <= 5
    # ten times as fast as the dial and against a signal that stays
    assert birdie["moves"] == -9.0
    # 10 (d - 19.1 MHz) is within 1050 Hz of d on these whole hertz
    yield "first", birdie["dial_low_hz"] + (1_050 - 191_000_000) // 9
    yield "last", birdie["dial_high_hz"] - (191_000_000 + 1_050) // 9


@published("common practice", "harmonics of a 455 kHz IF on the dial")
def test_harmonics_of_the_if(folder: Path) -> Differences:
    """The detector of a 455 kHz set puts harmonics of the IF on the medium-wave dial."""
    # common practice: 455 kHz sets whistle on 910 and 1365 kHz
    receiver = single("high", "455 kHz", "530 kHz", "1620 kHz", bfo={"offset": "0 Hz"})
    found = places(receiver, nothing_on_the_air(folder))
    for dial_hz, harmonic in ((910_000, 2), (1_365_000, 3)):
        for kind, name in (("IF harmonic", "IF"), ("BFO", "BFO")):
            birdie = found[kind, f"{harmonic} {name} = dial"]
            yield f"{harmonic} {name}", birdie["exact_dial_hz"] - dial_hz
            assert (birdie["dial_low_hz"], birdie["dial_high_hz"]) == (dial_hz - 3_000, dial_hz + 3_000)
            assert birdie["order"] == harmonic


@published("well-known whistle on twice the IF (from memory)", "its place and its beat")
def test_whistle_on_twice_the_if(folder: Path) -> Differences:
    """A station on 910 kHz beats with itself: its second harmonic reaches the IF too."""
    # well-known IF-harmonic whistle (from memory): tuned to 910 kHz, the oscillator is on 1365 kHz = 3 IF
    receiver = single("high", "455 kHz", "530 kHz", "1620 kHz")
    station = [(909_000, 909_000)]
    table = connect.band_table(folder, station, level="-13 dBm")
    whistle = places(receiver, table, everything=True)["self-whistle", "IF = 2 RF - LO"]
    yield "place", whistle["exact_dial_hz"] - 910_000
    assert whistle["exact_dial_hz"] + 455_000 == 3 * 455_000
    assert (whistle["dial_low_hz"], whistle["dial_high_hz"]) == (907_000, 913_000)
    # beat abs(k LO - (k + 1) f), k = 2, with the station tuned in: LO = 909 + 455 kHz
    assert abs(2 * (909_000 + 455_000) - 3 * 909_000) == 1_000
    yield "beat", whistle["beat_hz"] - 1_000
    assert whistle["beat_hz_per_hz"] == 2.0
    assert whistle["label"] == "station 0"


@published("by calculation, d = IF (1 + 1/k)", "harmonics of an oscillator below the signal on the IF")
def test_oscillator_below_the_signal(folder: Path) -> Differences:
    """An oscillator below the signal has harmonics on the IF: k LO = IF at d = IF (1 + 1/k)."""
    # by calculation: LO = d - IF
    receiver = single("low", "455 kHz", "530 kHz", "1620 kHz")
    found = places(receiver, nothing_on_the_air(folder))
    for k, dial_hz in ((1, 910_000), (2, 682_500), (3, 606_667)):
        birdie = found["oscillators", f"{k} LO = IF" if k > 1 else "LO = IF"]
        yield f"{k} LO", birdie["exact_dial_hz"] - dial_hz
        assert birdie["moves"] == float(-k)


# --- two stations ------------------------------------------------------------------------------

PRODUCTS = [
    # NCVEC Extra pool E4D05 (2016-2024): receiver on 146.70 MHz, a station on 146.52 MHz; one on
    # 146.34 or 146.61 MHz makes a product
    ("10.7 MHz", "144 MHz", "148 MHz", "146520 kHz", "146340 kHz", "2 f1 - f2", 146_700_000),
    ("10.7 MHz", "144 MHz", "148 MHz", "146610 kHz", "146520 kHz", "2 f1 - f2", 146_700_000),
    # broadcast forum, second-order products near two transmitters: 620 and 1060 kHz on 1680, 620 and
    # 1010 kHz on 1630, 550 and 1580 kHz on 1030 kHz
    ("455 kHz", "530 kHz", "1700 kHz", "620 kHz", "1060 kHz", "f1 + f2", 1_680_000),
    ("455 kHz", "530 kHz", "1700 kHz", "620 kHz", "1010 kHz", "f1 + f2", 1_630_000),
    ("455 kHz", "530 kHz", "1700 kHz", "1580 kHz", "550 kHz", "f1 - f2", 1_030_000),
    # ARRL description of its second-order test: generators on 6.000 and 8.020 MHz, the product is
    # looked for on 14.020 MHz
    ("455 kHz", "14 MHz", "14.1 MHz", "6000 kHz", "8020 kHz", "f1 + f2", 14_020_000),
]


@published(
    "NCVEC Extra pool E4D05; broadcast forum; ARRL second-order test", "where products of two stations land"
)
def test_products_of_two_stations(folder: Path) -> Differences:
    """The product is on the published frequency, from half a passband below it to half above."""
    for if_text, low, high, first, second, product, dial_hz in PRODUCTS:
        receiver = single("high", if_text, low, high)
        frequencies = {hertz(first): "first", hertz(second): "second"}
        table = connect.band_table(folder, [(hz, hz) for hz in sorted(frequencies)], level="-13 dBm")
        answer = spurplan.ranges(receiver, bands=table, intermodulation=True, everything=True)
        (pair,) = (
            record
            for record in answer.pairs
            if (record["f1_hz"], record["f2_hz"]) == (hertz(first), hertz(second))
            and record["product"] == product
            and record["lands_on"] == "dial"
        )
        yield f"{product} of {first} and {second}", pair["loudest_dial_hz"] - dial_hz
        assert (pair["dial_low_hz"], pair["dial_high_hz"]) == (dial_hz - 3_000, dial_hz + 3_000)
        assert pair["order"] == pair["pad_db_per_db"] == (3 if product.startswith("2") else 2)
        assert pair["moves"] == 1.0


@published("physics forum, two local transmitters", "their difference on the IF, all over the dial")
def test_two_stations_that_differ_by_the_if(folder: Path) -> Differences:
    """Two local transmitters whose difference is in the IF passband are heard all over the dial."""
    # physics forum anecdote: FM on 93.9 MHz and a television vision carrier on 83.25 MHz, receiver IF
    # 10.7 MHz: the difference, 10.65 MHz, is inside 10.7 MHz +- 75 kHz
    receiver = single("high", "10.7 MHz", "88 MHz", "108 MHz", "150 kHz")
    table = connect.band_table(folder, [(83_250_000, 83_250_000), (93_900_000, 93_900_000)], level="0 dBm")
    answer = spurplan.ranges(receiver, bands=table, intermodulation=True, everything=True)
    (pair,) = (record for record in answer.pairs if record["lands_on"] == "IF")
    assert (pair["product"], pair["f1_hz"], pair["f2_hz"]) == ("f1 - f2", 93_900_000, 83_250_000)
    yield "first dial setting", pair["dial_low_hz"] - 88_000_000
    yield "last dial setting", pair["dial_high_hz"] - 108_000_000
    assert pair["moves"] == 0.0


# --- one station -------------------------------------------------------------------------------


HARMONICS = [
    # interference list post: harmonics of medium-wave carriers in the 20 m band; order, carrier, heard on
    (16, 880, 14_080),
    (9, 1_560, 14_040),
    (10, 1_400, 14_000),
    (11, 1_280, 14_080),
    (15, 940, 14_100),
    (21, 670, 14_070),
]


@published("interference list post", "harmonics of medium-wave carriers in the 20 m band")
def test_harmonics_of_medium_wave_carriers(folder: Path) -> Differences:
    """A carrier turns up on its harmonic, n times narrower on the dial than it is tuned."""
    receiver = single("high", "455 kHz", "13.9 MHz", "14.4 MHz")
    for harmonic, station_khz, dial_khz in HARMONICS:
        table = connect.band_table(folder, [(station_khz * 1_000, station_khz * 1_000)])
        answer = spurplan.ranges(receiver, bands=table, everything=True, lo_order=1, rf_order=harmonic)
        (found,) = (r for r in answer.intrusions if r["equation"] == f"IF = LO - {harmonic} RF")
        yield f"{harmonic} times {station_khz} kHz, first", found["dial_low_hz"] - (dial_khz * 1_000 - 3_000)
        yield f"{harmonic} times {station_khz} kHz, last", found["dial_high_hz"] - (dial_khz * 1_000 + 3_000)
        assert found["response"] == "RF-harmonic"
