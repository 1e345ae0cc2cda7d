"""The chain of conversions as arithmetic: every frequency is affine in the dial frequency.

With d the frequency the set is tuned to, the wanted frequency behind each
conversion is ``want_a*d + want_b`` and its oscillator runs on
``(osc_a*d + osc_b)/osc_h``, all in integers. The description checks itself with
it and the engine works with it, so it stands here once and for both, and knows
neither: a conversion is whatever has the figures of `Scheme`.

An oscillator may be premixed of a crystal X and a variable one V, on p X + q V. With a V of its own it
follows the signal as any oscillator does, and V follows from it. With the oscillator of an earlier conversion
for V it makes a drift-cancelling loop: that oscillator is added on the way up and taken off on the way down.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, Protocol, get_args

from spurplan.schema_faults import Inconsistent, Wrong
from spurplan.units import HIGHEST_HZ, LOWEST_HZ, hz_text

# what a dial may be marked in, by the number of mixers ahead of it
DialShows = Literal["signal", "first_if", "second_if", "third_if"]
DIAL_SHOWS: tuple[DialShows, ...] = get_args(DialShows)


# What a premixer makes of a crystal and a variable oscillator, as (p, q) of p X + q V.
MAKES: Mapping[str, tuple[int, int]] = {
    "crystal + variable": (1, 1),
    "crystal - variable": (1, -1),
    "variable - crystal": (-1, 1),
}


class PremixScheme(Protocol):
    """The figures of a premixer that tell what it injects.

    Attributes
    ----------
    crystal_hz : int or None. [Hz]
    multiplier : int, 1 or more. Times which the crystal is multiplied.
    makes : one of `MAKES`.
    oscillator_of : int or None. The conversion, counted from 1, whose oscillator is the variable one.
    """

    @property
    def crystal_hz(self) -> int | None: ...
    @property
    def multiplier(self) -> int: ...
    @property
    def makes(self) -> str: ...
    @property
    def oscillator_of(self) -> int | None: ...


class Scheme(Protocol):
    """The figures of one conversion that tell which frequencies meet in it.

    Attributes
    ----------
    injection : "high", "low", "sum" or None. Where the oscillator stands to the signal.
    crystal_hz : int or None. Crystal of a fixed oscillator. [Hz]
    multiplier : int, 1 or more. Times which the crystal is multiplied.
    oscillator_hz : int or None. A free-running oscillator that stands still while a range is tuned. [Hz]
    oscillator_harmonic : int, 1 or more. The harmonic of the oscillator that is mixed with.
    premix : PremixScheme or None. What the oscillator is premixed of.
    if_hz : int or None. Fixed IF; None where it is tunable. [Hz]
    """

    @property
    def injection(self) -> str | None: ...
    @property
    def crystal_hz(self) -> int | None: ...
    @property
    def multiplier(self) -> int: ...
    @property
    def oscillator_hz(self) -> int | None: ...
    @property
    def oscillator_harmonic(self) -> int: ...
    @property
    def premix(self) -> PremixScheme | None: ...
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
    made_of : (X, p, q). The oscillator is p X + q V of a crystal X and another oscillator V; q is 0 for a
        multiplied crystal, and X for one that is made of nothing else. [Hz, -, -]

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
    made_of: tuple[int, int, int] = (0, 1, 0)

    def variable(self) -> tuple[int, int, int]:
        """Return (a, b, h) of the V it is premixed of, on (a d + b) / h. [Hz]"""
        crystal_hz, p, q = self.made_of
        return q * self.osc_a, q * (self.osc_b - p * crystal_hz * self.osc_h), self.osc_h


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
    plans: list[StagePlan] = []
    for conversion in conversions:
        plans.append(stage_plan(conversion, wanted, plans))
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


def stage_plan(conversion: Scheme, wanted: Wanted, before: Sequence[StagePlan] = ()) -> StagePlan:
    """Return the plan of one conversion for the wanted frequency at its input.

    Parameters
    ----------
    before : the plans of the conversions ahead of it, in signal order.

    Raises
    ------
    Inconsistent  when it can not work there; paths are keys of the conversion.
    """
    premix = conversion.premix
    if premix is not None and premix.oscillator_of is not None:
        return _behind_loop(conversion, premix, premix.oscillator_of, wanted, before)
    if conversion.crystal_hz is not None or conversion.oscillator_hz is not None:
        return _behind_fixed(conversion, wanted)
    _refuse_unless_complete(conversion)
    plan = _to_fixed_if(conversion, wanted)
    return plan if premix is None else _premixed(plan, premix, wanted)


def injected_hz(conversion: Scheme) -> int | None:
    """Return what a fixed oscillator puts into the mixer: crystal, multiplied, on its harmonic. [Hz]"""
    if conversion.oscillator_hz is not None:
        return conversion.oscillator_hz * conversion.oscillator_harmonic
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


def _premixed(plan: StagePlan, premix: PremixScheme, wanted: Wanted) -> StagePlan:
    """Return a plan with what its oscillator is premixed of, or refuse what leaves no variable one."""
    if premix.crystal_hz is None:
        remedy = 'give crystal = "18 MHz", or premix_crystal at every range'
        raise Inconsistent([Wrong(("premix", "crystal"), "is missing", remedy=remedy)])
    made = {
        makes: replace(plan, made_of=(premix.crystal_hz, p * premix.multiplier, q))
        for makes, (p, q) in MAKES.items()
    }
    if _ends_hz(made[premix.makes].variable(), wanted)[0] >= LOWEST_HZ:
        return made[premix.makes]
    injected = _span_text(_ends_hz((plan.osc_a, plan.osc_b, plan.osc_h), wanted))
    crystal = _times_text(premix.crystal_hz, premix.multiplier)
    rule = f"leaves no variable oscillator above 0 Hz: {injected} is injected, and the crystal on {crystal}"
    fitting = [
        f'"{makes}" with a variable one on {_span_text(ends)}'
        for makes, premix in made.items()
        if (ends := _ends_hz(premix.variable(), wanted))[0] >= LOWEST_HZ
    ]
    remedy = f"write {' or '.join(fitting)}, or another crystal"
    raise Inconsistent([Wrong(("premix", "makes"), rule, premix.makes, remedy)])


def _ends_hz(oscillator: tuple[int, int, int], wanted: Wanted) -> tuple[int, int]:
    """Return the lowest and the highest whole hertz an oscillator (a, b, h) comes to over the range."""
    a, b, h = oscillator
    ends = [(a * d + b) // h for d in (wanted.low_hz, wanted.high_hz)]
    return min(ends), max(ends)


def _span_text(ends_hz: tuple[int, int]) -> str:
    low, high = ends_hz
    return hz_text(low) if low == high else f"{hz_text(low)} to {hz_text(high)}"


def _behind_loop(
    conversion: Scheme, premix: PremixScheme, number: int, wanted: Wanted, before: Sequence[StagePlan]
) -> StagePlan:
    """Return the plan where a crystal is premixed with the oscillator of an earlier conversion."""
    path = ("premix", "oscillator_of")
    if number > len(before):
        known = f"1 to {len(before)}" if len(before) > 1 else "1"
        remedy = f"write {known}" if before else "the loop stands in a later conversion than its oscillator"
        rule = "is no conversion ahead of this one"
        raise Inconsistent([Wrong(path, rule, str(number), remedy)])
    if premix.crystal_hz is None:
        remedy = 'give crystal = "1 MHz" and its multiplier'
        raise Inconsistent([Wrong(("premix", "crystal"), "is missing", remedy=remedy)])
    shared = before[number - 1]
    if shared.osc_h != 1 or conversion.oscillator_harmonic != 1:
        rule = "needs both mixers to work with the fundamental of their oscillator"
        remedy = "leave oscillator_harmonic out in both conversions"
        raise Inconsistent([Wrong(path, rule, str(number), remedy)])
    if shared.made_of[2]:
        rule, remedy = "is premixed itself", "name the conversion with the oscillator that both are made of"
        raise Inconsistent([Wrong(path, rule, str(number), remedy)])
    p, q = MAKES[premix.makes]
    p *= premix.multiplier
    oscillator = Wanted(
        q * shared.osc_a, q * shared.osc_b + p * premix.crystal_hz, wanted.low_hz, wanted.high_hz
    )
    if oscillator.span[0] < LOWEST_HZ:
        rule = f"comes to {_span_text(oscillator.span)}: no oscillator is there"
        variable = _span_text(_ends_hz((shared.osc_a, shared.osc_b, 1), wanted))
        crystal = _times_text(premix.crystal_hz, premix.multiplier)
        remedy = f"the crystal is on {crystal} and the oscillator on {variable}: turn them round"
        raise Inconsistent([Wrong(("premix", "makes"), rule, premix.makes, remedy)])
    plan = _behind_known(conversion, wanted, oscillator)
    return replace(plan, made_of=(premix.crystal_hz, p, q))


def _behind_fixed(conversion: Scheme, wanted: Wanted) -> StagePlan:
    injected = injected_hz(conversion)
    assert injected is not None  # checked by the caller
    plan = _behind_known(conversion, wanted, Wanted(0, injected, wanted.low_hz, wanted.high_hz))
    if conversion.crystal_hz is None or conversion.multiplier == 1:
        return plan
    return replace(plan, made_of=(conversion.crystal_hz, conversion.multiplier, 0))


def _behind_known(conversion: Scheme, wanted: Wanted, injected: Wanted) -> StagePlan:
    """Return the plan behind an oscillator whose frequency is known, on `injected` with its harmonic."""
    side = _side_of(conversion, wanted, injected)
    h = conversion.oscillator_harmonic
    lo, rf = {"low": (-h, 1), "high": (h, -1), "sum": (h, 1)}[side]
    turn = 1 if lo > 0 else -1
    behind = Wanted(
        rf * wanted.a + turn * injected.a, rf * wanted.b + turn * injected.b, wanted.low_hz, wanted.high_hz
    )
    if side == "sum" and behind.span[1] > HIGHEST_HZ:
        rule = f"with the signal, {wanted.text()}, adds up to more than 30 GHz"
        key, text = _named(conversion, injected)
        raise Inconsistent([Wrong(key, rule, text, "use a lower one")])
    return StagePlan(
        behind.a, behind.b, injected.a, injected.b, h, lo, rf, behind.b if behind.fixed else None
    )


def _side_of(conversion: Scheme, wanted: Wanted, injected: Wanted) -> str:
    """Return "low" (oscillator below the signal), "high" (above) or "sum", or refuse."""
    if conversion.if_hz is not None:
        return _side_by_if(conversion, wanted, injected)
    if conversion.injection == "sum":
        return "sum"
    side = _position(wanted, injected)
    if side is None:
        low, high = wanted.span
        rule = f"lies inside the signal's range, {wanted.text()}: part of it would have no IF"
        remedy = f'take one below {hz_text(low)} or above {hz_text(high)}, or injection = "sum"'
        key, text = _named(conversion, injected)
        raise Inconsistent([Wrong(key, rule, text, remedy)])
    return _agreeing(conversion, wanted, injected, side)


def _position(wanted: Wanted, injected: Wanted) -> str | None:
    over = [(injected.a - wanted.a) * d + injected.b - wanted.b for d in (wanted.low_hz, wanted.high_hz)]
    if max(over) < 0:
        return "low"
    return "high" if min(over) > 0 else None


def _agreeing(conversion: Scheme, wanted: Wanted, injected: Wanted, side: str) -> str:
    if conversion.injection not in (None, side):
        place = "below" if side == "low" else "above"
        key, text = _named(conversion, injected)
        rule = f"contradicts the {_WORDS[key]}: {text} is {place} the signal, {wanted.text()}"
        remedy = f"leave injection out, the {_WORDS[key]} says it"
        raise Inconsistent([Wrong(("injection",), rule, conversion.injection, remedy)])
    return side


def _side_by_if(conversion: Scheme, wanted: Wanted, injected: Wanted) -> str:
    if_hz, side = conversion.if_hz, _position(wanted, injected)
    assert if_hz is not None  # checked by the caller
    difference = Wanted(wanted.a - injected.a, wanted.b - injected.b, wanted.low_hz, wanted.high_hz)
    total = Wanted(wanted.a + injected.a, wanted.b + injected.b, wanted.low_hz, wanted.high_hz)
    if difference.fixed and side is not None and if_hz == abs(difference.b):
        return _agreeing(conversion, wanted, injected, side)
    if total.fixed and if_hz == total.b:
        if conversion.injection not in (None, "sum"):
            rule = f"contradicts the IF: {hz_text(if_hz)} is the sum"
            raise Inconsistent([Wrong(("injection",), rule, conversion.injection, 'use injection = "sum"')])
        return "sum"
    raise Inconsistent([_wrong_if(conversion, wanted, injected, difference, total)])


def _wrong_if(
    conversion: Scheme, wanted: Wanted, injected: Wanted, difference: Wanted, total: Wanted
) -> Wrong:
    assert conversion.if_hz is not None  # checked by the caller
    differences = sorted(abs(end) for end in difference.span)
    sums = total.span
    _, oscillator = _named(conversion, injected)
    if difference.fixed and total.fixed:
        rule = f"is neither the difference nor the sum of {oscillator} and {wanted.text()}"
        given = f"{hz_text(differences[0])} (difference) or {hz_text(sums[0])} (sum)"
        return Wrong(("if",), rule, hz_text(conversion.if_hz), f"they give {given}")
    rule = f"can not be fixed behind {oscillator} while the signal tunes over {wanted.text()}"
    given = f"{_span_text(sums)} (sum)"
    if _position(wanted, injected) is not None:
        given = f"{_span_text((differences[0], differences[1]))} (difference) or {given}"
    remedy = f"leave if out for a tunable IF of {given}, or leave {_named(conversion, injected)[0][0]} out"
    return Wrong(("if",), rule, hz_text(conversion.if_hz), remedy)


# what says where a known oscillator stands, by the key it is given under
_WORDS: Mapping[tuple[str, ...], str] = {
    ("crystal",): "crystal", ("oscillator",): "oscillator", ("premix",): "premixer",
}  # fmt: skip


def _named(conversion: Scheme, injected: Wanted) -> tuple[tuple[str, ...], str]:
    """Return the key that a known oscillator is given under, and it in words."""
    times = conversion.multiplier * conversion.oscillator_harmonic
    if conversion.crystal_hz is not None:
        return ("crystal",), _times_text(conversion.crystal_hz, times)
    if conversion.oscillator_hz is not None:
        return ("oscillator",), _times_text(conversion.oscillator_hz, times)
    return ("premix",), injected.text()


def _times_text(hz: int, times: int) -> str:
    return hz_text(hz) if times == 1 else f"{hz_text(hz)} times {times}"


@dataclass(frozen=True)
class Source:
    """An oscillator that stands by itself, and what its error does.

    Attributes
    ----------
    conversion : int. The one it belongs to, from 0.
    crystal : bool. Whether it is a crystal; else it runs free.
    a, b, h : int. On (a d + b) / h. [Hz]
    weight : int. Hertz that the last IF moves by for one hertz of it; 0 where its error drops out.
    """

    conversion: int
    crystal: bool
    a: int
    b: int
    h: int
    weight: int


def sources_of(conversions: Sequence[Scheme], plans: Sequence[StagePlan]) -> tuple[Source, ...]:
    """Return the oscillators of a range that stand by themselves, with what the error of each does.

    Parameters
    ----------
    conversions, plans : of one range, in signal order.

    Notes
    -----
    An error e of an oscillator moves the IF behind its mixer by lo e, and the last one by that times the rf
    of every mixer behind. What several mixers are injected with adds up, and in a drift-cancelling loop to 0.
    """
    out: list[Source] = []
    shared = [0] * len(plans)
    turn = 1
    for i in range(len(plans) - 1, -1, -1):
        conversion, plan = conversions[i], plans[i]
        crystal_hz, p, q = plan.made_of
        own = (plan.osc_a, plan.osc_b, plan.osc_h)
        weight = plan.lo * turn
        turn *= plan.rf
        if q:
            out.append(Source(i, True, 0, crystal_hz, 1, weight * p))
            number = conversion.premix.oscillator_of if conversion.premix is not None else None
            if number is not None:
                shared[number - 1] += weight * q
                continue
            out.append(Source(i, False, *plan.variable(), weight * q + shared[i]))
        elif crystal_hz:
            out.append(Source(i, True, 0, crystal_hz, 1, (weight + shared[i]) * p))
        else:
            out.append(Source(i, conversion.crystal_hz is not None, *own, weight + shared[i]))
    return tuple(out[::-1])
