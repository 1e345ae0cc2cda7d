"""Words of the command line: values that people type in several words, or in pairs."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import typer

_NUMBER_LAST = re.compile(r".*(?<![A-Za-z0-9.])[+-]?[0-9][0-9.,]*")
_UNIT_FIRST = re.compile(r"(?:[kmg]?hz|dbm?)(?::[0-9][0-9.,]*)?", re.IGNORECASE)


def with_units(words: Sequence[str]) -> list[str]:
    """Return the words with each number and a unit behind it as one word.

    ``--if 1.6 MHz`` then reads as ``--if "1.6 MHz"``, and ``--cover 21 MHz:21.5
    MHz`` likewise; nothing behind ``--`` is touched.
    """
    joined: list[str] = []
    for at, word in enumerate(words):
        if word == "--":
            return joined + list(words[at:])
        if joined and _UNIT_FIRST.fullmatch(word) and _NUMBER_LAST.fullmatch(joined[-1]):
            joined[-1] += f" {word}"
        else:
            joined.append(word)
    return joined


def forgotten_value(words: Sequence[str], takes_value: Mapping[str, bool]) -> tuple[str, str] | None:
    """Return the first option whose value was forgotten, and the option that stands in its place.

    Parameters
    ----------
    words : what follows the command's name.
    takes_value : names of the command's options, each with whether a value follows.

    Notes
    -----
    Parsers take whatever follows as the value: ``--output -h`` would write a
    file of that name.
    """
    at = 0
    while at < len(words) and words[at] != "--":
        if not takes_value.get(words[at], False):
            at += 1
            continue
        if at + 1 < len(words) and words[at + 1] in takes_value:
            return words[at], words[at + 1]
        at += 2
    return None


def unknown_option(words: Sequence[str], takes_value: Mapping[str, bool]) -> str | None:
    """Return the first long option that is none of the command's; arguments as in `forgotten_value`."""
    at = 0
    while at < len(words) and words[at] != "--":
        name = words[at].partition("=")[0]
        if name.startswith("--") and name not in takes_value:
            return name
        at += 2 if takes_value.get(words[at], False) else 1
    return None


def two_edges(text: str, option: str) -> str:
    """Return ``21MHz:21.45MHz``, ``21:21.45 MHz`` or ``21:21.45`` as it was typed, two edges of a stretch.

    Raises
    ------
    typer.BadParameter  when there are not two edges.
    """
    if text.count(":") != 1 or not all(part.strip() for part in text.split(":")):
        raise typer.BadParameter("give two edges, as 21MHz:21.45MHz", param_hint=option)
    return text


def pairs(texts: Sequence[str] | None, option: str) -> dict[str, str]:
    """Return ``NAME=VALUE`` options as a mapping.

    Raises
    ------
    typer.BadParameter  when a name or a value is missing, or a name comes twice.
    """
    by_name: dict[str, str] = {}
    for text in texts or ():
        name, equals, value = (part.strip() for part in text.partition("="))
        if not equals or not name or not value:
            raise typer.BadParameter(f"{text!r} is not NAME=VALUE", param_hint=option)
        if name in by_name:
            raise typer.BadParameter(f"{name!r} is given twice", param_hint=option)
        by_name[name] = value
    return by_name
