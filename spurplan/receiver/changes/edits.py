"""The moves that changes are made of: attributes of a part, of ranges, of chains.

Nothing is changed in place. A result that is no working receiver is refused
like a receiver file would be, with the name of the set in place of the file's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from spurplan.errors import Fault, Refused, did_you_mean
from spurplan.receiver.description import Box, Circuits, Conversion, Description, Element, Range, Receiver
from spurplan.receiver.plan import StagePlan
from spurplan.schema import described
from spurplan.schema_faults import Path

Part = TypeVar("Part", bound=Description)
Chain = tuple[Conversion, ...]


def changed(part: Part, source: str, at: Path = (), /, **attributes: Any) -> Part:
    """Return a description with some attributes changed, validated.

    Parameters
    ----------
    part : Receiver, Range, Conversion or any other description.
    source : str. What a refusal names first.
    at : key path of the part inside the source.
    attributes : new values under the attribute names; None takes a figure out.

    Raises
    ------
    Refused  when the result is not consistent.
    """
    given = {name: getattr(part, name) for name in part.given} | attributes
    return described(type(part), {k: v for k, v in given.items() if v is not None}, source, at)


def range_named(receiver: Receiver, *, name: str) -> Range:
    """Return a range of the set by its name.

    Raises
    ------
    Refused  when there is none; the ranges are listed.
    """
    for range_ in receiver.ranges:
        if range_.name == name:
            return range_
    names = [range_.name for range_ in receiver.ranges]
    raise Refused(Fault(receiver.name, "is not a range of this set", name, did_you_mean(name, names)))


def with_range(receiver: Receiver, *, range_name: str | None, **attributes: Any) -> Receiver:
    """Return the set with attributes of one range changed, or of all where the name is None.

    Raises
    ------
    Refused  for an unknown range or a result that is not consistent.
    """
    return with_ranges(receiver, range_name, lambda range_: attributes)


def with_only(receiver: Receiver, *, range_names: Sequence[str]) -> Receiver:
    """Return the set with some of its ranges alone.

    Raises
    ------
    Refused  for an unknown range.
    """
    ranges = tuple(range_named(receiver, name=name) for name in range_names)
    return changed(receiver, receiver.name, ranges=ranges, ahead=boxes_on(receiver, range_names))


def boxes_on(receiver: Receiver, range_names: Sequence[str]) -> tuple[Box, ...] | None:
    """Return the boxes in the lead on some ranges, told of these alone; None for none."""
    left = []
    for box in receiver.ahead:
        on = None if box.ranges is None else tuple(name for name in box.ranges if name in range_names)
        if on is None or on:
            left.append(box if on is None else changed(box, receiver.name, ranges=on))
    return tuple(left) or None


def with_ranges(
    receiver: Receiver, range_name: str | None, change: Callable[[Range], dict[str, Any]]
) -> Receiver:
    """Return the set with attributes of one range, or of all, changed as `change` tells from each."""
    if range_name is not None:
        range_named(receiver, name=range_name)
    ranges = tuple(
        changed(range_, receiver.name, ("range", number), **change(range_))
        if range_name in (None, range_.name)
        else range_
        for number, range_ in enumerate(receiver.ranges)
    )
    return changed(receiver, receiver.name, ranges=ranges)


def front_end_of(part: Range) -> tuple[Element, ...]:
    """Return the elements of a front end, the one default circuit where none were given."""
    return (Circuits(circuits=1),) if part.front_end is None else part.front_end


def with_chains(
    receiver: Receiver, range_name: str | None, change: Callable[[Chain, tuple[StagePlan, ...]], Chain]
) -> Receiver:
    """Apply a change to the conversions of one range, or to all lists of them.

    A named range gets a list of its own: the others keep what they had.

    Raises
    ------
    Refused  for an unknown range, or a chain that does not work.
    """
    if range_name is not None:
        range_ = range_named(receiver, name=range_name)
        chain = change(receiver.conversions_of(range_), receiver.plans_of(range_))
        return with_range(receiver, range_name=range_name, conversions=chain, premix_crystal_hz=None)
    ranges: list[Range] = []
    shared: Chain = receiver.conversions
    for number, range_ in enumerate(receiver.ranges):
        # what ranges share is changed without the crystals that they have of their own
        held = receiver.conversions if range_.conversions is None else range_.conversions
        chain = change(held, receiver.plans_of(range_))
        if range_.conversions is None:
            shared = chain
            ranges.append(range_)
        else:
            ranges.append(changed(range_, receiver.name, ("range", number), conversions=chain))
    return changed(receiver, receiver.name, conversions=shared, ranges=tuple(ranges))


def stage_number(chain: Chain, stage: int, receiver: Receiver) -> int:
    """Return a stage counted from 0; negative ones count from the detector.

    Raises
    ------
    Refused  for a stage the chain does not have.
    """
    number = stage + len(chain) if stage < 0 else stage
    if not 0 <= number < len(chain):
        rule = f"has {len(chain)} conversion{'' if len(chain) == 1 else 's'}"
        raise Refused(Fault(receiver.name, rule, remedy=f"there is no number {stage}"))
    return number
