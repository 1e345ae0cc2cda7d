"""Where the tables end: on how much of a dial a station could come in that they know nothing of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants, strangers
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.grades import grade_hits
from spurplan.responses.join import join
from spurplan.responses.lines import lines_of_routes
from spurplan.responses.summary import covered_hz, flipped
from spurplan.rows import Rows, floats

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


class Unknown(Rows):
    """What the tables leave open on the dial of each candidate; V of them.

    Attributes
    ----------
    share : float64, shape (V,). Whole hertz of dial on which a strong station beyond the
        tables would be heard, over the whole hertz of the range.
    margin_db : float64, shape (V,). The greatest margin it could have; NaN where it is heard
        nowhere. [dB]
    """

    share: Floats = floats()
    margin_db: Floats = floats()


def unknown(chains: Chains, occupants: Occupants, settings: Settings, loudest_dbm: float) -> Unknown:
    """Return on how much of each dial nothing is heard only because the tables end.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants. Their reach is what the tables know of.
    settings : Settings. The thresholds of the grades.
    loudest_dbm : float. Level taken for a station beyond it. [dBm, 50 ohm]

    Notes
    -----
    The images of the conversions alone are asked about: by some route of high order any
    dial reaches beyond any table.
    """
    others = strangers(occupants, loudest_dbm)
    margin = np.full(len(chains), np.nan)
    where: list[tuple[Ints, Ints, Ints]] = []
    for conversion in range(chains.conversions):
        lines = lines_of_routes(chains, flipped(chains, conversion))
        hits = join(lines, others)
        graded = grade_hits(
            chains, lines, others, hits,
            strong_at_db=settings.strong_at, audible_at_db=settings.audible_at, keep_buried=False,
        )  # fmt: skip
        candidate = lines.candidate[graded.line]
        np.fmax.at(margin, candidate, graded.margin_db)
        where.append((candidate, graded.dial_low_hz, graded.dial_high_hz))
    candidate, low, high = (np.concatenate(columns) for columns in zip(*where, strict=True))
    share = covered_hz(candidate, low, high, len(chains)) / (chains.high_hz - chains.low_hz + 1)
    return Unknown(share, margin)


@dataclass(frozen=True)
class Beyond:
    """G stretches of dial on which a strong station beyond the tables would be heard.

    Attributes
    ----------
    candidate : int64, shape (G,).
    dial_low_hz, dial_high_hz : int64, shape (G,). First and last whole hertz; they may overlap. [Hz]
    margin_db : float64, shape (G,). The greatest margin it could have on each. [dB]
    """

    candidate: Ints
    dial_low_hz: Ints
    dial_high_hz: Ints
    margin_db: Floats

    def greatest_margin_db(self, candidates: int) -> Floats:
        """Return the greatest margin of each candidate; NaN where none would be heard. [dB]"""
        margin = np.full(candidates, np.nan)
        np.fmax.at(margin, self.candidate, self.margin_db)
        return margin


def beyond_tables(chains: Chains, occupants: Occupants, settings: Settings, loudest_dbm: float) -> Beyond:
    """Return where on each dial a station would be heard of which the tables can not tell.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants. Their reach is what the tables know of.
    settings : Settings. The thresholds of the grades.
    loudest_dbm : float. Level taken for a station beyond it. [dBm, 50 ohm]

    Notes
    -----
    The images of the conversions alone are asked about: by some route of high order any
    dial reaches beyond any table.
    """
    others = strangers(occupants, loudest_dbm)
    found: list[tuple[Ints, Ints, Ints, Floats]] = []
    for conversion in range(chains.conversions):
        lines = lines_of_routes(chains, flipped(chains, conversion))
        graded = grade_hits(
            chains, lines, others, join(lines, others),
            strong_at_db=settings.strong_at, audible_at_db=settings.audible_at, keep_buried=False,
        )  # fmt: skip
        candidate = lines.candidate[graded.line]
        found.append((candidate, graded.dial_low_hz, graded.dial_high_hz, graded.margin_db))
    candidate, low, high, margin = (np.concatenate(columns) for columns in zip(*found, strict=True))
    return Beyond(candidate, low, high, margin)
