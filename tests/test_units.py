"""Hertz, decibels, dBm and S units: what is read, what is refused and why, what is written.

Frequencies are held against exact fractions. S units: S9 is -73 dBm (50 microvolts in
50 ohm) up to and including 30 MHz and -93 dBm above, 6 dB each: IARU Region 1 Technical
Recommendation R.1.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spurplan import units
from spurplan.errors import BadValue, Refused
from spurplan.units import (
    checked_hz,
    decimal_text,
    decimal_to_integer,
    hz_text,
    parse_db,
    parse_hz,
    parse_level,
    parse_signed_hz,
    parse_span,
    percent_text,
    s_text,
)

UNITS = {"Hz": 1, "kHz": 1_000, "k": 1_000, "MHz": 1_000_000, "M": 1_000_000, "GHz": 10**9, "G": 10**9}
HIGHEST_HZ = 30_000_000_000
hertz = st.integers(1, HIGHEST_HZ)


def plain_decimal(hz: int, scale: int) -> str:
    """Return hz / scale in decimals, by a way of its own."""
    places = len(str(scale)) - 1
    padded = str(hz).zfill(places + 1)
    return f"{padded[:-places]}.{padded[-places:]}" if places else padded


@given(hertz, st.sampled_from(sorted(UNITS)), st.sampled_from(["", " ", "  "]), st.booleans())
def test_every_frequency_is_read_from_every_unit(hz: int, unit: str, gap: str, lower: bool) -> None:
    """To the hertz, with or without a gap, in any case of letters, with all its decimal zeros."""
    # a lower-case m alone is metres
    text = plain_decimal(hz, UNITS[unit]) + gap + (unit.lower() if lower and unit != "M" else unit)
    assert parse_hz(text) == hz
    assert parse_hz(f"  {text} ") == hz


@given(st.integers(0, 30_000), st.sampled_from("kKmMgG"), st.text("0123456789", min_size=1, max_size=11))
def test_a_unit_may_stand_for_the_point(whole: int, unit: str, decimals: str) -> None:
    """14M2 is 14.2 MHz, and refused just where that is."""
    scale = {"k": 3, "m": 6, "g": 9}[unit.lower()]
    exact = Fraction(f"{whole}.{decimals}") * 10**scale
    if exact.denominator == 1 and 1 <= exact <= HIGHEST_HZ:
        assert parse_hz(f"{whole}{unit}{decimals}") == exact
    else:
        with pytest.raises(BadValue):
            parse_hz(f"{whole}{unit}{decimals}")


@pytest.mark.parametrize(
    ("text", "rule", "remedy"),
    [
        ("14,2 MHz", "is not a frequency", "write decimals with a point, as 14.2 MHz"),
        ("-14.2 MHz", "is not a frequency", "leave the sign out"),
        ("+14.2 MHz", "is not a frequency", "leave the sign out"),
        ("14e6 Hz", "is not a frequency", "write it as 14.2MHz, 14200 kHz or 465k"),
        ("fourteen", "is not a frequency", "write it as 14.2MHz, 14200 kHz or 465k"),
        ("", "is not a frequency", "write it as 14.2MHz, 14200 kHz or 465k"),
        ("14.2", "has no unit", "write 14.2 kHz or 14.2 MHz"),
        ("14.2 meters", "has an unknown unit meters", "use Hz, kHz, MHz or GHz"),
        ("1.2.3 MHz", "is not a number", "write plain digits with a decimal point"),
        ("465.0001 kHz", "is finer than 1 Hz", "give at most 3 decimals"),
        ("0.5 Hz", "is finer than 1 Hz", "give at most 0 decimals"),
        ("0 Hz", "is below 1 Hz", "give 1 Hz to 30 GHz"),
        ("0.000 kHz", "is below 1 Hz", "give 1 Hz to 30 GHz"),
        ("30000000001 Hz", "is above 30 GHz", "give 1 Hz to 30 GHz"),
        ("1000000000 GHz", "is above 30 GHz", "give 1 Hz to 30 GHz"),
    ],
)
def test_a_refused_frequency_says_what_is_wrong_and_what_to_write(text: str, rule: str, remedy: str) -> None:
    """The value as it was typed, the rule it breaks, the way out."""
    with pytest.raises(BadValue) as refused:
        parse_hz(text)
    assert (refused.value.value, refused.value.rule, refused.value.remedy) == (text, rule, remedy)


@pytest.mark.parametrize("text", ["1 Hz", "0.001k", "30 GHz", "30000000000 Hz", "30000.000000 MHz"])
def test_the_ends_of_what_is_taken_are_taken(text: str) -> None:
    """1 Hz and 30 GHz themselves belong to it."""
    assert parse_hz(text) in (1, HIGHEST_HZ)


def test_a_checked_frequency_is_given_back() -> None:
    """Between the limits, the limits too; the text is quoted outside."""
    assert [checked_hz(hz, "") for hz in (1, 465_000, HIGHEST_HZ)] == [1, 465_000, HIGHEST_HZ]
    for hz, rule in ((0, "is below 1 Hz"), (-1, "is below 1 Hz"), (HIGHEST_HZ + 1, "is above 30 GHz")):
        with pytest.raises(BadValue) as refused:
            checked_hz(hz, "as typed")
        assert (refused.value.value, refused.value.rule) == ("as typed", rule)


@given(st.from_regex(r"\A([0-9]{0,16}\.[0-9]{1,10}|[0-9]{1,16})\Z"), st.integers(0, 9))
def test_digits_become_a_whole_number_exactly_or_not_at_all(digits: str, exponent: int) -> None:
    """digits * 10**exponent where that is whole and below 10**15."""
    exact = Fraction(digits if not digits.startswith(".") else "0" + digits) * 10**exponent
    if exact.denominator == 1 and exact < 10**15:
        assert decimal_to_integer(digits, exponent) == exact
    else:
        with pytest.raises(BadValue):
            decimal_to_integer(digits, exponent)


@pytest.mark.parametrize(
    ("digits", "rule", "remedy"),
    [
        ("1,5", "is not a number", "write decimals with a point, as 1.5"),
        ("-1", "is not a number", "write plain digits without a sign"),
        ("+1.5", "is not a number", "write plain digits without a sign"),
        ("1.", "is not a number", "write plain digits with a decimal point"),
        ("١", "is not a number", "write plain digits with a decimal point"),
        ("1.2345", "is finer than 1 Hz", "give at most 3 decimals"),
        ("1" + 12 * "0", "is above 30 GHz", "give 1 Hz to 30 GHz"),
    ],
)
def test_refused_digits(digits: str, rule: str, remedy: str) -> None:
    """What is no number, or no whole number of hertz, is refused with its remedy."""
    with pytest.raises(BadValue) as refused:
        decimal_to_integer(digits, 3)
    assert (refused.value.value, refused.value.rule, refused.value.remedy) == (digits, rule, remedy)


@given(hertz, st.sampled_from(["", "-", "+", "- ", " -", "+ "]))
def test_a_difference_has_a_sign(hz: int, sign: str) -> None:
    """With a sign or without, the sign beside the digits or a gap away."""
    assert parse_signed_hz(f"{sign}{hz} Hz") == (-hz if "-" in sign else hz)


@pytest.mark.parametrize("text", ["0 Hz", "0", "-0 kHz", "+0.0 MHz", "0.00"])
def test_a_difference_may_be_nothing(text: str) -> None:
    """Zero needs no unit."""
    assert parse_signed_hz(text) == 0


@pytest.mark.parametrize("text", ["--1 kHz", "+-1 kHz", "1", "-31 GHz", "-0.1 Hz", "", "-", "0 dB", "-0 s"])
def test_a_refused_difference_is_quoted_whole(text: str) -> None:
    """Sign and all."""
    with pytest.raises(BadValue) as refused:
        parse_signed_hz(text)
    assert refused.value.value == text


def test_decibels() -> None:
    """With a sign or without, to the last digit; nothing else passes."""
    for text, db in (("20 dB", 20.0), ("-3.5dB", -3.5), (" +.5 DB ", 0.5), ("0 dB", 0.0)):
        assert parse_db(text) == db
    for text in ("20", "dB", "1e3 dB", "nan dB", "3,5 dB", "20 dBm", "inf dB"):
        with pytest.raises(BadValue) as refused:
            parse_db(text)
        assert refused.value.rule == "is not a number of decibels"


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("-53 dBm", -53.0, -53.0),
        ("+3.5dbm", 3.5, 3.5),
        ("S9", -73.0, -93.0),
        ("s9+20", -53.0, -73.0),
        ("S 9 + 20 dB", -53.0, -73.0),
        ("S9+0.5", -72.5, -92.5),
        ("S7", -85.0, -105.0),
        ("S1", -121.0, -141.0),
        ("S0", -127.0, -147.0),
    ],
)
def test_a_level_below_and_above_30_mhz(text: str, low: float, high: float) -> None:
    """30 MHz itself belongs below; dBm mean the same everywhere."""
    level = parse_level(text)
    assert [level.dbm(hz) for hz in (1, 30_000_000)] == [low, low]
    assert [level.dbm(hz) for hz in (30_000_001, HIGHEST_HZ)] == [high, high]


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("S5+10", "adds decibels to less than S9"),
        ("S8+0", "adds decibels to less than S9"),
        ("S10", "is not a level"),
        ("S9-3", "is not a level"),
        ("-53", "is not a level"),
        ("53 dB", "is not a level"),
    ],
)
def test_a_refused_level(text: str, rule: str) -> None:
    """Decibels are added to S9 alone."""
    with pytest.raises(BadValue) as refused:
        parse_level(text)
    assert refused.value.rule == rule


@given(
    st.floats(-200.0, 50.0), st.sampled_from([(1_000_000, -73.0), (30_000_000, -73.0), (30_000_001, -93.0)])
)
def test_a_level_in_s_units_is_the_nearest(dbm: float, where: tuple[int, float]) -> None:
    """No whole S unit below S9, and no whole decibel above, is nearer than the one written."""
    hz, nine = where
    text = s_text(dbm, hz)
    if "+" in text:
        assert text.startswith("S9+")
        assert abs(nine + int(text[3:]) - dbm) <= 0.5
        assert int(text[3:]) >= 1
    else:
        step = int(text[1:])
        assert 0 <= step <= 9
        assert abs(nine - 6 * (9 - step) - dbm) <= 3.0 or (step == 0 and dbm < nine - 54)


@pytest.mark.parametrize(
    ("dbm", "text"),
    [
        (-73.0, "S9"),
        (-72.51, "S9"),
        (-72.5, "S9+1"),
        (-71.6, "S9+1"),
        (-61.0, "S9+12"),
        (-76.0, "S9"),
        (-76.01, "S8"),
        (-79.0, "S8"),
        (-127.0, "S0"),
        (-124.0, "S1"),
        (-200.0, "S0"),
    ],
)
def test_halves_are_rounded_up(dbm: float, text: str) -> None:
    """Half an S unit, and half a decibel, counts as the next one."""
    assert s_text(dbm, 7_000_000) == text


@pytest.mark.parametrize(
    ("hz", "text"),
    [
        (0, "0 Hz"),
        (999, "999 Hz"),
        (-999, "-999 Hz"),
        (1_000, "1 kHz"),
        (1_001, "1.001 kHz"),
        (465_000, "465 kHz"),
        (1_799_999, "1799.999 kHz"),
        (1_800_000, "1.8 MHz"),
        (1_800_001, "1.800001 MHz"),
        (-14_200_000, "-14.2 MHz"),
        (HIGHEST_HZ, "30000 MHz"),
    ],
)
def test_a_frequency_is_written_in_the_units_of_the_trade(hz: int, text: str) -> None:
    """Hertz below 1 kHz, kilohertz below 1.8 MHz, megahertz from there."""
    assert hz_text(hz) == text


@given(st.integers(-HIGHEST_HZ, HIGHEST_HZ))
def test_what_is_written_is_read_back(hz: int) -> None:
    """Exactly, sign and all."""
    assert parse_signed_hz(hz_text(hz)) == hz


@given(st.integers(-(10**12), 10**12), st.integers(0, 9), st.integers(0, 9))
def test_decimals_are_exact_and_no_longer_than_asked(value: int, exponent: int, places: int) -> None:
    """No zero at the end beyond the places kept, no point without a digit behind it."""
    text = decimal_text(value, exponent, places)
    assert Fraction(text) == Fraction(value, 10**exponent)
    assert text.startswith("-") == (value < 0)
    decimals = text.partition(".")[2]
    kept = places if exponent else 0
    assert len(decimals) == kept or (len(decimals) > kept and decimals[-1] != "0")
    assert not text.endswith(".")


def test_decimals_without_places_asked_for_end_with_a_digit_that_counts() -> None:
    """The zeros go, the point with them."""
    assert [decimal_text(v, 3) for v in (5_000, 5_100, -50, 0)] == ["5", "5.1", "-0.05", "0"]


def test_s9_is_fifty_microvolts() -> None:
    """-73 dBm in 50 ohm: 50 microvolts to a tenth of a decibel."""
    level = 10 * math.log10((50e-6) ** 2 / 50 / 1e-3)
    assert abs(parse_level("S9").dbm(7_000_000) - level) < 0.1


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "0"),
        (1.0, "100"),
        (0.5, "50.0"),
        (0.76125, "76.1"),
        (0.0004, "0.1"),
        (0.0014, "0.1"),
        (0.0016, "0.2"),
        (0.9984, "99.8"),
        (0.99951, "99.9"),
        (0.999999, "99.9"),
    ],
)
def test_nearly_all_is_not_all_and_nearly_none_is_not_none(share: float, said: str) -> None:
    """In percent to one decimal."""
    assert percent_text(share) == said


@pytest.mark.parametrize(
    ("text", "edges"),
    [
        ("21MHz:21.45MHz", (21_000_000, 21_450_000)),
        (" 21 : 21.45 MHz ", (21_000_000, 21_450_000)),
        ("900kHz:1.8MHz", (900_000, 1_800_000)),
        ("21:21.45MHz", (21_000_000, 21_450_000)),
        ("900k:1M8", (900_000, 1_800_000)),
        ("7M:7M2", (7_000_000, 7_200_000)),
        ("1Hz:2Hz", (1, 2)),
    ],
)
def test_a_span_is_two_edges(text: str, edges: tuple[int, int]) -> None:
    """A unit at the end is that of both, where the low edge has none of its own."""
    assert parse_span(text) == edges


@pytest.mark.parametrize(
    ("text", "value", "rule"),
    [
        ("21MHz", "21MHz", "is not two edges"),
        ("21MHz:", "21MHz:", "is not two edges"),
        (":21MHz", ":21MHz", "is not two edges"),
        ("1MHz:2MHz:3MHz", "1MHz:2MHz:3MHz", "is not two edges"),
        ("", "", "is not two edges"),
        ("21:22", "21", "has no unit"),
        ("3MHz:3MHz", "3MHz:3MHz", "has its low edge 3 MHz not below its high edge 3 MHz"),
        ("22 MHz:21 MHz", "22 MHz:21 MHz", "has its low edge 22 MHz not below its high edge 21 MHz"),
    ],
)
def test_what_is_no_span_is_refused(text: str, value: str, rule: str) -> None:
    """With what was typed, or the edge that is wrong."""
    with pytest.raises(BadValue) as caught:
        parse_span(text)
    assert (caught.value.value, caught.value.rule) == (value, rule)
    assert caught.value.remedy


@pytest.mark.parametrize("text", ["99999 dBm", "-201 dBm", "S9+300", "9" * 400 + " dBm"])
def test_a_level_of_no_signal_is_refused(text: str) -> None:
    """A slip of digits is no level; nor does one overflow."""
    with pytest.raises(BadValue, match="is no level of any signal; give -200 to 200 dBm"):
        parse_level(text)


def test_the_last_levels_are_taken() -> None:
    assert parse_level("200 dBm").dbm_low == 200.0
    assert parse_level("-200 dBm").dbm_low == -200.0


# Radio Regulations, Article 5, 5.3 to 5.9 (from memory): Region 1 is Europe, Africa, the Middle East west
# of the Persian Gulf and northern Asia; Region 2 the Americas; Region 3 the rest of Asia, and Oceania.
@pytest.mark.parametrize(
    ("itu_region", "words"),
    [
        (1, {"europe", "africa", "middle east"}),
        (2, {"americas", "america"}),
        (3, {"asia", "pacific", "oceania"}),
    ],
)
def test_a_word_for_a_region_is_that_of_the_radio_regulations(itu_region: int, words: set[str]) -> None:
    """Each word however it is written, no other word, and the number itself."""
    assert {word for word, number in units.REGION_WORDS.items() if number == itu_region} == words
    for word in (*words, str(itu_region)):
        for typed in (word, word.upper(), word.title(), f" {word} "):
            assert units.region(typed, "--region") == itu_region, typed


def test_a_word_for_no_region_is_refused_with_those_there_are() -> None:
    for typed in ("4", "0", "antarctica", "", "middle", "east"):
        with pytest.raises(Refused) as refused:
            units.region(typed, "--region")
        assert all(word in str(refused.value) for word in units.REGION_WORDS), typed


@pytest.mark.parametrize(
    ("text", "microhenries"),
    [("180 uH", 180.0), ("470 nH", 0.47), ("1.5 mH", 1_500.0), ("0.22 \N{GREEK SMALL LETTER MU}H", 0.22)],
)
def test_coils_are_read_in_the_units_people_write(text: str, microhenries: float) -> None:
    """A thousand nanohenries to a microhenry, a thousand of those to a millihenry."""
    assert units.microhenries_of(text) == pytest.approx(microhenries)
    assert units.microhenries_of(microhenries) == pytest.approx(microhenries)
