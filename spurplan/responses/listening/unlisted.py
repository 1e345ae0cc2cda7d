"""Where the tables hardly list anybody who could come in by an image: what is not heard there is not clear.

Tables of the whole spectrum leave out a band where nobody transmits, and rightly. A list of a few stations
leaves out nearly all that is on the air, and whoever is on an image of the set then stands in no table.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.beyond import Beyond, beyond_tables
from spurplan.responses.counting import covered_hz
from spurplan.responses.listening.limits import limits

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# a station that is heard through any front end: where it is, not how loud, is what is asked [dBm]
HEARD_ANYWHERE_DBM = 200.0


@dataclass(frozen=True)
class Unlisted:
    """What no table tells of V dials.

    Attributes
    ----------
    open : Beyond. Where a strong station on an image, in no table, would be heard; of dials of which the
        tables tell enough nothing.
    share : float64, shape (V,). Part of each dial that is so, besides what lies beyond the tables; 0 where
        they tell enough, or no such station would be heard.
    """

    open: Beyond
    share: Floats

    def at(self, dial_hz: Ints) -> npt.NDArray[np.bool_]:
        """Return whether one setting of each dial is so, shape (V,).

        Parameters
        ----------
        dial_hz : int64, shape (V,). [Hz]
        """
        here = dial_hz[self.open.candidate]
        inside = (self.open.dial_low_hz <= here) & (here <= self.open.dial_high_hz)
        return np.isin(np.arange(len(dial_hz)), self.open.candidate[inside])


def unlisted(chains: Chains, occupants: Occupants, settings: Settings, stranger_dbm: float) -> Unlisted:
    """Return where nobody listed is heard on dials whose images the tables hardly know.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants.
    settings : Settings. The thresholds of the grades.
    stranger_dbm : float. Level taken for a station in no table. [dBm, 50 ohm]
    """
    asked = (
        (stranger_dbm, True),
        (stranger_dbm, False),
        (HEARD_ANYWHERE_DBM, True),
        (HEARD_ANYWHERE_DBM, False),
    )
    stretches = [beyond_tables(chains, occupants, settings, dbm, gaps=gaps) for dbm, gaps in asked]
    open_, beyond, image_open, image_beyond = (
        covered_hz(some.candidate, some.dial_low_hz, some.dial_high_hz, len(chains))
        / (chains.high_hz - chains.low_hz + 1)
        for some in stretches
    )
    hardly = image_open - image_beyond > limits()["listed"]["hardly"]
    return Unlisted(
        stretches[0].take(np.flatnonzero(hardly[stretches[0].candidate])),
        np.where(hardly, open_ - beyond, 0.0),
    )
