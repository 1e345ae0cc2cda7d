"""Where a dial can not be trusted whoever is on the air: a station of S9 on an image comes in strong.

The chance that somebody is on an image at a setting may be small all the same: the quiet stretches of
the air lie there. It says how often a setting is spoilt, not whether what is heard there belongs there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.image_rejection import flipped, route_rejection_db
from spurplan.responses.levels import bar_dbm
from spurplan.responses.lines import lines_of_routes
from spurplan.responses.listening.findings import WORTH_A_WORD, WeakImage
from spurplan.responses.listening.limits import limits
from spurplan.units import s9_dbm

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

POINTS = 201


@dataclass(frozen=True)
class Images:
    """The images of the set that come in strongest at settings of V dials, K each.

    Attributes
    ----------
    rejection_db : float64, shape (V, K). NaN where there is none. [dB]
    away_hz : float64, shape (V, K). How far above the dial setting it lies. [Hz]
    weak : bool, shape (V, K). Whether a station of S9 there is heard strong.
    """

    rejection_db: Floats
    away_hz: Floats
    weak: npt.NDArray[np.bool_]


def images_at(chains: Chains, dial_hz: Ints, strong_at_db: float) -> Images:
    """Return the least rejected image at each setting.

    Parameters
    ----------
    chains : Chains, V candidates.
    dial_hz : int64, shape (V, K). [Hz]
    strong_at_db : float. Margin over the bar of hearing from which a carrier is strong. [dB]
    """
    candidate = np.repeat(np.arange(len(chains)), dial_hz.shape[1])
    carrier = np.full(dial_hz.size, CARRIER, dtype=np.int8), np.ones(dial_hz.size, dtype=np.int32)
    bar = bar_dbm(chains, candidate, dial_hz.ravel(), *carrier).reshape(dial_hz.shape)
    least = np.full(dial_hz.shape, np.inf)
    away = np.full(dial_hz.shape, np.nan)
    for conversion in range(chains.conversions):
        steps = flipped(chains, conversion)
        lines = lines_of_routes(chains, steps)
        p, q, d = (values[0][:, None] for values in (lines.p, lines.q, lines.d))
        rejection = route_rejection_db(chains, steps, dial_hz)
        nearer = np.nan_to_num(rejection, nan=np.inf) < least
        least = np.where(nearer, rejection, least)
        away = np.where(nearer, (p * dial_hz + q) / d - dial_hz, away)
    there = np.vectorize(s9_dbm, otypes=[float])(dial_hz + np.nan_to_num(away)) + limits()["trust"]["over_s9"]
    return Images(np.where(np.isinf(least), np.nan, least), away, there - least >= bar + strong_at_db)


def weak_images(chains: Chains, settings: Settings) -> list[WeakImage | None]:
    """Return where each dial lets images in, V; None where it does on less than is worth a word."""
    parts = np.arange(POINTS) / (POINTS - 1)
    span = (chains.high_hz - chains.low_hz)[:, None]
    dial: Ints = chains.low_hz[:, None] + np.floor(span * parts).astype(np.int64)
    images = images_at(chains, dial, settings.strong_at)
    out: list[WeakImage | None] = []
    for v in range(len(chains)):
        weak = np.flatnonzero(images.weak[v])
        if len(weak) < WORTH_A_WORD * POINTS:
            out.append(None)
            continue
        least = weak[np.argmin(images.rejection_db[v][weak])]
        away = images.away_hz[v][weak]
        out.append(
            WeakImage(
                low_hz=int(dial[v, weak[0]]),
                high_hz=int(dial[v, weak[-1]]),
                from_the_bottom=bool(weak[0] == 0),
                to_the_top=bool(weak[-1] == POINTS - 1),
                rejection_db=float(images.rejection_db[v, least]),
                away_hz=int(away[0]) if bool((away == away[0]).all()) else None,
            )
        )
    return out
