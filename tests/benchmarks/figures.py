"""The figures that are measured: one registry, printed as one table.

    @figure("join, 105 lines x 2,000 rows", against="writing ten columns of that length", wanted="at most 3")
    def join_to_output() -> Times:
        return Times(own_s, other_s)

A ratio is of two times taken in turn within one run, so that it carries over to another
machine; a time by itself does not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Times:
    """What was measured, and what it is held against; the ratio is how many times the longer one takes."""

    own_s: float
    other_s: float

    def cells(self) -> tuple[str, str, str]:
        """Return own time, other time and ratio in words."""
        ratio = self.other_s / self.own_s
        word = (
            f"{ratio_text(ratio)} times faster" if ratio >= 1.0 else f"{ratio_text(1 / ratio)} times as long"
        )
        return time_text(self.own_s), time_text(self.other_s), word


@dataclass(frozen=True)
class Growth:
    """How time grows with size: the exponent, by least squares over several sizes."""

    exponent: float
    longest_s: float

    def cells(self) -> tuple[str, str, str]:
        return time_text(self.longest_s), "", f"exponent {self.exponent:.2f}"


@dataclass(frozen=True)
class Alone:
    """A time that is held against nothing, or an amount of memory."""

    own: str

    def cells(self) -> tuple[str, str, str]:
        return self.own, "", ""


Measured = Times | Growth | Alone


@dataclass(frozen=True)
class Figure:
    """One line of the table.

    Attributes
    ----------
    what, against : what is measured, and against what.
    wanted : what was asked for before there was any code; "" for nothing.
    measure : does it.
    """

    what: str
    against: str
    wanted: str
    measure: Callable[[], Measured]


FIGURES: list[Figure] = []


def figure(
    what: str, against: str = "", wanted: str = ""
) -> Callable[[Callable[[], Measured]], Callable[[], Measured]]:
    """Register a function that measures."""

    def registered(measure: Callable[[], Measured]) -> Callable[[], Measured]:
        FIGURES.append(Figure(what, against, wanted, measure))
        return measure

    return registered


def ratio_text(number: float) -> str:
    """Return a ratio to two or three digits."""
    return f"{number:.2f}" if number < 10 else f"{number:,.0f}"


def time_text(seconds: float) -> str:
    """Return a time in the unit in which it has one to three digits before the point."""
    if seconds < 1.0:
        return f"{seconds * 1e3:.3g} ms"
    return f"{seconds:.3g} s" if seconds < 1_000 else f"{seconds:,.0f} s"


def megabytes(count: float) -> Alone:
    """Return an amount of memory."""
    return Alone(f"{count:,.0f} MB")
