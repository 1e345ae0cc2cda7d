"""What was found about converters, and the one recommendation that page, chart and saved file share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused
from spurplan.planning.converter.candidates import SIDES, Candidates, Cover
from spurplan.planning.converter.merits import Figures
from spurplan.planning.converter.question import Question
from spurplan.planning.converter.ranking import NONE, Ranking, dial_rule
from spurplan.planning.converter.reasons import Reasons
from spurplan.planning.judging import Reason
from spurplan.receiver.changes import changed, converter_conversion, with_converter, with_only
from spurplan.receiver.description import Receiver
from spurplan.units import hz_text


@dataclass(frozen=True)
class Candidate:
    """One converter, as it is told of and built.

    Attributes
    ----------
    number : int. Its place on the list.
    rank : int. Its place among those for one cover, 1 for the best.
    crystal_hz, multiplier, side : what it is made of; the side as a word. [Hz]
    range : str or None. The range behind it; None where none tunes the IF.
    low_hz, high_hz : int. The part of the cover that can be tuned. [Hz]
    set_low_hz, set_high_hz : int or None. The tunable IF. [Hz]
    reasons : why it stands there, and what is against it.
    """

    number: int
    rank: int
    crystal_hz: int
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
    clear_share: float | None
    unknown_share: float | None
    reasons: tuple[Reason, ...]

    @property
    def crystal_text(self) -> str:
        """The crystal, and times which it is multiplied: "7 MHz times 2"."""
        return hz_text(self.crystal_hz) + ("" if self.multiplier == 1 else f" times {self.multiplier}")


@dataclass(frozen=True)
class Findings:
    """What was found; the number of a candidate is its place on the list, in all of it.

    Attributes
    ----------
    asked : Question.
    candidates, figures, ranking, reasons : of V candidates, cover by cover, the best of each first.
    """

    asked: Question
    candidates: Candidates
    figures: Figures
    ranking: Ranking
    reasons: Reasons

    def candidate(self, number: int) -> Candidate:
        """Return one candidate."""
        some, figures = self.candidates.take(np.array([number])), self.figures
        placed = bool(some.placed[0])
        set_low, set_high = (int(ends[0]) for ends in some.set_hz)
        return Candidate(
            number=number,
            rank=int(self.ranking.rank[number]),
            crystal_hz=self.asked.crystals[int(some.crystal[0])].frequency_hz,
            multiplier=int(some.multiplier[0]),
            side=SIDES[int(some.side[0])],
            dial_rule=dial_rule(int(some.side[0]), int(some.injected_hz[0])),
            range=self.asked.ranges[int(some.range[0])].name if placed else None,
            low_hz=int(some.low_hz[0]),
            high_hz=int(some.high_hz[0]),
            lost_hz=int(some.lost_hz[0]),
            set_low_hz=set_low if placed else None,
            set_high_hz=set_high if placed else None,
            image_rejection_db=_known(figures.image_rejection_db[number]),
            second_image_rejection_db=_known(figures.second_image_rejection_db[number]),
            clear_share=_known(figures.clear_share[number]),
            unknown_share=_known(figures.unknown_share[number]),
            reasons=tuple(self.reasons.of(number)),
        )

    @property
    def meant(self) -> npt.NDArray[np.bool_]:
        """Which candidates the answer is about: those of one crystal where that is to be explained."""
        about = self.asked.about
        if about is None:
            return np.ones(len(self.candidates), dtype=np.bool_)
        crystal_hz = np.array([one.frequency_hz for one in self.asked.crystals], dtype=np.int64)
        meant = crystal_hz[self.candidates.crystal] == about.crystal.frequency_hz
        if about.multiplier is not None:
            meant &= self.candidates.multiplier == about.multiplier
        if about.side is not None:
            meant &= self.candidates.side == about.side
        return np.asarray(meant, dtype=np.bool_)

    @property
    def listed(self) -> npt.NDArray[np.int64]:
        """The candidates to show, without those that repeat another one's injection, ascending."""
        repeats = (self.ranking.same_as != NONE) & (self.asked.about is None)
        return np.flatnonzero(self.meant & ~repeats).astype(np.int64)

    def chosen(self, cover: Cover) -> Candidate | None:
        """Return the candidate to build for a cover: the best, or the best of the one asked about.

        Returns
        -------
        Candidate or None. The first that can be used as it stands, None where none can; of a crystal
            that is to be explained the first that goes into some range.
        """
        able = self.candidates.placed if self.asked.about is not None else self.ranking.usable
        here = self.candidates.cover == self.asked.covers.index(cover)
        numbers = np.flatnonzero(here & able & self.meant)
        return self.candidate(int(numbers[0])) if len(numbers) else None

    @property
    def proposed(self) -> Receiver | None:
        """The set behind the candidate to build for the one cover; None where there is none."""
        best = self.chosen(self.asked.covers[0])
        return None if best is None else self.behind(best)

    def behind(self, candidate: Candidate) -> Receiver:
        """Return the set behind a converter, for every other question.

        Raises
        ------
        Refused  when it has no range to go to.
        """
        set_, crystal = self.asked.receiver, hz_text(candidate.crystal_hz)
        if candidate.range is None:
            reason = candidate.reasons[0].text
            raise Refused(Fault("--save-receiver", f"has no converter to write: {reason}", crystal))
        front = self.asked.front
        side = "sum" if candidate.side == "sum" else None
        conversion = converter_conversion(candidate.crystal_hz, front, candidate.multiplier, side)
        one = with_only(set_, [candidate.range])
        behind = with_converter(one, conversion, (candidate.low_hz, candidate.high_hz), front)
        return changed(behind, set_.name, name=f"{set_.name}, converter with {candidate.crystal_text}")

    def for_all_covers(self) -> tuple[int, tuple[float, ...]] | None:
        """Return the crystal that serves every cover, and leaves most clear where it leaves least.

        Returns
        -------
        (its frequency, the share clear of each cover), or None where none serves. [Hz]
        """
        covers, crystals = len(self.asked.covers), len(self.asked.crystals)
        clear = np.full((crystals, covers), -1.0)
        able = np.flatnonzero(self.ranking.usable & self.meant)
        at = (self.candidates.crystal[able], self.candidates.cover[able])
        np.maximum.at(clear, at, self.figures.clear_share[able])
        serving = np.flatnonzero((clear >= 0.0).all(axis=1))
        if not len(serving):
            return None
        hz = np.array([self.asked.crystals[one].frequency_hz for one in serving.tolist()], dtype=np.int64)
        best = int(np.lexsort((hz, -clear[serving].min(axis=1)))[0])
        return int(hz[best]), tuple(clear[serving[best]].tolist())

    def per_cover(self) -> Iterator[tuple[Cover, Candidate | None]]:
        """Give each cover with the candidate to build for it."""
        for cover in self.asked.covers:
            yield cover, self.chosen(cover)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
