"""Writing files so that a crash leaves the old content or the new, and a failure is one clear line."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from pathlib import Path

from kb.base.errors import StoreError

_SAID = {
    errno.ENOSPC: ("the disk is full", "make room and try again"),
    errno.EDQUOT: ("the disk quota is used up", "make room and try again"),
    errno.EROFS: ("the folder is read-only", "open it for writing or choose another with --workspace"),
    errno.EACCES: ("the folder may not be written", "ask for the right or choose another with --workspace"),
    errno.EPERM: ("the folder may not be written", "ask for the right or choose another with --workspace"),
    errno.EIO: ("the disk reports a fault", "copy the workspace to another disk"),
}


@contextlib.contextmanager
def refusals(path: Path) -> Iterator[None]:
    """An operating-system error within becomes a StoreError that says what to do about it."""
    try:
        yield
    except OSError as error:
        what, mend = _SAID.get(error.errno or 0, (str(error.strerror or error).lower(), "nothing was recorded"))
        raise StoreError(str(path), what, mend) from None


def sync_folder(folder: Path) -> None:
    """Make the folder's own entries (new and renamed files) outlive a power cut. Windows has no such call."""
    if os.name == "nt":  # pragma: no cover
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make_folder(folder: Path) -> None:
    """The folder with its parents, each made to last."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def write_beside(path: Path, content: bytes) -> Path:
    """`content` in a file beside `path`, on the disk, ready to take its place; nothing is left where it fails."""
    beside = path.with_name(path.name + ".new")
    try:
        with beside.open("wb") as handle:
            handle.write(content)
            handle.flush()
            os.fsync(handle.fileno())
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
    return beside


def replace(path: Path, content: bytes) -> None:
    """Put `content` at `path`, as a whole or not at all."""
    write_beside(path, content).replace(path)
    sync_folder(path.parent)


def append(path: Path, known: int, content: bytes) -> None:
    """Add `content` after the first `known` bytes of the file; what an interrupted write left there goes.

    Where it fails, the file is cut back to what is known.
    """
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    try:
        os.ftruncate(handle, known)
        os.lseek(handle, known, os.SEEK_SET)
        try:
            rest = memoryview(content)
            while rest:
                rest = rest[os.write(handle, rest) :]
            os.fsync(handle)
        except OSError:
            os.ftruncate(handle, known)
            raise
    finally:
        os.close(handle)
