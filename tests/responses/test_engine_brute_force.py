"""The engine's closed form against trying everything.

Receivers and stations at random (tests/oracle/sets.py), the rule of reception
in exact fractions (tests/oracle/exact.py) and as a scan over every dial
setting, every route and every station (tests/oracle/brute.py). Nothing may be
missed, invented, listed twice, or stand a hertz wrong.
"""

from __future__ import annotations

import math
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.join import join
from spurplan.responses.lines import enumerate_lines
from tests.oracle import brute, connect, exact, plain, sets
from tests.oracle.exact import PlainChain
from tests.outside import Differences, against, agreed
from tests.turns import by_turns

ORDERS = {1: (10, 3), 2: (3, 2), 3: (2, 2), 4: (1, 1)}
ROUTES = {n: exact.routes(n, *orders) for n, orders in ORDERS.items()}
FAR_HZ = 20_000_000_000  # where nothing small receives


def compare_one(rng: np.random.Generator, kind: str | None = None) -> int:
    """Hold one random set against the scan of its whole dial; return the number of pairs."""
    receiver = sets.receiver(rng, kind)
    chains = plain.chains(receiver)
    stations = sets.occupants(rng, chains, ROUTES)
    found = connect.engine(receiver, stations, ORDERS)
    pairs = 0
    for chain in chains:
        expected = brute.stretches(chain, ROUTES[len(chain.oscillators)], stations)
        wrong = connect.differences(found[chain.name], expected)
        assert not wrong, (wrong[:5], chain, receiver, stations)
        pairs += len(expected)
    return pairs


SCAN = "every route, station and dial setting tried, exact fractions"


@against(SCAN, "stretches of random sets of every kind", unit="stretches", tolerance=0)
def test_engine_equals_the_scan() -> Differences:
    """Every pair on the dial settings where it is received, for sets of every kind."""
    for kind in sets.KINDS:
        rng = np.random.default_rng(sets.KINDS.index(kind))
        pairs = [compare_one(rng, kind) for _ in range(40)]
        assert sum(pairs) > 1_000
        assert sum(count > 0 for count in pairs) > 35
        yield kind, agreed(sum(pairs))


@against(SCAN, "stretches of 10,000 random sets", unit="stretches", tolerance=0, long=True)
def test_engine_equals_the_scan_many_times() -> Differences:
    """The same for ten thousand sets."""
    rng = np.random.default_rng(10_000)
    pairs = sum(compare_one(rng) for _ in range(10_000))
    assert pairs > 1_000_000
    yield "all", agreed(pairs)


def probe_wide(rng: np.random.Generator, kind: str) -> int:
    """Hold a set of real size against the scan on and beside the edges of its stretches.

    Every dial setting is too many; the first and last hertz of stretches, one hertz
    outside them, the ends of the dial and some anywhere are not.
    """
    receiver = sets.receiver(rng, kind, dials=8_000_000, scale=25_000_000)
    chains = plain.chains(receiver)
    stations = sets.occupants(rng, chains, ROUTES)
    found = connect.engine(receiver, stations, ORDERS)
    probed = 0
    for chain in chains:
        answer = found[chain.name]
        assert len({(route, station) for route, station, _, _ in answer}) == len(answer)
        edges = np.array([(low - 1, low, high, high + 1) for _, _, low, high in answer]).reshape(-1)
        picked = rng.choice(edges, min(60, len(edges)), replace=False) if len(edges) else edges
        anywhere = rng.integers(chain.low_hz, chain.high_hz + 1, 20)
        dials = np.unique(np.concatenate([picked, anywhere, [chain.low_hz, chain.high_hz]]).astype(np.int64))
        dials = dials[(dials >= chain.low_hz) & (dials <= chain.high_hz)]
        for dial_hz in dials.tolist():
            scanned = brute.received_pairs(chain, dial_hz, ROUTES[len(chain.oscillators)], stations)
            listed = {(route, station) for route, station, low, high in answer if low <= dial_hz <= high}
            assert listed == scanned, (dial_hz, listed ^ scanned, chain, receiver, stations)
            probed += len(scanned)
        for index in rng.integers(0, len(answer), 5) if answer else ():
            route, station, low, high = answer[index]
            assert exact.stretch(chain, route, *stations[station]) == (low, high)
    return probed


@against(SCAN, "ranges of megahertz: on and beside the edges", unit="pairs", tolerance=0)
def test_engine_equals_the_scan_on_wide_ranges() -> Differences:
    """Ranges of megahertz, IFs of kilohertz to tens of megahertz."""
    for kind in sets.KINDS:
        rng = np.random.default_rng(100 + sets.KINDS.index(kind))
        probed = sum(probe_wide(rng, kind) for _ in range(3))
        assert probed > 200
        yield kind, agreed(probed)


# --- the ends of what is possible -------------------------------------------------------------


FARTHEST = [("single", (15, 7)), ("double", (10, 4)), ("converter", (10, 4))]


