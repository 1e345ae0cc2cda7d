"""Everything that oscillates in the box, for many candidates at once.

An oscillator is a line like everything else: it is on (a d + b) / h, d the dial
frequency. A crystal stage that multiplies has two of them, the crystal itself
and what it is multiplied to, a premixed one three, with the crystal and the variable
oscillator it is made of; the last IF counts as one too, for the detector
makes harmonics of whatever carrier it is given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.injection import line_code
from spurplan.responses.routes import numbered
from spurplan.rows import Rows, ints, shared

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

ROLES = ("oscillators", "crystal", "variable", "BFO", "internal", "IF harmonic")
MIXING, CRYSTAL, VARIABLE, BFO, INTERNAL, DETECTOR = range(6)


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
        return self.with_one(role, name, -1, 0, frequency_hz, divisor)

    def with_one(
        self, role: int, name: str, conversion: int, a: Ints | int, b: Ints | int, h: Ints | int
    ) -> Oscillators:
        """Return them and one more, that of a conversion or of none; a, b and h of shape (V,) or int."""
        shape = (len(self.a), 1)
        new = {
            part: np.broadcast_to(np.reshape(np.asarray(of_one, dtype=np.int64), (-1, 1)), shape)
            for part, of_one in (("a", a), ("b", b), ("h", h))
        }
        return Oscillators(
            names=(*self.names, name),
            role=np.append(self.role, role),
            conversion=np.append(self.conversion, conversion),
            **{part: np.concatenate([getattr(self, part), of_one], axis=1) for part, of_one in new.items()},
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
    Oscillators: the N mixing ones, multiplied crystals, what premixed ones are made of, BFO,
    internal ones, and the last IF, whose harmonics the detector makes.
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
            out = out.with_one(CRYSTAL, name, conversion, 0, b, chains.osc_h[:, conversion] * multiplied)
    for conversion in np.flatnonzero((chains.made_of[:, :, 2] != 0).any(axis=0)).tolist():
        out = _with_premixer(out, chains, conversion)
    if bfo_offset_hz is not None:
        out = out.with_fixed(BFO, "BFO", chains.if_hz + bfo_offset_hz)
    for number, (name, frequency_hz) in enumerate(internal, start=1):
        plain = name if name.isascii() and name.isprintable() else f"internal{number}"
        out = out.with_fixed(INTERNAL, plain, np.full(len(chains), frequency_hz, dtype=np.int64))
    return out.with_fixed(DETECTOR, numbered("IF", n)[-1], chains.if_hz)


def _with_premixer(out: Oscillators, chains: Chains, conversion: int) -> Oscillators:
    """Return oscillators with the crystal and the variable one that an injection is premixed of.

    Notes
    -----
    In a drift-cancelling loop the variable one is the oscillator of another conversion, which is there.
    """
    candidate = np.arange(len(chains), dtype=np.int64)
    there = chains.made_of[:, conversion, 2] != 0
    crystal = np.where(there, chains.made_of[:, conversion, 0], 0)
    name = numbered("crystal", chains.conversions)[conversion]
    out = out.with_one(CRYSTAL, name, conversion, 0, crystal, 1)
    a, b, h = chains.line_beside(conversion, candidate, np.full(len(chains), line_code(0, 1)))
    for other in range(conversion):
        shared = (a == chains.osc_a[:, other]) & (b == chains.osc_b[:, other]) & (h == chains.osc_h[:, other])
        there = there & ~shared
    if not there.any():
        return out
    name = numbered("VFO", chains.conversions)[conversion]
    return out.with_one(VARIABLE, name, conversion, np.where(there, a, 0), np.where(there, b, 0), h)


def oscillators_in(receiver: Receiver, chains: Chains) -> Oscillators:
    """Return the oscillators of a described set.

    Parameters
    ----------
    receiver : Receiver.
    chains : Chains, each candidate one of its ranges.
    """
    ranges = {range_.name: range_ for range_ in receiver.ranges}
    conversions = [receiver.conversions_of(ranges[chains.names[code]]) for code in chains.name_code.tolist()]
    multiplier = {
        i: np.array([own[i].multiplier for own in conversions], dtype=np.int64)
        for i in range(chains.conversions)
    }
    return oscillators_of(
        chains,
        bfo_offset_hz=None if receiver.bfo is None else receiver.bfo.offset_hz,
        internal=[(internal.name, internal.frequency_hz) for internal in receiver.internal],
        multiplier=multiplier,
    )
