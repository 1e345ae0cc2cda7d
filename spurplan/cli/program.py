"""The command line as a process of its own: what it may set that a library must not."""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
from types import FrameType

from spurplan.cli import INTERRUPTED, main

# Objects made before the collector looks for rings of them. Starting makes some hundred thousand that
# live until the end; to go through them ten times over costs a tenth of a short command.
COLLECT_AFTER = 200_000


def program() -> int:
    """Run the command line of this process and return its exit status."""
    gc.set_threshold(COLLECT_AFTER)
    # Plugins would be searched for in everything installed, and the validators of options ask for none.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # Nothing here is large enough for numpy's linear algebra to share it out: threads only take time.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _leave_nothing_when_ended()
    try:
        status = main()
    except KeyboardInterrupt:  # while the command line itself was being imported
        return INTERRUPTED
    # What is left goes with the process: no need to go through it once more.
    gc.freeze()
    return status


def _leave_nothing_when_ended() -> None:
    """Let a signal that ends the process take away what is not written to its end.

    Notes
    -----
    The process then ends by that signal, as it would have; one that whoever started
    it had ignored (nohup) stays ignored.
    """
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)  # Windows has no hang-up
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, _end)


def _end(number: int, _: FrameType | None) -> None:
    files = sys.modules.get("spurplan.files")
    with contextlib.suppress(AttributeError):  # while it is being imported
        if files is not None:
            files.remove_unfinished()
    signal.signal(number, signal.SIG_DFL)
    os.kill(os.getpid(), number)
