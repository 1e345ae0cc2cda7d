"""In which order crystals are offered, and the words for it.

What cannot be used as it stands comes last: not the whole cover in one range, a birdie at every
setting, nothing but an IF of the set. Of the others those that bring the whole cover into the
stretch that was asked for come first. Among these the order is that of their points
(`points`): what is usable on a busy evening, less what a builder would give for the handling.

With the same points: fewest whistles and birdies, fewest multiplications, the better image
rejection, the smaller error of the crystal, the lower frequency.

What injects the same as one before it, into the same range, from a lower crystal with more
multiplication comes behind all others: it adds nothing but work. Crystals that were asked about
one by one keep their place.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.planning.converter.candidates import ABOVE, ALONE, BELOW, Candidates
from spurplan.planning.converter.figures import Figures
from spurplan.planning.converter.handling import Handling
from spurplan.planning.converter.points import Points
from spurplan.rows import Rows, bools, ints, shared
from spurplan.units import decimal_text, percent_text

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

NONE = -1
# A tenth of a point is nothing to go by.
POINTS_STEP = 0.1
# No image at all is better than any rejection.
NO_IMAGE_DB = 1_000
_READING_WORDS = (
    "a round number of megahertz away",
    "half a megahertz off",
    "no round number of megahertz away",
)


class Ranking(Rows):
    """Why V candidates stand where they stand, in that order, cover by cover.

    Attributes
    ----------
    rank : int64, shape (V,). Of each candidate, from 1 in each cover.
    possible : bool, shape (V,). Whether it can be used as it stands.
    in_tune : bool, shape (V,). Whether the whole cover comes into the stretch that was asked for.
    handling, points : what they are like to use, and what they are worth.
    same_as : int64, shape (V,). The one before it that injects the same; -1 for none.
    keys : mapping of what a question is about to int64, shape (V,), in the order asked; lower is
        better in each.
    """

    rank: Ints = ints()
    possible: Bools = bools()
    in_tune: Bools = bools()
    handling: Handling = shared()
    points: Points = shared()
    same_as: Ints = ints()
    keys: dict[str, Ints] = shared()


def ordered(
    chosen: Candidates,
    figures: Figures,
    handling: Handling,
    points: Points,
    pointed_at: Bools,
    tune: tuple[int, int] | None,
) -> tuple[Candidates, Figures, Ranking]:
    """Return candidates and figures in the order in which they are offered, and why that is theirs.

    Parameters
    ----------
    chosen, figures, handling, points : V candidates, their figures, what they are like to use and worth.
    pointed_at : bool, shape (V,). Those whose crystal was asked about.
    tune : (low, high) or None. Where the whole cover is to be tuned on the set. [Hz]

    Notes
    -----
    From here on the number of a candidate is its place on the list, in whatever is about it.
    """
    possible = chosen.placed & (chosen.lost_hz == 0) & ~figures.everywhere & ~_all_deaf(chosen, figures)
    in_tune = _in_tune(chosen, tune)
    keys = _keys(chosen, figures, points, possible, in_tune)
    order = np.lexsort((chosen.range, chosen.side, *list(keys.values())[::-1], chosen.cover))
    first = _first_alike(chosen.take(order))
    repeats = (first != np.arange(len(order))) & ~pointed_at[order]
    later = np.lexsort((repeats, chosen.cover[order]))
    order = order[later]
    place = np.empty(len(order), dtype=np.int64)
    place[later] = np.arange(len(order))
    cover = chosen.cover[order]
    ranking = Ranking(
        rank=np.arange(len(order)) - np.searchsorted(cover, cover, side="left") + 1,
        possible=possible[order],
        in_tune=in_tune[order],
        handling=handling.take(order),
        points=points.take(order),
        same_as=np.where(repeats, place[first], NONE)[later],
        keys={name: key[order] for name, key in keys.items()},
    )
    return chosen.take(order), figures.in_order(order), ranking


def _in_tune(chosen: Candidates, tune: tuple[int, int] | None) -> Bools:
    """Whether the whole cover comes into a stretch of the set's dial, shape (V,)."""
    whole: Bools = chosen.placed & (chosen.lost_hz == 0)
    if tune is None:
        return whole
    low, high = chosen.set_hz
    return whole & ~chosen.alone & (low >= tune[0]) & (high <= tune[1])


def _first_alike(chosen: Candidates) -> Ints:
    """Return for each candidate the first that injects the same into the same range, shape (V,)."""
    alike = np.stack([chosen.cover, chosen.range, chosen.side, chosen.injected_hz], axis=1)
    _, first, back = np.unique(alike, axis=0, return_index=True, return_inverse=True)
    return np.asarray(first[back.reshape(-1)], dtype=np.int64)


