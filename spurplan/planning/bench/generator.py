"""The signal generator: what its attenuator says, and what it sends out besides."""

from __future__ import annotations

import math
import re

from spurplan.errors import BadValue
from spurplan.units import parse_level

# A service generator's usual greatest output, common practice.
DEFAULT_MAXIMUM = "0.1 V EMF"
# How far its own harmonics are taken to lie below it: typical of service generators, from memory. [dB]
HARMONICS_DB = 30.0
HARMONICS = range(2, 11)
# A harmonic this far below what is measured changes the reading by 0.9 dB at most.
HARMLESS_DB = 20.0
OHMS = 50.0

_VOLTS = re.compile(r"([0-9]+(?:\.[0-9]+)?|\.[0-9]+)\s*([umµμ]?)V(?:\s*(EMF|PD))?", re.IGNORECASE)
_SCALE = {"": 1.0, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6}


def volts_dbm(volts_pd: float) -> float:
    """Return the power of a voltage across 50 ohm. [V rms -> dBm]"""
    return 10.0 * math.log10(volts_pd**2 / OHMS) + 30.0


def dbm_volts(dbm: float) -> float:
    """Return the voltage across a matched 50 ohm load; the EMF is twice that. [dBm -> V rms]"""
    return math.sqrt(OHMS * 10.0 ** ((dbm - 30.0) / 10.0))


def parse_generator_level(text: str) -> float:
    """Return a generator level in dBm from ``0.1 V EMF``, ``50 mV PD``, ``100 uV`` or ``-13 dBm``.

    Raises
    ------
    BadValue  when the text is anything else.

    Notes
    -----
    Power into a matched load of 50 ohm. A voltage without a word is the EMF, the open-circuit
    voltage, as most attenuators are marked; the PD across a matched load is half of it.
    """
    said = text.strip()
    match = _VOLTS.fullmatch(said)
    if match:
        volts = float(match[1]) * _SCALE[match[2].lower()]
        if volts <= 0.0:
            raise BadValue(text, "is no level", "give more than 0 V")
        pd = volts if (match[3] or "EMF").upper() == "PD" else volts / 2.0
        return volts_dbm(pd)
    try:
        level = parse_level(said)
    except BadValue:
        raise BadValue(
            text, "is not a generator level", "write it as 0.1 V EMF, 50 mV PD or -13 dBm"
        ) from None
    if level.dbm_low != level.dbm_high:
        raise BadValue(text, "is in S units", "write it as 0.1 V EMF, 50 mV PD or -13 dBm")
    return level.dbm_low


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
