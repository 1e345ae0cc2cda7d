"""What can be believed where on a dial: every stretch of it in one word, as on a busy evening.

The dial is cut wherever anything begins or ends: a stretch with an intruder, one
of the set's own IFs, an image beyond the tables. What lies between two cuts is
judged at its middle, so nothing narrow falls between two settings looked at. Where a strong station
on the image would come in whoever is there, nothing is believed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spurplan.responses.asking import Settings
from spurplan.responses.beyond import beyond_tables
from spurplan.responses.dead_dial import dead_stretches
from spurplan.responses.intrusion_table import Response
from spurplan.responses.levels import external_dbm_per_hz, total_dbm_per_hz
from spurplan.responses.listening.arrivals import Dials, arrivals
from spurplan.responses.listening.findings import BUSY, WORTH_A_WORD, RangeFinding, WeakImage
from spurplan.responses.listening.judged import AirAtHour
from spurplan.responses.listening.unlisted import unlisted
from spurplan.responses.listening.weak_image import images_at
from spurplan.responses.listening.worlds import shipped_spreads
from spurplan.rows import Rows, bools, column, floats, ints
from spurplan.units import listed_text

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Words = npt.NDArray[np.uint8]

# From the best to the worst: of several in one place the last is shown.
WORDS = ("believe", "unknown", "deaf", "check", "don't", "dead")
BELIEVE, UNKNOWN, DEAF, CHECK, DONT, DEAD = range(6)
# A setting is not to be believed where somebody spoils it in half of the worlds of a busy hour or
# more; where in fewer than one of a hundred, it is.
SPOILT_FROM, HEARD_FROM = 0.5, 0.01
# What of a range may be lost before "believe" needs "but".
A_LITTLE = 0.02
# so much unknown is said in its word
MUCH = 0.2
SHORT_WORDS = {
    "don't, before a test": "don't",
    "check, for its image": "check",
    "check: much is unknown": "check",
}
# A stretch without an edge is looked at in so many parts of the range: levels drift along it.
LEAST_PARTS = 500


class DialWords(Rows):
    """The dial of one range in stretches, from its first hertz to its last.

    Attributes
    ----------
    low_hz, high_hz : int64, shape (n,). First and last hertz of each. [Hz]
    word : uint8, shape (n,). Index into `WORDS`; neighbours differ.
    """

    sorted_by = ("low_hz",)
    low_hz: Ints = ints()
    high_hz: Ints = ints()
    word: Words = column(np.uint8)

    def shares(self, low_hz: int, high_hz: int) -> dict[str, float]:
        """Return what part of a stretch of dial is under each word.

        Parameters
        ----------
        low_hz, high_hz : int. Its first and last hertz, of which some lie on this dial. [Hz]
        """
        length = np.minimum(self.high_hz, high_hz) - np.maximum(self.low_hz, low_hz) + 1
        part = np.bincount(self.word, weights=np.maximum(length, 0), minlength=len(WORDS))
        return dict(zip(WORDS, (part / part.sum()).tolist(), strict=True))


class DialPieces(Rows):
    """The dial of one range cut wherever anything begins or ends, each piece judged by itself.

    Attributes
    ----------
    low_hz, high_hz : int64, shape (n,). First and last hertz of each. [Hz]
    word : uint8, shape (n,). Index into `WORDS`.
    usable : float64, shape (n,). Chance that it can be listened to, 0 where it is unknown; where it is
        unlisted as if nobody else were there.
    unlisted : bool, shape (n,). Nobody can tell of it, for the tables list hardly anybody on its images.
    beyond : bool, shape (n,). Nobody can tell of it, for an image lies beyond the tables.
    weak_image : bool, shape (n,). A strong station on the image comes in.
    """

    sorted_by = ("low_hz",)
    low_hz: Ints = ints()
    high_hz: Ints = ints()
    word: Words = column(np.uint8)
    usable: Floats = floats()
    unlisted: Bools = bools()
    beyond: Bools = bools()
    weak_image: Bools = bools()

    @property
    def words(self) -> DialWords:
        """The dial in words, neighbours of one word as one stretch."""
        first = np.flatnonzero(np.append(True, self.word[1:] != self.word[:-1]))
        low = self.low_hz[first]
        return DialWords(low, np.append(low[1:] - 1, self.high_hz[-1]), self.word[first])

    def chances(self, low_hz: int, high_hz: int) -> Chances:
        """Return what becomes of a stretch of dial.

        Parameters
        ----------
        low_hz, high_hz : int. Its first and last hertz, of which some lie on this dial. [Hz]
        """
        length = np.maximum(np.minimum(self.high_hz, high_hz) - np.maximum(self.low_hz, low_hz) + 1, 0)
        part = length / length.sum()
        usable, unlisted, beyond, dead, weak = (
            float(part @ some)
            for some in (self.usable, self.unlisted, self.beyond, self.word == DEAD, self.weak_image)
        )
        return Chances(usable, beyond, unlisted, dead, weak_image=weak >= WORTH_A_WORD)


@dataclass(frozen=True)
class Chances:
    """What a word rests on, of a range or of a part of it, on a busy evening.

    Attributes
    ----------
    usable : float. Mean chance that a setting can be listened to.
    unknown, unlisted, dead : float. Parts of it, as of `RangeFinding`.
    weak_image : bool. Whether it is not to be trusted whoever is on the air.
    """

    usable: float
    unknown: float
    unlisted: float
    dead: float
    weak_image: bool

    @property
    def word(self) -> str:
        """The word of a whole range."""
        known, untold = 1.0 - self.unknown, self.unknown + self.unlisted
        if known <= A_LITTLE:
            return "unknown"
        if self.usable < SPOILT_FROM * known:
            return "don't, before a test"
        if self.weak_image:
            return "check, for its image"
        if self.unlisted and untold >= 1.0 - A_LITTLE and self.usable >= 1.0 - A_LITTLE - self.unknown:
            return "unknown"
        if untold > MUCH:
            return "check: much is unknown"
        if untold == 0.0 and self.usable >= 1.0 - A_LITTLE:
            sure = self.usable > 1.0 - HEARD_FROM and self.dead == 0.0
            return "believe" if sure else "believe, but for a little"
        return "check"

    @property
    def short_word(self) -> str:
        """The same by the same rule, without its reason: the word of a band, whose name is no longer."""
        return SHORT_WORDS.get(self.word, self.word)


@dataclass(frozen=True)
class Listed(Dials):
    """Settings given one by one, as many on each candidate.

    Attributes
    ----------
    settings_hz : int64, shape (V, count). Ascending along each row. [Hz]
    """

    settings_hz: Ints

    @property
    def hz(self) -> Ints:
        return self.settings_hz

    def within(self, candidate: Ints, low_hz: Ints, high_hz: Ints) -> tuple[Ints, Ints]:
        first, beyond = np.zeros(len(candidate), dtype=np.int64), np.zeros(len(candidate), dtype=np.int64)
        for v in range(len(self.settings_hz)):
            rows = np.flatnonzero(candidate == v)
            first[rows] = np.searchsorted(self.settings_hz[v], low_hz[rows], side="left")
            beyond[rows] = np.searchsorted(self.settings_hz[v], high_hz[rows], side="right")
        return first, beyond


def judge_dials(
    response: Response, place: AirAtHour, settings: Settings, hour: str = BUSY
) -> list[DialPieces]:
    """Return the dial of each range piece by piece.

    Parameters
    ----------
    response : Response. What intrudes, without the wanted route: its edges cut the dial.
    place : AirAtHour. Who is on the air.
    settings : Settings.
    hour : str. Whether a typical hour or a busy one is meant.

    Returns
    -------
    list of DialPieces, one a candidate.
    """
    chains = response.chains
    beyond = beyond_tables(chains, place.occupants, settings, place.stranger_dbm)
    open_ = unlisted(chains, place.occupants, settings, place.stranger_dbm).open
    dead = dead_stretches(chains)
    unknown = beyond.candidate, beyond.dial_low_hz, beyond.dial_high_hz
    untold = open_.candidate, open_.dial_low_hz, open_.dial_high_hz
    heard = (
        response.lines.candidate[response.graded.line],
        response.graded.dial_low_hz,
        response.graded.dial_high_hz,
    )
    edges = heard, dead, unknown, untold
    starts = [_starts(v, chains.low_hz[v], chains.high_hz[v], edges) for v in range(len(chains))]
    count = max(len(some) for some in starts)
    middles = np.empty((len(chains), count), dtype=np.int64)
    for v, some in enumerate(starts):
        ends = np.append(some[1:] - 1, chains.high_hz[v])
        middles[v] = np.append((some + ends) // 2, np.full(count - len(some), chains.high_hz[v]))
    dials = Listed(chains.low_hz, chains.high_hz, count, middles)
    weak, deaf = images_at(chains, middles, settings.strong_at).weak, _deaf(response, middles)
    is_untold, is_unknown, is_dead = (_marked(dials, some) for some in (untold, unknown, dead))
    spoilt = _spoilt(response, place, settings, dials, hour)
    word = np.full(middles.shape, BELIEVE, dtype=np.uint8)
    word[is_untold] = UNKNOWN
    word[weak] = CHECK
    word[is_unknown] = UNKNOWN
    word[deaf] = DEAF
    word[spoilt >= HEARD_FROM] = CHECK
    word[spoilt >= SPOILT_FROM] = DONT
    word[is_dead] = DEAD
    usable = np.where(is_unknown | deaf | is_dead, 0.0, 1.0 - spoilt)
    # what lies beyond the tables is not counted twice
    is_untold &= ~is_unknown
    out = []
    for v, some in enumerate(starts):
        ends, n = np.append(some[1:] - 1, chains.high_hz[v]), len(some)
        judged = word[v, :n], usable[v, :n], is_untold[v, :n], is_unknown[v, :n], weak[v, :n]
        out.append(DialPieces(some, ends, *judged))
    return out


def _starts(v: int, low_hz: int, high_hz: int, stretches: Sequence[tuple[Ints, Ints, Ints]]) -> Ints:
    """Return the first hertz of each piece of a dial."""
    edges = [np.linspace(low_hz, high_hz + 1, LEAST_PARTS + 1).astype(np.int64)]
    for candidate, low, high in stretches:
        here = candidate == v
        edges += [low[here], high[here] + 1]
    every = np.unique(np.concatenate(edges))
    return every[(every >= low_hz) & (every <= high_hz)]


def _marked(dials: Listed, stretches: tuple[Ints, Ints, Ints]) -> Bools:
    """Return which pieces lie in some stretches, shape of the settings."""
    out = np.zeros(dials.hz.shape, dtype=np.bool_)
    candidate, low, high = stretches
    first, beyond = dials.within(candidate, low, high)
    for v, a, b in zip(candidate.tolist(), first.tolist(), beyond.tolist(), strict=True):
        out[v, a:b] = True
    return out


def _deaf(response: Response, settings_hz: Ints) -> npt.NDArray[np.bool_]:
    """Whether the wanted signal rather goes under in the noise than not, shape of `settings_hz`."""
    chains, hz = response.chains, settings_hz.ravel()
    candidate = np.repeat(np.arange(len(chains), dtype=np.int64), settings_hz.shape[1])
    external, total = (f(chains, candidate, hz) for f in (external_dbm_per_hz, total_dbm_per_hz))
    over = np.empty(len(hz))
    for code, listener in enumerate(chains.listener):
        rows = np.flatnonzero(chains.listener_code[candidate] == code)
        over[rows] = listener.wanted_dbm(hz[rows], external[rows]) - total[rows] - listener.deaf_below_dbhz
    return (over < 0.0).reshape(settings_hz.shape)


def _spoilt(response: Response, place: AirAtHour, settings: Settings, dials: Listed, hour: str) -> Floats:
    """Return the chance that somebody spoils each setting at an hour, shape (V, count)."""
    air = place.air(hour)
    _, arriving = arrivals(response.chains, air.occupants, air.presence, settings, dials, shipped_spreads())
    expected = arriving.expected(spread_db=arriving.total_spread_db())
    total = np.bincount(arriving.place, weights=expected, minlength=dials.hz.size)
    chance: Floats = 1.0 - np.exp(-total.reshape(dials.hz.shape))
    return chance


def range_word(busy: RangeFinding) -> str:
    """Return the word of a whole range: by its usable share on a busy evening, and by its image."""
    weak = busy.weak_image is not None
    return Chances(busy.usable, busy.unknown, busy.unlisted, busy.dead, weak_image=weak).word


_JOINED = (
    (("believe", "believe, but for a little"), "Believe"),
    (("check", "check: much is unknown"), "Check"),
    (("don't, before a test",), "Test before you believe"),
    (("unknown",), "Nobody can tell of"),
)


@dataclass(frozen=True)
class DialVerdict:
    """What can be believed of a set: its ranges joined by their words.

    Attributes
    ----------
    busy : tuple of RangeFinding. What becomes of each on a busy evening.
    """

    busy: tuple[RangeFinding, ...]

    @property
    def sentence(self) -> str:
        """A sentence a word, with the names of the ranges."""
        parts = []
        for words, before in _JOINED:
            names = [finding.range for finding in self.busy if range_word(finding) in words]
            if names:
                parts.append(f"{before} {listed_text(names)}.")
        weak = self._weak
        if weak:
            names = [f"{finding.range} {image.where}".rstrip() for finding, image in weak]
            images = {image.away_hz for _, image in weak}
            least = min((image for _, image in weak), key=lambda image: image.rejection_db)
            why = (least if len(images) == 1 else replace(least, away_hz=None)).why
            parts.append(f"Do not trust {listed_text(names)}: {why}.")
        hardly = [finding.range for finding in self.busy if finding.unlisted]
        if hardly:
            parts.append(f"On the images of {listed_text(hardly)} the tables list hardly anybody.")
        return " ".join(parts)

    @property
    def short(self) -> str:
        """The same with the number of ranges in place of their names."""
        counts = [
            (before, sum(range_word(finding) in words for finding in self.busy)) for words, before in _JOINED
        ]
        counts.append(("Do not trust the image on", len(self._weak)))
        parts = [f"{before} {count} of {len(self.busy)} ranges." for before, count in counts if count]
        hardly = sum(finding.unlisted > 0.0 for finding in self.busy)
        if hardly:
            parts.append(f"The tables list hardly anybody on the images of {hardly}.")
        return " ".join(parts)

    @property
    def _weak(self) -> list[tuple[RangeFinding, WeakImage]]:
        return [
            (finding, finding.weak_image)
            for finding in self.busy
            if finding.weak_image is not None and range_word(finding) == "check, for its image"
        ]
