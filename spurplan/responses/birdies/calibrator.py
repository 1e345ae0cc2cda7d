"""Which marks of a calibrator are true, and where its false ones stand: every harmonic has an image, too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from spurplan.receiver.description import Range, Receiver
from spurplan.units import hz_text, listed_text


@dataclass(frozen=True)
class FalseMarks:
    """The images of a calibrator's harmonics on some ranges.

    Attributes
    ----------
    name : str. Of the oscillator in the box.
    frequency_hz : int. Between two true marks. [Hz]
    image_hz : int. From the dial to its image, negative below it. [Hz]
    ranges : tuple of str.
    """

    name: str
    frequency_hz: int
    image_hz: int
    ranges: tuple[str, ...]

    @property
    def offset_hz(self) -> int:
        """How far a false mark stands above the true one below it; 0 where they fall together. [Hz]"""
        return -self.image_hz % self.frequency_hz

    @property
    def sentence(self) -> str:
        """Where true marks stand, where false ones, and how to tell them apart."""
        on = f"range {self.ranges[0]}" if len(self.ranges) == 1 else f"ranges {listed_text(self.ranges)}"
        name = f"{self.name[:1].upper()}{self.name[1:]}"
        marks = f"{name}, {on}: true marks stand every {hz_text(self.frequency_hz)}"
        how_to_tell = (
            "it is weaker, and with the BFO on its pitch runs against a true one's as the dial is turned"
        )
        if self.offset_hz == 0:
            return f"{marks}, and the image of another falls on each: {how_to_tell}."
        return (
            f"{marks}, a false one {hz_text(self.offset_hz)} above each, the image of another: {how_to_tell}."
        )


def false_marks(receiver: Receiver, picked: Sequence[Range]) -> tuple[FalseMarks, ...]:
    """Return where the harmonics of the oscillators in the box come in by the image.

    Parameters
    ----------
    picked : sequence of Range. Those asked about.

    Notes
    -----
    With the oscillator above the signal the image of dial d is d + 2 IF, below it d - 2 IF. A harmonic
    n F is there where d = n F - 2 IF, or n F + 2 IF: as far from a true mark as 2 IF leaves over by F.
    Ranges whose first IF is tunable, or that mix for the sum, have their image elsewhere and are left out.
    """
    ranges: dict[tuple[str, int, int], list[str]] = {}
    for range_ in picked:
        first = receiver.conversions_of(range_)[0]
        if first.if_hz is None or first.injection not in ("high", "low"):
            continue
        image_hz = 2 * first.if_hz if first.injection == "high" else -2 * first.if_hz
        for internal in receiver.internal:
            # with two marks or more on the range it calibrates; else it is an oscillator like another
            if 2 * internal.frequency_hz <= range_.high_hz - range_.low_hz:
                key = internal.name, internal.frequency_hz, image_hz
                ranges.setdefault(key, []).append(range_.name)
    return tuple(FalseMarks(*key, tuple(names)) for key, names in ranges.items())
