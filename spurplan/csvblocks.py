"""Rows of a CSV file as columns of cells, many thousand rows at a time.

A block of whole lines is *plain* when nothing in it needs a second look: every line has as
many cells as the header, quotes open behind a comma and close before one, nothing but CRLF
and LF ends a line. Of a plain block the cells are known by where they begin and end, and only
the distinct ones ever become text. Whatever is not plain is read by `csvfile`, cell by cell.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, overload

import numpy as np
import numpy.typing as npt

from spurplan.csvtext import unguarded

_COMMA, _LF, _CR, _QUOTE, _POINT, _PLUS, _MINUS, _ZERO = b',\n\r".+-0'
# A cell is compared eight bytes at a time; behind its last block a file needs as many more.
_PAD = b"\0" * 8
_WORD = 8
# From so many on a table of hashes is worth the import of who keeps one.
_MANY = 100_000
_ODD = np.uint64(0x9E3779B97F4A7C15)  # 2^64 over the golden mean: odd, and its bits are well mixed
_MOST_DIGITS = 16

Places = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


class Digits(NamedTuple):
    """Cells as decimal digits.

    Attributes
    ----------
    value : int64 array. All digits of a cell as one integer, the point left out.
    decimals : int64 array. How many of them stand behind the point.
    sign : int8 array. -1, 1, or 0 where none is written.
    plain : bool array. Whether the cell is ASCII digits with at most one point and one sign, and has
        at most 16 characters; nothing else is said of a cell that is not.
    """

    value: Places
    decimals: Places
    sign: npt.NDArray[np.int8]
    plain: Bools


# for each eight bytes in a row of the cells that have so many: which cells, and the bytes as an integer
Words = list[tuple[npt.NDArray[np.intp] | slice, npt.NDArray[np.uint64]]]


class Column(Sequence[str]):
    """The cells of one column in a plain block.

    Parameters
    ----------
    data : bytes. The block, with eight bytes more behind it.
    start, stop : int64 arrays, length n. Where each cell stands in it, quotes included.
    guarded : bool. Whether any of its cells may have the apostrophe of `csvtext.guarded`.
    """

    def __init__(self, data: bytes, start: Places, stop: Places, guarded: bool) -> None:
        self._data = data
        self._start = start
        self._stop = stop
        self._guarded = guarded

    def __len__(self) -> int:
        return len(self._start)

    @overload
    def __getitem__(self, at: int) -> str: ...
    @overload
    def __getitem__(self, at: slice) -> Column: ...
    def __getitem__(self, at: int | slice) -> str | Column:
        if isinstance(at, slice):
            return Column(self._data, self._start[at], self._stop[at], self._guarded)
        return self._texts(self._start[at : at + 1], self._stop[at : at + 1])[0]

    def take(self, which: npt.NDArray[np.intp]) -> Column:
        """Return some of the cells."""
        return Column(self._data, self._start[which], self._stop[which], self._guarded)

    @property
    def lengths(self) -> Places:
        """How many bytes each cell has, quotes included."""
        return self._stop - self._start

    def distinct(self) -> tuple[npt.NDArray[np.intp], list[str]]:
        """Return for each cell the number of its text, and the texts, in the order in which they appear.

        Notes
        -----
        A text that is written in quotes and without may be among them twice.
        """
        words = self._words()
        codes, first = numbered(_mixed(words))
        if self._differ(words, first[codes]):
            return self._distinct_by_text()
        return codes, self._texts(self._start[first], self._stop[first])

    def digits(self) -> Digits:
        """Return the cells as decimal digits."""
        quoted = np.frombuffer(self._data, np.uint8)[self._start] == _QUOTE
        if quoted.any():
            return Column(self._data, self._start + quoted, self._stop - quoted, False).digits()
        lengths = self.lengths
        count = min(int(lengths.max(initial=0)), _MOST_DIGITS)
        words = np.zeros((max(1, -(-count // _WORD)), len(self)), "<u8")
        for number, (cells, word) in zip(range(len(words)), self._words(), strict=False):
            words[number, cells] = word
        # a row for each place in a cell
        by_place = (
            words.view(np.uint8).reshape(len(words), -1, _WORD).transpose(0, 2, 1).reshape(-1, len(self))
        )
        by_place = np.ascontiguousarray(by_place)
        value = np.zeros(len(self), np.int64)
        decimals = np.zeros(len(self), np.int64)
        pointed = np.zeros(len(self), np.bool_)
        plain = (lengths > 0) & (lengths <= _MOST_DIGITS)
        sign = np.zeros(len(self), np.int8)
        if count:
            sign += by_place[0] == _PLUS
            sign -= by_place[0] == _MINUS
        for place in range(count):
            # a byte that is no digit is above 9, those below "0" as well: unsigned, they wrap round
            digit = by_place[place] - np.uint8(_ZERO)
            is_digit = digit < 10
            is_point = by_place[place] == _POINT
            value = np.where(is_digit, value * 10 + digit, value)
            decimals += is_digit & pointed
            sound = is_digit | (is_point & ~pointed) | (lengths <= place)
            plain &= sound if place else sound | (sign != 0)
            pointed |= is_point
        digit_counts = lengths - pointed - (sign != 0)
        plain &= (digit_counts > 0) & ((decimals > 0) == pointed)
        return Digits(value, decimals, sign, plain)

    def _words(self) -> Words:
        """Return the bytes of the cells, eight at a time: which cells have so many, and those as integers.

        Notes
        -----
        Zeros stand behind the end of a cell. There is no NUL in a file, so that they are no part of it.
        """
        # the eight bytes that begin at every byte
        all_words: npt.NDArray[np.uint64] = np.ndarray(
            (len(self._data) - _WORD + 1,), "<u8", self._data, strides=(1,)
        )
        cells: npt.NDArray[np.intp] | slice = slice(None)
        start, rest = self._start, self.lengths
        words: Words = []
        while len(start):
            words.append((cells, all_words[start] & _KEPT[np.minimum(rest, _WORD)]))
            longer = np.flatnonzero(rest > _WORD)
            cells = longer if isinstance(cells, slice) else cells[longer]
            start, rest = start[longer] + _WORD, rest[longer] - _WORD
        return words

    def _differ(self, words: Words, as_: npt.NDArray[np.intp]) -> bool:
        """Return whether any cell is not, byte for byte, the cell it is taken for."""
        lengths = self.lengths
        if len(words) < 2:
            return False  # up to eight bytes are their own key
        if (lengths[as_] != lengths).any():
            return True
        at = np.zeros(len(self), np.intp)  # where the words of a cell stand among those of its number
        for cells, word in words:
            if isinstance(cells, slice):
                if (word != word[as_]).any():
                    return True
                continue
            at[cells] = np.arange(len(cells))
            if (word != word[at[as_[cells]]]).any():
                return True
        return False

    def _distinct_by_text(self) -> tuple[npt.NDArray[np.intp], list[str]]:
        seen: dict[str, int] = {}
        texts = self._texts(self._start, self._stop)
        codes = [seen.setdefault(text, len(seen)) for text in texts]
        return np.array(codes, np.intp), list(seen)

    def _texts(self, start: Places, stop: Places) -> list[str]:
        data = self._data
        texts = [data[a:b].decode() for a, b in zip(start.tolist(), stop.tolist(), strict=True)]
        if (np.frombuffer(data, np.uint8)[start] == _QUOTE).any():
            texts = [text[1:-1].replace('""', '"') if text[:1] == '"' else text for text in texts]
        return [unguarded(text) for text in texts] if self._guarded else texts


@dataclass(frozen=True)
class Block:
    """Some consecutive lines of which every one is a row or blank.

    Attributes
    ----------
    rows : intp array, length n. Which lines are rows, from 0.
    columns : list of Column, one a header column, each of length n.
    blank_lines : int. The other lines.
    """

    rows: npt.NDArray[np.intp]
    columns: list[Column]
    blank_lines: int


def numbered(keys: npt.NDArray[Any]) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Return for each key the number of its kind, and where each kind stands first; kinds in that order."""
    if len(keys) >= _MANY:
        import pandas as pd

        codes = np.asarray(pd.factorize(keys)[0], np.intp)
        return codes, np.flatnonzero(np.diff(np.maximum.accumulate(codes), prepend=-1))
    order = np.argsort(keys)
    ordered = keys[order]
    begins = np.ones(len(keys), np.bool_)
    begins[1:] = ordered[1:] != ordered[:-1]
    first = np.minimum.reduceat(order, np.flatnonzero(begins)) if len(keys) else order
    by_first = np.argsort(first)
    number = np.empty_like(by_first)
    number[by_first] = np.arange(len(by_first))
    codes = np.empty_like(order)
    codes[order] = number[np.cumsum(begins) - 1]
    return codes, first[by_first]


