"""Numbers as programs have them: numpy's count as Python's own in every public call, arrays of none too.

What is asked of each argument comes from its annotation, so a new call or argument is asked about without
being named here; it needs a value in `VALUES`, and the test says so.
"""

from __future__ import annotations

import inspect
import typing
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from types import UnionType
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan import occupancy
from spurplan.columns import Answer, table_of
from spurplan.occupancy.bands import Bands
from spurplan.receiver.file.starter import starter_text
from spurplan.reporting.data import csv_pieces

TABLE = (
    "freq_khz,service,label,level\n14930,broadcast,Lantern relay,-40 dBm\n14005,amateur,Far hill,-90 dBm\n"
)
SPAN, CONVERTED = (14_000_000, 14_010_000), (21_000_000, 21_010_000)
# a value that each argument takes, by its name or by that of the call and its own
VALUES: dict[str, Any] = {
    "also_on": [14_930_000],
    "found_at": [14_005_000],
    "not_at": [14_005_000],
    "antenna_gain_db": 2.0,
    "audible_at": 3.0,
    "converter.cover": CONVERTED,
    "cover": SPAN,
    "crystal": [7_000_000],
    "decimal_comma": True,
    "dial_error": 2_000,
    "effort": {"10 dB pad": 2.0},
    "everything": True,
    "explain": 7_000_000,
    "first_if": 10_700_000,
    "frequency": 14_005_000,
    "generator_max": -10.0,
    "if_": [1_600_000],
    "intermodulation": True,
    "inverted": True,
    "lo_order": 4,
    "month": 6,
    "moves": -1.0,
    "not_on": [14_930_000],
    "pad_drop": 12.0,
    "pitch": 800,
    "pitch_moves": True,
    "points": 1,
    "reading_error": 1.5,
    "reference": -60.0,
    "region": 1,
    "rejection": 30.0,
    "rf_order": 2,
    "scan": (1_600_000, 1_610_000),
    "seed": 3,
    "settle": SPAN,
    "skirts": True,
    "step": 7_000_000,
    "strong_at": 12.0,
    "sunspots": 70.0,
    "terminals": True,
    "tune": SPAN,
    "worlds": 4,
}
# what else a call needs, so that the argument is one
BESIDE: dict[str, dict[str, Any]] = {
    "by_hour": {"place": "50N,10E", "month": 1, "worlds": 2},
    "converter": {"cover": CONVERTED, "crystal": 7_000_000, "worlds": 2},
    "converter.explain": {"crystal": 7_000_000},
    "cures": {"worlds": 2},
    "dial": {"frequency": 14_005_000, "worlds": 2},
    "if_change": {"if_": 1_600_000, "worlds": 2},
    "import_list": {"unit": "kHz"},
    "on_frequency": {"frequency": 14_005_000},
    "on_frequency.month": {"place": "50N,10E", "utc": "1800"},
    "on_frequency.sunspots": {"place": "50N,10E", "utc": "1800", "month": 6},
    "Settings.month": {"place": "50N,10E", "utc": "1800"},
    "Settings.sunspots": {"place": "50N,10E", "utc": "1800", "month": 6},
    "ranges": {"worlds": 2},
    "station": {"frequency": 14_930_000, "worlds": 2},
    "suspects": {"frequency": 14_005_000, "worlds": 2},
    "suspects.pitch": {"heard": "whistle"},
    "suspects.pitch_moves": {"heard": "whistle"},
}
# a second and more for all kinds of numbers, one after the other
SLOW = {"by_hour", "converter", "cures", "if_change", "readings", "suspects"}
# what a number is annotated as
NUMBERS = {int, float, typing.SupportsIndex}
CALLS = {
    name: getattr(package, name)
    for package in (spurplan, occupancy)
    for name in package.__all__
    if inspect.isfunction(getattr(package, name)) or name == "Settings"
}


