"""What the readings said: the figures, the readings against them, and the set with what was decided."""

from __future__ import annotations

from dataclasses import dataclass

from spurplan.planning.bench.fitted import Fitted, Residual
from spurplan.receiver.description import Receiver


@dataclass(frozen=True)
class Findings:
    """What was found.

    Attributes
    ----------
    fitted : one a figure, range by range, then what ranges share, then the spread.
    residuals : one a level reading, in the order of the sheet.
    calibrated : Receiver. The set with every figure that the readings decided.
    origin : tuple of str. Where its figures came from, for the end of the receiver file; empty
        where the readings decided none.
    """

    fitted: tuple[Fitted, ...]
    residuals: tuple[Residual, ...]
    calibrated: Receiver
    origin: tuple[str, ...]

    @property
    def proposed(self) -> Receiver | None:
        """The calibrated set; None where the readings decided nothing."""
        return self.calibrated if self.origin else None
