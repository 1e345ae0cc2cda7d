"""How loud: the level of an occupant along its route, and what it takes to be heard.

Forward, for an occupant on a line at one dial frequency:

    ahead of mixer i:   P <- P - A_(i-1)(x) + gain_(i-1)
    through it:         P <- P - S_i(|lo_i|, |rf_i|, P)
    heard level = P at the detector - the sum of the gains

taken at the occupant's frequency nearest the line. Powers add where a signal comes more ways than one,
round circuits or past a mixer: nobody knows the phase. What boxes in the aerial lead take off the wanted
signal lowers every level into a mixer, and is taken off again at the detector. Backward, the same sums with
the least attenuation anywhere on the line give the least antenna level that
could be heard; a line that asks more than the air holds is dropped early.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.emissions import CARRIER
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, per_code
from spurplan.responses.lines import Lines
from spurplan.units import HIGHEST_HZ

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# 10^(x/10) = e^(x * this)
PER_DB = np.log(10.0) / 10.0
# Highest |lo| and |rf| whose suppression is asked for in bounds.
_BINS = 1 << 14


def floor_dbm(chains: Chains, candidate: Ints, dial_hz: Ints) -> Floats:
    """Return the noise in the final passband, referred to the antenna terminals, shape (n,). [dBm]"""
    width = chains.bandwidth_hz[candidate].astype(np.float64)
    floor: Floats = total_dbm_per_hz(chains, candidate, dial_hz) + 10.0 * np.log10(width)
    return floor


def external_dbm_per_hz(chains: Chains, candidate: Ints, dial_hz: Ints) -> Floats:
    """Return the noise that the aerial brings in 1 Hz, shape (n,). [dBm/Hz]"""
    return per_code(
        chains.floor_code[candidate],
        chains.floor,
        dial_hz,
        lambda floor, rows: floor.external_dbm_per_hz(dial_hz[rows]),
    )


def total_dbm_per_hz(chains: Chains, candidate: Ints, dial_hz: Ints) -> Floats:
    """Return the noise in 1 Hz, the set's own included, referred to the terminals, shape (n,). [dBm/Hz]

    Notes
    -----
    On the image of each mixer the aerial brings noise as well, weakened as a signal there.
    """
    images = [image_hz_and_passed(chains, i, candidate, dial_hz) for i in range(chains.conversions)]
    return per_code(
        chains.floor_code[candidate],
        chains.floor,
        dial_hz,
        lambda floor, rows: floor.total_dbm_per_hz(
            dial_hz[rows], [(image[rows], passed[rows]) for image, passed in images]
        ),
    )


def image_hz_and_passed(
    chains: Chains, conversion: int, candidate: Ints, dial_hz: Ints
) -> tuple[Floats, Floats]:
    """Return where the image of a mixer is at the aerial, and what passes of it, shape (n,) each. [Hz, -]

    Notes
    -----
    What passes is a power against the wanted signal's, by way of the circuits on every point up
    to that mixer; 0 where there is no image above 0 Hz.
    """
    lo, rf = (chains.wanted_steps[:, conversion, k][candidate] for k in (0, 1))
    wanted = chains.wanted_hz(conversion, candidate, dial_hz)
    x = -2.0 * lo * rf * chains.oscillator_hz(conversion, candidate, dial_hz) - wanted
    lost, there = np.zeros(len(dial_hz)), np.ones(len(dial_hz), dtype=bool)
    for point in range(conversion, -1, -1):
        there &= x > 0
        lost += selectivity_db(chains, point, candidate, np.maximum(x, 1.0), dial_hz)
        if point:
            lo, rf = (chains.wanted_steps[:, point - 1, k][candidate] for k in (0, 1))
            x = rf * (x - lo * chains.oscillator_hz(point - 1, candidate, dial_hz))
    return np.maximum(x, 1.0), np.where(there, 10.0 ** (lost / -10.0), 0.0)


def hearing_dbhz(
    chains: Chains, candidate: Ints, sound: npt.NDArray[np.int8], width_hz: npt.NDArray[np.int32]
) -> Floats:
    """Return from where on an intruder is heard, over the noise outside in 1 Hz, shape (n,). [dB-Hz]

    Parameters
    ----------
    sound, width_hz : int, shape (n,). As of `Occupants`.
    """
    return per_code(
        chains.listener_code[candidate],
        chains.listener,
        sound,
        lambda listener, rows: listener.hearing_dbhz(sound[rows], width_hz[rows]),
    )


def bar_dbm(
    chains: Chains,
    candidate: Ints,
    dial_hz: Ints,
    sound: npt.NDArray[np.int8],
    width_hz: npt.NDArray[np.int32],
) -> Floats:
    """Return the bar of hearing at the antenna terminals, all arguments of shape (n,). [dBm]

    Notes
    -----
    It stands on the noise outside alone: more noise of the set's own hides no intruder.
    """
    bar: Floats = external_dbm_per_hz(chains, candidate, dial_hz) + hearing_dbhz(
        chains, candidate, sound, width_hz
    )
    return bar


def least_bar_dbm(chains: Chains, occupants: Occupants) -> Floats:
    """Return the lowest bar of hearing of any occupant anywhere on each dial, shape (V,). [dBm]"""
    external = per_code(
        chains.floor_code,
        chains.floor,
        chains.gain_db[:, 0],
        lambda floor, rows: floor.least_external_dbm_per_hz(chains.low_hz[rows], chains.high_hz[rows]),
    )
    # a carrier of no width where there is nobody
    kinds = (
        distinct(occupants.sound.astype(np.int64) << 32 | occupants.width_hz)
        if len(occupants)
        else [CARRIER << 32 | 1]
    )
    every = np.arange(len(chains), dtype=np.int64)
    least = np.full(len(chains), np.inf)
    for code in kinds:
        sound, width = int(code) >> 32, int(code) & 0xFFFFFFFF
        kind = np.full(len(chains), sound, dtype=np.int8), np.full(len(chains), width, dtype=np.int32)
        least = np.minimum(least, hearing_dbhz(chains, every, *kind))
    bar: Floats = external + least
    return bar


def nearest_hz(lines: Lines, occupants: Occupants, line: Ints, occupant: Ints, dial_hz: Ints) -> Floats:
    """Return the occupant's frequency nearest the centre of the line, shape (n,). [Hz]"""
    centre = (lines.p[0][line] * dial_hz + lines.q[0][line]) / lines.d[0][line]
    nearest: Floats = np.clip(centre, occupants.low_hz[occupant], occupants.high_hz[occupant])
    return nearest


