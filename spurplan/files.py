"""Files read with a refusal in plain words, and written whole or not at all.

What is to be written goes through one door, `Outputs`: each file is written
beside its target, all of them are checked, then each is moved over its target in
one step. A full disk, a lost connection or Ctrl-C leaves the old files as they
were. No output takes the place of a file that was read: `recorded` keeps account
of those while a command runs, whatever named them.

Reading opens nothing that could wait for ever: a pipe or a device is refused
before the first byte.
"""

from __future__ import annotations

import contextlib
import difflib
import errno
import os
import re
import secrets
import stat
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING

from spurplan.errors import Fault, Refused
from spurplan.units import as_path

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

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
    errno.EEXIST: ("a file has appeared there meanwhile", "name another file, or give --overwrite"),
    errno.ELOOP: ("its links lead round in a circle", "name the file itself"),
}


# --- what was read ------------------------------------------------------------------------------

# device and inode: a file by whatever name it is reached
Identity = tuple[int, int]


class FilesRead:
    """The files that were read, by what they are and by where they stand.

    A file that an editor replaced since has its old place, one that was moved its
    old identity: both are kept.
    """

    def __init__(self) -> None:
        self._named: dict[Identity | str, str] = {}

    def note(self, name: str, state: os.stat_result) -> None:
        """Keep a file that was opened under a name."""
        self._named.setdefault(_identity(state), name)
        self._named.setdefault(os.path.realpath(name), name)

    def name_of(self, target: str, state: os.stat_result | None) -> str | None:
        """Return the name under which a file was read; None where it was not.

        Parameters
        ----------
        target : str. Its real path.
        state : what stands there; None where nothing does.
        """
        if state is not None and (name := self._named.get(_identity(state))) is not None:
            return name
        return self._named.get(target)


_record: ContextVar[FilesRead | None] = ContextVar("files read", default=None)
# Tables of the package are read once a process and kept, so they are held for as long.
_shipped = FilesRead()


@contextlib.contextmanager
def recorded() -> Iterator[FilesRead]:
    """Keep account of every file that is read within; no output within takes the place of one.

    Notes
    -----
    A command runs within one. So may a program that uses the library; without it a
    writer replaces what it is told to, apart from the package's own tables.
    """
    read = FilesRead()
    token = _record.set(read)
    try:
        yield read
    finally:
        _record.reset(token)


def read_shipped(entry: Traversable) -> bytes:
    """Return what a file of the package itself holds."""
    if isinstance(entry, Path):
        _shipped.note(str(entry), entry.stat())
    return entry.read_bytes()


def _identity(state: os.stat_result) -> Identity:
    return state.st_dev, state.st_ino


def _name_read_as(target: str, state: os.stat_result | None) -> str | None:
    for read in (_record.get(), _shipped):
        if read is not None and (name := read.name_of(target, state)) is not None:
            return name
    return None


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
            state = os.fstat(file.fileno())
            if not stat.S_ISREG(state.st_mode):
                raise Refused(Fault(name, "is a pipe or a device, not a file", remedy="name a file"))
            if (read := _record.get()) is not None:
                read.note(name, state)
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


# --- what is written ----------------------------------------------------------------------------

STANDARD_OUTPUT = "-"
_DESCRIPTOR = re.compile(r"(?:/dev|/proc/(self|thread-self|\d+)(?:/task/\d+)?)/fd/(\d+)")
_MOST_LINKS = 40
# files that are written and not yet in their place
_unfinished: set[Path] = set()


def is_standard_output(name: str) -> bool:
    """Return whether a name means standard output: ``-``, ``/dev/stdout``, or a link to it."""
    return name in (STANDARD_OUTPUT, "/dev/stdout") or _descriptor(name) == 1


def _descriptor(name: str) -> int | None:
    """Return the open descriptor that a name stands for, through links; None for any other name.

    Notes
    -----
    On Linux such a name seems a link to the file that is open there, which would be replaced
    under the feet of whoever opened it. One of another process is -1.
    """
    path = Path(name)
    with contextlib.suppress(OSError, ValueError):
        for _ in range(_MOST_LINKS):
            path = Path(os.path.realpath(path.parent)) / path.name
            if match := _DESCRIPTOR.fullmatch(str(path)):
                own = match[1] in (None, "self", "thread-self", str(os.getpid()))
                return int(match[2]) if own and len(match[2]) < 10 else -1
            if not path.is_symlink():
                return None
            path = path.parent / path.readlink()
    return None


