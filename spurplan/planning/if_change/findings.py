"""What was found about other IFs, and the one recommendation that page, chart and saved file share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from spurplan.planning.if_change.proposals import Asked, with_change
from spurplan.planning.if_change.rows import Assessment
from spurplan.planning.if_change.scan import Scan
from spurplan.planning.if_change.scan_list import Scanned
from spurplan.planning.judging import JointReception, Standing, compared, worst_db
from spurplan.receiver.changes.edits import range_named, with_range
from spurplan.receiver.description import Range, Receiver


@dataclass(frozen=True)
class Findings:
    """What was found.

    Attributes
    ----------
    receiver : Receiver. The set as it is.
    ranges : the ranges asked about.
    asked : the changes, the present IF first.
    assessments : one a range and proposal, the present IF of a range first.
    scan : Scan or None. The IFs tried.
    scanned : those of them worth showing, the best first.
    """

    receiver: Receiver
    ranges: tuple[Range, ...]
    asked: tuple[Asked, ...]
    assessments: tuple[Assessment, ...]
    scan: Scan | None = None
    scanned: tuple[Scanned, ...] = ()

    def on_range(self, name: str) -> list[Assessment]:
        """Return the assessments of a range, the present IF first."""
        return [one for one in self.assessments if one.proposal.range.name == name]

    def of_change(self, change: Asked, name: str) -> Assessment | None:
        """Return what a change comes to on a range; None where it is not meant for it."""
        return next((one for one in self.on_range(name) if one.proposal.means(change)), None)

    @cached_property
    def recommended(self) -> dict[str, Assessment]:
        """What is recommended on each range; the present IF where nothing is better, or can be had.

        Notes
        -----
        A set has one IF unless one is asked for on a single range, and an oscillator coil on each
        range: the IF is the one that leaves all ranges together best, if that is better than they
        are, each with the oscillator on its better side. What can not be made on a range leaves
        nothing of it clear.
        """
        shared = self._shared
        chosen = {}
        for one in self.ranges:
            present = self.on_range(one.name)[0]
            own = [change for change in self._ifs if change.range_name == one.name]
            sides = [self._side(change, one.name) for change in (shared, *own)]
            chosen[one.name] = self._best([side for side in sides if side is not None]) or sides[0] or present
        return chosen

    @property
    def _ifs(self) -> list[Asked]:
        """The changes without those that differ by the side of the oscillator alone."""
        return [change for change in self.asked if not change.other_side]

    @cached_property
    def _shared(self) -> Asked:
        """The IF for all ranges together; the present one where none leaves them better."""
        changes = [change for change in self._ifs if change.range_name is None]
        parts = {change: [self._side(change, one.name) for one in self.ranges] for change in changes}
        was = self._joint([self.on_range(one.name)[0] for one in self.ranges])
        better = [
            change for change in changes if compared(self._joint(parts[change]), was) is Standing.better
        ]
        return max(better, key=lambda change: self._merit(parts[change]), default=Asked())

    def _side(self, change: Asked, name: str) -> Assessment | None:
        """Return an IF on a range with the oscillator on its better side; None where it can not be had."""
        sides = [self.of_change(replace(change, other_side=other), name) for other in (False, True)]
        able = [one for one in sides if one is not None and one.reception is not None]
        return self._best(able) or next(iter(able), None)

    def _best(self, some: Sequence[Assessment]) -> Assessment | None:
        """Return the best of what betters a range; None where nothing does."""
        better = [one for one in some if one.verdict.standing is Standing.better]
        return max(better, key=lambda one: one.verdict.merit, default=None)

    def _joint(self, parts: Sequence[Assessment | None]) -> JointReception:
        return JointReception(
            sum(one.high_hz - one.low_hz + 1 for one in self.ranges),
            tuple(one.reception for one in parts if one is not None and one.reception is not None),
        )

    def _merit(self, parts: Sequence[Assessment | None]) -> tuple[bool, float, float]:
        """Return what sorts IFs for all ranges, the best last, as `Verdict.merit` does on one."""
        joint = self._joint(parts)
        tracks = all(one.tracks for one in parts if one is not None)
        return tracks, round(joint.clear_share, 3), -worst_db(joint)

    def better_alone(self, name: str) -> Assessment | None:
        """Return what would be best on a range if it were the only one; None where that is recommended."""
        best = self._best(self.on_range(name))
        return None if best is self.recommended[name] else best

    @property
    def text(self) -> str:
        """What is recommended, in words without full stop."""
        shared, flipped = self._shared, replace(self._shared, other_side=True)
        parts = [] if shared.present else [shared.text]
        for name, one in self.recommended.items():
            if not one.proposal.means(shared):
                change = Asked(other_side=True) if one.proposal.means(flipped) else one.proposal.asked
                parts.append(replace(change, range_name=name).text)
        return " and ".join(parts) or Asked().text

    @property
    def proposed(self) -> Receiver | None:
        """The set with what is recommended; None where that is to leave it as it is."""
        chosen = {name: one.proposal for name, one in self.recommended.items()}
        if all(proposal.asked.present for proposal in chosen.values()):
            return None
        receiver = self.receiver
        bases = [self.of_change(self._shared, one.name) for one in receiver.ranges]
        # the chain that the ranges share is changed where it can be on each of them
        if all(one is not None and one.reception is not None for one in bases):
            receiver = with_change(receiver, self._shared)
        for name, proposal in chosen.items():
            wanted = proposal.changed_conversions
            if receiver.conversions_of(range_named(receiver, name)) != wanted:
                receiver = with_range(receiver, name, conversions=wanted)
        return receiver
