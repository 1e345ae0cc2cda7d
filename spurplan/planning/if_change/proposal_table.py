"""One IF on one range: images, what sits on the IF, whistles, the oscillator, the usable share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spurplan.columns import NULL_INT, RANGE, Column, Table, table_of
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.decision import Comparison, compare
from spurplan.planning.if_change.costs import (
    MORE_SWING,
    Costs,
    breaking_through,
    coils_too_wide_hz,
    same_coils_hz,
)
from spurplan.planning.if_change.oscillator import tracked
from spurplan.planning.if_change.proposals import Asked, Proposal, tuning_stage
from spurplan.planning.if_change.routes import Loudest, half_if_steps, loudest_on, straight_steps
from spurplan.planning.if_change.verdict import Fate, Verdict
from spurplan.planning.outlook import Outlook
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range
from spurplan.receiver.plan import StagePlan
from spurplan.receiver.tracking import Tracking
from spurplan.responses.asking import Settings, loudest_typical_dbm
from spurplan.responses.birdies.radiation import radiated
from spurplan.responses.birdies.self_whistles import self_whistles
from spurplan.responses.dead_dial import unusable
from spurplan.responses.image_rejection import flipped, image_rejection_db
from spurplan.responses.lines import lines_of_routes

WORDS = ("better", "a little better", "no difference", "a gamble", "worse")

# what a change gains, the same on a range, in a scan and of a cure
SHARE_COLUMNS = (
    Column("usable_before", "float", "", True, "", "usable part (0 to 1) on a busy evening as it is"),
    Column("usable_after", "float", "", True, "Usable", "the same with the change"),
    Column("usable_gain", "float", "", True, "Gain", "mean gain in the worlds that both share"),
    Column("usable_gain_low", "float", "", True, "", "what it exceeds in nine worlds of ten"),
    Column("usable_gain_high", "float", "", True, "", "what it exceeds in one of ten"),
    Column("better_in", "float", "", True, "", "part of the worlds in which the change is better"),
    Column(
        "unknown_share", "float", "", True, "Unknown",
        "part of which the tables cannot tell: an image lies beyond them",
    ),
    Column(
        "unlisted_share", "float", "", True, "",
        "part of which nobody can tell besides: on its images the tables list hardly anybody; the shares are "
        "worked out as if nobody were there",
    ),
)  # fmt: skip

PROPOSAL_COLUMNS = (
    RANGE,
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("first_if_hz", "int", "Hz", True, "First IF", "the first IF of a set with several conversions"),
    Column("injection", "text", "", False, "Oscillator", "side of the tuning oscillator: high, low or sum"),
    Column("verdict", "text", "", True, "It is", "against the present IF: " + ", ".join(WORDS)),
    *SHARE_COLUMNS,
    Column("image_low_hz", "int", "Hz", True, "", "lowest image frequency of the first mixer"),
    Column("image_high_hz", "int", "Hz", True, "", "highest image frequency of the first mixer"),
    Column(
        "image_rejection_db", "float", "dB", True, "Image rejection",
        "least rejection of that image anywhere on the range",
    ),
    Column(
        "half_if_margin_db", "float", "dB", True, "Half-IF margin",
        "margin over the noise of the loudest that comes by the half-IF route; below 0 it is buried",
    ),
    Column("on_if_label", "text", "", True, "On the IF", "the loudest occupant of an IF"),
    Column(
        "on_if_dbm", "float", "dBm", True, "Heard",
        "level a wanted signal would need to come out as loud as that one, where it is worst",
    ),
    Column("dead_low_hz", "int", "Hz", True, "Dead from", "dial that lies on an IF of the set"),
    Column("dead_high_hz", "int", "Hz", True, "Dead to", "its other end"),
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
    Column("lost_to_label", "text", "", True, "Most lost to", "the station or band that takes most"),
    Column("lost_by", "text", "", True, "", "its way in"),
    Column("lost_share", "float", "", True, "Lost", "part of the range (0 to 1) it takes"),
    Column("reasons", "list", "", False, "Why", "what speaks for it and against it"),
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
    image_hz : (low, high) or None. [Hz]
    half_if, on_if : Loudest or None.
    whistles_hz : tuple of int. [Hz]
    oscillator_hz : (low, high) or None. [Hz]
    tracking : Tracking or None.
    bandwidth_hz : int or None. [Hz]
    swept : tuple of int. Indices of the occupants the oscillator's fundamental sweeps over.
    """

    proposal: Proposal
    if_hz: int
    first_if_hz: int | None
    injection: str
    verdict: Verdict
    image_hz: tuple[int, int] | None = None
    half_if: Loudest | None = None
    on_if: Loudest | None = None
    whistles_hz: tuple[int, ...] = ()
    oscillator_hz: tuple[int, int] | None = None
    tracking: Tracking | None = None
    bandwidth_hz: int | None = None
    swept: tuple[int, ...] = ()

    @property
    def oscillator_ratio(self) -> float | None:
        """Highest over lowest oscillator frequency; None where there is none, or the lowest is 0."""
        return _ratio(self.oscillator_hz)

    @property
    def outlook(self) -> Outlook | None:
        """What becomes of the range; None where the proposal can not be made."""
        return self.verdict.now

    @property
    def front_if_hz(self) -> int | None:
        """The IF that the front end stands ahead of; None where it is tuned. [Hz]"""
        if self.proposal.receiver is None:
            return None
        receiver, range_ = self.proposal.pair
        return receiver.plans_of(range_)[0].if_hz

    @property
    def change(self) -> Asked:
        """The IF or the side of the oscillator that was asked about."""
        return self.proposal.change

    def record(self) -> dict[str, Any]:
        """Return the fields of a proposal."""
        image, oscillator, verdict = self.image_hz, self.oscillator_hz, self.verdict
        dead = verdict.costs.dead_hz
        finding = None if self.outlook is None else self.outlook.finding
        first = next(iter(() if finding is None else finding.losses), None)
        return {
            "range": self.proposal.range.name,
            "if_hz": self.if_hz,
            "first_if_hz": self.first_if_hz,
            "injection": self.injection,
            "verdict": verdict.word,
            **shares_record(
                None if verdict.was is None else verdict.was.finding.usable,
                None if finding is None else finding.usable,
                verdict.gain,
            ),
            "unknown_share": None if finding is None else finding.unknown,
            "unlisted_share": None if finding is None else finding.unlisted,
            "image_low_hz": None if image is None else image[0],
            "image_high_hz": None if image is None else image[1],
            "image_rejection_db": verdict.rejection_db[0],
            "half_if_margin_db": None if self.half_if is None else self.half_if.margin_db,
            "on_if_label": None if self.on_if is None else self.on_if.label,
            "on_if_dbm": None if self.on_if is None else self.on_if.heard_dbm,
            "dead_low_hz": None if dead is None else dead[0],
            "dead_high_hz": None if dead is None else dead[1],
            "whistles": list(self.whistles_hz),
            "oscillator_low_hz": None if oscillator is None else oscillator[0],
            "oscillator_high_hz": None if oscillator is None else oscillator[1],
            "oscillator_ratio": self.oscillator_ratio,
            "tracking_error_hz": None if self.tracking is None else round(self.tracking.peak_error_hz),
            "bandwidth_hz": self.bandwidth_hz,
            "lost_to_label": None if first is None else first.label,
            "lost_by": None if first is None else first.response,
            "lost_share": None if first is None else first.share,
            "reasons": list(verdict.reasons),
        }


