"""What a generator must give so that a signal on some route comes out as loud as the wanted one.

The constant-output method turns the chain round: the level at the detector is
fixed, and the level at the terminals is worked out backwards, mixer by mixer.
`responses.levels.heard_dbm` goes the other way; one is the inverse of the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains
from spurplan.receiver.mixers import CompiledMixer
from spurplan.receiver.selectivity import Selectivity
from spurplan.responses.levels import sum_db
from spurplan.responses.lines import lines_of_routes
from spurplan.rows import Rows, floats, ints, shared

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Parts:
    """What a signal passes on one range, with N conversions.

    Attributes
    ----------
    selectivity : tuple of N + 1 Selectivity.
    mixer : tuple of N CompiledMixer.
    pickup_db : tuple of N float. What gets past each mixer; inf where nothing does. [dB]
    gain_db : tuple of N + 1 float. [dB]
    """

    selectivity: tuple[Selectivity, ...]
    mixer: tuple[CompiledMixer, ...]
    pickup_db: tuple[float, ...]
    gain_db: tuple[float, ...]


class Injections(Rows):
    """Signals from a generator into one range of a set, n of them.

    Attributes
    ----------
    chains : Chains of that range alone, N conversions.
    steps : int64, shape (n, N, 2). The route of each.
    dial_hz, generator_hz : int64, shape (n,). [Hz]
    reference_dbm : float64, shape (n,). The wanted signal that sets the output. [dBm]
    x_hz, wanted_hz : float64, shape (N + 1, n). The signal, and the wanted one, at every point
        of the chain. [Hz]
    """

    chains: Chains = shared()
    steps: Ints = ints(ndim=3)
    dial_hz: Ints = ints()
    generator_hz: Ints = ints()
    reference_dbm: Floats = floats()
    x_hz: Floats = floats(axis=1, ndim=2)
    wanted_hz: Floats = floats(axis=1, ndim=2)

    @property
    def works(self) -> Bools:
        """Whether the signal and everything made of it lies above 0 Hz, shape (n,)."""
        return np.asarray((self.x_hz > 0).all(axis=0), dtype=np.bool_)


def generator_hz(chains: Chains, steps: Ints, dial_hz: Ints) -> Ints:
    """Return where routes through one range pick up a signal, whole hertz, shape (n,). [Hz]

    Parameters
    ----------
    chains : Chains of one candidate.
    steps : int64, shape (n, N, 2).
    dial_hz : int64, shape (n,). [Hz]
    """
    lines = lines_of_routes(chains.take(np.zeros(len(dial_hz), dtype=np.int64)), steps)
    return np.asarray(np.rint(lines.at_hz(dial_hz)), dtype=np.int64)


def injections(chains: Chains, steps: Ints, dial_hz: Ints, reference_dbm: Floats) -> Injections:
    """Return signals placed on their routes; else as `Injections`."""
    rf_hz = generator_hz(chains, steps, dial_hz)
    first_chain = np.zeros(len(dial_hz), dtype=np.int64)
    x = [rf_hz.astype(np.float64)]
    for i in range(chains.conversions):
        x.append(chains.injected_hz(i, first_chain, steps[:, i, 0], dial_hz) + steps[:, i, 1] * x[-1])
    points = range(chains.conversions + 1)
    wanted = np.stack([chains.wanted_hz(i, first_chain, dial_hz) for i in points]).astype(np.float64)
    return Injections(chains, steps, dial_hz, rf_hz, reference_dbm, np.stack(x), wanted)


def parts_of(chains: Chains) -> Parts:
    """Return what stands in the chain of one candidate."""
    n = chains.conversions
    return Parts(
        tuple(chains.selectivity[i][int(chains.selectivity_code[0, i])] for i in range(n + 1)),
        tuple(chains.mixer[i][int(chains.mixer_code[0, i])] for i in range(n)),
        tuple(chains.pickup_db[0].tolist()),
        tuple(chains.gain_db[0].tolist()),
    )


def losses_db(parts: Parts, signals: Injections, point: int) -> Floats:
    """Return the attenuation at one point relative to the wanted signal there, shape (n,). [dB]"""
    return parts.selectivity[point].loss_db(signals.x_hz[point], signals.wanted_hz[point])


def above_wanted_db(parts: Parts, signals: Injections, ahead_db: Floats | None = None) -> Floats:
    """Return how far the generator must stand above the wanted signal for the same output, shape (n,). [dB]

    Parameters
    ----------
    parts : Parts.
    signals : Injections; all of them must work.
    ahead_db : float64, shape (n,), or None. Losses ahead of the first mixer, where they are known. [dB]

    Notes
    -----
    Backwards from the detector, where a wanted signal of the reference level gives
    reference + gains. A product of order n in the signal needs 1/n dB more for each dB it has to
    rise, so for those the answer depends on the reference.
    """
    conversions = len(parts.mixer)
    lead_loss = parts.selectivity[0].lead_loss_db(signals.wanted_hz[0])
    level = signals.reference_dbm - lead_loss + sum(parts.gain_db[:-1])
    level = level + losses_db(parts, signals, conversions)
    for i in range(conversions - 1, -1, -1):
        m, n = np.abs(signals.steps[:, i, 0]), np.abs(signals.steps[:, i, 1])
        lost = losses_db(parts, signals, i) if i or ahead_db is None else ahead_db
        into = parts.mixer[i].need_dbm(m, n, level)
        through = into + lost
        # straight through a mixer is of first order: its suppression does not depend on level
        straight = (m == 0) & (n == 1)
        around = level + parts.pickup_db[i]
        level = np.where(straight, -sum_db(-through, -around), through)
        level = level - parts.gain_db[i]
    return np.asarray(level + lead_loss - signals.reference_dbm, dtype=np.float64)
