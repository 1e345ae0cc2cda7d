"""The reading that is proposed next: what it promises comes true, and it is the best there is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.planning.bench.fit import BenchFit, fitted
from spurplan.planning.bench.fitted import figure_rows
from spurplan.planning.bench.identifiability import with_reading
from spurplan.planning.bench.log import LevelReading
from spurplan.planning.bench.next_readings import Further, Next, further_readings, next_readings
from tests.bench_logs import Row, filled, own_prediction, rows_of, write
from tests.bench_sets import NOISE_DB, Log, log_of
from tests.planted import predicted_db, read, sheet_of, valve_set

SETS = Path(__file__).parents[1] / "receivers"
BOATHOUSE = SETS / "boathouse.toml"
# what of a log is there when the next reading is asked for
KEPT = 0.35


def begun(number: int) -> tuple[Log, list[LevelReading], np.random.Generator]:
    """Return a log of another set of which about a third has been read."""
    log, rng = log_of(number), np.random.default_rng([11, number])
    some = [r for r in log.readings if r.number not in log.wrong and rng.random() < KEPT]
    return log, some or list(log.readings[:2]), rng


def proposals(log: Log, readings: Sequence[LevelReading]) -> tuple[BenchFit, Further, list[Next]]:
    found = fitted(log.described, readings)
    further = further_readings(log.described, found)
    rows = figure_rows(found, further)
    return found, further, next_readings(found, further, [not row.decided for row in rows])


def made(log: Log, one: Next, rng: np.random.Generator) -> LevelReading:
    """Return the proposed reading as the true set gives it, with an error."""
    inject = one.inject
    line = LevelReading(
        10_000 + one.number, inject.range, inject.dial_hz, inject.steps, inject.response,
        inject.reference_dbm, 0.0, False,
    )  # fmt: skip
    db = float(predicted_db(log.truth, [line])[0] + NOISE_DB * rng.normal())
    return replace(line, db=db)


def width(found: BenchFit, name: str, hz: int | None) -> float:
    """Return how wide the interval of a figure is, in its coordinate.

    Notes
    -----
    The interval itself where the fit has that figure; where it tells the Q of the range elsewhere, what
    its covariance leaves of the Q at the frequency asked for.
    """
    model, fit = found.model, found.fit
    for j, figure in enumerate(model.figures):
        if figure.full_name == name:
            low, high = fit.interval(j)
            return high - low
    assert hz is not None
    range_ = name.split(",")[0].removeprefix("range ")
    course = model.courses[range_]
    columns = [j for j, figure in enumerate(model.figures) if figure.key[:2] == ("q", range_)]
    weights = course.weights(hz) * fit.scale[columns]
    return 2.0 * fit.quantile * math.sqrt(weights @ fit.covariance[np.ix_(columns, columns)] @ weights)


def told_hz(found: BenchFit, name: str) -> int | None:
    """Return the frequency that a Q of a fit stands for; None for other figures. [Hz]"""
    key = next(figure.key for figure in found.model.figures if figure.full_name == name)
    return found.model.courses[str(key[1])].at_hz[int(key[2])] if key[0] == "q" else None


def ratios(numbers: Sequence[int]) -> list[float]:
    """Return by what the figure narrowed over what was promised, of each log with a proposal."""
    out = []
    for number in numbers:
        log, readings, rng = begun(number)
        before, _, found = proposals(log, readings)
        if not found:
            continue
        first = found[0]
        after = fitted(log.described, [*readings, made(log, first, rng)])
        hz = told_hz(before, first.figure)
        real = width(before, first.figure, hz) / width(after, first.figure, hz)
        out.append(real / first.narrows)
    return out


def test_a_figure_narrows_as_promised() -> None:
    """Six logs begun: in the middle one the interval narrows by what was promised, within 30 %."""
    found = np.array(ratios(range(6)))
    assert len(found) >= 4
    assert np.median(np.abs(found - 1.0)) <= 0.3


@pytest.mark.alone
def test_figures_narrow_as_promised_in_eighty_logs() -> None:
    """At least 40 with a proposal: in the middle one within 30 %, and rather more than less."""
    found = np.array(ratios(range(80)))
    assert len(found) >= 40
    assert np.median(np.abs(found - 1.0)) <= 0.3
    assert np.median(found) >= 0.9


@pytest.mark.parametrize("number", [1, 2])
def test_no_other_reading_takes_more_off_what_is_open(number: int) -> None:
    """Each candidate put into the covariance by itself: the first proposal leaves least of what is open."""
    log, readings, _ = begun(number)
    found, further, proposed = proposals(log, readings)
    rows = figure_rows(found, further)
    open_ = further.figures[[not row.decided for row in rows]]

    def left(i: int) -> float:
        after = with_reading(further.covariance, further.rows[i], further.spread_db)
        return float(np.trace(open_ @ after @ open_.T))

    chosen = next(i for i, inject in enumerate(further.injects) if inject == proposed[0].inject)
    assert left(chosen) <= min(left(i) for i in range(len(further.injects))) + 1e-6
    # with those of the log alone the covariance is the fit's own
    before = np.diag(found.fit.covariance)
    if further.figures.shape[0] == further.figures.shape[1]:
        np.testing.assert_allclose(further.variances(), before, rtol=1e-3)


def test_what_is_proposed_can_be_read_and_goes_into_the_log(tmp_path: Path) -> None:
    """Images alone of range 4 leave the ceiling open: the row of `next` and a reading decide it."""

    def reading(row: Row) -> str:
        return own_prediction(row) if row["response"] == "image" else ""

    log = filled(rows_of(spurplan.bench_sheet(BOATHOUSE, range="4")), reading)
    before = spurplan.readings(BOATHOUSE, log=write(tmp_path / "log.csv", log))
    first, *_ = before.tables["next"].records()
    assert before.findings.next_said.startswith(f"Next: {first['response']} at ")
    assert f"{first['narrows']:.1f} times as closely" in before.findings.next_said
    assert first["generator_dbm"] == pytest.approx(first["wanted_dbm"] + first["predicted_db"])
    row = dict.fromkeys(log[0], "") | {
        name: str(first[name])
        for name in ("range", "dial_hz", "response", "generator_hz", "wanted_dbm", "steps")
    }  # fmt: skip
    row |= {"number": "900", "reading": f"{first['predicted_db']:.3f}"}
    after = spurplan.readings(BOATHOUSE, log=write(tmp_path / "log.csv", [*log, row]))
    was, now = (
        next(r for r in answer.tables["fitted"].records() if r["figure"] == first["figure"])
        for answer in (before, after)
    )
    ratio = (was["high"] - was["low"]) / (now["high"] - now["low"])
    assert ratio > 1.2


def test_a_reading_that_was_set_aside_is_one_not_made() -> None:
    """An image 20 dB wrong is set aside: where it would tell, it is proposed with the number of its line."""
    described = valve_set()
    lines = sheet_of(described)
    values = predicted_db(described, lines)
    wrong = next(n for n, line in enumerate(lines) if line.response == "image")
    values[wrong] -= 20.0
    found = fitted(described, read(lines, values))
    assert not found.fit.kept[wrong]
    further = further_readings(described, found)
    same = [
        i
        for i, inject in enumerate(further.injects)
        if (inject.dial_hz, inject.steps) == (lines[wrong].dial_hz, lines[wrong].steps)
    ]
    assert len(same) == 1
    # as if nothing were known yet, and nothing else could be read
    alone = replace(
        further,
        injects=tuple(further.injects[i] for i in same),
        rows=further.rows[same],
        covariance=np.eye(len(further.covariance)),
    )
    [one] = next_readings(found, alone, [True] * len(found.model.figures))
    assert one.again == lines[wrong].number
    assert f"No. {one.again} again" in one.sentence


def test_where_all_is_decided_nothing_is_proposed() -> None:
    """No figure open, no reading; and none of those already made is proposed again."""
    log = log_of(0)
    found, further, some = proposals(log, log.readings)
    assert next_readings(found, further, [False] * len(found.model.figures)) == []
    made_ = {(r.range, r.dial_hz, r.steps) for r, k in zip(found.readings, found.fit.kept, strict=True) if k}
    assert not made_ & {(i.range, i.dial_hz, i.steps) for i in further.injects}
    assert len(some) <= 3


def test_the_page_says_the_next_reading_before_any_table(tmp_path: Path, capsys: Any) -> None:
    """Which signal, where and how strong, and what for: the second line below the title."""
    log = filled(
        rows_of(spurplan.bench_sheet(BOATHOUSE, range="4")),
        lambda row: own_prediction(row) if row["response"] == "IF breakthrough" else "",
    )
    assert main(["readings", str(BOATHOUSE), str(write(tmp_path / "log.csv", log))]) == 0
    out = capsys.readouterr().out
    assert out.index("Next: ") < out.index("Rests on")
    assert "Next readings" in out
