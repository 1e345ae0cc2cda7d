"""Published worked examples of receiver frequencies, asked of the package as a user would.

Each is a receiver, a dial setting and a spot at the published frequency; the
package must name the response and write the equation. What is published is
the frequency; names and equations are this package's terms for it.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

import spurplan
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from tests.oracle import connect
from tests.oracle.plain import hertz
from tests.outside import Differences, against

IMAGE_ABOVE, IMAGE_BELOW = "IF = RF - LO", "IF = LO - RF"


def single(injection: str, if_text: str, low: str, high: str, bandwidth: str = "6 kHz") -> dict[str, Any]:
    """A set with one conversion."""
    return {
        "name": "worked example",
        "conversion": [{"injection": injection, "if": if_text, "filter": {"bandwidth": bandwidth}}],
        "range": [{"name": "1", "coverage": [low, high]}],
    }


def double(first: tuple[str, str], second: tuple[str, str], low: str, high: str) -> dict[str, Any]:
    """A set with two conversions, each (injection, IF)."""
    return {
        "name": "worked example",
        "conversion": [
            {"injection": first[0], "if": first[1]},
            {"injection": second[0], "if": second[1], "filter": {"bandwidth": "6 kHz"}},
        ],
        "range": [{"name": "1", "coverage": [low, high]}],
    }


def published(source: str, compares: str) -> Any:
    """A check of frequencies: exact, to the hertz."""
    return against(source, compares, unit="Hz", tolerance=0)


Heard = dict[str, dict[str, dict[str, Any]]]


def heard_at(folder: Path, receiver: dict[str, Any], dial: str, *spots: str) -> Heard:
    """Return {spot: {response: record}} for stations on some frequencies at a dial setting."""
    rising = sorted(spots, key=hertz)
    table = connect.band_table(folder, [(hertz(spot), hertz(spot)) for spot in rising])
    answer = spurplan.dial(
        Receiver.from_dict(receiver), bands=table, frequency=dial, everything=True, lo_order=4
    )
    found: Heard = {spot: {} for spot in spots}
    for record in answer.intrusions:
        spot = rising[record["row"] - 2]
        assert record["response"] not in found[spot], "one name, one route at one setting"
        found[spot][record["response"]] = record
    return found


def beside(found: Heard, spot: str, response: str, equation: str) -> float:
    """How far from a published frequency a response lies that the package lists under this name there.

    Returns
    -------
    inf where it is not listed, or listed with another equation; otherwise hertz, 0 being exact.
    """
    record = found[spot].get(response)
    return float(record["offset_hz"]) if record and record["equation"] == equation else math.inf


def oscillators_beside(receiver: dict[str, Any], dial: str, *oscillators: str) -> list[float]:
    """How far each oscillator is from the published one. [Hz]"""
    found = oscillators_hz(receiver, dial)
    return [hz - hertz(text) for hz, text in zip(found, oscillators, strict=True)]


def oscillators_hz(receiver: dict[str, Any], dial: str) -> list[float]:
    """Return the oscillators of the first range at a dial setting. [Hz]"""
    model = Receiver.from_dict(receiver)
    (chains,) = compile_chains([(model, model.ranges[0])])
    here = np.array([hertz(dial)], dtype=np.int64)
    one = np.zeros(1, dtype=np.int64)
    return [float(chains.oscillator_hz(i, one, here)[0]) for i in range(chains.conversions)]


# injection, IF, dial, oscillator, image; "from memory" where the text itself was not seen
IMAGES = [
    # Kennedy and Davis, Electronic Communication Systems, 4th ed., Example 6-1(a)
    ("high", "455 kHz", "1000 kHz", "1455 kHz", "1910 kHz"),
    # the same, Example 6-1(b)
    ("high", "455 kHz", "25 MHz", "25455 kHz", "25.91 MHz"),
    # Scilab textbook companion 1409, ex. 8.17 (a problem of Kennedy): tuned 555, oscillator 1010 kHz
    ("high", "455 kHz", "555 kHz", "1010 kHz", "1465 kHz"),
    # GATE preparation problem: IF 450 kHz, 600 kHz
    ("high", "450 kHz", "600 kHz", "1050 kHz", "1500 kHz"),
    # Mumbai University, examination of December 2014, 5-mark problem
    ("high", "455 kHz", "1400 kHz", "1855 kHz", "2310 kHz"),
    # course problem, 30 MHz with 455 kHz
    ("high", "455 kHz", "30 MHz", "30455 kHz", "30.91 MHz"),
    # Scilab textbook companion 1409, ex. 8.25: images 2100 and 20900 kHz
    ("high", "450 kHz", "1200 kHz", "1650 kHz", "2100 kHz"),
    ("high", "450 kHz", "20 MHz", "20450 kHz", "20900 kHz"),
    # Analog Electronics: Troubleshooting and Practical Learning Guide, p. 478
    ("high", "455 kHz", "600 kHz", "1055 kHz", "1510 kHz"),
    # FCC Element 3 question pool, 3-44F5; NCVEC General pool G8B02 (2019-2023): VFO 13.8 MHz
    ("low", "455 kHz", "14.255 MHz", "13.8 MHz", "13.345 MHz"),
    # scanner owner's manual, "avoiding image frequencies": 431.975 MHz heard on 474.775 MHz, IF 21.4 MHz
    ("low", "21.4 MHz", "474.775 MHz", "453.375 MHz", "431.975 MHz"),
    # Dutch amateur examination, question 058-011
    ("low", "1.5 MHz", "8 MHz", "6.5 MHz", "5 MHz"),
    # textbook problem, 1200 kHz with 455 kHz
    ("high", "455 kHz", "1200 kHz", "1655 kHz", "2110 kHz"),
    # Tomasi, Electronic Communications Systems, image-rejection example (from memory)
    ("high", "455 kHz", "27 MHz", "27455 kHz", "27.91 MHz"),
    # GATE (India) electronics paper (from memory): 550-1650 kHz, IF 450 kHz
    ("high", "450 kHz", "700 kHz", "1150 kHz", "1600 kHz"),
    # NCVEC Extra pool E4C14 (2016-2020 and 2020-2024): tuned 14.300 MHz, IF 455 kHz
    ("high", "455 kHz", "14.300 MHz", "14755 kHz", "15.210 MHz"),
    # Scilab textbook companion 1409, ex. 8.23: images 1.93 and 30.93 MHz
    ("high", "465 kHz", "1 MHz", "1465 kHz", "1.93 MHz"),
    ("high", "465 kHz", "30 MHz", "30465 kHz", "30.93 MHz"),
    # study notes on receivers (open text), FM broadcast
    ("high", "10.7 MHz", "100 MHz", "110.7 MHz", "121.4 MHz"),
    # magazine short-wave converter: 49 m band to 1.6 MHz, oscillator about 4.4 MHz; image by calculation
    ("low", "1.6 MHz", "6 MHz", "4.4 MHz", "2.8 MHz"),
    # published homework solution: 24.1-48.4 MHz, IF 3225 kHz; oscillator 27.325-51.625, image 30.55-54.85 MHz
    ("high", "3225 kHz", "24.1 MHz", "27.325 MHz", "30.55 MHz"),
    ("high", "3225 kHz", "48.4 MHz", "51.625 MHz", "54.85 MHz"),
    # homework problem, TV tuner 45-860 MHz, IF 40 MHz (image overlaps the band, as stated), then 1.2 GHz
    ("high", "40 MHz", "45 MHz", "85 MHz", "125 MHz"),
    ("high", "40 MHz", "860 MHz", "900 MHz", "940 MHz"),
    ("high", "1200 MHz", "45 MHz", "1245 MHz", "2445 MHz"),
    ("high", "1200 MHz", "860 MHz", "2060 MHz", "3260 MHz"),
    # mobile-radio base-station manual, IF 21.4 MHz: oscillator below above 154.6 MHz, above below it;
    # images by calculation
    ("low", "21.4 MHz", "160 MHz", "138.6 MHz", "117.2 MHz"),
    ("high", "21.4 MHz", "150 MHz", "171.4 MHz", "192.8 MHz"),
    # common practice: a 455 kHz set with its oscillator above, in the 11 m and 10 m bands
    ("high", "455 kHz", "27.125 MHz", "27.580 MHz", "28.035 MHz"),
    ("high", "455 kHz", "28.300 MHz", "28.755 MHz", "29.210 MHz"),
]


def around(dial: str) -> tuple[str, str]:
    """A range that holds a dial setting."""
    return f"{hertz(dial) - 20_000} Hz", f"{hertz(dial) + 20_000} Hz"


@published(
    "Kennedy, Tomasi, Scilab companion 1409, examination pools, manuals, common practice",
    "oscillator of a dial setting",
)
def test_oscillator_of_an_image_example() -> Differences:
    for injection, if_text, dial, oscillator, _ in IMAGES:
        yield dial, oscillators_beside(single(injection, if_text, *around(dial)), dial, oscillator)


@published(
    "Kennedy, Tomasi, Scilab companion 1409, examination pools, manuals, common practice",
    "image of a dial setting",
)
def test_image(folder: Path) -> Differences:
    """The published image is heard as the image; 3.001 kHz further out it is not."""
    for injection, if_text, dial, _, image in IMAGES:
        receiver = single(injection, if_text, *around(dial))
        beyond = [f"{hertz(image) + off} Hz" for off in (-3_001, 3_001)]
        found = heard_at(folder, receiver, dial, image, *beyond)
        equation = IMAGE_ABOVE if injection == "high" else IMAGE_BELOW
        yield f"{image} on {dial}", beside(found, image, "image", equation)
        assert all("image" not in found[spot] for spot in beyond)


@published("common practice: twice the IF beside its place", "dial settings of a station's image")
def test_image_lies_twice_the_if_away(folder: Path) -> Differences:
    """Common practice: a station turns up twice the IF beside its place, 6 kHz of dial wide."""
    for injection, if_text, dial, _, image in IMAGES:
        side = 1 if injection == "high" else -1
        heard_on = hertz(image) - side * 2 * hertz(if_text)
        table = connect.band_table(folder, [(hertz(image), hertz(image))])
        receiver = Receiver.from_dict(single(injection, if_text, *around(dial)))
        answer = spurplan.station(receiver, bands=table, frequency=image, everything=True, lo_order=4)
        stretches = [
            (record["dial_low_hz"], record["dial_high_hz"])
            for record in answer.intrusions
            if record["response"] == "image"
        ]
        yield f"{image}, first", min(low for low, _ in stretches) - (heard_on - 3_000)
        yield f"{image}, last", max(high for _, high in stretches) - (heard_on + 3_000)


# coverage, IF, injection, lowest and highest oscillator frequency
OSCILLATORS = [
    # M. G. Scroggie, Foundations of Wireless, s. 21.6 (ganging the oscillator)
    ("525 kHz", "1605 kHz", "470 kHz", "high", "995 kHz", "2075 kHz"),
    ("525 kHz", "1605 kHz", "470 kHz", "low", "55 kHz", "1135 kHz"),
    # Scilab textbook companion 1409, ex. 8.19 and ex. 8.26
    ("500 kHz", "1600 kHz", "465 kHz", "high", "965 kHz", "2065 kHz"),
    ("550 kHz", "1600 kHz", "455 kHz", "high", "1005 kHz", "2055 kHz"),
    # magazine short-wave converter: 5.9-6.2 MHz needs 4.3-4.6 MHz (by calculation)
    ("5.9 MHz", "6.2 MHz", "1.6 MHz", "low", "4.3 MHz", "4.6 MHz"),
]


@published("Scroggie s. 21.6; Scilab companion 1409, ex. 8.19, 8.26; a magazine", "oscillator ranges")
def test_oscillator_range() -> Differences:
    """The published range of the oscillator."""
    for low, high, if_text, injection, osc_low, osc_high in OSCILLATORS:
        receiver = single(injection, if_text, low, high)
        yield f"{low}, {injection}", oscillators_beside(receiver, low, osc_low)
        yield f"{high}, {injection}", oscillators_beside(receiver, high, osc_high)


# public RF notes, half-IF section: RF 900 MHz, IF 100 MHz, oscillator 800 MHz: 2*850 - 2*800 = 100;
# oscillator 1000 MHz: 950 MHz (by calculation)
# by calculation, (signal + oscillator)/2: wanted 7.1 MHz, IF 9 MHz, oscillator 16.1 MHz: 11.6 MHz
HALF_IFS = [
    ("low", "100 MHz", "900 MHz", "850 MHz", "IF = 2 RF - 2 LO"),
    ("high", "100 MHz", "900 MHz", "950 MHz", "IF = 2 LO - 2 RF"),
    ("high", "9 MHz", "7.1 MHz", "11.6 MHz", "IF = 2 LO - 2 RF"),
]


@published("public RF notes; by calculation", "half-IF")
def test_half_if(folder: Path) -> Differences:
    """Half the IF from the signal, on the side of the oscillator, and half the passband wide."""
    for injection, if_text, dial, half_if, equation in HALF_IFS:
        receiver = single(injection, if_text, *around(dial))
        beyond = f"{hertz(half_if) + 1_501} Hz"
        found = heard_at(folder, receiver, dial, half_if, beyond)
        yield half_if, beside(found, half_if, "half-IF", equation)
        assert "half-IF" not in found[beyond]


@published("course text on receiver frequency plans", "image, half-IF, 2 x 3 and 1 x 2 responses")
def test_half_if_and_higher_products(folder: Path) -> Differences:
    """Preselector 8-11 GHz, oscillator 7.6 GHz, IF 1.8 GHz: where the four responses lie.

    Source: open course text on receiver frequency plans. Image 5.8, half-IF (2 x 2)
    8.5, 2 x 3 response 10.5, 1 x 2 response 13.4 GHz, the wanted signal being 9.4 GHz.
    """
    receiver = single("low", "1800 MHz", "8000 MHz", "11000 MHz", "1 MHz")
    yield "oscillator", oscillators_beside(receiver, "9400 MHz", "7600 MHz")
    found = heard_at(folder, receiver, "9400 MHz", "5800 MHz", "8500 MHz", "10500 MHz", "13400 MHz")
    yield "5.8 GHz", beside(found, "5800 MHz", "image", "IF = LO - RF")
    yield "8.5 GHz", beside(found, "8500 MHz", "half-IF", "IF = 2 RF - 2 LO")
    yield "10.5 GHz", beside(found, "10500 MHz", "mixer product", "IF = 3 LO - 2 RF")
    yield "13.4 GHz", beside(found, "13400 MHz", "LO-harmonic", "IF = 2 LO - RF")


@published("Carlson, Communication Systems, exercise", "three images of a double conversion")
def test_double_conversion_images(folder: Path) -> Differences:
    """IF1 30 MHz, IF2 3 MHz, both oscillators above, tuned to 300 MHz: 294, 360 and 366 MHz.

    Source: A. B. Carlson, Communication Systems, receiver exercise: LO1 330, LO2 33 MHz.
    """
    receiver = double(("high", "30 MHz"), ("high", "3 MHz"), "299 MHz", "301 MHz")
    yield "oscillators", oscillators_beside(receiver, "300 MHz", "330 MHz", "33 MHz")
    found = heard_at(folder, receiver, "300 MHz", "294 MHz", "360 MHz", "366 MHz")
    yield "360 MHz", beside(found, "360 MHz", "image", "IF1 = RF - LO1; IF2 = LO2 - IF1")
    yield "294 MHz", beside(found, "294 MHz", "second image", "IF1 = LO1 - RF; IF2 = IF1 - LO2")
    yield "366 MHz", beside(found, "366 MHz", "mixer product", "IF1 = RF - LO1; IF2 = IF1 - LO2")


@published("study notes on receivers (open text)", "second image of an FM set")
def test_second_image_of_an_fm_set(folder: Path) -> Differences:
    """IF1 10.7 MHz, IF2 455 kHz, both oscillators above: the second image on 11.61 MHz at the first IF.

    Source: study notes on receivers (open text): LO2 11.155 MHz. At the aerial it is the
    signal 0.91 MHz below the tuned one (by calculation).
    """
    receiver = double(("high", "10.7 MHz"), ("high", "455 kHz"), "88 MHz", "108 MHz")
    yield "oscillators", oscillators_beside(receiver, "100 MHz", "110.7 MHz", "11.155 MHz")
    found = heard_at(folder, receiver, "100 MHz", "99.09 MHz", "11.61 MHz")
    yield "99.09 MHz", beside(found, "99.09 MHz", "second image", "IF1 = LO1 - RF; IF2 = IF1 - LO2")
    # the set named for what reaches the second mixer straight from the aerial
    straight = [r for r in found["11.61 MHz"].values() if r["equation"] == "IF1 = RF; IF2 = IF1 - LO2"]
    yield "11.61 MHz", straight[0]["offset_hz"] if straight else math.inf


@published("Frenzel, receiver example (from memory)", "oscillators and images, 220-224 MHz")
def test_two_metre_and_a_quarter_receiver(folder: Path) -> Differences:
    """220-224 MHz, IF1 10.7 MHz, IF2 1.5 MHz: oscillators, and images 241.4 to 245.4 MHz.

    Source: L. E. Frenzel, Principles of Electronic Communication Systems, receiver example
    (from memory): LO1 230.7-234.7 MHz, LO2 12.2 or 9.2 MHz.
    """
    for second_injection, second_oscillator in (("high", "12.2 MHz"), ("low", "9.2 MHz")):
        receiver = double(("high", "10.7 MHz"), (second_injection, "1.5 MHz"), "220 MHz", "224 MHz")
        for dial, first, image in (
            ("220 MHz", "230.7 MHz", "241.4 MHz"),
            ("224 MHz", "234.7 MHz", "245.4 MHz"),
        ):
            yield f"oscillators, {dial}", oscillators_beside(receiver, dial, first, second_oscillator)
            found = heard_at(folder, receiver, dial, image)[image]
            yield (
                f"{image}, {second_injection}",
                found["image"]["offset_hz"] if "image" in found else math.inf,
            )


@published("mobile-radio base-station manual", "sides of the oscillator, images")
def test_base_station_changes_sides(folder: Path) -> Differences:
    """One set, oscillator below the signal above 154.6 MHz and above the signal below it.

    Source: mobile-radio base-station manual, IF1 21.4 MHz, IF2 455 kHz; images by calculation.
    """
    receiver = double(("low", "21.4 MHz"), ("low", "455 kHz"), "154.6 MHz", "174 MHz")
    below = double(("high", "21.4 MHz"), ("low", "455 kHz"), "138 MHz", "154.599 MHz")
    receiver["range"].append(
        {"name": "2", "coverage": below["range"][0]["coverage"], "conversion": below["conversion"]}
    )
    for dial, image, equation in (
        ("160 MHz", "117.2 MHz", "IF1 = LO1 - RF; IF2 = IF1 - LO2"),
        ("150 MHz", "192.8 MHz", "IF1 = RF - LO1; IF2 = IF1 - LO2"),
    ):
        yield image, beside(heard_at(folder, receiver, dial, image), image, "image", equation)
    # 20.945 MHz is the stock crystal that follows from this pair of IFs
    yield "oscillators", oscillators_beside(receiver, "160 MHz", "138.6 MHz", "20.945 MHz")


def image_in_band(folder: Path, low: str, high: str, if_text: str) -> bool:
    """Whether stations of the band tuned over come in as images."""
    receiver = Receiver.from_dict(single("high", if_text, low, high))
    table = connect.band_table(folder, [(hertz(low), hertz(high))])
    answer = spurplan.ranges(receiver, bands=table, everything=True)
    return "image" in set(answer.intrusions["response"])


@against(
    "GATE 2016 (from memory); a homework solution", "least IF that keeps the image out of the band",
    unit="verdicts", tolerance=0,
)  # fmt: skip
def test_least_if_that_keeps_the_image_out_of_the_band(folder: Path) -> Differences:
    for low, high, if_text, overlaps in (
        # GATE 2016 (from memory), 58-68 MHz: the image falls outside with an IF of 5 MHz and more
        ("58 MHz", "68 MHz", "4.9 MHz", True),
        ("58 MHz", "68 MHz", "4.99 MHz", True),
        ("58 MHz", "68 MHz", "5.01 MHz", False),
        ("58 MHz", "68 MHz", "6 MHz", False),
        # published homework solution, 24.1-48.4 MHz: with 3225 kHz the images overlap the band,
        # the IF must exceed 12.15 MHz
        ("24.1 MHz", "48.4 MHz", "3225 kHz", True),
        ("24.1 MHz", "48.4 MHz", "12.14 MHz", True),
        ("24.1 MHz", "48.4 MHz", "12.16 MHz", False),
    ):
        yield f"{low} with {if_text}", int(image_in_band(folder, low, high, if_text) is not overlaps)


def behind_a_crystal(crystal: str, multiplier: int, low: str, high: str, **front: Any) -> dict[str, Any]:
    """A crystal converter in front of a 455 kHz set with its oscillator above."""
    receiver = single("high", "455 kHz", low, high)
    receiver["conversion"].insert(0, {"crystal": crystal, "multiplier": multiplier, **front})
    return receiver


@published("short-wave converter kit notes", "both sides of 14.31818 MHz")
def test_crystal_converter_ahead_of_a_medium_wave_set(folder: Path) -> Differences:
    """Crystal 14.31818 MHz ahead of 0.55-1.6 MHz: the sum side and the difference side.

    Source: short-wave converter kit notes: it gives the 19 m and the 22 m band. By
    calculation 14.86818-15.91818 and 12.71818-13.76818 MHz, each the image of the other.
    """
    above = behind_a_crystal("14.31818 MHz", 1, "14.86818 MHz", "15.91818 MHz")
    below = behind_a_crystal("14.31818 MHz", 1, "12.71818 MHz", "13.76818 MHz")
    for dial, image, receiver, equation in (
        ("15.3 MHz", "13.33636 MHz", above, "IF1 = LO1 - RF; IF2 = LO2 - IF1"),
        ("13.6 MHz", "15.03636 MHz", below, "IF1 = RF - LO1; IF2 = LO2 - IF1"),
    ):
        yield image, beside(heard_at(folder, receiver, dial, image), image, "image", equation)
    # the kit's set on a fixed 455 kHz hears the crystal plus and minus 455 kHz
    fixed = single("low", "455 kHz", "14.77 MHz", "14.78 MHz")
    yield "oscillator", oscillators_beside(fixed, "14.77318 MHz", "14.31818 MHz")
    found = heard_at(folder, fixed, "14.77318 MHz", "13.86318 MHz")
    yield "minus 455 kHz", beside(found, "13.86318 MHz", "image", IMAGE_BELOW)


@published("short-wave converter kit notes, by calculation", "what the set's dial shows")
def test_set_dial_behind_a_converter(folder: Path) -> Differences:
    """Below the signal the set's dial runs with it, above the signal backwards.

    Source: as the example before; 15.1 - 14.31818 and 14.31818 - 13.6 by calculation.
    """
    for crystal_side, dial, shown in (
        (("14.86818 MHz", "15.91818 MHz"), "15.1 MHz", 781_820),
        (("12.71818 MHz", "13.76818 MHz"), "13.6 MHz", 718_180),
    ):
        receiver = behind_a_crystal("14.31818 MHz", 1, *crystal_side)
        table = connect.band_table(folder, [(hertz(dial), hertz(dial))])
        answer = spurplan.dial(Receiver.from_dict(receiver), bands=table, frequency=dial)
        assert len(answer.on_frequency) == 1
        yield dial, answer.on_frequency["set_dial_hz"] - shown


@against(
    "amateur handbooks, 2 m converter (from memory)",
    "its images, crystal as printed",
    unit="Hz",
    tolerance=200,
)
def test_two_metre_converter(folder: Path) -> Differences:
    """144-146 MHz to 28-30 MHz: crystal 38.6667 MHz times 3, image 88 to 86 MHz.

    Source: amateur handbooks, 2 m converter (from memory). The crystal as printed gives
    116.0001 MHz, 0.2 kHz aside at the image.
    """
    receiver = behind_a_crystal("38.6667 MHz", 3, "144 MHz", "146 MHz")
    assert oscillators_hz(receiver, "144 MHz")[0] == 116_000_100
    for dial, image in (("144 MHz", "88 MHz"), ("146 MHz", "86 MHz")):
        found = heard_at(folder, receiver, dial, image)
        yield image, beside(found, image, "image", "IF1 = LO1 - RF; IF2 = LO2 - IF1")


def test_no_dial_setting_may_be_the_if(tmp_path: Path) -> None:
    """Common practice: a set cannot tune its own IF; a range that covers it says so."""
    table = connect.band_table(tmp_path, [(100_000, 100_000)])
    covering = single("high", "455 kHz", "400 kHz", "520 kHz")
    clear = single("high", "455 kHz", "526 kHz", "1606 kHz")
    (record,) = spurplan.ranges(Receiver.from_dict(covering), bands=table).ranges.records()
    assert record["dead_low_hz"] <= 455_000 - 3_000
    assert record["dead_high_hz"] >= 455_000 + 3_000
    (record,) = spurplan.ranges(Receiver.from_dict(clear), bands=table).ranges.records()
    assert record["dead_low_hz"] is None
    assert record["dead_high_hz"] is None
