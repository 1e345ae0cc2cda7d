"""Questions at a terminal, one after another, about what the owner of a set knows."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any, TypeVar

import typer

from spurplan import units
from spurplan.errors import BadValue, Refused

Read = TypeVar("Read")


def answers() -> dict[str, Any]:
    """Return what was answered, as the options of the same names take it.

    Notes
    -----
    Questions go to standard error, so that the file can go to standard output.
    """
    from spurplan.occupancy.bands import in_tables, read_bands

    where = in_tables(read_bands(None))
    given: dict[str, Any] = {"name": _ask("What do you call the set?", str, "My receiver")}
    ifs = _ask(
        "Its IF, as on the IF cans (two with a blank between for double conversion)",
        lambda text: [word for word in _words(text) if units.hz(word, "IF", where)],
        "455",
    )
    given["if_hz"] = ifs
    given["injection"] = _ask(
        "Does its oscillator run above or below the signal? Nearly always above (above, below)",
        _side,
        "above",
    )
    given["cover"] = _ranges(where)
    given["rf_stages"] = _ask(
        "How many tuned RF stages (valves or transistors) stand ahead of the mixer?", units.parse_whole, "0"
    )
    given["devices"] = _ask("Has it valves or transistors? (valves, transistors)", _devices, "valves")
    given["bfo"] = _ask("Has it a BFO, for Morse and sideband? (yes, no)", _yes, "no")
    given["region"] = _ask("Where is it? (europe, africa, americas, asia, pacific)", _region, "europe")
    return {key: value for key, value in given.items() if value is not False}


def _ranges(where: units.Where) -> list[str]:
    covers: list[str] = []
    while True:
        which = f"What does range {len(covers) + 1} tune, as 530:1620 or 6:18 MHz?"
        hint, default = ("", None) if not covers else (" (Enter: that was all)", "")

        def read(text: str) -> str:
            if text:
                units.span_hz(text, "range", where)
            return text

        answered = _ask(which + hint, read, default)
        if not answered:
            return covers
        covers.append(answered)


def _ask(question: str, read: Callable[[str], Read], default: str | None) -> Read:
    """Return an answer as it is read, asked again with the reason where it cannot be."""
    while True:
        # typer's prompt writes a blank to standard output, where the file may go
        typer.echo(f"{question}{f' [{default}]' if default else ''} ", err=True, nl=False)
        line = sys.stdin.readline()
        if not line:
            raise typer.Abort
        text = line.strip() or default
        if text is None:
            continue
        try:
            return read(text)
        except Refused as refused:
            typer.echo(refused.text(), err=True)
        except BadValue as bad:
            typer.echo(str(bad), err=True)


def _words(text: str) -> list[str]:
    """Return several frequencies, each with the unit behind it."""
    from spurplan.cli.words import with_units

    return with_units(text.replace(",", " ").split())


def _side(text: str) -> str:
    side = {"above": "high", "below": "low"}.get(text.lower())
    if side is None:
        raise BadValue(text, "is neither above nor below", "write above or below")
    return side


def _devices(text: str) -> str:
    from spurplan.receiver.file.starter import mixer_with

    mixer_with(text)
    return text


def _yes(text: str) -> bool:
    word = text.lower()
    if word not in ("y", "yes", "n", "no"):
        raise BadValue(text, "is neither yes nor no", "write yes or no")
    return word.startswith("y")


def _region(text: str) -> str:
    units.region(text, "region")
    return text
