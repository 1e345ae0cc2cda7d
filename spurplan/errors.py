"""What a user can be told: place, value, rule, remedy.

    Exception
    +-- Refused            every fault found, each with its place
    ValueError
    +-- BadValue           one value against one rule; the caller knows the place

A parser of single values raises `BadValue`; whoever knows where the value
stood turns it into a `Fault`, collects the faults and raises one `Refused`.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

FAULTS_SHOWN = 20
LONGEST_NAME = 200


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong.

    Attributes
    ----------
    place : str. File, row and column, or key path; never empty.
    rule : str. What is wrong with the value, as a clause: "is not a number".
    value : str or None. The value as it stood, without quotes; None where a
        value is missing altogether.
    remedy : str. What to do instead; may be empty.
    """

    place: str
    rule: str
    value: str | None = None
    remedy: str = ""

    def __str__(self) -> str:
        sentence = f"{quoted(self.value)} {self.rule}" if self.value is not None else self.rule
        return f"{self.place}: {sentence}" + (f"; {self.remedy}" if self.remedy else "")


def text_of(value: object) -> str:
    """Return a value as text; of a whole number too long to be written, that it is one."""
    try:
        return str(value)
    except ValueError:  # Python writes no integer of thousands of digits
        return "a whole number of thousands of digits"


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


class BadValue(ValueError):
    """A value breaks a rule; the place is added by the caller.

    Attributes
    ----------
    value, rule, remedy : as in `Fault`.
    """

    def __init__(self, value: object, rule: str, remedy: str = "") -> None:
        self.value = text_of(value)
        self.rule = rule
        self.remedy = remedy
        super().__init__(f"{quoted(self.value)} {rule}" + (f"; {remedy}" if remedy else ""))

    def at(self, place: str) -> Fault:
        """Return the fault with the place where the value stood."""
        return Fault(place, self.rule, self.value, self.remedy)


class Refused(Exception):
    """The library refuses the input; carries all its faults.

    Attributes
    ----------
    faults : tuple of Fault, the first ones found, in order.
    total : int. How many there are in all; at least ``len(faults)``.
    """

    def __init__(self, faults: Fault | Iterable[Fault], total: int | None = None) -> None:
        self.faults = (faults,) if isinstance(faults, Fault) else tuple(faults)
        if not self.faults:
            raise ValueError("a refusal needs at least one fault")
        self.total = len(self.faults) if total is None else total
        super().__init__(self.text())

    def __reduce__(self) -> tuple[type[Refused], tuple[tuple[Fault, ...], int]]:
        # an exception is made anew from its args, which are the text
        return type(self), (self.faults, self.total)

    def text(self, shown: int = FAULTS_SHOWN) -> str:
        """Return the first `shown` faults, one a line, then the count of all."""
        lines = [str(fault) for fault in self.faults[:shown]]
        if self.total > len(lines):
            lines.append(f"{self.total} faults in all, the first {len(lines)} shown")
        return "\n".join(lines)


def quoted(value: str, longest: int = 60) -> str:
    """Return `value` in double quotes, control characters escaped, long ones cut."""
    shown = "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in value)
    return f'"{shortened(shown, longest)}"'


def shortened(text: str, longest: int = 60) -> str:
    """Return a text, a long one cut."""
    return text if len(text) <= longest else text[: longest - 3] + "..."


def checked_name(text: str) -> str:
    """Return the name of something when people can still read it in a line.

    Raises
    ------
    BadValue  for one longer than `LONGEST_NAME`.
    """
    if len(text) > LONGEST_NAME:
        raise BadValue(text, f"is longer than {LONGEST_NAME} characters", "shorten it")
    return text


def nearest(word: str, known: Sequence[str]) -> str | None:
    """Return the known word that another is a slip of, None where none is near."""
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return near[0] if near else None


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """Return 'did you mean "injection"?', or the known words where none is near."""
    near = nearest(word, known)
    if near is not None:
        return f"did you mean {quoted(near)}?"
    return "known here: " + ", ".join(shortened(name) for name in known)
