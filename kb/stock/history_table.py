"""The events of the stock as a table for a spreadsheet, a row for each; and as earlier versions gave them out, as JSON.

Read into an empty workspace they give the same events, numbers and all, and so the same shelf. What a table can't hold
(installations, reservations, the lab's documents) is carried by `kb.stock.portable`.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, Final

from kb.base.errors import BadInput
from kb.stock.events import canonical
from kb.stock.lots import Event
from kb.stock.stores import Document
from kb.stock.tables import Faults, Row, Table, defused, read, written

SCHEMA: Final = "tackroom.stock-history/1"
#: Columns of a history, by how a cell of them is written: as text, as a number, or as JSON.
_TEXTS = (
    "type", "at", "who", "lot", "recorded", "reason", "job", "part", "installation", "item", "unit", "received", "made",
    "expires", "location", "gtin", "batch", "since", "until", "excursion", "log", "test", "to",
)  # fmt: skip
_NUMBERS = ("storage_c", "hours", "low_c", "high_c", "mkt_c", "activation_kj_mol", "reference_c", "spent_days")
_JSON = ("corrects", "void", "change")
COLUMNS: Final = ("id", "quantity", *_TEXTS, *_NUMBERS, *_JSON)


def table_of(events: Iterable[Event]) -> str:
    """Write events as a table, a row for each; what a cell can't hold plainly is JSON in it."""
    return written(COLUMNS, ([_cell(name, event.get(name)) for name in COLUMNS] for event in events))


def _cell(name: str, value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return format(Decimal(repr(value)), "f")
    if name in _JSON:
        return json.dumps(value, ensure_ascii=False)
    return defused(value) if name in _TEXTS else str(value)


def events_in(document: Mapping[str, Any], where: str) -> list[Document]:
    """Read the events of a history that is a JSON document. Raises Faults, naming each event that is none."""
    if not isinstance(document.get("events"), list):
        raise BadInput(where, f"is no stock history ({SCHEMA})", "see `stock export`")
    return _history(where, ((f"event {n}", event) for n, event in enumerate(document["events"], 1)))


def no_number(word: str) -> float:
    """Refuse what some programs write into JSON and no number is."""
    raise ValueError(f"{word} is not a number")


def events_of_table(content: bytes, where: str) -> list[Document]:
    """Read the events of a table. Raises BadInput or Faults, each with its row and column."""
    table = read(content, where, COLUMNS, ("id", "type", "at", "who", "lot"), ("quantity", *_NUMBERS))
    found = [(f"row {row.number}", _event_of(table, row)) for row in table.rows]
    table.close()
    return _history(where, found)


def _event_of(table: Table, row: Row) -> dict[str, Any]:
    """Give the event that a row of a history holds."""
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
        return json.loads(cell.lower() if cell.upper() in ("TRUE", "FALSE") else cell, parse_constant=no_number)
    except (ValueError, RecursionError):
        raise ValueError(f"'{cell[:40]}' is not what was exported") from None


def _history(where: str, found: Iterable[tuple[str, Any]]) -> list[Document]:
    """Give the events, each given with its place in the file, in canonical form and in order of id."""
    events: list[Document] = []
    faults: list[BadInput] = []
    last = 0
    for place, raw in found:
        try:
            if not isinstance(raw, Mapping):
                raise BadInput("", "is not an event")
            event = canonical({name: value for name, value in raw.items() if name != "record"})
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
