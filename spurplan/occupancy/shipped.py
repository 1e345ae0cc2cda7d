"""The band tables that ship, and the source records beside tables.

In an installed package they stand inside it; in a checkout in the folder
`bandplans` at its top.
"""

from __future__ import annotations

import hashlib
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from spurplan.errors import Fault, Refused
from spurplan.files import read_bytes, read_shipped
from spurplan.schema import TEXT, Count, Description, ListOf, described_by_file, key
from spurplan.tomlfile import decoded, parse_toml

RECORD_BYTES = 1 << 20

UNCHANGED = "unchanged"
EDITED = "edited since its record was written"
NO_RECORD = "no record"


# physical lines of a table, and rows
_MOST = 1_000_000
_LINE = Count(0, _MOST)


class SourceRecord(Description):
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

    document: str = key(TEXT)
    edition: str = key(TEXT)
    section: str = key(TEXT)
    date: str = key(TEXT)
    changed: str = key(TEXT)
    left_out: str = key(TEXT, default="")
    from_memory: tuple[int, ...] = key(ListOf(_LINE, "write a list of line numbers", 0, _MOST), default=())
    rows: int = key(Count(0, _MOST))
    sha256: str = key(TEXT)

    def state(self, data: bytes) -> str:
        """Return whether the table `data` is still the one that was recorded."""
        return UNCHANGED if hashlib.sha256(data).hexdigest() == self.sha256 else EDITED


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
    return parse_record(name, read_shipped(entry)) if entry.is_file() else None


def parse_record(name: str, data: bytes) -> SourceRecord:
    """Return the source record in `data`; all faults at once.

    Raises
    ------
    Refused  when it is not TOML, or a key is missing, unknown or of the wrong kind.
    """
    return described_by_file(SourceRecord, parse_toml(decoded(name, data), name), name)
