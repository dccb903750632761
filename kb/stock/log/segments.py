"""A TinyDB storage that appends: events in segments, and a small head that says what is acknowledged.

TinyDB's own JSON storage writes the whole database over itself at each insert: at 20,000 events that is
megabytes to write for a line of news, and a crash in the middle of it loses everything. Here each table of the
database is one segment, a file of lines that only grows; a full one is closed for good and the next begins. To
insert, TinyDB reads and hands back the open segment alone.

    stock/head.json            the segments, their lengths and digests (see `kb.stock.log.head`)
    stock/head.previous.json   the head before it
    stock/events/000001.jsonl  the segments
    stock/copy/000001.jsonl    the same again, for `repair`
    stock/lock                 held by whoever writes

A write, in this order: the lines go to the end of the open segment and of its copy, and both are put on the
disk (fsync); the new head is written beside the old one and put on the disk; the old head becomes the previous
one; the new head takes its place (rename) and the folder is put on the disk. The events are acknowledged then,
and not before. A crash at any earlier point leaves the old head, for which the new lines don't exist; the next write
takes them away. So a whole batch counts, or none of it does.

Reading takes no lock: what a head counts never changes. Every read compares every counted byte with its
digest. Each segment remembers the schema that it was written in; events of older ones are lifted as they are
read, and nothing stored is rewritten.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from tinydb.storages import Storage

from kb.base.errors import StoreError
from kb.stock.log import files, records
from kb.stock.log.head import Damaged, Head, Newer, Segment, digest
from kb.stock.log.store import Document

#: What an event looks like. A later schema adds to MIGRATIONS how the events of the one before are lifted.
SCHEMA = 1
MIGRATIONS: Mapping[int, Callable[[Document], Document]] = {}
#: A segment with this many events is closed. Bigger ones make appending slower, smaller ones make the head longer.
FULL = 512

#: The folders that a segment is kept in: the file itself, and its copy.
KEPT = ("events", "copy")

Tables = dict[str, dict[str, Any]]


class SegmentStorage(Storage):
    """The storage of one workspace's stock. Tables are named after segments; documents are events by id."""

    def __init__(
        self,
        folder: Path,
        schema: int = SCHEMA,
        migrations: Mapping[int, Callable[[Document], Document]] = MIGRATIONS,
        full: int = FULL,
    ) -> None:
        self.folder = folder
        self._schema, self._migrations, self._full = schema, migrations, full
        self._head_bytes = b""
        self._content: dict[str, tuple[Segment, bytes]] = {}
        self.head = Head()

    @property
    def head_path(self) -> Path:
        return self.folder / "head.json"

    @property
    def previous_path(self) -> Path:
        return self.folder / "head.previous.json"

    def segment_path(self, name: str, kept: str = "events") -> Path:
        """Where the segment is; with kept="copy", where its copy is."""
        return self.folder / kept / f"{name}.jsonl"

    def kept_files(self) -> list[Path]:
        """Every segment and copy of one, counted by the head or not."""
        return [path for kept in KEPT for path in sorted((self.folder / kept).glob("*.jsonl"))]

    # -- reading

    def refresh(self) -> None:
        """Take in what other programs have acknowledged. Raises StoreError at the first byte that is wrong."""
        with files.refusals(self.folder):
            content = self.head_path.read_bytes() if self.head_path.exists() else None
        if content is None:
            if self.previous_path.exists() or self.kept_files():
                raise self.damaged(self.head_path, "is missing")
            self.head, self._content = Head(), {}
            return
        if content == self._head_bytes:
            return
        head = self._read_head(content)
        for segment in head.segments:
            if self._content.get(segment.name, (None,))[0] != segment:
                self._content[segment.name] = (segment, self._counted(segment))
        self.head, self._head_bytes = head, content

    def _read_head(self, content: bytes) -> Head:
        try:
            head = Head.read(content)
        except Damaged as fault:
            raise self.damaged(self.head_path, str(fault)) from None
        except Newer as fault:
            raise self._newer(str(fault)) from None
        newest = max((segment.schema for segment in head.segments), default=0)
        if newest > self._schema:
            raise self._newer(f"schema {newest}")
        return head

    def _counted(self, segment: Segment, kept: str = "events") -> bytes:
        path = self.segment_path(segment.name, kept)
        with files.refusals(path):
            content = path.read_bytes() if path.exists() else None
        if content is None:
            raise self.damaged(path, "is missing")
        if len(content) < segment.size:
            raise self.damaged(path, f"has {len(content)} bytes of {segment.size}")
        content = content[: segment.size]
        if digest(content) != segment.digest:
            raise self.damaged(path, "was changed since it was written")
        return content

    def damaged(self, path: Path, how: str) -> StoreError:
        """The error that says which file is damaged and what to do."""
        return StoreError(str(path), how, "nothing was written; `stock verify` says more and `stock repair` mends it")

    def _newer(self, what: str) -> StoreError:
        mend = "nothing was written; update this program"
        return StoreError(str(self.head_path), f"was written by a later version ({what})", mend)

    def content(self, name: str) -> bytes:
        """The verified bytes of a segment."""
        return self._content[name][1]

    def documents(self, name: str) -> list[Document]:
        """The events of a segment, lifted to the present schema."""
        segment, content = self._content[name]
        return self.lifted(records.parsed(content), segment.schema)

    def lifted(self, events: list[Document], schema: int) -> list[Document]:
        """`events`, written in `schema`, as they would be written now."""
        for older in range(schema, self._schema):
            events = [self._migrations[older](event) for event in events]
        return events

    @property
    def open_segment(self) -> str:
        """The segment that the next event goes to: the last, or a new one where that is full or of an older schema."""
        if not self.head.segments:
            return "000001"
        last = self.head.segments[-1]
        if last.count < self._full and last.schema == self._schema:
            return last.name
        return f"{int(last.name) + 1:06d}"

    def read(self) -> Tables:
        """The tables as of the last `refresh`, so that all reads of one answer agree; each parsed when asked for."""
        return _Tables(self)

    # -- writing

    @contextlib.contextmanager
    def locked(self, wait_s: float) -> Iterator[None]:
        """Hold the store's lock: nobody else writes. Raises StoreError where it isn't free within `wait_s`."""
        from filelock import FileLock, Timeout

        with files.refusals(self.folder):
            files.make_folder(self.folder)
            lock = FileLock(self.folder / "lock", timeout=wait_s)
            try:
                lock.acquire(poll_interval=0.005)
            except Timeout:
                mend = "wait until it is done and try again"
                raise StoreError(str(self.folder), "another program is writing", mend) from None
        try:
            yield
        finally:
            lock.release()

    def write(self, data: Tables) -> None:
        """Append the open segment's new documents. The caller holds the lock and has refreshed under it.

        Raises StoreError, with the store as it was, where the disk refuses or where `data` changes what is stored.
        """
        name = self.open_segment
        known = self.documents(name) if name in self._content else []
        events = list(data.get(name, {}).values())
        if events[: len(known)] != known or any(table != name and data[table] for table in data):
            raise StoreError(str(self.folder), "events are only ever added", "record a correction instead")
        added = events[len(known) :]
        if not added:
            return
        lines = b"".join(map(records.written, added))
        with files.refusals(self.folder):
            if not self.head_path.exists():
                self._found()
            self._append(name, len(events), added[-1]["id"], lines)

    def _found(self) -> None:
        """Begin a store: the folders, and a head that counts nothing."""
        for kept in KEPT:
            files.make_folder(self.folder / kept)
        files.replace(self.head_path, Head().written())

    def write_anew(self, events: list[Document]) -> None:
        """Put `events` in the place of all that the store holds: for `repair`, which has set the rest aside.

        They go into segments of new names, so that the old ones stand until the new head replaces the old one.
        """
        for kept in KEPT:
            files.make_folder(self.folder / kept)
        old = self.kept_files()
        number = max((int(path.stem) for path in old if path.stem.isdecimal()), default=0)
        head = Head()
        for start in range(0, len(events), self._full):
            part = events[start : start + self._full]
            lines = b"".join(map(records.written, part))
            number += 1
            name = f"{number:06d}"
            for kept in KEPT:
                files.replace(self.segment_path(name, kept), lines)
            head = head.with_last(Segment(name, self._schema, len(part), part[-1]["id"], len(lines), digest(lines)))
        files.replace(self.previous_path, head.written())
        files.replace(self.head_path, head.written())
        for path in old:
            path.unlink()
        self.refresh()

    def _append(self, name: str, count: int, last_id: int, lines: bytes) -> None:
        segment, old = self._content.get(name, (Segment(name, self._schema, 0, 0, 0, digest(b"")), b""))
        primary, copy = self.segment_path(name), self.segment_path(name, "copy")
        if segment.size:
            # What was verified once in this process may have been damaged since: nothing is added to that.
            for kept in KEPT:
                self._counted(segment, kept)
        fresh = not segment.size
        new = Segment(name, self._schema, count, last_id, len(old) + len(lines), digest(old + lines))
        head = self.head.with_last(new)
        content = head.written()
        beside = None
        try:
            for path in (primary, copy):
                files.append(path, segment.size, lines)
                if fresh:
                    files.sync_folder(path.parent)
            beside = files.write_beside(self.head_path, content)
            self._keep_previous()
        except OSError:
            self._undo(beside, (primary, copy), segment.size)
            raise
        beside.replace(self.head_path)
        files.sync_folder(self.folder)
        self.head, self._head_bytes = head, content
        self._content[name] = (new, old + lines)

    def _keep_previous(self) -> None:
        """Give the present head a second name, that of the previous one; a copy where the disk has no hard links."""
        beside = self.previous_path.with_name(self.previous_path.name + ".new")
        with contextlib.suppress(FileNotFoundError):
            beside.unlink()
        try:
            os.link(self.head_path, beside)
        except OSError:
            files.write_beside(self.previous_path, self.head_path.read_bytes())
        beside.replace(self.previous_path)

    def _undo(self, beside: Path | None, grown: tuple[Path, ...], size: int) -> None:
        with contextlib.suppress(OSError):
            if beside is not None:
                beside.unlink()
            for path in grown:
                if path.exists():
                    os.truncate(path, size)


class _Tables(dict[str, dict[str, Any]]):
    """TinyDB's tables by name. A segment that nobody asks for is never parsed."""

    def __init__(self, storage: SegmentStorage) -> None:
        super().__init__()
        self._storage = storage

    def __missing__(self, name: str) -> dict[str, Any]:
        if all(segment.name != name for segment in self._storage.head.segments):
            raise KeyError(name)
        self[name] = table = {str(event["id"]): event for event in self._storage.documents(name)}
        return table
