"""Emissions: how wide a signal of one mode is, and what it sounds like to somebody who wants another one."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from spurplan.tomlfile import shipped_toml

SOUNDS = ("carrier", "voice", "programme")
CARRIER, VOICE, PROGRAMME = range(3)


class Emission(NamedTuple):
    """What an emission occupies and how it disturbs.

    Attributes
    ----------
    width_hz : int. [Hz]
    sound : int. Index into `SOUNDS`: a carrier beats with the wanted one, voice stands for
        speech and data.
    """

    width_hz: int
    sound: int


@cache
def _table() -> Mapping[str, Emission]:
    tables = shipped_toml("emissions.toml")
    return {mode: Emission(int(row["width"]), SOUNDS.index(row["sound"])) for mode, row in tables.items()}


def emission_of(service: str, mode: str) -> Emission:
    """Return the emission of a service in a mode; "" for a mode that nobody gave.

    Notes
    -----
    From ``data/emissions.toml``: the mode of that service where it stands there, else the mode.
    """
    table = _table()
    return table.get(f"{service}.{mode}") or table.get(mode) or table[""]
