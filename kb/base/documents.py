"""The lab's own small documents, which people edit: products on packs, words for materials, and the like.

They are kept by TinyDB in `documents.json` of the workspace. What is ours is the storage under it: the file is replaced
as a whole, so that a crash leaves the old one or the new, and writers wait for each other. Nothing here is a fact of
the ledger: a document may be changed or deleted, and no sum hangs on it.

>>> import tempfile
>>> lab = Documents(Path(tempfile.mkdtemp()))
>>> lab.put("words", "words", {"words": "the blue stuff", "item": "acetone"})
>>> lab.rows("words"), lab.take_away("words", "words", "the blue stuff"), lab.rows("words")
([{'words': 'the blue stuff', 'item': 'acetone'}], True, [])
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from kb.base import disk
from kb.base.errors import BadInput

NAME = "documents.json"
#: Every table that there may be.
TABLES = ("products", "prices", "words", "settings", "forms", "people")

Row = dict[str, Any]
Tables = dict[str, list[Row]]


class Documents:
    """The documents of one workspace. Nothing is created before the first is written."""

    def __init__(self, workspace: Path) -> None:
        self.path = workspace / NAME

    def rows(self, table: str) -> list[Row]:
        """Give the documents of a table, in the order in which they were written first."""
        return [dict(row) for row in _read(self.path).get(table, {}).values()]

    def row(self, table: str, key: str, value: str) -> Row | None:
        """Give the document with that value in the field `key`; None where there is none."""
        return next((row for row in self.rows(table) if row.get(key) == value), None)

    def put(self, table: str, key: str, row: Row) -> None:
        """Write a document, in the place of the one that has the same value in the field `key`."""
        from tinydb import where

        with self._writing() as database:
            database.table(table).upsert(row, where(key) == row[key])

    def take_away(self, table: str, key: str, value: str) -> bool:
        """Delete the documents with that value in the field `key`; whether there were any."""
        from tinydb import where

        with self._writing() as database:
            return bool(database.table(table).remove(where(key) == value))

    def everything(self) -> Tables:
        """Give every table that holds something, to be carried elsewhere."""
        return {name: list(rows.values()) for name, rows in _read(self.path).items() if rows}

    def take_in(self, tables: Mapping[str, list[Row]]) -> None:
        """Write what `everything` gave, where there was nothing before."""
        with self._writing() as database:
            for name, rows in tables.items():
                database.table(name).insert_multiple(rows)

    @contextmanager
    def _writing(self) -> Iterator[Any]:
        from tinydb import TinyDB

        with disk.refusals(self.path):
            disk.make_folder(self.path.parent)
            with disk.locked(self.path.with_name(".documents.lock"), self.path):
                yield TinyDB(storage=lambda: _storage(self.path))


def _read(path: Path) -> dict[str, dict[str, Row]]:
    """Give the tables as TinyDB writes them: documents by number. BadInput where somebody edited the file amiss."""
    with disk.refusals(path):
        if not path.exists():
            return {}
    try:
        found = json.loads(disk.read(path))
    except (ValueError, RecursionError) as error:
        raise BadInput(str(path), f"is not JSON ({error})", "mend it, or put a backup in its place") from None
    tables = isinstance(found, dict) and all(
        isinstance(rows, dict) and all(isinstance(row, dict) for row in rows.values()) for rows in found.values()
    )
    if not tables:
        raise BadInput(str(path), "holds no tables of documents", "mend it, or put a backup in its place")
    return {str(name): rows for name, rows in found.items()}


def _storage(path: Path) -> Any:
    """Give a TinyDB storage that replaces the file as a whole."""
    from tinydb.storages import Storage

    class Replaced(Storage):
        def read(self) -> dict[str, dict[str, Any]] | None:
            return _read(path) or None

        def write(self, data: dict[str, dict[str, Any]]) -> None:
            disk.replace(path, (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode())

    return Replaced()
