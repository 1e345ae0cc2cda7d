"""What is no fault in a description and yet seldom meant: most often a slip in a unit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

from spurplan.csvfile import left_alone
from spurplan.receiver.description import Description, Front, Range, Receiver
from spurplan.receiver.plan import sources_of
from spurplan.schema import TableFile
from spurplan.units import hz_text

# The sharpest crystal filters pass some 30 millionths of their frequency: 250 Hz at 9 MHz, 3 kHz
# at 73 MHz. Common practice.
NARROWEST_SHARE = 2e-5
# 144 MHz on a first IF of 455 kHz is 316 times, and already hears every image in full. Common practice.
HIGHEST_OVER_IF = 500
# Neighbouring ranges overlap by some hundredths of the frequency, to be sure of the whole. Common practice.
USUAL_OVERLAP = 1.1


def doubts(receiver: Receiver) -> tuple[str, ...]:
    """Return what a description says that hardly any set is, in words; what it says is worked with.

    Parameters
    ----------
    receiver : Receiver.

    Returns
    -------
    tuple of str, each a clause; what holds for several ranges is said once with their names.
    """
    return (*_once(receiver, _of_range), *_overlaps(receiver))


def _overlaps(receiver: Receiver) -> Iterator[str]:
    """Give the neighbours on the wave-change switch that share more of the dial than is usual."""
    ranges = sorted(receiver.ranges, key=lambda range_: range_.low_hz)
    for range_, above in pairwise(ranges):
        apart = range_.low_hz < above.low_hz and range_.high_hz < above.high_hz
        if apart and range_.high_hz > USUAL_OVERLAP * above.low_hz:
            span = f"{hz_text(above.low_hz)} to {hz_text(range_.high_hz)}"
            yield f"ranges {range_.name} and {above.name} both tune {span}: is that so on the set's own dial?"


def columns_left_alone(described: Receiver | Front) -> tuple[str, ...]:
    """Return what to say of columns that nothing reads, in the curves and mixer tables of a description."""
    files: dict[TableFile, None] = {}
    _files_in(described, files)
    return tuple(text for file in files for text in left_alone(file, file.others))


def _files_in(part: object, files: dict[TableFile, None]) -> None:
    if isinstance(part, TableFile):
        files[part] = None
    elif isinstance(part, Description | tuple):
        for held in part if isinstance(part, tuple) else [getattr(part, name) for name in part.keys]:
            if isinstance(held, Description | tuple | TableFile):
                _files_in(held, files)


def own_ifs(receiver: Receiver) -> tuple[str, ...]:
    """Return the ranges that come within a bandwidth of an IF of the set, in words: no set works there."""
    return _once(receiver, _own_ifs)


def _once(receiver: Receiver, of_range: Callable[[Receiver, Range], Iterator[str]]) -> tuple[str, ...]:
    names: dict[str, list[str]] = {}
    for range_ in receiver.ranges:
        for text in of_range(receiver, range_):
            names.setdefault(text, []).append(range_.name)
    return tuple(f"on range {', '.join(ranges)}: {text}" for text, ranges in names.items())


def _of_range(receiver: Receiver, range_: Range) -> Iterator[str]:
    plans = receiver.plans_of(range_)
    for plan, conversion in zip(plans, receiver.conversions_of(range_), strict=True):
        if conversion.filter is None or plan.if_hz is None:
            continue
        if conversion.filter.bandwidth_hz < NARROWEST_SHARE * plan.if_hz:
            width = hz_text(conversion.filter.bandwidth_hz)
            yield (
                f"a filter of {width} on an IF of {hz_text(plan.if_hz)}, narrower than any is made: "
                "are the units right?"
            )
    conversions = receiver.conversions_of(range_)
    weight = {s.conversion: abs(s.weight) for s in sources_of(conversions, plans) if not s.crystal}
    for number, conversion in enumerate(conversions, 1):
        shared = None if conversion.premix is None else conversion.premix.oscillator_of
        if shared is not None and weight.get(shared - 1):
            yield (
                f"an error of oscillator {shared} counts {weight[shared - 1]} times in the loop of "
                f"conversion {number} instead of dropping out: does makes say what is mixed?"
            )
    first_hz = plans[0].if_hz
    if first_hz is not None and range_.low_hz > HIGHEST_OVER_IF * first_hz:
        yield (
            f"{hz_text(range_.low_hz)} and up on an IF of {hz_text(first_hz)}, less than a "
            f"{HIGHEST_OVER_IF}th of it: are the units right?"
        )


def _own_ifs(receiver: Receiver, range_: Range) -> Iterator[str]:
    a, b = 1, 0
    plans = receiver.plans_of(range_)
    last = receiver.conversions_of(range_)[-1].filter
    assert last is not None, "validated: the last IF has a filter"
    for number, plan in enumerate(plans):
        for behind in plans[number:]:
            if not a or behind.if_hz is None:
                continue
            dial_hz = (behind.if_hz - b) * a
            if range_.low_hz <= dial_hz <= range_.high_hz:
                yield f"the set's own IF of {hz_text(behind.if_hz)} is tuned across, where no set works"
            elif range_.low_hz - last.bandwidth_hz <= dial_hz <= range_.high_hz + last.bandwidth_hz:
                yield (
                    f"the set's own IF of {hz_text(behind.if_hz)} is within a bandwidth of the end of "
                    "the range, where no set works"
                )
        a, b = plan.want_a, plan.want_b
