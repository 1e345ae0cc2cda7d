"""Readings where the output was not held: by the set's own S meter, and by audio volts."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.fit import fitted
from spurplan.planning.bench.log import LevelReading, read_log
from tests.bench_logs import Row, by_figure, own_prediction, rows_of, write
from tests.planted import predicted_db, read, sheet_of, valve_set

SETS = Path(__file__).parents[1] / "receivers"
BOATHOUSE = SETS / "boathouse.toml"
S9_DBM = -73.0


def rows(agc: str) -> list[Row]:
    return rows_of(spurplan.bench_sheet(BOATHOUSE, range="4", agc=agc))


def with_cells(of: list[Row], cells: Callable[[Row], dict[str, str]]) -> list[Row]:
    return [{**row, **cells(row)} for row in of]


def refused(path: Path) -> str:
    with pytest.raises(Refused) as caught:
        spurplan.readings(BOATHOUSE, log=path)
    return str(caught.value)


def meter_text(nominal_dbm: float) -> str:
    """Return what an S meter with the agreed marks shows, to a tenth of a decibel above S9."""
    over = nominal_dbm - S9_DBM
    return f"S9+{over:.1f}" if over >= 0 else f"S{min(max(round(9 + over / 6.0), 0), 9)}"


@pytest.mark.parametrize(("unit_db", "s9"), [(3.5, -60.0), (6.0, -73.0), (8.0, -85.0)])
def test_the_scale_of_an_s_meter_is_found(tmp_path: Path, unit_db: float, s9: float) -> None:
    """Planted: an S unit of 3.5 to 8 dB and S9 elsewhere. The wanted signal on known levels tells both."""
    made, number = rows("on"), 0

    def shown(level: float) -> str:
        return meter_text(S9_DBM + 6.0 * (level - s9) / unit_db)

    out = []
    for row in made:
        if row["response"] == "wanted":
            for level in np.arange(s9, s9 + 41.0, 10.0):
                number += 1
                out.append(
                    {**row, "number": str(number), "wanted_dbm": f"{level:g}", "output": shown(float(level))}
                )
    path = write(tmp_path / "log.csv", out)
    found = by_figure(spurplan.readings(BOATHOUSE, log=path))
    unit, level = found["S meter, size of an S unit"], found["range 4, S meter, level it calls S9"]
    assert unit["value"] == pytest.approx(unit_db, rel=0.05)
    assert level["value"] == pytest.approx(s9, abs=1.5)
    assert unit["low"] < unit_db < unit["high"]
    assert level["low"] < s9 < level["high"]


def by_meter(described: Any, truth: Any, rng: np.random.Generator, unit_db: float, s9: float) -> Any:
    """Return image readings with the generator on one level, and wanted ones: what the S meter showed."""
    lines = [line for line in sheet_of(described) if line.response == "image"]
    need = predicted_db(truth, lines)
    out = []
    for n, (line, rejection) in enumerate(zip(lines, need.tolist(), strict=True)):
        for k, (steps, generator, lost) in enumerate(
            [(line.steps, -20.0, rejection), (((1, -1),), -80.0, 0.0), (((1, -1),), -50.0, 0.0)]
        ):
            # what reaches the detector is that of a wanted signal so strong, and half a unit of error
            meter = 6.0 * (generator - lost - s9) / unit_db + expected().meter_db * rng.normal()
            out.append(
                LevelReading(
                    10 * n + k + 1, line.range, line.dial_hz, steps,
                    "image" if lost else "wanted", S9_DBM + meter, generator - S9_DBM - meter, False, meter,
                )
            )  # fmt: skip
    return out


def test_an_s_meter_tells_a_q_within_its_interval() -> None:
    """Sixteen logs by the meter alone, S units of 4.5 dB, S9 8 dB off: the middle Q is covered in 13."""
    described, truth = valve_set(q=70.0), valve_set(q=55.0)
    rng, covered, narrower = np.random.default_rng(2), 0, 0
    for _ in range(16):
        found = fitted(described, by_meter(described, truth, rng, 4.5, -65.0))
        low, high = found.fit.interval(1)
        covered += low <= math.log(55.0) <= high
        narrower += found.fit.deviation(1) < 0.2
    assert covered >= 13
    assert narrower == 16


def test_an_s_meter_is_worth_less_than_the_attenuator() -> None:
    """The same readings by constant output and by meter: the second leave a Q less closely known."""
    described, truth = valve_set(q=70.0), valve_set(q=55.0)
    lines = [line for line in sheet_of(described) if line.response == "image"]
    held = fitted(described, read(lines, predicted_db(truth, lines)))
    meter = fitted(described, by_meter(described, truth, np.random.default_rng(1), 4.5, -65.0))
    assert held.fit.deviation(1) < 0.7 * meter.fit.deviation(1)


def test_volts_of_another_output_are_worth_their_ratio(tmp_path: Path) -> None:
    """An image at the predicted level gives the wanted signal's volts; twice the volts are 6.02 dB less."""
    made = rows("off")
    image = next(row for row in made if row["response"] == "image")

    def cells(row: Row) -> dict[str, str]:
        if row["dial_hz"] != image["dial_hz"]:
            return {}
        if row["response"] == "wanted":
            return {"output": "250 mV"}
        return {"output": "0.5 V", "reading": "40"} if row["response"] == "image" else {}

    log = read_log(write(tmp_path / "log.csv", with_cells(made, cells)), spurplan.read_receiver(BOATHOUSE))
    [found] = log.levels
    assert found.db == pytest.approx(40.0 - 20.0 * math.log10(2.0))
    assert found.reference_dbm == pytest.approx(float(image["wanted_dbm"]) + 20.0 * math.log10(2.0))
    assert found.meter_db is None


