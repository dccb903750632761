"""Stock in and out as files: a shelf list as CSV, and the whole history as CSV or JSON.

A shelf list has one row for each lot, and becomes one receipt each (and one opening). A history holds the
events themselves; imported into an empty workspace it gives the same events, ids and all, and so the same
shelf. All rows go in, or none; each fault names its row and column.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, Final

from kb.base.errors import BadInput
from kb.stock.admission import admit
from kb.stock.amounts import text as plain
from kb.stock.amounts import unit_named
from kb.stock.events import checked
from kb.stock.ledger import Event, Lot, Refused, fold
from kb.stock.log.store import Document, Store
from kb.stock.tables import Faults, Row, Table, columns_of, defused, read, text_of

HISTORY: Final = "tackroom.stock-history/1"
SHELF_COLUMNS: Final = (
    "item", "lot", "quantity", "unit", "received", "made", "expires", "opened", "storage_c", "location",
)  # fmt: skip
#: Columns of a history, by how a cell of them is written: as text, as a number, or as JSON.
_TEXTS = (
    "type", "at", "who", "lot", "reason", "job", "part", "installation", "item", "unit", "received", "made",
    "expires", "location", "gtin", "since", "until", "excursion", "log", "test",
)  # fmt: skip
_NUMBERS = ("storage_c", "hours", "low_c", "high_c", "mkt_c", "activation_kj_mol", "reference_c", "spent_days")
_JSON = ("corrects", "void", "change")
HISTORY_COLUMNS: Final = ("id", "quantity", *_TEXTS, *_NUMBERS, *_JSON)

Resolve = Callable[[str], str]


def drafts_in(content: bytes, where: str, resolve: Resolve, at: str, who: str) -> list[Document]:
    """The events that a file asks for: of a shelf list, or of a history (CSV or JSON).

    `resolve` turns an item's id or name into its id, or raises BadInput. `at` is the day of a receipt for which the
    list knows no day. Raises BadInput or Faults where anything in the file is wrong.
    """
    text = text_of(content, where)
    if text.lstrip().startswith("{"):
        return _history_json(text, where)
    if "type" in columns_of(text, {*SHELF_COLUMNS, *HISTORY_COLUMNS})[1]:
        return _history_table(content, where)
    return _shelf_list(content, where, resolve, at, who)


def take_in(store: Store, drafts: Sequence[Document], where: str, write: bool = True) -> list[Document]:
    """Record the events of a file, all or none; with `write` false only find out whether they could be.

    Raises Faults or BadInput, naming the lots that are there already, and StoreError from the store.
    """
    lots = {draft["lot"] for draft in drafts}
    if any("id" in draft for draft in drafts):
        _must_replay(drafts, where)
        if store.events():
            raise BadInput(where, "a history goes into an empty workspace only", "name another with --workspace")
        return store.append(lots, lambda _: drafts) if write else list(drafts)

    def decide(history: Sequence[Event]) -> list[Document]:
        known = {event["lot"] for event in history}
        taken = [draft["lot"] for draft in drafts if draft["type"] == "received" and draft["lot"] in known]
        if taken:
            mend = "name a second delivery otherwise, such as with -2"
            raise Faults(where, [BadInput(f"{where}: lot {lot}", "is there already", mend) for lot in taken])
        return admit(history, drafts)

    return store.append(lots, decide) if write else decide(store.events(lots))


# -- a shelf list


def _shelf_list(content: bytes, where: str, resolve: Resolve, at: str, who: str) -> list[Document]:
    table = read(content, where, SHELF_COLUMNS, ("item", "lot", "quantity", "unit"), ("quantity", "storage_c"))
    drafts: list[Document] = []
    seen: dict[str, int] = {}
    for row in table.rows:
        found = _rows_events(table, row, resolve, at, who)
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


def _rows_events(table: Table, row: Row, resolve: Resolve, at: str, who: str) -> list[Document]:
    """The receipt that a row asks for, and the opening; empty where the row is at fault."""
    before = len(table.faults)
    for name in ("item", "lot", "quantity", "unit"):
        if not row.cells.get(name):
            table.fault(row, name, "is empty")
    quantity, storage_c = table.number(row, "quantity"), table.number(row, "storage_c")
    days = {name: table.day(row, name) for name in ("received", "made", "expires", "opened")}
    item = _item(table, row, resolve)
    table.read(row, "unit", unit_named)
    if len(table.faults) > before:
        return []
    opened = days.pop("opened")
    came = days["received"] or min(filter(None, (at, opened)))
    if opened and opened < came:
        table.fault(row, "opened", f"{opened} is before it was received ({came})")
        return []
    common = {"who": who, "lot": row.cells["lot"]}
    given = {"item": item, "quantity": quantity, "unit": row.cells["unit"], "location": row.cells.get("location", "")}
    degrees = None if storage_c is None else float(storage_c)
    drafts = [{"type": "received", "at": came, **common, **given, **days, "storage_c": degrees}]
    if opened:
        drafts.append({"type": "opened", "at": opened, **common})
    try:
        return [checked(draft) for draft in drafts]
    except BadInput as fault:
        column = fault.where if fault.where in SHELF_COLUMNS else ""
        table.fault(row, column, fault.what, fault.mend)
        return []


def _item(table: Table, row: Row, resolve: Resolve) -> str:
    words = row.cells.get("item", "")
    if not words:
        return ""
    try:
        return resolve(words)
    except BadInput as fault:
        table.fault(row, "item", fault.what, fault.mend)
        return ""


def shelf_csv(lots: Iterable[Lot]) -> str:
    """The lots as a shelf list that `drafts_in` reads back: amounts and dates as they stand, without the history."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(SHELF_COLUMNS)
    for lot in lots:
        if lot.quantity:
            days = (lot.received, lot.made, lot.expires, lot.opened and lot.opened[:10])
            storage = "" if lot.storage_c is None else f"{lot.storage_c:g}"
            item, mark, unit, location = map(defused, (lot.item, lot.lot, lot.unit, lot.location))
            writer.writerow((item, mark, plain(lot.quantity), unit, *(day or "" for day in days), storage, location))
    return out.getvalue()