def heard_dbm(
    chains: Chains, lines: Lines, line: Ints, rf_hz: Floats, antenna_dbm: Floats, dial_hz: Ints
) -> Floats:
    """Return the heard level of signals on their lines.

    Parameters
    ----------
    chains, lines : the chains and the routes through them.
    line : int64, shape (n,). Which line each signal rides on.
    rf_hz : float64, shape (n,). Its antenna frequency. [Hz]
    antenna_dbm : float64, shape (n,). Its level at the terminals. [dBm]
    dial_hz : int64, shape (n,). [Hz]

    Returns
    -------
    float64, shape (n,). Level a wanted signal at the dial frequency would need
    at the terminals to come out as loud. [dBm]
    """
    candidate = lines.candidate[line]
    lead_loss = chains.lead_loss_db(candidate, dial_hz)
    x, level = rf_hz, antenna_dbm - lead_loss
    for i in range(chains.conversions):
        lo, rf = (lines.steps[:, i, k][line] for k in (0, 1))
        level, x = through_conversion(chains, i, candidate, lo, rf, level, x, dial_hz)
    return at_detector_dbm(chains, candidate, level, x, dial_hz) + lead_loss


def into_mixer_dbm(
    chains: Chains, conversion: int, candidate: Ints, level_dbm: Floats, x_hz: Floats, dial_hz: Ints
) -> Floats:
    """Return the level of a signal at a mixer from its level behind the mixer before, shape (n,). [dBm]"""
    into: Floats = chains.gain_db[:, conversion][candidate]
    into += level_dbm
    into -= selectivity_db(chains, conversion, candidate, x_hz, dial_hz)
    return into


