"""A cure carried out: a description in, a validated description out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spurplan.planning.cures.cure_list import Cure, Fitted
from spurplan.receiver.changes import (
    changed,
    front_end_of,
    with_added_elements,
    with_conversion,
    with_front_end,
    with_intermediate_frequency,
    with_pad,
)
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Box, Circuits, CoupledPair, Element, Range, Receiver


def carried_out(
    receiver: Receiver,
    cure: Cure,
    names: Sequence[str],
    if_hz: int | None = None,
    station_hz: int | None = None,
) -> Receiver | None:
    """Return a set with a cure, all but a converter or a design.

    Parameters
    ----------
    receiver : Receiver.
    cure : Cure.
    names : the ranges to change; a pad stands at the aerial and changes all.
    if_hz : int or None. Which of its IFs. [Hz]
    station_hz : int or None. The station that decides. [Hz]

    Returns
    -------
    Receiver, or None where the cure is meant for none of the ranges or changes nothing there.

    Raises
    ------
    Refused  when the set can not be changed so.
    """
    meant = [
        range_
        for range_ in (range_named(receiver, name=name) for name in names)
        if cure.on(range_.low_hz, range_.high_hz, range_.mode or receiver.mode)
        and (cure.bandwidth_hz is None or bandwidth_of(receiver, range_) > cure.bandwidth_hz)
    ]
    if not meant or (cure.for_station and station_hz is None):
        return None
    in_lead: list[tuple[Box, list[str]]] = []
    for range_ in meant:
        if if_hz is not None:
            receiver = with_intermediate_frequency(receiver, if_hz=if_hz, range_name=range_.name)
        fitted = Fitted(trap_if_hz(receiver, range_.name), fitted_q(range_), station_hz)
        if cure.in_lead:
            box = cure.box(fitted, -receiver.antenna_gain_db)
            same = next((names for other, names in in_lead if other == box), None)
            in_lead += [(box, [range_.name])] if same is None else []
            if same is not None:
                same.append(range_.name)
        if cure.front_end:
            receiver = with_added_elements(receiver, elements=cure.elements(fitted), range_name=range_.name)
        if cure.one_circuit_q is not None:
            raised = with_one_circuit(front_end_of(range_), cure.one_circuit_q, receiver.name)
            receiver = with_front_end(receiver, elements=raised, range_name=range_.name)
        if cure.bandwidth_hz is not None:
            receiver = with_bandwidth(receiver, cure.bandwidth_hz, range_.name)
    for box, on in in_lead:
        receiver = with_box(receiver, box, on)
    return receiver if cure.pad_db is None else with_pad(receiver, pad_db=cure.pad_db)


def with_box(receiver: Receiver, box: Box, on: Sequence[str]) -> Receiver:
    """Return a set with one more box in its lead on some ranges, inside of those that are there."""
    ranges = None if len(on) == len(receiver.ranges) else tuple(on)
    switched = changed(box, receiver.name, ranges=ranges)
    return changed(receiver, receiver.name, ahead=(*receiver.ahead, switched))


def bandwidth_of(receiver: Receiver, range_: Range) -> int:
    """Return the width of the last IF filter on a range, 0 where none is described. [Hz]"""
    last = receiver.conversions_of(range_)[-1].filter
    return 0 if last is None else last.bandwidth_hz


def with_bandwidth(receiver: Receiver, bandwidth_hz: int, name: str) -> Receiver:
    """Return a set with another width of its last IF filter on a range. [Hz]"""
    last = receiver.conversions_of(range_named(receiver, name=name))[-1].filter
    assert last is not None
    return with_conversion(
        receiver, stage=-1, range_name=name, filter=changed(last, receiver.name, bandwidth_hz=bandwidth_hz)
    )


def trap_if_hz(receiver: Receiver, name: str) -> int:
    """Return the IF that a trap at the aerial is meant for: the first fixed one of a range. [Hz]"""
    plans = receiver.plans_of(range_named(receiver, name=name))
    return next(plan.if_hz for plan in plans if plan.if_hz is not None)


def fitted_q(range_: Range) -> Any:
    """Return the loaded Q of the first circuits of a front end, as `Circuits.q`."""
    return next((e.q for e in front_end_of(range_) if isinstance(e, Circuits | CoupledPair)), None)


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
