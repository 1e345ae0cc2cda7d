"""Files are written whole or not at all, and read with a refusal in plain words."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from spurplan import files
from spurplan.errors import Refused
from spurplan.files import read_bytes, write_bytes, write_text


def names_in(folder: Path) -> list[str]:
    """Return what stands in a folder, hidden files included."""
    return sorted(entry.name for entry in folder.iterdir())


def test_written_text_is_utf8_and_line_ends_are_left_alone(tmp_path: Path) -> None:
    write_text(tmp_path / "a.txt", "Süd\r\nNord\n")
    assert (tmp_path / "a.txt").read_bytes() == "Süd\r\nNord\n".encode()
    assert names_in(tmp_path) == ["a.txt"]


def test_text_that_utf8_can_not_hold_leaves_the_old_file(tmp_path: Path) -> None:
    write_text(tmp_path / "a.txt", "old")
    with pytest.raises(Refused, match=r"a\.txt: .*can not be written as UTF-8"):
        write_text(tmp_path / "a.txt", "new \udcff")
    assert (tmp_path / "a.txt").read_text() == "old"


def test_permissions_of_a_replaced_file_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")
    path.chmod(0o640)
    write_text(path, "new")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert path.read_text() == "new"


def test_a_new_file_has_the_permissions_of_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("x")
    write_text(tmp_path / "ours", "x")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to("real.txt")
    write_text(tmp_path / "link.txt", "new")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "new"


@pytest.mark.parametrize(
    ("failing", "number", "said"),
    [
        ("fsync", errno.ENOSPC, "the disk is full"),
        ("fsync", errno.EDQUOT, "the disk quota is used up"),
        ("fsync", errno.EIO, "input/output error"),
    ],
)
def test_a_failure_while_writing_leaves_the_old_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str, number: int, said: str
) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")

    def fail(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(files.os, failing, fail)
    with pytest.raises(Refused, match=rf"a\.txt: can not be written: {said}"):
        write_text(path, "new")
    assert path.read_text() == "old"
    assert names_in(tmp_path) == ["a.txt"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no full device")
def test_a_device_is_not_replaced_by_a_file() -> None:
    with pytest.raises(Refused, match="/dev/full: is a pipe or a device"):
        write_text("/dev/full", "x")
    assert stat.S_ISCHR(os.stat("/dev/full").st_mode)  # noqa: PTH116


def test_interruption_leaves_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C in the middle is passed on, with the folder as it was."""

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(files.os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_text(tmp_path / "a.txt", "new")
    assert names_in(tmp_path) == []


def test_targets_that_are_no_files_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for target, said in [
        (tmp_path, "is a folder"),
        (tmp_path / "pipe", "is a pipe or a device"),
        (tmp_path / "none" / "a.txt", "no such folder"),
        (tmp_path / "a\0b", "is not a path"),
        (tmp_path / ("x" * 300), "the name is too long"),
    ]:
        with pytest.raises(Refused, match=said):
            write_bytes(target, b"x")
    assert names_in(tmp_path) == ["pipe"]


def test_a_name_that_ends_as_a_folder_does_makes_no_file(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="is a folder"):
        write_text(f"{tmp_path}/results/", "x")
    assert names_in(tmp_path) == []


@pytest.mark.parametrize("name", ["", " ", "\t\n"])
def test_a_blank_name_is_said_as_that(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """No file that nobody can see the name of."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(Refused, match=r'^path: ".*" is blank; name a file'):
        write_text(name, "x")
    assert names_in(tmp_path) == []


def test_one_of_several_hard_links_is_refused(tmp_path: Path) -> None:
    """Moving a file over one name would leave the old text under the others."""
    (tmp_path / "one").write_text("old")
    (tmp_path / "other").hardlink_to(tmp_path / "one")
    with pytest.raises(Refused, match=r"one: is one file under 2 names \(hard links\); name another file"):
        write_text(tmp_path / "one", "new")
    assert (tmp_path / "other").read_text() == "old"
    assert (tmp_path / "one").samefile(tmp_path / "other")


def test_a_link_to_itself_is_refused(tmp_path: Path) -> None:
    (tmp_path / "round").symlink_to("round")
    with pytest.raises(Refused, match=r"round: can not be .*links lead round"):
        write_text(tmp_path / "round", "x")
    with pytest.raises(Refused, match="round: can not be read: its links lead round"):
        read_bytes(tmp_path / "round")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_no_permission_is_said(tmp_path: Path) -> None:
    shut = tmp_path / "shut"
    shut.mkdir()
    (shut / "a.txt").write_text("old")
    (tmp_path / "fixed.txt").write_text("old")
    (tmp_path / "fixed.txt").chmod(0o444)
    shut.chmod(0o500)
    try:
        with pytest.raises(Refused, match=r"b\.txt: can not be written: permission denied"):
            write_text(shut / "b.txt", "new")
        with pytest.raises(Refused, match=r"fixed\.txt: is write-protected"):
            write_text(tmp_path / "fixed.txt", "new")
    finally:
        shut.chmod(0o700)
    (tmp_path / "fixed.txt").chmod(0o000)
    with pytest.raises(Refused, match=r"fixed\.txt: can not be read: permission denied"):
        read_bytes(tmp_path / "fixed.txt")


@pytest.mark.parametrize("number", [errno.EACCES, errno.EROFS])
def test_a_folder_that_takes_no_file_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """The same for root: the system call is made to fail."""

    def fail(*_: object) -> int:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(files.os, "open", fail)
    with pytest.raises(Refused, match=r"can not be written: (permission denied|the disk is read-only)"):
        write_text(tmp_path / "a.txt", "new")
    with pytest.raises(Refused, match=r"a\.txt: can not be read: (permission denied|the disk is read-only)"):
        read_bytes(tmp_path / "a.txt")


def test_reading_refuses_what_is_no_file(tmp_path: Path) -> None:
    """A pipe nobody writes to is refused at once instead of waited for."""
    os.mkfifo(tmp_path / "pipe")
    for source, said in [
        (tmp_path, "is a folder"),
        (tmp_path / "pipe", "is a pipe or a device"),
        ("/dev/null", "is a pipe or a device"),
        (tmp_path / "none.csv", "does not exist"),
        (tmp_path / "none" / "a.csv", r"does not exist; there is no folder .*none"),
        ("", "does not exist"),
        ("a\0b", "is not a path"),
    ]:
        with pytest.raises(Refused, match=said):
            read_bytes(source)


def test_a_near_name_is_offered(tmp_path: Path) -> None:
    (tmp_path / "north.csv").write_text("x")
    with pytest.raises(Refused, match=r'nroth\.csv: does not exist; did you mean ".*north\.csv"\?'):
        read_bytes(tmp_path / "nroth.csv")


def test_the_limit_is_kept_to_the_byte(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"12345")
    assert read_bytes(tmp_path / "a", 5) == b"12345"
    with pytest.raises(Refused, match="is larger than 4 bytes"):
        read_bytes(tmp_path / "a", 4)
