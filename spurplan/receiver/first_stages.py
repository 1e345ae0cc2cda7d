"""The noise figure of a set that gives none: by what stands first behind its aerial circuits."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from spurplan.receiver.curve import LogCurve

MHZ = 1e6


@dataclass(frozen=True)
class Stage:
    """One kind of first stage.

    Attributes
    ----------
    noise_figure_db : LogCurve. Of the set with it, against frequency. [dB]
    amplifies : bool. Whether it stands ahead of the first mixer, with circuits between.
    """

    noise_figure_db: LogCurve
    amplifies: bool


@cache
def first_stages() -> Mapping[str, Stage]:
    """Return the stages of ``data/first_stages.toml`` by name."""
    read: dict[str, Any] = tomllib.loads(
        (files("spurplan") / "data" / "first_stages.toml").read_text("utf-8")
    )
    hz = [MHZ * mhz for mhz in read["aerial_coil"]["frequency_mhz"]]
    return MappingProxyType(
        {
            name: Stage(LogCurve(list(zip(hz, stage["noise_figure_db"], strict=True))), stage["kind"] == "rf")
            for name, stage in read["stage"].items()
        }
    )
