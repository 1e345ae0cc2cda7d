"""CSV as we write it, and the mark that keeps a text cell from being taken for a formula.

The reader of `csvfile` takes the mark off again: what was written is what is read.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from itertools import chain

# A spreadsheet would take a cell that begins so for a formula.
_FORMULA = re.compile(r"'*[=+\-@\t]")
_GUARDED = re.compile(r"'+[=+\-@\t]")


def guarded(text: str) -> str:
    """Return a text cell as it is written: one apostrophe ahead of = + - @ or tab.

    Notes
    -----
    Text that begins with apostrophes and then one of these gets one more, so
    that reading gives back exactly what was written.
    """
    return "'" + text if _FORMULA.match(text) else text


def unguarded(text: str) -> str:
    """Return a cell as it was meant: the one apostrophe of `guarded` taken off."""
    return text[1:] if _GUARDED.match(text) else text


def csv_text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a CSV text with LF line ends; text cells are guarded, None is empty.

    Parameters
    ----------
    header : names of the columns.
    rows : cells as str, int, float or None, as many as the header has.
    """
    out = io.StringIO(newline="")
    # CRLF inside, so that a cell with either of them is put in quotes by every
    # Python; the record ends are turned to LF one record at a time.
    line = io.StringIO(newline="")
    writer = csv.writer(line, lineterminator="\r\n")
    for row in chain([header], rows):
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in row])
        out.write(line.getvalue()[:-2] + "\n")
        line.seek(0)
        line.truncate()
    return out.getvalue()
