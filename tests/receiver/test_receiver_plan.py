"""The chain as integer arithmetic: oscillators and wanted frequencies of every conversion."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import parse_receiver, read_receiver
from spurplan.receiver.plan import StagePlan
from spurplan.receiver.sentence import receiver_text
from tests.receiver_strategies import receivers

SETS = Path(__file__).parents[1] / "receivers"


def plans_of(conversions: str, low: str, high: str) -> tuple[StagePlan, ...]:
    text = f'name = "a"\n{conversions}\n[[range]]\nname = "1"\ncoverage = ["{low}", "{high}"]\n'
    receiver = parse_receiver(text)
    return receiver.plans_of(receiver.ranges[0])


def fixed(injection: str, if_text: str, more: str = "") -> str:
    filtered = '[conversion.filter]\nbandwidth = "6 kHz"'
    return f'[[conversion]]\ninjection = "{injection}"\nif = "{if_text}"\n{more}\n{filtered}\n'


def crystal(frequency: str, more: str = "") -> str:
    return f'[[conversion]]\ncrystal = "{frequency}"\n{more}\n'


def oscillator(plan: StagePlan, dial_hz: int) -> Fraction:
    return Fraction(plan.osc_a * dial_hz + plan.osc_b, plan.osc_h)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(receivers(), st.data())
def test_every_mixer_turns_the_wanted_frequency_into_the_next_one(
    receiver: Receiver, data: st.DataObject
) -> None:
    """At any dial setting lo*LO + rf*RF is what the next stage wants; every frequency is positive."""
    for one in receiver.ranges:
        dial_hz = data.draw(st.integers(one.low_hz, one.high_hz))
        wanted = Fraction(dial_hz)
        conversions = receiver.conversions_of(one)
        for conversion, plan in zip(conversions, receiver.plans_of(one), strict=True):
            behind = plan.want_a * dial_hz + plan.want_b
            assert plan.lo * oscillator(plan, dial_hz) + plan.rf * wanted == behind
            assert oscillator(plan, dial_hz) > 0
            assert behind > 0
            assert abs(plan.rf) == 1
            assert abs(plan.lo) == conversion.oscillator_harmonic
            assert conversion.if_hz in (None, behind)
            wanted = Fraction(behind)
        assert plan.if_hz == wanted, "the last IF is fixed"


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(receivers())
def test_a_set_in_a_line_of_text_ends_at_its_last_if(receiver: Receiver) -> None:
    """Every range begins at the aerial and ends at the detector, whatever the set is."""
    lines = receiver_text(receiver).splitlines()
    assert len(lines) == len(receiver.ranges)
    for line, one in zip(lines, receiver.ranges, strict=True):
        assert line.count("mixer, ") >= len(receiver.conversions_of(one))
        assert "aerial -> " in line
        assert line.endswith(" -> detector")


def test_the_three_kinds_of_injection() -> None:
    """High LO = RF + IF, low LO = RF - IF, sum LO = IF - RF: common practice."""
    for injection, if_text, low, expected in [
        ("high", "455 kHz", "1 MHz", (1, 455_000, 1, -1)),
        ("low", "455 kHz", "1 MHz", (1, -455_000, -1, 1)),
        ("sum", "45 MHz", "1 MHz", (-1, 45_000_000, 1, 1)),
    ]:
        (plan,) = plans_of(fixed(injection, if_text), low, "30 MHz")
        assert (plan.osc_a, plan.osc_b, plan.lo, plan.rf) == expected


def test_an_oscillator_used_on_a_harmonic_runs_at_its_part_of_the_frequency() -> None:
    """On its third harmonic an oscillator tunes a third of the way: common practice."""
    (plan,) = plans_of(fixed("high", "1.6 MHz", "oscillator_harmonic = 3"), "20 MHz", "30 MHz")
    assert oscillator(plan, 22_400_000) == 8_000_000
    assert (plan.lo, plan.rf) == (3, -1)


def test_the_published_double_conversion_for_300_mhz() -> None:
    """Both oscillators on the high side, IFs 30 and 3 MHz: 330 and 33 MHz."""
    # A. B. Carlson, Communication Systems, exercise on double conversion (read in a published solution)
    first, second = plans_of(fixed("high", "30 MHz") + fixed("high", "3 MHz"), "299 MHz", "301 MHz")
    assert oscillator(first, 300_000_000) == 330_000_000
    assert oscillator(second, 300_000_000) == 33_000_000
    assert second.osc_a == 0


def test_the_usual_second_oscillator_of_a_10_7_mhz_set() -> None:
    """10.7 MHz to 455 kHz takes 10.245 MHz below or 11.155 MHz above: common practice."""
    for text, plan_osc in [("10.245 MHz", 10_245_000), ("11.155 MHz", 11_155_000)]:
        behind = (
            f'[[conversion]]\ncrystal = "{text}"\nif = "455 kHz"\n[conversion.filter]\nbandwidth = "6 kHz"'
        )
        plan = plans_of(fixed("high", "10.7 MHz") + behind, "88 MHz", "108 MHz")[1]
        assert (plan.osc_a, plan.osc_b, plan.if_hz) == (0, plan_osc, 455_000)


def test_a_converter_from_two_metres_to_ten() -> None:
    """A crystal of 38.6667 MHz tripled brings 144-146 MHz to 28-30 MHz (from memory, amateur handbooks)."""
    chain = crystal("38.666667 MHz", "multiplier = 3") + fixed("high", "455 kHz")
    plan = plans_of(chain, "144 MHz", "146 MHz")[0]
    assert (plan.lo, plan.rf, plan.if_hz) == (-1, 1, None)
    assert plan.want_a * 144_000_000 + plan.want_b == pytest.approx(28_000_000, abs=1)


def test_behind_a_crystal_above_the_range_the_dial_runs_backwards() -> None:
    """And the set's own oscillator goes down while the signal goes up."""
    first, second = plans_of(crystal("25 MHz") + fixed("high", "455 kHz"), "21 MHz", "21.45 MHz")
    assert (first.want_a, first.want_b, first.lo, first.rf) == (-1, 25_000_000, 1, -1)
    assert (second.osc_a, second.osc_b) == (-1, 25_455_000)


