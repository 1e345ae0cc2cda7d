"""Why some changes alter nothing: `explained.toml`, and what of it no longer fits."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from tests.mutation.mutants import Mutant

EXPLAINED = Path(__file__).with_name("explained.toml")


@cache
def entries() -> dict[str, list[dict[str, Any]]]:
    """Return what is explained, by module."""
    return tomllib.loads(EXPLAINED.read_text(encoding="utf-8"))


def explanations(module: str) -> dict[tuple[str, str], str]:
    """Return why some changes of a module alter nothing, by function and change."""
    return {
        (entry["function"], change): entry["why"]
        for entry in entries().get(module, [])
        for change in entry["changes"]
    }


def stale_in(module: str, every: Iterable[Mutant]) -> list[tuple[str, str]]:
    """Return what is explained of a module and is none of its changes any more."""
    return sorted(explanations(module).keys() - {mutant.key for mutant in every})
