"""Names of stations and bands cut short, for sheets that have room for a word."""

from __future__ import annotations

import re

_METRES = re.compile(r"[0-9.]+ m\b")
_BROADCAST = re.compile(r" broadcast(ing)?\b.*")
_CARRIER = re.compile(r" (broadcasting|broadcast carrier)\b.*")


def band_name(label: str) -> str:
    """Return what a band is called in a word: "31 m", "medium wave"."""
    metres = _METRES.match(label)
    if metres:
        return metres[0]
    short = _BROADCAST.sub("", label)
    return short[:1].lower() + short[1:] if short[1:2].islower() else short


def intruder_name(label: str) -> str:
    """Return what an intruder is called in a few words: "19 m broadcast"."""
    return _CARRIER.sub(" broadcast", label)
