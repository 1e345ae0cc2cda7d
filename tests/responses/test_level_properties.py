"""What must hold of levels and grades whatever the set: monotony, pads, circuits, Q.

Sets and stations at random (tests/oracle/sets.py), asked through the engine.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.division_of_dial import heard_hz, heard_stretches
from spurplan.responses.engine import respond
from spurplan.responses.intrusion_table import Response
from spurplan.responses.levels import heard_dbm, nearest_hz
from tests.oracle import connect, exact, plain, sets

ORDERS = (4, 3)
ROUTES = {n: exact.routes(n, *ORDERS) for n in (1, 2)}
KINDS = ("single", "double", "converter")
SEEDS = range(12)


def case(seed: int) -> tuple[dict[str, Any], list[tuple[int, int]], float]:
    """Return a receiver file's contents, stations and their level."""
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    described = sets.dressed(rng, sets.receiver(rng, kind, dials=3_000_000, scale=20_000_000))
    described["range"] = [r for r in described["range"] if "conversion" not in r or kind == "converter"][:1]
    stations = sets.occupants(rng, plain.chains(described), ROUTES | {3: exact.routes(3, 1, 1)})[:40]
    return described, stations, float(rng.uniform(-60, -20))


def answers(described: dict[str, Any], occupants: Occupants, everything: bool = True) -> list[Response]:
    receiver = Receiver.from_dict(described)
    settings = Settings(lo_order=ORDERS[0], rf_order=ORDERS[1], everything=everything)
    groups = compile_chains([(receiver, r) for r in receiver.ranges])
    return [respond(chains, occupants, settings) for chains in groups]


def at_middle(response: Response, occupants: Occupants) -> np.ndarray[Any, Any]:
    """Return the heard level of every hit in the middle of its stretch, whatever its grade there."""
    graded = response.graded
    dial = (graded.dial_low_hz + graded.dial_high_hz) // 2
    rf = nearest_hz(response.lines, occupants, graded.line, graded.occupant, dial)
    level = occupants.level_dbm[graded.occupant]
    return heard_dbm(response.chains, response.lines, graded.line, rf, level, dial)


def lost_hz(response: Response) -> np.ndarray[Any, np.dtype[np.int64]]:
    return heard_hz(response.chains, heard_stretches(response.lines, response.graded))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_grade_never_falls_as_the_occupant_gets_stronger(seed: int) -> None:
    """Heard levels rise with the level sent, and the clear share never does."""
    described, stations, level = case(seed)
    weak, strong = (connect.occupants_of(stations, dbm) for dbm in (level, level + 7.0))
    for quiet, loud in zip(answers(described, weak), answers(described, strong), strict=True):
        louder = at_middle(quiet, strong)
        assert (louder >= at_middle(quiet, weak) + 7.0 - 1e-9).all()
        assert (lost_hz(loud) >= lost_hz(quiet)).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_pad_drops_each_by_its_order_in_the_signal(seed: int) -> None:
    """x dB of pad take x dB for each RF in the route, where no suppression is at its least."""
    described, stations, _ = case(seed)
    # weak enough that no suppression is clipped at nothing
    occupants = connect.occupants_of(stations, -75.0)
    padded = connect.occupants_of(stations, -85.0)
    for response in answers(described, occupants):
        times = np.abs(response.lines.steps[response.graded.line, :, 1]).prod(axis=1)
        drop = at_middle(response, occupants) - at_middle(response, padded)
        if all(mixer.wanted == (1, 1) for row in response.chains.mixer for mixer in row):
            assert drop == pytest.approx(10.0 * times, abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_another_circuit_never_raises_an_intrusion(seed: int) -> None:
    """One more circuit ahead of the first mixer leaves every heard level where it was, or lower."""
    described, stations, level = case(seed)
    occupants = connect.occupants_of(stations, level)
    more = {**described, "range": [dict(r) for r in described["range"]]}
    for tuning in more["range"]:
        tuning["front_end"] = [*tuning.get("front_end", [{"circuits": 1}]), {"circuits": 1, "q": 40.0}]
    for before, after in zip(answers(described, occupants), answers(more, occupants), strict=True):
        there = replace(before, chains=after.chains)
        assert (at_middle(there, occupants) <= at_middle(before, occupants) + 1e-9).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_set_of_worse_q_is_never_clearer(seed: int) -> None:
    """With tuned circuits alone ahead of the mixer, half the Q never makes a range clearer."""
    described, stations, level = case(seed)
    occupants = connect.occupants_of(stations, level)
    lost = []
    for q in (40.0, 80.0):
        circuits = {**described, "range": [dict(r) for r in described["range"]]}
        for tuning in circuits["range"]:
            tuning["front_end"] = [{"circuits": 2, "q": q}]
        lost.append([lost_hz(response) for response in answers(circuits, occupants)])
    for worse, better in zip(*lost, strict=True):
        assert (worse >= better).all()
