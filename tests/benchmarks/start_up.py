"""What starting costs: each command as a process of its own, against what it must at least import.

Times are whole processes, byte code written beforehand (as after any first use), the
median of several runs made in turn so that a drift of the machine hits all alike.
"""

from __future__ import annotations

import os
import shlex
import statistics
import subprocess
import sys
import tempfile
import time
from functools import cache
from pathlib import Path

from tests.benchmarks.figures import Alone, Measured, Times, figure

ROOT = Path(__file__).parents[2]
BARE_HELLO = """
import typer
app = typer.Typer()
@app.command()
def main(name: str = "world") -> None:
    print(f"hello {name}")
app()
"""
LEAST = "import numpy, typer"
# running a command loads more of typer than importing it does
HELLO_WITH_NUMPY = f"import numpy\n{BARE_HELLO}"
RUNS = 11
HELLO = "typer hello --help"
SET = "demos/boathouse/set.toml"
# what each command line is measured as; everyday questions about one demonstration set
COMMANDS = {
    "--help": "--help",
    "--version": "--version",
    "dial --help": "dial --help",
    "dial": f"dial {SET} 14.2MHz",
    "ranges": f"ranges {SET}",
    "station": f"station {SET} 15130kHz",
    "suspects": f"suspects {SET} 14.2MHz",
    "birdies": f"birdies {SET}",
    "converter": f"converter {SET} --cover 21MHz:21.45MHz",
    "if-change": f"if-change {SET} --if 1.6MHz",
    "cures": f"cures {SET}",
    "bench-sheet": f"bench-sheet {SET}",
    "readings": f"readings {SET} demos/boathouse/log.csv",
    "bands": "bands",
    "receiver": f"receiver {SET}",
    "report": f"report {SET} --output {{folder}}/report.html",
}


def environment(cache: str) -> dict[str, str]:
    """Return an environment in which byte code is kept, in a folder of its own."""
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPATH": str(ROOT), "PYTHONPYCACHEPREFIX": cache, "COLUMNS": "100"}


def medians_s(lines: dict[str, list[str]], runs: int) -> dict[str, float]:
    """Return the median time of each command line as a process; those that fail are left out. [s]"""
    times: dict[str, list[float]] = {}
    with tempfile.TemporaryDirectory() as cache:
        own = environment(cache)

        def run(words: list[str]) -> float | None:
            start = time.perf_counter()
            here = [word.replace("{folder}", cache) for word in words]
            done = subprocess.run(
                [sys.executable, *here], cwd=ROOT, env=own, stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL, check=False,
            )  # fmt: skip
            return time.perf_counter() - start if done.returncode == 0 else None

        for name, words in lines.items():
            if run(words) is not None:  # writes the byte code
                times[name] = []
        for _ in range(runs):
            for name in times:
                took = run(lines[name])
                if took is not None:
                    times[name].append(took)
    return {name: statistics.median(taken) for name, taken in times.items() if taken}


@cache
def times() -> dict[str, float]:
    """Return the time of every command and of what it is held against. [s]"""
    lines = {
        HELLO: ["-c", BARE_HELLO, "--help"],
        LEAST: ["-c", LEAST],
    }
    lines |= {name: ["-m", "spurplan", *shlex.split(words)] for name, words in COMMANDS.items()}
    return medians_s(lines, RUNS)


def held(name: str, other: str) -> Measured:
    found = times()
    return Times(found[name], found[other]) if name in found else Alone("does not run here")


def register(name: str, other: str, wanted: str = "") -> None:
    """Make the start of a command a figure."""

    @figure(f"`{name}` as a process", other, wanted)
    def start() -> Measured:
        return held(name, other)


for _name in COMMANDS:
    if _name.startswith("-"):
        register(_name, HELLO, "at most 2.5 times" if _name == "--help" else "")
    else:
        register(_name, LEAST, "at most 2.5 times" if _name == "dial" else "")
