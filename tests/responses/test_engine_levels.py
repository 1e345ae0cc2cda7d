"""The engine's levels and grades against one station worked out at a time.

Random sets with front ends, traps, coupled pairs, mixers of every family,
gains, filters and noise (tests/oracle/sets.py, `dressed`), and the level of a
station on a route written a second time as plain scalar code from the
equations (tests/oracle/levels.py). Then: pruning loses nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses import curves, engine
from spurplan.responses.asking import Settings
from spurplan.responses.engine import respond
from spurplan.responses.grades import grade_hits
from spurplan.responses.intrusion_table import Response, intruding
from spurplan.responses.join import join
from spurplan.responses.lines import enumerate_lines
from tests.oracle import connect, exact, levels, plain, sets
from tests.oracle.exact import Route
from tests.outside import Differences, against

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
    carrier: list[bool]

    def responses(self, everything: bool) -> Iterator[Response]:
        model = Receiver.from_dict(self.receiver)
        occupants = connect.occupants_of(self.stations, self.level_dbm, self.carrier)
        for chains in compile_chains([(model, position) for position in model.ranges]):
            lo_order, rf_order = ORDERS[chains.conversions]
            yield respond(
                chains, occupants, Settings(everything=everything, lo_order=lo_order, rf_order=rf_order)
            )

    def heard(self, number: int, dial_hz: int, route: Route, station: int) -> levels.Heard:
        where, level_dbm = self.stations[station], self.level_dbm[station]
        return levels.heard(self.receiver, number, dial_hz, route, where, level_dbm, self.carrier[station])


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


QUOTED = ("heard_dbm", "rejection_db", "margin_db")


def look_at(rng: np.random.Generator, given: Case, response: Response, off_db: list[float]) -> Counter[int]:
    """Hold some of the stretches of an answer, every grade among them, against the oracle.

    How far the levels quoted are off goes into `off_db`.
    """
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
        off = [getattr(graded, name)[k] - getattr(quoted, name) for name in QUOTED]
        assert np.abs(off).max() <= EQUAL_DB, (off, where)
        off_db.extend(off)
        for dial_hz in [low, high, *rng.integers(low, high + 1, 4).tolist()]:
            there = given.heard(number, dial_hz, route, station)
            if min(abs(there.margin_db - edge) for edge in (AUDIBLE_DB, STRONG_DB)) > EQUAL_DB:
                assert grade(there.margin_db) == graded.grade[k], (dial_hz, there, where)
            if graded.grade[k] > BURIED:
                assert there.heard_dbm <= quoted.heard_dbm + TWO_TOPS_DB, (dial_hz, there, where)
        count[int(graded.grade[k])] += 1
    return count


def compare_levels(rng: np.random.Generator, sets_tried: int, least: int = 0) -> list[float]:
    """How far levels are off in some random sets, with at least so many stretches of each grade. [dB]"""
    count: Counter[int] = Counter()
    off_db: list[float] = []
    for _ in range(sets_tried):
        given = case(rng)
        for response in given.responses(everything=True):
            count += look_at(rng, given, response, off_db)
    assert min(count[g] for g in range(3)) > least, count
    return off_db


ONE_BY_ONE = "levels written a second time, a station at a time"


@against(ONE_BY_ONE, "heard level, rejection, margin of random sets", unit="dB", tolerance=EQUAL_DB)
def test_levels_and_grades() -> Differences:
    """Heard level, rejection, margin; the grade on both edges and inside; nothing louder inside."""
    yield "30 sets", compare_levels(np.random.default_rng(31), 30, 60)


@against(
    ONE_BY_ONE,
    "heard level, rejection, margin of 1,000 random sets",
    unit="dB",
    tolerance=EQUAL_DB,
    long=True,
)
def test_levels_and_grades_many_times() -> Differences:
    """The same for a thousand sets."""
    yield "1,000 sets", compare_levels(np.random.default_rng(32), 1_000, 2_000)


def turning(rng: np.random.Generator) -> dict[str, Any]:
    """A set whose image rises and falls along the dial: circuits, a trap and a band filter ahead."""
    low, trap = rng.uniform(2.0, 4.0), rng.uniform(4.0, 12.0)
    elements = [
        {
            "trap": f"{trap:.3f} MHz",
            "depth": f"{rng.uniform(10, 50):.1f} dB",
            "q": float(rng.integers(1, 16)),
        },
        {"passband": [f"{rng.uniform(3, 5):.3f} MHz", f"{rng.uniform(6, 9):.3f} MHz"], "order": 1},
    ]
    return {
        "name": "a turning set",
        "conversion": [{"injection": "low", "if": "465 kHz", "filter": {"bandwidth": "3 kHz"}}],
        "range": [
            {
                "name": "1",
                "coverage": [f"{low:.3f} MHz", f"{3 * low:.3f} MHz"],
                "front_end": [{"circuits": 1}],
            }
        ],
        "ahead": [{"elements": elements}],
    }


IMAGE: Route = ((1, -1),)


def test_no_turn_between_the_points_looked_at_is_missed() -> None:
    """Each hump of an image 0.01 dB over the bar, and each dip 0.01 dB under it, is graded so there."""
    rng = np.random.default_rng(35)
    turns = Counter[int]()
    for _ in range(12):
        receiver = turning(rng)
        chain = plain.chains(receiver)[0]
        quiet = Case(receiver, [(100_000, 40_000_000)], [0.0], [True])

        def height(dial_hz: float, sign: int, quiet: Case = quiet) -> float:
            return sign * quiet.heard(0, int(dial_hz), IMAGE, 0).margin_db

        dials = np.linspace(chain.low_hz, chain.high_hz, 301).astype(np.int64)[1:-1]
        margin = np.array([height(dial_hz, 1) for dial_hz in dials])
        for sign in (1, -1):
            risen = sign * margin
            for k in np.flatnonzero((risen[1:-1] > risen[:-2]) & (risen[1:-1] > risen[2:])) + 1:
                within = (float(dials[k - 1]), float(dials[k + 1]))
                top = int(minimize_scalar(lambda d, s=sign, h=height: -h(d, s), bounds=within).x)
                given = replace(quiet, level_dbm=[0.01 * sign - sign * height(top, sign)])
                (response,) = given.responses(everything=True)
                graded = response.graded
                there = (graded.dial_low_hz <= top) & (graded.dial_high_hz >= top)
                (row,) = [
                    k for k in np.flatnonzero(there) if route_of(response, int(graded.line[k])) == IMAGE
                ]
                assert graded.grade[row] == (sign > 0), (receiver, sign, top)
                turns[sign] += 1
    assert min(turns[1], turns[-1]) >= 8


Stretch = tuple[str, Route, int, int, int, int]


def unpruned(given: Case) -> Iterator[Response]:
    """The engine's parts without any budget: nothing dropped, nothing taken for hopeless unseen."""
    model = Receiver.from_dict(given.receiver)
    occupants = connect.occupants_of(given.stations, given.level_dbm, given.carrier)
    for chains in compile_chains([(model, position) for position in model.ranges]):
        lines = enumerate_lines(chains, *ORDERS[chains.conversions], span_hz=occupants.reach)
        graded = grade_hits(
            chains,
            lines,
            occupants,
            join(lines, occupants),
            strong_at_db=STRONG_DB,
            audible_at_db=AUDIBLE_DB,
        )
        yield Response(chains, lines, occupants, graded)


