"""Self-whistles against trying every route at every dial setting, and their levels worked out singly.

The rule: at a dial setting d a station on d itself goes through the mixers by a route that is
not the wanted one, is positive behind each, and ends no further than half the bandwidth from
the IF.
"""

from __future__ import annotations

from math import prod
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.birdies.self_whistles import Whistles, self_whistles
from tests.oracle import connect, exact, levels, plain, sets
from tests.oracle.exact import PlainChain, Route

ORDERS = {1: (8, 4), 2: (3, 2), 3: (2, 1)}
ROUTES = {n: exact.routes(n, *orders) for n, orders in ORDERS.items()}
KINDS = ("single", "double", "triple", "converter")
NOBODY = connect.occupants_of([(20_000_000_000, 20_000_000_000)])
STATION_DBM = -40.0

Found = dict[Route, tuple[int, int]]


def brute_whistles(chain: PlainChain) -> Found:
    """First and last dial setting of each route that brings the wanted station in a second time.

    In whole numbers, everything times the product of the h of all oscillators.
    """
    scale = prod(oscillator.h for oscillator in chain.oscillators)
    dials = np.arange(chain.low_hz, chain.high_hz + 1, dtype=np.int64)
    tuned = [(o.a * dials + o.b) * (scale // o.h) for o in chain.oscillators]
    out: Found = {}
    for route in ROUTES[len(chain.oscillators)]:
        if route == chain.wanted:
            continue
        # r = d, mixer by mixer; two settings say whether it ends on the station at every one
        if [exact.walk(chain, d, route, d)[-1] for d in (1, 2)] == [chain.if_hz] * 2:
            continue
        x = dials * scale
        good = np.ones(len(dials), dtype=bool)
        for (lo, rf), oscillator in zip(route, tuned, strict=True):
            x = lo * oscillator + rf * x
            good &= x > 0
        good &= 2 * np.abs(x - chain.if_hz * scale) <= chain.bandwidth_hz * scale
        heard = dials[good].tolist()
        if heard:
            assert heard[-1] - heard[0] + 1 == len(heard), route
            out[route] = (heard[0], heard[-1])
    return out


def whistles_of(chains: Chains, **settings: Any) -> tuple[list[Route], list[int], Whistles]:
    lo_order, rf_order = ORDERS[chains.conversions]
    options = Settings(lo_order=lo_order, rf_order=rf_order, **settings)
    lines, found = self_whistles(chains, NOBODY, options, STATION_DBM)
    routes = [tuple((lo, rf) for lo, rf in lines.steps[line].tolist()) for line in found.line]
    return routes, lines.candidate[found.line].tolist(), found


# in the last four a product between two mixers turns negative inside a stretch
SEEDS = [(kind, 600 + number, 8) for number, kind in enumerate(KINDS)]
SEEDS += [("double", 27, 1), ("double", 174, 1), ("double", 289, 1), ("triple", 84, 1)]


@pytest.mark.parametrize(("kind", "seed", "times"), SEEDS)
def test_whistles_equal_the_scan(kind: str, seed: int, times: int) -> None:
    """Every route that crosses r = d, on its first and last hertz, once."""
    rng = np.random.default_rng(seed)
    counted = 0
    for _ in range(times):
        made = sets.receiver(rng, kind, dials=400, scale=500)
        receiver = Receiver.from_dict(made)
        expected = {
            (chain.name, *item) for chain in plain.chains(made) for item in brute_whistles(chain).items()
        }
        listed = []
        for chains in compile_chains([(receiver, one) for one in receiver.ranges]):
            routes, candidates, found = whistles_of(chains, everything=True)
            for i, (route, candidate) in enumerate(zip(routes, candidates, strict=True)):
                name = chains.names[int(chains.name_code[candidate])]
                listed.append((name, route, (int(found.dial_low_hz[i]), int(found.dial_high_hz[i]))))
        assert len(set(listed)) == len(listed)
        assert set(listed) == expected, made
        counted += len(listed)
    assert counted > 2 * times  # the comparison is not an empty one


def real_size(rng: np.random.Generator, kind: str | None = None) -> dict[str, Any]:
    """A random set of megahertz with front ends, mixers and filters."""
    return sets.dressed(rng, sets.receiver(rng, kind, dials=8_000_000, scale=25_000_000))


def test_levels_are_those_of_the_station_on_the_other_route() -> None:
    """How far a whistle is below its station is what the station loses on that route, worked out singly."""
    rng = np.random.default_rng(66)
    counted = 0
    for _ in range(25):
        made = real_size(rng)
        receiver = Receiver.from_dict(made)
        number_of = {one.name: number for number, one in enumerate(receiver.ranges)}
        for chains in compile_chains([(receiver, one) for one in receiver.ranges]):
            if chains.conversions > 2:
                continue
            routes, candidates, found = whistles_of(chains, everything=True)
            for i in range(0, len(found), 1 + len(found) // 30):
                dial = int(found.loudest_dial_hz[i])
                number = number_of[chains.names[int(chains.name_code[candidates[i]])]]
                station = levels.heard(made, number, dial, routes[i], (dial, dial), STATION_DBM, carrier=True)
                assert found.below_station_db[i] == pytest.approx(STATION_DBM - station.heard_dbm, abs=1e-6)
                assert found.margin_db[i] == pytest.approx(station.margin_db, abs=1e-6)
                counted += 1
    assert counted > 150


def test_dropping_loses_nothing() -> None:
    """What is heard of all that is worked out is what is worked out when the rest is dropped early."""
    rng = np.random.default_rng(9)
    counted = 0
    for _ in range(25):
        receiver = Receiver.from_dict(real_size(rng))
        for chains in compile_chains([(receiver, one) for one in receiver.ranges]):
            if chains.conversions > 2:
                continue
            every_route, every_candidate, every = whistles_of(chains, everything=True)
            route, candidate, _ = whistles_of(chains)
            heard = {
                (every_candidate[i], every_route[i]) for i in np.flatnonzero(every.margin_db >= 0.0).tolist()
            }
            assert set(zip(candidate, route, strict=True)) == heard
            counted += len(heard)
    assert counted > 50


def whistling_set(**filter_: Any) -> dict[str, Any]:
    """A double conversion whose crystal is near a fifth of what it has to beat with."""
    return {
        "name": "whistler",
        "conversion": [
            {"crystal": "25 MHz", "pickup": "50 dB"},
            {"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "5 kHz", **filter_}},
        ],
        "range": [{"name": "1", "coverage": ["21 MHz", "21.45 MHz"]}],
    }


def test_no_front_end_helps() -> None:
    """The station itself is what whistles: circuits at the aerial change nothing, those behind do."""
    made = whistling_set()
    below = []
    for circuits in (1, 4):
        made["range"][0]["front_end"] = [{"circuits": circuits, "q": 70}]
        _, _, found = asked_one(made)
        below.append(found.below_station_db)
    assert len(below[0]) > 0
    assert below[0].tolist() == below[1].tolist()
    made["conversion"][0]["selectivity"] = [{"circuits": 2, "q": 80}]
    made["conversion"][0]["pickup"] = "90 dB"
    _, _, found = asked_one(made)
    assert found.below_station_db.min() > below[0].min() + 20


def asked_one(made: dict[str, Any]) -> tuple[list[Route], list[int], Whistles]:
    receiver = Receiver.from_dict(made)
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    lines, found = self_whistles(chains, NOBODY, Settings(everything=True), STATION_DBM)
    routes = [tuple((lo, rf) for lo, rf in lines.steps[line].tolist()) for line in found.line]
    return routes, lines.candidate[found.line].tolist(), found


def test_what_only_stray_coupling_lets_through_ranks_last() -> None:
    """A whistle held back as far as a filter can is listed behind those that are not, louder or not."""
    receiver = spurplan.read_receiver(Path(__file__).parents[1] / "receivers" / "lockkeeper.toml")
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    _, found = self_whistles(chains, NOBODY, Settings(everything=True), STATION_DBM)
    last = found.through_ceiling.tolist()
    assert last == sorted(last)
    assert 10 < sum(last) < len(last)


def test_station_on_the_dial_gives_label_level_and_beat(tmp_path: Any) -> None:
    """The strongest listed station that is wanted on the stretch is named, with the beat it makes."""
    receiver = Receiver.from_dict(
        {
            "name": "medium wave",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": ["530 kHz", "1620 kHz"]}],
        }
    )
    table = tmp_path / "planted.csv"
    table.write_text(
        "freq_khz,service,label,level\n909,broadcast,near,-10 dBm\n912,broadcast,far,-50 dBm\n",
        encoding="utf-8",
    )
    answer = spurplan.birdies(receiver, bands=table)
    (whistle,) = (r for r in answer.birdies if r["equation"] == "IF = 2 RF - LO")
    assert (whistle["label"], whistle["row"], whistle["beat_hz"]) == ("near", 2, 1_000)
    assert whistle["heard_dbm"] == pytest.approx(-10.0 - whistle["below_station_db"])
    assert whistle["grade"] in ("strong", "audible")
    # 10 dB less on the aerial is 10 dB more below the station: second order in the signal
    table.write_text(table.read_text("utf-8").replace("-10 dBm", "-20 dBm"), encoding="utf-8")
    weaker = spurplan.birdies(receiver, bands=table, everything=True)
    (whistle_weaker,) = (r for r in weaker.birdies if r["equation"] == "IF = 2 RF - LO")
    assert whistle_weaker["below_station_db"] - whistle["below_station_db"] == pytest.approx(10.0, abs=1e-6)


def test_candidates_together_are_as_each_by_itself() -> None:
    """Chains asked in one call give the whistles of each asked alone."""
    rng = np.random.default_rng(12)
    pairs = []
    while len(pairs) < 20:
        receiver = Receiver.from_dict(real_size(rng, "converter"))
        pairs += [(receiver, one) for one in receiver.ranges]
    for chains in compile_chains(pairs):
        if chains.conversions > 2:
            continue
        routes, candidates, found = whistles_of(chains, everything=True)
        together = {
            (v, route, low, high): below
            for v, route, low, high, below in zip(
                candidates, routes, found.dial_low_hz.tolist(), found.dial_high_hz.tolist(),
                found.below_station_db.tolist(), strict=True,
            )
        }  # fmt: skip
        alone = {}
        for v in range(len(chains)):
            own_routes, _, own = whistles_of(chains.take(np.array([v])), everything=True)
            columns = (own.dial_low_hz.tolist(), own.dial_high_hz.tolist(), own.below_station_db.tolist())
            for route, low, high, below in zip(own_routes, *columns, strict=True):
                alone[v, route, low, high] = below
        assert alone.keys() == together.keys()
        assert all(alone[key] == pytest.approx(together[key], abs=1e-9) for key in alone)