def shares_record(before: float | None, after: float | None, gain: Comparison | None) -> dict[str, Any]:
    """Return the fields of `SHARE_COLUMNS` but of what nobody can tell."""
    return {
        "usable_before": before,
        "usable_after": after,
        "usable_gain": None if gain is None else gain.gain,
        "usable_gain_low": None if gain is None else gain.low,
        "usable_gain_high": None if gain is None else gain.high,
        "better_in": None if gain is None else gain.better_in,
    }


def assessments_of(
    made: Sequence[Proposal],
    outlooks: Sequence[Outlook | None],
    occupants: Occupants,
    settings: Settings,
) -> list[Assessment]:
    """Return the proposals worked out, in their order.

    Parameters
    ----------
    made : proposals, the present IF of each range among them.
    outlooks : what becomes of each; None where it can not be made, which leaves unknowns.
    occupants, settings : as in `respond`.
    """
    present = {
        proposal.range.name: (outlook, _rejection_db(proposal))
        for proposal, outlook in zip(made, outlooks, strict=True)
        if proposal.change.present and outlook is not None
    }
    return [
        _impossible(proposal)
        if outlook is None
        else _assessed(proposal, outlook, present[proposal.range.name], occupants, settings)
        for proposal, outlook in zip(made, outlooks, strict=True)
    ]


def _rejection_db(proposal: Proposal) -> float | None:
    (chains,) = compile_chains([proposal.pair])
    least = float(image_rejection_db(chains)[0][0])
    return None if math.isnan(least) else least


def _ratio(swing_hz: tuple[int, int] | None) -> float | None:
    low, high = swing_hz or (0, 0)
    return high / low if low else None


