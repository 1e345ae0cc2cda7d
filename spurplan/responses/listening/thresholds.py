"""From which level on an intruder spoils a setting: the bar of hearing, or what the wanted signal bears."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER
from spurplan.receiver.chain import Chains
from spurplan.responses.levels import external_dbm_per_hz

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


class Thresholds(NamedTuple):
    """What spoils, n pairs of a setting and an intruder.

    Attributes
    ----------
    spoils_dbm : float64, shape (n,). From this heard level on it spoils. [dBm]
    whistle_hz : float64, shape (n,). Width round the wanted carrier in which that holds; inf where
        it holds in the whole passband. [Hz]
    beside_db : float64, shape (n,). How much louder it must be beside that. [dB]
    """

    spoils_dbm: Floats
    whistle_hz: Floats
    beside_db: Floats


def thresholds(
    chains: Chains,
    candidate: Ints,
    dial_hz: Ints,
    sound: npt.NDArray[np.int8],
    width_hz: npt.NDArray[np.int32],
    beat_hz: Floats,
    noise_db: float = 0.0,
) -> Thresholds:
    """Return what spoils, all arguments of shape (n,).

    Parameters
    ----------
    sound, width_hz : as of `Occupants`.
    beat_hz : distance of the intruder from the middle of the last IF; NaN where it may be
        anywhere in the passband. [Hz]
    noise_db : float. By how much the noise outside is higher than expected. [dB]

    Notes
    -----
    An intruder spoils where it is heard and less than the listener's protection under the wanted
    signal. Both stand on the noise outside.
    """
    density = external_dbm_per_hz(chains, candidate, dial_hz) + noise_db
    spoils, whistle, beside = (np.zeros(len(candidate)) for _ in range(3))
    for code, listener in enumerate(chains.listener):
        rows = np.flatnonzero(chains.listener_code[candidate] == code)
        of, wide, beat, noise = sound[rows], width_hz[rows], beat_hz[rows], density[rows]
        wanted = listener.wanted_dbm(dial_hz[rows], noise)
        anywhere = np.isnan(beat)
        protection = np.where(
            anywhere, listener.worst_protection_db(of), listener.protection_db(of, np.nan_to_num(beat))
        )
        borne = wanted - protection + listener.outside_db(of, wide)
        spoils[rows] = np.maximum(noise + listener.hearing_dbhz(of, wide), borne)
        # beside the whistle a carrier is heard by its programme
        programme = np.maximum(
            noise + listener.programme_dbhz(wide), wanted - listener.programme_protection_db
        )
        carrier = anywhere & (of == CARRIER)
        whistle[rows] = np.where(carrier, listener.whistle_hz, np.inf)
        beside[rows] = np.where(carrier, np.maximum(programme - spoils[rows], 0.0), 0.0)
    return Thresholds(spoils, whistle, beside)
