"""The engine's closed form against trying everything.

Receivers and stations at random (tests/oracle/sets.py), the rule of reception
in exact fractions (tests/oracle/exact.py) and as a scan over every dial
setting, every route and every station (tests/oracle/brute.py). Nothing may be
missed, invented, listed twice, or stand a hertz wrong.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracle import brute, connect, exact, plain, sets

ORDERS = {1: (10, 3), 2: (3, 2), 3: (2, 2)}
ROUTES = {n: exact.routes(n, *orders) for n, orders in ORDERS.items()}


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


@pytest.mark.parametrize("kind", sets.KINDS)
def test_engine_equals_the_scan(kind: str) -> None:
    """Every pair on the dial settings where it is received, for sets of every kind."""
    rng = np.random.default_rng(sets.KINDS.index(kind))
    pairs = [compare_one(rng, kind) for _ in range(50)]
    assert sum(pairs) > 1_000
    assert sum(count > 0 for count in pairs) > 45


@pytest.mark.long
def test_engine_equals_the_scan_many_times() -> None:
    """The same for ten thousand sets."""
    rng = np.random.default_rng(10_000)
    assert sum(compare_one(rng) for _ in range(10_000)) > 1_000_000


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


@pytest.mark.parametrize("kind", sets.KINDS)
def test_engine_equals_the_scan_on_wide_ranges(kind: str) -> None:
    """Ranges of megahertz, IFs of kilohertz to tens of megahertz."""
    rng = np.random.default_rng(100 + sets.KINDS.index(kind))
    assert sum(probe_wide(rng, kind) for _ in range(5)) > 400
