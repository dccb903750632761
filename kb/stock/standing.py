"""What a ledger comes to at one moment, and its cache: a long history isn't folded again for each command.

A standing is worked out from entries alone and can always be worked out again. It is kept in the user's own folder of
caches, with the hash that the ledger's chain has at its place, so that it is believed only of a ledger that begins with
exactly the entries that it was made of; and with a digest of the modules that fold, so that a change of theirs makes
it void.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from kb.base import caches
from kb.stock import amounts, fold, lots, when
from kb.stock.fold import EMPTY, HistoryOf, Shelf
from kb.stock.lots import Logged, Lot
from kb.stock.stores import Entry, Head

#: A standing is kept when so many entries have come since the one that was kept before.
KEPT_EVERY = 500
_QUANTITY, _LOGGED = (Lot._fields.index(name) for name in ("quantity", "logged"))


class Standing(NamedTuple):
    """How far the ledger goes, the shelf that it makes, and the last number and the count of each stream."""

    head: Head = Head()
    shelf: Shelf = EMPTY
    last: Mapping[str, int] = {}
    counts: Mapping[str, int] = {}

    def after(self, entries: Sequence[Entry], history_of: HistoryOf) -> Standing:
        """Give the standing after further entries. Raises Refused where they don't add up."""
        if not entries:
            return self
        events = [entry.body for entry in entries if entry.stream == "stock"]
        last, counts = dict(self.last), dict(self.counts)
        for entry in entries:
            last[entry.stream] = entry.body["id"]
            counts[entry.stream] = counts.get(entry.stream, 0) + 1
        head = Head(entries[-1].seq, entries[-1].hash)
        return Standing(head, fold.fold(events, self.shelf, history_of), last, counts)


def kept(ledger: str) -> Standing | None:
    """Give the standing of a ledger that was kept last; None where there is none to be believed."""
    path = _path(ledger)
    found = None if path is None else caches.read(path, _header())
    if found is None:
        return None
    head, rows, last, counts = found
    return Standing(Head(*head), Shelf({row[0]: _lot(row) for row in rows}), last, counts)


def keep(ledger: str, standing: Standing) -> None:
    """Keep a standing for the commands to come."""
    path = _path(ledger)
    if path is not None:
        rows = [_row(lot) for lot in standing.shelf.lots.values()]
        caches.write(path, _header(), (tuple(standing.head), rows, dict(standing.last), dict(standing.counts)))


def _row(lot: Lot) -> tuple[Any, ...]:
    row: list[Any] = list(lot)
    row[_QUANTITY] = str(lot.quantity)
    row[_LOGGED] = tuple(map(tuple, lot.logged))
    return tuple(row)


def _lot(row: Sequence[Any]) -> Lot:
    found = list(row)
    found[_QUANTITY] = Decimal(row[_QUANTITY])
    found[_LOGGED] = tuple(Logged(*one) for one in row[_LOGGED])
    return Lot._make(found)


def _path(ledger: str) -> Path | None:
    folder = caches.folder()
    name = ledger if "://" in ledger else str(Path(ledger).absolute())
    return None if folder is None else folder / f"{caches.key(name)}.standing"


@cache
def _header() -> bytes:
    digest = hashlib.sha256()
    for module in (amounts, when, lots, fold):
        digest.update(Path(str(module.__file__)).read_bytes())
    return caches.header(f"standing {digest.hexdigest()[:16]}")
