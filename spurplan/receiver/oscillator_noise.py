"""Noise beside an oscillator: what a strong neighbour mixes into the passband with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import log10
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.receiver.description import Conversion
from spurplan.tomlfile import shipped_toml

Floats = npt.NDArray[np.float64]


@cache
def _kinds() -> Mapping[str, Mapping[str, Any]]:
    return MappingProxyType(shipped_toml("oscillator_noise.toml"))


def oscillator_noise_dbc_hz(
    noise: str | Sequence[tuple[int, float]], offset_hz: Floats, oscillator_hz: Floats, multiplied: int = 1
) -> Floats:
    """Return the noise of an oscillator in 1 Hz against its carrier, shape (n,). [dBc/Hz]

    Parameters
    ----------
    noise : "lc", "crystal", "synthesiser", or measured pairs of offset and noise, ascending. [Hz, dBc/Hz]
    offset_hz : float64, shape (n,). Distance from the carrier, above 0. [Hz]
    oscillator_hz : float64, shape (n,). The oscillator itself. [Hz]
    multiplied : int. Times which a crystal is multiplied.

    Notes
    -----
    Between points a straight line against the logarithm of the offset; beyond the last ones their values.
    Of a multiplied oscillator 20 log10(times) more.
    """
    if not isinstance(noise, str):
        return _between(noise, offset_hz)
    kind = _kinds()[noise]
    if "points" in kind:
        return _between(kind["points"], offset_hz)
    level = kind["dbc_hz"] + kind["slope"] * np.log10(offset_hz / kind["at"])
    floor = np.full(len(offset_hz), kind["floor"])
    if kind["of_hz"]:
        level = level + 20.0 * np.log10(oscillator_hz / kind["of_hz"])
    out: Floats = np.maximum(level, floor) + 20.0 * log10(multiplied)
    return out


def _between(points: Sequence[Sequence[float]], offset_hz: Floats) -> Floats:
    at, noise = zip(*points, strict=True)
    out: Floats = np.interp(np.log10(offset_hz), np.log10(np.array(at, dtype=np.float64)), noise)
    return out


@dataclass(frozen=True)
class OscillatorNoise:
    """The noise of the oscillator of one conversion.

    Attributes
    ----------
    noise : as of `oscillator_noise_dbc_hz`.
    multiplied : int. Times which a crystal is multiplied.
    premixed : bool. Whether it is that of the variable oscillator of a premixed injection, told on the
        frequency of that.
    """

    noise: str | tuple[tuple[int, float], ...]
    multiplied: int
    premixed: bool

    def dbc_hz(self, offset_hz: Floats, oscillator_hz: Floats) -> Floats:
        """Return the noise in 1 Hz against the carrier, shape (n,); as `oscillator_noise_dbc_hz`. [dBc/Hz]"""
        return oscillator_noise_dbc_hz(self.noise, offset_hz, oscillator_hz, self.multiplied)

    def most_dbc_hz(self, from_hz: float, oscillator_hz: Floats) -> float:
        """Return the most noise anywhere farther from the carrier than that. [dBc/Hz]"""
        told = () if isinstance(self.noise, str) else tuple(float(hz) for hz, _ in self.noise)
        at = np.array([from_hz, *(hz for hz in told if hz > from_hz)])
        return max(float(self.dbc_hz(at, np.full(len(at), hz)).max()) for hz in oscillator_hz.tolist())


def compile_noise(conversion: Conversion) -> OscillatorNoise:
    """Return the noise of a conversion's oscillator: as described, else that of its kind.

    A premixed one is as noisy as the variable oscillator it is made of, on the frequency of that.
    """
    noise: str | tuple[tuple[int, float], ...] = "lc" if conversion.crystal_hz is None else "crystal"
    if conversion.oscillator_noise is not None:
        noise = conversion.oscillator_noise
    return OscillatorNoise(noise, conversion.multiplier, conversion.premix is not None)
