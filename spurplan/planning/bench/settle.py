"""The fewest readings that settle whether part of the dial is usable.

How often a stranger is met there hangs on the set's figures; how far off they may
be makes an interval of it. Readings are added, each time the one that narrows it
most, until the interval no longer holds the limit, or none tells any more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, RANGE, Column
from spurplan.planning.bench.dial_settings import TRACKING_POINTS, step_hz
from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.fit import courses_of
from spurplan.planning.bench.identifiability import taken_off, with_reading
from spurplan.planning.bench.model import BenchModel
from spurplan.planning.bench.points import Bench, Inject, designed
from spurplan.planning.bench.prior import prior_of
from spurplan.planning.bench.save import with_coordinates
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.listening.arrivals import Dials
from spurplan.responses.listening.findings import BUSY
from spurplan.responses.listening.judged import AirAtHour
from spurplan.responses.listening.limits import limits
from spurplan.responses.listening.share import Shares, shares
from spurplan.responses.listening.worlds import Worlds, shipped_spreads
from spurplan.units import hz_text, share_span_text, share_text

Floats = npt.NDArray[np.float64]

SETTINGS = 200
# A reading that takes less than this part of the variance away no longer tells.
TELLS = 0.1
MOST_READINGS = 12
_SIGMAS = NormalDist().inv_cdf(0.975)

SETTLE_COLUMNS = (
    Column("order", "int", "", False, "Order", "1 for the reading to make first; 0 for the set as described"),
    Column("number", "int", "", True, "No.", "number of its line on the sheet"),
    RANGE,
    Column("dial_hz", "int", "Hz", True, "Dial", "frequency the set is tuned to"),
    Column("response", "text", "", True, "Inject", "what the trade calls the route"),
    Column("stranger", "float", "", False, "", "chance of a stranger at a setting, as described"),
    Column("low", "float", "", False, "At least", "lower end of its 95 % interval once that is read"),
    Column("high", "float", "", False, "At most", "upper end"),
    Column(
        "settled", "bool", "", False, "Settled", "whether the interval then lies on one side of the limit"
    ),
    Column("limit", "float", "", False, "", "what that chance may be where a stretch is called usable"),
    Column("note", "text", "", True, "", "what decides in any case, and no reading changes"),
)


@dataclass(frozen=True)
class Step:
    """One reading of the shortest sheet, and the chance of a stranger once it and those ahead are made.

    Attributes
    ----------
    inject : Inject.
    low, high : float. The 95 % interval of the chance. 0 to 1.
    """

    inject: Inject
    low: float
    high: float


@dataclass(frozen=True)
class Settled:
    """What it takes to settle whether a stretch of one range is usable.

    Attributes
    ----------
    range : str.
    low_hz, high_hz : int. The stretch. [Hz]
    stranger : float. Chance of a stranger at a setting on a busy evening, as described. 0 to 1.
    low, high : float. Its 95 % interval, by how far off a description may be.
    limit : float. What it may be where a stretch is called usable.
    steps : tuple of Step, the most telling first.
    other : str. What decides in any case, and no reading changes; "" for nothing.
    """

    range: str
    low_hz: int
    high_hz: int
    stranger: float
    low: float
    high: float
    limit: float
    steps: tuple[Step, ...]
    other: str = ""

    def is_settled(self, low: float, high: float) -> bool:
        """Return whether an interval lies on one side of the limit."""
        return high < self.limit or low >= self.limit

    @property
    def settled(self) -> bool:
        """Whether the last reading settles it; without readings, whether the description does."""
        last = self.steps[-1] if self.steps else self
        return bool(self.other) or self.is_settled(last.low, last.high)

    @property
    def sentence(self) -> str:
        """What is open, and what settles it, as a sentence or two."""
        name = f"{hz_text(self.low_hz)} to {hz_text(self.high_hz)} on range {self.range}"
        if self.other:
            return f"{name}: {self.other}; no reading changes that."
        verdict = "usable" if self.stranger < self.limit else "not usable"
        now = (
            f"{name}: {verdict} as described: on a busy evening a stranger at {share_text(self.stranger)} of "
            f"settings ({span_text(self.low, self.high)} by what a description may be off; the "
            f"limit is {share_text(self.limit)})"
        )
        count = len(self.steps)
        readings = "1 reading" if count == 1 else f"{count} readings"
        if not count:
            return f"{now}. " + (
                "That is settled without a reading."
                if self.settled
                else "No reading within reach of the generator tells more."
            )
        last = self.steps[-1]
        left = span_text(last.low, last.high)
        if self.settled:
            settles = "settles it if it comes" if count == 1 else "settle it if they come"
            return f"{now}. {readings} {settles} as expected: {left}."
        return (
            f"{now}. {readings} can narrow it to {left}; it stays a near thing, and more would tell little."
        )


def span_text(low: float, high: float) -> str:
    """Return an interval of a chance as people say it."""
    return share_span_text(low, high) or share_text(low)


def settle_rows(settled: Sequence[Settled], numbers: dict[Inject, int]) -> list[dict[str, Any]]:
    """Return the rows of `settle`: each range as described, then its readings in order.

    Parameters
    ----------
    numbers : of the lines on the sheet.
    """
    out: list[dict[str, Any]] = []
    for stretch in settled:
        of_all = {"range": stretch.range, "stranger": stretch.stranger, "limit": stretch.limit}
        out.append(
            {
                **of_all, "order": 0, "number": NULL_INT, "dial_hz": NULL_INT, "response": None,
                "low": stretch.low, "high": stretch.high,
                "settled": bool(stretch.other) or stretch.is_settled(stretch.low, stretch.high),
                "note": stretch.other or None,
            }
        )  # fmt: skip
        for order, step in enumerate(stretch.steps, start=1):
            inject = step.inject
            out.append(
                {
                    **of_all, "order": order, "number": numbers[inject], "dial_hz": inject.dial_hz,
                    "response": inject.response, "low": step.low, "high": step.high,
                    "settled": stretch.is_settled(step.low, step.high), "note": None,
                }
            )  # fmt: skip
    return out


def settle(
    bench: Bench, range_: Range, span: tuple[int, int], place: AirAtHour, settings: Settings
) -> Settled:
    """Return the fewest readings that settle whether part of a range is usable.

    Parameters
    ----------
    bench : Bench.
    range_ : Range. It holds some of the stretch.
    span : (low, high). [Hz]
    place, settings : who is on the air where, and how that is judged.

    Notes
    -----
    Judged as `ranges` judges a stretch: by the chance of a stranger at a setting on a busy evening. Its
    log-log moves about in proportion with decibels, which is what readings are chosen by; slopes come from
    sets with one figure each one standard deviation off. What is drawn of the air and the place stays as
    uncertain as it is. Readings at the ends and the middle of the stretch, where the front end is as it
    is there, and at the tracking points.
    """
    low, high = max(span[0], range_.low_hz), min(span[1], range_.high_hz)
    dials = sorted({*_stretch(range_, low, high), *bench.settings(range_, TRACKING_POINTS)})
    courses = courses_of([range_], {range_.name: dials})
    model = BenchModel(bench.receiver, (range_,), {range_.name: bench.signals(range_, dials)}, courses)
    prior = prior_of(model.figures, model.ranges, courses)
    air = _Air(model, range_, (low, high), place, settings)
    covariance = prior.covariance / np.outer(model.scale, model.scale)
    dial_shares, slopes = air.slopes(np.sqrt(np.diag(covariance)))
    other = ""
    if float(dial_shares.unknown[0]) >= 0.5:
        other = "nobody can tell, the images lie beyond the tables"
    elif float(dial_shares.noise[0]) >= 0.5:
        other = "not usable for noise"
    stranger, limit = float(dial_shares.spoilt[0].mean()), limits()["cover"]["stranger"]
    ends = (stranger, stranger) if other else air.ends(slopes, covariance)
    begun = Settled(range_.name, low, high, stranger, *ends, limit, (), other)
    return begun if begun.settled else replace(begun, steps=_steps(bench, air, slopes, covariance, begun))


@dataclass(frozen=True)
class _Air:
    """A stretch of a range and who may be a stranger there, whatever the figures of the set.

    Attributes
    ----------
    model : BenchModel. Of that range.
    range : Range.
    span : (low, high). [Hz]
    place, settings : as of `settle`.
    """

    model: BenchModel
    range: Range
    span: tuple[int, int]
    place: AirAtHour
    settings: Settings

    def shares_with(self, off: Sequence[Floats]) -> Shares:
        """Return the shares of the stretch with sets off from the description, each in steps that matter."""
        model, sets = self.model, []
        for steps in off:
            at = np.clip(model.described + steps * model.scale, model.low, model.high)
            sets.append(with_coordinates(model, at) if steps.any() else model.receiver)
        (chains,) = compile_chains([(set_, _same(set_, self.range)) for set_ in sets])
        low, high = (np.full(len(chains), hz, dtype=np.int64) for hz in self.span)
        known = replace(shipped_spreads(), q=0.0, ceiling_db=0.0, mixer_db=0.0)
        return shares(
            chains, self.place.air(BUSY), self.settings, Dials(low, high, SETTINGS),
            Worlds(self.settings.seed, 2), known, with_clear=False,
        )  # fmt: skip

    def slopes(self, sigma: Floats) -> tuple[Shares, Floats]:
        """Return the shares as described and with one figure off at a time, and the slopes, shape (p,).

        Notes
        -----
        Of the logarithm of the expected number that makes a chance.
        """
        off = [sign * step for step in np.diag(sigma) for sign in (1.0, -1.0)]
        dial_shares = self.shares_with([np.zeros(len(sigma)), *off])
        number = _loglog(dial_shares.spoilt.mean(axis=1))
        return dial_shares, (number[1::2] - number[2::2]) / (2.0 * sigma)

    def ends(self, slopes: Floats, covariance: Floats) -> tuple[float, float]:
        """Return the 95 % interval of the chance of a stranger.

        Notes
        -----
        Worked out anew with the two sets that are as far off, in the direction in which the chance rises
        most, as one in forty is: no slope reaches that far.
        """
        moved = covariance @ slopes
        size = math.sqrt(max(float(slopes @ moved), 0.0))
        if size < 1e-12:
            return self.ends_of([np.zeros(len(slopes))])
        return self.ends_of([sign * _SIGMAS / size * moved for sign in (-1.0, 1.0)])

    def ends_of(self, off: Sequence[Floats]) -> tuple[float, float]:
        """Return the least and the greatest chance of a stranger with some sets."""
        chance = self.shares_with(off).spoilt.mean(axis=1)
        return float(chance.min()), float(chance.max())


def _stretch(range_: Range, low: int, high: int) -> list[int]:
    """Return ends and middle of a stretch in round figures, where the range has such. [Hz]"""
    step, out = step_hz(range_), []
    for hz in (low, round(math.sqrt(low * high)), high):
        near = round(hz / step) * step
        out.append(near if low <= near <= high else hz)
    return out


def _same(receiver: Receiver, range_: Range) -> Range:
    return next(other for other in receiver.ranges if other.name == range_.name)


def _steps(bench: Bench, air: _Air, slopes: Floats, covariance: Floats, begun: Settled) -> tuple[Step, ...]:
    possible = designed(bench, air.model, air.model.described)
    left = [
        i
        for i, inject in enumerate(possible.injects)
        if inject.response != "wanted" and inject.reachable and not inject.fooled_by
    ]
    spread = expected().reading_db
    out: list[Step] = []
    while left and len(out) < MOST_READINGS:
        variance = float(slopes @ covariance @ slopes)
        off = taken_off(covariance, possible.jacobian[left], spread, slopes[None, :])[:, 0]
        best = int(np.argmax(np.round(off, 9)))
        if off[best] < TELLS * variance:
            break
        i = left.pop(best)
        covariance = with_reading(covariance, possible.jacobian[i], spread)
        out.append(Step(possible.injects[i], *air.ends(slopes, covariance)))
        if begun.is_settled(out[-1].low, out[-1].high):
            break
    return tuple(out)


def _loglog(share: Floats) -> Floats:
    """Return the logarithm of the expected number that makes a chance."""
    return np.asarray(np.log(-np.log1p(-np.clip(share, 1e-9, 1.0 - 1e-9))))
