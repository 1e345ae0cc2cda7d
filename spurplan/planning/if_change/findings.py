"""What was found about other IFs, and the one recommendation that page, chart and saved file share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from spurplan.planning.decision import GAMBLE, Choice, Comparison, choose, compare, verdict
from spurplan.planning.if_change.costs import Costs, effort_of, range_around
from spurplan.planning.if_change.nearby import Nearby
from spurplan.planning.if_change.proposal_table import Assessment
from spurplan.planning.if_change.proposals import Asked, with_change
from spurplan.planning.if_change.scan import Scan
from spurplan.planning.if_change.scan_curve import ScanCurve, curve_of
from spurplan.planning.if_change.scan_list import Scanned
from spurplan.planning.outlook import Together, width_hz
from spurplan.receiver.changes.edits import range_named, with_range
from spurplan.receiver.description import Range, Receiver
from spurplan.units import hz_text


@dataclass(frozen=True)
class Plan:
    """One IF for all the ranges asked about, the oscillator of each on its better side.

    Attributes
    ----------
    change : Asked.
    parts : one a range; None where it can not be had there.
    together : Together. What becomes of all of them.
    gain : Comparison or None. Against the set as it is; None for the set as it is.
    effort : float. Evenings.
    objections : tuple of str. Why nobody would build it, whatever it brings.
    """

    change: Asked
    parts: tuple[Assessment | None, ...]
    together: Together
    gain: Comparison | None
    effort: float
    objections: tuple[str, ...]

    @property
    def present(self) -> bool:
        """Whether it is the set as it is."""
        return self.gain is None

    @property
    def word(self) -> str | None:
        """What it is worth: one of the five of `decision.verdict`."""
        return None if self.gain is None else verdict(self.gain)

    @property
    def costs(self) -> tuple[str, ...]:
        """What it costs besides the work, range by range where there are several."""
        return costs_of([part for part in self.parts if part is not None])


def costs_of(parts: Sequence[Assessment]) -> tuple[str, ...]:
    """Return what changes cost besides the work, each with its range where there are several."""
    phrases = []
    for part in parts:
        where = f"range {part.proposal.range.name}: " if len(parts) > 1 else ""
        costs = part.verdict.costs
        # a width is the whole set's
        phrases += [where + text for text in replace(costs, coils_hz=None).texts]
        phrases += replace(Costs(), coils_hz=costs.coils_hz).texts
    return tuple(dict.fromkeys(phrases))


@dataclass(frozen=True)
class Findings:
    """Each IF asked about, on each range, against the present one; and the scan, where one was asked for.

    Attributes
    ----------
    receiver : Receiver. The set as it is.
    ranges : the ranges asked about.
    considered : the changes, the present IF first.
    assessments : one a range and proposal, the present IF of a range first.
    scan : Scan or None. The IFs tried.
    scanned : those of them worth showing, the best first.
    cover : (low, high) or None. The stretch that matters; all of the ranges where None. [Hz]
    nearby : Nearby or None. An IF near one asked about that some ranges alone would gain by, where none
        is worth it for all of them.
    """

    receiver: Receiver
    ranges: tuple[Range, ...]
    considered: tuple[Asked, ...]
    assessments: tuple[Assessment, ...]
    scan: Scan | None = None
    scanned: tuple[Scanned, ...] = ()
    cover: tuple[int, int] | None = None
    nearby: Nearby | None = None

    @cached_property
    def curve(self) -> ScanCurve | None:
        """The scan as a curve; None where nothing was scanned, or none of it can be had."""
        if self.scan is None:
            return None
        return curve_of(self.scan, self.scanned, self.receiver, self.ranges)

    def on_range(self, name: str) -> list[Assessment]:
        """Return the assessments of a range, the present IF first."""
        return [assessment for assessment in self.assessments if assessment.proposal.range.name == name]

    def of_change(self, change: Asked, name: str) -> Assessment | None:
        """Return what a change comes to on a range; None where it is not meant for it."""
        return next(
            (assessment for assessment in self.on_range(name) if assessment.proposal.means(change)), None
        )

    @cached_property
    def plans(self) -> tuple[Plan, ...]:
        """The set as it is, first; then the same with oscillators moved, where that pays, and each IF."""
        present = [self.on_range(range_.name)[0] for range_ in self.ranges]
        as_it_is = self._plan(Asked(), present, None)
        moved = [self._better(assessment, self._flipped(Asked(), assessment)) for assessment in present]
        plans = [as_it_is]
        if moved != present:
            plans.append(self._plan(Asked(other_side=True), moved, as_it_is))
        for change in self._ifs:
            if change.range_name is None and not change.present:
                plans.append(
                    self._plan(change, [self._side(change, assessment) for assessment in present], as_it_is)
                )
        return tuple(plans)

    def _plan(self, change: Asked, parts: Sequence[Assessment | None], before: Plan | None) -> Plan:
        together = Together(
            sum(width_hz(range_, self.cover) for range_ in self.ranges),
            tuple(None if part is None else part.outlook for part in parts),
        )
        too_wide = any(part is not None and part.verdict.costs.coils_hz is not None for part in parts)
        return Plan(
            change,
            tuple(parts),
            together,
            None if before is None else compare(together.worlds, before.together.worlds),
            effort_of(change, too_wide=too_wide),
            () if before is None else self._objections(change, parts),
        )

    def _objections(self, change: Asked, parts: Sequence[Assessment | None]) -> tuple[str, ...]:
        phrases = []
        for if_hz in dict.fromkeys(part.front_if_hz for part in parts if part is not None):
            around = None if if_hz is None else range_around(self.receiver, if_hz, self._names(change))
            if if_hz is not None and around is not None and not change.same_if:
                phrases.append(f"{hz_text(if_hz)} lies inside range {around.name}")
        missing = [range_.name for range_, part in zip(self.ranges, parts, strict=True) if part is None]
        if missing:
            phrases.append(f"it can not be had on range {', '.join(missing)}")
        bad = [part.proposal.range.name for part in parts if part and not part.verdict.costs.buildable]
        if bad:
            phrases.append(f"nothing tracks it on range {', '.join(bad)}")
        return tuple(phrases)

    def _names(self, change: Asked) -> list[str]:
        """Return the names of the ranges that would have an IF: those asked about, or the one."""
        return [range_.name for range_ in self.ranges] if change.range_name is None else [change.range_name]

    @cached_property
    def choice(self) -> Choice:
        """Which of `possible` is worth its evenings."""
        return choose(
            [plan.together.worlds for plan in self.possible],
            [plan.effort for plan in self.possible],
            self.plans[0].together.worlds,
        )

    @property
    def possible(self) -> list[Plan]:
        """The changes that somebody would build: evenings by the dozen are no stake for a gamble."""
        return [plan for plan in self.plans[1:] if not plan.objections and plan.word != GAMBLE]

    @cached_property
    def chosen(self) -> Plan:
        """What is recommended for all ranges; the set as it is where nothing is worth its evenings."""
        number = self.choice.recommended
        return self.plans[0] if number is None else self.possible[number]

    @property
    def not_told_from(self) -> list[Plan]:
        """What can not be told from the recommended change, least effort first."""
        return [self.possible[number] for number in self.choice.not_told_from]

    @cached_property
    def recommended(self) -> dict[str, Assessment]:
        """What is recommended on each range; the present IF where nothing is worth its evenings.

        Notes
        -----
        A set has one IF unless another is asked for on a single range: one that is worth its evenings
        there takes the place of the one for all.
        """
        chosen = {}
        for range_, part in zip(self.ranges, self.chosen.parts, strict=True):
            assert part is not None, "what can not be had on a range is not recommended"
            own = [self._side(change, part) for change in self._ifs if change.range_name == range_.name]
            worth = [
                alone
                for alone in own
                if alone is not None
                and alone.outlook is not None
                and not self._objections(alone.change, [alone] * len(self.ranges))
            ]
            chosen[range_.name] = self._best(worth, part)
        return chosen

    @property
    def kept(self) -> bool:
        """Whether the set stays as it is."""
        return all(assessment.change.present for assessment in self.recommended.values())

    @property
    def effort(self) -> float:
        """Evenings of what is recommended."""
        alone = [
            assessment
            for name, assessment in self.recommended.items()
            if not assessment.proposal.means(self._shared)
        ]
        own = {
            assessment.change
            for assessment in alone
            if not assessment.change.same_if and assessment.change.range_name is not None
        }
        return self.chosen.effort + sum(effort_of(change) for change in own)

    @property
    def costs(self) -> tuple[str, ...]:
        """What is recommended costs besides the work."""
        return costs_of(
            [assessment for assessment in self.recommended.values() if not assessment.change.present]
        )

    @property
    def _ifs(self) -> list[Asked]:
        """The changes without those that differ by the side of the oscillator alone."""
        return [change for change in self.considered if not change.other_side]

    def _best(self, some: Sequence[Assessment], present: Assessment) -> Assessment:
        assert present.outlook is not None
        able = [
            assessment
            for assessment in some
            if assessment.outlook is not None and assessment.verdict.word != GAMBLE
        ]
        worlds = [assessment.outlook.worlds for assessment in able if assessment.outlook is not None]
        efforts = [
            effort_of(assessment.change, too_wide=assessment.verdict.costs.coils_hz is not None)
            for assessment in able
        ]
        number = choose(worlds, efforts, present.outlook.worlds).recommended
        return present if number is None else able[number]

    def _flipped(self, change: Asked, assessment: Assessment) -> Assessment | None:
        return self.of_change(replace(change, other_side=True), assessment.proposal.range.name)

    def _side(self, change: Asked, on: Assessment) -> Assessment | None:
        """Return an IF on a range with the oscillator on its better side; None where it can not be had."""
        own, other = self.of_change(change, on.proposal.range.name), self._flipped(change, on)
        if own is None or own.outlook is None:
            return other if other is not None and other.outlook is not None else None
        return self._better(own, other)

    def _better(self, own: Assessment, other: Assessment | None) -> Assessment:
        """Return the other side where it is worth moving the oscillator, or alone can be ganged."""
        if other is None or other.outlook is None or not other.verdict.costs.buildable:
            return own
        return other if not own.verdict.costs.buildable else self._best([other], own)

    @property
    def changes(self) -> tuple[Asked, ...]:
        """What is recommended, the IF for all ranges first; none where the set stays as it is."""
        shared, flipped = self._shared, replace(self._shared, other_side=True)
        changes = [] if shared.present else [shared]
        for name, assessment in self.recommended.items():
            if not assessment.proposal.means(shared):
                change = Asked(other_side=True) if assessment.proposal.means(flipped) else assessment.change
                changes.append(replace(change, range_name=name))
        return tuple(changes)

    @property
    def text(self) -> str:
        """What is recommended, in words without full stop."""
        return " and ".join(change.text for change in self.changes) or Asked().text

    @property
    def noun(self) -> str:
        """The same inside a sentence."""
        return " and ".join(change.noun for change in self.changes) or Asked().noun

    @property
    def _shared(self) -> Asked:
        """The IF for all ranges, sides aside."""
        return replace(self.chosen.change, other_side=False)

    @property
    def proposed(self) -> Receiver | None:
        """The set with what is recommended; None where that is to leave it as it is."""
        chosen = {name: assessment.proposal for name, assessment in self.recommended.items()}
        if all(proposal.change.present for proposal in chosen.values()):
            return None
        receiver = self.receiver
        bases = [self.of_change(self._shared, range_.name) for range_ in receiver.ranges]
        # the chain that the ranges share is changed where it can be on each of them
        if all(base is not None and base.outlook is not None for base in bases):
            receiver = with_change(receiver, self._shared)
        for name, proposal in chosen.items():
            wanted = proposal.changed_conversions
            if receiver.conversions_of(range_named(receiver, name=name)) != wanted:
                receiver = with_range(receiver, range_name=name, conversions=wanted)
        return receiver
