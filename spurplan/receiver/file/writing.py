"""The receiver file written: afresh, or into the file the user wrote, comments kept.

Where a command saves over a file, only the values that changed are touched;
what the user wrote as ``0.465 MHz`` stays as it is while it means the same.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spurplan.errors import Refused
from spurplan.files import read_bytes, write_text
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.tables import receiver_tables
from spurplan.tomlfile import LARGEST_FILE, decoded
from spurplan.units import as_path

if TYPE_CHECKING:
    from tomlkit.container import Container
    from tomlkit.items import AbstractTable

    Holder = Container | AbstractTable

_TABLE_LISTS = ("ahead", "conversion", "internal", "local", "range")


def write_receiver(
    receiver: Receiver,
    path: str | os.PathLike[str],
    keep_comments_of: str | os.PathLike[str] | None = None,
) -> None:
    """Write a receiver file, whole or not at all.

    Parameters
    ----------
    receiver : Receiver.
    path : path of the file; an existing one is replaced.
    keep_comments_of : path or None. A receiver file whose comments and order
        are kept, usually the one the receiver was read from; one that does not
        exist is passed over.

    Raises
    ------
    Refused  when the file can not be written, the kept one can not be read, or
        a curve or table the description names does not exist.
    """
    name = as_path(path)
    write_text(path, receiver_toml(receiver, name, keep_comments_of))


def receiver_toml(
    receiver: Receiver,
    path: str = "receiver.toml",
    keep_comments_of: str | os.PathLike[str] | None = None,
) -> str:
    """Return the text of a receiver file that will stand at `path`; else as `write_receiver`."""
    wanted = receiver_tables(receiver, os.path.dirname(path))  # noqa: PTH120  "" stays ""
    if keep_comments_of is not None and Path(keep_comments_of).exists():
        text = _patched(wanted, os.fspath(keep_comments_of))
        if text is not None and _says(text, path, wanted):
            return text
    text = fresh_text(wanted)
    parse_receiver(text, path)  # a curve it names may be gone
    return text


def _says(text: str, path: str, wanted: dict[str, Any]) -> bool:
    """Whether a patched text reads back as what was to be written."""
    try:
        back = parse_receiver(text, path)
    except Refused:
        return False
    return receiver_tables(back, os.path.dirname(path)) == wanted  # noqa: PTH120


# --- afresh --------------------------------------------------------------------------------


def fresh_text(tables: dict[str, Any]) -> str:
    """Return tables as the text of a new file, in the order of a signal's way."""
    return "\n".join(_lines(tables, "")).strip("\n") + "\n"


def _lines(table: dict[str, Any], name: str) -> list[str]:
    """Return the lines of a table: its own values first, then the tables below it."""
    lines = [f"{key} = {inline(value)}" for key, value in table.items() if not _is_below(key, value)]
    for key, value in table.items():
        if not _is_below(key, value):
            continue
        below = f"{name}.{key}" if name else key
        if isinstance(value, dict):
            # a part of the table above stands close to it
            lines += [*([] if name else [""]), f"[{below}]", *_lines(value, below)]
        else:
            for item in value:
                lines += ["", f"[[{below}]]", *_lines(item, below)]
    return lines


def _is_below(key: str, value: Any) -> bool:
    return isinstance(value, dict) or (key in _TABLE_LISTS and isinstance(value, list))


def inline(value: Any) -> str:
    """Return a value as TOML writes it on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # the escapes of JSON are those of TOML, and TOML wants one more
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {inline(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(inline(item) for item in value) + "]"
    return repr(value)


# --- into the user's own text --------------------------------------------------------------


def _patched(wanted: dict[str, Any], kept: str) -> str | None:
    """Return the user's text with the values that changed; None where it resists."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    text = decoded(kept, read_bytes(kept, LARGEST_FILE))
    before = receiver_tables(parse_receiver(text, kept), os.path.dirname(kept))  # noqa: PTH120
    try:
        document = tomlkit.parse(text)
        _patch(document, before, wanted)
        return tomlkit.dumps(document)
    except (TOMLKitError, KeyError, ValueError, TypeError, AttributeError):
        return None  # some forms of TOML it can read and not edit


