"""Wrong answers on purpose: each must be caught by the comparison the brute-force tests use.

A mutant takes a receiver, its stations and the engine's right answer, and
returns the answer of an engine with one fault. All run on the same random sets,
on which the right answer shows no difference.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from functools import cache
from typing import Any

import numpy as np
import pytest

from spurplan.responses.lines import enumerate_lines
from tests.oracle import brute, connect, exact, plain, sets
from tests.oracle.connect import Found, Stations

ORDERS = {1: (4, 3), 2: (3, 2), 3: (2, 2), 4: (1, 1)}
ROUTES = {n: exact.routes(n, *orders) for n, orders in ORDERS.items()}

Answers = dict[str, list[Found]]
Mutant = Callable[[dict[str, Any], Stations, Answers], Answers]


@cache
def cases() -> list[tuple[dict[str, Any], list[tuple[int, int]], Answers, Any]]:
    """Sets with the engine's answer and the scan's: (receiver, stations, answer, expected)."""
    rng = np.random.default_rng(7)
    out = []
    for _ in range(40):
        receiver = sets.receiver(rng, dials=60)
        chains = plain.chains(receiver)
        stations = sets.occupants(rng, chains, ROUTES)
        expected = {c.name: brute.stretches(c, ROUTES[len(c.oscillators)], stations) for c in chains}
        out.append((receiver, stations, connect.engine(receiver, stations, ORDERS), expected))
    return out


def caught(mutant: Mutant) -> int:
    """Return on how many of the sets the comparison sees something wrong."""
    count = 0
    for receiver, stations, answer, expected in cases():
        mutated = mutant(deepcopy(receiver), list(stations), deepcopy(answer))
        count += any(connect.differences(mutated[name], expected[name]) for name in expected)
    return count


def each(change: Callable[[Found], Found | None]) -> Mutant:
    """A mutant that changes or drops single records of the answer."""

    def mutant(receiver: dict[str, Any], stations: Stations, answer: Answers) -> Answers:
        changed = {name: [change(record) for record in found] for name, found in answer.items()}
        return {name: [r for r in found if r is not None] for name, found in changed.items()}

    return mutant


def asked_wrongly(
    receiver_change: Callable[[dict[str, Any]], None] = lambda conversion: None,
    station_change: Callable[[int, int], tuple[int, int]] = lambda low, high: (low, high),
) -> Mutant:
    """A mutant that asks the engine about other conversions or other stations."""

    def mutant(receiver: dict[str, Any], stations: Stations, answer: Answers) -> Answers:
        for owner in (receiver, *receiver["range"]):
            for conversion in owner.get("conversion", []):
                receiver_change(conversion)
        return connect.engine(receiver, [station_change(*s) for s in stations], ORDERS)

    return mutant


def scanned_by(rule: str) -> Mutant:
    """A mutant that goes by another rule for intermediate products."""

    def mutant(receiver: dict[str, Any], stations: Stations, answer: Answers) -> Answers:
        return {
            chain.name: [
                (*pair, *where)
                for pair, where in brute.stretches(
                    chain, ROUTES[len(chain.oscillators)], stations, rule=rule
                ).items()
            ]
            for chain in plain.chains(receiver)
        }

    return mutant


def spots_dropped(receiver: dict[str, Any], stations: Stations, answer: Answers) -> Answers:
    return {
        name: [r for r in found if stations[r[1]][0] < stations[r[1]][1]] for name, found in answer.items()
    }


def last_occupant_lost(receiver: dict[str, Any], stations: Stations, answer: Answers) -> Answers:
    return {name: [r for r in found if r[1] < len(stations) - 1] for name, found in answer.items()}


def one_listed_twice(receiver: dict[str, Any], stations: Stations, answer: Answers) -> Answers:
    return {name: found + found[:1] for name, found in answer.items()}


def narrower(by: int) -> Callable[[dict[str, Any]], None]:
    def change(conversion: dict[str, Any]) -> None:
        if "filter" in conversion:
            width = plain.hertz(conversion["filter"]["bandwidth"])
            conversion["filter"] = {"bandwidth": f"{max(1, width - by)} Hz"}

    return change


def odd_hertz_lost(conversion: dict[str, Any]) -> None:
    if "filter" in conversion:
        width = plain.hertz(conversion["filter"]["bandwidth"])
        conversion["filter"] = {"bandwidth": f"{max(1, width // 2 * 2)} Hz"}


MUTANTS: dict[str, Mutant] = {
    "spots dropped": spots_dropped,
    "last occupant lost": last_occupant_lost,
    "one pair listed twice": one_listed_twice,
    "upper edge of the occupant open": asked_wrongly(
        station_change=lambda low, high: (low, max(low, high - 1))
    ),
    "lower edge of the occupant open": asked_wrongly(
        station_change=lambda low, high: (min(low + 1, high), high)
    ),
    "occupant one hertz too wide": asked_wrongly(station_change=lambda low, high: (low, high + 1)),
    "last dial setting one hertz too far": each(lambda r: (r[0], r[1], r[2], r[3] + 1)),
    "first dial setting one hertz too low": each(lambda r: (r[0], r[1], r[2] - 1, r[3])),
    "last dial setting left out": each(lambda r: (r[0], r[1], r[2], r[3] - 1) if r[3] > r[2] else None),
    "stretches of one hertz dropped": each(lambda r: r if r[3] > r[2] else None),
    "bandwidth 2 Hz narrow": asked_wrongly(narrower(2)),
    "bandwidth 1 Hz narrow": asked_wrongly(narrower(1)),
    "half a hertz of an odd bandwidth lost": asked_wrongly(odd_hertz_lost),
    "IF breakthrough dropped": each(lambda r: None if all(lo == 0 for lo, _ in r[0]) else r),
    "positivity ignored": scanned_by("unchecked"),
    "a product of zero let through": scanned_by("not negative"),
}


def test_the_right_answer_shows_no_difference() -> None:
    """What the mutants are held against: the engine as it is, on the same sets."""
    assert caught(lambda receiver, stations, answer: answer) == 0
    assert caught(scanned_by("positive")) == 0


@pytest.mark.parametrize("name", MUTANTS)
def test_mutant_is_caught(name: str) -> None:
    """An engine with this fault does not pass."""
    assert caught(MUTANTS[name]) > 0


def test_positivity_of_the_centre_only_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """Checking a line's centre, and not the frequencies around it, is not enough."""

    def never_tight(*args: Any, **kwargs: Any) -> Any:
        lines = enumerate_lines(*args, **kwargs)
        return lines.replace(tight=np.zeros_like(lines.tight))

    monkeypatch.setattr(connect, "enumerate_lines", never_tight)
    assert caught(lambda receiver, stations, answer: connect.engine(receiver, stations, ORDERS)) > 0
