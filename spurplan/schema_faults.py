"""What is wrong with the keys of a file, in the words of the trade: place, value, rule, remedy.

Places are key paths as a person counts them: ``conversion[2].filter.bandwidth``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from spurplan.errors import Fault, did_you_mean, nearest, shortened

Path = tuple[str | int, ...]

MISSING = "is missing"
UNKNOWN_KEY = "unknown key"


@dataclass(frozen=True)
class Wrong:
    """One thing wrong inside a description, before anybody knows which file it came from.

    Attributes
    ----------
    path : tuple of str and int. Keys as in the file, indices from 0, relative to the
        description that found it.
    rule, value, remedy : as in `spurplan.errors.Fault`.
    meant : tuple or None. The key that it is a slip of, which is then not missing.
    """

    path: Path
    rule: str
    value: str | None = None
    remedy: str = ""
    meant: Path | None = None


class Inconsistent(ValueError):
    """Values that are each right and do not go together; carries every `Wrong`."""

    def __init__(self, wrongs: Iterable[Wrong]) -> None:
        self.wrongs = tuple(wrongs)
        super().__init__("; ".join(wrong.rule for wrong in self.wrongs))


def faults(wrongs: Iterable[Wrong], source: str) -> list[Fault]:
    """Return faults with their full place; of several at one place with one rule the first."""
    by_place: dict[tuple[str, str], Fault] = {}
    wrongs = list(wrongs)
    held = {wrong.path for wrong in wrongs if wrong.rule != MISSING}
    held |= {wrong.meant for wrong in wrongs if wrong.meant is not None}
    for wrong in wrongs:
        if wrong.rule == MISSING and wrong.path in held:
            continue  # it is there, and wrong or misspelt
        place = place_text(source, wrong.path)
        by_place.setdefault((place, wrong.rule), Fault(place, wrong.rule, wrong.value, wrong.remedy))
    return list(by_place.values())


def in_file_order(wrongs: Iterable[Wrong], tables: dict[str, Any]) -> list[Wrong]:
    """Return faults in the order in which a file has their places, missing keys last."""
    return sorted(wrongs, key=lambda wrong: _position(wrong.path, tables))


def _position(path: Path, value: Any) -> tuple[int, ...]:
    out = []
    for step in path:
        if isinstance(value, dict) and step in value:
            out.append(list(value).index(step))
            value = value[step]
        elif isinstance(value, list) and isinstance(step, int) and step < len(value):
            out.append(step)
            value = value[step]
        else:
            return (*out, 1_000_000)
    return tuple(out)


def place_text(source: str, path: Path) -> str:
    """Return "set.toml, conversion[2].filter.bandwidth", indices counted from 1."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += f".{shortened(step)}" if text else shortened(step)
    return f"{source}, {text}" if text else source


def missing(path: Path, example: str) -> Wrong:
    """Return the fault of a required key that is not there; `example` says how to write it."""
    # half a pair is missing only where the whole of it is
    return Wrong(path[:-1] if isinstance(path[-1], int) else path, MISSING, remedy=example)


def unknown_key(path: Path, known: Sequence[str]) -> Wrong:
    """Return the fault of a key, the last of `path`, that is none of the known ones."""
    near = nearest(str(path[-1]), known)
    meant = None if near is None else (*path[:-1], near)
    return Wrong(path, UNKNOWN_KEY, remedy=did_you_mean(str(path[-1]), known), meant=meant)
