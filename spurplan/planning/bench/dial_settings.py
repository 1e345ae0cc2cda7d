"""Where on the dial to measure: the tracking points, on figures a pointer can be set to."""

from __future__ import annotations

import math

from spurplan.errors import BadValue
from spurplan.receiver.description import Range, Receiver
from spurplan.receiver.plan import StagePlan
from spurplan.receiver.tracking import Tracking, chebyshev_points, track

TRACKING_POINTS = 3
# On a range no wider than this, high over low, front end and oscillator agree everywhere.
NARROW = 1.001


def tuned_stage(receiver: Receiver, range_: Range) -> tuple[int, StagePlan] | None:
    """Return the conversion whose oscillator follows the dial, from 0, and its plan; None for none."""
    for stage, plan in enumerate(receiver.plans_of(range_)):
        if plan.osc_a:
            return stage, plan
    return None


def tracking_points_hz(receiver: Receiver, range_: Range) -> tuple[float, float, float]:
    """Return the three dial frequencies at which front end and oscillator agree best. [Hz]

    Notes
    -----
    Minimax points of padder, trimmer and coil where the first oscillator shares its gang with
    the front end; Chebyshev points of the range where it does not, where no padder can do it, or
    where the range is too narrow for it to matter.
    """
    tracking = tracking_of(receiver, range_)
    return (
        chebyshev_points(float(range_.low_hz), float(range_.high_hz))
        if tracking is None
        else tracking.points_hz
    )


def tracking_of(receiver: Receiver, range_: Range) -> Tracking | None:
    """Return padder, trimmer and coil of a range whose first oscillator shares its gang with the front end.

    Notes
    -----
    None where it does not, where no padder can do it, or where the range is too narrow for it to matter.
    """
    stage_and_plan = tuned_stage(receiver, range_)
    conversion = receiver.conversions_of(range_)[0]
    low, high = float(range_.low_hz), float(range_.high_hz)
    wide = high > NARROW * low
    if (
        wide
        and stage_and_plan is not None
        and stage_and_plan[0] == 0
        and conversion.injection in ("high", "low")
    ):
        gang = range_.gang
        try:
            assert (
                stage_and_plan[1].if_hz is not None
            )  # an oscillator that follows the dial leaves a fixed IF
            return track(
                low,
                high,
                float(stage_and_plan[1].if_hz),
                conversion.injection,
                c_max_pf=350.0 if gang is None else gang.c_max_pf,
                c_min_pf=None if gang is None else gang.c_min_pf,
                coil_uh=None if gang is None else gang.coil_uh,
                oscillator_harmonic=conversion.oscillator_harmonic,
            )
        except BadValue:
            pass
    return None


def settings_hz(receiver: Receiver, range_: Range, points: int) -> tuple[int, ...]:
    """Return the dial settings to measure at, rising. [Hz]

    Parameters
    ----------
    points : int, 1 or more. Three are the tracking points, two the outer ones, one the middle
        one; more are spread like them, closer towards the ends.

    Notes
    -----
    Rounded to what a pointer can be set to, about a two-hundredth of the range, and kept inside it.
    """
    if points <= TRACKING_POINTS:
        low, middle, high = tracking_points_hz(receiver, range_)
        wished = {1: [middle], 2: [low, high], 3: [low, middle, high]}[points]
    else:
        centre, half = (range_.low_hz + range_.high_hz) / 2.0, (range_.high_hz - range_.low_hz) / 2.0
        wished = [centre - half * math.cos(math.pi * (2 * k + 1) / (2 * points)) for k in range(points)]
    step = step_hz(range_)
    return tuple(dict.fromkeys(_rounded(hz, step, range_) for hz in wished))


def step_hz(range_: Range) -> int:
    """Return a step of the dial in round figures, 1, 2 or 5, about a two-hundredth of the range. [Hz]"""
    fine = max((range_.high_hz - range_.low_hz) / 200.0, 1.0)
    decade = int(10 ** math.floor(math.log10(fine)))
    return next((k * decade for k in (5, 2) if k * decade <= fine), decade)


def _rounded(hz: float, step: int, range_: Range) -> int:
    at = round(hz / step) * step
    if at < range_.low_hz:
        at += step
    if at > range_.high_hz:
        at -= step
    return at if range_.low_hz <= at <= range_.high_hz else round(hz)
