"""Another IF for a set: what is proposed, and the set as it would be on each range."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from spurplan import units
from spurplan.errors import Fault, Refused, quoted
from spurplan.receiver.changes import changed, with_injection, with_intermediate_frequency
from spurplan.receiver.changes.edits import range_named, with_chains
from spurplan.receiver.description import Conversion, Filter, Range, Receiver
from spurplan.schema import described
from spurplan.units import FrequencyLike, Where, hz_text

SIDES = {"high": "above", "low": "below", "sum": "sum"}
OTHER = {"high": "low", "low": "high", "sum": "high"}
# What follows the first mixer of a proposed double conversion: the width of the usual
# crystal filters at a first IF (usual_ifs.csv), no less than the set passes in the end.
FIRST_FILTER_HZ = 15_000
# Between these an IF can be meant: from the last one of a triple conversion to the first one of a set that
# converts upwards, or so many times the top of the dial; our estimate.
LOWEST_IF_HZ, HIGHEST_IF_HZ, TIMES_THE_DIAL = 1_000, 200_000_000, 4
FIRST_SHAPE_FACTOR = 4.0


@dataclass(frozen=True)
class Asked:
    """One change asked for.

    Attributes
    ----------
    if_hz : int or None. The last IF; None leaves it as it is. [Hz]
    first_if_hz : int or None. The first of two IFs; None leaves it as it is. [Hz]
    other_side : bool. The tuning oscillator on the other side of the signal.
    range_name : str or None. On one range alone.
    """

    if_hz: int | None = None
    first_if_hz: int | None = None
    other_side: bool = False
    range_name: str | None = None

    @property
    def present(self) -> bool:
        """Whether nothing changes."""
        return self.if_hz is None and self.first_if_hz is None and not self.other_side

    @property
    def same_if(self) -> bool:
        """Whether no IF changes."""
        return self.if_hz is None and self.first_if_hz is None

    @property
    def text(self) -> str:
        """What changes, in words: "IF 9 MHz"."""
        return self._words("first IF ", "IF ")

    @property
    def noun(self) -> str:
        """The same inside a sentence: "an IF of 9 MHz"."""
        return self._words("a first IF of ", "an IF of ")

    def _words(self, first: str, last: str) -> str:
        if self.present:
            return "the present IF"
        parts = [] if self.first_if_hz is None else [f"{first}{hz_text(self.first_if_hz)}"]
        parts += [] if self.if_hz is None else [f"{last}{hz_text(self.if_hz)}"]
        parts += ["the oscillator on the other side"] if self.other_side else []
        return ", ".join(parts) + ("" if self.range_name is None else f" on range {self.range_name}")

    def on(self, name: str) -> bool:
        """Whether it is meant for a range."""
        return self.range_name in (None, name)


@dataclass(frozen=True)
class Proposal:
    """One change on one range.

    Attributes
    ----------
    change : Asked.
    range : Range of the set as it is.
    receiver : Receiver with that range changed; None where it can not be.
    refusal : str. Why not.
    side : str. Where the tuning oscillator is, or would be: "high", "low" or "sum".
    before_hz : (int, int). The present last IF and its bandwidth. [Hz]
    also : other changes asked for that come to the same on that range.
    """

    change: Asked
    range: Range
    receiver: Receiver | None
    refusal: str
    side: str
    before_hz: tuple[int, int]
    also: tuple[Asked, ...] = ()

    def means(self, change: Asked) -> bool:
        """Whether it is what a change asked for comes to."""
        return change == self.change or change in self.also

    @property
    def changed_conversions(self) -> tuple[Conversion, ...]:
        """The conversions the range would have."""
        receiver, range_ = self.pair
        return receiver.conversions_of(range_)

    @property
    def pair(self) -> tuple[Receiver, Range]:
        """The changed set and its range, where there is one."""
        assert self.receiver is not None, self.refusal
        return self.receiver, range_named(self.receiver, name=self.range.name)


def asked_for(
    receiver: Receiver,
    ifs: Iterable[FrequencyLike],
    first_if: FrequencyLike | None,
    where: Where | None = None,
) -> tuple[Asked, ...]:
    """Return the changes asked for, the present IF first, each followed by its other side.

    Parameters
    ----------
    receiver : Receiver.
    ifs : int hertz, text with its unit, or "RANGE=FREQ" for one range alone. [Hz]
    first_if : int, text or None. First IF of a double conversion. [Hz]
    where : Where or None. Where a number without its unit has to lie.

    Raises
    ------
    Refused  for what is no frequency or names no range.
    """
    first_hz = (
        None
        if first_if is None
        else _sensible(receiver, units.hz(first_if, "--first-if", where), "--first-if")
    )
    wanted = [_asked(receiver, value, first_hz, where) for value in ifs]
    if first_hz is not None and not wanted:
        wanted = [Asked(first_if_hz=first_hz)]
    out: list[Asked] = []
    for change in [Asked(), *wanted]:
        out += [change, replace(change, other_side=True)]
    return tuple(dict.fromkeys(out))


def _asked(receiver: Receiver, value: FrequencyLike, first_hz: int | None, where: Where | None) -> Asked:
    if isinstance(value, str) and "=" in value:
        name, _, text = (part.strip() for part in value.partition("="))
        range_named(receiver, name=name)
        return Asked(_sensible(receiver, units.hz(text, "--if", where), "--if"), first_hz, range_name=name)
    return Asked(_sensible(receiver, units.hz(value, "--if", where), "--if"), first_hz)


def _sensible(receiver: Receiver, if_hz: int, place: str) -> int:
    """Return an IF that a set like this could have. [Hz]

    Raises
    ------
    Refused  where it is beyond any: most likely another unit is meant.
    """
    top = max(range_.high_hz for range_ in receiver.ranges)
    highest = max(HIGHEST_IF_HZ, TIMES_THE_DIAL * top)
    if not LOWEST_IF_HZ <= if_hz <= highest:
        rule = f"is no IF of a set that tunes to {hz_text(top)}"
        remedy = f"give {hz_text(LOWEST_IF_HZ)} to {hz_text(highest)}; is the unit right?"
        raise Refused(Fault(place, rule, hz_text(if_hz), remedy))
    return if_hz


def proposals(receiver: Receiver, picked: Sequence[Range], changes: Sequence[Asked]) -> list[Proposal]:
    """Return each change on each range it is meant for, range by range.

    Raises
    ------
    Refused  when a change can be made on none of its ranges.

    Notes
    -----
    The other side is left out where an oscillator has none to go to: a signal that
    is not above the IF leaves nothing below.
    """
    out = [_proposal(receiver, range_, ask) for range_ in picked for ask in changes if ask.on(range_.name)]
    for ask in changes:
        own = [proposal for proposal in out if proposal.change is ask]
        if own and not ask.other_side and all(proposal.receiver is None for proposal in own):
            place = "--if" if ask.first_if_hz is None else "--first-if"
            rule = f"can be had on none of these ranges: {own[0].refusal}"
            hz = ask.if_hz if ask.first_if_hz is None else ask.first_if_hz
            raise Refused(Fault(place, rule, None if hz is None else hz_text(hz)))
    kept: dict[object, Proposal] = {}
    for candidate in out:
        if candidate.receiver is not None:
            # two ways of saying the same change are one
            key = (candidate.range.name, candidate.changed_conversions)
            first = kept.get(key)
            kept[key] = candidate if first is None else replace(first, also=(*first.also, candidate.change))
        elif not candidate.change.other_side:
            kept[candidate.range.name, candidate.change] = candidate
    return list(kept.values())


def _proposal(receiver: Receiver, range_: Range, change: Asked) -> Proposal:
    _, side = tuning_stage(receiver, range_)
    last = receiver.conversions_of(range_)[-1].filter
    present_hz = receiver.plans_of(range_)[-1].if_hz
    assert last is not None, "validated: the last IF has a filter"
    assert present_hz is not None, "validated: the last IF is fixed"
    changed_set, refusal = None, ""
    try:
        changed_set = with_change(receiver, change, range_.name)
    except Refused as refused:
        fault = refused.faults[0]
        refusal = fault.rule if fault.value is None else f"{quoted(fault.value)} {fault.rule}"
    return Proposal(
        change, range_, changed_set, refusal, OTHER[side] if change.other_side else side,
        (present_hz, last.bandwidth_hz),
    )  # fmt: skip


def with_change(receiver: Receiver, change: Asked, range_name: str | None = None) -> Receiver:
    """Return a set with a change made, on one range or on all.

    Raises
    ------
    Refused  when it can not be made.
    """
    name = change.range_name if range_name is None else range_name
    if change.present:
        return receiver
    if change.first_if_hz is not None:
        receiver = _with_first_if(receiver, change.first_if_hz, name)
    if change.if_hz is not None:
        receiver = with_intermediate_frequency(receiver, if_hz=change.if_hz, range_name=name)
    if change.other_side:
        range_ = receiver.ranges[0] if name is None else range_named(receiver, name=name)
        stage, side = tuning_stage(receiver, range_)
        receiver = with_injection(receiver, injection=OTHER[side], stage=stage, range_name=name)
    return receiver


def tuning_stage(receiver: Receiver, range_: Range) -> tuple[int, str]:
    """Return the conversion whose oscillator tunes, from 0, and its side: "high", "low" or "sum".

    Notes
    -----
    The first one where several do or none does.
    """
    plans = receiver.plans_of(range_)
    stage = next((number for number, plan in enumerate(plans) if plan.osc_a), 0)
    plan = plans[stage]
    return stage, "sum" if plan.lo * plan.rf > 0 else "high" if plan.lo > 0 else "low"


def _with_first_if(receiver: Receiver, first_hz: int, range_name: str | None) -> Receiver:
    """Return the set with another first IF: of its two, or as a conversion put in front of its only one."""
    range_ = receiver.ranges[0] if range_name is None else range_named(receiver, name=range_name)
    if len(receiver.conversions_of(range_)) > 1:
        return with_intermediate_frequency(receiver, if_hz=first_hz, stage=0, range_name=range_name)
    return with_chains(receiver, range_name, lambda chain, _: _doubled(receiver, chain, first_hz))


def _doubled(receiver: Receiver, chain: tuple[Conversion, ...], first_hz: int) -> tuple[Conversion, ...]:
    """Return a chain of two conversions: the present mixer to the first IF, a fixed one to the present IF."""
    only = chain[0]
    if only.if_hz is None or first_hz == only.if_hz:
        place = f"{receiver.name}, conversion[1].if"
        raise Refused(Fault(place, "is the last IF already", hz_text(first_hz), "give another first IF"))
    assert only.filter is not None, "validated: the last IF has a filter"
    at = ("conversion", 0)
    width = max(FIRST_FILTER_HZ, only.filter.bandwidth_hz)
    filter_ = described(
        Filter, {"bandwidth_hz": width, "shape_factor": FIRST_SHAPE_FACTOR}, receiver.name, at
    )
    front = changed(only, receiver.name, at, if_hz=first_hz, filter=filter_, gain_db=None)
    # below the first IF where there is room, as the usual pairs of IFs have it (common practice)
    side = "low" if first_hz > only.if_hz else "high"
    kept = {name: getattr(only, name) for name in ("gain_db", "mixer", "filter") if name in only.given}
    second = described(Conversion, {"injection": side, "if_hz": only.if_hz, **kept}, receiver.name, at)
    return (front, second)
