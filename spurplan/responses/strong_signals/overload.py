"""What one strong station does at a setting: noise, loss of gain, its programme on the wanted one.

With P the station at a mixer and L(df) the oscillator's noise that far from its carrier:

    reciprocal mixing     noise of P + L(df) dBm/Hz, as if it came in with the wanted signal
    blocking              20 log10(1 - 2 p) dB of gain,  p = 10^((P - IIP3)/10)
    cross-modulation      its depth on the wanted carrier 12.04 + 2 (P - IIP3) dB over its own
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.injection import line_code
from spurplan.responses.levels import into_mixer_dbm, total_dbm_per_hz
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
# Noise so far under all other raises it by less than 0.05 dB; and what circuits may favour a station in by.
FLOOR_SPARE_DB, LOSS_SPARE_DB = 20.0, 3.0
# Settings times stations worked out together.
AT_ONCE = 200_000


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


def overload(chains: Chains, occupants: Occupants, dial_hz: Ints) -> Overload:
    """Return what strong stations do at one setting of each candidate, besides making products.

    Parameters
    ----------
    chains : Chains.
    occupants : Occupants, at the levels that count.
    dial_hz : int64, shape (V,). [Hz]

    Returns
    -------
    Overload, of each row of a table, mixer and effect the worst. Blocking is told of the intercept alone; a
    set with automatic gain control loses its gain earlier.
    """
    pieces = []
    for v in range(len(chains)):
        here = _at(chains.take(np.array([v])), occupants, int(dial_hz[v]))
        pieces.append(here.replace(candidate=here.candidate + v))
    return Overload.concat(pieces)


def mixed_in_mw_hz(
    chains: Chains, occupants: Occupants, chance: Floats, dial_hz: Ints
) -> tuple[Floats, Floats]:
    """Return the noise that the oscillators mix in with all of some stations together, and how often.

    Parameters
    ----------
    chains : Chains.
    occupants : Occupants. Those that are on the air, at the levels they have.
    chance : float64, shape (n,). That each of them is.
    dial_hz : int64, shape (V, K). [Hz]

    Returns
    -------
    float64, shape (V, K). Referred to the aerial, 0 where there is nobody. Stations are left out of which no
        one alone would raise the noise of any setting by 0.05 dB. [mW/Hz]
    float64, shape (V, K). The chance that those are on which mix it in, each by its part of it; 0 where there
        is nobody.
    """
    power, there = np.zeros(dial_hz.shape), np.zeros(dial_hz.shape)
    may = may_mix_in(chains, occupants, dial_hz)
    for v in np.flatnonzero(may.any(axis=1)).tolist():
        chain, worth = chains.take(np.array([v])), np.flatnonzero(may[v])
        loud, of_each = occupants.take(worth), chance[worth]
        step = max(1, AT_ONCE // max(len(loud), 1))
        for start in range(0, dial_hz.shape[1], step):
            some = dial_hz[v, start : start + step]
            here = slice(start, start + step)
            for met in _mixers(chain, loud, some):
                mixed = 10.0 ** (met.mixed_dbm_hz / 10.0)
                power[v, here] += np.bincount(met.setting, mixed, len(some))
                there[v, here] += np.bincount(met.setting, mixed * of_each[met.occupant], len(some))
    return power, np.divide(there, power, out=there, where=power > 0.0)


def may_mix_in(chains: Chains, occupants: Occupants, dial_hz: Ints) -> npt.NDArray[np.bool_]:
    """Whether a station alone might be mixed in as noise that counts, on each candidate, shape (V, n).

    Parameters
    ----------
    chains, occupants, dial_hz : as of `mixed_in_mw_hz`.
    """
    every = np.arange(len(chains), dtype=np.int64)
    ends = [dial_hz.min(axis=1), dial_hz.max(axis=1)]
    least_floor = np.min([total_dbm_per_hz(chains, every, end) for end in ends], axis=0)
    most = np.max([_most_dbc_hz(chains, i, ends) for i in range(chains.conversions)], axis=0)
    counts_from_dbm = least_floor - FLOOR_SPARE_DB - LOSS_SPARE_DB - most
    may: npt.NDArray[np.bool_] = occupants.level_dbm[None] >= counts_from_dbm[:, None]
    return may


def _most_dbc_hz(chains: Chains, i: int, dials_hz: Sequence[Ints]) -> Floats:
    """Return the most noise of an oscillator beside the passband, on any of some dials, shape (V,). [dBc/Hz]

    Parameters
    ----------
    dials_hz : int64, shape (V,) each. [Hz]
    """
    every = np.arange(len(chains), dtype=np.int64)
    nearest = np.maximum(chains.bandwidth_hz / 2.0, 1.0)
    runs_on = np.stack([_noisy_hz(chains, i, every, dial_hz) for dial_hz in dials_hz], axis=1)
    noises = [chains.noise[i][code] for code in chains.noise_code[:, i].tolist()]
    return np.array([noise.most_dbc_hz(nearest[v], runs_on[v]) for v, noise in enumerate(noises)])


@dataclass(frozen=True)
class _Met:
    """Stations at one mixer: who, on which frequency of theirs, how strong, what noise each mixes in."""

    mixer: int
    intercept_dbm: float
    setting: Ints
    occupant: Ints
    f_hz: Ints
    level_dbm: Floats
    mixed_dbm_hz: Floats


def _mixers(chain: Chains, occupants: Occupants, dial_hz: Ints) -> Iterator[_Met]:
    """Yield the stations beside the passband at each mixer and setting, converted as the wanted signal is."""
    setting, who, f_hz = _beside(occupants, dial_hz, int(chain.bandwidth_hz[0]))
    none = np.zeros(len(who), dtype=np.int64)
    dial = dial_hz[setting]
    x = f_hz.astype(np.float64)
    lead_loss = chain.lead_loss_db(none, dial)
    level = occupants.level_dbm[who] - lead_loss
    # what the wanted signal has gained on its way, to tell noise at the aerial
    gained = -lead_loss
    for i in range(chain.conversions):
        level = into_mixer_dbm(chain, i, none, level, np.maximum(x, 1.0), dial)
        gained = gained + chain.gain_db[0, i]
        noise = chain.noise[i][int(chain.noise_code[0, i])].dbc_hz(
            np.maximum(np.abs(x - chain.wanted_hz(i, none, dial)), 1.0), _noisy_hz(chain, i, none, dial)
        )
        intercept = chain.mixer[i][int(chain.mixer_code[0, i])].intercept_dbm
        yield _Met(i, intercept, setting, who, f_hz, level, level + noise - gained)
        # past the mixer by the wanted product
        lo, rf = (int(step) for step in chain.wanted_steps[0, i])
        x = lo * chain.oscillator_hz(i, none, dial) + rf * x
        level = np.where(x > 0.0, level, -np.inf)


def _noisy_hz(chains: Chains, i: int, candidate: Ints, dial_hz: Ints) -> Floats:
    """Return where the oscillator runs whose noise is injected, shape of `dial_hz`. [Hz]"""
    runs_on = chains.oscillator_hz(i, candidate, dial_hz)
    premixed = np.array([noise.premixed for noise in chains.noise[i]])[chains.noise_code[candidate, i]]
    if not premixed.any():
        return runs_on
    a, b, h = chains.line_beside(i, candidate, np.full(len(dial_hz), line_code(0, 1)))
    return np.where(premixed, np.abs((a * dial_hz + b) / h), runs_on)


def _at(chain: Chains, occupants: Occupants, dial_hz: int) -> Overload:
    whole = np.zeros(1, dtype=np.int64)
    floor = total_dbm_per_hz(chain, whole, whole + dial_hz)
    listens_am = chain.listener[int(chain.listener_code[0])].mode == "am"
    parts = []
    for met in _mixers(chain, occupants, whole + dial_hz):
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


def _beside(occupants: Occupants, dial_hz: Ints, bandwidth_hz: int) -> tuple[Ints, Ints, Ints]:
    """Return setting and who stands beside the passband there, and the frequency of each nearest to the dial.

    Notes
    -----
    What stands in the passband is what the set is tuned to. Of a row that runs across it the nearest
    station is taken a passband off.
    """
    low, high = occupants.low_hz, occupants.high_hz
    dial = dial_hz[:, None]
    nearest = np.clip(dial, low, high)
    across = np.abs(nearest - dial) * 2 <= bandwidth_hz
    up, down = dial + bandwidth_hz, dial - bandwidth_hz
    nearest = np.where(across, np.where(high >= up, up, down), nearest)
    setting, there = np.nonzero(~across | (high >= up) | (low <= down))
    return setting, there, nearest[setting, there].astype(np.int64)


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
