"""What no cure can do, on any set: a pad against ratios, a passive box against more than its own loss."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from spurplan.occupancy.bands import read_bands
from spurplan.planning.cures.changes import carried_out
from spurplan.planning.cures.cure_list import Cure, Fitted, shipped_cures
from spurplan.planning.outlook import Outlook, outlooks, place_of
from spurplan.receiver.changes import with_pad, with_range
from spurplan.receiver.description import Curve, Receiver
from spurplan.responses.asking import Settings, occupants_of

CURES = {cure.name: cure for cure in shipped_cures()}
SEEDS = range(6)
PASSIVE = (
    "IF trap",
    "medium-wave band-stop",
    "low-pass",
    "high-pass",
    "preselector of two circuits",
)


def random_set(seed: int, **figures: Any) -> Receiver:
    """Return a set of one range on the short waves."""
    rng = np.random.default_rng(seed)
    low_khz = int(rng.integers(4_000, 16_000))
    return Receiver.from_dict(
        {
            "name": f"Set {seed}",
            "noise_figure": f"{rng.integers(6, 20)} dB",
            "environment": str(rng.choice(["residential", "rural", "quiet_rural"])),
            **figures,
            "conversion": [
                {
                    "injection": "high",
                    "if": f"{rng.choice([455, 465, 1_600])} kHz",
                    "mixer": {"family": "valve_multiplicative"},
                    "filter": {"bandwidth": "6 kHz", "shape_factor": 3},
                }
            ],
            "range": [
                {
                    "name": "1",
                    "coverage": [f"{low_khz} kHz", f"{int(low_khz * rng.uniform(1.3, 1.8))} kHz"],
                    "front_end": [{"circuits": int(rng.integers(1, 3)), "q": int(rng.integers(30, 90))}],
                    "front_end_ceiling": f"{rng.integers(45, 75)} dB",
                }
            ],
        }
    )


def judged(receivers: list[Receiver], **options: Any) -> list[Outlook]:
    """Return the outlook of each set, all in the same worlds."""
    settings = Settings(**options)
    bands = read_bands()
    place = place_of(receivers[0], occupants_of(receivers[0], bands, settings), settings)
    return outlooks([(one, one.ranges[0]) for one in receivers], place, settings)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_pad_gains_nothing_against_a_ratio(seed: int) -> None:
    """Where noise outside is far over the set's, what falls as the signal falls stays as far under it."""
    # noise of a city is 40 dB and more over that of such a set on all of these frequencies
    bare = random_set(seed, noise_figure="3 dB", environment="city")
    before, after = judged([bare, with_pad(bare, pad_db=10.0)], rf_order=1)
    assert before.finding.intruders > 0.001
    assert abs(after.finding.usable - before.finding.usable) <= 0.01
    assert (after.worlds - before.worlds).max() <= 0.01


def loss_db(cure: Cure, receiver: Receiver) -> float:
    """Return the most that a passive box takes from what is wanted; one at least, for a trap far off. [dB]"""
    one = receiver.ranges[0]
    box = cure.box(Fitted(465_000, None), 0.0)
    loss = -box.gain_db
    for element in box.elements:
        if isinstance(element, Curve):
            hz, db = zip(*element.points, strict=True)
            dial = np.geomspace(one.low_hz, one.high_hz, 400)
            # straight lines over log frequency, with a little to spare
            loss += 0.2 + float(np.interp(np.log(dial), np.log(hz), db).max())
    return max(loss, 1.0)


@pytest.mark.parametrize("name", PASSIVE)
def test_a_passive_box_never_costs_more_than_its_loss(name: str) -> None:
    """Whatever a trap, a low-pass or a preselector does not mend, it harms no more than a pad as lossy."""
    tried = 0
    for seed in SEEDS:
        bare = random_set(seed)
        boxed = carried_out(bare, CURES[name], ["1"])
        if boxed is None:
            continue
        tried += 1
        padded = with_pad(bare, pad_db=loss_db(CURES[name], bare))
        _, with_box, with_loss = judged([bare, boxed, padded])
        assert with_box.finding.usable >= with_loss.finding.usable - 1e-3
        assert (with_box.worlds >= with_loss.worlds - 0.01).all()
    assert tried >= 3


@pytest.mark.parametrize("seed", SEEDS)
def test_a_box_in_the_lead_works_past_stray_coupling_inside_the_set(seed: int) -> None:
    """With circuits that stray coupling makes useless, a preselector ahead takes out most that intrudes."""
    bare = with_range(random_set(seed), range_name=None, front_end_ceiling_db=15.0)
    made = carried_out(bare, CURES["preselector of two circuits"], ["1"])
    assert made is not None
    before, after = judged([bare, made])
    assert before.finding.intruders > 0.1
    assert after.finding.intruders < 0.5 * before.finding.intruders
