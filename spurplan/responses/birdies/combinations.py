"""Which harmonics of which oscillators may meet: whole numbers, no frequencies yet.

Of the mixing oscillators every combination k1 LO1 + k2 LO2 + ... is looked at,
landing on the dial frequency or on any IF. Anything else in the box joins in by
its own harmonics, and by them with harmonics of one mixing oscillator; the two that one
is premixed of also by harmonics of both. With the
first of these the dial frequency is the first IF and a harmonic more or less.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from math import gcd

import numpy as np
import numpy.typing as npt

from spurplan.responses.birdies.oscillators import BFO, CRYSTAL, DETECTOR, MIXING, VARIABLE, Oscillators
from spurplan.rows import Rows, bools, ints

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


class Combinations(Rows):
    """P combinations of S oscillators.

    Attributes
    ----------
    factors : int64, shape (P, S). Signed harmonic of each oscillator.
    target : int64, shape (P,). Where it lands: 0 the dial frequency, i the i-th IF.
    order : int64, shape (P,). Sum of the harmonics as the equation shows them.
    meets_bfo : bool, shape (P,). Written as a harmonic that meets one of the BFO's:
        5 LO = 9 BFO is 5 LO - 8 BFO on the last IF, which the BFO turns into a tone.
    """

    factors: Ints = ints(ndim=2)
    target: Ints = ints()
    order: Ints = ints()
    meets_bfo: Bools = bools()

    def __len__(self) -> int:
        return len(self.target)


def combinations_of(
    oscillators: Oscillators, conversions: int, total_order: int, harmonics: Mapping[int, int] | None = None
) -> Combinations:
    """Return the combinations worth asking about, lowest order first.

    Parameters
    ----------
    oscillators : Oscillators; only their roles count here.
    conversions : int. N; the first N oscillators are the mixing ones.
    total_order : int, 1 or more. Highest sum of harmonics.
    harmonics : mapping of oscillator to the highest harmonic it has by itself; `total_order` for
        those that are not in it.
    """
    roles, owners = tuple(oscillators.role.tolist()), tuple(oscillators.conversion.tolist())
    highest = tuple((harmonics or {}).get(s, total_order) for s in range(len(roles)))
    return _combinations(roles, owners, conversions, total_order, highest)


@cache
def _combinations(
    roles: tuple[int, ...], owners: tuple[int, ...], conversions: int, total_order: int,
    highest: tuple[int, ...],
) -> Combinations:  # fmt: skip
    targets = range(conversions + 1)
    parts = [_of_mixing(len(roles), conversions, total_order)]
    for extra in (s for s, role in enumerate(roles) if role != MIXING):
        role = roles[extra]
        # the BFO and the detector are at the last IF already: what is new is the dial and earlier IFs
        earlier = role in (BFO, DETECTOR)
        alone = [t for t in targets if not (earlier and t == conversions)]
        first = 2 if role == DETECTOR else 1
        parts.append(_alone(len(roles), extra, range(first, highest[extra] + 1), alone))
        if role == DETECTOR:
            continue
        for mixing in range(conversions):
            if role in (CRYSTAL, VARIABLE) and owners[extra] == mixing:
                continue
            landing = [t for t in alone if t > 0 or mixing > 0]
            parts.append(_with_mixing(len(roles), mixing, extra, total_order, landing))
            if role == BFO:
                parts.append(_against_bfo(len(roles), mixing, extra, total_order, conversions))
        if role == VARIABLE:
            # the crystal it is mixed with stands ahead of it
            parts.append(_with_mixing(len(roles), extra - 1, extra, total_order, list(targets)))
    every = Combinations.concat(parts)
    return every.take(np.argsort(every.order, kind="stable"))


def _of_mixing(oscillators: int, conversions: int, total_order: int) -> Combinations:
    """Every vector of harmonics of the mixing oscillators, on every target."""
    vectors = np.zeros((1, 0), dtype=np.int64)
    for _ in range(conversions):
        k = np.arange(-total_order, total_order + 1, dtype=np.int64)
        vectors = np.concatenate(
            [np.repeat(vectors, len(k), axis=0), np.tile(k, len(vectors))[:, None]], axis=1
        )
        vectors = vectors[np.abs(vectors).sum(axis=1) <= total_order]
    vectors = vectors[np.abs(vectors).sum(axis=1) > 0]
    wide = np.zeros((len(vectors), oscillators), dtype=np.int64)
    wide[:, :conversions] = vectors
    return _on_each(wide, list(range(conversions + 1)))


def _alone(oscillators: int, extra: int, harmonics: range, targets: list[int]) -> Combinations:
    wide = np.zeros((len(harmonics), oscillators), dtype=np.int64)
    wide[:, extra] = harmonics
    return _on_each(wide, targets)


def _with_mixing(
    oscillators: int, mixing: int, extra: int, total_order: int, targets: list[int]
) -> Combinations:
    """Harmonics of a mixing oscillator and of another one, in that mixer or past it."""
    k = np.arange(-total_order, total_order + 1, dtype=np.int64)
    k1, k2 = (grid.ravel() for grid in np.meshgrid(k, k, indexing="ij"))
    keep = (k1 != 0) & (k2 != 0) & (np.abs(k1) + np.abs(k2) <= total_order)
    wide = np.zeros((int(keep.sum()), oscillators), dtype=np.int64)
    wide[:, mixing], wide[:, extra] = k1[keep], k2[keep]
    return _on_each(wide, targets)


def _against_bfo(oscillators: int, mixing: int, bfo: int, total_order: int, last: int) -> Combinations:
    """Harmonics k of a mixing oscillator that meet harmonics z of the BFO.

    The product k LO - (z - 1) BFO is near the last IF and makes a tone with the BFO.
    Its mirror (z + 1) BFO - k LO makes the same tone with a harmonic more, and 2k against
    2z meet where k and z do: both say nothing new, nor does z = 1, where k LO is on the IF.
    """
    pairs = [
        (k, z)
        for k in range(1, total_order)
        for z in range(2, total_order + 1 - k)
        if gcd(k, z) == 1
    ]  # fmt: skip
    wide = np.zeros((len(pairs), oscillators), dtype=np.int64)
    for row, (k, z) in enumerate(pairs):
        wide[row, mixing], wide[row, bfo] = k, 1 - z
    order = np.array([k + z for k, z in pairs], dtype=np.int64)
    target = np.full(len(pairs), last, dtype=np.int64)
    return Combinations(wide, target, order, np.ones(len(pairs), dtype=bool))


def _on_each(factors: Ints, targets: list[int]) -> Combinations:
    count = len(factors)
    factors = np.tile(factors, (len(targets), 1))
    target = np.repeat(np.array(targets, dtype=np.int64), count)
    return Combinations(factors, target, np.abs(factors).sum(axis=1), np.zeros(len(target), dtype=bool))


def equation(names: tuple[str, ...], factors: tuple[int, ...], target: str, meets_bfo: bool) -> str:
    """Return a combination as it is worked out: ``2 LO2 - LO1 = IF1``, ``5 LO = 9 BFO``.

    Parameters
    ----------
    names, factors : of the oscillators, S of each; the mixing ones come first.
    target : str. What it lands on, "dial" or an IF by name.
    meets_bfo : bool. As in `Combinations`.
    """
    if meets_bfo:
        mixing, bfo = (s for s, k in enumerate(factors) if k)
        return f"{_term(factors[mixing], names[mixing])} = {_term(1 - factors[bfo], names[bfo])}"
    terms = [(k, name) for k, name in zip(factors, names, strict=True) if k]
    terms.sort(key=lambda term: term[0] < 0)
    text = ""
    for k, name in terms:
        size = _term(abs(k), name)
        text += (f" - {size}" if k < 0 else f" + {size}") if text else (f"- {size}" if k < 0 else size)
    return f"{text} = {target}"


def _term(k: int, name: str) -> str:
    return name if k == 1 else f"{k} {name}"
