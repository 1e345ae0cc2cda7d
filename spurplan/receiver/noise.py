"""The noise floor: what the aerial brings and what boxes in the lead and the set add, in a bandwidth.

Levels and noise are told at the aerial, ahead of every box. What a stage adds counts there by what
all ahead of it gives the wanted signal.

A signal is heard when it stands above this floor, so a floor set too high
would call a disturbed frequency clear. Where a source's validity ends, or
noise is missing, `Floor.assumptions` says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.receiver import description
from spurplan.receiver.curve import SMALLEST_HZ, Array, LogCurve, thinned
from spurplan.receiver.first_stages import first_stages
from spurplan.receiver.selectivity import LeadBox, Selectivity, compile_boxes, compile_elements
from spurplan.units import hz_text

# round the circuits between first stage and mixer [est]
_STRAY_DB = 70.0
KT0_DBM_PER_HZ = -174.0
# 10^(x/10) = e^(x * this), which numpy works out several times faster
_PER_DB = math.log(10.0) / 10.0
GALACTIC_FROM_HZ = 10_000_000
# where the galactic line was read to hold
_GALACTIC_TO_HZ = 100_000_000
# how finely noise is drawn that no line describes, and up to where
_POINTS_A_DECADE, _HOUR_TO_HZ, _HOUR_WITHIN_DB = 24, 1_000_000_000, 0.08


@dataclass(frozen=True)
class NoiseLine:
    """Median noise figure of one source of Recommendation ITU-R P.372.

    Attributes
    ----------
    c, d : float. Fam = c - d*log10(f/MHz). [dB]
    low_hz, high_hz : int. Where the line is valid; it is held beyond. [Hz]
    """

    c: float
    d: float
    low_hz: int
    high_hz: int

    def figure_db(self, hz: npt.ArrayLike) -> Array:
        """Return Fam at a frequency, held at the ends of the line's validity. [Hz -> dB]"""
        held = np.clip(np.asarray(hz, dtype=np.float64), self.low_hz, self.high_hz)
        return np.asarray(self.c - self.d * np.log10(held * 1e-6), dtype=np.float64)


# Rec. ITU-R P.372, part 6, table of c and d; validity of curve D from memory.
MAN_MADE = {
    "city": NoiseLine(76.8, 27.7, 300_000, 250_000_000),
    "residential": NoiseLine(72.5, 27.7, 300_000, 250_000_000),
    "rural": NoiseLine(67.2, 27.7, 300_000, 250_000_000),
    "quiet_rural": NoiseLine(53.6, 28.6, 300_000, 30_000_000),
}
# Not held above 100 MHz: it goes on falling there, and a floor too high would hide intruders.
GALACTIC = NoiseLine(52.0, 23.0, GALACTIC_FROM_HZ, 30_000_000_000)


