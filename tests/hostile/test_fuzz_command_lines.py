"""Whatever stands on a command line and in the files it names: an answer, or a refusal in plain words."""

from __future__ import annotations

import io
import json
import os
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import strategies as st

import spurplan
from spurplan.cli import main
from spurplan.receiver.file.writing import write_receiver
from spurplan.reporting.data import csv_pieces
from tests.hostile import (
    LEVEL_COLUMNS,
    STOCK_COLUMNS,
    band_tables,
    command_lines,
    damaged,
    examples,
    hold,
    tables,
)
from tests.hostile.test_fuzz_files import DATA, FRONT, SETS
from tests.receiver_strategies import receivers

FILES = {
    "": ["none", "folder", "loop", "set.toml", "bands.csv"],
    "receiver": ["boathouse.toml", "boathouse.toml", "ferry_converter.toml", "lockkeeper.toml", "set.toml"],
    "file": ["boathouse.toml", "lockkeeper.toml", "set.toml", "damaged.toml"],
    "bands": ["bands.csv", "stations.csv"],
    "files": ["bands.csv", "stations.csv", "damaged.csv"],
    "import": ["bands.csv", "damaged.csv"],
    "levels": ["levels.csv"],
    "stock": ["stock.csv"],
    "front": ["front.toml"],
    "own": ["cures.toml"],
    "log": ["log.csv", "sheet.csv"],
}
STATIONS = """\
low_khz,high_khz,freq_khz,raster_khz,service,label,level
14000,14350,,,amateur,20 m,
,,15130,,broadcast,Radio Marrowmere,S9+40
531,1602,,9,broadcast,Medium wave,
26965,27405,,10,citizens,Citizens carrier,
"""


# what stands on standard error beside an answer that was given
BESIDE = ("wrote ", "next: ", "no --rf-stages given")
LINKS = {
    "loop": "loop",
    "link to old": "old.txt",
    "link to old.svg": "old.svg",
    "link to set": "set.toml",
    "link to none": "begun.txt",
}
# what the process opens to read while a command runs, as Python's audit events name it
opened: set[str] | None = None


def watch(event: str, details: tuple[Any, ...]) -> None:
    """Keep what is opened to read: an account that the tool has no hand in."""
    if opened is None or event != "open" or not isinstance(details[0], str | os.PathLike):
        return
    if isinstance(details[2], int) and details[2] & os.O_ACCMODE == os.O_RDONLY:
        opened.add(os.path.realpath(details[0]))


sys.addaudithook(watch)


def lay_out(folder: Path) -> None:
    """Write what stays the same: sound files, a folder, links, a pipe, a file that is open."""
    for path in SETS:
        (folder / path.name).write_bytes(path.read_bytes())
    for path in SETS[0].parent.glob("*.csv"):
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / "stations.csv").write_text(STATIONS, "utf-8")
    sheet = spurplan.bench_sheet(folder / "boathouse.toml", range="4", points=1)
    (folder / "sheet.csv").write_text("".join(csv_pieces(sheet.first)), "utf-8")
    (folder / "folder").mkdir()
    for name in ("old.txt", "old.svg", "two names", "app.log"):
        (folder / name).write_text("old\n", "utf-8")
    for name, path in LINKS.items():
        (folder / name).symlink_to(path)
    (folder / "other name").hardlink_to(folder / "two names")
    os.mkfifo(folder / "pipe")
    (folder / "descriptor").symlink_to(
        f"/proc/self/fd/{os.open(folder / 'app.log', os.O_APPEND | os.O_WRONLY)}"
    )


@st.composite
def changing_files(draw: st.DrawFn) -> dict[str, bytes]:
    """What each command line finds anew: most of it sound, some of it damaged."""
    sets = st.sampled_from([path.read_text("utf-8") for path in SETS])
    stock = "".join((DATA / "stock_crystals.csv").read_text("utf-8").splitlines(keepends=True)[:8])
    cure = "[[cure]]" + (DATA / "cures.toml").read_text("utf-8").split("[[cure]]")[3]
    sheet = Path("sheet.csv").read_text("utf-8")
    return {
        "damaged.toml": draw(damaged(sets)),
        "damaged.csv": draw(damaged(st.just(STATIONS))),
        "bands.csv": draw(band_tables(astray=400)),
        "levels.csv": draw(tables(LEVEL_COLUMNS, astray=400)),
        "stock.csv": draw(
            st.just(stock.encode()) | tables(STOCK_COLUMNS, astray=400) | damaged(st.just(stock))
        ),
        "front.toml": draw(st.just(FRONT.encode()) | damaged(st.just(FRONT))),
        "cures.toml": draw(st.just(cure.encode()) | damaged(st.just(cure))),
        "log.csv": draw(damaged(st.just(sheet))),
    }


