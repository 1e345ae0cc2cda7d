"""What people type: frequencies in words, spans, pairs, bare dial settings."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import typer
from hypothesis import given
from hypothesis import strategies as st

from spurplan import units
from spurplan.cli import main
from spurplan.cli.words import forgotten_value, pairs, two_edges, with_units
from spurplan.errors import Refused
from spurplan.receiver.description import Range
from spurplan.responses.asking import in_ranges


def ranges_of(*edges_khz: tuple[int, int]) -> tuple[Range, ...]:
    return tuple(
        Range(name=str(number), low_hz=1000 * low, high_hz=1000 * high)
        for number, (low, high) in enumerate(edges_khz, start=1)
    )


SHORT_WAVE = in_ranges(ranges_of((1500, 4000), (4000, 11_000), (11_000, 30_000)))


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        (["dial", "set.toml", "14.2", "MHz"], ["dial", "set.toml", "14.2 MHz"]),
        (["if-change", "set.toml", "--if", "1600", "kHz"], ["if-change", "set.toml", "--if", "1600 kHz"]),
        (["x", "--if=1.6", "MHz"], ["x", "--if=1.6 MHz"]),
        (["x", "--cover", "21", "MHz:21.45", "MHz"], ["x", "--cover", "21 MHz:21.45 MHz"]),
        (["x", "--level", "broadcast=-53", "dBm"], ["x", "--level", "broadcast=-53 dBm"]),
        (["x", "--pad-drop", "12", "dB"], ["x", "--pad-drop", "12 dB"]),
        (["x", "--top", "5", "set.toml"], ["x", "--top", "5", "set.toml"]),
        (["x", "--", "5", "MHz"], ["x", "--", "5", "MHz"]),
        (["x", "set2", "MHz"], ["x", "set2", "MHz"]),
        (["MHz"], ["MHz"]),
    ],
)
def test_a_number_and_its_unit_are_one_word(typed: list[str], read: list[str]) -> None:
    """A unit joins the number ahead of it, and nothing else joins anything."""
    assert with_units(typed) == read


@given(st.lists(st.text(max_size=8), max_size=6))
def test_no_word_is_lost_or_changed(words: list[str]) -> None:
    """Joining adds one space at a time and keeps order and letters."""
    assert " ".join(with_units(words)) == " ".join(words)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (["set.toml", "--output", "-h"], ("--output", "-h")),
        (["set.toml", "-o", "--output", "a"], ("-o", "--output")),
        (["--output", "a", "--quiet", "-o"], None),
        (["--output", "--"], None),
        (["--output=-h", "--quiet", "-h"], None),
        (["--output", "-5 dB", "--quiet"], None),
        (["--", "--output", "-h"], None),
        ([], None),
    ],
)
def test_an_option_is_not_the_value_of_another(words: list[str], found: tuple[str, str] | None) -> None:
    """An option right behind one that takes a value shows that the value was forgotten."""
    takes_value = {"--output": True, "-o": True, "--quiet": False, "-h": False}
    assert forgotten_value(words, takes_value) == found


@pytest.mark.parametrize("text", ["21MHz", "21MHz:", ":21MHz", "1MHz:2MHz:3MHz", ""])
def test_a_span_of_another_form_is_a_wrong_option(text: str) -> None:
    """One edge, three edges and no edge are no span."""
    with pytest.raises(typer.BadParameter, match="two edges"):
        two_edges(text, "--cover")


def test_two_edges_go_on_as_they_were_typed() -> None:
    """The library reads them, which knows where a bare number lies."""
    assert two_edges("21:21.45", "--cover") == "21:21.45"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("21,1MHz:22MHz", r'--cover: "21,1MHz" is not a frequency.*21\.1MHz'),
        ("22MHz:21MHz", "--cover: .*low edge 22 MHz not below its high edge 21 MHz"),
        ("21MHz:21MHz", "--cover: .*not below"),
        ("21:22", '--cover: "21" has no unit'),
    ],
)
def test_a_span_that_means_nothing_is_refused_with_its_option(text: str, said: str) -> None:
    """The refusal names the option, the value, the rule and the remedy."""
    with pytest.raises(Refused, match=said):
        units.span_hz(text, "--cover")


SHORT = units.Where("the set", lambda low, high: low <= 30_000_000 and high >= 1_500_000)


@pytest.mark.parametrize(
    ("text", "hz"),
    [("15.13", 15_130_000), ("15130", 15_130_000), ("15.13 MHz", 15_130_000), ("465kHz", 465_000)],
)
def test_a_bare_number_is_read_where_one_reading_lies_there(text: str, hz: int) -> None:
    """kHz and MHz are a thousand apart: mostly one of them can be meant; a unit settles it anywhere."""
    assert units.hz(text, "FREQ", SHORT) == hz


@pytest.mark.parametrize(
    ("text", "span"),
    [("21:21.45", (21_000_000, 21_450_000)), ("7000:7300", (7_000_000, 7_300_000))],
)
def test_bare_edges_are_read_in_one_unit(text: str, span: tuple[int, int]) -> None:
    """Both edges in the unit in which the stretch lies there."""
    assert units.span_hz(text, "--cover", SHORT) == span


WIDE = units.Where("the tables", lambda low, high: low <= 137_000_000 and high >= 40_000)


@pytest.mark.parametrize(
    ("text", "where", "said"),
    [
        ("60", WIDE, r'"60" has no unit and lies in the tables in kHz and in MHz; write 60 kHz or 60 MHz'),
        ("455", SHORT, r'"455" has no unit and lies in the set in neither kHz nor MHz'),
        ("0", WIDE, '"0" has no unit'),
    ],
)
def test_a_bare_number_that_says_two_things_or_none_is_asked_about(
    text: str, where: units.Where, said: str
) -> None:
    """Nothing is guessed."""
    with pytest.raises(Refused, match=said):
        units.hz(text, "FREQ", where)


@given(st.decimals(0, 40_000, places=3, allow_nan=False).map(str))
def test_a_bare_number_is_never_read_outside(text: str) -> None:
    """Whatever is read lies where it has to, and no other reading does."""
    try:
        hz = units.hz(text, "FREQ", SHORT)
    except Refused:
        return
    assert SHORT.lies(hz, hz)
    assert sum(SHORT.lies(one, one) for one in map(units.hz_of, units.bare_readings(text))) == 1


@pytest.mark.parametrize(
    ("text", "region"), [("1", 1), ("europe", 1), ("Africa", 1), ("americas", 2), ("asia", 3), ("Pacific", 3)]
)
def test_a_region_has_a_word(text: str, region: int) -> None:
    """Nobody knows the continents by number."""
    assert units.region(text, "--region") == region
    with pytest.raises(Refused, match='--region: "4" is not an ITU region; give 1, 2, 3 or one of europe'):
        units.region("4", "--region")


def test_pairs_are_names_and_values() -> None:
    """NAME=VALUE may hold blanks and further equals signs in the value."""
    assert pairs(["broadcast=S9+40", "amateur = -53 dBm"], "--level") == {
        "broadcast": "S9+40",
        "amateur": "-53 dBm",
    }
    assert pairs(["a=b=c"], "--effort") == {"a": "b=c"}
    assert pairs(None, "--level") == {}


@pytest.mark.parametrize("texts", [["broadcast"], ["=3"], ["a="], ["a=1", "a=2"]])
def test_a_pair_of_another_form_is_a_wrong_option(texts: list[str]) -> None:
    """No name, no value, and a name given twice are wrong options."""
    with pytest.raises(typer.BadParameter, match=r"NAME=VALUE|twice"):
        pairs(texts, "--level")


@pytest.mark.parametrize(("text", "db"), [("12", 12.0), ("12dB", 12.0), ("-3.5 dB", -3.5), ("0", 0.0)])
def test_decibels_need_no_unit(text: str, db: float) -> None:
    """An option that can only be decibels takes a bare number."""
    assert units.typed_db(text, "--strong-at") == db


@pytest.mark.parametrize("text", ["nan", "inf", "1e1", "ten", "", "12 dBm", "1,5"])
def test_decibels_refuse_what_is_no_number(text: str) -> None:
    """Infinities, exponents and other units are refused, naming the option."""
    with pytest.raises(Refused, match="--strong-at: "):
        units.typed_db(text, "--strong-at")


def test_frequency_options_need_a_unit() -> None:
    """Only a dial setting may leave the unit out."""
    assert units.hz("1.6 MHz", "--if") == 1_600_000
    with pytest.raises(Refused, match='--if: "1600" has no unit'):
        units.hz("1600", "--if")


@pytest.mark.parametrize(
    ("text", "hz"),
    [
        ("14.2", 14_200_000),
        ("14200", 14_200_000),
        ("30000", 30_000_000),
        ("1.5", 1_500_000),
        ("14.2 MHz", 14_200_000),
    ],
)
def test_a_bare_dial_setting_is_read_where_one_reading_is_tunable(text: str, hz: int) -> None:
    """Edges of a range belong to it."""
    assert units.hz(text, "FREQ", SHORT_WAVE) == hz


def test_a_bare_dial_setting_with_two_meanings_is_refused() -> None:
    """A set that tunes 150 kHz and 150 MHz must be told which."""
    both = in_ranges(ranges_of((100, 300), (144_000, 152_000)))
    with pytest.raises(Refused, match=r'FREQ: "150" has no unit.*write 150 kHz or 150 MHz'):
        units.hz("150", "FREQ", both)


@pytest.mark.parametrize("text", ["50", "0", "30000.5", "99999999999999999999"])
def test_a_bare_dial_setting_outside_the_set_is_refused_with_the_ranges(text: str) -> None:
    """The remedy lists what the set tunes."""
    with pytest.raises(Refused, match=r"in neither kHz nor MHz; the set tunes .*11 MHz to 30 MHz"):
        units.hz(text, "FREQ", SHORT_WAVE)


@given(st.integers(11_000_000, 30_000_000))
def test_every_setting_is_read_back_from_its_kilohertz_and_its_megahertz(hz: int) -> None:
    """The bare number that somebody writes for a setting means that setting."""
    for exponent in (3, 6):
        assert units.hz(units.decimal_text(hz, exponent), "FREQ", SHORT_WAVE) == hz


SET = str(Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["dial", SET, "14.2", "--moves", "-1"], "Error: No such option: --moves; suspects has it"),
        (
            ["dial", SET, "14.2", "--save-receiver", "x"],
            "No such option: --save-receiver; .*if-change.* have it",
        ),
        (["ranges", SET, "--top", "five"], "'--top': \"five\" is no whole number; write it in digits, as 30"),
        (["ranges", SET, "--worlds=5.5"], "'--worlds': \"5.5\" is no whole number"),
        (["dial", SET, "14.2", "--nonsense"], r"No such option: --nonsense\s*$"),
    ],
)
def test_an_option_of_another_command_and_a_word_for_a_number(
    words: list[str], said: str, capsys: Any
) -> None:
    """It is said which command has it, and what a number is, in plain words."""
    assert main(words) == 2
    assert re.search(said, capsys.readouterr().err.replace("\n", " "))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["dial", SET, "14.2", "--dial-error", "12"], "give or take 12 kHz"),
        (["dial", SET, "14.2", "--dial-error", "0.1"], "write 0.1 kHz or 0.1 MHz"),
        (["dial", SET, "14.2", "--dial-error", "800"], "in neither kHz nor MHz"),
        (["station", SET, "1278", "--local", "1278=-13dBm,Mast"], "1278 kHz"),
        (["converter", SET, "--cover", "14:14.35", "--explain", "7.05", "--range", "3"], "crystal 7.05 MHz"),
        (["converter", SET, "--cover", "14:14.1", "--step", "500", "--range", "3"], "crystal [0-9.]+ MHz"),
    ],
)
def test_a_number_alone_is_taken_where_one_reading_can_be_meant(
    words: list[str], said: str, capsys: Any
) -> None:
    """Of a pointer's error, a local station, a crystal and a step; what may be both is asked again."""
    main(words)
    out, err = capsys.readouterr()
    assert re.search(said, " ".join((out + err).split()))