@dataclass(frozen=True)
class Floor:
    """Noise power at the terminals against dial frequency and bandwidth.

    Attributes
    ----------
    man_made : NoiseLine or None. None where a curve stands for it.
    measured : LogCurve or None. External noise figure as measured, or of a place and hour. [dB]
    antenna_gain_db : float. Lowers or raises man-made and galactic noise. [dB]
    noise_figure_db : LogCurve. Of the set. [dB]
    boxes : tuple of LeadBox. In the aerial lead, outermost first.
    behind : Selectivity or None. The circuits between the first stage and the first mixer, where that stage
        tells the noise figure; None where the figure was measured or no stage stands ahead of the mixer.

    Notes
    -----
    F = 10*log10(10^(Fext/10) + F_own - 1), floor = -174 + F + 10*log10(B). Fext: man-made
    noise, and galactic noise from 10 MHz up, as powers, plus the antenna gain; or the
    measured list, linear in dB over log frequency and held at its ends. F_own in cascade,
    F_1 + (F_2 - 1)/g_1 + (F_3 - 1)/(g_1 g_2) and so on inwards, g from the gain of a box less what its
    elements take off the wanted signal, which its F rises by.

    References
    ----------
    [1] Recommendation ITU-R P.372, Radio noise, part 6 (man-made) and s. 4.1 (galactic).
    [2] H. T. Friis, Noise Figures of Radio Receivers, Proc. IRE 32 (1944) (from memory).
    """

    man_made: NoiseLine | None
    measured: LogCurve | None
    antenna_gain_db: float
    noise_figure_db: LogCurve
    boxes: tuple[LeadBox, ...] = ()
    behind: Selectivity | None = None
    _texts: tuple[str, ...] = ()

    def floor_dbm(self, dial_hz: npt.ArrayLike, bandwidth_hz: npt.ArrayLike) -> Array:
        """Return the noise floor.

        Parameters
        ----------
        dial_hz : float or array. Frequency of the signal wanted. [Hz]
        bandwidth_hz : float or array that broadcasts with it. Noise bandwidth. [Hz]

        Returns
        -------
        array of the broadcast shape. [dBm]
        """
        return self.total_dbm_per_hz(dial_hz) + 10.0 * np.log10(np.asarray(bandwidth_hz, dtype=np.float64))

    def total_dbm_per_hz(self, dial_hz: npt.ArrayLike, images: Sequence[tuple[Array, Array]] = ()) -> Array:
        """Return the noise in 1 Hz, the set's own included. [dBm/Hz]

        Parameters
        ----------
        dial_hz : float or array. Frequency of the signal wanted. [Hz]
        images : pairs of arrays of that shape. Where the image of each mixer is, that of the first one
            first, and what passes of its power against the wanted signal's. [Hz, -]
        """
        factor = self._external(dial_hz) + self._own(dial_hz, images[0][0] if images else None)
        for image_hz, passed in images:
            factor = factor + self._external(image_hz) * passed
        return _density_dbm(factor)

    def external_dbm_per_hz(self, dial_hz: npt.ArrayLike) -> Array:
        """Return the noise in 1 Hz that the aerial brings; shape of `dial_hz`. [dBm/Hz]"""
        return _density_dbm(self._external(dial_hz))

    def least_external_dbm_per_hz(self, low_hz: npt.ArrayLike, high_hz: npt.ArrayLike) -> Array:
        """Return the least that the aerial brings in 1 Hz anywhere on [low, high], exact. [dBm/Hz]"""
        return _density_dbm(self._least_external(low_hz, high_hz))

    def _least_external(self, low_hz: npt.ArrayLike, high_hz: npt.ArrayLike) -> Array:
        """Return the least external noise factor on [low, high].

        Notes
        -----
        Both lines fall with frequency, so the least stands at the high end, or just below 10 MHz,
        where galactic noise is not counted yet.
        """
        if self.measured is not None:
            return np.asarray(10.0 ** (self.measured.least(low_hz, high_hz) / 10.0), dtype=np.float64)
        low, high = np.asarray(low_hz, dtype=np.float64), np.asarray(high_hz, dtype=np.float64)
        below = np.minimum(high, np.nextafter(float(GALACTIC_FROM_HZ), 0.0))
        at_high = self._external(high)
        return np.where(low < GALACTIC_FROM_HZ, np.minimum(self._external(below), at_high), at_high)

    def corners(self) -> Array:
        """Return the dial frequencies at which the floor bends, both sides of a step. [Hz]"""
        if self.measured is not None:
            return self.measured.knots_hz
        assert self.man_made is not None
        ends = [self.man_made.low_hz, GALACTIC_FROM_HZ - 1, GALACTIC_FROM_HZ, self.man_made.high_hz]
        return np.array(sorted(ends), dtype=np.float64)

    def assumptions(self) -> list[str]:
        """Return what was taken for granted, in plain sentences."""
        return list(self._texts)

    def _external(self, hz: npt.ArrayLike) -> Array:
        """Return the external noise factor, a power ratio."""
        if self.measured is not None:
            return np.asarray(10.0 ** (self.measured.at(hz) / 10.0), dtype=np.float64)
        assert self.man_made is not None
        factor = np.exp(self.man_made.figure_db(hz) * _PER_DB)
        galactic = np.greater_equal(hz, GALACTIC_FROM_HZ)
        if galactic.any():
            factor = factor + np.where(galactic, np.exp(GALACTIC.figure_db(hz) * _PER_DB), 0.0)
        return np.asarray(factor * 10.0 ** (self.antenna_gain_db / 10.0), dtype=np.float64)

    def _own(self, dial_hz: npt.ArrayLike, image_hz: Array | None) -> Array:
        """Return what boxes and set add to a noise factor."""
        wanted = np.asarray(dial_hz, dtype=np.float64)
        added, ahead_db = np.zeros(wanted.shape), np.zeros(wanted.shape)
        for box in self.boxes:
            lost = box.loss_at_wanted_db(wanted)
            figure = np.maximum(box.noise_figure_db + lost, 0.0)
            added = added + (np.exp(figure * _PER_DB) - 1.0) * np.exp(-ahead_db * _PER_DB)
            ahead_db = ahead_db + box.gain_db - lost
        of_set = np.exp(self.noise_figure_db.at(wanted) * _PER_DB) - 1.0
        if self.behind is not None and image_hz is not None:
            of_set = of_set * (1.0 + np.exp(-self.behind.loss_db(image_hz, wanted) * _PER_DB))
        return np.asarray(added + of_set * np.exp(-ahead_db * _PER_DB), dtype=np.float64)


