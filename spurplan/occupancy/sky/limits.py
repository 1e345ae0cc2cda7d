"""What the functions of the sky take, and the refusal of what lies outside."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused

Floats = npt.NDArray[np.float64]


def refuse_outside(given: Mapping[str, Floats], limits: Mapping[str, tuple[float, float]]) -> None:
    """Pass when every value lies inside the limits of its name and months are whole.

    Raises
    ------
    Refused  with one fault an argument: its first value outside.
    """
    faults = []
    for name, values in given.items():
        low, high = limits[name]
        outside = ~((values >= low) & (values <= high))
        if name == "month":
            outside |= values != np.floor(values)
        if outside.any():
            first = values[outside].ravel()[0]
            faults.append(Fault(name, f"is not from {low:,} to {high:,}", f"{first:g}", "give one inside"))
    if faults:
        raise Refused(faults)
