"""The receiver file: read with every fault at once.

What is wrong in one key does not hide what is wrong elsewhere: the chain of
conversions is checked on every range whose own figures are sound.
"""

from __future__ import annotations

import os
from dataclasses import replace
from typing import Any, TypeVar

from spurplan.errors import Refused
from spurplan.receiver.description import Box, Front, Receiver
from spurplan.receiver.file.loading import NamedFiles
from spurplan.schema import FAULTY, Reading
from spurplan.schema_faults import Path, Wrong, faults, in_file_order
from spurplan.tomlfile import parse_toml, read_toml
from spurplan.units import as_path

# Keys the arithmetic of the chain hangs on: where one is wrong, what would
# follow from a default in its place is not what the user wrote.
_OF_THE_CHAIN = frozenset(
    ("conversion", "injection", "crystal", "oscillator", "premix", "multiplier", "if", "oscillator_harmonic")
)

BoxLike = TypeVar("BoxLike", Box, Front)


def read_receiver(path: str | os.PathLike[str]) -> Receiver:
    """Read and check a receiver file.

    Parameters
    ----------
    path : path of the file (TOML); files named in it stand relative to it.

    Returns
    -------
    Receiver. ``given`` of each part tells which keys were given.

    Raises
    ------
    Refused  when the file can not be read or is not TOML; and with every fault
        found in it and in the files it names.
    """
    return described_by(read_toml(path), as_path(path))


def parse_receiver(text: str, path: str = "receiver.toml") -> Receiver:
    """Return the receiver that the text of a file describes.

    Parameters
    ----------
    text : str. TOML.
    path : str. Where the text stands or would stand: named in faults, and files
        it names stand relative to it.

    Raises
    ------
    Refused  as `read_receiver`.
    """
    return described_by(parse_toml(text, path), path)


def read_box(path: str | os.PathLike[str]) -> Box:
    """Read the file of a box in the aerial lead.

    Parameters
    ----------
    path : path of the file (TOML): name, elements, gain, noise_figure, ceiling and pickup, as under
        [[ahead]] in a receiver file.

    Raises
    ------
    Refused  as `read_receiver`.
    """
    return _read_box(Box, path, "--ahead")


def read_front(path: str | os.PathLike[str]) -> Front:
    """Read the file of a converter.

    Parameters
    ----------
    path : path of the file (TOML): the keys of a box (`read_box`) and [mixer].

    Raises
    ------
    Refused  as `read_receiver`.
    """
    return _read_box(Front, path, "--front")


def _read_box(model: type[BoxLike], path: str | os.PathLike[str], option: str) -> BoxLike:
    source = as_path(path, option)
    raw = read_toml(path)
    files = NamedFiles(source)
    reading = Reading(from_file=True, files=files)
    box = model.read(raw, (), reading)
    _refuse_if(reading, files, raw, source)
    return box


def described_by(raw: dict[str, Any], source: str) -> Receiver:
    """Return the receiver that the tables of a file describe; `source` is the file.

    Raises
    ------
    Refused  with every fault.
    """
    files = NamedFiles(source)
    reading = Reading(from_file=True, files=files)
    values = Receiver.read_apart(raw, (), reading)
    if values is None:
        # nobody has looked yet whether the sound parts go together
        reading.wrongs.extend(_behind(raw, reading))
    receiver = FAULTY if values is None else Receiver.whole(values, (), reading)
    _refuse_if(reading, files, raw, source)
    return receiver


def _refuse_if(reading: Reading, files: NamedFiles, raw: dict[str, Any], source: str) -> None:
    if reading.all_wrongs or files.faults:
        raise Refused([*faults(in_file_order(reading.all_wrongs, raw), source), *files.faults])


def _behind(data: dict[str, Any], reading: Reading) -> list[Wrong]:
    """Return what the check of the whole finds once the faulty keys are taken out."""
    sound = _without(data, [wrong.path for wrong in reading.wrongs])
    if sound is None:
        return []
    rest, numbers = sound
    again = Reading(from_file=True, files=reading.files)
    Receiver.read(rest, (), again)
    return [replace(wrong, path=_renumbered(wrong.path, numbers)) for wrong in again.wrongs if wrong.path]


def _without(data: dict[str, Any], paths: list[Path]) -> tuple[dict[str, Any], list[int]] | None:
    """Return the data without the faulty keys and the ranges they make unusable.

    The second result tells which of the file's ranges are left. None where no
    range is left, or the conversions of the set are not to be relied on.
    """
    ranges = data.get("range")
    if not isinstance(ranges, list):
        return None
    if ("range",) in paths:
        return None
    broken = {path[1] for path in paths if path[:1] == ("range",) and _spoils_range(path)}
    if any(path[:1] == ("conversion",) and _spoils_conversion(path) for path in paths):
        broken |= {
            n for n, table in enumerate(ranges) if not isinstance(table, dict) or "conversion" not in table
        }
    left = [number for number in range(len(ranges)) if number not in broken]
    if not left:
        return None
    # what is wrong inside a range that goes altogether goes with it
    inside = [path for path in paths if not (path[:1] == ("range",) and path[1] in broken)]
    rest = _cut(data, [_key_of_table(path) for path in inside])
    rest["range"] = [rest["range"][number] for number in left]
    rest.setdefault("name", "unnamed")
    if broken and all("conversion" in table for table in rest["range"]):
        rest.pop("conversion", None)
    return rest, left


def _spoils_range(path: Path) -> bool:
    return len(path) == 2 or path[2] in ("coverage", "name") or _spoils_conversion(path[2:])


def _spoils_conversion(path: Path) -> bool:
    if path[:1] != ("conversion",):
        return False
    # a filter left out would be reported as missing where a damaged one stands
    return len(path) <= 2 or path[2] in _OF_THE_CHAIN or path[2] in ("filter", "selectivity")


def _key_of_table(path: Path) -> Path:
    """Return a path cut off behind the first key that is no list of ranges or conversions."""
    end = 0
    while path[end : end + 1] in (("range",), ("conversion",)) and len(path) > end + 2:
        end += 2
    return path[: end + 1]


def _cut(table: dict[str, Any], paths: list[Path]) -> dict[str, Any]:
    """Return a copy of a table without the keys that `paths` name."""
    gone = {path[0] for path in paths if len(path) == 1}
    out = {}
    for key, value in table.items():
        if key in gone:
            continue
        below = [path[1:] for path in paths if path[0] == key]
        if isinstance(value, list) and below:
            value = [_cut(v, [p[1:] for p in below if p[0] == n]) for n, v in enumerate(value)]
        out[key] = value
    return out


def _renumbered(path: Path, numbers: list[int]) -> Path:
    if path[:1] == ("range",) and len(path) > 1 and isinstance(path[1], int):
        return ("range", numbers[path[1]], *path[2:])
    return path
