"""What the gang data of a range says about its signal circuit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spurplan.receiver.description import Gang, Range


def tuned_capacitance_pf(covered: Range, gang: Gang) -> tuple[float, float]:
    """Return all capacitance across the signal coil at the low and the high end of a range.

    Parameters
    ----------
    covered : Range. Its coverage.
    gang : Gang. With c_min or with the coil.

    Returns
    -------
    (at the low end, at the high end). [pF]

    Notes
    -----
    C_high = c_min, or 1/(w_high^2 L) with the coil given; C_low = C_high (high/low)^2.
    """
    if gang.coil_uh is not None:
        # pF and uH: 1e12 * 1e6
        c_high_pf = 1e18 / ((2 * math.pi * covered.high_hz) ** 2 * gang.coil_uh)
    else:
        assert gang.c_min_pf is not None  # a gang has one of the two
        c_high_pf = gang.c_min_pf
    return c_high_pf * (covered.high_hz / covered.low_hz) ** 2, c_high_pf


def signal_coil_uh(covered: Range, gang: Gang) -> float:
    """Return the signal coil, as given or as it follows from c_min and the coverage. [uH]"""
    if gang.coil_uh is not None:
        return gang.coil_uh
    _, c_high_pf = tuned_capacitance_pf(covered, gang)
    return 1e18 / ((2 * math.pi * covered.high_hz) ** 2 * c_high_pf)
