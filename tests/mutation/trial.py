"""One trial: the tests run in a process of their own, on a module whose text has been changed."""

from __future__ import annotations

import ast
import contextlib
import importlib
import json
import os
import resource
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

import pytest
from hypothesis import settings

REPOSITORY = Path(__file__).parents[2]
PACKAGE = REPOSITORY / "spurplan"
# imported once, before the fork; what stands on the changed module, and the tests, anew in each trial
HEAVY = ("numpy.testing", "pandas", "tomlkit", "intervaltree", "typer.testing", "scipy.signal")
MEMORY = 6 << 30
PASSED = 0

settings.register_profile("mutation", derandomize=True, database=None)


class _Changed(SourceFileLoader):
    """Loads a module from other text than its file's, with notes of the lines it runs through where asked."""

    text = ""
    lines: set[int] | None = None

    def get_code(self, fullname: str) -> CodeType:
        tree = ast.parse(self.text)
        if self.lines is not None:
            _Noting().visit(tree)
        return compile(ast.fix_missing_locations(tree), self.path, "exec")

    def exec_module(self, module: ModuleType) -> None:
        module.__dict__[_Noting.NAME] = self.lines
        super().exec_module(module)


class _Noting(ast.NodeTransformer):
    """Puts a note of its line ahead of each statement of a function."""

    NAME = "__lines_run__"

    def generic_visit(self, node: ast.AST) -> ast.AST:
        super().generic_visit(node)
        if isinstance(node, ast.Module | ast.ClassDef):
            return node
        for name in ("body", "orelse", "finalbody"):
            body = getattr(node, name, None)
            if isinstance(body, list) and body and isinstance(body[0], ast.stmt):
                setattr(node, name, [one for statement in body for one in self._noted(statement)])
        return node

    def _noted(self, statement: ast.stmt) -> list[ast.stmt]:
        (note,) = ast.parse(f"{self.NAME}.add({statement.lineno})").body
        return [note, statement]


class _Finder:
    def __init__(self, name: str, path: Path, text: str, lines: set[int] | None) -> None:
        self.name, self.path, self.text, self.lines = name, path, text, lines

    def find_spec(self, name: str, path: object, target: ModuleType | None = None) -> ModuleSpec | None:
        if name != self.name:
            return None
        loader = _Changed(name, str(self.path))
        loader.text, loader.lines = self.text, self.lines
        return spec_from_file_location(name, self.path, loader=loader)


def name_of(module: str) -> str:
    """Return what a module is imported as: "responses/join" is spurplan.responses.join."""
    return "spurplan." + module.replace("/", ".")


def path_of(module: str) -> Path:
    """Return the file of a module."""
    return PACKAGE / f"{module}.py"


def prepare(module: str) -> None:
    """Import what all trials of a module share: all that does not stand on it."""
    for name in HEAVY:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    for name in sorted(_apart_from(name_of(module))):
        importlib.import_module(name)
    assert name_of(module) not in sys.modules, "what stands on the module is imported too early"


def _apart_from(name: str) -> set[str]:
    """Return the modules of the package that import a module neither themselves nor through others."""
    imports = {
        ".".join(path.relative_to(REPOSITORY).with_suffix("").parts).removesuffix(".__init__"): path
        for path in PACKAGE.rglob("*.py")
        if path.stem != "__main__"
    }
    known = {one: set(_imported(path, imports)) | _folders(one) for one, path in imports.items()}
    above, new = {name}, {name}
    while new:
        new = {one for one, others in known.items() if others & new} - above
        above |= new
    return set(imports) - above


def _folders(name: str) -> set[str]:
    parts = name.split(".")
    return {".".join(parts[:count]) for count in range(1, len(parts))}


def _imported(path: Path, known: dict[str, Path]) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        named: list[str] = []
        if isinstance(node, ast.Import):
            named = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module is not None:
            named = [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
        yield from (name for name in named if name in known)


@dataclass(frozen=True)
class Seen:
    """A test as it ran on the module unchanged.

    Attributes
    ----------
    test : str. As pytest takes it.
    seconds : float. Processor time.
    lines : set of int. The lines of the module that it ran through.
    """

    test: str
    seconds: float
    lines: frozenset[int]


class _Watch:
    """Notes of each test which lines of a module it runs through, and its processor time."""

    def __init__(self) -> None:
        self.lines: set[int] = set()
        # what the tests run through when they are imported
        self.always: set[int] | None = None
        self.found: list[tuple[str, float, list[int]]] = []

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Any:
        if self.always is None:
            self.always = set(self.lines)
        self.lines.clear()
        started = time.process_time()
        try:
            return (yield)
        finally:
            self.found.append((item.nodeid, time.process_time() - started, sorted(self.lines | self.always)))


def survey(module: str, tests: Sequence[str], limit_s: float) -> list[Seen] | None:
    """Return what each of some tests runs through, quickest first; None where one fails on it unchanged."""
    text = path_of(module).read_text(encoding="utf-8")
    with tempfile.NamedTemporaryFile("r+", encoding="utf-8") as noted:
        watch = _Watch()

        def note() -> None:
            Path(noted.name).write_text(json.dumps(watch.found), encoding="utf-8")

        if not _forked(lambda: _run(module, text, tests, watch, note), limit_s):
            return None
        found = [Seen(test, seconds, frozenset(lines)) for test, seconds, lines in json.load(noted)]
    return sorted(found, key=lambda seen: seen.seconds)


def passes(module: str, text: str, tests: Sequence[str], limit_s: float) -> bool:
    """Return whether the tests pass with the module `module` ("responses/join") reading `text`.

    Notes
    -----
    A trial that does not end within the limit, or takes too much memory, has not passed.
    """
    return _forked(lambda: _run(module, text, tests), limit_s)


def _forked(run: Callable[[], None], limit_s: float) -> bool:
    child = os.fork()
    if child == 0:
        run()
    deadline = time.monotonic() + limit_s
    while time.monotonic() < deadline:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) == PASSED
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def _run(
    module: str,
    text: str,
    tests: Sequence[str],
    watch: _Watch | None = None,
    at_end: Callable[[], None] = lambda: None,
) -> None:
    """Run the tests and end the process with their status."""
    status = 1
    try:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        os.chdir(REPOSITORY)
        settings.load_profile("mutation")
        sys.meta_path.insert(
            0, _Finder(name_of(module), path_of(module), text, None if watch is None else watch.lines)
        )
        options = ["-x", "--assert=plain", "--tb=no", "-p", "no:faulthandler", "-p", "no:randomly"]
        status = int(pytest.main([*tests, *options], plugins=[] if watch is None else [watch]))
        at_end()
    finally:
        os._exit(status)
