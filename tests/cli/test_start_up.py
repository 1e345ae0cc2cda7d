"""Starting costs little: nothing is imported that the command at hand does not need."""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

import spurplan
from tests.benchmarks import start_up

ROOT = Path(__file__).parents[2]
SET = ROOT / "tests" / "receivers" / "boathouse.toml"
HEAVY = (
    "numpy",
    "pandas",
    "scipy",
    "matplotlib",
    "jinja2",
    "tomlkit",
    "intervaltree",
    "rich.console",
)
OURS = (
    "spurplan.receiver",
    "spurplan.occupancy",
    "spurplan.responses",
    "spurplan.planning",
    "spurplan.columns",
)

LOADED = """
import json, sys
from spurplan.cli import main
status = main({words!r})
print("\\n" + json.dumps([status, sorted(sys.modules)]))
"""


def loaded_by(*words: str) -> set[str]:
    """Return the modules in memory at the end of one command line, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", LOADED.format(words=list(words))],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        timeout=60,
    )
    status, modules = json.loads(done.stdout.splitlines()[-1])
    assert status == 0, done.stderr
    return set(modules)


def modules_after(code: str) -> set[str]:
    """Return the modules in memory after some lines of Python, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys; print(*sys.modules)"],
        capture_output=True, text=True, check=True, cwd=ROOT, timeout=60,
    )  # fmt: skip
    return set(done.stdout.split())


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["dial", "--help"], ["cures", "--help"]])
def test_help_loads_nothing_heavy_and_none_of_the_library(words: list[str]) -> None:
    """Whoever asks for help waits for no array, no frame."""
    loaded = loaded_by(*words)
    assert not loaded & set(HEAVY)
    assert not loaded & set(OURS)


def test_importing_the_package_loads_nothing() -> None:
    """The names are resolved when they are used."""
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; old = set(sys.modules); import spurplan; print(set(sys.modules) - old)",
        ],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        timeout=60,
    )
    assert not any(f"'{name}'" in done.stdout for name in (*HEAVY, *OURS, "typer"))


@pytest.mark.parametrize("form", ["text", "csv", "json", "md"])
def test_an_answer_loads_no_frames_and_no_charts(form: str) -> None:
    """pandas is for `to_frame`, matplotlib for charts, scipy for fits: not for an answer on screen."""
    loaded = loaded_by("dial", str(SET), "14.2MHz", "--format", form)
    assert not loaded & (set(HEAVY) - {"numpy"})


def test_an_answer_loads_no_masked_arrays() -> None:
    """What numpy itself loads when it is needed stays out where `columns.distinct` does."""
    if "numpy.ma" in modules_after("import numpy"):
        pytest.skip("this numpy loads them at once")
    assert "numpy.ma" not in loaded_by("dial", str(SET), "14.2MHz")


def test_a_command_loads_no_other_command() -> None:
    """Commands are imported one at a time."""
    commands = {name for name in loaded_by("dial", "--help") if name.startswith("spurplan.cli.")}
    frame = {
        f"spurplan.cli.{name}"
        for name in ("app", "commands", "completing", "frame", "options", "streams", "words")
    }
    assert commands == frame | {"spurplan.cli.dial"}


@pytest.mark.long
@pytest.mark.parametrize(
    ("words", "other", "most"),
    [
        (["--help"], ["-c", start_up.BARE_HELLO, "--help"], 2.5),
        (["dial", str(SET), "14.2MHz"], ["-c", start_up.HELLO_WITH_NUMPY], 2.0),
    ],
    ids=["help against a bare typer program", "dial against a bare typer program with numpy"],
)
def test_starting_takes_at_most_so_many_times(
    words: list[str], other: list[str], most: float, tmp_path: Path
) -> None:
    """Whole processes by the wall, byte code written, the median of several runs each, in turn."""
    environment = start_up.environment(str(tmp_path))

    def seconds(*line: str) -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, *line], stdout=subprocess.DEVNULL, check=True, env=environment)
        return time.perf_counter() - start

    ours, least = zip(
        *((seconds("-m", "spurplan", *words), seconds(*other)) for _ in range(7)),
        strict=True,
    )
    assert statistics.median(ours) <= most * statistics.median(least)


@pytest.mark.parametrize("name", spurplan.__all__)
def test_every_public_name_is_there(name: str) -> None:
    """What the package offers can be had, and is documented where it stands."""
    found = getattr(spurplan, name)
    assert found.__doc__
    assert found.__module__.startswith("spurplan.")


def test_no_other_name_is_promised() -> None:
    """A slip in a name is an AttributeError that says so."""
    with pytest.raises(AttributeError, match="dails"):
        spurplan.dails  # noqa: B018
    assert set(spurplan.__all__) <= set(dir(spurplan))
