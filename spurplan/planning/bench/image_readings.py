"""What the readings say of the image and of the IF on each range, beside what its circuits should give."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import RANGE, Column
from spurplan.planning.bench.fit import BenchFit, model_of
from spurplan.receiver.changes import changed, with_front_end
from spurplan.receiver.changes.edits import front_end_of
from spurplan.receiver.description import Circuits, CoupledPair, Range, Receiver
from spurplan.receiver.resonance import QLaw
from spurplan.responses.listening.worlds import shipped_spreads

Floats = npt.NDArray[np.float64]
# What the restorer of a set asks of it first; all else is on the sheet to tell the figures behind these.
RESPONSES = ("image", "IF breakthrough")
# A Q one standard deviation low must move a reading by so much to be told by it. [dB]
TELLS_Q_DB = 1.0

REJECTION_COLUMNS = (
    RANGE,
    Column("dial_hz", "int", "Hz", False, "Dial", "frequency the set was tuned to"),
    Column("response", "text", "", False, "Response", "image or IF breakthrough"),
    Column("rejection_db", "float", "dB", False, "Read", "by the reading"),
    Column("at_least", "bool", "", False, "", "whether nothing was heard: it is that or more"),
    Column("described_db", "float", "dB", False, "Described", "what the description gives there"),
    Column("fair_db", "float", "dB", True, "Fair", "what such circuits of the usual Q give; null without"),
    Column("verdict", "text", "", True, "", "short, fair or better, of an image with circuits ahead of it"),
    Column("tells_q", "bool", "", False, "", "whether a low Q shows there, not stray coupling first"),
    Column("number", "int", "", False, "No.", "number of the line on the sheet"),
    Column(
        "set_aside", "bool", "", False, "", "whether it disagrees with the others and the fit left it out"
    ),
)


@dataclass(frozen=True)
class Rejection:
    """How far one response is down at one setting, by its reading.

    Attributes
    ----------
    number : int. Of the line on the sheet.
    range : str. dial_hz : int. [Hz]
    response : str. One of `RESPONSES`.
    rejection_db : float. [dB]
    at_least : bool. Whether nothing was heard up to there.
    described_db : float. What the description gives. [dB]
    fair_db : float or None. What the same circuits with the usual Q give; None without circuits. [dB]
    chance_db : float. By how much sound circuits may be off that. [dB]
    tells_q : bool. Whether a low Q shows there; elsewhere stray coupling comes first.
    set_aside : bool. Whether it disagrees with the others: it was misread, or the set is not of one piece.
    """

    number: int
    range: str
    dial_hz: int
    response: str
    rejection_db: float
    at_least: bool
    described_db: float
    fair_db: float | None
    chance_db: float
    tells_q: bool
    set_aside: bool

    @property
    def usual_q(self) -> float:
        """The loaded Q that what is fair rests on, at that setting: an assumption, not of this set."""
        return float(QLaw(None).squared(np.array(float(self.dial_hz))) ** 0.5)

    @property
    def over_fair_db(self) -> float | None:
        """How far it is above what such circuits should give; None where there is nothing to compare."""
        return None if self.fair_db is None else self.rejection_db - self.fair_db

    @property
    def is_short(self) -> bool:
        """Whether it is heard, and by more than sound circuits differ below what they should give."""
        over = self.over_fair_db
        return over is not None and not self.at_least and over < -self.chance_db

    @property
    def verdict(self) -> str | None:
        """short, fair or better; None where nothing was heard below what is fair, or nothing compares."""
        over = self.over_fair_db
        if over is None or (self.at_least and over <= self.chance_db):
            return None
        return "short" if self.is_short else "better" if over > self.chance_db else "fair"

    def record(self) -> dict[str, Any]:
        """Return the fields of `rejection`."""
        return {column.name: getattr(self, column.name) for column in REJECTION_COLUMNS}


@dataclass(frozen=True)
class RangeRejection:
    """What the readings of one range say of the image and the IF.

    Attributes
    ----------
    range : str.
    images, straight : tuple of Rejection. By rising dial setting.
    circuits : int or None. How many tuned circuits stand ahead of the mixer; None where they are no plain
        row of circuits.
    """

    range: str
    images: tuple[Rejection, ...]
    straight: tuple[Rejection, ...]
    circuits: int | None

    @property
    def least_image(self) -> Rejection | None:
        """The reading with the least rejection, heard ahead of not heard; of none that was set aside."""
        return _least(self.images)

    @property
    def least_straight(self) -> Rejection | None:
        """The same of the IF."""
        return _least(self.straight)

    @property
    def short(self) -> tuple[Rejection, ...]:
        """Images that are below what the circuits should give."""
        return tuple(image for image in self.images if image.is_short and not image.set_aside)

    @property
    def doubtful(self) -> tuple[Rejection, ...]:
        """Images below it that the other readings speak against."""
        return tuple(image for image in self.images if image.is_short and image.set_aside)

    @property
    def sound(self) -> tuple[Rejection, ...]:
        """Images that show the circuits to be what they should be, or better."""
        return tuple(
            image
            for image in self.images
            if image.verdict in ("fair", "better") and image.tells_q and not image.set_aside
        )


def _least(rejections: Sequence[Rejection]) -> Rejection | None:
    kept = (rejection for rejection in rejections if not rejection.set_aside)
    return min(kept, key=lambda rejection: (rejection.rejection_db, rejection.at_least), default=None)


def rejections(receiver: Receiver, bench_fit: BenchFit) -> tuple[RangeRejection, ...]:
    """Return what each range with readings of the image or the IF has, in the order of the set.

    Parameters
    ----------
    receiver : Receiver. As described.
    bench_fit : BenchFit. Of its readings.

    Notes
    -----
    Fair is what the same set gives with every loaded Q ahead of the mixer the usual one of its frequency,
    that of a file without any (`receiver.resonance`). Sound circuits may be off by what a Q and a ceiling
    one standard deviation low (``spreads.toml``) take away.
    """
    model, fit = bench_fit.model, bench_fit.fit
    shift = model.shift_db(fit.at)
    usual, spreads = _with_usual_q(receiver, model.ranges), shipped_spreads()
    described, fair = _predicted(receiver, bench_fit), _predicted(usual, bench_fit)
    low_q, low_ceiling = {"q": math.log1p(-spreads.q)}, {"ceiling": -spreads.ceiling_db}
    damped = _predicted(usual, bench_fit, low_q)
    low = _predicted(usual, bench_fit, low_q | low_ceiling)
    out = []
    for range_ in model.ranges:
        has_circuits = any(isinstance(e, Circuits | CoupledPair) for e in front_end_of(range_))
        own = [
            Rejection(
                number=reading.number,
                range=range_.name,
                dial_hz=reading.dial_hz,
                response=reading.response,
                rejection_db=reading.db - float(shift[i]),
                at_least=reading.beyond,
                described_db=float(described[i]),
                fair_db=float(fair[i]) if has_circuits and reading.response == "image" else None,
                chance_db=float(fair[i] - low[i]),
                tells_q=bool(fair[i] - damped[i] >= TELLS_Q_DB),
                set_aside=not bool(fit.kept[i]),
            )
            for i, reading in enumerate(bench_fit.readings)
            if reading.range == range_.name and reading.response in RESPONSES
        ]
        if own:
            own.sort(key=lambda rejection: rejection.dial_hz)
            images, straight = (tuple(r for r in own if r.response == name) for name in RESPONSES)
            out.append(RangeRejection(range_.name, images, straight, _circuits(range_)))
    return tuple(out)


def _predicted(receiver: Receiver, bench_fit: BenchFit, off: Mapping[str, float] | None = None) -> Floats:
    """Return what a set gives on the lines of a fit, in the order of its readings, shape (n,). [dB]

    Parameters
    ----------
    off : by kind of figure, how far each coordinate of that kind is moved.
    """
    model, _ = model_of(receiver, bench_fit.readings)
    moved = np.array([(off or {}).get(str(figure.key[0]), 0.0) for figure in model.figures])
    at = model.described + moved
    return np.asarray(model.predict(at) - model.shift_db(at))


def _with_usual_q(receiver: Receiver, ranges: Sequence[Range]) -> Receiver:
    for range_ in ranges:
        elements = tuple(
            changed(element, receiver.name, q=None)
            if isinstance(element, Circuits | CoupledPair)
            else element
            for element in front_end_of(range_)
        )
        receiver = with_front_end(receiver, elements=elements, range_name=range_.name)
    return receiver


def _circuits(range_: Range) -> int | None:
    elements = front_end_of(range_)
    if all(isinstance(element, Circuits) for element in elements) and elements:
        return sum(element.circuits for element in elements if isinstance(element, Circuits))
    return None
