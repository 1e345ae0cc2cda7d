"""A progress bar on standard error, with the time left: none before a second, none in a pipe."""

from __future__ import annotations

import contextlib
import math
import sys
import time
from collections.abc import Callable, Iterator

PATIENCE_S = 1.0
WIDTH = 30

Progress = Callable[[int, int], None]


@contextlib.contextmanager
def counting(what: str) -> Iterator[Progress | None]:
    """Yield what to call with (done, in all); None where nobody watches standard error.

    Parameters
    ----------
    what : str. What is counted, in the plural.

    Notes
    -----
    The bar is wiped off the line at the end, also when the work is cut short.
    """
    stream = sys.stderr
    if stream is None or not stream.isatty():
        yield None
        return
    start = time.monotonic()
    shown = 0

    def show(done: int, whole: int) -> None:
        nonlocal shown
        if time.monotonic() - start < PATIENCE_S or done >= whole:
            return
        full = WIDTH * done // max(whole, 1)
        line = f"[{'#' * full}{'.' * (WIDTH - full)}] {done:,} of {whole:,} {what}"
        if done:
            line += f", {duration_text((time.monotonic() - start) * (whole - done) / done)} left"
        stream.write(f"\r{line.ljust(shown)}")
        stream.flush()
        shown = len(line)

    try:
        yield show
    finally:
        if shown:
            with contextlib.suppress(OSError):
                stream.write(f"\r{' ' * shown}\r")
                stream.flush()


def duration_text(seconds: float) -> str:
    """Return a time for somebody who waits: "5 s", "3 min"; never less than what is left."""
    return f"{math.ceil(seconds)} s" if seconds < 90 else f"{math.ceil(seconds / 60)} min"
