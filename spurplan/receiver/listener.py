"""Who listens: what is wanted, from where it is deaf, what is heard beside it and what spoils it.

Every figure stands on the noise from outside, never on the set's own: a deaf
set does not make an intruder bearable, it only makes the wanted signal vanish.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, get_args

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER, VOICE
from spurplan.tomlfile import shipped_toml
from spurplan.units import S_CHANGE_HZ, parse_level

Floats = npt.NDArray[np.float64]

Mode = Literal["am", "ssb", "cw", "fm"]
MODES: tuple[str, ...] = get_args(Mode)
WANTED_WORDS = ("weak", "fair", "good")

# From this IF bandwidth up frequency modulation is taken for broadcasting. [Hz]
BROADCAST_FM_HZ = 100_000


@cache
def listening_table() -> Mapping[str, Any]:
    """Return the tables of ``data/listener.toml`` by mode, and ``ear``."""
    return shipped_toml("listener.toml")


@dataclass(frozen=True)
class Listener:
    """Somebody who listens to one kind of signal in one IF bandwidth.

    Attributes
    ----------
    mode : str. One of `MODES`.
    wanted : str. "weak", "fair" or "good", over the noise from outside; or a level at the aerial,
        as text.
    bandwidth_hz : int. -6 dB width of the last IF. [Hz]
    """

    mode: str
    wanted: str
    bandwidth_hz: int

    @property
    def _table(self) -> Mapping[str, Any]:
        broadcast = self.mode == "fm" and self.bandwidth_hz >= BROADCAST_FM_HZ
        table: Mapping[str, Any] = listening_table()["fm_broadcast" if broadcast else self.mode]
        return table

    def _over_density(self, name: str) -> float:
        """Return a figure of the table over the noise of one hertz. [dB-Hz]"""
        in_band = 10.0 * math.log10(self.bandwidth_hz) if self._table.get("in_if_band") else 0.0
        return float(self._table[name]) + in_band

    @property
    def deaf_below_dbhz(self) -> float:
        """Least wanted signal over all noise with which the set is not deaf. [dB-Hz]"""
        return self._over_density("deaf_below")

    @property
    def tones_only(self) -> bool:
        """Whether only what falls into the ear's own band counts: telegraphy."""
        return bool(self._table.get("tones_only", False))

    @property
    def passband_hz(self) -> int:
        """Width in which an intruder is heard: the IF's, or the ear's where telegraphy is read. [Hz]"""
        return min(self.bandwidth_hz, int(_ear()["band"])) if self.tones_only else self.bandwidth_hz

    @property
    def wanted_on_noise(self) -> bool:
        """Whether the wanted signal is told by how far it stands over the noise outside."""
        return self.wanted in WANTED_WORDS

    def wanted_dbm(self, hz: npt.ArrayLike, external_dbm_per_hz: npt.ArrayLike) -> Floats:
        """Return the level of the wanted signal at the aerial.

        Parameters
        ----------
        hz : array. Its frequency. [Hz]
        external_dbm_per_hz : array of the same shape. Noise from outside there. [dBm/Hz]

        Returns
        -------
        float64 of that shape. [dBm, 50 ohm]
        """
        if self.wanted_on_noise:
            return np.asarray(external_dbm_per_hz, dtype=np.float64) + self._over_density(self.wanted)
        level = parse_level(self.wanted)
        return np.where(np.asarray(hz) <= S_CHANGE_HZ, level.dbm_low, level.dbm_high)

    def hearing_dbhz(self, sound: npt.NDArray[Any], width_hz: npt.NDArray[Any]) -> Floats:
        """Return from where on an intruder is heard, over the noise from outside in 1 Hz.

        Parameters
        ----------
        sound : int array, shape (n,). Index into `SOUNDS`.
        width_hz : int array, shape (n,). What its emission occupies. [Hz]

        Returns
        -------
        float64, shape (n,). A tone by the ear's own selectivity, everything else by the noise
        of the band it fills. [dB-Hz]
        """
        if self._table.get("in_if_band"):
            return 10.0 * math.log10(self.bandwidth_hz) + self.outside_db(sound, width_hz)
        tone = float(_ear()["tone"]) + float(self._table["tone_penalty"])
        filled = np.minimum(np.maximum(width_hz, 1), self.passband_hz)
        return np.where(
            np.asarray(sound) == CARRIER, tone, 10.0 * np.log10(filled) + self.outside_db(sound, width_hz)
        )

    def outside_db(self, sound: npt.NDArray[Any], width_hz: npt.NDArray[Any]) -> Floats:
        """Return how much of an emission's power falls beside the passband, shape of `sound`. [dB]

        Notes
        -----
        Taken as evenly filled; of a carrier's sidebands nothing is lost that counts.
        """
        wider = np.maximum(np.asarray(width_hz, dtype=np.float64) / self.passband_hz, 1.0)
        return np.where(np.asarray(sound) == CARRIER, 0.0, 10.0 * np.log10(wider))

    def protection_db(self, sound: npt.NDArray[Any], beat_hz: npt.NDArray[Any]) -> Floats:
        """Return how far under the wanted signal an intruder must be not to spoil it.

        Parameters
        ----------
        sound : int array, shape (n,). Index into `SOUNDS`.
        beat_hz : array, shape (n,). Distance of its carrier from the wanted one in the IF. [Hz]

        Returns
        -------
        float64, shape (n,). [dB]
        """
        ratio = self._table["protection"]
        sound = np.asarray(sound)
        needed = np.where(sound == VOICE, float(ratio["voice"]), float(ratio["programme"]))
        carrier = sound == CARRIER
        needed[carrier] = self._tone_protection_db(np.asarray(beat_hz, dtype=np.float64)[carrier])
        return needed

    def _tone_protection_db(self, beat_hz: Floats) -> Floats:
        """Return the same for a carrier, of the shape of the beats. [dB]"""
        ratio, ear = self._table["protection"], _ear()
        beat = np.abs(beat_hz)
        octaves = np.log2(np.maximum(beat, float(ear["beat_to"])) / float(ear["beat_to"]))
        whistle = float(ratio["beat"]) - float(ear["beat_fall_per_octave"]) * octaves
        # the programme that the carrier bears is heard whatever the beat
        return np.where(
            beat < float(ear["beat_from"]),
            float(ratio["zero_beat"]),
            np.maximum(whistle, float(ratio["zero_beat"])),
        )

    def worst_protection_db(self, sound: npt.NDArray[Any]) -> Floats:
        """Return the most protection a sound asks for anywhere in the passband, shape of `sound`. [dB]"""
        worst_hz = np.full(np.shape(sound), 0.5 * (float(_ear()["beat_from"]) + float(_ear()["beat_to"])))
        return self.protection_db(sound, worst_hz)

    @property
    def whistle_hz(self) -> float:
        """Width in which another carrier whistles with the wanted one; inf where any tone counts. [Hz]"""
        return math.inf if self.mode != "am" else 2.0 * float(_ear()["beat_to"])

    def programme_dbhz(self, width_hz: npt.NDArray[Any]) -> Floats:
        """Return from where on the programme a carrier bears is heard, shape of `width_hz`. [dB-Hz]"""
        filled = np.minimum(np.maximum(width_hz, 1), self.passband_hz)
        return np.asarray(10.0 * np.log10(filled), dtype=np.float64)

    @property
    def programme_protection_db(self) -> float:
        """How far under the wanted signal a carrier must be whose beat is not heard. [dB]"""
        return float(self._table["protection"]["programme"])


def _ear() -> Mapping[str, Any]:
    ear: Mapping[str, Any] = listening_table()["ear"]
    return ear
