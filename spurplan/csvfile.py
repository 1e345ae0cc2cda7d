"""The one strict CSV reader.

One damaged row refuses the file. A table read with a hole in it looks like a
clear band, and nobody would ever know; so every fault is reported with its
physical line, the first twenty in full and then the count.

Rows come in batches of columns: text is turned into arrays a batch at a time,
and two million rows never stand in memory as Python strings at once. What is plain
can be had as `csvblocks` has it, many thousand rows at a time and none of them looked
at by itself; what is not, and what is wrong, is always said by the reader here.
"""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from spurplan.csvtext import unguarded
from spurplan.errors import FAULTS_SHOWN, BadValue, Fault, Refused, did_you_mean, quoted
from spurplan.files import LARGEST_BYTES, read_bytes
from spurplan.units import as_path

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

# Larger batches are slower: their lists fall out of the cache.
BATCH_ROWS = 1024
# Bytes of a block that is tried as a whole, and of the least that is read row by row around a fault.
BLOCK_BYTES, LEAST_BYTES = 1 << 24, 1 << 14

_TOML_LOOKED_AT = 1 << 16
_TOML_BEGINS = re.compile(
    rb"(?:[ \t]*(?:#[^\n]*)?\r?\n)*(?:\[\[?[\w.\-]+\]\]?|[A-Za-z_][\w\-]*[ \t]*=[ \t]*[\"'\[{0-9tf])"
)
_RECEIVER_TABLE = re.compile(rb"^\[\[(?:conversion|range)\]\]", re.MULTILINE)
_WIDE_MARKS = (codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_DECODED_BYTES = 1 << 20
_FREQUENCY_UNITS = ("hz", "khz", "mhz", "ghz")
# What people write beside their rows for themselves: known in every table, and nothing hangs on it.
REMARKS = ("note", "source")
_OTHERS_NAMED = 6


class FaultList:
    """Faults as they are found: the first ones by line kept, all of them counted.

    Parameters
    ----------
    kept : int. How many to keep.
    """

    def __init__(self, kept: int = FAULTS_SHOWN) -> None:
        self.kept = kept
        self.total = 0
        self._entries: list[tuple[int, int, Fault]] = []

    def add(self, fault: Fault, line: int = 0) -> None:
        """Count `fault`, and keep it while it is among the first.

        Parameters
        ----------
        fault : Fault.
        line : int. Where it stands: the faults of a batch are not found in that order.
        """
        self._entries.append((line, self.total, fault))
        self.total += 1
        if len(self._entries) >= 16 * self.kept:
            self._entries = sorted(self._entries, key=lambda entry: entry[:2])[: self.kept]

    @property
    def faults(self) -> list[Fault]:
        """The first faults, in order of their lines."""
        return [fault for _, _, fault in sorted(self._entries, key=lambda entry: entry[:2])[: self.kept]]

    def by_line(self) -> list[tuple[int, Fault]]:
        """Return (line, fault) of those kept, in order of their lines."""
        return [(line, fault) for line, _, fault in sorted(self._entries, key=lambda entry: entry[:2])]

    def check(self) -> None:
        """Pass when nothing was found.

        Raises
        ------
        Refused  with the first faults and the count of all.
        """
        if self.total:
            raise Refused(self.faults, self.total)


@dataclass(frozen=True)
class Batch:
    """Some consecutive rows, as columns.

    Attributes
    ----------
    lines : list or array of int, length n. Physical line on which each row begins; header = 1.
    columns : list of sequences of str, one a header column, each of length n.
    """

    lines: list[int] | npt.NDArray[np.int64]
    columns: list[Sequence[str]]


@dataclass
class Sheet:
    """A CSV file whose header has been read and whose rows are to come.

    Attributes
    ----------
    name : str. What the file is called in faults.
    header : tuple of str. Column names, trimmed and in lower case.
    faults : FaultList. What was found so far; `batches` adds to it.
    others : tuple of str. Columns that no known name stands for: left alone.
    blank_lines : int. Blank and ",,," lines skipped so far.
    rows : int. Rows given out so far, damaged ones included.
    """

    name: str
    header: tuple[str, ...]
    faults: FaultList
    others: tuple[str, ...] = ()
    blank_lines: int = 0
    rows: int = 0
    _records: _Records | None = field(default=None, repr=False)
    _first: list[str] = field(default_factory=list, repr=False)
    _guarded: bool = field(default=False, repr=False)

    def place(self, line: int, column: str = "") -> str:
        """Return "north.csv, row 37, column high_mhz"."""
        return f"{self.name}, row {line}" + (f", column {column}" if column else "")

    def batches(self, size: int = BATCH_ROWS) -> Iterator[Batch]:
        """Yield the sound rows in batches; damaged ones become faults."""
        assert self._records is not None  # `open_csv` made it
        yield from self._batched(self._records, None, size)
        self._check_any()

    def blocks(self, largest: int = BLOCK_BYTES, least: int = LEAST_BYTES) -> Iterator[Batch]:
        """Yield the same rows in larger batches, columns of a plain block as `csvblocks.Column`.

        Parameters
        ----------
        largest, least : int. Bytes of the largest block, and of the least that is tried as a whole.
        """
        from spurplan.csvblocks import has_lone_returns, plain_block

        assert self._records is not None  # `open_csv` made it
        content, width = self._records.content, len(self.header)
        if width == 1 or has_lone_returns(content):
            yield from self.batches()  # a line of one column may have no mark at all, and CR may end one
            return
        line = self._records.last
        start = _line_start(content, 0, line)
        size = largest
        while start < len(content):
            stop = content.find(b"\n", min(start + size, len(content)) - 1) + 1 or len(content)
            piece = content[start:stop]
            block = None if self._may_repeat_header(piece) else plain_block(piece, width)
            if block is not None:
                self.rows += len(block.rows)
                self.blank_lines += block.blank_lines
                if len(block.rows):
                    yield Batch(block.rows + (line + 1), list(block.columns))
                line += len(block.rows) + block.blank_lines
                start, size = stop, min(4 * size, largest)
            elif size > least:
                size = max(min(size, stop - start) // 4, least)
            else:
                lines = piece.count(b"\n") + (stop == len(content))
                records = _Records(self, content, start, line)
                yield from self._batched(records, line + lines)
                start, line = _line_start(content, stop, records.last - line - lines), records.last
        self._check_any()

    def _batched(self, records: _Records, end: int | None, size: int = BATCH_ROWS) -> Iterator[Batch]:
        lines: list[int] = []
        rows: list[list[str]] = []
        for line, row in _sound_rows(self, records.until(end)):
            lines.append(line)
            rows.append(row)
            if len(rows) == size:
                yield Batch(lines, list(zip(*rows, strict=True)))
                lines, rows = [], []
        if rows:
            yield Batch(lines, list(zip(*rows, strict=True)))

    def _may_repeat_header(self, piece: bytes) -> bool:
        """Return whether a line of some whole lines begins as the header does, in quotes or without."""
        cell = self._first[0].encode()
        begins = (cell + b",", b'"' + cell.replace(b'"', b'""') + b'",')
        return piece.startswith(begins) or any(b"\n" + begin in piece for begin in begins)

    def _check_any(self) -> None:
        if self.rows == 0:
            self.faults.add(Fault(self.name, "has a header and no rows", remedy="add rows below it"))


@dataclass(frozen=True)
class Cells:
    """A small CSV file read whole.

    Attributes
    ----------
    name : str. What the file is called in faults.
    header : tuple of str. Column names, trimmed and in lower case.
    lines : list of int, length n. Physical line of each row.
    columns : dict of column name to a list of trimmed str, length n.
    blank_lines : int. Blank lines skipped.
    others : tuple of str. As in `Sheet`.
    """

    name: str
    header: tuple[str, ...]
    lines: list[int]
    columns: dict[str, list[str]]
    blank_lines: int
    others: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.lines)

    def place(self, index: int, column: str = "") -> str:
        """Return the place of row `index` (from 0), as in `Sheet.place`."""
        return f"{self.name}, row {self.lines[index]}" + (f", column {column}" if column else "")

    def parsed(self, column: str, parse: Callable[[str], Any], faults: FaultList) -> list[Any]:
        """Return a column put through `parse`; what it refuses is added to `faults` as None."""
        out = []
        for index, text in enumerate(self.columns[column]):
            try:
                out.append(parse(text))
            except BadValue as bad:
                faults.add(bad.at(self.place(index, column)), self.lines[index])
                out.append(None)
        return out


def read_csv(
    path: str | os.PathLike[str],
    needed: Sequence[str] = (),
    *,
    known: Sequence[str] = (),
    data: bytes | None = None,
    limit: int = LARGEST_BYTES,
) -> Cells:
    """Read a small table whole.

    Parameters
    ----------
    path : path of the file; only what it is called in faults where `data` is given.
    needed : names of columns it must have.
    known : names of columns it may have besides; `REMARKS` are known in every table.
    data : bytes or None. What the file holds, when that was read already.
    limit : int. The most bytes the file may have.

    Raises
    ------
    Refused  with every fault: as `open_csv`, and all damaged rows.
    """
    sheet = open_csv(path, needed, known=known, data=data, limit=limit)
    lines: list[int] = []
    columns: list[list[str]] = [[] for _ in sheet.header]
    for batch in sheet.batches():
        lines += batch.lines
        for column, cells in zip(columns, batch.columns, strict=True):
            column += map(str.strip, cells)
    sheet.faults.check()
    named = dict(zip(sheet.header, columns, strict=True))
    return Cells(sheet.name, sheet.header, lines, named, sheet.blank_lines, sheet.others)


def open_csv(
    path: str | os.PathLike[str],
    needed: Sequence[str] = (),
    *,
    known: Sequence[str] = (),
    data: bytes | None = None,
    limit: int = LARGEST_BYTES,
    kept: int = FAULTS_SHOWN,
    maker: str = "",
) -> Sheet:
    """Read the header of a CSV file and make its rows ready to be read.

    Parameters
    ----------
    path, needed, known, data, limit : as in `read_csv`.
    kept : int. How many faults to keep in full.
    maker : str. What makes such a file of one in another form, for the remedy; "" for nothing.

    Raises
    ------
    Refused  when the file can not be read, is empty, is UTF-16 or not UTF-8, holds
        a NUL, is separated by semicolons or tabs, has a column without a name or
        twice, lacks a needed column, or has one whose name is nearly a known one.
    """
    name = as_path(path)
    content = read_bytes(path, limit) if data is None else data
    content = _checked_encoding(name, content)
    _check_no_toml(name, content)
    sheet = Sheet(name, (), FaultList(kept))
    records = _Records(sheet, content)
    line, first = next(records.until(None), (0, []))
    sheet.faults.check()
    if not first:
        raise Refused(Fault(name, "is empty", remedy="give a header and rows"))
    sheet.header = tuple(cell.strip().lower() for cell in first)
    known = (*needed, *known, *REMARKS)
    sheet.others = tuple(name for name in sheet.header if name not in known)
    _check_header(sheet, line, first, needed, known, maker)
    sheet._records, sheet._first = records, first
    sheet._guarded = b"'" in content
    return sheet


def _check_no_toml(name: str, content: bytes) -> None:
    """Pass for anything but a TOML file: its first line that says something is a table or a key.

    Raises
    ------
    Refused  for one.
    """
    begins = _TOML_BEGINS.match(content[:_TOML_LOOKED_AT])
    if begins:
        receiver = _RECEIVER_TABLE.search(content[:_TOML_LOOKED_AT])
        rule = f"is a {'receiver' if receiver else 'TOML'} file, and no table of rows"
        remedy = "the receiver file comes first; a band table or a log is CSV"
        raise Refused(Fault(name, rule, remedy=remedy))


def _checked_encoding(name: str, content: bytes) -> bytes:
    """Return `content` without its byte-order mark."""
    if content.startswith(_WIDE_MARKS) or _looks_wide(content):
        raise Refused(Fault(name, "is UTF-16 or UTF-32", remedy="save it as UTF-8"))
    content = content.removeprefix(codecs.BOM_UTF8)
    nul = content.find(b"\0")
    if nul >= 0:
        place = f"{name}, row {_line_of(content, nul)}"
        raise Refused(Fault(place, "holds a NUL byte", remedy="the file is damaged: save it again as UTF-8"))
    decoder = codecs.getincrementaldecoder("utf-8")()
    for start in range(0, len(content), _DECODED_BYTES):
        piece = content[start : start + _DECODED_BYTES]
        try:
            decoder.decode(piece, start + _DECODED_BYTES >= len(content))
        except UnicodeDecodeError:
            raise Refused(_undecodable(name, content)) from None
    return content


def _looks_wide(content: bytes) -> bool:
    # Without a mark, ASCII text in UTF-16 has a NUL in every other byte.
    head = content[:64]
    return len(head) >= 4 and max(head[::2].count(0), head[1::2].count(0)) * 4 >= len(head)


def _undecodable(name: str, content: bytes) -> Fault:
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as bad:
        place = f"{name}, row {_line_of(content, bad.start)}"
        rule = f"is not UTF-8 (byte 0x{content[bad.start]:02x})"
        return Fault(place, rule, remedy="save the file as UTF-8")
    raise AssertionError("undecodable in pieces and decodable as a whole")


def _line_of(content: bytes, offset: int) -> int:
    before = content[:offset]
    return 1 + before.count(b"\n") + before.count(b"\r") - before.count(b"\r\n")


def _line_start(content: bytes, start: int, lines: int) -> int:
    """Return where the line begins that is so many behind the one beginning at `start`."""
    for _ in range(lines):
        start = content.find(b"\n", start) + 1 or len(content)
    return start


class _Records:
    """The lines of a file that are not blank, as the csv module reads them; quoting faults are added.

    Parameters
    ----------
    sheet : Sheet that counts blank lines and takes the faults.
    content : bytes. The whole file.
    start : int. Where in it to begin, at the beginning of a line.
    before : int. Physical lines before that.
    """

    def __init__(self, sheet: Sheet, content: bytes, start: int = 0, before: int = 0) -> None:
        self.content = content
        self.last = before
        self._sheet = sheet
        self._before = before
        whole = io.BytesIO(content)
        whole.seek(start)
        # newline="" splits at LF, CRLF and CR and nowhere else: str.splitlines would
        # also split at U+2028 or a form feed, which may stand in a label.
        self._reader = csv.reader(io.TextIOWrapper(whole, encoding="utf-8", newline=""), strict=True)

    def until(self, end: int | None) -> Iterator[tuple[int, list[str]]]:
        """Yield (physical line, cells), up to the record with physical line `end`, or to the last."""
        sheet = self._sheet
        while end is None or self.last < end:
            line = self.last + 1
            try:
                row = next(self._reader, None)
            except csv.Error as bad:
                # the reader goes on with the next line
                self.last = self._before + self._reader.line_num
                sheet.rows += 1
                sheet.faults.add(_misquoted(sheet, line, self.last, str(bad)), line)
                continue
            if row is None:
                return
            self.last = self._before + self._reader.line_num
            if not row or (not row[0].strip() and not "".join(row).strip()):
                sheet.blank_lines += self.last - line + 1
            elif self.last > line and _swallowed(sheet, row):
                sheet.rows += 1
                sheet.faults.add(_unclosed(sheet, line), line)
            else:
                yield line, row


def _misquoted(sheet: Sheet, line: int, last: int, message: str) -> Fault:
    if "unexpected end" in message or last > line:
        return _unclosed(sheet, line)
    if "field limit" in message:
        rule = f"has a cell longer than {csv.field_size_limit():,} characters"
        return Fault(sheet.place(line), rule, remedy="shorten it")
    return Fault(
        sheet.place(line), "goes on after a closing quote", remedy='write a quote inside quotes twice, as ""'
    )


def _unclosed(sheet: Sheet, line: int) -> Fault:
    return Fault(sheet.place(line), "opens a quote that is not closed", remedy="close it, or take it out")


def _swallowed(sheet: Sheet, row: list[str]) -> bool:
    # A quote that was meant to close on its line and met the opening quote of a
    # later row makes one cell of all the rows between. A remark over several
    # lines is allowed; lines with as many commas as a row has are not a remark.
    commas = max(1, len(sheet.header) - 1)
    return any(line.count(",") >= commas for line in ",".join(row).splitlines()[1:])


def _check_header(
    sheet: Sheet, line: int, first: list[str], needed: Sequence[str], known: Sequence[str], maker: str
) -> None:
    if len(first) == 1:
        for mark, spoken in ((";", "semicolons"), ("\t", "tabs")):
            if mark in first[0]:
                remedy = "save it separated by commas, decimals with a point"
                remedy += f"; or make one of it with {maker}" if maker else ""
                raise Refused(Fault(sheet.name, f"is separated by {spoken}", remedy=remedy))
    for number, column in enumerate(sheet.header, 1):
        if not column:
            rule = f"column {number} has no name"
            sheet.faults.add(Fault(sheet.place(line), rule, remedy="name it, or delete the column"))
        elif column in sheet.header[: number - 1]:
            remedy = "delete one of them, or give it another name"
            sheet.faults.add(Fault(sheet.place(line), "is the name of two columns", column, remedy))
    misspelt = _misspelt(sheet, line, known)
    for column in needed:
        if column not in sheet.header and column not in misspelt:
            remedy = did_you_mean(column, [name for name in sheet.header if name])
            sheet.faults.add(Fault(sheet.place(line), f"has no column {column}", remedy=remedy))
    sheet.faults.check()


def _misspelt(sheet: Sheet, line: int, known: Sequence[str]) -> set[str]:
    """Add a fault for each column whose name is nearly a known one; return what was meant.

    Notes
    -----
    Read past, such a column would leave its rows with other levels, hours or regions than their
    author wrote down, and no answer would show it.
    """
    present = {_quantity(name) for name in sheet.header if name in known}
    meant = set()
    for name in filter(None, sheet.others):
        same = [word for word in known if _unit(word) and _unit(name) and _quantity(word) == _quantity(name)]
        if same:
            given = [word for word in same if word in sheet.header]
            rule = f"gives {_quantity(name)} a second time" if given else "is in a unit not taken here"
            remedy = f"keep {given[0]} alone" if given else f"give it as {same[0]}"
            meant.update(same)
        else:
            absent = [word for word in known if _quantity(word) not in present]
            near = [word for word in absent if _spelt(word) == _spelt(name)]
            near = near or [word for word in absent if _one_edit_apart(word, name)]
            if not near:
                continue
            rule = "is not a column of this table"
            remedy = f'did you mean "{near[0]}"? If it is a column of your own, call it something else'
            meant.add(near[0])
        sheet.faults.add(Fault(sheet.place(line), rule, name, remedy))
    return meant


def _unit(name: str) -> str:
    """Return the unit of frequency at the end of a column's name, "" for none."""
    stem, _, unit = name.rpartition("_")
    return unit if stem and unit in _FREQUENCY_UNITS else ""


def _quantity(name: str) -> str:
    """Return a column's name without its unit of frequency: low_khz and low_mhz are one quantity."""
    return name.removesuffix(f"_{_unit(name)}") if _unit(name) else name


def _spelt(name: str) -> str:
    """Return what is left of a column's name without hyphens, underscores, spaces and a plural."""
    return re.sub(r"[-_\s]", "", name).removesuffix("s")


def _one_edit_apart(name: str, other: str) -> bool:
    """Return whether one character more, less or other, or two exchanged, turns a name into another."""
    short, long = sorted((name, other), key=len)
    same = next((i for i, (a, b) in enumerate(zip(short, long, strict=False)) if a != b), len(short))
    if len(short) < len(long):
        return short[same:] == long[same + 1 :]
    exchanged = (
        short[same : same + 2] == long[same : same + 2][::-1] and short[same + 2 :] == long[same + 2 :]
    )
    return short[same + 1 :] == long[same + 1 :] or exchanged


def left_alone(name: str, others: Sequence[str]) -> list[str]:
    """Return what to say, in words, of the columns of a file that nothing reads; nothing for none.

    Parameters
    ----------
    name : str. What the file is called.
    others : names of those columns, as in `Sheet`.
    """
    if not others:
        return []
    named = ", ".join(quoted(other) for other in others[:_OTHERS_NAMED])
    more = f" and {len(others) - _OTHERS_NAMED} more" if len(others) > _OTHERS_NAMED else ""
    return [f"{name}: nothing reads its column{'' if len(others) == 1 else 's'} {named}{more}"]


def _sound_rows(sheet: Sheet, records: Iterator[tuple[int, list[str]]]) -> Iterator[tuple[int, list[str]]]:
    first, guarded = sheet._first, sheet._guarded
    width = len(first)
    for record in records:
        line, row = record
        sheet.rows += 1
        if len(row) != width:
            sheet.faults.add(_ragged(sheet, line, len(row)), line)
        elif row == first:
            remedy = "delete it: two files were joined"
            sheet.faults.add(Fault(sheet.place(line), "is the header again", remedy=remedy), line)
        else:
            yield (line, [unguarded(cell) for cell in row]) if guarded else record


def _ragged(sheet: Sheet, line: int, cells: int) -> Fault:
    rule = f"has {cells} cell{'' if cells == 1 else 's'} where the header has {len(sheet.header)}"
    if cells > len(sheet.header):
        return Fault(
            sheet.place(line), rule, remedy="put a text with a comma in quotes, decimals with a point"
        )
    return Fault(sheet.place(line), rule, remedy="put a comma for every empty cell")
