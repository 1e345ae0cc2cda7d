"""What was found about converters, and the one recommendation that page, chart and saved file share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused
from spurplan.planning.converter.candidates import SIDES, Candidates, Cover
from spurplan.planning.converter.crystal_order import Order
from spurplan.planning.converter.figures import Figures
from spurplan.planning.converter.question import Question
from spurplan.planning.converter.ranking import NONE, Ranking, dial_rule, difference
from spurplan.planning.converter.reasons import Reasons
from spurplan.planning.outlook import HOUR
from spurplan.planning.reason import Reason
from spurplan.receiver.changes import changed, converter_conversion, with_converter, with_only
from spurplan.receiver.description import Receiver
from spurplan.responses.listening.findings import at_text, nobody_tells
from spurplan.units import hz_text


@dataclass(frozen=True)
class Candidate:
    """One converter, as it is told of and built.

    Attributes
    ----------
    number : int. Its place on the list.
    rank : int. Its place among those for one cover, 1 for the best.
    crystal_hz, multiplier, side : what it is made of; the side as a word. The set alone has no
        crystal. [Hz]
    range : str or None. The range behind it; None where none tunes the IF.
    low_hz, high_hz : int. The part of the cover that can be tuned. [Hz]
    set_low_hz, set_high_hz : int or None. The tunable IF. [Hz]
    reasons : why it stands there, and what is against it.
    """

    number: int
    rank: int
    crystal_hz: int | None
    multiplier: int
    side: str
    dial_rule: str
    range: str | None
    low_hz: int
    high_hz: int
    lost_hz: int
    set_low_hz: int | None
    set_high_hz: int | None
    image_rejection_db: float | None
    second_image_rejection_db: float | None
    unheard_share: float | None
    unknown_share: float | None
    unlisted_share: float | None
    usable_share: float | None
    usable_low: float | None
    usable_high: float | None
    reasons: tuple[Reason, ...]

    @property
    def nobody_tells(self) -> bool:
        """Whether hardly anything of the cover can be told, for the tables list hardly anybody there."""
        if self.unlisted_share is None or self.unknown_share is None or self.usable_share is None:
            return False
        lost = 1.0 - self.usable_share - self.unknown_share
        return nobody_tells(self.unlisted_share, self.unlisted_share + self.unknown_share, lost)

    @property
    def crystal_text(self) -> str:
        """The crystal, and times which it is multiplied: "7 MHz times 2"; or the set alone."""
        if self.crystal_hz is None:
            return "the set alone"
        return hz_text(self.crystal_hz) + ("" if self.multiplier == 1 else f" times {self.multiplier}")


@dataclass(frozen=True)
class Findings:
    """What was found; the number of a candidate is its place on the list, in all of it.

    Attributes
    ----------
    question : Question.
    candidates, figures, ranking, reasons : of V candidates, cover by cover, the best of each first.
    """

    question: Question
    candidates: Candidates
    figures: Figures
    ranking: Ranking
    reasons: Reasons

    @property
    def at(self) -> str:
        """When it is so, in words."""
        return at_text(HOUR, this_hour=self.question.place.activity is not None)

    def candidate(self, number: int) -> Candidate:
        """Return one candidate."""
        some, figures = self.candidates.take(np.array([number])), self.figures
        placed, alone = bool(some.placed[0]), bool(some.alone[0])
        set_low, set_high = (int(ends[0]) for ends in some.set_hz)
        return Candidate(
            number=number,
            rank=int(self.ranking.rank[number]),
            crystal_hz=None if alone else self.question.crystals[int(some.crystal[0])].frequency_hz,
            multiplier=int(some.multiplier[0]),
            side=SIDES[int(some.side[0])],
            dial_rule=dial_rule(int(some.side[0]), int(some.injected_hz[0])),
            range=self.question.ranges[int(some.range[0])].name if placed else None,
            low_hz=int(some.low_hz[0]),
            high_hz=int(some.high_hz[0]),
            lost_hz=int(some.lost_hz[0]),
            set_low_hz=set_low if placed and not alone else None,
            set_high_hz=set_high if placed and not alone else None,
            image_rejection_db=_known(figures.image_rejection_db[number]),
            second_image_rejection_db=_known(figures.second_image_rejection_db[number]),
            unheard_share=_known(figures.unheard_share[number]),
            unknown_share=_known(figures.unknown_share[number]),
            unlisted_share=_known(figures.unlisted_share[number]),
            usable_share=_known(figures.usable_share[number]),
            usable_low=_known(figures.usable_low[number]),
            usable_high=_known(figures.usable_high[number]),
            reasons=tuple(self.reasons.of(number)),
        )

    def order_of(self, number: int) -> Order | None:
        """Return how the crystal of a candidate is ordered; None for the set alone."""
        some = self.candidates.take(np.array([number]))
        if some.alone[0]:
            return None
        return Order(self.question.crystals[int(some.crystal[0])], int(some.injected_hz[0]))

    @property
    def meant(self) -> npt.NDArray[np.bool_]:
        """Which converters the answer is about: those of one crystal where that is to be explained."""
        about = self.question.about
        with_crystal = ~self.candidates.alone
        if about is None:
            return with_crystal
        crystal_hz = np.array([crystal.frequency_hz for crystal in self.question.crystals], dtype=np.int64)
        meant = with_crystal & (crystal_hz[self.candidates.crystal] == about.crystal.frequency_hz)
        if about.multiplier is not None:
            meant &= self.candidates.multiplier == about.multiplier
        if about.side is not None:
            meant &= self.candidates.side == about.side
        return np.asarray(meant, dtype=np.bool_)

    @property
    def listed(self) -> npt.NDArray[np.int64]:
        """The candidates to show, without those that repeat another one's injection, ascending.

        The set alone is among them.
        """
        repeats = (self.ranking.same_as != NONE) & (self.question.about is None)
        return np.flatnonzero((self.meant & ~repeats) | self.candidates.alone).astype(np.int64)

    def alone(self, cover: Cover) -> tuple[Candidate, ...]:
        """Return the set without a converter, a candidate for each range that tunes some of a cover."""
        here = self.candidates.cover == self.question.covers.index(cover)
        numbers = np.flatnonzero(here & self.candidates.alone & self.candidates.placed)
        return tuple(map(self.candidate, numbers.tolist()))

    def rivals(self, best: Candidate) -> tuple[list[int], list[int]]:
        """Return what cannot be told apart from a candidate, and what stands behind it that can.

        Returns
        -------
        numbers of candidates, twice: of those that can be used as they stand and are tuned where it
        was asked for as it is, or are not as it is not; each injection once.
        """
        number, ranking = best.number, self.ranking
        same = (self.candidates.cover == self.candidates.cover[number]) & ranking.possible
        same &= (ranking.in_tune == ranking.in_tune[number]) & (ranking.same_as == NONE)
        others = [at for at in np.flatnonzero(same).tolist() if at != number]
        alike = [at for at in others if ranking.points.alike(number, at)]
        return alike, [at for at in others if at > number and at not in alike]

    def before(self, best: Candidate) -> list[int]:
        """Return the numbers of the candidates that stand before one for the same cover."""
        return list(range(best.number - best.rank + 1, best.number))

    def behind_by(self, lower: int, best: Candidate) -> tuple[float, str]:
        """Return how many points a candidate is behind another, and in words for what most."""
        total = self.ranking.points.total
        by = difference(self.ranking, self.figures, self.candidates, lower, best.number)
        return float(total[best.number] - total[lower]), by

    def ahead_by(self, upper: int, best: Candidate) -> tuple[float, str]:
        """Return how many points a candidate is ahead of another, and in words for what most."""
        total = self.ranking.points.total
        by = difference(self.ranking, self.figures, self.candidates, best.number, upper)
        return float(total[upper] - total[best.number]), by

    def chosen(self, cover: Cover) -> Candidate | None:
        """Return the candidate to build for a cover: the best, or the best of the one asked about.

        Returns
        -------
        Candidate or None. The first that can be used as it stands, None where none can; of a crystal
            that is to be explained the first that goes into some range.
        """
        able = self.candidates.placed if self.question.about is not None else self.ranking.possible
        here = self.candidates.cover == self.question.covers.index(cover)
        numbers = np.flatnonzero(here & able & self.meant)
        return self.candidate(int(numbers[0])) if len(numbers) else None

    @property
    def proposed(self) -> Receiver | None:
        """The set behind the candidate to build for the one cover; None where there is none."""
        best = self.chosen(self.question.covers[0])
        return None if best is None else self.behind(best)

    def behind(self, candidate: Candidate) -> Receiver:
        """Return the set behind a converter, for every other question.

        Raises
        ------
        Refused  when it has no range to go to.
        """
        set_ = self.question.receiver
        if candidate.range is None or candidate.crystal_hz is None:
            reason, crystal = candidate.reasons[0].text, candidate.crystal_text
            raise Refused(Fault("--save-receiver", f"has no converter to write: {reason}", crystal))
        front = self.question.front
        side = "sum" if candidate.side == "sum" else None
        conversion = converter_conversion(
            candidate.crystal_hz, front=front, multiplier=candidate.multiplier, injection=side
        )
        one_range = with_only(set_, range_names=[candidate.range])
        behind = with_converter(
            one_range, conversion=conversion, cover=(candidate.low_hz, candidate.high_hz), front=front
        )
        return changed(behind, set_.name, name=f"{set_.name}, converter with {candidate.crystal_text}")

    def for_all_covers(self) -> tuple[int, tuple[float, ...]] | None:
        """Return the crystal that serves every cover, and has most points where it has least.

        Returns
        -------
        (its frequency, the usable share of each cover), or None where none serves. [Hz]
        """
        covers, crystals = len(self.question.covers), len(self.question.crystals)
        total = self.ranking.points.total
        # the way of using a crystal for a cover that has most points, wherever it stands
        best_way = np.full((crystals, covers), NONE, dtype=np.int64)
        able = self.ranking.possible & self.meant
        if self.question.tune is not None:
            able &= self.ranking.in_tune
        numbers = np.flatnonzero(able)
        numbers = numbers[np.argsort(total[numbers], kind="stable")]
        best_way[self.candidates.crystal[numbers], self.candidates.cover[numbers]] = numbers
        serving = np.flatnonzero((best_way != NONE).all(axis=1))
        if not len(serving):
            return None
        hz = np.array(
            [self.question.crystals[number].frequency_hz for number in serving.tolist()], dtype=np.int64
        )
        least = total[best_way[serving]].min(axis=1)
        best = int(np.lexsort((hz, -least))[0])
        return int(hz[best]), tuple(self.figures.usable_share[best_way[serving[best]]].tolist())

    def per_cover(self) -> Iterator[tuple[Cover, Candidate | None]]:
        """Give each cover with the candidate to build for it."""
        for cover in self.question.covers:
            yield cover, self.chosen(cover)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