@dataclass(frozen=True)
class Argument:
    """One argument of a call that takes numbers, alone or several of them, or a truth value."""

    call: str
    name: str
    alone: bool
    span: bool
    several: bool
    mapping: bool
    flag: bool

    def __str__(self) -> str:
        return f"{self.call}.{self.name}"


class _Names(dict[str, Any]):
    """Names of a module; what it imports for checkers of types alone holds no number."""

    def __missing__(self, name: str) -> Any:
        builtins: dict[str, Any] = self["__builtins__"]
        return builtins.get(name, Any)


def members(annotation: Any) -> tuple[Any, ...]:
    """Return what a union is of, or the one thing that it is."""
    union = typing.get_origin(annotation) in (UnionType, typing.Union)
    return sum(map(members, typing.get_args(annotation)), ()) if union else (annotation,)


def takes_numbers(annotation: Any, kind: Any) -> bool:
    """Return whether one member is of a kind of container, with numbers in it."""
    return any(
        isinstance(typing.get_origin(one), type)
        and issubclass(typing.get_origin(one), kind)
        and any(NUMBERS & set(members(inner)) for inner in typing.get_args(one))
        for one in members(annotation)
    )


def arguments() -> Iterator[Argument]:
    """Yield every argument of every public call that a number, or a truth value, may be given for."""
    for name, call in CALLS.items():
        plain = inspect.unwrap(call)
        where = _Names(vars(inspect.getmodule(plain)))
        for parameter in inspect.signature(plain).parameters.values():
            if parameter.kind is parameter.VAR_KEYWORD:
                continue
            annotation = eval(parameter.annotation, {}, where)
            kinds = set(members(annotation))
            found = Argument(
                call=name,
                name=parameter.name,
                alone=bool(NUMBERS & kinds),
                span=takes_numbers(annotation, tuple),
                several=any(takes_numbers(one, Sequence) and not takes_numbers(one, tuple) for one in kinds),
                mapping=takes_numbers(annotation, Mapping),
                flag=bool in kinds,
            )
            if found.alone or found.span or found.several or found.mapping or found.flag:
                yield found


ARGUMENTS = list(arguments())


