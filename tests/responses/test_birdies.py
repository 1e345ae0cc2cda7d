"""The question `birdies`: its records, what is radiated, how each kind moves and beats, the page."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.errors import Refused
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.reporting.text import Page, text
from spurplan.reporting.views.birdies import view
from spurplan.responses.birdies.oscillators import oscillators_of
from spurplan.responses.birdies.radiation import radiated
from tests.oracle import connect, plain, sets
from tests.turns import by_turns

RECEIVERS = Path(__file__).parents[1] / "receivers"


def quiet(folder: Path) -> Path:
    """A band table with nothing near."""
    return connect.band_table(folder, [(29_000_000_000, 29_000_000_000)], level="-150 dBm")


def medium_wave(**more: Any) -> Receiver:
    return Receiver.from_dict(
        {
            "name": "medium wave",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": ["530 kHz", "1620 kHz"]}],
            **more,
        }
    )


def by_equation(answer: Any) -> dict[str, dict[str, Any]]:
    return {record["equation"]: record for record in answer.birdies}


# --- what is radiated -----------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["single", "double", "converter"])
def test_radiated_rows_equal_the_scan(kind: str) -> None:
    """Every row a harmonic passes over between the ends of the dial, and where; and no other."""
    half = Fraction(1, 2)
    rng = np.random.default_rng(50 + sets.KINDS.index(kind))
    counted = between = 0
    for _ in range(6):
        made = sets.receiver(rng, kind, dials=300, scale=600)
        receiver = Receiver.from_dict(made)
        low = np.sort(rng.integers(1, 9_000, 120))
        width = np.where(rng.random(120) < 0.5, rng.integers(1, 300, 120), 0)
        stations = sorted(zip(low.tolist(), (low + width).tolist(), strict=True))
        chains_of = {chain.name: chain for chain in plain.chains(made)}
        for chains in compile_chains([(receiver, one) for one in receiver.ranges]):
            found = radiated(chains, connect.occupants_of(stations), 3)
            listed = {}
            for i in range(len(found)):
                name = chains.names[int(chains.name_code[found.candidate[i]])]
                key = (name, int(found.conversion[i]), int(found.harmonic[i]), int(found.occupant[i]))
                assert key not in listed
                listed[key] = tuple(
                    int(getattr(found, part)[i])
                    for part in ("dial_low_hz", "dial_high_hz", "low_hz", "high_hz")
                )
            expected = {}
            for name in chains.names:
                chain = chains_of[name]
                for number, oscillator in enumerate(chain.oscillators):
                    for harmonic in (1, 2, 3):
                        ends = [harmonic * oscillator.hz(dial) for dial in (chain.low_hz, chain.high_hz)]
                        for row, (first, last) in enumerate(stations):
                            on = max(min(ends), first), min(max(ends), last)
                            if on[0] > on[1]:
                                continue
                            slope = harmonic * (oscillator.hz(1) - oscillator.hz(0))
                            at = [chain.low_hz, chain.high_hz]
                            if slope:
                                at = sorted((hz - harmonic * oscillator.hz(0)) / slope for hz in on)
                            key = (name, number, harmonic, row)
                            expected[key] = (*at, *on)
                            between += not any(
                                first <= harmonic * oscillator.hz(dial) <= last
                                for dial in range(chain.low_hz, chain.high_hz + 1)
                            )
            assert set(listed) == set(expected)
            for key, places in expected.items():
                assert all(abs(a - b) <= half for a, b in zip(listed[key], places, strict=True)), key
            counted += len(listed)
    assert counted > 50
    assert between > 5, "some must lie between two settings of the dial"


def test_a_spot_between_two_whole_hertz_of_the_dial_is_radiated_on(tmp_path: Path) -> None:
    """A third harmonic moves 3 Hz for each hertz of the dial, and passes over what lies between."""
    table = tmp_path / "spot.csv"
    table.write_text("freq_khz,service,label\n4996,standard_frequency,time signal\n", "utf-8")
    answer = spurplan.birdies(medium_wave(), bands=table)
    (row,) = (record for record in answer.radiates if record["harmonic"] == 3)
    # 4,996,000 / 3 = 1,665,333.3 Hz, less the IF
    assert (row["dial_low_hz"], row["dial_high_hz"]) == (1_665_333 - 455_000,) * 2
    assert (row["low_hz"], row["high_hz"]) == (4_996_000, 4_996_000)


def test_carriers_of_a_raster_are_one_row(tmp_path: Path) -> None:
    """A raster is one row of its table, from its first carrier that is swept over to its last."""
    table = tmp_path / "raster.csv"
    table.write_text("low_khz,high_khz,raster_khz,service,label\n1000,1500,10,broadcast,raster\n", "utf-8")
    answer = spurplan.birdies(medium_wave(), bands=table)
    (row,) = (record for record in answer.radiates if record["harmonic"] == 1)
    # the oscillator tunes 985 to 2075 kHz
    assert (row["low_hz"], row["high_hz"]) == (1_000_000, 1_500_000)
    assert (row["dial_low_hz"], row["dial_high_hz"]) == (545_000, 1_045_000)
    assert (row["oscillator"], row["label"], row["row"]) == ("LO", "raster", 2)


# --- how they move and beat -----------------------------------------------------------------------


def test_a_fixed_oscillator_on_the_dial_is_tuned_like_a_station(tmp_path: Path) -> None:
    """A calibrator's harmonic moves with the dial as a signal does, and is a passband wide."""
    answer = spurplan.birdies(
        medium_wave(internal=[{"name": "calibrator", "frequency": "100 kHz"}]), bands=quiet(tmp_path)
    )
    marker = by_equation(answer)["10 calibrator = dial"]
    assert (marker["moves"], marker["kind"]) == (1.0, "internal")
    assert (marker["dial_low_hz"], marker["dial_high_hz"]) == (997_000, 1_003_000)
    assert marker["grade"] is marker["heard_dbm"] is marker["below_station_db"] is marker["beat_hz"] is None
    assert marker["certainty"] == "possible"


