"""The embedded store: TinyDB over `SegmentStorage`, in one folder of the workspace.

A lot is looked for by its name in the raw bytes of each segment first, so that an append at 20,000 events
parses only the segments that mention it.

>>> import tempfile
>>> store = TinyStore(Path(tempfile.mkdtemp()))
>>> event = {"type": "opened", "at": "2027-03-01", "who": "kim", "lot": "A-17"}
>>> store.append({"A-17"}, lambda history: [event])[0]["id"], len(store.events())
(1, 1)
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Any

from tinydb import TinyDB
from tinydb.table import Document as Row
from tinydb.table import Table

from kb.stock.log import records
from kb.stock.log.memory import numbered
from kb.stock.log.segments import SegmentStorage
from kb.stock.log.store import Decide, Document, Report

WAIT_S = 10.0


class TinyStore:
    """A `kb.stock.log.store.Store` in `workspace`/stock. Nothing is created before the first event is written."""

    def __init__(self, workspace: Path, wait_s: float = WAIT_S, **storage: Any) -> None:
        self.storage = SegmentStorage(workspace / "stock", **storage)
        self._database = TinyDB(storage=lambda: self.storage)
        self._wait_s = wait_s

    def events(self, lots: Collection[str] | None = None) -> list[Document]:
        """See `Store.events`."""
        self.storage.refresh()
        return self._found(lots)

    def append(self, lots: Collection[str], decide: Decide) -> list[Document]:
        """See `Store.append`."""
        with self.storage.locked(self._wait_s):
            self.storage.refresh()
            added = numbered(decide(self._found(lots)), self.storage.head.last_id)
            if added:
                self._table(self.storage.open_segment).insert_multiple(Row(e, doc_id=e["id"]) for e in added)
        return added

    def verify(self) -> Report:
        """See `Store.verify`."""
        from kb.stock.log.inspection import inspect

        return inspect(self.storage)

    def repair(self) -> Report:
        """Mend what is damaged from the copy and the previous head; the report says what could not be kept."""
        from kb.stock.log.repair import repair

        with self.storage.locked(self._wait_s):
            return repair(self.storage)

    def _table(self, name: str) -> Table:
        # Without a query cache: other programs write too.
        return self._database.table(name, cache_size=0)

    def _found(self, lots: Collection[str] | None) -> list[Document]:
        names = [segment.name for segment in self.storage.head.segments]
        if lots is None:
            return [event for name in names for event in self.storage.documents(name)]
        wanted = set(lots)
        if not wanted:
            return []
        return [
            dict(row)
            for name in names
            if any(records.mentioning(self.storage.content(name), lot) for lot in wanted)
            for row in self._table(name).search(lambda event: event["lot"] in wanted)
        ]
