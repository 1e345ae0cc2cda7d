"""Lists and tables from Python: the page in demos, frames with units, the air by itself."""

from __future__ import annotations

import inspect
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sybil import Sybil
from sybil.parsers.markdown import PythonCodeBlockParser

import spurplan
from spurplan import occupancy
from spurplan.errors import Refused
from spurplan.occupancy import import_list, on_frequency, read_bands, tables_in_use
from spurplan.units import span_hz

PAGE = Path(__file__).parents[2] / "demos" / "lists.md"
TABLE = (
    "freq_khz,service,label,level,hours,lat,lon,power_kw,note\n"
    "7205,broadcast,A,S9,1800-2200,,,,loud\n145500,amateur,B,S9,,51.5,-7.25,0.1,\n"
)


def test_the_page_in_demos_runs(capsys: pytest.CaptureFixture[str]) -> None:
    """Block by block, in order, with what its own assertions say."""
    examples = list(Sybil(parsers=[PythonCodeBlockParser()]).parse(PAGE))
    assert len(examples) == PAGE.read_text("utf-8").count("```python") >= 5
    for example in examples:
        example.evaluate()
    said = capsys.readouterr().out
    assert '"Summe: 2" is not a number' in said
    assert "has no column known by its head for service" in said


def test_the_air_is_usable_by_itself() -> None:
    """What it offers loads no receiver and no engine."""
    code = (
        "import sys; from spurplan.occupancy import read_bands, on_frequency, import_list\n"
        "on_frequency('7.1 MHz'); "
        "import_list; elsewhere = ('spurplan.receiver', 'spurplan.responses', 'pandas')\n"
        "print([name for name in sys.modules if name.startswith(elsewhere)])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", occupancy.__all__)
def test_what_it_offers_is_there_and_says_what_it_is(name: str) -> None:
    found = getattr(occupancy, name)
    assert (inspect.getdoc(found) or "").strip()
    assert name in dir(occupancy)


def test_a_frame_of_tables_has_words_and_units(tmp_path: Path) -> None:
    """S9 is -73 dBm up to 30 MHz and -93 above (IARU Region 1 R.1); what is not given is empty."""
    (tmp_path / "t.csv").write_text(TABLE, "utf-8")
    frame = read_bands(tmp_path / "t.csv").to_frame()
    assert frame["label"].tolist() == ["A", "B"]
    assert frame["level_dbm"].tolist() == [-73.0, -93.0]
    assert frame["hours"].tolist()[0] == "1800-2200"
    assert frame[["hours", "lat", "note"]].isna().to_numpy().tolist() == [
        [False, True, False],
        [True, False, True],
    ]
    assert frame["lon"].tolist()[1] == -7.25
    assert frame.attrs["units"]["level_dbm"] == "dBm"
    assert {name for name in frame if name.endswith("_hz")} <= set(frame.attrs["units"])


def test_frames_of_answers_have_their_units() -> None:
    answer = tables_in_use()
    frame = answer.to_frame()
    assert frame.attrs["units"] == {c.name: c.unit for c in answer.first.columns if c.unit}
    assert frame.attrs["units"]["low_hz"] == "Hz"
    assert set(frame.attrs["meaning"]) == set(frame.columns)


def test_a_table_reads_well_in_a_notebook() -> None:
    table = tables_in_use().first
    assert repr(table).startswith(f"<Table tables: {len(table)} rows of table, rows, ")
    shown = table._repr_html_()
    assert "<th>from (Hz)</th>" in shown
    assert shown.count("<tr>") == len(table) + 1
    assert "array(" not in repr(table) + shown


def test_numpy_values_are_taken_like_pythons_own(tmp_path: Path) -> None:
    """Whole numbers, text and lists of paths out of arrays."""
    for name in "ab":
        (tmp_path / f"{name}.csv").write_text(TABLE, "utf-8")
    paths = np.array([str(tmp_path / "a.csv"), str(tmp_path / "b.csv")])
    bands = read_bands(paths)
    assert len(bands) == 4
    expected = on_frequency(7_205_000, bands=bands, region=1).to_dict()
    assert on_frequency(np.int64(7_205_000), bands=bands, region=np.int8(1)).to_dict() == expected
    assert on_frequency(np.array(7_205_000), bands=bands, region=np.array(1)).to_dict() == expected
    assert on_frequency(np.str_("7205 kHz"), bands=bands, region=1).to_dict() == expected
    assert import_list(paths[0], unit=np.str_("kHz")).taken == 2


SET = Path(__file__).parents[1] / "receivers" / "boathouse.toml"


@pytest.mark.parametrize(
    ("own", "numpys"),
    [
        ({"region": 1, "rf_order": 2, "lo_order": 4},
         {"region": np.int8(1), "rf_order": np.uint8(2), "lo_order": np.array(4)}),
        ({"audible_at": 3.0, "strong_at": 13.0}, {"audible_at": np.float32(3), "strong_at": np.array(13.0)}),
        ({"skirts": True, "everything": False}, {"skirts": np.bool_(True), "everything": np.array(False)}),
        ({"utc": "1200", "day": "mon"}, {"utc": np.str_("1200"), "day": np.array("mon")}),
        ({"seed": 3, "worlds": 8}, {"seed": np.int64(3), "worlds": np.uint16(8)}),
    ],
)  # fmt: skip
def test_settings_out_of_arrays_are_settings(own: dict[str, Any], numpys: dict[str, Any]) -> None:
    """Scalars of any kind, and arrays of no dimension; what they become is Python's own, as JSON needs it."""
    settings = spurplan.Settings(**numpys)
    assert settings == spurplan.Settings(**own)
    assert {name: type(getattr(settings, name)) for name in own} == {name: type(v) for name, v in own.items()}


def test_spans_and_lists_out_of_arrays_are_taken() -> None:
    """Edges of a cover and several IFs, as a program has them."""
    cover = np.array([28_000_000, 28_100_000])
    one = spurplan.ranges(SET, range="4", cover=cover, worlds=4)
    assert one.to_dict() == spurplan.ranges(SET, range="4", cover=tuple(cover.tolist()), worlds=4).to_dict()
    assert span_hz(cover, "cover") == (28_000_000, 28_100_000)
    with pytest.raises(Refused, match="is not two edges"):
        span_hz(np.array([[1, 2]]), "cover")


@pytest.mark.parametrize("value", [np.nan, np.array([1.0, 2.0]), np.array("x"), np.complex64(1)])
def test_what_is_no_margin_stays_refused(value: Any) -> None:
    with pytest.raises(Refused, match="is not a margin over the floor"):
        spurplan.Settings(audible_at=value)


def test_arguments_of_an_import_go_by_name() -> None:
    kinds = [one.kind for one in inspect.signature(import_list).parameters.values()]
    assert kinds[1:] == [inspect.Parameter.KEYWORD_ONLY] * (len(kinds) - 1)
