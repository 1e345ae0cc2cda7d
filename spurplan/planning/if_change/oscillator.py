"""What tracks the oscillator at another IF: padder, trimmer, coil, and how far it is off in between."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from spurplan.columns import RANGE, Column
from spurplan.errors import BadValue
from spurplan.planning.if_change.proposals import Proposal
from spurplan.receiver.description import Range
from spurplan.receiver.gang import capacitance_at_ends_pf
from spurplan.receiver.plan import StagePlan
from spurplan.receiver.tracking import Tracking, series_padder_pf, track

TRACKING_COLUMNS = (
    RANGE,
    Column("if_hz", "int", "Hz", False, "IF", "the IF that is tracked"),
    Column("injection", "text", "", False, "Oscillator", "its side: high or low"),
    Column("points", "text", "", False, "Points", "minimax, or chebyshev: how the three were chosen"),
    Column("low_point_hz", "int", "Hz", True, "Right at", "lowest frequency without error"),
    Column("mid_point_hz", "int", "Hz", True, "", "the middle one"),
    Column("high_point_hz", "int", "Hz", True, "", "the highest"),
    Column("peak_error_hz", "int", "Hz", True, "Off by up to", "largest error between them"),
    Column("peak_at_hz", "int", "Hz", True, "At", "where it is largest"),
    Column("padder_pf", "float", "pF", True, "Padder (pF)", "in series with the gang section"),
    Column("trimmer_pf", "float", "pF", True, "Trimmer (pF)", "across the oscillator coil"),
    Column("coil_uh", "float", "uH", True, "Coil (uH)", "of the oscillator"),
    Column(
        "series_padder_pf", "float", "pF", True, "Padder alone (pF)",
        "a series padder that alone sets both ends of the range",
    ),
    Column(
        "capacitance_ratio", "float", "", True, "",
        "of all capacitance across its coil: the square of its tuning ratio",
    ),
    Column("note", "text", "", False, "", "why there is no answer"),
)  # fmt: skip

POINTS = ("minimax", "chebyshev")


def tracked(range_: Range, plan: StagePlan, points: str = "minimax") -> Tracking | BadValue | None:
    """Return how an oscillator tracks on a range, why it can not, or None where it is not ganged.

    Parameters
    ----------
    range_ : Range. Its gang is taken where one is described.
    plan : StagePlan of its first conversion.
    points : "minimax" or "chebyshev".
    """
    if plan.osc_a == 0 or plan.if_hz is None or plan.lo * plan.rf > 0:
        return None
    gang = range_.gang
    given: dict[str, Any] = {}
    if gang is not None:
        given = {"c_max_pf": gang.c_max_pf, "c_min_pf": gang.c_min_pf, "coil_uh": gang.coil_uh}
    try:
        return track(
            range_.low_hz, range_.high_hz, plan.if_hz, "high" if plan.lo > 0 else "low",
            points=points,  # type: ignore[arg-type]
            oscillator_harmonic=plan.osc_h, **given,
        )  # fmt: skip
    except BadValue as bad:
        return bad


def tracking_rows(proposal: Proposal) -> Iterator[dict[str, Any]]:
    """Yield one record for each way of choosing the points; none where nothing is ganged."""
    receiver, range_ = proposal.pair
    plan = receiver.plans_of(range_)[0]
    for points in POINTS:
        tracking = tracked(range_, plan, points)
        if tracking is None:
            return
        ends = [(plan.osc_a * d + plan.osc_b) / plan.osc_h for d in (range_.low_hz, range_.high_hz)]
        ratio = max(ends) / min(ends)
        row = {
            "range": range_.name,
            "if_hz": plan.if_hz,
            "injection": "high" if plan.lo > 0 else "low",
            "points": points,
            **dict.fromkeys(
                (
                    "low_point_hz", "mid_point_hz", "high_point_hz", "peak_error_hz", "peak_at_hz",
                    "padder_pf", "trimmer_pf", "coil_uh",
                )
            ),
            "series_padder_pf": _alone_pf(range_, ratio),
            "capacitance_ratio": ratio**2,
            "note": "",
        }  # fmt: skip
        if isinstance(tracking, BadValue):
            row["note"] = f"{tracking.rule}; {tracking.remedy}"
        else:
            row |= _figures(range_, tracking)
        yield row


def _figures(range_: Range, tracking: Tracking) -> dict[str, Any]:
    low, middle, high = (round(hz) for hz in tracking.points_hz)
    row: dict[str, Any] = {
        "low_point_hz": low,
        "mid_point_hz": middle,
        "high_point_hz": high,
        "peak_error_hz": round(tracking.peak_error_hz),
        "peak_at_hz": round(tracking.peak_at_hz),
    }
    # the error depends on the range and the IF alone; the parts on the gang
    if range_.gang is not None:
        row |= {
            "padder_pf": tracking.padder_pf,
            "trimmer_pf": tracking.trimmer_pf,
            "coil_uh": tracking.coil_uh,
        }
    return row


def _alone_pf(range_: Range, oscillator_ratio: float) -> float | None:
    if range_.gang is None:
        return None
    at_low, at_high = capacitance_at_ends_pf(
        range_.low_hz, range_.high_hz, range_.gang.c_min_pf, range_.gang.coil_uh
    )
    try:
        return series_padder_pf(at_low, at_high, oscillator_ratio)
    except BadValue:
        return None
