"""Where the things of a workspace are: the ledger, the lab's own documents, and what an earlier version left."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from kb.base import disk
from kb.stock import old_form
from kb.stock.ledger import Ledger
from kb.stock.stores.sqlite import SqliteStore

LEDGER = "ledger.sqlite3"


def ledger_of(workspace: Path, tell: Callable[[str], None] = lambda _: None) -> Ledger:
    """Open the workspace's ledger; what an earlier version wrote is taken over first, and `tell` hears of it."""
    path = workspace / LEDGER
    with disk.refusals(workspace):
        before = old_form.there(workspace)
    if before:
        from kb.stock.conversion import converted

        if said := converted(workspace, path):
            tell(said)
    return Ledger(SqliteStore(path), path)
