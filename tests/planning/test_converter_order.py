"""In which order crystals are offered: what is usable, less what a builder would give for the dial."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.errors import Refused
from spurplan.planning.converter import handling
from spurplan.planning.converter.figures import SETTINGS
from spurplan.planning.outlook import outlooks, place_of
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import read_receiver
from spurplan.reporting.text import Page, text
from spurplan.reporting.views.converter import view
from spurplan.responses.asking import Settings, as_bands, occupants_of

BOATHOUSE = Path(__file__).parents[1] / "receivers" / "boathouse.toml"


def places(answer: spurplan.Answer) -> list[tuple[Any, ...]]:
    """Return (crystal in kHz, times, side) in the order offered; None for the set alone."""
    return [
        (row["crystal_hz"] and row["crystal_hz"] / 1_000, row["multiplier"], row["side"])
        for row in answer.candidates.records()
    ]


@pytest.mark.parametrize("nobody", [False, True], ids=["a busy evening", "nobody on the air"])
def test_into_the_80_m_band_one_crystal_forwards_stands_before_multipliers_and_these_before_backwards(
    tmp_path: Path, nobody: bool
) -> None:
    """17.5 MHz as it is; the same doubled or tripled is more work; a dial that runs backwards is last.

    On a busy evening shortwave broadcasting on 13.57 to 13.87 MHz is on the image of those that run forwards,
    and of the others none is on theirs: what decides is the handling, as it does where nobody is on the air.
    """
    stations = tmp_path / "nobody.csv"
    stations.write_text("low_khz,high_khz,service,label,level\n1,300000,amateur,Nobody,-170 dBm\n", "utf-8")
    bands = stations if nobody else None
    answer = spurplan.converter(
        BOATHOUSE, bands=bands, cover="21MHz:21.45MHz", tune="3.5MHz:4MHz", crystal=FIFTEEN
    )
    inside = [row for row in answer.candidates.records() if row["in_tune"]]
    order = [(row["crystal_hz"], row["multiplier"], row["side"]) for row in inside]
    assert order[0] == (17_500_000, 1, "below")
    assert set(order[1:3]) == {(8_750_000, 2, "below"), (5_833_300, 3, "below")}
    assert set(order[3:5]) == {(24_950_000, 1, "above"), (12_500_000, 2, "above")}
    assert len(order) == 5
    assert [row["rank"] for row in inside] == [1, 2, 3, 4, 5]


def test_26_mhz_forwards_into_2_to_4_stands_before_48_backwards_into_18_to_20() -> None:
    """The quietest part of the air is a set's worst dial: wide scale, drifting oscillator, backwards."""
    answer = spurplan.converter(BOATHOUSE, cover="28MHz:30MHz", step="100kHz")
    order = places(answer)
    assert order.index((26_000.0, 1, "below")) < order.index((48_000.0, 1, "above"))
    rows = {(row["crystal_hz"], row["side"]): row for row in answer.candidates.records()}
    assert (rows[26_000_000, "below"]["set_low_hz"], rows[26_000_000, "below"]["set_high_hz"]) == (
        2_000_000, 4_000_000,
    )  # fmt: skip
    assert rows[48_000_000, "above"]["set_low_hz"] == 18_000_000


@pytest.mark.parametrize("region", [1, 2, 3])
def test_what_is_first_is_first_whoever_is_on_the_air(region: int) -> None:
    """Who broadcasts where differs by region; a fine scale that runs forwards is best in each."""
    fifteen = fifteen_metres(tune="3.5MHz:4MHz", region=region)
    assert places(fifteen)[0] == (17_500.0, 1, "below")
    ten = spurplan.converter(BOATHOUSE, cover="28MHz:30MHz", crystal=["26MHz", "48MHz"], region=region)
    order = places(ten)
    assert order.index((26_000.0, 1, "below")) < order.index((48_000.0, 1, "above"))


def of(answer: spurplan.Answer, **wanted: Any) -> dict[str, Any]:
    """Return the one candidate with some fields."""
    (found,) = [r for r in answer.candidates.records() if all(r[k] == v for k, v in wanted.items())]
    return found


TERMS = ("usable", "backwards", "reading", "scale", "drift", "multiplier", "sum")
FIFTEEN = ("17.5MHz", "24.95MHz", "12.5MHz", "8.75MHz", "5.8333MHz")


def fifteen_metres(**options: Any) -> spurplan.Answer:
    return spurplan.converter(BOATHOUSE, cover="21MHz:21.45MHz", crystal=FIFTEEN, **options)