def _patch(holder: Holder, before: dict[str, Any], after: dict[str, Any]) -> None:
    """Bring one table from what it said to what it is to say."""
    for key in before:
        if key not in after and key in holder:
            del holder[key]
    for key, value in after.items():
        if key in holder and before.get(key) == value:
            continue
        if key in holder and isinstance(value, dict) and isinstance(before.get(key), dict):
            _patch(holder[key], before[key], value)
        elif key in holder and key in _TABLE_LISTS and before.get(key):
            held = _patched_list(key, holder[key], before[key], value)
            if held is not holder[key]:
                holder[key] = held
        else:
            _put(holder, key, value)


def _put(holder: Holder, key: str, value: Any) -> None:
    """Set a value; a new one goes ahead of the tables below, where TOML needs it."""
    import tomlkit

    if key in holder:
        comment = getattr(getattr(holder[key], "trivia", None), "comment", "")
        holder[key] = _item(key, value)
        if comment and not _is_below(key, value):
            holder[key].comment(comment.lstrip("# "))
        return
    item = _item(key, value)
    if _is_below(key, value):
        holder.append(key, item)
        return
    first_below = next((k for k, v in holder.items() if _is_below(k, v)), None)
    plain = [k for k, v in holder.items() if not _is_below(k, v)]
    if first_below is None or not plain:
        holder[key] = item
        return
    container: Any = holder if isinstance(holder, tomlkit.TOMLDocument) else holder.value
    container._insert_after(plain[-1], key, item)


def _item(key: str, value: Any) -> Any:
    """Return a value as an item to put into a document, laid out as in a fresh file."""
    import tomlkit

    if not _is_below(key, value):
        return tomlkit.value(inline(value))
    return tomlkit.parse("\n".join(_lines({key: value}, "")).lstrip("\n") + "\n")[key]


def _patched_list(key: str, held: Any, before: list[Any], after: list[Any]) -> Any:
    """Return a list of tables, those that were there already with their comments."""
    import tomlkit

    partners = _partners(before, after)
    kept = [partner for partner in partners if partner is not None]
    if kept == sorted(kept) and partners[: len(kept)] == kept:
        return _patched_in_place(key, held, before, after, kept)
    out = tomlkit.aot()
    for value, partner in zip(after, partners, strict=True):
        if partner is None:
            out.append(_item(key, [value])[0])
        else:
            _patch(held[partner], before[partner], value)
            out.append(held[partner])
    return out


def _patched_in_place(key: str, held: Any, before: list[Any], after: list[Any], kept: list[int]) -> Any:
    """Return the list itself, where nothing new comes ahead of what it had."""
    for value, partner in zip(after, kept, strict=False):
        _patch(held[partner], before[partner], value)
    for gone in sorted(set(range(len(before))) - set(kept), reverse=True):
        del held[gone]
    for value in after[len(kept) :]:
        held.append(_item(key, [value])[0])
    return held


def _partners(before: list[dict[str, Any]], after: list[dict[str, Any]]) -> list[int | None]:
    """Return for each new table the old one it comes from: the same, the same name, the same place."""
    free = set(range(len(before)))
    partners: list[int | None] = [None] * len(after)

    def pair(same: Any) -> None:
        for number, value in enumerate(after):
            if partners[number] is None:
                partner = next((old for old in sorted(free) if same(old, number, value)), None)
                if partner is not None:
                    partners[number] = partner
                    free.discard(partner)

    pair(lambda old, number, value: before[old] == value)
    pair(lambda old, number, value: "name" in value and before[old].get("name") == value["name"])
    # counted from the end: what is added to a chain of conversions is put in front
    if not any("name" in value for value in after):
        pair(lambda old, number, value: len(before) - old == len(after) - number)
    return partners
