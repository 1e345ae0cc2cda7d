"""Converters worked by hand, the arithmetic beside each figure.

The set is invented and has one range or two; stations stand where the sums lead.
Mixers are multiplicative valves: the m-th oscillator harmonic is 20 log m down up to the
third, and such a mixer passes its IF 3 dB better than it converts.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.errors import Refused
from spurplan.receiver.description import Front, Receiver
from spurplan.reporting.views.converter import view

# No selectivity but the ceiling's: what is said of levels is then a sum of three figures.
OPEN_FRONT = {
    "elements": [], "gain": "20 dB", "noise_figure": "6 dB", "pickup": "40 dB",
    "mixer": {"family": "valve_multiplicative"},
}  # fmt: skip


def receiver_of(*ranges: tuple[str, str, str]) -> Receiver:
    """A set with one conversion to 455 kHz and some ranges (name, low, high)."""
    return Receiver.from_dict(
        {
            "name": "Ferryman's set",
            "noise_figure": "10 dB",
            "conversion": [
                {
                    "injection": "high", "if": "455 kHz", "mixer": {"family": "valve_multiplicative"},
                    "filter": {"bandwidth": "6 kHz"},
                }
            ],
            "range": [
                {"name": name, "coverage": [low, high], "front_end": [{"circuits": 2, "q": 70.0}]}
                for name, low, high in ranges
            ],
        }
    )  # fmt: skip


FORTY = receiver_of(("40 m", "6.9 MHz", "7.6 MHz"))


def table_of(folder: Path, *rows: str) -> Path:
    """A band table; each row is "low or freq,high,service,label,level" in kHz."""
    lines = ["low_khz,high_khz,freq_khz,service,label,level"]
    for row in rows:
        low, high, rest = row.split(",", 2)
        lines.append(f"{low},{high},,{rest}" if high else f",,{low},{rest}")
    path = folder / "stations.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def of(answer: spurplan.Answer, multiplier: int = 1, **wanted: Any) -> dict[str, Any]:
    """Return the one candidate with some fields."""
    wanted |= {"multiplier": multiplier}
    found = [r for r in answer.candidates.records() if all(r[k] == v for k, v in wanted.items())]
    assert len(found) == 1, [
        (r["crystal_hz"], r["multiplier"], r["side"]) for r in answer.candidates.records()
    ]
    return found[0]


QUIET = ("100,,amateur,Somebody far away,-120 dBm",)
# A band that nobody is heard on: where the tables end does not matter with it.
KNOWN = "1,300000,amateur,Nobody,-170 dBm"


@pytest.mark.parametrize(
    ("cover", "crystal", "side", "rule", "tunes"),
    [
        # 15 m: 21.0 - 14.0 = 7.0, 21.45 - 14.0 = 7.45 MHz
        ("21MHz:21.45MHz", "14MHz", "below", "signal = 14.000 MHz + dial", (7_000_000, 7_450_000)),
        # 28.45 - 21.45 = 7.0, 28.45 - 21.0 = 7.45 MHz: 21.0 MHz stands at the top of the dial
        ("21MHz:21.45MHz", "28.45MHz", "above", "signal = 28.450 MHz \N{MINUS SIGN} dial: runs backwards",
         (7_000_000, 7_450_000)),
        # 10 m, its beginning: 28.0 - 21.0 = 7.0, 28.5 - 21.0 = 7.5 MHz
        ("28MHz:28.5MHz", "21MHz", "below", "signal = 21.000 MHz + dial", (7_000_000, 7_500_000)),
        # 35.5 - 28.5 = 7.0, 35.5 - 28.0 = 7.5 MHz
        ("28MHz:28.5MHz", "35.5MHz", "above", "signal = 35.500 MHz \N{MINUS SIGN} dial: runs backwards",
         (7_000_000, 7_500_000)),
        # 11 m: 26.965 - 20 = 6.965, 27.405 - 20 = 7.405 MHz
        ("26.965MHz:27.405MHz", "20MHz", "below", "signal = 20.000 MHz + dial", (6_965_000, 7_405_000)),
        # 34.405 - 27.405 = 7.0, 34.405 - 26.965 = 7.44 MHz
        ("26.965MHz:27.405MHz", "34.405MHz", "above",
         "signal = 34.405 MHz \N{MINUS SIGN} dial: runs backwards", (7_000_000, 7_440_000)),
    ],
)  # fmt: skip
def test_converters_into_40_m(
    tmp_path: Path, cover: str, crystal: str, side: str, rule: str, tunes: tuple[int, int]
) -> None:
    """The tunable IF is the difference, and the dial runs backwards below the crystal."""
    answer = spurplan.converter(FORTY, bands=table_of(tmp_path, *QUIET), cover=cover, crystal=crystal)
    found = of(answer, side=side)
    assert found["dial_rule"] == rule
    assert (found["set_low_hz"], found["set_high_hz"]) == tunes
    assert (found["possible"], found["range"], found["lost_hz"]) == (True, "40 m", 0)
    backwards = "the dial runs backwards and sidebands come out inverted"
    assert (backwards in found["reasons"]) == (side == "above")


@pytest.mark.parametrize(
    ("crystal", "signal", "set_dial", "inverted"),
    [
        # 14 + 7.2 = 21.2: forwards, upper sideband stays upper
        ("14MHz", "21.2MHz", 7_200_000, False),
        # 28.45 - 7.25 = 21.2: backwards, and IF1 = LO1 - RF turns the spectrum over
        ("28.45MHz", "21.2MHz", 7_250_000, True),
    ],
)
def test_saved_receiver_reads_its_dial_and_turns_its_sidebands(
    tmp_path: Path, crystal: str, signal: str, set_dial: int, inverted: bool
) -> None:
    """Behind the saved converter the set's dial and the sideband are as the rule says."""
    bands = table_of(tmp_path, "21200,,amateur,Wanted,-60 dBm", "7250,,amateur,Straight in,-20 dBm", *QUIET)
    answer = spurplan.converter(FORTY, bands=bands, cover="21MHz:21.45MHz", crystal=crystal)
    behind = answer.findings.proposed
    at = spurplan.dial(behind, bands=bands, frequency=signal)
    (wanted,) = at.on_frequency.records()
    assert (wanted["label"], wanted["set_dial_hz"]) == ("Wanted", set_dial)
    # what comes straight in by IF1 = RF is not turned over: against the wanted signal it is
    # inverted where the wanted one was turned, and only there
    straight = [r for r in spurplan.ranges(behind, bands=bands).intrusions if r["label"] == "Straight in"]
    assert {r["inverted"] for r in straight if r["response"] == "IF breakthrough"} == {inverted}


