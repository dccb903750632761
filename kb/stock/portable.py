"""Everything that a workspace holds, as one document that another workspace takes in and goes on from.

The ledger's entries in their order, the lab's own documents, and the lab's own items and rules. The hash at the end of
the chain is given with them: what was changed or lost on the way is noticed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from kb.base import disk
from kb.base.documents import TABLES, Documents
from kb.base.errors import BadInput
from kb.stock.events import canonical
from kb.stock.fold import fold
from kb.stock.ledger import Ledger, Look
from kb.stock.stores import STREAMS, Document, Draft, Head
from kb.stock.stores.chain import linked

SCHEMA: Final = "tackroom.ledger/1"
#: The lab's own items and rules, as they lie in its workspace.
_HOUSE = ("catalog", "rules")
_NAME = re.compile(r"(catalog|rules)(/[\w-][\w.-]*)+\.toml")
_LONGEST = 1_000_000


def everything(ledger: Ledger, workspace: Path) -> Document:
    """Give all that a workspace holds."""
    with ledger.store.reading() as reader:
        head, entries = reader.head(), reader.entries()
    return {
        "schema": SCHEMA,
        "entries": [{"stream": entry.stream, "document": entry.body} for entry in entries],
        "head": head.hash,
        "documents": Documents(workspace).everything(),
        "files": house_files(workspace),
    }


def take_in(
    given: Mapping[str, Any], ledger: Ledger, workspace: Path, where: str, sound: Callable[[Document], Document]
) -> list[Draft]:
    """Put all of it into an empty workspace, or nothing; gives the entries. `sound` reads the records of the work.

    BadInput where it isn't what was given out, or where the workspace isn't empty.
    """
    drafts = drafts_of(given, where, sound)
    tables, house = documents_in(given, where), files_in(given, where)
    must_be_empty(ledger, workspace, tables)
    put_house_files(workspace, house)

    def decide(look: Look) -> Sequence[Draft]:
        _must_be_unwritten(look)
        return drafts

    ledger.append(decide)
    if tables and not Documents(workspace).everything():
        Documents(workspace).take_in(tables)
    return drafts


def drafts_of(given: Mapping[str, Any], where: str, sound: Callable[[Document], Document]) -> list[Draft]:
    """Read the entries. BadInput where one isn't in its form, or where they don't add up or lead to the hash given."""
    rows = given.get("entries")
    if not isinstance(rows, list):
        raise BadInput(where, "holds no entries", "see `stock export`")
    drafts: list[Draft] = []
    for number, row in enumerate(rows, start=1):
        place = f"{where}: entry {number}"
        stream, body = (row.get("stream"), row.get("document")) if isinstance(row, Mapping) else (None, None)
        if stream not in STREAMS or not isinstance(body, dict) or not isinstance(body.get("id"), int):
            raise BadInput(place, "is no entry of a ledger", "it may be cut short")
        try:
            right = canonical(body) if stream == "stock" else sound(body) if stream == "work" else body
        except BadInput as fault:
            raise BadInput(f"{place}: {fault.where}", fault.what, fault.mend) from None
        if right != body:
            raise BadInput(place, "is not in the form in which it was given out", "it was changed since")
        drafts.append(Draft(stream, body))
    try:
        fold(draft.body for draft in drafts if draft.stream == "stock")
        chain = linked(Head(), drafts)
    except BadInput as fault:
        raise BadInput(f"{where}: lot {fault.where}", fault.what, "the history is not whole") from None
    except (KeyError, UnicodeEncodeError):
        raise BadInput(where, "holds an entry about nothing", "it was changed since") from None
    if given.get("head", "") != (chain[-1].entry.hash if chain else ""):
        raise BadInput(where, "is not what was given out: its entries don't lead to its hash", "give it out again")
    return drafts


def must_be_empty(ledger: Ledger, workspace: Path, documents: Mapping[str, Any]) -> None:
    """Raise BadInput where a workspace has a ledger already, or other documents than those that are brought."""
    with ledger.looking() as look:
        _must_be_unwritten(look)
    if (there := Documents(workspace).everything()) and there != documents:
        raise _not_empty("documents.json")


def _must_be_unwritten(look: Look) -> None:
    if look.standing.head.seq:
        raise _not_empty("a ledger")


def _not_empty(what: str) -> BadInput:
    return BadInput("workspace", f"has {what} already", "take it into an empty one: name it with --workspace")


def house_files(workspace: Path) -> dict[str, str]:
    """Give the lab's own items and rules, by their path in the workspace."""
    found = {}
    with disk.refusals(workspace):
        paths = [path for folder in _HOUSE for path in sorted((workspace / folder).rglob("*.toml")) if path.is_file()]
    for path in paths:
        name = path.relative_to(workspace).as_posix()
        if _NAME.fullmatch(name):
            try:
                found[name] = disk.read(path, _LONGEST).decode()
            except UnicodeDecodeError:
                raise BadInput(name, "is not UTF-8 text", "save it as UTF-8") from None
    return found


def put_house_files(workspace: Path, house: Mapping[str, str]) -> None:
    """Write the lab's own items and rules; BadInput where another file has the name of one."""
    for name, text in house.items():
        path = workspace / name
        if path.exists() and disk.read(path, _LONGEST) != text.encode():
            raise BadInput(name, "is there already, and is another", "take it into an empty workspace")
    for name, text in house.items():
        path = workspace / name
        if not path.exists():
            with disk.refusals(path):
                disk.make_folder(path.parent)
                disk.replace(path, text.encode())


def documents_in(given: Mapping[str, Any], where: str) -> dict[str, list[dict[str, Any]]]:
    """Read the tables of the lab's documents. BadInput where they are none."""
    tables = given.get("documents", {})
    rows = isinstance(tables, Mapping) and all(
        name in TABLES and isinstance(rows, list) and all(isinstance(row, dict) for row in rows)
        for name, rows in tables.items()
    )
    if not rows:
        raise BadInput(f"{where}: documents", "are no tables of the lab's documents", "give it out again")
    return dict(tables)


def files_in(given: Mapping[str, Any], where: str) -> dict[str, str]:
    """Read the lab's own items and rules. BadInput where they are none."""
    house = given.get("files", {})
    if not isinstance(house, Mapping) or not all(
        isinstance(text, str) and isinstance(name, str) and _NAME.fullmatch(name) for name, text in house.items()
    ):
        raise BadInput(f"{where}: files", "are no items and rules of a lab", "give it out again")
    return dict(house)
