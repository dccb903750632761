"""What a file that is brought holds, by what is in it: a shelf list, a history, or all of another workspace."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from kb.base.errors import BadInput
from kb.stock import history_table, portable, shelf_list
from kb.stock.fold import fold
from kb.stock.items import Items
from kb.stock.layout import PLAIN, Layout
from kb.stock.ledger import Ledger, Look, without_number
from kb.stock.lots import Refused
from kb.stock.stores import Document, Draft, Once
from kb.stock.tables import Faults, columns_of, text_of


class Brought(NamedTuple):
    """A file that was read: events to be recorded now, a history with its own numbers, or a whole workspace."""

    where: str
    drafts: Sequence[Document] = ()
    history: Sequence[Document] = ()
    whole: Mapping[str, Any] | None = None


def brought(content: bytes, where: str, items: Items, at: str, who: str, layout: Layout = PLAIN) -> Brought:
    """Read a file; `layout` is that of a shelf list. Raises BadInput or Faults where anything in it is wrong."""
    text = text_of(content, where)
    if text.lstrip().startswith("{"):
        try:
            document = json.loads(text, parse_constant=history_table.no_number)
        except (ValueError, RecursionError) as error:
            raise BadInput(where, f"is not JSON ({error})", "it may be cut short") from None
        if document.get("schema") == portable.SCHEMA:
            return Brought(where, whole=document)
        if document.get("schema") != history_table.SCHEMA:
            raise BadInput(where, "is nothing that was given out by `stock export`", f"it holds {portable.SCHEMA}")
        return Brought(where, history=history_table.events_in(document, where))
    if "type" in columns_of(text, {*shelf_list.COLUMNS, *history_table.COLUMNS})[1]:
        return Brought(where, history=history_table.events_of_table(content, where))
    return Brought(where, drafts=shelf_list.drafts_in(content, where, items, at, who, layout))


def take_in(
    found: Brought,
    ledger: Ledger,
    workspace: Path,
    today: str,
    sound: Callable[[Document], Document],
    ahead: bool = False,
    write: bool = True,
    once: Once | None = None,
) -> list[Document]:
    """Record what was brought, all or none; with `write` false only find out whether it could be. Gives the events.

    Raises Faults or BadInput, naming the lots that are there already, and StoreError from the store.
    """
    if found.whole is not None:
        if write:
            drafts = portable.take_in(found.whole, ledger, workspace, found.where, sound)
        else:
            drafts = portable.drafts_of(found.whole, found.where, sound)
            portable.must_be_empty(ledger, workspace, portable.documents_in(found.whole, found.where))
        return [draft.body for draft in drafts if draft.stream == "stock"]

    def decide(look: Look) -> list[Draft]:
        if found.history:
            return _history(found, look)
        _must_be_new(found, look)
        return look.admitted(found.drafts, today, ahead)

    if write:
        return [entry.body for entry in ledger.append(decide, once)]
    with ledger.looking() as look:
        drafts = decide(look)
    return [draft.body if found.history else without_number(draft.body) for draft in drafts]


def _history(found: Brought, look: Look) -> list[Draft]:
    try:
        fold(found.history)
    except Refused as fault:
        raise BadInput(f"{found.where}: lot {fault.where}", fault.what, "the history is not whole") from None
    if look.standing.head.seq:
        raise BadInput(found.where, "a history goes into an empty workspace only", "name another with --workspace")
    return [Draft("stock", event) for event in found.history]


def _must_be_new(found: Brought, look: Look) -> None:
    taken = [one["lot"] for one in found.drafts if one["type"] == "received" and one["lot"] in look.shelf.lots]
    if taken:
        mend = "name a second delivery otherwise, such as with -2"
        raise Faults(found.where, [BadInput(f"{found.where}: lot {lot}", "is there already", mend) for lot in taken])
