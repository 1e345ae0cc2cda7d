"""How likely each stretch of an answer is: how far its intruder is over what is borne, and how often."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from spurplan.responses.intrusion_table import Response
from spurplan.responses.listening.arrivals import WORLD_SPARE_DB, Meetings, Ways, spoils_dbm, worked_out
from spurplan.responses.listening.presence import Presence
from spurplan.responses.listening.worlds import shipped_spreads

Floats = npt.NDArray[np.float64]


def with_chances(response: Response, presence: Presence) -> Response:
    """Return a response whose stretches say by how much they spoil, and with what chance.

    Parameters
    ----------
    response : Response.
    presence : Presence. Who of its occupants is on the air.

    Notes
    -----
    At the setting where each is loudest. What even a typical level leaves far below what is borne
    has no chance worth a number.
    """
    graded = response.graded
    chance = np.zeros(len(graded))
    ways = Ways(response.chains, response.lines, response.occupants)
    met = Meetings(
        place=np.arange(len(graded), dtype=np.int64),
        dial_hz=graded.loudest_dial_hz,
        line=graded.line,
        occupant=graded.occupant,
        heard_dbm=graded.heard_dbm,
    )
    near = np.flatnonzero(graded.margin_db >= -WORLD_SPARE_DB)
    arrivals = worked_out(ways, met.take(near), presence, shipped_spreads())
    over = graded.heard_dbm - spoils_dbm(ways, met)
    chance[near] = 1.0 - np.exp(-arrivals.expected(spread_db=arrivals.total_spread_db()))
    return replace(response, over_bar_db=over, chance=chance)