def _density_dbm(factor: npt.ArrayLike) -> Array:
    """Return a noise factor, times a bandwidth in hertz, as a level. [dBm]"""
    # the least double keeps a noiseless set without any noise outside from having no floor at all
    return np.asarray(KT0_DBM_PER_HZ + 10.0 * np.log10(np.maximum(factor, SMALLEST_HZ)), dtype=np.float64)


def noise_figure_of(receiver: description.Receiver) -> LogCurve:
    """Return the noise figure of a set by itself against frequency. [Hz -> dB]

    Notes
    -----
    As given; by the first stage where it was not; the default where neither was.
    """
    if receiver.first_stage is not None and "noise_figure_db" not in receiver.given:
        return first_stages()[receiver.first_stage].noise_figure_db
    return LogCurve([(1.0, receiver.noise_figure_db)])


def _behind_first_stage(
    receiver: description.Receiver, elements: tuple[description.Element, ...] | None
) -> Selectivity | None:
    """Return the circuits between an amplifying first stage and the mixer: all but the aerial's own."""
    stage = receiver.first_stage
    if stage is None or "noise_figure_db" in receiver.given or not first_stages()[stage].amplifies:
        return None
    listed = elements or ()
    tuned = (description.Circuits, description.CoupledPair)
    first = next((place for place, element in enumerate(listed) if isinstance(element, tuned)), len(listed))
    behind = list(listed[first + 1 :])
    if (
        first < len(listed)
        and isinstance(aerial := listed[first], description.Circuits)
        and aerial.circuits > 1
    ):
        behind.insert(0, aerial.unchecked(circuits=aerial.circuits - 1))
    return compile_elements(behind, _STRAY_DB)


def compile_floor(receiver: description.Receiver, range_: description.Range | None = None) -> Floor:
    """Return the noise floor of a described set.

    Parameters
    ----------
    receiver : Receiver.
    range_ : the range in question, for the boxes ahead of it and what the noise of an amplifying first stage
        passes on its way to the mixer; None for the first.

    Notes
    -----
    Measured noise counts as read in the set's final bandwidth (the widest one where ranges differ, which
    gives the lowest density) and at its terminals: the antenna gain is not applied to it
    again, the set's own noise is added.
    """
    range_ = receiver.ranges[0] if range_ is None else range_
    boxes = compile_boxes(receiver.ahead_of(range_))
    own = noise_figure_of(receiver), boxes, _behind_first_stage(receiver, range_.front_end)
    spans = [(span.low_hz, span.high_hz) for span in receiver.ranges]
    low, high = min(span[0] for span in spans), max(span[1] for span in spans)
    if receiver.noise is None:
        line = MAN_MADE[receiver.environment]
        texts = _category_texts(receiver.environment, line, low, high, receiver.atmospheric is not None)
        if receiver.atmospheric is not None:
            curve = of_an_hour(line, receiver.atmospheric, receiver.antenna_gain_db)
            return Floor(None, curve, receiver.antenna_gain_db, *own, texts)
        return Floor(line, None, receiver.antenna_gain_db, *own, texts)
    width = _final_bandwidth_hz(receiver)
    per_hz = KT0_DBM_PER_HZ + 10.0 * math.log10(width)
    curve = LogCurve([(hz, dbm - per_hz) for hz, dbm in receiver.noise])
    texts = _measured_texts(curve, width, low, high)
    return Floor(None, curve, receiver.antenna_gain_db, *own, texts)


