"""What all parts of a description share: keys that are declared, read, and then stay as they are.

    class Bfo(Description):
        offset_hz: int = key(SIGNED_HZ, toml="offset")

Attributes carry the unit in their name; the key of the receiver file is named by `toml`, or
several attributes stand in one key (`packed`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, FrozenInstanceError, replace
from typing import Any, ClassVar, NamedTuple, NoReturn, Self, dataclass_transform

from spurplan.errors import did_you_mean
from spurplan.receiver.description.faults import described, missing, not_a_table
from spurplan.receiver.description.kinds import FAULTY, Kind, NotAPair, Reading
from spurplan.receiver.description.quantities import Loaded
from spurplan.receiver.wrong import Path, Wrong


class Key(NamedTuple):
    """One attribute: its kind, its key in the file, and what it is where nothing was given."""

    kind: Kind
    toml: str
    default: Any
    default_factory: Callable[[], Any] | None

    @property
    def required(self) -> bool:
        """Whether it must be given."""
        return self.default is MISSING and self.default_factory is None

    def at_rest(self) -> Any:
        """Return what it is where nothing was given."""
        return self.default if self.default_factory is None else self.default_factory()


def key(
    kind: Kind,
    *,
    toml: str = "",
    default: Any = MISSING,
    default_factory: Callable[[], Any] | None = None,
) -> Any:
    """Declare an attribute.

    Parameters
    ----------
    toml : str. Its key in the receiver file, where that is not its own name.
    default, default_factory : what it is where nothing was given; neither where it is
        required. None as a default may be given as well, and means the same.
    """
    return Key(kind, toml, default, default_factory)


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(key,))
class Description:
    """What all parts of a description share: frozen, no unknown keys, every fault at once."""

    keys: ClassVar[Mapping[str, Key]] = {}
    """The attributes by name, in their order."""

    packed: ClassVar[Mapping[str, Path]] = {}
    """Attributes that the receiver file holds inside another key, and where in it."""

    def __init_subclass__(cls) -> None:
        declared = {name: one for name, one in vars(cls).items() if isinstance(one, Key)}
        for name in declared:
            delattr(cls, name)
        cls.keys = {name: one._replace(toml=one.toml or name) for name, one in declared.items()}

    def __init__(self, /, **values: Any) -> None:
        """Take values as Python has them; as `from_dict`."""
        self.__dict__.update(type(self).from_dict(values).__dict__)

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> Self:
        """Return the description that a dict gives, under the keys of the file or the attributes' names.

        Raises
        ------
        Refused  with every fault.
        """
        return described(cls, data, cls.__name__)

    @classmethod
    def read(cls, data: Any, path: Path, reading: Reading) -> Self:
        """Return the description that a table holds, or `FAULTY`.

        Parameters
        ----------
        data : dict of keys of the file or names of attributes; or such a description already.
        path : where it stands.
        reading : takes what is wrong.
        """
        if isinstance(data, cls):
            return data
        values = cls.read_apart(data, path, reading)
        return FAULTY if values is None else cls.whole(values, path, reading)

    @classmethod
    def read_apart(cls, data: Any, path: Path, reading: Reading) -> dict[str, Any] | None:
        """Return the attributes that a table gives, each right by itself, or None; as `read`."""
        if not isinstance(data, dict):
            not_a_table(path, data, reading)
            return None
        before = len(reading.wrongs)
        reading.wrongs.extend(_given_twice(cls, data, path))
        data = cls.prepared(data)
        values: dict[str, Any] = {}
        for name, one in cls.keys.items():
            held = one.toml if one.toml in data else name
            at = (*path, *toml_path(cls, name))
            if held in data:
                empty = data[held] is None and one.default is None
                values[name] = None if empty else one.kind.read(data[held], at, reading)
            elif one.required:
                missing(at, reading)
        known = {word for name, one in cls.keys.items() for word in (name, one.toml)}
        reading.wrongs.extend(unknown_key((*path, str(word)), cls) for word in data if word not in known)
        return values if len(reading.wrongs) == before else None

    @classmethod
    def whole(cls, values: dict[str, Any], path: Path, reading: Reading) -> Self:
        """Return a description of attributes that are each right, or `FAULTY` where they do not agree."""
        made = cls._of(values)
        wrongs = made.checked()
        reading.wrongs.extend(replace(wrong, path=(*path, *_in_file(cls, wrong.path))) for wrong in wrongs)
        return FAULTY if wrongs else made

    @classmethod
    def _of(cls, values: dict[str, Any]) -> Self:
        made = cls.__new__(cls)
        made.__dict__.update(
            {name: values[name] if name in values else one.at_rest() for name, one in cls.keys.items()},
            _given=frozenset(values),
        )
        return made

    @property
    def given(self) -> frozenset[str]:
        """The attributes that were given; the others are at their defaults."""
        found: frozenset[str] = self.__dict__["_given"]
        return found

    @classmethod
    def prepared(cls, data: dict[str, Any]) -> dict[str, Any]:
        """Return the data of a table with each value under its own name."""
        return data

    def checked(self) -> list[Wrong]:
        """Return what is wrong with values that are each right."""
        return []

    def unchecked(self, **changes: Any) -> Self:
        """Return it with some attributes changed that nothing checks: for trials, never to keep."""
        return self._of({name: getattr(self, name) for name in self.given} | changes)

    def _values(self) -> tuple[Any, ...]:
        return tuple(getattr(self, name) for name in self.keys)

    def __eq__(self, other: object) -> bool:
        return self._values() == other._values() if type(other) is type(self) else NotImplemented

    def __hash__(self) -> int:
        return hash((type(self), self._values()))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{n}={getattr(self, n)!r}' for n in self.keys)})"

    def __setattr__(self, name: str, value: Any) -> NoReturn:
        raise FrozenInstanceError(f"cannot assign to {name}: a description does not change")

    def __delattr__(self, name: str) -> NoReturn:
        raise FrozenInstanceError(f"cannot delete {name}: a description does not change")


class Part(Kind):
    """A description inside another."""

    def __init__(self, part: type[Description]) -> None:
        self.part: type[Description] = part

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        return self.part.read(value, path, reading)

    def form(self) -> dict[str, Any]:
        return {"$ref": f"#/$defs/{self.part.__name__}"}


def toml_path(model: type[Description], name: str) -> Path:
    """Return the key of the receiver file for an attribute or key of a description."""
    if name in model.packed:
        return model.packed[name]
    return (model.keys[name].toml if name in model.keys else name,)


def toml_keys(model: type[Description]) -> list[str]:
    """Return the keys that a table of the receiver file may have, in their order."""
    return list(dict.fromkeys(str(toml_path(model, name)[0]) for name in model.keys))


def child(model: type[Description], toml: str) -> type[Description] | None:
    """Return the description that stands under a key (of one item, where it is a list)."""
    return next((one.kind.part for one in model.keys.values() if one.toml == toml), None)


def unknown_key(path: Path, model: type[Description]) -> Wrong:
    """Return the fault of a key, the last of `path`, that a description does not have."""
    return Wrong(path, "unknown key", remedy=did_you_mean(str(path[-1]), toml_keys(model)))


def _given_twice(model: type[Description], data: dict[str, Any], path: Path) -> Iterator[Wrong]:
    """Yield the fault of each attribute that stands under its own name and under its key of the file."""
    for name in model.keys:
        toml = str(toml_path(model, name)[0])
        if name == toml or name not in data or toml not in data:
            continue
        # the name of a file may stand beside the rows that were read from it
        if toml not in model.keys or isinstance(data[toml], list | tuple | Loaded):
            yield Wrong((*path, name), f"is given by {toml} as well", remedy="keep one of them")


def _in_file(model: type[Description], path: Path) -> Path:
    """Return a path inside a description with the first attribute as the file has it."""
    return (*toml_path(model, str(path[0])), *path[1:]) if path else path


def unpacked(data: dict[str, Any], pair: str) -> dict[str, Any]:
    """Return the data of a table with its pair as low_hz and high_hz."""
    if pair not in data:
        return data
    rest = {name: value for name, value in data.items() if name != pair}
    held = data[pair]
    if isinstance(held, list | tuple) and len(held) == 2:
        return {**rest, "low_hz": held[0], "high_hz": held[1]}
    return {**rest, "low_hz": NotAPair(held)}


def with_rows(data: dict[str, Any], toml: str, name: str, rows: str) -> dict[str, Any]:
    """Return the data of a table with what a key holds as a file's name and its rows."""
    held = data.get(toml)
    rest = {word: value for word, value in data.items() if word != toml}
    if isinstance(held, Loaded):
        return {**rest, name: held.path, rows: held.rows}
    if isinstance(held, list | tuple):
        return {**rest, name: "", rows: held}
    return data
