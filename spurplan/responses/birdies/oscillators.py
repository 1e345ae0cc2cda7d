"""Everything that oscillates in the box, for many candidates at once.

An oscillator is a line like everything else: it is on (a d + b) / h, d the dial
frequency. A crystal stage that multiplies has two of them, the crystal itself
and what it is multiplied to; the last IF counts as one too, for the detector
makes harmonics of whatever carrier it is given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains
from spurplan.receiver.description import Receiver
from spurplan.responses.routes import numbered
from spurplan.rows import Rows, ints, shared

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

ROLES = ("oscillators", "crystal", "BFO", "internal", "IF harmonic")
MIXING, CRYSTAL, BFO, INTERNAL, DETECTOR = range(5)


class Oscillators(Rows):
    """S oscillators of each of V candidates.

    Attributes
    ----------
    names : tuple of str, S. As they stand in an equation: "LO", "LO2", "BFO", "calibrator".
    role : int64, shape (S,). Index into `ROLES`; the first N are the mixing ones, in order.
    conversion : int64, shape (S,). The conversion one belongs to; -1 for none.
    a, b, h : int64, shape (V, S). On (a d + b) / h; a and b are 0 where a candidate has
        no such oscillator. [b: Hz]
    """

    names: tuple[str, ...] = shared()
    role: Ints = shared()
    conversion: Ints = shared()
    a: Ints = ints(ndim=2)
    b: Ints = ints(ndim=2)
    h: Ints = ints(ndim=2)

    @property
    def present(self) -> Bools:
        """Whether a candidate has an oscillator, shape (V, S)."""
        there: Bools = (self.a != 0) | (self.b != 0)
        return there

    def with_fixed(self, role: int, name: str, frequency_hz: Ints, divisor: Ints | int = 1) -> Oscillators:
        """Return them and one more that does not tune.

        Parameters
        ----------
        role : int. Index into `ROLES`.
        frequency_hz, divisor : int64, shape (V,), or int. It is on frequency / divisor. [Hz]
        """
        shape = (len(self.a), 1)
        b = np.broadcast_to(np.reshape(np.asarray(frequency_hz, dtype=np.int64), (-1, 1)), shape)
        h = np.broadcast_to(np.reshape(np.asarray(divisor, dtype=np.int64), (-1, 1)), shape)
        return Oscillators(
            names=(*self.names, name),
            role=np.append(self.role, role),
            conversion=np.append(self.conversion, -1),
            a=np.concatenate([self.a, np.zeros(shape, dtype=np.int64)], axis=1),
            b=np.concatenate([self.b, b], axis=1),
            h=np.concatenate([self.h, h], axis=1),
        )


def oscillators_of(
    chains: Chains,
    *,
    bfo_offset_hz: int | None = None,
    internal: Sequence[tuple[str, int]] = (),
    multiplier: Mapping[int, Ints] | None = None,
) -> Oscillators:
    """Return the oscillators of some chains.

    Parameters
    ----------
    chains : Chains, V candidates with N conversions.
    bfo_offset_hz : int or None. Of the beat oscillator from the last IF. [Hz]
    internal : (name, frequency) of others in the box. [Hz]
    multiplier : mapping of conversion (from 0) to int64, shape (V,). Times which the
        crystal of that conversion is multiplied; 1 where it is not.

    Returns
    -------
    Oscillators: the N mixing ones, multiplied crystals, BFO, internal ones, and the
    last IF, whose harmonics the detector makes.
    """
    n = chains.conversions
    out = Oscillators(
        names=numbered("LO", n),
        role=np.full(n, MIXING, dtype=np.int64),
        conversion=np.arange(n, dtype=np.int64),
        a=chains.osc_a,
        b=chains.osc_b,
        h=chains.osc_h,
    )
    for conversion, times in sorted((multiplier or {}).items()):
        multiplied = np.broadcast_to(np.asarray(times, dtype=np.int64), chains.if_hz.shape)
        if (multiplied > 1).any():
            b = np.where(multiplied > 1, chains.osc_b[:, conversion], 0)
            name = numbered("crystal", n)[conversion]
            out = out.with_fixed(CRYSTAL, name, b, chains.osc_h[:, conversion] * multiplied)
            out.conversion[-1] = conversion
    if bfo_offset_hz is not None:
        out = out.with_fixed(BFO, "BFO", chains.if_hz + bfo_offset_hz)
    for number, (name, frequency_hz) in enumerate(internal, start=1):
        plain = name if name.isascii() and name.isprintable() else f"internal{number}"
        out = out.with_fixed(INTERNAL, plain, np.full(len(chains), frequency_hz, dtype=np.int64))
    return out.with_fixed(DETECTOR, numbered("IF", n)[-1], chains.if_hz)


def oscillators_in(receiver: Receiver, chains: Chains) -> Oscillators:
    """Return the oscillators of a described set.

    Parameters
    ----------
    receiver : Receiver.
    chains : Chains, each candidate one of its ranges.
    """
    ranges = {one.name: one for one in receiver.ranges}
    conversions = [receiver.conversions_of(ranges[chains.names[code]]) for code in chains.name_code.tolist()]
    multiplier = {
        i: np.array([own[i].multiplier for own in conversions], dtype=np.int64)
        for i in range(chains.conversions)
    }
    return oscillators_of(
        chains,
        bfo_offset_hz=None if receiver.bfo is None else receiver.bfo.offset_hz,
        internal=[(one.name, one.frequency_hz) for one in receiver.internal],
        multiplier=multiplier,
    )
