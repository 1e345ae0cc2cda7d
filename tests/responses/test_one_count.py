"""How many intrude: a station or band once for each way in, once a range, the same in every answer."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.columns import Answer
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.occupants import Occupants
from spurplan.responses.counting import counts_of

DEMO = Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml"


def by_hand(answer: Answer) -> tuple[int, int]:
    """How many are heard, and how many of those strong, by a set of pairs a range."""
    heard, strong = set(), set()
    for row in answer.intrusions.records():
        key = (row["range"], str(row["steps"]), row["table"], row["row"])
        if row["grade"] != "buried":
            heard.add(key)
        if row["grade"] == "strong":
            strong.add(key)
    return len(heard), len(strong)


@pytest.mark.long
def test_the_count_never_falls_as_stations_get_stronger() -> None:
    """From -20 to +10 dB; stretches, which fall apart where a station gets weak, do not keep to that."""
    counts, strong, stretches = [], [], []
    bands = spurplan.read_bands(None)
    loudest = loudest_by_service(occupants_of(bands, region=1))
    usual = [(bands.services[code], dbm) for code, dbm in loudest]
    for step in range(-20, 11, 2):
        answer = spurplan.ranges(DEMO, level={name: f"{dbm + step:.1f} dBm" for name, dbm in usual})
        counts.append(by_hand(answer)[0])
        strong.append(by_hand(answer)[1])
        stretches.append(len(answer.intrusions))
        assert counts_of(answer.intrusions).tolist()[1:] == [counts[-1] - strong[-1], strong[-1]]
        assert (answer.ranges["strong"] + answer.ranges["audible"]).sum() == counts[-1]
    assert (np.diff(counts) >= 0).all(), counts
    assert (np.diff(strong) >= 0).all(), strong
    assert counts[0] < counts[-1]
    assert (np.diff(stretches) < 0).any(), "or the test could not tell the two counts apart"


def loudest_by_service(occupants: Occupants) -> list[tuple[int, float]]:
    service, level = occupants.service, occupants.level_dbm
    return [(code, float(level[service == code].max())) for code in np.unique(service).tolist()]


@pytest.fixture(scope="module")
def heard() -> Answer:
    return spurplan.ranges(DEMO)


def test_every_command_says_the_same_number(heard: Answer, capsys: pytest.CaptureFixture[str]) -> None:
    """The page of ranges and the report; cures do not count, they say what is usable."""
    count, strong = by_hand(heard)
    for command in ("ranges", "report"):
        assert main([command, str(DEMO)]) == 0
        said = capsys.readouterr().out
        assert f"{count:,} intrusions: {strong:,} strong, {count - strong:,} audible." in said
    assert main(["cures", str(DEMO)]) == 0
    assert "intrusions" not in capsys.readouterr().out
    assert count < len(heard.intrusions)
