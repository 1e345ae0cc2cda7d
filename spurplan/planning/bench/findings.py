"""What the readings said: the figures, the readings against them, and the set with what was decided."""

from __future__ import annotations

from dataclasses import dataclass

from spurplan.planning.bench.fitted import Fitted, Residual
from spurplan.planning.bench.image_readings import RangeRejection
from spurplan.planning.bench.next_readings import Next
from spurplan.receiver.description import Receiver


@dataclass(frozen=True)
class Findings:
    """What was found.

    Attributes
    ----------
    fitted : one a figure, range by range, then what ranges share, then the spread.
    residuals : one a level reading, in the order of the sheet.
    rejections : one a range on which the image or the IF was read, in the order of the set.
    next : up to three readings worth making next, the first first.
    calibrated : Receiver. The set with every figure that the readings decided.
    origin : tuple of str. Where its figures came from, for the end of the receiver file; empty
        where the readings decided none.
    """

    fitted: tuple[Fitted, ...]
    residuals: tuple[Residual, ...]
    rejections: tuple[RangeRejection, ...]
    next: tuple[Next, ...]
    calibrated: Receiver
    origin: tuple[str, ...]

    @property
    def next_said(self) -> str:
        """What to read next and what for, in a sentence; "" where level readings were not made at all."""
        if self.next:
            return self.next[0].sentence
        open_ = [row for row in self.fitted if row.key is not None and not row.decided and not row.at_least]
        if open_:
            return "Next: no further reading within reach of the generator would tell much of what is open."
        return "" if not self.residuals else "Next: nothing; the readings decide every figure they move with."

    @property
    def proposed(self) -> Receiver | None:
        """The calibrated set; None where the readings decided nothing."""
        return self.calibrated if self.origin else None
