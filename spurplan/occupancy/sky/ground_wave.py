"""The wave along the ground.

Notes
-----
A flat Earth with the numerical distance of a vertical aerial, and beyond the horizon a fixed rate, which is
what the curves of Rec. ITU-R P.368 look like over average ground; from memory, to some decibels.
"""

from __future__ import annotations

from typing import Any

import numpy as np

AVERAGE_GROUND_MS_PER_M = 5.0
# 1 kW from a short monopole: 300 mV/m at 1 km
_FIELD_AT_1_KM_DBUV = 109.5
# cymomotive force of 1 kW e.i.r.p. below that of 1 kW from a short monopole
MONOPOLE_GAIN_DBI = 4.77


def ground_wave_dbuv(distance_km: Any, frequency_mhz: Any) -> Any:
    """Return the field for 1 kW from a short monopole over average ground; arguments broadcast. [dB(uV/m)]"""
    p = 0.582 * distance_km * frequency_mhz**2 / AVERAGE_GROUND_MS_PER_M
    attenuation = (2 + 0.3 * p) / (2 + p + 0.6 * p**2)
    cube_root = np.cbrt(frequency_mhz)
    beyond_km = np.maximum(distance_km - 80 / cube_root, 0)
    plane = _FIELD_AT_1_KM_DBUV - 20 * np.log10(distance_km) + 20 * np.log10(attenuation)
    return plane - 0.05 * cube_root * beyond_km
