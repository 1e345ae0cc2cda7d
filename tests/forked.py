"""Commands as processes of their own, forked from one that has everything loaded: fifty a second.

A `Fork` is started once; `run(jobs)` starts all jobs together and returns how
each ended. Job and result are lines of JSON. What goes wrong in the forked
process goes to the standard error of its job, as it would in a fresh one.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import subprocess
import sys
import traceback
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
# how standard output or error may stand: appended to a file, closed, on a full disk, nobody reading
CLOSED, FULL, GONE = "<closed>", "<full>", "<gone>"
LOADED = (
    "spurplan.cli.app",
    "spurplan.responses.dial",
    "spurplan.responses.ranges",
    "spurplan.responses.station",
    "spurplan.planning.if_change.if_change",
    "spurplan.planning.bench.bench_sheet",
    "spurplan.planning.bench.readings",
    "spurplan.occupancy.station_list",
    "spurplan.receiver.file.writing",
    "spurplan.receiver.file.starter",
    "spurplan.reporting.charts.ranges",
    "spurplan.reporting.charts.ink",
    "spurplan.reporting.text",
    "spurplan.reporting.data",
    "matplotlib.backends.backend_svg",
    "matplotlib.figure",
    "tomlkit",
)


class Fork:
    """The process that others are forked from; a context."""

    def __enter__(self) -> Fork:
        self._server = subprocess.Popen(
            [sys.executable, "-m", "tests.forked"],
            cwd=ROOT,
            env=os.environ | {"OPENBLAS_NUM_THREADS": "1", "COLUMNS": "100"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        return self

    def __exit__(self, *_: object) -> None:
        self._server.communicate(timeout=60)  # the end of its input is its end

    def run(self, jobs: Sequence[Mapping[str, Any]]) -> list[int]:
        """Run jobs side by side; return the exit status of each, negative where a signal ended it.

        Parameters
        ----------
        jobs : each with `words`, `folder`, `out` and `err` (a file that is added to, or one of the
            marks above), `signal` (name) and `at` (before which of the events that Python's audit
            names of files it comes; 0 for never).
        """
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        self._server.stdin.write(json.dumps(list(jobs)) + "\n")
        self._server.stdin.flush()
        return [int(status) for status in json.loads(self._server.stdout.readline())]


def _descriptor(kind: str) -> int | None:
    if kind == CLOSED:
        return None
    if kind == FULL:
        return os.open("/dev/full", os.O_WRONLY)
    if kind == GONE:
        reader, writer = os.pipe()
        os.close(reader)
        return writer
    return os.open(kind, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o666)


def _stand(number: int, kind: str) -> None:
    """Let a standard stream be what Python would have found at its start."""
    opened = _descriptor(kind)
    if opened is None:
        os.close(number)
        stream = None
    else:
        os.dup2(opened, number)
        os.close(opened)
        stream = os.fdopen(number, "w", encoding="utf-8", closefd=False)
    setattr(sys, {1: "stdout", 2: "stderr"}[number], stream)


def _watch(number: int, at: int) -> None:
    """Send this process a signal before the file event of that number."""
    left = at

    def watch(event: str, _: object) -> None:
        nonlocal left
        if event in ("open", "os.rename", "os.link", "os.remove", "os.chmod", "os.chown"):
            left -= 1
            if left == 0:
                os.kill(os.getpid(), number)

    sys.addaudithook(watch)


def _forked(job: Mapping[str, Any]) -> int:
    """Fork a process for a job and return its number."""
    child = os.fork()
    if child:
        return child
    status = 70
    try:
        os.chdir(job["folder"])
        for name in ("SIGTERM", "SIGHUP"):
            signal.signal(signal.Signals[name], signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        _stand(1, job["out"])
        _stand(2, job["err"])
        sys.argv[1:] = job["words"]
        from spurplan.cli.program import program

        if job["at"]:
            _watch(signal.Signals[job["signal"]], job["at"])
        status = program()
    except KeyboardInterrupt:
        status = 130
    except BaseException:
        if sys.stderr is not None:
            traceback.print_exc()
    finally:
        os._exit(status)


def _serve() -> None:
    import importlib

    for name in LOADED:
        importlib.import_module(name)
    gc.freeze()
    for line in sys.stdin:
        jobs = json.loads(line)
        children = [_forked(job) for job in jobs]
        statuses = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        print(json.dumps(statuses), flush=True)


if __name__ == "__main__":
    _serve()
