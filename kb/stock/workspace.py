"""Where the things of a workspace are: the ledger, the lab's own documents, and what an earlier version left."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from kb.base import disk
from kb.base.errors import BadInput, StoreError
from kb.base.places import LEDGER, SHARED
from kb.stock import old_form
from kb.stock.ledger import Ledger
from kb.stock.stores.sqlite import SqliteStore

_SERVERS = ("postgresql://", "postgres://")


def ledger_of(workspace: Path, tell: Callable[[str], None] = lambda _: None) -> Ledger:
    """Open the workspace's ledger; what an earlier version wrote is taken over first, and `tell` hears of it."""
    path = workspace / LEDGER
    with disk.refusals(workspace):
        before, own = old_form.there(workspace), path.exists()
    if address := os.environ.get(SHARED):
        return _shared(address, workspace, before, own, tell)
    if before:
        from kb.stock.conversion import converted

        if said := converted(workspace, path):
            tell(said)
    return Ledger(SqliteStore(path), str(path))


def _shared(address: str, workspace: Path, before: bool, own: bool, tell: Callable[[str], None]) -> Ledger:
    """Open the ledger on a server. What the workspace itself holds is not looked at, and that is said."""
    from kb.stock.stores.postgresql import PostgresStore, shown

    if not address.startswith(_SERVERS):
        raise BadInput(SHARED, f"'{shown(address)}' names no store", "such as postgresql://USER@HOST/DATABASE")
    if before:
        said = "was written by an earlier version, and is not taken over on a server"
        raise StoreError(str(workspace), said, f"unset {SHARED}, run `stock list` once, then back up and restore")
    if own:
        tell(f"{workspace / LEDGER} is not looked at: {SHARED} names {shown(address)}")
    return Ledger(PostgresStore(address), shown(address))
