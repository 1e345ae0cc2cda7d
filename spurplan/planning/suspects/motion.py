"""How fast something moves with the dial: told by a word or a number, kept as a rate, and said in words."""

from __future__ import annotations

from dataclasses import dataclass

from spurplan.errors import BadValue, text_of
from spurplan.units import number_of, parse_signed_decimal, pythons_own

# Nothing moves faster: the highest harmonics that may be asked for stay far below.
FASTEST = 1000.0


@dataclass(frozen=True)
class Motion:
    """How something was seen to move.

    Attributes
    ----------
    rate : float. Against the wanted signal's 1; negative where it runs against the dial.
    either_way : bool. Whether it was left open which way it runs.
    """

    rate: float
    either_way: bool = False

    def is_of(self, rate: float, within: float) -> bool:
        """Return whether something that moves at a rate shows this motion, as near as one can tell."""
        seen, expected = (abs(self.rate), abs(rate)) if self.either_way else (self.rate, rate)
        return abs(seen - expected) < within

    @property
    def as_typed(self) -> str:
        """The word or the number that tells it."""
        return next((word for word, motion in WORDS.items() if motion == self), f"{self.rate:.12g}")

    @property
    def phrase(self) -> str:
        """What is said of something that was seen to move so, behind "It"."""
        seen = {
            1.0: "moves with the dial",
            -1.0: "moves against the dial",
            0.0: "stays where it is while the dial turns",
        }
        return seen.get(self.rate) or f"moves {_as_fast(self.rate, 'as the dial')}"


WORDS = {
    "with": Motion(1.0),
    "against": Motion(-1.0),
    "twice": Motion(2.0, either_way=True),
    "not": Motion(0.0),
}


def motion_of(value: object) -> Motion:
    """Return a motion from one of `WORDS`, a number, or its text.

    Raises
    ------
    BadValue  for anything else, and a number beyond `FASTEST`.
    """
    value = pythons_own(value)
    if isinstance(value, Motion):
        return value
    if isinstance(value, str) and value in WORDS:
        return WORDS[value]
    try:
        rate = number_of(parse_signed_decimal(value) if isinstance(value, str) else value, -FASTEST, FASTEST)
    except BadValue:
        remedy = "say with, against, twice, not, or a number as -2"
        raise BadValue(text_of(value), "is no motion", remedy) from None
    # a zero has no sign here
    return Motion(rate + 0.0)


def expected_words(rate: float) -> str:
    """Return what is expected of something that moves at a rate."""
    expected = {
        1.0: "moves with the dial like a wanted signal",
        -1.0: "moves against the dial",
        0.0: "stays put",
    }
    return expected.get(rate) or f"moves {_as_fast(rate)}"


def _as_fast(rate: float, than: str = "") -> str:
    fast = "twice" if abs(rate) == 2.0 else f"{abs(rate):g} times"
    return f"{fast} as fast{than and ' ' + than}{', backwards' if rate < 0.0 else ''}"
