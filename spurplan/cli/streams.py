"""Standard output and error: harmless text in the encoding at hand.

Labels come out of files that anybody may have written. What reaches a terminal
must not move its cursor, change its title or reverse its text.
"""

from __future__ import annotations

import codecs
import contextlib
import io
import os
import shutil
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from spurplan.errors import Fault, Refused
from spurplan.reporting.plain import harmless

PIPE_WIDTH = 200
_STAND_INS = {
    "−": "-",
    "–": "-",
    "—": "-",
    "×": "x",
    "…": "...",
    "≥": ">=",
    "≤": "<=",
    "µ": "u",
    "Ω": "ohm",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
}


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start : error.end]
    return "".join(_STAND_INS.get(c, "?") for c in lost), error.end


class _Closed(io.TextIOBase):
    """Standard output that was closed before we began."""

    def write(self, text: str, /) -> int:
        raise Refused(Fault("standard output", "is closed", remedy="write to a file with --output"))


def prepare() -> None:
    """Let the standard streams write any text: what they cannot encode is replaced.

    Notes
    -----
    Where standard error is closed, messages go nowhere: typer would write them
    to standard output. Where that is closed, whatever is written to it is refused.
    """
    codecs.register_error("spurplan.stand_in", _stand_in)
    if sys.stderr is None:
        sys.stderr = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 (open to the end)
    if sys.stdout is None:
        sys.stdout = _Closed()
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="spurplan.stand_in")


def page_width(to_file: bool = False) -> int:
    """Return the columns there are to fill: the terminal's, COLUMNS, or plenty in a pipe or file."""
    if os.environ.get("COLUMNS", "").isdigit() or (is_terminal() and not to_file):
        return max(40, shutil.get_terminal_size((80, 24)).columns)
    return PIPE_WIDTH


def is_terminal() -> bool:
    """Return whether a person reads standard output."""
    return sys.stdout is not None and sys.stdout.isatty()


def may_emphasise() -> bool:
    """Return whether bold and faint are wanted: a terminal, and no NO_COLOR, no TERM=dumb."""
    return is_terminal() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def put(pieces: Iterable[str], *, data: bool) -> None:
    """Write an answer to standard output.

    Parameters
    ----------
    pieces : text, in order.
    data : bool. Whether it is JSON or CSV: written as UTF-8 where a program
        reads it, and made harmless where a terminal does.

    Raises
    ------
    Refused  when the stream was closed before we began.
    OSError  when it can not be written: a full disk, a reader that has gone.
    """
    terminal = is_terminal()
    if data and not terminal:
        reconfigure = getattr(sys.stdout, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="strict", newline="\n")
    for piece in pieces:
        sys.stdout.write(harmless(piece, keep="\n") if data and terminal else piece)
    sys.stdout.flush()


@contextlib.contextmanager
def without_chatter() -> Iterator[None]:
    """Keep off standard error what the plotting library, and what it starts, say to whoever set them up.

    Notes
    -----
    Where no home can be written to, it keeps its tables of fonts elsewhere and says so each time.
    Faults of ours are exceptions and pass.
    """
    import logging

    log = logging.getLogger("matplotlib")
    before, nowhere, kept = log.level, os.open(os.devnull, os.O_WRONLY), None
    log.setLevel(logging.CRITICAL + 1)
    try:
        with contextlib.suppress(OSError):  # closed: then nothing can be said there
            kept = os.dup(2)
            os.dup2(nowhere, 2)
        yield
    finally:
        log.setLevel(before)
        os.close(nowhere)
        if kept is not None:
            os.dup2(kept, 2)
            os.close(kept)


def complain(text: str) -> None:
    """Write lines for the user to standard error."""
    if sys.stderr is None:
        return
    with contextlib.suppress(OSError):
        sys.stderr.write(harmless(text, keep="\n") + "\n")
        sys.stderr.flush()


def flush() -> None:
    """Write out what is still held back, so that a closed pipe shows here and not at exit."""
    if sys.stdout is not None:
        sys.stdout.flush()


def abandon() -> None:
    """Send the rest of standard output nowhere: the interpreter flushes it once more at exit."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    # a captured stream has no file descriptor, and nothing left to flush either
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
