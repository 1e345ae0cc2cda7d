"""The band tables that ship, and the source records beside tables.

In an installed package they stand inside it; in a checkout in the folder
`bandplans` at its top.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from spurplan.errors import Fault, Refused, did_you_mean
from spurplan.files import read_bytes
from spurplan.tomlfile import decoded, parse_toml

RECORD_BYTES = 1 << 20

UNCHANGED = "unchanged"
EDITED = "edited since its record was written"
NO_RECORD = "no record"


@dataclass(frozen=True)
class SourceRecord:
    """Where a table comes from, as NAME.source.toml says.

    Attributes
    ----------
    document, edition, section, date : str. What was transcribed; date as YYYY-MM-DD or YYYY.
    changed : str. What differs from the document, and why.
    left_out : str. What is in the document and not in the table, and why.
    from_memory : tuple of int. Physical lines written from memory.
    rows : int. Rows of the table.
    sha256 : str. Of the table, byte for byte.
    """

    document: str
    edition: str
    section: str
    date: str
    changed: str
    left_out: str
    from_memory: tuple[int, ...]
    rows: int
    sha256: str

    def state(self, data: bytes) -> str:
        """Return whether the table `data` is still the one that was recorded."""
        return UNCHANGED if hashlib.sha256(data).hexdigest() == self.sha256 else EDITED


_KEYS: dict[str, type] = {
    "document": str,
    "edition": str,
    "section": str,
    "date": str,
    "changed": str,
    "left_out": str,
    "from_memory": list,
    "rows": int,
    "sha256": str,
}
_OPTIONAL = ("left_out", "from_memory")


def shipped_folder() -> Traversable:
    """Return the folder of the shipped tables.

    Raises
    ------
    Refused  when the installation has none.
    """
    package = files("spurplan")
    inside = package / "bandplans"
    if inside.is_dir():
        return inside
    if isinstance(package, Path):
        top = package.parent
        # only a checkout: some other "bandplans" may stand beside an installed package
        if (top / "pyproject.toml").is_file() and (top / "bandplans").is_dir():
            return top / "bandplans"
    remedy = "install the package again, or name your own tables"
    raise Refused(Fault("bandplans", "the tables that ship are not there", remedy=remedy))


def shipped_tables() -> dict[str, Traversable]:
    """Return the shipped tables by file name, in order of their names.

    Raises
    ------
    Refused  when the installation has none.
    """
    folder = shipped_folder()
    tables = {entry.name: entry for entry in folder.iterdir() if entry.name.endswith(".csv")}
    if not tables:
        remedy = "install the package again, or name your own tables"
        raise Refused(Fault("bandplans", "holds no table", remedy=remedy))
    return dict(sorted(tables.items()))


def record_beside(table: Traversable) -> SourceRecord | None:
    """Return the source record of a table, None where there is none.

    Raises
    ------
    Refused  when there is one and it can not be understood.
    """
    name = table.name.removesuffix(".csv") + ".source.toml"
    if isinstance(table, Path):
        path = table.with_name(name)
        return parse_record(str(path), read_bytes(path, RECORD_BYTES)) if path.is_file() else None
    entry = shipped_folder() / name
    return parse_record(name, entry.read_bytes()) if entry.is_file() else None


def parse_record(name: str, data: bytes) -> SourceRecord:
    """Return the source record in `data`; all faults at once.

    Raises
    ------
    Refused  when it is not TOML, or a key is missing, unknown or of the wrong kind.
    """
    found: Mapping[str, Any] = parse_toml(decoded(name, data), name)
    faults = [
        Fault(f"{name}, {key}", "unknown key", remedy=did_you_mean(key, list(_KEYS)))
        for key in found
        if key not in _KEYS
    ]
    for key, kind in _KEYS.items():
        if key not in found:
            if key not in _OPTIONAL:
                faults.append(Fault(f"{name}, {key}", "is missing", remedy="add it"))
        elif type(found[key]) is not kind or not _whole_numbers(found[key]):
            spoken = {str: "a text", int: "a whole number", list: "a list of row numbers"}[kind]
            faults.append(Fault(f"{name}, {key}", f"is not {spoken}", str(found[key])))
    if faults:
        raise Refused(faults)
    return SourceRecord(
        **{key: found[key] for key in _KEYS if key not in _OPTIONAL},
        left_out=found.get("left_out", ""),
        from_memory=tuple(found.get("from_memory", ())),
    )


def _whole_numbers(value: Any) -> bool:
    return not isinstance(value, list) or all(type(part) is int for part in value)
