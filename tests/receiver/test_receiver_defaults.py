"""What nobody gave is told as taken for granted; what gang data says about its circuit."""

from __future__ import annotations

from pathlib import Path

import pytest

from spurplan.errors import Refused
from spurplan.receiver.defaults import defaults_in_use
from spurplan.receiver.description import Gang, Range
from spurplan.receiver.file.reading import parse_receiver, read_receiver
from spurplan.receiver.gang import capacitance_at_ends_pf
from tests.receiver_sound import SOUND

SETS = Path(__file__).parents[1] / "receivers"


def test_every_default_of_a_bare_set_is_named() -> None:
    """The shortest file that runs rests on eleven figures nobody gave."""
    text = (
        'name = "bare"\n[[conversion]]\ninjection = "high"\nif = "455 kHz"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n[[range]]\nname = "1"\ncoverage = ["3 MHz", "9 MHz"]\n'
    )
    assert defaults_in_use(parse_receiver(text)) == (
        "environment rural (default)",
        "noise figure 12 dB (default)",
        "case pickup 100 dB (default)",
        "antenna gain 0 dB (default)",
        "RF gain 20 dB (default)",
        "front end of one circuit, Q 120 up to 1 MHz, falling to 80 at 3.5 MHz and 40 at 28 MHz (default)",
        "front end ceiling 70 dB (default)",
        "conversion 1: gain 0 dB (default)",
        "conversion 1: mixer valve_multiplicative (default)",
        "conversion 1: filter shape factor 2.5 (default)",
        "conversion 1: filter ultimate rejection 70 dB (default)",
    )


def test_a_figure_that_was_given_is_no_default_even_where_it_equals_one() -> None:
    assert "noise figure 12 dB (default)" not in defaults_in_use(parse_receiver(SOUND))


def test_measured_noise_leaves_no_category_to_assume() -> None:
    text = SOUND.replace('noise_figure = "12 dB"', 'noise = [["3 MHz", "S5"]]')
    assert not any("environment" in said for said in defaults_in_use(parse_receiver(text)))


def test_a_default_of_some_ranges_names_them() -> None:
    """And an answer about one range says only what it rests on itself."""
    receiver = read_receiver(SETS / "boathouse.toml")
    unknown = "a coupled pair half way between capacitive and inductive in the front end (default) on range 1"
    ceiling = "front end ceiling 70 dB (default) on range 1, 2, 3"
    case = "case pickup 100 dB (default)"
    assert defaults_in_use(receiver) == (case, unknown, ceiling)
    assert defaults_in_use(receiver, [receiver.ranges[3]]) == (case,)


def test_coil_and_capacitance_follow_from_each_other() -> None:
    """Thomson's formula: 180 uH and 500 pF resonate at 530.5 kHz (calculated: 1/(2 pi sqrt(L C)))."""
    one = Range(name="1", low_hz=530_516, high_hz=1_600_000)
    by_coil = Gang(c_max_pf=490.0, coil_uh=180.0)
    c_low_pf, c_high_pf = capacitance_at_ends_pf(one.low_hz, one.high_hz, by_coil.c_min_pf, by_coil.coil_uh)
    assert c_low_pf == pytest.approx(500.0, rel=1e-5)
    by_minimum = Gang(c_max_pf=490.0, c_min_pf=c_high_pf)
    assert capacitance_at_ends_pf(
        one.low_hz, one.high_hz, by_minimum.c_min_pf, by_minimum.coil_uh
    ) == pytest.approx((c_low_pf, c_high_pf))


@pytest.mark.parametrize(
    ("gang", "said"),
    [
        ('c_max = "350 pF"', "needs exactly one of c_min and coil"),
        ('c_max = "350 pF"\nc_min = "50 pF"\ncoil = "2 uH"', "needs exactly one of c_min and coil"),
        ('c_max = "250 pF"\nc_min = "50 pF"', "is less than the swing of 322 pF that the coverage needs"),
        ('c_max = "350"\nc_min = "50 pF"', "has no unit"),
        ('c_max = "350 F"\nc_min = "50 pF"', "has an unknown unit F; use pF, nF"),
        ('c_max = "350 pF"\ncoil = "2 m"', "has an unknown unit m; use uH, mH, nH"),
    ],
)
def test_gang_data_that_can_not_be_is_refused(gang: str, said: str) -> None:
    with pytest.raises(Refused, match=said):
        parse_receiver(SOUND + f"[range.gang]\n{gang}\n")
