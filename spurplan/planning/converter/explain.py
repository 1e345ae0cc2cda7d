"""Everything about one converter: the ways in, who comes by them, where its crystal is heard."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, Column, Table, table_of
from spurplan.occupancy.occupants import BEYOND, Occupants
from spurplan.planning.converter.candidates import Candidates, chains_of
from spurplan.planning.converter.figures import birdies_of, straight_in_steps
from spurplan.planning.converter.question import Question
from spurplan.planning.converter.reasons import birdie_words
from spurplan.planning.tally import NOBODY, loudest_by
from spurplan.receiver.chain import Chains
from spurplan.responses.engine import respond
from spurplan.responses.grades import GRADES
from spurplan.responses.image_rejection import flipped, route_rejection_db
from spurplan.responses.intrusion_table import intruding, intrusion_table
from spurplan.responses.lines import lines_of_routes
from spurplan.responses.routes import Steps, equation, response_name, wanted_of

Ints = npt.NDArray[np.int64]

WAYS_IN_COLUMNS = (
    Column("response", "text", "", False, "Response", "what the trade calls the way in"),
    Column("equation", "text", "", False, "Equation", "the way as it is worked out"),
    Column("rf_low_hz", "int", "Hz", False, "From", "lowest frequency that comes in over the cover"),
    Column("rf_high_hz", "int", "Hz", False, "To", "highest frequency that comes in over the cover"),
    Column("rejection_db", "float", "dB", False, "Rejection", "least rejection over the cover"),
    Column(
        "label", "text", "", True, "Loudest there",
        "the loudest occupant; unknown for nobody, and said where the tables end",
    ),
    Column("heard_dbm", "float", "dBm", True, "Heard", "its heard level"),
    Column("grade", "text", "", True, "Grade", "its grade"),
)  # fmt: skip

BIRDIE_COLUMNS = (
    Column("range", "text", "", False, "Range", "range of the set"),
    Column("equation", "text", "", False, "Equation", "what meets there, as it is worked out"),
    Column("order", "int", "", False, "Order", "sum of the harmonics"),
    Column("dial_low_hz", "int", "Hz", False, "Dial from", "first dial frequency on which it is received"),
    Column("dial_high_hz", "int", "Hz", False, "Dial to", "last dial frequency on which it is"),
    Column("exact_dial_hz", "int", "Hz", True, "Exactly at", "where it is dead on; unknown where nowhere"),
    Column("set_dial_hz", "int", "Hz", True, "Set's dial", "what the main dial of the set shows there"),
    Column("what", "text", "", False, "What", "the same in words"),
)  # fmt: skip

_POINTS = 33


def explained(question: Question, chosen: Candidates, best: Ints) -> dict[str, Table]:
    """Return the tables about the best candidate of each cover.

    Parameters
    ----------
    question : Question.
    chosen : Candidates.
    best : int64. Indices of the candidates to explain, all placed.
    """
    some = chosen.take(best)
    ways: list[dict[str, Any]] = []
    birdies: list[dict[str, Any]] = []
    responses = []
    for which, chains in chains_of(some, question.before):
        responses.append(intruding(respond(chains, question.occupants, question.settings)))
        ways += _ways_in(question, chains)
        birdies += _birdies(chains, some.multiplier[which])
    return {
        "ways_in": table_of("ways_in", WAYS_IN_COLUMNS, ways),
        "intrusions": intrusion_table("intrusions", responses),
        "birdies": table_of("birdies", BIRDIE_COLUMNS, birdies),
    }


def _routes(chains: Chains) -> Iterator[Ints]:
    """Yield the ways in a builder asks about first, shape (V, N, 2) each."""
    yield flipped(chains, 0)
    yield flipped(chains, 1)
    yield straight_in_steps(chains)
    for harmonic in (2, 3):
        for sign in (1, -1):
            steps = chains.wanted_steps.copy()
            steps[:, 0] = (harmonic * sign, -sign)
            yield steps


def _ways_in(question: Question, chains: Chains) -> list[dict[str, Any]]:
    k = np.arange(_POINTS)
    dial = chains.low_hz[:, None] + (chains.high_hz - chains.low_hz)[:, None] * k // (_POINTS - 1)
    out = []
    for steps in _routes(chains):
        rejection = route_rejection_db(chains, steps, dial)
        lines = lines_of_routes(chains, steps)
        ends = np.stack([lines.at_hz(chains.low_hz), lines.at_hz(chains.high_hz)])
        loudest = loudest_by(chains, steps, question.occupants, question.settings)
        for v in range(len(chains)):
            if np.isnan(rejection[v]).all():
                continue  # would need a signal or a product below 0 Hz
            route: Steps = tuple((int(lo), int(rf)) for lo, rf in steps[v])
            who = int(loudest.occupant[v])
            out.append(
                {
                    "response": response_name(route, wanted_of(chains, v)),
                    "equation": equation(route),
                    "rf_low_hz": max(1, round(float(ends[:, v].min()))),
                    "rf_high_hz": round(float(ends[:, v].max())),
                    "rejection_db": float(np.nanmin(rejection[v])),
                    "label": _who(question.occupants, who, float(ends[:, v].min()), float(ends[:, v].max())),
                    "heard_dbm": float(loudest.heard_dbm[v]),
                    "grade": None if who == NOBODY else GRADES[int(loudest.grade[v])],
                }
            )
    return out


def _who(occupants: Occupants, who: int, low_hz: float, high_hz: float) -> str | None:
    """Return who is loudest; where nobody is, whether the tables know of what lies there."""
    if who != NOBODY:
        return occupants.label_of(who)
    known = occupants.reach[0] <= low_hz and high_hz <= occupants.reach[1]
    return None if known else BEYOND


def _birdies(chains: Chains, multiplier: Ints) -> list[dict[str, Any]]:
    birdies = birdies_of(chains, multiplier)
    where = np.where(birdies.exact_hz == NULL_INT, birdies.dial_low_hz, birdies.exact_hz)
    shown = chains.set_dial_hz(birdies.candidate, where)
    words = birdie_words(birdies)
    return [
        {
            "range": chains.names[int(chains.name_code[birdies.candidate[i]])],
            "equation": birdies.equation[i],
            "order": int(birdies.order[i]),
            "dial_low_hz": int(birdies.dial_low_hz[i]),
            "dial_high_hz": int(birdies.dial_high_hz[i]),
            "exact_dial_hz": int(birdies.exact_hz[i]),
            "set_dial_hz": int(shown[i]),
            "what": words[i],
        }
        for i in range(len(birdies))
    ]
