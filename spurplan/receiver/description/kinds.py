"""What a key of a receiver file may hold: how it is read, and what editors are told of it.

A kind reads one value. What is wrong is added to the `Reading`, and `FAULTY` stands for the
value from then on: whatever else is wrong is found in the same reading.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from spurplan.errors import BadValue, did_you_mean, text_of
from spurplan.receiver.wrong import Path, Wrong

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
    from_file : bool. Whether quantities have to be text with their unit; from Python
        a number is taken too, in the unit of the attribute's name.
    wrongs : list of Wrong. Everything found wrong so far.
    """

    from_file: bool
    wrongs: list[Wrong]

    def found(self, path: Path, rule: str, value: str | None = None, remedy: str = "") -> Any:
        """Add a fault and return `FAULTY`."""
        self.wrongs.append(Wrong(path, rule, value, remedy))
        return FAULTY


class Kind(ABC):
    """A kind of value. `part` is the class of description it holds one or several of, or None."""

    part: type[Any] | None = None

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
    parse : function of the value and of whether it stands in a file.
    form : JSON Schema of what the file may hold.
    """

    def __init__(self, parse: Callable[[Any, bool], Any], form: dict[str, Any]) -> None:
        self.parse = parse
        self._form = form

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        try:
            return self.parse(value, reading.from_file)
        except BadValue as bad:
            whole = path[:-1] if isinstance(value, NotAPair) else path
            return reading.found(whole, bad.rule, bad.value, bad.remedy)

    def form(self) -> dict[str, Any]:
        return dict(self._form)


class Choice(Kind):
    """One of some words."""

    def __init__(self, words: tuple[str, ...]) -> None:
        self.words = words

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if not isinstance(value, str):
            known = "known here: " + ", ".join(self.words)
            return reading.found(path, "is not text", shown(value), known)
        if value not in self.words:
            return reading.found(path, "is not known here", value, did_you_mean(value, self.words))
        return str(value)

    def form(self) -> dict[str, Any]:
        return {"type": "string", "enum": list(self.words)}


class Text(Kind):
    """Any text."""

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if isinstance(value, str):
            return str(value)
        return reading.found(path, "is not text", shown(value), "write it in quotes")

    def form(self) -> dict[str, Any]:
        return {"type": "string"}


class ListOf(Kind):
    """A list of `least` to `most` items of one kind, kept as a tuple.

    Parameters
    ----------
    remedy : str. What to write instead of what is no such list.
    kept : function of the tuple that returns what is kept of it, or raises `BadValue`.
    """

    def __init__(
        self,
        item: Kind,
        remedy: str,
        least: int = 0,
        most: int = 100,
        kept: Callable[[tuple[Any, ...]], tuple[Any, ...]] = tuple,
    ) -> None:
        self.item = item
        self.part = item.part
        self.remedy = remedy
        self.least = least
        self.most = most
        self.kept = kept

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if not isinstance(value, list | tuple):
            return reading.found(path, "is not a list", shown(value), self.remedy)
        if len(value) < self.least:
            return reading.found(path, "holds nothing", shown(value), self.remedy)
        if len(value) > self.most:
            remedy = f"give at most {self.most}"
            return reading.found(path, "is more than makes sense", f"{len(value)} of them", remedy)
        items = tuple(self.item.read(one, (*path, at), reading) for at, one in enumerate(value))
        if any(one is FAULTY for one in items):
            return FAULTY
        try:
            return self.kept(items)
        except BadValue as bad:
            return reading.found(path, bad.rule, bad.value, bad.remedy)

    def form(self) -> dict[str, Any]:
        return {"type": "array", "items": self.item.form()}


class Row(Kind):
    """A list with one item of each of some kinds, kept as a tuple."""

    def __init__(self, items: tuple[Kind, ...], remedy: str) -> None:
        self.items = items
        self.remedy = remedy

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if not isinstance(value, list | tuple) or len(value) != len(self.items):
            return reading.found(path, f"is not a list of {len(self.items)}", shown(value), self.remedy)
        cells = tuple(
            kind.read(one, (*path, at), reading)
            for at, (kind, one) in enumerate(zip(self.items, value, strict=True))
        )
        return FAULTY if any(one is FAULTY for one in cells) else cells

    def form(self) -> dict[str, Any]:
        cells = [kind.form() for kind in self.items]
        return {"type": "array", "prefixItems": cells, "minItems": len(cells), "maxItems": len(cells)}


def shown(value: Any, depth: int = 6) -> str:
    """Return a value of the file as TOML would write it, for a message; what is nested deeper as "..."."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict | list | tuple) and not depth:
        return "..."
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {shown(item, depth - 1)}" for key, item in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(shown(item, depth - 1) for item in value) + "]"
    return text_of(value)
