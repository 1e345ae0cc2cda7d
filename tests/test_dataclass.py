"""Our data classes are those of the standard library, made in another way: each is held against the other."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
import time
from collections.abc import Callable
from dataclasses import dataclass as standard
from dataclasses import field
from functools import cached_property
from typing import Any, ClassVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spurplan.dataclass import dataclass as ours

Decorator = Callable[..., Any]


def plain(made: Decorator) -> Any:
    @made
    class Plain:
        a: int
        b: Any = 2
        c: list[int] = field(default_factory=list)

    return Plain


def frozen(made: Decorator) -> Any:
    @made(frozen=True)
    class Frozen:
        """Said of it."""

        unit: ClassVar[str] = "Hz"
        a: int
        b: Any = 2
        c: Any = field(default=3, compare=False)

        @cached_property
        def doubled(self) -> Any:
            return [self.a] * 2

    return Frozen


def by_name(made: Decorator) -> Any:
    @made(frozen=True, kw_only=True)
    class ByName:
        a: int
        b: Any = None

    return ByName


def finished(made: Decorator) -> Any:
    @made(frozen=True)
    class Finished:
        a: int
        b: Any = 1
        total: Any = field(init=False, repr=False)
        seen: int = field(default=0, init=False)

        def __post_init__(self) -> None:
            object.__setattr__(self, "total", (self.a, self.b))

    return Finished


def compared(made: Decorator) -> Any:
    @made(frozen=True)
    class Compared:
        a: int
        b: Any = 2

        def __eq__(self, other: object) -> bool:
            return True

    return Compared


def built_on(made: Decorator) -> Any:
    @made(frozen=True)
    class Base:
        a: int
        b: Any = 2

    @made(frozen=True)
    class BuiltOn(Base):
        c: Any = 3

        def __repr__(self) -> str:
            return "own"

    return BuiltOn


def empty(made: Decorator) -> Any:
    @made(frozen=True)
    class Empty:
        pass

    return Empty


SHAPES = [plain, frozen, by_name, finished, compared, built_on, empty]
values = st.one_of(st.integers(), st.text(max_size=3), st.none(), st.lists(st.integers(), max_size=2))
calls = st.tuples(
    st.lists(values, max_size=4).map(tuple),
    st.dictionaries(st.sampled_from(["a", "b", "c", "total", "unknown", "self"]), values, max_size=4),
)


def outcome(ask: Callable[[], Any]) -> Any:
    """What comes of a question: its answer, or the kind of its failure."""
    try:
        return ask()
    except Exception as error:
        return type(error)


@pytest.mark.parametrize("shape", SHAPES)
@given(calls)
def test_a_call_makes_the_same_or_fails_alike(
    shape: Callable[[Decorator], Any], call: tuple[tuple[Any, ...], dict[str, Any]]
) -> None:
    """The same values in, the same values held, shown and hashed, or the same kind of error."""
    positional, named = call
    found = []
    for made in (standard, ours):
        one = outcome(lambda made=made: shape(made)(*positional, **named))  # type: ignore[misc]
        if isinstance(one, type):
            found.append(one)
            continue
        names = [f.name for f in dataclasses.fields(one)]
        held = {name: getattr(one, name) for name in names}
        found.append((held, repr(one).rpartition(">.")[2], outcome(lambda one=one: hash(one))))  # type: ignore[misc]
    assert found[0] == found[1]


@pytest.mark.parametrize("shape", SHAPES)
def test_it_is_described_alike(shape: Callable[[Decorator], Any]) -> None:
    """Fields, signature and what is said of it are those a tool would find."""
    ref, one = shape(standard), shape(ours)
    asked = ("name", "type", "init", "repr", "compare", "kw_only")
    assert [[getattr(f, a) for a in asked] for f in dataclasses.fields(ref)] == [
        [getattr(f, a) for a in asked] for f in dataclasses.fields(one)
    ]
    told, wanted = inspect.signature(one), inspect.signature(ref)
    assert [(p.name, p.kind, p.annotation) for p in told.parameters.values()] == [
        (p.name, p.kind, p.annotation) for p in wanted.parameters.values()
    ]
    for name, parameter in wanted.parameters.items():
        # where the standard library makes a new one each time, it shows a mark of its own
        if not isinstance(parameter.default, type(dataclasses._HAS_DEFAULT_FACTORY)):  # type: ignore[attr-defined]
            assert told.parameters[name].default == parameter.default
    assert told.return_annotation in (None, "None")
    assert one.__match_args__ == ref.__match_args__


@pytest.mark.parametrize("shape", [frozen, by_name, finished, built_on])
def test_a_frozen_one_stays_as_it_is(shape: Callable[[Decorator], Any]) -> None:
    """Nothing is set or taken out; a changed one is another one."""
    one = shape(ours)(a=1)
    for attempt in (lambda: setattr(one, "a", 2), lambda: setattr(one, "new", 2), lambda: delattr(one, "a")):
        with pytest.raises(dataclasses.FrozenInstanceError):
            attempt()
    other = dataclasses.replace(one, a=5)
    assert (one.a, other.a, type(other)) == (1, 5, type(one))
    assert one != other
    assert hash(one) == hash(dataclasses.replace(one))


def test_what_is_said_of_a_class_stays_and_costs_nothing_where_nothing_is_said() -> None:
    """`help` shows the docstring, or the name."""
    assert frozen(ours).__doc__ == "Said of it."
    assert plain(ours).__doc__ == "Plain"


def test_one_that_is_not_frozen_changes_and_is_no_key() -> None:
    """As with the standard library."""
    one = plain(ours)(1)
    one.b = 7
    assert one == type(one)(1, 7)
    with pytest.raises(TypeError, match="unhashable"):
        hash(one)
    assert one.c is not type(one)(1).c


@ours(frozen=True)
class Kept:
    """Stands in a module, as pickling wants it."""

    a: int
    b: tuple[int, ...] = ()


def test_copies_and_pickles_are_equal() -> None:
    """A process that gets one from another has the same one."""
    one = Kept(1, (2, 3))
    for other in (pickle.loads(pickle.dumps(one)), copy.copy(one), copy.deepcopy(one)):
        assert other == one
        assert repr(other) == "Kept(a=1, b=(2, 3))"
    assert dataclasses.asdict(one) == {"a": 1, "b": (2, 3)}


@pytest.mark.parametrize(
    ("positional", "named", "said"),
    [
        ((), {}, "Kept needs a value of a"),
        ((1, (), 3), {}, "Kept takes 2 values without a name, not 3"),
        ((1,), {"a": 2}, "Kept got more than one value of a"),
        ((1,), {"d": 2}, "Kept has no value called d"),
        ((1,), {"b": (), "d": 2}, "Kept has no value called d"),
        ((1, ()), {"b": ()}, "Kept got more than one value of b"),
    ],
)
def test_a_wrong_call_says_what_is_wrong(
    positional: tuple[Any, ...], named: dict[str, Any], said: str
) -> None:
    """A programmer reads what is missing or too much."""
    with pytest.raises(TypeError, match=said):
        Kept(*positional, **named)


def test_making_one_costs_a_fraction_of_the_standard_way() -> None:
    """That is what they are for: ten of them in less than half the time."""

    def seconds(made: Decorator) -> float:
        fastest = float("inf")
        for _ in range(5):
            start = time.perf_counter()
            for _ in range(10):
                finished(made)
            fastest = min(fastest, time.perf_counter() - start)
        return fastest

    assert 2 * seconds(ours) < seconds(standard)
