"""A store that forgets: for rehearsals and tests, and the plainest statement of what a store must do.

>>> store = MemoryStore()
>>> store.append({"A"}, lambda history: [{"type": "opened", "lot": "A"}, {"type": "opened", "lot": "B"}])[1]["id"]
2
>>> store.events({"B"})
[{'id': 2, 'type': 'opened', 'lot': 'B'}]
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from kb.base.errors import StoreError
from kb.stock.log.store import Decide, Document, Report


class MemoryStore:
    """A `kb.stock.log.store.Store` in memory."""

    def __init__(self, events: Iterable[Document] = ()) -> None:
        self._events = list(events)

    def events(self, lots: Collection[str] | None = None) -> list[Document]:
        """See `Store.events`."""
        return [dict(event) for event in self._events if lots is None or event["lot"] in lots]

    def append(self, lots: Collection[str], decide: Decide) -> list[Document]:
        """See `Store.append`."""
        last = self._events[-1]["id"] if self._events else 0
        added = numbered(decide(self.events(lots)), last)
        self._events += added
        return [dict(event) for event in added]

    def verify(self) -> Report:
        """See `Store.verify`."""
        return Report(len(self._events))


def numbered(events: Iterable[Document], last: int) -> list[Document]:
    """`events` with ids above `last`, each its own where it brings one. StoreError where that one is used up."""
    given = []
    for event in events:
        own = event.get("id")
        if own is not None and own <= last:
            raise StoreError("", f"event {own} is in the store already", "give no id, or one above it")
        last = last + 1 if own is None else own
        given.append({"id": last, **{name: value for name, value in event.items() if name != "id"}})
    return given