def test_41_m_broadcasting_straight_into_the_tunable_if(tmp_path: Path) -> None:
    """Through the mixer it is heard 3 dB up on itself, past it by pickup; the powers add.

    14 MHz below 21.2-21.45 MHz tunes 7.2-7.45 MHz. With no front end in the converter,
    7.3 MHz reaches the mixer as strong as the wanted signal and goes straight through it
    3 dB better: -40 + 3 = -37 dBm heard. Two circuits of Q 20 on 21.3 MHz take off
    2 * 10 log(1 + (20 * (7.3/21.3 - 21.3/7.3))^2) = 2 * 34.25 = 68.5 dB; less the 3 dB
    that is 65.5. Past the converter it is 40 dB down at the set, 60 dB against the wanted signal with its
    20 dB of gain: together 10 log(10^-6.55 + 10^-6) = -58.9 dB, -98.9 dBm.
    """
    bands = table_of(tmp_path, "7300,,broadcast,41 m broadcasting,-40 dBm")
    wide_open = Front.from_dict(OPEN_FRONT)
    found = of(
        spurplan.converter(FORTY, bands=bands, cover="21.2MHz:21.45MHz", crystal="14MHz", front=wide_open),
        side="below",
    )
    assert found["straight_in_label"] == "41 m broadcasting"
    assert found["straight_in_dbm"] == pytest.approx(-37.0, abs=0.01)
    closed = Front.from_dict(OPEN_FRONT | {"elements": [{"circuits": 2, "q": 20.0}], "ceiling": "110 dB"})
    found = of(
        spurplan.converter(FORTY, bands=bands, cover="21.2MHz:21.45MHz", crystal="14MHz", front=closed),
        side="below",
    )
    assert found["straight_in_dbm"] == pytest.approx(-98.92, abs=0.05)
    # with 80 dB of pickup, 100 dB down, the mixer's way is all that counts, 65.5 dB down on 21.3 MHz
    tight = Front.from_dict(
        OPEN_FRONT | {"elements": [{"circuits": 2, "q": 20.0}], "ceiling": "110 dB", "pickup": "80 dB"}
    )
    found = of(
        spurplan.converter(FORTY, bands=bands, cover="21.2MHz:21.45MHz", crystal="14MHz", front=tight),
        side="below",
    )
    assert found["straight_in_dbm"] == pytest.approx(-40.0 - 65.5, abs=0.1)


