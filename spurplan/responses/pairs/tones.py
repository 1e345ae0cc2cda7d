"""How strong two stations are at a mixer, and how loud their product comes out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.mixers import CompiledMixer
from spurplan.receiver.selectivity import Selectivity

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


class Tones:
    """The occupants at one mixer of one candidate.

    Parameters
    ----------
    chains : Chains, one candidate.
    mixer : int. Which mixer, 0 the first.
    occupants : Occupants.
    """

    def __init__(self, chains: Chains, mixer: int, occupants: Occupants) -> None:
        self.chains, self.mixer, self.occupants = chains, mixer, occupants
        self.gain_db = float(chains.gain_db[0, : mixer + 1].sum())
        self.turned = [1, *np.cumprod(np.sign(chains.wanted_steps[0, :, 1])).tolist()]

    @property
    def compiled(self) -> CompiledMixer:
        """The mixer itself."""
        return self._mixer(self.mixer)

    def _mixer(self, conversion: int) -> CompiledMixer:
        return self.chains.mixer[conversion][int(self.chains.mixer_code[0, conversion])]

    def _selectivity(self, point: int) -> Selectivity:
        return self.chains.selectivity[point][int(self.chains.selectivity_code[0, point])]

    def _wanted(self, point: int, dial_hz: Ints | Floats) -> Floats:
        wanted = self.chains.want_a[0, point] * dial_hz + self.chains.want_b[0, point]
        return np.asarray(wanted, dtype=np.float64)

    def oscillator_order(self, target: int) -> int:
        """Return the oscillator harmonic that takes part: the wanted one on the dial, none on an IF."""
        return abs(int(self.chains.wanted_steps[0, self.mixer, 0])) if target == 0 else 0

    def most_dbm(self) -> Floats:
        """Return the strongest each occupant can be at the mixer anywhere on the dial, shape (O,). [dBm]"""
        occupants, chains = self.occupants, self.chains
        middle = (occupants.low_hz + occupants.high_hz) / 2.0
        half = (occupants.high_hz - occupants.low_hz) / 2.0
        level = occupants.level_dbm + self.gain_db
        for point in range(self.mixer + 1):
            ends = []
            for dial in (float(chains.low_hz[0]), float(chains.high_hz[0])):
                wanted = self._wanted(point, np.full(len(occupants), dial))
                ends.append((np.maximum(wanted + self.turned[point] * (middle - dial), 1.0), wanted))
            (x_low, wanted_low), (x_high, wanted_high) = ends
            level = level - self._selectivity(point).least_db(x_low, x_high, wanted_low, wanted_high, half)
        return np.asarray(level, dtype=np.float64)

    def most_gained_db(self, target: int) -> float:
        """Return the most by which a product on a target can come out louder than its level says. [dB]"""
        gained = 0.0
        ends = [
            (self._wanted(target, np.asarray(dial)), dial)
            for dial in (self.chains.low_hz[0], self.chains.high_hz[0])
        ]
        for point in range(1, target):
            (x_low, low), (x_high, high) = ends
            least = self._selectivity(point).least_db(
                x_low, x_high, self._wanted(point, low), self._wanted(point, high), 0.0
            )
            through = self._mixer(point).suppression_db(0, 1, 0.0)
            gained -= float(least) + float(through)
        return gained

    def level_dbm(self, f_hz: Floats, antenna_dbm: Floats, dial_hz: Ints) -> Floats:
        """Return the level of stations at the mixer, all of shape (n,). [dBm]"""
        level = antenna_dbm + self.gain_db - self._lead_loss_db(dial_hz)
        for point in range(self.mixer + 1):
            wanted = self._wanted(point, dial_hz)
            x = np.maximum(wanted + self.turned[point] * (f_hz - dial_hz), 1.0)
            level = level - self._selectivity(point).loss_db(x, wanted)
        return np.asarray(level, dtype=np.float64)

    def heard_dbm(
        self, order: int, more_db: float, target: int, sum_dbm: Floats, off_hz: Floats, dial_hz: Ints
    ) -> Floats:
        """Return the heard level of products made in the mixer, shape (n,).

        Parameters
        ----------
        order : int. Order of the product in the signals.
        more_db : float. See `intermodulation.Product.more_db`. [dB]
        target : int. What it lands on: 0 the wanted frequency there, i the i-th IF.
        sum_dbm : float64, shape (n,). The tones at the mixer, each as often as it takes part. [dBm]
        off_hz : float64, shape (n,). How far off the target the product is. [Hz]
        dial_hz : int64, shape (n,). [Hz]

        Notes
        -----
        With P = sum / n the product is P - S(m, n, P) + more, S the mixer's suppression of a
        single tone's product of that order; two tones make n!/(|k1|! |k2|!) as much. On a
        later IF it goes straight through the mixers between.
        """
        chains = self.chains
        even = sum_dbm / order
        level = even - self.compiled.suppression_db(self.oscillator_order(target), order, even) + more_db
        for point in range(1, target):
            lost = self._selectivity(point).loss_db(
                self._wanted(target, dial_hz) + off_hz, self._wanted(point, dial_hz)
            )
            level = level - lost - self._mixer(point).suppression_db(0, 1, 0.0)
        last = chains.conversions
        centre = self._wanted(last, dial_hz)
        level = level - self._selectivity(last).loss_db(centre + np.abs(off_hz), centre)
        return np.asarray(level - self.gain_db + self._lead_loss_db(dial_hz), dtype=np.float64)

    def _lead_loss_db(self, dial_hz: Ints) -> Floats:
        return self.chains.lead_loss_db(np.zeros(len(dial_hz), dtype=np.int64), dial_hz)
