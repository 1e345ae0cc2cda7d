"""One IF on one range: images, what sits on the IF, whistles, the oscillator, the clear share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spurplan.columns import RANGE, Column, Table, table_of
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.proposals import Proposal, tuning_stage
from spurplan.planning.if_change.routes import Loudest, half_if_steps, loudest_on, straight_steps
from spurplan.planning.if_change.tracking import tracked
from spurplan.planning.if_change.verdict import MORE_SWING, Verdict
from spurplan.planning.judging import Reception, Standing, compared
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range
from spurplan.receiver.plan import StagePlan
from spurplan.receiver.tracking import Tracking
from spurplan.responses.asking import Settings, loudest_typical_dbm
from spurplan.responses.birdies.radiation import radiated
from spurplan.responses.birdies.whistles import self_whistles
from spurplan.responses.lines import lines_of_routes
from spurplan.responses.summary import flipped

PROPOSAL_COLUMNS = (
    RANGE,
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("first_if_hz", "int", "Hz", True, "First IF", "the first IF of a set with several conversions"),
    Column("injection", "text", "", False, "Oscillator", "side of the tuning oscillator: high, low or sum"),
    Column("image_low_hz", "int", "Hz", True, "", "lowest image frequency of the first mixer"),
    Column("image_high_hz", "int", "Hz", True, "", "highest image frequency of the first mixer"),
    Column(
        "image_rejection_db", "float", "dB", True, "Image rejection",
        "least rejection of that image anywhere on the range",
    ),
    Column(
        "half_if_margin_db", "float", "dB", True, "Half-IF margin",
        "margin over the floor of the loudest that comes by the half-IF route; below 0 it is buried",
    ),
    Column("on_if_label", "text", "", True, "On the IF", "the loudest occupant of an IF"),
    Column(
        "on_if_dbm", "float", "dBm", True, "Heard",
        "level a wanted signal would need to come out as loud as that one, where it is worst",
    ),
    Column("unusable_low_hz", "int", "Hz", True, "Unusable from", "dial spoilt by an IF inside the range"),
    Column("unusable_high_hz", "int", "Hz", True, "Unusable to", "its other end"),
    Column(
        "whistles", "list", "Hz", False, "Whistles at",
        "dial frequencies of harmonics of the last IF and of self-whistles",
    ),
    Column("oscillator_low_hz", "int", "Hz", True, "", "lowest frequency of the tuning oscillator"),
    Column("oscillator_high_hz", "int", "Hz", True, "", "its highest"),
    Column("oscillator_ratio", "float", "", True, "Tunes 1 to", "its tuning ratio; unknown from 0 Hz"),
    Column(
        "tracking_error_hz", "int", "Hz", True, "Tracking",
        "largest error of three-point tracking, the points chosen best; unknown where nothing is ganged",
    ),
    Column(
        "bandwidth_hz", "int", "Hz", True, "Same-coil bandwidth",
        "what coils of the present Q would pass at this IF",
    ),
    Column(
        "clear_share", "float", "", True, "Clear",
        "part of the range (0 to 1) where nothing that may be occupied is heard",
    ),
    Column(
        "unknown_share", "float", "", True, "Unknown",
        "part of it where nothing is heard, but an image lies beyond the tables and a strong one would be",
    ),
    Column("worst_label", "text", "", True, "Worst left", "the intruder with the greatest margin"),
    Column("worst_grade", "text", "", True, "", "its grade"),
    Column("worst_margin_db", "float", "dB", True, "Margin", "its margin over the floor"),
    Column("verdict", "text", "", False, "Verdict", "against the present IF, in a line"),
)  # fmt: skip

RADIATES_COLUMNS = (
    RANGE,
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("first_if_hz", "int", "Hz", True, "First IF", "the first IF of a set with several conversions"),
    Column("injection", "text", "", False, "Oscillator", "side of the tuning oscillator"),
    Column("low_hz", "int", "Hz", False, "On", "lowest frequency of its fundamental"),
    Column("high_hz", "int", "Hz", False, "", "its highest"),
    Column("services", "list", "", False, "Sweeps over", "services of the rows its fundamental sweeps over"),
    Column("new_labels", "list", "", False, "New there", "rows it does not sweep over at the present IF"),
)  # fmt: skip

# k IF beats with the k-th of the LO against the (k + 1)-th of the signal, an order of
# 2 k + 1; beyond an order of 20 nobody has heard one (a published one needs 14).
HIGHEST_IF_HARMONIC = 9


@dataclass(frozen=True)
class Assessment:
    """One proposal on one range, worked out.

    Attributes
    ----------
    proposal : Proposal.
    verdict : Verdict. Against the present IF on that range.
    reception : Reception or None; None where the proposal can not be made.
    image_hz : (low, high) or None. [Hz]
    half_if, on_if : Loudest or None.
    whistles_hz : tuple of int. [Hz]
    oscillator_hz : (low, high) or None. [Hz]
    tracking : Tracking or None.
    tracks : bool. False where three points can not track it.
    bandwidth_hz : int or None. [Hz]
    swept : tuple of int. Indices of the occupants the oscillator's fundamental sweeps over.
    """

    proposal: Proposal
    if_hz: int
    first_if_hz: int | None
    injection: str
    verdict: Verdict
    reception: Reception | None = None
    image_hz: tuple[int, int] | None = None
    half_if: Loudest | None = None
    on_if: Loudest | None = None
    whistles_hz: tuple[int, ...] = ()
    oscillator_hz: tuple[int, int] | None = None
    tracking: Tracking | None = None
    tracks: bool = True
    bandwidth_hz: int | None = None
    swept: tuple[int, ...] = ()

    @property
    def oscillator_ratio(self) -> float | None:
        """Highest over lowest oscillator frequency; None where there is none, or the lowest is 0."""
        return _ratio(self.oscillator_hz)

    def record(self) -> dict[str, Any]:
        """Return the fields of a proposal."""
        reception, image, oscillator = self.reception, self.image_hz, self.oscillator_hz
        worst = self.verdict.worst
        return {
            "range": self.proposal.range.name,
            "if_hz": self.if_hz,
            "first_if_hz": self.first_if_hz,
            "injection": self.injection,
            "image_low_hz": None if image is None else image[0],
            "image_high_hz": None if image is None else image[1],
            "image_rejection_db": None if reception is None else reception.image_rejection_db,
            "half_if_margin_db": None if self.half_if is None else self.half_if.margin_db,
            "on_if_label": None if self.on_if is None else self.on_if.label,
            "on_if_dbm": None if self.on_if is None else self.on_if.heard_dbm,
            "unusable_low_hz": None if reception is None else reception.unusable_low_hz,
            "unusable_high_hz": None if reception is None else reception.unusable_high_hz,
            "whistles": list(self.whistles_hz),
            "oscillator_low_hz": None if oscillator is None else oscillator[0],
            "oscillator_high_hz": None if oscillator is None else oscillator[1],
            "oscillator_ratio": self.oscillator_ratio,
            "tracking_error_hz": None if self.tracking is None else round(self.tracking.peak_error_hz),
            "bandwidth_hz": self.bandwidth_hz,
            "clear_share": None if reception is None else reception.clear_share,
            "unknown_share": None if reception is None else reception.unknown_share,
            "worst_label": None if worst is None else worst.label,
            "worst_grade": None if worst is None else worst.grade,
            "worst_margin_db": None if worst is None else worst.margin_db,
            "verdict": self.verdict.sentence,
        }


def assessments_of(
    made: Sequence[Proposal],
    receptions: Sequence[Reception | None],
    occupants: Occupants,
    settings: Settings,
) -> list[Assessment]:
    """Return the proposals worked out, in their order.

    Parameters
    ----------
    made : proposals, the present IF of each range among them.
    receptions : of each of them; None where it can not be made, which leaves unknowns.
    occupants, settings : as in `respond`.
    """
    present = {
        proposal.range.name: reception
        for proposal, reception in zip(made, receptions, strict=True)
        if proposal.asked.present
    }
    return [
        _impossible(proposal)
        if reception is None
        else _assessed(proposal, reception, present[proposal.range.name], occupants, settings)
        for proposal, reception in zip(made, receptions, strict=True)
    ]


def _ratio(swing_hz: tuple[int, int] | None) -> float | None:
    low, high = swing_hz or (0, 0)
    return high / low if low else None


def _impossible_swing(one: Range, swing_hz: tuple[int, int] | None) -> tuple[float, float] | None:
    """Return the tuning ratios of oscillator and signal where no gang gives both."""
    ratio, signal = _ratio(swing_hz), one.high_hz / one.low_hz
    return None if ratio is None or ratio <= MORE_SWING * signal else (ratio, signal)


def _impossible(proposal: Proposal) -> Assessment:
    asked = proposal.asked
    # what was asked for, since there is no set to read it from
    if_hz = proposal.before_hz[0] if asked.if_hz is None else asked.if_hz
    return Assessment(
        proposal, if_hz, asked.first_if_hz, proposal.side,
        Verdict(Standing.impossible, refusal=proposal.refusal),
    )  # fmt: skip


def _assessed(
    proposal: Proposal, now: Reception, was: Reception | None, occupants: Occupants, settings: Settings
) -> Assessment:
    receiver, one = proposal.pair
    (chains,) = compile_chains([(receiver, one)])
    plans = receiver.plans_of(one)
    _, side = tuning_stage(receiver, one)
    tracking = tracked(one, plans[0])
    tracks = tracking is None or isinstance(tracking, Tracking)
    on_if, swing_hz = _on_if(chains, occupants), _oscillator_hz(chains, plans)
    before = None if proposal.asked.present else was
    verdict = Verdict(
        Standing.present if before is None else compared(now, before),
        now=now,
        was=before,
        straight_in=None if on_if is None or on_if.margin_db < settings.audible_at else on_if,
        swing=_impossible_swing(proposal.range, swing_hz),
        tracks=tracks,
    )
    return Assessment(
        proposal=proposal,
        if_hz=int(chains.if_hz[0]),
        first_if_hz=plans[0].if_hz if len(plans) > 1 else None,
        injection=side,
        verdict=verdict,
        reception=now,
        image_hz=_image_hz(chains),
        half_if=loudest_on(chains, half_if_steps(chains), occupants)[0],
        on_if=on_if,
        whistles_hz=_whistles_hz(chains, occupants, settings, loudest_typical_dbm(receiver)),
        oscillator_hz=swing_hz,
        tracking=tracking if isinstance(tracking, Tracking) else None,
        tracks=tracks,
        bandwidth_hz=_same_coils_hz(chains, proposal),
        swept=_swept(chains, plans, occupants),
    )


def _image_hz(chains: Chains) -> tuple[int, int] | None:
    """Return the lowest and highest image of the first mixer; None where it would lie below 0 Hz."""
    lines = lines_of_routes(chains, flipped(chains, 0))
    ends = [round(float(lines.at_hz(dial)[0])) for dial in (chains.low_hz, chains.high_hz)]
    low, high = max(min(ends), 0), max(ends)
    return (low, high) if high > 0 else None


def _on_if(chains: Chains, occupants: Occupants) -> Loudest | None:
    """Return the loudest that gets straight to an IF of the set."""
    found = [
        loudest_on(chains, straight_steps(chains, mixers), occupants)[0]
        for mixers in range(1, chains.conversions + 1)
    ]
    there = [one for one in found if one is not None]
    return max(there, key=lambda one: one.margin_db, default=None)


def _whistles_hz(
    chains: Chains, occupants: Occupants, settings: Settings, unlisted_dbm: float
) -> tuple[int, ...]:
    """Return where the last IF's harmonics fall on the dial, and where a wanted station beats with itself."""
    if_hz, low, high = int(chains.if_hz[0]), int(chains.low_hz[0]), int(chains.high_hz[0])
    harmonics = [k * if_hz for k in range(2, HIGHEST_IF_HARMONIC + 1)]
    _, found = self_whistles(chains, occupants, settings, unlisted_dbm)
    # where the beat is zero, which lies inside the stretch that is heard
    beats = [round(-b / a) for a, b in zip(found.a.tolist(), found.b.tolist(), strict=True) if a]
    own = [] if chains.want_a[0, 1:].any() else [int(hz) for hz in chains.want_b[0, 1:]]
    every = {hz for hz in (*harmonics, *beats) if low <= hz <= high and hz not in own}
    return tuple(sorted(every))


