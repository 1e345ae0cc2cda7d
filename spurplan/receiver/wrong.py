"""What is wrong inside a description, before anybody knows which file it came from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Wrong:
    """One thing wrong inside a description.

    Attributes
    ----------
    path : tuple of str and int. Keys as in the receiver file, indices from 0,
        relative to the description that found it.
    rule, value, remedy : as in `spurplan.errors.Fault`.
    """

    path: Path
    rule: str
    value: str | None = None
    remedy: str = ""


class Inconsistent(ValueError):
    """Values that are each right and do not go together; carries every `Wrong`."""

    def __init__(self, wrongs: Iterable[Wrong]) -> None:
        self.wrongs = tuple(wrongs)
        super().__init__("; ".join(wrong.rule for wrong in self.wrongs))
