"""A checksum of everything the demonstration commands print, so that what should not move is seen not to.

    python -m tests.guard            # compare: says which outputs differ from the sums kept
    python -m tests.guard --keep     # keep the sums of what is printed now

Each command is run in text, JSON, CSV and Markdown, and its chart and report
are written, at 80 columns without colour. Keeping new sums is for a change of
output that was looked at; a rebuilding of the house keeps them as they are.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import io
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

from spurplan.cli import main

ROOT = Path(__file__).parent.parent
SUMS = Path(__file__).with_name("guard.sums")
FORMATS = ("text", "json", "csv", "md")
BOATHOUSE, LOCKKEEPER = "demos/boathouse/set.toml", "demos/lockkeeper/set.toml"
FERRY = "tests/receivers/ferry_converter.toml"
COMMANDS = (
    f"dial {BOATHOUSE} 14.2 MHz",
    f"dial {BOATHOUSE} 28.3 MHz --intermodulation",
    f"dial {FERRY} 28.3 MHz --everything",
    f"ranges {BOATHOUSE}",
    f"ranges {BOATHOUSE} --range 1 --intermodulation",
    f"ranges {LOCKKEEPER} --utc 1900 --day sat",
    f"ranges {FERRY} --skirts",
    f"station {BOATHOUSE} 15130 kHz",
    f"station {LOCKKEEPER} 27.125 MHz",
    f"suspects {BOATHOUSE} 28.3 MHz --moves against",
    f"suspects {BOATHOUSE} 14.2 MHz --moves -1 --pad-drop 10dB",
    f"birdies {BOATHOUSE} --range 1",
    f"birdies {LOCKKEEPER} --intermodulation",
    f"converter {BOATHOUSE} --cover 50MHz:52MHz",
    f"converter {BOATHOUSE} --cover 28MHz:28.6MHz --explain 24MHz",
    f"if-change {BOATHOUSE} --if 1600kHz --range 4",
    f"if-change {BOATHOUSE} --scan 400kHz:1700kHz --range 4",
    f"if-change {BOATHOUSE} --rejection 40 --range 3",
    f"cures {BOATHOUSE} --range 4",
    f"cures {LOCKKEEPER}",
    f"bench-sheet {BOATHOUSE} --range 4",
    f"bench-sheet {LOCKKEEPER}",
    f"readings {BOATHOUSE} demos/boathouse/log.csv",
    "bands",
    "bands --at 7.1MHz",
    "bands --at 27.125MHz --region 2",
    f"receiver {BOATHOUSE}",
    f"receiver {LOCKKEEPER}",
    f"receiver {FERRY}",
)
DRAWN = (
    f"dial {BOATHOUSE} 28.3 MHz",
    f"ranges {BOATHOUSE}",
    f"converter {BOATHOUSE} --cover 28MHz:28.6MHz",
    f"if-change {BOATHOUSE} --scan 400kHz:1700kHz --range 4",
    f"cures {BOATHOUSE} --range 4",
    f"readings {BOATHOUSE} demos/boathouse/log.csv",
)


def printed(words: str) -> bytes:
    """Return what one command line writes to standard output.

    Raises
    ------
    RuntimeError  when it exits with a failure.
    """
    out, told = io.StringIO(), io.StringIO()
    quiet = {"COLUMNS": "80", "NO_COLOR": "1"}
    with (
        mock.patch.dict(os.environ, quiet),
        contextlib.chdir(ROOT),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(told),
    ):
        status = main(words.split())
    if status:
        raise RuntimeError(f"{words}: status {status}\n{told.getvalue()}")
    return out.getvalue().encode()


def outputs() -> Iterator[tuple[str, bytes]]:
    """Give each command line with its output, in the order kept."""
    for command in COMMANDS:
        for form in FORMATS:
            words = f"{command} --format {form}"
            yield words, printed(words)
    yield "receiver", printed("receiver")
    yield "receiver --schema", printed("receiver --schema")
    with tempfile.TemporaryDirectory() as folder:
        for command in DRAWN:
            chart = Path(folder, f"{len(list(Path(folder).iterdir()))}.svg")
            printed(f"{command} --chart {chart}")
            yield f"{command} --chart NAME.svg", chart.read_bytes()
        page = Path(folder, "page.html")
        printed(f"report {LOCKKEEPER} --output {page}")
        yield f"report {LOCKKEEPER}", page.read_bytes()


def sums() -> dict[str, str]:
    """Return the checksum of each output by its command line."""
    return {words: hashlib.sha256(said).hexdigest()[:16] for words, said in outputs()}


def kept() -> dict[str, str]:
    """Return the checksums in the file."""
    rows = (line.split("  ", 1) for line in SUMS.read_text("utf-8").splitlines())
    return {words: checksum for checksum, words in rows}


def differing(now: dict[str, str], before: dict[str, str]) -> list[str]:
    """Return the command lines whose output differs, came or went."""
    return [words for words in {**before, **now} if now.get(words) != before.get(words)]


def run() -> int:
    reader = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    reader.add_argument("--keep", action="store_true", help="keep the sums of what is printed now")
    now = sums()
    if reader.parse_args().keep:
        SUMS.write_text("".join(f"{checksum}  {words}\n" for words, checksum in now.items()), "utf-8")
        print(f"kept {len(now)} sums")
        return 0
    moved = differing(now, kept())
    print("\n".join(moved) or f"{len(now)} outputs, all as kept")
    return 1 if moved else 0


if __name__ == "__main__":
    sys.exit(run())
