"""How far each product of a mixer lies below the wanted one, at the same input level.

m = |lo| is the harmonic of the oscillator, n = |rf| that of the signal. A product of order n falls n dB for
each dB the signal falls, so below the wanted one it lies (n - 1) dB deeper per dB.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.receiver import description
from spurplan.receiver.families import Figures, figures_of, single_tone_intercept_dbm
from spurplan.receiver.injection import (
    BESIDE,
    MOST_OF_VARIABLE,
    REACH,
    code_of,
    is_harmonic,
    line_of,
    mirrors_of,
)
from spurplan.receiver.multiplier import beside_db
from spurplan.receiver.premixer import Passed

Array = npt.NDArray[np.float64]
Orders = int | npt.NDArray[np.integer[Any]]

# The level law leaves the truth by more than a few dB above these.
_SMOOTH_HEADROOM_DB = 15.0
_SWITCH_HEADROOM_DB = 22.0


@dataclass(frozen=True)
class _Cell:
    """One product: S = max(least, at_0_dbm - (n - 1)*P)."""

    at_0_dbm: float
    least: float
    balance: bool


@dataclass
class CompiledMixer:
    """Suppression of every product of one mixer against its wanted one.

    Attributes
    ----------
    figures : Figures in use.
    wanted : (int, int). |lo| and |rf| of the wanted product.
    measured : mapping of (m, n) to (suppression [dB], at signal level [dBm]).
    limit_dbm : float. Level at the mixer up to which the n dB per dB law holds. [dBm]
    intercept_dbm : float. Third-order input intercept of two tones. [dBm]
    assumed : list of str. What stands for measurements nobody made.
    beside : (code, suppression) of lines beside the injection, each by its `injection.line_code`: how far
        their products lie below those of the injection's fundamental. [dB]
    passed : Passed or None. The filter that those of a premixer go through, which weakens them further.
    orders : (int, int). Highest m and n worked out from the start; others when they are asked for.

    Notes
    -----
    With P the level at the mixer:

        n = 1, m >= 1:  S = min(L(m) + balance_lo if m is even, floor)
        n = 1, m = 0:   S = min(isolation, floor)
        n >= 2:         S = max(0, (n - 1)*(H_n - P) + T(m, n) + balance_rf if n is even
                                   + cross_lo if n is odd and m even and above 0
                                   + max(cross_lo, isolation) if n is odd, m is 0, cross_lo above 0
                                   + cross_lo_2 if n is 2 and m even)

    T(m, n) = L(m) for a separable device, 20*max(-1, c - (n - 1))*log10(m) for one that switches or cuts
    off, and min(isolation, 0) for m = 0. S of the wanted product is taken off at the end: an
    oscillator used on a harmonic leaves its fundamental the stronger one, a negative suppression.
    A measured cell takes the place of the family's: S = suppression + (n - 1)*(its level - P).
    A line beside the injection, m = `injection.BESIDE` + its code, mixes as m = 1 does, but weaker.
    """

    figures: Figures
    wanted: tuple[int, int]
    measured: Mapping[tuple[int, int], tuple[float, float]]
    limit_dbm: float
    intercept_dbm: float
    assumed: list[str]
    orders: tuple[int, int]
    beside: tuple[tuple[int, float], ...] = ()
    passed: Passed | None = None
    _reference_db: float = field(default=0.0, init=False)
    _highest_m: int = field(default=0, init=False, repr=False)
    _at_0: Array = field(init=False, repr=False)
    _least: Array = field(init=False, repr=False)
    _balance: npt.NDArray[np.bool_] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        m, n = self.wanted
        self._grow(max(self.orders[0], m), max(self.orders[1], n))
        # The wanted product is taken weak: at rf = 1 its suppression does not depend on level.
        self._reference_db = float(self._at_0[m, n])
        self._at_0 -= self._reference_db
        self._least -= self._reference_db

    def multiplied(self, times: int, circuits: int, worst_db: float | None = None) -> CompiledMixer:
        """Return the mixer behind a multiplied crystal; arguments as of `multiplier.beside_db`."""
        own = beside_db(times, circuits, worst_db)
        return replace(self, beside=_beside(self.figures, _alike(self.figures, own, (times, 0))))

    def premixed(self, used: tuple[int, int], ahead_db: Mapping[int, float], passed: Passed) -> CompiledMixer:
        """Return the mixer behind a premixer.

        Parameters
        ----------
        used : (p, q). The product p X + q V that is injected.
        ahead_db : mapping of line code to how far it is below the injection ahead of the filter. [dB]
        passed : Passed. That filter.
        """
        own = {code: below_db + passed.least_db[code] for code, below_db in ahead_db.items()}
        alike = _alike(self.figures, own, used)
        return replace(self, beside=_beside(self.figures, alike), passed=replace(passed, alike=alike))

    def suppression_db(self, m: Orders, n: Orders, level_dbm: npt.ArrayLike) -> Array:
        """Return how far product (m, n) lies below the wanted one.

        Parameters
        ----------
        m : int or array, 0 or more. Harmonic of the oscillator.
        n : int or array, 1 or more. Harmonic of the signal.
        level_dbm : float or array. Signal at the mixer's input. [dBm in 50 ohm]

        Returns
        -------
        array of the broadcast shape; negative where the product is the stronger one. [dB]
        """
        m = self._reach(m, n)
        fall = np.subtract(n, 1) * np.asarray(level_dbm, dtype=np.float64)
        return np.asarray(np.maximum(self._at_0[m, n] - fall, self._least[m, n]), dtype=np.float64)

    def need_dbm(self, m: Orders, n: Orders, out_dbm: npt.ArrayLike) -> Array:
        """Return the least input level whose product reaches a level at the output.

        Parameters
        ----------
        m, n : as in `suppression_db`.
        out_dbm : float or array. Level of the product, counted as the level of a wanted signal
            that would come out as loud. [dBm]

        Notes
        -----
        The inverse of P - S(P), which rises strictly: n dB per dB, and 1 dB per dB from
        where the suppression has come down to its least.
        """
        m = self._reach(m, n)
        out = np.asarray(out_dbm, dtype=np.float64)
        need = np.maximum((out + self._at_0[m, n]) / n, out + self._least[m, n])
        return np.asarray(need, dtype=np.float64)

    def law(self, m: Orders, n: Orders) -> tuple[Array, Array]:
        """Return the two figures of a product's law, for many questions about the same products.

        Returns
        -------
        (a, b), of the broadcast shape: `need_dbm` is max((out + a)/n, out + b). [dB]
        """
        m = self._reach(m, n)
        return np.asarray(self._at_0[m, n]), np.asarray(self._least[m, n])

    def least_db(self, m: Orders, n: Orders) -> Array:
        """Return the lowest suppression of product (m, n) at any level. [dB]"""
        m = self._reach(m, n)
        least = np.where(np.equal(n, 1), self._at_0[m, n], self._least[m, n])
        return np.asarray(least, dtype=np.float64)

    def balance_dependent(self, m: Orders, n: Orders) -> npt.NDArray[np.bool_]:
        """Return whether a balance figure of the family stands in the suppression of (m, n).

        Notes
        -----
        Such figures are typical and spread by 10 dB and more between mixers of one kind; a measured
        cell is never called so.
        """
        m = self._reach(m, n)
        return np.asarray(self._balance[m, n], dtype=np.bool_)

    def _reach(self, m: Orders, n: Orders) -> Orders:
        """Return the rows of m, as many worked out as are asked for."""
        highest_m, highest_n = int(np.max(m, initial=0)), int(np.max(n, initial=0))
        beside = None
        if highest_m > BESIDE:
            beside = code_of(np.asarray(m, dtype=np.int64))
            highest_m = int(np.max(np.where(beside > 0, 1, m)))
        if highest_m > self._highest_m or highest_n >= self._at_0.shape[1]:
            self._grow(max(highest_m, self._highest_m), max(highest_n, self._at_0.shape[1]))
        if beside is None:
            return m
        # behind the harmonics one row for each line, and one for those that are not there
        known = [code for code, _ in self.beside]
        row = np.full(max(int(beside.max()), *known, 0) + 1, self._highest_m + 1 + len(known))
        row[known] = self._highest_m + 1 + np.arange(len(known))
        return np.where(beside > 0, row[beside], m)

    def _grow(self, highest_m: int, highest_n: int) -> None:
        self._highest_m = highest_m
        cells = [[self._cell(m, n) for n in range(highest_n + 1)] for m in range(highest_m + 1)]
        for below_db in (*(below for _, below in self.beside), math.inf):
            cells.append([_weaker(self._cell(1, n), below_db) for n in range(highest_n + 1)])
        self._at_0 = np.array([[cell.at_0_dbm for cell in row] for row in cells]) - self._reference_db
        self._least = np.array([[cell.least for cell in row] for row in cells]) - self._reference_db
        self._balance = np.array([[cell.balance for cell in row] for row in cells])

    def _cell(self, m: int, n: int) -> _Cell:
        if n == 0:
            # no signal in it: never a response; infinity keeps a slip visible
            return _Cell(math.inf, math.inf, False)
        if (m, n) in self.measured:
            suppression, level = self.measured[m, n]
            least = min(0.0, suppression) if n > 1 else -math.inf
            return _Cell(suppression + (n - 1) * level, least, False)
        return _linear_cell(self.figures, m) if n == 1 else _curved_cell(self.figures, m, n)


def _weaker(cell: _Cell, by_db: float) -> _Cell:
    least = cell.least if math.isinf(cell.least) else cell.least + by_db
    return _Cell(cell.at_0_dbm + by_db, least, cell.balance)


def _linear_cell(figures: Figures, m: int) -> _Cell:
    even = m % 2 == 0
    if m == 0:
        # what a balanced signal port keeps from the IF port is balance too
        return _Cell(min(figures.isolation, figures.floor), -math.inf, figures.balance_rf > 0)
    suppression = figures.harmonic_db(m) + (figures.balance_lo if even else 0.0)
    return _Cell(min(suppression, figures.floor), -math.inf, even and figures.balance_lo > 0)


def _curved_cell(figures: Figures, m: int, n: int) -> _Cell:
    if m == 0:
        # an unbalanced device gains on its IF in every order: exactly so a separable one
        slope = min(figures.isolation, 0.0)
    elif math.isinf(figures.c):
        slope = figures.harmonic_db(m)
    else:
        slope = 20.0 * max(-1.0, figures.c - (n - 1)) * math.log10(m)
    balance = figures.balance_rf if n % 2 == 0 else 0.0
    if m % 2 == 0 and n == 2:
        balance += figures.cross_lo_2
    elif m % 2 == 0 and n % 2:
        # what keeps the signal itself from the IF port keeps its odd orders from it too, its even ones not
        straight_through = m == 0 and figures.cross_lo > 0
        balance += max(figures.cross_lo, figures.isolation) if straight_through else figures.cross_lo
    return _Cell((n - 1) * figures.intercept_dbm(n) + slope + balance, 0.0, balance > 0)


def compile_mixer(
    mixer: description.Mixer,
    wanted: tuple[int, int] = (1, 1),
    intercepts: Sequence[tuple[int, float]] = (),
    orders: tuple[int, int] = (16, 8),
) -> CompiledMixer:
    """Return the suppression of every product of a described mixer.

    Parameters
    ----------
    mixer : description.Mixer. Family, overrides, measured rows.
    wanted : (lo, rf). The wanted product; signs do not matter. rf is 1 or -1.
    intercepts : (order, single-tone intercept), in place of what the description says. [dBm]
    orders : (int, int). As in `CompiledMixer`: low ones where a mixer is made for a few products.

    Raises
    ------
    ValueError  when the wanted product is not of first order in the signal.
    """
    lo, rf = abs(wanted[0]), abs(wanted[1])
    if rf != 1 or lo < 1:
        raise ValueError(f"the wanted product of a mixer is m LO +- RF with m above 0, not {wanted}")
    figures = figures_of(mixer)
    if intercepts:
        figures = replace(figures, h=MappingProxyType({**figures.h, **dict(intercepts)}))
    measured = {(row[0], row[1]): (row[2], row[3]) for row in mixer.table_rows}
    return CompiledMixer(
        figures=figures,
        wanted=(lo, rf),
        measured=measured,
        limit_dbm=_limit_dbm(figures),
        intercept_dbm=figures.intercept_dbm(3) - single_tone_intercept_dbm(3, 0.0),
        assumed=_assumed(mixer, figures, len(measured)),
        orders=orders,
    )


def _alike(
    figures: Figures, own: Mapping[int, float], used: tuple[int, int]
) -> dict[int, tuple[tuple[int, float], ...]]:
    """Return by code the lines, with their levels, whose powers add where that one mixes. [dB]"""
    codes = set(own)
    if figures.mirrored:
        codes |= {mirror for code in own for mirror in mirrors_of(code, used)}
    out = {}
    for code in sorted(codes):
        p, q = (int(part) for part in line_of(code))
        if p >= REACH * abs(used[0]) + bool(used[1]) or abs(q) > MOST_OF_VARIABLE or is_harmonic(code, used):
            continue
        ways = (code, *mirrors_of(code, used)) if figures.mirrored else (code,)
        out[code] = tuple((line, own[line]) for line in dict.fromkeys(ways) if line in own)
    return out


def _beside(
    figures: Figures, alike: Mapping[int, tuple[tuple[int, float], ...]]
) -> tuple[tuple[int, float], ...]:
    """Return (code, suppression) of what mixes beside the injection, powers added. [dB]"""
    out = []
    for code, ways in alike.items():
        power = sum(10.0 ** (below / -10.0) for _, below in ways)
        if power > 0.0:
            out.append((code, -10.0 * math.log10(power) - figures.beside_db))
    return tuple(out)


def _limit_dbm(figures: Figures) -> float:
    if figures.lo_dbm is not None:
        return figures.lo_dbm - _SWITCH_HEADROOM_DB
    return min(figures.intercept_dbm(n) for n in range(2, 6)) - _SMOOTH_HEADROOM_DB


def _assumed(mixer: description.Mixer, figures: Figures, measured: int) -> list[str]:
    out = [f"mixer {mixer.family}: {figures.note}"]
    if measured:
        cells = "1 product" if measured == 1 else f"{measured} products"
        out.append(f"mixer {mixer.family}: {cells} as measured, the others from the family")
    if figures.balance_lo > 0 or figures.balance_rf > 0 or figures.cross_lo > 0:
        out.append(
            f"mixer {mixer.family}: even-order products depend on balance, "
            "which spreads by 10 dB and more between mixers"
        )
    return out
