"""Several ranges of one set-up taken together: how much of the dial that is wanted can be used."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.planning.outlook import Outlook
from spurplan.responses.listening.findings import AT, BUSY, Loss, RangeFinding

Floats = npt.NDArray[np.float64]

# below a thousandth of the dial nobody is named
LEAST_LOSS = 0.001


@dataclass(frozen=True)
class JointOutlook:
    """What becomes of the dial with one set-up, on a busy evening; shares are 0 to 1.

    Attributes
    ----------
    width_hz : int. Dial that is wanted; what the set-up does not tune of it is lost. [Hz]
    parts : tuple of Outlook, one a range that serves.
    """

    width_hz: int
    parts: tuple[Outlook, ...]

    @property
    def usable(self) -> float:
        """Mean chance that a setting can be listened to."""
        return self._share(lambda finding: finding.usable)

    @property
    def unknown(self) -> float:
        """Part that is lost to images beyond the tables."""
        return self._share(lambda finding: finding.unknown)

    @property
    def noise(self) -> float:
        """Part that is lost to noise, the set's own and that of the place."""
        return self._share(lambda finding: finding.noise)

    @property
    def intruders(self) -> float:
        """Part that is lost to intruders."""
        return self._share(lambda finding: finding.intruders)

    @property
    def place(self) -> float:
        """What of it would be lost with a set without noise of its own."""
        return self._share(lambda finding: finding.place)

    @property
    def at(self) -> str:
        """When it is so, in words."""
        return next((part.finding.at for part in self.parts), AT[BUSY])

    @property
    def worlds(self) -> Floats:
        """Usable share in each world, shape (Z,)."""
        total: Floats = sum(part.worlds * self._weight(part) for part in self.parts) + np.zeros(1)
        return total

    @property
    def interval(self) -> tuple[float, float]:
        """Between what the usable share lies in eight worlds of ten."""
        low, high = np.quantile(self.worlds, [0.1, 0.9]).tolist()
        return float(low), float(high)

    @property
    def decided_by(self) -> tuple[str, ...]:
        """Stations on whose being on the air much hangs."""
        return tuple(dict.fromkeys(name for part in self.parts for name in part.finding.decided_by))

    @property
    def regulars(self) -> tuple[str, ...]:
        """Single stations nearly always heard, whatever share they take, each with its setting."""
        return tuple(dict.fromkeys(name for part in self.parts for name in part.finding.regulars))

    @property
    def losses(self) -> tuple[Loss, ...]:
        """Who takes most by which way, most first, as parts of all the dial that is wanted."""
        total: dict[tuple[str, str], float] = {}
        for part in self.parts:
            for loss in part.finding.losses:
                key = (loss.response, loss.label)
                total[key] = total.get(key, 0.0) + loss.share * self._weight(part)
        found = [Loss(*key, share) for key, share in total.items() if share >= LEAST_LOSS]
        return tuple(sorted(found, key=lambda loss: -loss.share))

    def _weight(self, part: Outlook) -> float:
        return (part.finding.high_hz - part.finding.low_hz + 1) / self.width_hz

    def _share(self, of: Callable[[RangeFinding], float]) -> float:
        return min(1.0, sum(of(part.finding) * self._weight(part) for part in self.parts))