def _mixed(words: Words) -> npt.NDArray[np.uint64]:
    """Return an integer a cell, the same for the same bytes."""
    if not words:
        return np.zeros(0, np.uint64)
    key = words[0][1].copy()
    for cells, word in words[1:]:
        mixed = key[cells] * _ODD
        key[cells] = (mixed ^ (mixed >> np.uint64(29))) + word
    return key


def has_lone_returns(piece: bytes) -> bool:
    """Return whether a carriage return stands anywhere but before a line feed."""
    return b"\r" in piece and piece.count(b"\r") != piece.count(b"\r\n")


def plain_block(piece: bytes, width: int) -> Block | None:
    """Return the cells of some whole lines, None where they are not plain.

    Parameters
    ----------
    piece : bytes. UTF-8 without NUL, from the beginning of a line to the end of one.
    width : int. Cells of the header.

    Notes
    -----
    A line with no cell at all is not plain; one of commas, spaces and nothing else is blank.
    """
    if has_lone_returns(piece):
        return None
    whole = piece if piece.endswith(b"\n") else piece + b"\n"
    data = whole + _PAD
    shown = np.frombuffer(data, np.uint8)[: len(whole)]
    marks = np.flatnonzero((shown == _COMMA) | (shown == _LF))
    if b'"' in piece:
        inside = np.cumsum(shown == _QUOTE, dtype=np.uint8) & 1
        if not _well_quoted(shown) or (inside[marks] & (shown[marks] == _LF)).any():
            return None
        marks = marks[inside[marks] == 0]
    if len(marks) % width:
        return None
    stops = marks.reshape(-1, width)
    ends = shown[stops] == _LF
    if ends[:, :-1].any() or not ends[:, -1].all():
        return None
    starts = np.empty_like(stops)
    starts.ravel()[0] = 0
    starts.ravel()[1:] = marks[:-1] + 1
    if b"\r" in piece:
        stops[:, -1] -= shown[stops[:, -1] - 1] == _CR
    if (stops - starts).max() > csv.field_size_limit():
        return None
    blank = _blank(data, shown, starts, stops)
    rows = np.flatnonzero(~blank)
    if blank.any():
        starts, stops = starts[rows], stops[rows]
    guarded = b"'" in piece
    columns = [
        Column(data, np.ascontiguousarray(starts[:, at]), np.ascontiguousarray(stops[:, at]), guarded)
        for at in range(width)
    ]
    return Block(rows, columns, len(blank) - len(rows))


