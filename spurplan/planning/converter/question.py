"""What was asked about converters, put in order: covers, crystals, the converter itself."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeGuard

from spurplan import units
from spurplan.errors import Fault, Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.converter.candidates import SIDES, Cover, Prototypes, injection_spans
from spurplan.planning.converter.crystals import (
    Crystal,
    on_step,
    read_stock_and_unread,
    shipped_stock,
    single,
    together,
)
from spurplan.receiver.description import Circuits, Front, Range, Receiver
from spurplan.receiver.file.reading import read_front
from spurplan.responses.asking import Settings, SpanLike
from spurplan.responses.listening.judged import AirAtHour
from spurplan.units import FrequencyLike, Where, as_path, hz_text, several

StockLike = str | Path | Sequence[Crystal] | None
FrontLike = Front | str | Path | None
# Crystals to order that are looked through at once, each on its several sides and ranges.
MOST_ON_STEP = 100_000


# crystals are ordered closer than this
MOST_STEP_HZ = 5_000_000

_WAY = re.compile(r"(.*?)(?:[\s,]+times\s+([0-9]+))?(?:[\s,]+(?:for the )?(below|above|sum))?\s*")


@dataclass(frozen=True)
class About:
    """A crystal to say everything about, and the one way of using it where that was named.

    Attributes
    ----------
    crystal : Crystal.
    multiplier : int or None. Times which it is multiplied.
    side : int or None. Index into `SIDES`.
    """

    crystal: Crystal
    multiplier: int | None = None
    side: int | None = None


@dataclass(frozen=True)
class Question:
    """A question in order.

    Attributes
    ----------
    receiver : Receiver.
    covers : (low, high) of each. [Hz]
    crystals : what there is to choose from.
    ranges : the ranges of the set.
    serving : those that may serve behind a converter.
    front : Front. The converter's.
    place, settings : where the set stands and who is on the air, and how it is asked.
    before : Prototypes of the ranges.
    tune : (low, high) or None. Where the whole cover is to be tuned on the set. [Hz]
    about : About or None. The crystal to say everything about.
    """

    receiver: Receiver
    covers: tuple[Cover, ...]
    crystals: tuple[Crystal, ...]
    ranges: tuple[Range, ...]
    serving: tuple[Range, ...]
    front: Front
    place: AirAtHour
    settings: Settings
    before: Prototypes
    tune: tuple[int, int] | None = None
    about: About | None = None

    @property
    def occupants(self) -> Occupants:
        """Who is on the air."""
        return self.place.occupants


def as_covers(cover: SpanLike | Sequence[SpanLike], where: Where | None = None) -> tuple[Cover, ...]:
    """Return covers in hertz from "21MHz:21.45MHz", a pair of edges, or several of either.

    Parameters
    ----------
    where : Where or None. Where edges without a unit have to lie.

    Raises
    ------
    Refused  when there is none, or with every one that is no stretch of frequencies.
    """
    if isinstance(cover, str) or _is_pair(cover):
        lot: list[Any] = [cover]
    else:
        lot = list(cover) if several(cover) else [cover]
    if not lot:
        raise Refused(Fault("--cover", "is missing", remedy="say what is to be received, as 21MHz:21.45MHz"))
    faults: list[Fault] = []
    covers = []
    for span in lot:
        try:
            covers.append(units.span_hz(span, "--cover", where))
        except Refused as refused:
            faults += refused.faults
    if faults:
        raise Refused(faults)
    return tuple(dict.fromkeys(covers))


def _is_pair(cover: object) -> bool:
    """Return whether something is one stretch, given by its edges, and not several stretches."""
    edges = list(cover) if several(cover) else []
    return len(edges) == 2 and not any(several(edge) or ":" in str(edge) for edge in edges)


def as_about(explain: FrequencyLike | None, where: Where | None = None) -> About | None:
    """Return what is to be explained from hertz, "14MHz", or the words of the list, "7 MHz times 2 above".

    Raises
    ------
    Refused  for what is no frequency.
    """
    if explain is None:
        return None
    parts = _WAY.fullmatch(explain) if isinstance(explain, str) else None
    if parts is None:
        return About(single(units.hz(explain, "--explain", where)))
    hz, times, side = parts.groups()
    if side is not None and times is None:
        times = "1"  # as the list has it: not multiplied
    return About(
        single(units.hz(hz, "--explain", where)),
        None if times is None else int(times),
        None if side is None else SIDES.index(side),
    )


def as_step() -> Where:
    """Return where the step of crystals to order lies, for a number without its unit: between two of them."""
    return Where("the steps of crystals to order", lambda low, high: high <= MOST_STEP_HZ)


def as_front(front: FrontLike) -> Front:
    """Return the description of a converter, or of the one that is taken where nobody describes it."""
    if front is None:
        return Front(elements=(Circuits(circuits=2),))
    return front if isinstance(front, Front) else read_front(front)


def front_text(front: FrontLike) -> str:
    """Return what is taken for granted of a converter that nobody described; "" where somebody did."""
    if front is not None:
        return ""
    taken = as_front(None)
    return (
        "the converter: two tuned circuits of the default Q, "
        f"{taken.gain_db:g} dB ahead of a {taken.mixer.family} mixer, noise figure "
        f"{taken.noise_figure_db:g} dB, {taken.pickup_db:g} dB pickup past it; --front describes yours"
    )


def named_crystals(
    crystal: FrequencyLike | Sequence[FrequencyLike], where: Where | None = None
) -> tuple[Crystal, ...]:
    """Return the crystals that were named one by one.

    Raises
    ------
    Refused  with every one that is not a frequency.
    """
    lot: list[Any] = list(crystal) if several(crystal) else [crystal]
    faults: list[Fault] = []
    crystals = []
    for frequency in lot:
        try:
            crystals.append(single(units.hz(frequency, "--crystal", where)))
        except Refused as refused:
            faults += refused.faults
    if faults:
        raise Refused(faults)
    return tuple(crystals)


def _are_crystals(stock: StockLike) -> TypeGuard[Sequence[Crystal]]:
    return isinstance(stock, list | tuple) and all(isinstance(crystal, Crystal) for crystal in stock)


def as_stock(stock: StockLike) -> tuple[Sequence[Crystal] | None, list[str]]:
    """Return a list of crystals from itself or its path, and what to say of columns nothing reads."""
    if stock is None or _are_crystals(stock):
        return stock, []
    return read_stock_and_unread(as_path(stock, "--stock"))


def crystals_of(
    stock: Sequence[Crystal] | None,
    named: Sequence[Crystal],
    step_hz: int | None,
    covers: Sequence[Cover],
    ranges: Sequence[Range],
) -> tuple[Crystal, ...]:
    """Return all crystals there are to choose from.

    Parameters
    ----------
    stock : crystals, or None: then the list that comes with the package, unless
        crystals are named or asked for on a step.
    named : crystals named one by one.
    step_hz : int or None. The step of those to order. [Hz]
    covers, ranges : what those to order must bring together.

    Raises
    ------
    Refused  for a bad list, one without a crystal, or a step that gives none or too many.
    """
    lots: list[Sequence[Crystal]] = [named]
    if stock is not None:
        if not stock:
            raise Refused(Fault("--stock", "holds no crystal", remedy="give one at least, or leave it out"))
        lots.append(stock)
    elif not named and step_hz is None:
        lots.append(shipped_stock())
    if step_hz is not None:
        ordered = on_step(step_hz, injection_spans(covers, ranges), MOST_ON_STEP)
        if not ordered and not any(lots):
            rule = "gives no crystal that brings a whole cover into a range of the set"
            raise Refused(Fault("--step", rule, hz_text(step_hz), "take a finer step"))
        lots.append(ordered)
    return together(lots)
