"""What a shell is offered for the value of an option: ranges of the set, days, modes, files."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import typer

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def _words(offered: Iterable[str]) -> Callable[[str], list[str]]:
    def complete(incomplete: str) -> list[str]:
        return [word for word in offered if word.startswith(incomplete)]

    return complete


days = _words(DAYS)
months = _words(MONTHS)
modes = _words(("am", "ssb", "cw", "fm"))
agc = _words(("on", "off"))
wanted = _words(("weak", "fair", "good"))
activities = _words(("typical", "busy", "everybody"))


def regions(incomplete: str) -> list[str]:
    """Return the words that stand for a region."""
    from spurplan.units import REGION_WORDS

    return [word for word in REGION_WORDS if word.startswith(incomplete.lower())]


def devices(incomplete: str) -> list[str]:
    """Return what a set may be made with."""
    from spurplan.receiver.file.starter import MIXERS

    return [word for word in MIXERS if word.startswith(incomplete.lower())]


def services(incomplete: str) -> list[str]:
    """Return the services of the band tables, each with its equals sign."""
    from spurplan.occupancy.band_rows import SERVICES

    return [f"{word}=" for word in SERVICES if word.startswith(incomplete)]


def ranges(ctx: typer.Context, incomplete: str) -> list[str]:
    """Return the ranges of the receiver file on the line; none where it cannot be read."""
    from spurplan.errors import Refused
    from spurplan.receiver.file.reading import read_receiver

    # an option that still lacks its value leaves all of the line unread
    path = ctx.params.get("receiver") or next((word for word in ctx.args if word.endswith(".toml")), None)
    if path is None:
        return []
    try:
        names = [range_.name for range_ in read_receiver(path).ranges]
    except (Refused, OSError):
        return []
    return [name for name in names if name.startswith(incomplete)]


def files(*endings: str) -> Callable[[str], list[str]]:
    """Return what offers folders and the files with one of some endings."""

    def complete(incomplete: str) -> list[str]:
        folder, _, begun = incomplete.rpartition("/")
        at = Path(folder or ("/" if incomplete.startswith("/") else "."))
        try:
            entries = sorted(at.iterdir())
        except OSError:
            return []
        head = incomplete[: len(incomplete) - len(begun)]
        return [
            f"{head}{entry.name}" + ("/" if entry.is_dir() else "")
            for entry in entries
            if entry.name.startswith(begun)
            and (begun or not entry.name.startswith("."))
            and (entry.is_dir() or entry.suffix in endings)
        ]

    return complete
