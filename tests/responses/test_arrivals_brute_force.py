"""Who arrives where and how far over the bar, against every setting, route and station worked out alone."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from spurplan.emissions import CARRIER, VOICE
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.listening.arrivals import Dials, arrivals
from spurplan.responses.listening.presence import present
from spurplan.responses.listening.worlds import shipped_spreads
from tests.oracle import brute, connect, exact, levels, plain, sets
from tests.oracle.truth import Ear

ORDERS = {1: (6, 3), 2: (2, 2), 3: (1, 1), 4: (1, 1)}
ROUTES = {n: exact.routes(n, *orders) for n, orders in ORDERS.items()}
EQUAL_DB = 1e-6
# of a station with a level of its own: no louder than two spreads of 3 dB over it
MOST_DB = 6.0
WIDTH_HZ = 2_700.0
# a beat that is a whistle, where it may be any
ANY_BEAT_HZ = 1_000.0

Over = dict[tuple[int, exact.Route], dict[int, float]]


def over_by_hand(
    receiver: dict[str, Any],
    number: int,
    dials: list[int],
    stations: list[tuple[int, int]],
    level_dbm: list[float],
    carrier: list[bool],
) -> Over:
    """Return by setting and route how far each station that is received is over what the listener bears."""
    chain = plain.chains(receiver)[number]
    ear = Ear("am", "fair", float(chain.bandwidth_hz))
    out: Over = {}
    for place, dial in enumerate(dials):
        density = levels.bar_dbm(receiver, dial, True) - levels.CARRIER_DBHZ
        for route, station in brute.received_pairs(chain, dial, ROUTES[len(chain.oscillators)], stations):
            if route == chain.wanted:
                continue
            low, high = stations[station]
            order = int(np.prod([abs(rf) for _, rf in route]))
            loudest = level_dbm[station] + MOST_DB
            there = levels.heard(
                receiver, number, dial, route, (low, high), loudest, carrier=carrier[station]
            )
            behind = exact.walk(chain, dial, route, low)[-1]
            beat = float(behind - chain.if_hz) if low == high else ANY_BEAT_HZ
            bar = ear.spoils_dbm(
                np.array([density]),
                np.array([CARRIER if carrier[station] else VOICE]),
                np.array([WIDTH_HZ]),
                np.array([beat]),
                many=np.array([False]),
            )
            over = there.heard_dbm - float(bar[0]) - MOST_DB * order
            if abs(beat) == ear.ear["beat_from"]:
                # on the edge of a whistle it is either
                over = math.nan
            out.setdefault((place, route), {})[station] = over
    return out


@pytest.mark.parametrize("kind", ["single", "double", "converter"])
def test_arrivals_are_those_of_every_route_and_station(kind: str) -> None:
    """Nobody who may spoil is missed, nobody invented, and all stand as far over the bar as by hand."""
    met = sum(compared(kind, seed) for seed in range(15))
    assert met > 50


def compared(kind: str, seed: int) -> int:
    """Hold a set at random against the plain scan; return how many settings and routes are spoilt."""
    rng = np.random.default_rng(seed)
    receiver = sets.dressed(rng, sets.receiver(rng, kind))
    chains_by_hand = plain.chains(receiver)
    stations = sets.occupants(rng, chains_by_hand, ROUTES, 10)
    level_dbm = rng.uniform(-60, 20, len(stations)).tolist()
    carrier = (rng.random(len(stations)) < 0.5).tolist()
    model = Receiver.from_dict(receiver)
    occupants = connect.occupants_of(stations, level_dbm, carrier)
    met = 0
    for number, position in enumerate(model.ranges):
        chains = compile_chains([(model, position)])[0]
        dials = Dials(chains.low_hz, chains.high_hz, 5)
        lo_order, rf_order = ORDERS[chains.conversions]
        ways, found = arrivals(
            chains,
            occupants,
            present(occupants, 1, "typical"),
            Settings(lo_order=lo_order, rf_order=rf_order),
            dials,
            shipped_spreads(),
        )
        expected = over_by_hand(receiver, number, dials.hz[0].tolist(), stations, level_dbm, carrier)
        came = set()
        columns = found.place, found.line, found.occupant, found.over_db, found.own_db
        for place, line, who, over, own in zip(*(column.tolist() for column in columns), strict=True):
            route = tuple((lo, rf) for lo, rf in ways.lines.steps[line].tolist())
            station = int(ways.occupants.label[who])
            by_hand = expected[place, route][station]
            assert math.isnan(by_hand) or over == pytest.approx(by_hand, abs=EQUAL_DB)
            assert own == 3.0 * np.prod([abs(rf) for _, rf in route])
            assert (place, route) not in came, "one service by one way at one setting counts once"
            came.add((place, route))
        loud = {key for key, of in expected.items() if any(over >= 0.0 for over in of.values())}
        assert loud <= came
        met += len(loud)
    return met