class Output:
    """One file to be written, as planned; made by `Outputs.plan`.

    Attributes
    ----------
    name, place : str. The name as it was given, and what gave it ("--chart").
    to_standard_output : bool. Whether the name means standard output.
    """

    def __init__(self, name: str, place: str, new: bool, successor_of: str | None) -> None:
        self.name, self.place = name, place
        self.to_standard_output = is_standard_output(name)
        self._new, self._successor_of = new, successor_of
        self._target = Path()
        self._before: os.stat_result | None = None
        self._beside: Path | None = None

    def fault(self) -> Fault | None:
        """Return why nothing may be written there as things stand; None where it may."""
        if not self.name.strip():
            return Fault(self.place, "is blank", self.name, "name a file")
        if self.to_standard_output:
            return None
        try:
            self._target = Path(os.path.realpath(self.name))
            self._before = _state(self._target)
            fault = self._kind_fault() or self._read_fault()
        except OSError as bad:
            return _unwritable(self.name, bad)
        except ValueError:  # a NUL in the path
            return Fault(_shown(self.name), "is not a path", self.name, "name a file")
        if fault is not None or self._before is None or not self._new:
            return fault
        return Fault(self.name, "stands there already", remedy="name another file, or give --overwrite")

    def same_place_as(self, other: Output) -> bool:
        """Return whether both, without a fault of their own, would be written to one place."""
        if self.to_standard_output or other.to_standard_output:
            return self.to_standard_output and other.to_standard_output
        if self._before is not None and other._before is not None:
            return _identity(self._before) == _identity(other._before)
        return self._target == other._target

    def _kind_fault(self) -> Fault | None:
        """Return why what stands there, or the folder it is to stand in, takes no file."""
        name, before = _shown(self.name), self._before
        if self.name.endswith(("/", os.sep)) or (before is not None and stat.S_ISDIR(before.st_mode)):
            return Fault(name, "is a folder", remedy="name a file in it")
        if _descriptor(self.name) is not None:
            return Fault(
                name, "is an open descriptor, not a file", remedy="name a file, or - for standard output"
            )
        if before is None:
            self._target.parent.stat()  # a missing folder is told before anything is worked out
            return None
        if not stat.S_ISREG(before.st_mode):
            return Fault(name, "is a pipe or a device, not a file", remedy="name a file")
        if before.st_nlink > 1:
            # Moving another file over it would leave its other names with what it held before.
            rule = f"is one file under {before.st_nlink} names (hard links)"
            return Fault(name, rule, remedy="name another file, or take this name away first")
        if not os.access(self._target, os.W_OK):
            # Moving another file over it would succeed, against what its owner asked for.
            return Fault(name, "is write-protected", remedy="allow writing or name another file")
        return None

    def _read_fault(self) -> Fault | None:
        """Return whose place it would take: a file that was read, or one that is written to already."""
        name, before = _shown(self.name), self._before
        for number, stream in ((1, "standard output"), (2, "standard error")):
            with contextlib.suppress(OSError):
                if before is not None and _identity(os.fstat(number)) == _identity(before):
                    return Fault(name, f"is where {stream} goes already", remedy="name another file")
        read_as = _name_read_as(str(self._target), before)
        if read_as is None or self._is_successor():
            return None
        rule = (
            "is read for this answer"
            if read_as == self.name
            else f"is {_shown(read_as)}, which is read for this answer"
        )
        return Fault(name, rule, remedy="name another file")

    def _is_successor(self) -> bool:
        return self._successor_of is not None and str(self._target) == os.path.realpath(self._successor_of)

    def write_beside(self, data: bytes) -> None:
        """Write the data where it does not count yet.

        Raises
        ------
        OSError  when it can not be written; `discard` takes away what was written of it.
        """
        beside = self._target.with_name(f".{secrets.token_hex(8)}.tmp")
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        self._beside = beside
        _unfinished.add(beside)  # first the name, then the file: a signal may come in between
        with os.fdopen(os.open(beside, flags, 0o666), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if self._before is not None:
            _keep_permissions(beside, self._before)

    def move(self) -> None:
        """Let what was written take its place.

        Raises
        ------
        OSError  when it can not; FileExistsError where somebody was faster with a file that may
            not be replaced.
        """
        assert self._beside is not None  # it was written
        if not self._new or not _placed(self._beside, self._target):
            self._beside.replace(self._target)
        self.discard()
        _sync_folder(self._target.parent)

    def discard(self) -> None:
        """Take away what was written beside, if anything was."""
        if self._beside is not None:
            with contextlib.suppress(OSError):
                self._beside.unlink()
            _unfinished.discard(self._beside)
            self._beside = None


class Outputs:
    """Files that are written together: all of them, or none.

    Plan each, `check`, write each, `check` once more when all inputs are read, then `commit`.
    Used as a context: what was not committed when it is left is taken away.
    """

    def __init__(self) -> None:
        self._planned: list[Output] = []

    def __enter__(self) -> Outputs:
        return self

    def __exit__(self, *_: object) -> None:  # Ctrl-C as well: no litter beside the user's files
        for output in self._planned:
            output.discard()

    def plan(
        self,
        name: str | os.PathLike[str],
        place: str = "path",
        *,
        new: bool = False,
        successor_of: str | None = None,
    ) -> Output:
        """Take one file into the plan.

        Parameters
        ----------
        name : path of the file, or what means standard output, where nothing is written here.
        place : str. What gave the name, for faults.
        new : bool. Whether to refuse it where a file stands already.
        successor_of : str or None. The one file that was read whose place it may take.
        """
        output = Output(as_path(name, place), place, new, successor_of)
        self._planned.append(output)
        return output

    def check(self) -> None:
        """Look whether every file may be written.

        Raises
        ------
        Refused  with all that is against it: a name that is blank, a folder, a device, an open
            descriptor, one of several hard links, write-protected or in a missing folder; a file
            that was read, or that has to be new and stands there; two names of one place.
        """
        faults = []
        sound: list[Output] = []
        for output in self._planned:
            fault = output.fault()
            if fault is None:
                same = next((other for other in sound if output.same_place_as(other)), None)
                if same is not None:
                    rule = f"is the place of {same.place} too: the one would take the place of the other"
                    fault = Fault(output.place, rule, output.name, "name two files")
                sound.append(output)
            if fault is not None:
                faults.append(fault)
        if faults:
            raise Refused(faults)

    def write(self, output: Output, data: bytes) -> None:
        """Write one of them beside its target.

        Raises
        ------
        Refused  when it can not be written.
        """
        try:
            output.write_beside(data)
        except OSError as bad:
            raise Refused(_unwritable(output.name, bad)) from None

    def commit(self) -> tuple[str, ...]:
        """Move all that was written to its place and return the names.

        Raises
        ------
        Refused  when one can not be moved; it says which ones were by then.
        """
        moved: list[str] = []
        for output in self._planned:
            if output._beside is None:
                continue
            try:
                output.move()
            except OSError as bad:
                fault = _unwritable(output.name, bad)
                if moved:
                    rule = f"{fault.rule} ({', '.join(map(_shown, moved))} written already)"
                    fault = Fault(fault.place, rule, fault.value, fault.remedy)
                raise Refused(fault) from None
            moved.append(output.name)
        return tuple(moved)


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
    write_bytes(path, as_utf8(text, as_path(path)))


def as_utf8(text: str, name: str) -> bytes:
    """Return the bytes of a text for a file.

    Raises
    ------
    Refused  naming the file, for text that UTF-8 can not hold.
    """
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError as bad:
        rule = "can not be written as UTF-8"
        raise Refused(Fault(name, rule, bad.object[bad.start : bad.end], "take the character out")) from None


def write_bytes(path: str | os.PathLike[str], data: bytes) -> None:
    """Write `data` to `path`, whole or not at all.

    The permissions of an existing file are kept, and a symbolic link stays a
    link: what it points to is replaced.

    Raises
    ------
    Refused  for a target that `Outputs.check` refuses, standard output, or a full
        disk. The old file, if there was one, is then unchanged.
    """
    with Outputs() as outputs:
        output = outputs.plan(path)
        if output.to_standard_output:
            raise Refused(Fault(output.name, "is standard output, not a file", remedy="name a file"))
        outputs.check()
        outputs.write(output, data)
        outputs.commit()


def remove_unfinished() -> None:
    """Take away every file that is not yet in its place, for a process that has to end now."""
    for beside in tuple(_unfinished):
        with contextlib.suppress(OSError):
            beside.unlink()


def _state(target: Path) -> os.stat_result | None:
    try:
        return target.stat()
    except FileNotFoundError:
        return None


def _placed(beside: Path, target: Path) -> bool:
    """Give a new file its name, never over another one; False where the disk knows no second names.

    Raises
    ------
    FileExistsError  when a file has appeared there meanwhile.
    """
    try:
        os.link(beside, target)
    except FileExistsError:
        raise
    except (OSError, AttributeError):
        if target.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST)) from None
        return False
    return True


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
    # the ending, which most names share, makes no two of them alike
    stems = difflib.get_close_matches(wanted.stem, {Path(entry).stem for entry in names}, n=3, cutoff=0.6)
    alike = [entry for entry in names if Path(entry).stem in stems]
    near = difflib.get_close_matches(wanted.name, alike, n=1, cutoff=0.6)
    return f'did you mean "{wanted.with_name(near[0])}"?' if near else "check the path"


def _spoken(bad: OSError) -> str:
    return (bad.strerror or "unknown reason").lower()


def _shown(name: str) -> str:
    shown = name.replace("\0", "\\0")
    return shown if shown else "(no name)"
