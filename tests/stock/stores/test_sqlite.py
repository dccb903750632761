"""The embedded store where the disk, the folder, other programs or other hands are against it."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from multiprocessing import get_context
from pathlib import Path

import pytest

from kb.base.errors import StoreError
from kb.base.places import LEDGER
from kb.stock.ledger import Ledger
from kb.stock.stores import Reader
from kb.stock.stores.sqlite import LOG, SqliteStore
from kb.stock.workspace import ledger_of
from tests.stock.factory import TODAY, received, record, used


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    """A workspace with two lots."""
    folder = tmp_path / "lab"
    record(folder, [received("A"), received("B")])
    return folder


def sql(folder: Path, *statements: str) -> None:
    """Change the ledger's file from outside."""
    with closing(sqlite3.connect(folder / LEDGER, isolation_level=None)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()


# -- it only grows, and a change from outside is found


@pytest.mark.parametrize("statement", ["UPDATE events SET body = '{}'", "DELETE FROM events"])
def test_the_database_itself_refuses_to_change_or_forget_an_event(lab: Path, statement: str) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="events are only ever added"):
        sql(lab, statement)


@pytest.mark.parametrize(("stream", "number"), [("other", 9), ("stock", 0)])
def test_the_database_itself_refuses_what_is_no_event(lab: Path, stream: str, number: int) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="an event has a stream and a number"):
        sql(lab, f"INSERT INTO events VALUES (3, '{stream}', {number}, 'A', '{{}}', 'x')")


CHANGES = {
    "an event was changed": ("UPDATE events SET body = replace(body, '500', '900') WHERE id = 1",),
    "an event was changed, with a hash of its own": ("UPDATE events SET body = replace(body, '500', '9'), hash = 'x'",),
    "an event was taken out": ("DELETE FROM events WHERE id = 1",),
    "the last event was taken out": ("DELETE FROM events WHERE id = 2",),
    "it was given another lot": ("UPDATE events SET about = 'B' WHERE id = 1",),
    "an event was put in": ("INSERT INTO events SELECT 3, stream, 3, about, body, hash FROM events WHERE id = 2",),
}


@pytest.mark.parametrize("statements", CHANGES.values(), ids=CHANGES)
def test_a_change_from_outside_is_found_and_nothing_is_built_on_it(lab: Path, statements: tuple[str, ...]) -> None:
    with closing(sqlite3.connect(lab / LEDGER)) as connection:
        triggers = [row[0] for row in connection.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'")]
        names = [sqltext.split()[2] for sqltext in triggers]
    sql(lab, *(f"DROP TRIGGER {name}" for name in names), *statements, *triggers)
    before = (lab / LEDGER).read_bytes()
    assert SqliteStore(lab / LEDGER).verify().problems
    with pytest.raises(StoreError):
        record(lab, [received("C")])
    assert (lab / LEDGER).read_bytes() == before


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("DROP TRIGGER events_are_never_changed", "its trigger 'events_are_never_changed' was changed or is missing"),
        ("CREATE TRIGGER mine AFTER INSERT ON events BEGIN DELETE FROM once; END", "its trigger 'mine' is not the"),
        ("PRAGMA application_id = 7", "is no ledger of this program"),
        ("PRAGMA user_version = 9", "was written by a later version"),
    ],
)
def test_a_database_of_another_form_is_refused(lab: Path, statement: str, said: str) -> None:
    sql(lab, statement)
    for act in (lambda: ledger_of(lab).shelf(), lambda: record(lab, [received("C")])):
        with pytest.raises(StoreError, match=said):
            act()


def test_a_view_or_an_index_of_the_lab_s_own_does_no_harm(lab: Path) -> None:
    sql(lab, "CREATE VIEW mine AS SELECT about FROM events", "CREATE INDEX by_body ON events (body)")
    record(lab, [received("C")])
    assert ledger_of(lab).verify().problems == ()


