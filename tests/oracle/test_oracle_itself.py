"""The oracle held against itself: three ways of saying one rule, worked out apart."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tests.oracle import brute, exact, plain, sets
from tests.oracle.exact import Oscillator, PlainChain

ORDERS = {1: (4, 3), 2: (3, 2), 3: (2, 2), 4: (1, 1)}
ROUTES = {n: exact.routes(n, *orders) for n, orders in ORDERS.items()}

VALVE_SET = PlainChain("4", (Oscillator(1, 465_000),), 465_000, 6_000, 11_000_000, 30_000_000, ((1, -1),))
IMAGE = ((-1, 1),)


def test_number_of_routes() -> None:
    """rf 1 to 3 with lo from -10 to 10, and rf -1 to -3 with lo 1 to 10: 63 + 30."""
    assert len(exact.steps(10, 3)) == 93
    assert len(exact.routes(3, 2, 2)) == 14**3


@pytest.mark.parametrize("kind", sets.KINDS)
def test_wanted_route_ends_on_the_last_if(kind: str) -> None:
    """The wanted route takes the dial frequency itself to every IF and to the centre of the last filter."""
    rng = np.random.default_rng(20)
    for _ in range(60):
        receiver = sets.receiver(rng, kind)
        for chain, position in zip(plain.chains(receiver), receiver["range"], strict=True):
            for dial_hz in (chain.low_hz, chain.high_hz):
                behind = exact.walk(chain, dial_hz, chain.wanted, dial_hz)
                assert behind[-1] == chain.if_hz
                for x, conversion in zip(behind, plain.conversions(receiver, position), strict=True):
                    assert x > 0
                    assert "if" not in conversion or x == plain.hertz(conversion["if"])
            assert all(o.hz(d) > 0 for o in chain.oscillators for d in (chain.low_hz, chain.high_hz))


def test_passband_edges_belong_to_it() -> None:
    """A 6 kHz filter takes a station 3 kHz off the image, and not one a hertz further."""
    image_hz = 14_200_000 + 2 * 465_000
    for offset_hz, expected in ((-3_001, False), (-3_000, True), (3_000, True), (3_001, False)):
        spot = image_hz + offset_hz
        assert exact.received(VALVE_SET, 14_200_000, IMAGE, spot, spot) is expected


def test_zero_and_negative_products_are_not_received() -> None:
    """A first product of exactly nothing goes no further, and a negative one is another route's."""
    chain = PlainChain("", (Oscillator(0, 100), Oscillator(0, 50)), 50, 1, 500, 500, ((1, -1), (1, 1)))
    route = ((1, -1), (1, 1))  # x1 = 100 - r, x2 = 50 + x1
    assert not exact.received(chain, 500, route, 100, 100)  # x1 = 0, x2 in the middle of the passband
    assert exact.received(chain, 500, route, 99, 100)  # 99.5 to below 100
    wide = PlainChain("", chain.oscillators, 50, 20, 500, 500, chain.wanted)
    assert exact.received(wide, 500, route, 99, 99)
    assert not exact.received(wide, 500, route, 101, 101)
    assert exact.frequencies(wide, 500, route, 1, 1000) == exact.Span(
        Fraction(90), Fraction(100), low_open=False, high_open=True
    )


@pytest.mark.long
def test_fractions_equal_a_walk_over_a_grid() -> None:
    """The interval of received frequencies equals trying them one after another."""
    rng = np.random.default_rng(21)
    told = {True: 0, False: 0}
    for _ in range(12):
        for chain in plain.chains(sets.receiver(rng, scale=600)):
            choice = ROUTES[len(chain.oscillators)]
            for low_hz, high_hz in sets.planted(rng, chain, choice, 1):
                high_hz = min(high_hz, low_hz + 2)
                for index in rng.integers(0, len(choice), 6):
                    dial_hz = int(rng.integers(chain.low_hz, chain.high_hz + 1))
                    span = exact.frequencies(chain, dial_hz, choice[index], 1, 10**9)
                    spot = max(1, int(span.low) if not span.empty else low_hz)
                    for low, high in ((low_hz, high_hz), (spot, spot), (spot, spot + 1)):
                        answer = exact.received(chain, dial_hz, choice[index], low, high)
                        assert answer == exact.received_on_grid(chain, dial_hz, choice[index], low, high)
                        told[answer] += 1
    assert min(told.values()) > 100, "both answers must occur"


def test_scan_equals_fractions() -> None:
    """The scan in whole numbers equals the fractions, dial setting by dial setting."""
    rng = np.random.default_rng(22)
    told = {True: 0, False: 0}
    for _ in range(40):
        every = plain.chains(sets.receiver(rng))
        stations = sets.occupants(rng, every, ROUTES)
        for chain in every:
            choice = ROUTES[len(chain.oscillators)]
            dial_hz = int(rng.integers(chain.low_hz, chain.high_hz + 1))
            scanned = brute.received_pairs(chain, dial_hz, choice, stations)
            picked = {
                (choice[i], int(rng.integers(0, len(stations)))) for i in rng.integers(0, len(choice), 60)
            }
            for route, number in sorted(picked | set(sorted(scanned)[:40])):
                answer = exact.received(chain, dial_hz, route, *stations[number])
                assert answer == ((route, number) in scanned)
                told[answer] += 1
    assert min(told.values()) > 500


def test_corners_equal_the_scan() -> None:
    """The stretch found from the corners of the (dial, frequency) region equals the scan."""
    rng = np.random.default_rng(23)
    count = 0
    for _ in range(12):
        every = plain.chains(sets.receiver(rng, dials=60))
        stations = sets.occupants(rng, every, ROUTES)
        for chain in every:
            choice = ROUTES[len(chain.oscillators)]
            scanned = brute.stretches(chain, choice, stations)
            others = [
                (choice[i], int(rng.integers(0, len(stations)))) for i in rng.integers(0, len(choice), 40)
            ]
            for route, number in [*sorted(scanned)[:: max(1, len(scanned) // 40)], *others]:
                assert exact.stretch(chain, route, *stations[number]) == scanned.get((route, number))
                count += (route, number) in scanned
    assert count > 250
