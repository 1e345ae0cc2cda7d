"""What a file says of a premixed oscillator and of a drift-cancelling loop, and what is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from spurplan.errors import Refused
from spurplan.receiver.changes import with_conversion
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.tables import receiver_tables
from spurplan.receiver.file.writing import fresh_text, write_receiver
from spurplan.receiver.sentence import receiver_text

SET = """
name = "two bands"
[[conversion]]
injection = "high"
if = "9 MHz"
[conversion.premix]
makes = "crystal + variable"
mixer = "balanced"
products = [[2, -1, "40 dB"], [1, 0, "-3.5 dB"]]
filter = [ { circuits = 2, q = 60 } ]
[conversion.filter]
bandwidth = "2.4 kHz"
[[range]]
name = "20 m"
coverage = ["14 MHz", "14.5 MHz"]
premix_crystal = "18 MHz"
[[range]]
name = "40 m"
coverage = ["7 MHz", "7.5 MHz"]
premix_crystal = "11 MHz"       # the same 5 to 5.5 MHz
"""

LOOP = """
name = "loop"
[[conversion]]
oscillator = "54.5 MHz"
[[conversion]]
[conversion.premix]
makes = "variable - crystal"
oscillator_of = 1
crystal = "1 MHz"
multiplier = 17
[[conversion]]
injection = "high"
if = "100 kHz"
[conversion.filter]
bandwidth = "3 kHz"
[[range]]
name = "14"
coverage = ["14 MHz", "15 MHz"]
"""


def test_each_range_has_its_crystal_and_the_same_variable_oscillator() -> None:
    """23 MHz is 18 + 5, 16 MHz is 11 + 5."""
    lines = receiver_text(parse_receiver(SET)).splitlines()
    assert ["crystal 18 MHz + 5-5.5 MHz" in lines[0], "crystal 11 MHz + 5-5.5 MHz" in lines[1]] == [
        True,
        True,
    ]


def test_the_loop_says_what_is_mixed_with_what() -> None:
    said = receiver_text(parse_receiver(LOOP))
    assert "oscillator on 54.5 MHz, above, its drift dropping out -> 40.5-39.5 MHz" in said
    assert "oscillator 1 - crystal 1000 kHz times 17 -> 3-2 MHz" in said


@pytest.mark.parametrize("text", [SET, LOOP])
def test_it_is_written_as_it_was_read(text: str, tmp_path: Path) -> None:
    """Afresh, and over the file that it came from, whose comments stay."""
    receiver = parse_receiver(text)
    assert parse_receiver(fresh_text(receiver_tables(receiver))) == receiver
    path = tmp_path / "set.toml"
    path.write_text(text, encoding="utf-8")
    write_receiver(receiver, path, keep_comments_of=path)
    assert path.read_text("utf-8") == text


def test_a_change_of_what_ranges_share_leaves_each_its_crystal() -> None:
    louder = with_conversion(parse_receiver(SET), stage=0, gain_db=12.0)
    assert [one.premix_crystal_hz for one in louder.ranges] == [18_000_000, 11_000_000]
    assert [louder.conversions_of(one)[0].premix.crystal_hz for one in louder.ranges] == [
        18_000_000,
        11_000_000,
    ]
    alone = with_conversion(parse_receiver(SET), stage=0, range_name="40 m", gain_db=12.0)
    assert [alone.plans_of(one)[0].made_of[0] for one in alone.ranges] == [18_000_000, 11_000_000]


FAULTS = {
    "no crystal": (SET, 'premix_crystal = "18 MHz"\n', "", "conversion[1].premix.crystal", "is missing"),
    "wrong side": (
        SET, 'makes = "crystal + variable"', 'makes = "crystal - variable"', "conversion[1].premix.makes",
        'write "crystal + variable" with a variable one on 5 MHz to 5.5 MHz',
    ),
    "crystal twice": (
        SET, 'if = "9 MHz"', 'if = "9 MHz"\ncrystal = "9 MHz"', "conversion[1].premix", "leave crystal out",
    ),
    "not a word": (
        SET, 'makes = "crystal + variable"', 'makes = "sum"', "conversion[1].premix.makes",
        "is not known here",
    ),
    "the product itself": (
        SET, "[2, -1,", "[2, 2,", "conversion[1].premix.products[1]", "is no line beside the injection",
    ),
    "twice": (SET, "[1, 0,", "[2, -1,", "conversion[1].premix.products[2]", "is given twice"),
    "nothing to put it in": (
        SET, "[conversion.premix]", "[conversion.premixed]", "range[1].premix_crystal", "there is none",
    ),
    "no such conversion": (
        LOOP, "oscillator_of = 1", "oscillator_of = 2", "conversion[2].premix.oscillator_of", "write 1",
    ),
    "turned round": (
        LOOP, '"variable - crystal"', '"crystal - variable"', "conversion[2].premix.makes", "turn them round",
    ),
    "loop without crystal": (
        LOOP, 'crystal = "1 MHz"\n', "", "conversion[2].premix.crystal", "is missing",
    ),
    "harmonic": (
        LOOP, 'oscillator = "54.5 MHz"', 'oscillator = "54.5 MHz"\noscillator_harmonic = 2',
        "conversion[2].premix.oscillator_of", "fundamental",
    ),
    "two oscillators": (
        LOOP, 'oscillator = "54.5 MHz"', 'oscillator = "54.5 MHz"\ncrystal = "54.5 MHz"',
        "conversion[1].oscillator", "one mixer has one oscillator",
    ),
    "inside the signal": (
        LOOP, 'oscillator = "54.5 MHz"', 'oscillator = "14.5 MHz"', "conversion[1].oscillator",
        "lies inside the signal's range",
    ),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_what_does_not_go_together_is_refused_where_it_stands(fault: str) -> None:
    """Place, value, rule and remedy."""
    text, old, new, place, said = FAULTS[fault]
    assert old in text
    with pytest.raises(Refused) as refused:
        parse_receiver(text.replace(old, new))
    (line,) = [str(one) for one in refused.value.faults if f"{place}:" in str(one) or f"{place} " in str(one)]
    assert said in line


def test_a_python_description_may_give_numbers() -> None:
    described: dict[str, Any] = {
        "name": "p",
        "conversion": [
            {
                "injection": "high", "if": 9_000_000, "filter": {"bandwidth": 2_400},
                "premix": {"makes": "crystal + variable", "crystal": 18_000_000},
            }
        ],
        "range": [{"name": "1", "coverage": [14_000_000, 14_500_000]}],
    }  # fmt: skip
    assert Receiver.from_dict(described).plans_of(Receiver.from_dict(described).ranges[0])[0].made_of == (
        18_000_000, 1, 1,
    )  # fmt: skip
