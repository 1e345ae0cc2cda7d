"""How a range of a set fares against the air: the few figures that changes are compared by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spurplan.columns import NULL_INT
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.engine import respond
from spurplan.responses.grades import GRADES
from spurplan.responses.questions import intruding
from spurplan.responses.records import Response, intrusion_table
from spurplan.responses.settings import Settings
from spurplan.responses.summary import clear_share, counts, image_rejection_db, loudest_of, unusable

Pair = tuple[Receiver, Range]

# Names of routes that say how they are worked out.
TELLING = ("image", "second image", "third image", "half-IF", "IF breakthrough", "second-IF breakthrough")
# Ranges worked through together: enough for the arrays, few enough for the limit on records.
AT_ONCE = 32


@dataclass(frozen=True)
class Judged:
    """One range of one set, as `ranges` would sum it up.

    Attributes
    ----------
    low_hz, high_hz : int. The dial. [Hz]
    clear_share : float, 0 to 1. Part of it where nothing that may be occupied is heard.
    strong, audible : int. Stretches of each grade.
    worst_label, worst_response, worst_equation, worst_grade : str or None; None where nothing is heard.
    worst_dial_hz : int or None. [Hz]
    worst_margin_db : float or None. [dB]
    image_rejection_db : float or None. The least on the range. [dB]
    image_rejection_dial_hz : int or None. Where. [Hz]
    unusable_low_hz, unusable_high_hz : int or None. Dial spoilt by an IF in the range. [Hz]
    """

    low_hz: int
    high_hz: int
    clear_share: float
    strong: int
    audible: int
    worst_label: str | None
    worst_response: str | None
    worst_equation: str | None
    worst_grade: str | None
    worst_dial_hz: int | None
    worst_margin_db: float | None
    image_rejection_db: float | None
    image_rejection_dial_hz: int | None
    unusable_low_hz: int | None
    unusable_high_hz: int | None

    @property
    def width_hz(self) -> int:
        """Whole hertz of dial. [Hz]"""
        return self.high_hz - self.low_hz + 1

    @property
    def clear_hz(self) -> int:
        """Whole hertz of dial that are clear. [Hz]"""
        return round(self.clear_share * self.width_hz)

    @property
    def worst_way(self) -> str | None:
        """How the worst intruder gets in: the name of the route where that tells, else its equation."""
        return self.worst_response if self.worst_response in TELLING else self.worst_equation

    @property
    def intrusions(self) -> int:
        """Stretches on which something is heard."""
        return self.strong + self.audible


def judge(pairs: Sequence[Pair], occupants: Occupants, settings: Settings) -> list[Judged]:
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
    found: dict[int, Judged] = {}
    for start in range(0, len(pairs), AT_ONCE):
        part = list(range(start, min(start + AT_ONCE, len(pairs))))
        # compile_chains groups by number of conversions and keeps the order inside each group
        by_count = sorted(part, key=lambda at: len(pairs[at][0].conversions_of(pairs[at][1])))
        numbers = iter(by_count)
        for chains in compile_chains([pairs[at] for at in by_count]):
            response = intruding(respond(chains, occupants, settings))
            for judged in judged_from(response):
                found[next(numbers)] = judged
    return [found[at] for at in range(len(pairs))]


def judged_from(response: Response) -> list[Judged]:
    """Return one `Judged` a candidate of a response without its wanted route."""
    chains, lines, graded = response.chains, response.lines, response.graded
    share = clear_share(chains, lines, graded)
    by_grade = counts(lines, graded, len(chains))
    worst = loudest_of(lines, graded, len(chains))
    rejection, rejection_dial = image_rejection_db(chains)
    spoilt = unusable(chains)
    return [
        Judged(
            low_hz=int(chains.low_hz[v]),
            high_hz=int(chains.high_hz[v]),
            clear_share=float(share[v]),
            strong=int(by_grade[v, 2]),
            audible=int(by_grade[v, 1]),
            **_worst(response, int(worst[v])),
            image_rejection_db=None if np.isnan(rejection[v]) else float(rejection[v]),
            image_rejection_dial_hz=None if np.isnan(rejection[v]) else int(rejection_dial[v]),
            unusable_low_hz=known(int(spoilt[0][v])),
            unusable_high_hz=known(int(spoilt[1][v])),
        )
        for v in range(len(chains))
    ]


def _worst(response: Response, stretch: int) -> dict[str, Any]:
    if stretch < 0 or response.graded.grade[stretch] == GRADES.index("buried"):
        return dict.fromkeys(
            (
                "worst_label",
                "worst_response",
                "worst_equation",
                "worst_grade",
                "worst_dial_hz",
                "worst_margin_db",
            )
        )
    record = intrusion_table("worst", [response.take(np.array([stretch]))]).records()[0]
    return {
        "worst_label": record["label"],
        "worst_response": record["response"],
        "worst_equation": record["equation"],
        "worst_grade": record["grade"],
        "worst_dial_hz": record["loudest_dial_hz"],
        "worst_margin_db": record["margin_db"],
    }


def known(value: int) -> int | None:
    """Return None for `NULL_INT`."""
    return None if value == NULL_INT else value


def chains_of(pairs: Sequence[Pair]) -> list[Chains]:
    """Return each pair's own chain, in the order given."""
    return [compile_chains([pair])[0] for pair in pairs]
