"""The embedded store: one SQLite database, `ledger.sqlite3` in the workspace.

A write is one transaction. It is acknowledged when SQLite has put it on the disk (write-ahead log, synchronous=FULL)
and has moved it from the log to the database itself, so that a lost or damaged log costs no acknowledged entry.
Each connection is opened for one look or one write: a folder that was moved or replaced meanwhile is noticed, and
nothing is written to a file that is no longer there.

>>> import tempfile
>>> from kb.stock.stores import Draft
>>> store = SqliteStore(Path(tempfile.mkdtemp()) / "ledger.sqlite3")
>>> store.append(lambda reader: [Draft("stock", {"id": 1, "lot": "A-17"})])[0].seq, store.verify().problems
(1, ())
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import stat
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

from kb.base import disk
from kb.base.errors import StoreError
from kb.stock.stores import Answered, Decide, Entry, Once, Report
from kb.stock.stores.chain import Link
from kb.stock.stores.refusals import LOCKED, MAY_BE, LaterVersion, damaged, locked, refusal, refusals, written
from kb.stock.stores.schema import APPLICATION, VERSION, create, strange
from kb.stock.stores.sqlite_reader import SqliteReader

#: How the name of the write-ahead log ends, which SQLite keeps beside a database that is open.
LOG = "-wal"
#: How long a write waits for another.
WAIT_S = 10.0
#: How long what was recorded waits for readers before it is moved from the log to the database.
SETTLE_MS = 200
#: So many answers to requests are kept, the last ones.
ANSWERS_KEPT = 2000


class SqliteStore:
    """A `kb.stock.stores.Store` in one file. Nothing is created before the first entry is written."""

    def __init__(self, path: Path, wait_s: float | None = None) -> None:
        self.path = path
        self._wait_s = WAIT_S if wait_s is None else wait_s

    @contextmanager
    def reading(self) -> Iterator[SqliteReader]:
        """See `Store.reading`."""
        if self._place() is None:
            yield SqliteReader(self.path, None)
            return
        with refusals(self.path), self._connection() as connection:
            connection.execute("BEGIN")
            yield SqliteReader(self.path, connection)

    def append(self, decide: Decide, once: Once | None = None) -> list[Entry]:
        """See `Store.append`."""
        with disk.refusals(self.path):
            self._begin()
        with self._connection() as connection:
            place = self._place()
            with refusals(self.path):
                connection.execute("BEGIN IMMEDIATE")
                self._must_be_sound(connection)
                added = self._added(connection, decide, once)
                if not added:
                    connection.execute("ROLLBACK")
                    return []
            try:
                connection.execute("COMMIT")
            except sqlite3.Error as error:
                raise refusal(self.path, error, doubt=True) from None
            # From here on it is recorded. What can't be moved to the database now is moved by whoever comes next.
            with contextlib.suppress(sqlite3.Error):
                connection.execute(f"PRAGMA busy_timeout = {SETTLE_MS}")
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        if not self._is_still(place):
            raise StoreError(str(self.path), "was taken away or replaced while it was written", MAY_BE)
        return [one.entry for one in added]

    def _must_be_sound(self, connection: sqlite3.Connection) -> None:
        """Raise StoreError where any page is out of its place: nothing is written to a damaged ledger."""
        found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        if found != "ok":
            raise damaged(self.path, f"is damaged ({found})")

    def _added(self, connection: sqlite3.Connection, decide: Decide, once: Once | None) -> Sequence[Link]:
        if once is not None and (before := _answered(connection, once.word)) is not None:
            raise before
        added = SqliteReader(self.path, connection).decided(decide)
        connection.executemany(
            "INSERT INTO events VALUES (?, ?, ?, ?, ?, ?)",
            [(e.seq, e.stream, e.body["id"], about, text, e.hash) for e, about, text in added],
        )
        if once is not None and added:
            answer = once.answer([one.entry for one in added])
            connection.execute("INSERT INTO once VALUES (?, ?, ?)", (once.word, once.asked, answer))
            oldest = "(SELECT max(rowid) FROM once) - ?"
            connection.execute(f"DELETE FROM once WHERE rowid <= {oldest}", (ANSWERS_KEPT,))
        return added

    def answered(self, word: str) -> Answered | None:
        """See `Store.answered`."""
        if self._place() is None:
            return None
        with refusals(self.path), self._connection() as connection:
            return _answered(connection, word)

    def verify(self) -> Report:
        """See `Store.verify`."""
        try:
            if self._place() is None:
                return Report(0, notes=("no event has been recorded yet",))
            with refusals(self.path), self._connection() as connection:
                connection.execute("BEGIN")
                found = [row[0] for row in connection.execute("PRAGMA integrity_check")]
                problems = tuple(f"{self.path}: {said}" for said in found if said != "ok")
                return Report(len(SqliteReader(self.path, connection).entries()), problems)
        except LaterVersion:
            raise
        except StoreError as error:
            return Report(0, (f"{error.where}: {error.what}",))

    def backup(self, file: Path) -> None:
        """See `Store.backup`."""
        with refusals(self.path), self._connection() as connection:
            copied = sqlite3.connect(file, timeout=self._wait_s, isolation_level=None)
            try:
                connection.backup(copied, progress=self._patience())
                # One file alone, to be carried away.
                copied.execute("PRAGMA journal_mode = DELETE").fetchall()
            finally:
                copied.close()

    def _patience(self) -> Callable[[int, int, int], None]:
        """Watch a copy, which Python would try again for ever: StoreError where it is locked for too long."""
        until = time.monotonic() + self._wait_s

        def step(status: int, _left: int, _all: int) -> None:
            if status in LOCKED and time.monotonic() > until:
                raise locked(self.path)

        return step

    def restore(self, file: Path) -> None:
        """See `Store.restore`."""
        with disk.refusals(self.path):
            disk.make_folder(self.path.parent)
            with made_beside(self.path) as fresh:
                SqliteStore(file).backup(fresh)
                # What a backup carries besides is no part of the ledger.
                with refusals(fresh), closing(sqlite3.connect(fresh, isolation_level=None)) as connection:
                    connection.execute("DROP TABLE IF EXISTS carried")
                if not put_in_place(fresh, self.path):
                    raise written(str(self.path))

    def _place(self) -> tuple[int, int] | None:
        """Tell which file the ledger is; None where there is none.

        StoreError where it is no ordinary file, or empty.
        """
        with disk.refusals(self.path):
            try:
                found = self.path.stat()
            except FileNotFoundError:
                return None
        if not stat.S_ISREG(found.st_mode):
            raise damaged(self.path, "is no ordinary file")
        if found.st_size == 0:
            raise damaged(self.path, "is empty")
        return found.st_dev, found.st_ino

    def _is_still(self, place: tuple[int, int] | None) -> bool:
        """Tell whether the ledger is the file that it was; not so where that can't be found out."""
        try:
            return self._place() == place
        except StoreError:
            return False

    def _begin(self) -> None:
        """Make the ledger where there is none: whole, or not at all."""
        if self._place() is not None:
            return
        disk.make_folder(self.path.parent)
        with made_beside(self.path) as fresh:
            with refusals(self.path), closing(sqlite3.connect(fresh, isolation_level=None)) as connection:
                connection.execute("BEGIN")
                create(connection)
                connection.execute("COMMIT")
            put_in_place(fresh, self.path)

    @contextmanager
    def _connection(self) -> Iterator[sqlite3.Connection]:
        """Open a connection to a ledger of this version that is unharmed as far as can be seen quickly."""
        with refusals(self.path):
            connection = self._opened()
        try:
            with refusals(self.path):
                _must_be_ours(self.path, connection)
            yield connection
        finally:
            with contextlib.suppress(sqlite3.Error):
                connection.close()

    def _opened(self) -> sqlite3.Connection:
        try:
            return self._connect("mode=rw")
        except sqlite3.OperationalError:
            # A write-ahead log wants to write beside the database even to read it: not where the folder is read-only.
            log = self.path.with_name(self.path.name + LOG)
            if os.access(self.path.parent, os.W_OK) or (log.exists() and log.stat().st_size):
                raise
        return self._connect("mode=ro&immutable=1")

    def _connect(self, how: str) -> sqlite3.Connection:
        address = f"file:{quote(str(self.path.absolute()))}?{how}"
        connection = sqlite3.connect(address, self._wait_s, isolation_level=None, check_same_thread=False, uri=True)
        try:
            for pragma in ("synchronous = FULL", "trusted_schema = OFF", "cell_size_check = ON"):
                connection.execute(f"PRAGMA {pragma}")
            connection.execute("SELECT count(*) FROM sqlite_master").fetchall()
        except sqlite3.Error:
            connection.close()
            raise
        return connection