def through_conversion(
    chains: Chains,
    conversion: int,
    candidate: Ints,
    lo: Ints,
    rf: Ints,
    level_dbm: Floats,
    x_hz: Floats,
    dial_hz: Ints,
) -> tuple[Floats, Floats]:
    """Return level and frequency of signals behind a mixer from those behind the one before, shape (n,) each.

    Parameters
    ----------
    lo, rf : int64, shape (n,). The product of each.
    level_dbm, x_hz : float64, shape (n,). [dBm, Hz]
    """
    into_mixer = into_mixer_dbm(chains, conversion, candidate, level_dbm, x_hz, dial_hz)
    after = into_mixer - suppression_db(chains, conversion, candidate, np.abs(lo), np.abs(rf), into_mixer)
    weakened = chains.weakened_db(conversion, candidate, lo, dial_hz)
    if weakened is not None:
        after = after - weakened
    # few sets have a way round a mixer: a converter with its pickup
    if np.isfinite(chains.pickup_db[:, conversion]).any():
        around = (
            level_dbm + chains.gain_db[:, conversion][candidate] - chains.pickup_db[:, conversion][candidate]
        )
        after = np.where((lo == 0) & (np.abs(rf) == 1), sum_db(after, around), after)
    x = chains.injected_hz(conversion, candidate, lo, dial_hz) + rf * x_hz
    return after, x


def at_detector_dbm(
    chains: Chains, candidate: Ints, level_dbm: Floats, x_hz: Floats, dial_hz: Ints
) -> Floats:
    """Return what comes through the last filter, less all gains ahead of it, shape (n,). [dBm]"""
    lost = selectivity_db(chains, chains.conversions, candidate, x_hz, dial_hz)
    out: Floats = level_dbm - lost - chains.gain_db[:, :-1].sum(axis=1)[candidate]
    return out


def sum_db(first_db: Floats, second_db: Floats) -> Floats:
    """Return the level of two powers together, shape of both broadcast. [dB, or dBm]"""
    out: Floats = np.logaddexp(first_db * PER_DB, second_db * PER_DB) / PER_DB
    return out


def selectivity_db(chains: Chains, point: int, candidate: Ints, x_hz: Floats, dial_hz: Ints) -> Floats:
    """Return the attenuation at a point relative to the wanted frequency there, shape (n,). [dB]"""
    wanted = chains.wanted_hz(point, candidate, dial_hz).astype(np.float64)
    return per_code(
        chains.selectivity_code[:, point][candidate],
        chains.selectivity[point],
        x_hz,
        lambda selectivity, rows: selectivity.loss_db(x_hz[rows], wanted[rows]),
    )


def suppression_db(
    chains: Chains, conversion: int, candidate: Ints, m: Ints, n: Ints, level_dbm: Floats
) -> Floats:
    """Return the suppression of products of one mixer against its wanted one, shape (n,). [dB]"""
    return per_code(
        chains.mixer_code[:, conversion][candidate],
        chains.mixer[conversion],
        level_dbm,
        lambda mixer, rows: mixer.suppression_db(m[rows], n[rows], level_dbm[rows]),
    )


