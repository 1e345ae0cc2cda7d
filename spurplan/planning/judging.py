"""What reception on a range comes to.

Cures and crystals weigh these figures against what they cost, in the findings of `cures` and the ranking
of `converter`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, distinct
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.asking import Settings, loudest_typical_dbm
from spurplan.responses.beyond import beyond_tables
from spurplan.responses.clear_share import divided, heard_stretches
from spurplan.responses.engine import respond
from spurplan.responses.grades import AUDIBLE
from spurplan.responses.records import Response, as_they_come, intruding
from spurplan.responses.summary import counts, image_rejection_db, unusable

Pair = tuple[Receiver, Range]

# What is heard of nothing at all: below any margin. [dB]
NOTHING_DB = -100.0

# Names of routes that say how they are worked out.
TELLING = ("image", "second image", "third image", "half-IF", "IF breakthrough", "second-IF breakthrough")
MOST_WAYS = 4
# Ranges worked through together: enough for the arrays, few enough for the limit on records.
AT_ONCE = 32


class Reason(NamedTuple):
    """One thing that speaks for a choice or against it: what it is about, and the words for it."""

    about: StrEnum
    text: str


@dataclass(frozen=True)
class Way:
    """The loudest that gets in by one route.

    Attributes
    ----------
    label, grade : str.
    by : str. The name of the route where that tells how it is worked out, else its equation.
    dial_hz : int. Where it is loudest. [Hz]
    margin_db : float. Over the floor there. [dB]
    """

    label: str
    grade: str
    by: str
    dial_hz: int
    margin_db: float

    @property
    def text(self) -> str:
        """Who, how, how loud."""
        return f"{self.label} by {self.by}, +{self.margin_db:.0f} dB"


@dataclass(frozen=True)
class Reception:
    """One range of one set, as `ranges` would sum it up.

    Attributes
    ----------
    low_hz, high_hz : int. The dial. [Hz]
    clear_hz, unknown_hz : int. Where nothing is heard and the tables know; where they do not. [Hz]
    intrusions : int. Stations and bands that are heard, each once for every way in.
    ways : tuple of Way, the worst first: what is heard loudest by each of the worst routes.
    image_rejection_db : float or None. The least on the range. [dB]
    image_rejection_dial_hz : int or None. Where. [Hz]
    unusable_low_hz, unusable_high_hz : int or None. Dial spoilt by an IF in the range. [Hz]
    """

    low_hz: int
    high_hz: int
    clear_hz: int
    unknown_hz: int
    intrusions: int
    ways: tuple[Way, ...]
    image_rejection_db: float | None
    image_rejection_dial_hz: int | None
    unusable_low_hz: int | None
    unusable_high_hz: int | None

    @property
    def width_hz(self) -> int:
        """Whole hertz of dial. [Hz]"""
        return self.high_hz - self.low_hz + 1

    @property
    def clear_share(self) -> float:
        """Part of the dial where nothing that may be occupied is heard, and the tables know, 0 to 1."""
        return self.clear_hz / self.width_hz

    @property
    def unknown_share(self) -> float:
        """Part of it where nothing is heard, but an image lies beyond the tables, 0 to 1."""
        return self.unknown_hz / self.width_hz

    @property
    def worst(self) -> Way | None:
        """The intruder with the greatest margin; None where nothing is heard."""
        return self.ways[0] if self.ways else None


@dataclass(frozen=True)
class JointReception:
    """Several ranges of one set taken together.

    Attributes
    ----------
    width_hz : int. Dial that is wanted. [Hz]
    ranges : tuple of Reception, one a range that serves.
    """

    width_hz: int
    ranges: tuple[Reception, ...]

    @property
    def clear_share(self) -> float:
        """Clear part of the dial that is wanted; what can no longer be tuned is not clear."""
        return min(1.0, sum(one.clear_hz for one in self.ranges) / self.width_hz)

    @property
    def unknown_share(self) -> float:
        """Part of it where nothing is heard, but an image lies beyond the tables."""
        return min(1.0, sum(one.unknown_hz for one in self.ranges) / self.width_hz)

    @property
    def intrusions(self) -> int:
        """Occupants that are heard, each once for every way it gets in."""
        return sum(one.intrusions for one in self.ranges)

    @property
    def ways(self) -> list[Way]:
        """What is left, the greatest margin first."""
        return sorted((way for one in self.ranges for way in one.ways), key=lambda way: -way.margin_db)

    @property
    def worst(self) -> Way | None:
        """The intruder with the greatest margin; None where nothing is heard."""
        return next(iter(self.ways), None)


def worst_db(reception: Reception | JointReception) -> float:
    """Return the margin of the worst intruder, `NOTHING_DB` where nothing is heard. [dB]"""
    return NOTHING_DB if reception.worst is None else reception.worst.margin_db


def judge(pairs: Sequence[Pair], occupants: Occupants, settings: Settings) -> list[Reception]:
    """Return how some ranges of some sets fare, in the order given.

    Parameters
    ----------
    pairs : sequence of (receiver, one of its ranges).
    occupants : Occupants, for all of them.
    settings : Settings.

    Raises
    ------
    Refused  as `respond`.
    """
    # what is buried spoils nothing, and leaving it out loses nothing
    settings = replace(settings, everything=False)
    found: dict[int, Reception] = {}
    for start in range(0, len(pairs), AT_ONCE):
        part = list(range(start, min(start + AT_ONCE, len(pairs))))
        # compile_chains groups by number of conversions and keeps the order inside each group
        by_count = sorted(part, key=lambda at: len(pairs[at][0].conversions_of(pairs[at][1])))
        numbers = iter(by_count)
        for chains in compile_chains([pairs[at] for at in by_count]):
            response = intruding(respond(chains, occupants, settings))
            loudest_dbm = max(loudest_typical_dbm(pairs[at][0]) for at in by_count)
            for reception in receptions_of(response, settings, loudest_dbm):
                found[next(numbers)] = reception
    return [found[at] for at in range(len(pairs))]


def receptions_of(response: Response, settings: Settings, loudest_dbm: float) -> list[Reception]:
    """Return one `Reception` a candidate of a response without its wanted route.

    Parameters
    ----------
    response : Response.
    settings : Settings it was asked with.
    loudest_dbm : float. Level taken for a station the tables know nothing of. [dBm]
    """
    chains, lines, graded = response.chains, response.lines, response.graded
    beyond = beyond_tables(chains, response.occupants, settings, loudest_dbm)
    share = divided(chains, heard_stretches(lines, graded), beyond)
    heard = counts(lines, response.occupants, graded, len(chains))[:, AUDIBLE:].sum(axis=1)
    ways = _ways(response)
    rejection, rejection_dial = image_rejection_db(chains)
    spoilt = unusable(chains)
    return [
        Reception(
            low_hz=int(chains.low_hz[v]),
            high_hz=int(chains.high_hz[v]),
            clear_hz=int(share.clear_hz[v]),
            unknown_hz=int(share.unknown_hz[v]),
            intrusions=int(heard[v]),
            ways=ways[v],
            image_rejection_db=None if np.isnan(rejection[v]) else float(rejection[v]),
            image_rejection_dial_hz=None if np.isnan(rejection[v]) else int(rejection_dial[v]),
            unusable_low_hz=known(int(spoilt[0][v])),
            unusable_high_hz=known(int(spoilt[1][v])),
        )
        for v in range(len(chains))
    ]


def _ways(response: Response) -> list[tuple[Way, ...]]:
    """Return the loudest by each of the worst routes of each candidate, greatest margin first."""
    lines, graded = response.lines, response.graded
    out: list[tuple[Way, ...]] = [()] * len(response.chains)
    heard = np.flatnonzero(graded.grade >= AUDIBLE)
    if not len(heard):
        return out
    margin, line = np.round(graded.margin_db[heard], 6), graded.line[heard]
    order = np.lexsort((graded.dial_low_hz[heard], -margin, line))
    best = order[np.append(True, line[order][1:] != line[order][:-1])]
    candidate = lines.candidate[line[best]]
    picked: dict[int, npt.NDArray[np.int64]] = {}
    for v in distinct(candidate).tolist():
        own = best[candidate == v]
        picked[v] = own[np.argsort(-margin[own], kind="stable")][:MOST_WAYS]
    rows = heard[np.concatenate(list(picked.values()))]
    records = iter(as_they_come("worst", [response.take(rows)]).records())
    for v, own in picked.items():
        out[v] = tuple(_way(next(records)) for _ in own)
    return out


def _way(record: dict[str, Any]) -> Way:
    name = record["response"]
    return Way(
        record["label"] or "",
        record["grade"],
        name if name in TELLING else record["equation"],
        record["loudest_dial_hz"],
        record["margin_db"],
    )


def known(value: int) -> int | None:
    """Return None for `NULL_INT`."""
    return None if value == NULL_INT else value
