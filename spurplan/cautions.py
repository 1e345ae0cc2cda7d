"""What can hurt someone, and the pages on which that is said."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from spurplan.tomlfile import decoded, parse_toml

SHIPPED = "cautions.toml"


@dataclass(frozen=True)
class Caution:
    """One thing to beware of.

    Attributes
    ----------
    name : str. What it is about.
    shown_by : tuple of str. Commands on whose pages it stands.
    text : str. One or two sentences for people.
    """

    name: str
    shown_by: tuple[str, ...]
    text: str


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Return every caution, in the order in which a page says them."""
    data = (files("spurplan") / "data" / SHIPPED).read_bytes()
    rows = parse_toml(decoded(SHIPPED, data), SHIPPED)["caution"]
    return tuple(Caution(row["name"], tuple(row["shown_by"]), row["text"]) for row in rows)


def cautions_of(command: str) -> tuple[str, ...]:
    """Return the texts that stand on the page of a command, none for one that needs none."""
    return tuple(caution.text for caution in all_cautions() if command in caution.shown_by)