def test_volts_of_a_product_of_two_follow_its_own_law(tmp_path: Path) -> None:
    """Half-IF rises twice as fast: 10 dB more of the generator give 20 dB more out, and the same figure."""
    made, found = rows("off"), []
    line = next(row for row in made if row["response"] == "half-IF")
    for more in (0.0, 5.0):

        def cells(row: Row, more: float = more) -> dict[str, str]:
            if row["dial_hz"] != line["dial_hz"]:
                return {}
            if row["response"] == "wanted":
                return {"output": "100 mV"}
            if row["number"] != line["number"]:
                return {}
            return {
                "output": f"{0.1 * 10 ** (2 * more / 20):.6f} V",
                "reading": f"{float(row['predicted_db']) + more:.6f}",
            }

        answer = spurplan.readings(BOATHOUSE, log=write(tmp_path / "log.csv", with_cells(made, cells)))
        found.append(by_figure(answer)["mixer h2, second-order intercept"]["value"])
    assert found[0] == pytest.approx(found[1], abs=0.01)


@pytest.mark.parametrize(
    ("agc", "output", "said"),
    [
        ("on", "250 mV", "tells nothing of the level with the AGC on.*switch the AGC off, or raise the gen"),
        ("off", "S7", "tells nothing with the AGC off, which drives the S meter"),
        ("", "250 mV", "nobody knows whether the AGC was on; write on or off into its column agc"),
        ("perhaps", "", "is neither on nor off"),
        ("off", "loud", "is no output; write what the S meter shows"),
        ("off", "40 V", "is 44 dB from the wanted signal's.*move the generator until"),
        ("on", "S5+10", "adds decibels to less than S9"),
    ],
)
def test_what_tells_nothing_of_level_is_refused(tmp_path: Path, agc: str, output: str, said: str) -> None:
    """With its place and the remedy, and nothing is fitted."""

    def cells(row: Row) -> dict[str, str]:
        if row["response"] == "wanted" and agc == "off":
            return {"output": "250 mV"}
        return {"output": output, "agc": agc, "reading": "40"} if row["response"] == "image" else {}

    text = refused(write(tmp_path / "log.csv", with_cells(rows("off"), cells)))
    assert any(re.search(said, line) for line in text.splitlines()), text
    assert "column output" in text or "column agc" in text


def test_an_output_without_what_it_goes_with_is_refused(tmp_path: Path) -> None:
    """Volts without the wanted signal's, an output without a generator level, or one for the pointer."""
    for output, reading, response, said in (
        ("250 mV", "40", "image", "the wanted signal of that setting has none"),
        ("250 mV", "", "image", "has no generator level"),
        ("250 mV", ">40", "image", "is shown where nothing is heard"),
        ("250 mV", "", "pointer", "stands on a line for the pointer"),
    ):

        def cells(
            row: Row, output: str = output, reading: str = reading, response: str = response
        ) -> dict[str, str]:
            return {"output": output, "reading": reading} if row["response"] == response else {}

        assert said in refused(write(tmp_path / "log.csv", with_cells(rows("off"), cells)))


def test_a_sheet_with_the_agc_on_gives_the_meter_its_scale(capsys: Any) -> None:
    """Wanted signals 20 and 40 dB up at the first setting, a column for the meter, and the other method."""
    assert {row["agc"] for row in rows("on")} == {"on"}
    levels = [float(row["wanted_dbm"]) for row in rows("on") if row["response"] == "wanted"]
    assert np.diff(levels[:3]).tolist() == [20.0, 20.0]
    assert len(rows("on")) == len(rows("off")) + 2
    for agc, said in (("on", "leave the AGC on"), ("off", "Switch the AGC off")):
        assert main(["bench-sheet", str(BOATHOUSE), "--range", "4", "--agc", agc]) == 0
        out = " ".join(capsys.readouterr().out.split())
        assert said in out
        assert ("Reading Output" in out) is (agc == "on")
    assert main(["bench-sheet", str(BOATHOUSE), "--agc", "slow"]) == 1
    assert "is neither on nor off" in capsys.readouterr().err


def test_a_log_with_the_agc_on_is_read_as_ever_where_the_output_was_held(tmp_path: Path) -> None:
    """Constant output needs no scale: with the column empty the figures are those of the AGC off."""
    said = []
    for agc in ("on", "off"):
        log = [{**row, "reading": own_prediction(row)} for row in rows(agc)]
        answer = spurplan.readings(BOATHOUSE, log=write(tmp_path / "log.csv", log))
        said.append({name: row["value"] for name, row in by_figure(answer).items()})
    assert said[0] == pytest.approx(said[1])