@contextmanager
def made_beside(path: Path) -> Iterator[Path]:
    """Give a name beside `path` for a database that is to take its place; nothing is left there in the end."""
    fresh = disk.beside(path)
    ends = ("", LOG, "-shm", "-journal")
    for end in ends:
        fresh.with_name(fresh.name + end).unlink(missing_ok=True)
    try:
        yield fresh
    finally:
        for end in ends:
            with contextlib.suppress(OSError):
                fresh.with_name(fresh.name + end).unlink(missing_ok=True)


def put_in_place(fresh: Path, path: Path) -> bool:
    """Give a database that was made beside the name of the ledger, unless that is there; whether it was given.

    All of it must be in the one file: StoreError where what it was written in can't be moved there.
    """
    with refusals(path), closing(sqlite3.connect(fresh, isolation_level=None)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        modes = [connection.execute(f"PRAGMA journal_mode = {mode}").fetchone()[0] for mode in ("DELETE", "WAL")]
    if modes != ["delete", "wal"] or _size(fresh.with_name(fresh.name + LOG)):
        raise StoreError(str(path), "can't be made whole", "nothing was recorded; look at the disk")
    with SqliteStore(fresh).reading() as reader:
        reader.entries()
    fresh.chmod(disk.mode_in(path.parent))
    disk.sync_file(fresh)
    return disk.put_new(fresh, path)


def _must_be_ours(path: Path, connection: sqlite3.Connection) -> None:
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if application != APPLICATION:
        raise damaged(path, "is no ledger of this program")
    if version > VERSION:
        raise LaterVersion(str(path), version)
    if said := strange(connection):
        raise damaged(path, said)
    pages, size = (connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
    # In this order: what the log held when the pages were counted is in the database once the log is empty.
    logged = _size(path.with_name(path.name + LOG))
    if not logged and (there := _size(path)) < pages * size:
        raise damaged(path, f"is cut short: {there} bytes of {pages * size}")


def _size(path: Path) -> int:
    with contextlib.suppress(OSError):
        return path.stat().st_size
    return 0


def _answered(connection: sqlite3.Connection, word: str) -> Answered | None:
    row = connection.execute("SELECT asked, answer FROM once WHERE word = ?", (word,)).fetchone()
    return None if row is None else Answered(*row)
