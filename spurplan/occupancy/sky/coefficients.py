"""The published tables beside this module, read and held to their source records.

Each file is text: a line of explanation, a head ``[name] unit shape``, then whole or decimal
numbers in multiples of that unit, the last axis along the line.
"""

from __future__ import annotations

import math
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused
from spurplan.files import read_shipped
from spurplan.occupancy.shipped import UNCHANGED, SourceRecord, parse_record

Floats = npt.NDArray[np.float64]


@cache
def published(document: str) -> dict[str, Floats]:
    """Return the tables of one document by name.

    Parameters
    ----------
    document : str. p1239, p533, p842 or p372.

    Raises
    ------
    Refused  when the file differs from its source record, or a table has not the numbers its head says.
    """
    data = read_shipped(files("spurplan.occupancy.sky") / "tables" / f"{document}.txt")
    name = f"{document}.txt"
    if source_of(document).state(data) != UNCHANGED:
        rule = "differs from its source record"
        raise Refused(Fault(name, rule, remedy="install the package again, or write its record anew"))
    return parse_tables(name, data.decode("ascii"))


@cache
def source_of(document: str) -> SourceRecord:
    """Return the source record of a document: edition, section, what was rounded, checksum."""
    name = f"{document}.source.toml"
    return parse_record(name, read_shipped(files("spurplan.occupancy.sky") / "tables" / name))


def parse_tables(name: str, text: str) -> dict[str, Floats]:
    """Return the tables in `text`, each an array of the shape its head says, in plain units.

    Raises
    ------
    Refused  with the line of every head that is none, and every table with too many or too few numbers.
    """
    heads: list[tuple[int, str, float, tuple[int, ...]]] = []
    numbers: list[list[float]] = []
    faults = []
    for number, line in enumerate(text.splitlines(), 1):
        place = f"{name}, row {number}"
        if not line or line.startswith("#"):
            continue
        try:
            if line.startswith("["):
                label, rest = line[1:].split("]")
                unit, *lengths = rest.split()
                heads.append((number, label, float(unit), tuple(map(int, lengths))))
                numbers.append([])
            else:
                values = [float(word) for word in line.split()]
                if not all(map(math.isfinite, values)):
                    raise ValueError
                numbers[-1] += values
        except (ValueError, IndexError):
            remedy = "write a head, [name] unit shape, and numbers below it"
            faults.append(Fault(place, "is neither the head of a table nor a row of one", line, remedy))
    for (number, label, _, shape), values in zip(heads, numbers, strict=True):
        if len(values) != math.prod(shape):
            rule = f"has {len(values):,} numbers, its shape wants {math.prod(shape):,}"
            faults.append(Fault(f"{name}, row {number}", rule, label, "restore the rows that are missing"))
    if faults:
        raise Refused(faults)
    return {
        label: unit * np.array(values).reshape(shape)
        for (_, label, unit, shape), values in zip(heads, numbers, strict=True)
    }
