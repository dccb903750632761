"""Reading the table of entries of a database: whatever is read is held against the chain of hashes."""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Collection, Sequence
from typing import Any, ClassVar

from kb.stock.stores import Decide, Document, Entry, Head
from kb.stock.stores.chain import Link, link, linked, must_rise
from kb.stock.stores.refusals import damaged

_COLUMNS = "e.seq, e.stream, e.id, e.about, e.body, e.hash"


class TableReader(ABC):
    """A `kb.stock.stores.Reader` within one transaction. What SQL each database speaks is said by its own reader."""

    #: What stands for a value, for one of several values, and what tells the place of the last entry.
    value: ClassVar[str]
    one_of: ClassVar[str]
    told: ClassVar[str]

    def __init__(self, where: str) -> None:
        self._where = where
        self._count = self._counted()

    @abstractmethod
    def rows(self, words: str, given: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """Ask; of a ledger that isn't there yet, nothing comes back."""

    @abstractmethod
    def several(self, values: Collection[str]) -> Any:
        """Give several values as `one_of` takes them."""

    def head(self) -> Head:
        """See `Reader.head`."""
        return Head(self._count, self.hash_at(self._count))

    def hash_at(self, seq: int) -> str:
        """See `Reader.hash_at`."""
        rows = self.rows(f"SELECT hash FROM events WHERE seq = {self.value}", (seq,))
        return str(rows[0][0]) if rows else ""

    def last_number(self, stream: str) -> int:
        """Give the last number of a stream."""
        rows = self.rows(f"SELECT id FROM events WHERE stream = {self.value} ORDER BY seq DESC LIMIT 1", (stream,))
        return int(rows[0][0]) if rows else 0

    def decided(self, decide: Decide) -> list[Link]:
        """Chain what `decide` makes of the ledger to its end. StoreError where a number doesn't rise."""
        drafts = decide(self)
        must_rise(drafts, {stream: self.last_number(stream) for stream in {draft.stream for draft in drafts}})
        return linked(self.head(), drafts)

    def entries(self, stream: str | None = None, about: Collection[str] | None = None, after: int = 0) -> list[Entry]:
        """See `Reader.entries`."""
        if stream is None and about is None:
            return self._all(after)
        wanted: list[str] = [f"e.seq > {self.value}"]
        given: list[Any] = [after]
        for column, value in (("stream", stream), ("about", about)):
            if value is not None:
                wanted.append(f"e.{column} {self.one_of}")
                given.append(self.several([value] if isinstance(value, str) else value))
        rows = self.rows(
            f"SELECT {_COLUMNS}, p.hash FROM events e LEFT JOIN events p ON p.seq = e.seq - 1 "
            f"WHERE {' AND '.join(wanted)} ORDER BY e.seq",
            tuple(given),
        )
        for row in rows:
            self._must_follow(row[6] or "", row)
        return _entries(rows)

    def _all(self, after: int) -> list[Entry]:
        rows = self.rows(f"SELECT {_COLUMNS} FROM events e WHERE e.seq > {self.value} ORDER BY e.seq", (after,))
        before = self.hash_at(after)
        for place, row in enumerate(rows, start=after + 1):
            if row[0] != place:
                raise damaged(self._where, f"entry {place} is missing")
            self._must_follow(before, row)
            before = row[5]
        return _entries(rows)

    def _must_follow(self, before: str, row: Sequence[Any]) -> None:
        seq, stream, number, about, text, own = row[:6]
        try:
            right = link(before, seq, stream, number, about, text)
        except UnicodeEncodeError:
            right = ""
        if own != right:
            raise damaged(self._where, f"entry {seq} ({stream} {number}) or the one before was changed since")

    def _counted(self) -> int:
        """Tell how many entries there are. StoreError where they aren't as many as the database has counted."""
        rows = self.rows("SELECT count(*), coalesce((SELECT max(seq) FROM events), 0) FROM events")
        told = self.rows(self.told)
        count, last = rows[0] if rows else (0, 0)
        if not count == last == (told[0][0] if told else 0):
            raise damaged(self._where, f"holds {count} entries, of which the last is {last}: some are missing")
        return int(count)


def _entries(rows: Sequence[Sequence[Any]]) -> list[Entry]:
    """Give the entries of rows whose hashes are right; all texts parsed in one go."""
    bodies: list[Document] = json.loads(f"[{','.join([str(row[4]) for row in rows])}]")
    return [Entry(row[0], row[1], body, row[5]) for row, body in zip(rows, bodies, strict=True)]
