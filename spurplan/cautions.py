"""What can hurt someone, and the pages on which that is said."""

from __future__ import annotations

from functools import cache

from spurplan.schema import NAME, TEXT, Description, ListOf, Part, described_by_file, key
from spurplan.tomlfile import shipped_toml

SHIPPED = "cautions.toml"


class Caution(Description):
    """One thing to beware of.

    Attributes
    ----------
    name : str. What it is about.
    shown_by : tuple of str. Commands on whose pages it stands.
    text : str. One or two sentences for people.
    """

    name: str = key(NAME)
    shown_by: tuple[str, ...] = key(ListOf(NAME, "write a list of commands", 1))
    text: str = key(TEXT)


class _Cautions(Description):
    """Cautions, each as [[caution]]."""

    cautions: tuple[Caution, ...] = key(
        ListOf(Part(Caution, "[[caution]]"), "write each one as [[caution]]", 1, unique="name"),
        toml="caution",
    )


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Return every caution, in the order in which a page says them."""
    return described_by_file(_Cautions, shipped_toml(SHIPPED), SHIPPED).cautions


def cautions_of(command: str) -> tuple[str, ...]:
    """Return the texts that stand on the page of a command, none for one that needs none."""
    return tuple(caution.text for caution in all_cautions() if command in caution.shown_by)
