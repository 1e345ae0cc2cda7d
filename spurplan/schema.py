"""Keys that are declared, read and refused in one way, for every TOML file there is.

    class Bfo(Description):
        offset_hz: int = key(SIGNED_HZ, toml="offset")

    class Receiver(Description):
        bfo: Bfo | None = key(Part(Bfo, "[bfo]"), default=None)
        internal: tuple[Internal, ...] = key(ListOf(Part(Internal, "[[internal]]"), "..."), default=())

A `Description` is a table of a file, and its keys stand in the class: each with its `Kind`,
which reads one value and says what editors may know of it. Attributes carry the unit in their
name; the key of the file is named by `toml`, or several attributes stand in one key (`packed`).
What is wrong is added to the `Reading`, and `FAULTY` stands for the value from then on:
whatever else is wrong is found in the same reading.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import MISSING, FrozenInstanceError, dataclass, field, replace
from typing import Any, ClassVar, NamedTuple, NoReturn, Self, TypeVar, dataclass_transform

from spurplan.errors import BadValue, Refused, did_you_mean, shown, text_of
from spurplan.schema_faults import Path, Wrong, faults, in_file_order, missing, unknown_key
from spurplan.units import count_of, name_of, number_of

FAULTY: Any = object()


@dataclass(frozen=True)
class NotAPair:
    """Stands for a value that should have been a pair of frequencies."""

    value: Any


@dataclass(frozen=True)
class Reading:
    """One description being read.

    Attributes
    ----------
    from_file : bool. Whether quantities have to be text with their unit, and keys those of
        the file. From Python a number is taken too, in the unit of the attribute's name, and
        the names of attributes beside the keys.
    wrongs : list of Wrong. Everything found wrong so far.
    asides : list of Wrong. What was passed over: unknown keys, files that can not be read.
        They are told like the others, but what stands beside them is checked all the same.
    files : function of key, value, path and this reading that reads a file named there;
        None where none is read.
    """

    from_file: bool
    wrongs: list[Wrong] = field(default_factory=list)
    asides: list[Wrong] = field(default_factory=list)
    files: NamedFiles | None = None

    @property
    def all_wrongs(self) -> list[Wrong]:
        """Everything that is wrong."""
        return self.asides + self.wrongs

    def refuse(self, path: Path, rule: str, value: str | None = None, remedy: str = "") -> Any:
        """Add a fault and return `FAULTY`."""
        self.wrongs.append(Wrong(path, rule, value, remedy))
        return FAULTY


NamedFiles = Callable[[str, Any, Path, Reading], "Loaded"]


class TableFile(str):
    """Name of a table that a description was read from, and the columns of it that nothing reads."""

    others: tuple[str, ...] = ()

    @classmethod
    def of(cls, name: str, others: tuple[str, ...]) -> TableFile:
        """Return a name with its columns."""
        made = cls(name)
        made.others = others
        return made


@dataclass(frozen=True)
class Loaded:
    """A file named under a key, with its rows; stands where the name stood."""

    path: str
    rows: tuple[tuple[Any, ...], ...]


class HeadedHz(int):
    """Hertz from a table whose head names the unit: not a bare number."""


class HeadedDb(float):
    """Decibels from a table whose head names the unit."""


class Kind(ABC):
    """A kind of value. `parts` are the descriptions that may stand under it, one or several of each."""

    parts: tuple[type[Description], ...] = ()

    @abstractmethod
    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        """Return what is kept of a value, or `FAULTY`."""

    @abstractmethod
    def form(self) -> dict[str, Any]:
        """Return the JSON Schema of what the file may hold."""


class Quantity(Kind):
    """One value that a function reads, or raises `BadValue` for.

    Parameters
    ----------
    parse : function of the value and of whether it has to bring its unit.
    form : JSON Schema of what the file may hold.
    """

    def __init__(self, parse: Callable[[Any, bool], Any], form: dict[str, Any]) -> None:
        self.parse = parse
        self._form = form

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if isinstance(value, NotAPair):
            rule, remedy = "is not a pair of frequencies", 'write ["11 MHz", "30 MHz"]'
            return reading.refuse(path[:-1], rule, shown(value.value), remedy)
        try:
            return self.parse(value, reading.from_file and not isinstance(value, HeadedHz | HeadedDb))
        except BadValue as bad:
            return reading.refuse(path, bad.rule, bad.value, bad.remedy)

    def form(self) -> dict[str, Any]:
        return dict(self._form)


class Number(Quantity):
    """A plain number from `low` to `high`, without `low` itself where it has to be `above` it."""

    def __init__(self, low: float, high: float, *, above: bool = False, **form: Any) -> None:
        def parse(value: Any, needs_unit: bool) -> float:
            return number_of(value, low, high, above=above)

        super().__init__(parse, {"type": "number", **({"exclusiveMinimum": low} if above else form)})


class Count(Quantity):
    """A whole number from `low` to `high`."""

    def __init__(self, low: int, high: int, **form: Any) -> None:
        super().__init__(lambda value, needs_unit: count_of(value, low, high), {"type": "integer", **form})


class Choice(Kind):
    """One of some words."""

    def __init__(self, words: tuple[str, ...]) -> None:
        self.words = words

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if not isinstance(value, str):
            known = "known here: " + ", ".join(self.words)
            return reading.refuse(path, "is not text", shown(value), known)
        if value not in self.words:
            return reading.refuse(path, "is not known here", value, did_you_mean(value, self.words))
        return str(value)

    def form(self) -> dict[str, Any]:
        return {"type": "string", "enum": list(self.words)}


class Text(Kind):
    """Any text."""

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if isinstance(value, str):
            return value if isinstance(value, TableFile) else str(value)
        return reading.refuse(path, "is not text", shown(value), "write it in quotes")

    def form(self) -> dict[str, Any]:
        return {"type": "string"}


class ListOf(Kind):
    """A list of `least` to `most` items of one kind, kept as a tuple.

    Parameters
    ----------
    remedy : str. What to write instead of what is no such list.
    kept : function of the tuple that returns what is kept of it, or raises `BadValue`.
    unique : str. Attribute of the descriptions it holds that no two may share; "" for none.
    """

    def __init__(
        self,
        item: Kind,
        remedy: str,
        least: int = 0,
        most: int = 100,
        kept: Callable[[tuple[Any, ...]], tuple[Any, ...]] = tuple,
        unique: str = "",
    ) -> None:
        self.item = item
        self.parts = item.parts
        self.remedy = remedy
        self.least = least
        self.most = most
        self.kept = kept
        self.unique = unique

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if not isinstance(value, list | tuple):
            return reading.refuse(path, "is not a list", shown(value), self.remedy)
        if len(value) < self.least:
            return reading.refuse(path, "holds nothing", shown(value), self.remedy)
        if len(value) > self.most:
            remedy = f"give at most {self.most}"
            return reading.refuse(path, "is more than makes sense", f"{len(value)} of them", remedy)
        items = tuple(self.item.read(item, (*path, at), reading) for at, item in enumerate(value))
        if self._repeated(items, path, reading) or any(item is FAULTY for item in items):
            return FAULTY
        try:
            return self.kept(items)
        except BadValue as bad:
            return reading.refuse(path, bad.rule, bad.value, bad.remedy)

    def _repeated(self, items: tuple[Any, ...], path: Path, reading: Reading) -> bool:
        """Add the fault of each item that shares what has to be unique with one above it."""
        first: dict[Any, int] = {}
        before = len(reading.wrongs)
        for at, item in enumerate(items if self.unique else ()):
            if item is FAULTY:
                continue
            held = getattr(item, self.unique)
            if first.setdefault(held, at) != at:
                rule = f"is that of {path[-1]}[{first[held] + 1}] as well"
                place = (*path, at, *toml_path(type(item), self.unique))
                reading.refuse(place, rule, text_of(held), "give each one of its own")
        return len(reading.wrongs) > before

    def form(self) -> dict[str, Any]:
        return {"type": "array", "items": self.item.form()}


class Row(Kind):
    """A list with one item of each of some kinds, kept as a tuple."""

    def __init__(self, items: tuple[Kind, ...], remedy: str) -> None:
        self.items = items
        self.remedy = remedy

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if not isinstance(value, list | tuple) or len(value) != len(self.items):
            return reading.refuse(path, f"is not a list of {len(self.items)}", shown(value), self.remedy)
        cells = tuple(
            kind.read(cell, (*path, at), reading)
            for at, (kind, cell) in enumerate(zip(self.items, value, strict=True))
        )
        return FAULTY if any(cell is FAULTY for cell in cells) else cells

    def form(self) -> dict[str, Any]:
        cells = [kind.form() for kind in self.items]
        return {"type": "array", "prefixItems": cells, "minItems": len(cells), "maxItems": len(cells)}


NAME = Quantity(lambda value, needs_unit: name_of(value), {"type": "string", "minLength": 1})
TEXT = Text()


class Key(NamedTuple):
    """One attribute: its kind, its key in the file, and what it is where nothing was given."""

    kind: Kind
    toml: str
    example: str
    in_file: bool
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
    example: str = "",
    in_file: bool = True,
    default: Any = MISSING,
    default_factory: Callable[[], Any] | None = None,
) -> Any:
    """Declare an attribute.

    Parameters
    ----------
    toml : str. Its key in the file, where that is not its own name.
    example : str. What a missing one would have looked like: 'bandwidth = "6 kHz"'.
    in_file : bool. Whether a file may give it; the others come from whoever reads the file.
    default, default_factory : what it is where nothing was given; neither where it is
        required. None as a default may be given as well, and means the same.
    """
    return Key(kind, toml, example, in_file, default, default_factory)


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(key,))
class Description:
    """What all parts of a description share: frozen, no unknown keys, every fault at once."""

    keys: ClassVar[Mapping[str, Key]] = {}
    """The attributes by name, in their order."""

    packed: ClassVar[Mapping[str, Path]] = {}
    """Attributes that the file holds inside another key, and where in it."""

    renamed: ClassVar[Mapping[str | int, str]] = {}
    """Keys that files had once, and what is written in their place."""

    def __init_subclass__(cls) -> None:
        declared = {name: key for name, key in vars(cls).items() if isinstance(key, Key)}
        for name in declared:
            delattr(cls, name)
        cls.keys = {name: key._replace(toml=key.toml or name) for name, key in declared.items()}

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
            reading.refuse(path, "is not a table", shown(data), "give a dict of its keys")
            return None
        before = len(reading.wrongs)
        if reading.from_file:
            data = _known(cls, data, path, reading)
        reading.wrongs.extend(_given_twice(cls, data, path))
        reading.wrongs.extend(_inside(cls, cls.keys_together(_keys_given(cls, data)), path))
        data = cls.prepared(data, path, reading)
        values: dict[str, Any] = {}
        for name, key in cls.keys.items():
            held = key.toml if key.toml in data else name
            at = (*path, *toml_path(cls, name))
            if held in data:
                empty = data[held] is None and key.default is None
                values[name] = None if empty else key.kind.read(data[held], at, reading)
            elif key.required:
                reading.wrongs.append(missing(at, key.example and f"write {key.example}"))
        known = {word for name, key in cls.keys.items() for word in (name, key.toml)}
        reading.wrongs.extend(_unknown(cls, (*path, str(word))) for word in data if word not in known)
        return values if len(reading.wrongs) == before else None

    @classmethod
    def whole(cls, values: dict[str, Any], path: Path, reading: Reading) -> Self:
        """Return a description of attributes that are each right, or `FAULTY` where they do not agree."""
        made = cls._of(values)
        wrongs = made.checked()
        reading.wrongs.extend(_inside(cls, wrongs, path))
        return FAULTY if wrongs else made

    @classmethod
    def _of(cls, values: dict[str, Any]) -> Self:
        made = cls.__new__(cls)
        made.__dict__.update(
            {name: values[name] if name in values else key.at_rest() for name, key in cls.keys.items()},
            _given=frozenset(values),
        )
        return made

    @property
    def given(self) -> frozenset[str]:
        """The attributes that were given; the others are at their defaults."""
        given: frozenset[str] = self.__dict__["_given"]
        return given

    @classmethod
    def prepared(cls, data: dict[str, Any], path: Path, reading: Reading) -> dict[str, Any]:
        """Return the data of a table with each value under its own name."""
        return data

    @classmethod
    def keys_together(cls, keys: Collection[str]) -> list[Wrong]:
        """Return what is wrong with which keys of the file stand in a table, whatever they hold."""
        return []

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
    """A description inside another.

    Parameters
    ----------
    part : the class of description.
    header : str. How a file writes it: "[bfo]", or "[[range]]" for one of a list.
    """

    def __init__(self, part: type[Description], header: str) -> None:
        self.part = part
        self.parts = (part,)
        self.header = header

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if isinstance(value, dict | self.part):
            return self.part.read(value, path, reading)
        remedy = f"write it as {self.header} with its keys below"
        return reading.refuse(path, "is not a table", shown(value), remedy)

    def form(self) -> dict[str, Any]:
        return {"$ref": f"#/$defs/{self.part.__name__}"}


Model = TypeVar("Model", bound=Description)


def described(model: type[Model], data: Any, source: str, at: Path = ()) -> Model:
    """Return a validated description of `data`.

    Parameters
    ----------
    model : the class of description.
    data : dict. Keys of the file or attribute names.
    source : str. What the faults name first: the file, or the name of the set.
    at : key path of the description inside the source.

    Raises
    ------
    Refused  with every fault.
    """
    reading = Reading(from_file=False)
    made = model.read(data, at, reading)
    if made is FAULTY:
        raise Refused(faults(reading.all_wrongs, source))
    return made


def described_by_file(model: type[Model], tables: dict[str, Any], source: str) -> Model:
    """Return the description that the tables of a file give.

    Parameters
    ----------
    model : the class of description.
    tables : as the TOML reader has them.
    source : str. The file, which the faults name first.

    Raises
    ------
    Refused  with every fault, in the order of the file.
    """
    reading = Reading(from_file=True)
    made = model.read(tables, (), reading)
    if reading.all_wrongs:
        raise Refused(faults(in_file_order(reading.all_wrongs, tables), source))
    return made


def toml_path(model: type[Description], name: str) -> Path:
    """Return the key of the file for an attribute or key of a description."""
    if name in model.packed:
        return model.packed[name]
    return (model.keys[name].toml if name in model.keys else name,)


def toml_keys(model: type[Description]) -> list[str]:
    """Return the keys that a table of the file may have, in their order."""
    names = (name for name, key in model.keys.items() if key.in_file)
    return list(dict.fromkeys(str(toml_path(model, name)[0]) for name in names))


def _unknown(model: type[Description], path: Path) -> Wrong:
    if path[-1] in model.renamed:
        return Wrong(path, "is no key any more", remedy=f"write {model.renamed[path[-1]]}")
    return unknown_key(path, toml_keys(model))


def _known(model: type[Description], data: dict[str, Any], path: Path, reading: Reading) -> dict[str, Any]:
    """Return the data of a table without the keys that a file can not have; they are told."""
    known = toml_keys(model)
    reading.asides.extend(_unknown(model, (*path, str(word))) for word in data if word not in known)
    return {word: value for word, value in data.items() if word in known}


def _keys_given(model: type[Description], data: dict[str, Any]) -> set[str]:
    """Return the keys of the file that a table gives, under whichever name; None gives nothing."""
    out = set()
    for name in model.keys:
        toml = str(toml_path(model, name)[0])
        if data.get(name) is not None or data.get(toml) is not None:
            out.add(toml)
    return out


def _given_twice(model: type[Description], data: dict[str, Any], path: Path) -> Iterator[Wrong]:
    """Yield the fault of each attribute that stands under its own name and under its key of the file."""
    for name in model.keys:
        toml = str(toml_path(model, name)[0])
        if name == toml or name not in data or toml not in data:
            continue
        # the name of a file may stand beside the rows that were read from it
        if toml not in model.keys or isinstance(data[toml], list | tuple | Loaded):
            yield Wrong((*path, name), f"is given by {toml} as well", remedy="keep one of them")


def _inside(model: type[Description], wrongs: list[Wrong], path: Path) -> list[Wrong]:
    """Return what is wrong in a description, with the places as the file has them."""
    return [replace(wrong, path=(*path, *_in_file(model, wrong.path))) for wrong in wrongs]


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


def with_rows(
    data: dict[str, Any], toml: str, name: str, rows: str, path: Path, reading: Reading
) -> dict[str, Any]:
    """Return the data of a table with what a key holds as a file's name and its rows."""
    held = data.get(toml)
    if toml in data and reading.files is not None and not isinstance(held, list | tuple | Loaded):
        held = reading.files(toml, held, (*path, toml), reading)
    rest = {word: value for word, value in data.items() if word != toml}
    if isinstance(held, Loaded):
        return {**rest, name: held.path, rows: held.rows}
    if isinstance(held, list | tuple):
        return {**rest, name: "", rows: held}
    return data