def heard_stretches(responses: Iterator[Response]) -> set[Stretch]:
    """Everything that is not buried, as (range, route, station, first and last dial, grade)."""
    out: list[Stretch] = []
    for response in responses:
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
        everything = heard_stretches(unpruned(given))
        for pruned in (True, False):
            answer = heard_stretches(given.responses(everything=not pruned))
            assert answer == everything, (given, pruned, sorted(everything ^ answer)[:3])
        count += len(everything)
    return count


def test_pruning_loses_nothing() -> None:
    """With a budget, without one, and with everything asked for the same is heard, up to 0 dBm."""
    assert compare_pruning(np.random.default_rng(33), 60) > 1_000


@pytest.mark.long
def test_pruning_loses_nothing_many_times() -> None:
    """The same for two thousand sets."""
    assert compare_pruning(np.random.default_rng(34), 2_000) > 50_000


@pytest.mark.long
def test_faults_on_purpose_are_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blind to bends a grade is wrong somewhere; 3 dB too eager a budget drops something that is heard."""
    with monkeypatch.context() as blind:
        blind.setattr(curves, "_corners", lambda curve, hits: iter(()))
        with pytest.raises(AssertionError, match="rf_hz="):
            compare_levels(np.random.default_rng(31), 90)

    def eager(*args: Any, **kwargs: Any) -> Any:
        lines = enumerate_lines(*args, **kwargs)
        return lines.replace(need_dbm=lines.need_dbm + 3.0)

    monkeypatch.setattr(engine, "enumerate_lines", eager)
    with pytest.raises(AssertionError, match="Case"):
        compare_pruning(np.random.default_rng(33), 60)


def neighbourhood(rng: np.random.Generator) -> Case:
    """A short stretch of dial, and stations on it, around the image and around the IF."""
    low_hz, if_hz = int(rng.integers(3_000_000, 15_000_000)), int(rng.integers(400_000, 2_000_000))
    injection = str(rng.choice(["high", "low"]))
    conversion: dict[str, Any] = {"injection": injection, "if": f"{if_hz} Hz"}
    receiver = sets.dressed(
        rng,
        {
            "name": "with neighbours",
            "conversion": [conversion],
            "range": [{"name": "1", "coverage": [f"{low_hz} Hz", f"{low_hz + 60_000} Hz"]}],
        },
    )
    # deep enough to bury the loudest: behind a filter that never does, the skirt ends where it is deepest
    conversion["filter"] = {"bandwidth": "6 kHz", "shape_factor": 3.5, "ultimate": "95 dB"}
    image_hz = low_hz + (2 * if_hz if injection == "high" else -2 * if_hz)
    spots = {int(rng.integers(f - 30_000, f + 90_000)) for f in (low_hz, image_hz, if_hz) for _ in range(5)}
    stations = sorted((spot, spot + int(rng.choice([0, 0, 2_000]))) for spot in spots)
    return Case(receiver, stations, rng.uniform(-90, -35, len(stations)).tolist(), [False] * len(stations))


def test_skirts() -> None:
    """With skirts a station is listed wherever it is above the floor, off the passband too, and nowhere else.

    On the wanted route what stands in the passband is what the set is tuned to, and no intrusion.
    """
    rng = np.random.default_rng(35)
    orders = {"lo_order": 2, "rf_order": 2}
    off_passband = 0
    for _ in range(6):
        given = neighbourhood(rng)
        (chain,) = plain.chains(given.receiver)
        model = Receiver.from_dict(given.receiver)
        occupants = connect.occupants_of(given.stations, given.level_dbm)
        (chains,) = compile_chains([(model, model.ranges[0])])
        response = intruding(respond(chains, occupants, Settings(skirts=True, **orders)))
        graded = response.graded
        listed: dict[tuple[Route, int], list[tuple[int, int]]] = {}
        for k in range(len(graded)):
            pair = (route_of(response, int(graded.line[k])), int(graded.occupant[k]))
            listed.setdefault(pair, []).append((int(graded.dial_low_hz[k]), int(graded.dial_high_hz[k])))
        for route in exact.routes(1, **orders):
            for station, (low, high) in enumerate(given.stations):
                own = listed.get((route, station), [])
                dials = [d for a, b in own for d in (a - 1, a, (a + b) // 2, b, b + 1)]
                dials += rng.integers(chain.low_hz, chain.high_hz + 1, 6).tolist()
                for dial_hz in dials:
                    if not chain.low_hz <= dial_hz <= chain.high_hz:
                        continue
                    rf_hz = levels.nearest_hz(chain, dial_hz, route, low, high)
                    if exact.walk(chain, dial_hz, route, int(rf_hz))[-1] <= 1:
                        continue
                    margin_db = given.heard(0, dial_hz, route, station).margin_db
                    inside = exact.received(chain, dial_hz, route, low, high)
                    expected = margin_db >= AUDIBLE_DB and not (inside and route == chain.wanted)
                    got = any(a <= dial_hz <= b for a, b in own)
                    if abs(margin_db) > EQUAL_DB:
                        assert got == expected, (given, route, station, dial_hz, margin_db, inside)
                    off_passband += expected and not inside
    assert off_passband > 100
