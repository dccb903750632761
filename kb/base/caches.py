"""What can be worked out again, kept in a file of the user's own, and believed only if nobody else can have written it.

A cache is read with `marshal`, which yields plain values and runs nothing, but trusts its bytes: so the file must be
an ordinary one, of this user, that no other may write to; it must be of the form that is expected; and it carries a
digest of itself.

>>> import tempfile
>>> path = Path(tempfile.mkdtemp()) / "sub" / "x.cache"
>>> write(path, b"form 1\\n", {"a": (1, 2)}); read(path, b"form 1\\n"), read(path, b"form 2\\n")
({'a': (1, 2)}, None)
"""

from __future__ import annotations

import contextlib
import hashlib
import marshal
import os
import stat
import sys
from pathlib import Path
from typing import Any

from kb.base.disk import sweep

_PART = ".part"


def folder() -> Path | None:
    """Tell where the user's caches are; None for a user without a home."""
    named = os.environ.get("TACKROOM_CACHE") or os.environ.get("XDG_CACHE_HOME")
    try:
        return (Path(named) if named else Path.home() / ".cache") / "tackroom"
    except RuntimeError:
        return None


def key(*parts: str) -> str:
    """Name what a cache is of. Users who share a folder of caches each have their own."""
    owner = str(os.geteuid()) if hasattr(os, "geteuid") else ""
    return hashlib.sha256("\0".join((owner, *parts)).encode("utf-8", "surrogateescape")).hexdigest()[:16]


def header(what: str) -> bytes:
    """Give the first line of a cache: what is in it, and the language that reads it."""
    return f"tackroom {what} python {sys.version_info[0]}.{sys.version_info[1]}\n".encode()


def read(path: Path, head: bytes) -> Any:
    """Tell what the cache holds; None where it is absent, somebody else's, of another form, or damaged in any bit."""
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        return None
    try:
        if not _own(os.fstat(handle)):
            return None
        with open(handle, "rb", closefd=False) as file:
            raw = file.read()
    except OSError:
        return None
    finally:
        os.close(handle)
    size = len(head)
    body = memoryview(raw)[size + 32 :]
    if raw[:size] != head or hashlib.sha256(body).digest() != raw[size : size + 32]:
        return None
    try:
        return marshal.loads(body)
    except (ValueError, EOFError, TypeError):
        return None


def _own(found: os.stat_result) -> bool:
    """Tell whether a file is an ordinary one of this user that nobody else may write to."""
    if not stat.S_ISREG(found.st_mode):
        return False
    return not hasattr(os, "geteuid") or (found.st_uid == os.geteuid() and not found.st_mode & 0o022)


def write(path: Path, head: bytes, value: Any) -> None:
    """Write beside and rename. A cache that can't be written is done without, and leaves no part behind."""
    body = marshal.dumps(value)
    part = path.with_name(f"{path.name}.{os.getpid()}{_PART}")
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        sweep(path.parent, f"*{_PART}")
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0)
        handle = os.open(part, flags, 0o600)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(head + hashlib.sha256(body).digest() + body)
            part.replace(path)
        except OSError:
            part.unlink(missing_ok=True)