def tried(picked: Callable[[Argument], bool], *, answered: bool = True) -> pytest.MarkDecorator:
    """Try some arguments; those of slow calls, where they are answered, with the long tests."""
    return pytest.mark.parametrize(
        "argument",
        [
            pytest.param(one, id=str(one), marks=pytest.mark.long if answered and one.call in SLOW else ())
            for one in ARGUMENTS
            if picked(one)
        ],
    )


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return a set with one short range, its stations, a filled sheet, and a list to import."""
    folder = tmp_path_factory.mktemp("numbers")
    (folder / "set.toml").write_text(starter_text(("14 MHz", "14.01 MHz"), "465 kHz"), "utf-8")
    (folder / "bands.csv").write_text(TABLE, "utf-8")
    (folder / "list.csv").write_text("freq;service;label\n7205,5;broadcast;A\n", "utf-8")
    (folder / "evening.csv").write_text("dial_khz,heard\n14000,am\n", "utf-8")
    receiver = spurplan.read_receiver(folder / "set.toml")
    sheet = spurplan.bench_sheet(receiver, points=1).first
    filled = [{**row, "reading": row["predicted_db"]} for row in sheet.records()]
    (folder / "log.csv").write_text("".join(csv_pieces(table_of(sheet.name, sheet.columns, filled))), "utf-8")
    return {
        "receiver": receiver,
        "bands": spurplan.read_bands(folder / "bands.csv"),
        "log": folder / "log.csv",
        "path": folder / "list.csv",
    }


def outcome(argument: Argument, value: Any, files: dict[str, Any]) -> tuple[str, Any]:
    """Return what a call makes of a value: what it answers, or how it refuses."""
    call: Callable[..., Any] = CALLS[argument.call]
    taken = inspect.signature(call).parameters
    given = {name: held for name, held in files.items() if name in taken}
    if argument.call == "bench_sheet" and argument.name != "settle":
        del given["bands"]  # who is on the air changes nothing there
    given |= BESIDE.get(argument.call, {}) | BESIDE.get(str(argument), {}) | {argument.name: value}
    try:
        answer = call(**given)
    except spurplan.Refused as refused:
        return "refused", str(refused)
    if isinstance(answer, Answer):
        return "answer", answer.to_dict()
    if argument.call == "Settings":
        own = {field.name: getattr(answer, field.name) for field in fields(answer)}
        return "settings", {name: (type(held), held) for name, held in own.items()}
    if isinstance(answer, occupancy.Occupants):
        return "occupants", {name: np.asarray(held).tolist() for name, held in vars(answer).items()}
    return "answer", vars(answer)


def value_of(argument: Argument) -> Any:
    """Return a value that an argument takes."""
    return VALUES.get(str(argument), VALUES.get(argument.name))


def alone(argument: Argument) -> Any:
    """Return one plain number that an argument takes."""
    value = value_of(argument)
    return value[0] if argument.several and argument.alone else value


def test_every_argument_has_a_value_to_be_tried_with() -> None:
    """A new one is named here until it has."""
    assert [str(one) for one in ARGUMENTS if value_of(one) is None] == []
    assert len(ARGUMENTS) > 50
    assert {one.call for one in ARGUMENTS} >= {"dial", "Settings", "converter", "on_frequency", "suspects"}


@tried(lambda one: one.alone or one.flag)
def test_a_number_of_numpy_is_a_number(argument: Argument, files: dict[str, Any]) -> None:
    """Whole or not, as a scalar or an array of no dimension: the same answer, or the same words."""
    own = alone(argument)
    expected = outcome(argument, own, files)
    assert expected[0] != "refused", expected
    if isinstance(own, bool):
        kinds: list[Any] = [np.bool_(own), np.array(own)]
    else:
        whole = [np.int64(own), np.int32(own), np.uint32(own)] if own >= 0 else [np.int64(own)]
        kinds = [np.array(own), *(whole if isinstance(own, int) else [np.float64(own), np.float32(own)])]
    for kind in kinds:
        assert outcome(argument, kind, files) == expected, repr(kind)
    if not isinstance(own, bool):
        # a float where whole numbers are meant, and the other way round: as Python's own of that kind
        other: Any = float(own) if isinstance(own, int) else int(own)
        as_other = outcome(argument, other, files)
        for kind in (np.array(other)[()], np.array(other)):
            assert outcome(argument, kind, files) == as_other, repr(kind)


@tried(lambda one: one.alone or one.flag, answered=False)
def test_an_array_where_one_number_is_meant_is_refused(argument: Argument, files: dict[str, Any]) -> None:
    """By the library, which names the argument; numpy's own words name nothing."""
    own = alone(argument)
    arrays = [np.array([[own]]), np.array([own, own, own])]
    if not argument.several:
        arrays.append(np.array([own]))
    if argument.several:
        arrays.pop(1)  # several are meant, too
    for array in arrays:
        kind, said = outcome(argument, array, files)
        assert kind == "refused", repr(array)
        name = argument.name.strip("_").replace("_", "-")
        assert name in said.replace("_", "-") or (argument.name == "frequency" and "FREQ" in said), said
        assert "array(" not in said


@tried(lambda one: one.span)
def test_two_edges_may_be_an_array_and_no_other_array_is(argument: Argument, files: dict[str, Any]) -> None:
    low, high = value_of(argument)
    expected = outcome(argument, (low, high), files)
    assert expected[0] != "refused", expected
    for edges in (np.array([low, high]), (np.int64(low), np.array(high)), [np.uint32(low), high]):
        assert outcome(argument, edges, files) == expected, repr(edges)
    for wrong in (np.array([low]), np.array([low, high, high]), np.array(low), np.array([[[low, high]]])):
        kind, said = outcome(argument, wrong, files)
        assert kind == "refused", repr(wrong)
        assert f"--{argument.name}" in said


