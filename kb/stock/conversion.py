"""A workspace of the old form becomes one with a ledger: once, when it is first opened, whole or not at all.

The ledger is built beside and proven (read back, it makes every lot what the old events made it, event by event)
before it takes its name; then the old folders are set aside, in `old-form`.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from kb.base import disk
from kb.base.errors import BadInput, StoreError
from kb.stock import old_form
from kb.stock.fold import Folding, effective, in_order
from kb.stock.stores import Document, Draft, Entry
from kb.stock.stores.sqlite import SqliteStore, made_beside, put_in_place

ASIDE = "old-form"


def converted(workspace: Path, ledger: Path) -> str:
    """Take over what the old form holds; says in a line what was done. StoreError where it is damaged or in use."""
    with disk.refusals(workspace):
        (workspace / old_form.STOCK).mkdir(exist_ok=True)
        with disk.locked(workspace / old_form.STOCK / "lock", workspace):
            return _converted(workspace, ledger)


def _converted(workspace: Path, ledger: Path) -> str:
    if not old_form.there(workspace):  # another program was quicker
        return ""
    stock = old_form.documents(workspace / old_form.STOCK)
    work = old_form.documents(workspace / old_form.WORK)
    drafts = taken_over(stock, work)
    if ledger.exists():
        _must_hold(ledger, drafts)
    else:
        with made_beside(ledger) as fresh:
            store = SqliteStore(fresh)
            store.append(lambda _: drafts)
            with store.reading() as reader:
                prove(stock, reader.entries())
            put_in_place(fresh, ledger)
    aside = _set_aside(workspace)
    return (
        f"{workspace}: the stock was taken over into {ledger.name}: {len(stock)} events, {len(work)} records and "
        f"reservations; the files as they were are in {aside.name}"
    )


def taken_over(stock: Sequence[Document], work: Sequence[Document]) -> list[Draft]:
    """Give the entries for what two stores of the old form hold.

    There a use was tied to its record by the text of its reason, "record 3", which anybody could have typed: it is
    taken for the tie only where it says what the record says that it took.
    """
    records = {doc["id"]: doc for doc in work if doc.get("type") == "installed"}
    drafts: list[Draft] = []
    # No lot was ever renamed there: what the work names is called so to the last of these events.
    as_of = {"as_of": stock[-1]["id"]} if stock else {}
    taken: set[tuple[int, str]] = set()
    for event in stock:
        number = _record_of(event, records)
        if number is None or (number, event["lot"]) in taken:
            drafts.append(Draft("stock", event))
            continue
        taken.add((number, event["lot"]))
        drafts.append(Draft("stock", {k: v for k, v in event.items() if k != "reason"} | {"record": number}))
    for doc in work:
        body = {("job" if name == "lot" else name): value for name, value in doc.items()} | as_of
        missing = [draw for draw in doc.get("draws", ()) if (doc["id"], draw["lot"]) not in taken]
        if doc.get("type") == "installed" and missing:
            body |= {"draws": [draw for draw in doc["draws"] if draw not in missing], "never_drawn": missing}
            if not body["draws"]:
                del body["draws"]
        drafts.append(Draft("work", body))
    return drafts


def _record_of(event: Mapping[str, Any], records: Mapping[int, Document]) -> int | None:
    word, _, digits = event.get("reason", "").partition(" ")
    if event["type"] != "used" or word != "record" or not (digits.isascii() and digits.isdecimal()):
        return None
    record = records.get(int(digits))
    own = {name: event[name] for name in ("lot", "quantity", "unit")}
    tied = record is not None and event.get("job") == record["lot"] and own in record.get("draws", ())
    return int(digits) if tied else None


def prove(before: Sequence[Document], after: Sequence[Entry]) -> None:
    """Raise StoreError unless the entries make every lot what the old events made it, event by event."""
    kept = [entry.body for entry in after if entry.stream == "stock"]
    old, new = Folding(), Folding()
    try:
        for one, other in zip(before, kept, strict=True):
            old.take(one)
            new.take(other)
            if one["id"] != other["id"] or old.lots.get(one["lot"]) != new.lots.get(other["lot"]):
                raise StoreError("old form", f"event {one['id']} isn't what it was", "nothing was taken over")
    except (BadInput, ValueError) as fault:
        raise StoreError("old form", f"does not add up: {fault}", "nothing was taken over") from None
    for history in _by_lot(before):
        if in_order(effective(history)) != effective(history):
            lot = history[0]["lot"]
            raise StoreError("old form", f"the events of {lot} are not in their order", "nothing was taken over")


def _by_lot(events: Iterable[Document]) -> Iterable[list[Document]]:
    found: dict[str, list[Document]] = {}
    for event in events:
        found.setdefault(event["lot"], []).append(event)
    return found.values()


def _must_hold(ledger: Path, drafts: Sequence[Draft]) -> None:
    """Raise StoreError unless the ledger begins with what is left of the old form: then it was only not set aside."""
    with SqliteStore(ledger).reading() as reader:
        entries = reader.entries()
    for stream in ("stock", "work"):
        kept = [_bare(entry.body) for entry in entries if entry.stream == stream]
        left = [_bare(draft.body) for draft in drafts if draft.stream == stream]
        if kept[: len(left)] != left:
            said = "holds what an earlier version wrote after the workspace was taken over"
            mend = "move that folder away, and record what is in it anew"
            raise StoreError(str(ledger.parent / old_form.STOCK), said, mend)


def _bare(body: Document) -> Document:
    """Give a document without what ties uses to records: one of the two folders may be set aside already."""
    ties = ("reason", "record", "draws", "never_drawn", "as_of")
    return {name: value for name, value in body.items() if name not in ties}


def _set_aside(workspace: Path) -> Path:
    number = 1
    while (aside := workspace / (ASIDE if number == 1 else f"{ASIDE}-{number}")).exists():
        number += 1
    aside.mkdir()
    for name in ("stock", "installations"):
        if (workspace / name).is_dir():
            shutil.move(workspace / name, aside / name)
    disk.sync_folder(aside)
    disk.sync_folder(workspace)
    return aside
