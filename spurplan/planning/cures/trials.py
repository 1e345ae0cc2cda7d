"""Cures tried out on a set: one by one, and in pairs."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

from spurplan.errors import Refused
from spurplan.occupancy.bands import Bands
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.cures.changes import carried_out
from spurplan.planning.cures.converter import best_converter
from spurplan.planning.cures.file import Cure
from spurplan.planning.judging import AT_ONCE, JointReception, Reception, Way, judge
from spurplan.planning.tally import Progress
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.units import hz_text


@dataclass(frozen=True)
class Trial:
    """A set with one cure or two.

    Attributes
    ----------
    cures : one or two Cure.
    receiver : Receiver. The set with them, its ranges cut to the cover.
    whole : Receiver. The same with its ranges uncut, as it would be saved.
    names : tuple of str. The ranges that serve.
    details : one or two str. Which IF, which crystal; "" for a cure that is one thing only.
    if_hz : int or None. [Hz]
    """

    cures: tuple[Cure, ...]
    receiver: Receiver
    whole: Receiver
    names: tuple[str, ...]
    details: tuple[str, ...] = ("",)
    if_hz: int | None = None

    @property
    def name(self) -> str:
        """What is done."""
        return " + ".join(
            f"{cure.name} ({detail})" if detail else cure.name
            for cure, detail in zip(self.cures, self.details, strict=True)
        )

    @property
    def effort(self) -> float:
        """The work of all of it."""
        return sum(cure.effort for cure in self.cures)

    @property
    def note(self) -> str | None:
        """What to know about it."""
        return "; ".join(cure.note for cure in self.cures if cure.note) or None


@dataclass(frozen=True)
class Tried:
    """A trial, and what reception on the ranges that serve comes to with it."""

    trial: Trial
    reception: JointReception

    @property
    def not_cured(self) -> list[Way]:
        """The worst that is left, each station or band once."""
        by_label: dict[str, Way] = {}
        for way in self.reception.ways:
            by_label.setdefault(way.label, way)
        return list(by_label.values())


@dataclass(frozen=True)
class NotTried:
    """A cure that could not be tried, and why."""

    cure: str
    reason: str

    @property
    def text(self) -> str:
        """Both, in words."""
        return f"{self.cure}: {self.reason}"


@dataclass
class Bench:
    """A set with what is needed to try cures on it.

    Attributes
    ----------
    cut, whole : Receiver. Its ranges cut to the cover, and as they are.
    names : tuple of str. The ranges that matter.
    cover : (low, high) or None. [Hz]
    occupants, settings, bands : who is on the air, and how it is asked.
    progress : called with (ranges judged, ranges in all) of the trials at hand, or None.
    not_tried : list of NotTried.
    """

    cut: Receiver
    whole: Receiver
    names: tuple[str, ...]
    cover: tuple[int, int] | None
    occupants: Occupants
    settings: Settings
    bands: Bands
    progress: Progress | None = None
    not_tried: list[NotTried] = field(default_factory=list)

    def reception(self, receiver: Receiver, names: Sequence[str]) -> JointReception:
        """Return what reception on some ranges of a set comes to."""
        pairs = [(receiver, range_named(receiver, name)) for name in names]
        ranges = judge(pairs, self.occupants, self.settings)
        return JointReception(self._width_hz(), tuple(ranges))

    def _width_hz(self) -> int:
        ends = [range_named(self.cut, name) for name in self.names]
        return sum(one.high_hz - one.low_hz + 1 for one in ends)

    def tried(self, trials: Sequence[Trial]) -> list[Tried]:
        """Return each trial with what it comes to, in the order given."""
        pairs = [(t.receiver, range_named(t.receiver, name)) for t in trials for name in t.names]
        judged: list[Reception] = []
        for start in range(0, len(pairs), AT_ONCE):
            judged += judge(pairs[start : start + AT_ONCE], self.occupants, self.settings)
            if self.progress is not None:
                self.progress(len(judged), len(pairs))
        ranges = iter(judged)
        return [
            Tried(trial, JointReception(self._width_of(trial), tuple(next(ranges) for _ in trial.names)))
            for trial in trials
        ]

    def _width_of(self, trial: Trial) -> int:
        """Return the dial that is wanted of a trial: behind a converter the cover, once. [Hz]"""
        if self.cover is not None and any(cure.converter for cure in trial.cures):
            return self.cover[1] - self.cover[0] + 1
        return self._width_hz()

    def singles(self, listed: Sequence[Cure]) -> list[list[Trial]]:
        """Return each cure by itself, once for each way of carrying it out; none where it can not be."""
        return [list(self._ways_of(cure)) for cure in listed]

    def _ways_of(self, cure: Cure) -> list[Trial]:
        if cure.converter:
            return self._converters(cure)
        out = []
        refused: list[str] = []
        for if_hz in cure.if_hz or (None,):
            try:
                made = [carried_out(one, cure, self.names, if_hz) for one in (self.cut, self.whole)]
            except Refused as bad:
                refused.append(bad.faults[0].rule)
                continue
            if made[0] is None or made[1] is None:
                continue
            detail = "" if if_hz is None else hz_text(if_hz)
            out.append(Trial((cure,), made[0], made[1], self.names, (detail,), if_hz))
        if not out:
            reason = refused[0] if refused else "not meant for these ranges"
            self.not_tried.append(NotTried(cure.name, reason))
        return out

    def _converters(self, cure: Cure) -> list[Trial]:
        if self.cover is None:
            self.not_tried.append(NotTried(cure.name, "needs --cover LOW:HIGH"))
            return []
        try:
            made, name, said = best_converter(self.whole, self.bands, self.cover, self.settings)
        except Refused as bad:
            self.not_tried.append(NotTried(cure.name, bad.faults[0].rule))
            return []
        return [Trial((cure,), made, made, (name,), (said,))]

    def pairs(self, trials: Sequence[Trial]) -> list[Trial]:
        """Return every two of some cures that go together."""
        out = []
        for one, other in itertools.combinations(trials, 2):
            first, second = sorted((one, other), key=_order)
            group = first.cures[0].group
            if group and group == second.cures[0].group:
                continue
            cure = second.cures[0]
            try:
                made = [
                    carried_out(set_, cure, first.names, second.if_hz)
                    for set_ in (first.receiver, first.whole)
                ]
            except Refused:
                continue
            if made[0] is not None and made[1] is not None:
                cures, details = (*first.cures, *second.cures), (*first.details, *second.details)
                out.append(Trial(cures, made[0], made[1], first.names, details))
        return out


def _order(trial: Trial) -> int:
    """Return what comes first: the converter, then the IF, then the circuits that are there."""
    cure = trial.cures[0]
    return 0 if cure.converter else 1 if cure.if_hz else 2 if cure.one_circuit_q is not None else 3
