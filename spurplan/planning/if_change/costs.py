"""What another IF costs: evenings of work, and what it leaves behind on a range."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache

from spurplan.planning.if_change.proposals import Asked
from spurplan.planning.if_change.usual import filter_made, usual_between
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.listening.findings import Loss, RangeFinding
from spurplan.tomlfile import shipped_toml
from spurplan.units import hz_text, share_text

# Sections of one gang swing alike; an oscillator section is cut or padded to swing less, and cannot swing
# this much more than the signal's: common practice.
MORE_SWING = 1.1
BREAKTHROUGH = "breakthrough"


@cache
def estimates() -> Mapping[str, Mapping[str, float]]:
    """Return the figures of ``data/if_change.toml``."""
    read: dict[str, dict[str, float]] = shipped_toml("if_change.toml")
    return read


@dataclass(frozen=True)
class Costs:
    """What another IF costs a range, besides the work.

    Attributes
    ----------
    dead_hz : (int, int) or None. Dial that lies on an IF of the set. [Hz]
    through : Loss or None. Who breaks through on the IF over a part of the range worth a word.
    coils_hz : int or None. What coils of the present Q pass, where that is too wide and no filter is
        made. [Hz]
    swing : (float, float) or None. Tuning ratios of oscillator and signal no gang gives together.
    tracks : bool. False where no padder and trimmer track it.
    """

    dead_hz: tuple[int, int] | None = None
    through: Loss | None = None
    coils_hz: int | None = None
    swing: tuple[float, float] | None = None
    tracks: bool = True

    @property
    def buildable(self) -> bool:
        """Whether the oscillator of the range can be ganged."""
        return self.tracks and self.swing is None

    @property
    def texts(self) -> tuple[str, ...]:
        """Each of them in words."""
        phrases = []
        if self.through is not None:
            phrases.append(
                f"{self.through.label} breaks through on it, {share_text(self.through.share)} lost"
            )
        if self.dead_hz is not None:
            low, high = self.dead_hz
            phrases.append(f"dead from {hz_text(low)} to {hz_text(high)}, round the IF")
        if self.coils_hz is not None:
            passed = hz_text(round(self.coils_hz, -2))
            phrases.append(f"coils of the present Q pass {passed}: it wants a filter of its own")
        if self.swing is not None:
            oscillator, signal = self.swing
            phrases.append(
                f"no gang tunes an oscillator 1 to {oscillator:.2f} with the signal 1 to {signal:.2f}"
            )
        if not self.tracks:
            phrases.append("no padder and trimmer track it")
        return tuple(phrases)


def breaking_through(now: RangeFinding, was: RangeFinding) -> Loss | None:
    """Return who takes most of a range straight in on another IF; None where that is not worth a word.

    Parameters
    ----------
    now, was : RangeFinding. The range with that IF, and as it is: what came in before is no cost.
    """
    loudest = _loudest_on_if(now)
    before = _loudest_on_if(was)
    more = 0.0 if loudest is None else loudest.share - (0.0 if before is None else before.share)
    return loudest if more >= estimates()["named"]["breaks_through"] else None


def _loudest_on_if(finding: RangeFinding) -> Loss | None:
    losses = [loss for loss in finding.losses if BREAKTHROUGH in loss.response]
    return max(losses, key=lambda loss: loss.share, default=None)


def coils_too_wide_hz(if_hz: int, before_hz: tuple[int, int]) -> int | None:
    """Return what coils of the present Q would pass at another IF; None where that will do. [Hz]

    Parameters
    ----------
    if_hz : int. [Hz]
    before_hz : (int, int). The present IF and its bandwidth. [Hz]

    Notes
    -----
    It will do, too, where a filter of about the present width is made for that IF.
    """
    limits = estimates()["coils"]
    passed_hz = same_coils_hz(if_hz, before_hz)
    if passed_hz <= limits["too_wide"] * before_hz[1] or filter_made(
        if_hz, before_hz[1], limits["filter_width"]
    ):
        return None
    return passed_hz


def same_coils_hz(if_hz: int, before_hz: tuple[int, int]) -> int:
    """Return the present bandwidth times new IF over present IF: what the same Q gives there. [Hz]"""
    present_hz, bandwidth_hz = before_hz
    return round(bandwidth_hz * if_hz / present_hz)


def effort_of(change: Asked, *, too_wide: bool = False) -> float:
    """Return how many evenings a change takes.

    Parameters
    ----------
    change : Asked.
    too_wide : bool. Whether neither coils of the present Q nor a filter will do.
    """
    effort = estimates()["effort"]
    if change.first_if_hz is not None:
        return effort["first_if"]
    if change.if_hz is not None:
        unusual = not usual_between(change.if_hz, change.if_hz)
        return effort["another_if"] + too_wide * effort["nothing_made"] + unusual * effort["unusual"]
    return effort["other_side"] if change.other_side else 0.0


def range_around(receiver: Receiver, if_hz: int, names: Collection[str] | None = None) -> Range | None:
    """Return a range inside which its own IF would lie; None where it lies in none.

    Parameters
    ----------
    receiver : Receiver.
    if_hz : int. [Hz]
    names : names of the ranges that would have that IF; None for all. A range that keeps its own is no
        matter: its circuits are switched off.

    Notes
    -----
    An IF stands in a gap between the ranges that have it or beyond them all (common practice): inside a
    range the circuits ahead of the mixer are tuned to it, let everything on it in, and howl together with
    the IF stages.
    """
    ranges = [range_ for range_ in receiver.ranges if names is None or range_.name in names]
    return next((range_ for range_ in ranges if range_.low_hz <= if_hz <= range_.high_hz), None)
