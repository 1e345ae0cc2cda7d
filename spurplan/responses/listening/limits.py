"""From where on a figure is worth a word or a change: ``data/decisions.toml``, in one place."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from spurplan.tomlfile import shipped_toml


@cache
def limits() -> Mapping[str, Mapping[str, float]]:
    """Return the limits by the question they are for."""
    read: dict[str, dict[str, float]] = shipped_toml("decisions.toml")
    return read
