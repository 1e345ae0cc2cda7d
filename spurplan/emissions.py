"""Emissions: how wide a signal of one mode is, and what it sounds like to somebody who wants another one."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import NamedTuple

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
    text = (files("spurplan") / "data" / "emissions.toml").read_text("utf-8")
    return {
        name: Emission(int(row["width"]), SOUNDS.index(row["sound"]))
        for name, row in tomllib.loads(text).items()
    }


def emission_of(service: str, mode: str) -> Emission:
    """Return the emission of a service in a mode; "" for a mode that nobody gave.

    Notes
    -----
    From ``data/emissions.toml``: the mode of that service where it stands there, else the mode.
    """
    table = _table()
    return table.get(f"{service}.{mode}") or table.get(mode) or table[""]
