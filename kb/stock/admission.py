"""The door of the ledger: only events that are well formed, and that the lot's history allows, are recorded.

>>> from kb.stock.log.memory import MemoryStore
>>> store = MemoryStore()
>>> came = {"type": "received", "at": "2027-03-01", "who": "kim", "lot": "A-17", "item": "acetone",
...         "quantity": "500", "unit": "mL"}
>>> record(store, [came])[0]["id"]
1
>>> record(store, [{"type": "used", "at": "2027-03-02", "who": "kim", "lot": "A-17", "quantity": "1", "unit": "L"}])
Traceback (most recent call last):
    ...
kb.stock.ledger.Refused: A-17: 1 L asked for, and 500 mL are left; use what is left, or count the lot
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from kb.stock.events import checked
from kb.stock.ledger import Event, Refused, fold
from kb.stock.log.store import Document, Store

Draft = Mapping[str, Any]


def record(
    store: Store, drafts: Sequence[Draft], done: Callable[[Sequence[Event]], bool] = lambda _: False
) -> list[Document]:
    """Append `drafts`, all or none; returns them as stored. Raises BadInput or StoreError, with nothing changed.

    Nothing is appended where the lots' history says that it was `done` before: asked under the store's lock, so that
    of two who record the same at once one does.
    """
    wanted = _checked(drafts)
    return store.append(
        {event["lot"] for event in wanted}, lambda history: [] if done(history) else admit(history, wanted)
    )


def rehearse(store: Store, drafts: Sequence[Draft]) -> list[Document]:
    """What `record` would append, without its ids; the same errors, and nothing written."""
    wanted = _checked(drafts)
    return admit(store.events({event["lot"] for event in wanted}), wanted)


def _checked(drafts: Sequence[Draft]) -> list[Document]:
    many = len(drafts) > 1
    return [checked(draft, f"event {number}" if many else "") for number, draft in enumerate(drafts, start=1)]


def admit(history: Sequence[Event], events: Sequence[Document]) -> list[Document]:
    """`events`, well formed, where all of them may follow the `history` of their lots; Refused where one may not."""
    shelf = fold(history)
    admitted = [
        _canonical_correction(event, shelf.histories.get(event["lot"], ())) if event["type"] == "corrected" else event
        for event in events
    ]
    fold(admitted, shelf)
    return admitted


def _canonical_correction(event: Document, history: Sequence[Event]) -> Document:
    """The correction with its changed values in canonical form, where the corrected event stays well formed."""
    number = event["corrects"]
    target: dict[str, Any] = {}
    for earlier in history:
        if earlier.get("id") == number:
            target = dict(earlier)
        elif earlier["type"] == "corrected" and earlier["corrects"] == number:
            target |= earlier.get("change", {})
    if not target or target["type"] == "corrected":
        raise Refused(event["lot"], f"has no event {number} that can be corrected", "see `stock history`")
    change = event.get("change", {})
    right = checked(
        {name: value for name, value in (target | change).items() if value is not None}, f"event {number} corrected"
    )
    if not change:
        return event
    return event | {"change": {name: right.get(name) for name in change}}
