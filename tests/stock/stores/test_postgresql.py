"""The shared store where other hands, another version or the server are against it; and the way there and back."""

from __future__ import annotations

import json
import sys
from decimal import Decimal
from pathlib import Path

import psycopg
import pytest

from kb.base.errors import BadInput, StoreError
from kb.cli import main
from kb.stock.ledger import Ledger
from kb.stock.stores import Draft, Reader
from kb.stock.stores.postgresql import PostgresStore, migrations
from kb.stock.workspace import ledger_of
from kb.work.recording import record as keep
from kb.work.reserving import reserve
from tests.stock.factory import TODAY, received, record, used
from tests.stock.stores.test_stores import RECORD


@pytest.fixture
def ledger(database: str) -> Ledger:
    """A ledger on a server, with two lots in it."""
    found = Ledger(PostgresStore(database))
    record(found, [received("A"), received("B")])
    return found


def sql(database: str, *statements: str) -> list[tuple[object, ...]]:
    """Ask or change the database from outside; gives what the last statement answers."""
    with psycopg.connect(database, options="-c search_path=tackroom", autocommit=True) as connection:
        for statement in statements:
            found = connection.execute(statement)
        return found.fetchall() if found.description else []


@pytest.mark.parametrize("statement", ["UPDATE events SET body = '{}'", "DELETE FROM events", "TRUNCATE events"])
@pytest.mark.usefixtures("ledger")
def test_the_database_itself_refuses_to_change_or_forget_an_event(database: str, statement: str) -> None:
    with pytest.raises(psycopg.errors.RestrictViolation, match="events are only ever added"):
        sql(database, statement)


CHANGES = {
    "an event was changed": "UPDATE events SET body = replace(body, '500', '900') WHERE id = 1",
    "an event was changed, with a hash of its own": "UPDATE events SET body = replace(body, '500', '9'), hash = 'x'",
    "an event was taken out": "DELETE FROM events WHERE id = 1",
    "the last event was taken out": "DELETE FROM events WHERE id = 2",
    "it was given another lot": "UPDATE events SET about = 'B' WHERE id = 1",
    "all of it is gone": "TRUNCATE events",
    "what was counted is gone": "DELETE FROM reached",
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_change_by_who_may_do_all_is_found_and_nothing_is_built_on_it(
    ledger: Ledger, database: str, change: str
) -> None:
    sql(database, "SET session_replication_role = replica", change)  # no trigger speaks there
    before = sql(database, "SELECT * FROM events")
    assert len(ledger.store.verify().problems) == 1
    for anew in (Ledger(ledger.store), ledger):
        with pytest.raises(StoreError):
            anew.documents("stock")
    with pytest.raises(StoreError):
        record(Ledger(ledger.store), [used("A"), used("B")])
    assert sql(database, "SELECT * FROM events") == before


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("INSERT INTO migrations VALUES (99, 'later')", "was written by a later version (schema 99)"),
        ("ALTER TABLE events DISABLE TRIGGER events_are_never_changed", "its triggers were changed"),
        (
            "CREATE TRIGGER own BEFORE INSERT ON events FOR EACH ROW EXECUTE FUNCTION only_ever_added()",
            "its triggers were changed",
        ),
        ("DROP TABLE reached", "is damaged"),
    ],
)
def test_a_database_of_another_form_is_refused(ledger: Ledger, database: str, statement: str, said: str) -> None:
    sql(database, statement)
    for act in (ledger.shelf, lambda: record(ledger, [used("A")])):
        with pytest.raises(StoreError) as refused:
            act()
        assert said in str(refused.value)
    assert sql(database, "SELECT count(*) FROM events") == [(2,)]


def test_each_migration_is_carried_out_once(ledger: Ledger, database: str) -> None:
    record(ledger, [used("A")])
    assert sql(database, "SELECT number, name FROM migrations") == [
        (number, path.stem) for number, path in enumerate(migrations(), start=1)
    ]


def test_nothing_is_made_before_something_is_recorded(database: str) -> None:
    ledger = Ledger(PostgresStore(database))
    assert ledger.shelf().lots == {}
    assert ledger.verify().problems == ()
    assert sql(database, "SELECT to_regclass('tackroom.events')") == [(None,)]


def test_a_write_waits_for_another_and_says_so_where_that_takes_too_long(ledger: Ledger, database: str) -> None:
    waits = Ledger(PostgresStore(database, wait_s=0.1))
    with psycopg.connect(database, options="-c search_path=tackroom") as other:
        other.execute("LOCK TABLE events IN EXCLUSIVE MODE")
        with pytest.raises(StoreError, match="another program is writing; wait until it is done"):
            record(waits, [used("A")])
        assert waits.lot("A").quantity == 500, "reading waits for nobody"
    record(waits, [used("A")])
    assert ledger.lot("A").quantity == 499


