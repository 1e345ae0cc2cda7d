"""Changes ahead of the first mixer: front end, pad, and what measurements found of a range."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spurplan.errors import Fault, Refused
from spurplan.receiver.changes.edits import (
    changed,
    front_end_of,
    range_named,
    with_range,
    with_ranges,
)
from spurplan.receiver.description import Box, Circuits, CoupledPair, Element, Receiver


def with_front_end(
    receiver: Receiver,
    *,
    elements: Sequence[Element],
    range_name: str | None = None,
    ceiling_db: float | None = None,
) -> Receiver:
    """Return the set with another front end.

    Parameters
    ----------
    receiver : Receiver.
    elements : what stands between the terminals and the first mixer; () for nothing.
    range_name : str or None. On one range, or on all.
    ceiling_db : float or None. What they cannot exceed; None leaves it as it is. [dB]

    Raises
    ------
    Refused  for an unknown range or elements that make no sense there.
    """
    new: dict[str, Any] = {"front_end": tuple(elements), "q_interval": None}
    if ceiling_db is not None:
        new |= {"front_end_ceiling_db": ceiling_db, "front_end_ceiling_interval_db": None}
    return with_range(receiver, range_name=range_name, **new)


def with_added_elements(
    receiver: Receiver, *, elements: Sequence[Element], range_name: str | None = None
) -> Receiver:
    """Return the set with elements added ahead of its front end: a trap, a preselector, a tuner.

    Raises
    ------
    Refused  as `with_front_end`.
    """
    added = tuple(elements)
    return with_ranges(
        receiver, range_name, lambda range_: {"front_end": added + front_end_of(range_), "q_interval": None}
    )


def with_pad(receiver: Receiver, *, pad_db: float) -> Receiver:
    """Return the set with a pad at its aerial terminals.

    Parameters
    ----------
    receiver : Receiver.
    pad_db : float, 0 or more. Attenuation. [dB]

    Raises
    ------
    Refused  for a gain in place of an attenuation, or when the figures leave their limits.

    Notes
    -----
    A box in the lead, at the set's terminals. Levels stay quoted ahead of it. A signal that reaches the
    mixer n times falls by n*pad_db at the detector and (n-1)*pad_db against a wanted one. A matched
    attenuator at room temperature adds exactly its loss to the noise figure.
    """
    if pad_db < 0.0:
        # it would take off noise that the set has
        raise Refused(Fault(receiver.name, "is no attenuation", f"{pad_db:g} dB pad", "give 0 dB or more"))
    pad = Box(name=f"{pad_db:g} dB pad", gain_db=-pad_db)
    return changed(receiver, receiver.name, ahead=(*receiver.ahead, pad))


def with_ahead(receiver: Receiver, *, boxes: Sequence[Box]) -> Receiver:
    """Return the set with boxes in its aerial lead, outside those that are there.

    Parameters
    ----------
    receiver : Receiver.
    boxes : sequence of Box, outermost first.
    """
    return changed(receiver, receiver.name, ahead=(*boxes, *receiver.ahead))


def with_fitted(
    receiver: Receiver,
    *,
    range_name: str,
    q: float | None = None,
    front_end_ceiling_db: float | None = None,
    rf_gain_db: float | None = None,
    dial_offset_hz: int | None = None,
    q_interval: tuple[float, float] | None = None,
    front_end_ceiling_interval_db: tuple[float, float] | None = None,
) -> Receiver:
    """Return the set with figures of one range as measured; None leaves a figure as it is.

    Parameters
    ----------
    receiver : Receiver.
    range_name : str.
    q : float. Loaded Q of its tuned circuits and coupled pairs.
    front_end_ceiling_db, rf_gain_db : float. [dB]
    dial_offset_hz : int. What the pointer shows minus what it is tuned to. [Hz]
    q_interval, front_end_ceiling_interval_db : (float, float). Their 95 % intervals. [-, dB]

    Raises
    ------
    Refused  for an unknown range or figures outside any sense.
    """
    range_ = range_named(receiver, name=range_name)
    new: dict[str, Any] = {
        "front_end_ceiling_db": front_end_ceiling_db,
        "rf_gain_db": rf_gain_db,
        "dial_offset_hz": dial_offset_hz,
        "q_interval": q_interval,
        "front_end_ceiling_interval_db": front_end_ceiling_interval_db,
    }
    new = {key: value for key, value in new.items() if value is not None}
    if q is not None:
        new["front_end"] = tuple(
            changed(element, receiver.name, q=q) if isinstance(element, Circuits | CoupledPair) else element
            for element in front_end_of(range_)
        )
    return with_range(receiver, range_name=range_name, **new)
