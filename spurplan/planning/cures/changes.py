"""A cure carried out: a description in, a validated description out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spurplan.planning.cures.file import Cure
from spurplan.receiver.changes import (
    changed,
    front_end_of,
    with_added_elements,
    with_front_end,
    with_intermediate_frequency,
    with_pad,
)
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Box, Circuits, CoupledPair, Element, Range, Receiver


def carried_out(
    receiver: Receiver, cure: Cure, names: Sequence[str], if_hz: int | None = None
) -> Receiver | None:
    """Return a set with a cure, all but a converter.

    Parameters
    ----------
    receiver : Receiver.
    cure : Cure.
    names : the ranges to change; a pad stands at the aerial and changes all.
    if_hz : int or None. Which of its IFs. [Hz]

    Returns
    -------
    Receiver, or None where the cure is meant for none of the ranges.

    Raises
    ------
    Refused  when the set can not be changed so.
    """
    meant = [
        one for one in (range_named(receiver, name) for name in names) if cure.on(one.low_hz, one.high_hz)
    ]
    if not meant:
        return None
    in_lead: dict[tuple[Element, ...], list[str]] = {}
    for one in meant:
        if if_hz is not None:
            receiver = with_intermediate_frequency(receiver, if_hz, range_name=one.name)
        if cure.ahead:
            elements = cure.box_elements(trap_if_hz(receiver, one.name), fitted_q(one))
            in_lead.setdefault(elements, []).append(one.name)
        if cure.front_end:
            added = cure.elements(trap_if_hz(receiver, one.name), fitted_q(one))
            receiver = with_added_elements(receiver, added, one.name)
        if cure.one_circuit_q is not None:
            raised = with_one_circuit(front_end_of(one), cure.one_circuit_q, receiver.name)
            receiver = with_front_end(receiver, raised, one.name)
    # innermost: a box of the file stays outside of what is new
    for elements, on in in_lead.items():
        ranges = None if len(on) == len(receiver.ranges) else tuple(on)
        box = Box(name=cure.name, elements=elements, ranges=ranges)
        receiver = changed(receiver, receiver.name, ahead=(*receiver.ahead, box))
    return receiver if cure.pad_db is None else with_pad(receiver, cure.pad_db)


def trap_if_hz(receiver: Receiver, name: str) -> int:
    """Return the IF that a trap at the aerial is meant for: the first fixed one of a range. [Hz]"""
    plans = receiver.plans_of(range_named(receiver, name))
    return next(plan.if_hz for plan in plans if plan.if_hz is not None)


def fitted_q(one: Range) -> Any:
    """Return the loaded Q of the first circuits of a front end, as `Circuits.q`."""
    return next((e.q for e in front_end_of(one) if isinstance(e, Circuits | CoupledPair)), None)


def with_one_circuit(elements: Sequence[Element], q: float, source: str) -> tuple[Element, ...]:
    """Return a front end with the Q of one of its circuits raised.

    Notes
    -----
    The first of its isolated circuits; where it has none, one circuit of that Q is added.
    A circuit that is better already stays as it is.
    """
    out = list(elements)
    for at, element in enumerate(out):
        if not isinstance(element, Circuits):
            continue
        if isinstance(element.q, int | float) and element.q >= q:
            continue
        rest = [changed(element, source, circuits=element.circuits - 1)] if element.circuits > 1 else []
        return (*out[:at], Circuits(circuits=1, q=q), *rest, *out[at + 1 :])
    return tuple(out) if any(isinstance(e, Circuits) for e in out) else (Circuits(circuits=1, q=q), *out)