@pytest.mark.parametrize("content", [b"", b"no database", b"\0" * 8192, b"SQLite format 3\0" + b"\xff" * 100])
def test_a_file_of_another_kind_in_its_place_is_never_written(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / LEDGER
    path.write_bytes(content)
    assert SqliteStore(path).verify().problems
    with pytest.raises(StoreError) as refused:
        record(tmp_path, [received("A")])
    assert "\n" not in str(refused.value)
    assert path.read_bytes() == content


def test_a_folder_or_a_pipe_in_its_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a" / LEDGER).mkdir(parents=True)
    (tmp_path / "b").mkdir()
    os.mkfifo(tmp_path / "b" / LEDGER)
    for name in "ab":
        with pytest.raises(StoreError, match="is no ordinary file"):
            record(tmp_path / name, [received("A")])


# -- others at the same time


def _writes(folder: str, name: str, count: int) -> None:
    ledger = ledger_of(Path(folder))
    for number in range(count):
        ledger.record([received(f"{name}-{number}")], TODAY)


def test_many_write_and_look_at_once_and_nobody_sees_half(lab: Path) -> None:
    context = get_context("fork")
    writers = [context.Process(target=_writes, args=(str(lab), f"W{n}", 25)) for n in range(4)]
    for writer in writers:
        writer.start()
    seen = 0
    while any(writer.is_alive() for writer in writers):
        report = ledger_of(lab).verify()
        assert report.problems == ()
        assert report.events >= seen
        seen = report.events
    for writer in writers:
        writer.join()
        assert writer.exitcode == 0
    assert len(ledger_of(lab).shelf().lots) == 102
    assert [one["id"] for one in ledger_of(lab).documents("stock")] == list(range(1, 103))


def test_threads_share_one_ledger(lab: Path) -> None:
    ledger, faults = ledger_of(lab), list[BaseException]()

    def works(name: str) -> None:
        try:
            for number in range(10):
                ledger.record([received(f"{name}-{number}"), used("A", "0.5")], TODAY)
                ledger.shelf()
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=works, args=(name,)) for name in "xyz"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert str(ledger.lot("A").quantity) == "485.0"