def of_an_hour(
    man_made: NoiseLine, atmospheric: Sequence[tuple[int, float]], antenna_gain_db: float
) -> LogCurve:
    """Return the external noise figure with the atmospheric noise of an hour, as powers. [Hz -> dB]

    Parameters
    ----------
    atmospheric : (frequency, Fa) of two or more, rising. Counted up to the last of them. [Hz, dB]
    antenna_gain_db : float. Of the aerial over a matched lossless one. [dB]

    Notes
    -----
    Straight between as few points as keep it within 0.1 dB: whatever is worked out between two bends
    of the noise costs time for each of them. A step is kept within one hertz.
    """
    hour = LogCurve(atmospheric)
    first, last = hour.knots_hz[0], hour.knots_hz[-1]
    decades = math.log10(_HOUR_TO_HZ / first)
    even = first * 10.0 ** np.linspace(0.0, decades, round(decades * _POINTS_A_DECADE) + 1)
    steps = [GALACTIC_FROM_HZ - 1, GALACTIC_FROM_HZ, last, last + 1]
    hz = np.unique(np.concatenate([even, hour.knots_hz, steps]))
    without = Floor(man_made, None, 0.0, LogCurve([(1.0, 0.0)]))
    storms = np.where(hz <= last, np.exp(hour.at(hz) * _PER_DB), 0.0)
    figure = 10.0 * np.log10(without._external(hz) + storms) + antenna_gain_db
    return LogCurve(thinned(list(zip(hz.tolist(), figure.tolist(), strict=True)), _HOUR_WITHIN_DB))


def _final_bandwidth_hz(receiver: description.Receiver) -> int:
    filters = [receiver.conversions_of(span)[-1].filter for span in receiver.ranges]
    return max(filter_.bandwidth_hz for filter_ in filters if filter_ is not None)


def _category_texts(
    environment: str, line: NoiseLine, low_hz: int, high_hz: int, of_hour: bool
) -> tuple[str, ...]:
    texts = [f"external noise is the P.372 median of the category {environment.replace('_', ' ')}"]
    if low_hz < line.low_hz:
        texts.append(f"man-made noise below {hz_text(line.low_hz)} is taken as there")
    if high_hz > line.high_hz:
        texts.append(f"man-made noise above {hz_text(line.high_hz)} is taken as there")
    if of_hour:
        texts.append("atmospheric noise is the P.372 median of the place, month and hour, to 30 MHz")
    elif low_hz < GALACTIC_FROM_HZ:
        texts.append("atmospheric noise, which counts below about 10 MHz, is not modelled")
    if high_hz > _GALACTIC_TO_HZ:
        texts.append(f"the line of galactic noise is drawn on above {hz_text(_GALACTIC_TO_HZ)}")
    return tuple(texts)


def _measured_texts(curve: LogCurve, width_hz: int, low_hz: int, high_hz: int) -> tuple[str, ...]:
    texts = [f"measured noise is taken as read in a bandwidth of {hz_text(width_hz)}"]
    first, last = int(curve.knots_hz[0]), int(curve.knots_hz[-1])
    if low_hz < first:
        texts.append(f"noise below {hz_text(first)} was not measured and is taken as there")
    if high_hz > last:
        texts.append(f"noise above {hz_text(last)} was not measured and is taken as there")
    return tuple(texts)
