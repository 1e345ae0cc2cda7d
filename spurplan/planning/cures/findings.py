"""What came of trying cures, and the one recommendation that page, chart and saved file share."""

from __future__ import annotations

from dataclasses import dataclass

from spurplan.planning.cures.trials import NotTried, Tried
from spurplan.planning.judging import JointReception, worst_db
from spurplan.receiver.description import Receiver

# A thousandth of the dial is nothing to do any work for.
LEAST_GAIN = 0.001
LEAST_DB = 1.0


@dataclass(frozen=True)
class Findings:
    """What was found.

    Attributes
    ----------
    names : tuple of str. The ranges it is about.
    cover : (low, high) or None. The part of the dial that matters. [Hz]
    present : JointReception. As the set is.
    tried : each cure, and every two that each do something, the best for the least first.
    not_tried : what could not be.
    """

    names: tuple[str, ...]
    cover: tuple[int, int] | None
    present: JointReception
    tried: tuple[Tried, ...]
    not_tried: tuple[NotTried, ...]

    @property
    def recommended(self) -> Tried | None:
        """The best for the least; None where none leaves more of the dial clear."""
        best = next(iter(self.tried), None)
        return best if best is not None and best.reception.clear_share > self.present.clear_share else None

    @property
    def clearest(self) -> Tried | None:
        """What clears most, of equals for the least effort; None where nothing was tried."""
        return max(
            self.tried,
            key=lambda one: (round(one.reception.clear_share, 4), -one.trial.effort),
            default=None,
        )

    @property
    def proposed(self) -> Receiver | None:
        """The set with what is recommended; None where nothing is."""
        return None if self.recommended is None else self.recommended.trial.whole


def spoils(reception: JointReception) -> tuple[float, float]:
    """Return what sorts receptions, the best first: what is not clear, then the worst margin."""
    return -round(reception.clear_share, 9), worst_db(reception)


def helps(reception: JointReception, present: JointReception) -> bool:
    """Whether a cure does anything: by itself it may clear nothing that something else spoils too."""
    if reception.clear_share > present.clear_share + LEAST_GAIN or reception.intrusions < present.intrusions:
        return True
    return spoils(reception)[1] < spoils(present)[1] - LEAST_DB


def merit(one: Tried, present: JointReception) -> tuple[float, tuple[float, float], float]:
    """Return what sorts trials, the best for the least first."""
    gain, effort = one.reception.clear_share - present.clear_share, one.trial.effort
    return -round(gain / effort if gain > 0 else gain, 6), spoils(one.reception), effort