@pytest.mark.parametrize(("kind", "orders"), by_turns(FARTHEST, always=FARTHEST[:1], several=True))
def test_gigahertz(kind: str, orders: tuple[int, int]) -> None:
    """Up to 7 GHz and high orders, where a product of coefficients would leave a 64-bit integer first.

    Held against fractions alone: of all stations planted on edges, and of the pairs found.
    """
    rng = np.random.default_rng(500)
    choice = exact.routes(2 if kind != "single" else 1, *orders)
    planted = inside = 0
    for _ in range(4):
        receiver = sets.receiver(rng, kind, dials=400_000_000, scale=5_000_000_000)
        receiver["range"] = receiver["range"][:1]
        (chain,) = plain.chains(receiver)
        few = [choice[i] for i in rng.integers(0, len(choice), 400)]
        stations = sorted({s for s in sets.planted(rng, chain, few, 8) if s[1] < 30_000_000_000})
        if not stations:
            continue
        found = connect.engine(receiver, stations, dict.fromkeys((1, 2), orders))[chain.name]
        got = {(route, station): (low, high) for route, station, low, high in found}
        assert len(got) == len(found)
        for index in rng.integers(0, len(found), 30) if found else ():
            route, station, low, high = found[index]
            assert exact.stretch(chain, route, *stations[station]) == (low, high)
            inside += 1
        for route in few[:60]:
            for station in rng.integers(0, len(stations), 3).tolist():
                assert exact.stretch(chain, route, *stations[station]) == got.get((route, station))
                planted += 1
    assert planted > 600
    assert inside > 50


def test_many_candidates_at_once_equal_each_alone() -> None:
    """The candidate axis: sets asked together give what each gives by itself."""
    rng = np.random.default_rng(600)
    asked = [sets.receiver(rng, "double") for _ in range(12)]
    stations = sorted({s for r in asked for s in sets.occupants(rng, plain.chains(r)[:1], ROUTES)})
    alone = [connect.engine(receiver, stations, ORDERS)["1"] for receiver in asked]
    models = [Receiver.from_dict(receiver) for receiver in asked]
    (chains,) = compile_chains([(model, model.ranges[0]) for model in models])
    occupants = connect.occupants_of(stations)
    lines = enumerate_lines(chains, *ORDERS[2], span_hz=occupants.reach)
    hits = join(lines, occupants)
    together: list[list[connect.Found]] = [[] for _ in asked]
    for line, station, low, high in zip(
        hits.line, hits.occupant, hits.dial_low_hz, hits.dial_high_hz, strict=True
    ):
        route = tuple((int(lo), int(rf)) for lo, rf in lines.steps[line])
        together[lines.candidate[line]].append((route, int(station), int(low), int(high)))
    assert [sorted(found) for found in together] == [sorted(found) for found in alone]
    assert sum(map(len, alone)) > 1_000


# --- through the front door ------------------------------------------------------------------

PUBLIC_ORDERS = (3, 2)
PUBLIC_ROUTES = {n: exact.routes(n, *PUBLIC_ORDERS) for n in (1, 2)}


def ask(
    folder: Path, rng: np.random.Generator, kind: str
) -> tuple[Receiver, Path, list[tuple[int, int]], Any]:
    """A random set with its stations in a file; (receiver, band table, stations, chains)."""
    description = sets.receiver(rng, kind, dials=60)
    chains = plain.chains(description)
    stations = sets.occupants(rng, chains, PUBLIC_ROUTES)
    return Receiver.from_dict(description), connect.band_table(folder, stations), stations, chains


def wanted_slope(chain: PlainChain, route: exact.Route, dial_hz: int) -> Fraction:
    """How far the last product moves when the dial moves by 1 Hz and the signal stays."""
    rf_hz = 1_000_000_007
    moved = exact.walk(chain, dial_hz + 1, route, rf_hz)[-1]
    return moved - exact.walk(chain, dial_hz, route, rf_hz)[-1]


def check_record(record: dict[str, Any], chain: PlainChain, station: tuple[int, int]) -> None:
    """Hold what a record says of its route and of the station against the oracle."""
    route = tuple((lo, rf) for lo, rf in record["steps"])
    assert record["order"] == sum(abs(lo) + abs(rf) for lo, rf in route)
    assert record["pad_db_per_db"] == math.prod(abs(rf) for _, rf in route)
    turned = math.prod(rf for _, rf in route) * math.prod(rf for _, rf in chain.wanted) < 0
    assert record["inverted"] is turned
    wanted = wanted_slope(chain, chain.wanted, chain.low_hz)
    moves = None if wanted == 0 else float(wanted_slope(chain, route, chain.low_hz) / wanted)
    assert record["moves"] == (moves if moves is None else pytest.approx(moves, abs=1e-12))
    spans = [
        exact.frequencies(chain, dial_hz, route, *station)
        for dial_hz in range(record["dial_low_hz"], record["dial_high_hz"] + 1)
    ]
    assert not any(span.empty for span in spans)
    low, high = min(span.low for span in spans), max(span.high for span in spans)
    assert station[0] <= record["rf_low_hz"] <= record["rf_high_hz"] <= station[1]
    assert abs(record["rf_low_hz"] - low) <= 1
    assert abs(record["rf_high_hz"] - high) <= 1


