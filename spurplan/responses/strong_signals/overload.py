"""What one strong station does at a setting: noise, loss of gain, its programme on the wanted one.

With P the station at a mixer and L(df) the oscillator's noise that far from its carrier:

    reciprocal mixing     noise of P + L(df) dBm/Hz, as if it came in with the wanted signal
    blocking              20 log10(1 - 2 p) dB of gain,  p = 10^((P - IIP3)/10)
    cross-modulation      its depth on the wanted carrier 12.04 + 2 (P - IIP3) dB over its own
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.description import Conversion, Receiver
from spurplan.receiver.injection import line_code
from spurplan.responses.levels import into_mixer_dbm, total_dbm_per_hz
from spurplan.responses.strong_signals.oscillator_noise import noise_of, oscillator_noise_dbc_hz
from spurplan.rows import Rows, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

EFFECTS = ("reciprocal mixing", "blocking", "cross-modulation")
RECIPROCAL, BLOCKING, CROSS = range(3)
# What a pad of a decibel gains against each, in decibels against the wanted signal: noise by mixing falls as
# that does, what is blocked comes back as fast as the station falls, borrowed modulation falls twice as fast.
PAD_GAINS_DB = (0, 1, 2)
# From here on each is worth a line: the rise of the noise, the loss of gain [dB].
NOTICED_DB = 1.0
# A station's programme on the wanted carrier spoils from 26 dB under it, 12.04 + 2 (P - IIP3) = -26 dB.
CROSS_FROM_DB = -19.02
# beyond 2 p = 1 the cubic law says nothing any more: the stage is shut
SHUT_DB = -60.0


class Overload(Rows):
    """n stations, each with one thing that it does on one candidate's setting.

    Attributes
    ----------
    candidate, occupant, mixer, effect : int64, shape (n,). The last an index into `EFFECTS`.
    f_hz : int64, shape (n,). The station; of a band what of it is nearest. [Hz]
    at_mixer_dbm : float64, shape (n,). Its level there. [dBm]
    amount_db : float64, shape (n,). By how much the noise rises, the gain falls, or the depth of the borrowed
        modulation stands to its own. [dB]
    """

    candidate: Ints = ints()
    occupant: Ints = ints()
    mixer: Ints = ints()
    effect: Ints = ints()
    f_hz: Ints = ints()
    at_mixer_dbm: Floats = floats()
    amount_db: Floats = floats()


def blocking_db(above_iip3_db: Floats) -> Floats:
    """Return the change of gain by a second signal that much over the intercept, shape (n,). [dB]"""
    left = 1.0 - 2.0 * 10.0 ** (above_iip3_db / 10.0)
    change: Floats = 20.0 * np.log10(np.maximum(left, 10.0 ** (SHUT_DB / 20.0)))
    return change


def cross_modulation_db(above_iip3_db: Floats) -> Floats:
    """Return the depth of modulation on another carrier against the station's own, shape (n,). [dB]"""
    depth: Floats = 20.0 * np.log10(4.0) + 2.0 * above_iip3_db
    return depth


def overload(receiver: Receiver, chains: Chains, occupants: Occupants, dial_hz: Ints) -> Overload:
    """Return what strong stations do at one setting of each candidate, besides making products.

    Parameters
    ----------
    receiver : Receiver.
    chains : Chains, each candidate one of its ranges.
    occupants : Occupants, at the levels that count.
    dial_hz : int64, shape (V,). [Hz]

    Returns
    -------
    Overload, of each row of a table, mixer and effect the worst. Blocking is told of the intercept alone; a
    set with automatic gain control loses its gain earlier.
    """
    ranges = {range_.name: range_ for range_ in receiver.ranges}
    pieces = []
    for v in range(len(chains)):
        chain = chains.take(np.array([v]))
        conversions = receiver.conversions_of(ranges[chain.names[int(chain.name_code[0])]])
        here = _at(chain, conversions, occupants, int(dial_hz[v]))
        pieces.append(here.replace(candidate=here.candidate + v))
    return Overload.concat(pieces)


def mixed_in_dbm_hz(receiver: Receiver, chains: Chains, occupants: Occupants, dial_hz: Ints) -> Floats:
    """Return the noise that the oscillators mix in with all of some stations together, shape (V,). [dBm/Hz]

    Parameters
    ----------
    receiver, chains, dial_hz : as of `overload`.
    occupants : Occupants. Those that are on the air, at the levels they have.

    Returns
    -------
    float64. Referred to the aerial; -inf where there is nobody.
    """
    ranges = {range_.name: range_ for range_ in receiver.ranges}
    out = np.full(len(chains), -np.inf)
    for v in range(len(chains)):
        chain = chains.take(np.array([v]))
        conversions = receiver.conversions_of(ranges[chain.names[int(chain.name_code[0])]])
        met = _mixers(chain, conversions, occupants, int(dial_hz[v]))
        power = sum(float((10.0 ** (there.mixed_dbm_hz / 10.0)).sum()) for there in met)
        out[v] = 10.0 * np.log10(power) if power > 0.0 else -np.inf
    return out


