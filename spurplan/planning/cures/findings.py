"""What came of trying cures, and the one recommendation that page, chart and saved file share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from spurplan.planning.cures.component_values import Values, values_of
from spurplan.planning.cures.trials import NotTried, Tried
from spurplan.planning.decision import Choice, Comparison, choose, compare, verdict
from spurplan.planning.outlook import Together
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import cover_text
from spurplan.responses.listening.findings import HARDLY_LISTED, WORTH_A_WORD, listed_alone_said
from spurplan.units import listed_text, part_text, share_span_text, share_text

# so many are named within a sentence
MOST_NAMED = 3
# a dial of which this much is usable has nothing to be cured of
AS_GOOD_AS_ALL = 0.95


@dataclass(frozen=True)
class Step:
    """One step of a plan: what is done, on top of the steps before it.

    Attributes
    ----------
    tried : Tried. The set with this step and those before it.
    before : Together. With those before it alone.
    """

    tried: Tried
    before: Together

    @property
    def gain(self) -> Comparison:
        """What the step gains."""
        return compare(self.tried.outlook.worlds, self.before.worlds)

    @property
    def phrase(self) -> str:
        """What is done in this step, as it stands within a sentence."""
        return self.tried.trial.cures[-1].called(self.tried.trial.details[-1])

    @property
    def effort(self) -> float:
        """How many evenings the step takes."""
        return self.tried.trial.cures[-1].effort


@dataclass(frozen=True)
class Findings:
    """The set as it is, every cure tried on it, and the choice among them.

    Attributes
    ----------
    names : tuple of str. The ranges it is about.
    cover : (low, high) or None. The part of the dial that matters. [Hz]
    present : Together. As the set is.
    tried : tuple of Tried. Each cure and design: the one recommended, those that can not be told from it,
        then the rest, most gain first.
    choice : Choice. What is worth doing, as numbers of `tried`.
    further : tuple of Tried. The steps after the recommended one, each with those before it.
    not_tried : what could not be.
    receiver : Receiver or None. The set as it is.
    """

    names: tuple[str, ...]
    cover: tuple[int, int] | None
    present: Together
    tried: tuple[Tried, ...]
    choice: Choice
    further: tuple[Tried, ...] = ()
    not_tried: tuple[NotTried, ...] = ()
    receiver: Receiver | None = None

    def values_of(self, result: Tried) -> tuple[Values, ...]:
        """Return coils and capacitors of what a cure puts ahead of the set."""
        already = 0 if self.receiver is None else len(self.receiver.ahead)
        added = result.trial.receiver.ahead[already:]
        ranges = [range_named(result.trial.receiver, name=name) for name in result.trial.names]
        return values_of(added, ranges, self.cover)

    @cached_property
    def gains(self) -> tuple[Comparison, ...]:
        """What each of `tried` gains over the set as it is."""
        return tuple(compare(result.outlook.worlds, self.present.worlds) for result in self.tried)

    @property
    def recommended(self) -> Tried | None:
        """The best for the least; None where nothing is worth its evenings."""
        return None if self.choice.recommended is None else self.tried[self.choice.recommended]

    @property
    def offered(self) -> tuple[Tried, ...]:
        """What there is to choose from; nothing where no cure helps: the place is to blame, or unknown."""
        idle = self.place_to_blame or self.nobody_tells
        return () if self.recommended is None and idle else self.tried

    @property
    def alike(self) -> tuple[Tried, ...]:
        """What can not be told from it, least effort first."""
        return tuple(self.tried[number] for number in self.choice.not_told_from)

    @property
    def proposed(self) -> Receiver | None:
        """The set with what is recommended; None where nothing is."""
        return None if self.recommended is None else self.recommended.trial.receiver

    @property
    def plan(self) -> tuple[Step, ...]:
        """The steps, the recommended cure first; () where nothing is worth its evenings."""
        if self.recommended is None:
            return ()
        outlooks = [self.present, self.recommended.outlook, *(result.outlook for result in self.further)]
        steps = (self.recommended, *self.further)
        return tuple(Step(result, before) for result, before in zip(steps, outlooks[:-1], strict=True))

    @property
    def place_to_blame(self) -> bool:
        """Whether most of what is lost is lost to noise from outside, which no set does anything about."""
        lost = 1.0 - self.present.usable
        return lost > 1.0 - AS_GOOD_AS_ALL and self.present.place >= 0.5 * lost

    @property
    def nobody_tells(self) -> bool:
        """Whether nothing is found to cure, for the tables list hardly anybody who could come in."""
        return self.present.nobody_tells and self.present.usable + self.present.unknown >= AS_GOOD_AS_ALL

    @property
    def useless(self) -> tuple[Tried, ...]:
        """What is less work than the recommended cure, and makes no difference; least effort first."""
        if self.recommended is None:
            return ()
        limit = self.recommended.trial.effort
        idle = [
            result
            for result, gain in zip(self.tried, self.gains, strict=True)
            if result.trial.effort < limit and verdict(gain) == "no difference"
        ]
        return tuple(sorted(idle, key=lambda result: result.trial.effort))

    @property
    def sentences(self) -> tuple[str, ...]:
        """The answer in sentences, the recommendation first."""
        if self.nobody_tells:
            return (f"Nobody can tell what there is to cure: {HARDLY_LISTED}.",)
        # who is in no table would spoil what is left as well as what is mended
        unlisted = max([self.present.unlisted, *(step.tried.outlook.unlisted for step in self.plan)])
        if self.recommended is None and self.present.usable >= AS_GOOD_AS_ALL:
            unlisted = 0.0  # said already
        advice = " ".join(text for text in (self._advice(), listed_alone_said(unlisted)) if text)
        return tuple(text for text in (advice, self._further(), self._now()) if text)

    def _advice(self) -> str:
        if not self.tried:
            return "No cure can be tried on this set."
        best = self.recommended
        if best is None:
            return self._nothing()
        before = f"{100 * self.present.usable:.0f}"
        after = f"{share_text(best.outlook.usable)}{_span(best.outlook)} instead of {before}"
        text = f"Best for the least: {best.trial.phrase}; {self.present.at} {after}."
        if self.alike:
            text += f" Not told apart: {_named(self.alike)}."
        if self.useless:
            names = [result.trial.phrase for result in self.useless[:MOST_NAMED]]
            subject = listed_text(names)
            does = "does" if len(names) == 1 else "do"
            text += f" {subject[0].upper()}{subject[1:]} {does} nothing about this."
        if best.outlook.regulars:
            text += f" Still there: {listed_text(best.outlook.regulars[:MOST_NAMED])}."
        if self.present.place >= WORTH_A_WORD * 5:
            text += (
                f" {share_text(self.present.place)} is lost to noise from outside, which no cure gives back."
            )
        return text

    def _nothing(self) -> str:
        now = share_text(self.present.usable)
        if self.place_to_blame:
            lost = share_text(self.present.place)
            return f"The place is to blame, not the set: noise from outside takes {lost}. No cure helps."
        if self.present.usable >= AS_GOOD_AS_ALL:
            if self.present.unlisted >= WORTH_A_WORD:
                return (
                    f"Nobody can tell of {share_text(self.present.unlisted)} of the dial whether there is "
                    f"anything to cure: {HARDLY_LISTED}. Of those listed nobody is worth a cure: "
                    f"{self.present.at} {now} is usable beside them as it is."
                )
            return f"Nothing to cure: {self.present.at} {now} is usable as it is."
        if self.present.unknown >= 0.5:
            return "Nobody can tell what to cure: the images lie beyond the tables."
        best = max(range(len(self.tried)), key=lambda number: self.gains[number].gain)
        gain = self.gains[best].gain
        if gain < WORTH_A_WORD:
            return f"None of these makes it better: {self.present.at} {now} is usable as it is."
        return (
            f"None of these is worth its evenings: {self.present.at} {now} is usable as it is; most brings "
            f"{self.tried[best].trial.phrase}, {100 * gain:.0f} points, and not for certain."
        )

    def _further(self) -> str:
        steps = self.plan[1:]
        if not steps:
            return ""
        parts = [
            f"{step.phrase}; {share_text(step.tried.outlook.usable)}{_span(step.tried.outlook)} instead of "
            f"{100 * step.before.usable:.0f}"
            for step in steps
        ]
        return f"Then {'; then '.join(parts)}."

    def _now(self) -> str:
        now = self.present
        what = cover_text(self.cover)
        span = _span(now)
        usable = f"{share_text(now.usable)}{span} of {what}" if span else part_text(now.usable, what)
        text = f"Now {usable} is usable {self.present.at}"
        first = next(iter(now.losses), None)
        text += ", for all that is listed." if now.unlisted >= WORTH_A_WORD else "."
        if first is not None and now.intruders >= WORTH_A_WORD:
            text += f" Most is lost {first.first}."
        if now.decided_by:
            text += f" It depends on whether {listed_text(now.decided_by[:MOST_NAMED], 'or')} is on."
        if now.unknown >= WORTH_A_WORD:
            text += f" {share_text(now.unknown)} is unknown: images beyond the tables."
        return text


def ordered(tried: Sequence[Tried], present: Together) -> tuple[tuple[Tried, ...], Choice]:
    """Return trials in the order that they are shown in, and what is worth doing among them."""
    choice = choose(
        [result.outlook.worlds for result in tried], [result.trial.effort for result in tried], present.worlds
    )
    gains = [compare(result.outlook.worlds, present.worlds).gain for result in tried]
    first = ([] if choice.recommended is None else [choice.recommended]) + list(choice.not_told_from)
    rest = [number for number in range(len(tried)) if number not in first]
    rest.sort(key=lambda number: (-round(gains[number], 3), tried[number].trial.effort))
    moved = tuple(tried[number] for number in (*first, *rest))
    if choice.recommended is None:
        return moved, Choice(None)
    return moved, Choice(0, tuple(range(1, len(first))))


def _span(outlook: Together) -> str:
    """Return how sure a share is, in brackets; "" where it hangs on single stations, or is a point."""
    span = "" if outlook.decided_by else share_span_text(*outlook.interval)
    return f" ({span})" if span else ""


def _named(tried: Sequence[Tried]) -> str:
    names = [result.trial.phrase for result in tried[:MOST_NAMED]]
    more = len(tried) - len(names)
    return f"{', '.join(names)} and {more} more" if more else ", ".join(names)
