"""The basic MUF of a hop by the F2 layer.

References
----------
[1] Rec. ITU-R P.533, section 3.5.
"""

from __future__ import annotations

from typing import Any

import numpy as np

LONGEST_HOP_KM = 4000.0
_DISTANCE_CURVE = (0.096, 0.181, 0.088, -0.090, -0.424, -0.591, 0.74)


def basic_muf_mhz(f2_mhz: Any, m3000: Any, foe_mhz: Any, gyro_mhz: Any, hop_km: Any) -> tuple[Any, Any]:
    """Return the basic MUF of hops [MHz], and the longest hop the layer carries [km]; arguments broadcast.

    Notes
    -----
    MUF = [1 + (C(D)/C(3000)) (B - 1)] foF2 + (fH/2) (1 - D/Dmax).
    """
    ratio = np.maximum(f2_mhz / foe_mhz, 2)
    b = m3000 - 0.124
    b = b + (m3000**2 - 4) * (0.0215 + 0.005 * np.sin(7.854 / ratio - 1.9635))
    stretch = 12610 + 2140 / ratio**2 - 49720 / ratio**4 + 688900 / ratio**6
    longest_km = np.minimum(4780 + stretch * (1 / b - 0.303), LONGEST_HOP_KM)

    def distance_curve(distance_km: Any) -> Any:
        return np.polyval(_DISTANCE_CURVE, 1 - 2 * np.minimum(distance_km, longest_km) / longest_km)

    rise = 1 + distance_curve(hop_km) / distance_curve(3000.0) * (b - 1)
    near_vertical = 1 - np.minimum(hop_km / longest_km, 1)
    return rise * f2_mhz + gyro_mhz / 2 * near_vertical, longest_km