def test_a_server_that_ends_before_the_answer_is_told_as_what_is_true(
    ledger: Ledger, database: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut_off(reader: Reader) -> list[Draft]:
        sql(database, "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid != pg_backend_pid()")
        return [Draft("stock", {"id": reader.head().seq + 1, "lot": "A"})]

    with pytest.raises(StoreError, match="can't be reached") as refused:
        ledger.store.append(cut_off)
    assert "may have been" not in str(refused.value)

    def lost(_: psycopg.Connection) -> None:
        raise psycopg.OperationalError("the connection was lost")

    monkeypatch.setattr(psycopg.Connection, "commit", lost)
    with pytest.raises(StoreError, match="it may have been recorded"):
        record(ledger, [used("A")])
    monkeypatch.undo()
    assert ledger.verify().problems == ()
    assert ledger.lot("A").quantity == 500


def test_what_is_in_the_entries_can_be_asked_by_any_tool(ledger: Ledger, database: str) -> None:
    keep(ledger, RECORD, TODAY)
    reserve(ledger, "other", [("A", Decimal(3), "mL")], "2027-03-05", "kim", TODAY)
    assert sql(database, "SELECT record, job, installation, outcome, lots::text FROM installations") == [
        (1, "bracket", "1", "pass", '["A"]')
    ]
    assert sql(database, "SELECT quantity, value FROM readings") == [("zero_return_ue", "1.5")]
    assert sql(database, "SELECT job, lot, quantity, unit FROM reservations") == [("other", "A", "3", "mL")]


# -- as a person meets it


def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Run a command of a lab; gives its status and what it said."""
    monkeypatch.setattr(sys, "argv", ["tackroom", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    said = capsys.readouterr()
    return int(ended.value.code or 0), said.out, said.err


def test_from_a_workspace_to_a_server_and_back(
    tmp_path: Path, database: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A lab's ledger moves to a server, is worked on there, and comes back: the same entries under the same hashes."""
    monkeypatch.setenv("TACKROOM_WHO", "kim")
    monkeypatch.setenv("TACKROOM_TODAY", "2027-06-01")
    lab, back, copy, again = (tmp_path / name for name in ("lab", "back", "copy", "again"))
    record(lab, [received("A"), used("A", "2")])
    keep(ledger_of(lab), RECORD, TODAY)
    before = ledger_of(lab).standing()
    assert run(monkeypatch, capsys, "stock", "backup", str(copy), "--workspace", str(lab))[0] == 0

    monkeypatch.setenv("TACKROOM_STORE", database)
    status, out, err = run(monkeypatch, capsys, "stock", "restore", str(copy), "--workspace", str(lab))
    assert (status, "Everything adds up." in out) == (0, True), err
    assert "ledger.sqlite3 is not looked at: TACKROOM_STORE names postgresql://lab@/lab" in err
    (lab / "ledger.sqlite3").unlink()
    assert ledger_of(lab).standing() == before
    assert run(monkeypatch, capsys, "stock", "use", "A", "5", "mL", "--workspace", str(lab))[0] == 0
    listed = json.loads(run(monkeypatch, capsys, "stock", "list", "--json", "--workspace", str(lab))[1])
    assert [(lot["lot"], lot["quantity"]) for lot in listed["lots"]] == [("A", 492.0)]
    assert "1 installation passed" in run(monkeypatch, capsys, "trace", "A", "--workspace", str(lab))[1]
    there = ledger_of(lab).standing()
    assert run(monkeypatch, capsys, "stock", "backup", str(again), "--workspace", str(lab))[0] == 0

    monkeypatch.delenv("TACKROOM_STORE")
    back.mkdir()
    assert run(monkeypatch, capsys, "stock", "restore", str(again), "--workspace", str(back))[0] == 0
    assert ledger_of(back).standing() == there
    assert run(monkeypatch, capsys, "stock", "use", "A", "1", "mL", "--workspace", str(back))[0] == 0
    assert run(monkeypatch, capsys, "stock", "verify", "--workspace", str(back))[0] == 0


@pytest.mark.parametrize(
    ("address", "status", "said"),
    [
        ("mysql://lab", 2, "TACKROOM_STORE: 'mysql://lab' names no store; such as postgresql://USER@HOST/DATABASE"),
        ("postgresql://lab:secret@/lab?host=/nowhere", 4, "postgresql://lab@/lab: can't be reached"),
        ("postgresql://lab:secret@/lab?nonsense=1", 4, "postgresql://lab@/lab: "),
    ],
)
def test_an_address_that_leads_nowhere_is_one_line_without_its_secret(
    address: str, status: int, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("TACKROOM_STORE", address)
    for words in (("stock", "list"), ("stock", "verify"), ("stock", "use", "A", "1", "mL")):
        ended, _, err = run(monkeypatch, capsys, *words, "--workspace", str(tmp_path))
        assert ended == status, err
        assert err.startswith(said)
        assert err.count("\n") == 1
        assert "secret" not in err


def test_what_an_earlier_version_wrote_is_taken_over_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "stock" / "events").mkdir(parents=True)
    monkeypatch.setenv("TACKROOM_STORE", "postgresql://lab@/lab")
    with pytest.raises(StoreError, match="unset TACKROOM_STORE, run `stock list` once"):
        ledger_of(tmp_path)


def test_without_what_speaks_to_it_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(BadInput, match=r"pip install 'tackroom\[postgresql\]'"):
        Ledger(PostgresStore("postgresql://lab@/lab")).shelf()
