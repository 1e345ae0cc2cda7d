"""One trial: the tests run in a process of their own, on a module whose text has been changed."""

from __future__ import annotations

import contextlib
import importlib
import os
import resource
import signal
import sys
import time
from collections.abc import Sequence
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from types import CodeType, ModuleType

import pytest
from hypothesis import settings

REPOSITORY = Path(__file__).parents[2]
# imported once, before the fork; the package and its tests are imported anew in each trial
HEAVY = ("numpy.testing", "pandas", "tomlkit", "intervaltree", "typer.testing", "scipy.signal")
MEMORY = 6 << 30
PASSED = 0

settings.register_profile("mutation", derandomize=True, database=None)


class _Changed(SourceFileLoader):
    """Loads a module from other text than its file's."""

    text = ""

    def get_code(self, fullname: str) -> CodeType:
        return compile(self.text, self.path, "exec")


class _Finder:
    def __init__(self, name: str, path: Path, text: str) -> None:
        self.name, self.path, self.text = name, path, text

    def find_spec(self, name: str, path: object, target: ModuleType | None = None) -> ModuleSpec | None:
        if name != self.name:
            return None
        loader = _Changed(name, str(self.path))
        loader.text = self.text
        return spec_from_file_location(name, self.path, loader=loader)


def prepare() -> None:
    """Import what all trials share."""
    for name in HEAVY:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    assert not any(name.split(".")[0] == "spurplan" for name in sys.modules), "the package is too early"


def passes(module: str, text: str, tests: Sequence[str], limit_s: float) -> bool:
    """Return whether the tests pass with the module `module` ("responses/join") reading `text`.

    Notes
    -----
    A trial that does not end within the limit, or takes too much memory, has not passed.
    """
    child = os.fork()
    if child == 0:
        _run(module, text, tests)
    deadline = time.monotonic() + limit_s
    while time.monotonic() < deadline:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) == PASSED
        time.sleep(0.01)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def _run(module: str, text: str, tests: Sequence[str]) -> None:
    """Run the tests and end the process with their status."""
    status = 1
    try:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        os.chdir(REPOSITORY)
        settings.load_profile("mutation")
        name = "spurplan." + module.replace("/", ".")
        sys.meta_path.insert(0, _Finder(name, REPOSITORY / f"spurplan/{module}.py", text))
        status = int(
            pytest.main(
                [*tests, "-x", "--assert=plain", "--tb=no", "-p", "no:faulthandler", "-p", "no:randomly"]
            )
        )
    finally:
        os._exit(status)
