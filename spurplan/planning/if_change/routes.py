"""The loudest that comes by one given route: half-IF, straight in on the IF."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.counting import loudest_of
from spurplan.responses.grades import grade_hits
from spurplan.responses.join import join
from spurplan.responses.lines import lines_of_routes

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Loudest:
    """The loudest occupant on a route of one candidate, buried or not.

    Attributes
    ----------
    label : str.
    dial_hz : int. Where it is loudest. [Hz]
    antenna_dbm, heard_dbm, margin_db : float. There. [dBm, dBm, dB]
    """

    label: str
    dial_hz: int
    antenna_dbm: float
    heard_dbm: float
    margin_db: float


def loudest_on(chains: Chains, steps: Ints, occupants: Occupants) -> list[Loudest | None]:
    """Return the loudest occupant on one route of each candidate, None where nothing is on it.

    Parameters
    ----------
    chains : Chains, V candidates with N conversions.
    steps : int64, shape (V, N, 2). The route of each.
    occupants : Occupants.

    Notes
    -----
    At the loudest of the points that the grading looks at: ends, middle, bends.
    """
    lines = lines_of_routes(chains, steps)
    # nothing is loud enough to be looked at for edges of grades: one stretch a hit is enough
    lines = lines.replace(need_dbm=np.full(len(lines), np.inf))
    graded = grade_hits(chains, lines, occupants, join(lines, occupants))
    out: list[Loudest | None] = []
    for best in loudest_of(lines, graded, len(chains)).tolist():
        if best < 0:
            out.append(None)
            continue
        out.append(
            Loudest(
                occupants.label_of(int(graded.occupant[best])),
                int(graded.loudest_dial_hz[best]),
                float(graded.antenna_dbm[best]),
                float(graded.heard_dbm[best]),
                float(graded.margin_db[best]),
            )
        )
    return out


def half_if_steps(chains: Chains) -> Ints:
    """Return the half-IF route of the first mixer, exactly twice the wanted one, shape (V, N, 2)."""
    steps = chains.wanted_steps.copy()
    steps[:, 0] *= 2
    return steps


def straight_steps(chains: Chains, mixers: int = 1) -> Ints:
    """Return the route straight through the first mixers, IF breakthrough, shape (V, N, 2)."""
    steps = chains.wanted_steps.copy()
    steps[:, :mixers] = (0, 1)
    return steps