@tried(lambda one: one.several and not one.span)
def test_several_numbers_may_be_an_array(argument: Argument, files: dict[str, Any]) -> None:
    several = value_of(argument)
    expected = outcome(argument, several, files)
    assert expected[0] != "refused", expected
    for kind in (np.array(several), [np.int64(one) for one in several], tuple(map(np.array, several))):
        assert outcome(argument, kind, files) == expected, repr(kind)
    how, said = outcome(argument, np.array(several, float) + 0.5, files)
    assert how == "refused"
    assert "is a float" in said


@tried(lambda one: one.mapping)
def test_numbers_of_a_mapping_may_be_numpys(argument: Argument, files: dict[str, Any]) -> None:
    [(name, own)] = value_of(argument).items()
    expected = outcome(argument, {name: own}, files)
    assert expected[0] != "refused", expected
    for kind in (np.float64(own), np.float32(own), np.int64(own), np.array(own)):
        assert outcome(argument, {name: kind}, files) == expected, repr(kind)
    assert outcome(argument, {name: np.array([own])}, files)[0] == "refused"


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=pytest.mark.long if name in SLOW - {"converter", "suspects"} else ())
        for name, call in CALLS.items()
        if "options" in inspect.signature(call).parameters
    ],
)
def test_options_are_those_of_settings_in_every_call(name: str, files: dict[str, Any]) -> None:
    """All of them at once out of arrays, and the same as plain numbers."""
    plain: dict[str, Any] = {
        "region": 1,
        "rf_order": 2,
        "lo_order": 3,
        "strong_at": 12.0,
        "audible_at": 3.0,
        "worlds": 4,
    }
    argument = Argument(name, "settings", False, False, False, False, False)
    asked = outcome(argument, spurplan.Settings(**plain), files)
    numpys: dict[str, Any] = {option: np.array(value) for option, value in plain.items()}
    assert outcome(argument, spurplan.Settings(**numpys), files) == asked


QUICK_OF_SLOW: dict[str, dict[str, Any]] = {
    "converter": {"cover": np.array(CONVERTED), "crystal": np.array([7_000_000]), "tune": np.array(SPAN)},
    "if_change": {"if_": np.array([1_600_000]), "cover": np.array(SPAN), "worlds": np.array(2)},
    "suspects": {
        "frequency": np.array(14_005_000),
        "pad_drop": np.float32(12),
        "also_on": np.array([14_930_000]),
    },
}


@pytest.mark.parametrize("name", QUICK_OF_SLOW)
def test_some_numbers_of_slow_calls(name: str, files: dict[str, Any]) -> None:
    """Several arguments at once; each by itself, of every slow call, with the long tests."""
    given = {key: files[key] for key in ("receiver", "bands")} | {"worlds": 2}
    plain = {key: value.tolist() for key, value in QUICK_OF_SLOW[name].items()}
    assert CALLS[name](**given | QUICK_OF_SLOW[name]).to_dict() == CALLS[name](**given | plain).to_dict()


@pytest.mark.parametrize("zero", [np.int64(0), np.array(0)])
def test_no_dial_error_is_none_whoever_counts_it(zero: Any, files: dict[str, Any]) -> None:
    asked = {"receiver": files["receiver"], "bands": files["bands"], "frequency": 14_005_000, "worlds": 2}
    assert spurplan.dial(**asked, dial_error=zero).to_dict() == spurplan.dial(**asked).to_dict()


def test_regions_of_tables_may_be_numpys(files: dict[str, Any]) -> None:
    bands: Bands = files["bands"]
    for kind in (np.int8(1), np.array(1)):
        assert bands.reach(kind) == bands.reach(1)  # type: ignore[arg-type]
        assert bands.gaps(kind) == bands.gaps(1)  # type: ignore[arg-type]
