"""What a multiplied crystal injects besides the harmonic that is used.

The stage that multiplies by N draws its current in pulses; their Fourier series holds every harmonic k
of the crystal, and the tuned circuits behind the stage weaken those beside N. What is left of each is an
oscillator of its own on k times the crystal:

    c_1 = (t - sin t cos t) / pi
    c_k = 2 (sin kt cos t - k cos kt sin t) / (pi k (k^2 - 1))          pulse of half angle t cut off a cosine
    one circuit of loaded Q:  1 / sqrt(1 + Q^2 (k/N - N/k)^2)
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from typing import Any

from spurplan.receiver.injection import REACH
from spurplan.tomlfile import shipped_toml


@cache
def estimates() -> Mapping[str, Mapping[str, float]]:
    """Return ``data/multipliers.toml``."""
    read: dict[str, Any] = shipped_toml("multipliers.toml")
    return read


def usual_circuits() -> int:
    """Return how many tuned circuits stand behind a multiplier nobody has described."""
    return int(estimates()["circuits"]["usual"])


@cache
def beside_db(times: int, circuits: int, worst_db: float | None = None) -> Mapping[int, float]:
    """Return how far the other harmonics of a multiplied crystal lie below the one that is used.

    Parameters
    ----------
    times : int, 1 or more. The harmonic that is used.
    circuits : int, 0 or more. Tuned circuits behind the stage, alike and isolated.
    worst_db : float or None. How far the worst of them was measured to be; the others follow it. [dB]

    Returns
    -------
    mapping of harmonic, ascending below 3*times, to dB, those within `lines.least` of the used one; empty
    where nothing is multiplied. Multiples of the used one are its harmonics and not among them.
    Estimates: 6 dB either way a circuit.
    """
    if times == 1:
        return {}
    q, stray_db = estimates()["circuits"]["loaded_q"], estimates()["circuits"]["stray"]
    by_harmonic = {}
    for k in range(1, REACH * times):
        if k % times == 0:
            continue
        below_used_db = in_pulse_db(k, times)
        circuit_db = 10.0 * math.log10(1.0 + (q * (k / times - times / k)) ** 2)
        below_db = below_used_db + circuits * circuit_db
        if circuits > 1:
            # what the first circuit has left goes round the others
            below_db = min(below_db, max(below_used_db + circuit_db, stray_db))
        by_harmonic[k] = below_db
    more_db = 0.0 if worst_db is None else worst_db - min(by_harmonic.values())
    least_db = estimates()["lines"]["least"]
    return {k: below_db + more_db for k, below_db in by_harmonic.items() if below_db + more_db <= least_db}


def impurity_db(times: int, circuits: int) -> float:
    """Return how far the worst other line lies below the used one; NaN where nothing is multiplied. [dB]"""
    return min(beside_db(times, circuits).values(), default=math.nan)


def in_pulse_db(k: int, times: int) -> float:
    """Return how far harmonic k lies below harmonic `times` in the pulse of a stage made for that. [dB]"""
    used, pulse = (abs(_pulse(n, _half_angle(times))) for n in (times, k))
    return 20.0 * math.log10(used / pulse) if pulse > 0.0 else math.inf


def _half_angle(times: int) -> float:
    return math.radians(min(estimates()["pulse"]["half_angle_over"] / times, 180.0))


def _pulse(k: int, half_angle: float) -> float:
    """Return the k-th Fourier coefficient of a cosine pulse, k from 1, in units of the cosine's peak."""
    sine, cosine = math.sin(half_angle), math.cos(half_angle)
    if k == 1:
        return (half_angle - sine * cosine) / math.pi
    whole = math.sin(k * half_angle) * cosine - k * math.cos(k * half_angle) * sine
    return 2.0 * whole / (math.pi * k * (k * k - 1))
