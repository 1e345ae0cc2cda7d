"""An answer hangs on the question alone: not on language, clock, folder, hash seed or the order of rows."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from tests import papers
from tests.turns import by_turns

SHIPPED = sorted((papers.ROOT / "bandplans").glob("*.csv"))
# Two places to stand in. What sets and dicts give out in turn follows the hash seed.
HERE = {"PYTHONHASHSEED": "0", "LC_ALL": "C", "LANG": "C", "TZ": "UTC", "PYTHONUTF8": "0"}
THERE = {"PYTHONHASHSEED": "7", "LC_ALL": "C.UTF-8", "LANG": "tr_TR.UTF-8", "TZ": "Asia/Kathmandu"}


SHOWN = [words for words, _ in papers.questions() if "[" not in words]


def printed(words: str, folder: Path, surroundings: dict[str, str]) -> bytes:
    """What a command line of README prints for programs, asked in a folder with the files it names."""
    folder.mkdir(parents=True)
    for name in ("set.toml", "log.csv", "evening.csv"):
        shutil.copy((papers.ROOT / papers.DEMO).with_name(name), folder)
    pictures = ("spurplan report", "spurplan card")
    form = [] if words.startswith(pictures) else ["--format", "json"]
    done = subprocess.run(
        [sys.executable, "-m", *words.split(), *form],
        cwd=folder,
        env={"PATH": os.environ["PATH"], "PYTHONPATH": str(papers.ROOT), **surroundings},
        capture_output=True,
        check=False,
    )
    written = b"wrote card.pdf\n" if "--output" in words else b""
    assert (done.returncode, done.stderr) == (0, written)
    return (folder / "card.pdf").read_bytes() if written else done.stdout


@pytest.mark.parametrize("words", by_turns(SHOWN, always=SHOWN[:2]))
def test_neither_language_nor_hash_seed_nor_time_zone_nor_folder_matters(words: str, tmp_path: Path) -> None:
    """Byte for byte, each command that README shows."""
    elsewhere = tmp_path / "bench of Söder" / "x"
    here, there = printed(words, tmp_path / "bench", HERE), printed(words, elsewhere, THERE)
    assert len(here) > 100
    assert here == there


QUESTIONS: dict[str, Callable[..., spurplan.Answer]] = {
    "dial": lambda set_, bands: spurplan.dial(set_, bands=bands, frequency="14.2 MHz"),
    "ranges": lambda set_, bands: spurplan.ranges(set_, bands=bands),
    "station": lambda set_, bands: spurplan.station(set_, bands=bands, frequency="15130 kHz"),
    "suspects": lambda set_, bands: spurplan.suspects(set_, bands=bands, frequency="14.2 MHz", moves=-1),
    "birdies": lambda set_, bands: spurplan.birdies(set_, bands=bands, intermodulation=True, range="4"),
    "converter": lambda set_, bands: spurplan.converter(
        set_, bands=bands, cover="50:52 MHz", crystal="48 MHz"
    ),
    "if_change": lambda set_, bands: spurplan.if_change(
        set_, bands=bands, if_="1.6 MHz", scan="1.5:1.7 MHz", range="4"
    ),
    "cures": lambda set_, bands: spurplan.cures(set_, bands=bands, range="4"),
}


def but_row_numbers(answer: spurplan.Answer) -> dict[str, Any]:
    """All of an answer but the numbers of rows."""

    def bare(record: dict[str, Any]) -> dict[str, Any]:
        return {key: value for key, value in record.items() if key not in ("row", "rows", "row_1", "row_2")}

    found = {name: [bare(one) for one in table.records()] for name, table in answer.tables.items()}
    return found | {"assumptions": list(answer.assumptions)}


def shuffled(folder: Path, seed: int) -> list[Path]:
    """The shipped tables with rows and files in another order."""
    rng = np.random.default_rng(seed)
    folder.mkdir()
    for path in SHIPPED:
        header, *rows = path.read_text("utf-8").splitlines()
        assert not any(row.count('"') % 2 for row in rows), "a row of several lines"
        mixed = [rows[at] for at in rng.permutation(len(rows))]
        (folder / path.name).write_text("\n".join([header, *mixed, ""]), "utf-8")
    return [folder / SHIPPED[at].name for at in rng.permutation(len(SHIPPED))]


@pytest.mark.parametrize("name", by_turns(QUESTIONS, always=("dial", "ranges", "station", "birdies")))
def test_the_order_of_rows_and_files_does_not_matter(name: str, tmp_path: Path) -> None:
    """Shipped tables as they are, and mixed up twice: the same answer in the same order."""
    described = papers.ROOT / papers.DEMO
    plain = but_row_numbers(QUESTIONS[name](described, SHIPPED))
    for seed in (1, 2):
        mixed = but_row_numbers(QUESTIONS[name](described, shuffled(tmp_path / str(seed), seed)))
        for table, records in plain.items():
            assert mixed[table] == records, table
