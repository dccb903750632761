"""Events of an invented lab, for tests. No lot, maker or person here exists."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from kb.stock import amounts
from kb.stock.items import Items
from kb.stock.ledger import Ledger
from kb.stock.stores import Document
from kb.stock.stores.memory import MemoryStore
from kb.stock.workspace import ledger_of

#: Late enough that nothing in the tests is ahead of it.
TODAY = "2027-12-31"


def received(lot: str = "A-17", quantity: str = "500", unit: str = "mL", **more: Any) -> dict[str, Any]:
    given = {"type": "received", "at": "2027-03-01", "who": "kim", "lot": lot, "item": "acetone"}
    return {**given, "quantity": quantity, "unit": unit, **more}


def used(lot: str = "A-17", quantity: str = "1", unit: str = "mL", **more: Any) -> dict[str, Any]:
    return {"type": "used", "at": "2027-03-02", "who": "kim", "lot": lot, "quantity": quantity, "unit": unit, **more}


def event(kind: str, lot: str = "A-17", at: str = "2027-03-03", **more: Any) -> dict[str, Any]:
    return {"type": kind, "at": at, "who": "kim", "lot": lot, **more}


def in_memory(*drafts: Mapping[str, Any]) -> Ledger:
    """A ledger in which each of `drafts` was recorded, one after the other."""
    ledger = Ledger(MemoryStore())
    for draft in drafts:
        record(ledger, [draft])
    return ledger


def record(where: Ledger | Path, drafts: Iterable[Mapping[str, Any]], today: str = TODAY) -> list[Document]:
    """Record events in a ledger, or in that of a workspace."""
    return (where if isinstance(where, Ledger) else ledger_of(where)).record(list(drafts), today)


def events(workspace: Path) -> list[Document]:
    """Every event of the stock of a workspace."""
    return ledger_of(workspace).documents("stock")


class AnyItem(Items):
    """Takes every word for an item, and every known unit for its unit."""

    def __init__(self) -> None:
        super().__init__(None)  # type: ignore[arg-type]

    def resolve(self, words: str) -> str:
        return words

    def amount(self, item: str, quantity: Any, unit: str) -> tuple[str, str]:  # noqa: ARG002
        return amounts.text(amounts.amount(quantity)), unit
