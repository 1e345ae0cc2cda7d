"""Where the tables end: the stretches of dial on which a station could come in that they know nothing of."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants, strangers
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.grades import grade_hits
from spurplan.responses.image_rejection import flipped
from spurplan.responses.join import join
from spurplan.responses.lines import lines_of_routes
from spurplan.rows import Rows, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


class Beyond(Rows):
    """G stretches of dial on which a strong station beyond the tables would be heard.

    Attributes
    ----------
    candidate : int64, shape (G,).
    dial_low_hz, dial_high_hz : int64, shape (G,). First and last whole hertz; they may overlap. [Hz]
    margin_db : float64, shape (G,). The greatest margin it could have on each. [dB]
    """

    candidate: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    margin_db: Floats = floats()

    def greatest_margin_db(self, candidates: int) -> Floats:
        """Return the greatest margin of each candidate; NaN where none would be heard. [dB]"""
        margin = np.full(candidates, np.nan)
        np.fmax.at(margin, self.candidate, self.margin_db)
        return margin


def beyond_tables(
    chains: Chains, occupants: Occupants, settings: Settings, loudest_dbm: float, *, gaps: bool = False
) -> Beyond:
    """Return where on each dial a station would be heard of which the tables can not tell.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants. Their reach is what the tables know of.
    settings : Settings. The thresholds of the grades.
    loudest_dbm : float. Level taken for a station beyond it. [dBm, 50 ohm]
    gaps : bool. Whether what lies between those listed counts as beyond, too.

    Notes
    -----
    The images of the conversions alone are asked about: by some route of high order any
    dial reaches beyond any table.
    """
    others = strangers(occupants, loudest_dbm, gaps=gaps)
    pieces: list[tuple[Ints, Ints, Ints, Floats]] = []
    for conversion in range(chains.conversions):
        lines = lines_of_routes(chains, flipped(chains, conversion))
        graded = grade_hits(
            chains, lines, others, join(lines, others),
            strong_at_db=settings.strong_at, audible_at_db=settings.audible_at, keep_buried=False,
        )  # fmt: skip
        candidate = lines.candidate[graded.line]
        pieces.append((candidate, graded.dial_low_hz, graded.dial_high_hz, graded.margin_db))
    candidate, low, high, margin = (np.concatenate(columns) for columns in zip(*pieces, strict=True))
    return Beyond(candidate, low, high, margin)
