"""How the level and the MUF of a path differ from day to day.

References
----------
[1] Rec. ITU-R P.842, table 2: deciles of the daily level about the monthly median.
[2] Rec. ITU-R P.533, section 3.6, with the deciles of the MUF of Rec. P.1239.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.coefficients import published
from spurplan.occupancy.sky.geometry import Points
from spurplan.occupancy.sky.sun import local_hour

Floats = npt.NDArray[np.float64]

# one sigma of a normal law is its decile deviation over this
DECILE_IN_SIGMA = 1.2816

_RATIO_STEPS = np.array([0.8, 1, 1.2, 1.4, 1.6, 1.8, 2, 3, 4])
_SPOT_STEPS = np.array([50, 100.01])
_SEASON_OF_MUF = np.array([0, 0, 1, 1, 2, 2, 2, 2, 1, 1, 0, 0])


def day_to_day_db(f_over_muf: Floats, high_latitude: npt.NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Return the upper and lower decile deviation of the daily level [1]; arguments broadcast. [dB]"""
    tables = published("p842")
    column = np.searchsorted(_RATIO_STEPS, f_over_muf)
    row = np.asarray(high_latitude).astype(int)
    return tables["upper_decile"][row, column], tables["lower_decile"][row, column]


def share_of_days_open(f_over_muf: Floats, middle: Points, month: Any, utc_hour: Any, r12: Any) -> Floats:
    """Return the share of days on which a frequency lies below the basic MUF [2]; arguments broadcast."""
    season = _SEASON_OF_MUF[np.asarray(month) - 1]
    season = np.where(middle.lat >= 0, season, 2 - season)
    spots = np.searchsorted(_SPOT_STEPS, r12, "right")
    latitude = np.minimum(np.rint(np.abs(np.degrees(middle.lat)) / 10).astype(int), 9)
    hour = (local_hour(middle, utc_hour) / 3).astype(int) % 8
    low, high = published("p1239")["muf_deciles"][:, season, spots, latitude, hour]
    below, above = np.maximum(1 - f_over_muf, 0), np.maximum(f_over_muf - 1, 0)
    share = np.where(
        f_over_muf < 1, 1.3 - 0.8 / (1 + below / (1 - low)), 0.8 / (1 + above / (high - 1)) - 0.3
    )
    return np.asarray(np.clip(share, 0, 1))
