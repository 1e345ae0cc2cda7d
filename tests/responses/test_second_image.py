"""Where a second image is, and where there is none: what would have to be below 0 Hz is no signal."""

from __future__ import annotations

import math
from typing import Any

import pytest

from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.image_rejection import image_rejection_db


def worst_db(crystal: str) -> float:
    """Return the rejection of the second image of a set with a first IF of 600 kHz and 455 kHz behind."""
    made: dict[str, Any] = {
        "name": "double",
        "conversion": [
            {"injection": "high", "if": "600 kHz", "filter": {"bandwidth": "10 kHz"}},
            {"crystal": crystal, "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}},
        ],
        "range": [{"name": "1", "coverage": ["3 MHz", "4 MHz"]}],
    }
    model = Receiver.from_dict(made)
    (chains,) = compile_chains([(model, model.ranges[0])])
    return float(image_rejection_db(chains, 1)[0][0])


@pytest.mark.parametrize(("crystal", "there"), [("1055 kHz", True), ("145 kHz", False)])
def test_a_second_image_is_two_second_ifs_from_the_first_if(crystal: str, there: bool) -> None:
    """1510 kHz with the crystal above; with it below, 145 less 455 kHz is none. Common practice."""
    assert math.isnan(worst_db(crystal)) != there
