"""A copy of everything in one file, made while the ledger is in use and checked by reading it back; and the way back.

The file is a ledger itself, as it was at one moment, with the lab's documents, items and rules in a table beside.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import quote

from kb.base import disk
from kb.base.documents import Documents
from kb.base.errors import BadInput, StoreError
from kb.stock.ledger import Ledger
from kb.stock.portable import house_files, must_be_empty, put_house_files
from kb.stock.stores import Report
from kb.stock.stores.refusals import damaged, refusals
from kb.stock.stores.sqlite import SqliteStore, made_beside

#: Beside the ledger's own: the documents and the files, as JSON, with a digest of both.
_CARRIED = "CREATE TABLE carried (documents TEXT NOT NULL, files TEXT NOT NULL, digest TEXT NOT NULL)"


def backup(ledger: Ledger, workspace: Path, file: Path) -> Report:
    """Write a backup to a new file; says what it holds. BadInput where the file is there, StoreError for damage."""
    with disk.refusals(file):
        if file.exists():
            raise BadInput(str(file), "is there already", "name a new file: a backup is never written over")
        if not file.parent.is_dir():
            raise BadInput(str(file), f"there is no folder {file.parent}", "make it, or name another file")
    standing = ledger.standing()
    if not standing.head.seq:
        raise BadInput(str(workspace), "nothing has been recorded yet", "there is nothing to back up")
    with disk.refusals(file), made_beside(file) as fresh:
        ledger.store.backup(fresh)
        with refusals(fresh), closing(sqlite3.connect(fresh, isolation_level=None)) as connection:
            connection.execute(_CARRIED)
            carried = [json.dumps(part) for part in (Documents(workspace).everything(), house_files(workspace))]
            connection.execute("INSERT INTO carried VALUES (?, ?, ?)", (*carried, _digest(*carried)))
        report = checked(fresh)
        _must_lead_to(ledger, fresh)
        disk.sync_file(fresh)
        if not disk.put_new(fresh, file):
            raise BadInput(str(file), "is there already", "name a new file: a backup is never written over")
    return report


def checked(file: Path) -> Report:
    """Read a backup whole, every entry and sum of it. StoreError where anything in it is wrong."""
    report = Ledger(SqliteStore(file)).verify()
    if report.problems:
        raise StoreError(str(file), f"can't be relied on: {report.problems[0]}", "take another backup")
    _carried(file)
    return report


def restore(file: Path, ledger: Ledger, workspace: Path, sound: Callable[[Any], Any]) -> Report:
    """Put a backup into an empty workspace: all of it, or nothing. `sound` reads the records of the work."""
    if not file.is_file():
        raise BadInput(str(file), "no such file", "name a file that `stock backup` wrote")
    report = checked(file)
    documents, house = _carried(file)
    must_be_empty(ledger, workspace, documents)
    with SqliteStore(file).reading() as reader:
        for entry in reader.entries("work"):
            sound(entry.body)
    put_house_files(workspace, house)
    ledger.store.restore(file)
    _must_lead_to(ledger, file)
    if documents and not Documents(workspace).everything():
        Documents(workspace).take_in(documents)
    return report


def _must_lead_to(ledger: Ledger, copy: Path) -> None:
    """Raise StoreError unless the copy is what the ledger is, or was at one moment."""
    with SqliteStore(copy).reading() as copied:
        head = copied.head()
    with ledger.store.reading() as reader:
        if reader.hash_at(head.seq) != head.hash:
            raise StoreError(str(copy), "is not what the ledger was", "try again")


def _carried(file: Path) -> tuple[dict[str, Any], dict[str, str]]:
    """Give the documents and the files of a backup; none where it is a plain copy of a ledger."""
    address = f"file:{quote(str(file.absolute()))}?mode=ro"
    with refusals(file), closing(sqlite3.connect(address, uri=True)) as connection:
        if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'carried'").fetchone():
            return {}, {}
        row = connection.execute("SELECT documents, files, digest FROM carried").fetchone()
    if row is None or _digest(row[0], row[1]) != row[2]:
        raise damaged(file, "its documents were changed since it was written")
    return json.loads(row[0]), json.loads(row[1])


def _digest(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode("utf-8", "surrogatepass")).hexdigest()
