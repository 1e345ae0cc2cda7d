"""Names placed over a scale so that none covers another.

Names stand in tiers above the marks. A thin leader falls from each to its mark;
it keeps clear of the names below, and no name is laid over another's leader.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from spurplan.reporting.charts.sheet import Box

GAP_PT = 9.0
# how far inside its name a leader begins
INSET_PT = 2.0
# how many of those already placed may be moved for one more
NEIGHBOURS = 6


@dataclass(frozen=True)
class Wish:
    """A name that wants a place.

    Attributes
    ----------
    x : float. Where its leader falls. [pt]
    width : float. Of its longest line. [pt]
    """

    x: float
    width: float


@dataclass(frozen=True)
class Place:
    """A place found.

    Attributes
    ----------
    wish : int. Index of the wish.
    left : float. Where the name begins. [pt]
    tier : int. 0 is the lowest.
    """

    wish: int
    left: float
    tier: int


def place(wishes: Sequence[Wish], left: float, right: float, tiers: int) -> list[Place]:
    """Return places for as many names as find one, the first wishes first.

    Parameters
    ----------
    wishes : sequence of Wish, the most wanted first.
    left, right : float. Edges no name may pass. [pt]
    tiers : int. How many tiers there are.

    Returns
    -------
    list of Place, in the order of the wishes; those without a place are left out.
    """
    placed: dict[int, Place] = {}
    for number in range(len(wishes)):
        at = _free(number, wishes, (left, right), tiers, placed.values())
        if at is not None:
            placed[number] = at
        else:
            _make_room(number, wishes, (left, right), tiers, placed)
    return [placed[number] for number in sorted(placed)]


def _free(
    number: int,
    wishes: Sequence[Wish],
    edges: tuple[float, float],
    tiers: int,
    placed: Iterable[Place],
) -> Place | None:
    """Return the lowest free place for a name, or None."""
    others = [(wishes[p.wish], p) for p in placed]
    for tier in range(tiers):
        start = _start(wishes[number], tier, *edges, others)
        if start is not None:
            return Place(number, start, tier)
    return None


def _make_room(
    number: int, wishes: Sequence[Wish], edges: tuple[float, float], tiers: int, placed: dict[int, Place]
) -> None:
    """Place a name by moving one other to another place, where that helps."""
    near = sorted(placed, key=lambda other: abs(wishes[other].x - wishes[number].x))
    for other in near[:NEIGHBOURS]:
        rest = {key: at for key, at in placed.items() if key != other}
        for tier in range(tiers):
            start = _start(wishes[number], tier, *edges, [(wishes[p.wish], p) for p in rest.values()])
            if start is None:
                continue
            mine = Place(number, start, tier)
            moved = _free(other, wishes, edges, tiers, [*rest.values(), mine])
            if moved is not None:
                placed.update({number: mine, other: moved})
                return


def _start(
    wish: Wish, tier: int, left: float, right: float, placed: Sequence[tuple[Wish, Place]]
) -> float | None:
    """Return where a name can begin in a tier, as near over its mark as can be; None if nowhere."""
    low = max(left, min(wish.x - wish.width + INSET_PT, right - wish.width))
    high = min(right - wish.width, max(wish.x - INSET_PT, left))
    taken = []
    for other, at in placed:
        if at.tier == tier:
            taken.append((at.left - GAP_PT, at.left + other.width + GAP_PT))
        elif at.tier > tier:
            taken.append((other.x - INSET_PT, other.x + INSET_PT))
        elif at.left - INSET_PT < wish.x < at.left + other.width + INSET_PT:
            return None  # its leader would fall through a name below
    centred = min(max(wish.x - wish.width / 2, low), high)
    ends = [start - wish.width for start, _ in taken] + [stop for _, stop in taken]
    open_ = [
        start
        for start in (centred, *ends)
        if low <= start <= high and not any(a < start + wish.width and start < b for a, b in taken)
    ]
    return min(open_, key=lambda start: abs(start - centred), default=None)


def box_of(place: Place, wish: Wish, bottom: float, tier_pt: float, height: float) -> Box:
    """Return the ground of a placed name.

    Parameters
    ----------
    bottom : float. Lower edge of the lowest tier. [pt]
    tier_pt, height : float. Distance of the tiers; height of a name. [pt]
    """
    foot = bottom - place.tier * tier_pt
    return Box(place.left, foot - height, place.left + wish.width, foot)