def test_a_crystal_behind_a_fixed_if_gives_a_fixed_if_without_naming_it() -> None:
    """The difference, where the crystal alone is given: 1.6 MHz and 1.145 MHz give 455 kHz."""
    filtered = '[conversion.filter]\nbandwidth = "6 kHz"'
    plan = plans_of(fixed("high", "1.6 MHz") + crystal("1.145 MHz", filtered), "3 MHz", "4 MHz")[1]
    assert plan.if_hz == 455_000


def test_a_multiplied_crystal_on_a_harmonic_counts_both() -> None:
    """The oscillator runs on crystal times multiplier, the mixer works with its harmonic."""
    chain = crystal("5 MHz", "multiplier = 2\noscillator_harmonic = 2") + fixed("high", "455 kHz")
    plan = plans_of(chain, "21 MHz", "22 MHz")[0]
    assert oscillator(plan, 21_000_000) == 10_000_000
    assert (plan.lo, plan.want_b) == (-2, -20_000_000)


@pytest.mark.parametrize(
    ("name", "line", "text"),
    [
        (
            "boathouse",
            3,
            "4: aerial -> 11-30 MHz, 2 circuits -> mixer, oscillator 465 kHz above -> 465 kHz -> detector",
        ),
        (
            "ferry_converter",
            1,
            "backwards: aerial -> 21-21.45 MHz, 2 circuits -> mixer, crystal 25 MHz above -> 4-3.55 MHz"
            " -> mixer, oscillator 455 kHz above -> 455 kHz -> detector",
        ),
    ],
)
def test_the_line_of_text_names_each_stage(name: str, line: int, text: str) -> None:
    """As the design writes it: the way of the signal in the trade's words."""
    assert receiver_text(read_receiver(SETS / f"{name}.toml")).splitlines()[line] == text
