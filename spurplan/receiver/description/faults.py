"""What is wrong with a description in the words of the trade: place, value, rule, remedy.

Places are key paths as a person counts them: ``conversion[2].filter.bandwidth``.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, TypeVar

from spurplan.errors import Fault, Refused, shortened
from spurplan.receiver.description.kinds import FAULTY, Reading, shown
from spurplan.receiver.wrong import Path, Wrong

if TYPE_CHECKING:
    from spurplan.receiver.description.base import Description

Model = TypeVar("Model", bound="Description")

MISSING = "is missing"

# What a missing key would have looked like.
_EXAMPLES = {
    "name": 'name = "Boathouse valve set"',
    "range": "describe at least one as [[range]]",
    "coverage": 'coverage = ["11 MHz", "30 MHz"]',
    "bandwidth": 'bandwidth = "6 kHz"',
    "offset": 'offset = "1 kHz"',
    "frequency": 'frequency = "100 kHz"',
    "depth": 'depth = "30 dB"',
    "q": "q = 55",
    "order": "order = 3",
    "c_max": 'c_max = "350 pF"',
}
_TABLES = {
    "filter": "[conversion.filter]",
    "mixer": "[conversion.mixer]",
    "bfo": "[bfo]",
    "gang": "[range.gang]",
}


def described(model: type[Model], data: Any, source: str, at: Path = ()) -> Model:
    """Return a validated description of `data`.

    Parameters
    ----------
    model : the class of description.
    data : dict. Keys of the receiver file or attribute names.
    source : str. What the faults name first: the file, or the name of the set.
    at : key path of the description inside the source.

    Raises
    ------
    Refused  with every fault.
    """
    reading = Reading(from_file=False, wrongs=[])
    made = model.read(data, at, reading)
    if made is FAULTY:
        raise Refused(faults(reading.wrongs, source))
    return made


def faults(wrongs: Iterable[Wrong], source: str) -> list[Fault]:
    """Return faults with their full place; of several at one place with one rule the first."""
    found: dict[tuple[str, str], Fault] = {}
    wrongs = list(wrongs)
    held = {wrong.path for wrong in wrongs if wrong.rule != MISSING}
    for wrong in wrongs:
        if wrong.rule == MISSING and wrong.path in held:
            continue  # it is there, and wrong
        place = place_text(source, wrong.path)
        found.setdefault((place, wrong.rule), Fault(place, wrong.rule, wrong.value, wrong.remedy))
    return list(found.values())


def place_text(source: str, path: Path) -> str:
    """Return "set.toml, conversion[2].filter.bandwidth", indices counted from 1."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += f".{shortened(step)}" if text else shortened(step)
    return f"{source}, {text}" if text else source


def missing(path: Path, reading: Reading) -> None:
    """Add the fault of a required key that is not there."""
    # half a pair is missing only where the whole of it is
    whole = path[:-1] if isinstance(path[-1], int) else path
    reading.found(whole, MISSING, remedy=_example(str(whole[-1])))


def not_a_table(path: Path, value: Any, reading: Reading) -> None:
    """Add the fault of a value where a table should stand."""
    remedy = _table_remedy(path, str(path[-1]) if path else "")
    reading.found(path, "is not a table", shown(value), remedy)


def _example(key: str) -> str:
    example = _EXAMPLES.get(key, "")
    return f"write {example}" if "=" in example else example


def _table_remedy(path: Path, key: str) -> str:
    if not path:
        return "give a dict of its keys"
    if key in _TABLES:
        return f"write it as {_TABLES[key]} with its keys below"
    above = str(path[-2]) if len(path) > 1 and isinstance(path[-1], int) else key
    return f"write it as [[{above}]] with its keys below"
