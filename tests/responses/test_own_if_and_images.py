"""Where a set is deaf for its own IF, and what the image of a mixer is: by hand, on sets made up for it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from spurplan.planning.suspects.belonging import NobodyBelongs
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.dead_dial import dead_stretches
from spurplan.responses.image_rejection import flipped


def chains_of(low_hz: int, high_hz: int, injection: str = "high", if_hz: int = 1_600_000) -> Chains:
    made: dict[str, Any] = {
        "name": "any",
        "conversions": [{"injection": injection, "if_hz": if_hz, "filter": {"bandwidth_hz": 6_000}}],
        "ranges": [{"name": "1", "low_hz": low_hz, "high_hz": high_hz, "front_end": []}],
    }
    receiver = Receiver.from_dict(made)
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    return chains


@pytest.mark.parametrize(
    ("low_hz", "high_hz", "stretch"),
    [
        # a bandwidth to either side, and no farther than the range goes
        (1_000_000, 3_000_000, (1_594_000, 1_606_000)), (1_598_000, 3_000_000, (1_598_000, 1_606_000)),
        (1_000_000, 1_603_000, (1_594_000, 1_603_000)), (1_606_000, 3_000_000, (1_606_000, 1_606_000)),
        (1_606_001, 3_000_000, None), (500_000, 1_593_999, None),
    ],
)  # fmt: skip
def test_a_set_is_deaf_within_a_bandwidth_of_its_own_if(
    low_hz: int, high_hz: int, stretch: tuple[int, int] | None
) -> None:
    candidate, low, high = dead_stretches(chains_of(low_hz, high_hz))
    got = list(zip(candidate.tolist(), low.tolist(), high.tolist(), strict=True))
    assert got == ([] if stretch is None else [(0, *stretch)])


@pytest.mark.parametrize("injection", ["high", "low", "sum"])
def test_the_image_reaches_the_same_if_with_the_same_oscillator(injection: str) -> None:
    """LO - RF against RF - LO; of a sum, RF + LO, it is RF - LO: above by twice the oscillator."""
    chains = chains_of(4_000_000, 6_000_000, injection, 9_000_000 if injection == "sum" else 1_600_000)
    dial = np.array([5_000_000])
    none = np.zeros(1, dtype=np.int64)
    if_hz = 9_000_000 if injection == "sum" else 1_600_000
    oscillator = float(chains.oscillator_hz(0, none, dial)[0])
    for steps, other in ((chains.wanted_steps[0, 0], False), (flipped(chains, 0)[0, 0], True)):
        lo, rf = (int(step) for step in steps)
        assert abs(rf) == abs(lo) == 1
        # lo times the oscillator and rf times the signal make the IF
        signal = (if_hz - lo * oscillator) / rf
        assert signal > 0
        assert (abs(signal - 5_000_000) > 1) is other


@pytest.mark.parametrize("away_hz", [1, 499, 500, 30_001, -30_001, 400_000])
def test_the_error_of_the_dial_that_is_proposed_reaches_who_belongs(away_hz: int) -> None:
    """Rounded up to a step, never down: with less of it the answer would be the same again."""
    nobody = NobodyBelongs("am", 7_000_000, 1, "Band", 7_000_000 + away_hz, True)
    assert nobody.dial_error_hz >= abs(away_hz)