def heading(answer: spurplan.Answer) -> str:
    return " ".join(view(answer).heading)


def test_scale_and_drift_are_those_of_the_range_behind_it_and_of_the_crystal() -> None:
    """By hand, at the middle of the cover, 21.225 MHz.

    Range 2 tunes 1.5 to 4.6 MHz: 3100 kHz / 150 mm = 20.667 kHz/mm. Behind 17.5 MHz the set stands on
    3.725 MHz and its oscillator 465 kHz above: 4.19 MHz at 500 ppm is 2095 Hz, 17.5 MHz at 10 ppm 175 Hz.
    The set alone stands on 21.225 MHz: 21.69 MHz at 500 ppm, 10845 Hz; (30 - 11) MHz / 150 mm = 126.67.
    """
    answer = fifteen_metres()
    converter = of(answer, crystal_hz=17_500_000, multiplier=1, side="below")
    assert converter["spread_khz_mm"] == pytest.approx(3_100 / 150)
    assert converter["drift_hz"] == pytest.approx(2_095 + 175)
    alone = of(answer, side="alone")
    assert alone["spread_khz_mm"] == pytest.approx(19_000 / 150)
    assert alone["drift_hz"] == pytest.approx(10_845)
    doubled = of(answer, crystal_hz=8_750_000, multiplier=2, side="below")
    assert doubled["drift_hz"] == pytest.approx(2_095 + 175), "of what is injected"


def test_a_second_conversion_with_a_crystal_drifts_as_a_crystal_does() -> None:
    """A tunable first IF ahead of a crystal: 500 ppm of one oscillator, 10 ppm of the other.

    Set alone on 7.25 MHz: (7.25 + 1.6) MHz at 500 ppm is 4425 Hz; 2.055 MHz at 10 ppm is 20.55 Hz.
    """
    receiver = Receiver.from_dict(
        {
            "name": "two conversions",
            "conversion": [
                {"injection": "high", "if": "1600 kHz", "filter": {"bandwidth": "25 kHz"}},
                {"crystal": "2055 kHz", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}},
            ],
            "range": [{"name": "1", "coverage": ["7 MHz", "7.5 MHz"], "front_end": [{"circuits": 2}]}],
        }
    )
    answer = spurplan.converter(receiver, cover="7MHz:7.5MHz", crystal="14.5MHz")
    assert of(answer, side="alone")["drift_hz"] == pytest.approx(4_425 + 20.55)
    # above: the set stands on 7.25 MHz as well, and the crystal adds 145 Hz
    above = of(answer, side="above", multiplier=1)
    assert above["drift_hz"] == pytest.approx(4_425 + 20.55 + 145)


def test_points_are_the_usable_part_less_what_each_term_takes() -> None:
    """Every term by its formula from the columns beside it, and their sum is what the order goes by."""
    ten_metres = spurplan.converter(BOATHOUSE, cover="28MHz:29.7MHz")
    kinds = set()
    for row in [*ten_metres.candidates.records(), *fifteen_metres().candidates.records()]:
        if row["range"] is None:
            assert row["points"] is None
            continue
        over_scale = max(np.log2(row["spread_khz_mm"] / 20.0), 0.0)
        over_drift = max(np.log2(row["drift_hz"] / 2_000.0), 0.0)
        expected = {
            "usable": 100 * row["usable_share"],
            "backwards": -12.0 * (row["side"] == "above"),
            "reading": -{"round": 0.0, "half": 2.0, "odd": 5.0}[row["reading"]],
            "scale": -3.0 * over_scale,
            "drift": -2.0 * over_drift,
            "multiplier": -3.0 * ((row["multiplier"] or 1) > 1),
            "sum": -10.0 * (row["side"] == "sum"),
        }
        for term in TERMS:
            assert row[f"{term}_points"] == pytest.approx(expected[term], abs=1e-9), (term, row)
        assert row["points"] == pytest.approx(sum(expected.values()), abs=1e-9)
        assert row["forward"] == (row["side"] != "above")
        assert row["usable_low"] <= row["usable_high"]
        kinds.add((row["side"], row["reading"]))
    assert {"below", "above", "sum", "alone"} == {side for side, _ in kinds}
    assert {"round", "half", "odd"} == {reading for _, reading in kinds}


