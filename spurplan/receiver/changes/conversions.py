"""Changes to the conversions: another IF, another side, another mixer."""

from __future__ import annotations

from typing import Any

from spurplan.errors import Fault, Refused
from spurplan.receiver.changes.edits import (
    Chain,
    changed,
    stage_number,
    with_chains,
)
from spurplan.receiver.description import Conversion, Mixer, Receiver
from spurplan.receiver.plan import StagePlan
from spurplan.schema_faults import Path, place_text
from spurplan.units import hz_text

_INTERCEPTS = ("h2", "h3", "h4", "h5")


def with_conversion(
    receiver: Receiver, *, stage: int, range_name: str | None = None, **attributes: Any
) -> Receiver:
    """Return the set with attributes of one conversion changed.

    Parameters
    ----------
    receiver : Receiver.
    stage : int. The conversion, from 0; -1 is the last.
    range_name : str or None. On one range, which then has conversions of its own, or on all.
    attributes : new values under the attribute names; None takes a figure out.

    Raises
    ------
    Refused  for an unknown range or stage, or a chain that does not work.
    """

    def change(chain: Chain, plans: tuple[StagePlan, ...]) -> Chain:
        number = stage_number(chain, stage, receiver)
        new = changed(chain[number], receiver.name, ("conversion", number), **attributes)
        return (*chain[:number], new, *chain[number + 1 :])

    return with_chains(receiver, range_name, change)


def with_intermediate_frequency(
    receiver: Receiver,
    *,
    if_hz: int,
    stage: int = -1,
    range_name: str | None = None,
    bandwidth_hz: int | None = None,
) -> Receiver:
    """Return the set with another IF.

    Parameters
    ----------
    receiver : Receiver.
    if_hz : int. The new fixed IF. [Hz]
    stage : int. The conversion whose IF it is, from 0; -1 is the last.
    range_name : str or None. On one range or on all.
    bandwidth_hz : int or None. Of the filter there; None leaves it as it is. [Hz]

    Raises
    ------
    Refused  for a stage whose IF is tunable, or a chain that does not work.

    Notes
    -----
    Oscillators keep their side. A crystal that fitted the old IF is replaced by
    an oscillator that fits the new one, there and in the conversion behind it.
    """

    def change(chain: Chain, plans: tuple[StagePlan, ...]) -> Chain:
        number = stage_number(chain, stage, receiver)
        at: Path = ("conversion", number)
        if plans[number].if_hz is None:
            place = place_text(receiver.name, (*at, "if"))
            remedy = "name a stage with a fixed IF"
            raise Refused(Fault(place, "is tunable there", hz_text(if_hz), remedy))
        out = list(chain)
        for near in range(number, min(number + 2, len(chain))):
            out[near] = _without_crystal(chain[near], plans[near], receiver.name, ("conversion", near))
        out[number] = changed(out[number], receiver.name, at, if_hz=if_hz)
        shape = out[number].filter
        if bandwidth_hz is not None and shape is not None:
            new = changed(shape, receiver.name, (*at, "filter"), bandwidth_hz=bandwidth_hz)
            out[number] = changed(out[number], receiver.name, at, filter=new)
        return tuple(out)

    return with_chains(receiver, range_name, change)


def _without_crystal(conversion: Conversion, plan: StagePlan, source: str, at: Path) -> Conversion:
    """Return a conversion to a fixed IF that says its side instead of its crystal."""
    if conversion.crystal_hz is None and conversion.oscillator_hz is None:
        return conversion
    side = "sum" if plan.lo * plan.rf > 0 else "high" if plan.lo > 0 else "low"
    return changed(
        conversion,
        source,
        at,
        crystal_hz=None,
        oscillator_hz=None,
        multiplier=None,
        multiplier_circuits=None,
        multiplier_impurity_db=None,
        injection=side,
        if_hz=plan.if_hz,
    )


def with_injection(
    receiver: Receiver, *, injection: str, stage: int = 0, range_name: str | None = None
) -> Receiver:
    """Return the set with the oscillator of one conversion on another side.

    Parameters
    ----------
    receiver : Receiver.
    injection : "high", "low" or "sum".
    stage, range_name : as in `with_conversion`.

    Raises
    ------
    Refused  when that oscillator would have to run at or below 0 Hz, or the side
        is told by a crystal with a tunable IF.
    """

    def change(chain: Chain, plans: tuple[StagePlan, ...]) -> Chain:
        number = stage_number(chain, stage, receiver)
        at: Path = ("conversion", number)
        fixed = chain[number]
        if plans[number].if_hz is not None:
            fixed = _without_crystal(fixed, plans[number], receiver.name, at)
        return (*chain[:number], changed(fixed, receiver.name, at, injection=injection), *chain[number + 1 :])

    return with_chains(receiver, range_name, change)


def with_mixer(
    receiver: Receiver, *, stage: int = 0, range_name: str | None = None, **figures: Any
) -> Receiver:
    """Return the set with figures of one mixer changed.

    Parameters
    ----------
    receiver : Receiver.
    stage, range_name : as in `with_conversion`.
    figures : attributes of `Mixer`. An intercept takes the place of v0 and the other way round.

    Raises
    ------
    Refused  as `with_conversion`.
    """
    if figures.get("v0") is not None:
        figures = {**dict.fromkeys(_INTERCEPTS), **figures}
    elif any(figures.get(key) is not None for key in _INTERCEPTS):
        figures = {"v0": None, **figures}

    def change(chain: Chain, plans: tuple[StagePlan, ...]) -> Chain:
        number = stage_number(chain, stage, receiver)
        at: Path = ("conversion", number)
        mixer: Mixer = changed(chain[number].mixer, receiver.name, (*at, "mixer"), **figures)
        return (*chain[:number], changed(chain[number], receiver.name, at, mixer=mixer), *chain[number + 1 :])

    return with_chains(receiver, range_name, change)
