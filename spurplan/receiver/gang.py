"""What the gang data of a range says about the capacitance its signal circuit is tuned with."""

from __future__ import annotations

import math


def capacitance_at_ends_pf(
    low_hz: float, high_hz: float, c_min_pf: float | None, coil_uh: float | None
) -> tuple[float, float]:
    """Return all capacitance across a coil that tunes from low to high, at both ends.

    Parameters
    ----------
    low_hz, high_hz : float, above 0. [Hz]
    c_min_pf : float or None. What there is at the high end. [pF]
    coil_uh : float above 0, or None. The coil; one of the two is given. [uH]

    Returns
    -------
    (at the low end, at the high end). [pF]

    Notes
    -----
    C_high = c_min, or 1/(w_high^2 L) with the coil given; C_low = C_high (high/low)^2.
    """
    if coil_uh is not None:
        # pF and uH: 1e12 * 1e6
        c_high_pf = 1e18 / ((2 * math.pi * high_hz) ** 2 * coil_uh)
    else:
        assert c_min_pf is not None, "one of c_min and coil is given"
        c_high_pf = c_min_pf
    return c_high_pf * (high_hz / low_hz) ** 2, c_high_pf
