"""What nobody knows exactly of a set and its place, one standard deviation of each: what that adds where."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains
from spurplan.receiver.selectivity import Lead
from spurplan.responses.listening.thresholds import Thresholds
from spurplan.responses.listening.worlds import SET_FACTORS, Spreads

Floats = npt.NDArray[np.float64]

# what stands for a level that a set with other figures does not have at all [dB]
NOTHING_DB = -1e3


def moved_by_set(
    chains: Chains,
    heard: Callable[[Chains], Floats],
    heard_dbm: Floats,
    bar: Thresholds,
    mixer_db: Floats | float,
    spreads: Spreads,
) -> tuple[Floats, Floats]:
    """Return what a spread of each factor of set and place adds to n of its products, up and down.

    Parameters
    ----------
    chains : Chains.
    heard : gives the heard levels in a set with other figures, shape (n,). [dBm]
    heard_dbm : float64, shape (n,). In the set as it is. [dBm]
    bar : Thresholds, n of them. What spoils.
    mixer_db : float64, shape (n,), or float. Spread of what the mixer makes of each. [dB]
    spreads : Spreads.

    Returns
    -------
    float64, shape (F, n), twice. F as in `SET_FACTORS`. [dB]
    """
    if not len(heard_dbm):
        none = np.zeros((len(SET_FACTORS), 0))
        return none, none
    nothing = np.zeros(len(heard_dbm))
    boxes = any(lead.boxes for lead in chains.selectivity[0] if isinstance(lead, Lead))

    def by(**figures: float) -> Floats:
        return np.nan_to_num(heard(chains.varied(**figures)) - heard_dbm, nan=0.0, neginf=NOTHING_DB)

    def moved(sign: float) -> Floats:
        # what was measured of a set has a spread of its own
        q = {"q_factor": 1.0 + sign * spreads.q, "q_spread": spreads.q}
        ceiling = {"ceiling_db": sign * spreads.ceiling_db, "ceiling_spread_db": spreads.ceiling_db}
        of_box = {"box_q_factor": 1.0 + sign * spreads.q, "box_ceiling_db": sign * spreads.ceiling_db}
        factors = {
            "noise": -bar.raised_db(sign * spreads.noise_db),
            "q": by(**q) if spreads.q else nothing,
            "ceiling": by(**ceiling) if spreads.ceiling_db else nothing,
            "box": by(**of_box) if boxes and (spreads.q or spreads.ceiling_db) else nothing,
            "coupling": by(coupling_score=sign) if spreads.q else nothing,
            "mixer": nothing + sign * mixer_db,
        }
        return np.stack([factors[name] for name in SET_FACTORS])

    return moved(1.0), moved(-1.0)
