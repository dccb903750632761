"""What a ledger's database holds: one table of entries that only grows, and views that lay open what is in them.

Installations, readings and reservations are read out of the entries and not kept beside them: what is kept once
can't contradict itself.
"""

from __future__ import annotations

import sqlite3
from functools import cache

#: Says that a database is a ledger of this program ("tack"), and of which form.
APPLICATION, VERSION = 0x7461636B, 1

STATEMENTS = (
    """CREATE TABLE events (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, -- the order in which entries were acknowledged, without a gap
  stream TEXT NOT NULL,
  id INTEGER NOT NULL,                   -- the number that people know it by, rising in its stream
  about TEXT NOT NULL,                   -- the lot, the job or the fact
  body TEXT NOT NULL,                    -- the document, JSON
  hash TEXT NOT NULL                     -- SHA-256 over the hash before, seq, stream, id, about and body, a line each
)""",
    # Not as constraints of the table: each write checks every page, and would check these of every row.
    """CREATE TRIGGER events_are_well_formed BEFORE INSERT ON events
WHEN NEW.stream NOT IN ('stock', 'work', 'confirmed') OR NEW.id <= 0
BEGIN SELECT RAISE(ABORT, 'an event has a stream and a number'); END""",
    """CREATE TRIGGER events_are_never_changed BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'events are only ever added'); END""",
    """CREATE TRIGGER events_are_never_deleted BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'events are only ever added'); END""",
    """CREATE TABLE once (
  word TEXT PRIMARY KEY,                 -- what a request of the pages or the API carries, so that it is done once
  asked TEXT NOT NULL,
  answer TEXT NOT NULL
)""",
    """CREATE VIEW installations AS
SELECT e.id AS record, e.about AS job, json_extract(i.value, '$.installation') AS installation,
  json_extract(i.value, '$.part') AS part, json_extract(i.value, '$.outcome') AS outcome,
  json_extract(i.value, '$.why') AS why, json_extract(e.body, '$.at') AS at, json_extract(e.body, '$.who') AS who,
  json_extract(i.value, '$.lots') AS lots
FROM events e, json_each(e.body, '$.installations') i
WHERE e.stream = 'work' AND json_extract(e.body, '$.type') = 'installed'""",
    """CREATE VIEW readings AS
SELECT e.id AS record, e.about AS job, json_extract(i.value, '$.installation') AS installation,
  r.key AS quantity, r.value AS value
FROM events e, json_each(e.body, '$.installations') i, json_each(i.value, '$.readings') r
WHERE e.stream = 'work' AND json_extract(e.body, '$.type') = 'installed'""",
    """CREATE VIEW reservations AS
SELECT e.id AS reservation, e.about AS job, json_extract(e.body, '$.at') AS at,
  json_extract(d.value, '$.lot') AS lot, json_extract(d.value, '$.quantity') AS quantity,
  json_extract(d.value, '$.unit') AS unit
FROM events e, json_each(e.body, '$.draws') d
WHERE e.stream = 'work' AND json_extract(e.body, '$.type') = 'reserved'""",
    """CREATE VIEW confirmations AS
SELECT id, about AS fact, body FROM events WHERE stream = 'confirmed'""",
)

Objects = dict[str, tuple[str, str]]


def create(connection: sqlite3.Connection) -> None:
    """Make an empty ledger of a database that holds nothing."""
    for statement in STATEMENTS:
        connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {APPLICATION}")
    connection.execute(f"PRAGMA user_version = {VERSION}")


def objects(connection: sqlite3.Connection) -> Objects:
    """Everything that a database says it holds: kind and text, by name."""
    rows = connection.execute("SELECT name, type, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'")
    return {name: (kind, text) for name, kind, text in rows}


@cache
def expected() -> Objects:
    """Tell what a ledger's database holds."""
    connection = sqlite3.connect(":memory:")
    try:
        create(connection)
        return objects(connection)
    finally:
        connection.close()


def strange(connection: sqlite3.Connection) -> str:
    """Tell how a database's form differs from a ledger's so that it can't be trusted; "" where it doesn't.

    Views and indexes of a lab's own do no harm; a trigger may change what is written.
    """
    found, wanted = objects(connection), expected()
    for name, what in wanted.items():
        if found.get(name) != what:
            return f"its {what[0]} '{name}' was changed or is missing"
    foreign = [name for name, (kind, _) in found.items() if kind == "trigger" and name not in wanted]
    return f"its trigger '{foreign[0]}' is not the program's own" if foreign else ""
