"""How long a large table takes to be read, and how much memory, against pandas reading it as text."""

from __future__ import annotations

import atexit
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from tests.benchmarks.figures import Alone, Times, figure, ratio_text

ROWS = 2_000_000
SERVICES = ("fixed_mobile", "broadcast", "maritime", "aeronautical", "amateur")
OURS = "from spurplan.occupancy.bands import read_bands as read"
THEIRS = """from functools import partial
import pandas
read = partial(pandas.read_csv, dtype=str, keep_default_na=False)"""
# each in a process of its own: what one leaves in memory is not the other's
WORK = """import resource, sys, time
{load}
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
start = time.perf_counter()
read(sys.argv[1])
print(time.perf_counter() - start, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024)
"""


def schedule_rows(rng: random.Random) -> Iterator[str]:
    """Lines of a broadcasting schedule: what stands in its cells repeats."""
    yield "freq_khz,service,label,region,mode,hours\n"
    for row in range(ROWS):
        hours = f"{rng.randrange(24):02d}00-{rng.randrange(24):02d}30"
        khz = f"{100 + rng.randrange(60_000) / 2:.1f}"
        yield f"{khz},{rng.choice(SERVICES)},Station {rng.randrange(977)},{1 + row % 3},am,{hours}\n"


def licence_rows(rng: random.Random) -> Iterator[str]:
    """Lines of a register of licences: next to nothing in it repeats."""
    yield "licence,freq_mhz,service,label,mode,bandwidth_khz,lat,lon,power_kw,note\n"
    for row in range(ROWS):
        mhz, kw = f"{rng.randrange(30_000_000, 999_000_000) / 1e6:.6f}", f"0.0{rng.randrange(1, 10)}"
        where = f"{rng.uniform(-60, 60):.4f},{rng.uniform(-180, 180):.4f}"
        holder, mast = rng.randrange(10**6), rng.randrange(10**6)
        service = rng.choice(SERVICES)
        yield f"L{row:08d},{mhz},{service},Holder {holder} Ltd,fm,12.5,{where},{kw},Mast {mast}\n"


@cache
def folder() -> Path:
    path = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, path)
    return path


@cache
def register(kind: str) -> Path:
    path = folder() / f"{kind}.csv"
    rows = schedule_rows if kind == "schedule" else licence_rows
    with path.open("w", encoding="utf-8") as file:
        file.writelines(rows(random.Random(1)))
    return path


def read_once(load: str, path: Path) -> tuple[float, float]:
    """Return the time and the memory that reading takes in a process of its own. [s, byte]"""
    work = [sys.executable, "-c", WORK.format(load=load), str(path)]
    seconds, size = subprocess.run(work, capture_output=True, text=True, check=True).stdout.split()
    return float(seconds), float(size)


@cache
def both(kind: str, runs: int = 3) -> tuple[float, float, float]:
    """Return medians of our time and pandas' in turn, and our memory over the size of the file."""
    path = register(kind)
    ours, theirs = zip(*((read_once(OURS, path), read_once(THEIRS, path)) for _ in range(runs)), strict=True)
    middle = runs // 2
    times = [sorted(seconds for seconds, _ in lot)[middle] for lot in (ours, theirs)]
    return times[0], times[1], max(size for _, size in ours) / path.stat().st_size


def times(kind: str) -> Times:
    return Times(*both(kind)[:2])


def memory(kind: str) -> Alone:
    return Alone(f"{ratio_text(both(kind)[2])} times the file")


@figure("`read_bands` of 2,000,000 rows of a schedule", "`pandas.read_csv` as text", "at most 2")
def schedule_time() -> Times:
    return times("schedule")


@figure("memory of that", wanted="at most 6 times the file")
def schedule_memory() -> Alone:
    return memory("schedule")


@figure("`read_bands` of 2,000,000 licences, hardly a cell twice", "`pandas.read_csv` as text", "at most 2")
def licence_time() -> Times:
    return times("licence")


@figure("memory of those", wanted="at most 6 times the file")
def licence_memory() -> Alone:
    return memory("licence")