@pytest.mark.parametrize("kind", ["single", "double", "converter"])
def test_ranges_lists_what_the_scan_finds(kind: str, tmp_path: Path) -> None:
    """`ranges` from band table to records: every pair but the wanted route, each once, graded in pieces."""
    rng = np.random.default_rng(200 + sets.KINDS.index(kind))
    lo_order, rf_order = PUBLIC_ORDERS
    looked_at = 0
    for _ in range(6):
        receiver, table, stations, chains = ask(tmp_path, rng, kind)
        answer = spurplan.ranges(receiver, bands=table, everything=True, lo_order=lo_order, rf_order=rf_order)
        records = answer.intrusions.records()
        found = connect.joined(records)
        for chain in chains:
            expected = brute.stretches(chain, PUBLIC_ROUTES[len(chain.oscillators)], stations)
            expected = {pair: where for pair, where in expected.items() if pair[0] != chain.wanted}
            assert not connect.differences(found.get(chain.name, []), expected), (chain, stations)
            own = [record for record in records if record["range"] == chain.name]
            for record in own[:: max(1, len(own) // 20)]:
                check_record(record, chain, stations[record["row"] - 2])
                looked_at += 1
    assert looked_at > 50


@pytest.mark.parametrize("kind", ["single", "double", "converter"])
def test_dial_lists_what_the_scan_finds(kind: str, tmp_path: Path) -> None:
    """`dial`: every pair received at that setting, the wanted route in a table of its own."""
    rng = np.random.default_rng(300 + sets.KINDS.index(kind))
    lo_order, rf_order = PUBLIC_ORDERS
    counted = 0
    for _ in range(12):
        receiver, table, stations, chains = ask(tmp_path, rng, kind)
        chain = chains[0]
        dial_hz = int(rng.integers(chain.low_hz, chain.high_hz + 1))
        answer = spurplan.dial(
            receiver,
            bands=table,
            frequency=dial_hz,
            range="1",
            everything=True,
            lo_order=lo_order,
            rf_order=rf_order,
        )
        scanned = brute.received_pairs(chain, dial_hz, PUBLIC_ROUTES[len(chain.oscillators)], stations)
        for records, wanted in ((answer.intrusions, False), (answer.on_frequency, True)):
            expected = {pair: (dial_hz, dial_hz) for pair in scanned if (pair[0] == chain.wanted) is wanted}
            found = connect.joined(records.records()).get(chain.name, [])
            assert not connect.differences(found, expected), (chain, dial_hz, stations)
            counted += len(expected)
    assert counted > 50


def test_dial_error_widens_the_setting(tmp_path: Path) -> None:
    """`dial` with a dial error: the pairs received anywhere the pointer may mean, on those settings."""
    rng = np.random.default_rng(350)
    lo_order, rf_order = PUBLIC_ORDERS
    counted = 0
    for _ in range(12):
        receiver, table, stations, chains = ask(tmp_path, rng, "single")
        chain = chains[0]
        dial_hz, off = int(rng.integers(chain.low_hz, chain.high_hz + 1)), int(rng.integers(1, 20))
        answer = spurplan.dial(
            receiver,
            bands=table,
            frequency=dial_hz,
            dial_error=off,
            range="1",
            everything=True,
            lo_order=lo_order,
            rf_order=rf_order,
        )
        low, high = max(chain.low_hz, dial_hz - off), min(chain.high_hz, dial_hz + off)
        dials = np.arange(low, high + 1, dtype=np.int64)
        expected = brute.stretches(chain, PUBLIC_ROUTES[1], stations, dials)
        expected = {pair: where for pair, where in expected.items() if pair[0] != chain.wanted}
        found = connect.joined(answer.intrusions.records()).get("1", [])
        assert not connect.differences(found, expected), (chain, dial_hz, off, stations)
        counted += len(expected)
    assert counted > 30


def test_station_lists_where_it_turns_up(tmp_path: Path) -> None:
    """`station`: all dial settings of one station, and where it belongs."""
    rng = np.random.default_rng(400)
    lo_order, rf_order = PUBLIC_ORDERS
    counted = 0
    for _ in range(12):
        receiver, table, stations, chains = ask(tmp_path, rng, "single")
        for spot in rng.permutation([low for low, _ in stations])[:5].tolist():
            answer = spurplan.station(
                receiver, bands=table, frequency=spot, everything=True, lo_order=lo_order, rf_order=rf_order
            )
            here = [(spot, spot) if low <= spot <= high else (FAR_HZ, FAR_HZ) for low, high in stations]
            for chain in chains:
                expected = brute.stretches(chain, PUBLIC_ROUTES[1], here)
                for records, wanted in ((answer.intrusions, False), (answer.wanted, True)):
                    own = {p: where for p, where in expected.items() if (p[0] == chain.wanted) is wanted}
                    found = connect.joined(records.records()).get(chain.name, [])
                    assert not connect.differences(found, own), (chain, spot, stations)
                    counted += len(own)
    assert counted > 40