_FILE_OR_ROWS = {
    "description": "A CSV file, named relative to this one, or the rows themselves.",
    "anyOf": [{"type": "string"}, {"type": "array"}],
}


def json_schema(model: type[Description], title: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the file that holds a description.

    Returns
    -------
    dict, ready to be written as JSON. Quantities are text with a pattern for their unit;
    what only arithmetic can tell no schema can, and whoever reads the file does.
    """
    parts = sorted(_below(model), key=lambda part: part.__name__)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$defs": {part.__name__: _table_form(part, part.__name__) for part in parts},
        **_table_form(model, title),
    }


def _below(model: type[Description]) -> set[type[Description]]:
    """Return the descriptions that stand in tables below a description."""
    parts = {part for key in model.keys.values() for part in key.kind.parts}
    return parts.union(*(_below(part) for part in parts))


def _table_form(model: type[Description], title: str) -> dict[str, Any]:
    import inspect  # dear to import, and for editors alone

    properties: dict[str, Any] = {}
    required: dict[str, None] = {}
    for name, key in model.keys.items():
        if key.in_file:
            toml = str(toml_path(model, name)[0])
            properties[toml] = _property(model, name, key)
            if key.required:
                required[toml] = None
    return {
        "title": title,
        "description": inspect.getdoc(model),
        "type": "object",
        "properties": properties,
        **({"required": list(required)} if required else {}),
        "additionalProperties": False,
    }


def _property(model: type[Description], name: str, key: Key) -> dict[str, Any]:
    form = key.kind.form()
    if name in model.packed:
        one_edge = len(model.packed[name]) == 2
        return {"type": "array", "items": form, "minItems": 2, "maxItems": 2} if one_edge else _FILE_OR_ROWS
    # numbers at rest are in the units of Python, not in those of the file
    return form | ({"default": key.default} if isinstance(key.default, str) else {})
