"""Files read with a refusal in plain words, and written whole or not at all.

A file is written beside its target and moved over it in one step: a full disk,
a lost connection or Ctrl-C leaves the old file as it was. Reading opens nothing
that could wait for ever: a pipe or a device is refused before the first byte.
"""

from __future__ import annotations

import contextlib
import difflib
import errno
import os
import secrets
import stat
from collections.abc import Iterator
from pathlib import Path

from spurplan.errors import Fault, Refused
from spurplan.given import as_path

# Two million rows of a band table are some 150 MB.
LARGEST_BYTES = 1 << 30

_REASONS = {
    errno.ENOSPC: ("the disk is full", "free some space or name another place"),
    errno.EDQUOT: ("the disk quota is used up", "free some space or name another place"),
    errno.EROFS: ("the disk is read-only", "name another place"),
    errno.EACCES: ("permission denied", "check the permissions or name another place"),
    errno.EPERM: ("permission denied", "check the permissions or name another place"),
    errno.ENOENT: ("no such folder", "make the folder first"),
    errno.ENOTDIR: ("part of the path is not a folder", "check the path"),
    errno.ENAMETOOLONG: ("the name is too long", "shorten it"),
    errno.EFBIG: ("the file would be larger than allowed here", "name another place"),
    errno.ELOOP: ("its links lead round in a circle", "name the file itself"),
}


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """Write `text` as UTF-8 to `path`, whole or not at all.

    Parameters
    ----------
    path : path of the file; an existing one is replaced.
    text : str. Written as it is: line ends are not changed.

    Raises
    ------
    Refused  as `write_bytes`; also for text that UTF-8 can not hold.
    """
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as bad:
        rule = "can not be written as UTF-8"
        raise Refused(
            Fault(as_path(path), rule, bad.object[bad.start : bad.end], "take the character out")
        ) from None
    write_bytes(path, data)


def write_bytes(path: str | os.PathLike[str], data: bytes) -> None:
    """Write `data` to `path`, whole or not at all.

    The permissions of an existing file are kept, and a symbolic link stays a
    link: what it points to is replaced.

    Raises
    ------
    Refused  when the target is a folder, a pipe or a device, is write-protected,
        stands in a missing or read-only folder, or the disk is full. The old
        file, if there was one, is then unchanged.
    """
    name = as_path(path)
    try:
        target = Path(os.path.realpath(name))
        before = _checked_target(name, target)
        _write_beside(target, data, before)
    except OSError as bad:
        raise Refused(_unwritable(name, bad)) from None
    except ValueError:  # a NUL in the path
        raise Refused(Fault(_shown(name), "is not a path", name, "name a file")) from None


def _checked_target(name: str, target: Path) -> os.stat_result | None:
    """Return the state of the file that is replaced; None where there is none."""
    if name.endswith(("/", os.sep)):  # a file of that name is not what was asked for
        raise Refused(Fault(name, "is a folder", remedy="name a file in it"))
    try:
        before = target.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(before.st_mode):
        raise Refused(Fault(_shown(name), "is a folder", remedy="name a file in it"))
    if not stat.S_ISREG(before.st_mode):
        raise Refused(Fault(_shown(name), "is a pipe or a device, not a file", remedy="name a file"))
    if not os.access(target, os.W_OK):
        # Moving another file over it would succeed, against what its owner asked for.
        raise Refused(Fault(_shown(name), "is write-protected", remedy="allow writing or name another file"))
    return before


def _write_beside(target: Path, data: bytes, before: os.stat_result | None) -> None:
    beside = target.with_name(f".{secrets.token_hex(8)}.tmp")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    with _removed_on_failure(beside):
        with os.fdopen(os.open(beside, flags, 0o666), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if before is not None:
            _keep_permissions(beside, before)
        beside.replace(target)
    _sync_folder(target.parent)


@contextlib.contextmanager
def _removed_on_failure(path: Path) -> Iterator[None]:
    try:
        yield
    except BaseException:  # Ctrl-C as well: no litter beside the user's files
        with contextlib.suppress(OSError):
            path.unlink()
        raise


def _keep_permissions(path: Path, before: os.stat_result) -> None:
    if hasattr(os, "chown"):
        # Only root can give a file away; for everybody else it is theirs already.
        with contextlib.suppress(OSError):
            os.chown(path, before.st_uid, before.st_gid)
    path.chmod(stat.S_IMODE(before.st_mode))


def _sync_folder(folder: Path) -> None:
    # Not every system lets a folder be opened; the file itself is on disk already.
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _unwritable(name: str, bad: OSError) -> Fault:
    reason, remedy = _REASONS.get(bad.errno or 0, (_spoken(bad), "name another place"))
    return Fault(_shown(name), f"can not be written: {reason}", remedy=remedy)


def read_bytes(path: str | os.PathLike[str], limit: int = LARGEST_BYTES) -> bytes:
    """Return what a regular file holds.

    Parameters
    ----------
    path : path of the file.
    limit : int. The most bytes it may have.

    Raises
    ------
    Refused  when it does not exist (near names are offered), is a folder, a pipe
        or a device, may not be read, or is larger than `limit`.
    """
    name = as_path(path)
    # Without O_NONBLOCK opening a pipe nobody writes to would wait for ever.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        with os.fdopen(os.open(name, flags), "rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            if not stat.S_ISREG(mode):
                raise Refused(Fault(name, "is a pipe or a device, not a file", remedy="name a file"))
            data = file.read(limit + 1)
            if data is None:  # opened without waiting, it has none at hand
                rule = "can not be read: it has nothing to give yet"
                raise Refused(Fault(_shown(name), rule, remedy="make a plain file of it"))
    except IsADirectoryError:
        raise Refused(Fault(name, "is a folder", remedy="name a file in it")) from None
    except FileNotFoundError:
        raise Refused(Fault(_shown(name), "does not exist", remedy=_near_name(name))) from None
    except OSError as bad:
        raise Refused(_unreadable(name, bad)) from None
    except ValueError:
        raise Refused(Fault(_shown(name), "is not a path", name, "name a file")) from None
    if len(data) > limit:
        raise Refused(Fault(name, f"is larger than {limit:,} bytes", remedy="split the file"))
    return data


def _unreadable(name: str, bad: OSError) -> Fault:
    denied = bad.errno in (errno.EACCES, errno.EPERM)
    if denied and Path(name).is_dir():  # Windows says "permission denied" for a folder
        return Fault(name, "is a folder", remedy="name a file in it")
    reason, remedy = _REASONS.get(bad.errno or 0, (_spoken(bad), "check the file"))
    if denied:
        remedy = "check its permissions"
    return Fault(_shown(name), f"can not be read: {reason}", remedy=remedy)


def _near_name(name: str) -> str:
    wanted = Path(name)
    try:
        if not wanted.parent.is_dir():
            return f"there is no folder {wanted.parent}"
        names = sorted(entry.name for entry in wanted.parent.iterdir())
    except OSError:
        return "check the path"
    near = difflib.get_close_matches(wanted.name, names, n=1, cutoff=0.6)
    return f'did you mean "{wanted.with_name(near[0])}"?' if near else "check the path"


def _spoken(bad: OSError) -> str:
    return (bad.strerror or "unknown reason").lower()


def _shown(name: str) -> str:
    shown = name.replace("\0", "\\0")
    return shown if shown else "(no name)"
