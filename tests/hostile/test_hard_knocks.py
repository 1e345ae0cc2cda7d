"""Whole processes under what goes wrong on a bench computer: full disks, closed pipes, Ctrl-C, power cuts."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from tests import papers
from tests.turns import by_turns

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="limits, signals and devices of Linux")

if sys.platform == "linux":
    import resource

HERE = Path(__file__).parents[1]
DEMO = papers.ROOT / "demos/boathouse"
SHOWN = [words for words, _ in papers.questions() if "[" not in words]
SET, LOG, EVENING = (str(DEMO / name) for name in ("set.toml", "log.csv", "evening.csv"))
TABLE = str(papers.ROOT / "bandplans/beacons.csv")
COLUMNS = ["--column", "freq=freq_khz", "--column", "label=label", "--column", "service=service"]
# A command for every kind of file that is written. Each is far longer than `ALLOWED_BYTES`.
WRITING = {
    "an answer": ["ranges", SET, "--format", "json", "--output", "FILE"],
    "a chart": ["ranges", SET, "--output", "answer.txt", "--chart", "FILE"],
    "a report": ["report", SET, "--output", "FILE"],
    "a sheet": ["bench-sheet", SET, "--output", "FILE", "--overwrite"],
    "a table": ["bands", "--import", TABLE, *COLUMNS, "-o", "FILE", "--overwrite"],
    "a first receiver file": ["receiver", "--output", "FILE", "--overwrite"],
    "a receiver file as measured": [
        "readings",
        SET,
        LOG,
        "--output",
        "answer.txt",
        "--save-receiver",
        "FILE",
        "--overwrite",
    ],
}
SUFFIX = {"a chart": "chart.svg", "a report": "report.html"}
ALLOWED_BYTES = 600
OLD = "what stood here before\n"


def started(
    words: list[str],
    folder: Path,
    before: Callable[[], object] | None = None,
    first: Sequence[str] = ("-m", "spurplan"),
    out: int = subprocess.PIPE,
) -> subprocess.Popen[bytes]:
    """A command in a folder; `before` runs in its process before Python does."""
    return subprocess.Popen(
        [sys.executable, *first, *words],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(papers.ROOT)},
        stdout=out,
        stderr=subprocess.PIPE,
        preexec_fn=before,
    )


def ended(process: subprocess.Popen[bytes]) -> tuple[int, bytes, str]:
    """Exit status, standard output, standard error."""
    out, err = process.communicate(timeout=120)
    return process.returncode, out or b"", err.decode()


def target(kind: str, folder: Path) -> tuple[list[str], Path]:
    """The command line that writes a kind of file over an old one in the folder."""
    path = folder / SUFFIX.get(kind, "file.txt")
    path.write_text(OLD, "utf-8")
    return [str(path) if word == "FILE" else word for word in WRITING[kind]], path


def no_more_room() -> None:
    """Let no file grow beyond some bytes: the write fails when the disk has taken a part of it."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (ALLOWED_BYTES, ALLOWED_BYTES))


def no_privileges() -> None:
    """Root may write anywhere: let even root keep to the permissions."""
    drop_from_bounding_set = 24  # <linux/prctl.h>
    for right in (1, 2):  # to pass over permissions when writing and when reading, <linux/capability.h>
        ctypes.CDLL(None).prctl(drop_from_bounding_set, right, 0, 0, 0)


@pytest.mark.parametrize("kind", by_turns(WRITING, always=("an answer", "a receiver file as measured")))
def test_a_disk_that_fills_up_leaves_the_old_file(kind: str, tmp_path: Path) -> None:
    """A part was written when the room ended: the old file stands alone, a line says why."""
    words, path = target(kind, tmp_path)
    status, out, err = ended(started(words, tmp_path, no_more_room))
    assert (status, out) == (1, b"")
    assert "can not be written: the file would be larger than allowed here" in err
    assert "Traceback" not in err
    assert path.read_text("utf-8") == OLD
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("kind", by_turns(WRITING, always=("an answer", "a receiver file as measured")))
def test_a_folder_that_may_not_be_written_is_said(kind: str, tmp_path: Path) -> None:
    shut = tmp_path / "shut"
    shut.mkdir()
    words, path = target(kind, shut)
    path.chmod(0o444)
    shut.chmod(0o500)
    try:
        status, out, err = ended(started(words, tmp_path, no_privileges))
    finally:
        shut.chmod(0o700)
    assert (status, out) == (1, b"")
    assert str(path) in err
    assert "write-protected" in err
    assert path.read_text("utf-8") == OLD


