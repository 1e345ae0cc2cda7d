"""A crystal converter in front of a set: a chain put in front of a chain."""

from __future__ import annotations

import math
from typing import Any

from spurplan.errors import Fault, Refused
from spurplan.receiver.changes.edits import boxes_on, changed, front_end_of
from spurplan.receiver.description import Conversion, Description, Front, Range, Receiver
from spurplan.receiver.noise import noise_figure_of
from spurplan.receiver.plan import DIAL_SHOWS, StagePlan, Wanted, dial_point, stage_plan
from spurplan.schema import described
from spurplan.schema_faults import Inconsistent
from spurplan.units import hz_text


def converter_conversion(
    crystal_hz: int, *, front: Front, multiplier: int = 1, injection: str | None = None
) -> Conversion:
    """Return the conversion of a crystal converter to a tunable IF.

    Parameters
    ----------
    crystal_hz : int. [Hz]
    front : Front. Its mixer, and what gets past it.
    multiplier : int. Times which the crystal is multiplied.
    injection : "sum" for the sum; else the crystal's place tells the side.

    Raises
    ------
    Refused  for figures outside any sense.
    """
    given = {
        "crystal_hz": crystal_hz,
        "multiplier": None if multiplier == 1 else multiplier,
        "injection": injection,
        # told against the wanted signal, which the converter has given its gain
        "pickup_db": max(front.pickup_db + front.gain_db, 0.0),
        **_given(front, mixer="mixer"),
        **(_given(front, multiplier_circuits="multiplier_circuits") if multiplier > 1 else {}),
    }
    return described(Conversion, {k: v for k, v in given.items() if v is not None}, "converter")


def _given(part: Description, **names: str) -> dict[str, Any]:
    """Return figures of a part under new names, without those left to default: they stay so."""
    return {new: getattr(part, old) for new, old in names.items() if old in part.given}


def with_converter(
    receiver: Receiver, *, conversion: Conversion, cover: tuple[int, int], front: Front | None = None
) -> Receiver:
    """Return the set with a converter in front of it.

    Parameters
    ----------
    receiver : Receiver.
    conversion : Conversion to a tunable IF, as `converter_conversion` makes it.
    cover : (low, high). What is to be received. [Hz]
    front : Front or None. The converter's front end; None for all defaults.

    Returns
    -------
    Receiver with one range for each of the set's that can hold part of the
    tunable IF, under the same name; its coverage is that part, as the signal's
    frequency.

    Raises
    ------
    Refused  when the cover is upside down, the crystal stands inside it, no range can hold any of
        the tunable IF, or the set has as many conversions as can be handled.

    Notes
    -----
    The set's own front end becomes the selectivity behind the converter, with
    its ceiling, tuned to the frequency there; the gain between the mixers is the
    converter's and the set's up to its first mixer. Noise figures in cascade:
    F = F1 + (F2 - 1)/G1, the set's in the middle of the tunable IF. Boxes in the lead stay ahead of the
    converter. The set's own dial stays as it is marked, with its offset.
    """
    front = Front() if front is None else front
    if cover[0] >= cover[1]:
        rule = f"low edge {hz_text(cover[0])} is not below high edge {hz_text(cover[1])}"
        raise Refused(Fault("converter, cover", rule, remedy="give the low edge first"))
    try:
        plan = stage_plan(conversion, Wanted(1, 0, *cover))
    except Inconsistent as bad:
        wrong = bad.wrongs[0]
        raise Refused(Fault("converter", wrong.rule, wrong.value, wrong.remedy)) from None
    ranges = []
    for range_ in receiver.ranges:
        covered = covered_by(plan, part=range_, cover=cover)
        if covered is not None:
            ranges.append(_behind_converter(receiver, range_, covered, conversion, front))
    if not ranges:
        ends = sorted(plan.want_a * d + plan.want_b for d in cover)
        span = f"{hz_text(ends[0])} to {hz_text(ends[1])}"
        rule = f"gives a tunable IF of {span}, which no range of the set covers"
        crystal = None if conversion.crystal_hz is None else hz_text(conversion.crystal_hz)
        raise Refused(Fault("converter", rule, crystal, "take another crystal or another cover"))
    middle = abs(plan.want_a * 0.5 * (cover[0] + cover[1]) + plan.want_b)
    of_set_db = float(noise_figure_of(receiver).at(middle))
    f1, f2 = (10 ** (nf / 10) for nf in (front.noise_figure_db, of_set_db))
    g1 = 10 ** (front.gain_db / 10)
    noise_figure_db = round(10 * math.log10(f1 + (f2 - 1) / g1), 2)
    return changed(
        receiver, receiver.name, ranges=tuple(ranges), conversions=None, first_stage=None,
        ahead=boxes_on(receiver, [range_.name for range_ in ranges]),
        noise_figure_db=noise_figure_db,
        # a converter has intercepts of its own
        iip2_dbm=None, iip3_dbm=None,
    )  # fmt: skip


def covered_by(plan: StagePlan, *, part: Range, cover: tuple[int, int]) -> tuple[int, int] | None:
    """Return the part of a cover that a range of the set can tune behind a converter.

    Parameters
    ----------
    plan : StagePlan of the converter.
    part : Range of the set, as it is without one.
    cover : (low, high). [Hz]

    Returns
    -------
    (low, high) as the signal's frequency, or None where it can tune none of it. [Hz]
    """
    # the dial runs with the signal or against it: want_a is 1 or -1
    ends = sorted((edge - plan.want_b) * plan.want_a for edge in (part.low_hz, part.high_hz))
    low, high = max(cover[0], ends[0]), min(cover[1], ends[1])
    return (low, high) if low < high else None


def _behind_converter(
    receiver: Receiver, range_: Range, covered: tuple[int, int], conversion: Conversion, front: Front
) -> Range:
    source = f"converter before range {range_.name}"
    point = dial_point(range_.dial_shows, receiver.plans_of(range_))
    ahead = changed(
        conversion,
        source,
        gain_db=conversion.gain_db + range_.rf_gain_db,
        selectivity=front_end_of(range_),
        **_given(range_, selectivity_ceiling_db="front_end_ceiling_db"),
    )
    given = {
        "name": range_.name,
        "low_hz": covered[0],
        "high_hz": covered[1],
        **_given(
            front,
            rf_gain_db="gain_db",
            front_end="elements",
            front_end_ceiling_db="ceiling_db",
        ),
        **_given(range_, dial_offset_hz="dial_offset_hz"),
        # the dial stays as it is marked, now one mixer further on; that of a plain set needs no word
        "dial_shows": DIAL_SHOWS[point + 1] if point else None,
        "conversions": (ahead, *(_one_further_on(own, source) for own in receiver.conversions_of(range_))),
    }
    return described(Range, {k: v for k, v in given.items() if v is not None}, source)


def _one_further_on(conversion: Conversion, source: str) -> Conversion:
    """Return a conversion of the set behind one more: a loop shares the oscillator that it did before."""
    premix = conversion.premix
    if premix is None or premix.oscillator_of is None:
        return conversion
    loop = changed(premix, source, oscillator_of=premix.oscillator_of + 1)
    return changed(conversion, source, premix=loop)