def two_crystals(offset: str | None) -> Receiver:
    """A crystal whose second harmonic stays 400 Hz above the last IF: 2 x 533.6 kHz, IF 1066.8 kHz."""
    return Receiver.from_dict(
        {
            "name": "stays",
            "conversion": [
                {"injection": "high", "if": "1600400 Hz", "filter": {"bandwidth": "20 kHz"}},
                {"crystal": "533600 Hz", "if": "1066800 Hz", "filter": {"bandwidth": "3 kHz"}},
            ],
            "range": [{"name": "1", "coverage": ["2 MHz", "4 MHz"]}],
            **({} if offset is None else {"bfo": {"offset": offset}}),
        }
    )


def test_what_stays_beats_at_one_pitch(tmp_path: Path) -> None:
    """A product that does not move is heard on the whole range; its pitch is against the BFO."""
    for offset, pitch in ((None, 400), ("1 kHz", 600), ("-1 kHz", 1_400)):
        birdie = by_equation(spurplan.birdies(two_crystals(offset), bands=quiet(tmp_path)))["2 LO2 = IF2"]
        assert (birdie["dial_low_hz"], birdie["dial_high_hz"]) == (2_000_000, 4_000_000)
        assert (birdie["moves"], birdie["beat_hz"], birdie["exact_dial_hz"]) == (0.0, pitch, None)