@pytest.mark.parametrize(
    ("crystal", "times", "reading"),
    [
        ("18MHz", 1, "round"), ("17.5MHz", 1, "half"), ("17.6MHz", 1, "odd"),
        # three times 5.8333 is 17.4999 MHz: 100 Hz are on no scale
        ("5.8333MHz", 3, "half"), ("5.833MHz", 3, "half"), ("5.832MHz", 3, "odd"), ("9MHz", 2, "round"),
    ],
)  # fmt: skip
def test_what_is_within_a_kilohertz_of_a_round_figure_reads_as_that(
    crystal: str, times: int, reading: str
) -> None:
    answer = spurplan.converter(BOATHOUSE, cover="21MHz:21.45MHz", crystal=crystal)
    assert of(answer, multiplier=times, side="below")["reading"] == reading


def test_the_more_it_is_multiplied_the_less_pure_it_is() -> None:
    """Cosine pulses of half angle 60, 40 and 30 degrees behind one tuned circuit of loaded Q 50; what is not
    multiplied has no such line."""
    answer = fifteen_metres()
    found = {row["multiplier"]: row["impurity_db"] for row in answer.candidates.records()}
    worst = {2: 34.5, 3: 30.1, 4: 27.5}
    assert found[1] is None
    assert {times: round(found[times], 1) for times in worst} == worst


def test_what_does_not_come_where_it_is_to_be_tuned_stands_behind_all_that_do_and_says_so() -> None:
    """More points do not help; the set alone is nowhere near either."""
    answer = fifteen_metres(tune="3.5MHz:4MHz")
    rows = [row for row in answer.candidates.records() if row["possible"]]
    inside = [row["in_tune"] for row in rows]
    assert inside == sorted(inside, reverse=True)
    for row in rows:
        within = row["side"] != "alone" and 3_500_000 <= row["set_low_hz"] <= row["set_high_hz"] <= 4_000_000
        assert row["in_tune"] == within
    outside = [row for row in rows if not row["in_tune"]]
    assert max(row["points"] for row in outside) > min(row["points"] for row in rows if row["in_tune"])
    for row in outside:
        if row["side"] != "alone":
            assert any("not the whole cover in 3.5 to 4 MHz" in text for text in row["reasons"])
    shown = view(answer).tables
    assert shown is not None
    marked = 0
    for row in shown["candidates"].records():
        if row["range"] is not None and not row["lost_hz"]:
            assert row["range"].endswith(", not in 3.5-4 MHz") == (not row["in_tune"])
            marked += not row["in_tune"]
    assert marked == len(outside)


def test_where_nothing_comes_into_the_stretch_the_sentence_says_so_first() -> None:
    """The order is then that of the points; nothing is refused."""
    answer = fifteen_metres(tune="2.0MHz:2.1MHz")
    assert not any(row["in_tune"] for row in answer.candidates.records())
    assert "No crystal here puts all of it into 2-2.1 MHz; the best otherwise: Number" in heading(answer)
    assert answer.settings["tune"] == (2_000_000, 2_100_000)


@pytest.mark.parametrize(
    ("tune", "fault"),
    [
        ("4MHz:3.5MHz", r'--tune: "4MHz:3.5MHz" has its low edge 4 MHz not below'),
        ("4MHz", r'--tune: "4MHz" is not two edges'),
    ],
)
def test_a_stretch_that_makes_no_sense_is_refused(tune: str, fault: str) -> None:
    with pytest.raises(Refused, match=fault):
        fifteen_metres(tune=tune)


def test_the_sentence_names_what_number_one_won_by_and_what_cannot_be_told_from_it() -> None:
    """17.5 MHz against its half doubled: 3 points for the multiplier, and what its other harmonics bring in.

    At 2 points and less nothing won.
    """
    halved = spurplan.converter(
        BOATHOUSE, cover="21MHz:21.45MHz", crystal=["17.5MHz", "8.75MHz"], tune="3.5MHz:4MHz"
    )
    text = heading(halved)
    assert "Number 1: crystal 17.5 MHz, below, into range 2 at 3.5-3.95 MHz" in text
    won, behind = halved.candidates.records()[:2]
    lost = won["points"] - behind["points"]
    impure = 100.0 * (won["usable_share"] - behind["usable_share"])
    assert 0 < impure < 1
    assert lost == pytest.approx(3.0 + impure)
    assert (
        f"8.75 MHz times 2 below, is {lost:.1f} points behind it, most for its multiplier: times 2." in text
    )
    answer = spurplan.converter(BOATHOUSE, cover="28MHz:30MHz", crystal=["26MHz", "26.5MHz", "48MHz"])
    first, second = answer.candidates.records()[:2]
    assert 0 < first["points"] - second["points"] < 2
    assert "Cannot be told from it: 26.5 MHz below." in heading(answer)
    assert "the set alone, is " in heading(answer)
    assert "most for its scale: 127 kHz a mm against 21." in heading(answer)


