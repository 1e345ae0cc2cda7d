"""From which level on an intruder spoils a setting: the bar of hearing, or what the wanted signal bears."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER
from spurplan.receiver.chain import Chains
from spurplan.responses.levels import external_dbm_per_hz

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Thresholds:
    """What spoils, n pairs of a setting and an intruder.

    Attributes
    ----------
    heard_dbm, borne_dbm : float64, shape (n,). From where on it is heard, and up to where the wanted signal
        bears it. [dBm]
    on_noise : bool, shape (n,). Whether the wanted signal stands on the noise outside, and rises with it.
    whistle_hz : float64, shape (n,). Width round the wanted carrier in which that holds; inf where
        it holds in the whole passband. [Hz]
    beside_db : float64, shape (n,). How much louder it must be beside that. [dB]
    """

    heard_dbm: Floats
    borne_dbm: Floats
    on_noise: npt.NDArray[np.bool_]
    whistle_hz: Floats
    beside_db: Floats

    @property
    def spoils_dbm(self) -> Floats:
        """From this heard level on it spoils, shape (n,). [dBm]"""
        return np.maximum(self.heard_dbm, self.borne_dbm)

    def raised_db(self, noise_db: float) -> Floats:
        """Return how much higher that is with so much more noise outside, shape (n,). [dB]"""
        borne = self.borne_dbm + np.where(self.on_noise, noise_db, 0.0)
        raised: Floats = np.maximum(self.heard_dbm + noise_db, borne) - self.spoils_dbm
        return raised


def thresholds(
    chains: Chains,
    candidate: Ints,
    dial_hz: Ints,
    sound: npt.NDArray[np.int8],
    width_hz: npt.NDArray[np.int32],
    beat_hz: Floats,
) -> Thresholds:
    """Return what spoils, all arguments of shape (n,).

    Parameters
    ----------
    sound, width_hz : as of `Occupants`.
    beat_hz : distance of the intruder from the middle of the last IF; NaN where it may be
        anywhere in the passband. [Hz]

    Notes
    -----
    An intruder spoils where it is heard and less than the listener's protection under the wanted
    signal. The first stands on the noise outside, the second where the wanted signal does.
    """
    density = external_dbm_per_hz(chains, candidate, dial_hz)
    heard, borne, whistle, beside = (np.zeros(len(candidate)) for _ in range(4))
    on_noise = np.zeros(len(candidate), dtype=np.bool_)
    for code, listener in enumerate(chains.listener):
        rows = np.flatnonzero(chains.listener_code[candidate] == code)
        of, wide, beat, noise = sound[rows], width_hz[rows], beat_hz[rows], density[rows]
        wanted = listener.wanted_dbm(dial_hz[rows], noise)
        anywhere = np.isnan(beat)
        protection = np.where(
            anywhere, listener.worst_protection_db(of), listener.protection_db(of, np.nan_to_num(beat))
        )
        borne[rows] = wanted - protection + listener.outside_db(of, wide)
        heard[rows] = noise + listener.hearing_dbhz(of, wide)
        on_noise[rows] = listener.wanted_on_noise
        spoils = np.maximum(heard[rows], borne[rows])
        # beside the whistle a carrier is heard by its programme
        programme = np.maximum(
            noise + listener.programme_dbhz(wide), wanted - listener.programme_protection_db
        )
        carrier = anywhere & (of == CARRIER)
        whistle[rows] = np.where(carrier, listener.whistle_hz, np.inf)
        beside[rows] = np.where(carrier, np.maximum(programme - spoils, 0.0), 0.0)
    return Thresholds(heard, borne, on_noise, whistle, beside)
