"""Processes with odd descriptors, ended by signals, two at a time: every file whole, no input touched."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import strategies as st

from tests.forked import CLOSED, FULL, GONE, Fork
from tests.hostile import examples, hold
from tests.hostile.test_outputs import BANDS, FILES, IMPORT, source_record

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="descriptors and signals of Linux")

RANGES = ["ranges", "set.toml", *BANDS]
COMMANDS = {
    "ranges": RANGES,
    "json": [*RANGES, "--format", "json"],
    "receiver": ["receiver"],
    "schema": ["receiver", "--schema"],
    "sheet": ["bench-sheet", "set.toml", "--format", "csv", "--points", "1"],
    "import": IMPORT,
    "if-change": ["if-change", "set.toml", "--if", "3MHz"],
}
# those whose output people edit: never over a file that stands there, but for --overwrite
BY_HAND = {"receiver", "sheet"}
OLD = b"what stood here before\n"
SET = {"set.toml", "curve.csv", "mixer.csv"}
HEARD = {*SET, "bands.csv", "bands.source.toml"}
READS: dict[str, set[str]] = {
    "ranges": HEARD,
    "json": HEARD,
    "if-change": SET,
    "sheet": SET,
    "import": {"list.csv"},
    "receiver": set(),
    "schema": set(),
}
INPUTS = {name: text for name, text in FILES.items() if name not in ("bands.source.toml", "cures.toml")}
STANDING = ("old.txt", "old.svg", "old.toml", "two names")
TARGETS = {
    "--output": [
        "out.txt",
        "out.txt",
        "old.txt",
        "old.toml",
        "link",
        "new link",
        "other name",
        "-",
        "pipe",
        "app.log",
        "err.log",
        "set.toml",
        "bands.csv",
        "list.csv",
        "../desk/curve.csv",
        " ",
        "none/x",
    ],
    "--chart": ["out.svg", "out.svg", "old.svg", "picture", "levels.svg", "none/x.svg", "out.txt"],
    "--save-receiver": ["out.toml", "old.toml", "set.toml", "mixer.csv", "link", "out.txt", "-", "folder"],
}
LINKS = {"link": "old.txt", "new link": "linked.txt", "picture": "out.svg"}
SIGNALS = {"SIGTERM": -15, "SIGHUP": -1, "SIGINT": 130}


@pytest.fixture(scope="module")
def fork() -> Iterator[Fork]:
    with Fork() as started:
        yield started


def lay_out(folder: Path) -> None:
    """Write what every trial finds."""
    for path in folder.iterdir():
        if path.name != "folder":
            path.unlink()
    for name, text in INPUTS.items():
        (folder / name).write_text(text, "utf-8")
    (folder / "bands.source.toml").write_text(source_record(FILES["bands.csv"].encode()), "utf-8")
    for name in STANDING:
        (folder / name).write_bytes(OLD)
    for name in ("app.log", "err.log"):
        (folder / name).write_text("first line\n", "utf-8")
    (folder / "other name").hardlink_to(folder / "two names")
    for name, path in LINKS.items():
        (folder / name).symlink_to(path)
    (folder / "folder").mkdir(exist_ok=True)
    os.mkfifo(folder / "pipe")


@st.composite
def jobs(draw: st.DrawFn) -> dict[str, Any]:
    """A command with some outputs, standard streams of some kind, and seldom a signal."""
    kind = draw(st.sampled_from([*COMMANDS]))
    options: dict[str, str] = {}
    takes = ["--output"]
    if kind in ("ranges", "json"):
        takes.append("--chart")
    if kind == "if-change":
        takes.append("--save-receiver")
    for option in takes:
        if draw(st.integers(0, 8 if option == "--chart" else 2)) == 0 or option == "--output":
            options[option] = draw(st.sampled_from(TARGETS[option]))
    words = [*COMMANDS[kind], *(word for pair in options.items() for word in pair)]
    overwrite = (kind in BY_HAND or "--save-receiver" in options) and draw(st.booleans())
    return {
        "kind": kind,
        "options": options,
        "overwrite": overwrite,
        "words": [*words, "--overwrite"] if overwrite else words,
        "out": draw(st.sampled_from(["app.log"] * 4 + [CLOSED, FULL, GONE])),
        "err": draw(st.sampled_from(["err.log"] * 6 + [CLOSED, FULL, GONE])),
        "signal": draw(st.sampled_from([*SIGNALS])),
        "at": draw(st.just(0) | st.integers(1, 60)),
    }


@pytest.fixture(scope="module")
def whole(fork: Fork, tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], bytes]:
    """What each output holds when nothing goes wrong, by command and option."""
    folder = tmp_path_factory.mktemp("whole") / "desk"
    folder.mkdir()
    lay_out(folder)
    found = {}
    asked = [(kind, "--output", "a.txt") for kind in COMMANDS]
    asked += [
        ("ranges", "--chart", "a.svg"),
        ("json", "--chart", "a.svg"),
        ("if-change", "--save-receiver", "a.toml"),
    ]
    for kind, option, name in asked:
        job = {"words": [*COMMANDS[kind], option, name], "out": "app.log", "err": "err.log", "at": 0}
        assert fork.run([{**job, "folder": str(folder)}]) == [0], (folder / "err.log").read_text("utf-8")
        found[kind, option] = (folder / name).read_bytes()
        (folder / name).unlink()
    return found


def targets(job: dict[str, Any], folder: Path) -> dict[str, str]:
    """Return the real name of each file in the folder that a job may write, by its option.

    The rules of outputs anew: no input but the set that is saved over, nothing that people edit over what
    stands there, no second name of a file, nothing that is open.
    """
    found = {}
    for option, name in job["options"].items():
        real = Path(os.path.realpath(folder / name))
        if not name.strip() or name == "-" or real.parent != folder or real.name in ("pipe", "folder"):
            continue
        saved = option == "--save-receiver"
        stood = real.name in {*INPUTS, *STANDING, "bands.source.toml", "app.log", "err.log"}
        if real.name in READS[job["kind"]] and not (saved and job["overwrite"] and real.name == "set.toml"):
            continue
        if stood and (saved or (option == "--output" and job["kind"] in BY_HAND)) and not job["overwrite"]:
            continue
        if real.name in ("two names", "other name") or real.name in (job["out"], job["err"]):
            continue
        found[option] = real.name
    return found


@examples(25, 12_000)
def test_every_file_is_whole_and_no_input_is_touched(
    fork: Fork, whole: dict[tuple[str, str], bytes], tmp_path: Path, count: int
) -> None:
    """Whatever the streams are, whenever a signal comes, whoever else writes there."""
    folder = tmp_path / "desk"
    folder.mkdir()

    def rule(together: list[dict[str, Any]]) -> None:
        lay_out(folder)
        before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
        statuses = fork.run([{**job, "folder": str(folder)} for job in together])
        said = (folder / "err.log").read_text("utf-8", "replace")
        assert "Traceback" not in said, said
        for job, status in zip(together, statuses, strict=True):
            assert status in (0, 1, 2) or (job["at"] and status == SIGNALS[job["signal"]]), said
            assert not (status == 0 and job["out"] == CLOSED and job["options"]["--output"] == "-")
        assert (folder / "two names").samefile(folder / "other name")
        assert {name: str((folder / name).readlink()) for name in LINKS} == LINKS
        written = [targets(job, folder) for job in together]
        # a command whose input another one is free to write may find that one there, whole
        certain = [
            not any(set(other.values()) & READS[job["kind"]] for other in written if other is not own)
            for job, own in zip(together, written, strict=True)
        ]
        for path in folder.iterdir():
            if path.is_symlink() or not path.is_file():
                continue
            writers = [
                (number, option)
                for number, own in enumerate(written)
                for option, name in own.items()
                if name == path.name
            ]
            texts = [whole[together[number]["kind"], option] for number, option in writers]
            content = path.read_bytes()
            if path.name in ("app.log", "err.log"):  # is added to meanwhile
                assert content.startswith((b"first line\n", *texts))
            elif all(certain[number] for number, _ in writers):
                assert content in [*(before[name] for name in [path.name] if name in before), *texts], path
        if len(together) == 1:
            [job], [status], [own] = together, statuses, written
            for option, name in own.items():
                if status == 0 and job["err"] != name:
                    assert (folder / name).read_bytes() == whole[job["kind"], option]
            if status in (1, 2):
                after = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
                logs = {"app.log": b"", "err.log": b""}
                assert after | logs == before | logs

    hold(rule, count, st.lists(jobs(), min_size=1, max_size=2))
