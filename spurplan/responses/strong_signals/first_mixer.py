"""What the stations of the tables bring to the first mixer, wherever a dial stands."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains

Floats = npt.NDArray[np.float64]


def level_into_first_mixer(chains: Chains, occupants: Occupants, candidate: int) -> Floats:
    """Return the strongest each occupant gets into the first mixer anywhere on a dial, shape (O,). [dBm]"""
    tuned_low, tuned_high = float(chains.low_hz[candidate]), float(chains.high_hz[candidate])
    nearest = np.clip((occupants.low_hz + occupants.high_hz) / 2.0, tuned_low, tuned_high)
    nearest = np.clip(np.clip(nearest, occupants.low_hz, occupants.high_hz), tuned_low, tuned_high)
    own = np.clip(nearest, occupants.low_hz, occupants.high_hz)
    selectivity = chains.selectivity[0][int(chains.selectivity_code[candidate, 0])]
    lost = selectivity.loss_db(own, nearest)
    into: Floats = (
        occupants.level_dbm - lost - selectivity.lead_loss_db(nearest) + chains.gain_db[candidate, 0]
    )
    return into