def _well_quoted(shown: npt.NDArray[np.uint8]) -> bool:
    """Return whether quotes open behind a comma or line end and close before one, or are doubled."""
    quotes = np.flatnonzero(shown == _QUOTE)
    if len(quotes) % 2:
        return False
    opening, closing = quotes[::2], quotes[1::2]
    before = np.where(opening > 0, shown[opening - 1], _LF)
    behind = shown[closing + 1]  # the last byte of all ends a line
    good_before = (before == _COMMA) | (before == _LF)
    good_before[1:] |= opening[1:] == closing[:-1] + 1
    good_behind = (behind == _COMMA) | (behind == _LF) | (behind == _CR)
    good_behind[:-1] |= opening[1:] == closing[:-1] + 1
    return bool(good_before.all() and good_behind.all())


def _blank(data: bytes, shown: npt.NDArray[np.uint8], starts: Places, stops: Places) -> Bools:
    """Return which lines hold nothing but blanks in their cells."""
    blank = np.zeros(len(starts), np.bool_)
    # nearly every line shows something in its first cell
    first = shown[starts[:, 0]]
    doubtful = np.flatnonzero(~_VISIBLE[first] | (stops[:, 0] == starts[:, 0]))
    if len(doubtful):
        seen = np.add.reduceat(_VISIBLE[shown], starts[:, 0], dtype=np.int64)
        for at in doubtful[seen[doubtful] == 0].tolist():
            row = Column(data, starts[at], stops[at], False)
            blank[at] = not "".join(row).strip()
    return blank


_KEPT = np.array([(1 << 8 * count) - 1 for count in range(_WORD + 1)], np.uint64)
# ASCII that can be seen, without what separates and quotes
_VISIBLE = np.zeros(256, np.bool_)
_VISIBLE[0x21:0x7F] = True
_VISIBLE[[_COMMA, _QUOTE]] = False