def test_a_set_that_does_as_well_alone_is_told_not_to_have_a_converter(tmp_path: Path) -> None:
    """Nobody is on the air: fine scale, little drift, the same share; what is built is still in the file."""
    stations = tmp_path / "nobody.csv"
    stations.write_text("low_khz,high_khz,service,label,level\n1,300000,amateur,Nobody,-170 dBm\n", "utf-8")
    receiver = Receiver.from_dict(
        {
            "name": "fine",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [
                {"name": "40", "coverage": ["7 MHz", "7.5 MHz"], "front_end": [{"circuits": 3}]},
                {"name": "80", "coverage": ["3.5 MHz", "4.1 MHz"], "front_end": [{"circuits": 3}]},
            ],
        }
    )
    answer = spurplan.converter(receiver, bands=stations, cover="7MHz:7.4MHz", crystal="3.4MHz")
    assert answer.candidates.records()[0]["side"] == "alone"
    assert "no converter here is worth its building." in heading(answer)
    said = heading(answer)
    assert said.index("None of these crystals") < said.index(
        "Number 2: crystal 3.4 MHz, below, into range 80"
    )
    best = answer.findings.chosen((7_000_000, 7_400_000))
    assert (best.rank, best.crystal_hz) == (2, 3_400_000)
    assert answer.findings.proposed.ranges[0].name == "80"


def test_what_a_builder_gives_is_read_from_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing for a dial that runs backwards and odd readings 24.95 MHz comes first."""
    table = {name: dict(part) for name, part in handling.estimates().items()}
    table["points"] |= {"backwards": 0.0, "odd_reading": 0.0, "half_reading": 0.0}
    monkeypatch.setattr("spurplan.planning.converter.points.estimates", lambda: table)
    assert fifteen_metres(tune="3.5MHz:4MHz").candidates.records()[0]["crystal_hz"] == 24_950_000


def test_every_figure_of_the_table_says_that_it_is_an_estimate() -> None:
    """An estimate stands with its mark, on the line of the figure."""
    text = Path(handling.__file__).parents[2] / "data" / "crystals.toml"
    lines = [line for line in text.read_text("utf-8").splitlines() if " = " in line and line[0] != "#"]
    assert len(lines) == sum(len(part) for part in tomllib.loads(text.read_text("utf-8")).values())
    assert all(line.endswith("[est]") for line in lines)


def test_the_share_is_that_of_the_set_behind_the_converter() -> None:
    """As `outlooks` judges the file that would be saved, on five times as many settings; to a point."""
    answer = fifteen_metres(tune="3.5MHz:4MHz")
    receiver, settings = read_receiver(BOATHOUSE), Settings()
    place = place_of(receiver, occupants_of(receiver, as_bands(None), settings), settings)
    assert SETTINGS <= 100
    compared = 0
    for row in answer.candidates.records():
        number = row["rank"] - 1
        if row["range"] is None:
            continue
        if row["side"] == "alone":
            (one,) = [r for r in receiver.ranges if r.name == row["range"]]
            behind, cover = receiver, (row["cover_low_hz"], row["cover_high_hz"])
        else:
            behind, cover = answer.findings.behind(answer.findings.candidate(number)), None
            (one,) = behind.ranges
        (outlook,) = outlooks([(behind, one)], place, replace(settings), cover)
        assert row["usable_share"] == pytest.approx(outlook.finding.usable, abs=0.01), row
        compared += 0.1 < row["usable_share"] < 0.9
    assert compared > 5


@pytest.mark.long
def test_one_crystal_for_several_covers_is_the_one_with_most_points_where_it_has_least() -> None:
    """By a plain search over the records; the quietest corner of the air alone does not decide it."""
    covers = ["21MHz:21.45MHz", "28MHz:29MHz"]
    answer = spurplan.converter(BOATHOUSE, cover=covers)
    best: dict[int, dict[int, float]] = {}
    for row in answer.candidates.records():
        if row["possible"] and row["side"] != "alone":
            of_crystal = best.setdefault(row["crystal_hz"], {})
            of_crystal[row["cover_low_hz"]] = max(of_crystal.get(row["cover_low_hz"], -1e9), row["points"])
    least = {hz: min(points.values()) for hz, points in best.items() if len(points) == 2}
    hz, shares = answer.findings.for_all_covers()
    assert least[hz] == max(least.values())
    assert len(shares) == 2
    assert f"One crystal for all: {hz / 1e6:g} MHz, " in heading(answer)
    assert max(map(len, text(answer, Page(width=80, top=4), view(answer)).splitlines())) <= 80
