"""A shelf list as a spreadsheet has it: one row for each lot, which becomes one receipt, and one opening.

Each fault names its row and column; all rows go in, or none.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from kb.base.errors import BadInput
from kb.stock.amounts import text as plain
from kb.stock.events import checked
from kb.stock.items import Items
from kb.stock.layout import PLAIN, Layout
from kb.stock.lots import Lot
from kb.stock.receiving import degrees
from kb.stock.stores import Document
from kb.stock.tables import Row, Table, defused, read, written

COLUMNS: Final = (
    "item", "lot", "quantity", "unit", "received", "made", "expires", "opened", "storage_c", "location",
)  # fmt: skip
#: Columns that a list may have besides.
FURTHER: Final = ("batch",)
#: All that a list may have.
KNOWN: Final = (*COLUMNS, *FURTHER)


def drafts_in(content: bytes, where: str, items: Items, at: str, who: str, layout: Layout = PLAIN) -> list[Document]:
    """Read the events that a list asks for; `at` is the day of a receipt for which it knows none.

    Raises BadInput or Faults where anything in it is wrong.
    """
    required, numeric = ("item", "lot", "quantity", "unit"), ("quantity", "storage_c")
    table = read(content, where, KNOWN, required, numeric, layout=layout)
    drafts: list[Document] = []
    seen: dict[str, int] = {}
    for row in table.rows:
        found = _rows_events(table, row, items, at, who)
        for event in found[:1]:
            first = seen.setdefault(event["lot"], row.number)
            if first != row.number:
                table.fault(
                    row, "lot", f"'{event['lot']}' is in row {first} already", "each row needs a lot of its own"
                )
        drafts += found
    table.close()
    if not drafts:
        raise BadInput(where, "has no rows", "nothing was recorded")
    return drafts


def _rows_events(table: Table, row: Row, items: Items, at: str, who: str) -> list[Document]:
    """Give the receipt that a row asks for, and the opening; empty where the row is at fault."""
    before = len(table.faults)
    for name in ("item", "lot", "quantity", "unit"):
        if not row.cells.get(name):
            table.fault(row, name, "is empty")
    quantity, storage_c = table.number(row, "quantity"), _storage(table, row)
    days = {name: table.day(row, name) for name in ("received", "made", "expires", "opened")}
    item = _item(table, row, items)
    if len(table.faults) > before:
        return []
    try:
        amount, unit = items.amount(item, quantity, row.cells["unit"])
    except BadInput as fault:
        table.fault(row, fault.where, fault.what, fault.mend)
        return []
    opened = days.pop("opened")
    came = days["received"] or min(filter(None, (at, opened)))
    if opened and opened < came:
        table.fault(row, "opened", f"{opened} is before it was received ({came})")
        return []
    common = {"who": who, "lot": row.cells["lot"]}
    given = {"item": item, "quantity": amount, "unit": unit, "storage_c": storage_c}
    given |= {name: row.cells.get(name, "") for name in ("location", "batch")}
    drafts = [{"type": "received", "at": came, **common, **given, **days}]
    if opened:
        drafts.append({"type": "opened", "at": opened, **common})
    try:
        for draft in drafts:
            checked(draft)
        return drafts
    except BadInput as fault:
        column = fault.where if fault.where in KNOWN else ""
        table.fault(row, column, fault.what, fault.mend)
        return []


def _storage(table: Table, row: Row) -> float | None:
    """Give the temperature of a row: a number of degC, or one with its unit."""
    cell = row.cells.get("storage_c", "")
    if not cell.rstrip().endswith(("C", "F", "K", "c", "f")):
        number = table.number(row, "storage_c")
        return None if number is None else float(number)
    try:
        return degrees(cell, "storage_c")
    except BadInput as fault:
        table.fault(row, "storage_c", fault.what, fault.mend)
        return None


def _item(table: Table, row: Row, items: Items) -> str:
    words = row.cells.get("item", "")
    if not words:
        return ""
    try:
        return items.resolve(words)
    except BadInput as fault:
        table.fault(row, "item", fault.what, fault.mend)
        return ""


def shelf_csv(lots: Iterable[Lot]) -> str:
    """Write the lots as a list that `drafts_in` reads back: amounts and dates as they stand, without the history."""
    return written(COLUMNS, (_cells(lot) for lot in lots if lot.quantity))


def _cells(lot: Lot) -> tuple[str | None, ...]:
    days = (lot.received, lot.made, lot.expires, lot.opened and lot.opened[:10])
    storage = None if lot.storage_c is None else f"{lot.storage_c:g}"
    item, mark, unit, location = map(defused, (lot.item, lot.lot, lot.unit, lot.location))
    return item, mark, plain(lot.quantity), unit, *days, storage, location
