"""What a program hands to the library by mistake: refused in plain words, at the call."""

from __future__ import annotations

import contextlib
import inspect
import pickle
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan import occupancy
from spurplan.columns import table_of
from spurplan.receiver.file.reading import read_receiver
from spurplan.receiver.file.starter import starter_text
from spurplan.receiver.file.writing import write_receiver
from spurplan.reporting.data import csv_pieces
from spurplan.units import as_path, flag_faults, is_number
from tests.turns import by_turns

STATIONS = "freq_khz,service,label,level\n14930,broadcast,Lantern relay,-40 dBm\n"
MISTAKES = [
    7, -7, 2.5, float("nan"), 10**30, True, b"x", "", "\x00", "\ud800", "x" * 5000, [], [7], [None],
    (1, 2, 3), {}, {1: "x"}, object(), 1j, np.int64(7), np.array([1, 2]), np.array(5),
    10**400, Path("nowhere.toml"), repr,
]  # fmt: skip
# what a call needs besides the set and the stations
NEEDED: dict[str, dict[str, Any]] = {
    "bench_sheet": {"points": 1},
    "birdies": {},
    "by_hour": {"place": "50N,10E", "month": 1},
    "converter": {"cover": "21MHz:21.01MHz", "crystal": "7 MHz"},
    "cures": {},
    "dial": {"frequency": "14 MHz"},
    "evening": {},
    "if_change": {"if_": "1600 kHz"},
    "ranges": {},
    "readings": {},
    "station": {"frequency": "14930 kHz"},
    "suspects": {"frequency": "14 MHz"},
    "read_bands": {},
    "read_receiver": {},
    "import_list": {"unit": "kHz"},
    "occupants_of": {},
    "on_frequency": {"frequency": "14930 kHz"},
    "tables_in_use": {},
}
# every call there is
CALLS: dict[str, Callable[..., Any]] = {
    name: getattr(package, name)
    for package in (spurplan, occupancy)
    for name in package.__all__
    if inspect.isfunction(getattr(package, name))
}
# what takes a while is tried with some of the mistakes
SLOW = {"by_hour": 12, "evening": 2, "cures": 6, "if_change": 6, "suspects": 4, "converter": 4}
# called back by the library while it works: what it is cannot be known before
CALLED_BACK = {"progress"}


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Return the paths of a set with one short range, of its stations, and of a filled sheet."""
    folder = tmp_path_factory.mktemp("arguments")
    (folder / "set.toml").write_text(starter_text(("14 MHz", "14.01 MHz"), "465 kHz"), "utf-8")
    (folder / "bands.csv").write_text(STATIONS, "utf-8")
    sheet = spurplan.bench_sheet(folder / "set.toml", points=1).first
    filled = [{**row, "reading": row["predicted_db"]} for row in sheet.records()]
    (folder / "evening.csv").write_text("dial_khz,heard\n14000,am\n", "utf-8")
    text = "".join(csv_pieces(table_of(sheet.name, sheet.columns, filled)))
    (folder / "log.csv").write_text(text, "utf-8")
    set_file, bands = str(folder / "set.toml"), str(folder / "bands.csv")
    return {
        "receiver": set_file,
        "path": set_file,
        "bands": bands,
        "paths": bands,
        "log": str(folder / "log.csv"),
        "evening": str(folder / "evening.csv"),
    }


def parameters(call: Callable[..., Any]) -> list[str]:
    """Return the names a call takes, those of the settings too."""
    found = inspect.signature(call).parameters.values()
    own = [one.name for one in found if one.kind is not one.VAR_KEYWORD]
    if len(own) < len(found):
        own += [one.name for one in fields(spurplan.Settings)]
    return [name for name in own if name not in CALLED_BACK]


def sound(name: str, files: dict[str, str]) -> dict[str, Any]:
    """Return arguments of a call that it takes."""
    taken = parameters(CALLS[name])
    given = {key: value for key, value in files.items() if key in taken}
    if name == "bench_sheet":
        del given["bands"]  # a sheet asks who is on the air where it has to settle something
    if name == "evening":
        given["log"] = files["evening"]
    if name == "import_list":
        given["path"] = files["bands"]
    if name == "occupants_of":
        return {"bands": spurplan.read_bands(files["bands"])}
    return {**given, **NEEDED[name]}


def test_every_public_call_is_tried() -> None:
    """A new one has to be added here."""
    assert set(NEEDED) == set(CALLS)


@pytest.mark.parametrize("name", by_turns(NEEDED, always=NEEDED.keys() - SLOW.keys()))
def test_what_is_handed_over_by_mistake_is_answered_or_refused(name: str, files: dict[str, str]) -> None:
    """No argument of a wrong kind gets as far as to fail by itself, deep inside."""
    call = CALLS[name]
    right = sound(name, files)
    call(**right)
    tried = answered = 0
    for parameter in parameters(call):
        for mistake in MISTAKES[:: SLOW.get(name, 1)]:
            tried += 1
            with contextlib.suppress(spurplan.Refused):
                call(**{**right, parameter: mistake})
                answered += 1
    assert answered < tried // 2


@pytest.mark.parametrize(
    ("name", "arguments", "said"),
    [
        ("dial", {"range": 1}, '--range: "1" is not a name; give the name as text'),
        ("bench_sheet", {"range": 1}, '--range: "1" is not a name; give the name as text'),
        ("dial", {"bands": 5}, 'bands: "5" is not a path; name a file, as text'),
        ("dial", {"receiver": None}, 'receiver: "None" is not a path; name a file, as text'),
        ("dial", {"skirts": "yes"}, '--skirts: "yes" is neither yes nor no; give True or False'),
        ("dial", {"level": "S9"}, '--level: "S9" is no level of a service; give a mapping'),
        (
            "dial",
            {"settings": {"region": 1}},
            "settings: \"{'region': 1}\" is no Settings; give options by name",
        ),
        ("converter", {"cover": 5}, '--cover: "5" is not two edges; write it as 21MHz:21.45MHz'),
        ("converter", {"stock": [7]}, '--stock: "[7]" is not a path'),
        ("suspects", {"pad_drop": "9 dB"}, '--pad-drop: "9 dB" is no drop; give -20 to 120 dB'),
        ("readings", {"log": 7}, 'log: "7" is not a path'),
        ("import_list", {"columns": 7}, 'columns: "7" is no mapping of names'),
        ("import_list", {"unit": 7}, 'unit: "7" is not text'),
        ("occupants_of", {"bands": "a.csv"}, 'bands: "a.csv" is no table that was read; read them first'),
        ("occupants_of", {"now": 7}, 'now: "7" is no hour of a place'),
        ("occupants_of", {"terminals": 1}, 'terminals: "1" is neither yes nor no'),
        ("on_frequency", {"levels": {1: "S9"}}, 'levels: "1" is not a service'),
        ("cures", {"effort": 3}, '--effort: "3" is no effort of a cure; give a mapping'),
    ],
)
def test_a_refusal_names_the_argument(
    name: str, arguments: dict[str, Any], said: str, files: dict[str, str]
) -> None:
    """Place, value, rule and remedy, as for whatever else is wrong."""
    with pytest.raises(spurplan.Refused) as refusal:
        CALLS[name](**{**sound(name, files), **arguments})
    assert said in str(refusal.value)


def test_a_receiver_is_not_written_to_what_is_no_path(files: dict[str, str]) -> None:
    """Nor is a number taken for an open file."""
    with pytest.raises(spurplan.Refused, match="is not a path"):
        write_receiver(read_receiver(files["receiver"]), 7)  # type: ignore[arg-type]


def test_kinds_are_told_apart() -> None:
    """Text is no number, True is no number, 1 is no flag."""
    assert all(is_number(one) for one in (1, 2.5, np.float64(1)))
    assert not any(is_number(one) for one in (True, np.True_, "1", 1j, None, np.int64(1)))
    assert not any(flag_faults(one, "x") for one in (True, False))
    assert all(flag_faults(one, "x") for one in (1, None, "yes"))
    assert as_path(Path("a") / "b") == str(Path("a") / "b")


def test_a_refusal_survives_the_way_to_another_process() -> None:
    """Pickled and read back it says the same."""
    with pytest.raises(spurplan.Refused) as refused:
        spurplan.Settings(lo_order=-1, rf_order=0)
    again = pickle.loads(pickle.dumps(refused.value))
    assert (str(again), again.faults, again.total) == (str(refused.value), refused.value.faults, 2)