def test_a_write_waits_for_another_and_says_so_where_that_takes_too_long(lab: Path) -> None:
    ledger = Ledger(SqliteStore(lab / LEDGER, wait_s=0.05))
    with closing(sqlite3.connect(lab / LEDGER, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="another program is writing; wait until it is done and try again"):
            ledger.record([received("C")], TODAY)
        assert len(ledger.shelf().lots) == 2
        other.execute("ROLLBACK")
    ledger.record([received("C")], TODAY)


def test_a_copy_waits_for_a_lock_and_says_so_where_that_takes_too_long(lab: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    with closing(sqlite3.connect(copy, isolation_level=None)) as other:
        other.execute("CREATE TABLE t (a)")
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StoreError, match="another program is writing; wait until it is done and try again"):
            SqliteStore(lab / LEDGER, wait_s=0.3).backup(copy)
        other.execute("ROLLBACK")
    SqliteStore(lab / LEDGER).backup(copy)
    assert SqliteStore(copy).verify().problems == ()


def test_who_reads_for_long_holds_up_no_write(lab: Path) -> None:
    with ledger_of(lab).looking() as look:
        record(lab, [received("C")])
        assert len(look.documents("stock")) == 2
    assert len(ledger_of(lab).shelf().lots) == 3


def test_a_workspace_that_is_moved_away_is_noticed_by_who_had_it_open(lab: Path) -> None:
    ledger = ledger_of(lab)
    ledger.shelf()
    lab.rename(lab.with_name("moved"))
    with pytest.raises(StoreError, match="is not the ledger that it was"):
        ledger.record([received("C")], TODAY)
    record(lab, [received("X")])
    with pytest.raises(StoreError, match="is not the ledger that it was"):
        ledger.record([received("C")], TODAY)
    assert [*ledger_of(lab.with_name("moved")).shelf().lots] == ["A", "B"]


def test_where_it_cannot_be_found_out_what_became_of_a_write_it_may_have_been_recorded(
    lab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder goes away, or can't be looked at any more, between the writing and the answer."""
    store, looks = SqliteStore(lab / LEDGER), [0]
    place = SqliteStore._place

    def failing(self: SqliteStore) -> tuple[int, int] | None:
        looks[0] += 1
        if looks[0] > 2:
            raise StoreError(str(self.path), "the disk reports a fault", "nothing was written")
        return place(self)

    monkeypatch.setattr(SqliteStore, "_place", failing)
    with pytest.raises(StoreError, match="it may have been recorded"):
        Ledger(store).record([used("A", "1")], TODAY)
    monkeypatch.undo()
    assert ledger_of(lab).lot("A").events == 2


def test_a_lost_log_costs_no_acknowledged_event(lab: Path, tmp_path: Path) -> None:
    """The one file is all of it at any moment between two writes."""
    record(lab, [received("C")])
    (tmp_path / "copy").mkdir()
    shutil.copy(lab / LEDGER, tmp_path / "copy" / LEDGER)
    assert [*ledger_of(tmp_path / "copy").shelf().lots] == ["A", "B", "C"]
    log = lab / (LEDGER + LOG)
    assert not log.exists() or log.stat().st_size == 0


# -- the disk and its permissions


@contextmanager
def mounted(folder: Path, *options: str) -> Iterator[Path]:
    """A mount for the length of a test; skips where this user may not mount."""
    folder.mkdir(exist_ok=True)
    if os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("mounting needs root")
    done = subprocess.run(["mount", *options, str(folder)], capture_output=True, text=True)
    if done.returncode:
        pytest.skip(f"mount is not allowed here: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def _filled(folder: Path) -> int:
    """How many times ten lots were recorded until the disk was full."""
    for told in range(1000):
        try:
            record(folder, [received(f"L{told}-{n}", reason="x" * 400) for n in range(10)])
        except StoreError as fault:
            full = str(fault)
            break
    assert "the disk is full; make room and try again" in full
    return told


def test_a_full_disk_refuses_and_keeps_all_that_was_acknowledged(tmp_path: Path) -> None:
    with mounted(tmp_path / "small", "-t", "tmpfs", "-o", "size=400k", "tmpfs") as folder:
        told = _filled(folder)
        assert told > 2
        assert len(ledger_of(folder).shelf().lots) == told * 10
        assert ledger_of(folder).verify().problems == ()
        assert {path.name for path in folder.iterdir()} <= {LEDGER, LEDGER + LOG, LEDGER + "-shm"}


def test_a_disk_that_is_full_from_the_start_leaves_nothing(tmp_path: Path) -> None:
    with mounted(tmp_path / "small", "-t", "tmpfs", "-o", "size=16k", "tmpfs") as folder:
        with pytest.raises(StoreError, match="the disk is full"):
            record(folder, [received("A")])
        assert [*folder.iterdir()] == []


def test_a_read_only_disk_can_be_looked_at(lab: Path, tmp_path: Path) -> None:
    with mounted(tmp_path / "seen", "--bind", str(lab)) as folder:
        done = subprocess.run(["mount", "-o", "remount,ro,bind", str(folder)], capture_output=True, check=False)
        if done.returncode:
            pytest.skip("this system can't mount a folder read-only")
        ledger = ledger_of(folder)
        assert len(ledger.shelf().lots) == 2
        assert ledger.verify().problems == ()
        with pytest.raises(StoreError, match=r"may not be written|is read-only"):
            record(folder, [received("C")])


@pytest.fixture
def shared() -> Iterator[Path]:
    """A folder that other users come to; the one that pytest gives is its user's alone."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        (Path(name) / "lab").mkdir()
        yield Path(name) / "lab"


def as_another(folder: Path, act: Callable[[Path], object]) -> str:
    """What an act gives to another user, who is in the group of the folder; in a fork, which has all modules."""
    if os.geteuid() != 0:
        pytest.skip("being another user needs root")
    act(folder.with_name("warm"))
    heard, says = os.pipe()
    child = os.fork()
    if child == 0:  # pragma: no cover
        try:
            os.setgroups([])
            os.setgid(folder.stat().st_gid)
            os.setuid(65534)
            said = str(act(folder))
        except BaseException as fault:
            said = f"{type(fault).__name__}: {fault}"
        os.write(says, said.encode())
        os._exit(0)
    os.close(says)
    os.waitpid(child, 0)
    with os.fdopen(heard) as told:
        return told.read()


def _adds(folder: Path) -> int:
    return int(record(folder, [received("C")])[0]["id"])


def _counts(folder: Path) -> int:
    return len(ledger_of(folder).shelf().lots)


def test_two_people_of_one_group_share_a_folder_whatever_their_umask(shared: Path) -> None:
    if os.geteuid() == 0:
        os.chown(shared, -1, 65534)
    shared.chmod(0o2770)
    before = os.umask(0o077)
    try:
        record(shared, [received("A"), received("B")])
    finally:
        os.umask(before)
    assert stat.S_IMODE((shared / LEDGER).stat().st_mode) == 0o660
    assert as_another(shared, _adds) == "3"
    assert len(ledger_of(shared).shelf().lots) == 3
    record(shared, [used("C")])


def test_a_folder_of_another_person_can_be_looked_at_and_not_written(shared: Path) -> None:
    record(shared, [received("A"), received("B")])
    shared.chmod(0o755)
    assert as_another(shared, _counts) == "2"
    assert as_another(shared, _adds).startswith("StoreError: ")
    assert [*ledger_of(shared).shelf().lots] == ["A", "B"]


def test_a_look_that_began_before_another_thread_recorded_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its moment is earlier than what the ledger has taken in meanwhile: that makes it no other ledger."""
    ledger = Ledger(SqliteStore(tmp_path / "ledger.sqlite3"))
    record(ledger, [received("A")])
    reading = ledger.store.reading

    @contextmanager
    def slow() -> Iterator[Reader]:
        with reading() as reader:
            assert reader.head().seq == 1
            monkeypatch.setattr(ledger.store, "reading", reading)
            record(ledger, [used("A")])
            assert ledger.lot("A").quantity == 499
            yield reader

    monkeypatch.setattr(ledger.store, "reading", slow)
    assert ledger.lot("A").quantity == 500, "as it was at that moment"
    assert ledger.lot("A").quantity == 499