def test_image_and_second_image(tmp_path: Path) -> None:
    """Where the two images stand and how far they are down, by the formula of a tuned circuit.

    21.2 MHz: t = 7.2 MHz. First image 14 - 7.2 = 6.8 MHz. Second image: the set hears
    7.2 + 2 * 0.455 = 8.11 MHz, that is 22.11 MHz. Worst over 21.2 +- 0.0005 MHz is the same
    to a tenth of a decibel.
    """
    front = Front.from_dict(OPEN_FRONT | {"elements": [{"circuits": 1, "q": 30.0}], "ceiling": "110 dB"})
    answer = spurplan.converter(
        FORTY, bands=table_of(tmp_path, *QUIET), cover=(21_199_500, 21_200_500), explain="14MHz", front=front
    )
    found = of(answer, side="below")
    # 10 log(1 + (30 * (6.8/21.2 - 21.2/6.8))^2) = 10 log(1 + (30 * 2.79689)^2) = 38.48 dB
    assert found["image_rejection_db"] == pytest.approx(38.48, abs=0.05)
    # converter: 10 log(1 + (30 * (22.11/21.2 - 21.2/22.11))^2) = 10 log(1 + 2.5208^2) = 8.67 dB
    # set: 2 * 10 log(1 + (70 * (8.11/7.2 - 7.2/8.11))^2) = 2 * 10 log(1 + 16.702^2) = 48.94 dB
    assert found["second_image_rejection_db"] == pytest.approx(8.67 + 48.94, abs=0.05)
    middle = {r["response"]: (r["rf_low_hz"] + r["rf_high_hz"]) // 2 for r in answer.ways_in.records()[:2]}
    assert middle == {"image": 6_800_000, "second image": 22_110_000}


def test_a_second_harmonic_that_folds_the_cover_onto_itself(tmp_path: Path) -> None:
    """2 LO1 - RF meets the tunable IF too: with 14.15 MHz the 15 m band stands on its own mirror.

    2 * 14.15 - r = d - 14.15 gives r = 42.45 - d: 21.0 comes in at 21.45, and 21.225 on
    itself. In the dial of the set, t = d - 14.15, that is r = 2 X - t. The second harmonic
    is 20 log 2 = 6 dB down, and no front end can help: every station of the band is heard
    twice. A crystal of 14.7 MHz folds about 22.05 MHz, outside, and stands first.
    """
    bands = table_of(tmp_path, "21000,21450,amateur,15 m,-70 dBm", KNOWN)
    wide = receiver_of(("40 m", "6 MHz", "7.6 MHz"))
    front = Front.from_dict(OPEN_FRONT)
    crystals = ["14.15MHz", "14.7MHz"]
    answer = spurplan.converter(wide, bands=bands, cover="21MHz:21.45MHz", crystal=crystals, front=front)
    folded, clean = of(answer, crystal_hz=14_150_000), of(answer, crystal_hz=14_700_000)
    assert clean["rank"] < folded["rank"]
    assert clean["unheard_share"] == 1.0
    assert folded["unheard_share"] == 0.0
    assert folded["worst_label"] == "15 m"
    assert folded["whistles"] == 1
    assert any(
        "IF1 = 2 LO1 - RF folds the cover onto itself about 21.225 MHz: 42.45 MHz \N{MINUS SIGN} signal"
        in text
        and "6 dB down" in text
        for text in folded["reasons"]
    )
    assert "most for what is usable: " in folded["reasons"][0]
    number = answer.candidates.records().index(folded)
    behind = answer.findings.behind(answer.findings.candidate(number))
    (mirror,) = [
        r
        for r in spurplan.dial(behind, bands=bands, frequency="21.1MHz").intrusions
        if r["steps"][0] == [2, -1]
    ]
    # 42.45 - 21.1 = 21.35 MHz, give or take half the passband; -70 - 6.02 = -76.02 dBm
    assert (mirror["rf_low_hz"], mirror["rf_high_hz"]) == (21_347_000, 21_353_000)
    assert mirror["heard_dbm"] == pytest.approx(-76.02, abs=0.01)


def test_80_m_sum_converter_hears_its_crystal_twice(tmp_path: Path) -> None:
    """3.5 + 3.5795 = 7.0795 to 4.0 + 3.5795 = 7.5795 MHz; the crystal is in the cover, 2 X = 7.159 in the IF.

    Both are heard on one spot of the dial: 7.159 - 3.5795 = 3.5795 MHz.
    """
    answer = spurplan.converter(
        FORTY, bands=table_of(tmp_path, *QUIET), cover="3.5MHz:4MHz", explain="3.5795MHz"
    )
    found = of(answer, side="sum")
    assert found["dial_rule"] == "signal = dial \N{MINUS SIGN} 3.5795 MHz"
    assert (found["set_low_hz"], found["set_high_hz"]) == (7_079_500, 7_579_500)
    assert "the crystal, 3.5795 MHz, stands in the cover" in found["reasons"]
    assert "its harmonic 2, 7.159 MHz, falls into the tunable IF: heard on 3.5795 MHz" in found["reasons"]
    assert found["birdies"] >= 2
    # the third harmonic folds the band about the crystal: 3 X - r = d + X, r = 7.159 - d
    assert any("IF1 = 3 LO1 - RF folds the cover onto itself about 3.5795 MHz" in t for t in found["reasons"])


def test_a_crystal_for_which_no_range_holds_the_tunable_if() -> None:
    """10 MHz: 21 - 10 = 11 to 11.45 below, 31 to 31.45 the sum; doubled, 1 to 1.45; none is tuned."""
    with pytest.raises(
        Refused, match=r'--crystal: "10 MHz" is of no use: no range holds any of its tunable IF'
    ) as bad:
        spurplan.converter(FORTY, cover="21MHz:21.45MHz", crystal="10MHz")
    assert "11-11.45 MHz below, 31-31.45 MHz as the sum" in str(bad.value)
    assert '"40 m" 6.9 MHz to 7.6 MHz' in str(bad.value)


def test_what_is_lost_is_said_in_kilohertz(tmp_path: Path) -> None:
    """14.5 MHz below 21.0-21.45 tunes 6.5-6.95 MHz; the range begins at 6.9: 400 kHz are lost."""
    answer = spurplan.converter(
        FORTY, bands=table_of(tmp_path, *QUIET), cover="21MHz:21.45MHz", crystal=["14.5MHz", "14MHz"]
    )
    found = of(answer, crystal_hz=14_500_000)
    assert (found["possible"], found["lost_hz"], found["cover_low_hz"]) == (False, 400_000, 21_400_000)
    assert "loses 400 kHz of the cover, 21 to 21.4 MHz: range 40 m begins at 6.9 MHz" in found["reasons"]
    assert found["rank"] > of(answer, crystal_hz=14_000_000)["rank"]
    shown = view(answer).tables
    assert shown is not None
    where = dict(
        zip(shown["candidates"]["rank"].tolist(), shown["candidates"]["range"].tolist(), strict=True)
    )
    assert where[1] == "40 m"
    assert where[found["rank"]] == "40 m, less 400 kHz"


def test_reading_error_is_the_tolerance_of_what_is_injected(tmp_path: Path) -> None:
    """30 ppm of 10 MHz is 300 Hz, of 45 MHz 1350 Hz; three times 9.666 MHz is 28.998 MHz, 870 Hz."""
    stock = tmp_path / "stock.csv"
    stock.write_text("freq_mhz,mode,tolerance_ppm\n10,fundamental,30\n45,3rd,30\n9.666,fundamental,30\n")
    wide = receiver_of(("wide", "2 MHz", "25 MHz"))
    answer = spurplan.converter(wide, bands=table_of(tmp_path, *QUIET), cover="21MHz:21.45MHz", stock=stock)
    assert of(answer, crystal_hz=10_000_000, side="below")["reading_error_hz"] == 300
    assert of(answer, crystal_hz=45_000_000, side="above")["reading_error_hz"] == 1_350
    assert of(answer, 3, crystal_hz=9_666_000, side="above")["reading_error_hz"] == 870
