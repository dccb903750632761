"""What SQLite refuses, in one line: what it means, whether anything was recorded, and what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kb.base.errors import StoreError

#: What SQLite says where another program holds what it wants.
LOCKED = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL)
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT)
_SAID = {
    sqlite3.SQLITE_FULL: ("the disk is full", "make room and try again"),
    sqlite3.SQLITE_IOERR: ("the disk reports a fault", "look at the disk, and copy the workspace to another"),
    sqlite3.SQLITE_READONLY: ("may not be written", "ask for the right or choose another with --workspace"),
    sqlite3.SQLITE_PERM: ("may not be written", "ask for the right or choose another with --workspace"),
    sqlite3.SQLITE_CANTOPEN: ("can't be opened", "check its permissions, and those of its folder"),
    sqlite3.SQLITE_NOMEM: ("there is not enough memory", "close other programs and try again"),
    sqlite3.SQLITE_AUTH: ("can't be opened", "check its permissions, and those of its folder"),
}
MAY_BE = "it may have been recorded: look (`stock history`) before you repeat it"


class LaterVersion(StoreError):
    """The ledger was written by a later version of this program."""

    def __init__(self, where: str, version: int) -> None:
        said = f"was written by a later version (schema {version})"
        super().__init__(where, said, "nothing was written; update this program")


def damaged(where: Path | str, how: str) -> StoreError:
    """Give the error that says that a ledger is damaged, and what to do."""
    mend = "nothing was written; `stock verify` says more, and `stock restore` takes a backup into another workspace"
    return StoreError(str(where), how, mend)


def locked(path: Path) -> StoreError:
    """Give the error that says that somebody else is at the ledger."""
    return StoreError(str(path), "another program is writing", "wait until it is done and try again")


#: What SQLite raises; where its own words are damaged, Python can't even read them.
ERRORS = (sqlite3.Error, UnicodeDecodeError)


def refusal(path: Path, error: sqlite3.Error | UnicodeDecodeError, doubt: bool = False) -> StoreError:
    """Give the line for an error of SQLite; `doubt`: it came when the entries were on their way to the disk."""
    if isinstance(error, UnicodeDecodeError):
        return damaged(path, "is damaged (it holds what is no text)")
    code = getattr(error, "sqlite_errorcode", None)
    primary = None if code is None else code & 0xFF
    if primary in _DAMAGED or (primary is None and isinstance(error, sqlite3.DatabaseError)):
        return damaged(path, f"is damaged ({error})")
    if primary in LOCKED:
        return locked(path)
    what, mend = _SAID.get(primary or 0, (f"refused ({error})", "nothing was recorded"))
    # Where the disk is full, the end of what was to be recorded is missing: it counts for nothing.
    return StoreError(str(path), what, MAY_BE if doubt and primary != sqlite3.SQLITE_FULL else mend)


@contextmanager
def refusals(path: Path) -> Iterator[None]:
    """Turn an error of SQLite within, before anything was acknowledged, into a StoreError."""
    try:
        yield
    except ERRORS as error:
        raise refusal(path, error) from None


def written(where: str) -> StoreError:
    """Refuse to put a copy where something is recorded already."""
    return StoreError(where, "something is recorded there already", "restore into an empty one")
