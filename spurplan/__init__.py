"""Which stations a superheterodyne receiver hears where they are not, how loud, and the cheapest cure.

Every question takes a receiver and band tables as objects or as paths, and
returns an `Answer`; whatever cannot be worked out is a `Refused` with all its
faults. The names below are loaded when they are first used: importing the
package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from spurplan.columns import Answer
    from spurplan.errors import Refused
    from spurplan.occupancy.bands import read_bands
    from spurplan.planning.bench.bench_sheet import bench_sheet
    from spurplan.planning.bench.readings import readings
    from spurplan.planning.converter.converter import converter
    from spurplan.planning.cures.cures import cures
    from spurplan.planning.if_change.if_change import if_change
    from spurplan.planning.suspects.evening import evening
    from spurplan.planning.suspects.suspects import suspects
    from spurplan.receiver.file.reading import read_receiver
    from spurplan.responses.asking import Settings
    from spurplan.responses.birdies.birdies import birdies
    from spurplan.responses.by_hour import by_hour
    from spurplan.responses.dial import dial
    from spurplan.responses.ranges import ranges
    from spurplan.responses.station import station

__version__ = "0.1.0"

__all__ = [
    "Answer",
    "Refused",
    "Settings",
    "bench_sheet",
    "birdies",
    "by_hour",
    "converter",
    "cures",
    "dial",
    "evening",
    "if_change",
    "ranges",
    "read_bands",
    "read_receiver",
    "readings",
    "station",
    "suspects",
]

_HOMES = {
    "Answer": "columns",
    "Refused": "errors",
    "Settings": "responses.asking",
    "bench_sheet": "planning.bench.bench_sheet",
    "birdies": "responses.birdies.birdies",
    "by_hour": "responses.by_hour",
    "converter": "planning.converter.converter",
    "cures": "planning.cures.cures",
    "dial": "responses.dial",
    "evening": "planning.suspects.evening",
    "if_change": "planning.if_change.if_change",
    "ranges": "responses.ranges",
    "read_bands": "occupancy.bands",
    "read_receiver": "receiver.file.reading",
    "readings": "planning.bench.readings",
    "station": "responses.station",
    "suspects": "planning.suspects.suspects",
}


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    # The package holds sub-packages only, none named as a question, so what is
    # kept here is never replaced by the import of a module of the same name.
    value = getattr(import_module(f"{__name__}.{home}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