class Screen(io.TextIOWrapper):
    """A standard stream that is kept; with the encoding of some terminal."""

    def __init__(self, encoding: str) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, newline="\n")

    def shown(self) -> bytes:
        self.flush()
        kept = self.buffer
        assert isinstance(kept, io.BytesIO)
        return kept.getvalue()


def run(words: list[str], encoding: str) -> tuple[int, bytes, bytes]:
    """Return the exit status of a command line, standard output and standard error."""
    out, err = Screen(encoding), Screen(encoding)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "stdout", out)
        patch.setattr(sys, "stderr", err)
        status = main(words)
        return status, out.shown(), err.shown()


def standing(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder that is no link, hidden ones too."""
    return {
        path.name: path.read_bytes() for path in folder.iterdir() if path.is_file() and not path.is_symlink()
    }


def hold_outputs(
    words: list[str], status: int, read: set[str], before: dict[str, bytes], folder: Path
) -> None:
    """Check what a command did to the files of its folder, then put them back.

    Parameters
    ----------
    read : real paths of what was opened to read meanwhile.
    before : what stood in the folder.
    """
    after = standing(folder)
    changed = {name for name in {**before, **after} if before.get(name) != after.get(name)}
    assert not changed or status in (0, 3)
    values = [word.split("=", 1)[-1] if word.startswith("--") else word.removeprefix("-o") for word in words]
    assert {str(folder / name) for name in changed} <= {os.path.realpath(value) for value in values if value}
    for name in changed & set(before):
        overwrite = "--overwrite" in words
        # the one file that is read and replaced: the set itself, when both options say so
        assert str(folder / name) not in read or (overwrite and name in FILES["receiver"])
        assert words[0] != "bench-sheet" or overwrite
    assert (folder / "two names").samefile(folder / "other name")
    assert {name: str((folder / name).readlink()) for name in LINKS} == LINKS
    for name in changed:
        if name in before:
            (folder / name).write_bytes(before[name])
        else:
            (folder / name).unlink()


def asks_for_json(words: list[str]) -> bool:
    """Return whether an answer is to come as JSON: help is no answer."""
    if {"-h", "--help"} & set(words):
        return False
    return "--format" in words and words[words.index("--format") + 1] == "json"


@examples(60, 12_000)
def test_any_command_line_gives_an_answer_or_a_refusal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int
) -> None:
    """No traceback, no other status; nothing printed after a refusal; no file touched but one it names."""
    home, folder = tmp_path / "home", tmp_path / "desk"
    home.mkdir()
    folder.mkdir()
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.chdir(folder)
    lay_out(folder)

    def rule(data: st.DataObject) -> None:
        found = data.draw(changing_files())
        write_receiver(data.draw(receivers()), folder / "set.toml")
        for name, content in found.items():
            (folder / name).write_bytes(content)
        before = standing(folder)
        words = data.draw(command_lines(FILES))
        encoding = data.draw(st.sampled_from(["utf-8", "utf-8", "latin-1", "ascii"]))
        monkeypatch.setenv("COLUMNS", str(data.draw(st.sampled_from([20, 40, 80, 200]))))
        global opened
        opened = set()
        status, out, err = run(words, encoding)
        read, opened = opened, None
        assert status in (0, 1, 2, 3)
        # of wrong words typer itself writes UTF-8 where a stream is ASCII, which it takes for a mistake
        shown = err.decode("utf-8" if status == 2 and encoding == "ascii" else encoding)
        told = [line for line in shown.splitlines() if not line.startswith(BESIDE)]
        assert (status in (1, 2)) == bool(told) or ("--import" in words and status == 0)
        assert not out or status in (0, 3)
        assert b"\x1b" not in out + err
        if status == 0 and asks_for_json(words) and out:
            json.loads(out)
        hold_outputs(words, status, read, before, folder)

    hold(rule, count, st.data())