def _keys(
    chosen: Candidates, figures: Figures, points: Points, possible: Bools, in_tune: Bools
) -> dict[str, Ints]:
    worse_image = np.fmin(figures.image_rejection_db, figures.second_image_rejection_db)
    total = np.nan_to_num(points.total, nan=-np.inf)
    return {
        "use": (~possible).astype(np.int64),
        "tune": (possible & ~in_tune).astype(np.int64),
        "lost": np.where(chosen.placed, chosen.lost_hz, np.iinfo(np.int64).max),
        "points": -np.round(np.maximum(total, -1e6) / POINTS_STEP).astype(np.int64),
        "whistles and birdies": np.maximum(figures.whistles, 0) + np.maximum(figures.birdies, 0),
        "multiplication": chosen.multiplier,
        "image rejection": -np.nan_to_num(np.round(worse_image), nan=NO_IMAGE_DB).astype(np.int64),
        "crystal error": figures.reading_error_hz,
        "frequency": chosen.injected_hz,
    }


def _all_deaf(chosen: Candidates, figures: Figures) -> npt.NDArray[np.bool_]:
    """Whether the whole of what can be tuned lies on an IF of the set, shape (V,)."""
    deaf: npt.NDArray[np.bool_] = figures.dead_hz > chosen.high_hz - chosen.low_hz
    return deaf


def dial_rule(side: int, injected_hz: int) -> str:
    """Return how to read the dial of the set, "signal = 14.000 MHz + dial"."""
    if side == ALONE:
        return "the set alone: signal = dial"
    mhz = f"{decimal_text(injected_hz, 6, places=3)} MHz"
    if side == BELOW:
        return f"signal = {mhz} + dial"
    if side == ABOVE:
        return f"signal = {mhz} \N{MINUS SIGN} dial: runs backwards"
    return f"signal = dial \N{MINUS SIGN} {mhz}"


def lost_place(ranking: Ranking, merits: Figures, chosen: Candidates, lower: int, upper: int) -> str:
    """Return in words why one candidate stands below another of the same cover."""
    for name, key in ranking.keys.items():
        if key[lower] != key[upper]:
            return _because(name, merits, ranking, chosen, lower, upper)
    return "equal in all that counts"


def _because(name: str, merits: Figures, ranking: Ranking, chosen: Candidates, lower: int, upper: int) -> str:
    if name == "points":
        by = difference(ranking, merits, chosen, lower, upper)
        alike = "cannot be told apart, " if ranking.points.alike(upper, lower) else ""
        less = ranking.points.total[upper] - ranking.points.total[lower]
        return f"{alike}{less:.1f} points less, most for {by}"
    key = ranking.keys[name]
    # words, then the figures to show and how they read
    words: dict[str, tuple[str, Any, Callable[[Any], str] | None]] = {
        "use": ("can not be used as it stands", key, None),
        "tune": ("does not put the whole cover where it is to be tuned", key, None),
        "lost": ("more of the cover is lost", key, None),
        "whistles and birdies": ("more whistles and birdies", key, str),
        "multiplication": ("more multiplication", key, lambda times: f"times {times}"),
        "image rejection": ("less image rejection", -key, _rejection),
        "crystal error": ("its crystal may be further off", key, lambda hz: f"{hz} Hz"),
        "frequency": ("only a higher frequency", key, None),
    }
    what, values, text = words[name]
    return f"{what}: {text(values[lower])} against {text(values[upper])}" if text else what


def difference(ranking: Ranking, merits: Figures, chosen: Candidates, lower: int, upper: int) -> str:
    """Return in words what takes most points off one candidate against another of more points."""
    handling, term = ranking.handling, ranking.points.deciding(upper, lower)
    pair = (lower, upper)
    if term == "usable":
        less, more = (percent_text(float(merits.usable_share[at])) for at in pair)
        return f"what is usable: {less} % against {more} %"
    if term == "scale":
        coarse, fine = (handling.spread_khz_mm[at] for at in pair)
        return f"its scale: {coarse:.0f} kHz a mm against {fine:.0f}"
    if term == "drift":
        more, less = (f"{handling.drift_hz[at] / 1e3:.1f} kHz" for at in pair)
        return f"its drift: {more} in the first hour against {less}"
    if term == "reading":
        return f"the reading, {_READING_WORDS[int(handling.reading[lower])]}"
    if term == "multiplier":
        return f"its multiplier: times {int(chosen.multiplier[lower])}"
    return {"backwards": "a dial that runs backwards", "sum": "mixing for the sum"}[term]


def _rejection(db: int) -> str:
    return "no image" if db >= NO_IMAGE_DB else f"{db} dB"