@pytest.mark.parametrize(("injection", "pitch"), [("low", 600), ("high", 1_400)])
def test_pitch_of_what_stays_on_an_earlier_if(tmp_path: Path, injection: str, pitch: int) -> None:
    """400 Hz above the first IF is 400 Hz below the last where the second mixer inverts."""
    receiver = Receiver.from_dict(
        {
            "name": "stays ahead",
            "conversion": [
                {"injection": "high", "if": "1600 kHz", "filter": {"bandwidth": "20 kHz"}},
                {"injection": injection, "if": "455 kHz", "filter": {"bandwidth": "3 kHz"}},
            ],
            "range": [{"name": "1", "coverage": ["2 MHz", "4 MHz"]}],
            "bfo": {"offset": "1 kHz"},
            "internal": [{"name": "clock", "frequency": "1600400 Hz"}],
        }
    )
    birdie = by_equation(spurplan.birdies(receiver, bands=quiet(tmp_path)))["clock = IF1"]
    assert (birdie["moves"], birdie["beat_hz"]) == (0.0, pitch)


def test_a_harmonic_that_meets_the_bfo_beats_to_zero_where_it_says(tmp_path: Path) -> None:
    """At the exact place of 2 LO = 7 BFO both are on one frequency, off the middle as the BFO is."""
    receiver = medium_wave(bfo={"offset": "1 kHz"})
    birdie = by_equation(spurplan.birdies(receiver, bands=quiet(tmp_path)))["2 LO = 7 BFO"]
    exact = birdie["exact_dial_hz"]
    assert 2 * (exact + 455_000) == 7 * 456_000
    # 2 LO - 6 BFO within 3 kHz of the IF
    middle = Fraction(455_000 + 6 * 456_000, 2) - 455_000
    assert (birdie["dial_low_hz"], birdie["dial_high_hz"]) == (middle - 1_500, middle + 1_500)
    assert exact - middle == 500
    assert (birdie["moves"], birdie["order"]) == (2.0, 9)


