"""How much of a range is usable with a set-up, in the worlds that all set-ups of a question share.

What plans is judged on a busy evening: a change has to hold when the bands are full.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.listening.findings import AT, BUSY, Loss, RangeFinding, nobody_tells
from spurplan.responses.listening.judged import (
    SETTINGS,
    AirAtHour,
    findings_of,
    judged,
    place_of,
    unlisted_share,
)
from spurplan.responses.listening.share import Shares

Floats = npt.NDArray[np.float64]
Pair = tuple[Receiver, Range]

HOUR = BUSY
# below a thousandth of the dial nobody is named
LEAST_LOSS = 0.001


@dataclass(frozen=True)
class Outlook:
    """One range with one set-up.

    Attributes
    ----------
    finding : RangeFinding. What becomes of the range on a busy evening.
    worlds : float64, shape (Z,). Its usable share in each world.
    """

    finding: RangeFinding
    worlds: Floats


@dataclass(frozen=True)
class Together:
    """Ranges of one set-up taken together: what becomes of the dial that is wanted; shares are 0 to 1.

    Attributes
    ----------
    width_hz : int. Dial that is wanted; what the set-up does not tune of it is lost. [Hz]
    outlooks : tuple of Outlook or None, one a range; None where the set-up cannot be had: nothing is usable.
    """

    width_hz: int
    outlooks: tuple[Outlook | None, ...]

    @property
    def parts(self) -> tuple[Outlook, ...]:
        """Those that can be had."""
        return tuple(outlook for outlook in self.outlooks if outlook is not None)

    @property
    def usable(self) -> float:
        """Mean chance that a setting can be listened to."""
        return self._share(lambda finding: finding.usable)

    @property
    def unknown(self) -> float:
        """Part that is lost to images beyond the tables."""
        return self._share(lambda finding: finding.unknown)

    @property
    def unlisted(self) -> float:
        """Part that nobody can tell of besides: on its images the tables list hardly anybody."""
        return self._share(lambda finding: finding.unlisted)

    @property
    def untold(self) -> float:
        """Part that nobody can tell of, for the one or the other."""
        return min(self.unknown + self.unlisted, 1.0)

    @property
    def nobody_tells(self) -> bool:
        """Whether hardly anything of it can be told for that."""
        return nobody_tells(self.unlisted, self.untold, self.intruders)

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
        """Usable share in each world, shape (Z,); one world where it can be had nowhere."""
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
        losses = [Loss(*key, share) for key, share in total.items() if share >= LEAST_LOSS]
        return tuple(sorted(losses, key=lambda loss: -loss.share))

    def _weight(self, part: Outlook) -> float:
        return (part.finding.width_hz) / self.width_hz

    def _share(self, of: Callable[[RangeFinding], float]) -> float:
        return min(1.0, sum(of(part.finding) * self._weight(part) for part in self.parts))


def width_hz(range_: Range, cover: tuple[int, int] | None = None) -> int:
    """Return the whole hertz of a dial, or of the part of it inside a stretch. [Hz]"""
    if cover is None:
        return range_.high_hz - range_.low_hz + 1
    return min(range_.high_hz, cover[1]) - max(range_.low_hz, cover[0]) + 1


def outlooks(
    pairs: Sequence[Pair],
    place: AirAtHour,
    settings: Settings,
    cover: tuple[int, int] | None = None,
    hour: str = HOUR,
) -> list[Outlook]:
    """Return what becomes of ranges of set-ups, in the order given.

    Parameters
    ----------
    pairs : sequence of (receiver, one of its ranges).
    place : AirAtHour.
    settings : Settings. Orders, worlds and seed.
    cover : (low, high) or None. The stretch asked about; every range holds some of it. [Hz]
    hour : str. A busy evening unless asked otherwise.
    """
    by_number: dict[int, Outlook] = {}
    by_conversions: dict[int, list[int]] = {}
    for number, (receiver, range_) in enumerate(pairs):
        by_conversions.setdefault(len(receiver.conversions_of(range_)), []).append(number)
    for numbers in by_conversions.values():
        (chains,) = compile_chains([pairs[number] for number in numbers])
        dial_shares = shares_of(chains, place, settings, cover, hour)
        open_share = unlisted_share(chains, place, settings, cover).tolist()
        found = findings_of(dial_shares, hour, cover is not None)
        for number, finding, worlds, share in zip(
            numbers, found, dial_shares.worlds, open_share, strict=True
        ):
            by_number[number] = Outlook(replace(finding, unlisted=share), worlds)
    return [by_number[number] for number in range(len(pairs))]


def shares_of(
    chains: Chains,
    place: AirAtHour,
    settings: Settings,
    cover: tuple[int, int] | None = None,
    hour: str = HOUR,
    count: int = SETTINGS,
) -> Shares:
    """Return what becomes of the dial of each candidate; see `outlooks`.

    Notes
    -----
    Not what is clear whatever is on the air: no change is judged by that.
    """
    return judged(chains, place, settings, hour, cover, count, with_clear=False)


__all__ = [
    "HOUR",
    "SETTINGS",
    "Outlook",
    "Pair",
    "Together",
    "outlooks",
    "place_of",
    "shares_of",
    "width_hz",
]
