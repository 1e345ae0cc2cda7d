"""In which order crystals are offered, and the words for it.

Five questions in turn, each asked only of those that the one before leaves equal:

1. can it be used: the whole cover in one range, no birdie at every setting;
2. how much of the cover is clear, to a tenth of a percent; what is unknown is not;
3. how far the worst intruder, known or beyond the tables, is above the noise, in steps of
   3 dB (half an S unit), and how much would be clear if nobody were beyond them;
4. on how many places it whistles or hears its own crystal;
5. how easy the dial is to read: forwards before backwards, a whole megahertz to add
   before a whole 100 kHz before anything else.

Then the fewest multiplications, the better image rejection, the smaller error of the
crystal, and the lower frequency.

What injects the same as one before it, into the same range, from a lower crystal with more
multiplication comes behind all others: it adds nothing but work. Crystals that were asked about
one by one keep their place.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.planning.converter.candidates import ABOVE, BELOW, Candidates
from spurplan.planning.converter.merits import Figures
from spurplan.rows import Rows, bools, ints, shared
from spurplan.units import decimal_text, percent_text

Ints = npt.NDArray[np.int64]

NONE = -1
SHARE_STEP = 0.001
MARGIN_STEP_DB = 3.0
# No intruder at all is better than any margin.
NOT_HEARD = -1_000
# No image at all is better than any rejection.
NO_IMAGE_DB = 1_000
WHOLE_HZ = (1_000_000, 100_000)
CONVENIENCE = (
    "forwards, a whole megahertz to add",
    "forwards, a whole 100 kHz to add",
    "forwards, an odd figure to add",
    "backwards from a whole megahertz",
    "backwards from a whole 100 kHz",
    "backwards from an odd figure",
)


class Ranking(Rows):
    """Why V candidates stand where they stand, in that order, cover by cover.

    Attributes
    ----------
    rank : int64, shape (V,). Of each candidate, from 1 in each cover.
    usable : bool, shape (V,).
    same_as : int64, shape (V,). The one before it that injects the same; -1 for none.
    keys : mapping of what a question is about to int64, shape (V,), in the order asked; lower is
        better in each.
    """

    rank: Ints = ints()
    usable: npt.NDArray[np.bool_] = bools()
    same_as: Ints = ints()
    keys: dict[str, Ints] = shared()


def ordered(
    chosen: Candidates, found: Figures, pointed_at: npt.NDArray[np.bool_]
) -> tuple[Candidates, Figures, Ranking]:
    """Return candidates and figures in the order in which they are offered, and why that is theirs.

    Parameters
    ----------
    chosen, found : V candidates and their figures.
    pointed_at : bool, shape (V,). Those whose crystal was asked about.

    Notes
    -----
    From here on the number of a candidate is its place on the list, in whatever is about it.
    """
    usable = chosen.placed & (chosen.lost_hz == 0) & ~found.everywhere & ~_all_deaf(chosen, found)
    keys = _keys(chosen, found, usable)
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
        usable=usable[order],
        same_as=np.where(repeats, place[first], NONE)[later],
        keys={name: key[order] for name, key in keys.items()},
    )
    return chosen.take(order), found.in_order(order), ranking


def _first_alike(chosen: Candidates) -> Ints:
    """Return for each candidate the first that injects the same into the same range, shape (V,)."""
    alike = np.stack([chosen.cover, chosen.range, chosen.side, chosen.injected_hz], axis=1)
    _, first, back = np.unique(alike, axis=0, return_index=True, return_inverse=True)
    return np.asarray(first[back.reshape(-1)], dtype=np.int64)


def _keys(chosen: Candidates, found: Figures, usable: npt.NDArray[np.bool_]) -> dict[str, Ints]:
    share, unheard = (np.nan_to_num(one, nan=-1.0) for one in (found.clear_share, found.unheard_share))
    worst = found.worst_possible_db
    margin = np.where(np.isnan(worst), NOT_HEARD, np.floor(np.nan_to_num(worst) / MARGIN_STEP_DB))
    worse_image = np.fmin(found.image_rejection_db, found.second_image_rejection_db)
    return {
        "use": (~usable).astype(np.int64),
        "lost": np.where(chosen.placed, chosen.lost_hz, np.iinfo(np.int64).max),
        "clear": -np.round(share / SHARE_STEP).astype(np.int64),
        "worst intruder": margin.astype(np.int64),
        "unheard": -np.round(unheard / SHARE_STEP).astype(np.int64),
        "whistles and birdies": np.maximum(found.whistles, 0) + np.maximum(found.birdies, 0),
        "dial": convenience(chosen),
        "multiplication": chosen.multiplier,
        "image rejection": -np.nan_to_num(np.round(worse_image), nan=NO_IMAGE_DB).astype(np.int64),
        "crystal error": found.reading_error_hz,
        "frequency": chosen.injected_hz,
    }


def _all_deaf(chosen: Candidates, found: Figures) -> npt.NDArray[np.bool_]:
    """Whether the whole of what can be tuned lies on an IF of the set, shape (V,)."""
    deaf: npt.NDArray[np.bool_] = found.deaf_hz > chosen.high_hz - chosen.low_hz
    return deaf


def convenience(chosen: Candidates) -> Ints:
    """Return how easy each dial is to read, 0 for best, shape (V,); index into `CONVENIENCE`."""
    odd = np.full(len(chosen), len(WHOLE_HZ), dtype=np.int64)
    for level, whole in reversed(list(enumerate(WHOLE_HZ))):
        odd = np.where(chosen.injected_hz % whole == 0, level, odd)
    easy: Ints = odd + np.where(chosen.side == ABOVE, len(WHOLE_HZ) + 1, 0)
    return easy


def dial_rule(side: int, injected_hz: int) -> str:
    """Return how to read the dial of the set, "signal = 14.000 MHz + dial"."""
    mhz = f"{decimal_text(injected_hz, 6, places=3)} MHz"
    if side == BELOW:
        return f"signal = {mhz} + dial"
    if side == ABOVE:
        return f"signal = {mhz} \N{MINUS SIGN} dial: runs backwards"
    return f"signal = dial \N{MINUS SIGN} {mhz}"


def lost_place(found: Ranking, merits: Figures, lower: int, upper: int) -> str:
    """Return in words why one candidate stands below another of the same cover."""
    for name, key in found.keys.items():
        if key[lower] != key[upper]:
            return _because(name, merits, found, lower, upper)
    return "equal in all that counts"


def _because(name: str, merits: Figures, found: Ranking, lower: int, upper: int) -> str:
    key = found.keys[name]
    known = merits.worst_margin_db[lower] >= np.nan_to_num(merits.unknown_margin_db[lower], nan=-np.inf)
    worst = "its worst intruder is louder" if known else "one beyond the tables could be louder"
    # words, then the figures to show and how they read
    words: dict[str, tuple[str, Any, Callable[[Any], str] | None]] = {
        "use": ("can not be used as it stands", key, None),
        "lost": ("more of the cover is lost", key, None),
        "clear": ("less is clear", merits.clear_share, _percent),
        "unheard": ("more is heard of what the tables list", 1.0 - merits.unheard_share, _percent),
        "worst intruder": (worst, merits.worst_possible_db, _above_noise),
        "whistles and birdies": ("more whistles and birdies", key, str),
        "dial": ("the dial is harder to read", key, lambda level: CONVENIENCE[int(level)]),
        "multiplication": ("more multiplication", key, lambda times: f"times {times}"),
        "image rejection": ("less image rejection", -key, _rejection),
        "crystal error": ("its crystal may be further off", key, lambda hz: f"{hz} Hz"),
        "frequency": ("only a higher frequency", key, None),
    }
    what, values, text = words[name]
    return f"{what}: {text(values[lower])} against {text(values[upper])}" if text else what


def _percent(share: float) -> str:
    return "none of it" if np.isnan(share) else f"{percent_text(share)} %"


def _above_noise(margin_db: float) -> str:
    return "none is heard" if np.isnan(margin_db) else f"{margin_db:.0f} dB over the noise"


def _rejection(db: int) -> str:
    return "no image" if db >= NO_IMAGE_DB else f"{db} dB"
