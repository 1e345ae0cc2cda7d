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
from spurplan.responses.listening.findings import BUSY, RangeFinding, WeakImage
from spurplan.responses.listening.judged import AirAtHour
from spurplan.responses.listening.unlisted import unlisted
from spurplan.responses.listening.weak_image import images_at
from spurplan.responses.listening.worlds import shipped_spreads
from spurplan.rows import Rows, column, ints
from spurplan.units import listed_text

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
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


def word_of(shares: dict[str, float]) -> str:
    """Return the word of a stretch or a band from its parts under each word.

    Notes
    -----
    "don't" where half of it or more is spoilt, dead or deaf; else "check" where more than a little may
    be; else "unknown" where any of it is; else "believe", with "but" where anything may be heard.
    """
    if shares["don't"] + shares["dead"] + shares["deaf"] >= 0.5:
        return "don't"
    lost = shares["check"] + shares["don't"] + shares["dead"] + shares["deaf"]
    if lost > A_LITTLE:
        return "check"
    if shares["unknown"] > 0.0:
        return "unknown"
    return "believe, but for a little" if lost > 0.0 else "believe"


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
) -> list[DialWords]:
    """Return the dial of each range in words.

    Parameters
    ----------
    response : Response. What intrudes, without the wanted route: its edges cut the dial.
    place : AirAtHour. Who is on the air.
    settings : Settings.
    hour : str. Whether a typical hour or a busy one is meant.

    Returns
    -------
    list of DialWords, one a candidate.
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
    word = np.full(middles.shape, BELIEVE, dtype=np.uint8)
    _mark(word, dials, untold, UNKNOWN)
    word[images_at(chains, middles, settings.strong_at).weak] = CHECK
    _mark(word, dials, unknown, UNKNOWN)
    word[_deaf(response, middles)] = DEAF
    spoilt = _spoilt(response, place, settings, dials, hour)
    word[spoilt >= HEARD_FROM] = CHECK
    word[spoilt >= SPOILT_FROM] = DONT
    _mark(word, dials, dead, DEAD)
    return [_joined(some, int(chains.high_hz[v]), word[v, : len(some)]) for v, some in enumerate(starts)]


def _starts(v: int, low_hz: int, high_hz: int, stretches: Sequence[tuple[Ints, Ints, Ints]]) -> Ints:
    """Return the first hertz of each piece of a dial."""
    edges = [np.linspace(low_hz, high_hz + 1, LEAST_PARTS + 1).astype(np.int64)]
    for candidate, low, high in stretches:
        here = candidate == v
        edges += [low[here], high[here] + 1]
    every = np.unique(np.concatenate(edges))
    return every[(every >= low_hz) & (every <= high_hz)]


def _mark(word: Words, dials: Listed, stretches: tuple[Ints, Ints, Ints], as_word: int) -> None:
    candidate, low, high = stretches
    first, beyond = dials.within(candidate, low, high)
    for v, a, b in zip(candidate.tolist(), first.tolist(), beyond.tolist(), strict=True):
        word[v, a:b] = as_word


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


def _joined(start_hz: Ints, last_hz: int, word: Words) -> DialWords:
    """Return pieces with neighbours of one word as one stretch."""
    first = np.flatnonzero(np.append(True, word[1:] != word[:-1]))
    low = start_hz[first]
    return DialWords(low, np.append(low[1:] - 1, last_hz), word[first])


def range_word(busy: RangeFinding) -> str:
    """Return the word of a whole range: by its usable share on a busy evening, and by its image."""
    known = 1.0 - busy.unknown
    if known <= A_LITTLE:
        return "unknown"
    if busy.usable < 0.5 * known:
        return "don't, before a test"
    if busy.weak_image is not None:
        return "check, for its image"
    if busy.unlisted and busy.untold >= 1.0 - A_LITTLE and busy.usable >= 1.0 - A_LITTLE - busy.unknown:
        return "unknown"
    if busy.untold > MUCH:
        return "check: much is unknown"
    if busy.untold == 0.0 and busy.usable >= 1.0 - A_LITTLE:
        return (
            "believe" if busy.usable > 1.0 - HEARD_FROM and busy.dead == 0.0 else "believe, but for a little"
        )
    return "check"


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