def test_multiplied_crystal_is_heard_itself(tmp_path: Path) -> None:
    """Ahead of its multiplier a crystal has harmonics that the injected frequency has not."""
    receiver = Receiver.from_dict(
        {
            "name": "converter",
            "conversion": [
                {"crystal": "12.25 MHz", "multiplier": 2},
                {"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "5 kHz"}},
            ],
            "range": [{"name": "1", "coverage": ["28 MHz", "29.7 MHz"]}],
        }
    )
    found = by_equation(spurplan.birdies(receiver, bands=quiet(tmp_path)))
    birdie = found["crystal1 - 2 LO2 = IF1"]
    # d - 24.5 MHz = 12.25 MHz - 2 (d - 24.5 MHz + 455 kHz)
    assert birdie["exact_dial_hz"] == 24_500_000 + (12_250_000 - 910_000) // 3
    assert (birdie["kind"], birdie["order"]) == ("crystal", 3)
    # an even harmonic of the crystal is one of what it is multiplied to, and is written so
    assert not any("2 crystal1" in equation or "4 crystal1" in equation for equation in found)
    # the set's own dial shows the tunable IF
    assert birdie["set_dial_hz"] == birdie["exact_dial_hz"] - 24_500_000


def test_names_that_are_not_ascii_stay_out_of_equations() -> None:
    """An equation is ASCII whatever an oscillator is called."""
    receiver = medium_wave()
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    names = oscillators_of(chains, internal=[("Taktgeber für Quarzuhr", 32_768), ("clock", 1_000_000)]).names
    assert names == ("LO", "internal1", "clock", "IF")


# --- records and page ------------------------------------------------------------------------------


def test_records_hold_every_field_of_the_design() -> None:
    """The fields the other commands and the users rely on are there, ranked by order, whistles too."""
    answer = spurplan.birdies(RECEIVERS / "lockkeeper.toml", intermodulation=True, range="low")
    assert list(answer.tables) == ["birdies", "radiates", "pairs", "triples"]
    assert {
        "range", "kind", "order", "beat_hz", "below_station_db", "dial_low_hz", "dial_high_hz", "equation",
        "moves", "grade",
    } <= set(answer.birdies.records(1)[0])  # fmt: skip
    assert {
        "range", "oscillator", "harmonic", "low_hz", "high_hz", "label", "service", "table", "row"
    } <= set(answer.radiates.records(1)[0])  # fmt: skip
    assert {
        "label_1", "row_1", "label_2", "row_2", "product", "order", "dial_low_hz", "dial_high_hz",
        "heard_dbm", "margin_db", "grade",
    } <= set(answer.pairs.records(1)[0])  # fmt: skip
    records = answer.birdies.records()
    orders = [record["order"] for record in records if not record["through_ceiling"]]
    assert orders == sorted(orders)
    assert all(record["equation"].isascii() for record in records)
    margins = answer.pairs["heard_dbm"]
    assert (np.diff(margins) <= 1e-6).all()
    assert json.loads(json.dumps(answer.to_dict(), allow_nan=False))["birdies"] == records


def test_a_range_at_a_time_is_as_all_together() -> None:
    """Asked for one range the answer is that range's part of the answer for all."""
    whole = spurplan.birdies(RECEIVERS / "ferry_converter.toml")
    for name in ("10 m", "backwards"):
        part = spurplan.birdies(RECEIVERS / "ferry_converter.toml", range=name)
        for table in ("birdies", "radiates"):
            own = [record for record in whole.tables[table] if record["range"] == name]
            assert part.tables[table].records() == own


def test_what_was_not_looked_for_is_said() -> None:
    """The limit of the search, and an oscillator that nobody described, stand among the assumptions."""
    said = " ".join(spurplan.birdies(RECEIVERS / "ferry_converter.toml").assumptions)
    assert "total order of 20" in said
    assert "[[internal]]" in said
    assert "no BFO" in said


def test_wrong_range_is_refused() -> None:
    with pytest.raises(Refused, match=r'--range.*"5".*"low", "high"'):
        spurplan.birdies(RECEIVERS / "lockkeeper.toml", range="5")


@pytest.mark.parametrize(
    "name", by_turns(["boathouse", "lockkeeper", "ferry_converter"], always=["boathouse"])
)
def test_page_of_eighty_columns(name: str) -> None:
    """On a narrow page every line fits, and each birdie keeps its place and its equation."""
    answer = spurplan.birdies(RECEIVERS / f"{name}.toml", intermodulation=True)
    page = text(answer, Page(width=80), view(answer))
    assert max(map(len, page.splitlines())) <= 80
    for title in ("Birdies", "Self-whistles", "Radiates", "Pairs"):
        assert f"\n{title}\n" in page
    birdie = answer.birdies.records(1)[0]
    line = next(line for line in page.splitlines() if line.startswith(birdie["range"]) and " = " in line)
    assert birdie["equation"] in line
    assert "possible bird" in page


def test_pairs_stand_in_answers_that_asked_for_them(tmp_path: Path) -> None:
    """dial and ranges have the table of pairs with --intermodulation, and not without."""
    table = connect.band_table(tmp_path, [(620_000, 620_000), (1_060_000, 1_060_000)], level="-10 dBm")
    receiver = medium_wave(range=[{"name": "1", "coverage": ["530 kHz", "1700 kHz"]}])
    assert "pairs" not in spurplan.ranges(receiver, bands=table).tables
    assert "pairs" not in spurplan.dial(receiver, bands=table, frequency="1680 kHz").tables
    for answer in (
        spurplan.dial(receiver, bands=table, frequency="1680 kHz", intermodulation=True, everything=True),
        spurplan.ranges(receiver, bands=table, intermodulation=True, everything=True),
    ):
        (pair,) = (r for r in answer.pairs if (r["product"], r["lands_on"]) == ("f1 + f2", "dial"))
        assert pair["loudest_dial_hz"] == 1_680_000
        assert (pair["label_1"], pair["label_2"]) == ("station 0", "station 1")
    dial = spurplan.dial(receiver, bands=table, frequency="1680 kHz", intermodulation=True, everything=True)
    assert {(r["dial_low_hz"], r["dial_high_hz"]) for r in dial.pairs} == {(1_680_000, 1_680_000)}
