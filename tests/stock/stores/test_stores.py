"""What every store must do. A new implementation is one more entry in STORES."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import StoreError
from kb.stock.ledger import Ledger
from kb.stock.lots import Refused
from kb.stock.stores import Answered, Draft, Entry, Once, Reader, Store
from kb.stock.stores.memory import MemoryStore
from kb.stock.stores.postgresql import PostgresStore
from kb.stock.stores.sqlite import SqliteStore
from kb.work.recording import record as keep
from tests.stock.factory import TODAY, event, received, record, used

RECORD = {
    "job": "bracket", "at": "2027-03-05", "who": "kim", "chain": {"adhesive": "x"}, "items": {"A": "acetone"},
    "draws": [{"lot": "A", "quantity": "1", "unit": "mL"}],
    "installations": [{"installation": "1", "outcome": "pass", "lots": ["A"], "readings": {"zero_return_ue": 1.5}}],
}  # fmt: skip

Make = Callable[[], Store]
STORES = ("memory", "sqlite", "postgresql")


def maker(name: str, folder: Path, request: pytest.FixtureRequest) -> Make:
    """What makes empty stores of a kind."""
    numbers = count()
    if name == "memory":
        return MemoryStore
    if name == "sqlite":
        return lambda: SqliteStore(folder / f"lab{next(numbers)}" / "ledger.sqlite3")
    databases: Callable[[], str] = request.getfixturevalue("databases")
    return lambda: PostgresStore(databases())


@pytest.fixture(params=STORES)
def make(request: pytest.FixtureRequest, tmp_path: Path) -> Make:
    return maker(request.param, tmp_path, request)


@pytest.fixture
def store(make: Make) -> Store:
    return make()


@pytest.fixture
def ledger(store: Store) -> Ledger:
    return Ledger(store)


def entries(store: Store, *words: Any, **more: Any) -> list[Entry]:
    with store.reading() as reader:
        return reader.entries(*words, **more)


def doc(number: int, lot: str = "A") -> dict[str, Any]:
    return {"id": number, "type": "opened", "lot": lot}


def test_empty(store: Store) -> None:
    assert entries(store) == entries(store, "stock", {"A"}) == []
    with store.reading() as reader:
        assert (reader.head(), reader.hash_at(1)) == ((0, ""), "")
    assert store.verify().problems == ()
    assert store.answered("word") is None


def test_entries_come_in_the_order_in_which_they_were_acknowledged(store: Store) -> None:
    store.append(lambda _: [Draft("stock", doc(1)), Draft("work", {"id": 1, "type": "reserved", "job": "J"})])
    store.append(lambda _: [Draft("stock", doc(2, "B")), Draft("confirmed", {"id": 7, "fact": "acetone.x"})])
    found = entries(store)
    assert [(one.seq, one.stream, one.body["id"]) for one in found] == [
        (1, "stock", 1),
        (2, "work", 1),
        (3, "stock", 2),
        (4, "confirmed", 7),
    ]
    assert [one.seq for one in entries(store, "stock")] == [1, 3]
    assert [one.seq for one in entries(store, "stock", {"B", "J"})] == [3]
    assert [one.seq for one in entries(store, "work", {"J"})] == [2]
    assert [one.seq for one in entries(store, after=2)] == [3, 4]
    assert entries(store, "stock", set()) == []
    assert store.verify() == type(store.verify())(4)


def test_each_entry_bears_the_hash_of_the_one_before(store: Store) -> None:
    from kb.stock.stores.chain import link, text_of

    store.append(lambda _: [Draft("stock", doc(n, f"L{n}")) for n in range(1, 6)])
    before = ""
    for one in entries(store):
        before = link(before, one.seq, "stock", one.body["id"], one.body["lot"], text_of(one.body))
        assert one.hash == before
    with store.reading() as reader:
        assert reader.head() == (5, before)
        assert reader.hash_at(5) == before != reader.hash_at(4)


def test_equal_histories_have_equal_hashes_and_others_do_not(store: Store) -> None:
    store.append(lambda _: [Draft("stock", doc(1)), Draft("stock", doc(2))])
    same = MemoryStore([Draft("stock", doc(1)), Draft("stock", doc(2))])
    other = MemoryStore([Draft("stock", doc(1)), Draft("stock", doc(2, "a"))])
    with store.reading() as reader:
        assert reader.head() == same.head() != other.head()


def test_what_is_kept_is_what_was_acknowledged(ledger: Ledger) -> None:
    told = [record(ledger, [received(f"L{n}", reason='a "quoted", ünïcode\u2028 line')]) for n in range(10)]
    assert ledger.documents("stock") == [acknowledged for one in told for acknowledged in one]
    assert ledger.verify() == type(ledger.verify())(10)


def test_decide_sees_the_entries_as_they_are(store: Store) -> None:
    store.append(lambda _: [Draft("stock", doc(1))])
    seen: list[Any] = []

    def decide(reader: Reader) -> list[Draft]:
        seen.extend((reader.head().seq, len(reader.entries())))
        return []

    assert store.append(decide) == []
    assert seen == [1, 1]


def test_any_error_of_decide_changes_nothing(store: Store) -> None:
    def decide(_: Reader) -> list[Draft]:
        raise RuntimeError("no")

    with pytest.raises(RuntimeError):
        store.append(decide)
    assert entries(store) == []
    store.append(lambda _: [Draft("stock", doc(1))])
    assert len(entries(store)) == 1


@pytest.mark.parametrize("number", [7, 3])
def test_a_number_is_never_used_twice(store: Store, number: int) -> None:
    store.append(lambda _: [Draft("stock", doc(7))])
    with pytest.raises(StoreError, match=f"stock {number} is in the ledger already"):
        store.append(lambda _: [Draft("stock", doc(9)), Draft("stock", doc(number))])
    assert [one.body["id"] for one in entries(store)] == [7]
    store.append(lambda _: [Draft("work", {"id": number, "job": "J"})])


def test_what_comes_out_can_be_changed_freely(store: Store) -> None:
    store.append(lambda _: [Draft("stock", doc(1))])
    entries(store)[0].body["lot"] = "B"
    assert entries(store)[0].body["lot"] == "A"


def test_a_word_is_carried_out_once_and_its_answer_kept_with_it(store: Store) -> None:
    asked: list[int] = []

    def write(word: str, number: int) -> list[Entry]:
        once = Once(word, "digest", lambda added: f"{len(added)} as {added[0].body['id']}")
        return store.append(lambda _: asked.append(number) or [Draft("stock", doc(number))], once)  # type: ignore[func-returns-value]

    write("w", 1)
    with pytest.raises(Answered) as before:
        write("w", 2)
    assert (before.value.asked, before.value.answer) == ("digest", "1 as 1")
    assert asked == [1]
    kept = store.answered("w")
    assert kept is not None
    assert kept.answer == "1 as 1"
    write("other", 2)
    with pytest.raises(StoreError):
        write("refused", 2)
    assert store.answered("refused") is None


def test_a_backup_is_the_same_ledger(store: Store, tmp_path: Path) -> None:
    ledger = Ledger(store)
    record(ledger, [received("A"), used("A")])
    store.backup(tmp_path / "copy")
    copied = SqliteStore(tmp_path / "copy")
    assert entries(copied) == entries(store)
    assert copied.verify().problems == ()


def test_a_store_that_is_restored_is_the_same_ledger_and_goes_on(make: Make, tmp_path: Path) -> None:
    one, other = Ledger(make()), Ledger(make())
    record(one, [received("A", reason="délivré"), used("A")])
    keep(one, RECORD, TODAY)
    one.store.backup(tmp_path / "copy")
    other.store.restore(tmp_path / "copy")
    assert other.standing() == one.standing()
    for ledger in (one, other):
        record(ledger, [used("A", "2")])
    assert other.standing() == one.standing()
    assert other.verify() == one.verify() == type(one.verify())(5)
    with pytest.raises(StoreError, match="recorded there already"):
        other.store.restore(tmp_path / "copy")
    assert other.standing() == one.standing()


def test_many_write_at_once_and_nobody_is_lost_or_doubled(make: Make) -> None:
    store = make()
    record(Ledger(store), [received("A")])

    def write(name: int) -> None:
        ledger = Ledger(store)
        for number in range(8):
            record(ledger, [used("A", "0.5", reason=f"{name} {number}")])
            assert ledger.verify().problems == ()

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(write, range(4)))
    ledger = Ledger(store)
    assert sorted(e["reason"] for e in ledger.documents("stock")[1:]) == [
        f"{a} {b}" for a in range(4) for b in range(8)
    ]
    assert ledger.lot("A").quantity == 500 - 16


# -- the ledger over each of them


def test_a_refusal_changes_nothing(ledger: Ledger) -> None:
    record(ledger, [received("A", "5")])
    with pytest.raises(Refused, match=r"6 mL asked for, and 5 mL are left"):
        record(ledger, [received("B"), used("A", "6")])
    assert list(ledger.shelf().lots) == ["A"]


def test_a_batch_is_one(ledger: Ledger) -> None:
    assert len(record(ledger, [received(f"L{n}") for n in range(100)])) == 100
    assert [e["id"] for e in ledger.documents("stock")] == list(range(1, 101))
    record(ledger, [used("L5")])
    assert ledger.documents("stock")[-1]["id"] == 101


def test_a_rehearsal_writes_nothing(ledger: Ledger) -> None:
    record(ledger, [received("A")])
    (would,) = ledger.rehearse([used("A")], TODAY)
    assert (would["quantity"], "id" in would) == ("1", False)
    with pytest.raises(Refused):
        ledger.rehearse([used("A", "501")], TODAY)
    assert len(ledger.documents("stock")) == 1


def test_corrections_are_events(ledger: Ledger) -> None:
    record(ledger, [received("A"), used("A", "50")])
    record(ledger, [event("corrected", "A", corrects=2, change={"quantity": "5.0"}, reason="slip of the pen")])
    assert [e["type"] for e in ledger.history("A")] == ["received", "used", "corrected"]
    assert ledger.history("A")[-1]["change"] == {"quantity": "5"}


def test_two_ledgers_over_one_store_see_each_other(store: Store) -> None:
    one, other = Ledger(store), Ledger(store)
    record(one, [received("A", "10")])
    record(other, [used("A", "4")])
    record(one, [used("A", "5")])
    with pytest.raises(Refused, match="1 mL are left"):
        record(other, [used("A", "2")])
    assert one.shelf() == other.shelf()
    assert one.lot("A").quantity == 1
