"""The one TOML reader: what the standard one says of a damaged file, as place, value, rule, remedy."""

from __future__ import annotations

import os
import re
import tomllib
from importlib.resources import files
from typing import Any

from spurplan.errors import Fault, Refused
from spurplan.files import read_bytes, read_shipped
from spurplan.units import as_path

LARGEST_FILE = 1 << 20

_POSITION = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)


def read_toml(path: str | os.PathLike[str]) -> dict[str, Any]:
    """Return the tables of a TOML file.

    Raises
    ------
    Refused  when the file can not be read, is not UTF-8, is larger than
        `LARGEST_FILE`, or is not TOML (with line and column).
    """
    name = as_path(path)
    return parse_toml(decoded(name, read_bytes(path, LARGEST_FILE)), name)


def shipped_toml(name: str) -> dict[str, Any]:
    """Return the tables of a TOML file of the package's own, in ``data/``."""
    return parse_toml(decoded(name, read_shipped(files("spurplan") / "data" / name)), name)


def decoded(name: str, data: bytes) -> str:
    """Return the text of a TOML file, without a byte-order mark.

    Raises
    ------
    Refused  when it is not UTF-8.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        line = data.count(b"\n", 0, bad.start) + 1
        rule = f"is not UTF-8 (byte 0x{data[bad.start]:02x})"
        raise Refused(Fault(f"{name}, line {line}", rule, remedy="save the file as UTF-8")) from None


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """Return the tables of a TOML text; `name` is the file that faults tell.

    Raises
    ------
    Refused  when it is not TOML.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as bad:
        raise Refused(_not_toml(text, name, str(bad))) from None
    except RecursionError:
        remedy = "write plain tables"
        raise Refused(Fault(name, "is nested too deep", remedy=remedy)) from None
    except ValueError:  # a number of thousands of digits
        remedy = "quantities stand in quotes with their unit"
        raise Refused(Fault(name, "holds a number no computer takes", remedy=remedy)) from None


def _is_table(text: str) -> bool:
    """Return whether a text that is no TOML begins as a table of rows: heads with marks between them."""
    lines = [line for line in text.splitlines()[:50] if line.strip() and not line.startswith("#")][:2]
    return any(
        len(lines) == 2 and all(line.count(mark) >= 1 for line in lines) and not re.search(r"[=\[]", lines[0])
        for mark in ",;\t"
    )


def _not_toml(text: str, name: str, message: str) -> Fault:
    if _is_table(text):
        rule = "is a bench log or another table of rows (CSV), and no TOML file"
        return Fault(name, rule, remedy="the receiver file comes first; tables go behind it")
    match = _POSITION.fullmatch(message)
    reason = (match[1] if match else message).strip()
    reason = reason[:1].lower() + reason[1:]
    if not match or match[2] is None:
        rule = f"is not TOML: the file ends too early ({reason})"
        return Fault(name, rule, remedy="close what is still open")
    line, column = int(match[2]), int(match[3])
    lines = text.replace("\r\n", "\n").split("\n")
    stands = lines[line - 1].strip() if line <= len(lines) else ""
    remedy = "a text or a quantity with its unit stands in quotes" if "=" in stands else "check this line"
    return Fault(f"{name}, line {line}, column {column}", f"is not TOML: {reason}", stands or None, remedy)