# -- a history


def history_json(events: Iterable[Event]) -> dict[str, Any]:
    """The history as one document."""
    return {"schema": HISTORY, "events": [dict(event) for event in events]}


def history_csv(events: Iterable[Event]) -> str:
    """The history as a table, a row for each event; what a cell can't hold plainly is JSON in it."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HISTORY_COLUMNS)
    for event in events:
        writer.writerow([_cell(name, event.get(name)) for name in HISTORY_COLUMNS])
    return out.getvalue()


def _cell(name: str, value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return format(Decimal(repr(value)), "f")
    if name in _JSON:
        return json.dumps(value, ensure_ascii=False)
    return defused(value) if name in _TEXTS else str(value)


def _history_json(text: str, where: str) -> list[Document]:
    try:
        document = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise BadInput(where, f"is not JSON ({error})", "it may be cut short") from None
    if document.get("schema") != HISTORY or not isinstance(document.get("events"), list):
        raise BadInput(where, f"is no stock history ({HISTORY})", "see `stock export --format json`")
    return _history(where, ((f"event {n}", event) for n, event in enumerate(document["events"], 1)))


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is not a number")


def _history_table(content: bytes, where: str) -> list[Document]:
    table = read(content, where, HISTORY_COLUMNS, ("id", "type", "at", "who", "lot"), ("quantity", *_NUMBERS))
    found = [(f"row {row.number}", _event_of(table, row)) for row in table.rows]
    table.close()
    return _history(where, found)


def _event_of(table: Table, row: Row) -> dict[str, Any]:
    """The event that a row of a history holds."""
    event: dict[str, Any] = {name: cell for name in _TEXTS if (cell := row.cells.get(name))}
    if (quantity := table.number(row, "quantity")) is not None:
        event["quantity"] = quantity
    for name in _NUMBERS:
        if (number := table.number(row, name)) is not None:
            event[name] = float(number)
    for name in ("id", *_JSON):
        if (value := table.read(row, name, _json_cell)) is not None:
            event[name] = value
    return event


def _json_cell(cell: str) -> Any:
    try:
        return json.loads(cell.lower() if cell.upper() in ("TRUE", "FALSE") else cell, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise ValueError(f"'{cell[:40]}' is not what was exported") from None


def _history(where: str, found: Iterable[tuple[str, Any]]) -> list[Document]:
    """The events, each given with its place in the file, in canonical form and in order of id."""
    events: list[Document] = []
    faults: list[BadInput] = []
    last = 0
    for place, raw in found:
        try:
            if not isinstance(raw, Mapping):
                raise BadInput("", "is not an event")
            event = checked(raw)
            if event.get("id", 0) <= last:
                raise BadInput("id", f"{event.get('id')} does not come after {last}", "keep the order of the export")
        except BadInput as fault:
            column = f", column {fault.where}" if fault.where else ""
            faults.append(BadInput(f"{where}: {place}{column}", fault.what, fault.mend))
        else:
            last = event["id"]
            events.append(event)
    if faults:
        raise Faults(where, faults)
    if not events:
        raise BadInput(where, "has no events", "nothing was recorded")
    return events


def _must_replay(events: Sequence[Document], where: str) -> None:
    try:
        fold(events)
    except Refused as fault:
        raise BadInput(f"{where}: lot {fault.where}", fault.what, "the history is not whole") from None
