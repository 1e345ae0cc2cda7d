"""Who is on the air: band tables, hours, typical levels and the interval index.

It stands by itself, without a receiver::

    from spurplan.occupancy import import_list, on_frequency, read_bands

The names below are loaded when they are first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from spurplan.errors import Refused
    from spurplan.occupancy.bands import Bands, read_bands
    from spurplan.occupancy.bands_in_use import on_frequency, tables_in_use
    from spurplan.occupancy.expand import occupants_of
    from spurplan.occupancy.list_form import Unclear
    from spurplan.occupancy.occupants import Occupants
    from spurplan.occupancy.station_list import Imported, import_list

__all__ = [
    "Bands",
    "Imported",
    "Occupants",
    "Refused",
    "Unclear",
    "import_list",
    "occupants_of",
    "on_frequency",
    "read_bands",
    "tables_in_use",
]

_HOMES = {
    "Bands": "spurplan.occupancy.bands",
    "Imported": "spurplan.occupancy.station_list",
    "Occupants": "spurplan.occupancy.occupants",
    "Refused": "spurplan.errors",
    "Unclear": "spurplan.occupancy.list_form",
    "import_list": "spurplan.occupancy.station_list",
    "occupants_of": "spurplan.occupancy.expand",
    "on_frequency": "spurplan.occupancy.bands_in_use",
    "read_bands": "spurplan.occupancy.bands",
    "tables_in_use": "spurplan.occupancy.bands_in_use",
}


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