class StrongestOnAir:
    """The strongest occupant anywhere in an interval of frequency, at least.

    The spectrum is cut into bins; a table of maxima over 2**k bins answers any
    interval with two look-ups. Bins make the answer a little high, never low.
    """

    def __init__(self, occupants: Occupants) -> None:
        self.high = int(occupants.high_hz.max()) if len(occupants) else 1
        self.bin_hz = max(1, -(-self.high // _BINS))
        count = self.high // self.bin_hz + 1
        levels = int(count).bit_length()
        table = np.full((levels, count), -np.inf)
        if len(occupants):
            first, last = occupants.low_hz // self.bin_hz, occupants.high_hz // self.bin_hz
            k = np.frexp((last - first + 1).astype(np.float64))[1] - 1
            np.maximum.at(table, (k, first), occupants.level_dbm)
            np.maximum.at(table, (k, last - (1 << k) + 1), occupants.level_dbm)
        for k_down in range(levels - 1, 0, -1):
            half = 1 << (k_down - 1)
            np.maximum(table[k_down - 1], table[k_down], out=table[k_down - 1])
            np.maximum(table[k_down - 1][half:], table[k_down][:-half], out=table[k_down - 1][half:])
        for k_up in range(1, levels):
            half = 1 << (k_up - 1)
            table[k_up] = table[k_up - 1]
            np.maximum(table[k_up][:-half], table[k_up - 1][half:], out=table[k_up][:-half])
        self.table = table

    def between(self, low_hz: Floats, high_hz: Floats) -> Floats:
        """Return the strongest level between two frequencies, shape (n,); -inf for none. [dBm]"""
        count = self.table.shape[1]
        first = np.clip(np.floor_divide(low_hz, self.bin_hz), 0, count - 1).astype(np.int64)
        last = np.clip(np.floor_divide(high_hz, self.bin_hz), 0, count - 1).astype(np.int64)
        k = np.frexp((np.maximum(last - first, 0) + 1).astype(np.float64))[1] - 1
        strongest: Floats = np.maximum(self.table[k, first], self.table[k, last - (1 << k) + 1])
        return np.where((high_hz < 0) | (low_hz > self.high + self.bin_hz), -np.inf, strongest)


@dataclass(frozen=True)
class AirBudget:
    """What it takes to be heard against what is on the air.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants.
    audible_at_db : float. Margin over the floor from which a signal is heard. [dB]
    drop : bool. Whether lines that cannot be heard are dropped, or only measured.
    steps : int64, shape (S, 2). The products any mixer is asked for.

    Notes
    -----
    Lossless: a need is a lower bound (least attenuation along the line, least
    floor on the dial), what may be possible an upper bound (no attenuation, the
    best product of each mixer at the limit of its clip).
    """

    chains: Chains
    occupants: Occupants
    audible_at_db: float
    drop: bool
    steps: Ints
    _strongest: StrongestOnAir = field(init=False, repr=False)
    _at: list[Floats] = field(init=False, repr=False)
    _into: list[Floats] = field(init=False, repr=False)
    _detector: Floats = field(init=False, repr=False)
    _ever: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_strongest", StrongestOnAir(self.occupants))
        at, into = self._upper_bounds()
        object.__setattr__(self, "_at", at)
        object.__setattr__(self, "_into", into)
        object.__setattr__(self, "_detector", self._least_at_detector())
        object.__setattr__(self, "_ever", self._least_ever_db(0))

    def _upper_bounds(self) -> tuple[list[Floats], list[Floats]]:
        chains = self.chains
        strongest = self.occupants.level_dbm.max() if len(self.occupants) else -np.inf
        at, into = [np.full(len(chains), strongest)], []
        m, n = np.abs(self.steps).T
        for i in range(chains.conversions):
            into.append(at[i] + chains.gain_db[:, i] - self._least_ever_db(i))
            best = np.array([float(mixer.least_db(m, n).min()) for mixer in chains.mixer[i]])
            around = at[i] + chains.gain_db[:, i] - chains.pickup_db[:, i]
            at.append(sum_db(into[i] - best[chains.mixer_code[:, i]], around))
        return at, into

    def _least_ever_db(self, point: int) -> Floats:
        """Return a bound below the loss of anything, anywhere on a candidate's dial, shape (V,). [dB]"""
        chains = self.chains
        every = np.arange(len(chains), dtype=np.int64)
        ends = np.concatenate(
            [chains.wanted_hz(point, every, dial) for dial in (chains.low_hz, chains.high_hz)]
        )
        span = float(ends.min()), float(ends.max())
        least = [float(s.least_db(1.0, float(HIGHEST_HZ), *span, 0.0)) for s in chains.selectivity[point]]
        ever: Floats = np.array(least)[chains.selectivity_code[:, point]]
        return ever

    def _least_at_detector(self) -> Floats:
        least = least_bar_dbm(self.chains, self.occupants)
        # a millidecibel spare: bounds and levels are summed in different orders
        need: Floats = least + self.audible_at_db + self.chains.gain_db.sum(axis=1) - 1e-3
        return need

    def at_detector(self, candidate: Ints) -> Floats:
        """Return the level needed at the detector, shape (L,). [dBm]"""
        need: Floats = self._detector[candidate]
        return need

    def worth_asking(self, conversion: int, candidate: Ints, need_dbm: Floats, steps: Ints) -> Bools:
        """Whether a product could be heard on any of the lines at all, shape (S,)."""
        if not self.drop:
            return np.ones(len(steps), dtype=bool)
        codes = self.chains.mixer_code[:, conversion][candidate]
        worth = np.zeros(len(steps), dtype=bool)
        for code in distinct(codes):
            # the line that needs least, against the most that any candidate could have there
            rows = np.flatnonzero(codes == code)
            easiest = rows[np.argmin(need_dbm[rows])]
            least = self.through_mixer(conversion, candidate[[easiest]], need_dbm[[easiest]], steps)
            limit = self._into[conversion][candidate[rows]].max()
            worth |= (least[0] <= limit) | self._gets_past(conversion, steps)
        return worth

    def through_mixer(self, conversion: int, candidate: Ints, need_dbm: Floats, steps: Ints) -> Floats:
        """Return the level needed into a mixer, shape (L, S), for each of S products. [dBm]"""
        m, n = np.abs(steps[:, 0])[None], np.abs(steps[:, 1])[None]
        shape = np.empty((len(need_dbm), len(steps)))
        return per_code(
            self.chains.mixer_code[:, conversion][candidate],
            self.chains.mixer[conversion],
            shape,
            lambda mixer, rows: mixer.need_dbm(m, n, need_dbm[rows][:, None]),
        )

    def through_selectivity(self, point: int, lines: Lines) -> Floats:
        """Return the level needed ahead of the selectivity at a point, shape (L,). [dBm]"""
        chains, candidate = self.chains, lines.candidate
        start, stop = lines.at_hz(lines.dial_low_hz), lines.at_hz(lines.dial_high_hz)
        wanted = [
            chains.wanted_hz(point, candidate, dial).astype(np.float64)
            for dial in (lines.dial_low_hz, lines.dial_high_hz)
        ]
        slack = lines.slack_hz()
        least = per_code(
            chains.selectivity_code[:, point][candidate],
            chains.selectivity[point],
            start,
            lambda selectivity, rows: selectivity.least_db(
                start[rows], stop[rows], wanted[0][rows], wanted[1][rows], slack[rows]
            ),
        )
        ahead = lines.need_dbm + least
        if point < chains.conversions and np.isfinite(chains.pickup_db[:, point]).any():
            ahead = self._by_pickup(point, lines, ahead)
        out: Floats = ahead - chains.gain_db[:, point][candidate]
        return out

    def _by_pickup(self, conversion: int, lines: Lines, ahead: Floats) -> Floats:
        """Lower a need by what gets past the mixer by lead and chassis: the powers of both ways add."""
        lo, rf = lines.steps[:, conversion, 0], np.abs(lines.steps[:, conversion, 1])
        through = suppression_db(
            self.chains, conversion, lines.candidate, np.zeros_like(rf), rf, lines.need_dbm
        )
        around = lines.need_dbm - through + self.chains.pickup_db[:, conversion][lines.candidate]
        return np.where((lo == 0) & (rf == 1), -sum_db(-ahead, -around), ahead)

    def possible_into_mixer(self, conversion: int, candidate: Ints, need_dbm: Floats, steps: Ints) -> Bools:
        """Whether any occupant could bring that much into a mixer, shape (L, S)."""
        if not self.drop:
            return np.ones(need_dbm.shape, dtype=bool)
        possible: Bools = need_dbm <= self._into[conversion][candidate][:, None]
        return possible | self._gets_past(conversion, steps)[None]

    def _gets_past(self, conversion: int, steps: Ints) -> Bools:
        """Whether a product may come past a mixer by lead and chassis instead of through it, shape (S,)."""
        straight = (steps[:, 0] == 0) & (np.abs(steps[:, 1]) == 1)
        past: Bools = straight & bool(np.isfinite(self.chains.pickup_db[:, conversion]).any())
        return past

    def may_be_on_the_air(self, lines: Lines) -> Bools:
        """Whether an occupant is strong enough for a line if nothing weakens it on its way, shape (L,).

        The lines end at the input of the first mixer. Cheap, and of many lines the end.
        """
        if not self.drop:
            return np.ones(len(lines), dtype=bool)
        chains, candidate = self.chains, lines.candidate
        ahead = lines.need_dbm + self._ever[candidate]
        if np.isfinite(chains.pickup_db[:, 0]).any():
            ahead = self._by_pickup(0, lines, ahead)
        ends = (lines.at_hz(lines.dial_low_hz), lines.at_hz(lines.dial_high_hz))
        slack = lines.slack_hz()
        return self.on_the_air(
            ahead - chains.gain_db[:, 0][candidate], np.minimum(*ends) - slack, np.maximum(*ends) + slack
        )

    def possible_at(self, point: int, candidate: Ints, need_dbm: Floats) -> Bools:
        """Whether any occupant could bring that much out of mixer number `point`, shape (L,)."""
        if not self.drop:
            return np.ones(need_dbm.shape, dtype=bool)
        possible: Bools = need_dbm <= self._at[point][candidate]
        return possible

    def on_the_air(self, need_dbm: Floats, low_hz: Floats, high_hz: Floats) -> Bools:
        """Whether an occupant between two antenna frequencies is strong enough, shape (L,)."""
        if not self.drop:
            return np.ones(need_dbm.shape, dtype=bool)
        possible: Bools = need_dbm <= self._strongest.between(low_hz, high_hz)
        return possible
