"""Run what the demonstrations show; write it anew when the tool says it better.

    python -m tests.demos

A demonstration is a folder with its files, a page that tells its story, and
`NAME.txt` files: a first line `$ spurplan ...`, then what that prints at 80
columns. Writing anew is for a change that was looked at; the test only compares.
"""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spurplan.reporting.charts.sheet import Sheet

DEMOS = Path(__file__).parents[1] / "demos"


def shown() -> list[Path]:
    """Return every file that shows a command and its output."""
    return sorted(DEMOS.glob("*/*.txt"))


def command_of(path: Path) -> str:
    """Return the command a file shows."""
    first = path.read_text(encoding="utf-8").partition("\n")[0]
    if not first.startswith("$ spurplan "):
        raise ValueError(f"{path.name} does not begin with a command: {first!r}")
    return first.removeprefix("$ ")


def output_of(command: str, folder: Path) -> str:
    """Return what a command prints in a folder, as a new user would see it at 80 columns."""
    words = [sys.executable, "-m", "spurplan", *shlex.split(command)[1:]]
    plain = {
        **os.environ,
        "COLUMNS": "80",
        "NO_COLOR": "1",
        "PYTHONPATH": str(DEMOS.parent),
        "LC_ALL": "C.UTF-8",
    }
    done = subprocess.run(words, cwd=folder, env=plain, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{command} in {folder.name}: status {done.returncode}\n{done.stderr}")
    return done.stdout


def pictures() -> list[Path]:
    """Return every chart that is shown, each of the ranges of the set beside it."""
    return sorted(DEMOS.glob("*/ranges.svg"))


def sheet_of(path: Path) -> Sheet:
    """Return what a chart should show."""
    import spurplan
    from spurplan.occupancy.bands import read_bands
    from spurplan.reporting.charts import PAGE_PT, ranges
    from spurplan.responses.turning import turned_ranges

    receiver = spurplan.read_receiver(path.with_name("set.toml"))
    turned = turned_ranges(receiver, read_bands(None), spurplan.Settings())
    return ranges.sheet(spurplan.ranges(receiver), receiver, PAGE_PT, turned=turned)


def main() -> None:
    from spurplan.reporting.charts import ink

    for path in pictures():
        ink.write(sheet_of(path), path)
        print(path.relative_to(DEMOS))
    for path in shown():
        command = command_of(path)
        path.write_text(f"$ {command}\n{output_of(command, path.parent)}", encoding="utf-8")
        print(path.relative_to(DEMOS))


if __name__ == "__main__":
    main()
