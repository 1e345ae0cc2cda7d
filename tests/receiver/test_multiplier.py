"""What a multiplier leaves beside the injection, against a pulse taken apart by a transform."""

from __future__ import annotations

import math

import numpy as np
import pytest

from spurplan.errors import Refused
from spurplan.receiver.description import Mixer, Receiver
from spurplan.receiver.injection import BESIDE
from spurplan.receiver.mixers import CompiledMixer, compile_mixer
from spurplan.receiver.multiplier import beside_db, impurity_db

POINTS = 1 << 14
LOADED_Q = 50.0


def taken_apart(times: int, circuits: int) -> dict[int, float]:
    """Return the level below the used harmonic of all below three times it, by sampling the pulse. [dB]"""
    phase = 2 * np.pi * np.arange(POINTS) / POINTS
    pulse = np.maximum(np.cos(phase) - math.cos(math.radians(120.0 / times)), 0.0)
    harmonics = np.abs(np.fft.rfft(pulse))
    k = np.arange(1, 3 * times)
    # a parallel circuit fed with a current: u = i Z, Z = 1 / (G + j (w C - 1 / (w L))), with w0 C = Q G
    impedance = np.abs(1.0 / (1.0 + 1j * LOADED_Q * (k / times - times / k))) ** circuits
    level = 20 * np.log10(harmonics[1 : 3 * times] * impedance)
    return {int(n): float(level[times - 1] - level[n - 1]) for n in k if n % times}


@pytest.mark.parametrize("times", [2, 3, 4, 5, 9])
def test_one_circuit_leaves_what_the_pulse_holds_weakened_by_its_resonance(times: int) -> None:
    found, sampled = beside_db(times, 1), taken_apart(times, 1)
    assert set(found) == {k for k, below in sampled.items() if below <= 70.0}
    for k, below_db in found.items():
        assert below_db == pytest.approx(sampled[k], abs=0.1)


def test_strays_hold_the_help_of_a_second_circuit() -> None:
    """Alone it would bring more than 60 dB: strays stand at 55."""
    assert min(taken_apart(3, 2).values()) > 60.0
    assert impurity_db(3, 2) == pytest.approx(55.0)
    assert impurity_db(3, 1) < impurity_db(3, 2)


def test_what_was_measured_moves_all_lines_alike() -> None:
    usual, measured = beside_db(3, 1), beside_db(3, 1, 40.0)
    assert min(measured.values()) == pytest.approx(40.0)
    moved = {round(measured[k] - usual[k], 9) for k in measured}
    assert len(moved) == 1
    assert set(measured) == {k for k in usual if usual[k] + moved.copy().pop() <= 70.0}


def test_a_crystal_that_is_not_multiplied_injects_nothing_else() -> None:
    assert not beside_db(1, 1)
    assert math.isnan(impurity_db(1, 1))


def injected(family: str, times: int = 3) -> CompiledMixer:
    return compile_mixer(Mixer.from_dict({"family": family})).multiplied(times, 1)


def test_a_line_mixes_as_the_fundamental_does_but_weaker() -> None:
    """In every order of the signal, at any level; what the injection itself makes is what it was."""
    mixer, clean = injected("valve_multiplicative"), compile_mixer(Mixer())
    below = beside_db(3, 1)[2]
    for n in (1, 2, 3):
        for level in (-60.0, -20.0):
            line, own = (float(mixer.suppression_db(m, n, level)) for m in (BESIDE + 2, 1))
            assert line == pytest.approx(own + below)
            assert own == float(clean.suppression_db(1, n, level))
            need = float(mixer.need_dbm(BESIDE + 2, n, level - line))
            assert need == pytest.approx(level)
    assert math.isinf(float(mixer.suppression_db(BESIDE + 3, 1, -20.0)))


@pytest.mark.parametrize("level_db", [-30.0, -45.0])
def test_a_switch_mixes_a_line_6_dB_less_and_as_much_on_its_mirror(level_db: float) -> None:
    """A hard switch turned over by an injection with one line beside it, sampled in time."""
    points, injection, line = 1 << 16, 3 * 311, 2 * 311
    phase = 2 * np.pi * (np.arange(points) + 0.5) / points
    drive = np.cos(injection * phase) + 10 ** (level_db / 20) * np.cos(line * phase + 0.7)
    spectrum = np.abs(np.fft.rfft(np.sign(drive)))
    for bin_number in (line, 2 * injection - line, 2 * injection + line):
        below = 20 * math.log10(spectrum[injection] / spectrum[bin_number])
        assert below == pytest.approx(-level_db + 6.0, abs=0.5)
    both = injected("diode_ring")
    own = beside_db(3, 1)
    together = -10 * math.log10(10 ** (-own[2] / 10) + 10 ** (-own[4] / 10)) + 6.0
    assert float(both.suppression_db(BESIDE + 4, 1, -40.0)) == pytest.approx(together)
    assert float(both.suppression_db(BESIDE + 8, 1, -40.0)) <= own[2] + 6.0


def test_an_exponential_mixes_a_line_3_dB_more() -> None:
    """Driven by twice its voltage: I_0 to I_1 of the drive, sampled in time."""
    points, injection, line = 1 << 14, 3 * 311, 2 * 311
    phase = 2 * np.pi * np.arange(points) / points
    drive = 2.0 * (np.cos(injection * phase) + 1e-3 * np.cos(line * phase))
    spectrum = np.abs(np.fft.rfft(np.exp(drive)))
    stronger = 20 * math.log10(spectrum[line] / spectrum[injection]) + 60.0
    mixer, own = injected("bipolar"), beside_db(3, 1)[2]
    assert own - float(mixer.suppression_db(BESIDE + 2, 1, -80.0)) == pytest.approx(stronger, abs=0.2)


@pytest.mark.parametrize(("key", "value"), [("multiplier_circuits", 2), ("multiplier_impurity", "40 dB")])
def test_what_is_said_of_a_multiplier_needs_one(key: str, value: object) -> None:
    conversion = {"crystal": "6 MHz", key: value}
    described = {
        "name": "t",
        "conversion": [conversion, {"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
        "range": [{"name": "1", "coverage": ["21 MHz", "21.5 MHz"]}],
    }
    with pytest.raises(Refused, match=key):
        Receiver.from_dict(described)
    conversion["multiplier"] = 3
    assert Receiver.from_dict(described).conversions[0].multiplier == 3
