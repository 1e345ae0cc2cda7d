"""Coils and capacitors against what a network of them does, worked out by complex arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import spurplan
from spurplan.planning.cures import component_values as made
from spurplan.planning.cures.cure_list import Fitted, cures_in_use
from spurplan.receiver.description import Box, Circuits, Range, Receiver, Trap
from spurplan.units import OHMS


def loss_db(values: made.LadderValues, hz: float) -> float:
    """Return the loss of a ladder between equal resistors from the chain matrix of each element."""
    jw = 2j * math.pi * hz
    parts = [None] * (len(values.farads) + len(values.henries))
    matrix = np.eye(2, dtype=complex)
    for at in range(len(parts)):
        capacitor = at % 2 == 0
        part = values.farads[at // 2] if capacitor else values.henries[at // 2]
        impedance = 1 / (jw * part) if capacitor else jw * part
        across = capacitor == (values.kind == "low-pass")
        step = [[1, 0], [1 / impedance, 1]] if across else [[1, impedance], [0, 1]]
        matrix = matrix @ np.array(step)
    (a, b), (c, d) = matrix
    return float(20 * math.log10(abs(a + b / OHMS + c * OHMS + d) / 2))


def curve_of(name: str) -> list[tuple[int, float]]:
    (cure,) = [one for one in cures_in_use(None) if one.name == name]
    (element,) = cure.box(Fitted(if_hz=465_000, q=None), 0.0).elements
    return list(element.points)


@pytest.mark.parametrize("poles", made.POLES)
@pytest.mark.parametrize("ratio", [0.2, 0.7, 1.0, 1.3, 2.0, 4.0])
def test_a_ladder_has_equal_ripple(poles: int, ratio: float) -> None:
    """Network and closed form are two ways to one figure."""
    omega = 2 * math.pi * 1e6
    elements = made.prototype(poles)
    parts = [g / (omega * OHMS) if at % 2 == 0 else g * OHMS / omega for at, g in enumerate(elements)]
    built = made.LadderValues("low-pass", 1e6, tuple(parts[::2]), tuple(parts[1::2]))
    assert loss_db(built, ratio * 1e6) == pytest.approx(made.loss_db(poles, ratio), abs=1e-6)


def test_the_third_order_ladder_of_the_tables() -> None:
    """0.1 dB, three poles: Matthaei, Young, Jones 1964, table 4.05-2(a), from memory."""
    assert made.prototype(3) == pytest.approx([1.0315, 1.1474, 1.0315], abs=2e-4)


@pytest.mark.parametrize(("name", "kind"), [("low-pass", "low-pass"), ("high-pass", "high-pass")])
def test_what_is_built_does_what_the_cure_was_judged_by(name: str, kind: str) -> None:
    """At every point of its curve, to a decibel; and the passband loses no more than the curve allows."""
    points = curve_of(name)
    values = made.ladder(points)
    assert values is not None
    assert values.kind == kind
    for hz, db in points:
        loss = loss_db(values, hz)
        if db > 1.0:
            assert loss >= min(db, made.HELD_DB) - made.NEAR_DB, hz
        else:
            assert loss <= made.RIPPLE_DB + 1e-6, hz


def test_a_curve_that_is_neither_has_no_values() -> None:
    """A band-stop is no ladder of this kind."""
    assert made.ladder(curve_of("medium-wave band-stop")) is None


@given(st.integers(100_000, 30_000_000), st.floats(6.0, 50.0))
def test_a_trap_is_as_deep_as_it_is_said_to_be(hz: int, depth_db: float) -> None:
    """Coil with its loss and capacitor in parallel, in series between two 50 ohm."""
    one = made.trap(hz, depth_db)

    def loss(at_hz: float) -> float:
        omega = 2 * math.pi * at_hz
        # the loss of the coil as a resistor across it, as its Q at resonance tells
        across = made.COIL_Q * math.sqrt(one.henries / one.farads)
        admittance = 1 / across + 1j * omega * one.farads + 1 / (1j * omega * one.henries)
        return 20 * math.log10(abs(1 + 1 / admittance / (2 * OHMS)))

    assert loss(hz) == pytest.approx(depth_db, abs=0.01)
    for edge in (one.low_hz, one.high_hz):
        assert loss(edge) == pytest.approx(10 * math.log10(2), abs=0.02)


@given(st.integers(500_000, 20_000_000))
def test_a_circuit_is_resonant_at_the_edge_with_the_gang_shut(low_hz: int) -> None:
    """And reaches, with it open, what the ratio of capacitances allows."""
    one = made.circuit("4", low_hz, 2 * low_hz)
    shut, opened = ((pf + made.STRAYS_PF) * 1e-12 for pf in reversed(made.GANG_PF))
    for hz, farads in ((low_hz, shut), (one.reaches_hz, opened)):
        assert 1 / (2 * math.pi * math.sqrt(one.henries * farads)) == pytest.approx(hz, rel=1e-9)


def test_the_answer_has_them() -> None:
    """A trap, a low-pass and a preselector each with its parts; a pad with none."""
    answer = spurplan.cures("demos/boathouse/set.toml", range="4")
    values = dict(zip(answer.cures["cure"], answer.cures["values"], strict=True))
    assert "resonant on 465 kHz" in values["IF trap"][0]
    assert "7 poles" in values["low-pass"][0]
    assert "range 4" in values["preselector of two circuits"][0]
    assert list(values["10 dB pad"]) == []
    assert "nH in the lead" in str(answer)


def ranges_of(*spans: tuple[str, str, str]) -> tuple[Range, ...]:
    made = Receiver.from_dict(
        {
            "name": "Any",
            "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": name, "coverage": [low, high]} for name, low, high in spans],
        }
    )
    return made.ranges


THREE = ranges_of(("low", "1 MHz", "3 MHz"), ("mid", "3 MHz", "9 MHz"), ("high", "9 MHz", "27 MHz"))
TUNED = Circuits(circuits=2, q=80.0)


@pytest.mark.parametrize(
    ("switched", "wound"),
    [
        (None, ["low", "mid", "high"]), (("high",), ["high"]), (("low", "mid"), ["low", "mid"]),
        (("high", "low"), ["low", "high"]),
    ],
)  # fmt: skip
def test_coils_are_wound_for_the_ranges_a_box_is_switched_in_on(
    switched: tuple[str, ...] | None, wound: list[str]
) -> None:
    """A coil for each of them and for no other, in the order of the set; of all where it is always in."""
    values = made.values_of([Box(name="a box", ranges=switched, elements=(TUNED,))], THREE)
    circuits = [value for value in values if isinstance(value, made.CircuitValues)]
    assert [value.range for value in circuits] == wound
    spans = {one.name: (one.low_hz, one.high_hz) for one in THREE}
    assert [(value.low_hz, value.high_hz) for value in circuits] == [spans[name] for name in wound]


def test_a_stretch_is_all_that_its_coils_have_to_tune() -> None:
    """Of a range that reaches beyond it on either side, and of one that it reaches beyond."""
    box = Box(name="a box", ranges=("mid",), elements=(TUNED,))
    for cover, span in (
        ((4_000_000, 5_000_000), (4_000_000, 5_000_000)),
        ((2_000_000, 5_000_000), (3_000_000, 5_000_000)),
        ((4_000_000, 12_000_000), (4_000_000, 9_000_000)),
    ):
        (one,) = made.values_of([box], THREE, cover)
        assert isinstance(one, made.CircuitValues)
        assert (one.low_hz, one.high_hz) == span


def test_two_boxes_alike_are_bought_once_and_a_trap_is_of_no_range() -> None:
    """What several ranges have in common stands once; a trap serves wherever it is switched in."""
    traps = [Box(name=name, ranges=(name,), elements=(Trap(trap_hz=465_000, depth_db=30.0, q=55.0),))
             for name in ("low", "mid")]  # fmt: skip
    (one,) = made.values_of(traps, THREE)
    assert isinstance(one, made.TrapValues)
    assert (one.hz, one.depth_db) == (465_000, 30.0)
    both = made.values_of([*traps, Box(name="b", ranges=("mid",), elements=(TUNED,))], THREE)
    assert [type(value).__name__ for value in both] == ["TrapValues", "CircuitValues"]
