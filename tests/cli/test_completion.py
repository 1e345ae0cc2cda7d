"""Completion for the shell: it installs, and completes commands, options and their words."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.charting import ROOT

SET = str(ROOT / "demos" / "boathouse" / "set.toml")
PROGRAM = f"#!{sys.executable}\nimport sys\nfrom spurplan.cli import main\nsys.exit(main())\n"

pytestmark = pytest.mark.skipif(shutil.which("bash") is None, reason="no bash on this machine")


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home with the program in its path and completion installed."""
    folder = tmp_path_factory.mktemp("home")
    program = folder / "spurplan"
    program.write_text(PROGRAM, "utf-8")
    program.chmod(0o755)
    done = run(folder, "spurplan --install-completion bash")
    assert "installed" in done
    return folder


def run(home: Path, line: str) -> str:
    environment = {"HOME": str(home), "PATH": f"{home}:{os.environ['PATH']}", "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        ["bash", "-c", line], env=environment, capture_output=True, text=True, check=True, timeout=60
    ).stdout


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["spurplan", "ra"], ["ranges"]),
        (["spurplan", "re"], ["readings", "receiver", "report"]),
        (["spurplan", "dial", "--dial"], ["--dial-error"]),
        (["spurplan", "ranges", "set.toml", "--format", ""], ["text", "csv", "json", "md"]),
        (["spurplan", "ranges", "set.toml", "--fail-on", "s"], ["strong"]),
        (["spurplan", "ranges", "set.toml", "--day", "t"], ["tue", "thu"]),
        (["spurplan", "ranges", "set.toml", "--mode", ""], ["am", "ssb", "cw", "fm"]),
        (["spurplan", "ranges", "set.toml", "--region", "e"], ["europe"]),
        (["spurplan", "ranges", SET, "--range", ""], ["1", "2", "3", "4"]),
        (["spurplan", "ranges", "nowhere.toml", "--range", ""], []),
        (["spurplan", "ranges", SET[:-3]], [SET]),
    ],
)
def test_words_are_completed(home: Path, words: list[str], offered: list[str]) -> None:
    """As a shell asks for it after its start-up file was read."""
    array = " ".join(f"'{word}'" for word in words)
    script = (
        f"source ~/.bashrc; COMP_WORDS=({array}); COMP_CWORD={len(words) - 1}; "
        "_spurplan_completion spurplan; printf '%s\\n' \"${COMPREPLY[@]}\""
    )
    assert run(home, script).split() == offered
