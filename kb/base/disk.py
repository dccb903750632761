"""Reading files no further than a bound, and writing them so that a crash leaves the old content or the new.

>>> import tempfile
>>> path = Path(tempfile.mkdtemp()) / "a" / "note.json"
>>> make_folder(path.parent); replace(path, b"{}"); read(path, most=10)
b'{}'
>>> read(path, most=1)  # doctest: +ELLIPSIS
Traceback (most recent call last):
    ...
kb.base.errors.BadInput: ...note.json: has more than 1 byte; split it, or check that it is the right file
"""

from __future__ import annotations

import contextlib
import errno
import glob
import os
import stat
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from kb.base.errors import BadInput, StoreError

#: What a table, a log or a job may have at the most: more is not read at all.
MOST_BYTES = 20_000_000
#: A part file that is older than so many seconds was left by a program that ended while it wrote.
_LEFT_S = 3600
#: What is said where it isn't sure.
MAY_BE = "it may have been written: look before you repeat it"
_SAID = {
    errno.ENOSPC: ("the disk is full", "make room and try again"),
    errno.EDQUOT: ("the disk quota is used up", "make room and try again"),
    errno.EROFS: ("is read-only", "open it for writing or choose another with --workspace"),
    errno.EACCES: ("may not be written", "ask for the right or choose another with --workspace"),
    errno.EPERM: ("may not be written", "ask for the right or choose another with --workspace"),
    errno.EIO: ("the disk reports a fault", "copy the workspace to another disk"),
    errno.EMFILE: ("too many files are open", "close other programs and try again"),
    errno.ENFILE: ("too many files are open", "close other programs and try again"),
}
#: Seconds that a write waits for another program's.
WAIT_S = 10.0


class Unsure(OSError):
    """A file has its new content or its name, and it isn't sure that this would outlive a power cut."""


def refusal(where: str, error: OSError) -> StoreError:
    """Give the line that says what the operating system refused, and what to do about it."""
    what, mend = _SAID.get(error.errno or 0, (str(error.strerror or error).lower(), "nothing was changed"))
    return StoreError(where, what, MAY_BE if isinstance(error, Unsure) else mend)


@contextlib.contextmanager
def refusals(path: Path) -> Iterator[None]:
    """Turn an operating-system error within into a StoreError that says what to do about it."""
    try:
        yield
    except OSError as error:
        raise refusal(str(path), error) from None


def read(path: Path, most: int = MOST_BYTES, shown: str = "") -> bytes:
    """Read a file that somebody names. BadInput where it is no ordinary file, or holds more than `most` bytes.

    A pipe or a device has no end to wait for: it is refused before it is read.
    """
    name = shown or str(path)
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        raise BadInput(name, "there is no such file", "check the path") from None
    except (OSError, ValueError) as error:
        said = error.strerror if isinstance(error, OSError) and error.strerror else "can't be opened"
        raise BadInput(name, said.lower(), "check the name and its permissions") from None
    try:
        found = os.fstat(handle)
        if stat.S_ISDIR(found.st_mode):
            raise BadInput(name, "is a folder, not a file", "name a file in it")
        if not stat.S_ISREG(found.st_mode):
            raise BadInput(name, "is a pipe or a device, not a file", "save what it holds in a file first")
        # What has grown meanwhile is noticed by the one byte more.
        content = b"" if found.st_size > most else _up_to(handle, most + 1)
        if found.st_size > most or len(content) > most:
            bound = f"{most // 1_000_000} MB" if most >= 1_000_000 else f"{most} byte{'s' if most != 1 else ''}"
            raise BadInput(name, f"has more than {bound}", "split it, or check that it is the right file")
        return content
    except OSError as error:
        raise BadInput(name, f"can't be read: {(error.strerror or str(error)).lower()}", "check the disk") from None
    finally:
        os.close(handle)


def _up_to(handle: int, most: int) -> bytes:
    pieces: list[bytes] = []
    left = most
    while left and (piece := os.read(handle, min(left, 1 << 20))):
        pieces.append(piece)
        left -= len(piece)
    return b"".join(pieces)


def sync_folder(folder: Path) -> None:
    """Make the folder's own entries (new and renamed files) outlive a power cut. Windows has no such call."""
    if os.name != "nt":  # pragma: no branch
        _sync(folder, os.O_RDONLY)


def _settle(folder: Path) -> None:
    """Make a new name outlive a power cut; where that can't be done the name is there all the same."""
    try:
        sync_folder(folder)
    except OSError as error:
        raise Unsure(error.errno, error.strerror) from None


def sync_file(path: Path) -> None:
    """Put what a file holds on the disk."""
    _sync(path, os.O_RDWR)


def _sync(path: Path, flags: int) -> None:
    handle = os.open(path, flags)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make_folder(folder: Path) -> None:
    """Make the folder with its parents, each to last."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def mode_in(folder: Path) -> int:
    """Give the permissions of a file in `folder`: whoever may write to the folder may write to the file.

    >>> import tempfile
    >>> folder = Path(tempfile.mkdtemp()); folder.chmod(0o2770); oct(mode_in(folder))
    '0o660'
    """
    return (folder.stat().st_mode & 0o666) | 0o600


@contextlib.contextmanager
def locked(place: Path, of: Path) -> Iterator[None]:
    """Hold the lock file `place` while `of` is written. StoreError where another program holds it for too long."""
    from filelock import FileLock, Timeout

    try:
        with FileLock(place, timeout=WAIT_S, mode=mode_in(place.parent)):
            yield
    except Timeout:
        raise StoreError(str(of), "another program is writing", "wait until it is done and try again") from None


def sweep(folder: Path, names: str) -> None:
    """Take away the part files of that pattern which programs left that were ended while they wrote."""
    for left in folder.glob(names):
        with contextlib.suppress(OSError):
            if time.time() - left.lstat().st_mtime > _LEFT_S:
                left.unlink()


def beside(path: Path) -> Path:
    """Name a file of this thread's own beside `path`, to be put in its place; what others left there goes."""
    sweep(path.parent, f"{glob.escape(path.name)}.*.new*")
    return path.with_name(f"{path.name}.{os.getpid()}-{threading.get_ident()}.new")


def replace(path: Path, content: bytes) -> None:
    """Put `content` at `path`, as a whole or not at all; a crash leaves what was there, or this."""
    fresh = beside(path)
    try:
        with fresh.open("wb") as handle:
            handle.write(content)
            handle.flush()
            os.fsync(handle.fileno())
        fresh.chmod(mode_in(path.parent))
        fresh.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise
    _settle(path.parent)


def put_new(fresh: Path, path: Path) -> bool:
    """Give the file `fresh` the name `path`, unless something has that name already; whether it was given.

    The name `fresh` is gone in either case.
    """
    try:
        os.link(fresh, path)
    except FileExistsError:
        fresh.unlink()
        return False
    except OSError:
        # No hard links on this disk: the check and the renaming are two steps here.
        if path.exists():
            fresh.unlink()
            return False
        fresh.rename(path)
    else:
        with contextlib.suppress(OSError):
            fresh.unlink()
    _settle(path.parent)
    return True
