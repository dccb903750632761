"""A ledger as one file to be carried away, whatever store keeps it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path

from kb.stock.stores import Draft, Entry, Reader
from kb.stock.stores.refusals import refusals, written
from kb.stock.stores.sqlite import SqliteStore


def write_copy(file: Path, entries: Iterable[Entry]) -> None:
    """Write a ledger with these entries to a file that is not there yet."""
    drafts = [Draft(one.stream, one.body) for one in entries]
    SqliteStore(file).append(lambda _: drafts)
    with refusals(file), closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE").fetchall()


def read_copy(file: Path, reader: Reader) -> list[Draft]:
    """Give what a store that `reader` reads must take in to become a copy. StoreError where it holds something."""
    if reader.head().seq:
        raise written("ledger")
    with SqliteStore(file).reading() as copied:
        return [Draft(one.stream, one.body) for one in copied.entries()]
