"""A description as a value in Python: built, compared, kept as it is, refused with every fault."""

from __future__ import annotations

import copy
import pickle
from dataclasses import FrozenInstanceError
from typing import Any

import pytest

from spurplan.errors import Refused
from spurplan.receiver.description import Circuits, Conversion, Filter, Gang, Mixer, Range, Receiver, Trap

SET: dict[str, Any] = {
    "name": "a",
    "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
    "range": [{"name": "1", "coverage": ["3 MHz", "9 MHz"], "front_end": [{"circuits": 2, "q": 55}]}],
}


def test_keys_of_the_file_and_names_of_attributes_mean_the_same() -> None:
    """Whoever builds a set in a program may write either."""
    built = Receiver(
        name="a",
        conversions=(Conversion(injection="high", if_hz=455_000, filter=Filter(bandwidth_hz=6_000)),),
        ranges=(
            Range(name="1", low_hz=3_000_000, high_hz=9_000_000, front_end=(Circuits(circuits=2, q=55.0),)),
        ),
    )
    assert built == Receiver.from_dict(SET)
    assert hash(built) == hash(Receiver.from_dict(SET))
    assert built != Receiver.from_dict({**SET, "name": "b"})
    assert built != "a"


def test_it_tells_what_was_given() -> None:
    """What nobody gave is a default, and answers say so."""
    receiver = Receiver.from_dict(SET)
    assert receiver.given == {"name", "conversions", "ranges"}
    assert receiver.noise_figure_db == 12.0
    assert receiver.conversions[0].given == {"injection", "if_hz", "filter"}
    assert receiver.conversions[0].mixer == Mixer()
    assert Mixer(table=None).given == {"table"}


def test_a_list_may_be_as_long_as_it_says() -> None:
    """Four conversions, twenty elements, a hundred of anything else."""
    many = [{"name": str(n), "frequency": "100 kHz"} for n in range(100)]
    assert len(Receiver.from_dict({**SET, "internal": many}).internal) == 100
    with pytest.raises(Refused, match="101 of them"):
        Receiver.from_dict({**SET, "internal": [*many, many[0]]})
    with pytest.raises(Refused, match="is missing"):  # four are not too many, only empty
        Receiver.from_dict({**SET, "conversion": [{"injection": "high", "if": "455 kHz"}] * 4})


def test_what_was_not_given_is_nowhere() -> None:
    """A class has no values of its own that an object could show by mistake."""
    assert not hasattr(Gang, "c_max_pf")


def test_it_does_not_change() -> None:
    """A description that exists is consistent, and stays so."""
    receiver = Receiver.from_dict(SET)
    with pytest.raises(FrozenInstanceError):
        receiver.name = "b"  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        del receiver.name
    with pytest.raises(FrozenInstanceError):
        receiver.nmae = "b"


def test_copies_and_pickles_are_the_same_description() -> None:
    """With what was given, too."""
    receiver = Receiver.from_dict(SET)
    for other in (pickle.loads(pickle.dumps(receiver)), copy.copy(receiver), copy.deepcopy(receiver)):
        assert other == receiver
        assert other.given == receiver.given
    assert eval(repr(receiver), {k.__name__: k for k in _CLASSES}) == receiver


_CLASSES = (Receiver, Range, Conversion, Filter, Mixer, Circuits)


def test_every_fault_is_told_at_once_with_its_place() -> None:
    """Wrong, unknown and missing keys of all parts; one that is misspelt is not missing, too."""
    data = {
        "nmae": "a",
        "conversion": [
            {"injection": "hihg", "if": 455.5, "filter": {"bandwidth": "6 kHz", "shape_factor": 0}}
        ],
        "range": [{"name": "1", "coverage": ["3 MHz"]}, 7, {"name": "3", "front_end": [{"circuit": 2}]}],
        "region": True,
    }
    with pytest.raises(Refused) as refused:
        Receiver.from_dict(data)
    assert [(fault.place, fault.rule) for fault in refused.value.faults] == [
        ("Receiver, region", "is not a whole number"),
        ("Receiver, conversion[1].injection", "is not known here"),
        ("Receiver, conversion[1].if", "is a float"),
        ("Receiver, conversion[1].filter.shape_factor", "is outside any sense"),
        ("Receiver, range[1].coverage", "is not a pair of frequencies"),
        ("Receiver, range[2]", "is not a table"),
        ("Receiver, range[3].coverage", "is missing"),
        ("Receiver, range[3].front_end[1].circuit", "unknown key"),
        ("Receiver, nmae", "unknown key"),
    ]


