"""The chain of conversions as arithmetic: every frequency is affine in the dial frequency.

With d the frequency the set is tuned to, the wanted frequency behind each
conversion is ``want_a*d + want_b`` and its oscillator runs on
``(osc_a*d + osc_b)/osc_h``, all in integers. The description checks itself with
it and the engine works with it, so it stands here once and for both, and knows
neither: a conversion is whatever has the five figures of `Scheme`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol, get_args

from spurplan.schema_faults import Inconsistent, Wrong
from spurplan.units import HIGHEST_HZ, hz_text

# what a dial may be marked in, by the number of mixers ahead of it
DialShows = Literal["signal", "first_if", "second_if", "third_if"]
DIAL_SHOWS: tuple[DialShows, ...] = get_args(DialShows)


class Scheme(Protocol):
    """The figures of one conversion that tell which frequencies meet in it.

    Attributes
    ----------
    injection : "high", "low", "sum" or None. Where the oscillator stands to the signal.
    crystal_hz : int or None. Crystal of a fixed oscillator. [Hz]
    multiplier : int, 1 or more. Times which the crystal is multiplied.
    oscillator_harmonic : int, 1 or more. The harmonic of the oscillator that is mixed with.
    if_hz : int or None. Fixed IF; None where it is tunable. [Hz]
    """

    @property
    def injection(self) -> str | None: ...
    @property
    def crystal_hz(self) -> int | None: ...
    @property
    def multiplier(self) -> int: ...
    @property
    def oscillator_harmonic(self) -> int: ...
    @property
    def if_hz(self) -> int | None: ...


@dataclass(frozen=True)
class StagePlan:
    """One conversion on one range.

    Attributes
    ----------
    want_a, want_b : int. Wanted frequency behind the conversion, want_a*d + want_b. [Hz]
    osc_a, osc_b, osc_h : int. Its oscillator, (osc_a*d + osc_b)/osc_h; osc_a is 0
        for a fixed one. [Hz]
    lo, rf : int. The wanted product: IF = lo*LO + rf*RF.
    if_hz : int or None. The IF where it is fixed, None where it is tunable. [Hz]

    Notes
    -----
    high side  LO = (RF + IF)/h    lo, rf =  h, -1
    low side   LO = (RF - IF)/h    lo, rf = -h, +1
    sum        LO = (IF - RF)/h    lo, rf =  h, +1
    A crystal gives h*LO instead, and the IF follows with the same signs.
    """

    want_a: int
    want_b: int
    osc_a: int
    osc_b: int
    osc_h: int
    lo: int
    rf: int
    if_hz: int | None


@dataclass(frozen=True)
class Wanted:
    """The wanted frequency at one point of the chain, a*d + b for d in low..high. [Hz]"""

    a: int
    b: int
    low_hz: int
    high_hz: int

    @property
    def span(self) -> tuple[int, int]:
        """The lowest and the highest it takes. [Hz]"""
        ends = (self.a * self.low_hz + self.b, self.a * self.high_hz + self.b)
        return min(ends), max(ends)

    @property
    def fixed(self) -> bool:
        """Whether it stays where it is while the set is tuned."""
        return self.a == 0

    def behind(self, plan: StagePlan) -> Wanted:
        """Return the wanted frequency behind a conversion."""
        return Wanted(plan.want_a, plan.want_b, self.low_hz, self.high_hz)

    def text(self) -> str:
        """Return it in words: "465 kHz" or "2 MHz to 3 MHz"."""
        low, high = self.span
        return hz_text(low) if low == high else f"{hz_text(low)} to {hz_text(high)}"


def stage_plans(conversions: Sequence[Scheme], low_hz: int, high_hz: int) -> tuple[StagePlan, ...]:
    """Return the plan of every conversion that a range goes through, in signal order.

    Parameters
    ----------
    conversions : in signal order.
    low_hz, high_hz : int. What the set is tuned over, edges included. [Hz]

    Raises
    ------
    Inconsistent  for a conversion that can not work; never for a receiver that
        has been validated.
    """
    wanted = Wanted(1, 0, low_hz, high_hz)
    plans = []
    for conversion in conversions:
        plans.append(stage_plan(conversion, wanted))
        wanted = wanted.behind(plans[-1])
    return tuple(plans)


def dial_point(dial_shows: DialShows | None, plans: Sequence[StagePlan]) -> int:
    """Return how many mixers lie ahead of what the main dial of a range is marked in.

    Parameters
    ----------
    dial_shows : one of `DIAL_SHOWS`; None for the first IF behind a crystal that leaves
        it tunable, else the signal.
    plans : those of the range, in signal order.
    """
    if dial_shows is None:
        return int(plans[0].want_a != 0)
    return DIAL_SHOWS.index(dial_shows)


def stage_plan(conversion: Scheme, wanted: Wanted) -> StagePlan:
    """Return the plan of one conversion for the wanted frequency at its input.

    Raises
    ------
    Inconsistent  when it can not work there; paths are keys of the conversion.
    """
    if conversion.crystal_hz is not None:
        return _behind_crystal(conversion, wanted)
    _refuse_unless_complete(conversion)
    return _to_fixed_if(conversion, wanted)


def injected_hz(conversion: Scheme) -> int | None:
    """Return what a fixed oscillator puts into the mixer: crystal, multiplied, on its harmonic. [Hz]"""
    if conversion.crystal_hz is None:
        return None
    return conversion.crystal_hz * conversion.multiplier * conversion.oscillator_harmonic


def _refuse_unless_complete(conversion: Scheme) -> None:
    wrongs = []
    if conversion.if_hz is None:
        remedy = 'give if = "465 kHz", or crystal = "..." for a fixed oscillator and a tunable IF'
        wrongs.append(Wrong(("if",), "is missing", remedy=remedy))
    if conversion.injection is None:
        remedy = 'give injection = "high", "low" or "sum", or crystal = "..." for a fixed oscillator'
        wrongs.append(Wrong(("injection",), "is missing", remedy=remedy))
    if conversion.multiplier != 1:
        rule = "multiplies a crystal, and there is none"
        wrongs.append(
            Wrong(("multiplier",), rule, str(conversion.multiplier), "give crystal, or leave it out")
        )
    if wrongs:
        raise Inconsistent(wrongs)


def _to_fixed_if(conversion: Scheme, wanted: Wanted) -> StagePlan:
    if_hz, h = conversion.if_hz, conversion.oscillator_harmonic
    assert if_hz is not None  # checked by the caller
    low, high = wanted.span
    if conversion.injection == "high":
        return StagePlan(0, if_hz, wanted.a, wanted.b + if_hz, h, h, -1, if_hz)
    if conversion.injection == "low":
        if low <= if_hz:
            rule = f"needs a signal above the IF of {hz_text(if_hz)} everywhere, and it is {wanted.text()}"
            remedy = f'use injection = "high", or an IF below {hz_text(low)}'
            raise Inconsistent([Wrong(("injection",), rule, "low", remedy)])
        return StagePlan(0, if_hz, wanted.a, wanted.b - if_hz, h, -h, 1, if_hz)
    if if_hz <= high:
        rule = f"is not above the signal, {wanted.text()}, so no oscillator adds up to it"
        remedy = f'give an IF above {hz_text(high)}, or injection = "high" or "low"'
        raise Inconsistent([Wrong(("if",), rule, hz_text(if_hz), remedy)])
    return StagePlan(0, if_hz, -wanted.a, if_hz - wanted.b, h, h, 1, if_hz)


def _behind_crystal(conversion: Scheme, wanted: Wanted) -> StagePlan:
    injected = injected_hz(conversion)
    assert injected is not None  # checked by the caller
    side = _side_of_crystal(conversion, wanted, injected)
    h = conversion.oscillator_harmonic
    lo, rf = {"low": (-h, 1), "high": (h, -1), "sum": (h, 1)}[side]
    a = rf * wanted.a
    b = rf * wanted.b + (injected if lo > 0 else -injected)
    if side == "sum" and wanted.span[1] + injected > HIGHEST_HZ:
        rule = f"with the signal, {wanted.text()}, adds up to more than 30 GHz"
        raise Inconsistent([Wrong(("crystal",), rule, _crystal_text(conversion), "use a lower one")])
    return StagePlan(a, b, 0, injected, h, lo, rf, b if a == 0 else None)


def _side_of_crystal(conversion: Scheme, wanted: Wanted, injected: int) -> str:
    """Return "low" (crystal below the signal), "high" (above) or "sum", or refuse."""
    if conversion.if_hz is not None:
        return _side_by_if(conversion, wanted, injected)
    if conversion.injection == "sum":
        return "sum"
    side = _position(wanted, injected)
    if side is None:
        low, high = wanted.span
        rule = f"lies inside the signal's range, {wanted.text()}: part of it would have no IF"
        remedy = f'take one below {hz_text(low)} or above {hz_text(high)}, or injection = "sum"'
        raise Inconsistent([Wrong(("crystal",), rule, _crystal_text(conversion), remedy)])
    return _agreeing(conversion, wanted, side)


def _position(wanted: Wanted, injected: int) -> str | None:
    low, high = wanted.span
    if injected < low:
        return "low"
    return "high" if injected > high else None


def _agreeing(conversion: Scheme, wanted: Wanted, side: str) -> str:
    if conversion.injection not in (None, side):
        place = "below" if side == "low" else "above"
        rule = f"contradicts the crystal: {_crystal_text(conversion)} is {place} the signal, {wanted.text()}"
        remedy = "leave injection out, the crystal says it"
        raise Inconsistent([Wrong(("injection",), rule, conversion.injection, remedy)])
    return side


def _side_by_if(conversion: Scheme, wanted: Wanted, injected: int) -> str:
    if_hz, side = conversion.if_hz, _position(wanted, injected)
    assert if_hz is not None  # checked by the caller
    if wanted.fixed and side is not None and if_hz == abs(wanted.b - injected):
        return _agreeing(conversion, wanted, side)
    if wanted.fixed and if_hz == wanted.b + injected:
        if conversion.injection not in (None, "sum"):
            rule = f"contradicts the IF: {hz_text(if_hz)} is the sum"
            raise Inconsistent([Wrong(("injection",), rule, conversion.injection, 'use injection = "sum"')])
        return "sum"
    raise Inconsistent([_wrong_if(conversion, wanted, injected)])


def _wrong_if(conversion: Scheme, wanted: Wanted, injected: int) -> Wrong:
    assert conversion.if_hz is not None  # checked by the caller
    differences = sorted(abs(end - injected) for end in wanted.span)
    sums = [end + injected for end in wanted.span]
    crystal = _crystal_text(conversion)
    if wanted.fixed:
        rule = f"is neither the difference nor the sum of {crystal} and {wanted.text()}"
        given = f"{hz_text(differences[0])} (difference) or {hz_text(sums[0])} (sum)"
        return Wrong(("if",), rule, hz_text(conversion.if_hz), f"they give {given}")
    rule = f"can not be fixed behind {crystal} while the signal tunes over {wanted.text()}"
    given = f"{hz_text(sums[0])} to {hz_text(sums[1])} (sum)"
    if _position(wanted, injected) is not None:
        given = f"{hz_text(differences[0])} to {hz_text(differences[1])} (difference) or {given}"
    remedy = f"leave if out for a tunable IF of {given}, or leave crystal out"
    return Wrong(("if",), rule, hz_text(conversion.if_hz), remedy)


def _crystal_text(conversion: Scheme) -> str:
    assert conversion.crystal_hz is not None  # checked by the callers
    text = hz_text(conversion.crystal_hz)
    times = conversion.multiplier * conversion.oscillator_harmonic
    return text if times == 1 else f"{text} times {times}"