def test_a_process_killed_while_it_writes_leaves_one_file_or_the_other(tmp_path: Path) -> None:
    """Twenty cuts at different moments; a whole file stands after each."""
    path = tmp_path / "set.toml"
    texts = {letter * 3_000_000 for letter in "ab"}
    path.write_text("a" * 3_000_000, "utf-8")
    endless = (
        "from spurplan.files import write_text; import sys\n"
        "print('writing', flush=True)\n"
        "while True:\n"
        "    for letter in 'ba': write_text(sys.argv[1], letter * 3_000_000)"
    )
    changed = 0
    for cut in range(20):
        before = path.read_text("utf-8")
        with subprocess.Popen(
            [sys.executable, "-c", endless, str(path)],
            env=os.environ | {"PYTHONPATH": str(papers.ROOT)},
            stdout=subprocess.PIPE,
        ) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(0.003 * cut)
            process.kill()
        after = path.read_text("utf-8")
        assert after in texts
        changed += after != before
    assert changed, "no cut came after a write"


@pytest.mark.parametrize("words", by_turns(SHOWN, always=SHOWN[:2]))
def test_a_reader_that_leaves_early_is_no_fault(words: str, tmp_path: Path) -> None:
    """Every command into a pipe nobody reads from any more: silent, status 0."""
    reader, writer = os.pipe()
    os.close(reader)
    asked = [
        {"set.toml": SET, "log.csv": LOG, "evening.csv": EVENING}.get(word, word)
        for word in words.split()[1:]
    ]
    try:
        status, _, err = ended(started(asked, tmp_path, out=writer))
    finally:
        os.close(writer)
    # what goes to a file has no reader
    assert (status, err) == (0, "wrote card.pdf\n" if "--output" in words else "")


# Ctrl-C comes when the process reaches something: an import or a file, as Python's audit events name them.
MOMENTS = {
    "while the command line is made": ("import", "typer"),
    "while numbers are loaded": ("import", "numpy"),
    "while models are made": ("import", "spurplan.receiver.description"),
    "before a file is read": ("open", "stock.csv"),
    "before the answer is computed": ("import", "spurplan.responses.engine"),
    "before it is shown": ("import", "spurplan.reporting.data"),
    "while it is written": ("open", ".tmp"),
}
INTERRUPTED = """
import os, signal, sys
# whoever started the tests in the background may have had interruptions ignored
signal.signal(signal.SIGINT, signal.default_int_handler)
event, place = sys.argv.pop(1), sys.argv.pop(1)
def watch(found, details):
    if found == event and place in str(details[0]):
        os.kill(os.getpid(), signal.SIGINT)
sys.addaudithook(watch)
from spurplan.cli.program import program
sys.exit(program())
"""


@pytest.mark.parametrize("moment", MOMENTS)
def test_control_c_is_quiet_at_any_moment(moment: str, tmp_path: Path) -> None:
    """Status 130, no words, no file."""
    words = [
        "converter",
        SET,
        "--cover",
        "50MHz:54MHz",
        "--stock",
        "stock.csv",
        "-o",
        "out.csv",
        "--format",
        "csv",
    ]
    (tmp_path / "stock.csv").write_text("freq_mhz,mode\n22,fundamental\n", "utf-8")
    process = started(words, tmp_path, first=["-c", INTERRUPTED, *MOMENTS[moment]])
    assert ended(process) == (130, b"", "")
    assert [path.name for path in tmp_path.iterdir()] == ["stock.csv"]
