"""Which marks of a calibrator are true: its false ones against a walk over the dial."""

from __future__ import annotations

import pytest

import spurplan
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import parse_receiver
from spurplan.responses.birdies.calibrator import false_marks


def made(if_khz: int, mark_khz: int, injection: str = "high") -> Receiver:
    return parse_receiver(
        f'name = "s"\n[[conversion]]\ninjection = "{injection}"\nif = "{if_khz} kHz"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n'
        f'[[internal]]\nname = "calibrator"\nfrequency = "{mark_khz} kHz"\n'
        '[[range]]\nname = "4"\ncoverage = ["11 MHz", "13 MHz"]\n',
        "s",
    )


@pytest.mark.parametrize("injection", ["high", "low"])
@pytest.mark.parametrize(
    ("if_khz", "mark_khz"), [(465, 100), (455, 100), (500, 100), (1600, 250), (455, 1000)]
)
def test_false_marks_are_where_the_image_of_a_harmonic_is_received(
    injection: str, if_khz: int, mark_khz: int
) -> None:
    """On every kilohertz of the dial: a harmonic on the dial is true, one on its image is false."""
    set_ = made(if_khz, mark_khz, injection)
    (marks,) = false_marks(set_, set_.ranges)
    for dial_khz in range(11_000, 13_001):
        oscillator = dial_khz + if_khz if injection == "high" else dial_khz - if_khz
        received = {abs(oscillator - if_khz), oscillator + if_khz} - {dial_khz}
        false = any(khz % mark_khz == 0 for khz in received)
        assert false == ((dial_khz * 1_000 - marks.offset_hz) % marks.frequency_hz == 0), dial_khz


def test_where_both_fall_together_it_is_said() -> None:
    """With 500 kHz and marks of 100 the image lands on each true one."""
    (marks,) = false_marks(made(500, 100), made(500, 100).ranges)
    assert marks.offset_hz == 0
    assert "falls on each" in marks.sentence


def test_birdies_say_it_first() -> None:
    """With what the set hears of itself; of a set without a calibrator nothing."""
    assert "a false one 70 kHz above each" in str(spurplan.birdies(made(465, 100)))
    assert "true marks" not in str(spurplan.birdies(made(465, 5_000)))
