"""Which listeners an intruder spoils: `hurts` of a record."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import spurplan
from spurplan.receiver.description import Receiver


def half_if(tmp_path: Path, mode: str) -> list[str]:
    """Who suffers from a station that arrives as half-IF on a set for 14 MHz."""
    receiver = Receiver.from_dict(
        {
            "name": "half-IF",
            "conversion": [{"injection": "high", "if": "1600 kHz", "filter": {"bandwidth": "6 kHz"},
                            "mixer": {"family": "bipolar"}}],
            "range": [{"name": "1", "coverage": ["13 MHz", "16 MHz"]}],
        }
    )  # fmt: skip
    air = tmp_path / f"{mode}.csv"
    air.write_text(
        f"freq_khz,service,label,level,mode,bandwidth_khz\n14800,fixed,Loud,-20 dBm,{mode},6\n", "utf-8"
    )
    rows = spurplan.dial(receiver, bands=air, frequency="14 MHz").intrusions.records()
    (row,) = (row for row in rows if row["response"] == "half-IF")
    return list(row["hurts"])


@pytest.mark.parametrize("mode", ["am", "cw", "beacon"])
def test_what_has_a_carrier_has_one_in_every_order(tmp_path: Path, mode: str) -> None:
    """A clean carrier in the passband is a tone to whoever reads telegraphy."""
    assert half_if(tmp_path, mode) == ["AM", "SSB", "CW"]


@pytest.mark.parametrize("mode", ["ssb", "fm"])
def test_speech_without_a_carrier_is_spread(tmp_path: Path, mode: str) -> None:
    """The powers of speech alone have no tone in them."""
    assert half_if(tmp_path, mode) == ["AM", "SSB"]


@pytest.mark.parametrize("order", [2, 3])
def test_a_power_of_amplitude_modulation_keeps_its_carrier(order: int) -> None:
    """Of noise-like speech at 80 %, most of what falls into 100 Hz round the product is one line."""
    rng = np.random.default_rng(order)
    rate, seconds, carrier = 200_000, 2, 20_000
    bins = np.zeros(rate * seconds // 2 + 1, dtype=complex)
    speech_bins = np.arange(300 * seconds, 3_000 * seconds)
    bins[speech_bins] = rng.standard_normal(len(speech_bins)) + 1j * rng.standard_normal(len(speech_bins))
    speech = np.fft.irfft(bins)
    speech *= 0.8 / np.abs(speech).max()
    time = np.arange(rate * seconds) / rate
    power = np.abs(np.fft.rfft(((1 + speech) * np.cos(2 * np.pi * carrier * time)) ** order)) ** 2
    line = order * carrier * seconds
    ear = power[line - 50 * seconds : line + 50 * seconds + 1]
    assert power[line] > 100 * (ear.sum() - power[line])
