"""Cures tried out on a set: one by one, as designs, and one on top of another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import Bands
from spurplan.planning.cures.changes import carried_out, trap_if_hz
from spurplan.planning.cures.converter import best_converter
from spurplan.planning.cures.cure_list import Cure
from spurplan.planning.cures.worst_station import WITHIN_A_TRAP, Station, deciding_station
from spurplan.planning.decision import compare
from spurplan.planning.if_change.costs import range_around
from spurplan.planning.outlook import Outlook, Pair, Together, outlooks, shares_of
from spurplan.planning.tally import Progress
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.listening.findings import BUSY
from spurplan.responses.listening.judged import AirAtHour
from spurplan.units import hz_text

# why a cure could not be tried
NO_COVER = "needs --cover LOW:HIGH"
# Ranges worked through together: enough for the arrays, few enough for the limit on records.
AT_ONCE = 32
NO_STATION = "no single station off the IF spoils enough of it"


@dataclass(frozen=True)
class Trial:
    """A set with some cures.

    Attributes
    ----------
    cures : tuple of Cure, one or more: what is done, a design being one.
    receiver : Receiver. The set with them.
    names : tuple of str. The ranges that serve.
    details : str each. Which IF, crystal or station; "" for a cure that is one thing only.
    if_hz : int or None. The IF that was taken, where there was a choice. [Hz]
    """

    cures: tuple[Cure, ...]
    receiver: Receiver
    names: tuple[str, ...]
    details: tuple[str, ...] = ("",)
    if_hz: int | None = None

    @property
    def name(self) -> str:
        """All cures carried out, each with its detail, as one name."""
        return " + ".join(
            f"{cure.name} ({detail})" if detail else cure.name
            for cure, detail in zip(self.cures, self.details, strict=True)
        )

    @property
    def last_name(self) -> str:
        """The last of the cures, with its detail."""
        detail = self.details[-1]
        return f"{self.cures[-1].name} ({detail})" if detail else self.cures[-1].name

    @property
    def phrase(self) -> str:
        """What is done, as it stands within a sentence."""
        phrases = [cure.called(detail) for cure, detail in zip(self.cures, self.details, strict=True)]
        return " and ".join(phrases)

    @property
    def effort(self) -> float:
        """How many evenings all of it takes."""
        return sum(cure.effort for cure in self.cures)

    @property
    def note(self) -> str | None:
        """What to know about it."""
        return "; ".join(cure.note for cure in self.cures if cure.note) or None


@dataclass(frozen=True)
class Tried:
    """A trial, and what becomes of the dial with it."""

    trial: Trial
    outlook: Together


@dataclass(frozen=True)
class NotTried:
    """A cure that could not be tried, and why."""

    cure: str
    reason: str

    @property
    def text(self) -> str:
        """The cure and why it was not tried."""
        return f"{self.cure}: {self.reason}"


@dataclass
class CureTrials:
    """Trials of cures on one set: its ranges, the air and the settings that all of them share.

    Attributes
    ----------
    receiver : Receiver.
    names : tuple of str. The ranges that matter.
    cover : (low, high) or None. The stretch that matters; all of these ranges where None. [Hz]
    place : AirAtHour. Who is on the air.
    settings, bands : how it is asked.
    cures : mapping of name to Cure, those that are listed.
    progress : called with (ranges judged, ranges in all) of the trials at hand, or None.
    not_tried : list of NotTried.
    """

    receiver: Receiver
    names: tuple[str, ...]
    cover: tuple[int, int] | None
    place: AirAtHour
    settings: Settings
    bands: Bands
    cures: Mapping[str, Cure]
    progress: Progress | None = None
    station: Station | None = None
    not_tried: list[NotTried] = field(default_factory=list)

    def present(self) -> Together:
        """Return what becomes of the dial with the set as it is."""
        whole = Trial((), self.receiver, self.names, ())
        return self.tried([whole])[0].outlook

    def find_station(self) -> None:
        """Note the single station that spoils most with the set as it is."""
        best: Station | None = None
        for name in self.names:
            (chains,) = compile_chains([(self.receiver, range_named(self.receiver, name=name))])
            station = deciding_station(shares_of(chains, self.place, self.settings, self.cover, BUSY))
            # on the IF the IF trap is its trap
            if (
                station is None
                or abs(station.hz - trap_if_hz(self.receiver, name)) <= WITHIN_A_TRAP * station.hz
            ):
                continue
            if best is None or station.share > best.share:
                best = station
        self.station = best

    def tried(self, trials: Sequence[Trial]) -> list[Tried]:
        """Return each trial with what it comes to, in the order given."""
        pairs: list[Pair] = [
            (trial.receiver, range_named(trial.receiver, name=name))
            for trial in trials
            for name in trial.names
        ]
        judged: list[Outlook] = []
        for start in range(0, len(pairs), AT_ONCE):
            judged += outlooks(pairs[start : start + AT_ONCE], self.place, self.settings, self.cover)
            if self.progress is not None:
                self.progress(len(judged), len(pairs))
        parts = iter(judged)
        width_hz = self._width_hz()
        return [Tried(trial, Together(width_hz, tuple(next(parts) for _ in trial.names))) for trial in trials]

    def _width_hz(self) -> int:
        """Return the dial that is wanted, what two ranges both tune counted on each. [Hz]"""
        ends = [range_named(self.receiver, name=name) for name in self.names]
        if self.cover is None:
            return sum(range_.high_hz - range_.low_hz + 1 for range_ in ends)
        low, high = self.cover
        return sum(min(range_.high_hz, high) - max(range_.low_hz, low) + 1 for range_ in ends)

    def singles(self) -> list[list[Trial]]:
        """Return each listed cure, once for each way of carrying it out; none where it can not be."""
        out = []
        for cure in self.cures.values():
            try:
                ways = list(self.ways_of((cure,)))
            except Refused as bad:
                ways = []
                self.not_tried.append(NotTried(cure.name, bad.faults[0].rule))
            else:
                reason = self._reason(cure)
                if not ways and reason:
                    self.not_tried.append(NotTried(cure.name, reason))
            out.append(ways)
        return out

    def _reason(self, cure: Cure) -> str:
        """Return why a cure can not be tried here; "" where that needs no saying."""
        if cure.parts:
            # what its parts want is told of them
            return ""
        if cure.converter:
            return NO_COVER
        if cure.for_station:
            return NO_STATION
        ranges = (range_named(self.receiver, name=name) for name in self.names)
        if cure.modes and all((range_.mode or self.receiver.mode) not in cure.modes for range_ in ranges):
            return ""
        return "the filter is as narrow" if cure.bandwidth_hz is not None else "not meant for these ranges"

    def without_idle(self, tried: Sequence[Tried]) -> list[Tried]:
        """Return what was tried without designs of which one part does it all, which are noted."""
        alone = {result.trial.cures[0].name: result for result in tried if not result.trial.cures[0].parts}
        out = []
        for result in tried:
            design = result.trial.cures[0]
            enough = [
                part
                for part in design.parts
                if part in alone and not compare(result.outlook.worlds, alone[part].outlook.worlds).beats
            ]
            if enough:
                self.not_tried.append(NotTried(design.name, f"no better than {alone[enough[0]].trial.name}"))
            else:
                out.append(result)
        return out

    def on_top(self, done: Trial) -> list[list[Trial]]:
        """Return what can be done besides, each cure once for each way of carrying it out."""
        out = []
        used = {part.name for cure in done.cures for part in self.parts_of(cure)}
        groups = {part.group for cure in done.cures for part in self.parts_of(cure)} - {""}
        for cure in self.cures.values():
            parts = self.parts_of(cure)
            if cure.parts or any(part.name in used or part.group in groups for part in parts):
                continue
            try:
                out.append(list(self.ways_of((*done.cures, cure), done.if_hz)))
            except Refused:
                continue
        return [ways for ways in out if ways]

    def parts_of(self, cure: Cure) -> list[Cure]:
        """Return what a cure is made of: itself, or the parts of a design."""
        return [self.cures[part] for part in cure.parts] or [cure]

    def ways_of(self, cures: tuple[Cure, ...], if_hz: int | None = None) -> Iterator[Trial]:
        """Give the set with some cures, once for each IF that can be taken.

        Parameters
        ----------
        if_hz : int or None. The one that was taken already. [Hz]

        Raises
        ------
        Refused  when they can not be carried out in any way.
        """
        steps = sorted((part for cure in cures for part in self.parts_of(cure)), key=_order)
        listed = next((part.if_hz for part in steps if part.if_hz), ())
        clear = (if_hz,) if if_hz else tuple(hz for hz in listed if self._stands_clear(hz))
        if listed and not clear:
            raise Refused(Fault(cures[0].name, "each of its IFs lies inside a range that would have it"))
        choices = clear or (None,)
        refused: Refused | None = None
        made = 0
        for choice in choices:
            try:
                trial = self._carried_out(cures, steps, choice)
            except Refused as bad:
                refused = bad
                continue
            if trial is not None:
                made += 1
                yield trial
        if refused is not None and not made:
            raise refused

    def _stands_clear(self, if_hz: int) -> bool:
        """Return whether an IF lies inside none of the ranges that would have it, as `if_change` wants it."""
        own = [range_named(self.receiver, name=name) for name in self.names]
        ahead = any(len(self.receiver.conversions_of(range_)) == 1 for range_ in own)
        return not ahead or range_around(self.receiver, if_hz, self.names) is None

    def _carried_out(self, cures: tuple[Cure, ...], steps: list[Cure], if_hz: int | None) -> Trial | None:
        receiver, names = self.receiver, self.names
        which: dict[str, str] = {}
        for step in steps:
            if step.converter:
                if self.cover is None:
                    return None
                receiver, name, which[step.name] = best_converter(
                    receiver, self.bands, self.cover, self.settings
                )
                names = (name,)
                continue
            station_hz = None if self.station is None else self.station.hz
            own_if = if_hz if step.if_hz else None
            changed = carried_out(receiver, step, names, own_if, station_hz)
            if changed is None:
                return None
            receiver = changed
            if step.if_hz and if_hz is not None:
                which[step.name] = hz_text(if_hz)
            if step.for_station and self.station is not None:
                which[step.name] = f"{self.station.label}, {hz_text(self.station.hz)}"
        details = tuple(
            ", ".join(which[part.name] for part in self.parts_of(cure) if part.name in which)
            for cure in cures
        )
        return Trial(cures, receiver, names, details, if_hz)


def _order(cure: Cure) -> int:
    """Return what comes first: the converter, then the IF, then what is inside, then the lead."""
    if cure.converter:
        return 0
    return 1 if cure.if_hz else 3 if cure.in_lead or cure.pad_db is not None else 2