def _oscillator_hz(chains: Chains, plans: Sequence[StagePlan]) -> tuple[int, int] | None:
    """Return the swing of the oscillator that tunes."""
    stage = next((number for number, plan in enumerate(plans) if plan.osc_a), None)
    if stage is None:
        return None
    every = np.zeros(1, dtype=np.int64)
    ends = [round(float(chains.oscillator_hz(stage, every, d)[0])) for d in (chains.low_hz, chains.high_hz)]
    return min(ends), max(ends)


def _same_coils_hz(chains: Chains, proposal: Proposal) -> int:
    """Return the present bandwidth times new IF over present IF: what the same Q gives there."""
    present_hz, bandwidth_hz = proposal.before_hz
    return round(bandwidth_hz * int(chains.if_hz[0]) / present_hz)


def _swept(chains: Chains, plans: Sequence[StagePlan], occupants: Occupants) -> tuple[int, ...]:
    found = radiated(chains, occupants, 1)
    tunes = [number for number, plan in enumerate(plans) if plan.osc_a]
    return tuple(found.occupant[np.isin(found.conversion, tunes)].tolist())


def radiates_table(rows: Sequence[Assessment], occupants: Occupants) -> Table:
    """Return what the tuning oscillators sweep over, and what of it is new against the present IF."""
    present = {row.proposal.range.name: set(row.swept) for row in rows if row.proposal.asked.present}
    records = [
        {
            "range": row.proposal.range.name,
            "if_hz": row.if_hz,
            "first_if_hz": row.first_if_hz,
            "injection": row.injection,
            "low_hz": row.oscillator_hz[0],
            "high_hz": row.oscillator_hz[1],
            "services": sorted({occupants.services[int(occupants.service[o])] for o in row.swept}),
            "new_labels": list(
                dict.fromkeys(
                    occupants.label_of(o) for o in row.swept if o not in present[row.proposal.range.name]
                )
            ),
        }
        for row in rows
        if row.oscillator_hz is not None
    ]
    return table_of("radiates", RADIATES_COLUMNS, records)
