"""The sheet out, the readings in: what the model predicts gives the model back; damage gives nothing."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

import spurplan
from spurplan.cli import main
from spurplan.errors import Refused

DEMO = Path(__file__).parents[1] / "demos" / "boathouse"


def sheet(folder: Path) -> list[dict[str, str]]:
    """Return the sheet of range 4 as its csv gives it."""
    path = folder / "sheet.csv"
    options = ["--range", "4", "--format", "csv", "--output", str(path)]
    assert main(["bench-sheet", str(DEMO / "set.toml"), *options]) == 0
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def log(folder: Path, rows: list[dict[str, str]]) -> Path:
    path = folder / "log.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return path


def filled(rows: list[dict[str, str]]) -> list[dict[str, str]]:
    return [{**row, "reading": row["predicted_db"] if row["response"] != "wanted" else ""} for row in rows]


def test_its_own_predictions_give_the_same_set(tmp_path: Path) -> None:
    """Read back, the sheet filled with what was predicted finds each figure as described."""
    answer = spurplan.readings(DEMO / "set.toml", log(tmp_path, filled(sheet(tmp_path))))
    fitted = {r["figure"]: r for r in answer.fitted if r["decided"]}
    # described in demos/boathouse/set.toml: Q 55, ceiling 65 dB; H2 31.6 dBm of a 3 V valve
    assert fitted["range 4, loaded Q"]["value"] == pytest.approx(55.0, rel=1e-3)
    ceiling = next(r for name, r in fitted.items() if "ceiling" in name)
    assert ceiling["value"] == pytest.approx(65.0, abs=0.05)
    assert max(abs(r["residual_db"]) for r in answer.residuals if r["residual_db"] is not None) < 0.06


def test_a_planted_q_is_found(tmp_path: Path) -> None:
    """Readings of a set whose circuits have Q 40 say 40, whatever its file says."""
    text = (DEMO / "set.toml").read_text(encoding="utf-8")
    true = tmp_path / "true.toml"
    true.write_text(text.replace("{ circuits = 2, q = 55 }", "{ circuits = 2, q = 40 }"), encoding="utf-8")
    path = tmp_path / "sheet.csv"
    options = ["--range", "4", "--format", "csv", "--output", str(path)]
    assert main(["bench-sheet", str(true), *options]) == 0
    rows = filled(list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8")))))
    answer = spurplan.readings(DEMO / "set.toml", log(tmp_path, rows))
    q = next(r for r in answer.fitted if r["figure"] == "range 4, loaded Q")
    assert q["decided"]
    assert q["low"] <= 40.0 <= q["high"]
    assert q["value"] == pytest.approx(40.0, rel=0.01)


def test_every_fault_of_a_damaged_log_is_named_and_nothing_fitted(tmp_path: Path) -> None:
    """Two bad cells, two faults with their rows; no answer from the good half."""
    rows = filled(sheet(tmp_path))
    rows[2]["reading"], rows[4]["reading"] = "36,8", "loud"
    with pytest.raises(Refused) as refusal:
        spurplan.readings(DEMO / "set.toml", log(tmp_path, rows))
    said = str(refusal.value)
    assert refusal.value.total == 2
    assert "row 4" in said
    assert '"36,8"' in said
    assert "row 6" in said
    assert '"loud"' in said


def test_an_empty_sheet_decides_nothing(tmp_path: Path) -> None:
    """Without a reading there is nothing to fit, and it says so."""
    rows = [{**row, "reading": ""} for row in sheet(tmp_path)]
    with pytest.raises(Refused, match="reading"):
        spurplan.readings(DEMO / "set.toml", log(tmp_path, rows))
