"""Classes of named values that cost next to nothing to make.

`dataclasses.dataclass` writes and compiles the methods of every class anew, half a
millisecond each: an eighth of the time of a short command. The classes made here share
their methods. What such a class is, and how it is used, stays that of a data class, and
type checkers are told so.
"""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable
from dataclasses import MISSING, Field, FrozenInstanceError
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn


class _Form(NamedTuple):
    """What the shared methods need to know of a class: the names of its values."""

    positional: tuple[str, ...]
    given: frozenset[str]
    defaults: dict[str, Any]
    factories: dict[str, Callable[[], Any]]
    shown: tuple[str, ...]
    compared: tuple[str, ...]
    size: int  # of all, those among them that are not given from outside
    completes: bool  # has a __post_init__


def _form(cls: type) -> _Form:
    fields = dataclasses.fields(cls)
    return _Form(
        positional=tuple(one.name for one in fields if one.init and not one.kw_only),
        given=frozenset(one.name for one in fields if one.init),
        defaults={one.name: one.default for one in fields if one.default is not MISSING},
        factories={one.name: one.default_factory for one in fields if one.default_factory is not MISSING},
        shown=tuple(one.name for one in fields if one.repr),
        compared=tuple(one.name for one in fields if one.compare),
        size=len(fields),
        completes=hasattr(cls, "__post_init__"),
    )


def _init(self: Any, /, *values: Any, **named: Any) -> None:
    form: _Form = self.__form__
    held = dict(zip(form.positional, values, strict=False))
    held.update(named)
    # too many or given twice, or of another name
    if len(held) != len(values) + len(named) or not form.given.issuperset(named):
        _refuse(type(self), form, values, named)
    if len(held) < form.size:
        for name, value in form.defaults.items():
            held.setdefault(name, value)
        for name, make in form.factories.items():
            if name not in held:
                held[name] = make()
        if not form.given.issubset(held):
            _refuse(type(self), form, values, named)
    self.__dict__.update(held)
    if form.completes:
        self.__post_init__()


def _refuse(cls: type, form: _Form, values: tuple[Any, ...], named: dict[str, Any]) -> NoReturn:
    """Say which values are too many, unknown, given twice or missing."""
    twice = [name for name in form.positional[: len(values)] if name in named]
    unknown = [name for name in named if name not in form.given]
    left_out = form.given - {*form.positional[: len(values)], *named, *form.defaults, *form.factories}
    missing = [one.name for one in dataclasses.fields(cls) if one.name in left_out]
    if len(values) > len(form.positional):
        fault = f"takes {len(form.positional)} values without a name, not {len(values)}"
    elif twice:
        fault = f"got more than one value of {', '.join(twice)}"
    elif unknown:
        fault = f"has no value called {', '.join(unknown)}"
    else:
        fault = f"needs a value of {', '.join(missing)}"
    raise TypeError(f"{cls.__qualname__} {fault}")


@recursive_repr()
def _repr(self: Any) -> str:
    shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in self.__form__.shown)
    return f"{type(self).__qualname__}({shown})"


def _compared(self: Any) -> tuple[Any, ...]:
    return tuple(getattr(self, name) for name in self.__form__.compared)


def _eq(self: Any, other: object) -> bool:
    return _compared(self) == _compared(other) if type(other) is type(self) else NotImplemented


def _hash(self: Any) -> int:
    return hash(_compared(self))


def _setattr(self: Any, name: str, value: Any) -> NoReturn:
    raise FrozenInstanceError(f"cannot assign to {name}: {type(self).__qualname__} does not change")


def _delattr(self: Any, name: str) -> NoReturn:
    raise FrozenInstanceError(f"cannot delete {name}: {type(self).__qualname__} does not change")


class _Signature:
    """How a class is called, for `help` and `inspect`; worked out only where it is asked for."""

    def __get__(self, instance: object, cls: type) -> inspect.Signature:
        given = [one for one in dataclasses.fields(cls) if one.init]
        return inspect.Signature(
            [
                inspect.Parameter(
                    one.name,
                    inspect.Parameter.KEYWORD_ONLY
                    if one.kw_only
                    else inspect.Parameter.POSITIONAL_OR_KEYWORD,
                    default=_default_shown(one),
                    annotation=one.type,
                )
                for one in sorted(given, key=lambda one: bool(one.kw_only))
            ],
            return_annotation=None,
        )


def _default_shown(field: Field[Any]) -> Any:
    if field.default is not MISSING:
        return field.default
    return inspect.Parameter.empty if field.default_factory is MISSING else field.default_factory


if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(cls=None, /, *, frozen=False, kw_only=False):
        """Make a class one of named values; stands for `dataclasses.dataclass`.

        Parameters
        ----------
        frozen : bool. Whether the values stay what they are given as; such an object can be
            a key where all its values can.
        kw_only : bool. Whether every value must be given by its name.

        Notes
        -----
        Comparison, `fields`, `replace`, `asdict`, `field`, ``__post_init__`` and pickling are
        those of a data class. A method the class defines itself is kept. There is no `InitVar`.
        """
        if cls is None:
            return lambda named: dataclass(named, frozen=frozen, kw_only=kw_only)
        own = cls.__dict__
        # Python itself puts None there where a class compares in its own way
        hashes = "__hash__" in own and not (own["__hash__"] is None and "__eq__" in own)
        # the fields alone: this is the cheap part, as long as no text has to be made up for `help`
        cls.__doc__ = own.get("__doc__") or cls.__name__
        dataclasses.dataclass(init=False, repr=False, eq=False, kw_only=kw_only)(cls)
        cls.__form__ = _form(cls)
        cls.__signature__ = _Signature()
        methods = {"__init__": _init, "__repr__": _repr, "__eq__": _eq}
        methods |= {"__setattr__": _setattr, "__delattr__": _delattr} if frozen else {}
        for name, method in methods.items():
            if name not in own:
                setattr(cls, name, method)
        if not hashes:
            cls.__hash__ = _hash if frozen else None
        return cls
