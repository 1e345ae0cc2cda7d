"""The signal generator: what its attenuator says, and what it sends out besides."""

from __future__ import annotations

import math

from spurplan.units import OHMS

# A service generator's usual greatest output, common practice.
DEFAULT_MAXIMUM = "0.1 V EMF"
# How far its own harmonics are taken to lie below it: typical of service generators, from memory. [dB]
HARMONICS_DB = 30.0
HARMONICS = range(2, 11)
# A harmonic this far below what is measured changes the reading by 0.9 dB at most.
HARMLESS_DB = 20.0


def dbm_volts(dbm: float) -> float:
    """Return the voltage across a matched 50 ohm load; the EMF is twice that. [dBm -> V rms]"""
    return math.sqrt(OHMS * 10.0 ** ((dbm - 30.0) / 10.0))


def level_text(dbm: float) -> str:
    """Return a level in all three ways a generator may be marked."""
    pd = dbm_volts(dbm)
    return f"{dbm:.1f} dBm, {volts_text(pd)} PD into 50 ohm, {volts_text(2.0 * pd)} EMF"


def volts_text(volts: float) -> str:
    """Return a voltage to three figures in V, mV or uV."""
    for scale, unit in ((1.0, "V"), (1e-3, "mV")):
        if volts >= 0.09995 * scale if unit == "V" else volts >= 0.9995 * scale:
            return f"{volts / scale:.3g} {unit}"
    return f"{volts * 1e6:.3g} uV"
