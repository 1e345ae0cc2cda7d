"""Sets and stations for tests of intermodulation; invented."""

from __future__ import annotations

from typing import Any

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.families import single_tone_intercept_dbm
from spurplan.responses.pairs.heard import Pairs
from spurplan.responses.pairs.words import lands_on
from tests.oracle import connect

Stations = list[tuple[int, int]]


def plain_set(
    low: str,
    high: str,
    if_text: str = "455 kHz",
    injection: str = "high",
    iip2: float = 50.0,
    iip3: float = 15.0,
) -> dict[str, Any]:
    """A set without any front end whose mixer has stated two-tone intercepts; the bandwidth is 6 kHz."""
    mixer = {
        "family": "valve_multiplicative",
        "h2": f"{single_tone_intercept_dbm(2, iip2)} dBm",
        "h3": f"{single_tone_intercept_dbm(3, iip3)} dBm",
        "isolation": "0 dB",
    }
    filter_ = {"bandwidth": "6 kHz"}
    return {
        "name": "two tones",
        "environment": "quiet_rural",
        "conversion": [{"injection": injection, "if": if_text, "mixer": mixer, "filter": filter_}],
        "range": [{"name": "1", "coverage": [low, high], "front_end": [], "rf_gain": "0 dB"}],
    }


def chains_of(made: dict[str, Any]) -> Chains:
    """The chains of a set whose ranges are all of one kind."""
    receiver = Receiver.from_dict(made)
    (chains,) = compile_chains([(receiver, one) for one in receiver.ranges])
    return chains


def landing(chains: Chains, pairs: Pairs) -> list[str]:
    """What each pair lands on, by name."""
    return [
        lands_on(chains, v, pairs.routes, route)
        for v, route in zip(pairs.candidate.tolist(), pairs.route.tolist(), strict=True)
    ]


def at_levels(stations: Stations, *levels_dbm: float) -> Occupants:
    return connect.occupants_of(stations, levels_dbm)
