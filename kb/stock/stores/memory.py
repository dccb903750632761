"""A store that forgets: for rehearsals and tests, and the plainest statement of what a store must do.

>>> store = MemoryStore()
>>> store.append(lambda reader: [Draft("stock", {"id": 1, "lot": "A"}), Draft("stock", {"id": 2, "lot": "B"})])[1].seq
2
>>> with store.reading() as reader:
...     reader.entries("stock", {"B"})[0].body, reader.head().seq
({'id': 2, 'lot': 'B'}, 2)
"""

from __future__ import annotations

import copy
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import RLock

from kb.stock.stores import Answered, Decide, Draft, Entry, Head, Once, Report, subject
from kb.stock.stores.chain import linked, must_rise


class MemoryStore:
    """A `kb.stock.stores.Store` in memory."""

    def __init__(self, drafts: Iterable[Draft] = ()) -> None:
        self._entries = [one.entry for one in linked(Head(), drafts)]
        self._answered: dict[str, Answered] = {}
        self._lock = RLock()

    def head(self) -> Head:
        """See `Reader.head`."""
        return Head(self._entries[-1].seq, self._entries[-1].hash) if self._entries else Head()

    def hash_at(self, seq: int) -> str:
        """See `Reader.hash_at`."""
        return self._entries[seq - 1].hash if 0 < seq <= len(self._entries) else ""

    def entries(self, stream: str | None = None, about: Collection[str] | None = None, after: int = 0) -> list[Entry]:
        """See `Reader.entries`."""
        found = (
            one
            for one in self._entries[after:]
            if stream in (None, one.stream) and (about is None or subject(one.stream, one.body) in about)
        )
        return [one._replace(body=copy.deepcopy(one.body)) for one in found]

    @contextmanager
    def reading(self) -> Iterator[MemoryStore]:
        """See `Store.reading`."""
        with self._lock:
            yield self

    def append(self, decide: Decide, once: Once | None = None) -> list[Entry]:
        """See `Store.append`."""
        with self._lock:
            if once is not None and (before := self._answered.get(once.word)) is not None:
                raise before
            drafts = list(copy.deepcopy(decide(self)))
            must_rise(drafts, {one.stream: one.body["id"] for one in self._entries})
            added = [one.entry for one in linked(self.head(), drafts)]
            if once is not None and added:
                self._answered[once.word] = Answered(once.asked, once.answer(added))
            self._entries += added
            return [one._replace(body=copy.deepcopy(one.body)) for one in added]

    def answered(self, word: str) -> Answered | None:
        """See `Store.answered`."""
        return self._answered.get(word)

    def verify(self) -> Report:
        """See `Store.verify`."""
        return Report(len(self._entries))

    def backup(self, file: Path) -> None:
        """See `Store.backup`."""
        from kb.stock.stores.copies import write_copy

        write_copy(file, self._entries)

    def restore(self, file: Path) -> None:
        """See `Store.restore`."""
        from kb.stock.stores.copies import read_copy

        self.append(lambda reader: read_copy(file, reader))
