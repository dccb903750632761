"""What is read of a SQLite ledger."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any

from kb.stock.stores.refusals import refusals
from kb.stock.stores.table_reader import TableReader


class SqliteReader(TableReader):
    """A `kb.stock.stores.Reader` within one transaction; of nothing, where there is no connection."""

    value = "?"
    one_of = "IN (SELECT value FROM json_each(?))"
    told = "SELECT seq FROM sqlite_sequence WHERE name = 'events'"

    def __init__(self, path: Path, connection: sqlite3.Connection | None) -> None:
        self._path, self._connection = path, connection
        super().__init__(str(path))

    def rows(self, words: str, given: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """See `TableReader.rows`."""
        if self._connection is None:
            return []
        with refusals(self._path):
            return self._connection.execute(words, given).fetchall()

    def several(self, values: Collection[str]) -> str:
        """See `TableReader.several`."""
        return json.dumps(sorted(values))
