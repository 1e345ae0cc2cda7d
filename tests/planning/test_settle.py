"""The shortest sheet that settles whether a stretch is usable: its intervals, its choice, its end."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.bench import settle as settling
from spurplan.planning.bench.fit import courses_of
from spurplan.planning.bench.identifiability import with_reading
from spurplan.planning.bench.model import BenchModel
from spurplan.planning.bench.points import Bench, designed
from spurplan.planning.bench.prior import prior_of
from spurplan.receiver.changes import with_fitted
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings, as_bands, occupants_of
from spurplan.responses.listening.judged import place_of
from tests.bench_logs import rows_of

SETS = Path(__file__).parents[1] / "receivers"
BOATHOUSE = SETS / "boathouse.toml"
# of range 4: a near thing as described
NEAR = (14_000_000, 14_350_000)


def air_of(receiver: Receiver, name: str, span: tuple[int, int]) -> tuple[settling._Air, Any]:
    """Return the air of a stretch, and the covariance of its figures before any reading."""
    one = next(one for one in receiver.ranges if one.name == name)
    bench, settings = Bench(receiver, -13.0), Settings()
    dials = sorted({*span, *bench.settings(one, 3)})
    courses = courses_of([one], {name: dials})
    model = BenchModel(receiver, (one,), {name: bench.signals(one, dials)}, courses)
    place = place_of(receiver, occupants_of(receiver, as_bands(None), settings), settings)
    prior = prior_of(model.figures, model.ranges, courses)
    covariance = prior.covariance / np.outer(model.scale, model.scale)
    return settling._Air(model, one, span, place, settings), covariance


@pytest.mark.parametrize("name", ["boathouse", "lockkeeper", "ferry_converter"])
def test_what_is_asked_is_what_ranges_says(name: str) -> None:
    """The chance of a stranger as described is that of `ranges --cover`, which draws the set besides."""
    path = SETS / f"{name}.toml"
    one = spurplan.read_receiver(path).ranges[-1]
    span = (one.low_hz, one.low_hz + (one.high_hz - one.low_hz) // 6)
    [found] = spurplan.bench_sheet(path, settle=span, range=one.name).findings.settled
    [said] = spurplan.ranges(path, cover=span, range=one.name).findings
    # of 200 settings, not 1,000, and with figures of the set that are known
    assert found.stranger == pytest.approx(said.stranger, abs=0.05)
    assert found.limit == said.limit


@pytest.mark.parametrize(("name", "span"), [("4", NEAR), ("3", (7_000_000, 7_200_000))])
def test_the_interval_holds_the_sets_that_may_be(name: str, span: tuple[int, int]) -> None:
    """Of sixty sets drawn as far off as a description may be 90 % at least lie inside."""
    receiver = spurplan.read_receiver(BOATHOUSE)
    air, covariance = air_of(receiver, name, span)
    _, slopes = air.slopes(np.sqrt(np.diag(covariance)))
    low, high = air.ends(slopes, covariance)
    rng = np.random.default_rng(4)
    drawn = rng.multivariate_normal(np.zeros(len(covariance)), covariance, 60)
    chance = air.shares_with(list(drawn)).spoilt.mean(axis=1)
    assert np.mean((chance >= low - 1e-3) & (chance <= high + 1e-3)) >= 0.9
    # and it is no wider than they ask for
    assert high - low <= 2.0 * (chance.max() - chance.min())


def test_readings_are_few_the_most_telling_and_settle_it() -> None:
    """A band in which a stranger is a near thing: few lines, and each interval narrower."""
    answer = spurplan.bench_sheet(BOATHOUSE, settle=NEAR)
    [found] = answer.findings.settled
    assert not found.is_settled(found.low, found.high)
    assert found.settled
    assert 1 <= len(found.steps) <= 3
    spans = [found.high - found.low, *(step.high - step.low for step in found.steps)]
    assert spans == sorted(spans, reverse=True)
    assert [step for step in found.steps[:-1] if found.is_settled(step.low, step.high)] == []
    assert len(answer.points) < len(spurplan.bench_sheet(BOATHOUSE, range="4").points) / 2
    responses = [row["response"] for row in rows_of(answer)]
    assert responses[:2] == ["wanted", "pointer"]
    described, *after = answer.tables["settle"].records()
    assert (described["order"], described["number"], described["response"]) == (0, None, None)
    assert (described["low"], described["high"]) == (found.low, found.high)
    numbers = {row["number"]: row for row in answer.first.records()}
    for row, step in zip(after, found.steps, strict=True):
        line = numbers[row["number"]]
        assert (line["dial_hz"], line["generator_hz"]) == (step.inject.dial_hz, step.inject.generator_hz)
    assert len(answer.tables["alignment"]) == 0


def test_no_other_reading_leaves_less_open() -> None:
    """Each candidate put in by itself: the first one leaves the least variance of what is asked."""
    receiver = spurplan.read_receiver(BOATHOUSE)
    [found] = spurplan.bench_sheet(receiver, settle=NEAR).findings.settled
    air, covariance = air_of(receiver, "4", NEAR)
    _, slopes = air.slopes(np.sqrt(np.diag(covariance)))
    possible = designed(Bench(receiver, -13.0), air.model, air.model.described)
    left = {
        (i.dial_hz, i.steps): float(slopes @ with_reading(covariance, row, 1.0) @ slopes)
        for i, row in zip(possible.injects, possible.jacobian, strict=True)
        if i.response != "wanted" and i.reachable and not i.fooled_by
    }
    first = found.steps[0].inject
    assert left[first.dial_hz, first.steps] <= 1.05 * min(left.values())


# whose IF lies within what it tunes: twice the IF is a setting, where the generator on the IF comes in twice
ON_ITS_OWN_IF: dict[str, Any] = {
    "name": "Low",
    "region": 1,
    "conversion": [
        {"injection": "high", "if": "1.6 MHz", "mixer": {"family": "dual_gate_mosfet"},
         "filter": {"bandwidth": "7 kHz", "shape_factor": 3}}
    ],
    "range": [
        {"name": "a", "coverage": ["1.8 MHz", "4.5 MHz"], "front_end": [{"circuits": 2, "q": 12.0}]}
    ],
}  # fmt: skip


@pytest.mark.parametrize("span", [(3_195_000, 3_205_000), (3_190_000, 3_200_000)])
def test_no_reading_is_asked_for_that_the_generator_spoils(span: tuple[int, int]) -> None:
    """No harmonic of what it is set to falls into the passband; and what is asked for is within its reach."""
    answer = spurplan.bench_sheet(Receiver.from_dict(ON_ITS_OWN_IF), settle=span)
    [found] = answer.findings.settled
    assert found.steps
    for step in found.steps:
        dial, generator = step.inject.dial_hz, step.inject.generator_hz
        near = [n for n in range(2, 20) if abs(n * generator - dial) <= 7_000 / 2]
        assert near == [], (step.inject.response, dial, generator)
        assert step.inject.reachable
    # there was one to leave out, or this says nothing: the IF, heard on twice the IF
    assert span[0] <= 2 * 1_600_000 <= span[1]


def test_what_is_far_from_the_limit_wants_no_reading() -> None:
    """A front end of ample rejection: settled as described, and the sheet is empty."""
    quiet = with_fitted(spurplan.read_receiver(BOATHOUSE), range_name="4", front_end_ceiling_db=65.0)
    answer = spurplan.bench_sheet(quiet, settle=(28_000_000, 28_200_000))
    [found] = answer.findings.settled
    assert found.settled
    assert found.steps == ()
    assert len(answer.points) == 0
    assert "settled without a reading" in found.sentence
    assert [row["settled"] for row in answer.tables["settle"].records()] == [True]


def test_a_generator_too_weak_settles_nothing() -> None:
    """With the image out of its reach no reading tells, and the sentence says so."""
    answer = spurplan.bench_sheet(BOATHOUSE, settle=NEAR, generator_max="-95 dBm")
    [found] = answer.findings.settled
    assert not found.settled
    assert found.steps == ()
    assert "No reading within reach of the generator" in found.sentence


def test_the_page_says_first_what_settles_it(capsys: Any) -> None:
    """Ahead of the method: the answer as described, its interval, how many readings."""
    assert main(["bench-sheet", str(BOATHOUSE), "--settle", "14MHz:14.35MHz"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert out.index("14 MHz to 14.35 MHz on range 4: usable as described") < out.index("How: feed")
    assert "What each reading settles" in out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"settle": NEAR, "points": 3}, "--points: changes nothing beside --settle"),
        ({"bands": "x.csv"}, "--bands: changes nothing without a stretch to settle"),
        ({"settle": "50MHz:52MHz"}, "--settle: .*is on no range of the set; the set tunes"),
        ({"settle": "14MHz"}, "--settle"),
    ],
)
def test_what_does_not_go_together_is_refused(options: dict[str, Any], said: str) -> None:
    with pytest.raises(Refused, match=said):
        spurplan.bench_sheet(BOATHOUSE, **options)
