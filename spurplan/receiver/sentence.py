"""The set in a line of text, the way a signal goes."""

from __future__ import annotations

from collections.abc import Sequence

from spurplan.receiver.description import (
    Circuits,
    Conversion,
    CoupledPair,
    Curve,
    Element,
    Passband,
    Range,
    Receiver,
    Trap,
)
from spurplan.receiver.plan import StagePlan, sources_of
from spurplan.units import KILOHERTZ_BELOW_HZ, decimal_text, hz_text

ARROW = " -> "


def receiver_text(receiver: Receiver, ranges: Sequence[Range] | None = None) -> str:
    """Return the set in text, one line a range.

    Parameters
    ----------
    receiver : Receiver.
    ranges : those of its ranges that are of interest; all where None.

    Returns
    -------
    str, as "aerial -> 11-30 MHz, 2 circuits -> mixer, oscillator 465 kHz above
    -> 465 kHz -> detector"; of a set with several ranges each line begins with
    the name of its own.
    """
    if len(receiver.ranges) == 1:
        return range_text(receiver, receiver.ranges[0])
    shown = receiver.ranges if ranges is None else ranges
    return "\n".join(f"{range_.name}: {range_text(receiver, range_)}" for range_ in shown)


def range_text(receiver: Receiver, range_: Range) -> str:
    """Return one range of the set in a line of text."""
    boxes = (box.name for box in receiver.ahead_of(range_))
    stages = ["aerial", *boxes, _covered(span_text(range_.low_hz, range_.high_hz), _front(range_))]
    conversions, plans = receiver.conversions_of(range_), receiver.plans_of(range_)
    weight = {s.conversion: s.weight for s in sources_of(conversions, plans) if not s.crystal}
    for number, (conversion, plan) in enumerate(zip(conversions, plans, strict=True)):
        words = [f"mixer, {_oscillator(conversion, plan)}", *_premixed(conversion, plan, range_)]
        if weight.get(number) == 0:
            words.append("its drift dropping out")
        stages.append(", ".join(words))
        if plan.if_hz is not None:
            stages.append(hz_text(plan.if_hz))
        else:
            ends = (plan.want_a * d + plan.want_b for d in (range_.low_hz, range_.high_hz))
            stages.append(_covered(span_text(*ends), elements_text(conversion.selectivity)))
    return ARROW.join([*stages, "detector"])


def span_text(first_hz: int, last_hz: int) -> str:
    """Return a stretch of frequencies, "11-30 MHz" or "530 kHz-1.62 MHz"; first may be the higher."""
    if 0 < min(first_hz, last_hz) < 100_000 and max(first_hz, last_hz) >= 1_000_000:
        return f"{hz_text(first_hz)}-{hz_text(last_hz)}"
    exponent, unit = (0, "Hz") if max(first_hz, last_hz) < 1_000 else (3, "kHz")
    if max(first_hz, last_hz) >= KILOHERTZ_BELOW_HZ:
        exponent, unit = 6, "MHz"
    return f"{decimal_text(first_hz, exponent)}-{decimal_text(last_hz, exponent)} {unit}"


def _covered(span: str, elements: str) -> str:
    return f"{span}, {elements}" if elements else span


def _front(range_: Range) -> str:
    if range_.front_end is None:
        return "1 circuit"
    return elements_text(range_.front_end) or "no circuits"


def elements_text(elements: tuple[Element, ...]) -> str:
    """Return elements in words, "2 circuits, trap 465 kHz"; "" where there are none."""
    return ", ".join(_element(element) for element in elements)


def _element(element: Element) -> str:
    if isinstance(element, Circuits):
        return f"{element.circuits} circuit{'' if element.circuits == 1 else 's'}"
    if isinstance(element, CoupledPair):
        return "coupled pair"
    if isinstance(element, Passband):
        return f"bandpass {span_text(element.low_hz, element.high_hz)}"
    if isinstance(element, Trap):
        return f"trap {hz_text(element.trap_hz)}"
    assert isinstance(element, Curve)
    return "measured curve"


def _oscillator(conversion: Conversion, plan: StagePlan) -> str:
    """Return where the oscillator stands: "oscillator 465 kHz above", "crystal 21 MHz below"."""
    h = plan.osc_h
    side = "above" if plan.lo > 0 else "below"
    if plan.lo * plan.rf > 0:
        side = "added"
    if conversion.crystal_hz is not None:
        times = conversion.multiplier * h
        return f"crystal {hz_text(conversion.crystal_hz)}{f' times {times}' if times > 1 else ''} {side}"
    kind = "oscillator" if h == 1 else f"harmonic {h} of the oscillator"
    if conversion.premix is not None and conversion.premix.oscillator_of is not None:
        return f"premixed oscillator {side}"
    if plan.osc_a == 0:
        hertz, rest = divmod(plan.osc_b, h)
        on = hz_text(hertz) if rest == 0 else f"{plan.osc_b / h / 1e3:.3f} kHz"
        return f"{kind} on {on}, {side}"
    if side == "added":
        return f"{kind} added"
    assert plan.if_hz is not None  # only a crystal leaves the IF open
    return f"{kind} {hz_text(plan.if_hz)} {side}"


def _premixed(conversion: Conversion, plan: StagePlan, range_: Range) -> list[str]:
    """Return what an oscillator is premixed of: "crystal 18 MHz + 5-5.5 MHz"; nothing for others."""
    if conversion.premix is None:
        return []
    crystal_hz, p, q = plan.made_of
    crystal = f"crystal {hz_text(crystal_hz)}{f' times {abs(p)}' if abs(p) > 1 else ''}"
    if conversion.premix.oscillator_of is not None:
        variable = f"oscillator {conversion.premix.oscillator_of}"
    else:
        a, b, h = plan.variable()
        ends = [round((a * d + b) / h) for d in (range_.low_hz, range_.high_hz)]
        variable = hz_text(ends[0]) if ends[0] == ends[1] else span_text(*ends)
    return [f"{variable} - {crystal}" if p < 0 else f"{crystal} {'+' if q > 0 else '-'} {variable}"]
