"""Readings back into the model: the figures of a set, what stays open, and the file they are saved in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.bench.fit import fitted
from spurplan.planning.bench.laws import mean_log_q
from spurplan.receiver.changes import with_fitted, with_mixer
from spurplan.receiver.description import Receiver
from spurplan.receiver.resonance import QLaw
from tests.bench_logs import Row, by_figure, filled, own_prediction, rows_of, write
from tests.planted import predicted_db, read, sheet_of, valve_set
from tests.receiver_strategies import receivers

SETS = Path(__file__).parents[1] / "receivers"
NAMES = ("boathouse", "lockkeeper", "ferry_converter")


def log_of(answer: spurplan.Answer, path: Path, reading: Any = own_prediction) -> Path:
    return write(path, filled(rows_of(answer), reading))


@pytest.mark.parametrize("name", NAMES)
def test_its_own_predictions_give_the_same_set(name: str, tmp_path: Path) -> None:
    """Filled with what the description predicts, the sheet gives back every figure, decided or not."""
    path = SETS / f"{name}.toml"
    log = log_of(spurplan.bench_sheet(path), tmp_path / "log.csv")
    answer = spurplan.readings(path, log=log)
    records = [r for r in answer.tables["fitted"].records() if r["described"] is not None]
    decided = [r for r in records if r["decided"]]
    assert len(decided) >= len(records) / 2
    for record in records:
        assert record["value"] == pytest.approx(record["described"], rel=1e-3, abs=1e-3), record["figure"]
    assert not answer.residuals["outlier"].any()
    np.testing.assert_allclose(answer.residuals["residual_db"], 0.0, atol=1e-4)
    _same_responses(spurplan.read_receiver(path), answer.findings.calibrated)


def _same_responses(before: Receiver, after: Receiver) -> None:
    """Two descriptions need the same generator levels on every line of a sheet."""
    lines = sheet_of(before, 5)
    np.testing.assert_allclose(predicted_db(after, lines), predicted_db(before, lines), atol=0.06)


@pytest.mark.long
@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(receivers(), st.integers(1, 4))
def test_any_set_can_be_measured_and_read(tmp_path_factory: Any, receiver: Receiver, points: int) -> None:
    """Whatever the set: a sheet, and of its own predictions an answer whose rows agree with themselves."""
    path = tmp_path_factory.mktemp("any") / "log.csv"
    try:
        answer = spurplan.readings(receiver, log=log_of(spurplan.bench_sheet(receiver, points=points), path))
    except Refused as error:
        # dials that show less than nothing, rejections beyond 200 dB: drawn, but never built
        said = str(error)
        assert "outside any sense" in said or "is not a frequency" in said or "no readings" in said, said
        return
    for record in answer.tables["fitted"].records():
        assert not record["decided"] or record["value"] is not None
        if record["value"] is not None and record["low"] is not None:
            assert record["low"] <= record["value"] <= record["high"]


@pytest.mark.parametrize(
    "q",
    [
        60.0,
        [("11 MHz", 80.0), ("30 MHz", 40.0)],
        [("11 MHz", 35.0), ("30 MHz", 70.0)],
    ],
)
def test_a_set_unlike_its_description_is_found(q: Any) -> None:
    """Q constant, falling or rising, ceiling and mixer all different from where the fit starts."""
    truth = valve_set(q=q, ceiling=58.0, e1=1.4, isolation=2.0, h2=22.0)
    described = valve_set(q=110.0, ceiling=75.0)
    lines = sheet_of(described)
    found = fitted(described, read(lines, predicted_db(truth, lines)), spread=1e-3)
    np.testing.assert_allclose(found.fit.residuals, 0.0, atol=1e-3)
    values = {
        figure.key[-1]: figure.value(at) for figure, at in zip(found.model.figures, found.fit.at, strict=True)
    }
    mixer = truth.conversions[0].mixer
    assert values["e1"] == pytest.approx(mixer.e1, abs=1e-3)
    assert values["isolation"] == pytest.approx(mixer.isolation, abs=0.01)
    assert values["h2"] == pytest.approx(mixer.h2, abs=0.02)
    assert values["4"] == pytest.approx(58.0, abs=0.01)
    course = found.model.courses["4"]
    np.testing.assert_allclose(
        found.fit.at[:3], mean_log_q(truth.ranges[0].front_end, course.at_hz), atol=1e-3
    )


def test_a_ceiling_described_far_too_low_does_not_hide_the_q() -> None:
    """Described at 20 dB every reading seems to be at the ceiling; the images say otherwise."""
    truth, described = valve_set(q=60.0, ceiling=66.0), valve_set(q=60.0, ceiling=20.0)
    lines = sheet_of(truth)
    found = fitted(described, read(lines, predicted_db(truth, lines)), spread=0.05)
    values = {
        figure.key[0]: figure.value(at) for figure, at in zip(found.model.figures, found.fit.at, strict=True)
    }
    assert values["q"] == pytest.approx(60.0, rel=1e-3)
    assert values["ceiling"] == pytest.approx(66.0, abs=0.01)


@pytest.mark.parametrize("blunder", [False, True])
def test_a_described_slope_stays_where_readings_say_no_more(blunder: bool) -> None:
    """One good image reading of a Q a fifth lower than described: all of it is lower, its slope as it was.

    A second reading of 20 dB too little changes nothing of that: set aside, or held to be wrong.
    """
    described = valve_set(q=[("11 MHz", 80.0), ("30 MHz", 40.0)])
    truth = valve_set(q=[("11 MHz", 64.0), ("30 MHz", 32.0)])
    lines = [line for line in sheet_of(described) if line.response != "image" or line.dial_hz < 25_000_000]
    values = predicted_db(truth, lines)
    if blunder:
        images = [n for n, line in enumerate(lines) if line.response == "image"]
        values[images[-1]] -= 20.0
    found = fitted(described, read(lines, values))
    course = found.model.courses["4"]
    low, high = np.exp(course.log_q(np.array([11e6, 30e6]), found.fit.at[: len(course.at_hz)]))
    assert high / low == pytest.approx(0.5, rel=0.1)
    assert low == pytest.approx(64.0, rel=0.06)


@pytest.mark.parametrize("q_high", [60.0, 30.0])
def test_a_slope_is_taken_where_readings_show_one(q_high: float) -> None:
    """With errors of 0.5 dB and a constant described: half the Q is seen as a slope, the same Q as none."""
    rng = np.random.default_rng(3)
    truth = valve_set(q=[("11 MHz", 60.0), ("30 MHz", q_high)])
    lines = sheet_of(truth)
    values = predicted_db(truth, lines)
    found = fitted(valve_set(q=70.0), read(lines, values + 0.5 * rng.normal(size=len(values))))
    course = found.model.courses["4"]
    low, high = np.exp(course.log_q(np.array([11e6, 30e6]), found.fit.at[:3]))
    assert high / low == pytest.approx(q_high / 60.0, rel=0.12)


def test_nothing_is_carried_across_the_wave_change_switch(tmp_path: Path) -> None:
    """Readings of range 4 alone: range 3 keeps what it had, and the mixer they share is fitted."""
    path = SETS / "boathouse.toml"
    changed = with_fitted(spurplan.read_receiver(path), range_name="4", q=40.0, front_end_ceiling_db=60.0)
    log = log_of(spurplan.bench_sheet(changed, range="4"), tmp_path / "log.csv")
    answer = spurplan.readings(path, log=log)
    before = {one.name: one for one in spurplan.read_receiver(path).ranges}
    after = {one.name: one for one in answer.findings.calibrated.ranges}
    # readings of 1 dB, so what was described still counts a little
    assert after["4"].front_end_ceiling_db == pytest.approx(60.0, abs=0.3)
    assert after["4"].front_end is not None
    q = QLaw(after["4"].front_end[0].q)  # type: ignore[union-attr]
    assert np.sqrt(q.squared(np.array([12e6, 18e6, 28e6]))) == pytest.approx(40.0, rel=0.05)
    for name in ("1", "2", "3"):
        assert after[name] == before[name]
    assert {r["range"] for r in answer.tables["fitted"].records()} == {"4", None}


def test_a_wrong_reading_is_named_and_set_aside(tmp_path: Path) -> None:
    """One line 9 dB off among errors of 0.3 dB: it alone is an outlier, and no figure suffers."""
    path = SETS / "boathouse.toml"
    rng = np.random.default_rng(5)
    errors = {}

    def reading(row: Row) -> str:
        own = own_prediction(row)
        if row["response"] in ("wanted", "pointer") or not own:
            return own
        errors[row["number"]] = 0.3 * rng.normal() + (9.0 if row["number"] == "17" else 0.0)
        return f"{float(own) + errors[row['number']]:.2f}"

    log = log_of(spurplan.bench_sheet(path, range="4"), tmp_path / "log.csv", reading)
    answer = spurplan.readings(path, log=log)
    odd = [r for r in answer.tables["residuals"].records() if r["outlier"]]
    assert [r["number"] for r in odd] == [17]
    assert odd[0]["residual_db"] == pytest.approx(9.0, abs=1.5)
    assert "set aside" in odd[0]["note"]
    found = by_figure(answer)
    assert found["range 4, front-end ceiling"]["value"] == pytest.approx(65.0, abs=1.0)


def test_readings_at_the_ceiling_leave_the_q_as_described_and_say_so(tmp_path: Path) -> None:
    """With a ceiling of 40 dB on range 1 all are: it is decided, the Q stays as described."""
    leaky = with_fitted(
        spurplan.read_receiver(SETS / "boathouse.toml"), range_name="1", front_end_ceiling_db=40.0
    )
    log = log_of(spurplan.bench_sheet(leaky, range="1"), tmp_path / "log.csv")
    answer = spurplan.readings(leaky, log=log)
    rows = [row for name, row in by_figure(answer).items() if "loaded Q" in name]
    for q in rows:
        assert not q["decided"]
        assert q["rests_on"] == "description"
        assert q["value"] == pytest.approx(q["described"], rel=1e-3)
        # two of three circuits are within a fifth: that is what the description is taken to be good for
        assert q["low"] < 0.8 * q["value"] < 1.2 * q["value"] < q["high"]
        assert "as described" in q["reason"]
    assert any("at the ceiling" in q["reason"] for q in rows)
    assert by_figure(answer)["range 1, front-end ceiling"]["decided"]
    assert answer.residuals["at_ceiling"].all()
    assert any("carries no Q" in note for note in answer.residuals["note"])


def test_what_is_told_only_together_says_with_what_and_what_would_part_it(tmp_path: Path) -> None:
    """IF breakthrough alone gives ceiling and isolation in one sum; what would part them is named."""
    path = SETS / "boathouse.toml"

    def reading(row: Row) -> str:
        if row["response"] != "IF breakthrough":
            return ""
        return f"{float(row['predicted_db']) + 6.0:.2f}"

    log = log_of(spurplan.bench_sheet(path, range="4"), tmp_path / "log.csv", reading)
    answer = spurplan.readings(path, log=log)
    ceiling, isolation = (by_figure(answer)[n] for n in ("range 4, front-end ceiling", "mixer isolation"))
    for record, other in (
        (ceiling, "together with mixer isolation"),
        (isolation, "together with range 4, front-end ceiling"),
    ):
        assert not record["decided"]
        assert record["rests_on"] == "both"
        assert other in record["reason"]
        assert "would tell" in record["reason"]
        # 6 dB more in all: the description is as good for either, so each takes half
        assert record["value"] - record["described"] == pytest.approx(3.0, abs=0.5)
    # adding the line that was named decides it, or at least no longer leaves the two in one sum
    named = ceiling["reason"].split("; ")[-1]
    assert named.startswith(("LO-harmonic at ", "image at ")), named


def test_where_nothing_was_heard_that_counts(tmp_path: Path) -> None:
    """>20 dB where 37 dB are expected says nothing; >60 dB is held against all others and set aside."""
    path = SETS / "boathouse.toml"
    sheet = spurplan.bench_sheet(path, range="4")
    for limit, odd in ((">20 dB", False), (">60 dB", True)):

        def reading(row: Row, limit: str = limit) -> str:
            return limit if row["number"] == "3" else own_prediction(row)

        answer = spurplan.readings(path, log=log_of(sheet, tmp_path / "log.csv", reading))
        [record] = [r for r in answer.tables["residuals"].records() if r["number"] == 3]
        assert record["outlier"] is odd
        assert record["residual_db"] is None
        assert record["predicted_db"] == pytest.approx(36.8, abs=0.1)
        for name, row in by_figure(answer).items():
            if "loaded Q" in name:
                assert row["value"] == pytest.approx(55.0, rel=1e-2)


def test_silence_narrows_a_ceiling_from_below(tmp_path: Path) -> None:
    """Nothing heard up to 80 dB, where 61 were expected: stray coupling is far less than said."""
    path = SETS / "boathouse.toml"
    found = {}
    for limit in (">40 dB", ">80 dB"):

        def reading(row: Row, limit: str = limit) -> str:
            return limit if row["response"] == "IF breakthrough" else ""

        log = log_of(spurplan.bench_sheet(path, range="4"), tmp_path / "log.csv", reading)
        found[limit] = by_figure(spurplan.readings(path, log=log))["range 4, front-end ceiling"]
    assert found[">40 dB"]["rests_on"] == "description"
    # nothing says how far above it is
    assert all(row["value"] is row["high"] is None for row in found.values() if row["at_least"])
    assert found[">80 dB"]["at_least"]
    assert found[">80 dB"]["low"] > found[">40 dB"]["low"] + 5.0


def pointer_off(*offsets_khz: int) -> Callable[[Row], str]:
    """Return what the pointer is read to show, so much too high at one setting after the other."""
    offsets = iter(offsets_khz)

    def reading(row: Row) -> str:
        if row["response"] != "pointer":
            return ""
        return f"{(int(row['dial_hz']) + 1000 * next(offsets)) / 1e3:g} kHz"

    return reading


def test_the_dial_offset_is_the_mean_of_the_pointer_readings(tmp_path: Path) -> None:
    """10, 12 and 14 kHz too much: 12 kHz, give or take 4.303 times 2 kHz over the root of three (Student)."""
    path = SETS / "boathouse.toml"
    sheet = spurplan.bench_sheet(path, range="3")
    reading = pointer_off(10, 12, 14)

    answer = spurplan.readings(path, log=log_of(sheet, tmp_path / "log.csv", reading))
    record = by_figure(answer)["range 3, dial offset"]
    assert record["value"] == pytest.approx(12_000.0)
    assert record["high"] - record["value"] == pytest.approx(4.3027 * 2_000 / 3**0.5, rel=1e-3)
    assert record["unit"] == "Hz"
    assert next(one for one in answer.findings.calibrated.ranges if one.name == "3").dial_offset_hz == 12_000
    assert answer.dial["residual_hz"].tolist() == [-2_000, 0, 2_000]
    assert len(answer.residuals) == 0


def test_a_pointer_misread_by_far_decides_nothing(tmp_path: Path) -> None:
    """12, 95 and 12 kHz too much: no offset is taken, and the reading that stands alone is named."""
    path = SETS / "boathouse.toml"
    sheet = spurplan.bench_sheet(path, range="3")
    pointers = [row["number"] for row in sheet.first.records() if row["response"] == "pointer"]
    reading = pointer_off(12, 95, 12)

    answer = spurplan.readings(path, log=log_of(sheet, tmp_path / "log.csv", reading))
    record = by_figure(answer)["range 3, dial offset"]
    assert not record["decided"]
    assert f"line {pointers[1]}, 95 kHz off, stands furthest from the others" in record["reason"]
    assert next(one for one in answer.findings.calibrated.ranges if one.name == "3").dial_offset_hz == 0


def test_a_stretched_scale_is_said_so(tmp_path: Path) -> None:
    """An offset that grows along the dial is more than one number can say."""
    path = SETS / "boathouse.toml"
    sheet = spurplan.bench_sheet(path, range="3", points=6)

    def reading(row: Row) -> str:
        if row["response"] != "pointer":
            return ""
        return f"{int(row['dial_hz']) * 1.004 / 1e3:.1f} kHz"

    answer = spurplan.readings(path, log=log_of(sheet, tmp_path / "log.csv", reading))
    assert "the scale is stretched" in by_figure(answer)["range 3, dial offset"]["reason"]


def test_a_known_reading_error_takes_the_place_of_the_usual_one(tmp_path: Path) -> None:
    """One image reading: to 0.5 dB it gives the Q to 1.96 of that, to 5 dB hardly more than described."""
    receiver = valve_set(q=60.0)
    path = tmp_path / "set.toml"
    spurplan_write(receiver, path)

    def reading(row: Row) -> str:
        return own_prediction(row) if row["number"] == "3" else ""

    log = log_of(spurplan.bench_sheet(path), tmp_path / "log.csv", reading)
    given = by_figure(spurplan.readings(path, log=log, reading_error=0.5))["range 4, loaded Q"]
    # two circuits: 40 dB a decade of Q v, so 1.96*0.5 dB is a factor of 10^(0.98/40), a little more near 1;
    # the fifth that the description is good for adds a seventieth
    assert given["high"] / given["value"] == pytest.approx(10 ** (0.98 / 40), rel=0.01)
    usual, poor = (
        by_figure(spurplan.readings(path, log=log, reading_error=error))["range 4, loaded Q"]
        for error in (None, 5.0)
    )
    assert given["high"] < usual["high"] < poor["high"]
    assert not poor["decided"]
    with pytest.raises(Refused, match=r'--reading-error: "0.0" is no spread'):
        spurplan.readings(path, log=log, reading_error=0.0)


def spurplan_write(receiver: Receiver, path: Path) -> None:
    from spurplan.receiver.file.writing import write_receiver

    write_receiver(receiver, path)


def test_saving_keeps_the_file_and_says_where_the_figures_came_from(tmp_path: Path, capsys: Any) -> None:
    """Comments and order stay, decided figures are put in, open ones left, the origin stands at the end."""
    path = SETS / "boathouse.toml"
    changed = with_mixer(
        with_fitted(spurplan.read_receiver(path), range_name="4", q=40.0, dial_offset_hz=-35_000), e1=1.25
    )
    changed = with_fitted(changed, range_name="1", front_end_ceiling_db=40.0)
    log = log_of(spurplan.bench_sheet(changed, points=4), tmp_path / "bench.csv")
    saved = tmp_path / "new.toml"
    assert main(["readings", str(path), str(log), "--save-receiver", str(saved)]) == 0
    text = saved.read_text("utf-8")
    for comment in (
        "# ten metres of wire along the eaves",
        "# triode-hexode",
        "# two double-tuned IF transformers",
    ):
        assert comment in text
    again = spurplan.read_receiver(saved)
    assert again.conversions[0].mixer.e1 == pytest.approx(1.25, abs=0.02)
    ranges = {one.name: one for one in again.ranges}
    assert ranges["4"].dial_offset_hz == -35_000
    q = QLaw(ranges["4"].front_end[0].q)  # type: ignore[index, union-attr]
    assert np.sqrt(q.squared(np.array([12e6, 18e6, 28e6]))) == pytest.approx(40.0, rel=0.05)
    # range 1 is all at the ceiling: its Q is as it was written
    assert "coupled_pair = 1.0, q = 90" in text
    assert "# Fitted from bench.csv" in text
    assert "#   range 4, loaded Q at " in text
    assert "range 1, loaded Q" not in text
    out = capsys.readouterr().out
    assert "Left to the description" in out
    assert "1      loaded" in out


def test_the_page_fits_eighty_columns_and_leaves_no_row_out(
    tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Text and Markdown hold every reading: there is no --top to cut them."""
    monkeypatch.setenv("COLUMNS", "80")
    path = SETS / "boathouse.toml"
    log = log_of(spurplan.bench_sheet(path), tmp_path / "log.csv")
    assert main(["readings", str(path), str(log)]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    assert "left out; --top" not in out
    assert "At the ceiling, so without a word about Q: No." in out
    assert main(["readings", str(path), str(log), "--format", "md"]) == 0
    assert "| Range | Figure | Value |" in capsys.readouterr().out


def test_silence_alone_is_an_answer_too(tmp_path: Path, capsys: Any) -> None:
    """Three lines with nothing heard up to 80 dB, where 20 to 37 are expected: nothing speaks against it."""
    path = SETS / "boathouse.toml"

    def reading(row: Row) -> str:
        return ">80" if row["range"] == "4" and row["response"] == "image" else ""

    log = write(tmp_path / "log.csv", filled(rows_of(spurplan.bench_sheet(path)), reading))
    words = ["readings", str(path), str(log), "--chart", str(tmp_path / "log.svg")]
    assert main(words) == 0
    assert "3 level readings" in capsys.readouterr().out
    records = spurplan.readings(path, log=log).residuals.records()
    assert [r["residual_db"] for r in records] == [None] * 3


def test_agreed_fields(tmp_path: Path) -> None:
    """The fields that were agreed on stand in their order, others behind or between."""
    path = SETS / "boathouse.toml"
    answer = spurplan.readings(path, log=log_of(spurplan.bench_sheet(path, points=1), tmp_path / "log.csv"))
    for table, agreed in (
        ("fitted", "figure value low high unit decided reason"),
        ("residuals", "number predicted_db reading_db residual_db outlier"),
    ):
        names = [column.name for column in answer.tables[table].columns]
        assert [name for name in names if name in agreed.split()] == agreed.split()
    for record in answer.tables["fitted"].records():
        assert record["reason"]
        if record["low"] is not None and record["value"] is not None:
            assert record["low"] <= record["value"] <= record["high"]
