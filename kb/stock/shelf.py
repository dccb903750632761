"""The shelf as a store holds it. Reading builds no models, so that looking is quick."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from kb.base.errors import BadInput, StoreError, nearest
from kb.stock.ledger import Event, Lot, Shelf, fold
from kb.stock.log.store import Store


def shelf_of(store: Store, lots: Collection[str] | None = None) -> Shelf:
    """Everything on the shelf, or the lots named. Raises StoreError where what is stored doesn't add up."""
    try:
        return fold(store.events(lots))
    except BadInput as fault:
        raise StoreError(fault.where, fault.what, "`stock verify` says more and `stock repair` mends it") from None


def lot_of(store: Store, mark: str) -> tuple[Lot, tuple[Event, ...]]:
    """A lot and its events; BadInput, with the near name, where there is none."""
    shelf = shelf_of(store, {mark})
    if mark not in shelf.lots:
        raise BadInput(mark, "there is no such lot", _near(mark, shelf_of(store)))
    return shelf.lots[mark], shelf.histories[mark]


def _near(mark: str, shelf: Shelf) -> str:
    same = next((other for other in shelf.lots if other.casefold() == mark.casefold()), None)
    return f"did you mean '{same}'?" if same else nearest(mark, shelf.lots) or "see `stock list`"


def chosen(store: Store, marks: Sequence[str]) -> Shelf:
    """The lots named, in that order; without any, all that aren't empty. BadInput where one isn't there."""
    if not marks:
        shelf = shelf_of(store)
        return Shelf({mark: lot for mark, lot in shelf.lots.items() if lot.quantity}, shelf.histories)
    found = {mark: lot_of(store, mark) for mark in marks}
    return Shelf({mark: lot for mark, (lot, _) in found.items()}, {mark: events for mark, (_, events) in found.items()})
