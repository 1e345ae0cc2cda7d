"""Another IF for some ranges: where the one asked about will not do, and one beside it would."""

from __future__ import annotations

from typing import Any

import pytest

import spurplan
from spurplan.cli import main
from spurplan.columns import Answer
from spurplan.errors import Refused
from spurplan.planning.cures.cure_list import cures_in_use
from spurplan.planning.cures.trials import CureTrials
from spurplan.receiver.description import Receiver
from spurplan.reporting.views import if_change as page
from spurplan.responses.asking import Settings, as_bands

LOWER, UPPER = "1600kHz:4500kHz", "12MHz:30MHz"


@pytest.fixture(scope="module")
def set_(tmp_path_factory: pytest.TempPathFactory) -> Receiver:
    """A European set of two ranges, two circuits each, IF 455 kHz."""
    path = tmp_path_factory.mktemp("set") / "set.toml"
    covers = ["--cover", LOWER, "--cover", UPPER]
    made = ["receiver", "--if", "455kHz", "--rf-stages", "1", "--region", "1", *covers, "-o", str(path)]
    assert main(made) == 0
    return spurplan.read_receiver(path)


@pytest.fixture(scope="module")
def on_medium_wave(set_: Receiver) -> Answer:
    return spurplan.if_change(set_, if_="1.6MHz")


def test_an_if_on_medium_wave_is_answered_with_one_beside_it(on_medium_wave: Answer) -> None:
    """1600 kHz is a broadcaster's channel, the last one in Europe ends at 1606.5: yes above, for range 2."""
    findings = on_medium_wave.findings
    assert findings.kept
    assert findings.nearby is not None
    assert findings.nearby.if_hz > 1_606_500
    assert [near.range.name for near in findings.nearby.ranges] == ["2"]


def test_the_answer_stands_before_what_else_there_might_be(on_medium_wave: Answer) -> None:
    """No, and why, in one breath; what some ranges would gain by, and its price, in the next."""
    first = page.view(on_medium_wave).heading[0]
    no, other = first.split(". ")[:2]
    assert no == (
        "1600 kHz: no, it lies inside range 1 and Medium wave broadcasting breaks through on it; keep 455 kHz"
    )
    assert other.startswith("On range 2 alone 1650 kHz would be better, usable ")
    assert other.endswith("at the price of a second IF strip: ask with --if 2=1650kHz")


def test_for_one_range_alone_the_others_are_no_hindrance(set_: Receiver) -> None:
    """1650 kHz lies inside range 1, a fault of an IF for the whole set; range 2 alone may have it."""
    alone = spurplan.if_change(set_, if_="1650kHz", range="2")
    assert alone.findings.chosen.change.if_hz == 1_650_000
    saved = alone.findings.proposed
    assert [saved.plans_of(one)[-1].if_hz for one in saved.ranges] == [455_000, 1_650_000]
    said = " ".join(page.view(alone).heading)
    assert "as the IF of the whole set 1650 kHz lies inside range 1" in said


@pytest.mark.parametrize(("names", "barred"), [(("1", "2"), {1_600_000, 2_900_000}), (("2",), set())])
def test_cures_try_no_if_inside_a_range_that_would_have_it(
    set_: Receiver, names: tuple[str, ...], barred: set[int]
) -> None:
    """As if-change has it: what the lower range tunes is out for the set, and in for the upper alone."""
    cures = {cure.name: cure for cure in cures_in_use(None)}
    place: Any = None  # nothing is judged
    trials = CureTrials(set_, names, None, place, Settings(), as_bands(None), cures)
    tried = {trial.if_hz for trial in trials.ways_of((cures["another IF"],))}
    assert tried == set(cures["another IF"].if_hz) - barred


def test_where_no_if_stands_clear_the_reason_is_told() -> None:
    """A range from 1.5 to 30 MHz holds every one of them."""
    wide = Receiver.from_dict(
        {
            "name": "wide",
            "conversions": [{"injection": "high", "if_hz": 455_000, "filter": {"bandwidth_hz": 6_000}}],
            "ranges": [
                {"name": "1", "low_hz": 1_500_000, "high_hz": 30_000_000, "front_end": [{"circuits": 1}]}
            ],
        }
    )
    cures = {cure.name: cure for cure in cures_in_use(None)}
    place: Any = None
    trials = CureTrials(wide, ("1",), None, place, Settings(), as_bands(None), cures)
    with pytest.raises(Refused, match="inside a range that would have it"):
        list(trials.ways_of((cures["another IF"],)))


@pytest.mark.parametrize("option", ["if_", "first_if"])
@pytest.mark.parametrize("value", ["1.6GHz", "900Hz"])
def test_an_if_beyond_any_is_refused_with_what_can_be_meant(set_: Receiver, option: str, value: str) -> None:
    """Megahertz were meant for gigahertz: the range is named, and the unit asked after."""
    with pytest.raises(Refused) as caught:
        spurplan.if_change(set_, **{option: value})
    assert "give 1 kHz to 200 MHz; is the unit right?" in str(caught.value)
