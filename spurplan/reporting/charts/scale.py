"""A straight dial scale: where a frequency stands on it, and the ticks it carries."""

from __future__ import annotations

from dataclasses import dataclass

from spurplan.units import decimal_text

# Dials are cut in ones, twos and fives. For each: how many short ticks may stand to a numeral, and
# how many longer ones, the most first. A longer tick stands only where a short one would.
_CUTS = {
    1: ((10, 2), (5, 1), (2, 1)),
    2: ((10, 2), (4, 2), (2, 1)),
    5: ((10, 5), (5, 1)),
}
LEAST_TICK_PT = 3.2
KILOHERTZ_BELOW_HZ = 3_000_000

NUMBERED, LONGER, SHORT = "numbered", "longer", "short"


@dataclass(frozen=True)
class Tick:
    """One tick of a scale.

    Attributes
    ----------
    hz : int. Frequency it marks. [Hz]
    x : float. Where it stands. [pt]
    kind : "numbered", "longer" or "short".
    text : str. Its numeral in the unit of the scale, "" without one.
    """

    hz: int
    x: float
    kind: str
    text: str = ""


@dataclass(frozen=True)
class Scale:
    """A stretch of frequencies laid along a straight line, low end left.

    Attributes
    ----------
    low_hz, high_hz : int. Frequencies at its ends; low < high. [Hz]
    left, right : float. Where the ends stand; left < right. [pt]

    Raises
    ------
    ValueError  when the ends are not in order.
    """

    low_hz: int
    high_hz: int
    left: float
    right: float

    def __post_init__(self) -> None:
        if not self.low_hz < self.high_hz or not self.left < self.right:
            raise ValueError(f"a scale needs two ends in order: {self}")

    def at(self, hz: float) -> float:
        """Return where a frequency stands. [pt]"""
        return self.left + (hz - self.low_hz) * self.pt_per_hz

    @property
    def pt_per_hz(self) -> float:
        """How long a hertz is on it. [pt]"""
        return (self.right - self.left) / (self.high_hz - self.low_hz)

    @property
    def unit(self) -> str:
        """The unit of its numerals, "kHz" or "MHz"."""
        return "kHz" if self.high_hz < KILOHERTZ_BELOW_HZ else "MHz"

    def text(self, hz: int) -> str:
        """Return a frequency as a numeral, exactly."""
        return decimal_text(hz, 3 if self.unit == "kHz" else 6)

    def ticks(self, numeral_pt: float) -> tuple[Tick, ...]:
        """Return the ticks it carries, from low to high.

        Parameters
        ----------
        numeral_pt : float. The room each numeral needs. [pt]

        Notes
        -----
        Numerals stand at every one, two or five times a power of ten, as close as
        they have room; ticks between them as long as they can be told apart.
        """
        lead, step = self._step(numeral_pt)
        room = (cut for cut in _CUTS[lead] if self._apart(step, cut[0]) >= LEAST_TICK_PT)
        short, longer = next(room, (1, 1))
        return tuple(self._tick(hz, step, step // longer) for hz in _multiples(self, step // short))

    def _step(self, numeral_pt: float) -> tuple[int, int]:
        """Return the leading figure and the distance of the numerals. [Hz]"""
        least_hz = numeral_pt / self.pt_per_hz
        steps = ((lead, lead * 10**power) for power in range(1, 11) for lead in _CUTS)
        return next((lead, step) for lead, step in steps if step >= least_hz)

    def _apart(self, step: int, parts: int) -> float:
        return step * self.pt_per_hz / parts if step % parts == 0 else 0.0

    def _tick(self, hz: int, step: int, longer: int) -> Tick:
        kind = NUMBERED if hz % step == 0 else LONGER if hz % longer == 0 else SHORT
        return Tick(hz, self.at(hz), kind, self.text(hz) if kind == NUMBERED else "")


def _multiples(scale: Scale, step: int) -> range:
    return range(-(-scale.low_hz // step) * step, scale.high_hz + 1, step)
