"""Figures of a mixer: the defaults of its family, and what a description overrides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import Any

from spurplan.receiver import description
from spurplan.tomlfile import shipped_toml

# P[dBm in 50 ohm] = 20*log10(V peak) + 10
_DBM_OF_A_VOLT = 10.0
_LAST_TRUSTED_ORDER = 5


@dataclass(frozen=True)
class Figures:
    """What the compact model needs to know of a mixer.

    Attributes
    ----------
    e1 : float. L(m) = 20*e1*log10(m).
    e1_above_3 : float. Slope beyond m = 3.
    c : float. T(m, n) = 20*max(-1, c - (n - 1))*log10(m); inf for a separable device, T = L.
    balance_lo : float. Even oscillator harmonics, n = 1. [dB]
    balance_rf : float. Even orders of the signal. [dB]
    cross_lo, cross_lo_2 : float. Even oscillator harmonics, and none, with odd n above 1; with n = 2. [dB]
    isolation : float. A signal on the IF. [dB]
    floor : float. Most that any product of first order is suppressed. [dB]
    v0 : float or None. Voltage of the exponential that stands for the device. [V peak]
    h : mapping of order to single-tone intercept; orders 2 and 3 in it where there is no v0. [dBm in 50 ohm]
    lo_dbm : float or None. Oscillator drive; None where it plays no part. [dBm]
    beside_db : float. How much stronger than its own level a line beside the injection mixes. [dB]
    mirrored : bool. Whether it mixes as strongly on its mirror about the injection.
    note : str. How far the family's figures can be trusted.
    """

    e1: float
    e1_above_3: float
    c: float
    balance_lo: float
    balance_rf: float
    cross_lo: float
    cross_lo_2: float
    isolation: float
    floor: float
    v0: float | None
    h: Mapping[int, float]
    lo_dbm: float | None
    beside_db: float
    mirrored: bool
    note: str

    def harmonic_db(self, m: int) -> float:
        """Return L(m), the unbalanced suppression of oscillator harmonic m; 0 for m = 0. [dB]"""
        if m <= 1:
            return 0.0
        below = 20.0 * self.e1 * math.log10(min(m, 3))
        return below + 20.0 * self.e1_above_3 * math.log10(max(m, 3) / 3.0)

    def intercept_dbm(self, n: int) -> float:
        """Return H_n, the input level at which order n would equal the wanted product.

        Notes
        -----
        Stated or measured ones first; else from v0, 2*v0*(n!)^(1/(n-1)) volts peak; else H_4 = H_3 - 2,
        H_5 = H_4 - 2, and 2 dB less for each order above 5: there the frequency of a product can
        be trusted, its level not.
        """
        if n in self.h:
            return self.h[n]
        if self.v0 is not None:
            return voltage_intercept_dbm(self.v0, n)
        return self.intercept_dbm(n - 1) - 2.0


def voltage_intercept_dbm(v0: float, n: int) -> float:
    """Return the single-tone intercept of order n of exp(v/v0). [V peak -> dBm in 50 ohm]

    Notes
    -----
    (m, n)/(1, 1) = (V/(2*v0))^(n-1)/n! for a weak signal of V volts peak; it is 1 at
    V = 2*v0*(n!)^(1/(n-1)).
    """
    volts = 2.0 * v0 * math.exp(math.lgamma(n + 1) / (n - 1))
    return 20.0 * math.log10(volts) + _DBM_OF_A_VOLT


def single_tone_intercept_dbm(order: int, two_tone_dbm: float) -> float:
    """Return H_n from the intercept of a data sheet, which is told by two tones. [dBm -> dBm]

    Parameters
    ----------
    order : int, 2, 3 or 5.
    two_tone_dbm : float. Input intercept IIP2, IIP3 or IIP5. [dBm]

    Notes
    -----
    Of one power law v^n, n = p + q, two tones of V give the product (p, q) n!/(p!*q!) times as
    strong as one tone gives its n-th harmonic: 2, 3 and 10 times for f1 + f2, 2*f1 - f2 and 3*f1 - 2*f2.
    An intercept moves by 1/(n - 1) of that.
    """
    ratio = math.comb(order, order // 2)
    return two_tone_dbm + 20.0 * math.log10(ratio) / (order - 1)


@cache
def _read() -> Mapping[str, Mapping[str, Any]]:
    return MappingProxyType(shipped_toml("mixer_families.toml"))


def family_names() -> tuple[str, ...]:
    """Return the names of all families, in the order of the data file."""
    return tuple(_read())


def family(name: str, lo_dbm: float | None = None) -> Figures:
    """Return the default figures of a family.

    Parameters
    ----------
    name : str. One of `family_names`.
    lo_dbm : float or None. Drive in place of the family's; moves the intercepts of diodes. [dBm]
    """
    row = _read()[name]
    drive = row.get("lo_dbm") if lo_dbm is None or "lo_dbm" not in row else lo_dbm
    h = {n: float(row[f"h{n}"]) for n in range(2, _LAST_TRUSTED_ORDER + 1) if f"h{n}" in row}
    if drive is not None:
        above = {n: row.get(f"h{n}_above_lo") for n in range(2, _LAST_TRUSTED_ORDER + 1)}
        h |= {n: drive + db for n, db in above.items() if db is not None}
    return Figures(
        e1=row["e1"],
        e1_above_3=row.get("e1_above_3", row["e1"]),
        c=row.get("c", math.inf),
        balance_lo=row.get("balance_lo", 0.0),
        balance_rf=row.get("balance_rf", 0.0),
        cross_lo=row.get("cross_lo", 0.0),
        cross_lo_2=row.get("cross_lo_2", 0.0),
        isolation=row["isolation"],
        floor=row["floor"],
        v0=row.get("v0"),
        h=MappingProxyType(h),
        lo_dbm=drive,
        beside_db=row.get("beside", 0.0),
        mirrored=row.get("mirrored", False),
        note=row["note"],
    )


def figures_of(mixer: description.Mixer) -> Figures:
    """Return the figures of a described mixer.

    Notes
    -----
    An intercept stated for one order stands for that order alone; v0 gives all of them,
    whatever the family's own were. A slope e1 stated for a valve holds up to its third harmonic.
    """
    base = family(mixer.family, mixer.lo_dbm)
    plain = ("e1", "c", "balance_lo", "balance_rf", "cross_lo", "isolation", "floor")
    stated = {name: getattr(mixer, name) for name in plain if getattr(mixer, name) is not None}
    if "e1" in stated and base.e1_above_3 == base.e1:
        stated["e1_above_3"] = stated["e1"]
    h = dict(base.h)
    if mixer.v0 is not None:
        stated["v0"] = mixer.v0
        h = {}
    own = {2: mixer.h2, 3: mixer.h3, 4: mixer.h4, 5: mixer.h5}
    h |= {n: value for n, value in own.items() if value is not None}
    return replace(base, **stated, h=MappingProxyType(h))