def nested(deep: int) -> Any:
    """A list in a list in a list."""
    out: list[Any] = []
    for _ in range(deep):
        out = [out]
    return out


def tabled(deep: int) -> Any:
    """A table in a table in a table."""
    out: dict[str, Any] = {}
    for _ in range(deep):
        out = {"a": out}
    return out


@pytest.mark.parametrize(
    ("build", "said"),
    [
        (lambda: Gang.from_dict("x"), 'Gang: "x" is not a table'),  # type: ignore[arg-type]
        (lambda: Gang(self=1, c_max_pf=400.0, c_min_pf=40.0), "Gang, self: unknown key"),
        (lambda: Gang.from_dict({1: 2, "c_max": "1 nF"}), "unknown key"),  # type: ignore[dict-item]
        (lambda: Gang(c_max_pf=400.0), "needs exactly one of c_min and coil"),
        (lambda: Trap(trap_hz=455_000, depth_db=0.0, q=50.0), "takes nothing out"),
        (lambda: Trap(trap_hz=455_000, depth_db=20.0, q=1e-9), "is outside any sense"),
        (lambda: Circuits(circuits=2, q="high"), "is not a number"),  # type: ignore[arg-type]
        (lambda: Circuits(circuits=2, q=()), "holds nothing"),
        (lambda: Receiver.from_dict({**SET, "conversion": [{}] * 5}), '"5 of them" is more than makes sense'),
        (lambda: Conversion(if_hz={"a": [1, True]}), r'"{ a = \[1, true\] }" is not a frequency'),  # type: ignore[arg-type]
        (lambda: Conversion(if_hz=10**5000), "a whole number of thousands of digits"),
        (lambda: Circuits(circuits=10**5000), "a whole number of thousands of digits"),
        (lambda: Mixer(floor=bytearray(b"3")), "is not a number"),  # type: ignore[arg-type]
        (lambda: Mixer(table=[[1, 1, 0, 0]], table_rows=[[1, 1, 0, 5]]), "is given by table as well"),  # type: ignore[arg-type, list-item]
        (lambda: Gang.from_dict({None: 2, (1, 2): 3, "c_max": "1 nF"}), "None: unknown key"),  # type: ignore[dict-item]
        (lambda: Conversion(if_hz=tabled(5_000)), r'"(\{ a = ){6}\.\.\.( \}){6}" is not a frequency'),
        (lambda: Conversion(if_hz=nested(5_000)), r'"\[\[\[\[\[\[\.\.\.\]\]\]\]\]\]" is not a frequency'),
        (
            lambda: Filter(bandwidth="6 kHz", bandwidth_hz=7_000),
            "bandwidth_hz: is given by bandwidth as well",
        ),
        (
            lambda: Range(name="1", coverage=["3 MHz", "9 MHz"], low_hz=1),
            "low_hz: is given by coverage as well",
        ),
        (lambda: Conversion(mixer="jfet"), "is not a table"),  # type: ignore[arg-type]
        (lambda: Conversion(mixer=Filter(bandwidth_hz=1)), "is not a table"),  # type: ignore[arg-type]
        (lambda: Conversion(injection=None, multiplier=None), "is not a whole number"),  # type: ignore[arg-type]
    ],
)
def test_what_is_wrong_is_refused_in_words(build: Any, said: str) -> None:
    """Never another kind of error, whatever is put in."""
    with pytest.raises(Refused, match=said):
        build()


def test_a_trial_is_not_checked_and_leaves_the_original() -> None:
    """For fits that pass through what no set could be."""
    one = Circuits(circuits=2, q=50.0)
    assert one.unchecked(q=1e-9).q == 1e-9
    assert one.unchecked(q=1e-9).given == {"circuits", "q"}
    assert one.q == 50.0