def _impossible_swing(range_: Range, swing_hz: tuple[int, int] | None) -> tuple[float, float] | None:
    """Return the tuning ratios of oscillator and signal where no gang gives both."""
    ratio, signal = _ratio(swing_hz), range_.high_hz / range_.low_hz
    return None if ratio is None or ratio <= MORE_SWING * signal else (ratio, signal)


def _impossible(proposal: Proposal) -> Assessment:
    change = proposal.change
    # what was asked for, since there is no set to read it from
    if_hz = proposal.before_hz[0] if change.if_hz is None else change.if_hz
    return Assessment(
        proposal, if_hz, change.first_if_hz, proposal.side,
        Verdict(Fate.impossible, refusal=proposal.refusal),
    )  # fmt: skip


def _assessed(
    proposal: Proposal,
    now: Outlook,
    present: tuple[Outlook, float | None],
    occupants: Occupants,
    settings: Settings,
) -> Assessment:
    receiver, range_ = proposal.pair
    (chains,) = compile_chains([(receiver, range_)])
    plans = receiver.plans_of(range_)
    _, side = tuning_stage(receiver, range_)
    tracking = tracked(range_, plans[0])
    swing_hz = _oscillator_hz(chains, plans)
    was, was_db = present
    unchanged = proposal.change.present
    verdict = Verdict(
        Fate.present if unchanged else Fate.changed,
        now=now,
        was=was,
        gain=None if unchanged else compare(now.worlds, was.worlds),
        rejection_db=(_rejection_db(proposal), was_db),
        costs=Costs(
            dead_hz=_dead_hz(chains),
            through=breaking_through(now.finding, was.finding),
            coils_hz=coils_too_wide_hz(int(chains.if_hz[0]), proposal.before_hz),
            swing=_impossible_swing(proposal.range, swing_hz),
            tracks=tracking is None or isinstance(tracking, Tracking),
        ),
    )
    return Assessment(
        proposal=proposal,
        if_hz=int(chains.if_hz[0]),
        first_if_hz=plans[0].if_hz if len(plans) > 1 else None,
        injection=side,
        verdict=verdict,
        image_hz=_image_hz(chains),
        half_if=loudest_on(chains, half_if_steps(chains), occupants)[0],
        on_if=_on_if(chains, occupants),
        whistles_hz=_whistles_hz(chains, occupants, settings, loudest_typical_dbm(receiver)),
        oscillator_hz=swing_hz,
        tracking=tracking if isinstance(tracking, Tracking) else None,
        bandwidth_hz=same_coils_hz(int(chains.if_hz[0]), proposal.before_hz),
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
    loudest_by_if = [
        loudest_on(chains, straight_steps(chains, mixers), occupants)[0]
        for mixers in range(1, chains.conversions + 1)
    ]
    there = [loudest for loudest in loudest_by_if if loudest is not None]
    return max(there, key=lambda loudest: loudest.margin_db, default=None)


def _whistles_hz(
    chains: Chains, occupants: Occupants, settings: Settings, unlisted_dbm: float
) -> tuple[int, ...]:
    """Return where the last IF's harmonics fall on the dial, and where a wanted station beats with itself."""
    if_hz, low, high = int(chains.if_hz[0]), int(chains.low_hz[0]), int(chains.high_hz[0])
    harmonics = [k * if_hz for k in range(2, HIGHEST_IF_HARMONIC + 1)]
    _, whistles = self_whistles(chains, occupants, settings, unlisted_dbm)
    # where the beat is zero, which lies inside the stretch that is heard
    beats = [round(-b / a) for a, b in zip(whistles.a.tolist(), whistles.b.tolist(), strict=True) if a]
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


def _dead_hz(chains: Chains) -> tuple[int, int] | None:
    """Return the dial that lies on an IF of the set; None where none does."""
    low, high = (int(ends[0]) for ends in unusable(chains))
    return None if low == NULL_INT else (low, high)


def _swept(chains: Chains, plans: Sequence[StagePlan], occupants: Occupants) -> tuple[int, ...]:
    radiation = radiated(chains, occupants, 1)
    tunes = [number for number, plan in enumerate(plans) if plan.osc_a]
    return tuple(radiation.occupant[np.isin(radiation.conversion, tunes)].tolist())


def radiates_table(rows: Sequence[Assessment], occupants: Occupants) -> Table:
    """Return what the tuning oscillators sweep over, and what of it is new against the present IF."""
    present = {row.proposal.range.name: set(row.swept) for row in rows if row.proposal.change.present}
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
