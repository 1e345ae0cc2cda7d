"""What users of the library meet: types, help, frames with their units."""

from __future__ import annotations

import inspect
import pydoc
import re
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest

import spurplan
from spurplan import occupancy
from spurplan.columns import Answer, table_of
from spurplan.receiver.file.starter import starter_text
from spurplan.reporting.data import csv_pieces
from tests import consumer

UNITS = {"_hz": "Hz", "_db": "dB", "_dbm": "dBm"}
OFFERED = {
    f"{package.__name__}.{name}": getattr(package, name)
    for package in (spurplan, occupancy)
    for name in package.__all__
}
FUNCTIONS = {name: call for name, call in OFFERED.items() if inspect.isfunction(call)}
SLOW = {"by_hour", "cures"}


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path, Path]:
    """Return the paths of a set, a band table, a filled sheet and an evening's log."""
    folder = tmp_path_factory.mktemp("consumer")
    paths = tuple(folder / name for name in ("set.toml", "bands.csv", "log.csv", "evening.csv"))
    receiver, bands, log, evening = paths
    receiver.write_text(starter_text(("14 MHz", "14.01 MHz"), "465 kHz"), "utf-8")
    bands.write_text("freq_khz,service,label,level\n14930,broadcast,Lantern relay,-40 dBm\n", "utf-8")
    evening.write_text("dial_khz,heard\n14000,am\n", "utf-8")
    sheet = spurplan.bench_sheet(receiver, points=1).first
    filled = [{**row, "reading": row["predicted_db"]} for row in sheet.records()]
    log.write_text("".join(csv_pieces(table_of(sheet.name, sheet.columns, filled))), "utf-8")
    return receiver, bands, log, evening


def test_every_public_call_is_in_the_program_that_mypy_reads() -> None:
    written = inspect.getsource(consumer)
    assert [name for name in FUNCTIONS if not re.search(rf"\.{name.rpartition('.')[2]}\(", written)] == []


@pytest.mark.parametrize("name", FUNCTIONS)
def test_arguments_go_by_name_after_the_first(name: str) -> None:
    parameters = list(inspect.signature(FUNCTIONS[name]).parameters.values())
    by_place = [one.name for one in parameters if one.kind not in (one.KEYWORD_ONLY, one.VAR_KEYWORD)]
    assert by_place == [parameters[0].name]


def test_settings_go_by_name() -> None:
    with pytest.raises(TypeError, match="positional"):
        spurplan.Settings(1)  # type: ignore[call-arg]
    assert all(field.kw_only for field in fields(spurplan.Settings))


@pytest.mark.parametrize("name", OFFERED)
def test_help_says_what_it_is_and_each_argument(name: str) -> None:
    """In plain text: no address of an object, and every argument is in the list of them."""
    shown = pydoc.plain(pydoc.render_doc(OFFERED[name]))
    assert " at 0x" not in shown
    assert len((inspect.getdoc(OFFERED[name]) or "").splitlines()[0]) > 20
    if name in FUNCTIONS:
        doc = inspect.getdoc(FUNCTIONS[name]) or ""
        arguments = list(inspect.signature(FUNCTIONS[name]).parameters)
        assert [one for one in arguments if not re.search(rf"^[\w, ;:.`]*\b{one}\b", doc, re.M)] == []
        assert "Raises\n------" in doc


def test_help_of_settings_has_every_option() -> None:
    doc = inspect.getdoc(spurplan.Settings) or ""
    assert [
        one.name for one in fields(spurplan.Settings) if not re.search(rf"\b{one.name}\b.* : ", doc)
    ] == []


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=pytest.mark.long if name in SLOW else ())
        for name in consumer.questions(Path(), Path(), Path(), Path())
    ],
)
def test_frames_carry_units(name: str, files: tuple[Path, Path, Path, Path]) -> None:
    """Every table of every answer: what its columns say, and no figure in Hz, dB or dBm without its unit."""
    answer: Answer = consumer.questions(*files)[name]()
    assert answer.tables
    for table in answer.tables.values():
        attrs = answer.to_frame(table.name).attrs
        assert attrs["units"] == {column.name: column.unit for column in table.columns if column.unit}
        assert set(attrs["meaning"]) == {column.name for column in table.columns}
        for column in table.columns:
            ending = re.search(r"_(hz|db|dbm)$", column.name)
            if ending and "_per_" not in column.name and column.kind in ("int", "float"):
                assert attrs["units"].get(column.name) == UNITS[ending[0]], (table.name, column.name)


def test_the_other_calls_of_that_program(files: tuple[Path, Path, Path, Path]) -> None:
    name, rows, on_air, imported = consumer.parts(files[0], files[1])
    assert name
    assert (rows, on_air, imported) == (1, 1, 1)


@pytest.mark.parametrize("number", range(len(consumer.mistakes(Path()))))
def test_what_the_types_refuse_is_refused(number: int, files: tuple[Path, Path, Path, Path]) -> None:
    wrong: Callable[[], Answer] = consumer.mistakes(files[0])[number]
    with pytest.raises((TypeError, spurplan.Refused)):
        wrong()