@dataclass(frozen=True)
class _Met:
    """Stations at one mixer: who, on which frequency of theirs, how strong, what noise each mixes in."""

    mixer: int
    intercept_dbm: float
    occupant: Ints
    f_hz: Ints
    level_dbm: Floats
    mixed_dbm_hz: Floats


def _mixers(
    chain: Chains, conversions: tuple[Conversion, ...], occupants: Occupants, dial_hz: int
) -> Iterator[_Met]:
    """Yield the stations beside the passband at each mixer, converted as the wanted signal is."""
    who, f_hz = _beside(occupants, dial_hz, int(chain.bandwidth_hz[0]))
    none = np.zeros(len(who), dtype=np.int64)
    dial = np.full(len(who), dial_hz, dtype=np.int64)
    x = f_hz.astype(np.float64)
    lead_loss = chain.lead_loss_db(none, dial)
    level = occupants.level_dbm[who] - lead_loss
    # what the wanted signal has gained on its way, to tell noise at the aerial
    gained = -lead_loss
    for i, conversion in enumerate(conversions):
        level = into_mixer_dbm(chain, i, none, level, np.maximum(x, 1.0), dial)
        gained = gained + chain.gain_db[0, i]
        noise = oscillator_noise_dbc_hz(
            noise_of(conversion), np.maximum(np.abs(x - chain.wanted_hz(i, none, dial)), 1.0),
            _noisy_hz(chain, i, conversion, dial), conversion.multiplier,
        )  # fmt: skip
        intercept = chain.mixer[i][int(chain.mixer_code[0, i])].intercept_dbm
        yield _Met(i, intercept, who, f_hz, level, level + noise - gained)
        # past the mixer by the wanted product
        lo, rf = (int(step) for step in chain.wanted_steps[0, i])
        x = lo * chain.oscillator_hz(i, none, dial) + rf * x
        level = np.where(x > 0.0, level, -np.inf)


def _noisy_hz(chains: Chains, i: int, conversion: Conversion, dial_hz: Ints) -> Floats:
    """Return where the oscillator runs whose noise is injected, shape of `dial_hz`. [Hz]"""
    none = np.zeros(len(dial_hz), dtype=np.int64)
    if conversion.premix is None:
        return chains.oscillator_hz(i, none, dial_hz)
    a, b, h = chains.line_beside(i, none, np.full(len(dial_hz), line_code(0, 1)))
    variable: Floats = np.abs((a * dial_hz + b) / h)
    return variable


def _at(chain: Chains, conversions: tuple[Conversion, ...], occupants: Occupants, dial_hz: int) -> Overload:
    whole = np.zeros(1, dtype=np.int64)
    floor = total_dbm_per_hz(chain, whole, whole + dial_hz)
    listens_am = chain.listener[int(chain.listener_code[0])].mode == "am"
    parts = []
    for met in _mixers(chain, conversions, occupants, dial_hz):
        rise = 10.0 * np.log10(1.0 + 10.0 ** ((met.mixed_dbm_hz - floor) / 10.0))
        above = met.level_dbm - met.intercept_dbm
        lost, depth = blocking_db(above), cross_modulation_db(above)
        carrier = occupants.sound[met.occupant] == CARRIER
        for effect, amount, counts in (
            (RECIPROCAL, rise, rise >= NOTICED_DB),
            (BLOCKING, lost, lost <= -NOTICED_DB),
            (CROSS, depth, (above > CROSS_FROM_DB) & listens_am & carrier),
        ):
            rows = np.flatnonzero(counts)
            none = np.zeros(len(rows), dtype=np.int64)
            parts.append(
                Overload(
                    none,
                    met.occupant[rows],
                    none + met.mixer,
                    none + effect,
                    met.f_hz[rows],
                    met.level_dbm[rows],
                    amount[rows],
                )
            )
    return _worst_of_each(Overload.concat(parts), occupants)


def _beside(occupants: Occupants, dial_hz: int, bandwidth_hz: int) -> tuple[Ints, Ints]:
    """Return who stands beside the passband, and the frequency of each that is nearest to the dial.

    Notes
    -----
    What stands in the passband is what the set is tuned to. Of a row that runs across it the nearest
    station is taken a passband off.
    """
    low, high = occupants.low_hz, occupants.high_hz
    nearest = np.clip(dial_hz, low, high)
    across = np.abs(nearest - dial_hz) * 2 <= bandwidth_hz
    up, down = dial_hz + bandwidth_hz, dial_hz - bandwidth_hz
    nearest = np.where(across, np.where(high >= up, up, down), nearest)
    there = np.flatnonzero(~across | (high >= up) | (low <= down))
    return there, nearest[there].astype(np.int64)


def _worst_of_each(overloads: Overload, occupants: Occupants) -> Overload:
    """Return of each row of a table, mixer and effect the station that does most."""
    own = (
        occupants.table[overloads.occupant].astype(np.int64),
        occupants.row[overloads.occupant].astype(np.int64),
    )
    order = np.lexsort((-np.abs(overloads.amount_db), overloads.mixer, overloads.effect, own[1], own[0]))
    key = np.stack([own[0], own[1], overloads.effect, overloads.mixer])[:, order]
    fresh = np.append(True, (key[:, 1:] != key[:, :-1]).any(axis=0))[: len(order)]
    return overloads.take(order[fresh])
