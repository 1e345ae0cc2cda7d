"""What a way in and a piece of evidence are worth: ``data/suspicion.toml``, in one place."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from spurplan.tomlfile import shipped_toml

HEARD_WORDS = ("am", "ssb", "cw", "digital", "carrier", "noise", "whistle")
Chances = Mapping[str, float]
# what a row of a band table says of its mode, as a kind of emission
_MODES = {
    "am": {"am": 1.0},
    "cw": {"cw": 1.0},
    "ssb": {"ssb": 1.0},
    "digital": {"digital": 1.0},
    "narrow": {"digital": 0.8, "cw": 0.2},
    "fm": {"fm": 1.0},
}
# Above it broadcasting is frequency modulation. [Hz]
_VHF_HZ = 30_000_000


@cache
def suspicion() -> Mapping[str, Mapping[str, Mapping[str, Any]]]:
    """Return the tables of the file as they stand there."""
    return shipped_toml("suspicion.toml")


def figure(table: str, name: str) -> float:
    """Return one figure: of `way`, `there`, `evidence` or `test`."""
    return float(suspicion()[table][name]["value"])


@cache
def sounds(kind: str) -> Chances:
    """Return how a kind of emission is described by those who hear it, by `HEARD_WORDS`; adds to 1."""
    return _numbers(suspicion()["sounds"][kind])


@cache
def kinds_sent(service: str, mode: str, hz: int) -> Chances:
    """Return the kinds of emission of a service; adds to 1.

    Parameters
    ----------
    service : str. One that the file does not know is taken for somebody in no table.
    mode : str. As its row says; "" where that says nothing.
    hz : int. Where it is sent. [Hz]
    """
    if mode == "beacon":
        return _numbers(suspicion()["emission"]["beacon"])
    if mode in _MODES:
        return _MODES[mode]
    if service == "broadcast" and hz > _VHF_HZ:
        service = "vhf broadcast"
    table = suspicion()["emission"]
    return _numbers(table.get(service, table["unlisted"]))


def mixed(parts: Mapping[str, float]) -> Chances:
    """Return how a mixture of kinds of emission is described, by `HEARD_WORDS`; adds to 1.

    Parameters
    ----------
    parts : the share of each kind of `sounds`, adding to 1.
    """
    out = dict.fromkeys(HEARD_WORDS, 0.0)
    for kind, share in parts.items():
        for word, chance in sounds(kind).items():
            out[word] += share * chance
    return out


def _numbers(row: Mapping[str, Any]) -> Chances:
    return {name: float(value) for name, value in row.items() if name not in ("mark", "reason")}
