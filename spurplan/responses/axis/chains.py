"""Chains that differ in their IF alone: what is the same in all of them, kept once.

Ten thousand IFs of one range have one dial, one front end, one mixer and one floor.
A route through them is one slope and one offset that grows evenly with the IF, so what
is worked out for a few places on the dial serves all of them.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains
from spurplan.receiver.mixers import CompiledMixer
from spurplan.receiver.noise import Floor
from spurplan.receiver.selectivity import Selectivity
from spurplan.rows import Rows, ints, shared

Ints = npt.NDArray[np.int64]


class Axis(Rows):
    """V candidates with one conversion each, alike but for the IF.

    Attributes
    ----------
    if_hz, osc_b : int64, shape (V,). Oscillator on (osc_a d + osc_b) / osc_h. [Hz]
    osc_a, osc_h : int.
    wanted : (lo, rf). The wanted product.
    low_hz, high_hz, bandwidth_hz : int. Dial, and the passband at -6 dB. [Hz]
    gain_db : float. Terminals to the mixer. [dB]
    front : Selectivity ahead of the mixer.
    edge_db : float. Loss of the filter at the edge of the passband. [dB]
    filter : Selectivity behind it.
    mixer : CompiledMixer.
    floor : Floor.
    """

    if_hz: Ints = ints()
    osc_b: Ints = ints()
    osc_a: int = shared()
    osc_h: int = shared()
    wanted: tuple[int, int] = shared()
    low_hz: int = shared()
    high_hz: int = shared()
    bandwidth_hz: int = shared()
    gain_db: float = shared()
    front: Selectivity = shared()
    filter: Selectivity = shared()
    edge_db: float = shared()
    mixer: CompiledMixer = shared()
    floor: Floor = shared()


def axis_of(chains: Chains) -> Axis | None:
    """Return candidates as an axis; None where they differ in more than their IF.

    Parameters
    ----------
    chains : Chains, V candidates, at least one.
    """
    if chains.conversions != 1 or np.isfinite(chains.pickup_db).any():
        return None
    if any(lead.takes_wanted for lead in chains.selectivity[0]):
        return None
    alike = (
        chains.osc_a, chains.osc_h, chains.wanted_steps.reshape(len(chains), -1), chains.want_a,
        chains.low_hz, chains.high_hz, chains.bandwidth_hz, chains.gain_db, chains.selectivity_code,
        chains.mixer_code, chains.floor_code,
    )  # fmt: skip
    if any((array != array[:1]).any() for array in alike) or chains.want_a[0, 1] != 0:
        return None
    bandwidth = int(chains.bandwidth_hz[0])
    last = chains.selectivity[1][int(chains.selectivity_code[0, 1])]
    centre = float(chains.if_hz[0])
    return Axis(
        if_hz=chains.if_hz,
        osc_b=chains.osc_b[:, 0],
        osc_a=int(chains.osc_a[0, 0]),
        osc_h=int(chains.osc_h[0, 0]),
        wanted=(int(chains.wanted_steps[0, 0, 0]), int(chains.wanted_steps[0, 0, 1])),
        low_hz=int(chains.low_hz[0]),
        high_hz=int(chains.high_hz[0]),
        bandwidth_hz=bandwidth,
        gain_db=float(chains.gain_db[0, 0]),
        front=chains.selectivity[0][int(chains.selectivity_code[0, 0])],
        filter=last,
        edge_db=float(last.loss_db(centre + bandwidth / 2.0, centre)),
        mixer=chains.mixer[0][int(chains.mixer_code[0, 0])],
        floor=chains.floor[int(chains.floor_code[0])],
    )
