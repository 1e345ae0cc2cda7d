"""The engine's levels and grades against one station worked out at a time.

Random sets with front ends, traps, coupled pairs, mixers of every family,
gains, filters and noise (tests/oracle/sets.py, `dressed`), and the level of a
station on a route written a second time as plain scalar code from the
equations (tests/oracle/levels.py). Then: pruning loses nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.engine import respond
from spurplan.responses.records import Response
from spurplan.responses.settings import Settings
from tests.oracle import connect, exact, levels, plain, sets
from tests.oracle.exact import Route

ORDERS = {1: (10, 3), 2: (3, 2), 3: (2, 2), 4: (1, 1)}
ROUTES = {n: exact.routes(n, *orders) for n, orders in ORDERS.items()}
STRONG_DB, AUDIBLE_DB = 10.0, 0.0
EQUAL_DB = 1e-6
# Filter and front end together can have two tops this near each other; either may be quoted.
TWO_TOPS_DB = 0.01
BURIED = 0


@dataclass
class Case:
    """A set, its stations with their levels, and how to ask about them."""

    receiver: dict[str, Any]
    stations: list[tuple[int, int]]
    level_dbm: list[float]
    narrow: list[bool]

    def responses(self, everything: bool) -> Iterator[Response]:
        model = Receiver.model_validate(self.receiver)
        occupants = connect.occupants_of(self.stations, self.level_dbm, self.narrow)
        for chains in compile_chains([(model, position) for position in model.ranges]):
            lo_order, rf_order = ORDERS[chains.conversions]
            yield respond(
                chains, occupants, Settings(everything=everything, lo_order=lo_order, rf_order=rf_order)
            )

    def heard(self, number: int, dial_hz: int, route: Route, station: int) -> levels.Heard:
        where, level_dbm = self.stations[station], self.level_dbm[station]
        return levels.heard(self.receiver, number, dial_hz, route, where, level_dbm, self.narrow[station])


def case(rng: np.random.Generator) -> Case:
    """A set and stations from barely there to next door, some of them telegraphy."""
    receiver = sets.dressed(rng, sets.receiver(rng, dials=8_000_000, scale=25_000_000))
    stations = sets.occupants(rng, plain.chains(receiver), ROUTES)
    loudest = rng.uniform(-60, 0)
    level_dbm = rng.uniform(loudest - 60, loudest, len(stations)).tolist()
    return Case(receiver, stations, level_dbm, (rng.random(len(stations)) < 0.3).tolist())


def route_of(response: Response, line: int) -> Route:
    return tuple((lo, rf) for lo, rf in response.lines.steps[line].tolist())


def grade(margin_db: float) -> int:
    return int(margin_db >= AUDIBLE_DB) + int(margin_db >= STRONG_DB)


def look_at(rng: np.random.Generator, given: Case, response: Response) -> Counter[int]:
    """Hold some of the stretches of an answer, every grade among them, against the oracle."""
    graded = response.graded
    count: Counter[int] = Counter()
    names = [position["name"] for position in given.receiver["range"]]
    picked = [rng.permutation(np.flatnonzero(graded.grade == g))[:12] for g in range(3)]
    for k in np.concatenate(picked):
        chains, line = response.chains, int(graded.line[k])
        number = names.index(chains.names[chains.name_code[response.lines.candidate[line]]])
        route, station = route_of(response, line), int(graded.occupant[k])
        low, high = int(graded.dial_low_hz[k]), int(graded.dial_high_hz[k])
        quoted = given.heard(number, int(graded.loudest_dial_hz[k]), route, station)
        where = (given, number, route, station, low, high)
        assert low <= graded.loudest_dial_hz[k] <= high, where
        assert graded.heard_dbm[k] == pytest.approx(quoted.heard_dbm, abs=EQUAL_DB), where
        assert graded.rejection_db[k] == pytest.approx(quoted.rejection_db, abs=EQUAL_DB), where
        assert graded.margin_db[k] == pytest.approx(quoted.margin_db, abs=EQUAL_DB), where
        for dial_hz in [low, high, *rng.integers(low, high + 1, 4).tolist()]:
            there = given.heard(number, dial_hz, route, station)
            if min(abs(there.margin_db - edge) for edge in (AUDIBLE_DB, STRONG_DB)) > EQUAL_DB:
                assert grade(there.margin_db) == graded.grade[k], (dial_hz, there, where)
            if graded.grade[k] > BURIED:
                assert there.heard_dbm <= quoted.heard_dbm + TWO_TOPS_DB, (dial_hz, there, where)
        count[int(graded.grade[k])] += 1
    return count


def compare_levels(rng: np.random.Generator, sets_tried: int) -> Counter[int]:
    count: Counter[int] = Counter()
    for _ in range(sets_tried):
        given = case(rng)
        for response in given.responses(everything=True):
            count += look_at(rng, given, response)
    return count


def test_levels_and_grades() -> None:
    """Heard level, rejection, margin; the grade on both edges and inside; nothing louder inside."""
    count = compare_levels(np.random.default_rng(31), 30)
    assert min(count[g] for g in range(3)) > 60, count


@pytest.mark.long
def test_levels_and_grades_many_times() -> None:
    """The same for a thousand sets."""
    count = compare_levels(np.random.default_rng(32), 1_000)
    assert min(count[g] for g in range(3)) > 2_000, count


Stretch = tuple[str, Route, int, int, int, int]


def heard_stretches(given: Case, everything: bool) -> set[Stretch]:
    """Everything that is not buried, as (range, route, station, first and last dial, grade)."""
    out: list[Stretch] = []
    for response in given.responses(everything):
        chains, graded = response.chains, response.graded
        for k in np.flatnonzero(graded.grade > BURIED):
            line = int(graded.line[k])
            name = chains.names[chains.name_code[response.lines.candidate[line]]]
            ends = (int(graded.dial_low_hz[k]), int(graded.dial_high_hz[k]))
            out.append((name, route_of(response, line), int(graded.occupant[k]), *ends, int(graded.grade[k])))
    assert len(set(out)) == len(out), "a stretch is listed twice"
    return set(out)


def compare_pruning(rng: np.random.Generator, sets_tried: int) -> int:
    count = 0
    for _ in range(sets_tried):
        given = case(rng)
        everything, pruned = heard_stretches(given, True), heard_stretches(given, False)
        assert pruned == everything, (given, sorted(everything ^ pruned)[:3])
        count += len(pruned)
    return count


def test_pruning_loses_nothing() -> None:
    """With and without pruning the same stretches are heard, up to 0 dBm at the aerial."""
    assert compare_pruning(np.random.default_rng(33), 25) > 1_000


@pytest.mark.long
def test_pruning_loses_nothing_many_times() -> None:
    """The same for two thousand sets."""
    assert compare_pruning(np.random.default_rng(34), 2_000) > 100_000
