"""What a premixer leaves beside the injection it makes of a crystal and a variable oscillator.

A line p X + q V lies, ahead of the filter, below the used product N X +- V by what the harmonics of a
multiplied crystal lie below the N-th, and by a step for every further harmonic of either oscillator that
the premixer itself makes. Behind it the filter takes off each what it is down against the injection.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from spurplan.receiver.injection import MOST_OF_VARIABLE, REACH, is_harmonic, line_code
from spurplan.receiver.multiplier import in_pulse_db
from spurplan.tomlfile import shipped_toml

Array = npt.NDArray[np.float64]

KINDS = ("single", "balanced")


@cache
def estimates() -> Mapping[str, Mapping[str, float]]:
    """Return ``data/premixers.toml``."""
    read: dict[str, Any] = shipped_toml("premixers.toml")
    return read


def least_followed_db() -> float:
    """Return how far below the injection a line is not followed any more. [dB]"""
    return estimates()["lines"]["least"]


def beside_premixed_db(
    used: tuple[int, int], kind: str, products: Sequence[tuple[int, int, float]] = ()
) -> Mapping[int, float]:
    """Return how far each line lies below the used product ahead of the premixer's filter.

    Parameters
    ----------
    used : (p, q). The product that is injected, p X + q V; q is 1 or -1.
    kind : one of `KINDS`.
    products : (p, q, dB) as measured, in place of the estimate; q signed as in p X + q V.

    Returns
    -------
    mapping of `injection.line_code` to dB, negative where it is the stronger one; harmonics of the
    injection are not among them.
    """
    out = {}
    times = abs(used[0])
    measured = {line_code(p, q): below_db for p, q, below_db in products}
    for p in range(REACH * times + 1):
        for q in range(-MOST_OF_VARIABLE, MOST_OF_VARIABLE + 1):
            code = line_code(p, q)
            if (p == 0 and q <= 0) or is_harmonic(code, used):
                continue
            out[code] = measured.get(code, _estimated_db(p, abs(q), times, estimates()[kind]))
    return out


def _estimated_db(p: int, q: int, times: int, figures: Mapping[str, float]) -> float:
    """Return the estimate for p X +- q V, p and q 0 or more and not both 0."""
    below_db = figures["more_of_variable"] * max(q - 1, 0)
    if p == 0:
        return below_db + figures["variable"] + (figures["even"] if q % 2 == 0 else 0.0)
    if times == 1:
        # the premixer makes the harmonics of the crystal itself
        below_db += figures["more_of_crystal"] * (p - 1)
        below_db += figures["even"] * ((p % 2 == 0) + (q % 2 == 0 and q > 0))
    else:
        # the stage ahead of it does: its pulses hold them all
        below_db += in_pulse_db(p, times) + (figures["even"] if q and q % 2 == 0 else 0.0)
    return below_db + (figures["crystal"] if q == 0 else 0.0)


class Attenuates(Protocol):
    """A filter, as `Selectivity` is one."""

    def loss_db(self, x_hz: npt.ArrayLike, wanted_hz: npt.ArrayLike) -> Array:
        """Return how far x is attenuated against the wanted frequency. [Hz -> dB]"""

    def corners_x(self) -> Array: ...
    def corners_wanted(self) -> Array: ...
    def corners_ratio(self) -> Array: ...
    def corners_offset(self) -> Array: ...


@dataclass(frozen=True)
class Passed:
    """The filter behind a premixer, and what it takes off the lines beside the injection.

    Attributes
    ----------
    filter : Selectivity. Its wanted frequency is the injection.
    least_db : by code the least it takes off that line anywhere on the range, against the injection. [dB]
    alike : by code the lines whose powers add where it mixes, with how far each is below the injection where
        the filter takes least off it, as `CompiledMixer.premixed` fills them in.
    """

    filter: Attenuates
    least_db: Mapping[int, float]
    alike: Mapping[int, tuple[tuple[int, float], ...]] = field(default_factory=dict)

    def more_db(self, code: int, line_hz: Callable[[int], Array], injection_hz: Array) -> Array:
        """Return how much weaker than its suppression in `CompiledMixer.beside` a line mixes, 0 or more.

        Parameters
        ----------
        code : int. The line.
        line_hz : function of a code that returns where that line is, shape (n,). [Hz]
        injection_hz : float64, shape (n,). [Hz]

        Returns
        -------
        float64, shape (n,). [dB]
        """
        ways = self.alike[code]
        passed = np.zeros(len(injection_hz))
        for line, below_db in ways:
            x_hz = np.maximum(np.abs(line_hz(line)), 1.0)
            more_db = self.filter.loss_db(x_hz, injection_hz) - self.least_db[line]
            passed += 10.0 ** ((below_db + np.maximum(more_db, 0.0)) / -10.0)
        unweakened = sum(10.0 ** (below_db / -10.0) for _, below_db in ways)
        more: Array = 10.0 * np.log10(unweakened / passed)
        return more
