"""Which suspects there is room for on a page: the likeliest, and the best of every other family."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

# part of the room that is for the likeliest, whatever they are
LIKELIEST = 0.25


def foremost(families: Sequence[Hashable], weights: Sequence[float], most: int) -> list[int]:
    """Return which suspects are shown, ascending.

    Parameters
    ----------
    families : of each suspect, as what it is looked for.
    weights : of each suspect.
    most : int. How many there is room for.

    Notes
    -----
    The first quarter is for the likeliest. Then comes the best of every family that is not among them, since
    four harmonics of transmitters that nobody has seen would hide the one birdie; what room is left goes to
    the likeliest again.
    """
    order = sorted(range(len(weights)), key=lambda at: -weights[at])
    likeliest = max(int(LIKELIEST * most), 1)
    shown = order[:likeliest]
    there = {families[at] for at in shown}
    for at in order[likeliest:]:
        if len(shown) < most and families[at] not in there:
            there.add(families[at])
            shown.append(at)
    rest = [at for at in order if at not in shown]
    return sorted([*shown, *rest[: most - len(shown)]])
