"""A store that stays open: its events parsed once, and those that are added taken in as they come.

A command opens the store, reads it and ends; a server is asked again and again, and would parse the whole history for
each answer. What other programs write is seen at once: each read looks at the head of the store.

>>> import tempfile
>>> folder = Path(tempfile.mkdtemp())
>>> kept, other = KeptStore(folder), TinyStore(folder)
>>> came = {"type": "received", "at": "2027-03-01", "who": "kim", "lot": "A-17", "item": "acetone",
...         "quantity": "500", "unit": "mL"}
>>> other.append({"A-17"}, lambda history: [came])[0]["id"], [event["lot"] for event in kept.events()]
(1, ['A-17'])
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path
from threading import Lock

from kb.base.errors import BadInput, StoreError
from kb.stock.ledger import EMPTY, Shelf, fold
from kb.stock.log import records
from kb.stock.log.head import Segment
from kb.stock.log.store import Decide, Document, Report
from kb.stock.log.tinystore import WAIT_S, TinyStore


class _Writer(TinyStore):
    """Decides by events that are parsed already: under the store's lock they are those of the disk."""

    def __init__(self, workspace: Path, known: Callable[[Collection[str] | None], list[Document]]) -> None:
        super().__init__(workspace)
        self._known = known

    def _found(self, lots: Collection[str] | None) -> list[Document]:
        return self._known(lots)


class KeptStore:
    """A `kb.stock.log.store.Store` that threads share. Reading never waits for the disk that a writer waits for."""

    def __init__(self, workspace: Path) -> None:
        self._reader, self._writer = TinyStore(workspace), _Writer(workspace, self.events)
        self._reading, self._writing = Lock(), Lock()
        self._seen: tuple[Segment, ...] = ()
        self._bytes = b""
        self._events: list[Document] = []
        self._by_lot: dict[str, list[Document]] = {}
        self._shelf, self._folded = EMPTY, 0

    def events(self, lots: Collection[str] | None = None) -> list[Document]:
        """See `Store.events`."""
        with self._reading:
            self._refresh()
            if lots is None:
                return list(self._events)
            found = [event for lot in set(lots) for event in self._by_lot.get(lot, ())]
        return sorted(found, key=lambda event: event["id"])

    def shelf(self) -> Shelf:
        """Everything on the shelf: what `kb.stock.shelf.shelf_of` gives, folded on from what was there before."""
        with self._reading:
            self._refresh()
            if self._folded < len(self._events):
                try:
                    self._shelf = fold(self._events[self._folded :], self._shelf)
                except BadInput as fault:
                    mend = "`stock verify` says more and `stock repair` mends it"
                    raise StoreError(fault.where, fault.what, mend) from None
                self._folded = len(self._events)
            return self._shelf

    def append(self, lots: Collection[str], decide: Decide) -> list[Document]:
        """See `Store.append`."""
        if not self._writing.acquire(timeout=WAIT_S):
            raise StoreError("stock", "others are writing", "wait until they are done and try again")
        try:
            return self._writer.append(lots, decide)
        finally:
            self._writing.release()

    def verify(self) -> Report:
        """See `Store.verify`."""
        return self._reader.verify()

    def _refresh(self) -> None:
        """Take in what was added since; all anew, where the store isn't what it was and more."""
        storage = self._reader.storage
        storage.refresh()
        now = storage.head.segments
        if now == self._seen:
            return
        if not self._goes_on(now):
            self._events, self._by_lot, self._seen, self._bytes = [], {}, (), b""
            self._shelf, self._folded = EMPTY, 0
        known = max(0, len(self._seen) - 1)
        for segment in now[known:]:
            content = storage.content(segment.name)
            # Of the segment that was the last one, what was parsed before is known.
            fresh = content[len(self._bytes) :] if self._seen and segment.name == self._seen[-1].name else content
            for event in storage.lifted(records.parsed(fresh), segment.schema):
                self._events.append(event)
                self._by_lot.setdefault(event["lot"], []).append(event)
        self._seen, self._bytes = now, storage.content(now[-1].name) if now else b""

    def _goes_on(self, now: tuple[Segment, ...]) -> bool:
        """Whether the store begins as the one that was seen: only its last segment grew, or others came after it."""
        if not self._seen:
            return True
        last = len(self._seen) - 1
        return (
            len(now) > last
            and now[:last] == self._seen[:last]
            and now[last].name == self._seen[last].name
            and self._reader.storage.content(now[last].name).startswith(self._bytes)
        )
